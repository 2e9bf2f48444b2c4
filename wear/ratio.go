package wear

import "math"

// ratioLine fits a run's readings on the expected wear W(h) with a free
// intercept, each weighted by 1/(u² + (wander W)²). Its slope is the ratio k,
// its sd
//
//	s = 1 / √Σw (W - W̄)²,
//
// never below the millionth part that keeps later divisions sound. Negative
// slopes are kept. A part that wears k times as fast also wanders k times as
// much, so that where there is wander the weights are made twice.
func ratioLine(points []Point, c Curve, wander float64) line {
	var buffer [3][16]float64
	x, y, w := buffer[0][:0], buffer[1][:0], buffer[2][:0]
	least := leastUncertainty(points)
	for _, p := range points {
		u, wear := math.Max(p.U, least), c.W(p.Hours)
		x = append(x, wear)
		y = append(y, p.Y-points[0].Y)
		w = append(w, 1/(u*u+wander*wander*wear*wear))
	}
	l := fitLine(x, y, w)
	if wander > 0 {
		by := wander * math.Min(math.Max(l.slope, 0.1), unclear)
		for i, p := range points {
			u := math.Max(p.U, least)
			w[i] = 1 / (u*u + by*by*x[i]*x[i])
		}
		l = fitLine(x, y, w)
	}
	l.y += points[0].Y
	l.sd = math.Max(l.sd, leastSD)
	l.slope = math.Min(math.Max(l.slope, -unclear), unclear)
	return l
}

// leastSD is the least standard error of a ratio.
const leastSD = 1e-6

// leastUncertainty stands in for an uncertainty of 0, as of wear that is 0 by
// definition at 0 h: a thousandth of the largest in the run, or, where all are
// 0, a billionth of what the readings span.
func leastUncertainty(points []Point) float64 {
	largestU, lo, hi := 0.0, points[0].Y, points[0].Y
	for _, p := range points {
		largestU = math.Max(largestU, p.U)
		lo, hi = math.Min(lo, p.Y), math.Max(hi, p.Y)
	}
	return math.Max(math.Max(largestU*1e-3, (hi-lo)*1e-9), smallest)
}

// after returns the expected wear W at which a further reading of weight w
// would bring the error of the slope down to sd:
//
//	sxx + (W - X)² Σw·w / (Σw + w) = 1/sd².
func (l line) after(w, sd float64) float64 {
	lacking := math.Max(1/(sd*sd)-l.sxx, 0)
	return l.x + math.Sqrt(lacking*(l.weight+w)/(l.weight*w))
}
