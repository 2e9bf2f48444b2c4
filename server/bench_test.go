package server

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// openBench opens a job on positions 1 and 9 of the filled book's engine, with
// cylinder 1 off, a step ticked at it, and a photograph.
func (b *filled) openBench(t testing.TB) {
	t.Helper()
	ctx := context.Background()
	shows := wear.Hours(60_000)
	b.benchJob = must[int64](t)(b.OpenJob(ctx, store.NewJob{Job: store.Job{Engine: b.engine.ID, Why: "oil use", Day: "2025-01-02", Stands: 1, Who: "R. Moss"}, Shows: &shows, Positions: []int{1, 9}, Steps: []store.JobStep{
		{Phase: "removal", Text: "magnetos <off>", Caution: "a live propeller"}, {Phase: "removal", Text: "plugs out", Each: true}, {Phase: "refit", Text: "nuts drawn down", Torque: "per page 7", Wrench: "W-2", Each: true}}}))
	must[int64](t)(b.AddJobEntry(ctx, store.JobEntry{Job: b.benchJob, Kind: store.JobPulled, Position: 1}, 1<<40))
	step := must[[]store.JobStep](t)(b.JobSteps(ctx, b.benchJob))[1].ID
	ok(t, b.TickSteps(ctx, b.benchJob, []store.Tick{{StepAt: store.StepAt{Step: step, Position: 1}, Text: "no thread damaged"}}, "A. Smith", "tick-1", 1<<40))
	es := must[[]store.JobEntry](t)(b.JobEntries(ctx, b.benchJob))
	b.tick = es[len(es)-1].ID
	p := must[store.NewPhoto](t)(readPhoto(encoded(t, stripes(40, 20), "jpeg")))
	p.Job, p.Position, p.Part, p.Note, p.Day = b.benchJob, 1, b.piston, "scored skirt", "2025-01-02"
	ok(t, b.AddPhotos(ctx, []store.NewPhoto{p}))
	b.photo = must[[]store.Photo](t)(b.PhotosOfJob(ctx, b.benchJob, 1))[0].ID
}

func (b *filled) benchPages() []ask {
	job, n := fmt.Sprintf("/jobs/%d", b.benchJob), fmt.Sprint
	return []ask{
		{job + "/bench", 200, 404, []string{"oil use", "Position 1", "C-9", "still on", "Take cylinder 9 off", "0 of 8", "0 of 4"}},
		{job + "/bench/1", 200, 404, []string{"C-1", "P-1", "K-1", "N-1", "5.2510, 2025-01-01", "Still to be measured", "barrel bore (6 of 6)", "side clearance", "scored skirt", "capture=", "back=%2Fjobs%2F"}},
		{job + "/bench/9", 200, 404, []string{"C-9", "Take cylinder 9 off", "flagged"}},
		{job + "/bench/2", 404, 404, nil},
		{job + "/bench/x", 404, 404, nil},
		{"/jobs/999/bench", 404, 404, nil},
		{job + "/bench/1/photos", 200, 404, []string{"scored skirt", "piston P-1", "15 MB"}},
		{"/photos/" + n(b.photo), 200, 404, nil},
		{"/photos/" + n(b.photo) + "/small", 200, 404, nil},
		{"/photos/" + n(b.photo) + "/strike", 200, 404, []string{"scored skirt"}},
		{"/photos/999", 404, 404, nil},
		{"/photos/999/small", 404, 404, nil},
		{fmt.Sprintf("/parts/%d/photos", b.piston), 200, 404, []string{"scored skirt"}},
		{fmt.Sprintf("/parts/%d", b.piston), 200, 404, []string{"Photographs", "scored skirt", fmt.Sprintf("/photos/%d/small", b.photo)}},
		{job + "/steps", 200, 404, []string{"1 of 5 steps done, 4 open", "magnetos &lt;off&gt;", "a live propeller", "A. Smith", "no thread damaged", "per page 7", "W-2"}},
		{job + "/steps?at=9", 200, 404, []string{"plugs out", "0 of 1 done"}},
		{job + "/steps?at=job", 200, 404, []string{"magnetos"}},
		{job + "/steps?at=nowhere", 200, 404, []string{"magnetos"}},
		{job + "/steps/" + n(b.tick) + "/undo", 200, 404, []string{"plugs out", "no thread damaged"}},
		{job + "/steps/999/undo", 404, 404, nil},
		{fmt.Sprintf("/models/%d/checklist", b.engine.Model.ID), 200, 404, []string{"Invented 9", "comes with the program", "manual prevails"}},
		{"/models/999/checklist", 404, 404, nil},
	}
}

// hidden is the value of a hidden field of the n-th form that has it.
func hidden(t testing.TB, page, name string, n int) string {
	t.Helper()
	found := regexp.MustCompile(`name="`+name+`" value="([^"]*)"`).FindAllStringSubmatch(page, -1)
	if len(found) <= n {
		t.Fatalf("the page has %d fields %s", len(found), name)
	}
	return found[n][1]
}

// TestStepForms ticks steps, sends the form again, comes too late with one,
// and takes one back.
func TestStepForms(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	h, logged := serving(t, b.Book)
	path := fmt.Sprintf("/jobs/%d/steps", b.benchJob)
	steps := must[[]store.JobStep](t)(b.JobSteps(context.Background(), b.benchJob))
	page := get(h, path).Body.String()
	uid, after := hidden(t, page, "uid", 0), hidden(t, page, "after", 0)
	tick := func(uid string, more ...string) url.Values {
		return formOf(append([]string{"uid=" + uid, "after=" + after, "phase=removal"}, more...)...)
	}
	first, plugs := fmt.Sprintf("done-%d-0=yes", steps[0].ID), fmt.Sprintf("done-%d-9=yes", steps[1].ID)
	check(t, "nothing ticked", post(h, path, tick(uid, "who-removal=B. Typed")), 422, []string{"Nothing is ticked", "B. Typed"}, nil)
	for range 2 {
		if w := post(h, path, tick(uid, first, plugs, fmt.Sprintf("value-%d=wrench <3>", steps[1].ID), "who-removal=B. Jones")); w.Code != 303 {
			t.Fatalf("status %d: %v", w.Code, messages(w.Body.String()))
		}
	}
	check(t, "the steps", get(h, path), 200, []string{"3 of 5 steps done, 2 open", "B. Jones", "wrench &lt;3&gt;"}, []string{"<3>"})
	w := post(h, path, tick("late", plugs, fmt.Sprintf("value-%d=wrench 4", steps[1].ID)))
	check(t, "too late", w, 409, []string{"somebody else saved this", "done: wrench &lt;3&gt;", "done: wrench 4", "B. Jones", `value="wrench 4"`, "checked"}, nil)
	again := tick(hidden(t, w.Body.String(), "uid", 0), plugs, fmt.Sprintf("value-%d=wrench 4", steps[1].ID))
	again.Set("after", hidden(t, w.Body.String(), "after", 0))
	if w := post(h, path, again); w.Code != 303 {
		t.Errorf("sent again: %d", w.Code)
	}
	check(t, "both stand", get(h, path), 200, []string{"3 of 5 steps done", "wrench &lt;3&gt;", "wrench 4"}, nil)

	undo := fmt.Sprintf("%s/%d/undo", path, b.tick)
	form := get(h, undo).Body.String()
	values := formOf("uid="+hidden(t, form, "uid", 0), "after="+hidden(t, form, "after", 0), "reason=", "who=C. Typed")
	check(t, "without a reason", post(h, undo, values), 422, []string{"say why it is taken back", "C. Typed"}, nil)
	values.Set("reason", "wrong <cylinder>")
	if w := post(h, undo, values); w.Code != 303 {
		t.Fatalf("taken back: %d %v", w.Code, messages(w.Body.String()))
	}
	check(t, "taken back", get(h, path), 200, []string{"2 of 5 steps done, 3 open", "taken back: C. Typed", "wrong &lt;cylinder&gt;", "no thread damaged"}, nil)
	values.Set("uid", "another")
	check(t, "taken back by two", post(h, undo, values), 409, []string{"somebody else saved this"}, nil)
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

// TestChecklistForm moves, adds and removes lines without saving, then saves,
// and comes too late once.
func TestChecklistForm(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	h, _ := serving(t, b.Book)
	path := fmt.Sprintf("/models/%d/checklist", b.engine.Model.ID)
	list := func(more ...string) url.Values {
		v := formOf("after=0", "lines=3", "phase-0=removal", "text-0=typed one", "phase-1=removal", "text-1=typed two", "caution-1=typed caution", "torque-1=typed torque", "wrench-1=W-9", "each-1=yes", "phase-2=after", "text-2=typed run", "who=D. Typed")
		for name, value := range formOf(more...) {
			v[name] = value
		}
		return v
	}
	order := func(page string) []string {
		var texts []string
		for _, m := range regexp.MustCompile(`name="text-\d+"[^>]*value="([^"]*)"`).FindAllStringSubmatch(page, -1) {
			texts = append(texts, m[1])
		}
		return texts
	}
	for _, c := range []struct {
		do   string
		want []string
	}{
		{"up-1", []string{"typed two", "typed one", "typed run"}}, {"down-0", []string{"typed two", "typed one", "typed run"}}, {"up-0", []string{"typed one", "typed two", "typed run"}},
		{"down-1", []string{"typed one", "typed two", "typed run"}}, {"remove-1", []string{"typed one", "typed run"}}, {"add-refit", []string{"typed one", "typed two", "", "typed run"}},
		{"add-removal", []string{"typed one", "typed two", "", "typed run"}}, {"up-x", []string{"typed one", "typed two", "typed run"}}, {"add-lunch", []string{"typed one", "typed two", "typed run"}},
	} {
		w := post(h, path, list("do="+c.do))
		check(t, c.do, w, 200, []string{"D. Typed"}, nil)
		if got := order(w.Body.String()); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.do, got, c.want)
		}
	}
	check(t, "a line without text", post(h, path, list("text-1=")), 422, []string{"or remove the line", "typed caution", "typed torque", `value="W-9"`, `id="f-text-1-error"`}, nil)
	check(t, "no lines", post(h, path, formOf("after=0", "lines=0", "who=D. Typed")), 422, []string{"no line left", "D. Typed"}, nil)
	for range 2 {
		if w := post(h, path, list()); w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %v", w.Code, messages(w.Body.String()))
		}
	}
	check(t, "saved", get(h, path), 200, []string{"Version 1 of this shop", "D. Typed", `value="typed two"`, "comes with the program"}, nil)
	w := post(h, path, list("text-0=other words"))
	check(t, "too late", w, 409, []string{"saved another version", `value="other words"`, "typed one"}, nil)
	late := list("text-0=other words")
	late.Set("after", hidden(t, w.Body.String(), "after", 0))
	if w := post(h, path, late); w.Code != http.StatusSeeOther {
		t.Errorf("sent again: %d", w.Code)
	}
	check(t, "two versions", get(h, path), 200, []string{"Version 2 of this shop", `value="other words"`, "typed one"}, nil)
	steps := must[[]store.JobStep](t)(New(b.Book, nil).checklistOf(context.Background(), b.engine.Model.ID))
	if len(steps) != 3 || steps[0].Text != "other words" || !steps[1].Each {
		t.Errorf("a job opened now gets %+v", steps)
	}
	check(t, "an open job keeps its list", get(h, fmt.Sprintf("/jobs/%d/steps", b.benchJob)), 200, []string{"plugs out"}, []string{"other words"})
}

// TestBackToTheBench: a sheet and work that were opened from the bench lead
// back there, and to no other site.
func TestBackToTheBench(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	h, _ := serving(t, b.Book)
	bench := fmt.Sprintf("/jobs/%d/bench/1", b.benchJob)
	measure := fmt.Sprintf("/measure/engine/%d/1", b.engine.ID)
	bore := fmt.Sprintf("v-%d-%d-0-", b.cylinders[0], b.boreID)
	sheet := func(uid, back string) string {
		return post(h, measure, formOf("uid="+uid, "back="+back, "day=2025-01-03", "hours=600", "unit=in", "mode=full", bore+"0-0=5.2512", bore+"0-1=5.2513")).Header().Get("Location")
	}
	page := get(h, measure+"?back="+url.QueryEscape(bench))
	check(t, "the sheet", page, 200, []string{`name="back" value="` + bench + `"`, `value="600.0"`}, nil)
	for i, evil := range []string{"https://elsewhere.example/", "//elsewhere.example", `/\elsewhere.example`, "/\telsewhere", "elsewhere", "javascript:alert(1)", "/ x"} {
		if to := sheet(fmt.Sprint("evil-", i), evil); !strings.HasPrefix(to, "/sheets/") {
			t.Errorf("back=%q leads to %q", evil, to)
		}
		check(t, evil, get(h, measure+"?back="+url.QueryEscape(evil)), 200, []string{`name="back" value=""`}, []string{`href="https://elsewhere`, "javascript:"})
	}
	if to := sheet("good", bench); to != bench {
		t.Errorf("a sheet leads to %q", to)
	}
	check(t, "the bench", get(h, bench), 200, []string{"5.2513 in", "barrel bore (4 of 6)", "4 of 6 still to be measured", "2 of 8", "serviceable"}, nil)
	check(t, "all positions", get(h, fmt.Sprintf("/jobs/%d/bench", b.benchJob)), 200, []string{"2 of 8"}, nil)
	events := fmt.Sprintf("/parts/%d/events", b.cylinders[0])
	check(t, "work", get(h, events+"?back="+url.QueryEscape(bench)), 200, []string{"Back to the bench"}, nil)
	after := fmt.Sprint("after=", must[[]store.Reading](t)(b.ReadingsOf(context.Background(), b.cylinders[0]))[0].Sheet.ID)
	if to := post(h, events, formOf("event=honed", "day=2025-01-03", after, "back="+bench)).Header().Get("Location"); to != bench {
		t.Errorf("work leads to %q", to)
	}
	check(t, "measured before it was honed", get(h, bench), 200, []string{"Work done:", "honed, 2025-01-03", "barrel bore (6 of 6)", "0 of 8"}, nil)
}

// TestBenchGoesOn: the next step follows from what is done.
func TestBenchGoesOn(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	ctx := context.Background()
	h, _ := serving(t, b.Book)
	next := func() string {
		m := regexp.MustCompile(`class="sentence"><a class="button primary" href="([^"?]*)[^>]*>([^<]*)<`).FindStringSubmatch(get(h, fmt.Sprintf("/jobs/%d/bench/1", b.benchJob)).Body.String())
		if m == nil {
			return ""
		}
		return m[2] + " " + m[1]
	}
	if got, want := next(), fmt.Sprintf("Measure position 1 /measure/engine/%d/1", b.engine.ID); got != want {
		t.Errorf("at first: %q, want %q", got, want)
	}
	var rs []store.NewReading
	for _, station := range []string{"top", "middle", "bottom"} {
		for _, axis := range []string{"thrust", "pin"} {
			r := b.number(t, b.cylinders[0], wear.Cylinder, "barrel bore", "5.2513")
			r.Station, r.Axis = station, axis
			rs = append(rs, r)
		}
	}
	groove := b.number(t, b.piston, wear.Piston, "side clearance", "0.0040")
	groove.Groove = 2
	b.save(t, "2025-01-03", 60_000, 1, append(rs, groove, b.number(t, b.pin, wear.Pin, "pin diameter", "1.1248"))...)
	if got, want := next(), fmt.Sprintf("Decide on cylinder C-1 /jobs/%d/decide/%d", b.benchJob, b.cylinders[0]); got != want {
		t.Errorf("measured: %q, want %q", got, want)
	}
	for _, part := range []int64{b.cylinders[0], b.piston, b.ring, b.pin} {
		ok(t, b.Decide(ctx, store.Decision{Job: b.benchJob, Part: part, Position: 1, Disposition: "reuse", Reason: "inside limits"}, "", 1<<40))
	}
	if got, want := next(), fmt.Sprintf("Go on with position 9 /jobs/%d/bench/9", b.benchJob); got != want {
		t.Errorf("decided: %q, want %q", got, want)
	}
	check(t, "decided", get(h, fmt.Sprintf("/jobs/%d/bench/1", b.benchJob)), 200, []string{"reuse: inside limits", "8 of 8", "4 of 4"}, []string{"Not decided yet"})
	must[int64](t)(b.AddJobEntry(ctx, store.JobEntry{Job: b.benchJob, Kind: store.JobGivenUp, Day: "2025-01-04"}, 1<<40))
	check(t, "a job that ended", get(h, fmt.Sprintf("/jobs/%d/bench/1", b.benchJob)), 200, []string{"C-1", "5.2513 in", "given up on 2025-01-04"}, []string{"Next step", "Add photographs", "/decide/"})
	check(t, "its steps", get(h, fmt.Sprintf("/jobs/%d/steps", b.benchJob)), 200, []string{"plugs out", "disabled"}, []string{"Save what is ticked", "Take back"})
}
