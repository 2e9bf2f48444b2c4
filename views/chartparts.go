package views

import "slices"

// axes draws the ruled field with its numbers.
func (d *drawing) axes(f frame, xLabel, yLabel string) {
	for _, v := range f.yTicks {
		y := f.y(v)
		d.shape("path", "class", "chart-grid", "d", pathOf([]place{{f.left, y}, {f.right, y}}, false))
		d.text("text", tickText(v, f.yStep), "class", "chart-tick", "x", f.left-7, "y", y+4.5, "text-anchor", "end")
	}
	for _, v := range f.xTicks {
		x := f.x(v)
		d.shape("path", "class", "chart-grid", "d", pathOf([]place{{x, f.bottom}, {x, f.bottom + 5}}, false))
		d.text("text", tickText(v, f.xStep), "class", "chart-tick", "x", x, "y", f.bottom+20, "text-anchor", "middle")
	}
	d.shape("path", "class", "chart-axis", "d", pathOf([]place{{f.left, f.top}, {f.left, f.bottom}, {f.right, f.bottom}}, false))
	d.text("text", xLabel, "class", "chart-name", "x", f.right, "y", f.bottom+40, "text-anchor", "end")
	d.text("text", yLabel, "class", "chart-name", "x", 4, "y", 16)
}

// newLimits shades between the limits of a new part, or marks the one there is.
func (d *drawing) newLimits(f frame, lo, hi *float64) {
	switch {
	case lo != nil && hi != nil && finite(*lo) && finite(*hi):
		top, bottom := f.y(max(*lo, *hi)), f.y(min(*lo, *hi))
		d.shape("rect", "class", "chart-new", "x", f.left, "y", top, "width", f.right-f.left, "height", bottom-top)
	case hi != nil && finite(*hi):
		d.shape("path", "class", "chart-new-line", "d", pathOf([]place{{f.left, f.y(*hi)}, {f.right, f.y(*hi)}}, false))
	case lo != nil && finite(*lo):
		d.shape("path", "class", "chart-new-line", "d", pathOf([]place{{f.left, f.y(*lo)}, {f.right, f.y(*lo)}}, false))
	}
}

// band draws an interval over hours, with a line in its middle.
func (d *drawing) band(f frame, bs []ChartBand, area, middle string) {
	var low, mid, high []place
	for _, b := range bs {
		if finite(b.Hours) && finite(b.Low) && finite(b.Mid) && finite(b.High) {
			low = append(low, f.at(b.Hours, b.Low))
			mid = append(mid, f.at(b.Hours, b.Mid))
			high = append(high, f.at(b.Hours, b.High))
		}
	}
	if len(mid) < 2 {
		return
	}
	slices.Reverse(low)
	d.shape("path", "class", area, "d", pathOf(append(high, low...), true))
	d.shape("path", "class", middle, "d", pathOf(mid, false))
}

// runs draws where runs begin.
func (d *drawing) runs(f frame, rs []ChartRun) {
	for _, r := range rs {
		if finite(r.Hours) {
			x := f.x(r.Hours)
			d.shape("path", "class", "chart-run", "d", pathOf([]place{{x, f.top}, {x, f.bottom}}, false))
		}
	}
}

// readings draws the readings, those of a run that count joined by a line.
func (d *drawing) readings(f frame, ps []ChartPoint) {
	joined := map[int][]place{}
	var runs []int
	for _, p := range ps {
		if !finite(p.Hours) || !finite(p.Value) || p.Mark == PointLeftOut || p.Mark == PointStruck {
			continue
		}
		if joined[p.Run] == nil {
			runs = append(runs, p.Run)
		}
		joined[p.Run] = append(joined[p.Run], f.at(p.Hours, p.Value))
	}
	for _, r := range runs {
		d.shape("path", "class", "chart-join", "d", pathOf(joined[r], false))
	}
	for _, p := range ps {
		if finite(p.Hours) && finite(p.Value) {
			d.reading(f, p)
		}
	}
}

// reading draws one reading with its error bar. Each kind has a shape of its
// own: a full dot, an open lozenge, an open dot, a cross.
func (d *drawing) reading(f frame, p ChartPoint) {
	at := f.at(p.Hours, p.Value)
	d.open("g", "class", "chart-reading", "data-say", p.Says, "data-x", at.x, "data-y", at.y)
	d.text("title", p.Says)
	if p.U > 0 && finite(p.U) {
		top, bottom := f.y(p.Value+p.U), f.y(p.Value-p.U)
		bar := pathOf([]place{{at.x, top}, {at.x, bottom}}, false) + pathOf([]place{{at.x - 4, top}, {at.x + 4, top}}, false) + pathOf([]place{{at.x - 4, bottom}, {at.x + 4, bottom}}, false)
		d.shape("path", "class", "chart-error", "d", bar)
	}
	switch p.Mark {
	case PointLeftOut:
		d.shape("path", "class", "chart-out", "d", pathOf([]place{{at.x, at.y - 6}, {at.x + 6, at.y}, {at.x, at.y + 6}, {at.x - 6, at.y}}, true))
	case PointStruck:
		d.shape("path", "class", "chart-struck", "d", pathOf([]place{{at.x - 5, at.y - 5}, {at.x + 5, at.y + 5}}, false)+pathOf([]place{{at.x - 5, at.y + 5}, {at.x + 5, at.y - 5}}, false))
	case PointAssumed:
		d.shape("circle", "class", "chart-out", "cx", at.x, "cy", at.y, "r", 5.0)
	default:
		d.shape("circle", "class", "chart-dot", "cx", at.x, "cy", at.y, "r", 5.0)
	}
	d.close("g")
}

// reach draws on the limit when it is reached: a bar with a mark in its
// middle.
func (d *drawing) reach(f frame, r *ChartReach) {
	if r == nil || !finite(r.Value) || !finite(r.Median) {
		return
	}
	y, x := f.y(r.Value), f.x(r.Median)
	if finite(r.Low) && finite(r.High) {
		lo, hi := f.x(r.Low), f.x(r.High)
		d.shape("path", "class", "chart-reach", "d", pathOf([]place{{lo, y - 6}, {lo, y + 6}}, false)+pathOf([]place{{lo, y}, {hi, y}}, false)+pathOf([]place{{hi, y - 6}, {hi, y + 6}}, false))
	}
	d.shape("path", "class", "chart-reach-mid", "d", pathOf([]place{{x, y - 8}, {x + 6, y}, {x, y + 8}, {x - 6, y}}, true))
}
