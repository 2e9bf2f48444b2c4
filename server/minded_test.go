package server

import (
	"context"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// says fails where a page lacks one of the words, or has one it should not.
func says(t *testing.T, page, at string, want, never []string) {
	t.Helper()
	if !containsAll(page, want) {
		t.Errorf("%s lacks one of %q: %s", at, want, page)
	}
	for _, n := range never {
		if strings.Contains(page, n) {
			t.Errorf("%s says %q: %s", at, n, page)
		}
	}
}

// TestLeakIsMinded: a cylinder that holds 0 of 80 psi is beyond on every page
// that tells the worst of its position, until another ring is fitted there. A
// loss over 25 % of the input is suspect (FAA AC 43.13-1B chg 1, para 8-14).
func TestLeakIsMinded(t *testing.T) {
	b, ctx := fill(t), context.Background()
	h, _ := serving(t, b.Book)
	page := func(at string) string { return text(get(h, at).Body.String()) }
	engine, position := href("/engines/", b.engine.ID), href("/engines/", b.engine.ID, "/positions/3")
	head := store.LeakTest{Engine: b.engine.ID, Day: "2025-02-01", Who: "A. Smith", Regulated: 800, Orifice: wear.LargeOrifice, Unit: wear.Inch}
	must[int64](t)(b.SaveLeakTest(ctx, store.NewLeakTest{LeakTest: head, Shows: ptr(wear.Hours(61_000)), Readings: []store.NewLeakReading{{Position: 3, Reading: 0}, {Position: 6, Reading: 760}}}))
	says(t, page("/"), "fleet", []string{"beyond leak test at 1, 2 and 3", "3 beyond, leak test", "6 new"}, nil)
	says(t, page("/engines"), "engines", []string{"beyond leak test at 1, 2 and 3"}, nil)
	says(t, page(engine), "engine", []string{"beyond leak test at 1, 2 and 3", "Last leak test 2025-02-01, beyond: 3"}, []string{"position 3, 6"})
	says(t, page(position), "position", []string{"Leak test 0 of 80 psi through 0.060 in, 2025-02-01: beyond"}, nil)
	says(t, page("/findings"), "findings", []string{"Leak tests beyond the rule", "Cylinder C-3 leak test", "Held 0 of 80 psi through 0.060 in.", "loss 100.0 %"}, []string{"Cylinder C-6 leak test"})
	ring := must[int64](t)(b.AddPart(ctx, store.Part{Kind: wear.Ring, Serial: "K-30", Groove: 1, Source: "new"}))
	ok(t, b.Install(ctx, ring, store.Place{Engine: b.engine.ID, Position: 3, Groove: 1}, "2025-03-01", 61_500))
	says(t, page(engine), "engine with a new ring", []string{"2025-02-01, beyond: 3"}, []string{"leak test at 1, 2 and 3"})
	says(t, page(position), "position with a new ring", nil, []string{"0 of 80 psi"})
	says(t, page("/findings"), "findings with a new ring", nil, []string{"Cylinder C-3 leak test"})
}

// TestLeakAfterJob: once a cylinder was off and on again, the test before tells
// nothing of it any more.
func TestLeakAfterJob(t *testing.T) {
	b, ctx := fill(t), context.Background()
	head := store.LeakTest{Engine: b.engine.ID, Day: "2025-01-01", Regulated: 800, Orifice: wear.LargeOrifice, Unit: wear.Inch}
	must[int64](t)(b.SaveLeakTest(ctx, store.NewLeakTest{LeakTest: head, Shows: ptr(wear.Hours(60_000)), Readings: []store.NewLeakReading{{Position: 4, Reading: 100}}}))
	here := func() (found bool) {
		for _, r := range must[[]store.LeakReading](t)(b.LeaksNow(ctx, []int64{b.engine.ID})) {
			found = found || r.Position == 4
		}
		return found
	}
	if !here() {
		t.Error("the test of a cylinder that is off does not count")
	}
	must[int64](t)(b.AddJobEntry(ctx, store.JobEntry{Job: b.job, Kind: store.JobRefitted, Position: 4}, 1<<40))
	if here() {
		t.Error("a test counts that was made before the cylinder was off")
	}
}

// TestFitIsMinded: a ring and its groove have no limits of their own, their fit
// of 0.0129L is beyond 0.0110L (US Army TM 9-2815-220-34 table 3-11, ring 2):
// the position is beyond on engine page and bench, and they say it is the fit.
func TestFitIsMinded(t *testing.T) {
	b, ctx := fill(t), context.Background()
	ok(t, b.AddLimit(ctx, store.LimitRow{Model: b.engine.Model.ID, Feature: b.feature(t, wear.Piston, "side clearance").ID, Groove: 2, Unit: wear.Inch, Document: "TM 9-2815-220-34",
		Limit: wear.Limit{NewMin: ptr(inches(t, "0.0055")), NewMax: ptr(inches(t, "0.0075")), ServiceMax: ptr(inches(t, "0.0110")), Wear: wear.Up}}))
	piston := b.fitted(t, store.Part{Kind: wear.Piston, Serial: "P-2"}, store.Place{Engine: b.engine.ID, Position: 2})
	ring := b.fitted(t, store.Part{Kind: wear.Ring, Serial: "K-2"}, store.Place{Engine: b.engine.ID, Position: 2, Groove: 2})
	groove := b.number(t, piston, wear.Piston, "groove width", "0.0900")
	groove.Groove = 2
	b.save(t, "2025-03-01", 70_000, 2, groove, b.number(t, ring, wear.Ring, "axial width", "0.0771"))
	job := must[int64](t)(b.OpenJob(ctx, store.NewJob{Job: store.Job{Engine: b.engine.ID, Why: "oil use", Day: "2025-03-02", Stands: 2}, Shows: ptr(wear.Hours(70_000)), Positions: []int{2}}))
	h, _ := serving(t, b.Book)
	for _, at := range []string{href("/engines/", b.engine.ID), href("/jobs/", job, "/bench")} {
		says(t, text(get(h, at).Body.String()), at, []string{"leak test; fit of ring in groove 2"}, nil)
	}
}
