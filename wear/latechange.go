package wear

import "math"

// lateChange sets what a normal part showed before against what it shows since. Its
// ratio before was measured as before ± beforeSD; normal parts have the
// log-ratio sd·t, t of Student's distribution. Since then the ratio seen ±
// seenSD is measured, and a normal part's own may have changed by own times
// itself.
type lateChange struct {
	before, beforeSD float64
	sd, dof          float64
	seen, seenSD     float64
	own              float64
}

// Steps of the trapezoidal rule.
const (
	stepsInSD = 0.9 // in the standard deviation of the narrower factor
	mostSteps = 400
	tailSD    = 10 // standard deviations from the mode where it ends, for Student's tails
	gaugeSD   = 7  // errors of the gauge from there where it ends
)

// chance is the probability that a normal part with that history shows so much
// or more:
//
//	p = ∫ f(x) Φ((e^x - seen) / √(seenSD² + own² e^2x)) dx / ∫ f(x) dx,
//	f = t(x/sd) exp(-((before - e^x) / beforeSD)² / 2),
//
// by the trapezoidal rule, which converges fast where a function dies away at
// both ends. Relative error below 1e-3 where p is above 1e-6, checked against a
// finer rule in the tests.
func (c lateChange) chance() float64 {
	lo, hi, peak, width := c.span()
	narrow := 1 / width
	if c.seen > 0 {
		narrow = math.Hypot(narrow, 1/math.Hypot(c.seenSD/c.seen, c.own))
	}
	steps := math.Min(math.Max(math.Ceil((hi-lo)*narrow*stepsInSD), 8), mostSteps)
	step := (hi - lo) / steps
	ratio, grow := math.Exp(lo), math.Exp(step)
	var all, over float64
	for i := range int(steps) + 1 {
		f := math.Exp(math.Min(c.logDensity(lo+step*float64(i), ratio)-peak, mostPeak))
		all += f
		over += f * normalCDF((ratio-c.seen)/math.Sqrt(c.seenSD*c.seenSD+c.own*c.own*ratio*ratio))
		ratio *= grow
	}
	return math.Min(math.Max(over/all, 0), 1)
}

// mostPeak bounds ln f above what was taken for its peak, lest readings that
// contradict each other beyond all measure overflow.
const mostPeak = 600

// logDensity is ln f at x = ln ratio.
func (c lateChange) logDensity(x, ratio float64) float64 {
	off := (c.before - ratio) / c.beforeSD
	return -off*off/2 - (c.dof+1)/2*math.Log1p(x*x/(c.dof*c.sd*c.sd))
}

// span is where f is not negligible, ln f at its mode, and its standard
// deviation.
func (c lateChange) span() (lo, hi, peak, width float64) {
	mode, curvature := logRatioMode(c.before, c.beforeSD, 0, 1/(c.sd*c.sd))
	mode = studentMode(mode, line{slope: c.before, sd: c.beforeSD}, c.sd, c.dof)
	ratio, width := math.Exp(mode), 1/math.Sqrt(curvature)
	lo, hi = mode-tailSD*width, mode+tailSD*width
	tail := gaugeSD * c.beforeSD
	if bottom := c.before - math.Hypot(math.Max(c.before-ratio, 0), tail); bottom > 0 {
		lo = math.Max(lo, math.Min(math.Log(bottom), mode))
	}
	if top := c.before + math.Hypot(math.Max(ratio-c.before, 0), tail); top > 0 {
		hi = math.Min(hi, math.Max(math.Log(top), mode))
	}
	return lo, hi, c.logDensity(mode, ratio), width
}

// middle is the likeliest ratio a normal part with that history goes on with,
// and the log-sd about it.
func (c lateChange) middle() (ratio, logSD float64) {
	mode, curvature := logRatioMode(c.before, c.beforeSD, 0, 1/(c.sd*c.sd))
	return math.Exp(mode), math.Sqrt(1/curvature + c.own*c.own)
}
