package server

import (
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// pressing is how hard a ring presses against the original: the ring that it
// replaces, or the maker's new one. Plain and Words are empty where its own
// force was not measured, though the original's is known.
type pressing struct {
	wear.PressureComparison
	ring store.Part
	with string // the choice of the original on the page that compares
	of   string // the original in words: "ring K-1, which it replaces"
	also string // against the other original, where both are known
}

// hard reports whether the ring presses harder than the shop's setting allows.
func (p *pressing) hard() bool { return p != nil && p.Plain == wear.PressureHigh }

// unmeasured reports whether the ring could be compared, had it been measured.
func (p *pressing) unmeasured() bool { return p != nil && p.Plain == "" }

// href leads to the same comparison, worked out; "" for a ring that the book
// does not have yet.
func (p *pressing) href() string {
	if p.ring.ID == 0 {
		return ""
	}
	return href("/parts/", p.ring.ID, "/compare?") + url.Values{"with": {p.with}}.Encode()
}

// short says how hard the ring presses in a few words.
func (p *pressing) short() string {
	return fmt.Sprintf("presses %.2f times as hard as %s", p.Ratio, p.of)
}

// words says how hard the ring presses and what comes of it. The comparison
// names its original in general, here it is known.
func (p *pressing) words() string {
	return joinText(" ", strings.Replace(p.Words, "the ring it replaces", p.of, 1), p.also)
}

// against is what is said of a ring that presses too hard before it is fitted.
func (p *pressing) against() string { return "ring " + p.ring.Serial + ": " + lowerFirst(p.words()) }

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }

// view is what a page says of the ring where it presses too hard, or where it
// was not measured and unmeasured is to be said too; nil for nothing.
func (p *pressing) view(unmeasured bool) *views.RingPressing {
	switch {
	case p.hard():
		return &views.RingPressing{Word: string(p.State), Words: p.words(), Href: p.href()}
	case unmeasured && p.unmeasured():
		return &views.RingPressing{Words: "Its force was not measured: compare it before fitting.", Href: p.href()}
	}
	return nil
}

// pressingIn sets a ring against the ring that it replaces at a place, which is
// the one that sits or sat there last, and against the maker's new ring; see
// ofTheTwo. nil where no two forces are known.
func (k *ringBook) pressingIn(ring store.Part, e store.Engine, position, groove int) (*pressing, error) {
	if ring.ModelID == 0 {
		ring.ModelID = e.Model.ID
	}
	if ring.Groove == 0 {
		ring.Groove = groove
	}
	best, err := k.pressingNew(ring)
	if err != nil {
		return nil, err
	}
	stays, err := k.staysAt(e.ID, position)
	if err != nil {
		return nil, err
	}
	for _, st := range slices.Backward(stays) {
		if st.Kind != wear.Ring || st.Groove != groove || st.Part == ring.ID {
			continue
		}
		old, err := k.book.Part(k.ctx, st.Part)
		if err != nil {
			return nil, err
		}
		side, err := k.knownSide(old)
		if err != nil {
			return nil, err
		}
		p, err := k.pressingOf(ring, side, strconv.FormatInt(old.ID, 10), "ring "+old.Serial+", which it replaces")
		return ofTheTwo(p, best), err
	}
	return best, nil
}

// pressingOn is how hard the rings among parts of an engine press, by part.
func (s *Server) pressingOn(r *http.Request, e store.Engine, parts []store.Slot) (map[int64]*pressing, error) {
	k, err := s.ringBook(r.Context())
	if err != nil {
		return nil, err
	}
	pressed := map[int64]*pressing{}
	for _, x := range parts {
		if x.Kind != wear.Ring {
			continue
		}
		if pressed[x.ID], err = k.pressingIn(x.Part, e, x.Position, x.AtGroove); err != nil {
			return nil, err
		}
	}
	return pressed, nil
}

// ofTheTwo chooses between a ring's comparison with the ring that it replaces
// and that with the maker's new one: the maker's counts where it is known, for a
// ring that ran has lost force, and may have pressed too hard itself.
func ofTheTwo(replaced, maker *pressing) *pressing {
	switch {
	case replaced == nil || replaced.Plain == "" && maker != nil:
		return maker
	case maker == nil || maker.Plain == "":
		return replaced
	}
	maker.also = fmt.Sprintf("It %s.", replaced.short())
	return maker
}

// pressingNew sets a ring against the maker's new ring, by the limits of its
// model and groove.
func (k *ringBook) pressingNew(ring store.Part) (*pressing, error) {
	ls, err := k.limitsOf(ring.ModelID)
	if err != nil {
		return nil, err
	}
	return k.pressingOf(ring, k.makers(ls, ring.Groove, ""), makersRing, "the maker's new ring")
}

// pressingOf sets a ring against an original. The bore is the middle of the new
// limits, else that of the barrel: it is the same for both, and drops out of the
// ratio of two forces.
func (k *ringBook) pressingOf(ring store.Part, original *ringSide, with, of string) (*pressing, error) {
	own, err := k.knownSide(ring)
	if err != nil {
		return nil, err
	}
	p := &pressing{ring: ring, with: with, of: of}
	if !own.forced() {
		if original.forced() {
			return p, nil
		}
		return nil, nil
	}
	bore, ok, err := k.boreFor(ring)
	if err != nil || !ok {
		return nil, err
	}
	p.PressureComparison, ok = k.compared(own, original, bore)
	if !ok {
		return nil, nil
	}
	return p, nil
}

// boreFor is the bore that a ring is meant for.
func (k *ringBook) boreFor(ring store.Part) (sized, bool, error) {
	ls, err := k.limitsOf(ring.ModelID)
	if err != nil {
		return sized{}, false, err
	}
	if f, known := k.feature(wear.Cylinder, "barrel bore"); known {
		if bore, ok := k.middleOfNew(ls, f, 0, ring.Oversize); ok {
			return bore, true, nil
		}
	}
	cylinder, found, err := k.barrelOf(ring.ID)
	if err != nil || !found {
		return sized{}, false, err
	}
	return k.barrelBore(cylinder)
}

// compared sets a ring's pressure against another's in a bore; not ok where one
// of them cannot be worked out, or where they are too far apart to compare: a
// slip, told on the page that compares rings.
func (k *ringBook) compared(offered, original *ringSide, bore sized) (wear.PressureComparison, bool) {
	offered, original = sameWidth(offered, original)
	a, b := ways(offered, original)
	if a < 0 || b < 0 {
		return wear.PressureComparison{}, false
	}
	pa, whyA := offered.pressure(a, bore)
	pb, whyB := original.pressure(b, bore)
	if whyA != "" || whyB != "" {
		return wear.PressureComparison{}, false
	}
	c, err := wear.ComparePressure(pa, pb, k.set.RatioLimits())
	return c, err == nil
}

// forced reports whether a ring's force is known, or all that it follows from.
func (side *ringSide) forced() bool {
	for i, way := range ringWays {
		if _, ok := side.sizes[string(way.from)]; ok && way.from != wear.FromFreeGap || side.can(i) {
			return true
		}
	}
	return false
}

// sameWidth gives a ring of which the force was measured and the axial width
// was not the other's width: they are made for one groove.
func sameWidth(a, b *ringSide) (*ringSide, *ringSide) {
	return a.withWidth(b), b.withWidth(a)
}

func (side *ringSide) withWidth(other *ringSide) *ringSide {
	w, known := other.sizes["axial width"]
	if _, has := side.sizes["axial width"]; has || !known || !side.forced() {
		return side
	}
	c := *side
	c.sizes = maps.Clone(side.sizes)
	w.from, w.href = "assumed: it was not measured, and is taken to be as wide as the other", ""
	if side.part != nil {
		w.href = href("/measure/part/", side.part.ID)
	}
	c.sizes["axial width"] = w
	c.assumed = append(slices.Clone(side.assumed), lowerFirst(side.name)+" is as wide as the other: its axial width is not known")
	return &c
}

// knownSide is a ring of the book with what was last measured of it, read
// once.
func (k *ringBook) knownSide(p store.Part) (*ringSide, error) {
	if side, ok := k.sides[p.ID]; ok && p.ID != 0 {
		return side, nil
	}
	side, err := k.measured(p, "")
	if err == nil {
		k.sides[p.ID] = side
	}
	return side, err
}

// limitsOf are the limits in force of a model, read once; none for model 0.
func (k *ringBook) limitsOf(model int64) (store.Limits, error) {
	if ls, ok := k.limitsBy[model]; ok || model == 0 {
		return ls, nil
	}
	ls, err := k.book.LimitsOf(k.ctx, model, "")
	if err == nil {
		k.limitsBy[model] = ls
	}
	return ls, err
}

// staysAt lists what sat at a position, read once.
func (k *ringBook) staysAt(engine int64, position int) ([]store.Stay, error) {
	at := store.Place{Engine: engine, Position: position}
	if ss, ok := k.staysBy[at]; ok {
		return ss, nil
	}
	ss, err := k.book.StaysAt(k.ctx, engine, position)
	if err == nil {
		k.staysBy[at] = ss
	}
	return ss, err
}
