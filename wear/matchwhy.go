package wear

import (
	"fmt"
	"slices"
	"strings"
)

// WhyCause is what makes a matching impossible.
type WhyCause string

// The causes, in the order in which they are looked for.
const (
	TooFewShafts   WhyCause = "too few candidates"
	NoneFits       WhyCause = "no candidate fits"
	TooFewForThese WhyCause = "too few candidates for some"
	WeightsForbid  WhyCause = "weights too far apart"
)

// MatchMiss is a shaft that misses the limits of a hole's fit.
type MatchMiss struct {
	Shaft     int
	Clearance Value
	Miss      Value // too loose by, or too tight where below 0
}

// Unfilled is a hole that no shaft fits, with all that comes near.
type Unfilled struct {
	Hole       int
	Nearest    *MatchMiss // nil where size is not what stops any
	Banned     []MatchBan // fit by size but are not allowed
	NotWeighed []int      // fit, but were not weighed
	Elsewhere  []int      // fit, but are pinned to another hole
}

// MatchWhy is why there is no placing.
type MatchWhy struct {
	Cause  WhyCause
	Short  int        // TooFewShafts: how many are missing
	None   []Unfilled // NoneFits: every such hole
	Holes  []int      // TooFewForThese: these holes, each of which could be spared,
	Shafts []int      // have only these shafts, one fewer

	SmallestSpread Value    // WeightsForbid: with which it would work
	Nearest        *Placing // WeightsForbid: the best placing with that spread, judged by the rule

	PinsStopIt    bool // it would work without the pins
	WeighingMayDo bool // it would work if the shafts not weighed had fitting weights
	Words         string
}

func (m *matcher) why() *MatchWhy {
	w := &MatchWhy{}
	if w.Short = max(len(m.Holes)-len(m.usable), 0); w.Short > 0 {
		w.Cause = TooFewShafts
	} else if w.None = m.unfilled(); w.None != nil {
		w.Cause = NoneFits
	} else if w.Holes, w.Shafts = rivals(m.cost, m.usable); w.Holes != nil {
		w.Cause = TooFewForThese
		slices.Sort(w.Holes)
		slices.Sort(w.Shafts)
	} else {
		w.Cause = WeightsForbid
		w.SmallestSpread = m.smallestSpread()
		nearest := m.judge(m.solve(w.SmallestSpread))
		w.Nearest = &nearest
	}
	w.WeighingMayDo = m.weighingMayDo()
	if len(m.Pins) > 0 {
		ask := m.MatchAsk
		ask.Pins = nil
		w.PinsStopIt = newMatcher(ask).solve(m.Spread) != nil
	}
	w.Words = m.whyWords(w)
	return w
}

// smallestSpread is the least spread of weights with which every hole can be
// filled; it can be filled with all shafts that were weighed. The window grows
// until it suffices and is then taken in from below.
func (m *matcher) smallestSpread() Value {
	least, end := m.weight(m.usable[len(m.usable)-1])-m.weight(m.usable[0]), 0
	for start, s := range m.usable {
		for !placesAll(m.cost, m.usable[start:end]) {
			if end == len(m.usable) {
				return least
			}
			end++
		}
		least = min(least, m.weight(m.usable[end-1])-m.weight(s))
	}
	return least
}

// weighingMayDo reports whether the holes can be filled once the shafts that
// were not weighed may have any weight.
func (m *matcher) weighingMayDo() bool {
	if len(m.notWeighed) == 0 {
		return false
	}
	for start := range len(m.usable) + 1 {
		columns := slices.Clone(m.notWeighed)
		for _, s := range m.usable[start:] {
			if m.weight(s)-m.weight(m.usable[start]) <= m.Spread {
				columns = append(columns, s)
			}
		}
		if placesAll(m.cost, columns) {
			return true
		}
	}
	return false
}

// unfilled lists the holes that no usable shaft fits.
func (m *matcher) unfilled() []Unfilled {
	var list []Unfilled
	for h, costs := range m.cost {
		if !slices.ContainsFunc(m.usable, func(s int) bool { return costs[s] != noPair }) {
			list = append(list, m.unfilledHole(h))
		}
	}
	return list
}

func (m *matcher) unfilledHole(h int) Unfilled {
	u := Unfilled{Hole: h}
	for s := range m.Shafts {
		c := m.clearance(h, s)
		miss, reason := m.fit(h).miss(c, m.loosest(h, s)), m.bans[MatchPin{h, s}]
		mine, pinned := m.shaftOf[h]
		weighed := !slices.Contains(m.notWeighed, s)
		switch {
		case pinned && mine != s:
		case miss != 0 && reason == "" && m.open(h, s) && (weighed || pinned):
			if u.Nearest == nil || absValue(miss) < absValue(u.Nearest.Miss) {
				u.Nearest = &MatchMiss{s, c, miss}
			}
		case miss != 0:
		case reason != "":
			u.Banned = append(u.Banned, MatchBan{h, s, reason})
		case !m.open(h, s):
			u.Elsewhere = append(u.Elsewhere, s)
		default:
			u.NotWeighed = append(u.NotWeighed, s)
		}
	}
	return u
}

func absValue(v Value) Value { return max(v, -v) }

func (m *matcher) whyWords(w *MatchWhy) string {
	var said []string
	say := func(format string, a ...any) { said = append(said, fmt.Sprintf(format, a...)) }
	switch w.Cause {
	case TooFewShafts:
		say("%d %ss are wanted and %d can be used.", len(m.Holes), m.shaftWord(), len(m.usable))
	case NoneFits:
		for _, u := range w.None {
			said = append(said, m.unfilledWords(u)...)
		}
	case TooFewForThese:
		say("%s need a %s each, and nothing but %s fits any of them.", sentenceStart(m.holeList(w.Holes)), m.shaftWord(), m.shaftList(w.Shafts))
	case WeightsForbid:
		say("Every set that fits is more than %s apart in weight; %s would do.", m.weightText(m.Spread), m.weightText(w.SmallestSpread))
	}
	if len(m.notWeighed) > 0 {
		say("Left out because not weighed: %s.", m.shaftList(m.notWeighed))
	}
	if w.WeighingMayDo {
		say("Weighing may make it possible.")
	}
	if w.PinsStopIt {
		say("It would work without the pinned lines.")
	}
	return strings.Join(said, " ")
}

func (m *matcher) unfilledWords(u Unfilled) []string {
	said := []string{fmt.Sprintf("No %s fits %s.", m.shaftWord(), m.hole(u.Hole))}
	if s, ok := m.shaftOf[u.Hole]; ok {
		said[0] = fmt.Sprintf("%s, pinned to %s, does not go there.", sentenceStart(m.shaft(s)), m.hole(u.Hole))
	}
	if n := u.Nearest; n != nil {
		said = append(said, fmt.Sprintf("The nearest, %s, is %s.", m.shaft(n.Shaft), m.missText(n.Miss)))
	}
	for _, b := range u.Banned {
		said = append(said, fmt.Sprintf("%s has the size, but: %s.", sentenceStart(m.shaft(b.Shaft)), b.Reason))
	}
	for _, s := range u.Elsewhere {
		said = append(said, fmt.Sprintf("%s fits but is pinned to %s.", sentenceStart(m.shaft(s)), m.hole(m.holeOf[s])))
	}
	for _, s := range u.NotWeighed {
		said = append(said, sentenceStart(m.shaft(s))+" fits but was not weighed.")
	}
	return said
}
