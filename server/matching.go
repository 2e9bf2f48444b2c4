package server

import (
	"cmp"
	"fmt"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// matchHole is a place that a part is wanted for: a barrel, a groove or a pin
// bore.
type matchHole struct {
	position int
	groove   int
	d        *dossier // of what has the hole
	sizes    []size   // as it was last measured
	over     wear.Value
}

// matchShaft is a part on offer for it.
type matchShaft struct {
	d     *dossier
	sizes []size     // as it was last measured
	rings []*dossier // that go with a piston
}

// mostOnOffer bounds the parts on the shelf that are looked at.
const mostOnOffer = 60

// matchFits are the fits that parts are matched by, by the part that goes in.
var matchFits = map[wear.Kind]fitKind{wear.Piston: fitKinds[0], wear.Ring: fitKinds[1], wear.Pin: fitKinds[2]}

// holeOf is the hole of a part as it was last measured; not ok where it was
// not.
func holeOf(k fitKind, d *dossier, position, groove int) (matchHole, bool) {
	ss := d.latestSizes(k.inHole, groove)
	if len(ss) == 0 {
		return matchHole{}, false
	}
	return matchHole{position, groove, d, ss, d.sizeNow()}, true
}

// shaftOf is a part that goes in, as it was last measured.
func shaftOf(k fitKind, d *dossier, rings []*dossier) (matchShaft, bool) {
	ss := d.latestSizes(k.inShaft, 0)
	if len(ss) == 0 {
		return matchShaft{}, false
	}
	return matchShaft{d, ss, rings}, true
}

// pairing is how a hole and a shaft go together at the spots that were
// measured.
type pairing struct {
	tightest, loosest wear.Fit
	judged            wear.Fit // that which is judged worse
	a                 wear.Assessment
	hole, shaft       size // of which it is
	limit             wear.Limit
}

// pair judges a hole and a shaft for every page that tells of their fit: by the
// loosest pair of spots and by the tightest, where the fit is not choked. ok is
// false where sizes are out of range.
func (k fitKind) pair(holes, shafts []size, limit wear.Limit) (p pairing, ok bool) {
	var err error
	if p.loosest, err = wear.FitOf(largestOf(holes).Gauged, smallestOf(shafts).Gauged); err != nil {
		return p, false
	}
	if p.tightest, err = wear.FitOf(smallestOf(holes).Gauged, largestOf(shafts).Gauged); err != nil {
		return p, false
	}
	tightest := p.tightest
	if k.choked {
		tightest = p.loosest
	}
	p.judged, p.a = wear.WorstFit(p.loosest, tightest, limit)
	p.hole, p.shaft, p.limit = largestOf(holes), smallestOf(shafts), limit
	if p.judged == p.tightest && p.judged != p.loosest {
		p.hole, p.shaft = smallestOf(holes), largestOf(shafts)
	}
	return p, true
}

// steps say how the fit of a pair was worked out and judged, with the
// uncertainty of those of its two sizes that were read.
func (k fitKind) steps(name string, p pairing, u wear.Unit) (steps []views.WorkedStep) {
	read := ""
	for _, s := range []struct {
		size
		of wear.Kind
	}{{p.hole, k.hole}, {p.shaft, k.shaft}} {
		if s.sheet.ID != 0 {
			read = joinText(". ", read, capital(string(s.of))+": "+s.terms.text(s.sheet.Temperature, u))
		}
	}
	if read != "" {
		steps = append(steps, views.WorkedStep{Text: name + ", uncertainty of the readings", Equation: uEquation, Numbers: read, Source: uSource})
	}
	words := "largest hole − smallest shaft"
	if p.judged == p.tightest && p.judged != p.loosest {
		words = "smallest hole − largest shaft"
	}
	steps = append(steps, views.WorkedStep{Text: name, Equation: words + "; U = 1.645 √(u(hole)² + u(shaft)²)",
		Numbers: fmt.Sprintf("%s − %s = %s, %s; U = %s", inUnit(float64(p.hole.Value), u, 1), inUnit(float64(p.shaft.Value), u, 1), inUnit(float64(p.judged.Clearance), u, 1), looseOrTight(p.judged.Clearance, u), rootText(p.hole.U, p.shaft.U, u)),
		Source:  "US Army TM 9-2815-220-34 table 3-11 for L and T; JCGM 100 (GUM) 5.1.2"})
	if step, ok := verdictStep(name, p.judged.Clearance, p.a, p.limit, u); ok {
		steps = append(steps, step)
	}
	return steps
}

// text writes the clearance at the tightest and at the loosest spot.
func (p pairing) text(u wear.Unit) string {
	least, most := looseOrTight(p.tightest.Clearance, u), looseOrTight(p.loosest.Clearance, u)
	if least == most {
		return most
	}
	return least + " to " + most
}

// from is the clearance that is set against the target: of a choked fit the
// loosest, else the tightest.
func (k fitKind) from(p pairing) wear.Value {
	if k.choked {
		return p.loosest.Clearance
	}
	return p.tightest.Clearance
}

// mainHole and mainShaft are the spots by which from goes.
func (k fitKind) mainHole(ss []size) size {
	if k.choked {
		return largestOf(ss)
	}
	return smallestOf(ss)
}

func (k fitKind) mainShaft(ss []size) size {
	if k.choked {
		return smallestOf(ss)
	}
	return largestOf(ss)
}

// matchHole and matchShaft put sizes to package wear as pair judges them.
func (k fitKind) matchHole(h matchHole) wear.MatchHole {
	m := wear.MatchHole{Name: h.d.part.Serial, Size: k.mainHole(h.sizes).Gauged, Oversize: h.over}
	if !k.choked {
		largest := largestOf(h.sizes).Gauged
		m.Largest = &largest
	}
	return m
}

func (k fitKind) matchShaft(x matchShaft) wear.MatchShaft {
	m := wear.MatchShaft{Name: x.d.part.Serial, Size: k.mainShaft(x.sizes).Gauged}
	if !k.choked {
		smallest := smallestOf(x.sizes).Gauged
		m.Smallest = &smallest
	}
	return m
}

// weight is the piston's latest weight, else that of its identity.
func (d *dossier) weight() *wear.Value {
	if ws := d.latestSizes("weight", 0); len(ws) > 0 {
		return &ws[0].read
	}
	return d.part.Weight
}

// limitOfFit is the limit of a fit: typed for it, else as it follows from those
// of its two parts at standard size, since oversizes drop out of it.
func (k fitKind) limitOfFit(hole, shaft *dossier, groove int) wear.Limit {
	if l, typed := k.typedLimit(hole, shaft, groove); typed {
		return l
	}
	return wear.FitLimit(k.partLimits(hole, shaft, groove))
}

// typedLimit is the limit typed for the fit itself.
func (k fitKind) typedLimit(hole, shaft *dossier, groove int) (l wear.Limit, typed bool) {
	owner := hole
	if k.of == k.shaft {
		owner = shaft
	}
	l = owner.limitNamed(k.feature, groove)
	return l, l.NewMin != nil || l.NewMax != nil || l.ServiceMax != nil
}

// partLimits are the limits of the two parts at standard size.
func (k fitKind) partLimits(hole, shaft *dossier, groove int) (ofHole, ofShaft wear.Limit) {
	standard := func(d *dossier, name string, groove int) wear.Limit {
		f, ok := d.featureNamed(name)
		if !ok {
			return wear.Limit{}
		}
		_, l := d.limitOf(f, groove, 0)
		return l
	}
	return standard(hole, k.inHole, groove), standard(shaft, k.inShaft, 0)
}

// facingWhy says why one of some rings may not run in a barrel; "" where none
// is known to be forbidden.
func facingWhy(barrel store.Part, rings []store.Part, rules wear.FacingRules) string {
	for _, ring := range rings {
		if a, err := wear.JudgeFacing(ring.Facing, barrel.Surface, rules); err == nil && a.State == wear.FacingNotAllowed {
			return "ring " + ring.Serial + ": " + a.Words
		}
	}
	return ""
}

// ringSet is the rings that go with a piston, as package wear asks for them: of
// one oversize. nil where none do.
func (x matchShaft) ringSet() *wear.MatchRings {
	if len(x.rings) == 0 {
		return nil
	}
	set := &wear.MatchRings{Oversize: x.rings[0].sizeNow()}
	for _, ring := range x.rings {
		set.Name = joinText(", ", set.Name, ring.part.Serial)
	}
	return set
}

// ringBans keep a piston out of barrels that one of the rings which go with it
// may not run in: by its facing, its end gap there, or its oversize where the
// rings of the set differ.
func ringBans(holes []matchHole, shafts []matchShaft, rules wear.FacingRules, u wear.Unit) []wear.MatchBan {
	var bans []wear.MatchBan
	for i, h := range holes {
		for j, x := range shafts {
			for _, ring := range x.rings {
				var why []string
				name := "ring " + ring.part.Serial + ": "
				if over := ring.sizeNow(); over != h.over && over != x.rings[0].sizeNow() {
					why = append(why, name+otherSize(over, h.over, u))
				}
				if facing := facingWhy(h.d.part, []store.Part{ring.part}, rules); facing != "" {
					why = append(why, facing)
				}
				for _, gap := range gapAgainst(ring, h.d) {
					why = append(why, name+gap)
				}
				for _, w := range why {
					bans = append(bans, wear.MatchBan{Hole: i, Shaft: j, Reason: w})
				}
			}
		}
	}
	return bans
}

// ringGaps are the end gaps that the rings of a piston come to in a barrel, by
// groove.
func (x matchShaft) ringGaps(barrel *dossier, u wear.Unit) []string {
	var out []string
	for _, ring := range x.rings {
		gap := gapText(ring, barrel, u)
		if gap == "" {
			gap = "not measured"
		}
		where := ring.part.Serial
		if st, sits := ring.here(); sits && st.Groove > 0 {
			where = "groove " + itoa(st.Groove) + ", " + where
		}
		out = append(out, where+": "+gap)
	}
	return out
}

// suit is a part held against the place that it would go to.
type suit struct {
	d        *dossier
	where    string
	measured bool
	pair     pairing     // where it was
	clear    wear.Value  // that is set against the target
	both     string      // where it is tightest and loosest
	distance *wear.Value // from the target; nil where there is none
	judged   wear.Assessment
	weight   *wear.Value
	against  []string // what speaks against it

	gap, facing, pressure views.OutlookCell // of a ring
	ratio                 *pressureRatio    // behind pressure, nil where it is not known
}

// suits holds a part against a place.
func (k fitKind) suits(h matchHole, d *dossier, where string, u wear.Unit) suit {
	s := suit{d: d, where: where, weight: d.weight()}
	if d.sizeNow() != h.over {
		s.against = append(s.against, otherSize(d.sizeNow(), h.over, u))
	}
	x, ok := shaftOf(k, d, nil)
	if !ok {
		return s
	}
	limit := k.limitOfFit(h.d, d, h.groove)
	p, ok := k.pair(h.sizes, x.sizes, limit)
	if !ok {
		return s
	}
	s.measured, s.pair, s.clear, s.both, s.judged = true, p, k.from(p), p.text(u), p.a
	if m, err := wear.MatchFitOf(limit, true); err == nil && m.Target != nil {
		d := s.clear - *m.Target
		s.distance = &d
	}
	return s
}

// otherSize says that a part has another size than is wanted.
func otherSize(over, wanted wear.Value, u wear.Unit) string {
	return sizeWord(over, u) + ", where " + sizeWord(wanted, u) + " is wanted"
}

// sizeWord names a size over standard.
func sizeWord(over wear.Value, u wear.Unit) string {
	if over == 0 {
		return "standard size"
	}
	return over.Format(u) + " " + u.Name + " oversize"
}

// rankSuits puts the best first: what nothing speaks against, then what is
// inside the limits, then the clearance nearest the target.
func rankSuits(ss []suit) {
	rank := func(s suit) int {
		switch {
		case !s.measured:
			return 3
		case len(s.against) > 0:
			return 2
		case s.judged.Plain == wear.Beyond:
			return 1
		}
		return 0
	}
	slices.SortStableFunc(ss, func(a, b suit) int {
		off := func(s suit) wear.Value {
			if s.distance == nil {
				return s.clear
			}
			return max(*s.distance, -*s.distance)
		}
		return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(off(a), off(b)))
	})
}

// signedText writes a difference with its sign.
func signedText(v wear.Value, u wear.Unit) string {
	t := inUnit(float64(max(v, -v)), u, 0)
	switch {
	case v > 0:
		return "+" + t
	case v < 0:
		return "−" + t
	}
	return t
}

func sizesOf(hs []matchHole) []size {
	var out []size
	for _, h := range hs {
		out = append(out, h.sizes...)
	}
	return out
}

// placingSums are the facts of a whole placing.
func placingSums(p *wear.Placing, u wear.Unit) []views.Fact {
	facts := []views.Fact{{Label: "Typical distance from the target", Value: inUnit(float64(p.Typical), u, 0) + " " + u.Name}}
	if p.Lightest >= 0 {
		facts = append(facts, views.Fact{Label: "Lightest to heaviest", Value: p.Spread.Format(wear.Gram) + " g"})
	}
	return facts
}
