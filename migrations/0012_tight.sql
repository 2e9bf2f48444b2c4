-- +goose Up

-- How far the latest reading of a run is from the nearest bound, and which
-- bound that is (wear.Edge).
ALTER TABLE series ADD COLUMN room REAL NOT NULL DEFAULT 0;
ALTER TABLE series ADD COLUMN edge INTEGER NOT NULL DEFAULT 0;
-- 1 until a run that was summarised before is summarised anew, at the next
-- opening: clearances are bounded on their tight side now, and what is beyond
-- is kept with by how much.
ALTER TABLE series ADD COLUMN outdated INTEGER NOT NULL DEFAULT 0;
UPDATE series SET outdated = 1 WHERE verdict = 4 OR feature_id IN (SELECT id FROM feature WHERE built_in = 1
  AND name IN ('side clearance', 'skirt clearance', 'pin clearance', 'bushing clearance', 'stem clearance', 'end gap', 'gap of a pushed ring'));
CREATE INDEX series_outdated ON series (part_id) WHERE outdated = 1;

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
