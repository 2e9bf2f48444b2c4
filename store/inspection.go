package store

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"barrelbook/wear"
)

// inspection is what one sheet says of a feature at a station.
type inspection struct {
	sheet int64
	day   wear.Day
	hours wear.Hours // the part's own
	spots []measured // one an axis, in the order of their names
}

// measured is what a reading at an axis counts as, with its standard
// uncertainty in two parts: its own, and what it shares with the other axes of
// the sheet, by who read them and how warm the part was.
type measured struct {
	axis      string
	value     wear.Value
	u, shared float64
	carried   bool // to 20 °C
}

// all is the whole standard uncertainty.
func (m measured) all() float64 { return math.Hypot(m.u, m.shared) }

func byAxis(m measured, axis string) int { return strings.Compare(m.axis, axis) }

// set notes a value; a later one at the same axis takes its place.
func (in *inspection) set(m measured) {
	i, known := slices.BinarySearchFunc(in.spots, m.axis, byAxis)
	if known {
		in.spots[i] = m
		return
	}
	in.spots = slices.Insert(in.spots, i, m)
}

func (in inspection) at(axis string) (measured, bool) {
	i, known := slices.BinarySearchFunc(in.spots, axis, byAxis)
	if !known {
		return measured{}, false
	}
	return in.spots[i], true
}

// taken is a reading of a part.
type taken struct {
	id, root, sheet int64
	toldHours
	axis           string
	value          *wear.Value // nil where it was withdrawn
	sd, resolution float64
	operator       float64 // standard deviation between people
}

// sheetAt is when and where a sheet was measured.
type sheetAt struct {
	day    wear.Day
	engine int64 // 0 on the shelf
	hours  wear.Hours
	warm   *float64 // °C of the parts; nil where it was not taken
}

// readings are all of several parts.
type readings struct {
	byPart map[int64]map[seriesKey][]taken
	latest map[int64]int64 // root to the correction in force
	sheets map[int64]sheetAt
}

func findTaken(ctx context.Context, t *tx, parts []int64) (*readings, error) {
	rs := &readings{make(map[int64]map[seriesKey][]taken, len(parts)), map[int64]int64{}, map[int64]sheetAt{}}
	_, err := list(ctx, t, func(r scanner, _ *struct{}) error {
		var d taken
		var part int64
		var key seriesKey
		if err := r.Scan(&d.id, &d.root, &d.sheet, &part, &d.since, &d.own, &key.feature, &key.groove, &key.station, &d.axis, &d.value, &d.sd, &d.operator, &d.resolution); err != nil {
			return err
		}
		if rs.byPart[part] == nil {
			rs.byPart[part] = map[seriesKey][]taken{}
		}
		rs.byPart[part][key] = append(rs.byPart[part][key], d)
		if d.id != d.root {
			rs.latest[d.root] = max(rs.latest[d.root], d.id)
		}
		rs.sheets[d.sheet] = sheetAt{}
		return nil
	}, `SELECT id, root, sheet_id, part_id, since_install, part_hours, feature_id, groove, station, axis, value, sd, operator_sd, resolution
		FROM reading WHERE part_id IN (SELECT value FROM json_each(?))`, jsonList(parts))
	if err != nil {
		return nil, fmt.Errorf("read readings: %w", err)
	}
	return rs, rs.findSheets(ctx, t)
}

func (rs *readings) findSheets(ctx context.Context, t *tx) error {
	ids := make([]int64, 0, len(rs.sheets))
	for id := range rs.sheets {
		ids = append(ids, id)
	}
	_, err := list(ctx, t, func(r scanner, _ *struct{}) error {
		var id int64
		var s sheetAt
		if err := r.Scan(&id, &s.day, &s.engine, &s.hours, &s.warm); err != nil {
			return err
		}
		rs.sheets[id] = s
		return nil
	}, `SELECT s.id, s.day, coalesce(s.engine_id, 0), coalesce((SELECT hours FROM meter_now m WHERE m.root = s.meter_root), 0), s.temperature
		FROM sheet s WHERE s.id IN (SELECT value FROM json_each(?))`, jsonList(ids))
	if err != nil {
		return fmt.Errorf("read sheets: %w", err)
	}
	return nil
}

// inspections makes of the readings in force of a part an inspection a sheet,
// by series, ordered by the part's hours.
func (rs *readings) inspections(h *history, features featureIndex, m wear.Material) (map[seriesKey][]inspection, error) {
	out := make(map[seriesKey][]inspection, len(rs.byPart[h.part.ID]))
	for key, all := range rs.byPart[h.part.ID] {
		ins, err := rs.inspect(h, all, *features.byID[key.feature], m)
		if err != nil {
			return nil, err
		}
		if len(ins) > 0 {
			out[key] = ins
		}
	}
	return out, nil
}

func (rs *readings) inspect(h *history, all []taken, f wear.Feature, m wear.Material) ([]inspection, error) {
	all = slices.DeleteFunc(all, func(r taken) bool { return r.value == nil || rs.latest[r.root] > r.id })
	slices.SortFunc(all, func(a, b taken) int {
		return cmp.Or(cmp.Compare(rs.sheets[a.sheet].day, rs.sheets[b.sheet].day), cmp.Compare(a.sheet, b.sheet), cmp.Compare(a.id, b.id))
	})
	var ins []inspection
	for i, r := range all {
		if i == 0 || r.sheet != all[i-1].sheet {
			sheet := rs.sheets[r.sheet]
			at, err := h.partHours(sheet, r.toldHours)
			if err != nil {
				return nil, h.stranded(r.sheet, sheet, err)
			}
			ins = append(ins, inspection{sheet: r.sheet, day: sheet.day, hours: at})
		}
		ins[len(ins)-1].set(r.counted(f, rs.sheets[r.sheet].warm, m))
	}
	slices.SortStableFunc(ins, func(a, b inspection) int {
		return cmp.Or(cmp.Compare(a.hours, b.hours), cmp.Compare(a.day, b.day))
	})
	return ins, nil
}

// counted is what a reading counts as: the same as Reading.Counted.
func (r taken) counted(f wear.Feature, warm *float64, m wear.Material) measured {
	c := wear.Count(f, wear.Gauged{Value: *r.value}, warm, m)
	return measured{axis: r.axis, value: c.Value, u: wear.StandardUncertainty(r.sd, 0, r.resolution), shared: math.Hypot(r.operator, c.WarmthU), carried: c.Carried}
}
