package server

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// ringWays are the ways to a contact pressure, the best first, with the
// features that each needs.
var ringWays = []struct {
	from  wear.PressureFrom
	needs []string
}{
	{wear.FromTangential, []string{"tangential force", "axial width"}},
	{wear.FromDiametral, []string{"diametral force", "axial width"}},
	{wear.FromFreeGap, []string{"free gap", "end gap", "radial thickness"}},
}

// sized is a size with where it came from.
type sized struct {
	wear.Gauged
	unit       wear.Unit
	from, href string // "2026-05-01, Ring force tester"
	mean       bool   // worked out of several, so that it has no last digit of its own
	carried    bool   // to 20 °C
}

// ringSide is one of the rings that are compared.
type ringSide struct {
	name, role string
	part       *store.Part // nil for what was typed or is the maker's
	sizes      map[string]sized
	material   wear.RingMaterial
	modulus    int
	assumed    []string
}

// ringBook reads what the pages on rings need of the book, once each.
type ringBook struct {
	ctx      context.Context
	book     *store.Book
	set      store.Settings
	features []wear.Feature
	sides    map[int64]*ringSide
	limitsBy map[int64]store.Limits
	staysBy  map[store.Place][]store.Stay
}

func (s *Server) ringBook(ctx context.Context) (*ringBook, error) {
	k := &ringBook{ctx: ctx, book: s.book, sides: map[int64]*ringSide{}, limitsBy: map[int64]store.Limits{}, staysBy: map[store.Place][]store.Stay{}}
	var err error
	if k.set, err = s.book.Settings(ctx); err != nil {
		return nil, err
	}
	k.features, err = s.book.Features(ctx)
	return k, err
}

// feature finds a feature of a kind of part; not ok where the book has none.
func (k *ringBook) feature(kind wear.Kind, name string) (wear.Feature, bool) {
	i := slices.IndexFunc(k.features, func(f wear.Feature) bool { return f.Kind == kind && f.Called(name) })
	if i < 0 {
		return wear.Feature{}, false
	}
	return k.features[i], true
}

// latest is the last reading of a feature in force, of a groove of a piston.
func (k *ringBook) latest(rs []store.Reading, f wear.Feature, groove int) (sized, bool) {
	for _, x := range rs { // newest sheet first
		if x.Struck || x.Value == nil || x.Feature != f.ID || x.Groove != groove {
			continue
		}
		c := k.counted(x, f)
		v := sized{Gauged: c.Gauged, carried: c.Carried, unit: store.UnitFor(f, k.set.Unit), from: "measured " + string(x.Sheet.Day), href: href("/sheets/", x.Sheet.ID)}
		if c.Carried {
			v.from += fmt.Sprintf(", read %s at %g °C", x.Value.Format(v.unit), *x.Sheet.Temperature)
		}
		if x.Gauge != "" {
			v.from += ", " + x.Gauge + overdue(x)
		}
		return v, true
	}
	return sized{}, false
}

// counted is what a reading counts as.
func (k *ringBook) counted(x store.Reading, f wear.Feature) wear.Counted {
	return x.Counted(f, k.set.Material(f.Kind))
}

// measured is a ring of the book with what was last measured of it.
func (k *ringBook) measured(p store.Part, role string) (*ringSide, error) {
	side := &ringSide{name: partName(p.Kind, p.Serial), role: role, part: &p, sizes: map[string]sized{}, material: wear.RingMaterial(p.Material), modulus: p.Modulus}
	rs, err := k.book.ReadingsOf(k.ctx, p.ID)
	if err != nil {
		return nil, err
	}
	for _, way := range ringWays {
		for _, name := range way.needs {
			if f, ok := k.feature(wear.Ring, name); ok {
				if v, ok := k.latest(rs, f, 0); ok {
					side.sizes[name] = v
				}
			}
		}
	}
	return side, nil
}

// makers is the ring as the model's table of limits has it when new: the
// middle of its new limits, as uncertain as they are apart.
func (k *ringBook) makers(ls store.Limits, groove int, model string) *ringSide {
	side := &ringSide{name: "The maker's new ring", role: "original", sizes: map[string]sized{}}
	for _, way := range ringWays {
		for _, name := range way.needs {
			if f, ok := k.feature(wear.Ring, name); ok {
				if v, ok := k.middleOfNew(ls, f, groove, 0); ok {
					side.sizes[name] = v
				}
			}
		}
	}
	side.assumed = append(side.assumed, "the original is a new ring of "+model+", in the middle of its new limits, each as uncertain as a rectangular distribution between them, (max − min)/√12 (JCGM 100, GUM, 4.3.7)")
	return side
}

func (k *ringBook) middleOfNew(ls store.Limits, f wear.Feature, groove int, oversize wear.Value) (sized, bool) {
	row := ls.For(f.ID, groove)
	if row == nil {
		return sized{}, false
	}
	mid, u, ok := row.Limit.MiddleOfNew()
	if !ok {
		return sized{}, false
	}
	v := sized{mean: true, Gauged: wear.Gauged{Value: wear.Value(math.Round(mid)) + oversize, U: u}, unit: store.UnitFor(f, k.set.Unit), from: "middle of the new limits", href: href("/limits/", row.ID, "/history")}
	if t := source(row); t != "" {
		v.from += ", " + t
	}
	return v, true
}

// barrelBore is the bore that a ring runs in: the mean of the barrel's last
// sheet, all stations and axes. The uncertainty is that of one reading, for
// the gauge errs alike in all.
func (k *ringBook) barrelBore(cylinder store.Part) (sized, bool, error) {
	f, ok := k.feature(wear.Cylinder, "barrel bore")
	if !ok {
		return sized{}, false, nil
	}
	rs, err := k.book.ReadingsOf(k.ctx, cylinder.ID)
	if err != nil {
		return sized{}, false, err
	}
	last, ok := k.latest(rs, f, 0)
	if !ok {
		return sized{}, false, nil
	}
	var sum float64
	var n int
	for _, x := range rs {
		if x.Struck || x.Value == nil || x.Feature != f.ID || href("/sheets/", x.Sheet.ID) != last.href {
			continue
		}
		c := k.counted(x, f)
		sum, n = sum+float64(c.Value), n+1
		last.U = math.Max(last.U, c.U)
	}
	last.Value = wear.Value(math.Round(sum / float64(n)))
	last.mean = true
	last.from = fmt.Sprintf("mean of %s of %s, %s", counted(n, "reading"), partName(cylinder.Kind, cylinder.Serial), last.from)
	return last, true, nil
}

// barrelOf is the cylinder that a ring runs in, or ran in last.
func (k *ringBook) barrelOf(ring int64) (store.Part, bool, error) {
	stays, err := k.book.StaysOf(k.ctx, ring)
	if err != nil {
		return store.Part{}, false, err
	}
	for _, st := range slices.Backward(stays) {
		if st.Void != "" {
			continue
		}
		at, err := k.book.StaysAt(k.ctx, st.Engine, st.Position)
		if err != nil {
			return store.Part{}, false, err
		}
		for _, c := range slices.Backward(at) {
			if c.Kind == wear.Cylinder && (st.Open() && c.Open() || !st.Open() && c.From <= st.To) {
				p, err := k.book.Part(k.ctx, c.Part)
				return p, true, err
			}
		}
		return store.Part{}, false, nil
	}
	return store.Part{}, false, nil
}

// can reports whether a ring has all that a way to its pressure needs.
func (side *ringSide) can(way int) bool {
	for _, name := range ringWays[way].needs {
		if _, ok := side.sizes[name]; !ok {
			return false
		}
	}
	return ringWays[way].from != wear.FromFreeGap || side.modulus > 0
}

// ways chooses how each of two rings is reckoned: both alike where they can
// be, so that what they share drops out.
func ways(a, b *ringSide) (int, int) {
	first := func(side *ringSide) int {
		for i := range ringWays {
			if side.can(i) {
				return i
			}
		}
		return -1
	}
	for i := range ringWays {
		if a.can(i) && b.can(i) {
			return i, i
		}
	}
	return first(a), first(b)
}

// pressure works out a ring's pressure in a bore; why says what is wrong with
// its sizes where it cannot be.
func (side *ringSide) pressure(way int, bore sized) (p wear.RingPressure, why string) {
	r := wear.RingSizes{From: ringWays[way].from, Material: side.material, Width: side.sizes["axial width"].Gauged, Bore: bore.Gauged,
		Force: side.sizes[string(ringWays[way].from)].Gauged}
	if r.Material == "" {
		r.Material = wear.CastIronRing
	}
	if r.From == wear.FromFreeGap {
		r.Force = wear.Gauged{}
		r.FreeGap, r.ClosedGap, r.Radial = side.sizes["free gap"].Gauged, side.sizes["end gap"].Gauged, side.sizes["radial thickness"].Gauged
		r.Modulus = float64(side.modulus)
	}
	p, err := wear.PressureOf(r)
	switch {
	case errors.Is(err, wear.ErrRingSize):
		why = "These sizes are not those of a ring in this bore: look for a slip in a reading (" + strings.TrimSuffix(err.Error(), ": "+wear.ErrRingSize.Error()) + ")."
	case err != nil:
		why = "A size is out of range, or its uncertainty more than half of it: measure again (" + strings.TrimSuffix(err.Error(), ": "+wear.ErrRange.Error()) + ")."
	}
	if side.material == "" && r.From == wear.FromDiametral {
		p.Assumed = append(p.Assumed, "the ring is of cast iron: its material is not recorded")
	}
	if r.From == wear.FromFreeGap {
		p.Assumed = append(p.Assumed, "the modulus counts as exact, as it was typed")
	}
	return p, why
}

// missing says what a ring lacks for the way it comes nearest to, with where
// to get it.
func (side *ringSide) missing() []views.Link {
	best, fewest := []views.Link(nil), math.MaxInt
	for i, way := range ringWays {
		var lacks []views.Link
		for _, name := range way.needs {
			if _, ok := side.sizes[name]; !ok {
				lacks = append(lacks, side.toMeasure(name))
			}
		}
		if ringWays[i].from == wear.FromFreeGap && side.modulus == 0 {
			l := views.Link{Text: "type the modulus of elasticity"}
			if side.part != nil {
				l.Href = href("/parts/", side.part.ID, "/edit")
			}
			lacks = append(lacks, l)
		}
		if len(lacks) < fewest {
			best, fewest = lacks, len(lacks)
		}
	}
	return best
}

func (side *ringSide) toMeasure(name string) views.Link {
	switch {
	case side.part == nil:
		return views.Link{Text: "type its new limits: " + name, Href: "/limits"}
	case side.part.Status == "scrapped":
		return views.Link{Text: name + ": the ring was scrapped and cannot be measured any more"}
	}
	return views.Link{Text: "measure " + name, Href: href("/measure/part/", side.part.ID)}
}

// implausible says that a typed size cannot be meant for a built-in feature of
// a ring or what it runs in, or for the width of a land, which is no feature that
// the book has by itself; "" where it can.
func implausible(kind wear.Kind, name string, v wear.Value, u wear.Unit) string {
	f := wear.Feature{Kind: kind, Name: name, Dim: u.Dim}
	if i := slices.IndexFunc(wear.BuiltIn, func(x wear.Feature) bool { return x.Kind == kind && x.Name == name }); i >= 0 {
		f = wear.BuiltIn[i]
	}
	f.BuiltIn = true
	return f.Outside(v, u)
}

// text writes a size in its unit.
func (v sized) text() string { return at20(v.typed()+" "+v.unit.Name, v.carried) }

// typed writes the number alone, as it can be typed again.
func (v sized) typed() string {
	if v.mean || v.carried {
		return inUnit(float64(v.Value), v.unit, 1)
	}
	return v.Value.Format(v.unit)
}

// bounds writes its expanded uncertainty.
func (v sized) bounds() string {
	return "± " + inUnit(wear.ExpandedU(v.U), v.unit, 0)
}

// pressureSteps are the steps to a pressure, with each input's part of its
// uncertainty.
func pressureSteps(p wear.RingPressure) []views.WorkedStep {
	parts := make([]string, len(p.Parts))
	for i, x := range p.Parts {
		parts[i] = fmt.Sprintf("%s %+.2g %%", x.Of, 100*x.Relative)
	}
	return append(workedSteps(p.Working), views.WorkedStep{Text: "Parts of the uncertainty", Equation: "part = ∂ ln p / ∂ ln x · u(x) / x", Numbers: strings.Join(parts, ", "), Source: "JCGM 100 (GUM) 5.1.2"})
}
