package wear

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A reading pulls the centre as the part's own likelihood does: a (x - centre)
// is the slope of the log of ∫ N(k; e^z, s²) N(z; centre, ω²) dz, here by
// rectangles and differences.
func TestReadPullsLikeLikelihood(t *testing.T) {
	const centre, omega, step = 0.1, 0.35, 1e-3
	logL := func(k, s, c float64) float64 {
		sum := 0.0
		for z := c - 4; z < c+4; z += 1e-3 {
			e, d := (k-math.Exp(z))/s, (z-c)/omega
			sum += math.Exp(-(e*e + d*d) / 2)
		}
		return math.Log(sum)
	}
	for _, c := range []struct{ k, s float64 }{{1, 0.2}, {1.8, 0.5}, {0.4, 0.4}, {-0.2, 0.5}, {3, 0.3}} {
		r := read(c.k, c.s, centre, omega)
		want := (logL(c.k, c.s, centre+step) - logL(c.k, c.s, centre-step)) / (2 * step)
		near(t, "pull", r.a*(r.x-centre), want, 0.03)
		if !(r.a > 0) || r.a > 1/(omega*omega) {
			t.Errorf("weight %g of %g ± %g", r.a, c.k, c.s)
		}
	}
}

// Well measured parts: the spread solves the blend written out in its comment,
// by hand 10 ω² = 8·0.35² + 2 (0.24/0.911256 + ω²/3), 0.24 being the mean
// square of three and 0.911256 the variance a normal distribution keeps within
// 2.5 sd (its density there is 0.0175283, the share within 0.9875807; NIST/SEMATECH
// e-Handbook 1.3.6.6.1 and 1.3.6.7.1).
func TestSpreadOfExactParts(t *testing.T) {
	members := []member{{k: math.Exp(-0.6), s: 1e-6}, {k: 1, s: 1e-6}, {k: math.Exp(0.6), s: 1e-6}}
	got, _ := fitSpread(members, DefaultSettings())
	near(t, "centre", got.Centre, 0, 1e-6)
	near(t, "log-sd", got.Omega, math.Sqrt((8*0.35*0.35+2*0.24/0.911256)/(10-2./3)), 1e-4)
	near(t, "degrees of freedom", got.DoF, 10, 0)
	near(t, "error of the centre", got.Error, got.Omega/math.Sqrt(3), 1e-4)
}

// The variance left by the cut is that of a normal sample cut in the same way,
// here by rectangles; a cut far out leaves all of it.
func TestKeptVariance(t *testing.T) {
	for _, trim := range []float64{1, 2.5, 3} {
		mass, square := 0.0, 0.0
		for x := -trim; x < trim; x += 1e-4 {
			f := math.Exp(-x * x / 2)
			mass, square = mass+f, square+f*x*x
		}
		near(t, "variance kept", keptVariance(trim), square/mass, 1e-3)
	}
	near(t, "variance kept", keptVariance(8), 1, 1e-9)
}

// Of many normal parts the spread comes out as it is, though the outermost are
// left out: 20,000 have a standard error of 1/200 of it.
func TestSpreadOfManyParts(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	members := make([]member, 20000)
	for i := range members {
		members[i] = member{k: math.Exp(0.3 * rng.NormFloat64()), s: 1e-6}
	}
	got, _ := fitSpread(members, DefaultSettings())
	near(t, "log-sd over truth", got.Omega/0.3, 1, 0.02)
}

func TestSpreadLeavesOutliersOut(t *testing.T) {
	var members []member
	for _, k := range append([]float64{9, 0.05}, normalRatios...) {
		members = append(members, member{k: k, s: 0.1})
	}
	got, _ := fitSpread(members, DefaultSettings())
	for i, m := range members {
		if m.out != (i < 2) {
			t.Errorf("ratio %.2f left out: %v", m.k, m.out)
		}
	}
	near(t, "centre", got.Centre, 0, 0.05)
}
