package store

import (
	"context"
	"errors"
	"slices"
	"testing"

	"barrelbook/wear"
)

// radialJob is a book with a nine-cylinder radial whose master rod is in
// cylinder 5, and a job on all its cylinders; the crank stands at 1.
func radialJob(t *testing.T, positions ...int) (*Book, int64, int64) {
	t.Helper()
	ctx := context.Background()
	b := open(t)
	engine, err := b.AddEngine(ctx, NewEngine{Serial: "J1", Model: "Nine", Arrangement: "radial", Cylinders: 9, MasterRod: 5, Day: "2026-01-10", Shows: 10000})
	if err != nil {
		t.Fatal(err)
	}
	if positions == nil {
		positions = []int{1, 2, 3, 4, 5, 6, 7, 8, 9}
	}
	shows := wear.Hours(10000)
	job, err := b.OpenJob(ctx, NewJob{Job: Job{Engine: engine, Why: "top overhaul", Day: "2026-01-10", Stands: 1}, Shows: &shows, Positions: positions})
	if err != nil {
		t.Fatal(err)
	}
	return b, engine, job
}

func move(b *Book, job int64, kind string, position int, despite string) error {
	_, err := b.AddJobEntry(context.Background(), JobEntry{Job: job, Kind: kind, Position: position, Despite: despite}, 1<<40)
	return err
}

// The master-rod cylinder comes off last and goes on first; common practice,
// no source.
func TestJobKeepsTheOrder(t *testing.T) {
	ctx := context.Background()
	b, engine, job := radialJob(t)
	if err := move(b, job, JobPulled, 5, ""); !errors.Is(err, wear.ErrMasterEarly) {
		t.Fatalf("master first: %v", err)
	}
	for _, p := range []int{1, 2, 3, 4, 6, 7, 8, 9, 5} {
		if err := move(b, job, JobPulled, p, ""); err != nil {
			t.Fatalf("pull %d: %v", p, err)
		}
	}
	if err := move(b, job, JobTurned, 1, ""); !errors.Is(err, wear.ErrMasterOff) {
		t.Fatalf("turn with the master off: %v", err)
	}
	if err := move(b, job, JobRefitted, 6, ""); !errors.Is(err, wear.ErrMasterOff) {
		t.Fatalf("another on first: %v", err)
	}
	w, err := b.Work(ctx, engine)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(w.MastersOff(), []int{5}) || len(w.Off) != 9 || w.Stands != 5 {
		t.Errorf("masters off %v, off %v, stands %d", w.MastersOff(), w.Off, w.Stands)
	}
	if err := move(b, job, JobRefitted, 6, "rod held by the maker's tool"); err != nil {
		t.Fatalf("with a reason: %v", err)
	}
	if err := move(b, job, JobRefitted, 5, "same"); err != nil {
		t.Fatalf("master on: %v", err)
	}
	if err := move(b, job, JobRefitted, 7, ""); err != nil {
		t.Fatalf("after the master: %v", err)
	}
	es, err := b.JobEntries(ctx, job)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(es, func(e JobEntry) bool { return e.Kind == JobRefitted && e.Position == 6 })
	if es[i].Despite != "rod held by the maker's tool" {
		t.Errorf("the reason is not kept: %q", es[i].Despite)
	}
	if i := len(es) - 1; es[i].Despite != "" {
		t.Errorf("a step that nothing refused keeps a reason: %q", es[i].Despite)
	}
}

func TestJobsOfAnEngineShareTheInterlock(t *testing.T) {
	b, engine, job := radialJob(t, 5)
	shows := wear.Hours(10000)
	other, err := b.OpenJob(context.Background(), NewJob{Job: Job{Engine: engine, Why: "oil use", Day: "2026-01-11", Stands: 3}, Shows: &shows, Positions: []int{7}})
	if err != nil {
		t.Fatal(err)
	}
	if err := move(b, job, JobPulled, 5, ""); !errors.Is(err, wear.ErrMasterEarly) {
		t.Fatalf("7 of the other job is still to come off: %v", err)
	}
	if err := move(b, other, JobPulled, 7, ""); err != nil {
		t.Fatal(err)
	}
	if err := move(b, job, JobPulled, 5, ""); err != nil {
		t.Fatal(err)
	}
	if err := move(b, other, JobRefitted, 7, ""); !errors.Is(err, wear.ErrMasterOff) {
		t.Errorf("refit in the other job: %v", err)
	}
	_, err = b.OpenJob(context.Background(), NewJob{Job: Job{Engine: engine, Why: "again", Day: "2026-01-11", Stands: 3}, Shows: &shows, Positions: []int{7, 2}})
	var bad Invalid
	if !errors.As(err, &bad) || bad.For("positions") == "" {
		t.Errorf("a position in two jobs: %v", err)
	}
}

func TestJobEntriesAreTakenBackNotLost(t *testing.T) {
	ctx := context.Background()
	b, engine, job := radialJob(t, 2, 3)
	for _, p := range []int{2, 3} {
		if err := move(b, job, JobPulled, p, ""); err != nil {
			t.Fatal(err)
		}
	}
	es, _ := b.JobEntries(ctx, job)
	first, last := es[2], es[3]
	undo := func(of int64, why string) error {
		_, err := b.AddJobEntry(ctx, JobEntry{Job: job, Kind: JobUndone, Undoes: of, Text: why}, last.ID)
		return err
	}
	var bad Invalid
	if err := undo(first.ID, "slip"); !errors.As(err, &bad) {
		t.Errorf("an earlier step before the later: %v", err)
	}
	if err := undo(last.ID, ""); !errors.As(err, &bad) || bad.For("reason") == "" {
		t.Errorf("without a reason: %v", err)
	}
	if err := undo(last.ID, "wrong cylinder"); err != nil {
		t.Fatal(err)
	}
	w, _ := b.Work(ctx, engine)
	if !slices.Equal(w.Off, []int{2}) || w.Stands != 2 {
		t.Errorf("off %v, stands %d", w.Off, w.Stands)
	}
	es, _ = b.JobEntries(ctx, job)
	if len(es) != 5 || !es[3].Struck || es[4].Text != "wrong cylinder" {
		t.Errorf("entries %+v", es)
	}
	if _, err := b.write.Exec("DELETE FROM job_entry"); err == nil {
		t.Error("an entry could be deleted")
	}
}

func TestStaleJobForm(t *testing.T) {
	ctx := context.Background()
	b, _, job := radialJob(t, 2)
	piston, err := b.AddPart(ctx, Part{Kind: wear.Piston, Serial: "P1", Source: "new"})
	if err != nil {
		t.Fatal(err)
	}
	d := Decision{Job: job, Part: piston, Position: 2, Disposition: "reuse", Reason: "inside limits"}
	if err := b.Decide(ctx, d, "a", 1); err != nil {
		t.Fatal(err)
	}
	if err := b.Decide(ctx, d, "a", 1); err != nil {
		t.Errorf("sent twice: %v", err)
	}
	d.Disposition = "scrap"
	var stale Stale
	if err := b.Decide(ctx, d, "b", 1); !errors.As(err, &stale) || stale.Since[0].Text != "reuse" {
		t.Fatalf("a form that is behind: %v", err)
	}
	if err := b.Decide(ctx, d, "b", stale.Since[0].ID); err != nil {
		t.Fatal(err)
	}
	ds, _ := b.Decisions(ctx, job)
	if len(ds) != 2 || ds[0].InForce || !ds[1].InForce {
		t.Errorf("decisions %+v", ds)
	}
}

func TestPlacingKeepsEachPartOnce(t *testing.T) {
	ctx := context.Background()
	b, _, job := radialJob(t, 2, 3)
	piston, _ := b.AddPart(ctx, Part{Kind: wear.Piston, Serial: "P1", Source: "new"})
	scrap, _ := b.AddPart(ctx, Part{Kind: wear.Piston, Serial: "P2", Source: "new"})
	if err := b.ScrapPart(ctx, scrap, "2026-01-10", "crack"); err != nil {
		t.Fatal(err)
	}
	var bad Invalid
	err := b.Place(ctx, job, []Placing{{Position: 2, Kind: wear.Piston, Part: piston}, {Position: 3, Kind: wear.Piston, Part: piston}}, "", 1<<40)
	if !errors.As(err, &bad) || bad.For("piston-3") == "" {
		t.Errorf("twice: %v", err)
	}
	err = b.Place(ctx, job, []Placing{{Position: 2, Kind: wear.Piston, Part: scrap}}, "", 1<<40)
	if !errors.As(err, &bad) || bad.For("piston-2") == "" {
		t.Errorf("scrapped: %v", err)
	}
	for _, p := range []int{2, 3} { // moved from one place to another in one save
		if err := b.Place(ctx, job, []Placing{{Position: p, Kind: wear.Piston, Part: piston}, {Position: 5 - p, Kind: wear.Piston}}, "", 1<<40); err != nil {
			t.Fatal(err)
		}
	}
	now, _ := b.Placings(ctx, job)
	if len(now) != 2 || now[0].Part != 0 || now[1].Part != piston {
		t.Errorf("placings %+v", now)
	}
}
