-- +goose Up

-- The last sheet of the same day that was measured before the work; -1 for
-- none, 0 where it is not known.
ALTER TABLE mark ADD COLUMN after_sheet INTEGER NOT NULL DEFAULT 0;

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
