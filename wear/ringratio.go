package wear

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
)

// RatioLimits are how much harder or softer than the ring it replaces a ring
// may press before the program warns.
type RatioLimits struct {
	High, Low float64
}

// DefaultRatioLimits warn above 1.15 and, the same the other way about, below
// 1/1.15. Source: common practice, no source.
func DefaultRatioLimits() RatioLimits { return RatioLimits{High: 1.15, Low: 1 / 1.15} }

// RatioState says how a ring's pressure compares.
type RatioState string

// Alike lies between the limits; OpenRatio is too near one of them to tell
// with what was measured.
const (
	PressureAlike RatioState = "alike"
	PressureHigh  RatioState = "higher"
	PressureLow   RatioState = "lower"
	PressureOpen  RatioState = "undecided"
)

// PressureComparison is a ring set against the one it replaces.
type PressureComparison struct {
	Offered, Original RingPressure
	Limits            RatioLimits
	Ratio, U          float64    // and its standard uncertainty
	State             RatioState // with the uncertainty allowed for
	Plain             RatioState // the bare comparison: never undecided
	Warn              bool       // Plain is higher or lower
	Words             string
	Assumed           []string
	Working           []Step
}

// ComparePressure sets the pressure of an offered ring against that of the
// ring it replaces, R = p / p₀ in one and the same bore. What both share drops
// out of the uncertainty: the bore, the force ratio where both diametral
// forces were measured on rings of one material, and the modulus where both
// free gaps were and it is the same. Higher or lower means past the limit by
// more than U = 1.645 u(R); a ratio on the limit is not past it. Zero limits
// stand for DefaultRatioLimits.
//
// Errors: ErrBores, ErrRatioLimits, ErrNotFinite, ErrRange. Source of the
// decision: ISO 14253-1; of the limits and of what to expect: common practice,
// no source.
func ComparePressure(offered, original RingPressure, l RatioLimits) (PressureComparison, error) {
	if l == (RatioLimits{}) {
		l = DefaultRatioLimits()
	}
	if !(l.High > 1 && l.High < largest && l.Low > 0 && l.Low < 1) {
		return PressureComparison{}, fmt.Errorf("compare pressures: %w", ErrRatioLimits)
	}
	if offered.Ring.Bore != original.Ring.Bore {
		return PressureComparison{}, fmt.Errorf("compare pressures: %w", ErrBores)
	}
	if err := errors.Join(offered.check(), original.check()); err != nil {
		return PressureComparison{}, fmt.Errorf("compare pressures: %w", err)
	}
	if !(offered.P > 0 && original.P > 0) {
		return PressureComparison{}, fmt.Errorf("compare pressures: %w", ErrRange)
	}
	c := PressureComparison{Offered: offered, Original: original, Limits: l, Ratio: offered.P / original.P}
	shared := c.shared()
	c.U = c.Ratio * relativeOfRatio(offered.Parts, original.Parts, shared)
	if err := checkNumbers(c.Ratio, c.U); err != nil {
		return PressureComparison{}, fmt.Errorf("compare pressures: %w", err)
	}
	c.judge()
	c.Working = []Step{
		{"ratio of contact pressures", "R = p / p₀", fmt.Sprintf("%.4g / %.4g N/mm² = %.3f", offered.P, original.P, c.Ratio), "by definition"},
		{"its uncertainty, one-sided 95 %", "U = 1.645 R √Σ(part)², a part that both share counted as its difference", fmt.Sprintf("1.645 × %.3f × %.3g = %.2g", c.Ratio, c.U/c.Ratio, ExpandedU(c.U)), gumSum},
	}
	return c, nil
}

// shared names the inputs the two rings have in common.
func (c *PressureComparison) shared() map[string]bool {
	a, b := c.Offered.Ring, c.Original.Ring
	shared := map[string]bool{"bore": true}
	if a.From != b.From || a.Material != b.Material {
		return shared
	}
	switch {
	case a.From == FromDiametral:
		shared["force ratio"] = true
		c.Assumed = append(c.Assumed, "the two forces stand in the same ratio in both rings")
	case a.From == FromFreeGap && a.Modulus == b.Modulus && a.ModulusU == b.ModulusU:
		shared["modulus"] = true
		c.Assumed = append(c.Assumed, "the modulus of elasticity is the same in both rings")
	}
	return shared
}

// relativeOfRatio is the relative standard uncertainty of a ratio: shared
// parts subtract before they are squared.
func relativeOfRatio(over, under []UncertaintyPart, shared map[string]bool) float64 {
	var sum float64
	common := map[string]float64{}
	for i, parts := range [...][]UncertaintyPart{over, under} {
		for _, p := range parts {
			if !shared[p.Of] {
				sum += p.Relative * p.Relative
			} else if i == 0 {
				common[p.Of] += p.Relative
			} else {
				common[p.Of] -= p.Relative
			}
		}
	}
	for _, of := range slices.Sorted(maps.Keys(common)) { // in one order, so that the last digit is always the same
		sum += common[of] * common[of]
	}
	return math.Sqrt(sum)
}

func (c *PressureComparison) judge() {
	c.Plain = stateOf(c.Ratio, c.Ratio, c.Limits)
	u := ExpandedU(c.U)
	c.State = stateOf(c.Ratio-u, c.Ratio+u, c.Limits)
	c.Warn = c.Plain != PressureAlike
	c.Words = fmt.Sprintf("Presses %.3f ± %.3f times as hard as the ring it replaces. ", c.Ratio, u)
	if c.State == PressureOpen {
		c.Words += fmt.Sprintf("Too near the limit of %.2f to %.2f to be sure: measure again or better. ", c.Limits.Low, c.Limits.High)
	}
	switch c.Plain {
	case PressureHigh:
		c.Words += "Expect it to wear the barrel and the piston fast: a barrel under 100 h old can look like one of 1,000 h, and the piston wears with it."
	case PressureLow:
		c.Words += "Expect it to seal badly: more gas past the ring into the case, more oil burnt, and slow bedding-in."
	default:
		c.Words += "Near enough for the same wear and sealing, as far as pressure decides it."
	}
}

// stateOf is the state of a ratio known to lie between low and high. Limits
// give by a billionth, so that rounding puts no ratio past one it is on.
func stateOf(low, high float64, l RatioLimits) RatioState {
	const hair = 1e-9
	l.High, l.Low = l.High*(1+hair), l.Low*(1-hair)
	switch {
	case low > l.High:
		return PressureHigh
	case high < l.Low:
		return PressureLow
	case low >= l.Low && high <= l.High:
		return PressureAlike
	}
	return PressureOpen
}
