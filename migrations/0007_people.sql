-- +goose Up

-- Who may do what. A change is a new row with the same root: the highest id of
-- a root is in force, and the rows before it are the history. Nobody is
-- deleted; who has left is not active.
CREATE TABLE person (
  id        INTEGER PRIMARY KEY,
  root      INTEGER NOT NULL,
  name      TEXT NOT NULL COLLATE NOCASE,
  owner     INTEGER NOT NULL CHECK (owner IN (0, 1)),
  mechanic  INTEGER NOT NULL CHECK (mechanic IN (0, 1)),
  inspector INTEGER NOT NULL CHECK (inspector IN (0, 1)),
  until     TEXT NOT NULL DEFAULT '',                   -- last day, '' for no end
  limited   INTEGER NOT NULL CHECK (limited IN (0, 1)), -- to the engines of person_engine
  active    INTEGER NOT NULL CHECK (active IN (0, 1)),
  what      TEXT NOT NULL,                              -- what was done: added, changed, new password
  by_person INTEGER NOT NULL DEFAULT 0,                 -- root of who did it, 0 at the command line
  by_name   TEXT NOT NULL DEFAULT '',
  saved_at  TEXT NOT NULL,
  CHECK (owner + mechanic + inspector > 0)
) STRICT;
CREATE INDEX person_root ON person (root, id);

CREATE TABLE person_engine (
  id        INTEGER PRIMARY KEY,
  row_id    INTEGER NOT NULL REFERENCES person, -- of person, not its root
  engine_id INTEGER NOT NULL REFERENCES engine
) STRICT;
CREATE INDEX person_engine_row ON person_engine (row_id);

CREATE VIEW person_now AS
  SELECT * FROM person p
  WHERE NOT EXISTS (SELECT 1 FROM person n WHERE n.root = p.root AND n.id > p.id);

-- Only the password in force is kept, as its hash.
CREATE TABLE password (
  person_id INTEGER PRIMARY KEY REFERENCES person, -- its root
  hash      TEXT NOT NULL,
  set_at    TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- A browser's session, by the SHA-256 of the id in its cookie.
CREATE TABLE session (
  key       BLOB PRIMARY KEY,
  person_id INTEGER REFERENCES person, -- its root; NULL while nobody is signed in
  data      BLOB NOT NULL,
  used_at   TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX session_person ON session (person_id);
CREATE INDEX session_used ON session (used_at);

-- +goose StatementBegin
CREATE TRIGGER person_kept BEFORE UPDATE ON person BEGIN
  SELECT RAISE(ABORT, 'a person''s entry is never changed: enter a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER person_never_deleted BEFORE DELETE ON person BEGIN
  SELECT RAISE(ABORT, 'a person is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER person_engine_kept BEFORE UPDATE ON person_engine BEGIN
  SELECT RAISE(ABORT, 'a person''s entry is never changed: enter a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER person_engine_never_deleted BEFORE DELETE ON person_engine BEGIN
  SELECT RAISE(ABORT, 'a person''s entry is never deleted');
END;
-- +goose StatementEnd

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
