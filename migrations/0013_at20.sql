-- +goose Up

-- How differently another person reads a gauge, one standard deviation; 0 where
-- it is not known. Readings keep what held when they were taken.
ALTER TABLE gauge ADD COLUMN operator_sd INTEGER NOT NULL DEFAULT 0 CHECK (operator_sd >= 0);
ALTER TABLE reading ADD COLUMN operator_sd INTEGER NOT NULL DEFAULT 0;
ALTER TABLE leak_test ADD COLUMN operator_sd INTEGER NOT NULL DEFAULT 0 CHECK (operator_sd >= 0);

-- 1 where the latest sizes were carried to 20 °C.
ALTER TABLE series ADD COLUMN carried INTEGER NOT NULL DEFAULT 0;

-- Parts that were measured at a known temperature are summarised anew at the
-- next opening.
UPDATE series SET outdated = 1 WHERE part_id IN (SELECT r.part_id FROM reading r JOIN sheet s ON s.id = r.sheet_id WHERE s.temperature IS NOT NULL);

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
