package server

import (
	"fmt"
	"math"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// boreTimes is how the sheets of bore and ring's gap lie to each other.
type boreTimes struct {
	pairs bool       // no wear event of the bore lies between them
	apart wear.Hours // that it ran between them
	says  string     // what the page says of it; "" for one sheet
}

func (d *dossier) boreTimes(bore, gap store.Sheet) boreTimes {
	if bore.ID == gap.ID {
		return boreTimes{pairs: true}
	}
	days := fmt.Sprintf("The ring's gap was taken on %s, the bore on %s", gap.Day, bore.Day)
	if gap.Day == bore.Day {
		days = fmt.Sprintf("The ring's gap and the bore were taken on two sheets of %s", bore.Day)
	}
	boreAt, boreRun, known := d.boreRun(bore)
	gapAt, gapRun, gapKnown := d.boreRun(gap)
	apart := max(boreAt-gapAt, gapAt-boreAt)
	switch {
	case !known || !gapKnown:
		return boreTimes{says: days + "; how many hours lie between is not known, so they are not held against each other."}
	case boreRun != gapRun:
		return boreTimes{says: fmt.Sprintf("%s, %s apart, and the bore was worked on in between: they are not held against each other. Take the gap again.", days, hours(apart))}
	case apart == 0:
		return boreTimes{pairs: true, says: days + ", with no hours run in between."}
	}
	return boreTimes{true, apart, fmt.Sprintf("%s: %s of wear lie between, so they need not agree. Take both on one day to hold one against the other.", days, hours(apart))}
}

// boreRun places a sheet among the runs of the bore: the part's own hours, and
// the run's number.
func (d *dossier) boreRun(sheet store.Sheet) (at wear.Hours, run int, ok bool) {
	f, ok := d.featureNamed("barrel bore")
	i := slices.IndexFunc(d.readings, func(x store.Reading) bool { return x.Sheet.ID == sheet.ID })
	if !ok || i < 0 {
		return 0, 0, false
	}
	x := d.readings[i]
	if at, ok = d.partHours(x); !ok {
		return 0, 0, false
	}
	x.Feature, x.Groove = f.ID, 0
	return at, d.spanOf(x, at).Number, true
}

// growth holds the end gaps of a ring pushed down the barrel against the bore
// gauge, station by station from the unworn lower end, where both are of one run
// of the bore.
func (d *dossier) growth(b *views.Barrel, shape wear.BarrelShape, measured store.Sheet, u wear.Unit) {
	gaps := d.latestSizes("gap of a pushed ring", 0)
	if len(gaps) < 2 || len(shape.Stations) < 2 {
		return
	}
	t := d.boreTimes(measured, gaps[0].sheet)
	if t.says != "" {
		b.Says = append(b.Says, t.says)
	}
	if !t.pairs {
		return
	}
	bottom := shape.Stations[len(shape.Stations)-1]
	at := func(station string) (wear.Gauged, bool) {
		for _, g := range gaps {
			if g.Station == station {
				return g.Gauged, true
			}
		}
		return wear.Gauged{}, false
	}
	unworn, ok := at(bottom.Name)
	if !ok {
		return
	}
	bore := func(s wear.StationShape) wear.Gauged {
		return wear.Gauged{Value: wear.Value(math.Round(s.Mean)), U: s.MeanU}
	}
	for _, s := range shape.Stations[:len(shape.Stations)-1] {
		worn, ok := at(s.Name)
		if !ok {
			continue
		}
		g, err := wear.CompareGrowth(worn, unworn, bore(s), bore(bottom))
		if err != nil {
			continue
		}
		b.Facts = append(b.Facts, views.Fact{Label: "Wider at " + orWhole(s.Name) + " than at " + orWhole(bottom.Name), Value: withU(g.ByGauge, g.ByGaugeU, u) + " by the bore gauge, " + withU(g.ByGap, g.ByGapU, u) + " by the ring's gap"})
		b.Steps = append(b.Steps, views.WorkedStep{Text: "bore growth by end gap, " + orWhole(s.Name), Equation: "(gap there − gap at the lowest station) / π",
			Numbers: fmt.Sprintf("(%s − %s) / π = %s %s; the ring is taken to keep its length", worn.Value.Format(u), unworn.Value.Format(u), inUnit(g.ByGap, u, 1), u.Name), Source: "exact by geometry"},
			views.WorkedStep{Text: "the same by bore gauge, " + orWhole(s.Name), Equation: "mean there − mean at the lowest station; two right measurements stay within 1.96 √(u(gauge)² + u(gap)²), 19 times in 20",
				Numbers: fmt.Sprintf("%s − %s = %s; apart by %s, allowed 1.96 √(%s² + %s²) = %s %s", inUnit(s.Mean, u, 1), inUnit(bottom.Mean, u, 1), inUnit(g.ByGauge, u, 1), inUnit(math.Abs(g.Difference), u, 1), inUnit(g.ByGaugeU, u, 1), inUnit(g.ByGapU, u, 1), inUnit(g.Bound, u, 1), u.Name), Source: "JCGM 100 (GUM) 5.1.2; 1.96 from NIST/SEMATECH e-Handbook 1.3.6.7.1"})
		if g.Disagree && t.apart == 0 {
			b.Warn = append(b.Warn, fmt.Sprintf("At %s the bore gauge and the ring's gap differ by %s %s, more than the %s that two right measurements stay within 19 times in 20. Measure both again before deciding.", orWhole(s.Name), inUnit(math.Abs(g.Difference), u, 0), u.Name, inUnit(g.Bound, u, 0)))
		}
	}
}
