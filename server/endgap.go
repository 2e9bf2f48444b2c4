package server

import (
	"fmt"
	"math"

	"barrelbook/views"
	"barrelbook/wear"
)

// ringGap is a ring's end gap as it was last measured, and what it comes to in
// a barrel.
type ringGap struct {
	size
	in []stationGap // where the bore is widest, then where it is smallest; none where that cannot be told
}

// stationGap is an end gap where the barrel is widest or smallest.
type stationGap struct {
	wear.Gauged
	at   wear.StationShape
	runs wear.Gauged // the bore there
	word string      // "widest bore"; "" where the barrel was measured at one station
}

// place names where in the barrel the gap is.
func (g stationGap) place() string {
	if g.at.Name == "" {
		return "the bore"
	}
	return "the " + g.at.Name
}

// notRecorded is said where a gap cannot be carried over to another bore.
const notRecorded = "bore it was measured in is not recorded"

// gapOf works out a ring's end gap in a barrel. The gap follows the
// circumference, so the bore at a station is the mean over its axes. Wear opens
// the gap most where the bore is widest; the ends butt first where it is
// smallest. Not ok where gap or bore was not measured.
func gapOf(ring, barrel *dossier) (ringGap, bool) {
	gaps, bores := ring.latestSizes("end gap", 0), barrel.latestSizes("barrel bore", 0)
	if len(gaps) == 0 || len(bores) == 0 {
		return ringGap{}, false
	}
	g := ringGap{size: gaps[0]}
	stations, _ := barrel.spotsOf(bores)
	shape, err := wear.ShapeOf(stations, spotReadings(bores), nil)
	if err != nil || g.bore == nil {
		return g, true
	}
	widest, smallest := shape.Stations[0], shape.Stations[0]
	for _, s := range shape.Stations {
		if s.Mean > widest.Mean {
			widest = s
		}
		if s.Mean < smallest.Mean {
			smallest = s
		}
	}
	if widest.Name == smallest.Name {
		g.add(widest, "")
		return g, true
	}
	g.add(widest, "widest bore")
	g.add(smallest, "smallest bore")
	return g, true
}

func (g *ringGap) add(at wear.StationShape, word string) {
	runs := wear.Gauged{Value: wear.Value(math.Round(at.Mean)), U: at.MeanU}
	measuredIn := wear.Gauged{Value: *g.bore, U: float64(wear.AssumedSD(wear.Length))} // typed, without its gauge
	if gap, err := wear.GapIn(g.Gauged, measuredIn, runs); err == nil {
		g.in = append(g.in, stationGap{gap, at, runs, word})
	}
}

// gapText writes a ring's end gap in a barrel, "" where it was not measured.
func gapText(ring, barrel *dossier, u wear.Unit) string {
	g, ok := gapOf(ring, barrel)
	text := func(i int) string { return inUnit(float64(g.in[i].Value), u, 0) }
	switch {
	case !ok:
		return ""
	case len(g.in) == 0:
		return g.read.Format(u) + " as measured, " + notRecorded
	case len(g.in) == 1 || text(0) == text(1):
		return text(0)
	}
	return text(1) + " to " + text(0)
}

// gapRows adds the end gaps of the rings, carried over to the barrel they run
// in.
func (st stack) gapRows(f *views.Fits, warm map[wear.Kind][]size, wanted func(wear.Kind, int) bool) {
	barrel := st[slotKey{wear.Cylinder, 0}]
	if barrel == nil {
		return
	}
	u := barrel.set.Unit
	for groove, ring := range st.sorted(wear.Ring) {
		if !wanted(wear.Cylinder, 0) && !wanted(wear.Ring, groove) {
			continue
		}
		g, ok := gapOf(ring, barrel)
		if !ok {
			continue
		}
		limit := ring.limitNamed("end gap", 0)
		add := func(name, hole, shaft string, gap wear.Gauged, steps ...views.WorkedStep) {
			a := wear.AssessClearance(gap.Value, gap.U, limit)
			row := views.FitRow{Name: name, Hole: hole, Shaft: shaft, Clearance: inUnit(float64(gap.Value), u, 0), U: "± " + inUnit(a.U, u, 0), Limit: limitText(limit, u), Verdict: told(a.Verdict), Plain: plainText(a, u)}
			f.Rows, f.Steps = append(f.Rows, row), append(f.Steps, steps...)
			if step, ok := verdictStep(joinText(", ", name, ring.part.Serial), gap.Value, a, limit, u); ok {
				f.Steps = append(f.Steps, step)
			}
		}
		read := views.WorkedStep{Text: "end gap of " + ring.part.Serial + ", uncertainty of the reading", Equation: uEquation, Numbers: g.terms.text(g.sheet.Temperature, u), Source: uSource}
		name := "End gap, groove " + itoa(groove)
		if len(g.in) == 0 {
			why := notRecorded
			if g.bore != nil {
				why = "the bore it runs in cannot be told from the last measuring"
			}
			add(name+", as measured", why, "ring "+ring.part.Serial, g.Gauged, read)
			continue
		}
		f.Steps = append(f.Steps, read)
		for _, x := range g.in {
			named := joinText(", ", name, x.word)
			add(named, fmt.Sprintf("%s, mean of %s in %s, cylinder %s", inUnit(x.at.Mean, u, 0), counted(x.at.Axes, "reading"), x.place(), barrel.part.Serial),
				fmt.Sprintf("%s in a bore of %s, ring %s", g.read.Format(u), g.bore.Format(u), ring.part.Serial), x.Gauged,
				views.WorkedStep{Text: named, Equation: "gap + π (mean bore it runs in − bore it was measured in); U = 1.645 √(u(gap)² + π² (u(bore)² + u(measured in)²))",
					Numbers: fmt.Sprintf("%s + π (%s − %s) = %s; U = 1.645 √(%s² + π² (%s² + %s²)) = %s %s; the bore it was measured in is typed without its gauge", inUnit(float64(g.Value), u, 0), inUnit(x.at.Mean, u, 1), g.bore.Format(u), inUnit(float64(x.Value), u, 0),
						inUnit(g.U, u, 1), inUnit(x.runs.U, u, 1), inUnit(float64(wear.AssumedSD(wear.Length)), u, 1), inUnit(wear.ExpandedU(x.U), u, 1), u.Name),
					Source: "exact by geometry: about 0.003 for each 0.001 of bore; directions averaged as in US Army TM 9-2815-220-24 WP 0135; JCGM 100 (GUM) 5.1.2"})
		}
		warm[wear.Cylinder] = append(warm[wear.Cylinder], barrel.latestSizes("barrel bore", 0)...)
	}
}
