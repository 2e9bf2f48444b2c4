package wear

import (
	"errors"
	"fmt"
	"math"
)

// RodRow is one row of a radial engine: one crankpin, one master rod, and a
// link rod for each other cylinder, hinged to the master rod's big end by a
// knuckle pin. A second row has a RodRow of its own.
type RodRow struct {
	Crank     Value   // crank radius
	MasterRod Value   // between the middles of piston pin and crankpin
	Master    int     // position of the master-rod cylinder
	Ahead     float64 // degrees of this row's crankpin ahead of the crank's pointer
	Cylinders []RodCylinder
}

// RodCylinder is one cylinder of a RodRow. Angles are in degrees in the
// direction the crank turns; the knuckle and rod of the master-rod cylinder
// are not looked at.
type RodCylinder struct {
	Position      int
	Axis          float64 // of the cylinder, from any line that all share
	KnuckleRadius Value   // crankpin to knuckle pin
	KnuckleAngle  float64 // knuckle pin, seen from the crankpin, from the master rod's own line
	LinkRod       Value   // knuckle pin to piston pin
}

// Height is the distance s in mm from crank centre to piston pin with the
// crank's pointer at the angle crank, degrees. With θ the crankpin's angle
// from the master-rod cylinder's axis, sin φ = (r/L) sin θ, and
//
//	master  s = r cos θ + √(L² - r² sin² θ)
//	link    s = r cos(θ-α) + a cos(ψ-φ-α) + √(l² - [r sin(θ-α) + a sin(ψ-φ-α)]²)
//
// r crank radius, L master rod, a knuckle radius, l link rod, mm; α the link
// cylinder's axis from the master's, ψ knuckle angle. The master rod lies at
// the angle -φ, so the knuckle pin lies at ψ-φ from the crankpin. Cylinder
// axes meet the crank's; pins are not offset. Valid where Check passes.
// Errors: those of Check, ErrPosition, ErrNotFinite, ErrRange. Source:
// derived here by adding vectors.
func (w RodRow) Height(position int, crank float64) (float64, error) {
	if err := errors.Join(w.Check(), checkAngles(crank)); err != nil {
		return 0, fmt.Errorf("reckon piston height: %w", err)
	}
	for _, k := range w.linkages() {
		if k.position == position {
			s, _ := k.height(radians(crank)-k.zero, 0)
			return s, nil
		}
	}
	return 0, fmt.Errorf("reckon piston height: position %d: %w", position, ErrPosition)
}

// Curve is Height at steps equal angles, 360 i/steps degrees from 0 over one
// turn of the crank, in mm, for drawing. steps is 1 to 3,600. Errors: those of
// Height. Source: as Height.
func (w RodRow) Curve(position, steps int) ([]float64, error) {
	if err := errors.Join(w.Check(), checkSteps(steps)); err != nil {
		return nil, fmt.Errorf("draw piston height: %w", err)
	}
	for _, k := range w.linkages() {
		if k.position == position {
			heights := make([]float64, steps)
			for i := range heights {
				heights[i], _ = k.height(2*math.Pi*float64(i)/float64(steps)-k.zero, 0)
			}
			return heights, nil
		}
	}
	return nil, fmt.Errorf("draw piston height: position %d: %w", position, ErrPosition)
}

// Check returns ErrRodShort where the master rod is not longer than the crank
// radius, ErrLinkShort where a link rod would stand square to its cylinder or
// not reach it somewhere in the turn, ErrMasterRod where the master-rod
// cylinder is none of the row's, ErrNoCylinder, ErrTwice or ErrPosition for
// the positions, and ErrRange or ErrNotFinite for lengths outside 0 to 10 m
// or angles beyond a million degrees. Source: what reaches, from the geometry of
// Height; the other bounds are choices.
func (w RodRow) Check() error {
	if err := errors.Join(checkCrank(w.Crank, w.MasterRod), checkAngles(w.Ahead)); err != nil {
		return err
	}
	positions, master := make([]int, 0, len(w.Cylinders)), false
	for _, c := range w.Cylinders {
		positions, master = append(positions, c.Position), master || c.Position == w.Master
		if err := c.check(w.Master); err != nil {
			return fmt.Errorf("check position %d: %w", c.Position, err)
		}
	}
	if err := checkPositions(positions); err != nil {
		return err
	}
	if !master {
		return fmt.Errorf("check row: position %d: %w", w.Master, ErrMasterRod)
	}
	for _, k := range w.linkages() {
		if !k.reaches() {
			return fmt.Errorf("check position %d: %w", k.position, ErrLinkShort)
		}
	}
	return nil
}

func (c RodCylinder) check(master int) error {
	if err := checkAngles(c.Axis, c.KnuckleAngle); err != nil {
		return err
	}
	if c.Position != master && (c.KnuckleRadius <= 0 || c.LinkRod <= 0 || max(c.KnuckleRadius, c.LinkRod) > longestRod) {
		return fmt.Errorf("check link rod: %w", ErrRange)
	}
	return nil
}

// linkage is one cylinder's geometry in mm and radians. zero is the crank
// angle at which the crankpin lies in the master-rod cylinder's axis, a and
// l are 0 for the master-rod cylinder itself.
type linkage struct {
	position   int
	r, long    float64 // crank radius, master rod
	alpha, psi float64
	a, l       float64
	zero       float64
	nominal    float64 // degrees
}

func (w RodRow) linkages() []linkage {
	var main float64
	for _, c := range w.Cylinders {
		if c.Position == w.Master {
			main = c.Axis
		}
	}
	ks := make([]linkage, 0, len(w.Cylinders))
	for _, c := range w.Cylinders {
		k := linkage{
			position: c.Position, r: w.Crank.millimetres(), long: w.MasterRod.millimetres(),
			alpha: radians(c.Axis - main), psi: radians(c.KnuckleAngle),
			a: c.KnuckleRadius.millimetres(), l: c.LinkRod.millimetres(),
			zero: radians(main - w.Ahead), nominal: turned(c.Axis - w.Ahead),
		}
		if c.Position == w.Master {
			k.alpha, k.psi, k.a, k.l = 0, 0, 0, 0
		}
		ks = append(ks, k)
	}
	return ks
}

// phi is the lean of the master rod at the crankpin angle t, and its slope.
func (k linkage) phi(t float64) (phi, slope float64) {
	sin := k.r / k.long * math.Sin(t)
	phi = math.Asin(sin)
	return phi, k.r / k.long * math.Cos(t) / math.Sqrt(1-sin*sin)
}

// arm is the knuckle pin's place along and across the cylinder's axis.
func (k linkage) arm(t, phi float64) (along, across float64) {
	knuckle := k.psi - phi - k.alpha
	return k.r*math.Cos(t-k.alpha) + k.a*math.Cos(knuckle), k.r*math.Sin(t-k.alpha) + k.a*math.Sin(knuckle)
}

// height is s at the crankpin angle t with the master rod leaning by lean more
// than it does in its cylinder; ok is false where the link rod does not reach.
func (k linkage) height(t, lean float64) (s float64, ok bool) {
	if k.l == 0 {
		return sliderHeight(k.r, k.long, t), true
	}
	phi, _ := k.phi(t)
	along, across := k.arm(t, phi+lean)
	square := k.l*k.l - across*across
	if square <= 0 {
		return 0, false
	}
	return along + math.Sqrt(square), true
}

// slope is ds/dt in mm a radian.
func (k linkage) slope(t float64) float64 {
	if k.l == 0 {
		return -k.r*math.Sin(t) - k.r*k.r*math.Sin(t)*math.Cos(t)/math.Sqrt(k.long*k.long-k.r*k.r*math.Sin(t)*math.Sin(t))
	}
	phi, turn := k.phi(t)
	_, across := k.arm(t, phi)
	knuckle := k.psi - phi - k.alpha
	along := -k.r*math.Sin(t-k.alpha) + k.a*math.Sin(knuckle)*turn
	side := k.r*math.Cos(t-k.alpha) - k.a*math.Cos(knuckle)*turn
	return along - across*side/math.Sqrt(k.l*k.l-across*across)
}

// reaches reports whether the link rod reaches all round: between two of the
// angles tried the knuckle pin moves across by no more than (r + a) half a
// step, as |dφ/dθ| ≤ r/L < 1.
func (k linkage) reaches() bool {
	const steps = 720
	if k.l == 0 {
		return true
	}
	most := 0.0
	for i := range steps {
		t := 2 * math.Pi * float64(i) / steps
		phi, _ := k.phi(t)
		_, across := k.arm(t, phi)
		most = math.Max(most, math.Abs(across))
	}
	return most+(k.r+k.a)*math.Pi/steps < k.l*(1-1e-9)
}
