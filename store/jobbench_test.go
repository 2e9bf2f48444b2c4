package store

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"barrelbook/wear"
)

// benchBook is a radial with barrels at positions 2 and 3, measured before,
// and a job on both.
func benchBook(t *testing.T) (b *Book, j Job, barrel int64) {
	t.Helper()
	ctx := context.Background()
	b = open(t)
	e := addRadial(t, b, "R-1")
	barrel = addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-2"}, Place{Engine: e.ID, Position: 2})
	addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-3"}, Place{Engine: e.ID, Position: 3})
	measure(t, b, e, 2, barrel, "2024-06-01", 30000, "5.2520")
	at := time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC)
	b.now = func() time.Time { at = at.Add(time.Minute); return at }
	shows := wear.Hours(60000)
	id := must[int64](t)(b.OpenJob(ctx, NewJob{Job: Job{Engine: e.ID, Why: "oil use", Day: "2026-05-01", Stands: 1}, Shows: &shows, Positions: []int{2, 3},
		Steps: []JobStep{{Phase: "removal", Text: "ignition off"}, {Phase: "removal", Text: "plugs out", Each: true}, {Phase: "after", Text: "run"}}}))
	return b, must[Job](t)(b.Job(ctx, id)), barrel
}

func TestBenchReadings(t *testing.T) {
	ctx := context.Background()
	b, j, barrel := benchBook(t)
	e := must[Engine](t)(b.Engine(ctx, j.Engine))
	present := func() []string {
		t.Helper()
		var typed []string
		for _, r := range must[map[int64][]Reading](t)(b.BenchReadings(ctx, j, []int64{barrel}))[barrel] {
			typed = append(typed, r.Typed)
		}
		return typed
	}
	if got := present(); got != nil {
		t.Errorf("before anything was measured: %v", got)
	}
	measure(t, b, e, 2, barrel, "2026-05-01", 60000, "5.2540")
	if got := present(); !slices.Equal(got, []string{"5.2540"}) {
		t.Errorf("measured on the day of the job: %v", got)
	}
	var bad Invalid
	hone := func(day wear.Day) error { return b.AddMark(ctx, barrel, wear.Mark{Event: wear.Honed, Day: day}, "") }
	if err := hone("2026-05-01"); !errors.As(err, &bad) || bad.For("day") == "" {
		t.Errorf("honed while it is on the engine: %v", err)
	}
	if err := move(b, j.ID, JobPulled, 2, ""); err != nil {
		t.Fatal(err)
	}
	if err := hone("2026-04-01"); !errors.As(err, &bad) || bad.For("day") == "" {
		t.Errorf("honed before the job: %v", err)
	}
	ok(t, hone("2026-05-01"))
	if got := present(); got != nil {
		t.Errorf("the honed barrel was measured before: %v", got)
	}
	measure(t, b, e, 2, barrel, "2026-05-01", 60000, "5.2545")
	measure(t, b, e, 2, barrel, "2026-05-02", 60000, "5.2546")
	if got := present(); !slices.Equal(got, []string{"5.2546", "5.2545"}) {
		t.Errorf("measured after the work: %v", got)
	}
	marks := must[[]MarkRow](t)(b.Marks(ctx, barrel))
	if m := marks[len(marks)-1]; m.Event != wear.Honed || m.At != 60000 {
		t.Errorf("the work stands at %s h of the part, want 600: %+v", m.At, m)
	}
	if held := must[[]Slot](t)(b.BenchParts(ctx, j)); len(held) != 2 || held[0].ID != barrel || held[0].Serial != "C-2" || held[1].Position != 3 {
		t.Errorf("on the bench: %+v", held)
	}
	other := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "C-9", Source: "new"}))
	ok(t, b.Place(ctx, j.ID, []Placing{{Position: 2, Kind: wear.Cylinder, Part: other}}, "", 1<<40))
	ok(t, move(b, j.ID, JobRefitted, 2, ""))
	ok(t, b.RefitJob(ctx, j.ID, "2026-05-02", 60000, "R. Moss", "", 1<<40))
	if m := must[[]MarkRow](t)(b.Marks(ctx, barrel)); m[len(m)-1].At != 60000 {
		t.Errorf("off the engine the work stands at %s h", m[len(m)-1].At)
	}
	if held := must[[]Slot](t)(b.BenchParts(ctx, j)); len(held) != 2 || held[0].ID != barrel {
		t.Errorf("the bench is about what came off, not %+v", held)
	}
}

func TestTickSteps(t *testing.T) {
	ctx := context.Background()
	b, j, _ := benchBook(t)
	steps := must[[]JobStep](t)(b.JobSteps(ctx, j.ID))
	off, plugs := steps[0].ID, steps[1].ID
	open := func() int { return len(must[[]OpenStep](t)(b.OpenSteps(ctx, j.ID))) }
	if open() != 4 { // one step at two positions
		t.Fatalf("%d steps are open, want 4", open())
	}
	var bad Invalid
	for _, ticks := range [][]Tick{nil, {{StepAt: StepAt{Step: plugs}}}, {{StepAt: StepAt{Step: plugs, Position: 4}}}, {{StepAt: StepAt{Step: 999}}}, {{StepAt: StepAt{Step: off}}, {StepAt: StepAt{Step: off}}}} {
		if err := b.TickSteps(ctx, j.ID, ticks, "", "", 1<<40); !errors.As(err, &bad) || bad.For("steps") == "" {
			t.Errorf("%v: %v", ticks, err)
		}
	}
	drawn := must[[]JobEntry](t)(b.JobEntries(ctx, j.ID))
	after := drawn[len(drawn)-1].ID
	both := []Tick{{StepAt{off, 0}, ""}, {StepAt{plugs, 3}, " wrench 4 "}}
	for range 2 { // sent twice
		ok(t, b.TickSteps(ctx, j.ID, both, "R. Moss", "u-1", after))
	}
	if es := must[[]JobEntry](t)(b.JobEntries(ctx, j.ID)); len(es) != len(drawn)+2 || es[len(es)-1].Text != "wrench 4" || es[len(es)-1].Who != "R. Moss" {
		t.Errorf("entries %+v", es)
	}
	if open() != 2 {
		t.Errorf("%d steps are open, want 2", open())
	}
	var stale Stale
	err := b.TickSteps(ctx, j.ID, []Tick{{StepAt{plugs, 2}, ""}, {StepAt{off, 0}, ""}, {StepAt{plugs, 3}, "wrench 5"}}, "", "u-2", after)
	if !errors.As(err, &stale) || len(stale.Since) != 2 {
		t.Fatalf("a form that is behind: %v", err)
	}
	if open() != 2 {
		t.Error("something of it was saved")
	}
	done := StepsDone(must[[]JobEntry](t)(b.JobEntries(ctx, j.ID)))
	_, err = b.AddJobEntry(ctx, JobEntry{Job: j.ID, Kind: JobUndone, Undoes: done[StepAt{plugs, 3}].ID, Text: "wrong cylinder"}, 1<<40)
	ok(t, err)
	left := must[[]OpenStep](t)(b.OpenSteps(ctx, j.ID))
	if len(left) != 3 || left[1].String() != "position 3: plugs out" {
		t.Errorf("open: %v", left)
	}
}

func TestChecklistVersions(t *testing.T) {
	ctx := context.Background()
	b := open(t)
	model := addRadial(t, b, "R-1").Model.ID
	first := must[Checklist](t)(b.Checklist(ctx, model))
	if first.ID != 0 || len(first.Lines) != len(DefaultSteps) {
		t.Fatalf("before anything was saved: %+v", first)
	}
	ok(t, b.SaveChecklist(ctx, first, 0))
	if cs := must[[]Checklist](t)(b.Checklists(ctx, model)); len(cs) != 0 {
		t.Errorf("the program's own list was saved again: %d versions", len(cs))
	}
	own := Checklist{Model: model, Who: "R. Moss", Lines: []JobStep{{Phase: "after", Text: " run "}, {Phase: "removal", Text: "plugs out", Caution: "hot", Torque: "per manual", Wrench: "W-4", Each: true}}}
	for range 2 {
		ok(t, b.SaveChecklist(ctx, own, 0))
	}
	cs := must[[]Checklist](t)(b.Checklists(ctx, model))
	if len(cs) != 1 || cs[0].Who != "R. Moss" || !slices.Equal(cs[0].Lines, InPhases(own.Lines)) || cs[0].Lines[0].Text != "plugs out" || cs[0].Lines[1].Text != "run" {
		t.Fatalf("versions %+v", cs)
	}
	own.Lines = own.Lines[:1]
	if err := b.SaveChecklist(ctx, own, 0); !errors.Is(err, ErrListMoved) {
		t.Errorf("made from an older version: %v", err)
	}
	ok(t, b.SaveChecklist(ctx, own, cs[0].ID))
	if cs := must[[]Checklist](t)(b.Checklists(ctx, model)); len(cs) != 2 || len(cs[0].Lines) != 1 || len(cs[1].Lines) != 2 {
		t.Errorf("versions %+v", cs)
	}
	var bad Invalid
	err := b.SaveChecklist(ctx, Checklist{Model: model, Lines: []JobStep{{Phase: "removal", Text: " "}, {Phase: "lunch", Text: "eat"}}}, 0)
	if !errors.As(err, &bad) || bad.For("text-1") == "" || bad.For("phase-0") == "" {
		t.Errorf("lines that cannot be: %v", err)
	}
	if err := b.SaveChecklist(ctx, Checklist{Model: model}, 0); !errors.As(err, &bad) || bad.For("lines") == "" {
		t.Errorf("an empty list: %v", err)
	}
	if _, err := b.write.Exec("UPDATE checklist_line SET text = 'x'"); err == nil {
		t.Error("a line could be changed")
	}
}

func TestDefaultSteps(t *testing.T) {
	if err := (Checklist{Lines: DefaultSteps}).check(); err != nil {
		t.Error(err)
	}
	if !slices.Equal(InPhases(DefaultSteps), DefaultSteps) {
		t.Error("the program's list is not in the order of its phases, or not trimmed")
	}
	for _, s := range DefaultSteps {
		if s.Torque != "" || s.Wrench != "" {
			t.Errorf("%s: the program knows no torque and no tool", s.Text)
		}
	}
}

func TestPhotos(t *testing.T) {
	ctx := context.Background()
	b, j, barrel := benchBook(t)
	one := NewPhoto{Photo: Photo{UID: "u-1", Job: j.ID, Position: 2, Part: barrel, Type: "image/jpeg", Width: 3, Height: 2, Note: " scored ", Day: "2026-05-01"}, Bytes: []byte("abc"), Small: []byte("a")}
	for range 2 {
		ok(t, b.AddPhotos(ctx, []NewPhoto{one}))
	}
	ps := must[[]Photo](t)(b.PhotosOfPart(ctx, barrel))
	// SHA-256 of "abc": FIPS 180-2, appendix B.1
	if len(ps) != 1 || ps[0].SHA256 != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" || ps[0].Note != "scored" || ps[0].Serial != "C-2" {
		t.Fatalf("photographs %+v", ps)
	}
	if whole, small := must[[]byte](t)(b.PhotoBytes(ctx, ps[0].ID, false)), must[[]byte](t)(b.PhotoBytes(ctx, ps[0].ID, true)); string(whole) != "abc" || string(small) != "a" {
		t.Errorf("bytes %q and %q", whole, small)
	}
	var bad Invalid
	two := one
	two.UID, two.Position = "u-2", 4
	if err := b.AddPhotos(ctx, []NewPhoto{two}); !errors.As(err, &bad) || bad.For("position") == "" {
		t.Errorf("at a position that is not in the job: %v", err)
	}
	two.Position, two.Part = 3, 0
	ok(t, b.AddPhotos(ctx, []NewPhoto{two}))
	if at2, all, of := must[[]Photo](t)(b.PhotosOfJob(ctx, j.ID, 2)), must[[]Photo](t)(b.PhotosOfJob(ctx, j.ID, 0)), must[[]Photo](t)(b.PhotosOfEngine(ctx, j.Engine)); len(at2) != 1 || len(all) != 2 || len(of) != 1 || of[0].Position != 3 {
		t.Errorf("at position 2 %d, in the job %d, without a part %+v", len(at2), len(all), of)
	}
	if err := b.VoidPhoto(ctx, ps[0].ID, " "); !errors.As(err, &bad) || bad.For("reason") == "" {
		t.Errorf("without a reason: %v", err)
	}
	ok(t, b.VoidPhoto(ctx, ps[0].ID, "wrong part"))
	if err := b.VoidPhoto(ctx, ps[0].ID, "again"); !errors.As(err, &bad) {
		t.Errorf("struck out twice: %v", err)
	}
	if p := must[Photo](t)(b.Photo(ctx, ps[0].ID)); p.Void != "wrong part" {
		t.Errorf("struck out: %+v", p)
	}
	if err := b.VoidPhoto(ctx, 99, "none"); !errors.Is(err, ErrNotFound) {
		t.Errorf("none such: %v", err)
	}
	for _, q := range []string{"UPDATE photo SET note = 'x'", "DELETE FROM photo_data", "UPDATE photo_data SET bytes = x'00'", "DELETE FROM photo"} {
		if _, err := b.write.Exec(q); err == nil {
			t.Errorf("%s was allowed", q)
		}
	}
}
