package wear

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

// 5.125 in at 35 °C: a steel bore reads 0.00095 in large and a piston of AlSi12
// 0.00158 in, so that the fit reads 0.0006 in small. Computed independently
// from the equation (d - d/(1 + α·15)); the coefficients are Callister's and a
// piston maker's.
func TestAt20(t *testing.T) {
	d := Gauged{inchNM(t, "5.125"), 2540}
	bore, err1 := At20(d, 35, 0, Steel)
	piston, err2 := At20(d, 35, 0, PistonAlSi)
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what          string
		got, want, by float64
	}{
		{"bore", (d.Value - bore.Value).In(Inch), 0.00095, 0.000005},
		{"piston", (d.Value - piston.Value).In(Inch), 0.00158, 0.000005},
		{"fit", (bore.Value - piston.Value).In(Inch), 0.0006, 0.00005},
		{"cold bore, read 5.1262 at 4 °C", at20(t, "5.1262", 4, Steel), 5.1272, 0.00005},
		{"ring iron, read 100 mm at 120 °C", at20(t, "3.93700787", 120, GreyIron) * 25.4, 100 / (1 + 0.00114), 0.00001},
	} {
		if math.Abs(c.got-c.want) > c.by {
			t.Errorf("%s: %.6f, want %.6f ± %g", c.what, c.got, c.want, c.by)
		}
	}
	if same, err := At20(d, 20, 0, Steel); err != nil || same != d {
		t.Errorf("at 20 °C: %+v %v", same, err)
	}
	warm, err := At20(d, 35, 2, Steel)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "u", warm.U, math.Hypot(2540, float64(d.Value)*12.3e-6*2), 1e-12)
}

func at20(t testing.TB, inch string, celsius float64, m Material) float64 {
	t.Helper()
	r, err := ValueOf(mustFloat(t, inch), Inch)
	if err != nil {
		t.Fatal(err)
	}
	g, err := At20(Gauged{r, 0}, celsius, 0, m)
	if err != nil {
		t.Fatal(err)
	}
	return g.Value.In(Inch)
}

func mustFloat(t testing.TB, s string) float64 {
	t.Helper()
	var x float64
	if _, err := fmt.Sscan(s, &x); err != nil {
		t.Fatal(err)
	}
	return x
}

func TestAt20Refusals(t *testing.T) {
	good := Gauged{1e8, 100}
	for _, c := range []struct {
		d    Gauged
		c, u float64
		m    Material
		want error
	}{
		{Gauged{}, 20, 0, Steel, ErrRange}, {good, -61, 0, Steel, ErrRange}, {good, 151, 0, Steel, ErrRange}, {good, 20, -1, Steel, ErrRange},
		{good, math.NaN(), 0, Steel, ErrNotFinite}, {good, 20, math.Inf(1), Steel, ErrNotFinite}, {good, 20, 0, Material{Alpha: 1}, ErrRange}, {good, 20, 0, Material{Alpha: math.NaN()}, ErrNotFinite},
	} {
		if _, err := At20(c.d, c.c, c.u, c.m); !errors.Is(err, c.want) {
			t.Errorf("%+v at %g: %v, want %v", c.d, c.c, err, c.want)
		}
	}
}

// Warmer reads larger: the size at 20 °C falls as the temperature it was read
// at rises, the faster the more the material expands.
func TestAt20Monotone(t *testing.T) {
	d, last := Gauged{130e6, 0}, Value(math.MaxInt64)
	for c := -60.0; c <= 150; c += 5 {
		g, err := At20(d, c, 0, Steel)
		if err != nil || g.Value >= last {
			t.Fatalf("at %g: %d after %d, %v", c, g.Value, last, err)
		}
		last = g.Value
	}
}

// NPL Good Practice Guide 11: 2.5, 0.3, 5.8 and 0.7 mm come to 6.4 mm.
func TestCombined(t *testing.T) {
	u, err := Combined(2.5, 0.3, 5.8, 0.7)
	if err != nil || math.Abs(u-6.4) > 0.05 {
		t.Errorf("%g, %v", u, err)
	}
	for _, bad := range []float64{-1, math.NaN(), math.Inf(1)} {
		if _, err := Combined(1, bad); err == nil {
			t.Errorf("%g passed", bad)
		}
	}
	if none, err := Combined(); none != 0 || err != nil {
		t.Errorf("of nothing: %g, %v", none, err)
	}
}

// TestCount: the size of one part is carried to 20 °C (ISO 1), a gap between two
// is not; nor is anything without a temperature, or at one that no part is
// measured at. None of it allocates: an import counts a million readings.
func TestCount(t *testing.T) {
	feature := func(k Kind, name string) Feature {
		for _, f := range BuiltIn {
			if f.Kind == k && f.Name == name {
				return f
			}
		}
		t.Fatalf("no feature %s", name)
		return Feature{}
	}
	bore, warm, hot := feature(Cylinder, "barrel bore"), 35.0, 400.0
	d := Gauged{inchNM(t, "5.125"), 2540}
	c := Count(bore, d, &warm, Steel)
	near(t, "what the temperature adds", c.WarmthU, float64(d.Value)*12.3e-6*TemperatureU, 1e-12)
	if less := (d.Value - c.Value).In(Inch); !c.Carried || math.Abs(less-0.00095) > 0.000005 || math.Abs(c.U-math.Hypot(2540, c.WarmthU)) > 1e-9 {
		t.Errorf("a bore at 35 °C: %+v, %.5f in less", c, less)
	}
	for _, name := range []struct {
		kind    Kind
		name    string
		expands bool
	}{{Cylinder, "guide bore", true}, {Cylinder, "valve stem", true}, {Cylinder, "stem clearance", false}, {Cylinder, "gap of a pushed ring", false}, {Cylinder, "weight", false}, {Piston, "piston skirt", true}, {Piston, "groove width", true},
		{Piston, "side clearance", false}, {Piston, "skirt clearance", false}, {Ring, "axial width", true}, {Ring, "end gap", false}, {Ring, "free gap", true}, {Ring, "tangential force", false}, {Pin, "pin diameter", true}} {
		if f := feature(name.kind, name.name); f.Expands() != name.expands || Count(f, d, &warm, Steel).Carried != name.expands {
			t.Errorf("%s is carried to 20 °C: %t", f.Name, f.Expands())
		}
	}
	for what, c := range map[string]Counted{"no temperature": Count(bore, d, nil, Steel), "400 °C": Count(bore, d, &hot, Steel)} {
		if c.Carried || c.Gauged != d || c.WarmthU != 0 {
			t.Errorf("%s: %+v", what, c)
		}
	}
	if n := testing.AllocsPerRun(100, func() { Count(bore, d, &warm, Steel) }); n != 0 {
		t.Errorf("%g allocations a reading", n)
	}
}

func ExampleAt20() {
	d, _ := ParseValue("5.1262", Inch)
	g, err := At20(Gauged{d, 2540}, 4, 1, Steel)
	if err != nil {
		panic(err)
	}
	fmt.Printf("read %s at 4 °C, %.4f at 20 °C\n", d.Format(Inch), g.Value.In(Inch))
	// Output: read 5.1262 at 4 °C, 5.1272 at 20 °C
}

func ExampleCombined() {
	u, err := Combined(2.5, 0.3, 5.8, 0.7) // NPL Good Practice Guide 11, mm
	if err != nil {
		panic(err)
	}
	fmt.Printf("%.1f mm\n", u)
	// Output: 6.4 mm
}
