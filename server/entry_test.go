package server

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"barrelbook/wear"
)

// TestReadEntry types numbers in every way. The sizes were worked out by hand:
// 0.0035 in = 88.9 µm, one hundredth of a millimetre = 10 µm.
func TestReadEntry(t *testing.T) {
	nominal, set := ptr(inches(t, "5.2500")), ptr(inches(t, "5.2600"))
	metric := ptr(must[wear.Value](t)(wear.ParseValue("133.350", wear.Millimetre)))
	for _, c := range []struct {
		text, mode   string
		unit         wear.Unit
		nominal, set *wear.Value
		want         string // in inches
	}{
		{"5.2535", modeFull, wear.Inch, nominal, nil, "5.2535"},
		{" 5.2535 ", modeFull, wear.Inch, nil, nil, "5.2535"},
		{"+3.5", modeFull, wear.Inch, nominal, nil, "5.2535"},
		{"-0.5", modeFull, wear.Inch, nominal, nil, "5.2495"},
		{"−0.5", modeFull, wear.Inch, nominal, nil, "5.2495"},
		{"+0", modeFull, wear.Inch, nominal, nil, "5.2500"},
		{"+3.5", modeFull, wear.Inch, nominal, set, "5.2635"}, // a set size goes before the nominal
		{"3.5", modeNominal, wear.Inch, nominal, nil, "5.2535"},
		{"-1", modeNominal, wear.Inch, nominal, nil, "5.2490"},
		{"3.5", modeDial, wear.Inch, nominal, set, "5.2635"},
		{"-2.25", modeDial, wear.Inch, nil, set, "5.25775"},
		{"133.4389", modeFull, wear.Millimetre, nil, nil, "5.2535"},
		{"+2.54", modeFull, wear.Millimetre, metric, nil, "5.2510"}, // 2.54 hundredths of a millimetre
		{"2.54", modeNominal, wear.Millimetre, metric, nil, "5.2510"},
		{"-2.54", modeDial, wear.Millimetre, nil, metric, "5.2490"},
	} {
		got, err := readEntry(c.text, c.mode, c.unit, c.nominal, c.set)
		if err != nil || got != inches(t, c.want) {
			t.Errorf("%q %s in %s: %s in, %v; want %s", c.text, c.mode, c.unit.Name, got.Format(wear.Inch), err, c.want)
		}
	}
	if got, err := readEntry("+12.5", modeDial, wear.Newton, nominal, set); err != nil || got != 12_500_000 {
		t.Errorf("a force is always typed in full: %d, %v", got, err)
	}
}

func TestReadEntryRefuses(t *testing.T) {
	nominal, set := ptr(inches(t, "5.2500")), ptr(inches(t, "5.2600"))
	for _, c := range []struct {
		text, mode   string
		unit         wear.Unit
		nominal, set *wear.Value
		want         error
	}{
		{"+3.5", modeFull, wear.Inch, nil, nil, errNoNominal},
		{"3.5", modeNominal, wear.Inch, nil, nil, errNoNominal},
		{"3.5", modeDial, wear.Inch, nominal, nil, errNoSetSize},
		{"abc", modeFull, wear.Inch, nominal, set, wear.ErrNoNumber},
		{"+abc", modeFull, wear.Inch, nominal, set, wear.ErrNoNumber},
		{"5,2535", modeFull, wear.Inch, nominal, set, wear.ErrNoNumber},
		{"", modeNominal, wear.Inch, nominal, set, wear.ErrNoNumber},
		{"+-3", modeFull, wear.Inch, nominal, set, wear.ErrNoNumber},
		{"+0.00001", modeFull, wear.Inch, nominal, set, wear.ErrTooFine}, // a hundredth of a microinch
		{"5.25350001", modeFull, wear.Inch, nil, nil, wear.ErrTooFine},
		{"999999999999999", modeFull, wear.Inch, nil, nil, wear.ErrTooLarge},
		{"999999999999999", modeNominal, wear.Inch, nominal, nil, wear.ErrTooLarge},
	} {
		if got, err := readEntry(c.text, c.mode, c.unit, c.nominal, c.set); !errors.Is(err, c.want) {
			t.Errorf("%q %s: %d, %v; want %v", c.text, c.mode, got, err, c.want)
		}
	}
	for _, text := range []string{"-501", "501", "52535"} { // more than half an inch of thousandths is a full size mistyped
		if got, err := readEntry(text, modeNominal, wear.Inch, nominal, nil); err == nil {
			t.Errorf("%s thousandths from nominal is %s in", text, got.Format(wear.Inch))
		}
	}
}

// TestLastDigitOfEntry: what the last digit typed is worth, in nanometres.
func TestLastDigitOfEntry(t *testing.T) {
	for _, c := range []struct {
		text, mode string
		unit       wear.Unit
		want       wear.Value
	}{
		{"5.2535", modeFull, wear.Inch, 2_540},
		{"+3.5", modeFull, wear.Inch, 2_540},
		{"3", modeNominal, wear.Inch, 25_400},
		{"-2.25", modeDial, wear.Inch, 254},
		{"133.44", modeFull, wear.Millimetre, 10_000},
		{"+2.5", modeFull, wear.Millimetre, 1_000},
		{"12.5", modeFull, wear.Newton, 100_000},
		{"−0.5", modeFull, wear.Inch, 2_540},
		{"abc", modeFull, wear.Inch, 0},
	} {
		if got := lastDigit(c.text, c.mode, c.unit); got != c.want {
			t.Errorf("the last digit of %q, %s in %s: %d, want %d", c.text, c.mode, c.unit.Name, got, c.want)
		}
	}
}

// Every unit of length takes signed entries: in one that is finer than a dial
// gauge's division they count in the unit itself.
func TestStepsInEveryUnit(t *testing.T) {
	nominal := inches(t, "5.2500")
	for _, c := range []struct {
		unit, text string
		steps      wear.Value
	}{{"in", "+2", 50_800}, {"mm", "+2", 20_000}, {"µm", "+2", 2_000}, {"µm", "-0.5", -500}} {
		u, err := wear.UnitNamed(c.unit)
		if err != nil {
			t.Fatal(err)
		}
		got, err := readEntry(c.text, modeNominal, u, &nominal, nil)
		if err != nil || got != nominal+c.steps {
			t.Errorf("%s %s: %d (%v), want %d", c.text, c.unit, got-nominal, err, c.steps)
		}
	}
}

// FuzzReadEntry: whatever is typed gives a number or a reason, in every unit
// and mode.
func FuzzReadEntry(f *testing.F) {
	for _, text := range []string{"5.2535", "+3.5", "-2", "−0.5", "1e9", "+", "", "0.0000001", "99999999999999999999"} {
		f.Add(text, 0, 0)
		f.Add(text, 1, 1)
		f.Add(text, 2, 2)
	}
	f.Fuzz(func(t *testing.T, text string, mode, unit int) {
		units := []string{"in", "mm", "µm", "g", "N"}
		u, err := wear.UnitNamed(units[(unit%len(units)+len(units))%len(units)])
		if err != nil {
			t.Fatal(err)
		}
		modes := []string{modeFull, modeNominal, modeDial}
		nominal, set := wear.Value(133_350_000), wear.Value(133_340_000)
		v, err := readEntry(text, modes[(mode%3+3)%3], u, &nominal, &set)
		if err == nil && u.Dim == wear.Length && hasSign(text) && (v-set > farthestStep || set-v > farthestStep) {
			t.Errorf("%q in %s leads to %d", text, u.Name, v)
		}
	})
}

// FuzzDecimal: a plain decimal number is read as it stands, and nothing else is
// one.
func FuzzDecimal(f *testing.F) {
	for _, text := range []string{"", ".", "-", "0", "20", "-12.5", "−3", "+.5", "5.", "1e3", "0x1p4", "NaN", "inf", "1_000", " 1", "½", "999999999999.999999999999"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		x, ok := decimal(text)
		if !ok {
			return
		}
		if math.IsNaN(x) || math.Abs(x) > 1e12 || strings.ContainsAny(text, "eExXpP_nN") {
			t.Errorf("%q is read as %g", text, x)
		}
		if again, ok := decimal(strconv.FormatFloat(x, 'f', 6, 64)); math.Abs(x) < 1e11 && !ok || ok && math.Abs(again-x) > 1e-6+1e-12*math.Abs(x) {
			t.Errorf("%q is read as %g, written again as %g", text, x, again)
		}
	})
}
