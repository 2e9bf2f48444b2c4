package wear

import (
	"errors"
	"fmt"
	"math"
)

// horizon is how far a forecast looks, in hours of the longest run known.
const horizon = 100

// forecast tells the hours from the latest reading to the limit. The chance
// that the limit is reached by h hours is
//
//	F(h) = Σ P(curve) Σ P(k) Φ((Y + k (W(h) - X) - limit) / sd),
//
// Y and X the weighted means of the run's readings and of W at them, so that
// the start is the best estimate of the dimension and not the latest reading.
// Its quantiles are sought in ln h.
func (b belief) forecast(points []Point, ref reference, l line, q Question) *Forecast {
	last := points[len(points)-1]
	f := &Forecast{CanSay: l.slope > l.sd, From: last.Hours}
	f.Now, f.Ratio = b.estimate(last.Hours)
	if q.NextIn > 0 {
		f.ReachNext = 1 - b.reached(q.Limit, last.Hours+q.NextIn, 0)
	}
	if q.Life > last.Hours {
		f.ReachLife = 1 - b.reached(q.Limit, q.Life, 0)
	}
	f.Beyond = b.reached(q.Limit, last.Hours, 0) > 0.5
	if !f.CanSay {
		f.ReadAgainAfter = readAgainAfter(points, ref, l, math.Min(b[0].middle(), l.sd/2))
		return f
	}
	// x = ln(1 + hours from now / unit) makes F smooth for near and far limits.
	span := horizon * math.Max(math.Max(ref.longest, last.Hours), q.Life)
	unit := span / horizon / 100
	hours := func(x float64) float64 { return unit * math.Expm1(x) }
	reached := func(x float64) float64 { return b.reached(q.Limit, last.Hours+hours(x), 0) }
	most := math.Log1p(span / unit)
	at := newDistribution(reached, 0, most)
	mid, low, high := at.at(0.50), at.at(0.05), at.at(0.95)
	low, high = math.Min(low, mid), math.Max(high, mid) // each is found to within nearX only
	f.Low, f.Median, f.High, f.Capped = hours(low), hours(mid), hours(high), high >= most
	return f
}

// readAgainAfter is the hours from now after which one more reading, as good
// as the latest, brings the error of the ratio down to sd; 0 where none within
// reach of the references would.
func readAgainAfter(points []Point, ref reference, l line, sd float64) float64 {
	last := points[len(points)-1]
	u := math.Max(last.U, leastUncertainty(points))
	w := math.Max(l.after(1/(u*u), sd), ref.curve.W(last.Hours))
	h, more := ref.curve.HoursAt(w, reach*math.Max(ref.longest, last.Hours))
	if more {
		return 0
	}
	return math.Max(h-last.Hours, 0)
}

// PredictReading tells what a reading at h hours of the run, with the standard
// uncertainty u, will show: the part's own ratio as far as its readings tell,
// else that of a normal part, along the curves the references leave open. The
// median and the 5 % and 95 % points are those of
//
//	P(reading ≤ y) = 1 - Σ P(curve) Σ P(k) Φ((Y + k (W(h) - X) - y) / sd),
//
// X and Y the weighted means of W and of the readings, P(k) the posterior of the
// ratio: ln k Student's t of the normal parts' log-sd beforehand, times the
// likelihood of the run's slope. Readings and u are in one length unit, hours
// and u 0 to 1e12.
//
// own is the run's share of the group, to be left out, or nil. Errors:
// ErrOrder, ErrNotFinite, ErrRange, ErrForm, ErrSettings; ErrNoReference
// without a curve or a point. Source: Bayes' theorem with a grid for k; the model
// was worked out for this purpose and tried by simulation and on published
// liner wear (testdata/README.md), no published source.
func (g Group) PredictReading(run Run, own *Share, hours, u float64, s Settings) (Prediction, error) {
	if err := g.checkJudge(run, own, Question{NextIn: hours, Life: u}, s); err != nil {
		return Prediction{}, wrapPredict(err)
	}
	ref := g.withoutOne(own, s).reference(s)
	if ref.curve.Form == NoCurve || len(run.Points) == 0 {
		return Prediction{}, wrapPredict(ErrNoReference)
	}
	p := believe(run.Points, ref).predict(hours, u)
	if err := checkWithin(mostJudged, p.Low, p.Median, p.High); err != nil {
		return Prediction{}, wrapPredict(err)
	}
	return p, nil
}

// Band is the 90 % band of normal wear after h hours since new, in the length
// unit of the readings: 5 % of normal parts wear less than low, 5 % more than
// high,
//
//	W(h) e^(∓ t σ),
//
// W the middle normal part's, t the 0.95 quantile of Student's t with DoF
// degrees of freedom, σ² the variance of ln k from part to part, of the centre
// and of ln W over the plausible curves. Both are 0 where there is no curve and
// at h ≤ 0; hours as in Curve.W. Errors: those of Check, and ErrSettings.
//
// Source: prediction interval of a normal sample, NIST/SEMATECH e-Handbook
// 1.3.6.6.4 for Student's t, taken of the logarithm; what the curves add was worked
// out for this purpose, no published source.
func (g Group) Band(h float64, s Settings) (low, high float64, err error) {
	if err := errors.Join(s.check(), g.Check()); err != nil {
		return 0, 0, fmt.Errorf("draw band of normal wear: %w", err)
	}
	ref := g.reference(s)
	if ref.curve.Form == NoCurve {
		return 0, 0, nil
	}
	w := ref.curve.W(h)
	out := math.Exp(ref.sdBetween(0, h) * studentQuantile(0.95, ref.dof))
	low, high = w/out, w*out
	if err := checkWithin(mostWear, low, high); err != nil {
		return 0, 0, fmt.Errorf("draw band of normal wear: %w", err)
	}
	return low, high, nil
}

// mostOpen bounds the variance of ln W left open by the plausible curves.
const mostOpen = 9

// sdBetween is the predictive log-sd of normal wear between two hours: that of
// the ratio and that of the plausible curves about each other.
func (r reference) sdBetween(from, to float64) float64 {
	var sum, sumSq, n float64
	for _, c := range r.plausible {
		if w := c.Between(from, to); w > 0 {
			x := math.Log(w)
			sum, sumSq, n = sum+x, sumSq+x*x, n+1
		}
	}
	open := 0.0
	if n > 1 {
		open = math.Min(math.Max(sumSq/n-(sum/n)*(sum/n), 0), mostOpen)
	}
	return math.Sqrt(r.sd*r.sd + open)
}
