package server

import (
	"fmt"
	"net/http"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// fitKind is a fit between two features of parts that meet.
type fitKind struct {
	name        string
	hole, shaft wear.Kind
	inHole      string // feature of the hole
	inShaft     string
	feature     string // that the limit of the fit is typed for; a feature of byWhich
	of          wear.Kind
	groove      bool
	places      bool // by station: a stem in its own guide
	choked      bool // the smallest hole is meant to be smaller than where the shaft runs: the loosest pair is judged
}

// fitKinds are the fits of a stack.
var fitKinds = []fitKind{
	{name: "Skirt in barrel", hole: wear.Cylinder, shaft: wear.Piston, inHole: "barrel bore", inShaft: "piston skirt", feature: "skirt clearance", of: wear.Piston, choked: true},
	{name: "Ring in groove", hole: wear.Piston, shaft: wear.Ring, inHole: "groove width", inShaft: "axial width", feature: "side clearance", of: wear.Piston, groove: true},
	{name: "Pin in piston", hole: wear.Piston, shaft: wear.Pin, inHole: "pin bore", inShaft: "pin diameter", feature: "pin clearance", of: wear.Piston},
	{name: "Pin in rod bushing", hole: wear.Pin, shaft: wear.Pin, inHole: "rod bushing bore", inShaft: "pin diameter", feature: "bushing clearance", of: wear.Pin},
	{name: "Stem in guide", hole: wear.Cylinder, shaft: wear.Cylinder, inHole: "guide bore", inShaft: "valve stem", feature: "stem clearance", of: wear.Cylinder, places: true},
}

// stack is what sits at a position, by kind and, of rings, groove.
type stack map[slotKey]*dossier

type slotKey struct {
	kind   wear.Kind
	groove int
}

// fits works out the fits of a stack as far as its parts were measured; nil
// where none can be told.
func (st stack) fits() *views.Fits {
	return st.fitsWhere(func(wear.Kind, int) bool { return true })
}

// fitsOf are the fits that one part of the stack has a share in.
func (st stack) fitsOf(kind wear.Kind, groove int) *views.Fits {
	return st.fitsWhere(func(k wear.Kind, g int) bool { return k == kind && (kind != wear.Ring || g == groove) })
}

// fitsWhere works out the fits of hole or shaft that is wanted, by kind and,
// of rings, groove.
func (st stack) fitsWhere(wanted func(wear.Kind, int) bool) *views.Fits {
	f := &views.Fits{}
	warm := map[wear.Kind][]size{}
	for _, k := range fitKinds {
		for key, shaft := range st.sorted(k.shaft) {
			groove := 0
			if k.groove {
				groove = key
			}
			hole := st[slotKey{k.hole, 0}]
			if hole == nil || !wanted(k.hole, 0) && !wanted(k.shaft, groove) {
				continue
			}
			st.addFits(f, k, hole, shaft, groove, warm)
		}
	}
	st.gapRows(f, warm, wanted)
	if len(f.Rows) == 0 {
		return nil
	}
	for _, k := range wear.Kinds {
		if w := warmthStep(warm[k], k, st.settings()); w != nil {
			f.Steps = append(f.Steps, *w)
			f.Warm = true
		}
	}
	return f
}

// settings are the book's.
func (st stack) settings() (s store.Settings) {
	for _, d := range st {
		s = d.set
	}
	return s
}

// sorted lists the dossiers of a kind by groove.
func (st stack) sorted(k wear.Kind) func(yield func(int, *dossier) bool) {
	return func(yield func(int, *dossier) bool) {
		var grooves []int
		for key := range st {
			if key.kind == k {
				grooves = append(grooves, key.groove)
			}
		}
		slices.Sort(grooves)
		for _, g := range grooves {
			if !yield(g, st[slotKey{k, g}]) {
				return
			}
		}
	}
}

// addFits adds the fit of one pair, or one for each place they share.
func (st stack) addFits(f *views.Fits, k fitKind, hole, shaft *dossier, groove int, warm map[wear.Kind][]size) {
	holes, shafts := hole.latestSizes(k.inHole, groove), shaft.latestSizes(k.inShaft, 0)
	places := []string{""}
	if k.places {
		places = []string{"intake", "exhaust"}
	}
	for _, at := range places {
		h, s := keepPlace(holes, at), keepPlace(shafts, at)
		if len(h) == 0 || len(s) == 0 {
			continue
		}
		name := k.name
		if groove > 0 {
			name += " " + itoa(groove)
		}
		if at != "" {
			name += ", " + at
		}
		st.addFit(f, k, name, hole, shaft, h, s, groove)
		warm[k.hole], warm[k.shaft] = append(warm[k.hole], h...), append(warm[k.shaft], s...)
	}
}

func keepPlace(ss []size, place string) []size {
	if place == "" {
		return ss
	}
	var out []size
	for _, s := range ss {
		if s.Station == place {
			out = append(out, s)
		}
	}
	return out
}

// addFit adds one fit.
func (st stack) addFit(f *views.Fits, k fitKind, name string, hole, shaft *dossier, holes, shafts []size, groove int) {
	limit, typed := k.typedLimit(hole, shaft, groove)
	ofHole, ofShaft := k.partLimits(hole, shaft, groove)
	if !typed {
		limit = wear.FitLimit(ofHole, ofShaft)
	}
	p, ok := k.pair(holes, shafts, limit)
	if !ok {
		return
	}
	h, s, fit, a, u := p.hole, p.shaft, p.judged, p.a, hole.set.Unit
	row := views.FitRow{Name: name, Hole: sizeText(h, u, hole), Shaft: sizeText(s, u, shaft), Clearance: looseOrTight(fit.Clearance, u), Both: p.text(u), U: "± " + inUnit(a.U, u, 0), Verdict: told(a.Verdict)}
	if row.Limit = fitLimitText(limit, u); row.Limit != "" {
		row.LimitFrom = "typed for the fit"
		if !typed {
			row.LimitFrom = "follows from those of the parts"
		}
	}
	if row.Limit != "" || a.Verdict != wear.NoLimit {
		joint := wear.Joint(wear.Assess(h.Value, h.U, hole.limitNamed(k.inHole, groove)), wear.Assess(s.Value, s.U, shaft.limitNamed(k.inShaft, 0)), a)
		row.Plain, row.Decides = plainText(a, u), joint.FitDecides
	}
	owner := hole
	if k.of == k.shaft {
		owner = shaft
	}
	row.Measured = owner.feelerText(k.feature, groove, u)
	f.Rows = append(f.Rows, row)
	f.Steps = append(f.Steps, k.steps(name, p, u)...)
	if row.Limit != "" && !typed {
		f.Steps = append(f.Steps, limitStep(name, ofHole, ofShaft, u))
	}
}

// limitStep says how the limit of a fit follows from those of its parts.
func limitStep(name string, hole, shaft wear.Limit, u wear.Unit) views.WorkedStep {
	less := func(word string, h, s, fit *wear.Value) string {
		if fit == nil {
			return ""
		}
		return fmt.Sprintf("%s %s − %s = %s", word, h.Format(u), s.Format(u), wear.FitText(*fit, u))
	}
	l := wear.FitLimit(hole, shaft)
	numbers := joinText("; ", less("new least", hole.NewMin, shaft.NewMax, l.NewMin), less("new most", hole.NewMax, shaft.NewMin, l.NewMax), less("service most", hole.ServiceMax, shaft.ServiceMin, l.ServiceMax))
	return views.WorkedStep{Text: "limit of " + name, Equation: "new: least hole − largest shaft to largest hole − least shaft; service: largest hole − least shaft in service", Numbers: numbers + " " + u.Name,
		Source: "arithmetic of limits and fits, parts at standard size; US Army TM 9-2815-220-34 table 3-11"}
}

// looseOrTight writes a clearance that was worked out, with the digits that
// the unit is read to.
func looseOrTight(v wear.Value, u wear.Unit) string {
	rounded, err := wear.ParseValue(inUnit(float64(v), u, 0), u)
	if err != nil {
		rounded = v
	}
	return wear.FitText(rounded, u)
}

// limitNamed is the limit in force of a built-in feature of the part.
func (d *dossier) limitNamed(name string, groove int) wear.Limit {
	f, ok := d.featureNamed(name)
	if !ok {
		return wear.Limit{}
	}
	_, lim := d.limitOf(f, groove, d.sizeNow())
	return lim
}

// feelerText is the latest clearance that was measured itself.
func (d *dossier) feelerText(name string, groove int, u wear.Unit) string {
	ss := d.latestSizes(name, groove)
	if len(ss) == 0 {
		return ""
	}
	s := largestOf(ss)
	return s.read.Format(u) + " measured itself, " + string(s.sheet.Day)
}

func sizeText(s size, u wear.Unit, d *dossier) string {
	t := inUnit(float64(s.Value), u, 0) + ", " + string(d.part.Kind) + " " + d.part.Serial
	if at := s.where(); at != "" {
		t += ", " + at
	}
	return t
}

func fitLimitText(l wear.Limit, u wear.Unit) string {
	text := func(v *wear.Value) string { return wear.FitText(*v, u) }
	out := ""
	switch {
	case l.NewMin != nil && l.NewMax != nil:
		out = "new " + text(l.NewMin) + " to " + text(l.NewMax)
	case l.NewMin != nil:
		out = "new at least " + text(l.NewMin)
	}
	if l.ServiceMax != nil {
		if out != "" {
			out += ", "
		}
		out += "service " + text(l.ServiceMax)
	}
	return out
}

// stackAt reads what sits at a position.
func (s *Server) stackAt(r *http.Request, held []store.Slot) (stack, error) {
	st := stack{}
	for _, x := range held {
		d, err := s.dossier(r, x.ID, "")
		if err != nil {
			return nil, err
		}
		st[slotKey{x.Kind, x.AtGroove}] = d
	}
	return st, nil
}
