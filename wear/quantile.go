package wear

import (
	"math"
	"slices"
)

// distribution finds quantiles of a distribution function on an interval. It
// keeps what it has evaluated, so that each search begins where the ones
// before it left off.
type distribution struct {
	f     func(float64) float64
	known []evaluated // by x
}

// evaluated is the function at x: f, and its normal score Φ⁻¹(f), which is
// nearly straight where f is nearly normal.
type evaluated struct{ x, f, score float64 }

func newDistribution(f func(float64) float64, lo, hi float64) *distribution {
	q := &distribution{f: f, known: make([]evaluated, 0, 24)}
	q.known = append(q.known, q.evaluate(lo), q.evaluate(hi))
	return q
}

// mostScore bounds the normal scores: Φ(-mostScore) is about 1e-9.
const mostScore = 6

func (q *distribution) evaluate(x float64) evaluated {
	f := q.f(x)
	return evaluated{x, f, normalScore(f)}
}

// normalScore is Φ⁻¹(f), from -mostScore to mostScore; f may be off its range
// by what rounding does.
func normalScore(f float64) float64 {
	f = math.Min(math.Max(f, 0), 1)
	return math.Min(math.Max(math.Sqrt2*math.Erfinv(2*f-1), -mostScore), mostScore)
}

// Where a search ends: near enough in probability, or in x as a share of the
// interval.
const (
	nearChance = 2e-4
	nearX      = 1e-6
)

// at is x where the growing function passes p, 0 < p < 1; the end of the
// interval where it does not. Regula falsi in the normal score, with the
// Illinois rule, which halves the value at an end that stays.
func (q *distribution) at(p float64) float64 {
	i := slices.IndexFunc(q.known, func(e evaluated) bool { return e.f >= p })
	switch i {
	case 0:
		return q.known[0].x
	case -1:
		return q.known[len(q.known)-1].x
	}
	lo, hi, want := q.known[i-1], q.known[i], normalScore(p)
	least := nearX * (q.known[len(q.known)-1].x - q.known[0].x)
	a, b, side := lo.score-want, hi.score-want, 0
	for range 40 {
		x := (lo.x*b - hi.x*a) / (b - a)
		if math.Abs(lo.f-p) < nearChance {
			return lo.x
		}
		if math.Abs(hi.f-p) < nearChance {
			return hi.x
		}
		if hi.x-lo.x < least {
			return x
		}
		e := q.evaluate(x)
		q.keep(e)
		if e.f < p {
			lo, a = e, e.score-want
			if side == -1 {
				b /= 2
			}
			side = -1
		} else {
			hi, b = e, e.score-want
			if side == 1 {
				a /= 2
			}
			side = 1
		}
	}
	return (lo.x + hi.x) / 2
}

func (q *distribution) keep(e evaluated) {
	i, _ := slices.BinarySearchFunc(q.known, e, func(a, b evaluated) int {
		if a.x < b.x {
			return -1
		}
		return 1
	})
	q.known = slices.Insert(q.known, i, e)
}
