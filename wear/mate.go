package wear

import (
	"fmt"
	"math"
)

// Fit is a shaft in a hole: a skirt in a barrel, a ring in a groove, a pin in
// a piston or bushing, a stem in a guide.
type Fit struct {
	Hole, Shaft Gauged
	Clearance   Value   // hole less shaft, nanometres; below 0 it is an interference
	U           float64 // its standard uncertainty
}

// FitOf is the fit of two parts that were measured at one temperature:
//
//	clearance = hole - shaft,  u = √(u(hole)² + u(shaft)²).
//
// Sizes must be above 0 and up to 1 km. Errors: ErrRange, ErrNotFinite.
// Source: JCGM 100 (GUM) 5.1.2 for u.
func FitOf(hole, shaft Gauged) (Fit, error) {
	for _, g := range [...]Gauged{hole, shaft} {
		if err := checkGauged(g); err != nil {
			return Fit{}, fmt.Errorf("work out fit: %w", err)
		}
	}
	return Fit{hole, shaft, hole.Value - shaft.Value, math.Hypot(hole.U, shaft.U)}, nil
}

// WorstFit judges the loosest and the tightest of the pairs of spots at which a
// hole and a shaft were measured, and returns the one that is judged worse; the
// loosest where they are judged alike.
//
// Source: common practice, no source.
func WorstFit(loosest, tightest Fit, l Limit) (Fit, Assessment) {
	a, b := AssessClearance(loosest.Clearance, loosest.U, l), AssessClearance(tightest.Clearance, tightest.U, l)
	if b.Verdict > a.Verdict || b.Verdict == a.Verdict && b.Plain > a.Plain {
		return tightest, b
	}
	return loosest, a
}

func checkGauged(g Gauged) error {
	if err := checkNumbers(g.U); err != nil {
		return err
	}
	if g.Value <= 0 || g.Value > largest || g.U < 0 {
		return ErrRange
	}
	return nil
}

// FitText writes a clearance as tables of limits do: 0.0015L is loose, 0.0005T
// tight; nothing at all is 0.0000L. Source: US Army TM 9-2815-220-34 table
// 3-11.
func FitText(clearance Value, u Unit) string {
	if clearance < 0 {
		return Value(0).less(clearance).Format(u) + "T"
	}
	return clearance.Format(u) + "L"
}

// FitLimit is the limit of a fit as it follows from those of its parts:
//
//	new      min hole - max shaft  to  max hole - min shaft,
//	service  up to  service max hole - service min shaft.
//
// A bound that lacks one of its two figures is not given. A maker's own limit
// of the fit prevails over it.
//
// Source: arithmetic of limits and fits; checked against the fits that US Army
// TM 9-2815-220-34 table 3-11 prints beside its parts.
func FitLimit(hole, shaft Limit) Limit {
	return Limit{
		NewMin: lessOf(hole.NewMin, shaft.NewMax), NewMax: lessOf(hole.NewMax, shaft.NewMin),
		ServiceMax: lessOf(hole.ServiceMax, shaft.ServiceMin), Wear: Up,
	}
}

func lessOf(a, b *Value) *Value {
	if a == nil || b == nil {
		return nil
	}
	v := a.less(*b)
	return &v
}

// JointVerdict is what two parts and their fit come to together.
type JointVerdict struct {
	Verdict, Plain Verdict
	FitDecides     bool // each part passes for itself, the fit does not
}

// Joint takes the worst of two parts and their fit: a fit beyond its limit
// overrules two parts that pass. Source: US Army TM 9-2520-234-35 para 235.
func Joint(hole, shaft, fit Assessment) JointVerdict {
	parts, plain := max(hole.Verdict, shaft.Verdict), max(hole.Plain, shaft.Plain)
	return JointVerdict{
		Verdict: max(parts, fit.Verdict), Plain: max(plain, fit.Plain),
		FitDecides: fit.Verdict > parts && fit.Verdict >= Undecided || fit.Plain == Beyond && plain < Beyond,
	}
}
