-- +goose Up

-- Forms that a tablet may send more than once, each by the name its sender
-- gave it. The row is written in the transaction that saves the form, so that
-- sending again saves nothing and is answered as the first time.
CREATE TABLE outbox_receipt (
  uid         TEXT PRIMARY KEY,
  form        TEXT NOT NULL,            -- the address it was sent to
  digest      TEXT NOT NULL,            -- SHA-256 of the address and all that was typed
  answer      TEXT NOT NULL,            -- the address of what was saved
  received_at TEXT NOT NULL,            -- by the clock of this program
  device      TEXT NOT NULL DEFAULT '', -- what the tablet is called; empty for a form sent straight away
  device_time TEXT NOT NULL DEFAULT '', -- when it was filled in, by the clock of the tablet
  skew        INTEGER,                  -- seconds that the tablet's clock was ahead when it sent it
  page        TEXT NOT NULL DEFAULT '', -- the build of the page it was filled in on
  person      TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;

-- +goose StatementBegin
CREATE TRIGGER outbox_receipt_kept BEFORE UPDATE ON outbox_receipt BEGIN
  SELECT RAISE(ABORT, 'a receipt is never changed');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER outbox_receipt_never_deleted BEFORE DELETE ON outbox_receipt BEGIN
  SELECT RAISE(ABORT, 'a receipt is never deleted');
END;
-- +goose StatementEnd

-- What tells this book from every other, so that a tablet never delivers to
-- one what was filled in for another.
INSERT INTO setting (key, value) VALUES ('book', lower(hex(randomblob(16))));

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
