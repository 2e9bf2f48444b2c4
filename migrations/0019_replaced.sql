-- +goose Up

-- INSERT OR REPLACE and UPDATE OR REPLACE take out the row that has the same
-- key, or another value that only one may have, and no trigger of DELETE fires.
-- So such a row is refused before it is written. Where SQLite is left to choose
-- the id, NEW.id is -1, which no row has.

-- +goose StatementBegin
CREATE TRIGGER model_never_replaced BEFORE INSERT ON model
  WHEN EXISTS (SELECT 1 FROM model WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM model WHERE name = NEW.name)
BEGIN
  SELECT RAISE(ABORT, 'an engine model is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER engine_never_replaced BEFORE INSERT ON engine
  WHEN EXISTS (SELECT 1 FROM engine WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM engine WHERE serial = NEW.serial AND model_id = NEW.model_id)
BEGIN
  SELECT RAISE(ABORT, 'an engine is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER meter_never_replaced BEFORE INSERT ON meter
  WHEN EXISTS (SELECT 1 FROM meter WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'a meter entry is never deleted: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER part_never_replaced BEFORE INSERT ON part
  WHEN EXISTS (SELECT 1 FROM part WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM part WHERE serial = NEW.serial AND kind = NEW.kind AND part_number = NEW.part_number)
BEGIN
  SELECT RAISE(ABORT, 'a part is never deleted: scrap it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER stay_never_replaced BEFORE INSERT ON stay
  WHEN EXISTS (SELECT 1 FROM stay WHERE id = NEW.id)
    OR NEW.to_day IS NULL AND NEW.void = '' AND (EXISTS (SELECT 1 FROM stay WHERE part_id = NEW.part_id AND to_day IS NULL AND void = '')
      OR EXISTS (SELECT 1 FROM stay WHERE engine_id = NEW.engine_id AND position = NEW.position AND kind = NEW.kind AND groove = NEW.groove AND to_day IS NULL AND void = ''))
BEGIN
  SELECT RAISE(ABORT, 'an installation is never deleted: strike it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER mark_never_replaced BEFORE INSERT ON mark
  WHEN EXISTS (SELECT 1 FROM mark WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'work on a part is never deleted: strike it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER feature_never_replaced BEFORE INSERT ON feature
  WHEN EXISTS (SELECT 1 FROM feature WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM feature WHERE kind = NEW.kind AND name = NEW.name)
BEGIN
  SELECT RAISE(ABORT, 'a feature is never deleted: readings were taken of it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER limit_never_replaced BEFORE INSERT ON limit_row
  WHEN EXISTS (SELECT 1 FROM limit_row WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'a limit is never deleted: type a new version');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER gauge_never_replaced BEFORE INSERT ON gauge
  WHEN EXISTS (SELECT 1 FROM gauge WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM gauge WHERE name = NEW.name)
BEGIN
  SELECT RAISE(ABORT, 'a gauge is never deleted: readings were taken with it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER sheet_never_replaced BEFORE INSERT ON sheet
  WHEN EXISTS (SELECT 1 FROM sheet WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM sheet WHERE uid = NEW.uid)
BEGIN
  SELECT RAISE(ABORT, 'a sheet is never deleted: correct its readings');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER reading_never_replaced BEFORE INSERT ON reading
  WHEN EXISTS (SELECT 1 FROM reading WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'a reading is never deleted: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER acknowledgement_never_replaced BEFORE INSERT ON acknowledgement
  WHEN EXISTS (SELECT 1 FROM acknowledgement WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'an acknowledgement is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER leak_test_never_replaced BEFORE INSERT ON leak_test
  WHEN EXISTS (SELECT 1 FROM leak_test WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM leak_test WHERE uid = NEW.uid AND id = root AND root <> NEW.root)
BEGIN
  SELECT RAISE(ABORT, 'a leak test is never deleted: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER leak_reading_never_replaced BEFORE INSERT ON leak_reading
  WHEN EXISTS (SELECT 1 FROM leak_reading WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'a leak reading is never deleted: enter a correction');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER leak_rule_never_replaced BEFORE INSERT ON leak_rule
  WHEN EXISTS (SELECT 1 FROM leak_rule WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'a leak rule is never deleted: type a new version');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER facing_pair_never_replaced BEFORE INSERT ON facing_pair
  WHEN EXISTS (SELECT 1 FROM facing_pair WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'an entry of the facing list is never deleted: make a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_never_replaced BEFORE INSERT ON job
  WHEN EXISTS (SELECT 1 FROM job WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM job WHERE uid = NEW.uid)
BEGIN
  SELECT RAISE(ABORT, 'a job is never deleted: make an entry in it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_step_never_replaced BEFORE INSERT ON job_step
  WHEN EXISTS (SELECT 1 FROM job_step WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'a step of a job is never deleted: make an entry in the job');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_entry_never_replaced BEFORE INSERT ON job_entry
  WHEN EXISTS (SELECT 1 FROM job_entry WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM job_entry WHERE uid = NEW.uid)
BEGIN
  SELECT RAISE(ABORT, 'an entry of a job is never deleted: take it back with a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_decision_never_replaced BEFORE INSERT ON job_decision
  WHEN EXISTS (SELECT 1 FROM job_decision WHERE entry_id = NEW.entry_id)
BEGIN
  SELECT RAISE(ABORT, 'a decision is never deleted: decide anew');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER job_placing_never_replaced BEFORE INSERT ON job_placing
  WHEN EXISTS (SELECT 1 FROM job_placing WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'a placing is never deleted: place anew');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER checklist_never_replaced BEFORE INSERT ON checklist
  WHEN EXISTS (SELECT 1 FROM checklist WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'a checklist is never deleted: save a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER checklist_line_never_replaced BEFORE INSERT ON checklist_line
  WHEN EXISTS (SELECT 1 FROM checklist_line WHERE checklist_id = NEW.checklist_id AND ord = NEW.ord)
BEGIN
  SELECT RAISE(ABORT, 'a checklist is never deleted: save a new one');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER photo_never_replaced BEFORE INSERT ON photo
  WHEN EXISTS (SELECT 1 FROM photo WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM photo WHERE uid = NEW.uid)
BEGIN
  SELECT RAISE(ABORT, 'a photograph is never deleted: strike it out');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER photo_data_never_replaced BEFORE INSERT ON photo_data
  WHEN EXISTS (SELECT 1 FROM photo_data WHERE photo_id = NEW.photo_id)
BEGIN
  SELECT RAISE(ABORT, 'a photograph is never deleted: strike it out');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER person_never_replaced BEFORE INSERT ON person
  WHEN EXISTS (SELECT 1 FROM person WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'a person is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER person_engine_never_replaced BEFORE INSERT ON person_engine
  WHEN EXISTS (SELECT 1 FROM person_engine WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'a person''s entry is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER audit_never_replaced BEFORE INSERT ON audit
  WHEN EXISTS (SELECT 1 FROM audit WHERE seq = NEW.seq)
    OR EXISTS (SELECT 1 FROM audit WHERE hash = NEW.hash)
BEGIN
  SELECT RAISE(ABORT, 'what was done is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER outbox_receipt_never_replaced BEFORE INSERT ON outbox_receipt
  WHEN EXISTS (SELECT 1 FROM outbox_receipt WHERE uid = NEW.uid)
BEGIN
  SELECT RAISE(ABORT, 'a receipt is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER finding_seen_never_replaced BEFORE INSERT ON finding_seen
  WHEN EXISTS (SELECT 1 FROM finding_seen WHERE id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'an acknowledgement is never deleted');
END;
-- +goose StatementEnd

-- Rows of these may be changed, but none to what another has, and never in their
-- id: as rowid it is in no list of columns.

-- +goose StatementBegin
CREATE TRIGGER model_id_kept BEFORE UPDATE ON model
  WHEN NEW.id <> OLD.id
BEGIN
  SELECT RAISE(ABORT, 'an engine model is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER engine_id_kept BEFORE UPDATE ON engine
  WHEN NEW.id <> OLD.id
BEGIN
  SELECT RAISE(ABORT, 'an engine is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER part_id_kept BEFORE UPDATE ON part
  WHEN NEW.id <> OLD.id
BEGIN
  SELECT RAISE(ABORT, 'a part is never deleted: scrap it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER gauge_id_kept BEFORE UPDATE ON gauge
  WHEN NEW.id <> OLD.id
BEGIN
  SELECT RAISE(ABORT, 'a gauge is never deleted: readings were taken with it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER photo_id_kept BEFORE UPDATE ON photo
  WHEN NEW.id <> OLD.id
BEGIN
  SELECT RAISE(ABORT, 'a photograph is never deleted: strike it out');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER model_never_overwritten BEFORE UPDATE OF name ON model
  WHEN EXISTS (SELECT 1 FROM model WHERE name = NEW.name AND id <> OLD.id)
BEGIN
  SELECT RAISE(ABORT, 'an engine model is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER engine_never_overwritten BEFORE UPDATE OF serial, model_id ON engine
  WHEN EXISTS (SELECT 1 FROM engine WHERE serial = NEW.serial AND model_id = NEW.model_id AND id <> OLD.id)
BEGIN
  SELECT RAISE(ABORT, 'an engine is never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER part_never_overwritten BEFORE UPDATE OF serial, kind, part_number ON part
  WHEN EXISTS (SELECT 1 FROM part WHERE serial = NEW.serial AND kind = NEW.kind AND part_number = NEW.part_number AND id <> OLD.id)
BEGIN
  SELECT RAISE(ABORT, 'a part is never deleted: scrap it');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER gauge_never_overwritten BEFORE UPDATE OF name ON gauge
  WHEN EXISTS (SELECT 1 FROM gauge WHERE name = NEW.name AND id <> OLD.id)
BEGIN
  SELECT RAISE(ABORT, 'a gauge is never deleted: readings were taken with it');
END;
-- +goose StatementEnd

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
