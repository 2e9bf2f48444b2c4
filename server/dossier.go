package server

import (
	"context"
	"net/http"
	"sort"

	"barrelbook/store"
	"barrelbook/wear"
)

// dossier is all that the book knows of one part: what its page, its sheets
// and its record are made from.
type dossier struct {
	part     store.Part
	hours    store.Hours
	set      store.Settings
	features map[int64]wear.Feature
	model    store.Model // of its limits; zero where not known
	limits   store.Limits
	stays    []store.Stay
	clock    store.PartClock
	marks    []store.MarkRow
	struck   []store.MarkRow // events entered by mistake
	readings []store.Reading // newest sheet first, struck ones too
	findings []store.Finding // the series in hand
	series   []store.Series
	asOf     func(store.Reading) (store.Limits, error) // limits of the reading's day, nil for today's
	versions map[string]store.Limits
}

// dossier reads everything about a part. With limitsOf = "day" readings are
// judged by the limits of their day.
func (s *Server) dossier(r *http.Request, part int64, limitsOf string) (*dossier, error) {
	return readDossier(r.Context(), s.book, part, limitsOf)
}

func readDossier(ctx context.Context, book *store.Book, part int64, limitsOf string) (*dossier, error) {
	d := &dossier{features: map[int64]wear.Feature{}, versions: map[string]store.Limits{}}
	var err error
	if d.part, err = book.Part(ctx, part); err != nil {
		return nil, err
	}
	steps := []func() error{
		func() (err error) { d.hours, err = book.PartHours(ctx, part); return err },
		func() (err error) { d.set, err = book.Settings(ctx); return err },
		func() (err error) { d.stays, err = book.StaysOf(ctx, part); return err },
		func() (err error) { d.clock, err = book.PartClock(ctx, part); return err },
		func() (err error) { d.marks, err = book.Marks(ctx, part); return err },
		func() (err error) { d.struck, err = book.StruckMarks(ctx, part); return err },
		func() (err error) { d.readings, err = book.ReadingsOf(ctx, part); return err },
		func() (err error) { d.findings, err = book.FindingsOf(ctx, part); return err },
		func() (err error) { d.series, err = book.SeriesOf(ctx, part); return err },
		func() error { return d.readModel(ctx, book) },
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return nil, err
		}
	}
	fs, err := book.Features(ctx)
	for _, f := range fs {
		d.features[f.ID] = f
	}
	if limitsOf == "day" {
		d.asOf = func(x store.Reading) (store.Limits, error) {
			if ls, ok := d.versions[x.SavedAt]; ok {
				return ls, nil
			}
			ls, err := book.LimitsOf(ctx, d.model.ID, x.SavedAt)
			if err == nil {
				d.versions[x.SavedAt] = ls
			}
			return ls, err
		}
		for _, x := range d.readings {
			if _, err := d.asOf(x); err != nil {
				return nil, err
			}
		}
	}
	return d, err
}

func (d *dossier) readModel(ctx context.Context, book *store.Book) (err error) {
	model := d.part.ModelID
	if model == 0 && len(d.stays) > 0 {
		e, err := book.Engine(ctx, d.stays[len(d.stays)-1].Engine)
		if err != nil {
			return err
		}
		model = e.Model.ID
	}
	if model == 0 {
		return nil
	}
	if d.model, err = book.Model(ctx, model); err != nil {
		return err
	}
	d.limits, err = book.LimitsOf(ctx, model, "")
	return err
}

// limitOf is the limit of a feature in a groove, moved by an oversize; nil
// where none is typed.
func (d *dossier) limitOf(f wear.Feature, groove int, size wear.Value) (*store.LimitRow, wear.Limit) {
	return pickLimit(d.limits, d.part, f, groove, size)
}

func pickLimit(ls store.Limits, p store.Part, f wear.Feature, groove int, size wear.Value) (*store.LimitRow, wear.Limit) {
	if p.Kind == wear.Ring {
		groove = p.Groove
	}
	row := ls.For(f.ID, groove)
	if row == nil {
		return nil, wear.Limit{}
	}
	if f.Oversize {
		return row, row.Limit.Shifted(size)
	}
	return row, row.Limit
}

// sizeOn is the part's size over standard in the run that a reading belongs to,
// which its series goes by too; the present one where its hours are not known.
func (d *dossier) sizeOn(x store.Reading) wear.Value {
	at, ok := d.partHours(x)
	if !ok {
		return d.sizeNow()
	}
	return d.spanOf(x, at).Oversize
}

// sizeNow is the part's size over standard after all that was done to it.
func (d *dossier) sizeNow() wear.Value {
	size := d.part.Oversize
	for _, m := range d.marks {
		if m.Oversize != nil {
			size = *m.Oversize
		}
	}
	return size
}

// assess judges what a reading counts as by the limits in force, or of its day.
func (d *dossier) assess(x store.Reading) wear.Assessment {
	if x.Value == nil {
		return wear.Assessment{}
	}
	_, lim := d.limitsFor(x)
	c := d.counted(x)
	return d.features[x.Feature].Assess(c.Value, c.U, lim)
}

// limitsFor are the limits in force for a reading, or of its day; nil where
// none is typed.
func (d *dossier) limitsFor(x store.Reading) (*store.LimitRow, wear.Limit) {
	ls := d.limits
	if d.asOf != nil {
		ls = d.versions[x.SavedAt]
	}
	return pickLimit(ls, d.part, d.features[x.Feature], x.Groove, d.sizeOn(x))
}

// changeSince says how far what a reading counts as is from the one before at
// its spot.
func (d *dossier) changeSince(x store.Reading, u wear.Unit) string {
	var before *store.Reading
	for i := range d.readings {
		o := &d.readings[i]
		if o.Struck || o.Value == nil || o.Root == x.Root || o.Feature != x.Feature || o.Groove != x.Groove || o.Station != x.Station || o.Axis != x.Axis {
			continue
		}
		if o.Sheet.Day < x.Sheet.Day || o.Sheet.Day == x.Sheet.Day && o.ID < x.ID {
			if before == nil || o.Sheet.Day > before.Sheet.Day || o.Sheet.Day == before.Sheet.Day && o.ID > before.ID {
				before = o
			}
		}
	}
	if before == nil {
		return "first reading"
	}
	now, was := d.counted(x), d.counted(*before)
	change := now.Value - was.Value
	write := func(v wear.Value) string { return v.Format(u) }
	if now.Carried || was.Carried {
		write = func(v wear.Value) string { return inUnit(float64(v), u, 0) }
	}
	switch size := write(max(change, -change)); {
	case size == write(0):
		return "as on " + string(before.Sheet.Day)
	case change > 0:
		return "+" + size + " since " + string(before.Sheet.Day)
	default:
		return "−" + size + " since " + string(before.Sheet.Day)
	}
}

// partHours places a sheet on the part's clock; not ok where it cannot be.
func (d *dossier) partHours(x store.Reading) (wear.Hours, bool) {
	h, err := d.clock.At(x)
	return h, err == nil
}

// marksOf are the events as package wear takes them.
func (d *dossier) marksOf() []wear.Mark {
	ms := make([]wear.Mark, len(d.marks))
	for i, m := range d.marks {
		ms[i] = m.Mark
	}
	return ms
}

// runHours are the hours in the run of its feature at which a reading was
// taken, and the run's number.
func (d *dossier) runHours(x store.Reading) (h wear.Hours, run int, ok bool) {
	at, ok := d.partHours(x)
	if !ok {
		return 0, 0, false
	}
	span := d.spanOf(x, at)
	return at - span.Start.At, span.Number, true
}

// spanOf is the run of its feature that a reading belongs to, which was taken at
// the part's own hours at.
func (d *dossier) spanOf(x store.Reading, at wear.Hours) wear.Span {
	spans := wear.Runs(d.features[x.Feature], x.Groove, d.marksOf(), d.part.Oversize)
	return spans[wear.SpanOn(spans, x.Sheet.Day, at, x.Sheet.ID)]
}

// worst is the finding to put on top: flagged before beyond before the least
// likely.
func (d *dossier) worst() *store.Finding {
	if len(d.findings) == 0 {
		return nil
	}
	order := make([]int, len(d.findings))
	for i := range order {
		order[i] = i
	}
	rank := func(f store.Finding) int {
		switch {
		case f.Flagged():
			return 0
		case f.Verdict == wear.Beyond:
			return 1
		case f.State == wear.NoReference || f.State == wear.TooFewReadings:
			return 3
		}
		return 2
	}
	sort.SliceStable(order, func(a, b int) bool {
		x, y := d.findings[order[a]], d.findings[order[b]]
		if rank(x) != rank(y) {
			return rank(x) < rank(y)
		}
		return x.Chance < y.Chance
	})
	return &d.findings[order[0]]
}

// correctionOf is the entry that replaced a reading, and why; zero where none
// did.
func (d *dossier) correctionOf(x store.Reading) (next store.Reading) {
	for _, o := range d.readings {
		if o.Root == x.Root && o.ID > x.ID && (next.ID == 0 || o.ID < next.ID) {
			next = o
		}
	}
	return next
}
