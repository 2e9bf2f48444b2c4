package store

import (
	"context"
	"fmt"

	"barrelbook/wear"
)

// leakNowQuery keeps, of leak readings, those in force that tell of a cylinder
// as it still is: it has not been off its position since, and no other piston or
// ring was fitted there.
const leakNowQuery = `r.reading IS NOT NULL AND NOT EXISTS (SELECT 1 FROM leak_reading n WHERE n.root = r.root AND n.id > r.id)
	AND EXISTS (SELECT 1 FROM stay c WHERE c.part_id = r.part_id AND c.engine_id = t.engine_id AND c.position = r.position AND c.to_day IS NULL AND c.void = '')
	AND NOT EXISTS (SELECT 1 FROM stay s JOIN meter_now f ON f.root = s.from_meter JOIN leak_test o ON o.id = t.root
		WHERE s.engine_id = t.engine_id AND s.position = r.position AND s.kind IN ('cylinder', 'piston', 'ring') AND s.void = ''
		AND (s.from_day > t.day OR s.from_day = t.day AND (f.hours > m.hours OR f.hours = m.hours AND s.saved_at > o.saved_at)))
	AND NOT EXISTS (SELECT 1 FROM job j JOIN job_entry x ON x.job_id = j.id JOIN leak_test o ON o.id = t.root
		WHERE j.engine_id = t.engine_id AND x.kind = 'refitted' AND x.position = r.position AND x.saved_at > o.saved_at AND NOT EXISTS (SELECT 1 FROM job_entry u WHERE u.job_id = x.job_id AND u.undoes = x.id))`

// LeaksNow is the newest leak reading of each cylinder on the given engines,
// by position, where it tells of the cylinder as it still is.
func (b *Book) LeaksNow(ctx context.Context, engines []int64) ([]LeakReading, error) {
	all, err := findLeakReadings(ctx, b.read, "t.engine_id IN (SELECT value FROM json_each(?)) AND "+leakNowQuery+newestLeakFirst, jsonList(engines))
	if err != nil {
		return nil, err
	}
	acknowledged, err := findSeenThings(ctx, b.read, seenLeak)
	if err != nil {
		return nil, err
	}
	seen := map[int64]bool{}
	newest := all[:0]
	for _, r := range all {
		if !seen[r.Part] {
			seen[r.Part] = true
			r.Seen = acknowledged[r.thing()]
			newest = append(newest, r)
		}
	}
	return newest, nil
}

// LowLeaksNow is LeaksNow of every engine on which a cylinder ever held so
// little that it can be beyond the general rule or one typed for its model.
func (b *Book) LowLeaksNow(ctx context.Context) ([]LeakReading, error) {
	engines, err := list(ctx, b.read, func(r scanner, id *int64) error { return r.Scan(id) }, `SELECT DISTINCT t.engine_id FROM leak_reading r JOIN leak_test t ON t.root = r.test_root JOIN engine e ON e.id = t.engine_id
		LEFT JOIN (SELECT model_id, max(minimum) AS minimum, min(max_loss) AS loss FROM leak_rule GROUP BY model_id) l ON l.model_id = e.model_id
		WHERE coalesce(r.recheck, r.reading) < max(coalesce(l.minimum, 0), t.regulated * (1000 - min(?, coalesce(l.loss, 1000))) / 1000.0)`, wear.GeneralLeakRule.MaxLoss)
	if err != nil {
		return nil, fmt.Errorf("find low leak readings: %w", err)
	}
	if len(engines) == 0 {
		return nil, nil
	}
	return b.LeaksNow(ctx, engines)
}
