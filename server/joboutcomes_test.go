package server

import (
	"context"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// A closed job 70 h later: a reused piston that wears as before, one in the
// place of another that is beyond its limit at the first reading, a reused
// barrel that came off again, and one that nobody measured.
func TestOutcomes(t *testing.T) {
	b, ctx := openShop(t), context.Background()
	h, _ := serving(t, b.Book)
	wants(t, get(h, "/jobs/outcomes").Body.String(), "No job with a decision has been closed yet")
	other := b.shelved(t, store.Part{Kind: wear.Piston, Serial: "P-20"}, "piston skirt", "3.8664")
	decide := func(part int64, position int, what string) {
		ok(t, b.Decide(ctx, store.Decision{Job: b.job8, Part: part, Position: position, Disposition: what, Reason: "as measured", Entry: store.JobEntry{Who: "A. Smith"}}, "", 1<<40))
	}
	decide(b.pistons[1], 1, "reuse")
	decide(b.pistons[1], 1, "replace") // overrules the one before
	decide(b.pistons[2], 2, "reuse")
	decide(b.cylinders[1], 1, "reuse")
	decide(b.cylinders[2], 2, "reuse")
	decide(b.ring, 1, "scrap")
	ok(t, b.Place(ctx, b.job8, []store.Placing{{Position: 1, Kind: wear.Piston, Part: other}}, "", 1<<40))
	wants(t, get(h, href("/parts/", b.pistons[1])).Body.String(), "Decided in job 1 : replace, as measured", "reuse, as measured overruled later", "A. Smith")
	wants(t, get(h, "/jobs/outcomes").Body.String(), "No job with a decision has been closed yet") // still under way
	ok(t, b.RefitJob(ctx, b.job8, "2025-01-05", 60_000, "A. Smith", "", 1<<40))
	must[int64](t)(b.AddJobEntry(ctx, store.JobEntry{Job: b.job8, Kind: store.JobClosed, Day: "2025-01-05"}, 1<<40))
	wants(t, get(h, "/jobs/outcomes").Body.String(), "closed too recently: it has not run since", "Replaced piston P-1, P-20 in its place", "nothing is recorded as placed for it")
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-06-01", Engine: b.engine.ID, Position: 1}, Shows: ptr(wear.Hours(67_000)), Readings: []store.NewReading{b.exact(t, other, wear.Piston, "piston skirt", "3.8590")}}))
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-06-01", Engine: b.engine.ID, Position: 2}, Shows: ptr(wear.Hours(67_000)), Readings: []store.NewReading{b.exact(t, b.pistons[2], wear.Piston, "piston skirt", "3.8660")}}))
	ok(t, b.Remove(ctx, b.cylinders[1], "2025-06-02", 67_000, "low compression", false))
	must[int](t)(b.Refresh(ctx))
	os := must[[]store.Outcome](t)(b.Outcomes(ctx))
	got := map[string]store.Outcome{}
	for _, o := range os {
		got[string(o.About.Kind)+" "+o.About.Serial] = o
	}
	if len(os) != 5 {
		t.Errorf("%d outcomes, want one of each decision in force", len(os))
	}
	for name, want := range map[string]struct {
		what  string
		since wear.Hours
	}{"piston P-2": {store.OutcomeWell, 7_000}, "cylinder C-1": {store.OutcomeRemoved, 7_000}, "cylinder C-2": {store.OutcomeUnread, 7_000}, "ring K-1": {store.OutcomeNoOther, 0}} {
		if o := got[name]; o.What != want.what || o.Since != want.since {
			t.Errorf("%s: %s after %s h, want %s after %s h", name, o.What, o.Since, want.what, want.since)
		}
	}
	if o := got["piston P-1"]; o.Subject.ID != other || o.What != store.OutcomeFlagged && o.What != store.OutcomeBeyond || o.At != 7_000 {
		t.Errorf("the piston in the place of P-1: %s, %s at %s h", o.Subject.Serial, o.What, o.At)
	}
	page := get(h, "/jobs/outcomes").Body.String()
	wants(t, page, "Reused cylinder C-1", "came off again after 70.0 h: low compression", "70.0 h later not measured since the job", "after 70.0 h, piston skirt, measured 2025-06-01", "70.0 h later still", "Reuse 3 1 0 0 1 1 0 70.0 h", "5 decisions of closed jobs")
}
