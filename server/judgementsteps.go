package server

import (
	"fmt"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// judgementSteps are the judgement on a run step by step, each with its
// numbers; none where there is nothing to compare with, or nothing was
// measured after the baseline.
func judgementSteps(x store.Explanation, f wear.Feature, u wear.Unit) []views.WorkedStep {
	j := x.Judgement
	if j.Curve.Form == wear.NoCurve || j.Whole.Readings < 2 || j.Whole.Expected <= 0 {
		return nil
	}
	w := &judgementText{x: x, f: f, u: u}
	w.expected()
	w.learned()
	w.ratio()
	w.chance()
	w.lateChange()
	w.equivalent()
	w.toLimit()
	return w.steps
}

// judgementText writes the steps of one judgement.
type judgementText struct {
	x     store.Explanation
	f     wear.Feature
	u     wear.Unit
	steps []views.WorkedStep
}

func (w *judgementText) step(text, equation, source, numbers string, args ...any) {
	w.steps = append(w.steps, views.WorkedStep{Text: text, Equation: equation, Numbers: fmt.Sprintf(numbers, args...), Source: source})
}

// fine writes a length with two digits more than a reading has.
func (w *judgementText) fine(v float64) string { return inUnit(v, w.u, 2) }

func (w *judgementText) expected() {
	j, c := w.x.Judgement, w.x.Judgement.Curve
	equation, source := "", "Fitted to the group's readings, this run left out: robust least squares, Huber's weights at 1.345 (from memory). How fast normal parts wear: this shop's own readings, no published figure was found"
	switch c.Form {
	case wear.BeddingIn:
		equation = "W(h) = A(1 − e^(−h/τ)) + B·h"
	case wear.PowerLaw:
		equation = "W(h) = B·h^q"
	case wear.MakerAllowance:
		equation, source = "W(h) = B·h, B the wear allowance over the overhaul life", "The limits as the shop typed them: fewer than three other parts were measured"
	}
	t := j.Whole
	w.step("expected wear of a normal part", equation, source, "%s; W(%.5g h) − W(%.5g h) = %s − %s = %s %s", w.curve(c), t.ToHours, t.FromHours, w.fine(c.W(t.ToHours)), w.fine(c.W(t.FromHours)), w.fine(t.Expected), w.u.Name)
}

func (w *judgementText) ratio() {
	j, t := w.x.Judgement, w.x.Judgement.Whole
	weights := "w = 1/u²"
	if j.Wander > 0 {
		weights = fmt.Sprintf("w = 1/(u² + (%.2g k W)²), for the group's readings wander beyond the gauge's error", j.Wander)
	}
	w.step("ratio k", "slope of the readings y on W(h): k = Σw(W − W̄)(y − ȳ) / Σw(W − W̄)², s = 1/√Σw(W − W̄)², "+weights, "Weighted least squares, checked against NIST StRD Norris and NoInt1",
		"the %d readings used, with y, W and u as in the table above: k = %.4g, s = %.3g (90 %%: %.3g to %.3g)", t.Readings, t.Ratio, t.RatioSD, t.RatioLow, t.RatioHigh)
	w.step("wear seen", "k · expected wear", "By definition", "%.3g × %s = %s ± %s %s", t.Ratio, w.fine(t.Expected), inUnit(t.Wear, w.u, 1), inUnit(t.WearSD, w.u, 1), w.u.Name)
	if t := j.Interval; t.Readings >= 2 && t.Expected > 0 {
		w.step("ratio in the last interval", "the same over the latest readings alone", "As above", "%.5g h to %.5g h: expected %s %s, k = %.4g, s = %.3g, wear %s ± %s %s",
			t.FromHours, t.ToHours, w.fine(t.Expected), w.u.Name, t.Ratio, t.RatioSD, inUnit(t.Wear, w.u, 1), inUnit(t.WearSD, w.u, 1), w.u.Name)
	}
}

// looked says that a chance counts once for each station looked at.
func (w *judgementText) looked() (equation, numbers string) {
	if n := w.x.Judgement.Looks; n > 1 {
		return " · n", fmt.Sprintf(", n = %d stations", n)
	}
	return "", ""
}

// looksSource is where the factor n comes from.
const looksSource = "; for several stations Bonferroni's inequality, NIST/SEMATECH e-Handbook 7.4.7.3"

func (w *judgementText) chance() {
	j, t := w.x.Judgement, w.x.Judgement.Whole
	by, n := w.looked()
	w.step("chance p that a normal part shows k or more", "p = ∫ t(z) Φ((e^(σz) − k)/s) dz"+by+", t Student's with ν degrees of freedom, σ² = ω² + that of the middle + that of ln W over the likely curves", "Student's t and normal quantiles checked against NIST/SEMATECH e-Handbook 1.3.6.7"+looksSource,
		"σ² = %.4g² + %.4g² + %.3g²: σ = %.4g; k = %.4g, s = %.3g, ν = %.4g%s: p = %s, %s", j.LogSD, w.x.Learned.CentreSD, w.open(), t.PredictiveSD, t.Seen, t.SeenSD, j.DoF, n, plainNumber(t.P), wear.OneIn(t.P))
}

func (w *judgementText) lateChange() {
	t := w.x.Judgement.Interval
	if t.Readings < 2 || t.Expected <= 0 {
		return
	}
	by, n := w.looked()
	w.step("chance p of the last interval", "p = ∫ f(x) Φ((e^x − k′)/s′) dx / ∫ f(x) dx"+by+": that a normal part which showed the earlier readings now shows the latest; k′ = (y − ȳ)/(W − W̄) from the weighted middle of the earlier ones", "Worked out for this purpose, checked against a finer rule; no published source"+looksSource,
		"k′ = %.4g ± %.3g; a normal part with that history goes on at %.3g times, log-sd %.3g%s: p = %s, %s", t.Seen, t.SeenSD, t.Centre, t.PredictiveSD, n, plainNumber(t.P), wear.OneIn(t.P))
}

func (w *judgementText) equivalent() {
	j := w.x.Judgement
	if j.Whole.Wear <= 0 {
		return
	}
	start := j.Curve.W(j.BaselineHours)
	is := "="
	if j.EquivalentMore {
		is = "more than"
	}
	w.step("equivalent hours", "W(h) = W at the baseline + wear seen", "W(h) solved for h, by bisection", "%s + %s = %s %s: h %s %s h", w.fine(start), w.fine(j.Whole.Wear), w.fine(start+j.Whole.Wear), w.u.Name, is, grouped(fmt.Sprintf("%.0f", j.EquivalentHours)))
}

// toLimit is the forecast: which k brings the part to its limit at the ends and
// the middle of the interval.
func (w *judgementText) toLimit() {
	f := w.x.Judgement.Forecast
	if f == nil || w.x.Bound == nil {
		return
	}
	p, c := plot{signed(w.f), w.u}, w.x.Judgement.Curve
	room := *w.x.Bound - f.Now
	numbers := fmt.Sprintf("limit %s, size now %s %s: room %s; W(now, %.5g h) = %s; mean k = %.3g", inUnit(p.sign**w.x.Bound, w.u, 0), inUnit(p.sign*f.Now, w.u, 1), w.u.Name, w.fine(room), f.From, w.fine(c.W(f.From)), f.Ratio)
	var ends []string
	for _, e := range []struct {
		word  string
		hours float64
	}{{"5 %", f.Low}, {"50 %", f.Median}, {"95 %", f.High}} {
		grown := c.W(f.From+e.hours) - c.W(f.From)
		if e.hours > 0 && grown > 0 && room > 0 {
			ends = append(ends, fmt.Sprintf("%s after %s h more, where W has grown by %s: that is k = %.3g", e.word, grouped(fmt.Sprintf("%.0f", e.hours)), w.fine(grown), room/grown))
		}
	}
	switch {
	case f.Beyond:
		numbers += "; it has more likely than not been reached"
	case !f.CanSay:
		numbers += "; the slope is below its own error, so no hours are told"
	default:
		numbers += "; reached with a chance of " + strings.Join(ends, "; ")
	}
	if f.Test == wear.LastInterval {
		numbers += ". It rests on the last interval alone, since the part does not go on as it began"
	}
	w.step("hours to the limit", "k (W(h) − W(now)) = limit − size now, over all k that the readings and the group leave likely and all likely curves, listed on the part's page; size now is the best estimate from the readings, not the latest of them", "Worked out for this purpose, tried by simulation; no published source", "%s", numbers)
}
