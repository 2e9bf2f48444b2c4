package store

import (
	"context"
	"slices"
	"strings"
	"testing"

	"barrelbook/wear"
)

// newtons is a force typed in newtons.
func newtons(t testing.TB, text string) wear.Value {
	t.Helper()
	return must[wear.Value](t)(wear.ParseValue(text, wear.Newton))
}

// pull measures the force of a ring on the shelf.
func pull(t testing.TB, b *Book, ring int64, day wear.Day, name, force string) {
	t.Helper()
	must[int64](t)(b.SaveSheet(context.Background(), NewSheet{Sheet: Sheet{Day: day}, Readings: []NewReading{
		{Part: ring, Feature: feature(t, b, wear.Ring, name).ID, Value: newtons(t, force), Typed: force, Unit: wear.Newton, Resolution: 100_000}}}))
}

// forceLimit types the new limits of a ring's tangential force.
func forceLimit(t testing.TB, b *Book, model int64, groove int, low, high string) {
	t.Helper()
	ok(t, b.AddLimit(context.Background(), LimitRow{Model: model, Feature: feature(t, b, wear.Ring, "tangential force").ID, Groove: groove, Unit: wear.Newton, Document: "Invented manual",
		Limit: wear.Limit{NewMin: ptr(newtons(t, low)), NewMax: ptr(newtons(t, high)), Wear: wear.Down}}))
}

// TestHardRings: above 1.15 (common practice, no source) times 43.5 N, the
// middle of 39 to 48 N, are 50.1 N and not 50.0 N; scrapped rings, withdrawn
// readings and other grooves are told apart, and a revised limit counts at once.
func TestHardRings(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	forceLimit(t, b, e.Model.ID, 0, "39.0", "48.0")
	forceLimit(t, b, e.Model.ID, 3, "60.0", "70.0")
	ring := func(serial string, groove int) int64 {
		return must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Ring, Serial: serial, Source: "new", Groove: groove, ModelID: e.Model.ID}))
	}
	hard := func() []string {
		t.Helper()
		var names []string
		for _, r := range must[[]HardRing](t)(b.HardRings(ctx)) {
			names = append(names, must[Part](t)(b.Part(ctx, r.Part)).Serial)
		}
		return names
	}
	want := func(what string, names ...string) {
		t.Helper()
		if got := hard(); !slices.Equal(got, names) {
			t.Errorf("%s: %q, want %q", what, got, names)
		}
	}
	want("nothing measured")
	fitted := addFitted(t, b, Part{Kind: wear.Ring, Serial: "FITTED", ModelID: e.Model.ID}, Place{Engine: e.ID, Position: 4, Groove: 1})
	over, on, third, gone, wrong, across := ring("OVER", 1), ring("ON", 2), ring("THIRD", 3), ring("GONE", 1), ring("WRONG", 1), ring("ACROSS", 1)
	for id, force := range map[int64]string{over: "50.1", on: "50.0", third: "74.0", gone: "90.0", wrong: "80.0"} {
		pull(t, b, id, "2026-02-01", "tangential force", force)
	}
	must[int64](t)(b.SaveSheet(ctx, NewSheet{Sheet: Sheet{Day: "2026-02-01", Engine: e.ID, Position: 4}, Shows: ptr(wear.Hours(10_000)), Readings: []NewReading{
		{Part: fitted, Feature: feature(t, b, wear.Ring, "tangential force").ID, Value: newtons(t, "70.0"), Typed: "70.0", Unit: wear.Newton, Resolution: 100_000}}}))
	pull(t, b, across, "2026-02-01", "diametral force", "150")
	ok(t, b.ScrapPart(ctx, gone, "2026-03-01", "presses too hard"))
	want("measured", "WRONG", "FITTED", "OVER")
	rs := must[[]Reading](t)(b.ReadingsOf(ctx, wrong))
	ok(t, b.CorrectReading(ctx, rs[0].ID, newtons(t, "40.0"), "40.0", "R. Moss", "misread"))
	want("a reading corrected", "FITTED", "OVER")
	pull(t, b, over, "2026-03-01", "tangential force", "49.0")
	want("softer when measured again", "FITTED")
	all := must[[]HardRing](t)(b.HardRings(ctx))
	if r := all[0]; r.Engine != e.ID || r.EngineNo != "R-1" || r.Position != 4 || r.AtGroove != 1 || r.Day != "2026-02-01" || r.Value != newtons(t, "70.0") || r.Times < 1.609 || r.Times > 1.6093 || r.Limit.Document != "Invented manual" {
		t.Errorf("found %+v", r)
	}
	forceLimit(t, b, e.Model.ID, 3, "39.0", "48.0")
	want("limits of groove 3 revised", "THIRD", "FITTED")
	forceLimit(t, b, e.Model.ID, 0, "60.0", "70.0")
	want("limits of the others revised", "THIRD")
	set := must[Settings](t)(b.Settings(ctx))
	set.Pressure = 1.8
	ok(t, b.SaveSettings(ctx, set))
	want("by another setting")
}

// TestHardRingsByGroups: the list goes by the groups of the feature, never
// through all runs.
func TestHardRingsByGroups(t *testing.T) {
	b, ctx := open(t), context.Background()
	for _, row := range must[[]string](t)(list(ctx, b.read, func(r scanner, s *string) error {
		var id, parent, unused int
		return r.Scan(&id, &parent, &unused, s)
	}, "EXPLAIN QUERY PLAN "+hardRingQuery, 1, 50e6)) {
		if strings.HasPrefix(row, "SCAN") {
			t.Errorf("a whole table is read: %s", row)
		}
	}
}

// TestRefitReason: a reason that comes with the refit is kept with the stay and
// the entry of a ring that was placed without one, and of no other.
func TestRefitReason(t *testing.T) {
	ctx := context.Background()
	s := newShopJob(t)
	s.move(JobPulled, 1, 2)
	s.place(1, wear.Ring, 1, "R9", "")
	s.place(1, wear.Piston, 0, "P9", "")
	s.move(JobRefitted, 1, 2)
	ok(t, s.RefitJob(ctx, s.job, fitDay, 40000, "R. Moss", "fit-1", 1<<40, Placing{Position: 1, Kind: wear.Ring, Groove: 1, Part: s.part["R9"], Despite: " a test run "},
		Placing{Position: 1, Kind: wear.Piston, Part: s.part["P1"], Despite: "of another part"}))
	if ss := s.stays("R9"); ss[0].Despite != "a test run" {
		t.Errorf("the ring went on although %q", ss[0].Despite)
	}
	if ss := s.stays("P9"); ss[0].Despite != "" {
		t.Errorf("the piston went on although %q", ss[0].Despite)
	}
	for _, p := range must[[]JobPart](t)(s.JobParts(ctx, s.job)) {
		if (p.Serial == "R9") != (p.Despite == "a test run") {
			t.Errorf("the job says of %s: %q", p.Serial, p.Despite)
		}
	}
}
