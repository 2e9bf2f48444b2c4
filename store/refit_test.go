package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"barrelbook/wear"
)

// shopJob is a flat four with a cylinder, a piston, a ring and a pin at
// positions 1 and 2, spares on the shelf, and a job on both positions.
type shopJob struct {
	*testing.T
	*Book
	engine, job int64
	part        map[string]int64 // by serial
}

const jobDay, fitDay wear.Day = "2026-02-01", "2026-02-10"

func newShopJob(t *testing.T) *shopJob {
	t.Helper()
	ctx := context.Background()
	s := &shopJob{T: t, Book: open(t), part: map[string]int64{}}
	var err error
	if s.engine, err = s.AddEngine(ctx, NewEngine{Serial: "F1", Model: "Four", Arrangement: "flat", Cylinders: 4, Day: "2025-01-01", Shows: 10000}); err != nil {
		t.Fatal(err)
	}
	e, err := s.Engine(ctx, s.engine)
	if err != nil {
		t.Fatal(err)
	}
	e.Model.Grooves = 1
	ok(t, s.SaveModel(ctx, e.Model))
	add := func(kind wear.Kind, serial string) int64 {
		id, err := s.AddPart(ctx, Part{Kind: kind, Serial: serial, Source: "new", ModelID: e.Model.ID})
		if err != nil {
			t.Fatal(err)
		}
		s.part[serial] = id
		return id
	}
	for n := 1; n <= 2; n++ {
		for kind, letter := range map[wear.Kind]string{wear.Cylinder: "C", wear.Piston: "P", wear.Ring: "R", wear.Pin: "N"} {
			at := Place{Engine: s.engine, Position: n}
			if kind == wear.Ring {
				at.Groove = 1
			}
			ok(t, s.Install(ctx, add(kind, fmt.Sprintf("%s%d", letter, n)), at, "2025-01-01", 10000))
		}
	}
	for serial, kind := range map[string]wear.Kind{"C9": wear.Cylinder, "P9": wear.Piston, "R9": wear.Ring} {
		add(kind, serial)
	}
	shows := wear.Hours(40000)
	s.job, err = s.OpenJob(ctx, NewJob{Job: Job{Engine: s.engine, Why: "top overhaul", Day: jobDay, Stands: 1}, Shows: &shows, Positions: []int{1, 2}})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func (s *shopJob) move(kind string, positions ...int) {
	s.Helper()
	for _, p := range positions {
		ok(s.T, move(s.Book, s.job, kind, p, ""))
	}
}

func (s *shopJob) decide(serial, disposition, reason string) {
	s.Helper()
	d := Decision{Job: s.job, Part: s.part[serial], Position: 1, Disposition: disposition, Reason: reason}
	if disposition == "grind" {
		d.Oversize = new(wear.Value)
		*d.Oversize = 254_000
	}
	ok(s.T, s.Decide(context.Background(), d, "", 1<<40))
}

func (s *shopJob) place(position int, kind wear.Kind, groove int, serial, despite string) {
	s.Helper()
	ok(s.T, s.Place(context.Background(), s.job, []Placing{{Position: position, Kind: kind, Groove: groove, Part: s.part[serial], Despite: despite}}, "", 1<<40))
}

func (s *shopJob) refit() error {
	return s.RefitJob(context.Background(), s.job, fitDay, 40000, "R. Moss", "fit-1", 1<<40)
}

func (s *shopJob) stays(serial string) []Stay {
	s.Helper()
	ss, err := s.StaysOf(context.Background(), s.part[serial])
	if err != nil {
		s.Fatal(err)
	}
	return ss
}

// TestRefitJob: what goes back keeps its stay, parts change places with each
// other, what is decided scrap is scrapped, hours count on from the refit.
func TestRefitJob(t *testing.T) {
	ctx := context.Background()
	s := newShopJob(t)
	s.move(JobPulled, 1, 2)
	s.decide("P1", "reuse", "inside limits")
	s.decide("R1", "scrap", "end gap beyond its limit")
	s.decide("C2", "replace", "cracked fin")
	s.place(1, wear.Piston, 0, "P2", "")
	s.place(2, wear.Piston, 0, "P1", "")
	s.place(1, wear.Ring, 1, "R9", "only ring at hand")
	s.place(2, wear.Cylinder, 0, "C9", "")
	var bad Invalid
	if err := s.refit(); !errors.As(err, &bad) || !strings.Contains(bad.For("positions"), "cylinders 1 and 2 are still off") {
		t.Fatalf("with cylinders off: %v", err)
	}
	s.move(JobRefitted, 1, 2)
	if err := s.RefitJob(ctx, s.job, fitDay, 39990, "", "", 1<<40); !errors.As(err, &bad) || bad.For("hours") == "" {
		t.Errorf("hours before the job: %v", err)
	}
	if err := s.RefitJob(ctx, s.job, "2026-01-30", 40000, "", "", 1<<40); !errors.As(err, &bad) || bad.For("day") == "" {
		t.Errorf("a day before the job: %v", err)
	}
	ok(t, s.refit())
	ok(t, s.refit()) // sent twice
	if ss := s.stays("C1"); len(ss) != 1 || !ss[0].Open() || ss[0].From != "2025-01-01" {
		t.Errorf("what went back has stays %+v", ss)
	}
	for serial, position := range map[string]int{"P1": 2, "P2": 1} {
		ss := s.stays(serial)
		if len(ss) != 2 || ss[0].To != fitDay || ss[0].ToHours != 40000 || !ss[1].Open() || ss[1].Position != position || ss[1].From != fitDay {
			t.Errorf("%s, which changed places: %+v", serial, ss)
		}
	}
	if ss := s.stays("R1"); ss[0].ReasonOut != "scrap: end gap beyond its limit" {
		t.Errorf("reason out %q", ss[0].ReasonOut)
	}
	if p, _ := s.Part(ctx, s.part["R1"]); p.Status != "scrapped" || p.ScrapReason != "end gap beyond its limit" || p.ScrapDay != fitDay {
		t.Errorf("scrapped ring %+v", p)
	}
	if p, _ := s.Part(ctx, s.part["C2"]); p.Status != "on shelf" {
		t.Errorf("a replaced cylinder is %s", p.Status)
	}
	if ss := s.stays("R9"); len(ss) != 1 || ss[0].Despite != "only ring at hand" || ss[0].Groove != 1 {
		t.Errorf("new ring %+v", ss)
	}
	es, _ := s.JobEntries(ctx, s.job)
	off, on := 0, 0
	for _, e := range es {
		if _, out := e.CameOff(); out {
			off++
		}
		if e.WentOn() {
			on++
		}
	}
	if off != 4 || on != 4 {
		t.Errorf("%d off, %d on; want four and four", off, on)
	}
	if _, err := s.AddMeter(ctx, s.engine, "2026-03-01", 41000); err != nil {
		t.Fatal(err)
	}
	if h, _ := s.PartHours(ctx, s.part["P1"]); h.SinceNew != 31000 || *h.SinceInstall != 1000 {
		t.Errorf("P1 has %s h since new, %s h since installation", h.SinceNew, *h.SinceInstall)
	}
}

// TestRefitIsWhole: one thing wrong and nothing is saved.
func TestRefitIsWhole(t *testing.T) {
	ctx := context.Background()
	s := newShopJob(t)
	s.move(JobPulled, 1, 2)
	s.move(JobRefitted, 1, 2)
	s.decide("R1", "scrap", "worn")
	s.place(1, wear.Ring, 1, "R9", "")
	s.place(1, wear.Cylinder, 0, "C9", "")
	s.decide("C9", "scrap", "cracked after all")
	var bad Invalid
	if err := s.refit(); !errors.As(err, &bad) || !strings.Contains(bad.For("cylinder-1"), "decided scrap") {
		t.Fatalf("a scrapped cylinder placed: %v", err)
	}
	s.place(1, wear.Cylinder, 0, "C1", "")
	e2, err := s.AddEngine(ctx, NewEngine{Serial: "F2", Model: "Four", Arrangement: "flat", Cylinders: 4, Day: "2025-01-01", Shows: 0})
	if err != nil {
		t.Fatal(err)
	}
	ok(t, s.Install(ctx, s.part["R9"], Place{Engine: e2, Position: 1, Groove: 1}, "2026-01-01", 0))
	if err := s.refit(); !errors.As(err, &bad) || !strings.Contains(bad.For("ring-1-1"), "sits on engine F2") {
		t.Fatalf("a ring from another engine: %v", err)
	}
	if ss := s.stays("R1"); !ss[0].Open() {
		t.Error("the old ring came off although the refit was refused")
	}
	if p, _ := s.Part(ctx, s.part["R1"]); p.Status != "on engine" {
		t.Errorf("the old ring is %s", p.Status)
	}
}

func TestStaleRefit(t *testing.T) {
	s := newShopJob(t)
	s.move(JobPulled, 1, 2)
	s.move(JobRefitted, 1, 2)
	es, _ := s.JobEntries(context.Background(), s.job)
	after := es[len(es)-1].ID
	s.place(1, wear.Ring, 1, "R9", "")
	var stale Stale
	if err := s.RefitJob(context.Background(), s.job, fitDay, 40000, "", "", after); !errors.As(err, &stale) {
		t.Errorf("placed since: %v", err)
	}
}

// TestPartsInJobStay: while a job is under way its positions are left to it.
func TestPartsInJobStay(t *testing.T) {
	ctx := context.Background()
	s := newShopJob(t)
	s.move(JobPulled, 1)
	var bad Invalid
	for what, err := range map[string]error{
		"removing":          s.Remove(ctx, s.part["C1"], fitDay, 40000, "oil use", false),
		"installing":        s.Install(ctx, s.part["C9"], Place{Engine: s.engine, Position: 1}, fitDay, 40000),
		"installing a set":  s.InstallAll(ctx, s.engine, 1, fitDay, 40000, []Fitting{{Part: Part{ID: s.part["C9"]}}}),
		"removing at other": s.Remove(ctx, s.part["C2"], fitDay, 40000, "oil use", false),
	} {
		if !errors.As(err, &bad) || bad[0].Href != fmt.Sprintf("/jobs/%d/placing", s.job) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if err := s.Install(ctx, s.part["C9"], Place{Engine: s.engine, Position: 3}, fitDay, 40000); err != nil {
		t.Errorf("a position that is in no job: %v", err)
	}
}

// TestWorkInJob: work is dated to a day in the job, at the hours at which it
// was opened, although the part keeps its stay.
func TestWorkInJob(t *testing.T) {
	ctx := context.Background()
	s := newShopJob(t)
	s.move(JobPulled, 1)
	size := wear.Value(254_000)
	ok(t, s.AddMark(ctx, s.part["C1"], wear.Mark{Event: wear.Ground, Day: "2026-02-05", Oversize: &size}, "by a specialist"))
	ms, err := s.Marks(ctx, s.part["C1"])
	if err != nil || ms[len(ms)-1].At != 30000 {
		t.Errorf("marks %+v, %v; want the last at 300.0 h", ms, err)
	}
	var bad Invalid
	if err := s.AddMark(ctx, s.part["C1"], wear.Mark{Event: wear.Honed, Day: "2026-01-15"}, ""); !errors.As(err, &bad) || bad.For("day") == "" {
		t.Errorf("work before the job: %v", err)
	}
}

// open checks by their words; refusing ones are marked.
func (s *shopJob) checks() (refuse, warn []string) {
	s.Helper()
	cs, err := s.ClosingChecks(context.Background(), s.job)
	if err != nil {
		s.Fatal(err)
	}
	for _, c := range cs {
		if c.Href == "" {
			s.Errorf("no way to %q", c.Words)
		}
		if c.Refuses {
			refuse = append(refuse, c.Words)
		} else {
			warn = append(warn, c.Words)
		}
	}
	return refuse, warn
}

func has(list []string, words string) bool {
	return slices.ContainsFunc(list, func(s string) bool { return strings.Contains(s, words) })
}

// TestClosingChecks goes through each thing that is looked at before a job is
// closed: it is named while it is open, and gone when it is done.
func TestClosingChecks(t *testing.T) {
	ctx := context.Background()
	s := newShopJob(t)
	x, err := findFeatureIndex(ctx, s.read)
	if err != nil {
		t.Fatal(err)
	}
	bore := x.called(wear.Cylinder, "barrel bore")
	e, _ := s.Engine(ctx, s.engine)
	ok(t, s.AddLimit(ctx, LimitRow{Model: e.Model.ID, Feature: bore.ID, Unit: wear.Inch, Document: "Invented manual", Limit: wear.Limit{ServiceMax: ptr(inches(t, "5.2600")), Wear: wear.Up}}))
	ok(t, s.tx(ctx, func(ctx context.Context, t *tx) error {
		return addSteps(ctx, t, s.job, []JobStep{{Phase: "removal", Text: "number marks forward", Each: true}, {Phase: "removal", Text: "leads off; openings covered", Each: true}, {Phase: "after", Text: "ground run"}})
	}))
	s.move(JobPulled, 1)
	refuse, warn := s.checks()
	for _, words := range []string{"cylinder 1 is still off"} {
		if !has(refuse, words) {
			t.Errorf("%q does not refuse: %q", words, refuse)
		}
	}
	for _, words := range []string{"cylinder 2 was to come off", "refit was not saved", "nothing is decided at position 1 of cylinder C1, piston P1, ring R1, pin N1",
		"going back to position 1: cylinder C1 (barrel bore)", "no leak test after the refit of position 1", "2 steps are open at position 1: number marks forward · leads off; openings covered", "a step is open: ground run"} {
		if !has(warn, words) {
			t.Errorf("%q is not among %q", words, warn)
		}
	}
	if has(warn, "C2") {
		t.Errorf("a cylinder that stayed on is asked for: %q", warn)
	}
	s.decide("C1", "grind", "bore pitted")
	if _, warn = s.checks(); !has(warn, "cylinder C1 was decided grind, but no work says that it was ground to oversize") {
		t.Errorf("ground without a mark: %q", warn)
	}
	size := wear.Value(254_000)
	ok(t, s.AddMark(ctx, s.part["C1"], wear.Mark{Event: wear.Ground, Day: "2026-02-05", Oversize: &size}, ""))
	ok(t, s.ScrapPart(ctx, s.part["P9"], fitDay, "dropped"))
	s.decide("P1", "replace", "worn")
	if refuse, _ = s.checks(); !has(refuse, "no piston at position 1") {
		t.Errorf("an empty place: %q", refuse)
	}
	s.decide("P1", "reuse", "measured again")
	s.decide("R1", "replace", "end gap")
	s.decide("N1", "reuse", "inside limits")
	s.place(1, wear.Ring, 1, "R9", "")
	if refuse, _ = s.checks(); !has(refuse, "ring R9 is placed at position 1, groove 1, but its fitting is not saved") {
		t.Errorf("placed and not fitted: %q", refuse)
	}
	s.move(JobRefitted, 1)
	ok(t, s.refit())
	shows := wear.Hours(40000)
	if _, err := s.SaveSheet(ctx, NewSheet{Sheet: Sheet{Day: fitDay, Engine: s.engine, Position: 1}, Shows: &shows, Readings: []NewReading{{Part: s.part["C1"], Feature: bore.ID, Station: "top", Axis: "thrust", Value: inches(t, "5.2500"), Typed: "5.2500", Unit: wear.Inch}}}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.SaveLeakTest(ctx, NewLeakTest{LeakTest: LeakTest{Engine: s.engine, Day: fitDay, Regulated: 800, Orifice: wear.LargeOrifice, Unit: wear.Inch}, Shows: &shows, Readings: []NewLeakReading{{Position: 1, Reading: 760}}}); err != nil {
		t.Fatal(err)
	}
	steps, _ := s.JobSteps(ctx, s.job)
	for _, e := range []JobEntry{{Step: steps[0].ID, Position: 1}, {Step: steps[1].ID, Position: 1}, {Step: steps[2].ID}} {
		e.Job, e.Kind = s.job, JobDone
		if _, err := s.AddJobEntry(ctx, e, 1<<40); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.AddJobEntry(ctx, JobEntry{Job: s.job, Kind: JobLeftOn, Position: 2}, 1<<40); err != nil {
		t.Fatal(err)
	}
	if refuse, warn = s.checks(); len(refuse)+len(warn) > 0 {
		t.Errorf("all is done, and open are %q and %q", refuse, warn)
	}
	ok(t, s.CloseJob(ctx, s.job, fitDay, "", "R. Moss", "", 1<<40))
	if j, _ := s.Job(ctx, s.job); j.Ended != "closed" || j.EndDay != fitDay {
		t.Errorf("job %+v", j)
	}
}

// TestCloseJob: what refuses, what is closed over with a reason that is kept,
// and taking a job up again.
func TestCloseJob(t *testing.T) {
	ctx := context.Background()
	s := newShopJob(t)
	s.move(JobPulled, 1, 2)
	var bad Invalid
	if err := s.CloseJob(ctx, s.job, fitDay, "in a hurry", "", "", 1<<40); !errors.As(err, &bad) || !strings.Contains(bad.For("job"), "still off") {
		t.Fatalf("with cylinders off: %v", err)
	}
	if err := s.GiveUpJob(ctx, s.job, fitDay, "not needed", "", "", 1<<40); !errors.As(err, &bad) || !strings.Contains(bad.For("job"), "still off") {
		t.Fatalf("given up with cylinders off: %v", err)
	}
	s.move(JobRefitted, 1, 2)
	ok(t, s.refit())
	if err := s.CloseJob(ctx, s.job, fitDay, " ", "", "", 1<<40); !errors.As(err, &bad) || bad.For("reason") == "" {
		t.Fatalf("without a reason: %v", err)
	}
	if err := s.CloseJob(ctx, s.job, "2026-02-09", "r", "", "", 1<<40); !errors.As(err, &bad) || bad.For("day") == "" {
		t.Fatalf("before its refit: %v", err)
	}
	var stale Stale
	if err := s.CloseJob(ctx, s.job, fitDay, "leak test tomorrow", "", "", 1); !errors.As(err, &stale) {
		t.Fatalf("a form that is behind: %v", err)
	}
	ok(t, s.CloseJob(ctx, s.job, fitDay, "leak test tomorrow", "R. Moss", "close-1", 1<<40))
	ok(t, s.CloseJob(ctx, s.job, fitDay, "leak test tomorrow", "R. Moss", "close-1", 1<<40)) // sent twice
	es, _ := s.JobEntries(ctx, s.job)
	if last := es[len(es)-1]; last.Kind != JobClosed || last.Despite != "leak test tomorrow" || !strings.Contains(last.Text, "no leak test") {
		t.Errorf("entry %+v", last)
	}
	if err := s.Remove(ctx, s.part["C1"], "2026-02-11", 40010, "oil use", false); err != nil {
		t.Errorf("the position is free again: %v", err)
	}
	if err := s.ReopenJob(ctx, s.job, "2026-02-12", "", "", ""); !errors.As(err, &bad) || bad.For("reason") == "" {
		t.Errorf("reopened without a reason: %v", err)
	}
	ok(t, s.ReopenJob(ctx, s.job, "2026-02-12", "leak test was forgotten", "", "re-1"))
	if j, _ := s.Job(ctx, s.job); !j.Open() {
		t.Errorf("job %+v", j)
	}
	ok(t, s.GiveUpJob(ctx, s.job, "2026-02-13", "as good as done", "", "", 1<<40))
	shows := wear.Hours(40020)
	if _, err := s.OpenJob(ctx, NewJob{Job: Job{Engine: s.engine, Why: "again", Day: "2026-02-14", Stands: 1}, Shows: &shows, Positions: []int{2}}); err != nil {
		t.Fatal(err)
	}
	if err := s.ReopenJob(ctx, s.job, "2026-02-15", "why not", "", ""); !errors.As(err, &bad) || !strings.Contains(bad.For("job"), "position 2") {
		t.Errorf("reopened although another job has its position: %v", err)
	}
}

// A place that was never recorded, such as that of a pin in a shop that keeps
// none, is only named; a missing cylinder keeps the job open.
func TestClosingWithoutPins(t *testing.T) {
	ctx := context.Background()
	b, _, job := radialJob(t, 2)
	for _, what := range []string{JobPulled, JobRefitted} {
		ok(t, move(b, job, what, 2, ""))
	}
	refuses := map[string]bool{}
	checks, err := b.ClosingChecks(ctx, job)
	ok(t, err)
	for _, c := range checks {
		refuses[c.Words] = c.Refuses
	}
	if m, there := refuses["no cylinder at position 2: place one there"]; !m || !there {
		t.Errorf("a missing cylinder: %v", refuses)
	}
	if m, there := refuses["no pin at position 2: place one there"]; m || !there {
		t.Errorf("a pin that was never recorded: %v", refuses)
	}
}

// TestStrikeInJob: what sits at a position that a job has in hand is not
// struck behind its back; what sat there before can be.
func TestStrikeInJob(t *testing.T) {
	s := newShopJob(t)
	ctx := context.Background()
	s.move(JobPulled, 1)
	var bad Invalid
	if err := s.VoidStay(ctx, s.stays("C1")[0].ID, "wrong engine"); !errors.As(err, &bad) || bad[0].Field != "reason" || bad[0].Href == "" {
		t.Errorf("striking what the job has off: %v", err)
	}
	if p := must[Part](t)(s.Part(ctx, s.part["C1"])); p.Status != "on engine" {
		t.Errorf("C1 is %s", p.Status)
	}
	s.decide("C1", "replace", "cracked fin")
	s.place(1, wear.Cylinder, 0, "C9", "")
	s.move(JobRefitted, 1)
	ok(t, s.refit())
	ok(t, s.VoidStay(ctx, s.stays("C1")[0].ID, "wrong date"))
}
