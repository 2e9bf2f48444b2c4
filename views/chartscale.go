package views

import (
	"math"
	"strconv"
	"strings"
)

// frame is the field of a chart: its edges on the drawing, and the values
// that lie at them.
type frame struct {
	left, right, top, bottom float64
	x0, x1, y0, y1           float64
	xTicks, yTicks           []float64
	xStep, yStep             float64
}

func (f frame) x(v float64) float64 {
	return f.left + (v-f.x0)/(f.x1-f.x0)*(f.right-f.left)
}

func (f frame) y(v float64) float64 {
	return f.bottom - (v-f.y0)/(f.y1-f.y0)*(f.bottom-f.top)
}

// at is the place of a value at some hours.
func (f frame) at(hours, value float64) place { return place{f.x(hours), f.y(value)} }

// inside reports whether a value lies in the field.
func (f frame) inside(v float64) bool { return finite(v) && v >= f.y0 && v <= f.y1 }

// span gathers the least and the largest of what is finite.
type span struct{ lo, hi float64 }

func emptySpan() span { return span{math.Inf(1), math.Inf(-1)} }

func (s *span) add(values ...float64) {
	for _, v := range values {
		if finite(v) {
			s.lo, s.hi = min(s.lo, v), max(s.hi, v)
		}
	}
}

// or is the span, widened where it is empty or a single value, so that there
// is something to draw.
func (s span) or(width float64) (lo, hi float64) {
	if s.lo > s.hi {
		return 0, width
	}
	if s.hi-s.lo < width*1e-6 || s.hi-s.lo < math.Abs(s.hi)*1e-9 {
		pad := max(width, math.Abs(s.hi)*1e-6) / 2
		return s.lo - pad, s.hi + pad
	}
	return s.lo, s.hi
}

// frame lays the chart's field out.
func (c WearChart) frame(wide, high float64) frame {
	f := frame{left: 72, right: wide - 14, top: 34, bottom: high - 46}
	f.x0, f.x1 = c.hours()
	lo, hi := c.values(f.x1)
	pad := (hi - lo) * 0.07
	lo, hi = lo-pad, hi+pad
	f.xTicks, f.xStep = ticks(f.x0, f.x1, int((f.right-f.left)/72))
	f.yTicks, f.yStep = ticks(lo, hi, int((f.bottom-f.top)/45))
	f.y0, f.y1 = lo, hi
	return f
}

// hours are those at the edges: all readings and, of what lies ahead, not more
// than twice as much again.
func (c WearChart) hours() (lo, hi float64) {
	past, ahead := emptySpan(), emptySpan()
	past.add(0)
	for _, p := range c.Points {
		past.add(p.Hours)
	}
	for _, r := range c.Runs {
		past.add(r.Hours)
	}
	ahead = past
	for _, bs := range [][]ChartBand{c.Band, c.Forecast} {
		for _, b := range bs {
			ahead.add(b.Hours)
		}
	}
	if c.ToLimit != nil {
		ahead.add(c.ToLimit.Median * 1.1)
	}
	if past.hi > past.lo {
		ahead.hi = min(ahead.hi, past.lo+3*(past.hi-past.lo))
	}
	if c.XMax > past.hi && finite(c.XMax) {
		ahead.hi = c.XMax
	}
	lo, hi = ahead.or(100)
	if len(c.Runs) == 0 {
		lo = max(lo, 0)
	}
	margin := (hi - lo) * 0.03 // room for half a mark
	return lo - margin, hi + margin
}

// values are those at the lower and upper edge: readings with their error,
// limits, and of bands what lies left of the right edge. How far a forecast
// fans out does not count.
func (c WearChart) values(right float64) (lo, hi float64) {
	s := emptySpan()
	for _, p := range c.Points {
		s.add(p.Value-p.U, p.Value+p.U)
	}
	for _, l := range c.Service {
		s.add(l.Value)
	}
	for _, v := range []*float64{c.NewMin, c.NewMax} {
		if v != nil {
			s.add(*v)
		}
	}
	for _, b := range c.Band {
		if b.Hours <= right {
			s.add(b.Low, b.High)
		}
	}
	if len(c.Service) == 0 {
		for _, b := range c.Forecast {
			if b.Hours <= right {
				s.add(b.Mid)
			}
		}
	}
	return s.or(0.001)
}

// ticks are round values within lo and hi, at most n of them (and at least
// 2 where room), with the step between them: 1, 2 or 5 times a power of ten.
// There are none where lo and hi leave no room.
func ticks(lo, hi float64, n int) (at []float64, step float64) {
	if !finite(lo) || !finite(hi) || !(hi > lo) {
		return nil, 0
	}
	rough := (hi - lo) / float64(max(n, 2))
	power := math.Pow(10, math.Floor(math.Log10(rough)))
	for _, m := range []float64{1, 2, 5, 10} {
		if step = m * power; step >= rough*(1-1e-9) {
			break
		}
	}
	if !(step > 0) || !finite(lo/step) || math.Abs(lo/step) > 1e12 {
		return nil, 0
	}
	for i := math.Ceil(lo/step - 1e-9); i*step <= hi+step*1e-9; i++ {
		at = append(at, i*step)
	}
	return at, step
}

// tickText writes a tick with the decimals that its step needs, and commas.
func tickText(v, step float64) string {
	decimals := 0
	if step > 0 && step < 1 {
		decimals = min(int(math.Ceil(-math.Log10(step)-1e-9)), 9)
	}
	s := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	whole, fraction, dotted := strings.Cut(s, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if dotted {
		whole += "." + fraction
	}
	if v < 0 && strings.Trim(s, "0.") != "" {
		whole = "−" + whole
	}
	return whole
}
