package wear

import (
	"errors"
	"fmt"
	"math"
)

// Point is one inspection of a run: hours in the run, the dimension signed so
// that it grows with wear, in any one length unit, and its standard
// uncertainty in that unit. Assumed marks a pseudo-reading, the middle of the
// new limits, where nobody measured the part when it was new.
type Point struct {
	Hours   float64
	Y       float64
	U       float64
	Assumed bool
}

// Run is a part's life between two events that reset wear, its points ordered
// by hours. The first point is the baseline.
type Run struct {
	Points []Point
}

// Allowance is the maker's wear allowance, (service limit - middle of new) /
// overhaul life, in length units an hour; 0 where the maker gives none. Life is
// the overhaul life in hours it is spread over, 0 where not known.
type Allowance struct {
	PerHour float64
	Life    float64
}

// Errors of what a caller can get wrong.
var (
	ErrOrder     = errors.New("points are not in the order of their hours")
	ErrNotFinite = errors.New("number is not finite")
	ErrRange     = errors.New("number is out of range")
	ErrQuestions = errors.New("not one question for each run")
	ErrSettings  = errors.New("setting is out of range")
	ErrForm      = errors.New("not a form of expected wear")
	ErrShares    = errors.New("not one share for each run")
)

// largest bounds hours, lengths and uncertainties, so that no sum of squares
// overflows; smallest is a length below which nothing is measured and an hour
// span below which nothing wears.
const (
	largest  = 1e12
	smallest = 1e-12
)

// check returns ErrOrder, ErrNotFinite or ErrRange for a run that cannot be
// reckoned with. A run without points is fine: it says nothing.
func (r Run) check() error {
	for i, p := range r.Points {
		if err := checkNumbers(p.Hours, p.Y, p.U); err != nil {
			return fmt.Errorf("check point %d: %w", i, err)
		}
		if p.Hours < 0 || p.U < 0 {
			return fmt.Errorf("check point %d: negative hours or uncertainty: %w", i, ErrRange)
		}
		if i > 0 && p.Hours < r.Points[i-1].Hours {
			return fmt.Errorf("check point %d: %w", i, ErrOrder)
		}
	}
	return nil
}

// check returns ErrNotFinite or ErrRange.
func (a Allowance) check() error {
	if err := checkNumbers(a.PerHour, a.Life); err != nil {
		return fmt.Errorf("check allowance: %w", err)
	}
	if a.PerHour < 0 || a.Life < 0 {
		return fmt.Errorf("check allowance: negative: %w", ErrRange)
	}
	return nil
}

func checkNumbers(xs ...float64) error { return checkWithin(largest, xs...) }

// checkWithin returns ErrNotFinite, or ErrRange for what is further from 0 than
// most.
func checkWithin(most float64, xs ...float64) error {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return ErrNotFinite
		}
		if math.Abs(x) > most {
			return ErrRange
		}
	}
	return nil
}

// first returns the baseline and last the latest point; the run has points.
func (r Run) first() Point { return r.Points[0] }
func (r Run) last() Point  { return r.Points[len(r.Points)-1] }

// ages reports whether the run has a reading at later hours than its baseline.
func (r Run) ages() bool {
	return len(r.Points) > 1 && r.last().Hours-r.first().Hours > smallest
}
