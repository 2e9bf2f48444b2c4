package server

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// barrel is the geometry of a cylinder from its latest measuring; nil where
// its bore was not measured, or at places that the measuring plan lacks.
func (d *dossier) barrel() *views.Barrel {
	now := d.latestSizes("barrel bore", 0)
	if d.part.Kind != wear.Cylinder || len(now) == 0 {
		return nil
	}
	first := d.firstSizes("barrel bore", 0)
	if len(first) > 0 && first[0].sheet.ID == now[0].sheet.ID {
		first = nil
	}
	stations, axes := d.spotsOf(now, first)
	shape, err := wear.ShapeOf(stations, spotReadings(now), spotReadings(first))
	if err != nil {
		return nil
	}
	u := d.set.Unit
	b := &views.Barrel{Day: string(now[0].sheet.Day), SheetHref: href("/sheets/", now[0].sheet.ID), Axes: axes}
	for _, s := range shape.Stations {
		b.Stations = append(b.Stations, barrelStation(shape, s, now, axes, u))
	}
	d.barrelFacts(b, shape, now, first, u)
	d.barrelSection(b, shape, now, first, axes, u)
	d.growth(b, shape, now[0].sheet, u)
	if w := warmthStep(slices.Concat(now, first), wear.Cylinder, d.set); w != nil {
		b.Steps = append(b.Steps, *w)
		b.Says = append(b.Says, "Sizes stand as they are at 20 °C; the readings below as they were read, with the size at 20 °C beside them.")
	}
	if first == nil {
		b.Says = append(b.Says, "This is the first measuring of the run: wear is told from the next one on.")
	}
	return b
}

// spotsOf are the stations, in the order of the measuring plan, and the axes
// of some sizes.
func (d *dossier) spotsOf(sets ...[]size) (stations, axes []string) {
	stations, axes = slices.Clone(d.model.Stations), slices.Clone(d.model.Axes)
	measured := map[string]bool{}
	for _, s := range slices.Concat(sets...) {
		if !slices.Contains(stations, s.Station) {
			stations = append(stations, s.Station)
		}
		if !slices.Contains(axes, s.Axis) {
			axes = append(axes, s.Axis)
		}
		measured[s.Axis] = true
	}
	return stations, slices.DeleteFunc(axes, func(a string) bool { return !measured[a] })
}

func barrelStation(shape wear.BarrelShape, s wear.StationShape, now []size, axes []string, u wear.Unit) views.BarrelStation {
	v := views.BarrelStation{Name: orWhole(s.Name), Values: make([]string, len(axes)), Mean: inUnit(s.Mean, u, 0), Largest: s.Name == shape.Largest.Station}
	for _, x := range now {
		if i := slices.Index(axes, x.Axis); x.Station == s.Name && i >= 0 {
			v.Values[i] = inUnit(float64(x.Value), u, 0)
		}
	}
	if s.Round {
		v.OutOfRound = withU(s.OutOfRound, s.OutOfRoundU, u)
	}
	var worn []string
	for _, w := range shape.Wear {
		if w.Station == s.Name {
			text := withU(w.Wear, w.U, u)
			if len(axes) > 1 && w.Axis != "" {
				text += " " + w.Axis
			}
			worn = append(worn, text)
		}
	}
	v.Wear = worn
	return v
}

func orWhole(station string) string {
	if station == "" {
		return "bore"
	}
	return station
}

// withU writes a figure with its one-sided 95 % uncertainty: "0.0012 ± 0.0004".
func withU(x, u float64, unit wear.Unit) string {
	return inUnit(x, unit, 0) + " ± " + inUnit(wear.ExpandedU(u), unit, 0)
}

func (d *dossier) barrelFacts(b *views.Barrel, shape wear.BarrelShape, now, first []size, u wear.Unit) {
	add := func(label, value string) {
		b.Facts = append(b.Facts, views.Fact{Label: label, Value: value})
	}
	step := func(text, equation, numbers, source string) {
		b.Steps = append(b.Steps, views.WorkedStep{Text: text, Equation: equation, Numbers: numbers, Source: source})
	}
	n := len(shape.Stations)
	if shape.Tapers {
		top, bottom := shape.Stations[0], shape.Stations[n-1]
		label := "Taper, wider at the head"
		if shape.Taper < 0 {
			label = "Choke, narrower at the head"
		}
		add(label, withU(math.Abs(shape.Taper), shape.TaperU, u)+" "+u.Name)
		wide, narrow := orWhole(shape.StepTo), orWhole(shape.StepFrom)
		if shape.Step < 0 {
			wide, narrow = narrow, wide
		}
		stepText := inUnit(math.Abs(shape.Step), u, 0) + " " + u.Name + ", " + wide + " wider than " + narrow
		if shape.Step == 0 {
			stepText = "none"
		}
		add("Largest step", stepText)
		step("taper", "mean at the head − mean at the lower end", taperNumbers(top.Name, bottom.Name, now, shape.Taper, u),
			"FAA-H-8083-32, dimensional inspection; directions averaged as in US Army TM 9-2815-220-24 WP 0135")
		d.chokeFact(shape, u, add, step)
	}
	at := spot(0, shape.Largest.Station, shape.Largest.Axis)
	add("Largest diameter", strings.TrimSuffix(inUnit(float64(shape.Largest.Value), u, 0)+" "+u.Name+", "+at, ", "))
	round, sure := roundNumbers(shape, now, u)
	if round != "" {
		step("out-of-round", "largest − smallest diameter at a station", round, "FAA-H-8083-32, dimensional inspection")
	}
	big := largestOf(now)
	step("uncertainty of a reading", uEquation, "the largest diameter: "+big.terms.text(big.sheet.Temperature, u), uSource)
	if w := shape.MostWorn; w != nil {
		add("Most worn spot", withU(w.Wear, w.U, u)+" "+u.Name+", "+spot(0, w.Station, w.Axis))
		numbers, wornSure := wearNumbers(shape, now, first, u)
		step("wear", "diameter now − diameter there on the first sheet of this run", numbers, "like station with like station: common practice, no source")
		sure = joinText("; ", sure, wornSure)
	}
	if shape.Tapers {
		sure = joinText("; ", sure, "taper: 1.645 × "+inUnit(shape.TaperU, u, 1)+" = "+inUnit(wear.ExpandedU(shape.TaperU), u, 1)+" "+u.Name)
	}
	if sure != "" {
		step("uncertainty", "± U = 1.645 × the root sum of squares of the readings' standard uncertainties. Within one sheet those of gauge and resolution alone: operator and temperature are the same for all its readings and cancel in a difference; for a mean of n axes divided by n", sure, "JCGM 100 (GUM) 5.1.2 and 5.2.2; ISO 14253-1")
	}
	d.oversizeFact(b, shape, u)
}

// choke is the choke of a barrel, less than 0 where it is wider at the head, held
// against the limit that is typed for it; ok is false without one.
func (d *dossier) choke(shape wear.BarrelShape) (choke wear.Value, row *store.LimitRow, a wear.Assessment, ok bool) {
	f, known := d.featureNamed("choke")
	if !known || !shape.Tapers {
		return 0, nil, a, false
	}
	row, lim := d.limitOf(f, 0, 0)
	if row == nil {
		return 0, nil, a, false
	}
	choke = wear.Value(math.Round(-shape.Taper))
	return choke, row, wear.Assess(choke, shape.TaperU, lim), true
}

// chokeNow is the verdict on the barrel's choke as it was last measured; no
// limit where it cannot be told.
func (d *dossier) chokeNow() wear.Verdict {
	now := d.latestSizes("barrel bore", 0)
	stations, _ := d.spotsOf(now)
	shape, err := wear.ShapeOf(stations, spotReadings(now), nil)
	if err != nil {
		return wear.NoLimit
	}
	_, _, a, _ := d.choke(shape)
	return a.Verdict
}

// chokeFact tells the choke with its sign and its verdict.
func (d *dossier) chokeFact(shape wear.BarrelShape, u wear.Unit, add func(label, value string), step func(text, equation, numbers, source string)) {
	choke, row, a, ok := d.choke(shape)
	if !ok {
		return
	}
	size, limit := signedText(choke, u), ""
	if t := between(row.NewMin, row.NewMax, u); t != "" {
		limit = "new " + t
	}
	if t := between(row.ServiceMin, row.ServiceMax, u); t != "" {
		limit = joinText(", ", limit, "service "+t)
	}
	add("Choke", size+" ± "+inUnit(a.U, u, 0)+" "+u.Name+": "+joinText(", ", a.Verdict.String(), plainText(a, u)))
	add("Limit of the choke", strings.ReplaceAll(limit, "-", "−")+" "+u.Name+"; "+source(row))
	step("choke", "− taper: above 0 where the barrel is narrower at the head", fmt.Sprintf("−(%s) = %s %s", signedText(-choke, u), size, u.Name), "FAA-H-8083-32, dimensional inspection")
	if s, ok := verdictStep("the choke", choke, a, row.Limit, u); ok {
		step(s.Text, s.Equation, s.Numbers, s.Source)
	}
}

// taperNumbers puts numbers into the taper: the means over the axes that both
// stations were measured across.
func taperNumbers(top, bottom string, now []size, taper float64, u wear.Unit) string {
	var head, low, axes float64
	for _, x := range now {
		if o := sizeAt(now, bottom, x.Axis); x.Station == top && o != nil {
			head, low, axes = head+float64(x.Value), low+float64(o.Value), axes+1
		}
	}
	return fmt.Sprintf("%s %s − %s %s = %s %s, over the axes both were measured across", orWhole(top), inUnit(head/axes, u, 1), orWhole(bottom), inUnit(low/axes, u, 1), inUnit(taper, u, 1), u.Name)
}

// roundNumbers puts numbers into the out-of-round of each station, and into the
// uncertainty of the first.
func roundNumbers(shape wear.BarrelShape, now []size, u wear.Unit) (numbers, sure string) {
	for _, s := range shape.Stations {
		there := slices.DeleteFunc(slices.Clone(now), func(x size) bool { return x.Station != s.Name })
		if !s.Round || len(there) == 0 {
			continue
		}
		most, least := largestOf(there), smallestOf(there)
		numbers = joinText("; ", numbers, fmt.Sprintf("%s %s − %s = %s", orWhole(s.Name), inUnit(float64(most.Value), u, 0), inUnit(float64(least.Value), u, 0), inUnit(s.OutOfRound, u, 0)))
		if sure == "" {
			sure = "out-of-round, " + orWhole(s.Name) + ": " + rootText(most.terms.own(), least.terms.own(), u)
		}
	}
	if numbers != "" {
		numbers += " " + u.Name
	}
	return numbers, sure
}

// wearNumbers puts numbers into the wear of each spot, and into the uncertainty
// of the most worn.
func wearNumbers(shape wear.BarrelShape, now, first []size, u wear.Unit) (numbers, sure string) {
	for _, w := range shape.Wear {
		n, b := sizeAt(now, w.Station, w.Axis), sizeAt(first, w.Station, w.Axis)
		if n == nil || b == nil {
			continue
		}
		numbers = joinText("; ", numbers, fmt.Sprintf("%s %s − %s = %s", joinText(" ", orWhole(w.Station), w.Axis), inUnit(float64(n.Value), u, 0), inUnit(float64(b.Value), u, 0), inUnit(w.Wear, u, 0)))
		if w.Spot == shape.MostWorn.Spot {
			sure = "wear, " + joinText(" ", orWhole(w.Station), w.Axis) + ": " + rootText(n.U, b.U, u)
		}
	}
	return numbers + " " + u.Name, sure
}

// rootText writes the expanded uncertainty of a difference of two readings.
func rootText(a, b float64, u wear.Unit) string {
	return fmt.Sprintf("1.645 √(%s² + %s²) = %s %s", inUnit(a, u, 1), inUnit(b, u, 1), inUnit(wear.ExpandedU(math.Hypot(a, b)), u, 1), u.Name)
}

// sizeAt is the size at a spot; nil where it was not measured.
func sizeAt(ss []size, station, axis string) *size {
	for i := range ss {
		if ss[i].Station == station && ss[i].Axis == axis {
			return &ss[i]
		}
	}
	return nil
}

// oversizeFact tells the smallest of the model's oversizes that cleans up.
func (d *dossier) oversizeFact(b *views.Barrel, shape wear.BarrelShape, u wear.Unit) {
	lim, larger := d.largerSizes()
	if lim.NewMin == nil || len(d.model.Oversizes) == 0 {
		b.Says = append(b.Says, "Which oversize would clear is told once the model has new limits for its barrel bore and a list of oversizes (measuring plan).")
		return
	}
	c, err := wear.SmallestOversize(*lim.NewMin, larger, shape.Largest.Gauged, d.model.CleanUp)
	if err != nil {
		return
	}
	text := "no listed oversize clears"
	if c.Clears {
		text = c.Oversize.Format(u) + " " + u.Name + " oversize is the smallest that clears"
	}
	b.Facts = append(b.Facts, views.Fact{Label: "If it were ground", Value: text})
	b.Steps = append(b.Steps, oversizeStep(c, *lim.NewMin, shape.Largest.Value, d.model.CleanUp, u))
	if c.Unsure {
		b.Says = append(b.Says, "The gauge's uncertainty could change which oversize clears: measure the largest spot again.")
	}
}

// oversizeStep puts numbers into the choice of an oversize.
func oversizeStep(c wear.OversizeChoice, standard, largest, cleanUp wear.Value, u wear.Unit) views.WorkedStep {
	came := fmt.Sprintf("short by %s %s", c.Short.Format(u), u.Name)
	if c.Clears {
		came = fmt.Sprintf("%s oversize finishes at %s %s", c.Oversize.Format(u), c.Finish.Format(u), u.Name)
	}
	return views.WorkedStep{Text: "oversize", Equation: "standard + oversize ≥ largest diameter + clean-up",
		Numbers: fmt.Sprintf("%s largest + %s clean-up against %s standard; %s", inUnit(float64(largest), u, 0), cleanUp.Format(u), standard.Format(u), came),
		Source:  "FAA-H-8083-32: the largest worn spot decides. Standard is the new minimum as typed; a nitrided case is thin and not ground away"}
}

// largerSizes are the limits of a barrel of standard size, and the model's
// oversizes above the barrel's own size, the smallest first.
func (d *dossier) largerSizes() (standard wear.Limit, larger []wear.Value) {
	f, _ := d.featureNamed("barrel bore")
	_, standard = d.limitOf(f, 0, 0)
	for _, o := range slices.Sorted(slices.Values(d.model.Oversizes)) {
		if o > d.sizeNow() {
			larger = append(larger, o)
		}
	}
	return standard, larger
}

// barrelSection fills the drawing.
func (d *dossier) barrelSection(b *views.Barrel, shape wear.BarrelShape, now, first []size, axes []string, u wear.Unit) {
	f, _ := d.featureNamed("barrel bore")
	_, lim := d.limitOf(f, 0, d.sizeNow())
	s := views.BarrelSection{Title: "Section of " + partName(d.part.Kind, d.part.Serial) + ", head end at the top", Unit: func(x float64) string { return inUnit(x, u, 0) }}
	switch {
	case lim.NewMax != nil:
		s.Size, s.SizeName = float64(*lim.NewMax), "the largest new size, "+lim.NewMax.Format(u)+" "+u.Name
	default:
		least := smallestOf(slices.Concat(now, first))
		s.Size, s.SizeName = float64(least.Value), "the smallest diameter measured, "+inUnit(float64(least.Value), u, 0)+" "+u.Name
	}
	if lim.ServiceMax != nil {
		s.Limit = float64(*lim.ServiceMax)
	}
	find := func(ss []size, station, axis string) float64 {
		if x := sizeAt(ss, station, axis); x != nil {
			return float64(x.Value)
		}
		return 0
	}
	for _, a := range axes {
		if !slices.ContainsFunc(now, func(x size) bool { return x.Axis == a }) {
			continue
		}
		cut := views.BarrelCut{Axis: a}
		for _, st := range shape.Stations {
			cut.Points = append(cut.Points, views.BarrelPoint{Station: orWhole(st.Name), Now: find(now, st.Name, a), First: find(first, st.Name, a)})
		}
		s.Cuts = append(s.Cuts, cut)
	}
	b.Section = s
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
				return wear.Gauged{Value: g.Value, U: g.terms.own()}, true
			}
		}
		return wear.Gauged{}, false
	}
	unworn, ok := at(bottom.Name)
	if !ok {
		return
	}
	bore := func(s wear.StationShape) wear.Gauged {
		return wear.Gauged{Value: wear.Value(math.Round(s.Mean)), U: s.OwnU} // what all share cancels
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
		g.Disagree = g.Disagree && t.apart == 0 // else wear lies between, and they need not agree
		b.Facts = append(b.Facts, views.Fact{Label: "Wider at " + orWhole(s.Name) + " than at " + orWhole(bottom.Name), Value: withU(g.ByGauge, g.ByGaugeU, u) + " by the bore gauge, " + withU(g.ByGap, g.ByGapU, u) + " by the ring's gap"})
		b.Steps = append(b.Steps, views.WorkedStep{Text: "bore growth by end gap, " + orWhole(s.Name), Equation: "(gap there − gap at the lowest station) / π",
			Numbers: fmt.Sprintf("(%s − %s) / π = %s %s; the ring is taken to keep its length", worn.Value.Format(u), unworn.Value.Format(u), inUnit(g.ByGap, u, 1), u.Name), Source: "exact by geometry"},
			views.WorkedStep{Text: "the same by bore gauge, " + orWhole(s.Name), Equation: "mean there − mean at the lowest station; two right measurements stay within 1.96 √(u(gauge)² + u(gap)²), 19 times in 20",
				Numbers: fmt.Sprintf("%s − %s = %s; apart by %s, allowed 1.96 √(%s² + %s²) = %s %s", inUnit(s.Mean, u, 1), inUnit(bottom.Mean, u, 1), inUnit(g.ByGauge, u, 1), inUnit(math.Abs(g.Difference), u, 1), inUnit(g.ByGaugeU, u, 1), inUnit(g.ByGapU, u, 1), inUnit(g.Bound, u, 1), u.Name), Source: "JCGM 100 (GUM) 5.1.2 and 5.2.2: what all readings of a sheet share cancels; 1.96 from NIST/SEMATECH e-Handbook 1.3.6.7.1"})
		if g.Disagree {
			b.Warn = append(b.Warn, fmt.Sprintf("At %s the bore gauge and the ring's gap differ by %s %s, more than the %s that two right measurements stay within 19 times in 20. Measure both again before deciding.", orWhole(s.Name), inUnit(math.Abs(g.Difference), u, 0), u.Name, inUnit(g.Bound, u, 0)))
		}
	}
}
