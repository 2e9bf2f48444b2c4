package wear

import "math"

// line is the weighted least-squares line y = Y + Slope (x - X).
type line struct {
	slope  float64
	sd     float64 // of the slope, for weights that are 1/variance; unclear where x does not vary
	x, y   float64 // weighted means
	weight float64 // Σw
	sxx    float64 // Σw (x - X)²
	chi2   float64 // Σw (y - fit)²
}

// unclear is the standard error given to a slope nothing is known of.
const unclear = 1e6

// fitLine fits y on x with weights w > 0,
//
//	slope = Σw (x - X)(y - Y) / Σw (x - X)²,  sd = 1 / √Σw (x - X)²,
//
// in two passes, so that no digits are lost to large means. The slices are of
// one length. Where x does not vary the slope is 0 and its sd unclear.
//
// Source: any book on regression; checked against NIST StRD Norris.
func fitLine(x, y, w []float64) line {
	var l line
	for i := range x {
		l.weight += w[i]
		l.x += w[i] * x[i]
		l.y += w[i] * y[i]
	}
	l.x /= l.weight
	l.y /= l.weight
	var sxy, syy float64
	for i := range x {
		dx, dy := x[i]-l.x, y[i]-l.y
		l.sxx += w[i] * dx * dx
		sxy += w[i] * dx * dy
		syy += w[i] * dy * dy
	}
	l.sd = unclear
	if l.sxx > 1/(unclear*unclear) {
		l.slope, l.sd = sxy/l.sxx, 1/math.Sqrt(l.sxx)
	}
	l.chi2 = math.Max(syy-l.slope*sxy, 0)
	return l
}

// Sums are the weighted normal equations of d on two basis functions without
// intercept, d = a b₁ + b b₂. Sums of several runs add up, and one run's can
// be taken away again. They are kept with the share of each run.
type Sums struct {
	S11, S12, S22, T1, T2, D float64
}

// check returns ErrNotFinite or ErrRange.
func (m Sums) check() error { return checkWithin(mostSum, m.S11, m.S12, m.S22, m.T1, m.T2, m.D) }

// add counts one reading: basis values, wear and weight.
func (m *Sums) add(b1, b2, d, w float64) {
	m.S11 += w * b1 * b1
	m.S12 += w * b1 * b2
	m.S22 += w * b2 * b2
	m.T1 += w * b1 * d
	m.T2 += w * b2 * d
	m.D += w * d * d
}

// plus returns m + sign·o.
func (m Sums) plus(o Sums, sign float64) Sums {
	m.S11 += sign * o.S11
	m.S12 += sign * o.S12
	m.S22 += sign * o.S22
	m.T1 += sign * o.T1
	m.T2 += sign * o.T2
	m.D += sign * o.D
	return m
}

// solve returns a ≥ 0 and b ≥ floor·a, and whether there is any wear to fit.
// Where the two basis functions cannot be told apart, a is 0.
func (m Sums) solve(floor float64) (a, b float64, ok bool) {
	det := m.S11*m.S22 - m.S12*m.S12
	if det > 1e-10*m.S11*m.S22 {
		a, b = (m.T1*m.S22-m.T2*m.S12)/det, (m.T2*m.S11-m.T1*m.S12)/det
		if a > 0 && b >= floor*a {
			return a, b, true
		}
		if a > 0 {
			// On the boundary b = floor·a the basis is one function again.
			_, _, share := m.along(1, floor)
			return share, floor * share, share > 0
		}
	}
	if m.S22 > 0 && m.T2 > 0 {
		return 0, m.T2 / m.S22, true
	}
	return 0, 0, false
}

// along fits the one function v₁ b₁ + v₂ b₂: its squared length, half the
// weighted sum of squares left over, and its coefficient.
func (m Sums) along(v1, v2 float64) (length, loss, c float64) {
	length = v1*v1*m.S11 + 2*v1*v2*m.S12 + v2*v2*m.S22
	if !(length > 0) {
		return 0, m.D / 2, 0
	}
	t := v1*m.T1 + v2*m.T2
	return length, math.Max(m.D-t*t/length, 0) / 2, t / length
}

// loss is half the weighted sum of squares left over by a and b.
func (m Sums) loss(a, b float64) float64 {
	explained := 2*(a*m.T1+b*m.T2) - a*a*m.S11 - 2*a*b*m.S12 - b*b*m.S22
	return math.Max(m.D-explained, 0) / 2
}
