-- +goose Up

-- What a ring is made of, for its contact pressure; the modulus of elasticity
-- in N/mm², only where the shop typed it.
ALTER TABLE part ADD COLUMN material TEXT NOT NULL DEFAULT '' CHECK (material IN ('', 'cast iron', 'SG iron', 'other'));
ALTER TABLE part ADD COLUMN modulus INTEGER CHECK (modulus BETWEEN 1000 AND 1000000);

-- Why it was fitted although the ring's facing may not run on the bore's
-- surface; empty for all others.
ALTER TABLE stay ADD COLUMN despite TEXT NOT NULL DEFAULT '';

-- The shop's list of which ring facing may run on which bore surface. A new
-- entry replaces the one before for its pair, with a reason; the highest id is
-- in force, and a withdrawn one says nothing.
CREATE TABLE facing_pair (
  id       INTEGER PRIMARY KEY,
  facing   TEXT NOT NULL CHECK (facing <> ''),
  surface  TEXT NOT NULL CHECK (surface <> ''),
  says     TEXT NOT NULL CHECK (says IN ('allowed', 'not allowed', 'withdrawn')),
  document TEXT NOT NULL,
  reason   TEXT NOT NULL DEFAULT '',
  saved_at TEXT NOT NULL
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER facing_pair_kept BEFORE UPDATE ON facing_pair BEGIN
  SELECT RAISE(ABORT, 'an entry of the facing list is never changed: make a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER facing_pair_never_deleted BEFORE DELETE ON facing_pair BEGIN
  SELECT RAISE(ABORT, 'an entry of the facing list is never deleted: make a new one');
END;
-- +goose StatementEnd

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
