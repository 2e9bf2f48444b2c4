-- +goose Up

-- Who was signed in on the tablet when a form was put into its outbox, as the
-- tablet says; empty where it did not say, and for a form sent straight away.
ALTER TABLE outbox_receipt ADD COLUMN typed_by TEXT NOT NULL DEFAULT '';

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
