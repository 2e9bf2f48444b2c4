package store

import (
	"context"
	"testing"

	"barrelbook/wear"
)

// reading is one number in inches at a spot, with the gauge that measure
// uses.
func reading(t testing.TB, b *Book, part int64, kind wear.Kind, name string, groove int, value string) NewReading {
	t.Helper()
	return NewReading{Part: part, Feature: feature(t, b, kind, name).ID, Groove: groove, Value: inches(t, value), Typed: value, Unit: wear.Inch, SD: 5080, Resolution: 2540, Field: "v"}
}

// sheetOn saves readings of one day on an engine.
func sheetOn(t testing.TB, b *Book, e Engine, position int, day wear.Day, shows wear.Hours, readings ...NewReading) int64 {
	t.Helper()
	return must[int64](t)(b.SaveSheet(context.Background(), NewSheet{Sheet: Sheet{Day: day, Engine: e.ID, Position: position}, Shows: &shows, Readings: readings}))
}

// seriesCalled are the runs of a feature of a part, the run in hand first.
func seriesCalled(t testing.TB, b *Book, part int64, kind wear.Kind, name string, groove int) []Series {
	t.Helper()
	f := feature(t, b, kind, name)
	var out []Series
	for _, s := range must[[]Series](t)(b.SeriesOf(context.Background(), part)) {
		if s.Feature == f.ID && s.Groove == groove {
			out = append(out, s)
		}
	}
	return out
}

// TestHoursAcrossEngines: 500 h before it came, 300 h on one engine, 120 h on
// the next since; overhauled on the shelf between them.
func TestHoursAcrossEngines(t *testing.T) {
	b, ctx := open(t), context.Background()
	one, two := addRadial(t, b, "R-1"), addRadial(t, b, "R-2")
	part := onShelf(t, b, Part{Kind: wear.Cylinder, Serial: "C-1", Source: "overhauled", HoursBefore: 50_000, OverhaulBefore: ptr[wear.Hours](2_000)})
	ok(t, b.Install(ctx, part, Place{Engine: one.ID, Position: 1}, "2024-01-01", 0))
	must[int64](t)(b.AddMeter(ctx, one.ID, "2024-02-01", 10_000))
	if h := must[Hours](t)(b.PartHours(ctx, part)); h.SinceNew != 60_000 || *h.SinceOverhaul != 12_000 || *h.SinceInstall != 10_000 || !h.NewKnown {
		t.Errorf("on the first engine: %+v", h)
	}
	ok(t, b.Remove(ctx, part, "2024-06-01", 30_000, "overhaul", false))
	if h := must[Hours](t)(b.PartHours(ctx, part)); h.SinceNew != 80_000 || *h.SinceOverhaul != 32_000 || h.SinceInstall != nil {
		t.Errorf("on the shelf: %+v", h)
	}
	ok(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Overhauled, Day: "2024-07-01"}, "seats ground"))
	must[int64](t)(b.AddMeter(ctx, two.ID, "2024-08-01", 70_000))
	ok(t, b.Install(ctx, part, Place{Engine: two.ID, Position: 4}, "2024-08-01", 70_000))
	must[int64](t)(b.AddMeter(ctx, two.ID, "2025-01-01", 82_000))
	if h := must[Hours](t)(b.PartHours(ctx, part)); h.SinceNew != 92_000 || *h.SinceOverhaul != 12_000 || *h.SinceInstall != 12_000 {
		t.Errorf("on the second engine: %+v", h)
	}
	marks := must[[]MarkRow](t)(b.Marks(ctx, part))
	if len(marks) != 1 || marks[0].At != 80_000 || marks[0].Note != "seats ground" {
		t.Errorf("its marks: %+v", marks)
	}
	used := onShelf(t, b, Part{Kind: wear.Cylinder, Serial: "C-2", Source: "serviceable used"})
	if h := must[Hours](t)(b.PartHours(ctx, used)); h.NewKnown || h.SinceOverhaul != nil || h.SinceInstall != nil {
		t.Errorf("a used part of unknown past: %+v", h)
	}
}

// TestGroundToOversize: grinding starts a run, moves the limits by the
// oversize and keeps the old run.
func TestGroundToOversize(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	measure(t, b, e, 1, part, "2024-01-01", 0, "5.2500")
	measure(t, b, e, 1, part, "2025-01-01", 100_000, "5.2610")
	if p := must[Part](t)(b.Part(ctx, part)); p.Verdict != wear.Beyond {
		t.Errorf("0.0010 in past its limit the barrel is %s", p.Verdict)
	}
	refusal(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Ground, Day: "2025-02-01", Oversize: ptr(inches(t, "0.010"))}, ""), "day")
	ok(t, b.Remove(ctx, part, "2025-01-10", 100_000, "beyond its limit", false))
	refusal(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Ground, Day: "2025-02-01"}, ""), "oversize")
	refusal(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Ground, Day: "2025-02-01", Oversize: ptr(inches(t, "-0.010"))}, ""), "oversize")
	ok(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Ground, Day: "2025-02-01", Oversize: ptr(inches(t, "0.010"))}, ""))
	if size := must[wear.Value](t)(b.OversizeOf(ctx, part)); size != inches(t, "0.010") {
		t.Errorf("oversize %d", size)
	}
	ok(t, b.Install(ctx, part, Place{Engine: e.ID, Position: 1}, "2025-03-01", 100_000))
	measure(t, b, e, 1, part, "2025-06-01", 110_000, "5.2610")
	ss := must[[]Series](t)(b.SeriesOf(ctx, part))
	if len(ss) != 2 {
		t.Fatalf("%d runs, want 2", len(ss))
	}
	now, before := ss[0], ss[1]
	if !now.Current || now.Run != 2 || now.Start.Event != wear.Ground || now.Start.At != 100_000 || now.Oversize != inches(t, "0.010") || now.Verdict != wear.New {
		t.Errorf("the run in hand: %+v", now)
	}
	if want := float64(inches(t, "5.2700")); now.Bound == nil || *now.Bound != want {
		t.Errorf("the run's service limit is %v, want 5.2700 in", now.Bound)
	}
	// ground fresh and never measured at 0 h: the middle of the new limits
	// stands in, 5.2500 + 0.0100
	if len(now.Points) != 2 || !now.Points[0].Assumed || now.Points[0].Y != float64(inches(t, "5.2600")) || now.Points[1].Hours != 100 {
		t.Errorf("its points: %+v", now.Points)
	}
	if before.Current || before.Verdict != wear.Beyond || len(before.Points) != 2 {
		t.Errorf("the run before: %+v", before)
	}
	if p := must[Part](t)(b.Part(ctx, part)); p.Verdict != wear.New {
		t.Errorf("ground to oversize the barrel is %s", p.Verdict)
	}
}

// TestMateReplaced: another ring in a groove starts side clearance of that
// groove anew, of no other groove, and leaves what the piston measures alone.
func TestMateReplaced(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	piston := addFitted(t, b, Part{Kind: wear.Piston, Serial: "P-1"}, Place{Engine: e.ID, Position: 1})
	ring := addFitted(t, b, Part{Kind: wear.Ring, Serial: "K-1"}, Place{Engine: e.ID, Position: 1, Groove: 1})
	addFitted(t, b, Part{Kind: wear.Ring, Serial: "K-2"}, Place{Engine: e.ID, Position: 1, Groove: 2})
	stack := func(day wear.Day, hours wear.Hours, clearance string) {
		sheetOn(t, b, e, 1, day, hours, reading(t, b, piston, wear.Piston, "side clearance", 1, clearance), reading(t, b, piston, wear.Piston, "side clearance", 2, clearance),
			reading(t, b, piston, wear.Piston, "groove width", 1, "0.0970"))
	}
	stack("2024-01-01", 0, "0.0040")
	stack("2024-06-01", 30_000, "0.0060")
	ok(t, b.Remove(ctx, ring, "2024-06-01", 30_000, "ring change", true))
	fresh := onShelf(t, b, Part{Kind: wear.Ring, Serial: "K-3"})
	ok(t, b.Install(ctx, fresh, Place{Engine: e.ID, Position: 1, Groove: 1}, "2024-06-01", 30_000))
	stack("2024-06-01", 30_000, "0.0045")
	stack("2025-01-01", 50_000, "0.0055")

	first := seriesCalled(t, b, piston, wear.Piston, "side clearance", 1)
	if len(first) != 2 || first[0].Start.Event != wear.MateReplaced || first[0].Start.At != 30_000 || first[0].Points[len(first[0].Points)-1].Hours != 200 {
		t.Errorf("side clearance of groove 1: %+v", first)
	}
	for name, groove := range map[string]int{"side clearance": 2, "groove width": 1} {
		if ss := seriesCalled(t, b, piston, wear.Piston, name, groove); len(ss) != 1 || ss[0].Start.Event != wear.InstalledNew || ss[0].Points[len(ss[0].Points)-1].Hours != 500 {
			t.Errorf("%s of groove %d: %+v", name, groove, ss)
		}
	}
	found := false
	for _, m := range must[[]MarkRow](t)(b.Marks(ctx, piston)) {
		found = found || m.Event == wear.MateReplaced && m.Groove == 1 && m.Note == "ring K-3"
	}
	if !found {
		t.Error("the piston's events do not tell of the ring")
	}
}

// TestRingInAnotherBarrel: a ring's end gap starts anew in another barrel, its
// own width does not.
func TestRingInAnotherBarrel(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	barrel := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	ring := addFitted(t, b, Part{Kind: wear.Ring, Serial: "K-1"}, Place{Engine: e.ID, Position: 1, Groove: 1})
	both := func(day wear.Day, hours wear.Hours, gap string) {
		sheetOn(t, b, e, 1, day, hours, reading(t, b, ring, wear.Ring, "end gap", 0, gap), reading(t, b, ring, wear.Ring, "axial width", 0, "0.0930"))
	}
	both("2024-01-01", 0, "0.0200")
	both("2024-06-01", 30_000, "0.0400")
	ok(t, b.Remove(ctx, barrel, "2024-06-01", 30_000, "cracked", true))
	other := onShelf(t, b, Part{Kind: wear.Cylinder, Serial: "C-2"})
	ok(t, b.Install(ctx, other, Place{Engine: e.ID, Position: 1}, "2024-06-10", 30_000))
	both("2024-09-01", 40_000, "0.0240")
	if ss := seriesCalled(t, b, ring, wear.Ring, "end gap", 0); len(ss) != 2 || ss[0].Start.Event != wear.MateReplaced || ss[0].Points[0].Hours != 100 {
		t.Errorf("end gap: %+v", ss)
	}
	if ss := seriesCalled(t, b, ring, wear.Ring, "axial width", 0); len(ss) != 1 || len(ss[0].Points) != 3 || ss[0].Points[2].Y != -float64(inches(t, "0.0930")) {
		t.Errorf("axial width: %+v", ss)
	}
}

// TestAxesInCommon: a point is the mean over the axes that every inspection of
// the run measured; u of the mean of two is u/√2.
func TestAxesInCommon(t *testing.T) {
	b := open(t)
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1", Source: "serviceable used"}, Place{Engine: e.ID, Position: 1})
	at := func(axis, value string) NewReading {
		r := reading(t, b, part, wear.Cylinder, "barrel bore", 0, value)
		r.Station, r.Axis, r.SD, r.Resolution = "top", axis, 5_080, 0
		return r
	}
	sheetOn(t, b, e, 1, "2024-01-01", 0, at("thrust", "5.2500"), at("pin", "5.2510"))
	sheetOn(t, b, e, 1, "2024-06-01", 30_000, at("thrust", "5.2520"), at("pin", "5.2530"))
	ss := must[[]Series](t)(b.SeriesOf(context.Background(), part))
	if len(ss) != 1 || len(ss[0].Points) != 2 || ss[0].Points[0].Y != float64(inches(t, "5.2505")) || ss[0].Points[1].Y != float64(inches(t, "5.2525")) {
		t.Fatalf("means: %+v", ss)
	}
	if u := ss[0].Points[0].U; u < 3_592 || u > 3_593 { // 5080/√2 = 3592.1
		t.Errorf("u of the mean is %g nm", u)
	}
	sheetOn(t, b, e, 1, "2024-09-01", 40_000, at("thrust", "5.2524")) // one axis only
	ss = must[[]Series](t)(b.SeriesOf(context.Background(), part))
	for i, want := range []string{"5.2500", "5.2520", "5.2524"} {
		if ss[0].Points[i].Y != float64(inches(t, want)) {
			t.Errorf("point %d is %g nm, want the thrust axis alone, %s in", i, ss[0].Points[i].Y, want)
		}
	}
}

// TestWorkStruck: work that was entered by mistake starts no run and moves no
// limit any more, but stays in the book with the reason.
func TestWorkStruck(t *testing.T) {
	b := open(t)
	ctx := context.Background()
	part := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "C-1", Source: "new"}))
	ok(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Ground, Day: "2024-02-01", Oversize: ptr(inches(t, "0.010"))}, ""))
	marks := must[[]MarkRow](t)(b.Marks(ctx, part))
	id := marks[len(marks)-1].ID
	refusal(t, b.VoidMark(ctx, id, " "), "reason")
	ok(t, b.VoidMark(ctx, id, "another barrel was ground"))
	refusal(t, b.VoidMark(ctx, id, "again"), "reason")
	if size := must[wear.Value](t)(b.OversizeOf(ctx, part)); size != 0 {
		t.Errorf("oversize %s after the work was struck, want none", size.Format(wear.Inch))
	}
	struck := must[[]MarkRow](t)(b.StruckMarks(ctx, part))
	if len(struck) != 1 || struck[0].Void != "another barrel was ground" || struck[0].Event != wear.Ground {
		t.Errorf("struck work is kept as %+v", struck)
	}
	if left := must[[]MarkRow](t)(b.Marks(ctx, part)); len(left) != len(marks)-1 {
		t.Errorf("%d marks are left, want %d", len(left), len(marks)-1)
	}
}

// TestStrikeOldMate: a ring that was entered by mistake started its piston's
// side clearance anew; struck after both have left, it does so no more.
func TestStrikeOldMate(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	e.Model.Grooves = 1
	ok(t, b.SaveModel(ctx, e.Model))
	at := Place{Engine: e.ID, Position: 1}
	ring := Place{Engine: e.ID, Position: 1, Groove: 1}
	piston := addFitted(t, b, Part{Kind: wear.Piston, Serial: "P-1"}, at)
	first := addFitted(t, b, Part{Kind: wear.Ring, Serial: "R-1", Groove: 1}, ring)
	second := onShelf(t, b, Part{Kind: wear.Ring, Serial: "R-2", Groove: 1, Source: "new"})
	clearance := func(day wear.Day, shows wear.Hours, value string) {
		sheetOn(t, b, e, 1, day, shows, reading(t, b, piston, wear.Piston, "side clearance", 1, value))
	}
	clearance("2024-02-01", 10_000, "0.0040")
	ok(t, b.Remove(ctx, first, "2024-03-01", 20_000, "oil use", false))
	ok(t, b.Install(ctx, second, ring, "2024-03-01", 20_000))
	clearance("2024-04-01", 30_000, "0.0050")
	ok(t, b.Remove(ctx, piston, "2024-05-01", 40_000, "top overhaul", false))
	ok(t, b.Remove(ctx, second, "2024-05-01", 40_000, "top overhaul", false))
	if n := len(seriesCalled(t, b, piston, wear.Piston, "side clearance", 1)); n != 2 {
		t.Fatalf("with two rings the clearance has %d runs, want 2", n)
	}
	ok(t, b.VoidStay(ctx, must[[]Stay](t)(b.StaysOf(ctx, second))[0].ID, "never fitted"))
	if n := len(seriesCalled(t, b, piston, wear.Piston, "side clearance", 1)); n != 1 {
		t.Errorf("with the second ring struck the clearance has %d runs, want 1", n)
	}
}
