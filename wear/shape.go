package wear

import (
	"math"
)

// The shapes tried: bedding-in with time constants from about a hundredth of
// the longest run's hours upwards, each twice the last, and powers from
// minPower in steps of powerStep to 1. Wear that slows down more than √h is
// bedding-in, which has its own form: with powers from 0.3 on, few parts left
// forecasts that were too long twice as often as they should be.
const (
	taus      = 5
	tauOf     = 1.0 / 100 // shortest time constant over the longest run's hours
	minPower  = 0.5
	powerStep = 0.05
	powers    = 11
	shapes    = taus + powers
)

// basis holds the two basis functions of every shape between two readings:
// 1 - e^(-h/τ) for each τ, h itself, and h^q for each q.
type basis struct {
	bed   [taus]float64
	hours float64
	power [powers]float64
}

// shapeTau is the j-th time constant for runs up to longest hours.
func shapeTau(j int, longest float64) float64 {
	return math.Ldexp(tauOf*longest, j)
}

func shapePower(j int) float64 { return minPower + powerStep*float64(j) }

// basisAt sets b to the basis at h hours. Each exponential is the square of
// the next slower one, and each power the last times h^powerStep, so that
// three exponentials serve all.
func (b *basis) at(h, longest float64) {
	*b = basis{hours: h}
	if h <= 0 {
		return
	}
	e := math.Exp(-h / shapeTau(taus-1, longest))
	for j := taus - 1; j >= 0; j-- {
		b.bed[j] = 1 - e
		e *= e
	}
	x := math.Log(h / longest)
	p, step := math.Exp(minPower*x), math.Exp(powerStep*x)
	for j := range b.power {
		b.power[j] = p
		p *= step
	}
}

// add adds o times by.
func (b *basis) add(o *basis, by float64) {
	b.hours += by * o.hours
	for j := range b.bed {
		b.bed[j] += by * o.bed[j]
	}
	for j := range b.power {
		b.power[j] += by * o.power[j]
	}
}

// of returns the two basis functions of one shape.
func (b *basis) of(shape int) (b1, b2 float64) {
	if shape < taus {
		return b.bed[shape], b.hours
	}
	return 0, b.power[shape-taus]
}

// shapeSums are the normal equations of every shape under one set of weights.
type shapeSums [shapes]Sums

func (m *shapeSums) add(b *basis, d, w float64) {
	wd := w * d
	for j := range b.bed {
		s := &m[j]
		s.S11 += w * b.bed[j] * b.bed[j]
		s.S12 += w * b.bed[j] * b.hours
		s.T1 += wd * b.bed[j]
	}
	m[0].S22 += w * b.hours * b.hours
	m[0].T2 += wd * b.hours
	m[0].D += wd * d
	for j, x := range b.power {
		m[taus+j].S22 += w * x * x
		m[taus+j].T2 += wd * x
	}
}

// plus adds o times by.
func (m *shapeSums) plus(o *shapeSums, by float64) {
	for j := range m {
		m[j] = m[j].plus(o[j], by)
	}
}

// finish copies what all shapes share.
func (m *shapeSums) finish() {
	for j := 1; j < taus; j++ {
		m[j].S22, m[j].T2 = m[0].S22, m[0].T2
	}
	for j := range m {
		m[j].D = m[0].D
	}
}

// leastSteady is the least share of steady wear in a bedding-in curve, against
// the bedding-in A over the longest run: wear never stops for good.
const leastSteady = 0.02

// curve solves shape j. Its loss is half the weighted sum of squares left; ok
// is false where there is no wear to fit.
func (m *shapeSums) curve(j int, longest float64) (c Curve, loss float64, ok bool) {
	a, b, ok := m[j].solve(leastSteady / longest)
	if !ok {
		return Curve{}, 0, false
	}
	loss = m[j].loss(a, b)
	if j < taus {
		return Curve{Form: BeddingIn, A: a, Tau: shapeTau(j, longest), B: b}, loss, true
	}
	q := shapePower(j - taus)
	return Curve{Form: PowerLaw, B: b / math.Pow(longest, q), Q: q}, loss, true
}

// best returns the shape of least loss among those of a form, or among all for
// NoCurve. Where the readings cannot tell, as when all were taken at the same
// hours, it is even wear from the start, the last power: no bedding-in is made
// up.
func (m *shapeSums) best(form Form, longest float64) (c shaped, ok bool) {
	least := math.Inf(1)
	for j := shapes - 1; j >= 0; j-- {
		cj, loss, can := m.curve(j, longest)
		if can && (form == NoCurve || form == cj.Form) && (!ok || loss < least-1e-6*(1+least)) {
			c, least, ok = shaped{cj, j}, loss, true
		}
	}
	return c, ok
}
