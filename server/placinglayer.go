package server

import (
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// layerMatch is one kind of place of all positions, matched at once.
type layerMatch struct {
	*placingWork
	fit    fitKind
	kind   wear.Kind
	groove int
	offers []jobOffer
	open   []int // positions still to be filled
	others map[int]wear.Value
}

// layer fills the places of one kind, and judges what stands in them.
func (k *placingWork) layer(kind wear.Kind, groove int, offers []jobOffer) (err error) {
	m := &layerMatch{placingWork: k, fit: matchFits[kind], kind: kind, groove: groove, offers: offers}
	for _, position := range k.positions {
		_, settled, err := k.line(position, kind, groove, offers)
		if err != nil {
			return err
		}
		if !settled {
			m.open = append(m.open, position)
		}
	}
	if kind == wear.Piston {
		if m.others, err = k.pistonWeights(func(p int) bool { return !slices.Contains(k.positions, p) }); err != nil {
			return err
		}
	}
	if len(m.open) > 0 {
		m.fill()
	}
	m.judge()
	return nil
}

func (m *layerMatch) field(position int) string {
	return store.PlaceField(position, m.kind, m.groove)
}

// hole is what a position's part goes into; not ok where it is not known or
// not measured.
func (m *layerMatch) hole(position int) (matchHole, bool) {
	d := m.at(position, m.fit.hole, 0)
	if d == nil {
		return matchHole{}, false
	}
	h, ok := holeOf(m.fit, d, position, m.groove)
	switch m.kind {
	case wear.Pin:
		h.over = 0
	case wear.Ring:
		if barrel := m.at(position, wear.Cylinder, 0); barrel != nil {
			h.over = barrel.sizeNow()
		}
	}
	return h, ok
}

// ask puts the question to package wear: the places that can be matched, and
// the parts on offer that are not used elsewhere. ok is false where there is no
// place or no limit to match by.
func (m *layerMatch) ask(positions []int, free func(jobOffer) bool) (ask wear.MatchAsk, holes []matchHole, shafts []matchShaft, ok bool) {
	ask = wear.MatchAsk{Unit: m.set.Unit, WeightUnit: wear.Gram, HoleWord: map[wear.Kind]string{wear.Piston: "barrel", wear.Pin: "piston", wear.Ring: "groove " + itoa(m.groove) + " of"}[m.kind], ShaftWord: string(m.kind)}
	if m.kind == wear.Piston {
		ask.Spread = m.engine.Model.Spread
	}
	for _, position := range positions {
		if h, known := m.hole(position); known {
			holes = append(holes, h)
			ask.Holes = append(ask.Holes, m.fit.matchHole(h))
		}
	}
	for _, x := range m.offers {
		s, known := shaftOf(m.fit, x.dossier, nil)
		if !known || !free(x) {
			continue
		}
		over := s.d.sizeNow()
		if m.kind == wear.Pin {
			over = 0
		}
		shafts = append(shafts, s)
		shaft := m.fit.matchShaft(s)
		shaft.Weight, shaft.Oversize, shaft.Home = m.weightOf(s.d), over, homeOf(holes, x.position)
		ask.Shafts = append(ask.Shafts, shaft)
	}
	if len(holes) == 0 {
		return ask, nil, nil, false
	}
	for i, h := range holes {
		limit := wear.Limit{}
		if len(shafts) > 0 {
			limit = m.fit.limitOfFit(h.d, shafts[0].d, m.groove)
		}
		fit, err := wear.MatchFitOf(limit, m.f.text("limits") != "new")
		if err != nil {
			return ask, holes, shafts, false
		}
		ask.Holes[i].Fit, ask.Fit = &fit, fit
	}
	ask.Bans = append(wear.BanOversizes(ask), m.bans(holes, shafts)...)
	return ask, holes, shafts, true
}

// homeOf is which of the holes is at the position that a part sits at, nil for
// none.
func homeOf(holes []matchHole, position int) *int {
	i := slices.IndexFunc(holes, func(h matchHole) bool { return position != 0 && h.position == position })
	if i < 0 {
		return nil
	}
	return &i
}

func (m *layerMatch) weightOf(d *dossier) *wear.Value {
	if m.kind != wear.Piston {
		return nil
	}
	return d.weight()
}

// bans keep out pistons whose weight would leave the spread with those that
// stay on the engine, and rings that a barrel's surface or bore or their own
// pressure forbids.
func (m *layerMatch) bans(holes []matchHole, shafts []matchShaft) []wear.MatchBan {
	var bans []wear.MatchBan
	for i, h := range holes {
		for j, s := range shafts {
			for _, why := range m.against(h.position, s.d) {
				bans = append(bans, wear.MatchBan{Hole: i, Shaft: j, Reason: why})
			}
		}
	}
	return bans
}

// against says what forbids a part at a position, its clearance left aside.
func (m *layerMatch) against(position int, d *dossier) []string {
	switch m.kind {
	case wear.Piston:
		if why := m.tooFarInWeight(d.weight(), m.others); why != "" {
			return []string{why}
		}
	case wear.Ring:
		var out []string
		if barrel := m.at(position, wear.Cylinder, 0); barrel != nil {
			out = ringAgainst(d, barrel, m.rules)
		}
		if p := m.pressedAt(position, d); p.hard() {
			out = append(out, p.against())
		}
		return out
	}
	return nil
}

// pressedAt is how hard a ring on offer presses at a position, as its line
// worked it out.
func (m *layerMatch) pressedAt(position int, d *dossier) *pressing {
	return m.pressed[pressKey{d.part.ID, position, m.groove}]
}

// fill proposes the parts of the open places.
func (m *layerMatch) fill() {
	var match []int
	for _, position := range m.open {
		if _, ok := m.hole(position); ok {
			match = append(match, position)
			continue
		}
		m.choose(m.field(position), m.own(position, m.kind, m.groove)) // what cannot be matched goes back
	}
	free := func(x jobOffer) bool { return m.used[x.part.ID] == "" }
	ask, holes, shafts, ok := m.ask(match, free)
	if !ok {
		if len(match) > 0 && len(shafts) > 0 {
			m.warn("the model needs limits for this fit, with a least and a most, before a placing can be proposed. Each has its own.")
		}
		m.ownsBack(match)
		return
	}
	if len(shafts) == 0 {
		m.ownsBack(match)
		return
	}
	m.leaveRoom(&ask, match)
	result, err := wear.Match(ask)
	switch {
	case err != nil:
		m.warn(err.Error() + ".")
		m.ownsBack(match)
	case result.Best == nil:
		m.warn(result.Why.Words + " Here each has its own.")
		m.ownsBack(match)
	default:
		for i, l := range result.Best.Lines {
			m.choose(m.field(holes[i].position), shafts[l.Shaft].d.part.ID)
		}
	}
}

// leaveRoom narrows the spread of weights to what the pistons that are kept
// leave: those of settled lines count as staying.
func (m *layerMatch) leaveRoom(ask *wear.MatchAsk, match []int) {
	if m.kind != wear.Piston {
		return
	}
	settled := map[int]wear.Value{}
	for _, position := range m.positions {
		if d := m.at(position, m.kind, 0); d != nil && !slices.Contains(match, position) {
			if w := d.weight(); w != nil {
				settled[position] = *w
			}
		}
	}
	for j, s := range ask.Shafts {
		why := m.tooFarInWeight(s.Weight, settled)
		for i := range ask.Holes {
			if why != "" {
				ask.Bans = append(ask.Bans, wear.MatchBan{Hole: i, Shaft: j, Reason: why})
			}
		}
	}
}

func (m *layerMatch) ownsBack(positions []int) {
	for _, position := range positions {
		m.choose(m.field(position), m.own(position, m.kind, m.groove))
	}
}

// warn says what stops the proposal of this kind of place.
func (m *layerMatch) warn(words string) {
	name := string(m.kind) + "s"
	if m.groove > 0 {
		name += " of groove " + itoa(m.groove)
	}
	m.page.Warn = append(m.page.Warn, capital(name)+": "+words)
}

// judge judges the places as they are filled now.
func (m *layerMatch) judge() {
	var filled []int
	for _, position := range m.positions {
		d := m.at(position, m.kind, m.groove)
		if d == nil {
			continue
		}
		l := m.lines[m.field(position)]
		m.describe(l, position, d)
		_, known := m.hole(position)
		_, sized := shaftOf(m.fit, d, nil)
		if known && sized {
			filled = append(filled, position)
		} else {
			l.Fit, l.Against = "not measured", append(l.Against, m.against(position, d)...)
		}
	}
	in := func(x jobOffer) bool {
		return slices.ContainsFunc(filled, func(p int) bool { return m.chosen[m.field(p)] == x.part.ID })
	}
	ask, holes, shafts, ok := m.ask(filled, in)
	if !ok {
		for _, h := range holes {
			m.bareFit(h)
			l := m.lines[m.field(h.position)]
			l.Against = append(l.Against, m.against(h.position, m.at(h.position, m.kind, m.groove))...)
		}
		return
	}
	of := make([]int, len(holes))
	for i, h := range holes {
		of[i] = slices.IndexFunc(shafts, func(s matchShaft) bool { return s.d.part.ID == m.chosen[m.field(h.position)] })
	}
	p, err := wear.JudgePlacing(ask, of)
	if err != nil {
		m.warn(err.Error() + ".")
		return
	}
	for i, x := range p.Lines {
		l := m.lines[m.field(holes[i].position)]
		m.bareFit(holes[i])
		l.Off, l.Verdict = signedText(x.Distance, m.set.Unit), told(x.Assessment.Verdict)
		for _, b := range p.Breaches {
			if b.Hole == i {
				l.Against = append(l.Against, b.Words)
			}
		}
	}
	m.sums(p)
}

// bareFit writes how the part of a place fits, the verdict left aside.
func (m *layerMatch) bareFit(h matchHole) {
	s, _ := shaftOf(m.fit, m.at(h.position, m.kind, m.groove), nil)
	if p, ok := m.fit.pair(h.sizes, s.sizes, wear.Limit{}); ok {
		m.lines[m.field(h.position)].Fit = p.text(m.set.Unit)
	}
}

// describe writes what is known of the part in a place.
func (m *layerMatch) describe(l *views.PlacingLine, position int, d *dossier) {
	u := m.set.Unit
	if s, ok := shaftOf(m.fit, d, nil); ok {
		l.Size = inUnit(float64(m.fit.mainShaft(s.sizes).Value), u, 0)
	}
	if h, ok := m.hole(position); ok {
		l.Into = inUnit(float64(m.fit.mainHole(h.sizes).Value), u, 0) + " of " + string(h.d.part.Kind) + " " + h.d.part.Serial
	} else if hd := m.at(position, m.fit.hole, 0); hd != nil {
		l.Into = hd.part.Serial + ", its " + m.fit.inHole + " was not measured"
	} else {
		l.Into = "no " + string(m.fit.hole) + " is placed"
	}
	if w := m.weightOf(d); w != nil {
		l.Also = w.Format(wear.Gram) + " g"
	}
	if m.kind != wear.Ring {
		return
	}
	if p := m.pressedAt(position, d); p.hard() {
		l.Compare = views.Link{Text: "Compare the rings", Href: p.href()}
		m.speaks = append(m.speaks, strings.TrimSuffix(p.against(), "."))
	} else if p.unmeasured() && m.change(position, m.kind, m.groove) != "its own" {
		l.Compare = views.Link{Text: "Its force was not measured: compare it before fitting", Href: p.href()}
	}
	if barrel := m.at(position, wear.Cylinder, 0); barrel != nil {
		if t := gapText(d, barrel, u); t != "" {
			l.Also = "gap " + t
		}
		if why := facingWhy(barrel.part, []store.Part{d.part}, m.rules); why != "" {
			m.speaks = append(m.speaks, strings.TrimSuffix(why, "."))
		}
	}
}

// sums adds what holds for the whole set.
func (m *layerMatch) sums(p wear.Placing) {
	name := string(m.kind) + "s"
	if m.groove > 0 {
		name += ", groove " + itoa(m.groove)
	}
	for _, f := range placingSums(&p, m.set.Unit) {
		m.page.Sum = append(m.page.Sum, views.Fact{Label: capital(name) + ": " + strings.ToLower(f.Label), Value: f.Value})
	}
	for _, b := range p.Breaches {
		m.page.Warn = append(m.page.Warn, capital(b.Words)+".")
	}
	for _, n := range p.Notes {
		m.page.Says = append(m.page.Says, capital(n)+".")
	}
	m.page.Steps = append(m.page.Steps, views.StepGroup{Title: capital(name), Steps: workedSteps(p.Working)})
}
