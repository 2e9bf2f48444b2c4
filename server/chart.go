package server

import (
	"fmt"
	"math"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// curveSteps is how many points a band or a forecast is drawn with.
const curveSteps = 40

// plot turns signed base units into what a chart shows.
type plot struct {
	sign float64
	u    wear.Unit
}

func (p plot) value(y float64) float64 { return toUnit(p.sign*y, p.u) }

// band orders the two ends of an interval, which change places where the
// dimension shrinks with wear.
func (p plot) band(h, low, mid, high float64) views.ChartBand {
	a, b := p.value(low), p.value(high)
	return views.ChartBand{Hours: h, Low: math.Min(a, b), Mid: p.value(mid), High: math.Max(a, b)}
}

// chart draws how a spot wears: one run over its hours, or all runs over the
// part's own.
func (d *dossier) chart(x store.Explanation, f wear.Feature, u wear.Unit, all bool) views.WearChart {
	p := plot{signed(f), u}
	c := views.WearChart{Title: fmt.Sprintf("%s of %s %s", capital(seriesName(f, &x.Series)), d.part.Kind, d.part.Serial), XLabel: "hours since " + x.Start.Event.Since(), YLabel: f.Name + ", " + u.Name,
		Summary: x.Judgement.Sentence(x.Start.Event.Since())}
	row, lim := d.limitOf(f, x.Groove, x.Oversize)
	if row != nil {
		c.NewMin, c.NewMax = inChart(lim.NewMin, u), inChart(lim.NewMax, u)
		for _, b := range []struct {
			v    *wear.Value
			word string
		}{{lim.ServiceMin, "service minimum"}, {lim.ServiceMax, "service maximum"}} {
			if b.v != nil {
				c.Service = append(c.Service, views.ChartLimit{Value: b.v.In(u), Label: b.word + " " + b.v.Format(u)})
			}
		}
	}
	if all {
		c.XLabel = "hours on the part"
		for _, sr := range d.series {
			if sr.Feature == x.Feature && sr.Groove == x.Groove && sr.Station == x.Station {
				c.Points = append(c.Points, chartPoints(sr, p, sr.Start.At.Float())...)
				c.Runs = append(c.Runs, views.ChartRun{Hours: sr.Start.At.Float(), Label: string(sr.Start.Event)})
			}
		}
		return c
	}
	c.Points = chartPoints(x.Series, p, 0)
	c.Points = append(c.Points, d.otherPoints(x.Series, u)...)
	if f.Wear != wear.NoWear && len(x.Points) > 0 {
		c.Band, c.Forecast = bands(x, p)
		c.ToLimit = reach(x, p)
	}
	return c
}

func inChart(v *wear.Value, u wear.Unit) *float64 {
	if v == nil {
		return nil
	}
	f := v.In(u)
	return &f
}

func chartPoints(sr store.Series, p plot, from float64) []views.ChartPoint {
	var out []views.ChartPoint
	for _, pt := range sr.Points {
		q := views.ChartPoint{Hours: from + pt.Hours, Value: p.value(pt.Y), U: toUnit(wear.ExpandedU(pt.U), p.u), Run: sr.Run}
		q.Says = fmt.Sprintf("%.4g h: %s ± %s %s", pt.Hours, p.u.FormatFloat(q.Value, 0), p.u.FormatFloat(q.U, 0), p.u.Name)
		if pt.Assumed {
			q.Mark = views.PointAssumed
			q.Says = "assumed: the middle of the new limits, " + p.u.FormatFloat(q.Value, 0) + " " + p.u.Name
		}
		out = append(out, q)
	}
	return out
}

// otherPoints are the readings of the run that the judgement does not use:
// corrected ones, and those not measured on the shared axes.
func (d *dossier) otherPoints(sr store.Series, u wear.Unit) []views.ChartPoint {
	used := map[float64]bool{}
	for _, pt := range sr.Points {
		used[pt.Hours] = !pt.Assumed
	}
	var out []views.ChartPoint
	for _, x := range d.spotReadings(sr) {
		says := joinText(", ", x.Value.Format(u)+" "+u.Name, d.at20Text(x.Reading, u))
		q := views.ChartPoint{Hours: x.hours.Float(), Value: d.counted(x.Reading).Value.In(u), Run: sr.Run, Mark: views.PointStruck, Says: "struck: " + says}
		if !x.Struck {
			if used[q.Hours] {
				continue
			}
			q.Mark, q.Says = views.PointLeftOut, "left out: "+says
		}
		out = append(out, q)
	}
	return out
}

// bands are the 90 % band of normal parts from the baseline on, and the
// forecast from the latest reading on.
func bands(x store.Explanation, p plot) (band, forecast []views.ChartBand) {
	first, last := x.Points[0], x.Points[len(x.Points)-1]
	end := math.Max(last.Hours*1.6, last.Hours+100)
	if f := x.Judgement.Forecast; f != nil && f.CanSay && !f.Beyond {
		end = math.Min(math.Max(end, last.Hours+f.Median*1.15), math.Max(last.Hours*4, 400))
	}
	if x.Judgement.Curve.Form != wear.NoCurve {
		start := x.Group.W(first.Hours)
		for i := 0; i <= curveSteps; i++ {
			h := first.Hours + (end-first.Hours)*float64(i)/curveSteps
			w := x.Group.W(h)
			low, high, err := x.Group.Band(h, x.Settings)
			if err != nil {
				break // a stored group that cannot be read has no band to draw
			}
			share := 0.0
			if w > 0 {
				share = (w - start) / w
			}
			band = append(band, p.band(h, first.Y+low*share, first.Y+w-start, first.Y+high*share))
		}
	}
	if x.Judgement.Forecast == nil || !x.Judgement.Forecast.CanSay {
		return band, nil
	}
	for i := 0; i <= curveSteps/2; i++ {
		h := last.Hours + (end-last.Hours)*float64(i)/(curveSteps/2)
		q, err := x.Group.PredictReading(wear.Run{Points: x.Points}, nil, h, 0, x.Settings)
		if err != nil {
			return band, nil // without a reference there is no forecast to draw
		}
		forecast = append(forecast, p.band(h, q.Low, q.Median, q.High))
	}
	return band, forecast
}

// reach is when the service limit is reached.
func reach(x store.Explanation, p plot) *views.ChartReach {
	f := x.Judgement.Forecast
	if f == nil || !f.CanSay || f.Beyond || x.Bound == nil {
		return nil
	}
	now := x.Points[len(x.Points)-1].Hours
	return &views.ChartReach{Value: p.value(*x.Bound), Low: now + f.Low, Median: now + f.Median, High: now + f.High,
		Label: fmt.Sprintf("limit at about %s h (%s to %s)", grouped(fmt.Sprintf("%.0f", now+f.Median)), grouped(fmt.Sprintf("%.0f", now+f.Low)), grouped(fmt.Sprintf("%.0f", now+f.High)))}
}
