package main

import "barrelbook/wear"

// looseStem is the cylinder whose exhaust stem fits its guide too loosely,
// although stem and guide are each inside their own limit.
const looseStem = "C-202"

// Lines of the radial's table that are not measured at every visit; every
// number is invented, in inches. The choke is worked out from the bores, the
// clearances as a rule from the sizes of their parts.
var (
	chokeLine    = demoLine{wear.Cylinder, "choke", 0, "0.0002", "0.0010", "-0.0030", "", "14", "2"}
	guideLine    = demoLine{wear.Cylinder, "guide bore", 0, "0.5000", "0.5010", "0.5045", smallBore, "15", "4"}
	stemLine     = demoLine{wear.Cylinder, "valve stem", 0, "0.4965", "0.4975", "0.4940", micrometer, "15", "5"}
	stemFitLine  = demoLine{wear.Cylinder, "stem clearance", 0, "0.0025", "0.0045", "0.0080", "", "15", "6"}
	pinFitLine   = demoLine{wear.Piston, "pin clearance", 0, "0.0005", "0.0016", "0.0055", "", "19", "31"}
	bushingLine  = demoLine{wear.Pin, "rod bushing bore", 0, "1.3140", "1.3146", "1.3170", smallBore, "19", "32"}
	pinInRodLine = demoLine{wear.Pin, "bushing clearance", 0, "0.0015", "0.0026", "0.0060", "", "19", "33"}

	radialFits = []demoLine{chokeLine, guideLine, stemLine, stemFitLine, pinFitLine, bushingLine, pinInRodLine}
)

// fitReading is a size that a fit is worked out from.
type fitReading struct {
	line          demoLine
	station, text string
}

// fitReadings are those taken at an engine's last visit, by the cylinder of the
// position.
var fitReadings = map[string][]fitReading{
	"C-201":   {{bushingLine, "", "1.3147"}, {guideLine, "intake", "0.5009"}, {guideLine, "exhaust", "0.5017"}, {stemLine, "intake", "0.4968"}, {stemLine, "exhaust", "0.4963"}},
	looseStem: {{bushingLine, "", "1.3149"}, {guideLine, "intake", "0.5011"}, {guideLine, "exhaust", "0.5038"}, {stemLine, "intake", "0.4967"}, {stemLine, "exhaust", "0.4947"}},
	"C-204":   {{bushingLine, "", "1.3144"}, {guideLine, "intake", "0.5008"}, {guideLine, "exhaust", "0.5021"}, {stemLine, "intake", "0.4970"}, {stemLine, "exhaust", "0.4960"}},
}

// measureFits adds to the latest sheet, of a position, the guides, stems and
// bushing of the cylinders that have them measured.
func (d *demo) measureFits(at *demoStack) {
	s := &d.sheets[len(d.sheets)-1]
	for _, r := range fitReadings[at.cylinder.Serial] {
		part := at.cylinder
		if r.line.kind == wear.Pin {
			part = at.pin
		}
		s.readings = append(s.readings, demoReading{part: part, line: &r.line, station: r.station, text: r.text})
	}
}
