-- +goose Up

-- Values are integers in the base unit of their dimension (nanometres,
-- micrograms, micronewtons, millionths); hours are hundredths; days are
-- 2006-01-02 text; moments are UTC RFC 3339 text of fixed width.

CREATE TABLE setting (
  key   TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE model (
  id          INTEGER PRIMARY KEY,
  name        TEXT NOT NULL UNIQUE COLLATE NOCASE,
  arrangement TEXT NOT NULL DEFAULT '' CHECK (arrangement IN ('', 'radial', 'flat', 'inline', 'V')),
  cylinders   INTEGER NOT NULL DEFAULT 0,
  grooves     INTEGER NOT NULL DEFAULT 3,
  stations    TEXT NOT NULL DEFAULT 'top,middle,bottom',
  axes        TEXT NOT NULL DEFAULT 'thrust,pin'
) STRICT;

CREATE TABLE engine (
  id          INTEGER PRIMARY KEY,
  model_id    INTEGER NOT NULL REFERENCES model,
  serial      TEXT NOT NULL COLLATE NOCASE,
  arrangement TEXT NOT NULL CHECK (arrangement IN ('', 'radial', 'flat', 'inline', 'V')), -- '' where an import did not say
  cylinders   INTEGER NOT NULL CHECK (cylinders BETWEEN 1 AND 36),
  master_rod  INTEGER CHECK (master_rod BETWEEN 1 AND cylinders),
  aircraft    TEXT NOT NULL DEFAULT '',
  notes       TEXT NOT NULL DEFAULT '',
  saved_at    TEXT NOT NULL,
  UNIQUE (serial, model_id)
) STRICT;

-- What an engine's meter showed. A correction is a new row with the same
-- root; the row with the highest id of a root is the one in force. offset
-- added to what the meter shows gives the engine's total hours.
CREATE TABLE meter (
  id        INTEGER PRIMARY KEY,
  root      INTEGER NOT NULL,
  engine_id INTEGER NOT NULL REFERENCES engine,
  day       TEXT NOT NULL,
  shows     INTEGER NOT NULL CHECK (shows >= 0),
  offset    INTEGER NOT NULL DEFAULT 0,
  kind      TEXT NOT NULL CHECK (kind IN ('reading', 'replaced')),
  reason    TEXT NOT NULL DEFAULT '',
  saved_at  TEXT NOT NULL
) STRICT;
CREATE INDEX meter_engine ON meter (engine_id, day);
CREATE INDEX meter_root ON meter (root, id);

CREATE VIEW meter_now AS
  SELECT m.root, m.engine_id, m.day, m.shows, m.offset, m.shows + m.offset AS hours, m.kind, m.reason, m.id, m.saved_at
  FROM meter m
  WHERE NOT EXISTS (SELECT 1 FROM meter n WHERE n.root = m.root AND n.id > m.id);

CREATE TABLE part (
  id              INTEGER PRIMARY KEY,
  kind            TEXT NOT NULL CHECK (kind IN ('cylinder', 'piston', 'ring', 'pin')),
  part_number     TEXT NOT NULL DEFAULT '' COLLATE NOCASE,
  serial          TEXT NOT NULL CHECK (serial <> '') COLLATE NOCASE,
  model_id        INTEGER REFERENCES model,
  source          TEXT NOT NULL DEFAULT 'serviceable used' CHECK (source IN ('new', 'overhauled', 'serviceable used')),
  oversize        INTEGER NOT NULL DEFAULT 0,
  surface         TEXT NOT NULL DEFAULT '',
  facing          TEXT NOT NULL DEFAULT '',
  groove          INTEGER NOT NULL DEFAULT 0,
  width_class     TEXT NOT NULL DEFAULT '',
  weight          INTEGER,
  hours_before    INTEGER NOT NULL DEFAULT 0,
  overhaul_before INTEGER,
  status          TEXT NOT NULL DEFAULT 'on shelf' CHECK (status IN ('on engine', 'on shelf', 'scrapped')),
  scrap_day       TEXT,
  scrap_reason    TEXT NOT NULL DEFAULT '',
  note            TEXT NOT NULL DEFAULT '',
  verdict         INTEGER NOT NULL DEFAULT 0, -- worst of its series, kept with them
  state           INTEGER NOT NULL DEFAULT 0, -- worst wear state of its series, kept with them
  last_day        TEXT NOT NULL DEFAULT '',
  saved_at        TEXT NOT NULL,
  UNIQUE (serial, kind, part_number)
) STRICT;
CREATE INDEX part_shelf ON part (status, kind, serial, part_number);
CREATE INDEX part_list ON part (kind, serial, part_number);

-- A part's time on an engine. One part in one place, one part a place.
CREATE TABLE stay (
  id          INTEGER PRIMARY KEY,
  part_id     INTEGER NOT NULL REFERENCES part,
  kind        TEXT NOT NULL,
  engine_id   INTEGER NOT NULL REFERENCES engine,
  position    INTEGER NOT NULL CHECK (position >= 1),
  groove      INTEGER NOT NULL DEFAULT 0,
  from_day    TEXT NOT NULL,
  from_meter  INTEGER NOT NULL REFERENCES meter,
  to_day      TEXT,
  to_meter    INTEGER REFERENCES meter,
  reason_out  TEXT NOT NULL DEFAULT '',
  void        TEXT NOT NULL DEFAULT '', -- why the entry was a mistake; empty for a good one
  saved_at    TEXT NOT NULL,
  CHECK ((to_day IS NULL) = (to_meter IS NULL))
) STRICT;
CREATE UNIQUE INDEX stay_one_place ON stay (part_id) WHERE to_day IS NULL AND void = '';
CREATE UNIQUE INDEX stay_one_part ON stay (engine_id, position, kind, groove) WHERE to_day IS NULL AND void = '';
CREATE INDEX stay_part ON stay (part_id, from_day);
CREATE INDEX stay_slot ON stay (engine_id, position, kind, groove, from_day);

-- Wear events. at_hours is set only where the part's own hours were given
-- with the event and no engine tells them.
CREATE TABLE mark (
  id       INTEGER PRIMARY KEY,
  part_id  INTEGER NOT NULL REFERENCES part,
  event    TEXT NOT NULL,
  day      TEXT NOT NULL,
  at_hours INTEGER,
  groove   INTEGER NOT NULL DEFAULT 0,
  oversize INTEGER,
  note     TEXT NOT NULL DEFAULT '',
  void     TEXT NOT NULL DEFAULT '', -- why the entry was a mistake; empty for a good one
  saved_at TEXT NOT NULL
) STRICT;
CREATE INDEX mark_part ON mark (part_id, day);

CREATE TABLE feature (
  id       INTEGER PRIMARY KEY,
  kind     TEXT NOT NULL,
  name     TEXT NOT NULL COLLATE NOCASE,
  dim      TEXT NOT NULL CHECK (dim IN ('length', 'mass', 'force', 'plain')),
  unit     TEXT NOT NULL DEFAULT '',
  wear     TEXT NOT NULL CHECK (wear IN ('up', 'down', 'none')),
  built_in INTEGER NOT NULL DEFAULT 0,
  saved_at TEXT NOT NULL,
  UNIQUE (kind, name)
) STRICT;

-- The maker's table of limits as the shop typed it. Every save is a new row;
-- the highest id of (model, feature, groove) is in force.
CREATE TABLE limit_row (
  id          INTEGER PRIMARY KEY,
  model_id    INTEGER NOT NULL REFERENCES model,
  feature_id  INTEGER NOT NULL REFERENCES feature,
  groove      INTEGER NOT NULL DEFAULT 0,
  ref         TEXT NOT NULL DEFAULT '',
  new_min     INTEGER,
  new_max     INTEGER,
  service_min INTEGER,
  service_max INTEGER,
  unit        TEXT NOT NULL,
  wear        TEXT NOT NULL,
  life        INTEGER NOT NULL DEFAULT 0,
  document    TEXT NOT NULL DEFAULT '',
  revision    TEXT NOT NULL DEFAULT '',
  page        TEXT NOT NULL DEFAULT '',
  saved_at    TEXT NOT NULL
) STRICT;
CREATE INDEX limit_key ON limit_row (model_id, feature_id, groove, id);

CREATE VIEW limit_now AS
  SELECT * FROM limit_row l
  WHERE NOT EXISTS (SELECT 1 FROM limit_row n
    WHERE n.model_id = l.model_id AND n.feature_id = l.feature_id AND n.groove = l.groove AND n.id > l.id);

CREATE TABLE gauge (
  id         INTEGER PRIMARY KEY,
  name       TEXT NOT NULL UNIQUE COLLATE NOCASE,
  unit       TEXT NOT NULL,
  sd         INTEGER NOT NULL CHECK (sd >= 0),
  resolution INTEGER NOT NULL CHECK (resolution >= 0),
  due        TEXT NOT NULL DEFAULT '',
  saved_at   TEXT NOT NULL
) STRICT;

CREATE TABLE sheet (
  id          INTEGER PRIMARY KEY,
  uid         TEXT NOT NULL UNIQUE,
  day         TEXT NOT NULL,
  engine_id   INTEGER REFERENCES engine,
  position    INTEGER,
  meter_root  INTEGER REFERENCES meter,
  who         TEXT NOT NULL DEFAULT '',
  temperature REAL,
  note        TEXT NOT NULL DEFAULT '',
  saved_at    TEXT NOT NULL
) STRICT;
CREATE INDEX sheet_engine ON sheet (engine_id, day);

-- A correction is a new row with the same root and a reason; the highest id
-- of a root is in force, and a NULL value there means withdrawn.
CREATE TABLE reading (
  id         INTEGER PRIMARY KEY,
  root       INTEGER NOT NULL,
  sheet_id   INTEGER NOT NULL REFERENCES sheet,
  part_id    INTEGER NOT NULL REFERENCES part,
  feature_id INTEGER NOT NULL REFERENCES feature,
  groove     INTEGER NOT NULL DEFAULT 0,
  station    TEXT NOT NULL DEFAULT '',
  axis       TEXT NOT NULL DEFAULT '',
  value      INTEGER,
  typed      TEXT NOT NULL DEFAULT '',
  unit       TEXT NOT NULL,
  bore       INTEGER,
  gauge_id   INTEGER REFERENCES gauge,
  sd         INTEGER NOT NULL DEFAULT 0,
  resolution INTEGER NOT NULL DEFAULT 0,
  part_hours INTEGER,
  overdue    INTEGER NOT NULL DEFAULT 0, -- the gauge was past its calibration then
  who        TEXT NOT NULL DEFAULT '',
  reason     TEXT NOT NULL DEFAULT '',
  saved_at   TEXT NOT NULL
) STRICT;
CREATE INDEX reading_part ON reading (part_id, feature_id);
CREATE INDEX reading_sheet ON reading (sheet_id);

-- +goose StatementBegin
CREATE TRIGGER reading_kept BEFORE UPDATE ON reading BEGIN
  SELECT RAISE(ABORT, 'a reading is never changed: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER reading_never_deleted BEFORE DELETE ON reading BEGIN
  SELECT RAISE(ABORT, 'a reading is never deleted: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER meter_kept BEFORE UPDATE ON meter BEGIN
  SELECT RAISE(ABORT, 'a meter entry is never changed: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER meter_never_deleted BEFORE DELETE ON meter BEGIN
  SELECT RAISE(ABORT, 'a meter entry is never deleted: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER limit_kept BEFORE UPDATE ON limit_row BEGIN
  SELECT RAISE(ABORT, 'a limit is never changed: type a new version');
END;
-- +goose StatementEnd

-- Runs that should wear alike: same kind, feature, groove, station, engine
-- model, surface and facing. fit is what package wear made of them all.
CREATE TABLE peers (
  id         INTEGER PRIMARY KEY,
  feature_id INTEGER NOT NULL REFERENCES feature,
  model_id   INTEGER NOT NULL DEFAULT 0,
  groove     INTEGER NOT NULL,
  station    TEXT NOT NULL,
  surface    TEXT NOT NULL,
  facing     TEXT NOT NULL,
  members    INTEGER NOT NULL DEFAULT 0,
  stale      INTEGER NOT NULL DEFAULT 0, -- runs that changed since the fit
  fit        BLOB,
  UNIQUE (feature_id, model_id, groove, station, surface, facing)
) STRICT;

-- One run of one feature at one station of one part: the summary that every
-- page and judgement is made from, kept in the transaction of the reading.
CREATE TABLE series (
  id          INTEGER PRIMARY KEY,
  part_id     INTEGER NOT NULL REFERENCES part,
  feature_id  INTEGER NOT NULL REFERENCES feature,
  groove      INTEGER NOT NULL,
  station     TEXT NOT NULL,
  run         INTEGER NOT NULL,
  current     INTEGER NOT NULL,           -- 1 for the run in hand
  peers_id    INTEGER NOT NULL REFERENCES peers,
  rev         INTEGER NOT NULL DEFAULT 0, -- counts changes of points
  start_event TEXT NOT NULL,
  start_day   TEXT NOT NULL,
  start_hours INTEGER NOT NULL,           -- the part's own hours at the start
  oversize    INTEGER NOT NULL,
  points      BLOB NOT NULL,              -- hours, signed dimension, u: float64 triples
  assumed     INTEGER NOT NULL,           -- 1 when the first point is the middle of new
  allowance   REAL NOT NULL,              -- maker's wear allowance an hour, 0 for none
  bound       REAL,                       -- service limit, signed
  life        INTEGER NOT NULL,
  last_day    TEXT NOT NULL,
  last_value  INTEGER,
  verdict     INTEGER NOT NULL,
  plain       INTEGER NOT NULL,
  share       BLOB,                       -- what it put into the peers' fit
  state       INTEGER NOT NULL DEFAULT 0,
  hours       REAL NOT NULL DEFAULT 0,
  wear        REAL NOT NULL DEFAULT 0,
  expected    REAL NOT NULL DEFAULT 0,
  ratio       REAL NOT NULL DEFAULT 0,
  ratio_low   REAL NOT NULL DEFAULT 0,
  ratio_high  REAL NOT NULL DEFAULT 0,
  equivalent  REAL NOT NULL DEFAULT 0,
  chance      REAL NOT NULL DEFAULT 1,
  refs        INTEGER NOT NULL DEFAULT 0,
  can_say     INTEGER NOT NULL DEFAULT 0,
  left_low    REAL,
  left_median REAL,
  left_high   REAL,
  sentence    TEXT NOT NULL DEFAULT '',
  UNIQUE (part_id, feature_id, groove, station, run)
) STRICT;
CREATE INDEX series_peers ON series (peers_id);
-- These two hold all that tells how many findings are open.
CREATE INDEX series_flagged ON series (part_id, feature_id, groove, run, state, current, verdict, chance, ratio, hours, last_value, last_day) WHERE current = 1 AND state = 5;
CREATE INDEX series_beyond ON series (part_id, feature_id, groove, run, state, current, verdict, chance, ratio, hours, last_value, last_day) WHERE current = 1 AND verdict = 4;

-- A person has seen a finding and gave a reason; it comes back when the next
-- reading is worse.
CREATE TABLE acknowledgement (
  id         INTEGER PRIMARY KEY,
  part_id    INTEGER NOT NULL REFERENCES part,
  feature_id INTEGER NOT NULL REFERENCES feature,
  groove     INTEGER NOT NULL,
  run        INTEGER NOT NULL,
  what       TEXT NOT NULL CHECK (what IN ('wear', 'limit')),
  amount     REAL NOT NULL, -- the ratio, or the signed dimension, that was seen
  hours      REAL NOT NULL, -- hours in the run then
  who        TEXT NOT NULL DEFAULT '',
  reason     TEXT NOT NULL,
  saved_at   TEXT NOT NULL
) STRICT;
CREATE INDEX acknowledgement_part ON acknowledgement (part_id, feature_id, groove);

-- Rows that an import has brought in, by the hash of what they said, so that
-- the same row twice adds nothing.
CREATE TABLE imported (
  hash BLOB PRIMARY KEY
) STRICT, WITHOUT ROWID;

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
