package wear

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// MatchHole is what a part is wanted for: a barrel with its bore, or a groove
// with its width.
type MatchHole struct {
	Name     string
	Size     Gauged  // where it is tightest
	Largest  *Gauged // where it is loosest, nil where that is Size too
	Oversize Value
	Fit      *MatchFit // its own limits, nil for those of MatchAsk
}

// MatchShaft is a part on offer: a piston with its skirt, or a ring with its
// axial width.
type MatchShaft struct {
	Name     string
	Size     Gauged  // where it is largest
	Smallest *Gauged // where it is smallest, nil where that is Size too
	Weight   *Value  // nil where it was not weighed
	Oversize Value
	Rings    *MatchRings // the rings that go with it, nil where none do
	Home     *int        // the hole it comes from, nil for none: of placings that fit alike the one that moves less
}

// MatchRings is the set of rings that goes with a piston.
type MatchRings struct {
	Name     string
	Oversize Value
}

// MatchFit is the clearance allowed between hole and shaft, below 0 for a
// tight fit, and the clearance wanted: the middle, where Target is nil.
type MatchFit struct {
	Min, Max Value
	Target   *Value
	Of       *Limit // that the bounds were taken from, by which verdicts go; nil where they are all that is known
	New      bool   // the bounds are the new ones
}

// MatchBan is a pair that may not go together, with the reason in words.
type MatchBan struct {
	Hole, Shaft int
	Reason      string
}

// MatchPin is a pair that the mechanic has settled.
type MatchPin struct{ Hole, Shaft int }

// MatchAsk is the parts to be matched and what the maker allows. Holes and
// shafts are named by their place in the lists, from 0.
type MatchAsk struct {
	Holes  []MatchHole
	Shafts []MatchShaft
	Fit    MatchFit
	Spread Value // most between the lightest and the heaviest; 0 for no rule
	Bans   []MatchBan
	Pins   []MatchPin

	Unit, WeightUnit    Unit   // to write with, zero for millimetres and grams
	HoleWord, ShaftWord string // to write with, empty for barrel and piston
}

// Errors of matching.
var (
	ErrMatchSize   = errors.New("not the sizes of parts to be matched")
	ErrMatchFit    = errors.New("limits of the fit make no sense")
	ErrMatchWeight = errors.New("weight or spread of weights makes no sense")
	ErrMatchPair   = errors.New("no such pair of parts")
	ErrMatchPin    = errors.New("pinned twice")
	ErrMatchMany   = errors.New("too many parts to match at once")
)

// What a matching may be made of.
const (
	mostHoles  = 100
	mostShafts = 500
	widestFit  = Value(10_000_000) // 10 mm either way, so that no sum of squares overflows
)

// MatchFitOf takes the limits of a fit from the maker's table: the new ones, or the
// service ones with the new one where a service bound is not given. The target
// is the middle of the new limits, where both are given. Errors: ErrMatchFit
// where a bound is missing or the bounds are crossed.
//
// Source: common practice, no source.
func MatchFitOf(l Limit, service bool) (MatchFit, error) {
	lo, hi := l.NewMin, l.NewMax
	if service {
		lo, hi = cmp.Or(l.ServiceMin, l.NewMin), cmp.Or(l.ServiceMax, l.NewMax)
	}
	if lo == nil || hi == nil {
		return MatchFit{}, fmt.Errorf("take limits of fit: one is missing: %w", ErrMatchFit)
	}
	f := MatchFit{Min: *lo, Max: *hi, Of: &l, New: !service}
	if l.NewMin != nil && l.NewMax != nil {
		fresh := MatchFit{Min: *l.NewMin, Max: *l.NewMax}
		if err := fresh.check(); err != nil {
			return MatchFit{}, fmt.Errorf("take new limits of fit: %w", err)
		}
		middle := fresh.target()
		f.Target = &middle
	}
	if err := f.check(); err != nil {
		return MatchFit{}, fmt.Errorf("take limits of fit: %w", err)
	}
	return f, nil
}

// target is the clearance wanted; half a nanometre is rounded down.
func (f MatchFit) target() Value {
	if f.Target != nil {
		return *f.Target
	}
	return f.Min + (f.Max-f.Min)/2
}

func (f MatchFit) check() error {
	for _, v := range []Value{f.Min, f.Max, f.target()} {
		if v < -widestFit || v > widestFit {
			return fmt.Errorf("more than 10 mm: %w", ErrMatchFit)
		}
	}
	if f.Min > f.Max {
		return fmt.Errorf("least above most: %w", ErrMatchFit)
	}
	return nil
}

// miss is by how much the loosest clearance is too loose or, below 0, the
// tightest too tight, whichever is more.
func (f MatchFit) miss(tightest, loosest Value) Value {
	loose, tight := max(loosest-f.Max, 0), min(tightest-f.Min, 0)
	if -tight > loose {
		return tight
	}
	return loose
}

// limit is what verdicts go by.
func (f MatchFit) limit() Limit {
	if f.Of != nil {
		return *f.Of
	}
	return Limit{ServiceMin: &f.Min, ServiceMax: &f.Max}
}

// BanOversizes bans every pair whose oversizes differ, of part or of its
// rings. Oversizes are of one base unit, undersizes below 0; they must be alike
// to the last.
//
// Source: common practice, no source.
func BanOversizes(ask MatchAsk) []MatchBan {
	var bans []MatchBan
	for h, hole := range ask.Holes {
		for s, shaft := range ask.Shafts {
			switch rings := shaft.Rings; {
			case shaft.Oversize != hole.Oversize:
				bans = append(bans, MatchBan{h, s, fmt.Sprintf("%s is %s, %s is %s", ask.hole(h), ask.over(hole.Oversize), ask.shaft(s), ask.over(shaft.Oversize))})
			case rings != nil && rings.Oversize != hole.Oversize:
				bans = append(bans, MatchBan{h, s, fmt.Sprintf("%s is %s, rings %s are %s", ask.hole(h), ask.over(hole.Oversize), rings.Name, ask.over(rings.Oversize))})
			}
		}
	}
	return bans
}

// Matching is the best placing of shafts in holes, or why there is none.
type Matching struct {
	Best       *Placing  // nil where there is none
	Why        *MatchWhy // nil where there is a placing
	NotWeighed []int     // shafts left out, since a rule of weights needs them weighed
	Spare      []int     // shafts not used by Best
}

// Match chooses as many shafts as there are holes and places them, so that
// every
//
//	clearance = hole - shaft
//
// is within the limits of the fit where it is tightest and where it is loosest,
// no pair is banned, pinned pairs stay,
//
//	heaviest - lightest ≤ spread
//
// and the sum of (tightest clearance - target)², and of 1 nm² for each shaft that is not
// in its Home, is the least there is, exactly, in whole nm². Every window of
// weights that starts at a shaft's weight is solved as an assignment. Where a
// spread is set, shafts that were not weighed are left out. Of placings that
// are equally good the lighter one is taken.
//
// Valid for 1 to 100 holes and up to 500 shafts of sizes above 0 and up to
// 1 km, limits and targets up to 10 mm either way, weights above 0 and up to
// 1 t. Comparisons are of the plain figures, as in the maker's manual; each
// line's assessment allows for the gauge. ErrMatchPair also for a Home that is
// no hole. Errors: ErrMatchSize, ErrMatchFit,
// ErrMatchWeight, ErrMatchPair, ErrMatchPin, ErrMatchMany, ErrNotFinite,
// ErrRange.
//
// Source: fits by geometry; least squares as the measure of a good set is
// common practice, no source; a spread of weights as the maker gives it
// (FAA-H-8083-32, a quarter of an ounce).
func Match(ask MatchAsk) (Matching, error) {
	if err := ask.check(); err != nil {
		return Matching{}, fmt.Errorf("match parts: %w", err)
	}
	m := newMatcher(ask)
	result := Matching{NotWeighed: m.notWeighed}
	of := m.solve(ask.Spread)
	if of == nil {
		result.Why = m.why()
		return result, nil
	}
	best := m.judge(of)
	result.Best = &best
	for s := range ask.Shafts {
		if !slices.Contains(of, s) {
			result.Spare = append(result.Spare, s)
		}
	}
	return result, nil
}

// matcher is a question with its pairs worked out.
type matcher struct {
	MatchAsk
	cost       [][]int64 // squared distance from the target, nm²; noPair where not possible
	usable     []int     // shafts that may be used, by weight where a spread is set
	notWeighed []int
	bans       map[MatchPin]string
	shaftOf    map[int]int // pins
	holeOf     map[int]int
}

func newMatcher(ask MatchAsk) *matcher {
	m := &matcher{MatchAsk: ask, bans: map[MatchPin]string{}, shaftOf: map[int]int{}, holeOf: map[int]int{}}
	for _, b := range ask.Bans {
		pair := MatchPin{b.Hole, b.Shaft}
		if m.bans[pair] != "" && b.Reason != "" {
			b.Reason = m.bans[pair] + "; " + b.Reason
		}
		m.bans[pair] = cmp.Or(b.Reason, m.bans[pair], "not allowed")
	}
	for _, p := range ask.Pins {
		m.shaftOf[p.Hole], m.holeOf[p.Shaft] = p.Shaft, p.Hole
	}
	for s, shaft := range ask.Shafts {
		if ask.Spread > 0 && shaft.Weight == nil {
			m.notWeighed = append(m.notWeighed, s)
		} else {
			m.usable = append(m.usable, s)
		}
	}
	if ask.Spread > 0 {
		slices.SortStableFunc(m.usable, func(a, b int) int { return cmp.Compare(m.weight(a), m.weight(b)) })
	}
	m.cost = make([][]int64, len(ask.Holes))
	for h := range ask.Holes {
		m.cost[h] = make([]int64, len(ask.Shafts))
		for s := range ask.Shafts {
			m.cost[h][s] = m.pairCost(h, s)
		}
	}
	return m
}

func (m *matcher) weight(s int) Value { return *m.Shafts[s].Weight }

func (m *matcher) pairCost(h, s int) int64 {
	fit, clearance := m.fit(h), m.clearance(h, s)
	if fit.miss(clearance, m.loosest(h, s)) != 0 || m.bans[MatchPin{h, s}] != "" || !m.open(h, s) {
		return noPair
	}
	d := int64(clearance - fit.target())
	if home := m.Shafts[s].Home; home == nil || *home != h {
		return d*d + 1 // square nanometre: only what fits alike is told apart by it
	}
	return d * d
}

// open reports whether the pins leave this pair to choose.
func (m *matcher) open(h, s int) bool {
	shaft, holePinned := m.shaftOf[h]
	hole, shaftPinned := m.holeOf[s]
	return (!holePinned || shaft == s) && (!shaftPinned || hole == h)
}

// solve returns the best shaft of each hole with the weights within spread,
// nil where there is none.
func (m *matcher) solve(spread Value) []int {
	if m.Spread == 0 {
		of, _, _ := assign(m.cost, m.usable, math.MaxInt64)
		return of
	}
	var best []int
	least, end := int64(math.MaxInt64), 0
	for start, s := range m.usable {
		before := end
		for end < len(m.usable) && m.weight(m.usable[end])-m.weight(s) <= spread {
			end++
		}
		if end == before { // part of the window before
			continue
		}
		if of, total, ok := assign(m.cost, m.usable[start:end], least); ok {
			best, least = of, total
		}
	}
	return best
}

// JudgePlacing judges a placing that was settled by hand: of[hole] is its
// shaft, -1 where none is placed. Nothing is moved, and pins are only marked.
// The sums are those of Match; a sum of squares from 4.6e18 nm² on (a line 2 m
// off) is shown as the largest int64. Valid range and errors as Match;
// ErrMatchPair also where of has not one entry a hole or names no shaft. Source:
// as Match.
func JudgePlacing(ask MatchAsk, of []int) (Placing, error) {
	if err := ask.check(); err != nil {
		return Placing{}, fmt.Errorf("judge placing: %w", err)
	}
	if len(of) != len(ask.Holes) {
		return Placing{}, fmt.Errorf("judge placing of %d lines for %d: %w", len(of), len(ask.Holes), ErrMatchPair)
	}
	for _, s := range of {
		if s < -1 || s >= len(ask.Shafts) {
			return Placing{}, fmt.Errorf("judge placing of part %d: %w", s, ErrMatchPair)
		}
	}
	return newMatcher(ask).judge(of), nil
}
