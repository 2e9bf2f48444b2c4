package wear

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// The book's own names, in any case and writing; the list of kinds is that of
// the stack of a cylinder position.
func TestParseKindAndDirection(t *testing.T) {
	for _, c := range []struct {
		text string
		want Kind
		ok   bool
	}{
		{"cylinder", Cylinder, true}, {"Cylinders", Cylinder, true}, {" PISTON ", Piston, true}, {"rings", Ring, true}, {"pin", Pin, true},
		{"", "", false}, {"s", "", false}, {"rod", "", false}, {"pinss", "", false},
	} {
		if got, ok := ParseKind(c.text); got != c.want || ok != c.ok {
			t.Errorf("kind %q: %q, %t", c.text, got, ok)
		}
	}
	for _, c := range []struct {
		text string
		want Direction
		ok   bool
		sign float64 // by definition: bore up, shaft down
	}{
		{"up", Up, true, 1}, {" Down", Down, true, -1}, {"NONE", NoWear, true, 0}, {"", "", false, 0}, {"sideways", "", false, 0},
	} {
		got, ok := ParseDirection(c.text)
		if got != c.want || ok != c.ok || got.Sign() != c.sign {
			t.Errorf("direction %q: %q, %t, sign %g", c.text, got, ok, got.Sign())
		}
	}
	if s := Direction("sideways").Sign(); s != 0 {
		t.Errorf("sign of a direction that is none: %g", s)
	}
	for _, k := range Kinds { // what is written can be read again
		if got, ok := ParseKind(string(k)); got != k || !ok {
			t.Errorf("%s is read as %q", k, got)
		}
	}
}

// A name compares without case, hyphens, underscores and runs of spaces, and a
// second folding changes nothing.
func TestNormalName(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"Barrel Bore", "barrel bore"}, {"barrel_bore", "barrel bore"}, {"  re-grooved ", "re grooved"}, {"a--b", "a b"}, {"a\t b", "a b"}, {"", ""}, {"-", ""},
	} {
		got := NormalName(c.text)
		if got != c.want || NormalName(got) != got || NormalName(strings.ToUpper(c.text)) != got {
			t.Errorf("%q: %q, want %q", c.text, got, c.want)
		}
	}
}

// Every built-in feature goes by its name and its aliases, and no two of a kind
// by the same, or a line of an import could be either.
func TestCalled(t *testing.T) {
	for _, f := range BuiltIn {
		for _, name := range append([]string{f.Name}, f.Aliases...) {
			for _, written := range []string{name, strings.ToUpper(name), strings.ReplaceAll(name, " ", "_"), strings.ReplaceAll(name, " ", "-")} {
				for _, other := range BuiltIn {
					if same := other.Kind == f.Kind && other.Name == f.Name; other.Kind == f.Kind && other.Called(written) != same {
						t.Errorf("%s %s called %q: %t", other.Kind, other.Name, written, !same)
					}
				}
			}
		}
		if f.Called("") || f.Called(f.Name+" of wood") {
			t.Errorf("%s goes by any name", f.Name)
		}
	}
	if own := (Feature{Name: "Rocker", Aliases: []string{"Rocker-Arm"}}); !own.Called("rocker arm") {
		t.Error("an alias typed with a hyphen is not found")
	}
}

// Places × axes, none left out and none twice: FAA-H-8083-32, dimensional
// inspection, for a bore at its stations along two axes.
func TestSpots(t *testing.T) {
	stations, axes := []string{"1", "2", "3"}, []string{"along", "across"}
	for _, c := range []struct {
		what           string
		f              Feature
		stations, axes []string
		want           [][2]string
	}{
		{"bore", Feature{Stations: true, Axes: true}, stations[:2], axes, [][2]string{{"1", "along"}, {"1", "across"}, {"2", "along"}, {"2", "across"}}},
		{"bore without axes of its model", Feature{Stations: true, Axes: true}, stations[:2], nil, [][2]string{{"1", ""}, {"2", ""}}},
		{"bore without stations of its model", Feature{Stations: true, Axes: true}, nil, axes, [][2]string{{"", "along"}, {"", "across"}}},
		{"skirt", Feature{Axes: true}, stations, axes, [][2]string{{"", "along"}, {"", "across"}}},
		{"stem", Feature{Places: []string{"intake", "exhaust"}}, stations, axes, [][2]string{{"intake", ""}, {"exhaust", ""}}},
		{"weight", Feature{}, stations, axes, [][2]string{{"", ""}}},
	} {
		if got := c.f.Spots(c.stations, c.axes); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.what, got, c.want)
		}
	}
	for _, f := range BuiltIn {
		spots := f.Spots(stations, axes)
		seen := map[[2]string]bool{}
		for _, s := range spots {
			seen[s] = true
		}
		if len(spots) == 0 || len(seen) != len(spots) {
			t.Errorf("%s %s: %v", f.Kind, f.Name, spots)
		}
	}
}

// The bound that wear runs towards: a bore's largest, a shaft's least (common
// practice, no source). Wear towards it uses it up.
func TestServiceLimit(t *testing.T) {
	low, high := Value(100), Value(200)
	both := Limit{ServiceMin: &low, ServiceMax: &high}
	for _, c := range []struct {
		what string
		wear Direction
		l    Limit
		want Value
		ok   bool
	}{
		{"bore", Up, both, high, true}, {"shaft", Down, both, low, true}, {"weight", NoWear, both, 0, false}, {"not said", "", both, 0, false},
		{"bore with a least only", Up, Limit{ServiceMin: &low}, 0, false}, {"shaft with a most only", Down, Limit{ServiceMax: &high}, 0, false}, {"nothing", Up, Limit{}, 0, false},
	} {
		c.l.Wear = c.wear
		got, ok := c.l.ServiceLimit()
		if got != c.want || ok != c.ok {
			t.Errorf("%s: %d, %t", c.what, got, ok)
		}
		if moved, _ := c.l.Shifted(50).ServiceLimit(); ok && moved != got+50 { // it moves with the oversize
			t.Errorf("%s, oversize: %d", c.what, moved)
		}
		if ok && Assess(got, 0, c.l).Room != 0 {
			t.Errorf("%s: room on the limit", c.what)
		}
	}
}

// Decimals of the trade (common practice, no source): ten-thousandths of an
// inch, thousandths of a millimetre; halves as IEEE 754 has them.
func TestFormatFloat(t *testing.T) {
	for _, c := range []struct {
		x     float64
		unit  Unit
		extra int
		want  string
	}{
		{5.2535, Inch, 0, "5.2535"}, {5.25354, Inch, 0, "5.2535"}, {5.25354, Inch, 1, "5.25354"}, {5.2535, Inch, -2, "5.25"}, {5.2535, Inch, -9, "5"},
		{-0.0012, Inch, 0, "-0.0012"}, {25.4, Millimetre, 0, "25.400"}, {1020, Gram, 0, "1020.0"}, {3, Unit{}, 0, "3.0"},
		{math.NaN(), Inch, 0, "–"}, {math.Inf(1), Inch, 0, "–"}, {math.Inf(-1), Millimetre, 2, "–"},
	} {
		if got := c.unit.FormatFloat(c.x, c.extra); got != c.want {
			t.Errorf("%g %s, %d more: %q, want %q", c.x, c.unit.Name, c.extra, got, c.want)
		}
	}
	for _, v := range []Value{25_400_000, 133_438_900, -2_540} { // as a value is written
		if got := Inch.FormatFloat(v.In(Inch), 0); got != v.Format(Inch) {
			t.Errorf("%d nm: %s and %s", v, got, v.Format(Inch))
		}
	}
}

func TestListOf(t *testing.T) {
	name := func(i int) string { return strings.Repeat("I", i) }
	for want, items := range map[string][]int{"": nil, "I": {1}, "I and II": {1, 2}, "III, I and II": {3, 1, 2}, "I, I, I and I": {1, 1, 1, 1}} {
		if got := ListOf(items, name); got != want {
			t.Errorf("%v: %q, want %q", items, got, want)
		}
	}
}

// 0.0002 in = 5,080 nm, NIST SP 811 appendix B.8; the figure itself is common
// practice, no source.
func TestAssumedSD(t *testing.T) {
	want, err := ParseValue("0.0002", Inch)
	if err != nil || AssumedSD(Length) != want {
		t.Errorf("length: %d, want %d, %v", AssumedSD(Length), want, err)
	}
	for _, d := range []Dimension{Mass, Force, Plain, ""} {
		if got := AssumedSD(d); got != 0 {
			t.Errorf("%q: %d", d, got)
		}
	}
}

// Expansion per kelvin of a steel barrel, an aluminium piston and an iron ring:
// Callister, appendix B.6, 12.3e-6 for 4140 and 4340, 11.4e-6 for grey iron; AlSi12
// by a piston maker's data sheet. A piston grows more than its barrel.
func TestMaterialOf(t *testing.T) {
	for _, c := range []struct {
		kind  Kind
		alpha float64
		tol   float64
	}{{Cylinder, 12.3e-6, 1e-12}, {Pin, 12.3e-6, 1e-12}, {Piston, 20.5e-6, 1e-12}, {Ring, 11.4e-6, 1e-12}, {"", 12.3e-6, 1e-12}} {
		m := MaterialOf(c.kind)
		near(t, string(c.kind), m.Alpha, c.alpha, c.tol)
		if m.Name == "" || m.Source == "" {
			t.Errorf("%s: %+v", c.kind, m)
		}
	}
	if MaterialOf(Piston).Alpha <= MaterialOf(Cylinder).Alpha {
		t.Error("the piston grows less than its barrel")
	}
}

// 1.15 is common practice, no source. The two limits are the same the other way
// about: offered and original changed over, higher becomes lower.
func TestDefaultRatioLimits(t *testing.T) {
	l := DefaultRatioLimits()
	near(t, "high", l.High, 1.15, 1e-15)
	near(t, "high times low", l.High*l.Low, 1, 1e-15)
}

// Nothing a caller hands in makes a chance of what is none.
func TestOneInOdd(t *testing.T) {
	for _, c := range []struct {
		p    float64
		want string
	}{
		{math.NaN(), "not known"}, {math.Inf(1), "1 in 1"}, {2, "1 in 1"}, {1, "1 in 1"}, {0, "less than 1 in 1,000,000"}, {-1, "less than 1 in 1,000,000"}, {math.Inf(-1), "less than 1 in 1,000,000"},
	} {
		if got := OneIn(c.p); got != c.want {
			t.Errorf("%g: %q, want %q", c.p, got, c.want)
		}
	}
	for _, text := range []string{
		Forecast{CanSay: true, Low: math.NaN(), Median: math.Inf(1), High: math.Inf(-1)}.Sentence(),
		Judgement{State: Normal, Hours: math.NaN(), Ratio: math.Inf(1)}.Sentence("honing"),
		Tested{State: Normal, ToHours: math.Inf(1), Ratio: math.NaN()}.Sentence(),
		EngineJudgement{State: Normal, Ratio: math.NaN()}.Sentence("cylinders"),
	} {
		if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
			t.Error(text)
		}
	}
}

// A ring too long for its bore has a gap below nothing: by geometry, π times
// 0.001 in of bore is 0.0031 in of gap.
func TestGapOfButtingRing(t *testing.T) {
	g, err := GapIn(Gauged{Value: inchNM(t, "0.0010")}, Gauged{Value: inchNM(t, "5.0010")}, Gauged{Value: inchNM(t, "5.0000")})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "gap, in", g.Value.In(Inch), 0.0010-0.0031416, 1e-7)
}

// Crossed new limits have neither a middle nor an allowance.
func TestCrossedNewLimits(t *testing.T) {
	l := limit(t, Up, "5.0020", "5.0000", "", "5.0060")
	l.Life = 150_000
	if _, _, ok := l.MiddleOfNew(); ok {
		t.Error("a middle")
	}
	if _, ok := l.AllowancePerHour(); ok {
		t.Error("an allowance")
	}
}

// Between adds up along the hours, grows with them, and scales with the curve.
func TestCurveProperties(t *testing.T) {
	for _, c := range []Curve{bedded, {Form: PowerLaw, B: 2e-4, Q: 0.5}, {Form: MakerAllowance, B: 3e-6}} {
		if err := c.Check(); err != nil {
			t.Fatal(err)
		}
		last := 0.0
		for _, h := range []float64{1, 10, 61, 300, 1500, 1e6} {
			near(t, "sum of intervals", (c.Between(0, 0.3*h)+c.Between(0.3*h, h))/c.W(h), 1, 1e-12)
			near(t, "there and back", c.Between(0.3*h, h)+c.Between(h, 0.3*h), 0, 0)
			near(t, "in millimetres", c.scaled(25.4).W(h)/c.W(h), 25.4, 1e-12)
			if w := c.W(h); w <= last {
				t.Errorf("%s: %g at %g h after %g", c.Form, w, h, last)
			}
			last = c.W(h)
		}
	}
}
