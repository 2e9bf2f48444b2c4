package wear

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// finely reckons the chance of a late change by rectangles of a five-hundredth
// of an sd over 14 sd to either side.
func finely(c lateChange) float64 {
	mode, curvature := logRatioMode(c.before, c.beforeSD, 0, 1/(c.sd*c.sd))
	width := 1 / math.Sqrt(curvature)
	peak := c.logDensity(mode, math.Exp(mode))
	all, over := 0.0, 0.0
	for at := -14.0; at < 14; at += 0.002 {
		x := mode + at*width
		k := math.Exp(x)
		f := math.Exp(c.logDensity(x, k) - peak)
		all += f
		over += f * normalCDF((k-c.seen)/math.Hypot(c.seenSD, c.own*k))
	}
	return over / all
}

func TestLateChangeChance(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	uniform := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	for range 1000 {
		c := lateChange{before: uniform(-0.5, 4), beforeSD: math.Exp(uniform(-5, 0)), sd: uniform(0.2, 0.7), dof: uniform(8, 100), seen: uniform(-1, 7)}
		c.seenSD, c.own = c.beforeSD*math.Exp(uniform(-1.5, 1.5)), uniform(0, 0.1)
		if c.before < -3*c.beforeSD {
			continue // the gauge would have to be off by more than it can
		}
		if want := finely(c); want > 1e-6 {
			near(t, fmt.Sprintf("p of %+v, %g", c, want), c.chance()/want, 1, 1e-3)
		}
	}
}

// With a history that tells nothing the chance is that of a whole run, and with
// one that tells all it is the gauge's alone.
func TestLateChangeLimits(t *testing.T) {
	c := lateChange{before: 1, beforeSD: 1e4, sd: 0.33, dof: 20, seen: 2.6, seenSD: 0.18}
	near(t, "p, unknown before", c.chance()/chance(0, 0.33, 20, 2.6, 0.18), 1, 2e-3)
	c = lateChange{before: 1.5, beforeSD: 1e-5, sd: 0.33, dof: 20, seen: 2, seenSD: 0.2}
	near(t, "p, known before", c.chance()/normalCDF(-2.5), 1, 1e-3)
	c.own = 0.1
	near(t, "p, own change", c.chance()/normalCDF(-0.5/0.25), 1, 1e-3)
}

// Readings that contradict each other beyond all measure leave a number.
func TestLateChangeExtremes(t *testing.T) {
	for _, k := range []float64{-unclear, -1, 0, 1, unclear} {
		for _, s := range []float64{1e-6, 1, unclear} {
			for _, seen := range []float64{-unclear, 0, 1, unclear} {
				c := lateChange{before: k, beforeSD: s, sd: 0.35, dof: 8, seen: seen, seenSD: 1e-6}
				if p := c.chance(); !(p >= 0 && p <= 1) {
					t.Errorf("%+v: %g", c, p)
				}
			}
		}
	}
}
