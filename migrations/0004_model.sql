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
ALTER TABLE model ADD COLUMN pin_to_crown INTEGER NOT NULL DEFAULT 0;
ALTER TABLE model ADD COLUMN below_crown INTEGER NOT NULL DEFAULT 0; -- lowest ring's lower side below the crown
ALTER TABLE model ADD COLUMN skirt_end INTEGER NOT NULL DEFAULT 0; -- where the barrel's bore ends, from the crank's centre

-- Models that a shop takes to wear alike carry the same family; wider says
-- for which features their parts, and those of other surfaces, facings or
-- grooves, are compared with each other.
ALTER TABLE model ADD COLUMN family TEXT NOT NULL DEFAULT '' COLLATE NOCASE;
CREATE TABLE wider (
  feature_id INTEGER PRIMARY KEY REFERENCES feature,
  models     INTEGER NOT NULL,
  surfaces   INTEGER NOT NULL,
  facings    INTEGER NOT NULL,
  grooves    INTEGER NOT NULL,
  saved_at   TEXT NOT NULL
) STRICT;

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
