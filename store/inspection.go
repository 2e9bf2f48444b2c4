package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"barrelbook/wear"
)

// inspection is what one sheet says of a feature at a station.
type inspection struct {
	day    wear.Day
	hours  wear.Hours // the part's own
	values map[string]wear.Value
	us     map[string]float64
}

// taken is a reading in force with where and when it was taken.
type taken struct {
	id, root, sheet, part int64
	day                   wear.Day
	engine, meter         int64
	engineHours           wear.Hours
	partHours             *wear.Hours
	key                   seriesKey
	axis                  string
	value                 *wear.Value // nil where it was withdrawn
	sd, resolution        float64
}

// findInspections reads the readings in force of parts, by part and series,
// in the order of their sheets.
func (s *summary) findInspections(ctx context.Context, t *tx, parts []int64) (map[int64]map[seriesKey][]taken, error) {
	rows, err := list(ctx, t, func(r scanner, d *taken) error {
		return r.Scan(&d.id, &d.root, &d.sheet, &d.part, &d.day, &d.engine, &d.meter, &d.partHours, &d.key.feature, &d.key.groove, &d.key.station, &d.axis, &d.value, &d.sd, &d.resolution)
	}, `SELECT r.id, r.root, r.sheet_id, r.part_id, s.day, coalesce(s.engine_id, 0), coalesce(s.meter_root, 0), r.part_hours, r.feature_id, r.groove, r.station, r.axis, r.value, r.sd, r.resolution
		FROM reading r JOIN sheet s ON s.id = r.sheet_id WHERE r.part_id IN (SELECT value FROM json_each(?))`, jsonList(parts))
	if err != nil {
		return nil, fmt.Errorf("read readings: %w", err)
	}
	if err := s.findMeters(ctx, t, rows); err != nil {
		return nil, err
	}
	latest := map[int64]int64{} // root to the correction in force
	for _, r := range rows {
		if r.id != r.root {
			latest[r.root] = max(latest[r.root], r.id)
		}
	}
	out := make(map[int64]map[seriesKey][]taken, len(parts))
	for _, r := range rows {
		if r.value == nil || latest[r.root] > r.id {
			continue
		}
		if out[r.part] == nil {
			out[r.part] = map[seriesKey][]taken{}
		}
		r.engineHours = s.meters[r.meter]
		out[r.part][r.key] = append(out[r.part][r.key], r)
	}
	return out, nil
}

// findMeters reads the engine hours of the sheets that it has not met yet.
func (s *summary) findMeters(ctx context.Context, t *tx, rows []taken) error {
	var roots []int64
	for _, r := range rows {
		if _, known := s.meters[r.meter]; !known {
			s.meters[r.meter], roots = 0, append(roots, r.meter)
		}
	}
	if len(roots) == 0 {
		return nil
	}
	type at struct {
		root  int64
		hours wear.Hours
	}
	found, err := list(ctx, t, func(r scanner, m *at) error { return r.Scan(&m.root, &m.hours) },
		"SELECT root, hours FROM meter_now WHERE root IN (SELECT value FROM json_each(?))", jsonList(roots))
	if err != nil {
		return fmt.Errorf("read engine hours: %w", err)
	}
	for _, m := range found {
		s.meters[m.root] = m.hours
	}
	return nil
}

// inspections makes of the readings of a part an inspection a sheet, ordered
// by the part's hours.
func (h *history) inspections(measured map[seriesKey][]taken) (map[seriesKey][]inspection, error) {
	out := make(map[seriesKey][]inspection, len(measured))
	for key, rows := range measured {
		slices.SortFunc(rows, func(a, b taken) int {
			return cmp.Or(cmp.Compare(a.day, b.day), cmp.Compare(a.sheet, b.sheet), cmp.Compare(a.id, b.id))
		})
		var all []inspection
		for i, r := range rows {
			if i == 0 || r.sheet != rows[i-1].sheet {
				at, err := h.partHours(r)
				if err != nil {
					return nil, h.stranded(r, err)
				}
				all = append(all, inspection{day: r.day, hours: at, values: map[string]wear.Value{}, us: map[string]float64{}})
			}
			last := all[len(all)-1]
			last.values[r.axis] = *r.value // a later reading at the same spot of the same sheet takes its place
			last.us[r.axis] = wear.StandardUncertainty(r.sd, r.resolution)
		}
		slices.SortStableFunc(all, func(a, b inspection) int {
			return cmp.Or(cmp.Compare(a.hours, b.hours), cmp.Compare(a.day, b.day))
		})
		out[key] = all
	}
	return out, nil
}

// partHours places a reading on the part's clock.
func (h *history) partHours(r taken) (wear.Hours, error) {
	if r.partHours != nil {
		return *r.partHours, nil
	}
	var at *wear.EngineHours
	if r.engine != 0 {
		at = &wear.EngineHours{Engine: r.engine, Hours: r.engineHours}
	}
	return h.clock.At(r.day, at)
}
