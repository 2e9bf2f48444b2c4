package wear

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// TestParseValue: 1 in = 25.4 mm exactly, 1 lb = 453.592 37 g and 1 lbf =
// 4.448 221 615 260 5 N exactly, NIST SP 811 appendix B.8. The products were
// worked out by hand.
func TestParseValue(t *testing.T) {
	lb, err := UnitNamed("lb")
	if err != nil {
		t.Fatal(err)
	}
	micrometre, err := UnitNamed("um")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		text string
		unit Unit
		want Value
	}{
		{"1", Inch, 25_400_000},
		{"0.0001", Inch, 2_540},
		{"0.00005", Inch, 1_270},
		{"5.2535", Inch, 133_438_900},
		{" 5.2535 ", Inch, 133_438_900},
		{"+.5", Inch, 12_700_000},
		{"5.", Inch, 127_000_000},
		{"-0.001", Inch, -25_400},
		{"−0.001", Inch, -25_400}, // the minus sign that tablets insert
		{"0", Inch, 0},
		{"-0", Inch, 0},
		{"1", Millimetre, 1_000_000},
		{"0.001", Millimetre, 1_000},
		{"133.4389", Millimetre, 133_438_900},
		{"25.4", Millimetre, 25_400_000},
		{"12.5", micrometre, 12_500},
		{"1", lb, 453_592_370},
		{"1", PoundForce, 4_448_222}, // 4 448 221.615, rounded to a micronewton
		{"-1", PoundForce, -4_448_222},
		{"900000", Newton, MostTyped},
		{"-900000", Newton, -MostTyped},
	} {
		got, err := ParseValue(c.text, c.unit)
		if err != nil || got != c.want {
			t.Errorf("ParseValue(%q, %s) = %d, %v; want %d", c.text, c.unit.Name, got, err, c.want)
		}
	}
}

func TestParseValueRefuses(t *testing.T) {
	for _, c := range []struct {
		text string
		unit Unit
		want error
	}{
		{"", Inch, ErrNoNumber},
		{" ", Inch, ErrNoNumber},
		{".", Inch, ErrNoNumber},
		{"+", Inch, ErrNoNumber},
		{"+-1", Inch, ErrNoNumber},
		{"--1", Inch, ErrNoNumber},
		{"1.2.3", Inch, ErrNoNumber},
		{"1e3", Inch, ErrNoNumber},
		{"0x10", Inch, ErrNoNumber},
		{"1/2", Inch, ErrNoNumber},
		{"1_000", Inch, ErrNoNumber},
		{"NaN", Inch, ErrNoNumber},
		{"Inf", Inch, ErrNoNumber},
		{"5,2535", Inch, ErrNoNumber},
		{"٣", Inch, ErrNoNumber}, // a digit, but not one of ours
		{"5.25 in", Inch, ErrNoNumber},
		{strings.Repeat("9", 31), Inch, ErrNoNumber},
		{"0.00000001", Inch, ErrTooFine}, // a quarter of a nanometre
		{"0.0000001", Millimetre, ErrTooFine},
		{"9300000000000", Millimetre, ErrTooLarge},
		{"43750", Inch, ErrTooLarge}, // 0.43750 without its point
		{"-900001", Millimetre, ErrTooLarge},
		{"1", Unit{Name: "in", Dim: Length}, ErrNoUnit},
	} {
		if got, err := ParseValue(c.text, c.unit); !errors.Is(err, c.want) {
			t.Errorf("ParseValue(%q) = %d, %v; want %v", c.text, got, err, c.want)
		}
	}
}

// TestValueComesBack: whatever is typed to a ten-thousandth of an inch or a
// thousandth of a millimetre is written again as it was typed. This is the
// promise that a book of integers keeps and one of floats breaks.
func TestValueComesBack(t *testing.T) {
	for _, c := range []struct {
		unit   Unit
		digits int
	}{{Inch, 4}, {Inch, 5}, {Millimetre, 3}, {Millimetre, 4}, {Millimetre, 5}} {
		for n := int64(-30_000); n < 200_000; n += 37 {
			text := decimal(n, c.digits)
			v, err := ParseValue(text, c.unit)
			if err != nil {
				t.Fatal(err)
			}
			if got := v.Format(c.unit); got != trimTo(text, c.unit.Decimals()) {
				t.Fatalf("%s %s is kept as %d and written %s", text, c.unit.Name, v, got)
			}
			if back, err := ValueOf(v.In(c.unit), c.unit); err != nil || back != v {
				t.Fatalf("%d in %s and back is %d, %v", v, c.unit.Name, back, err)
			}
		}
	}
}

// decimal writes n with a point before its last digits.
func decimal(n int64, digits int) string {
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	s := strings.Repeat("0", digits+1) // so that there is a digit before the point
	text := []byte(s)
	for i := len(text) - 1; n > 0; i-- {
		if i < 0 {
			text, i = append([]byte{'0'}, text...), 0
		}
		text[i] = byte('0' + n%10)
		n /= 10
	}
	return sign + string(text[:len(text)-digits]) + "." + string(text[len(text)-digits:])
}

// TestFormat writes values that were measured in another unit: exact where
// two more decimals than usual can be, else rounded to those.
func TestFormat(t *testing.T) {
	for _, c := range []struct {
		value Value
		unit  Unit
		want  string
	}{
		{133_438_900, Inch, "5.2535"},
		{133_438_900, Millimetre, "133.4389"},
		{25_400_000, Millimetre, "25.400"},
		{1_000_000, Inch, "0.03937"}, // 1 mm = 0.0393700787… in
		{0, Inch, "0.0000"},
		{-1, Inch, "0.0000"}, // nothing that can be seen is nothing, not minus nothing
		{1, Inch, "0.0000"},
		{4_448_222, PoundForce, "1.0"},
		{453_592_370, Ounce, "16.00"},
		{1_500_000, Unit{Name: "drops", Dim: Plain, base: rat("1000000")}, "1.5"},
	} {
		if got := c.value.Format(c.unit); got != c.want {
			t.Errorf("%d in %s is written %q, want %q", c.value, c.unit.Name, got, c.want)
		}
	}
}

func TestUnitNamed(t *testing.T) {
	for _, c := range []struct {
		name, want string
		dim        Dimension
	}{
		{"in", "in", Length}, {"IN", "in", Length}, {`"`, "in", Length}, {" inches ", "in", Length}, {"mm", "mm", Length}, {"Millimeter", "mm", Length},
		{"um", "µm", Length}, {"µm", "µm", Length}, {"μm", "µm", Length}, // micro sign and Greek mu look alike
		{"g", "g", Mass}, {"lbs", "lb", Mass}, {"n", "N", Force}, {"N", "N", Force}, {"lbf", "lbf", Force},
		{"HRC", "HRC", Plain}, {"drops a minute", "drops a minute", Plain},
	} {
		u, err := UnitNamed(c.name)
		if err != nil || u.Name != c.want || u.Dim != c.dim {
			t.Errorf("UnitNamed(%q) = %s of %s, %v; want %s of %s", c.name, u.Name, u.Dim, err, c.want, c.dim)
		}
	}
	if _, err := UnitNamed("  "); !errors.Is(err, ErrNoUnit) {
		t.Errorf("a unit without a name: %v", err)
	}
	for _, d := range []Dimension{Length, Mass, Force} {
		for _, u := range UnitsOf(d) {
			if u.Dim != d {
				t.Errorf("%s is listed under %s", u.Name, d)
			}
		}
	}
	if us := UnitsOf(Length); len(us) != 3 || us[0].Name != "in" {
		t.Errorf("units of length: %v", us)
	}
}

func TestValueOfRefuses(t *testing.T) {
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e13, -1e13} {
		if v, err := ValueOf(x, Millimetre); !errors.Is(err, ErrTooLarge) {
			t.Errorf("ValueOf(%g) = %d, %v", x, v, err)
		}
	}
	for x, want := range map[float64]Value{0.0000004: 0, 0.0000006: 1, -0.0000006: -1, 4: 4_000_000} {
		if v, err := ValueOf(x, Millimetre); err != nil || v != want {
			t.Errorf("ValueOf(%g mm) = %d, %v; want %d", x, v, err, want)
		}
	}
}

func TestLastDigit(t *testing.T) {
	for _, c := range []struct {
		text string
		unit Unit
		want Value
	}{{"5.2535", Inch, 2_540}, {"5.253", Inch, 25_400}, {"5", Inch, 25_400_000}, {"5.", Inch, 25_400_000}, {"-0.05", Millimetre, 10_000}, {" 4.00 ", Millimetre, 10_000}, {"12.5", Newton, 100_000}} {
		if got, err := LastDigit(c.text, c.unit); err != nil || got != c.want {
			t.Errorf("LastDigit(%q, %s) = %d, %v; want %d", c.text, c.unit.Name, got, err, c.want)
		}
	}
	if _, err := LastDigit("1,5", Inch); !errors.Is(err, ErrNoNumber) {
		t.Errorf("last digit of no number: %v", err)
	}
}

func TestParseHours(t *testing.T) {
	for text, want := range map[string]Hours{"0": 0, "1204.5": 120_450, "1204.55": 120_455, "61": 6_100, ".1": 10, "61.500": 6_150, "1000000": 100_000_000} {
		if got, err := ParseHours(text); err != nil || got != want {
			t.Errorf("ParseHours(%q) = %d, %v; want %d", text, got, err, want)
		}
	}
	for text, want := range map[string]error{"": ErrNoNumber, "1,204.5": ErrNoNumber, "12h": ErrNoNumber, "-1": ErrNegative, "−1": ErrNegative, "1204.555": ErrTooFine, "1000000.01": ErrTooLarge,
		"99999999999999999999": ErrTooLarge} {
		if got, err := ParseHours(text); !errors.Is(err, want) {
			t.Errorf("ParseHours(%q) = %d, %v; want %v", text, got, err, want)
		}
	}
	for h, want := range map[Hours]string{0: "0.0", 120_450: "1204.5", 120_455: "1204.55", 5: "0.05", -6_150: "-61.5", 100: "1.0"} {
		if got := h.String(); got != want {
			t.Errorf("%d hundredths are written %q, want %q", int64(h), got, want)
		}
	}
	if h := Hours(120_455).Float(); h != 1204.55 {
		t.Errorf("120455 hundredths = %g h", h)
	}
}
