-- +goose Up

-- Which test a judgement's chance and ratio come from.
ALTER TABLE series ADD COLUMN test TEXT NOT NULL DEFAULT 'whole run';

-- What the parts of an engine show together, against those of other engines:
-- made anew with the judgements of the group.
CREATE TABLE engine_wear (
  engine_id  INTEGER NOT NULL REFERENCES engine,
  peers_id   INTEGER NOT NULL REFERENCES peers,
  state      INTEGER NOT NULL,
  parts      INTEGER NOT NULL,
  faster     INTEGER NOT NULL,
  hours      REAL NOT NULL,
  ratio      REAL NOT NULL,
  ratio_low  REAL NOT NULL,
  ratio_high REAL NOT NULL,
  chance     REAL NOT NULL,
  refs       INTEGER NOT NULL,
  others     INTEGER NOT NULL, -- engines it was compared with
  allowance  INTEGER NOT NULL, -- 1 where it was compared with the maker's allowance
  PRIMARY KEY (engine_id, peers_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX engine_wear_peers ON engine_wear (peers_id);
CREATE INDEX engine_wear_flagged ON engine_wear (chance, engine_id, peers_id) WHERE state = 5;
-- Every group has its engines judged once.
UPDATE peers SET stale = stale + members + 1;

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
