package wear

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Gauged is a size or force with the standard uncertainty it was measured
// with, both in base units.
type Gauged struct {
	Value Value
	U     float64
}

// PressureFrom says what a ring's contact pressure was worked out from. The
// words are the names of the features measured.
type PressureFrom string

// The three ways to a contact pressure.
const (
	FromTangential PressureFrom = "tangential force"
	FromDiametral  PressureFrom = "diametral force"
	FromFreeGap    PressureFrom = "free gap"
)

// RingMaterial is the material of a ring, as far as it matters for the ratio
// of its two forces.
type RingMaterial string

// The materials a ratio is published for, and any other.
const (
	CastIronRing  RingMaterial = "cast iron"
	SGIronRing    RingMaterial = "SG iron"
	OtherMaterial RingMaterial = "other"
)

// RingSizes are what was measured of one ring. Only what From asks for is
// looked at: a force and axial width, or the gaps and radial thickness, and
// always the bore.
type RingSizes struct {
	From      PressureFrom
	Material  RingMaterial
	Force     Gauged  // tangential or diametral, as From says
	FreeGap   Gauged  // between the ends of the free ring
	ClosedGap Gauged  // between its ends in the bore
	Width     Gauged  // axial, h
	Radial    Gauged  // radial thickness, a
	Bore      Gauged  // d
	Modulus   float64 // E, N/mm²
	ModulusU  float64
}

// Errors of a ring's contact pressure.
var (
	ErrPressureFrom = errors.New("not a way to a ring's contact pressure")
	ErrRingMaterial = errors.New("not a known ring material")
	ErrRingSize     = errors.New("not the sizes of a ring")
	ErrBores        = errors.New("the rings are not set against the same bore")
	ErrRatioLimits  = errors.New("limits of the pressure ratio must lie on both sides of 1")
)

// UncertaintyPart is one input's part of a relative standard uncertainty,
// signed as the result moves with the input.
type UncertaintyPart struct {
	Of       string
	Relative float64
}

// RingPressure is a ring's contact pressure and how it came about.
type RingPressure struct {
	Ring       RingSizes
	P, U       float64 // N/mm², and its standard uncertainty
	Tangential float64 // N, measured or reckoned; 0 where no axial width was given
	Parts      []UncertaintyPart
	Hint       string
	Assumed    []string
	Working    []Step
}

const (
	ringManual = "Goetze piston ring handbook, theoretical relationships"
	gumSum     = "JCGM 100 (GUM) 5.1.2"
)

// PressureOf works out the mean pressure p a ring puts on its bore by its own
// spring, from one of
//
//	tangential force  p = 2 Ft / (d h)
//	diametral force   p = 2 Fd / (k d h),  k of DiametralFactor
//	free gap          p = E m / ((9π/4) d (d/a - 1)³),  m = free gap - closed gap
//
// with forces in N, lengths in mm, E and p in N/mm². The free gap's formula
// holds for a plain rectangular section of one material without a spring
// behind it. The uncertainty is the root sum of squares of each input's part.
//
// Valid for sizes above 0 and up to 1 km, a below d/2, 0 < m and a free gap
// below d, E from 1,000 to 1,000,000 N/mm². Every uncertainty must be 0 or more
// and below half its size, since the sum is linear. Numbers that From does not
// ask for must be finite too. Errors: ErrPressureFrom,
// ErrRingMaterial, ErrRingSize, ErrNotFinite, ErrRange.
//
// Source: thin-ring theory with the symbols of ISO 6621; Goetze piston ring
// handbook; uncertainty JCGM 100 (GUM) 5.1.2.
func PressureOf(r RingSizes) (RingPressure, error) {
	p := RingPressure{Ring: r}
	if err := r.check(); err != nil {
		return RingPressure{}, fmt.Errorf("work out pressure: %w", err)
	}
	if err := p.size("bore", r.Bore, 0); err != nil {
		return RingPressure{}, err
	}
	var err error
	switch r.From {
	case FromTangential, FromDiametral:
		err = p.fromForce()
	case FromFreeGap:
		err = p.fromGap()
	default:
		err = fmt.Errorf("work out pressure from %q: %w", r.From, ErrPressureFrom)
	}
	if err != nil {
		return RingPressure{}, err
	}
	var sum float64
	squares := make([]string, len(p.Parts))
	for i, part := range p.Parts {
		sum += part.Relative * part.Relative
		squares[i] = fmt.Sprintf("%.2g²", math.Abs(part.Relative))
	}
	p.U = p.P * math.Sqrt(sum)
	p.Hint = usualPressure(p.P)
	p.step("standard uncertainty", "u(p) = p √Σ(part)²", fmt.Sprintf("%.4g × √(%s) = %.4g N/mm²", p.P, strings.Join(squares, " + "), p.U), gumSum)
	if err := checkNumbers(p.P, p.U, p.Tangential); err != nil {
		return RingPressure{}, fmt.Errorf("work out pressure: %w", err)
	}
	return p, nil
}

// check returns ErrNotFinite or ErrRange, also for numbers that From does not
// ask for: they go along with the result.
func (r RingSizes) check() error {
	return checkNumbers(r.Force.U, r.FreeGap.U, r.ClosedGap.U, r.Width.U, r.Radial.U, r.Bore.U, r.Modulus, r.ModulusU)
}

// check returns ErrNotFinite or ErrRange for what PressureOf never gives.
func (p RingPressure) check() error {
	if err := p.Ring.check(); err != nil {
		return err
	}
	for _, part := range p.Parts {
		if err := checkNumbers(part.Relative); err != nil {
			return err
		}
	}
	return checkNumbers(p.P, p.U, p.Tangential)
}

// fromForce reckons from either force.
func (p *RingPressure) fromForce() error {
	r := p.Ring
	if err := p.size("force", r.Force, 1); err != nil {
		return err
	}
	if err := p.size("axial width", r.Width, -1); err != nil {
		return err
	}
	p.part("bore", r.Bore, -1)
	h, d := r.Width.Value.In(Millimetre), r.Bore.Value.In(Millimetre)
	p.Tangential = r.Force.Value.In(Newton)
	if r.From == FromDiametral {
		k, u, source, err := DiametralFactor(r.Material)
		if err != nil {
			return err
		}
		p.Parts = append(p.Parts, UncertaintyPart{"force ratio", -u / k})
		p.step("tangential force", "Ft = Fd / k", fmt.Sprintf("%.4g N / %.4g = %.4g N", p.Tangential, k, p.Tangential/k), source)
		p.Assumed = append(p.Assumed, fmt.Sprintf("diametral force is %.4g times tangential force (%s)", k, r.Material))
		p.Tangential /= k
	}
	p.P = 2 * p.Tangential / (d * h)
	p.step("contact pressure", "p = 2 Ft / (d h)", fmt.Sprintf("2 × %.4g N / (%.3f mm × %.3f mm) = %.4g N/mm²", p.Tangential, d, h, p.P), ringManual)
	return nil
}

// fromGap reckons from the free gap. With D = d - a the parts are those of
// ∂ln p: 1/E, 1/m, 3 d/(a D) for a and -(1/d + 3/D) for d.
func (p *RingPressure) fromGap() error {
	r := p.Ring
	m := Gauged{r.FreeGap.Value - r.ClosedGap.Value, math.Hypot(r.FreeGap.U, r.ClosedGap.U)}
	if r.FreeGap.U < 0 || r.ClosedGap.U < 0 {
		return fmt.Errorf("check uncertainty of gaps: %w", ErrRange)
	}
	if r.ClosedGap.Value < 0 || r.FreeGap.Value <= r.ClosedGap.Value || r.FreeGap.Value >= r.Bore.Value {
		return fmt.Errorf("take closed gap from free gap: %w", ErrRingSize)
	}
	if err := p.size("free gap", m, 1); err != nil {
		return err
	}
	if r.Radial.Value >= r.Bore.Value/2 {
		return fmt.Errorf("compare radial thickness with bore: %w", ErrRingSize)
	}
	gap, a, d := m.Value.In(Millimetre), r.Radial.Value.In(Millimetre), r.Bore.Value.In(Millimetre)
	if err := p.size("radial thickness", r.Radial, 3*d/(d-a)); err != nil {
		return err
	}
	if err := p.modulus(); err != nil {
		return err
	}
	p.part("bore", r.Bore, -(1 + 3*d/(d-a)))
	p.P = r.Modulus * gap / (9 * math.Pi / 4 * d * math.Pow(d/a-1, 3))
	p.step("contact pressure", "p = E m / ((9π/4) d (d/a - 1)³)",
		fmt.Sprintf("%.0f N/mm² × %.3f mm / (7.0686 × %.3f mm × (%.3f / %.3f - 1)³) = %.4g N/mm²", r.Modulus, gap, d, d, a, p.P), "thin-ring theory")
	p.Assumed = append(p.Assumed, "plain rectangular section of one material, no spring behind the ring",
		fmt.Sprintf("modulus of elasticity %.0f N/mm²", r.Modulus))
	if r.Width.Value > 0 {
		h := r.Width.Value.In(Millimetre)
		p.Tangential = p.P * d * h / 2
		p.step("tangential force", "Ft = p d h / 2", fmt.Sprintf("%.4g N/mm² × %.3f mm × %.3f mm / 2 = %.4g N", p.P, d, h, p.Tangential), ringManual)
	}
	return nil
}

func (p *RingPressure) modulus() error {
	e, u := p.Ring.Modulus, p.Ring.ModulusU
	if err := checkNumbers(e, u); err != nil {
		return fmt.Errorf("check modulus: %w", err)
	}
	if e < 1e3 || e > 1e6 || u < 0 || u >= e/2 {
		return fmt.Errorf("check modulus of %g N/mm²: %w", e, ErrRange)
	}
	p.Parts = append(p.Parts, UncertaintyPart{"modulus", u / e})
	return nil
}

// size checks a size and, where it has a power, keeps its part.
func (p *RingPressure) size(of string, g Gauged, power float64) error {
	if err := checkNumbers(g.U); err != nil {
		return fmt.Errorf("check uncertainty of %s: %w", of, err)
	}
	if g.Value <= 0 || g.Value > largest {
		return fmt.Errorf("check %s: %w", of, ErrRingSize)
	}
	if g.U < 0 || g.U >= float64(g.Value)/2 {
		return fmt.Errorf("check uncertainty of %s: %w", of, ErrRange)
	}
	if power != 0 {
		p.part(of, g, power)
	}
	return nil
}

func (p *RingPressure) part(of string, g Gauged, power float64) {
	p.Parts = append(p.Parts, UncertaintyPart{of, power * g.U / float64(g.Value)})
}

func (p *RingPressure) step(text, equation, numbers, source string) {
	p.Working = append(p.Working, Step{text, equation, numbers, source})
}

// DiametralFactor is the ratio k of the diametral force Fd, across the ring at
// right angles to the gap, to the tangential force Ft of a band round it, and
// the standard uncertainty of k: 2.05 for cast iron, 2.15 for SG iron, each
// within 5 %, and for any other material the thin ring's
//
//	k = 1 + 4/π = 2.2732.
//
// Either load is the one that brings the diameter at right angles to the gap
// to size. At the angle φ from the back the pressure bends the ring by
// p h r² (1 + cos φ), where p h r = Ft, and the force Fd by Fd r cos φ up to
// 90° and not at all beyond. The diameter closes in proportion to
//
//	Ft ∫(1 + cos φ) cos φ dφ = Ft (2 + π/2)  and  Fd ∫cos² φ dφ = Fd π/2
//
// between -90° and 90°, and k = (2 + π/2) / (π/2). The iron figures were found
// by trial. For other materials a tenth either way is allowed, the distance
// from theory to cast iron (a choice without a source). An error bound e is
// taken as rectangular, u = k e / √3.
//
// Errors: ErrRingMaterial. Source: Goetze piston ring handbook, diametral
// force, for the iron figures and their 5 %; thin ring by derivation; JCGM 100
// (GUM) 4.3.7.
func DiametralFactor(m RingMaterial) (k, u float64, source string, err error) {
	bound := 0.05
	source = "Goetze piston ring handbook, diametral force"
	switch m {
	case CastIronRing:
		k = 2.05
	case SGIronRing:
		k = 2.15
	case OtherMaterial:
		k, bound, source = 1+4/math.Pi, 0.1, "thin-ring theory, by derivation"
	default:
		return 0, 0, "", fmt.Errorf("find force ratio of %q: %w", m, ErrRingMaterial)
	}
	return k, k * bound / math.Sqrt(3), source, nil
}

// usualPressure compares with 0.12 to 0.25 N/mm², usual for compression rings
// of DIN and ISO standards. Source: Goetze piston ring handbook.
func usualPressure(p float64) string {
	where := "within"
	if p < 0.12 {
		where = "below"
	} else if p > 0.25 {
		where = "above"
	}
	return where + " the 0.12 to 0.25 N/mm² usual for compression rings without a spring (" + ringManual + "); a hint, not a limit"
}
