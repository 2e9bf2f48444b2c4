package views

import (
	"cmp"
	"slices"
)

// word is a text on a chart, wanted at some place.
type word struct {
	text, class, anchor string
	at                  place
}

// words writes what each line and band is beside it: limits at the left edge,
// the new ones at the right, what normal parts do where their band ends, the forecast below its fan.
func (d *drawing) words(f frame, c WearChart) {
	var left, right []word
	for _, l := range c.Service {
		if f.inside(l.Value) {
			left = append(left, word{l.Label, "chart-word chart-word-limit", "start", place{f.left + 8, f.y(l.Value) - 7}})
		}
	}
	if y, ok := c.newY(f); ok {
		right = append(right, word{"new", "chart-word", "end", place{f.right - 4, y}})
	}
	if b, ok := f.along(c.Band, 1); ok {
		right = append(right, word{"90 % of normal parts", "chart-word", "end", place{f.x(b.Hours) - 6, f.y(b.Mid) + 4}})
	}
	if b, ok := f.along(c.Forecast, 0.7); ok {
		right = append(right, word{"forecast, 90 %", "chart-word chart-word-fan", "middle", place{f.x(b.Hours), f.y(b.Low) + 15}})
	}
	if r := c.ToLimit; r != nil && r.Label != "" && f.inside(r.Value) {
		right = append(right, word{r.Label, "chart-word chart-word-limit", "end", place{f.right - 4, f.y(r.Value) + 22}})
	}
	for _, w := range append(f.spread(left), f.spread(right)...) {
		d.text("text", w.text, "class", w.class, "x", w.at.x, "y", w.at.y, "text-anchor", w.anchor)
	}
	for _, r := range c.Runs {
		if finite(r.Hours) && r.Label != "" {
			x, anchor := f.x(r.Hours)+5, "start"
			if x > f.left+0.75*(f.right-f.left) {
				x, anchor = x-10, "end"
			}
			d.text("text", r.Label, "class", "chart-word", "x", x, "y", f.bottom-8, "text-anchor", anchor)
		}
	}
}

// newY is the height for the word at the new limits.
func (c WearChart) newY(f frame) (float64, bool) {
	s := emptySpan()
	for _, v := range []*float64{c.NewMin, c.NewMax} {
		if v != nil {
			s.add(*v)
		}
	}
	if s.lo > s.hi {
		return 0, false
	}
	return f.y((s.lo+s.hi)/2) + 4, true
}

// along is the band at a part of the way, 0 to 1, from where it begins to
// where it ends or leaves the field.
func (f frame) along(bs []ChartBand, part float64) (ChartBand, bool) {
	var in []ChartBand
	for _, b := range bs {
		if b.Hours <= f.x1 && finite(b.Hours) && finite(b.Low) && finite(b.Mid) {
			in = append(in, b)
		}
	}
	if len(in) < 2 {
		return ChartBand{}, false
	}
	return in[int(part*float64(len(in)-1))], true
}

// spread keeps words apart by the height of a line, and inside the field.
func (f frame) spread(ws []word) []word {
	const line = 17.0
	slices.SortStableFunc(ws, func(a, b word) int {
		return cmp.Compare(a.at.y, b.at.y)
	})
	floor := f.top + 12
	for i := range ws {
		ws[i].at.y = max(ws[i].at.y, floor)
		floor = ws[i].at.y + line
	}
	ceiling := f.bottom - 8
	for i := len(ws) - 1; i >= 0; i-- {
		ws[i].at.y = min(ws[i].at.y, ceiling)
		ceiling = ws[i].at.y - line
	}
	return ws
}
