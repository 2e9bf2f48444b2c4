package store

import (
	"slices"

	"barrelbook/wear"
)

// DoneOn reports whether work is done on a kind of part. Common practice, no
// source.
func DoneOn(e wear.Event, k wear.Kind) bool {
	switch e {
	case wear.Regrooved:
		return k == wear.Piston
	case wear.Honed, wear.Ground:
		return k == wear.Cylinder
	case wear.Plated:
		return k != wear.Ring
	}
	return true
}

// checkWork says, as Invalid, what cannot be right about work on a kind of
// part: work that is not done on it, and a size or a groove where the work
// takes none. Ground takes the size over standard, plated may: 0 where it was
// brought back to standard.
func checkWork(k wear.Kind, m wear.Mark) error {
	if !slices.Contains(wear.WearEvents, m.Event) {
		return invalid("event", "choose what was done")
	}
	if !DoneOn(m.Event, k) {
		return invalid("event", "a %s is not %s", k, m.Event)
	}
	var bad Invalid
	switch o := m.Oversize; {
	case m.Event == wear.Ground && o == nil:
		bad = append(bad, FieldError{Field: "oversize", Message: "give the size over standard that it was ground to"})
	case o == nil:
	case m.Event != wear.Ground && m.Event != wear.Plated:
		bad = append(bad, FieldError{Field: "oversize", Message: "only grinding and plating change the size over standard: leave it empty, and measure the part"})
	case m.Event == wear.Ground && *o <= 0 || *o < 0 || *o > mostOversize:
		bad = append(bad, FieldError{Field: "oversize", Message: oversizeFault(*o)})
	}
	if m.Groove != 0 && (m.Event != wear.Regrooved || m.Groove < 1 || m.Groove > 8) {
		bad = append(bad, FieldError{Field: "groove", Message: "only re-grooving names a groove, from 1 to 8, counted from the crown"})
	}
	return bad.orNil()
}

// oversizeFault says that a size over standard cannot be meant.
func oversizeFault(o wear.Value) string {
	return o.Format(wear.Inch) + " in is no size over standard: give that, at most 0.1 in, not the whole size"
}
