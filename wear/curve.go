package wear

import (
	"fmt"
	"math"
)

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

// furthest is more hours than any forecast looks ahead, mostWear more wear than
// any curve that Check passes shows there.
const (
	furthest = 1e15
	mostWear = 1e100
)

// mostRate and mostPower bound the numbers of a curve. Fits of readings up to
// 1e12 stay below.
const (
	mostRate  = 1e40
	mostPower = 3
)

// Check returns ErrForm for a form that is none of those named, and
// ErrNotFinite or ErrRange for numbers that give no growing wear: A and B are 0
// to 1e40, Tau of bedding-in is above 0 and up to 1e15 h, Q of a power law
// above 0 and up to 3. NoCurve passes, whatever its numbers, if they are finite.
// Source: bounds chosen so that no wear overflows; no published source.
func (c Curve) Check() error {
	if err := checkWithin(mostRate, c.A, c.Tau, c.B, c.Q); err != nil {
		return fmt.Errorf("check curve: %w", err)
	}
	sound := false
	switch c.Form {
	case NoCurve:
		return nil
	case BeddingIn:
		sound = c.Tau > 0 && c.Tau <= furthest
	case PowerLaw:
		sound = c.Q > 0 && c.Q <= mostPower
	case MakerAllowance:
		sound = true
	default:
		return fmt.Errorf("check curve: %q: %w", c.Form, ErrForm)
	}
	if !sound || c.A < 0 || c.B < 0 {
		return fmt.Errorf("check curve: %s: %w", c.Form, ErrRange)
	}
	return nil
}

// W is the expected wear after h hours, by the equation of its form, in the
// length unit of A and B:
//
//	W = A (1 - e^(-h/Tau)) + B h  or  W = B h^Q  or  W = B h.
//
// It is 0 at h ≤ 0 and for NoCurve. Hours that are not a number count as 0, and
// those above 1e15 as that. A curve that Check refuses has a finite W without
// meaning, 0 where its numbers give none.
//
// Source: bedding-in as a dying and a steady part, and a power of the hours,
// are common descriptions of wear over time (common practice, no source); the
// maker's allowance by definition.
func (c Curve) W(h float64) float64 {
	if !(h > 0) {
		return 0
	}
	h = math.Min(h, furthest)
	w := 0.0
	switch c.Form {
	case BeddingIn:
		w = -c.A*math.Expm1(-h/c.Tau) + c.B*h
	case PowerLaw:
		w = c.B * math.Exp(c.Q*math.Log(h))
	case MakerAllowance:
		w = c.B * h
	}
	if !(math.Abs(w) <= mostWear) {
		return 0
	}
	return w
}

// Between is the wear expected from the hours of one reading to those of
// another, W(to) - W(from), in the length unit of W; below 0 where to is before
// from. Hours and curves that make no sense as in W. Source: by definition.
func (c Curve) Between(from, to float64) float64 { return c.W(to) - c.W(from) }

// HoursAt inverts W: the hours h up to most at which a normal part shows the
// wear w, in the length unit of W,
//
//	maker's allowance   h = w / B
//	power law           h = (w / B)^(1/Q)
//	bedding-in          W(h) = w, by 60 halvings of 0 to most.
//
// more is true where it takes longer than most, or for ever; h is most then.
// Wear of 0 or less, or that is not a number, is there at 0 h; hours and curves
// that make no sense as in W. Source: by algebra.
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
		if h = math.Exp(math.Log(w/c.B) / c.Q); h >= 0 {
			return math.Min(h, most), false
		}
		return 0, false
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
