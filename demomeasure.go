package main

import (
	"math"
	"strconv"

	"barrelbook/store"
	"barrelbook/wear"

	"gonum.org/v1/gonum/stat"
)

// demoSheet is a sheet that was filled in and is saved later, when all that
// happened is in the book.
type demoSheet struct {
	store.Sheet
	shows    wear.Hours
	readings []demoReading
}

type demoReading struct {
	part          *demoPart
	line          *demoLine
	groove        int
	station, axis string
	text, bore    string
}

// What is measured when: everything where parts went on, an inspection what
// wears, the last one the ring tension too; a quick one leaves the pins in,
// and after a change of barrel only what runs in it is measured.
func everything(*demoLine) bool { return true }

func inspection(l *demoLine) bool { return l.gauge != ringTester && l.gauge != springTest }

func withTension(l *demoLine) bool { return l.gauge != springTest }

func quick(l *demoLine) bool { return inspection(l) && l.kind != wear.Pin }

func barrelOnly(l *demoLine) bool { return l.feature == "barrel bore" || l.feature == "end gap" }

// measure fills in a sheet of a position.
func (d *demo) measure(e *demoEngine, position, ago int, wanted func(*demoLine) bool, note string) {
	celsius := 18 + math.Round(12*d.rand.Float64())/2
	s := demoSheet{Sheet: store.Sheet{Day: d.ago(ago), Engine: e.id, Position: position, Who: "mechanic 1", Temperature: &celsius, Note: note}, shows: e.shows(ago)}
	if (position+ago)%3 == 0 {
		s.Who = "mechanic 2"
	}
	bore := "" // at the bottom of the barrel, where ring gaps are measured
	for i := range e.model.lines {
		l := &e.model.lines[i]
		if !wanted(l) {
			continue
		}
		for _, p := range e.position[position].parts(l.kind) {
			if p.Kind == wear.Ring && l.groove != 0 && l.groove != p.Groove {
				continue
			}
			for _, r := range d.readAll(p, l, ago, celsius) {
				if l.feature == "barrel bore" {
					bore = r.text
				} else if l.feature == "end gap" {
					r.bore = bore
				}
				s.readings = append(s.readings, r)
			}
		}
	}
	d.sheets = append(d.sheets, s)
}

// pushRing adds to the latest sheet the end gaps of one ring, pushed down the
// barrel from station to station: 0.021 in at the lower end, and wider where the
// barrel is wider. slip is how far the topmost is misread.
func (d *demo) pushRing(slip float64) {
	s := &d.sheets[len(d.sheets)-1]
	bores := map[string][]float64{} // by station
	var barrel *demoPart
	for _, r := range s.readings {
		if r.line.feature != "barrel bore" {
			continue
		}
		x, err := wear.ParseValue(r.text, wear.Inch)
		if err != nil {
			panic("demo: " + err.Error())
		}
		barrel = r.part
		bores[r.station] = append(bores[r.station], x.In(wear.Inch))
	}
	stations, line := barrel.engine.model.stations, &demoLine{kind: wear.Cylinder, feature: "gap of a pushed ring", gauge: feelers}
	step, bottom := d.gauges[feelers].Resolution.In(wear.Inch), stat.Mean(bores[stations[len(stations)-1]], nil)
	for i, station := range stations {
		gap := 0.021 + math.Pi*(stat.Mean(bores[station], nil)-bottom)
		if i == 0 {
			gap += slip
		}
		s.readings = append(s.readings, demoReading{part: barrel, line: line, station: station, text: strconv.FormatFloat(math.Round(gap/step)*step, 'f', 4, 64)})
	}
}

// readAll reads a feature of a part at all its spots.
func (d *demo) readAll(p *demoPart, l *demoLine, ago int, celsius float64) []demoReading {
	f, m := d.features[featureName{l.kind, l.feature}], p.engine.model
	var rs []demoReading
	for _, spot := range f.Spots(m.stations, m.axes) {
		r := demoReading{part: p, line: l, station: spot[0], axis: spot[1]}
		if f.Groove {
			r.groove = l.groove
		}
		r.text = d.read(p, l, demoSpot{dimension{l.feature, r.groove}, r.station, r.axis, ago}, celsius)
		rs = append(rs, r)
	}
	return rs
}

// read is what the gauge reads of a part at a temperature, as a mechanic writes
// it down.
func (d *demo) read(p *demoPart, l *demoLine, at demoSpot, celsius float64) string {
	unit, g := l.unit(), d.gauges[l.gauge]
	grown := 1.0
	if d.features[featureName{l.kind, l.feature}].Expands() {
		grown += wear.MaterialOf(l.kind).Alpha * (celsius - 20)
	}
	x := d.truth(p, l, at)*grown + d.rand.NormFloat64()*g.SD.In(unit)
	if text, ok := p.reads[at]; ok {
		return text
	}
	step := g.Resolution.In(unit)
	return strconv.FormatFloat(math.Round(x/step)*step, 'f', unit.Decimals(), 64)
}

// entry is the sheet as it is saved.
func (d *demo) entry(s demoSheet) (store.NewSheet, error) {
	n := store.NewSheet{Sheet: s.Sheet, Shows: &s.shows}
	for _, r := range s.readings {
		unit, g := r.line.unit(), d.gauges[r.line.gauge]
		one := store.NewReading{Part: r.part.ID, Feature: d.features[featureName{r.line.kind, r.line.feature}].ID, Groove: r.groove, Station: r.station, Axis: r.axis,
			Typed: r.text, Unit: unit, Gauge: g.ID, SD: g.SD, Resolution: g.Resolution}
		var err error
		if one.Value, err = wear.ParseValue(r.text, unit); err != nil {
			return n, err
		}
		if r.bore != "" {
			bore, err := wear.ParseValue(r.bore, wear.Inch)
			if err != nil {
				return n, err
			}
			one.Bore = &bore
		}
		n.Readings = append(n.Readings, one)
	}
	return n, nil
}
