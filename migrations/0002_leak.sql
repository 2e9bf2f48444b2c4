-- +goose Up

-- Differential compression tests. Pressures are tenths of a psi. A test is one
-- engine on one day; a correction of its head, or of a reading on it, is a new
-- row with the same root and a reason: the highest id of a root is in force. A
-- reading that is NULL there was withdrawn.

CREATE TABLE leak_test (
  id         INTEGER PRIMARY KEY,
  root       INTEGER NOT NULL,
  uid        TEXT NOT NULL,
  engine_id  INTEGER NOT NULL REFERENCES engine,
  day        TEXT NOT NULL,
  meter_root INTEGER NOT NULL REFERENCES meter,
  who        TEXT NOT NULL DEFAULT '',
  regulated  INTEGER NOT NULL CHECK (regulated > 0),
  ambient    INTEGER CHECK (ambient > 0),          -- absolute; NULL where it was not taken
  orifice    INTEGER NOT NULL CHECK (orifice > 0), -- diameter, nanometres
  unit       TEXT NOT NULL,                        -- of the orifice, as it was typed
  master     INTEGER CHECK (master >= 0),          -- reading on the master orifice
  gauge_id   INTEGER REFERENCES gauge,             -- the tester
  due        TEXT NOT NULL DEFAULT '',             -- when its calibration was due then
  sd         INTEGER NOT NULL CHECK (sd >= 0),     -- of one of its gauges then, millionths of a psi
  resolution INTEGER NOT NULL CHECK (resolution >= 0),
  minutes    INTEGER CHECK (minutes >= 0),         -- since shutdown
  note       TEXT NOT NULL DEFAULT '',
  corrected  TEXT NOT NULL DEFAULT '',             -- by whom, of a correction
  reason     TEXT NOT NULL DEFAULT '',             -- of a correction
  saved_at   TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX leak_test_uid ON leak_test (uid) WHERE id = root;
CREATE INDEX leak_test_engine ON leak_test (engine_id, day);
CREATE INDEX leak_test_root ON leak_test (root, id);

CREATE VIEW leak_test_now AS
  SELECT * FROM leak_test t
  WHERE NOT EXISTS (SELECT 1 FROM leak_test n WHERE n.root = t.root AND n.id > t.id);

CREATE TABLE leak_reading (
  id        INTEGER PRIMARY KEY,
  root      INTEGER NOT NULL,
  test_root INTEGER NOT NULL REFERENCES leak_test,
  position  INTEGER NOT NULL CHECK (position >= 1),
  part_id   INTEGER NOT NULL REFERENCES part, -- the cylinder that sat there
  reading   INTEGER CHECK (reading >= 0),
  recheck   INTEGER CHECK (recheck >= 0),     -- warm, after running; NULL where it was not rechecked
  heard     TEXT NOT NULL DEFAULT '',         -- where air was heard, with commas
  who       TEXT NOT NULL DEFAULT '',
  reason    TEXT NOT NULL DEFAULT '',
  saved_at  TEXT NOT NULL
) STRICT;
CREATE INDEX leak_reading_test ON leak_reading (test_root);
CREATE INDEX leak_reading_part ON leak_reading (part_id);
CREATE INDEX leak_reading_root ON leak_reading (root, id);

-- The maker's own rule of a model as the shop typed it; the highest id of a
-- model is in force.
CREATE TABLE leak_rule (
  id        INTEGER PRIMARY KEY,
  model_id  INTEGER NOT NULL REFERENCES model,
  minimum   INTEGER CHECK (minimum > 0),  -- least reading
  max_loss  INTEGER CHECK (max_loss > 0), -- tenths of a percent of the input
  orifice   INTEGER CHECK (orifice > 0),  -- it holds for, NULL for any
  unit      TEXT NOT NULL,                -- of the orifice
  regulated INTEGER CHECK (regulated > 0), -- it holds for, NULL for any
  document  TEXT NOT NULL,
  revision  TEXT NOT NULL DEFAULT '',
  page      TEXT NOT NULL DEFAULT '',
  saved_at  TEXT NOT NULL,
  CHECK (minimum IS NOT NULL OR max_loss IS NOT NULL)
) STRICT;
CREATE INDEX leak_rule_model ON leak_rule (model_id, id);

-- +goose StatementBegin
CREATE TRIGGER leak_test_kept BEFORE UPDATE ON leak_test BEGIN
  SELECT RAISE(ABORT, 'a leak test is never changed: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER leak_test_never_deleted BEFORE DELETE ON leak_test BEGIN
  SELECT RAISE(ABORT, 'a leak test is never deleted: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER leak_reading_kept BEFORE UPDATE ON leak_reading BEGIN
  SELECT RAISE(ABORT, 'a leak reading is never changed: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER leak_reading_never_deleted BEFORE DELETE ON leak_reading BEGIN
  SELECT RAISE(ABORT, 'a leak reading is never deleted: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER leak_rule_kept BEFORE UPDATE ON leak_rule BEGIN
  SELECT RAISE(ABORT, 'a leak rule is never changed: type a new version');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER leak_rule_never_deleted BEFORE DELETE ON leak_rule BEGIN
  SELECT RAISE(ABORT, 'a leak rule is never deleted: type a new version');
END;
-- +goose StatementEnd

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
