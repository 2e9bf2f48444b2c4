package wear

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mathext"
)

// normal95 is the 0.95 quantile of the normal distribution.
// Source: NIST/SEMATECH e-Handbook 1.3.6.7.1, to more digits by R.
const normal95 = 1.6448536269514722

// normalCDF is Φ(x).
func normalCDF(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// normalTable is Φ from -tableEnd to tableEnd in steps of 1/tableStep.
const (
	tableEnd  = 6
	tableStep = 128
)

var normalTable = func() (t [2*tableEnd*tableStep + 2]float64) {
	for i := range t {
		t[i] = normalCDF(float64(i)/tableStep - tableEnd)
	}
	return t
}()

// quickCDF is Φ(x) by linear interpolation, absolute error below 2e-6, for
// the many terms of a forecast; 0 of what is not a number.
func quickCDF(x float64) float64 {
	if !(x > -tableEnd) {
		return 0
	}
	if x >= tableEnd {
		return 1
	}
	at := (x + tableEnd) * tableStep
	i := int(at)
	return normalTable[i] + (at-float64(i))*(normalTable[i+1]-normalTable[i])
}

// studentTail is the chance that Student's t with dof degrees of freedom
// exceeds z: half the regularised incomplete beta function
// I(dof/(dof+z²); dof/2, 1/2) for z ≥ 0 (Abramowitz and Stegun 26.7.1).
func studentTail(z, dof float64) float64 {
	tail := mathext.RegIncBeta(dof/2, 0.5, dof/(dof+z*z)) / 2
	if z < 0 {
		return 1 - tail
	}
	return tail
}

// studentQuantile is z with studentTail(z) = 1-p, for 0.5 ≤ p < 1.
func studentQuantile(p, dof float64) float64 {
	hi := 2.0
	for studentTail(hi, dof) > 1-p && hi < 1e9 {
		hi *= 2
	}
	return invert(func(z float64) float64 { return -studentTail(z, dof) }, p-1, 0, hi)
}

// studentScale is the constant of Student's density
// (1 + z²/dof)^(-(dof+1)/2).
func studentScale(dof float64) float64 {
	a, _ := math.Lgamma((dof + 1) / 2)
	b, _ := math.Lgamma(dof / 2)
	return math.Exp(a-b) / math.Sqrt(dof*math.Pi)
}

const panelNodes = 16

var panelX, panelW = legendre(panelNodes)

func legendre(n int) (x, w []float64) {
	x, w = make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(x, w, -1, 1)
	return x, w
}

// chance is the probability that a normal part shows the ratio k or more when
// it is measured with the standard error s > 0 and normal parts have the
// log-ratio centre + sd·t, t of Student's distribution:
//
//	p = ∫ t(z) Φ((e^(centre + sd z) - k) / s) dz.
//
// Far right the factor Φ is 1, far left it is Φ(-k/s), and both tails are
// closed; between them Gauss-Legendre panels in asinh z. Absolute error below
// 1e-9 for dof ≥ 7, checked against R integrate and a finer rule in the tests.
func chance(centre, sd, dof, k, s float64) float64 {
	const sharp = 6.5 // standard errors beyond which Φ is 0 or 1: Φ(-6.5) is 4e-11
	top := k + sharp*s
	if top <= 0 {
		return 1
	}
	standard := func(ratio float64) float64 { return (math.Log(ratio) - centre) / sd }
	hi := standard(top)
	p := studentTail(hi, dof)
	lo := standard(1e-10 * s)
	if bottom := k - sharp*s; bottom > 1e-10*s {
		lo = standard(bottom)
	} else {
		p += studentTail(-lo, dof) * normalCDF(-k/s)
	}
	scale := studentScale(dof)
	from, to := math.Asinh(lo), math.Asinh(hi)
	panels := math.Max(math.Ceil((to-from)/0.8), 2)
	half := (to - from) / panels / 2
	var about [panelNodes]float64
	for j, x := range panelX {
		about[j] = math.Exp(half * x)
	}
	for i := range int(panels) {
		mid := math.Exp(from + half*float64(2*i+1))
		for j := range panelX {
			e := mid * about[j]
			z, dz := (e-1/e)/2, (e+1/e)/2
			density := scale * math.Exp(-(dof+1)/2*math.Log1p(z*z/dof))
			p += half * panelW[j] * dz * density * normalCDF((math.Exp(centre+sd*z)-k)/s)
		}
	}
	return math.Min(math.Max(p, 0), 1)
}
