package views

import "github.com/a-h/templ"

// sheetFormat is how the fields of a sheet are named; a change that makes an
// older page's fields mean something else is a new number, which the server's
// outboxFormat follows.
const sheetFormat = "1"

// waits are the attributes of a form that can be filled in out of reach: what
// its list of waiting forms calls it, and what the meter showed last.
func waits(what string, last Meter) templ.OrderedAttributes {
	a := templ.OrderedAttributes{attribute("data-waits", what), attribute("data-format", sheetFormat)}
	if last.Day != "" {
		a = append(a, attribute("data-last-hours", last.Shows), attribute("data-last-day", last.Day))
	}
	return a
}

// Meter is what an engine's meter showed last, and when; "" where that is not
// known.
type Meter struct{ Shows, Day string }

// Bounds are limits in whole base units (nanometres, micrograms), "" where
// there is none, for the comparison that a tablet makes by itself.
type Bounds struct {
	Nominal                string
	NewMin, NewMax         string
	ServiceMin, ServiceMax string
}

// bounds are the attributes by which a tablet compares what is typed in a
// cell of the row.
func (b SheetBlock) bounds(r SheetRow) templ.OrderedAttributes {
	own := b.Bounds
	if r.Bounds != nil {
		own = *r.Bounds
	}
	a := templ.OrderedAttributes{attribute("data-unit", b.Unit)}
	if b.OwnUnit {
		a = append(a, attribute("data-own-unit", true))
	}
	if b.Clearance {
		a = append(a, attribute("data-clearance", true))
	}
	if b.SetSize != nil {
		a = append(a, attribute("data-set", b.SetSize.Name))
	}
	if b.Expansion != "" {
		a = append(a, attribute("data-expansion", b.Expansion))
	}
	for _, x := range [][2]string{{"nominal", own.Nominal}, {"new-min", own.NewMin}, {"new-max", own.NewMax}, {"service-min", own.ServiceMin}, {"service-max", own.ServiceMax}} {
		if x[1] != "" {
			a = append(a, attribute("data-"+x[0], x[1]))
		}
	}
	return a
}

// Waiting is the page that lists what waits on a device. The device fills it
// in: it is the same for everybody.
type Waiting struct {
	Page Page
}
