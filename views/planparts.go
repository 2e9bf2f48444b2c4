package views

import (
	"math"
	"strconv"
)

// crankcase draws what the barrels stand on, and where the front is.
func (d *drawing) crankcase(p EnginePlan, ss []spot, wide, high float64) {
	if p.Arrangement == "radial" {
		r := 40.0
		if len(ss) > 0 {
			r = math.Hypot(ss[0].foot.x-wide/2, ss[0].foot.y-high/2)
		}
		d.shape("circle", "class", "plan-case", "cx", wide/2, "cy", high/2, "r", r)
		d.shape("circle", "class", "plan-shaft", "cx", wide/2, "cy", high/2, "r", 11.0)
		return
	}
	x, half := wide/2, 26.0
	if p.Arrangement == "inline" {
		x, half = 70, 34
	}
	d.shape("rect", "class", "plan-case", "x", x-half, "y", 26.0, "width", 2*half, "height", high-26-planMargin, "rx", 6.0)
	d.shape("path", "class", "plan-shaft", "d", pathOf([]place{{x - 8, 26}, {x - 8, 12}, {x + 8, 12}, {x + 8, 26}}, false))
	d.text("text", "front", "class", "plan-small", "x", x+16, "y", 19.0)
}

// barrel draws a finned barrel from its foot to its top. The master rod is a
// heavy line down its middle.
func (d *drawing) barrel(s spot, master bool) {
	dx, dy := s.top.x-s.foot.x, s.top.y-s.foot.y
	long := math.Hypot(dx, dy)
	if long < 1 {
		return
	}
	ux, uy := dx/long, dy/long
	at := func(along, across float64) place {
		return place{s.foot.x + ux*along - uy*across, s.foot.y + uy*along + ux*across}
	}
	half := min(barrelWide/2, long/2)
	d.shape("path", "class", "plan-barrel", "d", pathOf([]place{at(0, -half+6), at(long, -half+6), at(long, half-6), at(0, half-6)}, true))
	fins := ""
	for along := 10.0; along < long; along += 9 {
		fins += pathOf([]place{at(along, -half), at(along, half)}, false)
	}
	d.shape("path", "class", "plan-fin", "d", fins)
	if master {
		d.shape("path", "class", "plan-rod", "d", pathOf([]place{at(-18, 0), at(long, 0)}, false))
	}
}

// position draws the tag of a position about its middle.
func (d *drawing) position(q PlanPosition, t tag, at place, master bool) {
	class := "plan-tag " + tone(q.Mark.Word)
	if q.Flagged {
		class = "plan-tag bad"
	}
	if q.Label == "" {
		class = "plan-tag plan-bare"
	}
	d.open("a", "href", q.Href, "class", class) // its title is its name (SVG-AAM 8.1)
	d.text("title", q.says(master))
	d.shape("rect", "class", "plan-box", "x", at.x-t.wide/2, "y", at.y-t.high/2, "width", t.wide, "height", t.high, "rx", 4.0)
	left, row := at.x-t.wide/2+10, at.y-t.high/2+25
	if t.lines == 1 {
		row = at.y + 8
	}
	number := strconv.Itoa(q.Number)
	d.text("text", number, "class", "plan-number", "x", left, "y", row)
	mark := left + 14*float64(len(number)) + 14
	d.glyph(q.Mark.Word, mark, row-8, 17)
	if q.Flagged {
		d.glyph("flagged", mark+21, row-8, 17)
	}
	if master {
		d.text("text", "M", "class", "plan-master", "x", at.x+t.wide/2-9, "y", row-1, "text-anchor", "end")
	}
	if t.lines > 1 {
		d.text("text", orWord(shortened(q.Label, int(t.wide/10.5)), "empty"), "class", "plan-label", "x", left, "y", row+21)
	}
	if t.lines > 2 && q.Label != "" {
		d.text("text", orWord(q.Mark.Word, "not measured"), "class", "plan-word", "x", left, "y", row+41)
	}
	d.close("a")
}
