-- +goose Up

-- Who did what, in a chain: hash is the SHA-256 of the hash before and of all
-- else in the row, so that none can be changed, taken out or put in between.
-- It is written in the transaction of what it tells of. Rows that were entered
-- together are told of by one row: first and last are their ids, digest is the
-- SHA-256 of what they held. 'covered' tells of all that was in the book when
-- its tables changed.
CREATE TABLE audit (
  seq    INTEGER PRIMARY KEY,
  at     TEXT NOT NULL,
  person INTEGER NOT NULL,           -- 0 where nobody was signed in
  who    TEXT NOT NULL,              -- their name then
  device TEXT NOT NULL,
  did    TEXT NOT NULL CHECK (did IN ('covered', 'entered', 'corrected', 'changed', 'removed')),
  record TEXT NOT NULL,              -- the table
  key    TEXT NOT NULL,              -- of one row; '' where first and last tell
  first  INTEGER NOT NULL,
  last   INTEGER NOT NULL,
  rows   INTEGER NOT NULL,
  digest TEXT NOT NULL,
  what   TEXT NOT NULL,              -- in the trade's words
  page   TEXT NOT NULL,              -- where it is shown; '' for nowhere
  before TEXT NOT NULL,              -- JSON of the columns that changed; '' for nothing
  after  TEXT NOT NULL,
  hash   TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX audit_record ON audit (record, first);

-- +goose StatementBegin
CREATE TRIGGER audit_kept BEFORE UPDATE ON audit BEGIN
  SELECT RAISE(ABORT, 'what was done is never changed');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER audit_never_deleted BEFORE DELETE ON audit BEGIN
  SELECT RAISE(ABORT, 'what was done is never deleted');
END;
-- +goose StatementEnd

-- What the tables before did not refuse yet.
-- +goose StatementBegin
CREATE TRIGGER limit_never_deleted BEFORE DELETE ON limit_row BEGIN
  SELECT RAISE(ABORT, 'a limit is never deleted: type a new version');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER sheet_kept BEFORE UPDATE ON sheet BEGIN
  SELECT RAISE(ABORT, 'a sheet is never changed: correct its readings');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER sheet_never_deleted BEFORE DELETE ON sheet BEGIN
  SELECT RAISE(ABORT, 'a sheet is never deleted: correct its readings');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER acknowledgement_kept BEFORE UPDATE ON acknowledgement BEGIN
  SELECT RAISE(ABORT, 'an acknowledgement is never changed: make a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER acknowledgement_never_deleted BEFORE DELETE ON acknowledgement BEGIN
  SELECT RAISE(ABORT, 'an acknowledgement is never deleted');
END;
-- +goose StatementEnd
-- Of a time on an engine only its end is told later, and once, and that it was
-- a mistake; the reason why it was fitted all the same comes with the fitting.
-- +goose StatementBegin
CREATE TRIGGER stay_kept BEFORE UPDATE ON stay
  WHEN NEW.id <> OLD.id OR NEW.part_id <> OLD.part_id OR NEW.kind <> OLD.kind OR NEW.engine_id <> OLD.engine_id OR NEW.position <> OLD.position
    OR NEW.groove <> OLD.groove OR NEW.from_day <> OLD.from_day OR NEW.from_meter <> OLD.from_meter OR NEW.saved_at <> OLD.saved_at
    OR OLD.to_day IS NOT NULL AND (NEW.to_day IS NOT OLD.to_day OR NEW.to_meter IS NOT OLD.to_meter OR NEW.reason_out <> OLD.reason_out)
    OR OLD.void <> '' AND NEW.void <> OLD.void
    OR OLD.despite <> '' AND NEW.despite <> OLD.despite
BEGIN
  SELECT RAISE(ABORT, 'an installation is never changed: strike it and enter it again');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER stay_never_deleted BEFORE DELETE ON stay BEGIN
  SELECT RAISE(ABORT, 'an installation is never deleted: strike it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER mark_kept BEFORE UPDATE ON mark
  WHEN NEW.id <> OLD.id OR NEW.part_id <> OLD.part_id OR NEW.event <> OLD.event OR NEW.day <> OLD.day OR NEW.at_hours IS NOT OLD.at_hours
    OR NEW.groove <> OLD.groove OR NEW.oversize IS NOT OLD.oversize OR NEW.note <> OLD.note OR NEW.saved_at <> OLD.saved_at
    OR OLD.void <> '' AND NEW.void <> OLD.void
BEGIN
  SELECT RAISE(ABORT, 'work on a part is never changed: strike it and enter it again');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER mark_never_deleted BEFORE DELETE ON mark BEGIN
  SELECT RAISE(ABORT, 'work on a part is never deleted: strike it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER part_never_deleted BEFORE DELETE ON part BEGIN
  SELECT RAISE(ABORT, 'a part is never deleted: scrap it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER engine_never_deleted BEFORE DELETE ON engine BEGIN
  SELECT RAISE(ABORT, 'an engine is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER model_never_deleted BEFORE DELETE ON model BEGIN
  SELECT RAISE(ABORT, 'an engine model is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER feature_kept BEFORE UPDATE ON feature BEGIN
  SELECT RAISE(ABORT, 'a feature is never changed: readings were taken of it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER feature_never_deleted BEFORE DELETE ON feature BEGIN
  SELECT RAISE(ABORT, 'a feature is never deleted: readings were taken of it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER gauge_never_deleted BEFORE DELETE ON gauge BEGIN
  SELECT RAISE(ABORT, 'a gauge is never deleted: readings were taken with it');
END;
-- +goose StatementEnd

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
