-- +goose Up

-- Within a day the entries of an engine's meter come in the order in which they
-- were entered. A reading that was taken before a replacement of that day, and
-- entered after it, has that replacement's root here.
ALTER TABLE meter ADD COLUMN ahead_of INTEGER REFERENCES meter;

DROP VIEW meter_now;
CREATE VIEW meter_now AS
  SELECT m.root, m.engine_id, m.day, m.shows, m.offset, m.shows + m.offset AS hours, m.kind, m.reason, m.id, m.saved_at, m.ahead_of
  FROM meter m
  WHERE NOT EXISTS (SELECT 1 FROM meter n WHERE n.root = m.root AND n.id > m.id);

-- The meter entry that a refit was saved with; none in other entries, and in
-- refits of older versions.
ALTER TABLE job_entry ADD COLUMN meter_root INTEGER REFERENCES meter;

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
