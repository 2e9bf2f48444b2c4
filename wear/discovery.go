package wear

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Discovery is one chance in the order of a fleet's chances.
type Discovery struct {
	Index    int     // in the list of chances given
	P        float64 // as given
	Rank     int     // from 1, the least likely
	Adjusted float64 // least share of false findings at which this one passes
	Passes   bool    // at the share asked for
}

// Discoveries puts the chances of a fleet, each that a normal part shows as
// much, in the order of their weight and says which pass: those up to the
// largest rank i with
//
//	p(i) ≤ i q / m,
//
// m the number of chances, so that among all that pass the share of normal
// parts is expected to be at most q. Adjusted is min over j ≥ i of m p(j) / j,
// at most 1. Of equal chances the earlier in the list comes first; all of them
// pass or none. Give it one chance for each part that was tested; parts that
// were not tested do not belong in it. It holds for independent tests and for
// those that rise and fall together.
//
// Errors: ErrNotFinite; ErrRange for chances outside 0 to 1 and for q outside
// more than 0 to 1.
//
// Source: Benjamini and Hochberg, J. R. Statist. Soc. B 57(1), 289-300 (1995);
// for tests that rise and fall together Benjamini and Yekutieli, Annals of
// Statistics 29(4), 1165-1188 (2001).
func Discoveries(p []float64, q float64) ([]Discovery, error) {
	if math.IsNaN(q) || !(q > 0) || q > 1 {
		return nil, fmt.Errorf("order chances: share %g: %w", q, ErrRange)
	}
	order := make([]Discovery, len(p))
	for i, x := range p {
		if math.IsNaN(x) {
			return nil, fmt.Errorf("order chances: chance %d: %w", i, ErrNotFinite)
		}
		if x < 0 || x > 1 {
			return nil, fmt.Errorf("order chances: chance %d is %g: %w", i, x, ErrRange)
		}
		order[i] = Discovery{Index: i, P: x}
	}
	slices.SortStableFunc(order, func(a, b Discovery) int { return cmp.Compare(a.P, b.P) })
	least := 1.0
	for i := len(order) - 1; i >= 0; i-- {
		d := &order[i]
		d.Rank = i + 1
		least = math.Min(least, d.P*(float64(len(p))/float64(d.Rank)))
		d.Adjusted, d.Passes = least, least <= q
	}
	return order, nil
}

// LeastOf is Discoveries for the least chances of m tests, the others not at
// hand and none less than any given: what they could still take off Adjusted is
// left out, so that it is an upper bound. m below the number given counts as
// that number. Errors as Discoveries. Source: as Discoveries.
func LeastOf(p []float64, m int, q float64) ([]Discovery, error) {
	order, err := Discoveries(p, q)
	if err != nil {
		return nil, err
	}
	more := float64(max(m, len(p))) / float64(max(len(p), 1))
	least := 1.0
	for i := len(order) - 1; i >= 0; i-- {
		d := &order[i]
		least = math.Min(least, d.P*(float64(len(p))/float64(d.Rank))*more)
		d.Adjusted, d.Passes = least, least <= q
	}
	return order, nil
}
