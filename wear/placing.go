package wear

import (
	"fmt"
	"math"
	"strings"
)

// BreachKind is what a placing breaks.
type BreachKind string

// The kinds of breach.
const (
	OutsideFit     BreachKind = "outside the limits of the fit"
	NotAllowed     BreachKind = "may not go together"
	NothingPlaced  BreachKind = "nothing placed"
	PlacedTwice    BreachKind = "placed twice"
	WeightsApart   BreachKind = "weights too far apart"
	WeightNotKnown BreachKind = "not weighed"
)

// Breach is one thing that a placing breaks.
type Breach struct {
	Kind  BreachKind
	Hole  int   // -1 where it is of the whole set
	By    Value // how far over the limit, length or weight; below 0 for too tight
	Words string
}

// MatchLine is one hole with the shaft placed in it.
type MatchLine struct {
	Hole, Shaft int   // Shaft is -1 where none is placed, and the rest is 0
	Clearance   Value // where it is tightest
	Loosest     Value
	Fit         MatchFit
	Distance    Value      // clearance - target
	Miss        Value      // too loose by, or too tight where below 0; 0 within the limits
	Assessment  Assessment // of the worse of both, with the gauges allowed for
	Weight      *Value
	Pinned      bool
	Works       bool // nothing that this line alone breaks
}

// Placing is a set of lines with what was reckoned of it.
type Placing struct {
	Lines              []MatchLine
	SquareSum          int64 // Σ distance², nm², exact below 4.6e18
	Typical            Value // √(SquareSum / lines), the distance from the target of a typical line
	Lightest, Heaviest int   // shafts, -1 where none was weighed
	Spread             Value // heaviest - lightest of those that were weighed
	Works              bool  // breaks nothing
	Breaches           []Breach
	Notes              []string
	Working            []Step
}

func (m *matcher) judge(of []int) Placing {
	p := Placing{Lightest: -1, Heaviest: -1}
	holesOf := map[int][]int{}
	for h, s := range of {
		holesOf[s] = append(holesOf[s], h)
	}
	for h, s := range of {
		if s < 0 {
			p.breach(NothingPlaced, h, 0, m.hole(h)+": nothing placed")
			p.Lines = append(p.Lines, MatchLine{Hole: h, Shaft: s, Fit: m.fit(h)})
			continue
		}
		before := len(p.Breaches)
		l := m.line(&p, h, s)
		if holes := holesOf[s]; len(holes) > 1 {
			p.breach(PlacedTwice, h, 0, m.shaft(s)+" is placed in "+m.holeList(holes))
		}
		l.Works = len(p.Breaches) == before
		p.Lines = append(p.Lines, l)
	}
	m.judgeWeights(&p)
	p.Works = len(p.Breaches) == 0
	m.sum(&p, len(of)-len(holesOf[-1]))
	return p
}

func (p *Placing) breach(kind BreachKind, hole int, by Value, words string) {
	p.Breaches = append(p.Breaches, Breach{kind, hole, by, words})
}

func (m *matcher) line(p *Placing, h, s int) MatchLine {
	fit, c := m.fit(h), m.clearance(h, s)
	pinned, ok := m.shaftOf[h]
	l := MatchLine{
		Hole: h, Shaft: s, Fit: fit, Clearance: c, Loosest: m.loosest(h, s), Distance: c - fit.target(), Miss: fit.miss(c, m.loosest(h, s)),
		Weight: m.Shafts[s].Weight, Pinned: ok && pinned == s,
	}
	hole, shaft := m.loosestSpots(h, s)
	loosest := Fit{hole, shaft, l.Loosest, math.Hypot(hole.U, shaft.U)}
	tightest := Fit{m.Holes[h].Size, m.Shafts[s].Size, c, math.Hypot(m.Holes[h].Size.U, m.Shafts[s].Size.U)}
	_, l.Assessment = WorstFit(loosest, tightest, fit.limit())
	_, asked := WorstFit(loosest, tightest, Limit{ServiceMin: &fit.Min, ServiceMax: &fit.Max})
	pair := m.shaft(s) + " in " + m.hole(h)
	if l.Miss != 0 {
		p.breach(OutsideFit, h, l.Miss, pair+": "+m.missWords(l))
	} else if asked.Verdict == Undecided {
		p.Notes = append(p.Notes, pair+" is too near its limit to be sure with these gauges")
	}
	if reason := m.bans[MatchPin{h, s}]; reason != "" {
		p.breach(NotAllowed, h, 0, pair+": "+reason)
	}
	if l.Weight == nil && m.Spread > 0 {
		p.breach(WeightNotKnown, h, 0, m.shaft(s)+" was not weighed")
	}
	return l
}

// missWords say of a line outside its limits how it fits and what it misses.
func (m *matcher) missWords(l MatchLine) string {
	c := l.Clearance
	if l.Miss > 0 {
		c = l.Loosest
	}
	words := m.fitText(c) + ", " + m.missText(l.Miss)
	if l.Fit.New && l.Assessment.Plain != Beyond {
		words += " for the new limits"
	}
	return words
}

func (m *matcher) judgeWeights(p *Placing) {
	for _, l := range p.Lines {
		if l.Weight == nil {
			continue
		}
		if p.Lightest < 0 || *l.Weight < m.weight(p.Lightest) {
			p.Lightest = l.Shaft
		}
		if p.Heaviest < 0 || *l.Weight > m.weight(p.Heaviest) {
			p.Heaviest = l.Shaft
		}
	}
	if p.Lightest < 0 {
		return
	}
	heavy, light := m.weight(p.Heaviest), m.weight(p.Lightest)
	p.Spread = heavy - light
	p.Working = append(p.Working, Step{"spread of weights", "heaviest - lightest",
		fmt.Sprintf("%s - %s = %s", m.weightText(heavy), m.weightText(light), m.weightText(p.Spread)), "FAA-H-8083-32"})
	if over := p.Spread - m.Spread; m.Spread > 0 && over > 0 {
		p.breach(WeightsApart, -1, over, fmt.Sprintf("from %s to %s the weights are %s apart, %s more than allowed",
			m.shaft(p.Lightest), m.shaft(p.Heaviest), m.weightText(p.Spread), m.weightText(over)))
	}
}

// sum adds up the squares; from 4.6e18 on the sum stands at the largest int64.
func (m *matcher) sum(p *Placing, placed int) {
	var squares float64
	var put []string
	for _, l := range p.Lines {
		d := float64(l.Distance)
		if l.Shaft >= 0 {
			put = append(put, "("+m.size(max(l.Distance, -l.Distance))+")²")
		}
		if squares += d * d; squares < math.MaxInt64/2 {
			p.SquareSum += int64(l.Distance) * int64(l.Distance)
		} else {
			p.SquareSum = math.MaxInt64
		}
	}
	if placed == 0 {
		return
	}
	p.Typical = Value(math.Round(math.Sqrt(squares / float64(placed))))
	p.Working = append(p.Working, Step{"typical distance from the wanted clearance", "√(Σ(hole - shaft - target)² / lines)",
		fmt.Sprintf("√((%s) / %d) = %s", strings.Join(put, " + "), placed, m.size(p.Typical)), "common practice, no source"})
}
