package store

import (
	"context"
	"fmt"
)

// recentSheets is how many sheets and leak tests back an engine or a part
// counts as recently worked on.
const recentSheets = 300

// RecentEngines lists up to limit engines whose sheets and leak tests were
// saved last, latest first.
func (b *Book) RecentEngines(ctx context.Context, limit int) ([]Engine, error) {
	es, err := list(ctx, b.read, scanEngine, `WITH recent (engine_id, saved_at) AS (
			SELECT * FROM (SELECT engine_id, saved_at FROM sheet ORDER BY id DESC LIMIT ?1)
			UNION ALL SELECT * FROM (SELECT engine_id, saved_at FROM leak_test ORDER BY id DESC LIMIT ?1)),
		latest (engine_id, saved_at) AS (SELECT engine_id, max(saved_at) FROM recent WHERE engine_id IS NOT NULL GROUP BY engine_id ORDER BY 2 DESC, 1 DESC LIMIT ?2)
		`+engineQuery+" JOIN latest l ON l.engine_id = e.id ORDER BY l.saved_at DESC, e.id DESC", recentSheets, limit)
	if err != nil {
		return nil, fmt.Errorf("list engines worked on: %w", err)
	}
	return es, nil
}

// RecentShelf lists up to limit parts that were measured last away from any
// engine, latest first.
func (b *Book) RecentShelf(ctx context.Context, limit int) ([]int64, error) {
	parts, err := list(ctx, b.read, func(r scanner, id *int64) error { return r.Scan(id) }, `SELECT r.part_id FROM (SELECT id FROM sheet ORDER BY id DESC LIMIT ?) s
		JOIN sheet h ON h.id = s.id JOIN reading r ON r.sheet_id = s.id WHERE h.engine_id IS NULL GROUP BY r.part_id ORDER BY max(s.id) DESC LIMIT ?`, recentSheets, limit)
	if err != nil {
		return nil, fmt.Errorf("list parts measured: %w", err)
	}
	return parts, nil
}
