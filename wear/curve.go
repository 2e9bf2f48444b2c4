package wear

import "math"

// Form names a curve of expected wear.
type Form string

// The forms: wear that beds in and then grows steadily, a power of the hours,
// and the maker's wear allowance spread evenly over the overhaul life.
const (
	NoCurve        Form = ""
	BeddingIn      Form = "bedding-in"
	PowerLaw       Form = "power law"
	MakerAllowance Form = "maker's allowance"
)

// Curve is the wear W(h) expected of a normal part after h hours,
//
//	bedding-in          W = A (1 - e^(-h/Tau)) + B h
//	power law           W = B h^Q
//	maker's allowance   W = B h
//
// A in length units, Tau in hours, B in length units an hour (to the power Q).
type Curve struct {
	Form Form
	A    float64
	Tau  float64
	B    float64
	Q    float64
}

// furthest is more hours than any forecast looks ahead.
const furthest = 1e15

// W is the expected wear after h hours, 0 at h ≤ 0 and for NoCurve. Hours that
// are not a number count as 0, and those above 1e15 as that.
func (c Curve) W(h float64) float64 {
	if !(h > 0) {
		return 0
	}
	h = math.Min(h, furthest)
	switch c.Form {
	case BeddingIn:
		return -c.A*math.Expm1(-h/c.Tau) + c.B*h
	case PowerLaw:
		return c.B * math.Exp(c.Q*math.Log(h))
	case MakerAllowance:
		return c.B * h
	}
	return 0
}

// Between is the expected wear from the hours of one reading to another.
func (c Curve) Between(from, to float64) float64 { return c.W(to) - c.W(from) }

// HoursAt inverts W: the hours, at most most, at which a normal part shows the
// wear w. more is true where it takes longer than most, or for ever. Wear that
// is not a number counts as 0, and hours as in W.
func (c Curve) HoursAt(w, most float64) (h float64, more bool) {
	if !(w > 0) {
		return 0, false
	}
	if !(most > 0) {
		return 0, true
	}
	most = math.Min(most, furthest)
	if c.W(most) < w {
		return most, true
	}
	switch c.Form {
	case MakerAllowance:
		return w / c.B, false
	case PowerLaw:
		return math.Min(math.Exp(math.Log(w/c.B)/c.Q), most), false
	}
	return invert(c.W, w, 0, most), false
}

// invert finds x in [lo, hi] where the growing f passes y, by bisection.
func invert(f func(float64) float64, y, lo, hi float64) float64 {
	for range 60 {
		mid := (lo + hi) / 2
		if f(mid) < y {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// scaled is the curve times c.
func (c Curve) scaled(by float64) Curve {
	c.A *= by
	c.B *= by
	return c
}

// parts are the two basis functions of the curve between two readings, for
// runs up to longest hours: see basis.
func (c Curve) parts(from, to, longest float64) (b1, b2 float64) {
	if c.Form == PowerLaw {
		return 0, math.Pow(to/longest, c.Q) - math.Pow(from/longest, c.Q)
	}
	return math.Exp(-from/c.Tau) - math.Exp(-to/c.Tau), to - from
}

// unit is the coefficient of the second basis function.
func (c Curve) unit(longest float64) float64 {
	if c.Form == PowerLaw {
		return c.B * math.Pow(longest, c.Q)
	}
	return c.B
}

// resolve solves the normal equations for a curve of the shape of c.
func (m Sums) resolve(c Curve, longest float64) (Curve, bool) {
	a, b, ok := m.solve(leastSteady / longest)
	c.A, c.B = a, b
	if c.Form == PowerLaw {
		c.B /= math.Pow(longest, c.Q)
	}
	return c, ok
}
