package store

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/pressly/goose/v3"

	"barrelbook/migrations"
	"barrelbook/wear"
)

// leakTest is a test of one cylinder through an orifice in inches.
func leakTest(t testing.TB, e Engine, position int, day wear.Day, shows wear.Hours, orifice string, psi wear.PSI) NewLeakTest {
	t.Helper()
	return NewLeakTest{LeakTest: LeakTest{Engine: e.ID, Day: day, Who: "A. Smith", Regulated: 800, Orifice: inches(t, orifice), Unit: wear.Inch}, Shows: &shows,
		Readings: []NewLeakReading{{Position: position, Reading: psi, Field: fmt.Sprintf("psi-%d", position), PartField: fmt.Sprintf("part-%d", position)}}}
}

func saveLeak(t testing.TB, b *Book, n NewLeakTest) int64 {
	t.Helper()
	return must[int64](t)(b.SaveLeakTest(context.Background(), n))
}

func TestLeakTestSaved(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	tester := must[int64](t)(b.SaveGauge(ctx, Gauge{Name: "Tester 1", Unit: Psi, SD: 300_000, Resolution: 500_000, Due: "2024-05-01"}))
	n := leakTest(t, e, 1, "2024-06-01", 30_000, "0.060", 720)
	n.UID, n.Gauge, n.Ambient, n.Master, n.Minutes, n.Note = "u-1", tester, ptr(wear.PSI(143)), ptr(wear.PSI(425)), ptr(12), "warm"
	n.Readings[0].Heard, n.Readings[0].Recheck = []wear.AirHeard{wear.AirAtJoint, wear.AirAtExhaust}, ptr(wear.PSI(735))
	root := saveLeak(t, b, n)
	if again := saveLeak(t, b, n); again != root {
		t.Errorf("sent again it is test %d, was %d", again, root)
	}
	heads, rs, err := b.LeakTest(ctx, root)
	ok(t, err)
	if len(heads) != 1 || len(rs) != 1 {
		t.Fatalf("%d heads, %d readings", len(heads), len(rs))
	}
	h, r := heads[0], rs[0]
	if h.Hours != 30_000 || h.Regulated != 800 || *h.Ambient != 143 || h.Orifice != 1_524_000 || *h.Master != 425 || *h.Minutes != 12 || h.Note != "warm" || h.Who != "A. Smith" || h.EngineNo != "R-1" {
		t.Errorf("head %+v", h)
	}
	if h.Tester != "Tester 1" || h.Due != "2024-05-01" || !h.Overdue() || h.SD != 300_000 || h.Resolution != 500_000 {
		t.Errorf("tester %q due %s, overdue %t, sd %d, resolution %d", h.Tester, h.Due, h.Overdue(), h.SD, h.Resolution)
	}
	if r.Part != part || r.Serial != "C-1" || *r.Reading != 720 || *r.Recheck != 735 || *r.Counts() != 735 || len(r.Heard) != 2 || r.Heard[0] != wear.AirAtJoint {
		t.Errorf("reading %+v", r)
	}
	m, ok := r.Measured()
	if u := math.Sqrt(0.3*0.3 + 0.5*0.5/12); !ok || m.Reading != 735 || m.Ambient != 143 || math.Abs(m.GaugeSD-u) > 1e-12 {
		t.Errorf("as measured %+v, %t, want a standard uncertainty of %g psi", m, ok, u)
	}
	if e := must[Engine](t)(b.Engine(ctx, e.ID)); e.Hours != 30_000 {
		t.Errorf("the engine's hours did not go through the meter: %s", e.Hours)
	}
}

// TestLeakTestRefused: everything wrong is said at once, each at its field.
func TestLeakTestRefused(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	inch := must[int64](t)(b.SaveGauge(ctx, Gauge{Name: "Bore gauge", Unit: wear.Inch, SD: 5080}))
	refuse := func(change func(n *NewLeakTest), field string, words ...string) {
		t.Helper()
		n := leakTest(t, e, 1, "2024-06-01", 30_000, "0.060", 720)
		change(&n)
		_, err := b.SaveLeakTest(ctx, n)
		refusal(t, err, field, words...)
	}
	refuse(func(n *NewLeakTest) { n.Readings = nil }, "test", "nothing to save")
	refuse(func(n *NewLeakTest) { n.Readings[0].Reading = 801 }, "psi-1", "80.1 psi is above the regulated 80 psi")
	refuse(func(n *NewLeakTest) { n.Readings[0].Recheck = ptr(wear.PSI(900)) }, "psi-1", "90 psi is above")
	refuse(func(n *NewLeakTest) { n.Readings[0].Position, n.Readings[0].Field = 10, "psi-10" }, "psi-10", "positions 1 to 9")
	refuse(func(n *NewLeakTest) { n.Readings = append(n.Readings, n.Readings[0]) }, "psi-1", "stands twice")
	refuse(func(n *NewLeakTest) { n.Readings[0].Position, n.Readings[0].Field = 2, "psi-2" }, "psi-2", "no cylinder is recorded at position 2")
	refuse(func(n *NewLeakTest) { n.Day = "2023-06-01"; n.Shows = ptr(wear.Hours(0)) }, "psi-1", "no cylinder is recorded")
	refuse(func(n *NewLeakTest) { n.Readings[0].Part = 99 }, "part-1", "did not sit")
	refuse(func(n *NewLeakTest) { n.Orifice = 0 }, "orifice", "means nothing without it")
	refuse(func(n *NewLeakTest) { n.Orifice = inches(t, "0.60") }, "orifice", "decimal point")
	refuse(func(n *NewLeakTest) { n.Regulated = 0 }, "regulated", "1 to 300")
	refuse(func(n *NewLeakTest) { n.Ambient = ptr(wear.PSI(299)) }, "ambient", "14.7 psi at sea level")
	refuse(func(n *NewLeakTest) { n.Master = ptr(wear.PSI(810)) }, "master", "above the regulated")
	refuse(func(n *NewLeakTest) { n.Minutes = ptr(-1) }, "minutes")
	refuse(func(n *NewLeakTest) { n.Gauge = inch }, "tester", "reads in in")
	refuse(func(n *NewLeakTest) { n.Gauge = 99 }, "tester", "from the list")
	refuse(func(n *NewLeakTest) { n.Shows = nil }, "hours")
	if rs := must[[]LeakReading](t)(b.LeakReadingsOn(ctx, e.ID)); len(rs) != 0 {
		t.Fatalf("what was refused is in the book: %+v", rs)
	}
	if e := must[Engine](t)(b.Engine(ctx, e.ID)); e.Hours != 0 {
		t.Errorf("a refused test moved the meter to %s", e.Hours)
	}
	saveLeak(t, b, leakTest(t, e, 1, "2024-06-01", 30_000, "0.060", 720))
	back := leakTest(t, e, 1, "2024-07-01", 29_000, "0.60", 810)
	_, err := b.SaveLeakTest(ctx, back)
	for field, words := range map[string]string{"hours": "may not run backwards", "orifice": "decimal point", "psi-1": "above"} {
		refusal(t, err, field, words)
	}
}

// TestLeakReadingFollowsCylinder: a reading belongs to the cylinder that sat
// there that day, wherever it goes; on a day when two did it has to be said.
func TestLeakReadingFollowsCylinder(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	first := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	second := onShelf(t, b, Part{Kind: wear.Cylinder, Serial: "C-2"})
	ok(t, b.Remove(ctx, first, "2024-06-01", 30_000, "weak", false))
	ok(t, b.Install(ctx, second, Place{Engine: e.ID, Position: 1}, "2024-06-01", 30_000))
	saveLeak(t, b, leakTest(t, e, 1, "2024-05-01", 20_000, "0.060", 500))
	saveLeak(t, b, leakTest(t, e, 1, "2024-07-01", 31_000, "0.060", 780))
	_, err := b.SaveLeakTest(ctx, leakTest(t, e, 1, "2024-06-01", 30_000, "0.060", 480))
	refusal(t, err, "part-1", "C-1 and C-2", "choose")
	chosen := leakTest(t, e, 1, "2024-06-01", 30_000, "0.060", 480)
	chosen.Readings[0].Part = first
	saveLeak(t, b, chosen)
	for part, want := range map[int64]string{first: "2024-06-01 480, 2024-05-01 500", second: "2024-07-01 780"} {
		var got []string
		for _, r := range must[[]LeakReading](t)(b.LeakReadingsOf(ctx, part)) {
			got = append(got, fmt.Sprintf("%s %d", r.Test.Day, *r.Reading))
		}
		if s := strings.Join(got, ", "); s != want {
			t.Errorf("cylinder %d has %q, want %q", part, s, want)
		}
	}
	if sat := must[[]Stay](t)(b.LeakSitters(ctx, e.ID, 1, "2024-06-01")); len(sat) != 2 {
		t.Errorf("%d cylinders sat there that day", len(sat))
	}
}

// TestLeakCorrections: a correction is a new entry, the old one stays; nothing
// is changed or deleted behind the program's back either.
func TestLeakCorrections(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	root := saveLeak(t, b, leakTest(t, e, 1, "2024-06-01", 30_000, "0.060", 720))
	_, rs, err := b.LeakTest(ctx, root)
	ok(t, err)
	reading := rs[0].Root
	psi := func(p wear.PSI) *wear.PSI { return &p }
	refusal(t, b.CorrectLeakReading(ctx, reading, psi(700), nil, nil, "", " "), "reason")
	refusal(t, b.CorrectLeakReading(ctx, reading, psi(720), nil, nil, "", "why"), "value", "already")
	refusal(t, b.CorrectLeakReading(ctx, reading, psi(820), nil, nil, "", "why"), "value", "above the regulated")
	ok(t, b.CorrectLeakReading(ctx, reading, psi(700), psi(710), []wear.AirHeard{wear.AirAtBreather}, "B. Jones", "misread"))
	versions := must[[]LeakReading](t)(b.LeakReading(ctx, reading))
	if len(versions) != 2 || versions[0].Struck || !versions[1].Struck || *versions[0].Reading != 700 || *versions[0].Recheck != 710 || versions[0].Reason != "misread" || versions[0].Who != "B. Jones" || *versions[1].Reading != 720 {
		t.Fatalf("after a correction: %+v", versions)
	}
	head := versions[0].Test
	refusal(t, b.CorrectLeakTest(ctx, root, head, "", "why"), "reason", "nothing was changed")
	wrong := head
	wrong.Regulated = 600
	refusal(t, b.CorrectLeakTest(ctx, root, wrong, "", "why"), "regulated", "position 1 reads more than 60 psi")
	fixed := head
	fixed.Orifice, fixed.Unit = inches(t, "0.040"), wear.Inch
	refusal(t, b.CorrectLeakTest(ctx, root, fixed, "", ""), "reason")
	ok(t, b.CorrectLeakTest(ctx, root, fixed, "B. Jones", "the tester has the small orifice"))
	heads, rs, err := b.LeakTest(ctx, root)
	ok(t, err)
	if len(heads) != 2 || heads[0].Orifice != wear.SmallOrifice || heads[1].Orifice != wear.LargeOrifice || heads[0].Corrected != "B. Jones" || heads[0].UID != heads[1].UID || len(rs) != 2 || rs[1].Test.Orifice != wear.SmallOrifice {
		t.Errorf("after the correction of the head: %+v, readings %+v", heads, rs)
	}
	ok(t, b.CorrectLeakReading(ctx, reading, nil, psi(1), nil, "", "another engine's"))
	if v := must[[]LeakReading](t)(b.LeakReading(ctx, reading))[0]; v.Reading != nil || v.Recheck != nil || v.Counts() != nil {
		t.Errorf("withdrawn: %+v", v)
	}
	refusal(t, b.CorrectLeakReading(ctx, reading, nil, nil, nil, "", "again"), "what", "already")
	for _, table := range []string{"leak_test", "leak_reading"} {
		for _, sql := range []string{"UPDATE " + table + " SET saved_at = ''", "DELETE FROM " + table} {
			if _, err := b.write.ExecContext(ctx, sql); err == nil || !strings.Contains(err.Error(), "enter a correction") {
				t.Errorf("%s: %v", sql, err)
			}
		}
	}
}

// TestLeakRun: ratios 0.303 at 78 psi, 0.487 at 75 and 0.707 at 70 (from
// /work/shared/calculations.md, computed independently); π/4 · 0.060² in² is
// 1.8241 mm². The run starts anew with another piston.
func TestLeakRun(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	if run := must[LeakRun](t)(b.LeakRunOf(ctx, part)); len(run.Readings) != 0 {
		t.Errorf("a cylinder never tested has %+v", run)
	}
	tester := must[int64](t)(b.SaveGauge(ctx, Gauge{Name: "Tester 1", Unit: Psi, SD: 100_000, Resolution: 500_000}))
	for i, psi := range []wear.PSI{780, 750, 700} {
		n := leakTest(t, e, 1, wear.Day(fmt.Sprintf("2024-0%d-01", 2*i+2)), wear.Hours(10_000*(i+1)), "0.060", psi)
		n.Gauge = tester
		saveLeak(t, b, n)
	}
	run := must[LeakRun](t)(b.LeakRunOf(ctx, part))
	if len(run.Leaks) != 3 || run.Span != 200 || run.Since != "it was fitted on 2024-01-01" {
		t.Fatalf("run %+v", run)
	}
	for i, ratio := range []float64{0.303, 0.487, 0.707} {
		if got := run.Leaks[i].Area; math.Abs(got-ratio*1.8241) > 0.001 {
			t.Errorf("leak %d is %.4f mm², want %.4f", i, got, ratio*1.8241)
		}
	}
	if change, u := run.Change(); run.Trend.Tests != 3 || !run.Trend.Grows || math.Abs(change-0.737) > 0.03 || u <= 0 {
		t.Errorf("trend %+v, change %g ± %g mm²", run.Trend, change, u)
	}
	piston := onShelf(t, b, Part{Kind: wear.Piston, Serial: "P-2"})
	ok(t, b.Install(ctx, piston, Place{Engine: e.ID, Position: 1}, "2024-07-01", 30_000))
	saveLeak(t, b, leakTest(t, e, 1, "2024-08-01", 31_000, "0.040", 0))
	run = must[LeakRun](t)(b.LeakRunOf(ctx, part))
	if len(run.Readings) != 1 || run.Leaks[0] != nil || !strings.Contains(run.Since, "piston P-2") {
		t.Errorf("with another piston: %+v", run)
	}
	newest := must[[]LeakReading](t)(b.LeakReadingsOf(ctx, part))[0]
	ok(t, b.CorrectLeakReading(ctx, newest.Root, nil, nil, nil, "", "hose was off"))
	if run = must[LeakRun](t)(b.LeakRunOf(ctx, part)); len(run.Readings) != 3 {
		t.Errorf("a withdrawn test counts: %+v", run)
	}
}

func TestLeakRules(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	good := LeakRule{Model: e.Model.ID, Minimum: ptr(wear.PSI(600)), MaxLoss: ptr(250), Orifice: ptr(inches(t, "0.060")), Unit: wear.Inch, Regulated: ptr(wear.PSI(800)), Document: "Invented manual", Revision: "3", Page: "71"}
	for field, change := range map[string]func(l *LeakRule){
		"minimum":   func(l *LeakRule) { l.Minimum, l.MaxLoss = nil, nil },
		"max_loss":  func(l *LeakRule) { l.MaxLoss = ptr(1000) },
		"orifice":   func(l *LeakRule) { l.Orifice = nil },
		"regulated": func(l *LeakRule) { l.Regulated = ptr(wear.PSI(3001)) },
		"document":  func(l *LeakRule) { l.Document = " " },
	} {
		l := good
		change(&l)
		refusal(t, b.AddLeakRule(ctx, l), field)
	}
	over := good
	over.Minimum = ptr(wear.PSI(810))
	refusal(t, b.AddLeakRule(ctx, over), "minimum", "no cylinder would pass")
	ok(t, b.AddLeakRule(ctx, good))
	later := good
	later.Minimum, later.MaxLoss, later.Revision = ptr(wear.PSI(620)), nil, "4"
	ok(t, b.AddLeakRule(ctx, later))
	ls := must[[]LeakRule](t)(b.LeakRules(ctx, e.Model.ID))
	if len(ls) != 2 || *ls[0].Minimum != 620 || ls[0].MaxLoss != nil || *ls[1].MaxLoss != 250 {
		t.Fatalf("rules %+v", ls)
	}
	if r := ls[0].Rule(); r.Minimum != 620 || r.MaxLoss != 0 || r.Orifice != wear.LargeOrifice || r.Regulated != 800 || r.Document != "Invented manual, rev. 4, p. 71" {
		t.Errorf("as package wear takes it: %+v", r)
	}
	if _, err := b.write.ExecContext(ctx, "UPDATE leak_rule SET page = ''"); err == nil {
		t.Error("a rule was changed")
	}
}

// TestLeakMigration opens a book made before there were leak tests.
func TestLeakMigration(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "book.db")
	db := must[*sql.DB](t)(sql.Open("sqlite", dsn(path)))
	provider := must[*goose.Provider](t)(goose.NewProvider(goose.DialectSQLite3, db, migrations.FS))
	must[[]*goose.MigrationResult](t)(provider.UpTo(ctx, 1))
	for _, q := range []string{"INSERT INTO model (id, name) VALUES (1, 'Invented 9')", "INSERT INTO engine (id, model_id, serial, arrangement, cylinders, saved_at) VALUES (1, 1, 'R-old', 'radial', 9, '')",
		"INSERT INTO meter (id, root, engine_id, day, shows, kind, saved_at) VALUES (1, 1, 1, '2024-01-01', 0, 'reading', '')"} {
		if _, err := db.ExecContext(ctx, q); err != nil {
			t.Fatal(err)
		}
	}
	ok(t, db.Close())
	b := must[*Book](t)(Open(ctx, path))
	defer func() { ok(t, b.Close()) }()
	e := must[[]Engine](t)(b.EnginesBySerial(ctx, "R-old"))[0]
	addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	if root := saveLeak(t, b, leakTest(t, e, 1, "2024-06-01", 30_000, "0.060", 720)); root != 1 {
		t.Errorf("its first leak test is %d", root)
	}
}

// TestLowLeaksNow: an engine is looked at where a cylinder can be beyond the
// general rule, 25 % of 80 psi (FAA AC 43.13-1B chg 1, para 8-14), or one that
// was typed for its model; of a cylinder tested again only the newest counts.
func TestLowLeaksNow(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	for n := 1; n <= 2; n++ {
		addFitted(t, b, Part{Kind: wear.Cylinder, Serial: fmt.Sprintf("C-%d", n)}, Place{Engine: e.ID, Position: n})
	}
	low := func() string {
		text := ""
		for _, r := range must[[]LeakReading](t)(b.LowLeaksNow(ctx)) {
			text += fmt.Sprintf("%d: %s ", r.Position, r.Counts())
		}
		return text
	}
	saveLeak(t, b, leakTest(t, e, 1, "2024-06-01", 10_000, "0.060", 600))
	if got := low(); got != "" {
		t.Errorf("60 of 80 psi is on the bound, the book looks at %s", got)
	}
	ok(t, b.AddLeakRule(ctx, LeakRule{Model: e.Model.ID, Minimum: ptr(wear.PSI(620)), Orifice: ptr(inches(t, "0.060")), Unit: wear.Inch, Document: "Invented manual"}))
	if got := low(); got != "1: 60 " {
		t.Errorf("with a least reading of 62 psi the book looks at %q", got)
	}
	saveLeak(t, b, leakTest(t, e, 1, "2024-07-01", 20_000, "0.060", 760))
	if got := low(); got != "1: 76 " {
		t.Errorf("of two tests the book looks at %q", got)
	}
}
