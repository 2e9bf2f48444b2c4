package store

import "context"

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
	return b.leaksNow(ctx, "t.engine_id IN (SELECT value FROM json_each(?)) AND ", jsonList(engines))
}

// AllLeaksNow is LeaksNow of every engine.
func (b *Book) AllLeaksNow(ctx context.Context) ([]LeakReading, error) { return b.leaksNow(ctx, "") }

func (b *Book) leaksNow(ctx context.Context, which string, args ...any) ([]LeakReading, error) {
	all, err := findLeakReadings(ctx, b.read, which+leakNowQuery+newestLeakFirst, args...)
	if err != nil {
		return nil, err
	}
	seen := map[int64]bool{}
	newest := all[:0]
	for _, r := range all {
		if !seen[r.Part] {
			seen[r.Part] = true
			newest = append(newest, r)
		}
	}
	return newest, nil
}
