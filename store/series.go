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
	carried   bool            // lastValue, to 20 °C
	judged    wear.Assessment // of the latest inspection's worst spot
}

// summarise makes the series of every touched part anew and judges them with
// their peers.
func summarise(ctx context.Context, t *tx) error {
	if len(t.touched) == 0 {
		return nil
	}
	s := &summary{limits: map[int64]Limits{}, peers: map[peersKey]int64{}, changed: map[int64][]int64{}}
	var err error
	if s.features, err = findFeatureIndex(ctx, t); err != nil {
		return err
	}
	if s.settings, err = findSettings(ctx, t); err != nil {
		return err
	}
	if s.wider, err = findWider(ctx, t); err != nil {
		return err
	}
	if len(s.wider) > 0 {
		if s.families, err = findFamilies(ctx, t); err != nil {
			return err
		}
	}
	for chunk := range slices.Chunk(slices.Sorted(maps.Keys(t.touched)), partsChunk) {
		if err := s.parts(ctx, t, chunk); err != nil {
			return err
		}
	}
	clear(t.touched)
	return judgeChanged(ctx, t, s.changed, s.settings)
}

// summariseOutdated makes the series that a migration left outdated anew, so
// that no page shows a verdict by the rules of an older version. A part whose
// sheets no longer fit its life keeps them until somebody mends that: it must
// not keep the book shut.
func (b *Book) summariseOutdated(ctx context.Context) error {
	parts, err := list(ctx, b.write, func(r scanner, id *int64) error { return r.Scan(id) },
		"SELECT DISTINCT part_id FROM series WHERE outdated = 1 ORDER BY part_id")
	if err != nil {
		return fmt.Errorf("list outdated summaries: %w", err)
	}
	again := func(parts []int64) error {
		return b.tx(ctx, func(_ context.Context, t *tx) error { t.touch(parts...); return nil })
	}
	for chunk := range slices.Chunk(parts, partsChunk) {
		err := again(chunk)
		if !errors.As(err, new(Invalid)) {
			if err != nil {
				return err
			}
			continue
		}
		for _, part := range chunk {
			if err := again([]int64{part}); err != nil && !errors.As(err, new(Invalid)) {
				return err
			}
		}
	}
	return nil
}

// partsChunk is how many parts are read at once.
const partsChunk = 200

// summary holds what summarising many parts shares.
type summary struct {
	features featureIndex
	settings Settings
	wider    map[int64]Wider
	families map[int64]int64
	limits   map[int64]Limits
	peers    map[peersKey]int64
	changed  map[int64][]int64 // peers to the series of theirs that changed
}

func (s *summary) parts(ctx context.Context, t *tx, ids []int64) error {
	histories, err := findHistories(ctx, t, ids)
	if err != nil {
		return err
	}
	taken, err := findTaken(ctx, t, ids)
	if err != nil {
		return err
	}
	had, err := findStored(ctx, t, ids)
	if err != nil {
		return err
	}
	for _, h := range histories {
		if err := s.part(ctx, t, h, taken, had[h.part.ID]); err != nil {
			return fmt.Errorf("summarise part %d: %w", h.part.ID, err)
		}
	}
	return nil
}

func (s *summary) part(ctx context.Context, t *tx, h *history, taken *readings, had []stored) error {
	model, err := h.modelID(ctx, t)
	if err != nil {
		return err
	}
	if _, ok := s.limits[model]; !ok {
		if s.limits[model], err = findLimits(ctx, t, model, ""); err != nil {
			return err
		}
	}
	inspected, err := taken.inspections(h, s.features, s.settings.Material(h.part.Kind))
	if err != nil {
		return err
	}
	rows := s.rows(h, model, inspected)
	if err := s.replace(ctx, t, h.part.ID, rows, had); err != nil {
		return err
	}
	worst, day := wear.NoLimit, wear.Day("")
	for _, r := range rows {
		if r.current {
			worst = max(worst, r.judged.Verdict)
		}
		day = max(day, r.lastDay)
	}
	// the run that was flagged may be gone, or no longer the one in hand
	update, err := t.prepared(ctx, "UPDATE part SET verdict = ?1, last_day = ?2, state = EXISTS (SELECT 1 FROM series WHERE part_id = ?3 AND current = 1 AND state = ?4) WHERE id = ?3")
	if err != nil {
		return err
	}
	_, err = update.ExecContext(ctx, worst, day, h.part.ID, wear.Flagged)
	return err
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
			i := wear.SpanOn(spans, in.day, in.hours, in.sheet)
			byRun[i] = append(byRun[i], in)
		}
		peers := s.wider[key.feature].key(peersKey{key.feature, model, groove, key.station, h.part.Surface, h.part.Facing}, s.families[model])
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
	sign, lim, last := f.Wear.Sign(), wear.Limit{Wear: f.Wear}, ins[len(ins)-1]
	if line != nil {
		lim = line.Limit
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
		if span.Start.Event.Fresh() && ins[0].hours > span.Start.At {
			if mid, u, ok := lim.MiddleOfNew(); ok && sign != 0 {
				d.points = append(d.points, wear.Point{Y: sign * mid, U: u, Assumed: true})
			}
		}
	}
	d.judged, d.lastValue = worstOf(f, last, lim)
	d.lastDay = last.day
	d.carried = slices.ContainsFunc(last.spots, func(m measured) bool { return m.carried })
	axes := commonAxes(ins)
	for _, in := range ins {
		if p, ok := in.point(axes, sign, span.Start.At); ok {
			d.points = append(d.points, p)
		}
	}
	return d
}

// worstOf judges each spot of an inspection; the worst decides, of those that
// are judged alike the most worn.
func worstOf(f wear.Feature, in inspection, lim wear.Limit) (worst wear.Assessment, value *wear.Value) {
	plain := wear.NoLimit
	for _, m := range in.spots {
		v := m.value
		a := f.Assess(v, m.all(), lim)
		plain = max(plain, a.Plain)
		if value == nil || a.Verdict > worst.Verdict || a.Verdict == worst.Verdict && (lim.Wear == wear.Down && v < *value || lim.Wear != wear.Down && v > *value) {
			worst, value = a, &v
		}
	}
	worst.Plain = plain
	return worst, value
}

// commonAxes are those that every inspection of the run measured; where there
// is none, those of the latest, so that like is compared with like.
func commonAxes(ins []inspection) []string {
	var latest []string
	for _, m := range ins[len(ins)-1].spots {
		latest = append(latest, m.axis)
	}
	common := slices.Clone(latest)
	for _, in := range ins {
		common = slices.DeleteFunc(common, func(a string) bool { _, ok := in.at(a); return !ok })
	}
	if len(common) == 0 {
		return latest
	}
	return common
}

// point is the mean over the axes, signed so that wear grows; not ok where an
// axis was not measured. u of the mean is √Σu²/n of the errors that each axis has
// of its own, and the mean of those that all share. Source: JCGM 100 (GUM) 5.1.2
// and, for the shared ones, 5.2.2 with a correlation of 1.
func (in inspection) point(axes []string, sign float64, start wear.Hours) (wear.Point, bool) {
	if sign == 0 {
		sign = 1
	}
	var sum, squares, shared float64
	for _, a := range axes {
		m, ok := in.at(a)
		if !ok {
			return wear.Point{}, false
		}
		sum += float64(m.value)
		squares += m.u * m.u
		shared += m.shared
	}
	n := float64(len(axes))
	return wear.Point{Hours: (in.hours - start).Float(), Y: sign * sum / n, U: math.Hypot(math.Sqrt(squares), shared) / n}, true
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
