-- +goose Up

-- What a model's barrels can be ground to, in nanometres over standard with
-- commas between, and what must come off for a cut to clean up; and the lengths
-- of its crank and rods, 0 where the shop has not typed them.
ALTER TABLE model ADD COLUMN oversizes TEXT NOT NULL DEFAULT '';
ALTER TABLE model ADD COLUMN clean_up INTEGER NOT NULL DEFAULT 0;
ALTER TABLE model ADD COLUMN crank_radius INTEGER NOT NULL DEFAULT 0;
ALTER TABLE model ADD COLUMN master_rod INTEGER NOT NULL DEFAULT 0;
ALTER TABLE model ADD COLUMN knuckle_radius INTEGER NOT NULL DEFAULT 0;
ALTER TABLE model ADD COLUMN link_rod INTEGER NOT NULL DEFAULT 0;
ALTER TABLE model ADD COLUMN ring_depth INTEGER NOT NULL DEFAULT 0; -- lowest ring's lower edge below the piston pin, negative above it
ALTER TABLE model ADD COLUMN barrel_end INTEGER NOT NULL DEFAULT 0; -- barrel's lower end from the crank's centre

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
