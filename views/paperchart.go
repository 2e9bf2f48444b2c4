package views

// Measures of a printed chart, millimetres.
const (
	chartHigh  = 72.0
	chartLeft  = 17.0
	chartRight = 4.0
	chartTop   = 6.0
	chartFoot  = 11.0
)

// chart prints the wear chart: the same field, bands and readings as on the
// screen, in grey.
func (p *paper) chart(c WearChart) {
	p.room(chartHigh + 8)
	p.Ln(2)
	p.font("B", 9)
	p.CellFormat(paperWide, 5, c.Title, "", 1, "L", false, 0, "")
	top := p.GetY()
	f := c.frame(860, 430)
	f.left, f.right = paperMargin+chartLeft, paperMargin+paperWide-chartRight
	f.top, f.bottom = top+chartTop, top+chartHigh-chartFoot
	p.chartAxes(f, c)
	p.ClipRect(f.left, f.top, f.right-f.left, f.bottom-f.top, false)
	p.chartBand(f, c.Band, 232)
	p.chartBand(f, c.Forecast, 214)
	p.chartNew(f, c)
	p.SetLineWidth(0.5)
	p.SetDrawColor(0, 0, 0)
	for _, l := range c.Service {
		if finite(l.Value) {
			p.Line(f.left, f.y(l.Value), f.right, f.y(l.Value))
		}
	}
	p.SetLineWidth(0.2)
	for _, r := range c.Runs {
		p.SetDashPattern([]float64{1, 1}, 0)
		p.Line(f.x(r.Hours), f.top, f.x(r.Hours), f.bottom)
		p.SetDashPattern(nil, 0)
	}
	p.chartPoints(f, c.Points)
	p.ClipEnd()
	p.SetFillColor(255, 255, 255) // what was set inside the clip is gone with it
	p.SetTextColor(0, 0, 0)
	p.SetDrawColor(60, 60, 60)
	p.chartWords(f, c)
	p.SetXY(paperMargin, top+chartHigh)
}

func (p *paper) chartAxes(f frame, c WearChart) {
	p.font("", 7.5)
	p.SetDrawColor(215, 215, 215)
	p.SetLineWidth(0.15)
	for _, v := range f.yTicks {
		p.Line(f.left, f.y(v), f.right, f.y(v))
		p.SetXY(paperMargin, f.y(v)-2)
		p.CellFormat(chartLeft-1.5, 4, tickText(v, f.yStep), "", 0, "R", false, 0, "")
	}
	for _, v := range f.xTicks {
		p.Line(f.x(v), f.top, f.x(v), f.bottom)
		p.SetXY(f.x(v)-10, f.bottom+0.5)
		p.CellFormat(20, 4, tickText(v, f.xStep), "", 0, "C", false, 0, "")
	}
	p.SetDrawColor(60, 60, 60)
	p.Rect(f.left, f.top, f.right-f.left, f.bottom-f.top, "D")
	p.SetXY(f.left, f.bottom+4.5)
	p.CellFormat(f.right-f.left, 4, c.XLabel, "", 0, "C", false, 0, "")
	p.SetXY(paperMargin, f.top-5)
	p.CellFormat(90, 4, c.YLabel, "", 0, "L", false, 0, "")
}

func (p *paper) chartBand(f frame, bs []ChartBand, grey int) {
	for i := 1; i < len(bs); i++ {
		a, b := bs[i-1], bs[i]
		if !finite(a.Low) || !finite(a.High) || !finite(b.Low) || !finite(b.High) {
			continue
		}
		p.SetFillColor(grey, grey, grey)
		p.MoveTo(f.x(a.Hours), f.y(a.Low))
		p.LineTo(f.x(b.Hours), f.y(b.Low))
		p.LineTo(f.x(b.Hours), f.y(b.High))
		p.LineTo(f.x(a.Hours), f.y(a.High))
		p.ClosePath()
		p.DrawPath("F")
	}
	p.SetDrawColor(110, 110, 110)
	p.SetLineWidth(0.25)
	p.SetDashPattern([]float64{1.2, 0.8}, 0)
	for i := 1; i < len(bs); i++ {
		if finite(bs[i-1].Mid) && finite(bs[i].Mid) {
			p.Line(f.x(bs[i-1].Hours), f.y(bs[i-1].Mid), f.x(bs[i].Hours), f.y(bs[i].Mid))
		}
	}
	p.SetDashPattern(nil, 0)
}

func (p *paper) chartNew(f frame, c WearChart) {
	p.SetDrawColor(120, 120, 120)
	p.SetLineWidth(0.2)
	p.SetDashPattern([]float64{0.4, 0.8}, 0)
	for _, v := range []*float64{c.NewMin, c.NewMax} {
		if v != nil && finite(*v) {
			p.Line(f.left, f.y(*v), f.right, f.y(*v))
		}
	}
	p.SetDashPattern(nil, 0)
}

// chartPoints draws readings with error bars: used ones full, assumed ones
// open, left out and struck ones crossed.
func (p *paper) chartPoints(f frame, points []ChartPoint) {
	p.SetDrawColor(0, 0, 0)
	p.SetLineWidth(0.3)
	last := map[int]ChartPoint{}
	for _, q := range points {
		if q.Mark == PointUsed || q.Mark == PointAssumed {
			if before, ok := last[q.Run]; ok {
				p.Line(f.x(before.Hours), f.y(before.Value), f.x(q.Hours), f.y(q.Value))
			}
			last[q.Run] = q
		}
	}
	for _, q := range points {
		x, y := f.x(q.Hours), f.y(q.Value)
		if q.U > 0 {
			p.Line(x, f.y(q.Value-q.U), x, f.y(q.Value+q.U))
		}
		switch q.Mark {
		case PointUsed:
			p.SetFillColor(0, 0, 0)
			p.Circle(x, y, 0.9, "F")
		case PointAssumed:
			p.SetFillColor(255, 255, 255)
			p.Circle(x, y, 1, "FD")
		default:
			p.Line(x-1, y-1, x+1, y+1)
			p.Line(x-1, y+1, x+1, y-1)
		}
	}
}

func (p *paper) chartWords(f frame, c WearChart) {
	p.font("", 7.5)
	for _, l := range c.Service {
		if f.inside(l.Value) {
			p.SetXY(f.left+1, f.y(l.Value)-4)
			p.CellFormat(80, 4, l.Label, "", 0, "L", false, 0, "")
		}
	}
	if c.ToLimit != nil && c.ToLimit.Label != "" {
		p.SetXY(f.right-90, f.bottom-5)
		p.CellFormat(89, 4, c.ToLimit.Label, "", 0, "R", false, 0, "")
	}
	for _, r := range c.Runs {
		p.SetXY(f.x(r.Hours)+0.5, f.bottom-9)
		p.CellFormat(40, 4, r.Label, "", 0, "L", false, 0, "")
	}
}
