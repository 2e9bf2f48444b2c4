-- +goose Up

-- Knuckle pins and link rods that differ from those of the other cylinders,
-- with commas between: position, knuckle radius in nanometres, knuckle angle in
-- degrees, link rod in nanometres, 0 where one does not differ; and the position
-- of the master-rod cylinder that these positions are told for.
ALTER TABLE model ADD COLUMN link_rods TEXT NOT NULL DEFAULT '';
ALTER TABLE model ADD COLUMN link_rods_master INTEGER NOT NULL DEFAULT 0;

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
