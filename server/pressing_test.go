package server

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// limitForce types the new limits of rings: 39 to 48 N and 0.0930 to 0.0940
// in, invented.
func (b *filled) limitForce(t testing.TB) {
	t.Helper()
	newton := func(s string) *wear.Value {
		return ptr(must[wear.Value](t)(wear.ParseValue(s, wear.Newton)))
	}
	for _, l := range []store.LimitRow{
		{Feature: b.feature(t, wear.Ring, "tangential force").ID, Unit: wear.Newton, Limit: wear.Limit{NewMin: newton("39.0"), NewMax: newton("48.0"), Wear: wear.Down}},
		{Feature: b.feature(t, wear.Ring, "axial width").ID, Unit: wear.Inch, Limit: wear.Limit{NewMin: ptr(inches(t, "0.0930")), NewMax: ptr(inches(t, "0.0940")), Wear: wear.Down}}} {
		l.Model, l.Document, l.Page = b.engine.Model.ID, "Invented manual of rings", "18"
		ok(t, b.AddLimit(context.Background(), l))
	}
}

// warned is what is said of a ring of 70 N: 70 / 43.5 is 1.609.
var warned = []string{"resses 1.609 ±", "times as hard as the maker&#39;s new ring", "Expect it to wear the barrel and the piston fast"}

// TestHardRingBeforeFitting: a ring that presses 1.6 times as hard as the
// maker's new one is refused until a reason is given, which stays with it; one
// within the shop's 1.15 (common practice, no source) is not.
func TestHardRingBeforeFitting(t *testing.T) {
	b, ctx := fill(t), context.Background()
	b.limitForce(t)
	hard, soft, bare := b.aRing(t, store.Part{Serial: "K-70", Groove: 1}, "tangential force=70.0 N"), b.aRing(t, store.Part{Serial: "K-45", Groove: 1}, "tangential force=45.0 N"), b.aRing(t, store.Part{Serial: "K-0", Groove: 1})
	h, logged := serving(t, b.Book)
	compare := fmt.Sprintf(`href="/parts/%d/compare?with=maker"`, hard)
	install := func(ring int64, position int, more ...string) ([]string, string) {
		return append([]string{"engine=R-1", fmt.Sprint("position=", position), "groove=1", "day=2025-02-01", "hours=620"}, more...), href("/parts/", ring, "/install")
	}
	check(t, "the form", get(h, href("/parts/", hard, "/install")), 200, append(warned, compare), []string{"f-despite"})
	check(t, "the form of one not measured", get(h, href("/parts/", bare, "/install")), 200, []string{"Its force was not measured: compare it before fitting", fmt.Sprintf(`href="/parts/%d/compare?with=maker"`, bare)}, []string{"resses"})
	check(t, "the form of a soft one", get(h, href("/parts/", soft, "/install")), 200, nil, []string{"resses", "not measured"})
	values, path := install(hard, 2)
	check(t, "hard", post(h, path, formOf(values...)), 422, append(warned, compare, `id="f-despite-error"`, "ring K-70: presses", `value="620"`), nil)
	if len(must[[]store.Stay](t)(b.StaysOf(ctx, hard))) != 0 {
		t.Fatal("the ring was fitted")
	}
	stack, at := []string{"day=2025-02-01", "hours=620", "serial-ring-1=K-70", "from-piston=new", "serial-piston=P-2"}, href("/engines/", b.engine.ID, "/positions/2")
	check(t, "in a stack", post(h, at+"/install", formOf(stack...)), 422, append(warned, compare, `id="f-despite-error"`, `value="K-70"`, `value="P-2"`), nil)
	check(t, "in a stack with a reason", post(h, at+"/install", formOf(append(stack, "despite=only one at hand")...)), 303, nil, nil)
	for _, p := range []store.Part{{Kind: wear.Ring, Serial: "K-70"}, {Kind: wear.Piston, Serial: "P-2"}} {
		part := must[[]store.Part](t)(b.PartsNamed(ctx, p.Kind, p.Serial))[0]
		if ss := must[[]store.Stay](t)(b.StaysOf(ctx, part.ID)); (ss[0].Despite == "only one at hand") != (p.Kind == wear.Ring) {
			t.Errorf("%s: fitted although %q", p.Serial, ss[0].Despite)
		}
	}
	check(t, "the position", get(h, at), 200, append(warned, compare, "Fitted although a ring&#39;s facing or pressure speaks against it: only one at hand"), nil)
	values, path = install(soft, 3)
	check(t, "soft", post(h, path, formOf(values...)), 303, nil, nil)
	check(t, "the position of the soft one", get(h, href("/engines/", b.engine.ID, "/positions/3")), 200, []string{"K-45"}, []string{"resses"})
	values, path = install(bare, 6)
	w := post(h, path, formOf(values...))
	r := httptest.NewRequest(http.MethodGet, "http://localhost:8440"+w.Header().Get("Location"), nil)
	for _, c := range w.Result().Cookies() {
		r.AddCookie(c)
	}
	after := httptest.NewRecorder()
	h.ServeHTTP(after, r)
	check(t, "not measured", after, 200, []string{"The force of ring K-0 was not measured: compare it before it runs."}, nil)
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

// TestHardRingAndFacing: one reason for both, and both are said.
func TestHardRingAndFacing(t *testing.T) {
	b := fill(t)
	b.limitForce(t)
	ok(t, b.AddFacing(context.Background(), store.FacingEntry{Facing: "moly", Surface: "nitrided", Says: store.FacingNotAllowed, Document: "Invented list, p. 3"}))
	ring := b.aRing(t, store.Part{Serial: "K-70", Groove: 1, Facing: "moly <b>"}, "tangential force=70.0 N", "axial width=0.0935 in")
	both := b.aRing(t, store.Part{Serial: "K-71", Groove: 1, Facing: "moly"}, "tangential force=70.0 N", "axial width=0.0935 in")
	h, _ := serving(t, b.Book)
	values := []string{"engine=R-1", "position=2", "groove=1", "day=2025-02-01", "hours=620"}
	w := post(h, href("/parts/", both, "/install"), formOf(values...))
	check(t, "both", w, 422, append(warned, "may not run in a nitrided bore", "Invented list, p. 3", "Besides, ring K-71: presses"), nil)
	if n := strings.Count(w.Body.String(), `name="despite"`); n != 1 {
		t.Errorf("a reason is asked for %d times", n)
	}
	check(t, "pressure alone", post(h, href("/parts/", ring, "/install"), formOf(values...)), 422, warned, []string{"may not run", "<b>\""})
}

// TestHardRingReplaces: against the ring that sat there before, where it was
// measured, 50 / 40 N is 1.25, and 49 / 40 N is 1.23; against the maker's new
// ring, 43.5 N, 49 N is 1.13, inside the shop's 1.15. The maker's counts: one as
// hard as a ring that pressed too hard is no better for it, and one harder than a
// worn ring no worse.
func TestHardRingReplaces(t *testing.T) {
	b, ctx := fill(t), context.Background()
	b.limitForce(t)
	force := b.feature(t, wear.Ring, "tangential force").ID
	pull := func(part int64, newtons wear.Value) {
		must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-02-02"}, Readings: []store.NewReading{
			{Part: part, Feature: force, Value: newtons * 1_000_000, Typed: fmt.Sprint(newtons), Unit: wear.Newton}}}))
	}
	ok(t, b.Remove(ctx, b.ring, "2025-02-01", 62_000, "rings changed", false))
	fresh := b.aRing(t, store.Part{Serial: "K-50", Groove: 1}, "tangential force=50.0 N", "axial width=0.0930 in")
	h, _ := serving(t, b.Book)
	at, values := href("/parts/", fresh, "/install"), formOf("engine=R-1", "position=1", "groove=1", "day=2025-02-03", "hours=620")
	pull(b.ring, 40)
	check(t, "harder than both", post(h, at, values), 422, []string{"resses 1.156 ±", "/compare?with=maker", "It presses 1.25 times as hard as ring K-1, which it replaces"}, nil)
	even := b.aRing(t, store.Part{Serial: "K-49", Groove: 1}, "tangential force=49.0 N", "axial width=0.0935 in")
	check(t, "harder than a worn one alone", post(h, href("/parts/", even, "/install"), values), 303, nil, nil)
	ok(t, b.Remove(ctx, even, "2025-02-04", 62_000, "rings changed", false))
	values.Set("day", "2025-02-05")
	hard := b.aRing(t, store.Part{Serial: "K-70", Groove: 1}, "tangential force=70.0 N", "axial width=0.0935 in")
	check(t, "as hard as the one before", post(h, href("/parts/", hard, "/install"), values), 422, append(warned, "/compare?with=maker", "times as hard as ring K-49, which it replaces"), nil)
	check(t, "softer than the one before", post(h, at, values), 422, []string{"resses 1.156 ±", "maker&#39;s new ring"}, nil)
}

// TestHardRingInJob: placing one asks for a reason and proposes others; one that
// was measured after it was placed is asked about at the refit, and the reason is
// kept there.
func TestHardRingInJob(t *testing.T) {
	b, ctx := openShop(t), context.Background()
	b.limitForce(t)
	ring := b.aRing(t, store.Part{Serial: "K-70", Groove: 1, Facing: "plain"})
	h, _ := serving(t, b.Book)
	at, end := href("/jobs/", b.job8, "/placing"), href("/jobs/", b.job8, "/close")
	page := get(h, at).Body.String()
	sent := placing(page, fmt.Sprintf("ring-1-1=%d", ring), "piston-1="+fmt.Sprint(b.pistons[1]), "piston-2="+fmt.Sprint(b.pistons[2]))
	check(t, "not measured", get(h, at+"?do=judge&"+sent.Encode()), 200, []string{"Its force was not measured: compare it before fitting"}, nil)
	check(t, "placed before it was measured", post(h, at, sent), 303, nil, nil)
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-01-02"}, Readings: []store.NewReading{
		{Part: ring, Feature: b.feature(t, wear.Ring, "tangential force").ID, Value: 70_000_000, Typed: "70", Unit: wear.Newton}}}))
	page = get(h, at).Body.String()
	for _, says := range append(warned, "K-70, on the shelf, presses 1.61 times as hard", fmt.Sprintf("/parts/%d/compare?with=maker", ring)) {
		if !strings.Contains(page, says) {
			t.Errorf("the placing does not say %q", says)
		}
	}
	if proposed := placed(get(h, at+"?do=propose").Body.String()); proposed["ring-2-1"] == fmt.Sprint(ring) {
		t.Errorf("proposed %v", proposed)
	}
	check(t, "placed anew", post(h, at, placing(page, "piston-1="+fmt.Sprint(b.pistons[1]))), 422, append(warned, `id="f-despite-error"`, "say why it goes there all the same"), nil)

	for _, position := range []int{1, 2} {
		for _, kind := range []string{store.JobPulled, store.JobRefitted} {
			must[int64](t)(b.AddJobEntry(ctx, store.JobEntry{Job: b.job8, Kind: kind, Position: position, Despite: "as on the stand"}, 1<<40))
		}
	}
	check(t, "the page of the refit", get(h, end), 200, append(warned, "K-70"), []string{"f-despite"})
	es := must[[]store.JobEntry](t)(b.JobEntries(ctx, b.job8))
	refit := []string{"what=refit", "uid=u1", "day=2025-01-05", "hours=600", "after=" + lastEntry(es)}
	check(t, "the refit", post(h, end, formOf(refit...)), 422, append(warned, `id="f-despite-error"`, `value="600"`), nil)
	check(t, "the refit with a reason", post(h, end, formOf(append(refit, "despite=a test run")...)), 303, nil, nil)
	if ss := must[[]store.Stay](t)(b.StaysOf(ctx, ring)); len(ss) != 1 || ss[0].Despite != "a test run" {
		t.Errorf("stays %+v", ss)
	}
	check(t, "the draft entry", get(h, href("/jobs/", b.job8, "/entry")), 200, []string{"ring K-70", "a test run"}, nil)
}

// TestHardRingOnBench: the bench says it of a ring that came off.
func TestHardRingOnBench(t *testing.T) {
	b, ctx := openShop(t), context.Background()
	b.limitForce(t)
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-01-02", Engine: b.engine.ID}, Shows: ptr(wear.Hours(60_000)), Readings: []store.NewReading{
		{Part: b.ring, Feature: b.feature(t, wear.Ring, "tangential force").ID, Value: 70_000_000, Typed: "70", Unit: wear.Newton}}}))
	h, _ := serving(t, b.Book)
	check(t, "the bench", get(h, href("/jobs/", b.job8, "/bench/1")), 200, warned, nil)
}

// TestHardRingFindings: the section lists what is fitted and what lies on the
// shelf, each with its comparison, not one that is as much wider; somebody with
// named engines sees of the own engine alone, without a way to the comparison.
func TestHardRingFindings(t *testing.T) {
	b, ctx := fill(t), context.Background()
	h, _ := serving(t, b.Book)
	check(t, "none", get(h, "/findings"), 200, nil, []string{"Rings that press harder"})
	b.limitForce(t)
	shelf := b.aRing(t, store.Part{Serial: "K-<70>", Groove: 1}, "tangential force=70.0 N", "axial width=0.0935 in")
	b.aRing(t, store.Part{Serial: "K-WIDE", Groove: 1}, "tangential force=60.0 N", "axial width=0.1290 in")
	b.aRing(t, store.Part{Serial: "K-45", Groove: 1}, "tangential force=45.0 N", "axial width=0.0935 in")
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-02-01", Engine: b.engine.ID, Position: 1}, Shows: ptr(wear.Hours(60_500)), Readings: []store.NewReading{
		{Part: b.ring, Feature: b.feature(t, wear.Ring, "tangential force").ID, Value: 74_000_000, Typed: "74.0", Unit: wear.Newton}}}))
	check(t, "two", get(h, "/findings"), 200, append(warned, "Rings that press harder than the original (2)", "K-&lt;70&gt;", "on the shelf, not fitted", "Compare it before it is fitted",
		"R-1, position 1, groove 1", "Measure the barrel it runs in early", "Invented manual of rings, p. 18", "39.0 to 48.0 N", "measured 2025-02-01", fmt.Sprintf(`href="/parts/%d/compare?with=maker"`, shelf), fmt.Sprintf(`href="/parts/%d"`, b.ring)), []string{"K-WIDE", "K-45", "K-<70>"})
	seen := fmt.Sprintf("/findings/ring/%d/acknowledge", shelf)
	check(t, "its form", get(h, seen), 200, []string{"K-&lt;70&gt;", "tangential force"}, nil)
	check(t, "without a reason", post(h, seen, formOf("reason=", "who=A. Typed")), 422, []string{"A. Typed", `id="f-reason-error"`}, nil)
	check(t, "acknowledged", post(h, seen, formOf("reason=goes back to the maker", "who=A. Smith")), 303, nil, nil)
	check(t, "one", get(h, "/findings"), 200, []string{"Rings that press harder than the original (1)", "Acknowledged (1)", "goes back to the maker"}, []string{seen})
	s, _ := serverOn(t, b.Book)
	everybody := crowd(t, s, b, anotherEngine(t, b))
	for _, x := range everybody[4:6] {
		if w := get(x.h, "/findings"); w.Code != http.StatusForbidden || strings.Contains(w.Body.String(), "K-") {
			t.Errorf("the findings as %s: status %d", x.name, w.Code)
		}
	}
	position := href("/engines/", b.engine.ID, "/positions/1")
	check(t, "the own engine", get(everybody[4].h, position), 200, []string{"times as hard as the maker&#39;s new ring"}, []string{"/compare"})
	if w := get(everybody[5].h, position); w.Code != http.StatusNotFound {
		t.Errorf("another's engine: status %d", w.Code)
	}
}
