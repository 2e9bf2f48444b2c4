package server

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// replace is another part in this one's place: those at hand, ranked, and a new
// one.
func (k *deciding) replace() (views.Outlook, error) {
	o := views.Outlook{}
	ss, left, err := k.candidates()
	if err != nil {
		return o, err
	}
	rankSuits(ss)
	o.Notes = append(o.Notes, left...)
	o.Unknown = []string{"Whether a part at hand is sound: cracks, scores, burnt lands and corrosion are not dimensions."}
	k.bestSteps(&o, k.fit(), ss, nil)
	if len(ss) > 0 && ss[0].ratio != nil {
		ss[0].ratio.explain(&o)
	}
	if k.d.part.Kind == wear.Ring {
		o.Unknown = append(o.Unknown, "How a used ring beds into another barrel.")
	}
	o.Tables = append(o.Tables, k.suitTable("At hand, the clearance nearest the target first", ss))
	fits := func(s suit) bool { return s.measured && len(s.against) == 0 && s.judged.Plain != wear.Beyond }
	switch i := slices.IndexFunc(ss, fits); {
	case i >= 0:
		best := ss[i]
		o.Says = fmt.Sprintf("%s of %s would fit; nearest the target is %s, %s.", itoa(countIf(ss, fits)), counted(len(ss), "part"), best.d.part.Serial, best.where)
		o.Fit, o.Verdict = best.both, mark(best.judged.Verdict)
	case len(ss) == 0:
		o.Says = "None at hand: a new one has to be got."
	default:
		o.Says = "None at hand is known to fit."
	}
	if p, ok := k.newOne(); ok {
		text := p.text(k.set.Unit) + " ± " + inUnit(wear.ExpandedU(p.judged.U), k.set.Unit, 0)
		if p.a.Verdict != wear.NoLimit {
			text += ", " + p.a.Verdict.String()
		}
		o.Facts = append(o.Facts, views.Fact{Label: "A new one, in the middle of its limits", Value: text})
		o.Steps = append(o.Steps, k.fit().steps("a new one, "+lowerFirst(k.fit().name), p, k.set.Unit)...)
		o.Assumed = append(o.Assumed, "A new one measures the middle of its new limits, as uncertain as a rectangular distribution between them, (max − min)/√12 (JCGM 100, GUM, 4.3.7); its mate is as it was last measured.")
	}
	return o, nil
}

// fit is the fit that the part is chosen by: a cylinder's is that of the
// piston.
func (k *deciding) fit() fitKind {
	if k.d.part.Kind == wear.Cylinder {
		return matchFits[wear.Piston]
	}
	return matchFits[k.d.part.Kind]
}

func countIf(ss []suit, is func(suit) bool) (n int) {
	for _, s := range ss {
		if is(s) {
			n++
		}
	}
	return n
}

// candidates are the parts of the kind at hand, itself left out, held against
// the place.
func (k *deciding) candidates() ([]suit, []string, error) {
	offers, left, err := k.offers(k.d.part.Kind)
	if err != nil {
		return nil, nil, err
	}
	own := partName(k.d.part.Kind, k.d.part.Serial)
	left = slices.DeleteFunc(left, func(t string) bool { return len(t) > len(own) && t[:len(own)+1] == own+":" })
	others, err := k.otherWeights()
	if err != nil {
		return nil, nil, err
	}
	var ss []suit
	for _, x := range offers {
		if x.part.ID == k.d.part.ID || k.d.part.Kind == wear.Ring && x.part.Groove != 0 && x.part.Groove != k.inGroove() {
			continue
		}
		s := k.suitHere(x)
		if barrel := k.st[slotKey{wear.Cylinder, 0}]; barrel != nil && k.d.part.Kind == wear.Ring {
			if err := k.ringColumns(&s, barrel); err != nil {
				return nil, nil, err
			}
		}
		if x.placed != 0 && x.placed != k.position {
			s.where += ", placed at " + itoa(x.placed)
		}
		if why := k.tooFarInWeight(s.weight, others); why != "" {
			s.against = append(s.against, why)
		}
		ss = append(ss, s)
	}
	return ss, left, nil
}

// inGroove is the groove that a ring sits in, or is made for.
func (k *deciding) inGroove() int {
	if k.groove > 0 {
		return k.groove
	}
	return k.d.part.Groove
}

// suitHere holds a part on offer against the part's place.
func (k *deciding) suitHere(x jobOffer) suit {
	u := k.set.Unit
	if k.d.part.Kind == wear.Cylinder {
		return k.cylinderHere(x)
	}
	fit := k.fit()
	holder := k.st[slotKey{fit.hole, 0}]
	if holder == nil {
		return suit{d: x.dossier, where: x.where, weight: x.weight(), against: []string{"no " + string(fit.hole) + " is known in its place"}}
	}
	groove := 0
	if fit.groove {
		groove = k.inGroove()
	}
	h, ok := holeOf(fit, holder, k.position, groove)
	if !ok {
		return suit{d: x.dossier, where: x.where, weight: x.weight(), against: []string{fit.inHole + " of " + holder.part.Serial + " was not measured"}}
	}
	barrel := k.st[slotKey{wear.Cylinder, 0}]
	if h.over = holder.sizeNow(); fit.groove && barrel != nil {
		h.over = barrel.sizeNow()
	}
	if k.d.part.Kind == wear.Pin {
		h.over = 0
	}
	s := fit.suits(h, x.dossier, x.where, u)
	if barrel != nil && k.d.part.Kind == wear.Ring {
		s.against = append(s.against, ringAgainst(x.dossier, barrel, k.rules)...)
	}
	return s
}

// cylinderHere holds another cylinder against the piston and the rings of the
// place.
func (k *deciding) cylinderHere(x jobOffer) suit {
	fit := k.fit()
	piston := k.st[slotKey{wear.Piston, 0}]
	h, measured := holeOf(fit, x.dossier, k.position, 0)
	s := suit{d: x.dossier, where: x.where}
	switch {
	case piston == nil:
		s.against = append(s.against, "no piston is known in its place")
	case measured:
		s = fit.suits(h, piston, x.where, k.set.Unit)
		s.d = x.dossier
		if s.weight = nil; len(s.against) > 0 {
			s.against = []string{sizeWord(h.over, k.set.Unit) + ", where the piston is " + sizeWord(piston.sizeNow(), k.set.Unit)}
		}
	}
	var rings []store.Part
	for _, ring := range k.st.sorted(wear.Ring) {
		rings = append(rings, ring.part)
	}
	if why := facingWhy(x.part, rings, k.rules); why != "" {
		s.against = append(s.against, why)
	}
	return s
}

// otherWeights are the weights of the pistons at the engine's other positions,
// as they stand or are placed.
func (k *deciding) otherWeights() (map[int]wear.Value, error) {
	if k.d.part.Kind != wear.Piston {
		return nil, nil
	}
	return k.pistonWeights(func(position int) bool { return position != k.position })
}

// pistonWeights are the weights of the pistons that stay or are placed at some
// positions, by position.
func (c *jobCase) pistonWeights(at func(position int) bool) (map[int]wear.Value, error) {
	part := map[int]int64{}
	for _, x := range c.slots {
		if x.Kind == wear.Piston && !c.away(x.ID) {
			part[x.Position] = x.ID
		}
	}
	for _, p := range c.placings {
		if p.Kind == wear.Piston {
			part[p.Position] = p.Part
		}
	}
	out := map[int]wear.Value{}
	for position, id := range part {
		if id == 0 || !at(position) {
			continue
		}
		d, err := c.of(id)
		if err != nil {
			return nil, err
		}
		if w := d.weight(); w != nil {
			out[position] = *w
		}
	}
	return out, nil
}

// tooFarInWeight says that a piston's weight would leave the spread that the
// model allows in one engine; "" where it would not, or where that is not
// known.
func (c *jobCase) tooFarInWeight(weight *wear.Value, others map[int]wear.Value) string {
	spread := c.engine.Model.Spread
	if spread == 0 || weight == nil || len(others) == 0 {
		return ""
	}
	ws := append(slices.Collect(maps.Values(others)), *weight)
	if apart := slices.Max(ws) - slices.Min(ws); apart > spread {
		return fmt.Sprintf("pistons would be %s g apart, %s g is allowed", apart.Format(wear.Gram), spread.Format(wear.Gram))
	}
	return ""
}

// newOne is how a new part in the middle of its new limits would fit; not ok
// where it cannot be told.
func (k *deciding) newOne() (p pairing, ok bool) {
	kind, fit := k.d.part.Kind, k.fit()
	mate := fit.hole
	if kind == wear.Cylinder {
		mate = wear.Piston
	}
	other := k.st[slotKey{mate, 0}]
	if other == nil {
		return p, false
	}
	groove := 0
	if fit.groove {
		groove = k.inGroove()
	}
	f, _ := k.d.featureNamed(mainSize(kind))
	_, l := k.d.limitOf(f, 0, other.sizeNow())
	if !f.Oversize {
		_, l = k.d.limitOf(f, 0, 0)
	}
	mid, sd, ok := l.MiddleOfNew()
	if !ok {
		return p, false
	}
	fresh := wear.Gauged{Value: wear.Value(math.Round(mid)), U: sd}
	holes, shafts := []size{{SpotReading: wear.SpotReading{Gauged: fresh}}}, []size{{SpotReading: wear.SpotReading{Gauged: fresh}}}
	if kind == wear.Cylinder {
		x, ok := shaftOf(fit, other, nil)
		if !ok {
			return p, false
		}
		shafts = x.sizes
	} else {
		h, ok := holeOf(fit, other, k.position, groove)
		if !ok {
			return p, false
		}
		holes = h.sizes
	}
	return fit.pair(holes, shafts, fit.limitOfFit(k.holder(other, kind), k.shaftSide(other, kind), groove))
}

// holder and shaftSide are the two parts of the fit with another, whichever of
// them is the part itself.
func (k *deciding) holder(other *dossier, kind wear.Kind) *dossier {
	if kind == wear.Cylinder {
		return k.d
	}
	return other
}

func (k *deciding) shaftSide(other *dossier, kind wear.Kind) *dossier {
	if kind == wear.Cylinder {
		return other
	}
	return k.d
}
