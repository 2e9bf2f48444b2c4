package wear

import (
	"errors"
	"fmt"
	"math"
)

// ErrRings is returned where the rings' places make no sense.
var ErrRings = errors.New("the lowest ring's place is not known")

// LowestRing says where a piston's lowest ring lies in a cylinder that is still
// on. With s from crank centre to piston pin, its lower side is s + PinToCrown -
// BelowCrown from the crank's centre, and it is in the barrel while that is
// no less than SkirtEnd.
type LowestRing struct {
	Position   int
	PinToCrown Value // middle of the piston pin to the crown
	BelowCrown Value // crown to the lower side of the lowest ring
	SkirtEnd   Value // crank centre to where the barrel's bore ends, chamfer not counted
}

// Drop is what a lean of the master rod does to one piston; lengths in mm.
type Drop struct {
	Position      int
	Before, After float64 // crank centre to piston pin
	Drop          float64 // how far it comes down, towards the crank; negative is up
	Ring          float64 // crank centre to the lower side of the lowest ring, after
	Room          float64 // from there down to the end of the barrel; negative is outside
	Leaves        bool
}

// Drops tells how far the link pistons come down when the master-rod cylinder
// is off and its rod leans by lean degrees about the crankpin, from where it
// stood in its cylinder, the crank standing still at crank degrees. The rod
// and its knuckle pins turn together, so that in RodRow.Height
//
//	φ becomes φ + δ,  drop = s(θ, 0) - s(θ, δ),  room = s(θ, δ) + pin to crown - ring below crown - skirt end.
//
// A positive lean turns the rod against the crank's direction of rotation.
// rings has each cylinder of the row that is still on; the master-rod cylinder
// is not among them. What stops a rising piston (the head, its valves) and what stops the rod
// (the crankcase) are not known here. Valid for -90 < lean < 90. Errors: those
// of RodRow.Check; ErrPosition, ErrTwice, ErrNoCylinder for the rings; ErrRings
// where a ring is not between crown and skirt; ErrLinkShort where a link rod
// stops the master rod before that lean; ErrRange, ErrNotFinite. Source:
// derived from the geometry; that pistons drop, common practice, no source.
func (w RodRow) Drops(crank, lean float64, rings []LowestRing) ([]Drop, error) {
	held, err := w.hold(crank, lean, rings)
	if err != nil {
		return nil, fmt.Errorf("reckon drop: %w", err)
	}
	var drops []Drop
	for _, h := range held {
		d, ok := h.drop(radians(lean))
		if !ok {
			return nil, fmt.Errorf("reckon drop: position %d at %g degrees: %w", h.k.position, lean, ErrLinkShort)
		}
		drops = append(drops, d)
	}
	return drops, nil
}

// held is a piston on a link rod in its cylinder, with the crank standing at t.
type held struct {
	k     linkage
	t     float64
	less  float64 // what is taken from s for the room, mm
	skirt float64
}

func (h held) drop(lean float64) (Drop, bool) {
	before, _ := h.k.height(h.t, 0)
	after, ok := h.k.height(h.t, lean)
	room := after - h.less
	return Drop{Position: h.k.position, Before: before, After: after, Drop: before - after,
		Ring: room + h.skirt, Room: room, Leaves: room < 0}, ok
}

func (w RodRow) hold(crank, lean float64, rings []LowestRing) ([]held, error) {
	if err := errors.Join(w.Check(), checkAngles(crank, lean), w.checkRings(rings)); err != nil {
		return nil, err
	}
	if math.Abs(lean) >= 90 {
		return nil, fmt.Errorf("check lean: %g degrees: %w", lean, ErrRange)
	}
	var all []held
	for _, r := range rings {
		for _, k := range w.linkages() {
			if k.position == r.Position {
				h := held{k: k, t: radians(crank) - k.zero, skirt: r.SkirtEnd.millimetres()}
				h.less = (r.SkirtEnd + r.BelowCrown - r.PinToCrown).millimetres()
				all = append(all, h)
			}
		}
	}
	return all, nil
}

func (w RodRow) checkRings(rings []LowestRing) error {
	known := map[int]bool{}
	for _, c := range w.Cylinders {
		known[c.Position] = c.Position != w.Master
	}
	var positions []int
	for _, r := range rings {
		positions = append(positions, r.Position)
		if !known[r.Position] {
			return fmt.Errorf("check ring: position %d has no link rod: %w", r.Position, ErrPosition)
		}
		if r.PinToCrown < 0 || r.BelowCrown <= 0 || r.SkirtEnd < 0 || max(r.PinToCrown, r.BelowCrown, r.SkirtEnd) > longestRod {
			return fmt.Errorf("check ring of position %d: %w", r.Position, ErrRings)
		}
	}
	return checkPositions(positions)
}

// Lean is how far the master rod may lean before a ring leaves its barrel.
type Lean struct {
	Angle    float64 // smallest lean at which one leaves, degrees, signed; 0 where one is out already
	Position int     // the cylinder, 0 where none leaves
	Leaves   bool
	Searched [2]float64 // how far the rod was leaned either way, degrees
	Working  []Step
}

// furthestLean is how far SafeLean leans the rod: farther than a crankcase
// lets it. A choice without a source.
const furthestLean = 60

// SafeLean finds the smallest |δ| of Drops at which any lowest ring leaves its
// barrel, and which. The rod is leaned either way in steps of a twentieth of a
// degree up to 60°, or until a link rod stops it, and the first step at which
// a ring is out is halved down to 1e-9°; between steps a ring that is only
// just out and in again may be missed, by less than 0.001 mm. Of two that
// leave at the same lean, the lower position is named. Errors: those of Drops.
// Source: derived from the geometry.
func (w RodRow) SafeLean(crank float64, rings []LowestRing) (Lean, error) {
	all, err := w.hold(crank, 0, rings)
	if err != nil {
		return Lean{}, fmt.Errorf("find safe lean: %w", err)
	}
	found := Lean{}
	for i, sign := range [2]float64{-1, 1} {
		side := leanOver(all, sign)
		found.Searched[i] = side.Searched[i]
		if side.Leaves && (!found.Leaves || nearer(side, found)) {
			side.Searched = found.Searched
			found = side
		}
	}
	found.Working = found.working(w, crank, rings)
	return found, nil
}

// nearer reports whether a ring leaves earlier at a than at b; the same lean
// either way goes by position.
func nearer(a, b Lean) bool {
	if d := math.Abs(a.Angle) - math.Abs(b.Angle); math.Abs(d) > 1e-6 {
		return d < 0
	}
	return a.Position < b.Position
}

// leanOver leans the rod one way until a ring is out or a link rod stops it.
func leanOver(all []held, sign float64) Lean {
	const steps = 20 * furthestLean
	side := 0
	if sign > 0 {
		side = 1
	}
	var l Lean
	from := 0.0
	for i := range steps + 1 {
		at := sign * float64(i) / 20
		stop := follows(all, from, at)
		for _, h := range all {
			if d, _ := h.drop(radians(stop)); d.Leaves {
				this := Lean{Angle: h.leaves(from, stop), Position: h.k.position, Leaves: true}
				if !l.Leaves || nearer(this, l) {
					this.Searched, l = l.Searched, this
				}
			}
		}
		l.Searched[side] = stop
		if l.Leaves || stop != at {
			return l
		}
		from = at
	}
	return l
}

// follows is the lean nearest to at that every link rod still reaches, all of
// them reaching at from.
func follows(all []held, from, at float64) float64 {
	return lastLean(from, at, func(lean float64) bool {
		for _, h := range all {
			if _, ok := h.drop(radians(lean)); !ok {
				return false
			}
		}
		return true
	})
}

// leaves is the lean between from and at, where the ring is out, at which it
// gets out.
func (h held) leaves(from, at float64) float64 {
	return lastLean(from, at, func(lean float64) bool {
		d, _ := h.drop(radians(lean))
		return !d.Leaves
	})
}

// lastLean is where between from and at holds ends, at if it does not.
func lastLean(from, at float64, holds func(float64) bool) float64 {
	if from == at || holds(at) {
		return at
	}
	for math.Abs(at-from) > 1e-10 {
		if mid := (from + at) / 2; holds(mid) {
			from = mid
		} else {
			at = mid
		}
	}
	return from
}

// working puts numbers into the equations: those of the cylinder whose ring
// leaves first, else of the first.
func (l Lean) working(w RodRow, crank float64, rings []LowestRing) []Step {
	text := fmt.Sprintf("no ring leaves between %.0f° and %.0f°", l.Searched[0], l.Searched[1])
	if l.Leaves {
		text = fmt.Sprintf("δ = %+.2f°, cylinder %d", l.Angle, l.Position)
	}
	given := fmt.Sprintf("crank standing still at %.2f°", crank)
	for _, r := range rings {
		if l.Leaves && r.Position != l.Position {
			continue
		}
		text = fmt.Sprintf("pin to crown %.3f, ring below crown %.3f, skirt end %.3f mm: ", r.PinToCrown.In(Millimetre), r.BelowCrown.In(Millimetre), r.SkirtEnd.In(Millimetre)) + text
		for _, k := range w.linkages() {
			if k.position == r.Position {
				given = fmt.Sprintf("cylinder %d: r %.3f, L %.3f, a %.3f, l %.3f mm, α %.2f°, ψ %.2f°; ", k.position, k.r, k.long, k.a, k.l, turned(degrees(k.alpha)), turned(degrees(k.psi))) + given
			}
		}
		break
	}
	return []Step{
		{"Link pistons with the master rod leaning by δ", "s(θ, δ): " + linkEquation + ", with φ + δ for φ", given, derivedHere},
		{"Smallest lean at which a lowest ring leaves its barrel", "s(θ, δ) + pin to crown − ring below crown < skirt end", text, derivedHere},
	}
}
