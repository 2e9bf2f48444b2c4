package wear

import (
	"fmt"
	"slices"
)

// PullState is how far the work has got: the engine's places, the positions that
// are to come off in this job, nil for all, and those that are off now.
type PullState struct {
	Places []CrankPlace
	Pull   []int
	Off    []int
}

// MoveKind is a kind of step in the work.
type MoveKind string

// The steps that an interlock is asked about.
const (
	PullCylinder  MoveKind = "pull"
	RefitCylinder MoveKind = "refit"
	TurnCrank     MoveKind = "turn"
)

// PullMove is a step somebody wants to take: a position pulled or refitted, or
// the crank turned by so many degrees, forwards being positive.
type PullMove struct {
	Kind     MoveKind
	Position int
	Degrees  float64
}

// Allow returns nil where the step may be taken. Otherwise ErrMasterEarly: a
// master-rod cylinder before others of its row that are to come off, or before
// those of another row, which could not be turned up any more. ErrMasterLate:
// another cylinder before its row's master-rod cylinder is back on.
// ErrMasterOff: turning the crank while any is off. ErrBackwards, ErrIsOff,
// ErrIsOn, ErrPosition, ErrTwice for a position listed twice, ErrMove, ErrNotFinite, ErrRange, and those of places
// given wrongly. Source: common practice, no source.
func (s PullState) Allow(m PullMove) error {
	if err := s.refuse(m); err != nil {
		return fmt.Errorf("take step: %w", err)
	}
	return nil
}

func (s PullState) refuse(m PullMove) error {
	ask := PullRequest{Places: s.Places, Pull: s.Pull}
	if len(s.Off) > 0 {
		ask.Off = s.Off
	}
	if _, err := ask.chosen(); err != nil {
		return err
	}
	switch m.Kind {
	case TurnCrank:
		return s.turn(m.Degrees)
	case PullCylinder, RefitCylinder:
	default:
		return fmt.Errorf("%q: %w", m.Kind, ErrMove)
	}
	c, err := s.at(m.Position)
	if err != nil {
		return err
	}
	if m.Kind == PullCylinder {
		return s.pull(c)
	}
	return s.refit(c)
}

func (s PullState) at(position int) (CrankPlace, error) {
	for _, c := range s.Places {
		if c.Position == position {
			return c, nil
		}
	}
	return CrankPlace{}, fmt.Errorf("position %d: %w", position, ErrPosition)
}

func (s PullState) off(position int) bool { return slices.Contains(s.Off, position) }

func (s PullState) pull(c CrankPlace) error {
	if s.off(c.Position) {
		return fmt.Errorf("position %d: %w", c.Position, ErrIsOff)
	}
	for _, other := range s.Places {
		waiting := !other.Master && !s.off(other.Position) && (s.Pull == nil || slices.Contains(s.Pull, other.Position))
		if c.Master && waiting && other.Row == c.Row {
			return fmt.Errorf("position %d: %d is still to come off, and the crank is not turned after: %w", c.Position, other.Position, ErrMasterEarly)
		}
		if c.Master && waiting {
			return fmt.Errorf("position %d: %d of the other row still needs the crank turned: %w", c.Position, other.Position, ErrMasterEarly)
		}
	}
	return nil
}

func (s PullState) refit(c CrankPlace) error {
	if !s.off(c.Position) {
		return fmt.Errorf("position %d: %w", c.Position, ErrIsOn)
	}
	for _, other := range s.Places {
		if other.Master && other.Row == c.Row && other.Position != c.Position && s.off(other.Position) {
			return fmt.Errorf("position %d: %d is still off: %w", c.Position, other.Position, ErrMasterLate)
		}
	}
	return nil
}

func (s PullState) turn(by float64) error {
	if err := checkAngles(by); err != nil {
		return err
	}
	if by < 0 {
		return fmt.Errorf("%g degrees, oil may stand in a lower cylinder: %w", by, ErrBackwards)
	}
	for _, c := range s.Places {
		if c.Master && s.off(c.Position) {
			return fmt.Errorf("position %d, a link piston's lowest ring may leave its barrel: %w", c.Position, ErrMasterOff)
		}
	}
	return nil
}
