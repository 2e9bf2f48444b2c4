package wear

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Errors of the order of removal and refitting.
var (
	ErrNoAngles    = errors.New("the crank angles are not known: type the firing order or the maker's order")
	ErrMasterEarly = errors.New("the master-rod cylinder comes off last in its row")
	ErrMasterLate  = errors.New("the master-rod cylinder goes on first in its row")
	ErrMasterOff   = errors.New("a master-rod cylinder is off: the crank is not turned")
	ErrBackwards   = errors.New("the crank is never turned backwards")
	ErrIsOff       = errors.New("the cylinder is off")
	ErrIsOn        = errors.New("the cylinder is on")
	ErrMove        = errors.New("no such step of work")
)

// PullRequest asks for an order in which to take cylinders off or put them on.
type PullRequest struct {
	Places  []CrankPlace // every position of the engine
	Pull    []int        // those that come off; nil for all
	Off     []int        // those that are off already, where some are
	From    float64      // where the crank stands, degrees from top dead centre of position 1
	Maker   []int        // every position in the maker's order as typed, nil where there is none
	Centres []DeadCentre // true dead centres where the rods are known, from the same line as the places
}

// PullLine is one line of the order.
type PullLine struct {
	Position, Row int
	Master        bool
	Known         bool    // whether the crank angles are known
	Angle         float64 // crank angle of nominal top dead centre, degrees
	Turn          float64 // forward from where the crank stands to that angle, degrees
	HasTrue       bool
	True          float64 // crank angle of true top dead centre, degrees
	Offset        float64 // of true from nominal top dead centre; positive is later
	Reason        string
	Caution       string // where the step goes against a rule of the trade
}

// PullPlan is an order with the crank's turning it takes, degrees.
type PullPlan struct {
	Lines     []PullLine
	From, End float64
	Turn      float64
	ByMaker   bool // the maker's order; else the least turning
}

// PlanRemoval orders cylinders for removal, each with its piston at top dead
// centre of either stroke, so that
//
//	turn = (angle - where the crank stands) mod 360, degrees, forwards only.
//
// Master-rod cylinders come last; before them the others go as the crank
// brings them up: every cylinder is taken when it first passes, so no order
// turns the crank less. The maker's order, where typed, is followed instead
// and only checked. A master-rod cylinder that comes off after another, at
// another crank angle, gets a caution: the crank would turn with a master rod
// loose. Centres are of the engine's positions, each at most once. Errors:
// ErrNoCylinder, ErrPosition, ErrTwice, ErrEach,
// ErrNoAngles, ErrNotFinite, ErrRange, and ErrMasterEarly for a maker's order
// with another cylinder after its row's master-rod cylinder. Source: common
// practice, no source.
func PlanRemoval(r PullRequest) (PullPlan, error) {
	p, err := r.plan(false)
	if err != nil {
		return PullPlan{}, fmt.Errorf("plan removal: %w", err)
	}
	return p, nil
}

// PlanRefit orders cylinders for refitting: master-rod cylinders first, then
// the others as the crank brings them up. Otherwise as PlanRemoval, From being
// where the crank stood after removal, and Maker the maker's order of
// refitting, with ErrMasterLate for one that has another cylinder before its
// row's master-rod cylinder. Source: common practice, no source.
func PlanRefit(r PullRequest) (PullPlan, error) {
	p, err := r.plan(true)
	if err != nil {
		return PullPlan{}, fmt.Errorf("plan refit: %w", err)
	}
	return p, nil
}

func (r PullRequest) plan(refit bool) (PullPlan, error) {
	chosen, err := r.chosen()
	if err != nil {
		return PullPlan{}, err
	}
	known := !slices.ContainsFunc(chosen, func(c CrankPlace) bool { return !c.Known })
	switch {
	case r.Maker != nil:
		err = r.inMakersOrder(chosen, refit)
	case !known:
		err = ErrNoAngles
	default:
		r.inCrankOrder(chosen, refit)
	}
	if err != nil {
		return PullPlan{}, err
	}
	p := PullPlan{From: turned(r.From), End: turned(r.From), ByMaker: r.Maker != nil}
	for i, c := range chosen {
		p.add(c, known)
		line := &p.Lines[i]
		line.Reason = r.reason(*line, refit)
		line.Caution = r.caution(*line, chosen, i, refit)
		for _, d := range r.Centres {
			if d.Position == c.Position {
				line.HasTrue, line.True, line.Offset = true, d.Top, d.TopOffset
			}
		}
	}
	return p, nil
}

func (p *PullPlan) add(c CrankPlace, known bool) {
	line := PullLine{Position: c.Position, Row: c.Row, Master: c.Master, Known: known}
	if known {
		line.Angle, line.Turn = turned(c.Angle), forward(p.End, c.Angle)
		p.Turn += line.Turn
		p.End = line.Angle
	}
	p.Lines = append(p.Lines, line)
}

// chosen are the places that are to come off, after checks.
func (r PullRequest) chosen() ([]CrankPlace, error) {
	positions := make([]int, 0, len(r.Places))
	for _, c := range r.Places {
		positions = append(positions, c.Position)
		if err := checkAngles(c.Angle); err != nil {
			return nil, err
		}
	}
	err := errors.Join(checkPositions(positions), checkAngles(r.From))
	centred := map[int]bool{}
	for _, d := range r.Centres {
		err = errors.Join(err, checkAngles(d.Top, d.TopOffset))
		if !slices.Contains(positions, d.Position) {
			err = errors.Join(err, fmt.Errorf("dead centre of position %d: %w", d.Position, ErrPosition))
		} else if centred[d.Position] {
			err = errors.Join(err, fmt.Errorf("dead centre of position %d: %w", d.Position, ErrTwice))
		}
		centred[d.Position] = true
	}
	if err != nil {
		return nil, err
	}
	if r.Off != nil {
		if err := checkPositions(r.Off); err != nil {
			return nil, err
		}
	}
	for _, p := range r.Off {
		if !slices.Contains(positions, p) {
			return nil, fmt.Errorf("position %d, off already: %w", p, ErrPosition)
		}
	}
	if r.Pull == nil {
		return slices.Clone(r.Places), nil
	}
	if err := checkPositions(r.Pull); err != nil {
		return nil, err
	}
	var chosen []CrankPlace
	for _, p := range r.Pull {
		i := slices.Index(positions, p)
		if i < 0 {
			return nil, fmt.Errorf("position %d: %w", p, ErrPosition)
		}
		chosen = append(chosen, r.Places[i])
	}
	return chosen, nil
}

// inMakersOrder checks the maker's order and sorts by it.
func (r PullRequest) inMakersOrder(chosen []CrankPlace, refit bool) error {
	seen := map[int]bool{}
	for _, p := range r.Maker {
		known := slices.ContainsFunc(r.Places, func(c CrankPlace) bool { return c.Position == p })
		if !known || seen[p] {
			return fmt.Errorf("maker's order: position %d: %w", p, ErrEach)
		}
		seen[p] = true
	}
	if len(seen) != len(r.Places) {
		return fmt.Errorf("maker's order: %d of %d positions: %w", len(seen), len(r.Places), ErrEach)
	}
	slices.SortFunc(chosen, func(a, b CrankPlace) int {
		return cmp.Compare(slices.Index(r.Maker, a.Position), slices.Index(r.Maker, b.Position))
	})
	return checkMasters(chosen, refit)
}

// checkMasters wants each master last of its row, or first.
func checkMasters(chosen []CrankPlace, refit bool) error {
	for i, m := range chosen {
		wrong, err := chosen[i+1:], ErrMasterEarly
		if refit {
			wrong, err = chosen[:i], ErrMasterLate
		}
		if m.Master && slices.ContainsFunc(wrong, func(c CrankPlace) bool { return c.Row == m.Row }) {
			return fmt.Errorf("maker's order: position %d: %w", m.Position, err)
		}
	}
	return nil
}

// inCrankOrder sorts by when the crank brings each up, masters last or first.
func (r PullRequest) inCrankOrder(chosen []CrankPlace, refit bool) {
	var early, late []CrankPlace
	for _, c := range chosen {
		if c.Master == refit {
			early = append(early, c)
		} else {
			late = append(late, c)
		}
	}
	end := sortForward(early, r.From)
	sortForward(late, end)
	copy(chosen, append(early, late...))
}

// sortForward sorts by the turn from an angle, and returns the last angle.
func sortForward(places []CrankPlace, from float64) float64 {
	slices.SortFunc(places, func(a, b CrankPlace) int {
		return cmp.Or(cmp.Compare(forward(from, a.Angle), forward(from, b.Angle)), cmp.Compare(a.Position, b.Position))
	})
	if len(places) == 0 {
		return from
	}
	return places[len(places)-1].Angle
}

// forward is the turn from one angle to another in the direction of rotation,
// 0 ≤ turn < 360; a millionth of a degree is none.
func forward(from, to float64) float64 {
	turn := turned(to - from)
	if turn < 1e-6 || turn > 360-1e-6 {
		return 0
	}
	return turn
}

func (r PullRequest) reason(l PullLine, refit bool) string {
	switch {
	case l.Master && refit:
		return "Master-rod cylinder: first of its row to go on."
	case l.Master:
		return "Master-rod cylinder: last of its row to come off. From then on the crank is not turned, and its rod stays centred" + r.staysOn(l.Row) + "."
	case r.Maker != nil:
		return "The maker's order, as typed."
	case l.Turn == 0:
		return "The first: the crank stands at its top dead centre."
	}
	return fmt.Sprintf("The next piston to reach top dead centre, %s° on in the direction of rotation.", degreesText(l.Turn))
}

// staysOn names the cylinders that keep their link pistons in the barrel.
func (r PullRequest) staysOn(row int) string {
	var on []string
	for _, c := range r.Places {
		stays := r.Pull != nil && !slices.Contains(r.Pull, c.Position) && !slices.Contains(r.Off, c.Position)
		if c.Row == row && !c.Master && stays {
			on = append(on, strconv.Itoa(c.Position))
		}
	}
	if len(on) == 0 {
		return ""
	}
	return ": pistons are still in cylinders " + strings.Join(on, ", ")
}

// caution is said of a turn with a master-rod cylinder off.
func (r PullRequest) caution(l PullLine, chosen []CrankPlace, i int, refit bool) string {
	off := slices.Clone(chosen[:i])
	if refit {
		off = slices.Clone(chosen[i:])
	}
	for _, c := range r.Places {
		if slices.Contains(r.Off, c.Position) && !slices.Contains(chosen, c) {
			off = append(off, c)
		}
	}
	m := slices.IndexFunc(off, func(c CrankPlace) bool { return c.Master })
	if m < 0 || l.Known && l.Turn == 0 {
		return ""
	}
	turn := "where it has to turn"
	if l.Known {
		turn = "for these " + degreesText(l.Turn) + "°"
	}
	return fmt.Sprintf("The crank is not turned with master-rod cylinder %d off: %s, follow the maker's manual for holding its rod.", off[m].Position, turn)
}

func degreesText(d float64) string {
	return strconv.FormatFloat(math.Round(d*10)/10, 'f', -1, 64)
}
