package server

import (
	"fmt"
	"math"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// verdictStep says how a verdict follows from a size and its limit, with the
// numbers put in; not ok where nothing bounds the size.
func verdictStep(text string, v wear.Value, a wear.Assessment, lim wear.Limit, u wear.Unit) (step views.WorkedStep, ok bool) {
	if !a.Bounded {
		return step, false
	}
	size := inUnit(float64(v), u, 1)
	room := size + " − " + minusText(float64(v)-a.Room, u)
	if max := lim.ServiceMax; !a.Tight() && max != nil && float64(*max-v) == a.Room {
		room = inUnit(float64(*max), u, 1) + " − " + size
	}
	how := "that is more than U inside"
	switch {
	case a.Room < -a.U:
		how = "that is more than U past it"
	case a.Room <= a.U && a.U > 0:
		how = "the gauge cannot tell the two sides apart"
	}
	return views.WorkedStep{Text: "verdict on " + text, Equation: "room = bound − size, on the low side size − bound; beyond where room < −U, undecided from −U to U, else serviceable, or new inside the new limits",
		Numbers: fmt.Sprintf("%s = %s; U = 1.645 × %s = %s %s; %s: %s", room, signedText(wear.Value(math.Round(a.Room)), u), inUnit(a.U/wear.ExpandedU(1), u, 1), inUnit(a.U, u, 1), u.Name, how, a.Verdict),
		Source:  "ISO 14253-1; one-sided 95 %, NIST/SEMATECH e-Handbook 1.3.6.7.1"}, true
}

// minusText writes what is taken off, in brackets where it is less than 0.
func minusText(x float64, u wear.Unit) string {
	if t := inUnit(-x, u, 1); x < 0 {
		return "(−" + t + ")"
	}
	return inUnit(x, u, 1)
}

// verdictSteps are those on the worst of some readings of each feature.
func (d *dossier) verdictSteps(rs []store.Reading) []views.WorkedStep {
	type judged struct {
		store.Reading
		a wear.Assessment
	}
	worst, order := map[int64]judged{}, []int64{}
	for _, x := range rs {
		if x.Struck || x.Value == nil {
			continue
		}
		now := judged{x, d.assess(x)}
		was, known := worst[x.Feature]
		if !known {
			order = append(order, x.Feature)
		}
		if !known || now.a.Verdict > was.a.Verdict || now.a.Verdict == was.a.Verdict && now.a.Room < was.a.Room {
			worst[x.Feature] = now
		}
	}
	var steps []views.WorkedStep
	for _, id := range order {
		x, f := worst[id], d.features[id]
		_, lim := d.limitsFor(x.Reading)
		if step, ok := verdictStep(joinText(", ", d.part.Serial, f.Name, spot(x.Groove, x.Station, x.Axis)), d.counted(x.Reading).Value, x.a, lim, store.UnitFor(f, d.set.Unit)); ok {
			steps = append(steps, step)
		}
	}
	return steps
}
