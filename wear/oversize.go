package wear

import (
	"fmt"
	"math"
	"slices"
)

// OversizeChoice is the smallest listed oversize that cleans up a barrel.
type OversizeChoice struct {
	Clears   bool  // one of those listed does
	Oversize Value // over standard
	Finish   Value // standard and oversize together: the size to grind to
	Metal    Value // on the diameter at the largest spot, the clean-up allowance included
	Short    Value // where none clears: by how much the largest listed one falls short
	Unsure   bool  // the gauge's uncertainty could change the choice
}

// SmallestOversize picks the smallest oversize with
//
//	standard + oversize ≥ largest + allowance,
//
// largest the greatest diameter found anywhere, allowance what must come off
// there for the cut to clean up (the shop's setting). Unsure is set where
// largest + U or largest - U, U = 1.645 u, would pick another. A listed
// oversize of 0 or less is ErrRange, as is a size that is not above 0 or an
// allowance below 0.
//
// Source: FAA-H-8083-32: the largest worn spot decides; oversizes of 0.010,
// 0.015, 0.020 and 0.030 in are usual, of which makers allow some.
func SmallestOversize(standard Value, listed []Value, largestSpot Gauged, allowance Value) (OversizeChoice, error) {
	fail := func(what string) (OversizeChoice, error) {
		return OversizeChoice{}, fmt.Errorf("pick oversize: %s: %w", what, ErrRange)
	}
	switch {
	case standard <= 0 || standard > largest:
		return fail("standard size")
	case largestSpot.Value <= 0 || largestSpot.Value > largest:
		return fail("largest diameter")
	case allowance < 0 || allowance > largest:
		return fail("clean-up allowance")
	case !(largestSpot.U >= 0) || math.IsInf(largestSpot.U, 0):
		return fail("uncertainty")
	}
	sizes := slices.Sorted(slices.Values(listed))
	if len(sizes) > 0 && (sizes[0] <= 0 || sizes[len(sizes)-1] > largest) {
		return fail("listed oversize")
	}
	pick := func(spot Value) int {
		return slices.IndexFunc(sizes, func(o Value) bool { return standard+o >= spot+allowance })
	}
	u := Value(math.Round(math.Min(ExpandedU(largestSpot.U), largest)))
	i := pick(largestSpot.Value)
	c := OversizeChoice{Unsure: i != pick(largestSpot.Value+u) || i != pick(largestSpot.Value-u)}
	if c.Clears = i >= 0; c.Clears {
		c.Oversize, c.Finish = sizes[i], standard+sizes[i]
		c.Metal = c.Finish - largestSpot.Value
	} else {
		c.Short = largestSpot.Value + allowance - standard
		if n := len(sizes); n > 0 {
			c.Short -= sizes[n-1]
		}
	}
	return c, nil
}
