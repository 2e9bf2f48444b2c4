-- +goose Up

-- Honing, grinding and plating renew the bore that a pushed ring's gap tells of:
-- parts with such gaps are summarised anew at the next opening.
UPDATE series SET outdated = 1 WHERE feature_id IN (SELECT id FROM feature WHERE built_in = 1 AND kind = 'cylinder' AND name = 'gap of a pushed ring');

-- +goose Down
SELECT RAISE(ABORT, 'a book is never taken back to an older version');
