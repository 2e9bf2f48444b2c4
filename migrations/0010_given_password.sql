-- +goose Up

-- A password that another person or the program chose lets in once, to choose
-- one's own, and for some days only.
ALTER TABLE password ADD COLUMN given INTEGER NOT NULL DEFAULT 0 CHECK (given IN (0, 1));

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
