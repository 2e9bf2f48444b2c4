package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand"
	"slices"
	"testing"
	"time"

	"barrelbook/wear"
)

// toldRow is a row of cylinder A of a history file, on an engine that nobody
// named.
func toldRow(line int, day wear.Day, event string, since wear.Hours, value string) HistoryRow {
	r := HistoryRow{Line: line, Day: day, Model: "Invented 9", Kind: wear.Cylinder, Serial: "A", Event: event}
	if event != EventInstalled && event != EventRemoved && event != string(wear.InstalledNew) {
		r.PartHours = &since
	}
	if event == EventReading {
		r.Feature, r.Station, r.Axis = "barrel bore", "top", "thrust"
	}
	if value != "" {
		r.Value, r.Unit = value, "in"
	}
	return r
}

// cylinderA finds the part of toldRow.
func cylinderA(t testing.TB, b *Book) int64 {
	t.Helper()
	return must[[]Part](t)(b.PartsNamed(context.Background(), wear.Cylinder, "A"))[0].ID
}

// ownHours are a part's own hours at its readings, oldest first.
func ownHours(t testing.TB, b *Book, part int64) []wear.Hours {
	t.Helper()
	clock := must[PartClock](t)(b.PartClock(context.Background(), part))
	var all []wear.Hours
	for _, r := range slices.Backward(must[[]Reading](t)(b.ReadingsOf(context.Background(), part))) {
		if !r.Struck && r.Value != nil {
			all = append(all, must[wear.Hours](t)(clock.At(r)))
		}
	}
	return all
}

func hasHours(t testing.TB, b *Book, part int64, want wear.Hours) {
	t.Helper()
	if h := must[Hours](t)(b.PartHours(context.Background(), part)); h.SinceNew != want {
		t.Errorf("the part has run %s h, want %s", h.SinceNew, want)
	}
}

// TestToldThenOnEngine: hours that an import told and those on an engine of the
// book add up, and a reading that is withdrawn tells nothing. By the meaning of
// hours since new; no source.
func TestToldThenOnEngine(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	importRows(t, b, false, toldRow(2, "2024-01-01", "installed new", 0, ""), toldRow(3, "2024-02-01", EventReading, 100_000, "5.2540"))
	a := cylinderA(t, b)
	hasHours(t, b, a, 100_000)
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-03-01", 30_000))
	ok(t, b.Install(ctx, a, Place{Engine: e.ID, Position: 1}, "2024-03-01", 30_000))
	measure(t, b, e, 1, a, "2024-06-01", 50_000, "5.2545")
	hasHours(t, b, a, 120_000)
	if got := ownHours(t, b, a); !slices.Equal(got, []wear.Hours{100_000, 120_000}) {
		t.Errorf("measured at %v", got)
	}
	first := slices.MinFunc(must[[]Reading](t)(b.ReadingsOf(ctx, a)), func(x, y Reading) int { return int(x.ID - y.ID) })
	ok(t, b.CorrectReading(ctx, first.ID, 0, "", "", "wrong part"))
	hasHours(t, b, a, 20_000)
}

// TestWorkAfterToldHours: work entered on a page after hours that an import told
// stands at those, and what is imported later counts from it.
func TestWorkAfterToldHours(t *testing.T) {
	b, ctx := open(t), context.Background()
	addRadial(t, b, "R-1")
	importRows(t, b, false, toldRow(2, "2024-01-01", "installed new", 0, ""), toldRow(3, "2024-02-01", EventReading, 100_000, "5.2540"))
	a := cylinderA(t, b)
	ok(t, b.AddMark(ctx, a, wear.Mark{Event: wear.Ground, Day: "2024-03-01", Oversize: ptr(inches(t, "0.010"))}, ""))
	importRows(t, b, false, toldRow(2, "2024-04-01", EventReading, 110_000, "5.2610"))
	ss := must[[]Series](t)(b.SeriesOf(ctx, a))
	if len(ss) != 2 || ss[0].Start.Event != wear.Ground || ss[0].Start.At != 100_000 || ss[0].Points[len(ss[0].Points)-1].Hours != 100 || ss[1].Points[1].Hours != 1000 {
		t.Errorf("runs %+v", ss)
	}
}

// TestToldHoursBefore: hours before it came here count once, at readings and at
// work.
func TestToldHoursBefore(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	a := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "A", Source: "overhauled", HoursBefore: 50_000, ModelID: e.Model.ID}))
	r := importRows(t, b, false, toldRow(2, "2024-02-01", EventReading, 10_000, "5.2540"), toldRow(3, "2024-03-01", "honed", 20_000, ""), toldRow(4, "2024-03-02", EventReading, 20_000, "5.2545"),
		toldRow(5, "2024-04-01", EventInstalled, 0, ""), toldRow(6, "2024-05-01", EventReading, 5_000, "5.2546"))
	if !r.OK() {
		t.Fatal(r.Errors)
	}
	if got := ownHours(t, b, a); !slices.Equal(got, []wear.Hours{60_000, 70_000, 75_000}) {
		t.Errorf("measured at %v", got)
	}
	marks := must[[]MarkRow](t)(b.Marks(ctx, a))
	if len(marks) != 2 || marks[0].At != 70_000 || marks[1].At != 70_000 {
		t.Errorf("work %+v", marks)
	}
	hasHours(t, b, a, 75_000)
	ok(t, b.VoidMark(ctx, marks[1].ID, "it was never off"))
	if got := ownHours(t, b, a); got[2] != 55_000 {
		t.Errorf("without the second installation it was measured at %s h, want 500 + 50", got[2])
	}
}

// TestToldWhileOnEngine: a part is on one engine at a time, whatever a file says.
func TestToldWhileOnEngine(t *testing.T) {
	b := open(t)
	e := addRadial(t, b, "R-1")
	addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "A"}, Place{Engine: e.ID, Position: 1})
	r := importRows(t, b, false, toldRow(2, "2024-05-01", EventInstalled, 0, ""))
	if r.OK() || r.Errors[0].Column != "date" {
		t.Errorf("installed elsewhere while on R-1: %+v", r)
	}
}

// life is what happened to a part: times on engines that nobody named, which a
// file tells, and on one of the book, with work between them.
type life struct {
	rows  []HistoryRow                         // what a file tells
	pages []func(b *Book, e, part int64) error // what people enter, in this order
	told  []naiveStint
}

// naiveStint is a time between two installations.
type naiveStint struct {
	day, to wear.Day               // to is empty where no engine is known
	ran     wear.Hours             // on an engine of the book
	points  map[string]*naivePoint // by what was typed
}

type naivePoint struct {
	day   wear.Day
	since wear.Hours
	gone  bool
}

// invent makes a life.
func invent(r *rand.Rand) *life {
	l := &life{}
	at := time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)
	next := func() wear.Day {
		at = at.AddDate(0, 0, 1+r.Intn(20))
		return wear.Day(at.Format(time.DateOnly))
	}
	engine, nth := wear.Hours(0), 0
	add := func(row HistoryRow) { row.Line = len(l.rows) + 2; l.rows = append(l.rows, row) }
	value := func() string { nth++; return fmt.Sprintf("5.2%d", 500+nth) }
	for range 2 + r.Intn(4) {
		s := naiveStint{day: next(), points: map[string]*naivePoint{}}
		known := r.Intn(3) == 0
		if known {
			from, day := engine, s.day
			engine += wear.Hours(1 + r.Intn(9000))
			to := engine
			at = at.AddDate(0, 0, 20)
			s.to = next()
			s.ran = to - from
			l.pages = append(l.pages, func(b *Book, e, part int64) error {
				if err := b.Install(context.Background(), part, Place{Engine: e, Position: 1}, day, from); err != nil {
					return err
				}
				return b.Remove(context.Background(), part, s.to, to, "off", false)
			})
		} else {
			add(toldRow(0, s.day, EventInstalled, 0, ""))
			since := wear.Hours(0)
			for range r.Intn(4) {
				day := next()
				if len(s.points) == 0 && r.Intn(2) == 0 {
					day = s.day
				} else {
					since += wear.Hours(r.Intn(20_000))
				}
				v := value()
				if len(s.points) > 0 && r.Intn(4) == 0 {
					add(toldRow(0, day, "overhauled", since, ""))
					s.points["overhauled "+string(day)] = &naivePoint{day: day, since: since}
					continue
				}
				add(toldRow(0, day, EventReading, since, v))
				s.points[v] = &naivePoint{day: day, since: since}
			}
		}
		l.told = append(l.told, s)
		if r.Intn(3) == 0 {
			m := wear.Mark{Event: wear.Honed, Day: next()}
			l.pages = append(l.pages, func(b *Book, e, part int64) error { return b.AddMark(context.Background(), part, m, "") })
		}
	}
	return l
}

// hours counts the part's own hours at each point, and now, from the beginning.
func (l *life) hours(before wear.Hours) (at map[string]wear.Hours, now wear.Hours) {
	at, now = map[string]wear.Hours{}, before
	for _, s := range l.told {
		base := now
		now += s.ran
		for name, p := range s.points {
			if !p.gone {
				at[name] = base + p.since
				now = max(now, base+p.since)
			}
		}
	}
	return at, now
}

// strike takes out an installation: what was told since it counts from the one
// before, where there is one.
func (l *life) strike(day wear.Day) {
	i := slices.IndexFunc(l.told, func(s naiveStint) bool { return s.day == day })
	if i == 0 {
		return
	}
	maps.Copy(l.told[i-1].points, l.told[i].points)
	l.told = slices.Delete(l.told, i, i+1)
}

// seriesOf is what a part's series say, whatever their numbers in the book.
func seriesOf(t testing.TB, q querier, part int64) []string {
	t.Helper()
	return must[[]string](t)(list(context.Background(), q, func(r scanner, s *string) error { return r.Scan(s) },
		`SELECT feature_id || ' ' || station || ' run ' || run || ' from ' || start_event || ' ' || start_day || ' ' || start_hours || ' ' || oversize || ' ' || hex(points) || ' ' || last_day || ' ' || verdict
		FROM series WHERE part_id = ? ORDER BY feature_id, station, run`, part))
}

// errUndo takes back what was made anew only to look at it.
var errUndo = errors.New("undo")

// madeAnew are the series of a part when they are made from nothing but its
// readings.
func madeAnew(t testing.TB, b *Book, part int64) (all []string) {
	t.Helper()
	err := b.tx(context.Background(), func(ctx context.Context, x *tx) error {
		x.touch(part)
		ok(t, summarise(ctx, x))
		all = seriesOf(t, x, part)
		return errUndo
	})
	if !errors.Is(err, errUndo) {
		t.Fatal(err)
	}
	return all
}

// TestLivesInAnyOrder: the same history in one file, or in any split into files,
// in any order, between what people enter, gives the same runs and hours; those
// are what counting from the beginning gives, also after readings were corrected
// and withdrawn and installations struck; and the audit stays whole.
func TestLivesInAnyOrder(t *testing.T) {
	ctx := context.Background()
	for seed := range int64(10) {
		r := rand.New(rand.NewSource(seed))
		l := invent(r)
		before := wear.Hours(r.Intn(2) * 50_000)
		enter := func(shuffled bool) (*Book, int64) {
			b := open(t)
			e := addRadial(t, b, "R-1")
			part := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "A", Source: "serviceable used", HoursBefore: before, ModelID: e.Model.ID}))
			for _, m := range must[[]MeterEntry](t)(b.Meter(ctx, e.ID)) { // the engine is older than the lives
				ok(t, b.CorrectMeter(ctx, m.Root, "2019-01-01", 0, "older"))
			}
			var steps []func() error
			file := func(rows []HistoryRow) func() error {
				return func() error {
					if report := importRows(t, b, false, rows...); !report.OK() {
						return fmt.Errorf("file refused: %+v", report.Errors)
					}
					return nil
				}
			}
			rows := slices.Clone(l.rows)
			var others []func() error
			if shuffled {
				r.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
				for len(rows) > 0 {
					n := 1 + r.Intn(len(rows))
					others = append(others, file(rows[:n]))
					rows = rows[n:]
				}
				r.Shuffle(len(others), func(i, j int) { others[i], others[j] = others[j], others[i] })
			} else {
				others = append(others, file(rows))
			}
			for _, p := range l.pages { // of these only the order among themselves is told
				for shuffled && len(others) > 0 && r.Intn(2) == 0 {
					steps, others = append(steps, others[0]), others[1:]
				}
				steps = append(steps, func() error { return p(b, e.ID, part) })
			}
			for _, step := range append(steps, others...) {
				ok(t, step())
			}
			return b, part
		}
		compare := func(b *Book, part int64, when string) {
			t.Helper()
			at, now := l.hours(before)
			hasHours(t, b, part, now)
			clock := must[PartClock](t)(b.PartClock(ctx, part))
			for _, x := range must[[]Reading](t)(b.ReadingsOf(ctx, part)) {
				if want, told := at[x.Typed]; told && !x.Struck {
					if got := must[wear.Hours](t)(clock.At(x)); got != want {
						t.Errorf("seed %d, %s: %s was measured at %s h, want %s", seed, when, x.Typed, got, want)
					}
				}
			}
			if is, want := seriesOf(t, b.read, part), madeAnew(t, b, part); !slices.Equal(is, want) {
				t.Errorf("seed %d, %s: series\n%v\nmade anew\n%v", seed, when, is, want)
			}
		}
		one, first := enter(false)
		compare(one, first, "in one file")
		for range 2 {
			b, part := enter(true)
			compare(b, part, "shuffled")
			if is, want := seriesOf(t, b.read, part), seriesOf(t, one.read, first); !slices.Equal(is, want) {
				t.Fatalf("seed %d: shuffled\n%v\nin one file\n%v", seed, is, want)
			}
		}
		for _, x := range must[[]Reading](t)(one.ReadingsOf(ctx, first)) {
			switch r.Intn(3) {
			case 0:
				ok(t, one.CorrectReading(ctx, x.ID, 0, "", "", "not this part"))
				for _, s := range l.told {
					if p := s.points[x.Typed]; p != nil {
						p.gone = true
					}
				}
			case 1:
				ok(t, one.CorrectReading(ctx, x.ID, *x.Value+127_000, (*x.Value+127_000).Format(wear.Inch), "", "misread"))
			}
		}
		compare(one, first, "corrected")
		for _, m := range must[[]MarkRow](t)(one.Marks(ctx, first)) {
			if m.Event == EventInstalled && r.Intn(2) == 0 {
				ok(t, one.VoidMark(ctx, m.ID, "it was never off"))
				l.strike(m.Day)
			}
		}
		compare(one, first, "struck")
		if _, err := one.Check(ctx, ""); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		if t.Failed() {
			return
		}
	}
}
