package server

import (
	"fmt"
	"math"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// learned are the steps to the middle and the spread of normal parts: from what
// is expected beforehand and from the group's own parts.
func (w *judgementText) learned() {
	l, s := w.x.Learned, w.x.Settings
	if l.FromMaker {
		before := 1/(l.CentreSD*l.CentreSD) - math.Max(l.Moments.PriorA, 0)
		w.step("middle of normal parts", "centre = Σax/(Σa + 1/σ₀²), its variance 1/(Σa + 1/σ₀²): ln of the wear over the maker's allowance, expected at 0 ± σ₀ beforehand", "Mean of a normal distribution with a prior (common practice); how far normal wear lies from an allowance is a choice, no source",
			"σ₀² = %.2g² − %.2g² = %.3g; of the parts measured Σa = %.4g, Σax = %.4g: centre %.3g ± %.3g, so B is e^%.3g times the allowance", s.AllowanceLogSD, s.PriorLogSD, 1/before, l.Moments.PriorA, l.Moments.PriorAX, l.Centre, l.CentreSD, l.Centre)
		w.step("spread of normal parts", "ω = ω₀: too few parts to learn it from", "Chosen by simulation, no source", "ω = %.3g, ν = %.3g", l.LogSD, l.DoF)
		return
	}
	m := l.Moments
	moved := ""
	if l.Moved != 0 {
		moved = fmt.Sprintf("; the curve moved by %+.2g in ln W when this run was taken away: %.4g", l.Moved, l.Centre+l.Moved)
	}
	w.step("middle of normal parts", "centre = Σax/Σa, x = ln k of a part, a = 1/(ω′² + v), v its variance by measurement; error 1/√Σa", "Weighted mean, NIST/SEMATECH e-Handbook 1.3.5.1; the weights are those of a normal spread seen with errors (common practice)",
		"over the %.0f parts above that count, ω′ = %.4g: Σa = %.5g, Σax = %.4g: centre %.4g ± %.3g%s; W above is e^centre times the curve fitted to all", m.N, l.WeightSD, m.A, m.AX, l.Centre, l.CentreSD, moved)
	w.step("spread that the parts show, measurement taken off", "ω̂² = Σa²((x − centre)²/κ − v + 1/Σa) / Σa², κ = 1 − 2Tφ(T)/(2Φ(T) − 1): what normal parts keep of their variance when those beyond T are left out", "The likelihood equation of a normal spread seen with errors (common practice); κ the variance of a truncated normal distribution (from memory)",
		"T = %.3g, κ = %.4g; Σa²(x − centre)² = %.4g, Σa²v = %.4g, Σa² = %.4g: ω̂² = %.4g%s", s.Trim, l.Kept, m.A2XX-2*l.Centre*m.A2X+l.Centre*l.Centre*m.A2, m.A2V, m.A2, l.Seen, negativeText(l.Seen))
	w.step("spread of normal parts", "ω² = (ν₀ω₀² + (n − 1)ω̂²) / (ν₀ + n − 1), n = Σ(aω′²)²: the parts, each by how well it is measured; ν = ν₀ + parts − 1", "Blend of what is expected beforehand with what is seen, worked out for this purpose and tried by simulation; no published source",
		"ω₀ = %.3g worth ν₀ = %.3g parts, n − 1 = %.4g: ω = %.4g, ν = %.3g", s.PriorLogSD, s.PriorParts, l.More, l.LogSD, l.DoF)
}

// negativeText says what a variance below 0 means.
func negativeText(variance float64) string {
	if variance < 0 {
		return ", which counts as 0: the gauge's error alone explains more than all of it"
	}
	return ""
}

// open is the log-sd that the likely curves leave open of the wear of the whole
// run.
func (w *judgementText) open() float64 {
	t, l := w.x.Judgement.Whole, w.x.Learned
	return math.Sqrt(math.Max(t.PredictiveSD*t.PredictiveSD-l.LogSD*l.LogSD-l.CentreSD*l.CentreSD, 0))
}

// likelyCurves are the curves that the hours to the limit rest on.
func likelyCurves(x store.Explanation, f wear.Feature, u wear.Unit) *views.LikelyCurves {
	j, made := x.Judgement, x.Foretold
	if len(made.Curves) == 0 || j.Forecast == nil {
		return nil
	}
	w, p := &judgementText{x: x, f: f, u: u}, plot{signed(f), u}
	room := "Y + k(W(h) − X) − limit"
	if p.sign < 0 {
		room = "limit − Y + k(W(h) − X)"
	}
	v := &views.LikelyCurves{
		Equation: "F(h) = ∫ P(k) Φ((" + room + ") / √(u² + k²o²W(h)²)) dk, P(k) ∝ e^(−(k′ − k)²/2s²) · (1 + (ln k)²/(νσ²))^(−(ν+1)/2) / k",
		Numbers:  fmt.Sprintf("σ = %.4g, ν = %.4g, o = %.3g, limit %s %s, from %.6g h in the run. All curves are equally likely; the hours above are where their mean is 5, 50 and 95 %%. X and Y are the weighted means of W and of the readings, u the standard error of Y, k′ ± s the ratio by the readings alone; P(k) is laid on a grid, good for a hundredth.", made.PriorSD, made.DoF, made.Wander, inUnit(p.sign**x.Bound, u, 0), u.Name, j.Forecast.From),
	}
	chances := func(c wear.LikelyCurve) []float64 { return []float64{c.Low, c.Median, c.High} }
	if f := j.Forecast; f.CanSay && f.High > f.Low {
		for _, h := range []float64{f.Low, f.Median, f.High} {
			v.At = append(v.At, "in "+grouped(fmt.Sprintf("%.0f", h))+" h")
		}
	} else {
		v.At = []string{"now"}
	}
	mean := views.LikelyCurve{Curve: "mean of them"}
	sums, n := make([]float64, len(v.At)), float64(len(made.Curves))
	for _, c := range made.Curves {
		row := views.LikelyCurve{
			Curve: w.curve(c.Curve), X: w.fine(c.X), Y: fmt.Sprintf("%s ± %s", u.FormatFloat(p.value(c.Y), 1), w.fine(c.YSD)),
			Seen: fmt.Sprintf("%.4g ± %.3g", c.Slope, c.SlopeSD), Ratio: fmt.Sprintf("%.3g ± %.2g", c.Ratio, c.RatioSD),
		}
		for i, chance := range chances(c)[:len(v.At)] {
			sums[i] += chance / n
			row.Reached = append(row.Reached, finePercent(chance))
		}
		if last := len(v.Curves) - 1; last >= 0 && v.Curves[last].Curve == row.Curve {
			v.Curves[last].Times++
			continue
		}
		row.Times = 1
		v.Curves = append(v.Curves, row)
	}
	for _, sum := range sums {
		mean.Reached = append(mean.Reached, finePercent(sum))
	}
	mean.Ratio = fmt.Sprintf("%.3g", j.Forecast.Ratio)
	v.Curves = append(v.Curves, mean)
	return v
}

// finePercent writes a chance in tenths of a percent, as 0 and 100 too.
func finePercent(chance float64) string { return fmt.Sprintf("%.1f %%", 100*chance) }

// curve writes form and constants of a curve.
func (w *judgementText) curve(c wear.Curve) string {
	switch c.Form {
	case wear.BeddingIn:
		return fmt.Sprintf("A = %s, τ = %.4g h, B = %s per 1,000 h", w.fine(c.A), c.Tau, w.fine(1000*c.B))
	case wear.PowerLaw:
		return fmt.Sprintf("q = %.3g, W(1,000 h) = %s", c.Q, w.fine(c.W(1000)))
	}
	return fmt.Sprintf("B = %s per 1,000 h", w.fine(1000*c.B))
}
