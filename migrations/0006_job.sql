-- +goose Up

-- How a model's crank brings its cylinders up, as the shop typed it from the
-- maker's manual; lists of positions with commas between, empty where nobody
-- typed them. A two-row radial has a master rod in each row: master_rod is that
-- of the rear row, front_master_rod that of the front one.
ALTER TABLE model ADD COLUMN rows INTEGER NOT NULL DEFAULT 1 CHECK (rows IN (1, 2));
ALTER TABLE model ADD COLUMN anticlockwise INTEGER NOT NULL DEFAULT 0; -- the crank, seen from the rear
ALTER TABLE model ADD COLUMN firing TEXT NOT NULL DEFAULT '';
ALTER TABLE model ADD COLUMN order_off TEXT NOT NULL DEFAULT '';
ALTER TABLE model ADD COLUMN order_on TEXT NOT NULL DEFAULT '';
ALTER TABLE model ADD COLUMN weight_spread INTEGER NOT NULL DEFAULT 0; -- of pistons in one engine, 0 where not typed
ALTER TABLE model ADD COLUMN overhaul INTEGER NOT NULL DEFAULT 0; -- hours between overhauls, 0 where not typed
ALTER TABLE engine ADD COLUMN front_master_rod INTEGER;

-- A job takes cylinders of one engine off and puts them back on. What happens
-- in it is a row of job_entry; how the job stands follows from those.
CREATE TABLE job (
  id         INTEGER PRIMARY KEY,
  uid        TEXT NOT NULL UNIQUE,
  engine_id  INTEGER NOT NULL REFERENCES engine,
  why        TEXT NOT NULL,
  detail     TEXT NOT NULL DEFAULT '',
  day        TEXT NOT NULL,
  meter_root INTEGER NOT NULL REFERENCES meter,
  stands     INTEGER NOT NULL CHECK (stands >= 1), -- position at whose top dead centre the crank stood
  who        TEXT NOT NULL DEFAULT '',
  saved_at   TEXT NOT NULL
) STRICT;
CREATE INDEX job_engine ON job (engine_id, id);

-- The steps of a job's checklist, as they stood when it was opened.
CREATE TABLE job_step (
  id      INTEGER PRIMARY KEY,
  job_id  INTEGER NOT NULL REFERENCES job,
  phase   TEXT NOT NULL CHECK (phase IN ('removal', 'bench', 'refit', 'after')),
  ord     INTEGER NOT NULL,
  text    TEXT NOT NULL,
  caution TEXT NOT NULL DEFAULT '',
  torque  TEXT NOT NULL DEFAULT '',
  wrench  TEXT NOT NULL DEFAULT '',
  each    INTEGER NOT NULL DEFAULT 0 -- 1: once a cylinder, 0: once a job
) STRICT;
CREATE INDEX job_step_job ON job_step (job_id, ord);

-- What happened in a job, in order. 'undone' takes back the entry undoes.
-- despite is the reason why a refused step was taken all the same.
CREATE TABLE job_entry (
  id       INTEGER PRIMARY KEY,
  uid      TEXT NOT NULL UNIQUE,
  job_id   INTEGER NOT NULL REFERENCES job,
  kind     TEXT NOT NULL CHECK (kind IN ('added', 'left on', 'pulled', 'refitted', 'turned', 'done', 'decided', 'placed', 'note', 'undone', 'fitted', 'closed', 'reopened', 'given up')),
  position INTEGER NOT NULL DEFAULT 0,
  step_id  INTEGER REFERENCES job_step,
  part_id  INTEGER REFERENCES part,
  undoes   INTEGER REFERENCES job_entry,
  text     TEXT NOT NULL DEFAULT '',
  despite  TEXT NOT NULL DEFAULT '',
  day      TEXT NOT NULL DEFAULT '',
  who      TEXT NOT NULL DEFAULT '',
  saved_at TEXT NOT NULL
) STRICT;
CREATE INDEX job_entry_job ON job_entry (job_id, id);
CREATE INDEX job_entry_part ON job_entry (part_id) WHERE part_id IS NOT NULL;

-- What was decided of a part; the entry with the highest id of (job, part) is
-- in force. worked is what the page showed of the consequences, as JSON.
CREATE TABLE job_decision (
  entry_id    INTEGER PRIMARY KEY REFERENCES job_entry,
  job_id      INTEGER NOT NULL REFERENCES job,
  part_id     INTEGER NOT NULL REFERENCES part,
  position    INTEGER NOT NULL DEFAULT 0,
  disposition TEXT NOT NULL CHECK (disposition IN ('reuse', 'hone', 'grind', 'plate', 're-groove', 'replace', 'scrap', 'not decided')),
  oversize    INTEGER,
  groove      INTEGER NOT NULL DEFAULT 0,
  width       INTEGER,
  reason      TEXT NOT NULL DEFAULT '',
  worked      TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX job_decision_job ON job_decision (job_id, part_id, entry_id);
CREATE INDEX job_decision_part ON job_decision (part_id, entry_id);

-- What is to be fitted where; the entry with the highest id of (job, position,
-- kind, groove) is in force, and no part there means: leave the place empty.
CREATE TABLE job_placing (
  id       INTEGER PRIMARY KEY,
  entry_id INTEGER NOT NULL REFERENCES job_entry,
  job_id   INTEGER NOT NULL REFERENCES job,
  position INTEGER NOT NULL,
  kind     TEXT NOT NULL,
  groove   INTEGER NOT NULL DEFAULT 0,
  part_id  INTEGER REFERENCES part,
  despite  TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX job_placing_job ON job_placing (job_id, position, kind, groove, id);

CREATE VIEW job_now AS
  SELECT j.*, coalesce(x.kind, '') AS ended, coalesce(x.day, '') AS end_day, coalesce(x.id, 0) AS end_entry
  FROM job j LEFT JOIN job_entry x ON x.id = (SELECT max(n.id) FROM job_entry n WHERE n.job_id = j.id AND n.kind IN ('closed', 'reopened', 'given up'));

-- A model's own checklist; the highest id of a model is in force. A model
-- without one has the program's.
CREATE TABLE checklist (
  id       INTEGER PRIMARY KEY,
  model_id INTEGER NOT NULL REFERENCES model,
  who      TEXT NOT NULL DEFAULT '',
  saved_at TEXT NOT NULL
) STRICT;
CREATE TABLE checklist_line (
  checklist_id INTEGER NOT NULL REFERENCES checklist,
  ord          INTEGER NOT NULL,
  phase        TEXT NOT NULL CHECK (phase IN ('removal', 'bench', 'refit', 'after')),
  text         TEXT NOT NULL,
  caution      TEXT NOT NULL DEFAULT '',
  torque       TEXT NOT NULL DEFAULT '',
  wrench       TEXT NOT NULL DEFAULT '',
  each         INTEGER NOT NULL DEFAULT 0,
  PRIMARY KEY (checklist_id, ord)
) STRICT, WITHOUT ROWID;

-- Photographs, without the camera's metadata. One struck out keeps its row and
-- its reason.
CREATE TABLE photo (
  id       INTEGER PRIMARY KEY,
  uid      TEXT NOT NULL UNIQUE,
  job_id   INTEGER REFERENCES job,
  position INTEGER NOT NULL DEFAULT 0,
  part_id  INTEGER REFERENCES part,
  type     TEXT NOT NULL CHECK (type IN ('image/jpeg', 'image/png')),
  width    INTEGER NOT NULL,
  height   INTEGER NOT NULL,
  sha256   TEXT NOT NULL,
  note     TEXT NOT NULL DEFAULT '',
  day      TEXT NOT NULL,
  who      TEXT NOT NULL DEFAULT '',
  void     TEXT NOT NULL DEFAULT '',
  saved_at TEXT NOT NULL
) STRICT;
CREATE INDEX photo_job ON photo (job_id, position, id);
CREATE INDEX photo_part ON photo (part_id, id);
CREATE TABLE photo_data (
  photo_id INTEGER PRIMARY KEY REFERENCES photo,
  bytes    BLOB NOT NULL,
  small    BLOB NOT NULL
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER job_never_changed BEFORE UPDATE ON job BEGIN
  SELECT RAISE(ABORT, 'a job is never changed: make an entry in it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_never_deleted BEFORE DELETE ON job BEGIN
  SELECT RAISE(ABORT, 'a job is never deleted: make an entry in it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_step_never_changed BEFORE UPDATE ON job_step BEGIN
  SELECT RAISE(ABORT, 'a step of a job is never changed: make an entry in the job');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_step_never_deleted BEFORE DELETE ON job_step BEGIN
  SELECT RAISE(ABORT, 'a step of a job is never deleted: make an entry in the job');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_entry_never_changed BEFORE UPDATE ON job_entry BEGIN
  SELECT RAISE(ABORT, 'an entry of a job is never changed: take it back with a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_entry_never_deleted BEFORE DELETE ON job_entry BEGIN
  SELECT RAISE(ABORT, 'an entry of a job is never deleted: take it back with a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_decision_never_changed BEFORE UPDATE ON job_decision BEGIN
  SELECT RAISE(ABORT, 'a decision is never changed: decide anew');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_decision_never_deleted BEFORE DELETE ON job_decision BEGIN
  SELECT RAISE(ABORT, 'a decision is never deleted: decide anew');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_placing_never_changed BEFORE UPDATE ON job_placing BEGIN
  SELECT RAISE(ABORT, 'a placing is never changed: place anew');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_placing_never_deleted BEFORE DELETE ON job_placing BEGIN
  SELECT RAISE(ABORT, 'a placing is never deleted: place anew');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER checklist_never_changed BEFORE UPDATE ON checklist BEGIN
  SELECT RAISE(ABORT, 'a checklist is never changed: save a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER checklist_never_deleted BEFORE DELETE ON checklist BEGIN
  SELECT RAISE(ABORT, 'a checklist is never deleted: save a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER checklist_line_never_changed BEFORE UPDATE ON checklist_line BEGIN
  SELECT RAISE(ABORT, 'a checklist is never changed: save a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER checklist_line_never_deleted BEFORE DELETE ON checklist_line BEGIN
  SELECT RAISE(ABORT, 'a checklist is never deleted: save a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER photo_data_never_changed BEFORE UPDATE ON photo_data BEGIN
  SELECT RAISE(ABORT, 'a photograph is never changed: strike it out');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER photo_data_never_deleted BEFORE DELETE ON photo_data BEGIN
  SELECT RAISE(ABORT, 'a photograph is never deleted: strike it out');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER photo_kept BEFORE UPDATE OF id, uid, job_id, position, part_id, type, width, height, sha256, day, who, saved_at, note ON photo BEGIN
  SELECT RAISE(ABORT, 'a photograph is never changed: strike it out');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER photo_struck_for_good BEFORE UPDATE OF void ON photo WHEN old.void <> '' BEGIN
  SELECT RAISE(ABORT, 'a photograph stays struck out');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER photo_never_deleted BEFORE DELETE ON photo BEGIN
  SELECT RAISE(ABORT, 'a photograph is never deleted: strike it out');
END;
-- +goose StatementEnd

-- Judgements are made anew by a sharper test.
UPDATE peers SET stale = stale + members + 1;

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
