package server

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// placed reads which part stands in each place of a placing page.
func placed(page string) map[string]string {
	out := map[string]string{}
	for _, m := range regexp.MustCompile(`(?s)<select id="[^"]*" name="([a-z0-9-]+)".*?</select>`).FindAllStringSubmatch(page, -1) {
		if x := regexp.MustCompile(`value="(\d+)" selected`).FindStringSubmatch(m[0]); x != nil {
			out[m[1]] = x[1]
		}
	}
	return out
}

// placing fills in the form of a placing page as it stands, with changes.
func placing(page string, changes ...string) url.Values {
	v := decision(page)
	for field, part := range placed(page) {
		v.Set(field, part)
	}
	for name, values := range formOf(changes...) {
		v.Set(name, values[0])
	}
	return v
}

// The proposal is that of wear.Match with the same sizes, all positions at
// once; changed by hand each line is judged again; saved it is kept.
func TestPlacing(t *testing.T) {
	b, ctx := openShop(t), context.Background()
	h, _ := serving(t, b.Book)
	at := href("/jobs/", b.job8, "/placing")
	page := get(h, at).Body.String()
	// Limits 3.8745 - 3.8665 to 3.8830 - 3.8600, wanted the middle of 0.0080 to 0.0100.
	limit := wear.MatchFit{Min: inches(t, "0.0080"), Max: inches(t, "0.0230"), Target: ptr(inches(t, "0.0090"))}
	hole := func(v string) wear.MatchHole {
		return wear.MatchHole{Size: wear.Gauged{Value: inches(t, v), U: 1}}
	}
	shaft := func(v string) wear.MatchShaft {
		return wear.MatchShaft{Size: wear.Gauged{Value: inches(t, v), U: 1}}
	}
	m, err := wear.Match(wear.MatchAsk{Fit: limit, Holes: []wear.MatchHole{hole("3.8860"), hole("3.8770")}, Shafts: []wear.MatchShaft{shaft("3.8640"), shaft("3.8660")}})
	ok(t, err)
	now := placed(page)
	for i, l := range m.Best.Lines {
		if want := fmt.Sprint(b.pistons[l.Shaft+1]); now[fmt.Sprintf("piston-%d", i+1)] != want {
			t.Errorf("position %d has piston %s, wear.Match has %s", i+1, now[fmt.Sprintf("piston-%d", i+1)], want)
		}
	}
	wants(t, page, "3.8860 of cylinder C-1 3.8660 0.0200L +0.0110", "3.8770 of cylinder C-2 3.8640 0.0130L +0.0040", "Nothing of this is saved yet", "had P-1", "Pistons: lightest to heaviest 1.0 g", "not decided yet")
	for field, part := range map[string]int64{"cylinder-1": b.cylinders[1], "cylinder-2": b.cylinders[2], "ring-1-1": b.ring} {
		if now[field] != fmt.Sprint(part) {
			t.Errorf("%s has %s, want its own %d", field, now[field], part)
		}
	}
	by := placing(page, fmt.Sprintf("piston-1=%d", b.pistons[1]), fmt.Sprintf("piston-2=%d", b.pistons[2]))
	by.Set("do", "judge")
	wants(t, get(h, at+"?"+by.Encode()).Body.String(), "3.8640 0.0220L +0.0130", "3.8660 0.0110L +0.0020")
	w := post(h, at, by)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("saved: %d %s", w.Code, text(w.Body.String()))
	}
	if w := post(h, at, by); w.Code != http.StatusSeeOther {
		t.Errorf("sent twice: %d", w.Code)
	}
	saved := map[string]int64{}
	for _, p := range must[[]store.Placing](t)(b.Placings(ctx, b.job8)) {
		saved[store.PlaceField(p.Position, p.Kind, p.Groove)] = p.Part
	}
	if saved["piston-1"] != b.pistons[1] || saved["piston-2"] != b.pistons[2] || saved["ring-1-1"] != b.ring || saved["cylinder-2"] != b.cylinders[2] {
		t.Errorf("saved %v", saved)
	}
	wants(t, get(h, at).Body.String(), "A placing is saved", "3.8640 0.0220L +0.0130")
	w = post(h, at, placing(page))
	check(t, "sent again with other parts", w, 409, []string{"sent before"}, nil)
	w = post(h, at, placing(page, "uid=another"))
	check(t, "a placing that is behind", w, 409, []string{"somebody else saved this"}, nil)
	w = post(h, at, placing(get(h, at).Body.String(), "piston-1=999"))
	check(t, "a part that is not on offer", w, 422, []string{"choose one from the list"}, nil)
	w = post(h, at, placing(get(h, at).Body.String(), fmt.Sprintf("piston-1=%d", b.pistons[2])))
	check(t, "a piston twice", w, 422, []string{"is placed"}, nil)
}

// What was decided away is not proposed; what is ground only once measured; the
// shelf fills the place, with the spread of weights kept against the pistons
// that stay (1,003 g at position 3, 7.1 g).
func TestPlacingKeepsDecisions(t *testing.T) {
	b, ctx := openShop(t), context.Background()
	near := b.shelved(t, store.Part{Kind: wear.Piston, Serial: "P-20", Weight: ptr(wear.Value(1_002_000_000))}, "piston skirt", "3.8665")
	b.shelved(t, store.Part{Kind: wear.Piston, Serial: "P-22", Weight: ptr(wear.Value(1_012_000_000))}, "piston skirt", "3.8662")
	barrel := b.shelved(t, store.Part{Kind: wear.Cylinder, Serial: "C-30", Surface: "chrome-plated"}, "barrel bore", "3.8752")
	for part, what := range map[int64]string{b.pistons[1]: "scrap", b.cylinders[1]: "replace"} {
		ok(t, b.Decide(ctx, store.Decision{Job: b.job8, Part: part, Position: 1, Disposition: what, Reason: "worn"}, "", 1<<40))
	}
	ok(t, b.Decide(ctx, store.Decision{Job: b.job8, Part: b.cylinders[2], Position: 2, Disposition: "grind", Oversize: ptr(inches(t, "0.010")), Reason: "worn"}, "", 1<<40))
	h, _ := serving(t, b.Book)
	at := href("/jobs/", b.job8, "/placing")
	page := get(h, at).Body.String()
	now := placed(page)
	if now["cylinder-1"] != fmt.Sprint(barrel) || now["piston-1"] != fmt.Sprint(near) || now["cylinder-2"] != "0" {
		t.Errorf("placed %v, want cylinder %d and piston %d at 1, no cylinder at 2", now, barrel, near)
	}
	wants(t, page, "Piston P-1: decided scrap", "Cylinder C-2: decided grind to 0.0100 in oversize. The work is not recorded yet", "3.8752 of cylinder C-30 3.8665 0.0087L −0.0003", "no cylinder is placed")
	if strings.Contains(page, "P-1, position 1") {
		t.Error("a scrapped piston can be chosen")
	}
	// The hard chrome ring of position 1 in the chrome-plated barrel needs a reason.
	sent := placing(page, fmt.Sprintf("ring-1-1=%d", b.ring))
	w := post(h, at, sent)
	check(t, "chrome on chrome", w, 422, []string{"say why it goes there all the same", "chrome on chrome scuffs"}, nil)
	sent.Set("despite", "a test run on the stand")
	if w := post(h, at, sent); w.Code != http.StatusSeeOther {
		t.Fatalf("with a reason: %d %s", w.Code, text(w.Body.String()))
	}
	for _, p := range must[[]store.Placing](t)(b.Placings(ctx, b.job8)) {
		if (p.Despite != "") != (p.Part == b.ring) {
			t.Errorf("%+v", p)
		}
	}
}

// Rings by the side clearance of ring 2 in US Army TM 9-2815-220-34 table 3-11,
// 0.0055 to 0.0075: two rings and two grooves that cross. Where nothing can be
// proposed, the page says why and shows each with its own.
func TestPlacingOfRings(t *testing.T) {
	var other int64
	b, ctx := openShop(t, func(b *shop) {
		other = b.fitted(t, store.Part{Kind: wear.Ring, Serial: "K-2", Groove: 1, ModelID: b.engine.Model.ID}, store.Place{Engine: b.engine.ID, Position: 2, Groove: 1})
	}), context.Background()
	b.limit2(t, wear.Piston, "side clearance", 1, "0.0055", "0.0075", "", "0.0110", wear.Up)
	groove := func(piston int64, width string) store.NewReading {
		r := b.exact(t, piston, wear.Piston, "groove width", width)
		r.Groove = 1
		return r
	}
	for position, rs := range map[int][]store.NewReading{1: {groove(b.pistons[2], "0.1000"), b.exact(t, other, wear.Ring, "axial width", "0.0960")}, 2: {groove(b.pistons[1], "0.1025"), b.exact(t, b.ring, wear.Ring, "axial width", "0.0935")}} {
		_ = position
		for _, r := range rs {
			must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-01-02", Engine: b.engine.ID}, Shows: ptr(wear.Hours(60_000)), Readings: []store.NewReading{r}}))
		}
	}
	h, _ := serving(t, b.Book)
	at := href("/jobs/", b.job8, "/placing")
	page := get(h, at).Body.String()
	// P-2 goes to 1 and P-1 to 2 (see TestPlacing): groove 0.1000 at 1 takes 0.0935, 0.1025 at 2 takes 0.0960.
	if now := placed(page); now["ring-1-1"] != fmt.Sprint(b.ring) || now["ring-2-1"] != fmt.Sprint(other) {
		t.Errorf("rings %v", now)
	}
	wants(t, page, "0.1000 of piston P-2 0.0935 0.0065L 0.0000", "0.1025 of piston P-1 0.0960 0.0065L 0.0000")
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-01-03", Engine: b.engine.ID}, Shows: ptr(wear.Hours(60_000)), Readings: []store.NewReading{b.exact(t, other, wear.Ring, "axial width", "0.0860")}}))
	wants(t, get(h, at).Body.String(), "Rings of groove 1: Groove 1 of P-2 and groove 1 of P-1 need a ring each, and nothing but ring K-1 fits any of them", "0.0055 in too loose", "Here each has its own")
}

// Pins by US Army TM 9-2815-220-34 table 3-11: bore 2.1268 to 2.1270, pin
// 2.1250 to 2.1252, so 0.0016L to 0.0020L new. The one on the shelf lies
// nearer the middle than its own.
func TestPlacingOfPins(t *testing.T) {
	var own int64
	b, ctx := openShop(t, func(b *shop) {
		own = b.fitted(t, store.Part{Kind: wear.Pin, Serial: "N-1", ModelID: b.engine.Model.ID}, store.Place{Engine: b.engine.ID, Position: 1})
	}), context.Background()
	b.limit2(t, wear.Piston, "pin bore", 0, "2.1268", "2.1270", "", "2.1280", wear.Up)
	b.limit2(t, wear.Pin, "pin diameter", 0, "2.1250", "2.1252", "2.1248", "", wear.Down)
	shelf := b.shelved(t, store.Part{Kind: wear.Pin, Serial: "N-9"}, "pin diameter", "2.1252")
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-01-02", Engine: b.engine.ID}, Shows: ptr(wear.Hours(60_000)), Readings: []store.NewReading{
		b.exact(t, own, wear.Pin, "pin diameter", "2.1248"), b.exact(t, b.pistons[2], wear.Piston, "pin bore", "2.1270")}}))
	h, _ := serving(t, b.Book)
	page := get(h, href("/jobs/", b.job8, "/placing")).Body.String()
	if now := placed(page); now["pin-1"] != fmt.Sprint(shelf) {
		t.Errorf("pins %v, want %d at 1", now, shelf)
	}
	wants(t, page, "2.1270 of piston P-2 2.1252 0.0018L 0.0000", "had N-1")
}
