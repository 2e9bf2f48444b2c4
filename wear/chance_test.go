package wear

import (
	"math"
	"testing"
)

// Expected values by numerical integration in R (integrate of dt times pnorm),
// given to ten decimals; R's default tolerance leaves the last two open.
func TestChance(t *testing.T) {
	for _, c := range []struct{ centre, sd, dof, k, s, want float64 }{
		{0, 0.33, 20, 2.6, 0.18, 0.0050634199},
		{0, 0.33, 20, 1.2, 0.5, 0.3967895395},
		{0.02, 0.4, 14, 3, 0.35, 0.0106580787},
	} {
		near(t, "p", chance(c.centre, c.sd, c.dof, c.k, c.s), c.want, 1e-8)
	}
}

// With next to no error of measurement p is the tail of Student's t itself,
// and with next to no spread of parts that of the normal distribution.
func TestChanceLimits(t *testing.T) {
	near(t, "p, exact gauge", chance(0, 0.3, 12, 2, 1e-6), studentTail(math.Log(2)/0.3, 12), 1e-9)
	near(t, "p, equal parts", chance(0, 1e-7, 50, 1.5, 0.25), normalCDF(-2), 1e-6)
	near(t, "p of far less", chance(0, 0.3, 12, -50, 1), 1, 0)
	if p := chance(0, 0.35, 15, 60, 0.5); !(p > 0 && p < 1e-6) {
		t.Errorf("p of sixty times = %g", p)
	}
}

// The panels agree with a trapezoidal rule of steps a thousand times finer,
// reckoned here.
func TestChanceAgainstTrapezoid(t *testing.T) {
	for _, c := range []struct{ sd, dof, k, s float64 }{
		{0.33, 8, 2.6, 0.01}, {0.33, 8, 2.6, 0.31}, {0.33, 8, 2.6, 0.33}, {0.7, 7, 4, 2}, {0.25, 100, -0.5, 0.6}, {0.35, 15, 8, 1.1},
	} {
		sum, step, scale := 0.0, 0.0005, studentScale(c.dof)
		for i := -16000; i <= 16000; i++ {
			u := float64(i) * step
			z := math.Sinh(u)
			sum += step * math.Cosh(u) * scale * math.Pow(1+z*z/c.dof, -(c.dof+1)/2) * normalCDF((math.Exp(c.sd*z)-c.k)/c.s)
		}
		near(t, "p", chance(0, c.sd, c.dof, c.k, c.s), sum, 1e-9)
	}
}

// Printed tables: NIST/SEMATECH e-Handbook 1.3.6.7.2, critical values of
// Student's t, to three decimals.
func TestStudentQuantile(t *testing.T) {
	for _, c := range []struct{ p, dof, want float64 }{
		{0.90, 1, 3.078}, {0.95, 5, 2.015}, {0.975, 10, 2.228}, {0.99, 20, 2.528}, {0.975, 60, 2.000}, {0.999, 30, 3.385},
	} {
		if got := studentQuantile(c.p, c.dof); math.Abs(got-c.want) > 0.0005001 {
			t.Errorf("t(%g; %g) = %.4f, want %.3f", c.p, c.dof, got, c.want)
		}
	}
}

// Printed table: NIST/SEMATECH e-Handbook 1.3.6.7.1, area under the normal
// curve from 0 to x, to five decimals.
func TestNormalCDF(t *testing.T) {
	for _, c := range []struct{ x, want float64 }{{0, 0}, {0.5, 0.19146}, {1, 0.34134}, {1.96, 0.47500}, {2.33, 0.49010}, {3, 0.49865}} {
		if got := normalCDF(c.x) - 0.5; math.Abs(got-c.want) > 5.01e-6 {
			t.Errorf("area to %g = %.6f, want %.5f", c.x, got, c.want)
		}
	}
	near(t, "Φ at the 0.95 quantile", normalCDF(normal95), 0.95, 1e-14)
}

func TestQuickCDF(t *testing.T) {
	for x := -7.0; x < 7; x += 0.0137 {
		near(t, "quick Φ", quickCDF(x), normalCDF(x), 2e-6)
	}
}
