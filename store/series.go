package store

import (
	"cmp"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"barrelbook/wear"
)

// A series is one run of one feature at one station of a part, boiled down to
// a point an inspection. Judgements and pages are made from series, never
// from readings, so a new reading touches the series of its own part only.

// inspection is what one sheet says of a feature at a station.
type inspection struct {
	day    wear.Day
	hours  wear.Hours // the part's own
	values map[string]wear.Value
	us     map[string]float64
}

// seriesKey names a series of a part, without the run.
type seriesKey struct {
	feature int64
	groove  int
	station string
}

// seriesRow is a series as it is stored.
type seriesRow struct {
	key   seriesKey
	run   int
	peers peersKey
	seriesData
}

type seriesData struct {
	current   bool
	start     wear.Mark
	oversize  wear.Value
	points    []wear.Point
	allowance float64
	bound     *float64
	life      wear.Hours
	lastDay   wear.Day
	lastValue *wear.Value
	verdict   wear.Verdict
	plain     wear.Verdict
}

// summarise makes the series of every touched part anew and judges them with
// their peers.
func summarise(ctx context.Context, t *tx) error {
	if len(t.touched) == 0 {
		return nil
	}
	s := &summary{features: featureIndex{}, limits: map[int64]Limits{}, peers: map[peersKey]int64{}, changed: map[int64][]int64{}}
	var err error
	if s.features, err = findFeatureIndex(ctx, t); err != nil {
		return err
	}
	for _, part := range slices.Sorted(maps.Keys(t.touched)) {
		if err := s.part(ctx, t, part); err != nil {
			return fmt.Errorf("summarise part %d: %w", part, err)
		}
	}
	clear(t.touched)
	return judgeChanged(ctx, t, s.changed)
}

// summary holds what summarising many parts shares.
type summary struct {
	features featureIndex
	limits   map[int64]Limits
	peers    map[peersKey]int64
	changed  map[int64][]int64 // peers to the series of theirs that changed
}

func (s *summary) part(ctx context.Context, t *tx, id int64) error {
	h, err := findHistory(ctx, t, id)
	if err != nil {
		return err
	}
	model, err := h.modelID(ctx, t)
	if err != nil {
		return err
	}
	if _, ok := s.limits[model]; !ok {
		if s.limits[model], err = findLimits(ctx, t, model, ""); err != nil {
			return err
		}
	}
	measured, err := findInspections(ctx, t, h)
	if err != nil {
		return err
	}
	rows := s.rows(h, model, measured)
	if err := s.replace(ctx, t, id, rows); err != nil {
		return err
	}
	worst, day := wear.NoLimit, wear.Day("")
	for _, r := range rows {
		if r.current {
			worst = max(worst, r.verdict)
		}
		day = max(day, r.lastDay)
	}
	update, err := t.prepared(ctx, "UPDATE part SET verdict = ?, last_day = ? WHERE id = ?")
	if err != nil {
		return err
	}
	_, err = update.ExecContext(ctx, worst, day, id)
	return err
}

// findInspections reads the readings in force of a part, grouped by series
// and ordered by the part's hours.
func findInspections(ctx context.Context, t *tx, h *history) (map[seriesKey][]inspection, error) {
	type row struct {
		sheet, engine  int64
		day            wear.Day
		engineHours    wear.Hours
		partHours      *wear.Hours
		key            seriesKey
		axis           string
		value          wear.Value
		sd, resolution float64
	}
	rows, err := list(ctx, t, func(r scanner, d *row) error {
		return r.Scan(&d.sheet, &d.day, &d.engine, &d.engineHours, &d.partHours, &d.key.feature, &d.key.groove, &d.key.station, &d.axis, &d.value, &d.sd, &d.resolution)
	}, `SELECT r.sheet_id, s.day, coalesce(s.engine_id, 0), coalesce((SELECT hours FROM meter_now m WHERE m.root = s.meter_root), 0), r.part_hours,
		r.feature_id, r.groove, r.station, r.axis, r.value, r.sd, r.resolution
		FROM reading r JOIN sheet s ON s.id = r.sheet_id
		WHERE r.part_id = ? AND r.value IS NOT NULL AND NOT EXISTS (SELECT 1 FROM reading n WHERE n.part_id = r.part_id AND n.feature_id = r.feature_id AND n.root = r.root AND n.id > r.id)
		ORDER BY r.feature_id, r.groove, r.station, s.day, r.sheet_id, r.id`, h.part.ID)
	if err != nil {
		return nil, fmt.Errorf("read readings: %w", err)
	}
	out := map[seriesKey][]inspection{}
	lastSheet := map[seriesKey]int64{}
	for _, r := range rows {
		all := out[r.key]
		if len(all) == 0 || lastSheet[r.key] != r.sheet {
			at, err := h.partHours(r.day, r.engine, r.engineHours, r.partHours)
			if err != nil {
				return nil, err
			}
			all = append(all, inspection{day: r.day, hours: at, values: map[string]wear.Value{}, us: map[string]float64{}})
			lastSheet[r.key] = r.sheet
		}
		last := &all[len(all)-1]
		last.values[r.axis] = r.value // a later reading at the same spot of the same sheet takes its place
		last.us[r.axis] = wear.StandardUncertainty(r.sd, r.resolution)
		out[r.key] = all
	}
	for _, all := range out {
		slices.SortStableFunc(all, func(a, b inspection) int {
			return cmp.Or(cmp.Compare(a.hours, b.hours), cmp.Compare(a.day, b.day))
		})
	}
	return out, nil
}

// partHours places a sheet on the part's clock.
func (h *history) partHours(day wear.Day, engine int64, hours wear.Hours, given *wear.Hours) (wear.Hours, error) {
	if given != nil {
		return *given, nil
	}
	var at *wear.EngineHours
	if engine != 0 {
		at = &wear.EngineHours{Engine: engine, Hours: hours}
	}
	return h.clock.At(day, at)
}

// rows makes the series of a part, in a fixed order.
func (s *summary) rows(h *history, model int64, measured map[seriesKey][]inspection) []seriesRow {
	keys := slices.SortedFunc(maps.Keys(measured), func(a, b seriesKey) int {
		return cmp.Or(cmp.Compare(a.feature, b.feature), cmp.Compare(a.groove, b.groove), cmp.Compare(a.station, b.station))
	})
	var rows []seriesRow
	for _, key := range keys {
		f := s.features.byID[key.feature]
		groove := key.groove
		if h.part.Kind == wear.Ring {
			groove = h.part.Groove
		}
		line := s.limits[model].For(f.ID, groove)
		spans := wear.Runs(*f, key.groove, h.marks, h.part.Oversize)
		byRun := make([][]inspection, len(spans))
		for _, in := range measured[key] {
			i := wear.SpanOn(spans, in.day, in.hours)
			byRun[i] = append(byRun[i], in)
		}
		peers := peersKey{key.feature, model, groove, key.station, h.part.Surface, h.part.Facing}
		for i, ins := range byRun {
			if len(ins) == 0 {
				continue
			}
			data := summariseRun(*f, line, spans[i], ins)
			data.current = i == len(spans)-1
			rows = append(rows, seriesRow{key: key, run: spans[i].Number, peers: peers, seriesData: data})
		}
	}
	return rows
}

// summariseRun boils the inspections of one run down to points, and judges
// the latest against the limits.
func summariseRun(f wear.Feature, line *LimitRow, span wear.Span, ins []inspection) seriesData {
	d := seriesData{start: span.Start, oversize: span.Oversize}
	sign := f.Wear.Sign()
	if line != nil {
		lim := line.Limit
		if f.Oversize {
			lim = lim.Shifted(span.Oversize)
		}
		if per, ok := lim.AllowancePerHour(); ok {
			d.allowance = per
		}
		if service, ok := lim.ServiceLimit(); ok && sign != 0 {
			bound := sign * float64(service)
			d.bound = &bound
		}
		d.life = lim.Life
		last := ins[len(ins)-1]
		d.verdict, d.plain, d.lastValue = worstOf(last, lim)
		if span.Start.Event.Fresh() && ins[0].hours > span.Start.At {
			if mid, u, ok := lim.MiddleOfNew(); ok && sign != 0 {
				d.points = append(d.points, wear.Point{Y: sign * mid, U: u, Assumed: true})
			}
		}
	} else {
		_, _, d.lastValue = worstOf(ins[len(ins)-1], wear.Limit{Wear: f.Wear})
	}
	d.lastDay = ins[len(ins)-1].day
	axes := commonAxes(ins)
	for _, in := range ins {
		if p, ok := in.point(axes, sign, span.Start.At); ok {
			d.points = append(d.points, p)
		}
	}
	return d
}

// worstOf judges each spot of an inspection; the worst decides.
func worstOf(in inspection, lim wear.Limit) (verdict, plain wear.Verdict, value *wear.Value) {
	for _, axis := range slices.Sorted(maps.Keys(in.values)) {
		v := in.values[axis]
		a := wear.Assess(v, in.us[axis], lim)
		verdict, plain = max(verdict, a.Verdict), max(plain, a.Plain)
		if value == nil || lim.Wear == wear.Down && v < *value || lim.Wear != wear.Down && v > *value {
			value = &v
		}
	}
	return verdict, plain, value
}

// commonAxes are those that every inspection of the run measured; where there
// is none, those of the latest, so that like is compared with like.
func commonAxes(ins []inspection) []string {
	common := slices.Sorted(maps.Keys(ins[len(ins)-1].values))
	latest := slices.Clone(common)
	for _, in := range ins {
		common = slices.DeleteFunc(common, func(a string) bool { _, ok := in.values[a]; return !ok })
	}
	if len(common) == 0 {
		return latest
	}
	return common
}

// point is the mean over the axes, signed so that wear grows; not ok where an
// axis was not measured. Independent errors: u of the mean is √Σu²/n.
func (in inspection) point(axes []string, sign float64, start wear.Hours) (wear.Point, bool) {
	if sign == 0 {
		sign = 1
	}
	var sum, squares float64
	for _, a := range axes {
		v, ok := in.values[a]
		if !ok {
			return wear.Point{}, false
		}
		sum += float64(v)
		squares += in.us[a] * in.us[a]
	}
	n := float64(len(axes))
	return wear.Point{Hours: (in.hours - start).Float(), Y: sign * sum / n, U: math.Sqrt(squares) / n}, true
}

// encodePoints packs points as little-endian float64 triples.
func encodePoints(points []wear.Point) []byte {
	buf := make([]byte, 0, 24*len(points))
	for _, p := range points {
		for _, x := range [...]float64{p.Hours, p.Y, p.U} {
			buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(x))
		}
	}
	return buf
}

var errPoints = errors.New("summary is damaged")

func decodePoints(buf []byte, assumed bool) ([]wear.Point, error) {
	if len(buf)%24 != 0 {
		return nil, errPoints
	}
	points := make([]wear.Point, len(buf)/24)
	for i := range points {
		at := func(k int) float64 {
			return math.Float64frombits(binary.LittleEndian.Uint64(buf[24*i+8*k:]))
		}
		points[i] = wear.Point{Hours: at(0), Y: at(1), U: at(2), Assumed: assumed && i == 0}
	}
	return points, nil
}
