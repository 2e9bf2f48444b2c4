package views

import (
	"math"
	"slices"
	"strconv"
)

// EnginePlan is the drawing of an engine's positions as they really lie.
type EnginePlan struct {
	ID          string // makes the ids of the drawing its own on the page; "plan" when empty
	Title       string // "Positions of engine R-1021"
	Arrangement string // radial, flat, inline or V
	Rows        int    // of a radial: 1 when 0, or 2, odd numbers in the rear row
	MasterRod   int    // number of the master-rod cylinder, 0 for none
	Positions   []PlanPosition
	Order       []int // numbers from the front, left before right; nil for 1, 2, 3 ...
}

// PlanPosition is one position on the plan.
type PlanPosition struct {
	Number  int
	Label   string // the cylinder's serial, "" where none is recorded
	Mark    VerdictMark
	Flagged bool
	Href    string
}

// Numbering says how the plan counts, in words.
func (p EnginePlan) Numbering() string {
	switch {
	case p.Arrangement == "radial" && p.Rows == 2:
		return "Seen from the rear. Number 1 is on top, the others follow clockwise; odd numbers are in the rear row, even ones, drawn farther out, in the front row."
	case p.Arrangement == "radial":
		return "Seen from the rear. Number 1 is on top, the others follow clockwise."
	case p.Order != nil:
		return "Seen from above, front of the engine at the top, numbered in the order that was set for this engine."
	case p.Arrangement == "inline":
		return "Seen from above, front of the engine at the top. Number 1 is at the front."
	}
	return "Seen from above, front of the engine at the top: odd numbers in the left bank, even ones in the right. Makers number differently: go by the numbers, not by the side."
}

// says is a position in words, for those who hear the plan.
func (q PlanPosition) says(master bool) string {
	flagged, rod := "", ""
	if q.Flagged {
		flagged = "flagged"
	}
	if master {
		rod = "master rod"
	}
	return joined(", ", "Position "+strconv.Itoa(q.Number), orWord(q.Label, "no cylinder"), orWord(q.Mark.Word, "not measured"), flagged, rod)
}

// spot is where a position lies: the middle of its tag, and the foot and the
// top of its barrel.
type spot struct{ tag, foot, top place }

// Measures of the plan, in units of the drawing.
const (
	barrelWide = 46.0
	planMargin = 8.0
	bankTop    = 30.0 // of the first tag, below the word "front"
)

// tag is the size of a position's tag and how many lines it holds: number and
// marks, the serial, the verdict's word.
type tag struct {
	wide, high float64
	lines      int
}

// tag is as large as there is room for: many cylinders in a ring, and a
// phone's width, leave little.
func (p EnginePlan) tag(narrow bool) tag {
	switch {
	case len(p.Positions) > 9 && p.Arrangement == "radial":
		return tag{102, 44, 1}
	case narrow:
		return tag{104, 58, 2}
	}
	return tag{130, 76, 3}
}

// ordered are the positions in the order of their places.
func (p EnginePlan) ordered() []PlanPosition {
	qs := slices.Clone(p.Positions)
	rank := func(q PlanPosition) int {
		if i := slices.Index(p.Order, q.Number); i >= 0 {
			return i
		}
		return len(p.Order) + q.Number
	}
	slices.SortStableFunc(qs, func(a, b PlanPosition) int { return rank(a) - rank(b) })
	return qs
}

// spots lays out n positions about a crankcase and returns the plan's size.
func (p EnginePlan) spots(n int, t tag) (ss []spot, wide, high float64) {
	switch p.Arrangement {
	case "radial":
		return p.ring(n, t)
	case "inline":
		return p.line(n, t)
	}
	return p.banks(n, t)
}

// ring lays positions out clockwise from the top.
func (p EnginePlan) ring(n int, t tag) ([]spot, float64, float64) {
	rows := 1
	if p.Rows == 2 && n%2 == 0 {
		rows = 2
	}
	// The tags next to the top one clear it sideways; all fit round the ring.
	inner := max(1.58*t.wide, (t.wide+10)*float64(n)/float64(rows)/(2*math.Pi))
	outer := inner + float64(rows-1)*(t.wide-8)
	wide, high := 2*(outer+t.wide/2+planMargin), 2*(outer+t.high/2+planMargin)
	ss := make([]spot, n)
	for i := range ss {
		angle := 2 * math.Pi * float64(i) / float64(n)
		at := func(r float64) place {
			return place{wide/2 + r*math.Sin(angle), high/2 - r*math.Cos(angle)}
		}
		r := inner
		if rows == 2 && i%2 == 1 {
			r = outer
		}
		ss[i] = spot{at(r), at(max(44, inner-136)), at(r - 20)}
	}
	return ss, wide, high
}

// banks lays positions out in two banks, left and right by turns, with the
// front at the top. A V's barrels lean forward.
func (p EnginePlan) banks(n int, t tag) ([]spot, float64, float64) {
	pitch, wide, lean := t.high+14, 2*t.wide+240, 0.0
	if p.Arrangement == "V" {
		lean = 16
	}
	if t.lines < 3 {
		wide = 2*t.wide + 180
	}
	ss := make([]spot, n)
	for i := range ss {
		side := float64(2*(i%2) - 1)
		y := bankTop + t.high/2 + planMargin + float64(i/2)*pitch + float64(i%2)*14
		ss[i] = spot{
			tag:  place{wide/2 + side*(wide/2-t.wide/2-planMargin), y},
			foot: place{wide/2 + side*26, y + lean},
			top:  place{wide/2 + side*(wide/2-t.wide), y},
		}
	}
	return ss, wide, bankTop + float64((n+1)/2)*pitch + 14 + 2*planMargin
}

// line lays positions out one behind the other.
func (p EnginePlan) line(n int, t tag) ([]spot, float64, float64) {
	pitch, wide := t.high+14, t.wide+220
	ss := make([]spot, n)
	for i := range ss {
		y := bankTop + t.high/2 + planMargin + float64(i)*pitch
		ss[i] = spot{place{wide - t.wide/2 - planMargin, y}, place{70, y}, place{190, y}}
	}
	return ss, wide, bankTop + float64(n)*pitch + 2*planMargin
}

// Wide draws the plan for a laptop and for paper.
func (p EnginePlan) Wide() string { return p.draw("wide", p.tag(false)) }

// Narrow draws the plan for a phone: the same with shorter tags.
func (p EnginePlan) Narrow() string { return p.draw("narrow", p.tag(true)) }

// draw draws the plan: every position is a link with its number, its verdict's
// mark and, where there is room, its cylinder and the word.
func (p EnginePlan) draw(kind string, t tag) string {
	qs := p.ordered()
	ss, wide, high := p.spots(len(qs), t)
	id := orWord(p.ID, "plan") + "-" + kind
	var d drawing
	d.open("svg", "class", "plan plan-"+kind, "viewBox", "0 0 "+coord(wide)+" "+coord(high), "role", "group", "aria-labelledby", id+"-title", "aria-describedby", id+"-desc")
	d.text("title", p.Title, "id", id+"-title")
	d.text("desc", p.Numbering()+" Each position is a link to the parts that sit there.", "id", id+"-desc")
	d.crankcase(p, ss, wide, high)
	for i, q := range qs {
		d.barrel(ss[i], q.Number == p.MasterRod)
	}
	for i, q := range qs {
		d.position(q, t, ss[i].tag, q.Number == p.MasterRod)
	}
	d.close("svg")
	return d.String()
}
