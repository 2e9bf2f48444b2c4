package server

import (
	"context"
	"encoding/json"
	"fmt"
	"html"
	"math"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// text is what a page says, without its tags and with single spaces.
func text(page string) string {
	return strings.Join(strings.Fields(html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(page, " "))), " ")
}

// TestLeakAcrossOrifices: 70 of 80 psi through 0.060 in is about 44 through
// 0.040 in (FAA AC 43.13-1B gives both orifices; the pair by the equation of
// wear.LeakArea, computed independently): no change, and nobody is told of 26
// psi. 0.707 · π/4 · 0.060² in² = 1.29 mm².
func TestLeakAcrossOrifices(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	rs := must[[]store.LeakReading](t)(b.LeakReadingsOf(context.Background(), b.cylinders[0]))
	page := text(get(h, fmt.Sprintf("/leaktests/%d", rs[0].Test.Root)).Body.String())
	for _, want := range []string{"1 C-1 44 of 80 psi", "leak area −0.01 ±", "since 2024-06-01", "psi through different orifices are not compared: 70 of 80 psi through 0.060 in then",
		"Tested through 0.0400 in, where a bore of 5.2490 in suggests 0.0600 in; through that one the same leak would read about 70 psi.", "LT-1 (calibration was overdue since 2024-09-01)", "14.7 psi, assumed"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q:\n%s", want, page)
		}
	}
	if strings.Contains(page, "−26 psi") {
		t.Error("psi through different orifices are compared")
	}
	if page := text(get(h, fmt.Sprintf("/leaktests/%d", b.leak)).Body.String()); !strings.Contains(page, "12.5 % 1.29 ±") {
		t.Errorf("70 of 80 psi is not 12.5 %% and 1.29 mm²:\n%s", page)
	}
	list := text(get(h, fmt.Sprintf("/engines/%d/leak", b.engine.ID)).Body.String())
	if !strings.Contains(list, "Too few tests to tell a trend. Leak area −0.01 ±") {
		t.Errorf("the list says %s", list)
	}
}

// TestLeakRules: the maker's rule decides where it holds, is not applied to
// another orifice, and the general rule stands beside it. At 25 % of 80 psi
// the general rule wants 60.
func TestLeakRules(t *testing.T) {
	b := fill(t)
	ctx := context.Background()
	judge := func(psi wear.PSI, orifice wear.Value) leakVerdict {
		j := must[leakJudge](t)(readLeakJudge(ctx, b.Book, b.engine.Model.ID))
		r := store.LeakReading{Reading: &psi, Test: store.LeakTest{Regulated: 800, Orifice: orifice, SD: 300_000, Resolution: 500_000}}
		return must[leakVerdict](t)(j.judge(r))
	}
	if v := judge(610, wear.LargeOrifice); v.maker != nil || v.general.Verdict != wear.Serviceable {
		t.Errorf("61 psi without a maker's rule: %+v", v)
	}
	if v := judge(590, wear.LargeOrifice); v.general.Verdict != wear.Beyond || !v.mind() {
		t.Errorf("59 psi by the general rule: %v", v.general.Verdict)
	}
	ok(t, b.AddLeakRule(ctx, store.LeakRule{Model: b.engine.Model.ID, Minimum: ptr(wear.PSI(700)), Orifice: ptr(wear.LargeOrifice), Unit: wear.Inch, Document: "Invented manual", Page: "71"}))
	if v := judge(650, wear.LargeOrifice); v.maker.Verdict != wear.Beyond || v.general.Verdict != wear.Serviceable || !v.mind() || !strings.Contains(strings.Join(v.reasons(), " "), "Invented manual, p. 71 wants at least 70 psi") {
		t.Errorf("65 psi where the maker wants 70: %v, generally %v, %q", v.maker.Verdict, v.general.Verdict, v.reasons())
	}
	if v := judge(650, wear.SmallOrifice); v.maker.Verdict != wear.NoLimit || !strings.Contains(strings.Join(v.reasons(), " "), "not applied") {
		t.Errorf("through another orifice than the rule's: %v, %q", v.maker.Verdict, v.reasons())
	}
	h, _ := serving(t, b.Book)
	page := text(get(h, fmt.Sprintf("/leaktests/%d", b.leak)).Body.String())
	for _, want := range []string{"Maker's rule: at least 70 psi, through 0.060 in (Invented manual, p. 71", "70 against 70 psi", "70 against 60 psi"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

// TestLeakTwoCylinders: where two cylinders sat at a position that day the
// form comes back, asks which one, and takes the answer.
func TestLeakTwoCylinders(t *testing.T) {
	b := fill(t)
	ctx := context.Background()
	ok(t, b.Remove(ctx, b.cylinders[2], "2025-02-01", 62_000, "weak", false))
	ok(t, b.Install(ctx, b.shelf, store.Place{Engine: b.engine.ID, Position: 3}, "2025-02-01", 62_000))
	h, _ := serving(t, b.Book)
	path, values := fmt.Sprintf("/engines/%d/leak/new", b.engine.ID), formOf("uid=u-1", "day=2025-02-01", "hours=620", "regulated=80", "orifice=0.060", "psi-3=50", "air-3-1=yes")
	w := post(h, path, values)
	check(t, "two cylinders", w, 422, []string{`name="part-3"`, "C-3, there from 2024-01-01 to 2025-02-01", "C-90, there from 2025-02-01", "choose which one"}, nil)
	if page := w.Body.String(); !regexp.MustCompile(`name="air-3-1" value="yes" checked`).MatchString(page) || strings.Contains(page, `name="air-3-0" value="yes" checked`) {
		t.Error("where air was heard is lost")
	}
	values.Set("part-3", fmt.Sprint(b.cylinders[2]))
	sent := func(values url.Values) string { return post(h, path, values).Header().Get("Location") }
	first, second := sent(values), sent(values)
	if first == "" || first != second {
		t.Errorf("sent twice it leads to %q and %q", first, second)
	}
	if rs := must[[]store.LeakReading](t)(b.LeakReadingsOf(ctx, b.cylinders[2])); len(rs) != 1 || len(rs[0].Heard) != 1 || rs[0].Heard[0] != wear.AirAtIntake {
		t.Errorf("the cylinder that came off has %+v", rs)
	}
}

// TestLeakRecord compares a record with the test it is of.
func TestLeakRecord(t *testing.T) {
	b := fill(t)
	rec := must[Record](t)(PartRecordOf(context.Background(), b.Book, b.cylinders[1]))
	var back Record
	ok(t, json.Unmarshal(written(t, b.Book, rec, "json"), &back))
	ls := back.Parts[0].LeakTests
	if len(ls) != 2 || !ls[0].Struck || ls[1].Struck || ls[0].Reading != "58" || ls[1].Reading != "57" || ls[1].Reason != "digit misread" {
		t.Fatalf("leak tests %+v", ls)
	}
	l := ls[1]
	if l.Recheck != "59" || l.Orifice != "0.060" || l.Tester != "LT-1" || l.Master != "43" || *l.Minutes != 15 || l.Heard[0] != "exhaust" || l.EngineHours != "300.0" || l.Position != 2 || l.Verdict != "beyond" || l.Uncertainty != "0.55" { // 1.645·√(0.3² + 0.5²/12)
		t.Errorf("leak test %+v", l)
	}
	if math.Abs(*l.Loss-26.25) > 1e-9 { // (80 − 59) / 80
		t.Errorf("loss %g %%", *l.Loss)
	}
}
