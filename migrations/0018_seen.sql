-- +goose Up

-- A person has seen a finding that is not of one series, and gave a reason: a
-- whole engine that wears fast, by feature and groove; a ring that presses
-- harder than the maker's new one; a leak test beyond its rule, by cylinder.
CREATE TABLE finding_seen (
  id         INTEGER PRIMARY KEY,
  what       TEXT NOT NULL CHECK (what IN ('engine', 'ring', 'leak')),
  engine_id  INTEGER REFERENCES engine, -- where it was seen; none for a ring on the shelf
  position   INTEGER NOT NULL DEFAULT 0,
  part_id    INTEGER REFERENCES part,    -- the ring or the cylinder
  feature_id INTEGER REFERENCES feature, -- of the wear or the force
  groove     INTEGER NOT NULL DEFAULT 0, -- of the wear
  amount     REAL NOT NULL,              -- ratio to the others; force, base units; loss in percent
  heard      TEXT NOT NULL DEFAULT '',   -- where air was heard at the leak test
  newest     INTEGER NOT NULL DEFAULT 0, -- sheet of the engine then
  who        TEXT NOT NULL DEFAULT '',
  reason     TEXT NOT NULL,
  saved_at   TEXT NOT NULL
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER finding_seen_kept BEFORE UPDATE ON finding_seen BEGIN
  SELECT RAISE(ABORT, 'an acknowledgement is never changed: make a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER finding_seen_never_deleted BEFORE DELETE ON finding_seen BEGIN
  SELECT RAISE(ABORT, 'an acknowledgement is never deleted');
END;
-- +goose StatementEnd

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
