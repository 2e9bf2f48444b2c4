package wear

import (
	"fmt"
	"math"
)

// GapIn is the end gap that a ring would show in the bore it runs in, when it
// was measured in another, such as a gauge ring:
//
//	gap = g + π (D - D₀),
//
// g measured in the bore D₀, D the bore it runs in, nanometres: about 0.003 in
// for each 0.001 in. A gap follows the circumference, so that the diameter of a
// bore that is out of round is the mean over its axes. It is 0 where the ends
// butt, and below 0 where the ring is too long for the bore by so much and would
// not go in. The gap measured is 0 or more, bores above 0, all up to 1 km.
// Errors: ErrRange, ErrNotFinite. Source: exact by geometry, for a ring that
// does not change its length.
func GapIn(gap, measuredIn, runsIn Gauged) (Gauged, error) {
	open := gap
	if gap.Value == 0 {
		open.Value = 1 // ends that just touch are a measurement as well
	}
	for _, g := range [...]Gauged{open, measuredIn, runsIn} {
		if err := checkGauged(g); err != nil {
			return Gauged{}, fmt.Errorf("carry end gap over: %w", err)
		}
	}
	more := math.Pi * float64(runsIn.Value-measuredIn.Value)
	return Gauged{
		Value: gap.Value + Value(math.Round(more)),
		U:     math.Hypot(gap.U, math.Pi*math.Hypot(runsIn.U, measuredIn.U)),
	}, nil
}

// BoreGrowth is how much wider a bore is than its unworn end, by the bore
// gauge and by a ring's end gap. Nanometres.
type BoreGrowth struct {
	ByGap, ByGapU     float64
	ByGauge, ByGaugeU float64
	Difference        float64 // by gap less by gauge
	Bound             float64 // that two right measurements stay within 19 times in 20
	Disagree          bool
}

// CompareGrowth holds the two ways of measuring bore growth against each
// other: one ring pushed to the worn place and to the unworn skirt end,
//
//	growth = (gap(worn) - gap(unworn)) / π,
//
// and the bore gauge at the same places. They disagree when they differ by
// more than 1.96 √(u₁² + u₂²): one of them is wrong, or the bore is out of
// round, which a gap averages over. Errors: ErrRange, ErrNotFinite.
//
// Source: exact by geometry; JCGM 100 (GUM) 5.1.2; the 0.975 quantile of the
// normal distribution, NIST/SEMATECH e-Handbook 1.3.6.7.1.
func CompareGrowth(gapWorn, gapUnworn, boreWorn, boreUnworn Gauged) (BoreGrowth, error) {
	for _, g := range [...]Gauged{gapWorn, gapUnworn, boreWorn, boreUnworn} {
		if err := checkGauged(g); err != nil {
			return BoreGrowth{}, fmt.Errorf("compare bore growth: %w", err)
		}
	}
	const twoSided95 = 1.96
	b := BoreGrowth{
		ByGap: float64(gapWorn.Value-gapUnworn.Value) / math.Pi, ByGapU: math.Hypot(gapWorn.U, gapUnworn.U) / math.Pi,
		ByGauge: float64(boreWorn.Value - boreUnworn.Value), ByGaugeU: math.Hypot(boreWorn.U, boreUnworn.U),
	}
	b.Difference = b.ByGap - b.ByGauge
	b.Bound = twoSided95 * math.Hypot(b.ByGapU, b.ByGaugeU)
	b.Disagree = math.Abs(b.Difference) > b.Bound
	return b, nil
}
