package wear

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// What the judging spends its time on, held against gonum: the same numbers,
// and in the benchmarks side by side.

// someLine is a line of n points with weights.
func someLine(n int) (x, y, w []float64) {
	rng := rand.New(rand.NewPCG(4, 2))
	for range n {
		x, w = append(x, 1000*rng.Float64()), append(w, 0.2+rng.Float64())
		y = append(y, 5+0.003*x[len(x)-1]+0.1*rng.NormFloat64())
	}
	return x, y, w
}

// gonumChance is chance, integrated over the probability of Student's t by
// gonum's Gauss-Legendre rule in many panels.
func gonumChance(centre, sd, dof, k, s float64) float64 {
	density := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}
	sum := 0.0
	for from := -20.0; from < 20; from++ {
		sum += quad.Fixed(func(u float64) float64 {
			z := math.Sinh(u)
			return density.Prob(z) * math.Cosh(u) * distuv.UnitNormal.CDF((math.Exp(centre+sd*z)-k)/s)
		}, from, from+1, 64, nil, 0)
	}
	return sum
}

func TestAgainstGonum(t *testing.T) {
	x, y, w := someLine(8)
	l := fitLine(x, y, w)
	intercept, slope := stat.LinearRegression(x, y, w, false)
	near(t, "slope", l.slope, slope, 1e-12)
	near(t, "intercept", l.y-l.slope*l.x, intercept, 1e-12)
	for _, c := range [][5]float64{{0, 0.3, 12, 2.5, 0.2}, {0.1, 0.5, 8, 1, 1}, {-0.2, 0.25, 40, 4, 0.5}} {
		near(t, "chance", chance(c[0], c[1], c[2], c[3], c[4]), gonumChance(c[0], c[1], c[2], c[3], c[4]), 1e-9)
	}
	for z := -7.0; z < 7; z += 0.0137 {
		near(t, "quick CDF", quickCDF(z), distuv.UnitNormal.CDF(z), 2e-6)
		near(t, "tail of t", studentTail(z, 9), distuv.StudentsT{Mu: 0, Sigma: 1, Nu: 9}.Survival(z), 1e-12)
	}
	for _, p := range []float64{0.6, 0.9, 0.999} {
		near(t, "quantile of t", studentQuantile(p, 9), distuv.StudentsT{Mu: 0, Sigma: 1, Nu: 9}.Quantile(p), 1e-9)
	}
}

// sink keeps the compiler from leaving out what is timed.
var sink float64

func BenchmarkBaseline(b *testing.B) {
	x, y, w := someLine(8)
	for _, c := range []struct {
		name string
		do   func(i int) float64
	}{
		{"Line/own", func(int) float64 { return fitLine(x, y, w).slope }},
		{"Line/gonum", func(int) float64 { _, slope := stat.LinearRegression(x, y, w, false); return slope }},
		{"NormalCDF/own", func(i int) float64 { return quickCDF(float64(i%1000)/100 - 5) }},
		{"NormalCDF/gonum", func(i int) float64 { return distuv.UnitNormal.CDF(float64(i%1000)/100 - 5) }},
		{"Chance/own", func(i int) float64 { return chance(0, 0.3, 12, 1+float64(i%100)/20, 0.2) }},
		{"Chance/gonum", func(i int) float64 { return gonumChance(0, 0.3, 12, 1+float64(i%100)/20, 0.2) }},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				sink += c.do(i)
			}
		})
	}
}
