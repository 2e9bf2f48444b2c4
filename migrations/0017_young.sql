-- +goose Up

-- Finds the runs that are too young to judge, the latest measured first.
CREATE INDEX series_young ON series (last_day, part_id, feature_id, groove) WHERE current = 1 AND state = 2;

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
