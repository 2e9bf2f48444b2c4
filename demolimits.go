package main

import (
	"slices"

	"barrelbook/store"
	"barrelbook/wear"
)

// demoModel is an invented engine model with its invented table of limits.
type demoModel struct {
	id             int64
	name           string
	arrangement    string
	cylinders      int
	grooves        int
	stations, axes []string
	number         string  // beginning of its part numbers
	life           float64 // overhaul life, hours
	choke          float64 // of a new barrel, inches at its top
	lines          []demoLine
	more           []demoLine // that are not measured at every visit
}

func radialModel() *demoModel {
	return &demoModel{name: "Halvorn R9", arrangement: "radial", cylinders: 9, grooves: 4, number: "H9-", life: 1400, choke: 0.0006, lines: radialLines, more: radialFits}
}

func flatModel() *demoModel {
	return &demoModel{name: "Halvorn F6", arrangement: "flat", cylinders: 6, grooves: 3, number: "H6-", life: 1600, lines: flatLines}
}

// demoLine is a line of the table of limits. It serves the truth behind the
// readings too: parts begin within the new limits and a normal one uses up a
// share of the wear allowance.
type demoLine struct {
	kind           wear.Kind
	feature        string
	groove         int
	newMin, newMax string
	service        string
	gauge          string
	page, ref      string
}

// The tables of the two models; every number is invented. Lengths are in
// inches, the tangential force in newtons, the spring force in pounds.
var (
	radialLines = []demoLine{
		{wear.Cylinder, "barrel bore", 0, "5.4990", "5.5005", "5.5065", boreGauge, "14", "1"},
		{wear.Cylinder, springForce, 0, "84", "92", "76", springTest, "15", "7"},
		{wear.Piston, "piston skirt", 0, "5.4840", "5.4850", "5.4795", micrometer, "16", "10"},
		{wear.Piston, "pin bore", 0, "1.3130", "1.3136", "1.3160", smallBore, "16", "11"},
		{wear.Piston, "groove width", 1, "0.0970", "0.0980", "0.1050", grooveGauge, "17", "12"},
		{wear.Piston, "groove width", 2, "0.0965", "0.0975", "0.1030", grooveGauge, "17", "13"},
		{wear.Piston, "groove width", 3, "0.0965", "0.0975", "0.1030", grooveGauge, "17", "13"},
		{wear.Piston, "groove width", 4, "0.1875", "0.1885", "0.1930", grooveGauge, "17", "14"},
		{wear.Piston, "side clearance", 1, "0.0035", "0.0050", "0.0120", feelers, "17", "15"},
		{wear.Piston, "side clearance", 2, "0.0030", "0.0045", "0.0100", feelers, "17", "16"},
		{wear.Piston, "side clearance", 3, "0.0030", "0.0045", "0.0100", feelers, "17", "16"},
		{wear.Piston, "side clearance", 4, "0.0015", "0.0035", "0.0080", feelers, "17", "17"},
		{wear.Ring, "axial width", 1, "0.0930", "0.0935", "0.0905", micrometer, "18", "20"},
		{wear.Ring, "axial width", 2, "0.0930", "0.0935", "0.0905", micrometer, "18", "20"},
		{wear.Ring, "axial width", 3, "0.0930", "0.0935", "0.0905", micrometer, "18", "20"},
		{wear.Ring, "axial width", 4, "0.1850", "0.1860", "0.1830", micrometer, "18", "21"},
		{wear.Ring, "end gap", 1, "0.0200", "0.0280", "0.0500", feelers, "18", "22"},
		{wear.Ring, "end gap", 2, "0.0180", "0.0260", "0.0480", feelers, "18", "22"},
		{wear.Ring, "end gap", 3, "0.0180", "0.0260", "0.0480", feelers, "18", "22"},
		{wear.Ring, "end gap", 4, "0.0150", "0.0230", "0.0450", feelers, "18", "23"},
		{wear.Ring, "tangential force", 0, "39.0", "48.0", "31.0", ringTester, "18", "24"},
		{wear.Pin, "pin diameter", 0, "1.3120", "1.3125", "1.3095", micrometer, "19", "30"},
	}
	flatLines = []demoLine{
		{wear.Cylinder, "barrel bore", 0, "4.7490", "4.7505", "4.7560", boreGauge, "9", "1"},
		{wear.Cylinder, springForce, 0, "72", "80", "65", springTest, "9", "4"},
		{wear.Piston, "piston skirt", 0, "4.7360", "4.7370", "4.7320", micrometer, "10", "5"},
		{wear.Piston, "pin bore", 0, "1.0630", "1.0636", "1.0658", smallBore, "10", "6"},
		{wear.Piston, "groove width", 1, "0.0815", "0.0825", "0.0890", grooveGauge, "10", "7"},
		{wear.Piston, "groove width", 2, "0.0810", "0.0820", "0.0870", grooveGauge, "10", "8"},
		{wear.Piston, "groove width", 3, "0.1570", "0.1580", "0.1620", grooveGauge, "10", "9"},
		{wear.Piston, "side clearance", 1, "0.0030", "0.0050", "0.0110", feelers, "11", "10"},
		{wear.Piston, "side clearance", 2, "0.0025", "0.0045", "0.0095", feelers, "11", "11"},
		{wear.Piston, "side clearance", 3, "0.0015", "0.0035", "0.0075", feelers, "11", "12"},
		{wear.Ring, "axial width", 1, "0.0775", "0.0780", "0.0752", micrometer, "12", "14"},
		{wear.Ring, "axial width", 2, "0.0775", "0.0780", "0.0752", micrometer, "12", "14"},
		{wear.Ring, "axial width", 3, "0.1545", "0.1555", "0.1525", micrometer, "12", "15"},
		{wear.Ring, "end gap", 1, "0.0160", "0.0240", "0.0420", feelers, "12", "16"},
		{wear.Ring, "end gap", 2, "0.0140", "0.0220", "0.0400", feelers, "12", "16"},
		{wear.Ring, "end gap", 3, "0.0120", "0.0200", "0.0380", feelers, "12", "17"},
		{wear.Ring, "tangential force", 0, "33.0", "41.0", "26.0", ringTester, "12", "18"},
		{wear.Pin, "pin diameter", 0, "1.0622", "1.0626", "1.0600", micrometer, "13", "20"},
	}
)

// line finds a model's line for a feature in a groove; every feature the demo
// measures has one.
func (m *demoModel) line(kind wear.Kind, feature string, groove int) *demoLine {
	for i, l := range m.lines {
		if l.kind == kind && l.feature == feature && l.groove == groove {
			return &m.lines[i]
		}
	}
	panic("demo: no limit for " + feature)
}

// unit is what the demo shop writes a feature in.
func (l *demoLine) unit() wear.Unit {
	switch l.gauge {
	case ringTester:
		return wear.Newton
	case springTest:
		return wear.PoundForce
	}
	return wear.Inch
}

func (d *demo) addLimits() error {
	for _, m := range []*demoModel{d.radial, d.flat} {
		for _, l := range slices.Concat(m.lines, m.more) {
			if err := d.addLimit(m, l, "A"); err != nil {
				return err
			}
		}
	}
	return nil
}

// reviseLimit types the one line that a later revision of the invented manual
// made stricter.
func (d *demo) reviseLimit() error {
	l := *d.radial.line(wear.Piston, "side clearance", 1)
	l.service = "0.0100"
	return d.addLimit(d.radial, l, "B")
}

func (d *demo) addLimit(m *demoModel, l demoLine, revision string) error {
	f, unit := d.features[featureName{l.kind, l.feature}], l.unit()
	row := store.LimitRow{Model: m.id, Feature: f.ID, Groove: l.groove, Ref: l.ref, Unit: unit,
		Document: "Invented manual, for the demonstration only", Revision: revision, Page: l.page}
	row.Wear, row.Life = f.Wear, wear.Hours(100*m.life)
	var bounds [3]wear.Value
	for i, text := range []string{l.newMin, l.newMax, l.service} {
		var err error
		if bounds[i], err = wear.ParseValue(text, unit); err != nil {
			return err
		}
	}
	row.NewMin, row.NewMax = &bounds[0], &bounds[1]
	if f.Wear == wear.Up {
		row.ServiceMax = &bounds[2]
	} else {
		row.ServiceMin = &bounds[2]
	}
	return d.book.AddLimit(d.ctx, row)
}
