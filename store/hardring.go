package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"barrelbook/wear"
)

// HardRing is a ring in use or on the shelf whose force, as last measured in
// the run in hand, is above the shop's setting times the middle of the maker's
// new limits.
type HardRing struct {
	Part     int64
	Engine   int64 // 0 on the shelf
	EngineNo string
	Aircraft string
	Position int
	AtGroove int
	Feature  wear.Feature
	Value    wear.Value
	Day      wear.Day
	Times    float64 // the middle of the new limits
	Limit    LimitRow
	Seen     Seen
}

// HardRings lists, over the fleet, the rings that press harder than the maker's
// new ones, the hardest first, by their force alone: the axial width and what
// the gauge can be wrong by are left to the comparison.
func (b *Book) HardRings(ctx context.Context) ([]HardRing, error) {
	return findHardRings(ctx, b.read)
}

func findHardRings(ctx context.Context, q querier) ([]HardRing, error) {
	settings, err := findSettings(ctx, q)
	if err != nil {
		return nil, err
	}
	x, err := findFeatureIndex(ctx, q)
	if err != nil {
		return nil, err
	}
	var found []HardRing
	for i, f := range x.all {
		if f.Kind != wear.Ring || !f.Called(string(wear.FromTangential)) && !f.Called(string(wear.FromDiametral)) {
			continue
		}
		hard, err := findHarder(ctx, q, &x.all[i], settings.Pressure)
		if err != nil {
			return nil, fmt.Errorf("list rings by %s: %w", f.Name, err)
		}
		found = append(found, hard...)
	}
	slices.SortStableFunc(found, func(a, b HardRing) int { return cmp.Or(cmp.Compare(b.Times, a.Times), cmp.Compare(a.Part, b.Part)) })
	seen := map[int64]bool{}
	found = slices.DeleteFunc(found, func(r HardRing) bool {
		again := seen[r.Part]
		seen[r.Part] = true
		return again
	})
	acknowledged, err := findSeenThings(ctx, q, seenRing)
	for i, r := range found {
		found[i].Seen = acknowledged[r.thing()]
	}
	return found, err
}

// hardRingQuery finds the rings of which a force is above a bar.
const hardRingQuery = `SELECT s.part_id, s.last_value, s.last_day, coalesce(p.model_id, e.model_id, 0), coalesce(nullif(p.groove, 0), t.groove, 0),
	coalesce(t.engine_id, 0), coalesce(e.serial, ''), coalesce(e.aircraft, ''), coalesce(t.position, 0), coalesce(t.groove, 0)
	FROM peers g CROSS JOIN series s INDEXED BY series_peers ON s.peers_id = g.id CROSS JOIN part p ON p.id = s.part_id` + seat + ` LEFT JOIN engine e ON e.id = t.engine_id
	WHERE g.feature_id = ? AND s.current = 1 AND s.last_value > ? AND p.status <> 'scrapped'`

// findHarder finds the rings of which one force is above so many times the
// middle of its new limits. The groups of the feature lead to its runs, and the
// lowest bar of all leaves few of them to be looked at.
func findHarder(ctx context.Context, q querier, f *wear.Feature, times float64) ([]HardRing, error) {
	rows, err := list(ctx, q, scanLimit, "SELECT "+limitColumns+" FROM limit_now l WHERE l.feature_id = ?", f.ID)
	if err != nil {
		return nil, err
	}
	byModel := map[int64]Limits{}
	least := 0.0
	for i, row := range rows {
		if byModel[row.Model].byID == nil {
			byModel[row.Model] = Limits{byID: map[limitKey]*LimitRow{}}
		}
		byModel[row.Model].byID[limitKey{row.Feature, row.Groove}] = &rows[i]
		if mid, _, ok := row.Limit.MiddleOfNew(); ok && mid > 0 && (least == 0 || mid < least) {
			least = mid
		}
	}
	if least == 0 {
		return nil, nil
	}
	const hair = 1 + 1e-9 // as wear.ComparePressure: a ratio on the limit is not past it
	var model, groove []int64
	found, err := list(ctx, q, func(r scanner, h *HardRing) error {
		h.Feature = *f
		var m, g int64
		err := r.Scan(&h.Part, &h.Value, &h.Day, &m, &g, &h.Engine, &h.EngineNo, &h.Aircraft, &h.Position, &h.AtGroove)
		model, groove = append(model, m), append(groove, g)
		return err
	}, hardRingQuery, f.ID, times*least)
	if err != nil {
		return nil, err
	}
	out := found[:0]
	for i, h := range found {
		row := byModel[model[i]].For(f.ID, int(groove[i]))
		if row == nil {
			continue
		}
		mid, _, ok := row.Limit.MiddleOfNew()
		if !ok || mid <= 0 || float64(h.Value) <= times*mid*hair {
			continue
		}
		h.Times, h.Limit = float64(h.Value)/mid, *row
		out = append(out, h)
	}
	return out, nil
}
