package wear

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// WidthRing is a ring on offer for a groove to be machined: its axial width
// between the maker's limits, or twice the same where there is one figure.
type WidthRing struct {
	Name               string
	WidthMin, WidthMax Value
	Pressure           *RingPressure // in the bore it is for, nil where not known
}

// CutLand is a land next to the groove and the share of the machining that
// comes off it.
type CutLand struct {
	Name    string
	Width   Gauged
	Min     *Value // least width allowed, nil where none was given
	Percent int    // of the machining, 0 to 100
}

// RegrooveAsk is what an over-width ring is wanted for.
type RegrooveAsk struct {
	Groove                     Gauged // as worn, at its widest
	ClearanceMin, ClearanceMax Value  // wanted side clearance
	CleanUp                    Value  // least cut that leaves a clean groove
	Lands                      []CutLand
	Original                   *RingPressure // the ring it replaces, nil where not known
	Ratio                      RatioLimits   // zero for the default
	Unit                       Unit          // to write lengths in, zero for millimetres
}

// RegrooveReason is why a ring cannot be used.
type RegrooveReason string

// The reasons.
const (
	RingVariesTooMuch RegrooveReason = "the ring's own width varies more than the side clearance allows"
	GrooveNotClean    RegrooveReason = "the worn groove is wider than the new one and would not clean up"
	LandTooThin       RegrooveReason = "a land would be left below its limit"
)

// ErrRegroove is what a groove, ring or land cannot be.
var ErrRegroove = errors.New("sizes of groove, ring or land make no sense")

// LandLeft is a land after machining.
type LandLeft struct {
	Land CutLand
	Left Value // after the largest cut; never more than is left
	Assessment
}

// Regroove is one ring's groove worked out.
type Regroove struct {
	Ring                 WidthRing
	GrooveMin, GrooveMax Value      // to be machined to
	CutMin, CutMax       Value      // to be taken off
	ClearMin, ClearMax   Value      // side clearance of the ring in it then
	CleansUp             Assessment // of the worn groove against the largest new one
	Lands                []LandLeft
	NeededForce          float64 // N tangential for the original's pressure, 0 where not known
	Pressure             *PressureComparison
	Works                bool
	Reasons              []RegrooveReason
	Notes                []string
	Working              []Step
}

// RankRegrooves works out every ring and puts the best first: those that work,
// then those whose lands are left thick enough for sure, for a land that breaks
// takes the engine with it, then those that press like the original, then those
// nothing is undecided of, then the least cut, then the pressure nearest the
// original's. Of those that do not work, one that leaves a land too thin comes
// last, the more the thinner. Rings alike in all that keep their order. Errors as RegrooveFor, of the
// first bad ring.
// Source: the order is common practice, no source.
func RankRegrooves(ask RegrooveAsk, rings []WidthRing) ([]Regroove, error) {
	var list []Regroove
	for _, ring := range rings {
		g, err := RegrooveFor(ask, ring)
		if err != nil {
			return nil, err
		}
		list = append(list, g)
	}
	slices.SortStableFunc(list, func(a, b Regroove) int {
		return cmp.Or(first(a.Works, b.Works), cmp.Compare(a.landRisk(), b.landRisk()), cmp.Compare(a.landShort(), b.landShort()), first(!a.warns(), !b.warns()), first(!a.open(), !b.open()),
			cmp.Compare(a.CutMax, b.CutMax), cmp.Compare(a.offPressure(), b.offPressure()))
	})
	return list, nil
}

// RegrooveSummary says in a sentence what came of the list, as RankRegrooves
// orders it: its best ring, or the reasons of all where none works.
func RegrooveSummary(list []Regroove) string {
	if len(list) == 0 {
		return "No over-width ring is listed."
	}
	if best := list[0]; best.Works {
		return fmt.Sprintf("%s works with the least drawback.", best.Ring.Name)
	}
	var why []string
	for _, g := range list {
		for _, r := range g.Reasons {
			why = append(why, g.Ring.Name+": "+string(r))
		}
	}
	return "None of the listed over-width rings works. " + strings.Join(why, "; ") + "."
}

// RegrooveFor works out one ring, all in whole nanometres:
//
//	new groove, least = largest ring width + least clearance
//	new groove, most  = least ring width + most clearance
//	cut               = new groove - worn groove
//	land left         = land - cut × its percentage / 100, rounded down
//	side clearance    = least new groove - largest ring width
//	                    to largest new groove - least ring width
//
// The worn groove and its clean-up cut must not be wider than the largest new
// groove. The least new groove is raised to them, and the largest lowered to what
// every land can bear; where nothing is left between them the ring does not work
// and the reason is named. With h, h₀ the middle widths of ring and original, the
// force for the same pressure is
//
//	Ft = Ft₀ h / h₀   (10 % more width needs 10 % more force).
//
// Sizes are above 0 and up to 1 km, clearances and clean-up 0 or more, and
// percentages of all lands together at most 100. Errors: ErrRegroove,
// ErrNotFinite, ErrRange, and those of ComparePressure. Source: by geometry;
// the force from p = 2 Ft / (d h), ISO 6621 symbols.
func RegrooveFor(ask RegrooveAsk, ring WidthRing) (Regroove, error) {
	if err := ask.check(ring); err != nil {
		return Regroove{}, err
	}
	g := Regroove{Ring: ring, GrooveMin: ring.WidthMax + ask.ClearanceMin, GrooveMax: ring.WidthMin + ask.ClearanceMax}
	g.step("new groove width", "least: largest ring width + least clearance; most: least ring width + most clearance", fmt.Sprintf("least %s + %s = %s, most %s + %s = %s", ask.size(ring.WidthMax), ask.size(ask.ClearanceMin), ask.size(g.GrooveMin), ask.size(ring.WidthMin), ask.size(ask.ClearanceMax), ask.size(g.GrooveMax)), "by geometry")
	if err := g.press(ask); err != nil {
		return Regroove{}, err
	}
	if g.GrooveMin > g.GrooveMax {
		g.Reasons = append(g.Reasons, RingVariesTooMuch)
		return g, nil
	}
	clean := ask.Groove.Value + ask.CleanUp
	most := g.GrooveMax
	g.CleansUp = Assess(clean, ask.Groove.U, Limit{ServiceMax: &most, Wear: Up})
	g.step("cleans up", "worn groove + least cut ≤ largest new groove", fmt.Sprintf("%s + %s = %s against %s", ask.size(ask.Groove.Value), ask.size(ask.CleanUp), ask.size(clean), ask.size(most)), "by geometry")
	if g.CleansUp.Plain == Beyond {
		g.Reasons = append(g.Reasons, GrooveNotClean)
		return g, nil
	}
	g.GrooveMin = max(g.GrooveMin, clean)
	g.keepLands(ask)
	g.CutMin, g.CutMax = g.GrooveMin-ask.Groove.Value, g.GrooveMax-ask.Groove.Value
	g.step("to machine", "new groove - worn groove", fmt.Sprintf("%s - %s = %s to %s - %s = %s", ask.size(g.GrooveMin), ask.size(ask.Groove.Value), ask.size(g.CutMin), ask.size(g.GrooveMax), ask.size(ask.Groove.Value), ask.size(g.CutMax)), "by geometry")
	g.ClearMin, g.ClearMax = g.GrooveMin-ring.WidthMax, g.GrooveMax-ring.WidthMin
	g.step("side clearance then", "least: least new groove - largest ring width; most: largest new groove - least ring width", fmt.Sprintf("least %s - %s = %s, most %s - %s = %s", ask.size(g.GrooveMin), ask.size(ring.WidthMax), ask.size(g.ClearMin), ask.size(g.GrooveMax), ask.size(ring.WidthMin), ask.size(g.ClearMax)), "by geometry")
	g.leaveLands(ask)
	g.note(ask)
	g.Works = len(g.Reasons) == 0
	return g, nil
}

// size writes a length in the unit asked for.
func (ask RegrooveAsk) size(v Value) string {
	if ask.Unit.base == nil {
		ask.Unit = Millimetre
	}
	return v.Format(ask.Unit) + " " + ask.Unit.Name
}

func (ask RegrooveAsk) check(ring WidthRing) error {
	bad := func(v Value) bool { return v <= 0 || v > largest }
	if bad(ask.Groove.Value) || bad(ring.WidthMin) || bad(ring.WidthMax) || ring.WidthMin > ring.WidthMax {
		return fmt.Errorf("check groove and ring %s: %w", ring.Name, ErrRegroove)
	}
	if ask.ClearanceMin < 0 || ask.ClearanceMax < ask.ClearanceMin || ask.ClearanceMax > largest || ask.CleanUp < 0 || ask.CleanUp > largest {
		return fmt.Errorf("check side clearance: %w", ErrRegroove)
	}
	us, percent := []float64{ask.Groove.U}, 0
	for _, l := range ask.Lands {
		if bad(l.Width.Value) || l.Percent < 0 || l.Percent > 100 || l.Min != nil && (*l.Min < 0 || *l.Min > largest) {
			return fmt.Errorf("check land %s: %w", l.Name, ErrRegroove)
		}
		us, percent = append(us, l.Width.U), percent+l.Percent
	}
	if percent > 100 {
		return fmt.Errorf("add up lands to %d %%: %w", percent, ErrRegroove)
	}
	for _, p := range [...]*RingPressure{ask.Original, ring.Pressure} {
		if p == nil {
			continue
		}
		if err := p.check(); err != nil {
			return fmt.Errorf("check pressure: %w", err)
		}
	}
	for _, u := range us {
		if err := checkNumbers(u); err != nil {
			return fmt.Errorf("check uncertainty: %w", err)
		}
		if u < 0 {
			return fmt.Errorf("check uncertainty: %w", ErrRange)
		}
	}
	return nil
}

// keepLands lowers the largest groove to what the lands can bear.
func (g *Regroove) keepLands(ask RegrooveAsk) {
	for _, l := range ask.Lands {
		if l.Min == nil {
			continue
		}
		spare, bears := l.Width.Value-*l.Min, g.GrooveMax
		if l.Percent > 0 {
			bears = ask.Groove.Value + spare*100/Value(l.Percent)
		}
		if spare < 0 || bears < g.GrooveMin {
			g.tooThin(l)
		} else if bears < g.GrooveMax {
			g.GrooveMax = bears
			g.Notes = append(g.Notes, fmt.Sprintf("%s allows a groove of %s and no wider", l.Name, ask.size(bears)))
		}
	}
}

func (g *Regroove) tooThin(l CutLand) {
	g.Notes = append(g.Notes, l.Name+" has too little to spare")
	if !slices.Contains(g.Reasons, LandTooThin) {
		g.Reasons = append(g.Reasons, LandTooThin)
	}
}

// leaveLands works out what the largest cut leaves.
func (g *Regroove) leaveLands(ask RegrooveAsk) {
	for _, l := range ask.Lands {
		off := (g.CutMax*Value(l.Percent) + 99) / 100
		left := LandLeft{Land: l, Left: l.Width.Value - off}
		left.Assessment = Assess(left.Left, l.Width.U, Limit{ServiceMin: l.Min, Wear: Down})
		g.Lands = append(g.Lands, left)
		g.step(l.Name, "land - its share of the machining",
			fmt.Sprintf("%s - %s = %s", ask.size(l.Width.Value), ask.size(off), ask.size(left.Left)), "by geometry")
		if left.Left <= 0 && !slices.Contains(g.Reasons, LandTooThin) {
			g.tooThin(l)
		}
	}
}

// press sets the ring's pressure against the original's.
func (g *Regroove) press(ask RegrooveAsk) error {
	was := ask.Original
	if was == nil {
		return nil
	}
	if was.Ring.Width.Value > 0 && was.Tangential > 0 {
		h := (float64(g.Ring.WidthMin) + float64(g.Ring.WidthMax)) / 2
		g.NeededForce = was.Tangential * h / float64(was.Ring.Width.Value)
		if err := checkNumbers(g.NeededForce); err != nil {
			return fmt.Errorf("work out force: %w", err)
		}
		g.step("tangential force for the same pressure", "Ft = Ft₀ h / h₀", fmt.Sprintf("%.4g N × %s / %s = %.4g N", was.Tangential, ask.size(Value(math.Round(h))), ask.size(was.Ring.Width.Value), g.NeededForce), ringManual)
	}
	if g.Ring.Pressure == nil {
		return nil
	}
	c, err := ComparePressure(*g.Ring.Pressure, *was, ask.Ratio)
	if err != nil {
		return fmt.Errorf("compare ring %s: %w", g.Ring.Name, err)
	}
	g.Pressure = &c
	return nil
}

// note says what was not checked or hangs on the measurement.
func (g *Regroove) note(ask RegrooveAsk) {
	percent := 0
	for _, l := range g.Lands {
		percent += l.Land.Percent
		if !l.Bounded {
			g.Notes = append(g.Notes, l.Land.Name+" has no limit to check against")
		} else if l.Verdict == Undecided {
			g.Notes = append(g.Notes, l.Land.Name+" is too near its limit to be sure with this gauge")
		}
	}
	if percent < 100 {
		g.Notes = append(g.Notes, fmt.Sprintf("%d %% of the machining comes off a land that was not given and is not checked", 100-percent))
	}
	if g.CleansUp.Verdict == Undecided {
		g.Notes = append(g.Notes, "whether the worn groove cleans up is too near to be sure with this gauge")
	}
	if g.CutMin == 0 {
		g.Notes = append(g.Notes, "the groove as worn already gives the wanted clearance: cut only if it is not square")
	}
	if ask.Original != nil && g.Pressure == nil {
		g.Notes = append(g.Notes, "the ring's pressure is not known: measure its tension before fitting")
	}
}

func (g *Regroove) step(text, equation, numbers, source string) {
	g.Working = append(g.Working, Step{text, equation, numbers, source})
}

func (g Regroove) warns() bool { return g.Pressure != nil && g.Pressure.Warn }

// open reports whether something beside the lands is too near to be sure of.
func (g Regroove) open() bool {
	return g.CleansUp.Verdict == Undecided || g.Pressure != nil && g.Pressure.State == PressureOpen
}

// landRisk grows with the danger that a land is left too thin: 0 for none that
// is known, 1 where that is too near to be sure, 2 where it is.
func (g Regroove) landRisk() int {
	switch {
	case slices.Contains(g.Reasons, LandTooThin):
		return 2
	case slices.ContainsFunc(g.Lands, func(l LandLeft) bool { return l.Verdict == Undecided }):
		return 1
	}
	return 0
}

// landShort is by how much a land is left below its least, 0 for none.
func (g Regroove) landShort() (short Value) {
	for _, l := range g.Lands {
		if l.Land.Min != nil {
			short = max(short, *l.Land.Min-l.Left)
		}
	}
	return short
}

// offPressure is |ln R|; a ring of unknown pressure comes last.
func (g Regroove) offPressure() float64 {
	if g.Pressure == nil {
		return math.Inf(1)
	}
	return math.Abs(math.Log(g.Pressure.Ratio))
}

// first orders what is true before what is not.
func first(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}
