package server

import (
	"errors"
	"fmt"
	"strings"

	"barrelbook/views"
	"barrelbook/wear"
)

// The ways in which a number can be typed on a sheet.
const (
	modeFull    = views.ModeFull
	modeNominal = views.ModeNominal
	modeDial    = views.ModeDial
)

var (
	errNoNominal = errors.New("there is no nominal size to count from: type the full size, or type its limits first")
	errNoSetSize = errors.New("type the size that the dial gauge was set to")
)

// stepUnit is the unit of a signed entry: thousandths of an inch, or
// hundredths of a millimetre, as dial gauges are divided; of any other unit of
// length it is the unit itself.
func stepUnit(u wear.Unit) (step wear.Value, name string) {
	switch u.Name {
	case wear.Millimetre.Name:
		return 10_000, "hundredths"
	case wear.Inch.Name:
		return 25_400, "thousandths"
	}
	one, _ := wear.ParseValue("1", u) // a unit of length is a whole number of nanometres
	return one, u.Name
}

// readEntry reads one number as typed: a full size; with a sign, steps from
// the nominal, or from the set size where there is one; in dial mode always
// steps from the set size. Quantities other than lengths are always full.
func readEntry(text, mode string, u wear.Unit, nominal, set *wear.Value) (wear.Value, error) {
	text = strings.TrimSpace(text)
	if u.Dim != wear.Length || mode == modeFull && !hasSign(text) {
		return wear.ParseValue(text, u)
	}
	from := nominal
	if set != nil {
		from = set
	}
	if mode == modeDial && set == nil {
		return 0, errNoSetSize
	}
	if from == nil {
		return 0, errNoNominal
	}
	steps, err := readSteps(text, u)
	if err != nil {
		return 0, err
	}
	return *from + steps, nil
}

// hasSign reports whether a number begins with a sign, the typographic minus
// that tablets insert included.
func hasSign(text string) bool { return strings.IndexAny(text, "+-−") == 0 }

// farthestStep is how far from nominal or set size a number of steps may lead.
const farthestStep wear.Value = 12_700_000

// readSteps reads a number of thousandths of an inch or hundredths of a
// millimetre.
func readSteps(text string, u wear.Unit) (wear.Value, error) {
	step, name := stepUnit(u)
	v, err := wear.ParseValue(text, u)
	if err != nil {
		return 0, err
	}
	one, err := wear.ParseValue("1", u)
	if err != nil {
		return 0, err
	}
	// v is text × one; what is wanted is text × step, exactly
	scale := one / step
	if v%scale != 0 {
		return 0, fmt.Errorf("%q %s is %w (1 nanometre)", text, name, wear.ErrTooFine)
	}
	if v/scale > farthestStep || v/scale < -farthestStep {
		return 0, fmt.Errorf("%s %s is more than half an inch away: type the full size", text, name)
	}
	return v / scale, nil
}
