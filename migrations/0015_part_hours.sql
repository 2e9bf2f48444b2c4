-- +goose Up

-- Hours since the part's installation, as an import told them of a part whose
-- engine is not known. The part's own hours follow from them each time;
-- part_hours and at_hours are what older versions kept.
ALTER TABLE reading ADD COLUMN since_install INTEGER;
ALTER TABLE mark ADD COLUMN since_install INTEGER;
CREATE INDEX reading_told ON reading (part_id) WHERE since_install IS NOT NULL OR part_hours IS NOT NULL;

-- The meter entry that tells the hours of work done in a job.
ALTER TABLE mark ADD COLUMN meter_root INTEGER REFERENCES meter;

-- +goose StatementBegin
CREATE TRIGGER mark_hours_kept BEFORE UPDATE ON mark
  WHEN NEW.since_install IS NOT OLD.since_install OR NEW.meter_root IS NOT OLD.meter_root OR NEW.after_sheet <> OLD.after_sheet
BEGIN
  SELECT RAISE(ABORT, 'work on a part is never changed: strike it and enter it again');
END;
-- +goose StatementEnd

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
