package wear

import "math"

// mostOdd is the most a run's readings count for, in squared standard errors
// each, when the wander is estimated: a single blunder must not widen it.
const mostOdd = 9

// findWander estimates how far readings lie off k·W(h) beyond the gauge's
// error, as a share of the wear itself: parts do not wear quite evenly, and
// the worst spot is not always found again. Runs of three readings or more
// show it. It is the wander at which
//
//	Σ min(χ², mostOdd·spare) = Σ spare,
//
// χ² what is left over by a run's line and spare its readings less two. It is 0
// unless the left-over exceeds what the gauge alone would leave by two of its
// own standard deviations, √(2 Σ spare).
func (f *fitter) findWander(c Curve) float64 {
	spare := 0.0
	for i := range f.samples {
		spare += math.Max(float64(len(f.samples[i].rows)-2), 0)
	}
	if spare == 0 || f.leftOver(c, 0) < spare+2*math.Sqrt(2*spare) {
		return 0
	}
	lo, hi := 0.0, 1.0
	for range 12 {
		mid := (lo + hi) / 2
		if f.leftOver(c, mid) > spare {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

func (f *fitter) leftOver(c Curve, wander float64) float64 {
	sum := 0.0
	for i := range f.samples {
		p := &f.samples[i]
		if n := float64(len(p.rows) - 2); n > 0 {
			l := ratioLine(f.runs[p.run].Points, c, wander)
			sum += math.Min(l.chi2, mostOdd*n)
		}
	}
	return sum
}
