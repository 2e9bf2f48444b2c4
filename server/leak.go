package server

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// leakJudge is what leak readings on a model are judged by.
type leakJudge struct {
	bore  wear.Value // new minimum of the barrel bore, 0 where none is typed
	unit  wear.Unit  // the bore is written in
	maker *store.LeakRule
}

func readLeakJudge(ctx context.Context, book *store.Book, model int64) (leakJudge, error) {
	j := leakJudge{unit: wear.Inch}
	fs, err := book.Features(ctx)
	if err != nil {
		return j, err
	}
	ls, err := book.LimitsOf(ctx, model, "")
	if err != nil {
		return j, err
	}
	for _, f := range fs {
		if f.Kind == wear.Cylinder && f.Called("barrel bore") {
			if row := ls.For(f.ID, 0); row != nil && row.NewMin != nil {
				j.bore, j.unit = *row.NewMin, row.Unit
			}
		}
	}
	rules, err := book.LeakRules(ctx, model)
	if err == nil && len(rules) > 0 {
		j.maker = &rules[0]
	}
	return j, err
}

// leakVerdict is what one reading comes to by each rule; nothing of it counts
// where the reading was withdrawn.
type leakVerdict struct {
	general wear.LeakJudgement
	maker   *wear.LeakJudgement // nil where the shop typed no rule of the maker
}

func (v leakVerdict) marks() (maker, general views.VerdictMark) {
	if v.maker != nil {
		maker = views.VerdictMark{Word: v.maker.Verdict.String()}
	}
	return maker, views.VerdictMark{Word: v.general.Verdict.String()}
}

func (j leakJudge) judge(r store.LeakReading) (leakVerdict, error) {
	t, ok := r.Measured()
	if !ok {
		return leakVerdict{}, nil
	}
	var v leakVerdict
	var err error
	if v.general, err = wear.JudgeLeak(t, j.bore, r.Heard, nil); err != nil || j.maker == nil {
		return v, err
	}
	m, err := wear.JudgeLeak(t, j.bore, r.Heard, j.maker.Rule())
	v.maker = &m
	return v, err
}

// mind reports whether either rule finds the cylinder beyond or undecided.
func (v leakVerdict) mind() bool {
	return v.general.Verdict >= wear.Undecided || v.maker != nil && v.maker.Verdict >= wear.Undecided
}

// reasons are those of the rule that stands, and what the other one says.
func (v leakVerdict) reasons() []string {
	if v.maker == nil {
		return v.general.Reasons
	}
	return append([]string{"By the general rule: " + v.general.Reasons[0]}, v.maker.Reasons...)
}

// rules are the rules in words, and what the script needs to compare by them.
func (j leakJudge) rules() []views.LeakRuleLine {
	general := ruleLine("General rule: a loss of more than 25 % of the regulated pressure is suspect ("+wear.GeneralLeakRule.Document+").", "the general rule", wear.GeneralLeakRule)
	if j.maker == nil {
		return []views.LeakRuleLine{{Text: "No rule of the maker was typed for this model."}, general}
	}
	rule := *j.maker.Rule()
	return []views.LeakRuleLine{ruleLine("Maker's rule: "+ruleText(*j.maker)+ruleFor(*j.maker, ", ")+" ("+rule.Document+", typed "+day(j.maker.SavedAt)+"). It decides.", "the maker's rule", rule), general}
}

func ruleLine(text, called string, r wear.LeakRule) views.LeakRuleLine {
	return views.LeakRuleLine{Text: text, Called: called, Minimum: int64(r.Minimum), MaxLoss: int64(r.MaxLoss), Orifice: int64(r.Orifice), Regulated: int64(r.Regulated)}
}

func ruleText(l store.LeakRule) string {
	var parts []string
	if l.Minimum != nil {
		parts = append(parts, "at least "+l.Minimum.String()+" psi")
	}
	if l.MaxLoss != nil {
		parts = append(parts, "loss at most "+tenths(*l.MaxLoss)+" %")
	}
	return strings.Join(parts, ", ")
}

// ruleFor is what a rule holds for, after a separator; "" for any orifice and
// pressure.
func ruleFor(l store.LeakRule, before string) string {
	var parts []string
	if l.Orifice != nil {
		parts = append(parts, "through "+orificeText(*l.Orifice))
	}
	if l.Regulated != nil {
		parts = append(parts, "at "+l.Regulated.String()+" psi regulated")
	}
	if len(parts) == 0 {
		return ""
	}
	return before + strings.Join(parts, " ")
}

func tenths(n int) string { return wear.PSI(n).String() }

// orificeText writes a diameter as testers are marked, to the thousandth of an
// inch or finer.
func orificeText(v wear.Value) string { return orificeNumber(v) + " in" }

func orificeNumber(v wear.Value) string { return strings.TrimSuffix(v.Format(wear.Inch), "0") }

// suggestion says which orifice the bore asks for; it is never put in by
// itself.
func (j leakJudge) suggestion() string {
	if j.bore == 0 {
		return "No bore is typed under Limits, so none is suggested."
	}
	o, err := wear.SuggestOrifice(j.bore)
	if err != nil {
		return ""
	}
	return fmt.Sprintf("A bore of %s %s suggests %s (FAA AC 43.13-1B); the maker's document decides.", j.bore.Format(j.unit), j.unit.Name, orificeText(o))
}

var usualOrifices = []string{orificeNumber(wear.SmallOrifice), orificeNumber(wear.LargeOrifice)}

// leakText is what a cylinder held: 62 of 80 psi.
func leakText(psi *wear.PSI, regulated wear.PSI) string {
	if psi == nil {
		return "withdrawn"
	}
	return psi.String() + " of " + regulated.String() + " psi"
}

func leakHow(h store.LeakTest) string { return "through " + orificeText(h.Orifice) }

// areaText writes a leak area with its U.
func areaText(l *wear.Leak) string {
	if l == nil {
		return ""
	}
	return square(l.Area, l.AreaU)
}

func square(area, u float64) string { return fmt.Sprintf("%.2f ± %.2f mm²", area, wear.ExpandedU(u)) }

// signedSquare writes a change of area with its sign.
func signedSquare(area, u float64) string {
	sign := "+"
	if area < 0 {
		sign = "−"
	}
	return fmt.Sprintf("%s%.2f ± %.2f mm²", sign, math.Abs(area), wear.ExpandedU(u))
}

// leakTrend is the run of a cylinder in words.
func leakTrend(run store.LeakRun) string {
	n := run.Trend.Tests
	if n < 2 || run.Span == 0 {
		return "One test so far: no trend yet."
	}
	change, u := run.Change()
	how := "between the two tests"
	if n > 2 {
		how = fmt.Sprintf("by the line through %d tests", n)
	}
	return fmt.Sprintf("%s Leak area %s in %.0f h, %s.", run.Trend.Words, signedSquare(change, u), run.Span, how)
}

// leakTests counts the tests of a run.
func leakTests(run store.LeakRun) string {
	return counted(len(run.Readings), "test") + " since " + run.Since + "."
}

// spark is the drawing of a run; most is the top of its scale, mm².
func spark(run store.LeakRun, most float64) views.LeakSpark {
	s := views.LeakSpark{Most: most, Says: leakTrend(run)}
	for i, l := range run.Leaks {
		if l != nil {
			s.Hours, s.Areas, s.U = append(s.Hours, run.Readings[i].Test.Hours.Float()), append(s.Areas, l.Area), append(s.U, wear.ExpandedU(l.AreaU))
		}
	}
	return s
}

// mostArea is the largest leak area of a run, with its U.
func mostArea(run store.LeakRun) float64 {
	most := 0.0
	for _, l := range run.Leaks {
		if l != nil {
			most = max(most, l.Area+wear.ExpandedU(l.AreaU))
		}
	}
	return most
}

// beforeLeak is the reading in force of the same cylinder before this one; nil
// where there is none. all is newest first.
func beforeLeak(all []store.LeakReading, r store.LeakReading) *store.LeakReading {
	for i := range all {
		o := &all[i]
		if o.Struck || o.Reading == nil || o.Root == r.Root || o.Test.Root == r.Test.Root {
			continue
		}
		if o.Test.Day < r.Test.Day || o.Test.Day == r.Test.Day && (o.Test.Hours < r.Test.Hours || o.Test.Hours == r.Test.Hours && o.Test.Root < r.Test.Root) {
			return o
		}
	}
	return nil
}

// leakChange says how far a reading is from the one before: in psi only
// through the same orifice at the same pressure, in leak area always.
func leakChange(before *store.LeakReading, r store.LeakReading) ([]string, error) {
	if before == nil {
		return []string{"first test"}, nil
	}
	a, _ := before.Measured()
	b, _ := r.Measured()
	since, then := " since "+string(before.Test.Day), leakText(before.Counts(), before.Test.Regulated)+" "+leakHow(before.Test)+" then"
	change, err := wear.RawChange(a, b)
	var raw string
	switch {
	case errors.Is(err, wear.ErrOrifices):
		raw = "psi through different orifices are not compared: " + then
	case errors.Is(err, wear.ErrRegulated):
		raw = "psi at different regulated pressures are not compared: " + then
	case err != nil:
		return nil, err
	case change > 0:
		raw = "+" + change.String() + " psi" + since
	case change < 0:
		raw = "−" + (-change).String() + " psi" + since
	default:
		raw = "the same psi" + since
	}
	x, err := leakOf(a)
	if err != nil {
		return nil, err
	}
	y, err := leakOf(b)
	if err != nil || x == nil || y == nil {
		return []string{raw}, err
	}
	return []string{"leak area " + signedSquare(y.Area-x.Area, math.Hypot(x.AreaU, y.AreaU)) + since, raw}, nil
}

// leakOf is the leak of a test; nil where too little pressure was held.
func leakOf(t wear.LeakTest) (*wear.Leak, error) {
	l, err := wear.LeakArea(t)
	if errors.Is(err, wear.ErrNoPressure) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return &l, nil
}

// leakWorked is how the verdict on a reading was worked out.
func (j leakJudge) leakWorked(r store.LeakReading, v leakVerdict) *views.LeakWorked {
	h := r.Test
	fact := func(label, value string) views.Fact { return views.Fact{Label: label, Value: value} }
	w := &views.LeakWorked{Given: []views.Fact{fact("Reading that counts", leakText(r.Counts(), h.Regulated)), fact("Orifice", orificeText(h.Orifice)), fact("Pressure outside", "14.7 psi, assumed")},
		Sources: []string{"Test, orifice by bore, 25 %: " + wear.GeneralLeakRule.Document + ".", "Leak area: isentropic flow of air with a choked limit, NASA Glenn, Mass Flow Choking; the ratio of the areas by derivation.",
			"Decision with U = 1.645 u: ISO 14253-1; uncertainty of the area: after JCGM 100 (GUM) 5.1.3.", "Trend: weighted least squares, NIST/SEMATECH e-Handbook 4.1.4.3."}}
	if h.Ambient != nil {
		w.Given[2].Value = h.Ambient.String() + " psi"
	}
	if r.Recheck != nil {
		w.Given = append(w.Given, fact("First reading", r.Reading.String()+" psi; the warm recheck counts"))
	}
	t, _ := r.Measured()
	between := "not known and taken as 0"
	if h.OperatorSD > 0 {
		between = fmt.Sprintf("%.2g", h.OperatorSD.In(store.Psi))
	}
	gauge := fmt.Sprintf("each gauge ± %.2f psi (standard deviation %.2g, between people %s, read to %.2g)", wear.ExpandedU(t.GaugeSD), h.SD.In(store.Psi), between, h.Resolution.In(store.Psi))
	w.Given = append(w.Given, fact("Gauges", gauge))
	loss := v.general.Loss
	w.Steps = append(w.Steps, views.WorkedStep{Text: "loss", Equation: "(regulated − reading) / regulated", Numbers: fmt.Sprintf("(%s − %s) / %s = %.1f %%", h.Regulated, r.Counts(), h.Regulated, loss), Source: "by definition"})
	if l := v.general.Leak; l != nil {
		w.Steps = append(w.Steps, workedSteps(l.Working)...)
		for _, a := range l.Assumed {
			w.Assumed = append(w.Assumed, capital(a)+".")
		}
	}
	w.Steps = append(w.Steps, boundSteps("general rule", wear.GeneralLeakRule, t)...)
	if v.maker != nil && v.maker.Verdict != wear.NoLimit {
		w.Steps = append(w.Steps, boundSteps("maker's rule", v.maker.Rule, t)...)
	}
	if h.Gauge == 0 {
		w.Assumed = append(w.Assumed, "The tester was not named: each gauge is taken to stray by 0.5 psi (one standard deviation) and to be read to 1 psi (common practice, no source).")
	}
	if j.bore == 0 {
		w.Assumed = append(w.Assumed, "Nothing of the bore: no limit of it is typed, so no orifice is suggested.")
	}
	w.Unknown = []string{"Whether the piston stood still at top dead centre with the rings seated, and whether hoses and adapter were tight.", "How warm the engine was, and how the oil film helped.",
		"Which valve or ring leaks: only where air was heard tells.", "Cracks that close under this pressure, and wear that does not leak."}
	return w
}

// trendStep says how the line through a run of leak areas was laid; not ok where
// there is none.
func trendStep(run store.LeakRun) (step views.WorkedStep, ok bool) {
	t := run.Trend
	if t.Tests < 2 || run.Span == 0 {
		return step, false
	}
	var tests []string
	for i, l := range run.Leaks {
		if l != nil {
			tests = append(tests, fmt.Sprintf("%.3f ± %.3f at %s h", l.Area, l.AreaU, run.Readings[i].Test.Hours))
		}
	}
	change, u := run.Change()
	return views.WorkedStep{Text: "trend of the leak area", Equation: "line through the areas A at hours h with weights w = 1/u²: b = Σw(h − h̄)(A − Ā) / Σw(h − h̄)²; u(b) = s / √Σw(h − h̄)², s = √(χ²/(n − 2)), at least 1; change = b · hours, U = 1.645 u(b) · hours",
		Numbers: fmt.Sprintf("A and u in mm²: %s; Ā = %.3f, s = %.2f, b = %.3g ± %.2g mm² an hour; in %.0f h %s", strings.Join(tests, "; "), t.Area, t.Scatter, t.PerHour, t.PerHourU, run.Span, signedSquare(change, u)),
		Source:  "weighted least squares, NIST/SEMATECH e-Handbook 4.1.4.3; s after Birge, 1932 (from memory)"}, true
}

// boundSteps sets the reading beside the bounds of a rule.
func boundSteps(name string, rule wear.LeakRule, t wear.LeakTest) []views.WorkedStep {
	var steps []views.WorkedStep
	add := func(equation string, least, u float64) {
		steps = append(steps, views.WorkedStep{Text: name, Equation: equation, Numbers: fmt.Sprintf("%s against %.4g psi, U = %.2f psi", t.Reading, least, wear.ExpandedU(u)), Source: "decision ISO 14253-1"})
	}
	if rule.Minimum > 0 {
		add("reading ≥ least reading; sure where past it by more than U = 1.645 u", rule.Minimum.Float(), t.GaugeSD)
	}
	if rule.MaxLoss > 0 {
		kept := 1 - float64(rule.MaxLoss)/1000
		add(fmt.Sprintf("reading ≥ k · regulated, k = %.4g; sure where past it by more than U = 1.645 √(u² + k² u²)", kept), kept*t.Regulated.Float(), math.Hypot(t.GaugeSD, kept*t.GaugeSD))
	}
	return steps
}
