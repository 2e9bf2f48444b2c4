package server

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"barrelbook/store"
	"barrelbook/wear"
)

// topOverhaul is a job on every cylinder of a nine-cylinder radial whose
// master rod is in cylinder 5; all are off where off is set.
func topOverhaul(t *testing.T, off bool) (h http.Handler, b *store.Book, engine, job int64) {
	t.Helper()
	b = emptyBook(t)
	ctx := t.Context()
	engine = must[int64](t)(b.AddEngine(ctx, store.NewEngine{Serial: "T-1", Model: "Nine", Arrangement: "radial", Cylinders: 9, MasterRod: 5, Day: "2026-01-10", Shows: 10_000}))
	job = must[int64](t)(b.OpenJob(ctx, store.NewJob{Job: store.Job{Engine: engine, Why: "top overhaul", Day: "2026-01-10", Stands: 1}, Shows: ptr(wear.Hours(10_000)), Positions: []int{1, 2, 3, 4, 5, 6, 7, 8, 9}}))
	if off {
		for _, p := range []int{1, 2, 3, 4, 6, 7, 8, 9, 5} {
			must[int64](t)(b.AddJobEntry(ctx, store.JobEntry{Job: job, Kind: store.JobPulled, Position: p}, 1<<40))
		}
	}
	h, _ = serving(t, b)
	return h, b, engine, job
}

// A step against the order is refused with its reason, and taken with a reason
// of the person's own, which is kept.
func TestStepAgainstTheOrder(t *testing.T) {
	h, b, _, job := topOverhaul(t, false)
	entries := fmt.Sprintf("/jobs/%d/entries", job)
	w := post(h, entries, formOf("uid=a", "kind=pulled", "position=5", "after=99"))
	check(t, "the master first", w, 422, []string{"Refused: cylinder 5 is off", "comes off last", `name="despite"`, `value="a"`}, []string{"Do not turn the crankshaft"})
	w = post(h, entries, formOf("uid=a", "kind=pulled", "position=5", "after=99", "despite=rod in the maker's fixture"))
	check(t, "with a reason", w, 303, nil, nil)
	check(t, "the job", get(h, fmt.Sprintf("/jobs/%d", job)), 200, []string{"rod in the maker&#39;s fixture", "Do not turn the crankshaft"}, nil)
	es := must[[]store.JobEntry](t)(b.JobEntries(t.Context(), job))
	if last := es[len(es)-1]; last.UID != "a" || last.Despite != "rod in the maker's fixture" {
		t.Errorf("kept is %+v", last)
	}
}

// While the master-rod cylinder is off, every page of the engine says so, and
// a leak test is refused.
func TestHaltOnEveryPageOfTheEngine(t *testing.T) {
	h, _, engine, job := topOverhaul(t, true)
	e := fmt.Sprintf("/engines/%d", engine)
	for _, path := range []string{e, e + "/edit", e + "/meter", e + "/crank", e + "/match", e + "/leak", e + "/leak/new", e + "/positions/3", e + "/jobs/new", fmt.Sprintf("/measure/engine/%d/2", engine), fmt.Sprintf("/jobs/%d", job)} {
		check(t, path, get(h, path), 200, []string{"Do not turn the crankshaft", "Master-rod cylinder 5 of engine T-1 is off."}, nil)
	}
	check(t, "another page", get(h, "/parts"), 200, nil, []string{"Do not turn"})
	w := post(h, e+"/leak/new", formOf("uid=l", "day=2026-01-11", "hours=100", "regulated=80", "orifice=0.060", "psi-2=55"))
	check(t, "a leak test", w, 422, []string{"a leak test turns the crankshaft: refused", `value="55"`}, nil)
	w = post(h, fmt.Sprintf("/jobs/%d/entries", job), formOf("uid=t", "kind=turned", "position=3", "after=99"))
	check(t, "the crank turned", w, 422, []string{"Refused: crank turned to top dead centre of 3", "the crank is not turned"}, nil)
}

// So does every page of what belongs to the engine; those of a part on the
// shelf do not.
func TestHaltOnEveryPageOfItsParts(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	for _, kind := range []string{store.JobAdded, store.JobPulled} {
		must[int64](t)(b.AddJobEntry(t.Context(), store.JobEntry{Job: b.benchJob, Kind: kind, Position: 5, Despite: "it is in the way"}, 1<<40))
	}
	h, _ := serving(t, b.Book)
	for _, path := range []string{fmt.Sprint("/parts/", b.piston), fmt.Sprint("/measure/part/", b.piston), fmt.Sprint("/sheets/", b.sheet), fmt.Sprint("/leaktests/", b.leak), fmt.Sprintf("/photos/%d/strike", b.photo)} {
		check(t, path, get(h, path), 200, []string{"Master-rod cylinder 5 of engine R-1 is off."}, nil)
	}
	check(t, "a part on the shelf", get(h, fmt.Sprint("/parts/", b.shelf)), 200, nil, []string{"Do not turn"})
}

// Two people on one job: what the other saved about the same cylinder is shown
// beside one's own form.
func TestTwoPeopleOnOneJob(t *testing.T) {
	h, b, _, job := topOverhaul(t, false)
	entries := fmt.Sprintf("/jobs/%d/entries", job)
	es := must[[]store.JobEntry](t)(b.JobEntries(t.Context(), job))
	after := fmt.Sprint("after=", es[len(es)-1].ID)
	if w := post(h, entries, formOf("uid=a", "kind=pulled", "position=2", after)); w.Code != 303 {
		t.Fatalf("first: %d", w.Code)
	}
	if w := post(h, entries, formOf("uid=b", "kind=pulled", "position=3", after)); w.Code != 303 {
		t.Errorf("another cylinder from an older page: %d", w.Code)
	}
	w := post(h, entries, formOf("uid=c", "kind=left on", "position=2", after))
	check(t, "the same cylinder", w, 409, []string{"somebody else saved this in the meantime", "cylinder 2 stays on after all"}, nil)
	if w := post(h, entries, formOf("uid=a", "kind=pulled", "position=2", after)); w.Code != 303 {
		t.Errorf("sent twice: %d", w.Code)
	}
	es = must[[]store.JobEntry](t)(b.JobEntries(t.Context(), job))
	pulled := 0
	for _, e := range es {
		if e.Kind == store.JobPulled {
			pulled++
		}
	}
	if pulled != 2 {
		t.Errorf("%d cylinders recorded as off, want 2", pulled)
	}
}

// The maker's order, where the shop typed one, is the one proposed; a flat
// engine has no other.
func TestMakersOrder(t *testing.T) {
	b := emptyBook(t)
	ctx := t.Context()
	engine := must[int64](t)(b.AddEngine(ctx, store.NewEngine{Serial: "F-1", Model: "Flat four", Arrangement: "flat", Cylinders: 4, Day: "2026-01-10", Shows: 10_000}))
	job := must[int64](t)(b.OpenJob(ctx, store.NewJob{Job: store.Job{Engine: engine, Why: "oil use", Day: "2026-01-10", Stands: 1}, Shows: ptr(wear.Hours(10_000)), Positions: []int{1, 2, 3, 4}}))
	h, _ := serving(t, b)
	page := fmt.Sprintf("/jobs/%d", job)
	check(t, "no order typed", get(h, page), 200, []string{"no order can be proposed", "Type the maker&#39;s order"}, nil)
	e := must[store.Engine](t)(b.Engine(ctx, engine))
	if w := post(h, fmt.Sprintf("/models/%d/turning", e.Model.ID), formOf("rows=1", "firing=1,4,2,3", "order_off=4,2,3,1", "order_on=1,3,2,4")); w.Code != 303 {
		t.Fatalf("order: %d", w.Code)
	}
	w := get(h, page)
	check(t, "typed", w, 200, []string{"The maker&#39;s order, as the shop typed it", "Cylinder 4 off.", "Turn the crank 180.0° forward, to 180.0°"}, []string{"no order can be proposed"})
	text, last := w.Body.String(), -1
	for _, n := range []string{"4", "2", "3", "1"} {
		at := strings.Index(text[strings.Index(text, "job-lines"):], "<b>Cylinder "+n+"</b>")
		if at < last {
			t.Errorf("cylinder %s stands before its turn", n)
		}
		last = at
	}
}

// Pages tell moments by the clock on the wall; a record tells them in UTC.
func TestMomentsByTheClockOnTheWall(t *testing.T) {
	here := time.Local
	t.Cleanup(func() { time.Local = here })
	time.Local = time.FixedZone("", -8*3600)
	const moment = "2026-01-11T03:04:05.678Z"
	if got, want := []string{when(moment), day(moment), utcDay(moment), when("no moment"), day("")}, []string{"2026-01-10 19:04", "2026-01-10", "2026-01-11", "no moment", ""}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// Out of reach an open job has its engine and that engine's leak test too,
// though nothing of it was measured yet.
func TestOpenJobAway(t *testing.T) {
	b, ctx := fill(t), t.Context()
	engine := must[int64](t)(b.AddEngine(ctx, store.NewEngine{Serial: "R-new", Model: "Invented 9", Arrangement: "radial", Cylinders: 9, Day: "2026-01-10", Shows: 10_000}))
	job := must[int64](t)(b.OpenJob(ctx, store.NewJob{Job: store.Job{Engine: engine, Why: "oil use", Day: "2026-01-11", Stands: 1, Who: "A. Smith"}, Shows: ptr(wear.Hours(10_000)), Positions: []int{3}}))
	h, _ := serving(t, b.Book)
	list := get(h, "/offline.json").Body.String()
	for _, path := range []string{href("/engines/", engine), href("/engines/", engine, "/leak/new"), href("/measure/engine/", engine, "/3"), href("/jobs/", job, "/bench/3")} {
		if !strings.Contains(list, `"`+path+`"`) {
			t.Errorf("%s is not kept: %s", path, list)
		}
	}
}
