package wear

import (
	"errors"
	"fmt"
)

// Errors of firing orders and crank angles.
var (
	ErrFiring = errors.New("no firing order is known for this number of cylinders")
	ErrRows   = errors.New("a radial engine has one or two rows")
	ErrEach   = errors.New("not every position once")
)

// mostCylinders bounds the positions of an engine.
const mostCylinders = 36

// CrankPlace is one cylinder's place in the turn of the crank.
type CrankPlace struct {
	Position int
	Row      int     // 1; of two rows 1 is the rear, 2 the front
	Angle    float64 // crank angle of nominal top dead centre, degrees from that of position 1
	Known    bool    // whether the angle is known
	Master   bool    // it has its row's master rod
}

// FiringOrder is the firing order of a four-stroke radial engine numbered
// clockwise seen from the rear, 1 at the top, the crank turning the same way.
// One row of N, odd, 3 to 11: odd numbers, then even. Two rows of N/2, odd,
// with throws half a turn apart, N 6 to 22, odd numbers in the rear row: add
// N/2 + 2, or take N/2 - 2 where that passes N: 9 and 5 of 14 cylinders, 11
// and 7 of 18. Errors: ErrRows, ErrFiring. Source: FAA-H-8083-32, firing
// order, for rows of 5, 7, 9 and for 14 and 18; other numbers by the same
// rule, which follows from even intervals of 720/N.
func FiringOrder(cylinders, rows int) ([]int, error) {
	fail := func(err error) ([]int, error) {
		return nil, fmt.Errorf("find firing order of %d cylinders in %d rows: %w", cylinders, rows, err)
	}
	if rows != 1 && rows != 2 {
		return fail(ErrRows)
	}
	row := cylinders / rows
	if cylinders%rows != 0 || row%2 == 0 || row < 3 || row > 11 {
		return fail(ErrFiring)
	}
	step := 2
	if rows == 2 {
		step = row + 2
	}
	order := make([]int, cylinders)
	for i := range order {
		order[i] = 1 + i*step%cylinders
	}
	return order, nil
}

// RadialPlaces are the crank angles of a radial engine numbered clockwise
// seen from the rear, 1 at the top: 360/N (position - 1) degrees in one row.
// Of two rows the odd numbers are the rear one, and the front throw stands
// half a turn from the rear one. masters are the positions of the master-rod
// cylinders, one for each row. against is set where the crank turns
// anticlockwise seen from the rear, so that it meets the numbers backwards.
// N is 3 to 36. Errors: ErrRows, ErrRange, ErrMasterRod where a row's master
// rod is not named, or named twice. Source: FAA-H-8083-32, cylinder numbering;
// throws half a turn apart from its firing orders of 14 and 18 cylinders.
func RadialPlaces(cylinders, rows int, masters []int, against bool) ([]CrankPlace, error) {
	fail := func(err error) ([]CrankPlace, error) {
		return nil, fmt.Errorf("place cylinders: %w", err)
	}
	if rows != 1 && rows != 2 || cylinders%rows != 0 {
		return fail(ErrRows)
	}
	if cylinders < 3 || cylinders > mostCylinders {
		return fail(ErrRange)
	}
	places := make([]CrankPlace, cylinders)
	for i := range places {
		places[i] = CrankPlace{Position: i + 1, Row: 1 + i%rows, Angle: radialAngle(i, cylinders, rows, against), Known: true}
	}
	if err := markMasters(places, rows, masters); err != nil {
		return fail(err)
	}
	return places, nil
}

func radialAngle(i, cylinders, rows int, against bool) float64 {
	axis := 360 * i
	if against {
		axis = -axis
	}
	if i%rows == 1 {
		axis -= 180 * cylinders
	}
	around := 360 * cylinders
	return float64(((axis%around)+around)%around) / float64(cylinders)
}

func markMasters(places []CrankPlace, rows int, masters []int) error {
	if len(masters) != rows {
		return fmt.Errorf("%d named for %d rows: %w", len(masters), rows, ErrMasterRod)
	}
	taken := map[int]bool{}
	for _, m := range masters {
		if m < 1 || m > len(places) || taken[places[m-1].Row] {
			return fmt.Errorf("position %d: %w", m, ErrMasterRod)
		}
		places[m-1].Master, taken[places[m-1].Row] = true, true
	}
	return nil
}

// FiringPlaces are the crank angles of a four-stroke engine with a rod for each
// cylinder, from the firing order of its maker, with even intervals: the
// cylinder that fires i-th reaches top dead centre at 720 i/N degrees, counted
// from position 1, and again a turn later. N is 1 to 36. Errors: ErrEach,
// ErrRange. Source: FAA-H-8083-32, firing order; even intervals assumed.
func FiringPlaces(firing []int) ([]CrankPlace, error) {
	n := len(firing)
	if n < 1 || n > mostCylinders {
		return nil, fmt.Errorf("place cylinders: %d of them: %w", n, ErrRange)
	}
	places := make([]CrankPlace, n)
	first := 0
	for i, p := range firing {
		if p < 1 || p > n || places[p-1].Known {
			return nil, fmt.Errorf("place cylinders: position %d: %w", p, ErrEach)
		}
		places[p-1] = CrankPlace{Position: p, Row: 1, Known: true, Angle: float64(i)}
		if p == 1 {
			first = i
		}
	}
	for i := range places {
		ahead := int(places[i].Angle) - first + n
		places[i].Angle = float64(720*ahead%(360*n)) / float64(n)
	}
	return places, nil
}
