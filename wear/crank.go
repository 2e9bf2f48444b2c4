package wear

import (
	"errors"
	"fmt"
	"math"
)

// Errors of a crank and its rods.
var (
	ErrRodShort   = errors.New("the rod is not longer than the crank radius")
	ErrLinkShort  = errors.New("the link rod does not reach its cylinder")
	ErrPosition   = errors.New("no such position")
	ErrTwice      = errors.New("position given twice")
	ErrMasterRod  = errors.New("the master-rod cylinder is not known")
	ErrNoCylinder = errors.New("no cylinders")
)

// PlainCrank is a crank of which each cylinder has a connecting rod of its
// own: inline, flat and V engines.
type PlainCrank struct {
	Radius Value // of the crank, half the stroke
	Rod    Value // between the middles of piston pin and crankpin
	Throws []Throw
}

// Throw is one cylinder's place on a plain crank. Angles are in degrees in the
// direction the crank turns.
type Throw struct {
	Position int
	Axis     float64 // of the cylinder, from any line that all share
	Ahead    float64 // of its crankpin, ahead of the crank's pointer
}

// Height is the distance s in mm from crank centre to piston pin with the
// crank's pointer at the angle crank, degrees:
//
//	s = r cos β + √(L² - r² sin² β),  β = crank + ahead - axis,
//
// r crank radius, L rod length, mm; cylinder axes meet the crank's. Valid for
// 0 < r < L ≤ 10 m. Errors: those of Check, ErrPosition, ErrNotFinite,
// ErrRange. Source: slider-crank geometry, derived here.
func (c PlainCrank) Height(position int, crank float64) (float64, error) {
	if err := errors.Join(c.Check(), checkAngles(crank)); err != nil {
		return 0, fmt.Errorf("reckon piston height: %w", err)
	}
	for _, t := range c.Throws {
		if t.Position == position {
			return sliderHeight(c.Radius.millimetres(), c.Rod.millimetres(), radians(crank+t.Ahead-t.Axis)), nil
		}
	}
	return 0, fmt.Errorf("reckon piston height: position %d: %w", position, ErrPosition)
}

// Curve is Height at steps equal angles, 360 i/steps degrees from 0 over one
// turn of the crank, in mm, for drawing. steps is 1 to 3,600. Errors: those of
// Height. Source: as Height.
func (c PlainCrank) Curve(position, steps int) ([]float64, error) {
	if err := errors.Join(c.Check(), checkSteps(steps)); err != nil {
		return nil, fmt.Errorf("draw piston height: %w", err)
	}
	heights := make([]float64, steps)
	for i := range heights {
		s, err := c.Height(position, 360*float64(i)/float64(steps))
		if err != nil {
			return nil, err
		}
		heights[i] = s
	}
	return heights, nil
}

func checkSteps(steps int) error {
	if steps < 1 || steps > 3600 {
		return fmt.Errorf("check steps: %d: %w", steps, ErrRange)
	}
	return nil
}

// DeadCentres lists the dead centres of each cylinder: top at axis - ahead,
// bottom half a turn on, stroke 2r, without any search. Errors: those of
// Check. Source: slider-crank geometry, derived here.
func (c PlainCrank) DeadCentres() ([]DeadCentre, error) {
	if err := c.Check(); err != nil {
		return nil, fmt.Errorf("find dead centres: %w", err)
	}
	r, l := c.Radius.millimetres(), c.Rod.millimetres()
	var centres []DeadCentre
	for _, t := range c.Throws {
		top := turned(t.Axis - t.Ahead)
		centres = append(centres, DeadCentre{
			Position: t.Position, Nominal: top, Top: top, Bottom: turned(top + 180),
			TopHeight: l + r, BottomHeight: l - r, Stroke: 2 * r,
			Working: plainWorking(r, l),
		})
	}
	return centres, nil
}

// Check returns ErrNoCylinder, ErrTwice, ErrPosition for a position below 1,
// ErrRodShort, and ErrRange or ErrNotFinite for lengths outside 0 to 10 m or
// angles beyond a million degrees. Source: r < L from slider-crank geometry;
// the other bounds are choices.
func (c PlainCrank) Check() error {
	if err := checkCrank(c.Radius, c.Rod); err != nil {
		return err
	}
	positions := make([]int, 0, len(c.Throws))
	for _, t := range c.Throws {
		if err := checkAngles(t.Axis, t.Ahead); err != nil {
			return fmt.Errorf("check position %d: %w", t.Position, err)
		}
		positions = append(positions, t.Position)
	}
	return checkPositions(positions)
}

// longestRod bounds lengths, nm.
const longestRod Value = 10_000_000_000

func checkCrank(radius, rod Value) error {
	if radius <= 0 || rod > longestRod {
		return fmt.Errorf("check crank: radius or rod: %w", ErrRange)
	}
	if rod <= radius {
		return fmt.Errorf("check crank: %w", ErrRodShort)
	}
	return nil
}

// checkPositions wants each position from 1 up, once.
func checkPositions(positions []int) error {
	if len(positions) == 0 {
		return fmt.Errorf("check positions: %w", ErrNoCylinder)
	}
	seen := map[int]bool{}
	for _, p := range positions {
		if p < 1 {
			return fmt.Errorf("check positions: %d: %w", p, ErrPosition)
		}
		if seen[p] {
			return fmt.Errorf("check positions: %d: %w", p, ErrTwice)
		}
		seen[p] = true
	}
	return nil
}

func checkAngles(degrees ...float64) error {
	if err := checkNumbers(degrees...); err != nil {
		return fmt.Errorf("check angle: %w", err)
	}
	for _, d := range degrees {
		if math.Abs(d) > 1e6 {
			return fmt.Errorf("check angle: %g degrees: %w", d, ErrRange)
		}
	}
	return nil
}

func sliderHeight(r, l, b float64) float64 {
	t := r * math.Sin(b)
	return r*math.Cos(b) + math.Sqrt(l*l-t*t)
}

// millimetres is the length in mm, for formulas.
func (v Value) millimetres() float64 { return float64(v) / 1e6 }

func radians(degrees float64) float64 { return degrees * math.Pi / 180 }
func degrees(radians float64) float64 { return radians * 180 / math.Pi }

// turned brings an angle in degrees to 0 ≤ a < 360.
func turned(a float64) float64 {
	if a = math.Mod(a, 360); a < 0 {
		a += 360
	}
	if a >= 360 { // a tiny negative angle rounds up to a whole turn
		a = 0
	}
	return a + 0 // no minus nothing
}

// aside brings an angle in degrees to -180 < a ≤ 180.
func aside(a float64) float64 {
	if a = turned(a); a > 180 {
		a -= 360
	}
	return a
}
