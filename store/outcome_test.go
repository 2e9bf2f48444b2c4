package store

import (
	"context"
	"errors"
	"testing"

	"barrelbook/wear"
)

// Work on a part whose cylinder a job has off counts at the hours of the job;
// before the cylinder is off, or before the job, it is refused.
func TestWorkWhileOffInJob(t *testing.T) {
	ctx := context.Background()
	b, engine, job := radialJob(t, 2)
	part := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "C2", Source: "new"}))
	other := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "C3", Source: "new"}))
	for position, id := range map[int]int64{2: part, 3: other} {
		sits(t, b, id, Place{Engine: engine, Position: position}, "2026-01-10", 10_000)
	}
	work := wear.Mark{Event: wear.Ground, Day: "2026-01-12", Oversize: ptr(inches(t, "0.010"))}
	var bad Invalid
	if err := b.AddMark(ctx, part, work, ""); !errors.As(err, &bad) || bad.For("day") == "" {
		t.Errorf("before it is off: %v", err)
	}
	if err := move(b, job, JobPulled, 2, ""); err != nil {
		t.Fatal(err)
	}
	if err := b.AddMark(ctx, other, work, ""); !errors.As(err, &bad) {
		t.Errorf("one that is not in the job: %v", err)
	}
	early := work
	early.Day = "2026-01-09"
	if err := b.AddMark(ctx, part, early, ""); err != nil && !errors.As(err, &bad) {
		t.Errorf("before the job: %v", err)
	}
	if err := b.AddMark(ctx, part, work, "by a specialist"); err != nil {
		t.Fatal(err)
	}
	ms := must[[]MarkRow](t)(b.Marks(ctx, part))
	if m := ms[len(ms)-1]; m.At != 0 || m.Event != wear.Ground || m.SavedAt == "" {
		t.Errorf("the work: %+v", m)
	}
	// the stay ends later, at the hours of the job: the run begins there
	ok(t, b.Place(ctx, job, []Placing{{Position: 2, Kind: wear.Cylinder}}, "", 1<<40))
	ok(t, move(b, job, JobRefitted, 2, ""))
	ok(t, b.RefitJob(ctx, job, "2026-01-15", 10_000, "", "", 1<<40))
	if size := must[wear.Value](t)(b.OversizeOf(ctx, part)); size != inches(t, "0.010") {
		t.Errorf("size over standard %d", size)
	}
}

// A feature without an overhaul life of its own is asked about that of the
// model.
func TestOverhaulLifeOfModel(t *testing.T) {
	ctx := context.Background()
	b := open(t)
	e := addRadial(t, b, "R-1")
	if err := b.SaveTurning(ctx, e.Model.ID, Turning{Rows: 1}, 0, 150_000); err != nil {
		t.Fatal(err)
	}
	limit := LimitRow{Model: e.Model.ID, Feature: feature(t, b, wear.Piston, "piston skirt").ID, Unit: wear.Inch, Document: "Invented manual",
		Limit: wear.Limit{NewMin: ptr(inches(t, "5.2300")), NewMax: ptr(inches(t, "5.2320")), ServiceMin: ptr(inches(t, "5.2200")), Wear: wear.Down}}
	if err := b.AddLimit(ctx, limit); err != nil {
		t.Fatal(err)
	}
	var parts []int64
	for position := 1; position <= 4; position++ {
		id := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Piston, Serial: string(rune('A' + position)), Source: "new"}))
		if err := b.Install(ctx, id, Place{Engine: e.ID, Position: position}, "2024-01-01", 0); err != nil {
			t.Fatal(err)
		}
		parts = append(parts, id)
	}
	for i, v := range []string{"5.2310", "5.2300", "5.2290"} {
		for j, id := range parts {
			sheetOn(t, b, e, j+1, wear.Day([]string{"2024-01-02", "2024-06-01", "2025-01-01"}[i]), wear.Hours(i*30_000), reading(t, b, id, wear.Piston, "piston skirt", 0, v))
		}
	}
	s := seriesCalled(t, b, parts[0], wear.Piston, "piston skirt", 0)
	x := must[Explanation](t)(b.Explain(ctx, s[0].ID))
	if x.Life != 150_000 || x.Judgement.Forecast == nil || x.Judgement.Forecast.ReachLife <= 0 {
		t.Errorf("life %s, forecast %+v", x.Life, x.Judgement.Forecast)
	}
}

// sits puts a part on an engine past the rule that a job under way keeps other
// pages off its positions.
func sits(t *testing.T, b *Book, part int64, at Place, day wear.Day, shows wear.Hours) {
	t.Helper()
	ok(t, b.tx(context.Background(), func(ctx context.Context, t *tx) error {
		meter, err := addMeter(ctx, t, at.Engine, day, shows)
		if err != nil {
			return err
		}
		return install(ctx, t, part, at, day, meter)
	}))
}
