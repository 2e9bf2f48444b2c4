package wear

import (
	"errors"
	"math"
	"math/rand"
	"reflect"
	"testing"
)

// psi reads a pressure.
func psi(t testing.TB, text string) PSI {
	t.Helper()
	p, err := ParsePSI(text)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// heldTest is a test at 80 psi and 14.7 psi ambient with gauges read to 1 psi.
func heldTest(t testing.TB, text string, orifice Value) LeakTest {
	t.Helper()
	return LeakTest{Regulated: 800, Reading: psi(t, text), Ambient: 147, Orifice: orifice, Resolution: 10}
}

func leakOf(t testing.TB, test LeakTest) Leak {
	t.Helper()
	l, err := LeakArea(test)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// TestLeakRatio: ratios computed independently from the stated equation, by a
// Python script of the test's writer; those at 14.7 psi also by another's.
func TestLeakRatio(t *testing.T) {
	for _, c := range []struct {
		reading           string
		ambient           PSI
		ratio             float64
		orifice, leakHole bool // choked
	}{
		{"80", 147, 0, false, true},
		{"78", 147, 0.303, false, true},
		{"75", 147, 0.487, false, true},
		{"70", 147, 0.707, false, true},
		{"65", 147, 0.890, false, true},
		{"60", 147, 1.059, false, true},
		{"50", 147, 1.384, false, true},
		{"43", 147, 1.617, false, true},
		{"13", 147, 3.419, true, false},
		{"5", 147, 5.413, true, false},
		{"70", 122, 0.717, false, true},
		{"60", 122, 1.076, false, true},
	} {
		test := heldTest(t, c.reading, LargeOrifice)
		test.Ambient = c.ambient
		l := leakOf(t, test)
		if math.Abs(l.Ratio-c.ratio) > 0.0006 || l.OrificeChoked != c.orifice || l.LeakChoked != c.leakHole || len(l.Working) != 5 {
			t.Errorf("%s psi, %s outside: ratio %.4f, choked %t, %t; want %.3f, %t, %t", c.reading, c.ambient, l.Ratio, l.OrificeChoked, l.LeakChoked, c.ratio, c.orifice, c.leakHole)
		}
	}
}

// TestFlow: air chokes at 0.528 (NASA Glenn and any book of gas dynamics) and
// then passes 0.0404 √K s/m, A p/√T (from memory), which is f √(γ/R) with
// R = 287.05 J/(kg K). An orifice at 80 psi is choked up to about 35.3 psi
// behind it ("Choked Flow of Gases", an orifice maker's tutorial, which
// reckons with 0.528).
func TestFlow(t *testing.T) {
	if math.Abs(choked-0.528) > 0.0005 || math.Abs(flow(choked)*math.Sqrt(gamma/287.05)-0.0404) > 0.00005 || flow(0) != flow(choked) || flow(1) != 0 {
		t.Errorf("chokes at %.4f with %.4f, f(0) %g, f(1) %g", choked, flow(choked), flow(0), flow(1))
	}
	for text, want := range map[string]bool{"35.2": true, "35.4": false} {
		if l := leakOf(t, heldTest(t, text, LargeOrifice)); l.OrificeChoked != want {
			t.Errorf("%s psi: orifice choked %t", text, l.OrificeChoked)
		}
	}
}

// TestLeakUncertainty: gauges read to 1 psi, 1/√12 = 0.2887 psi each. The
// figures are first derivatives by a Python script; the code takes the larger
// side, so it may be above by what the curve bends, and never below.
func TestLeakUncertainty(t *testing.T) {
	for _, c := range []struct {
		reading       string
		linear, above float64
	}{{"78", 0.031226, 0.1}, {"70", 0.015171, 0.02}, {"60", 0.012102, 0.01}, {"40", 0.011829, 0.01}} {
		l := leakOf(t, heldTest(t, c.reading, LargeOrifice))
		if l.RatioU < c.linear || l.RatioU > c.linear*(1+c.above) || math.Abs(l.AreaU-l.RatioU*l.OrificeArea) > 1e-12 {
			t.Errorf("%s psi: u %.5f, want %.5f to %.0f %% more", c.reading, l.RatioU, c.linear, 100*c.above)
		}
	}
	full := leakOf(t, heldTest(t, "80", SmallOrifice))
	if full.Ratio != 0 || full.RatioU <= 0 || full.RatioU > 0.2 {
		t.Errorf("a full reading: %g ± %g", full.Ratio, full.RatioU)
	}
	exact := heldTest(t, "70", SmallOrifice)
	exact.Resolution = 0
	if l := leakOf(t, exact); l.RatioU != 0 {
		t.Errorf("no gauge uncertainty, yet u = %g", l.RatioU)
	}
}

// TestOrificeAreas: π d²/4 by hand for 1.016 and 1.524 mm; 0.060² / 0.040² is
// 2.25.
func TestOrificeAreas(t *testing.T) {
	small, large := leakOf(t, heldTest(t, "70", SmallOrifice)), leakOf(t, heldTest(t, "70", LargeOrifice))
	if math.Abs(small.OrificeArea-0.810732) > 1e-6 || math.Abs(large.OrificeArea-1.824147) > 1e-6 || math.Abs(large.OrificeArea/small.OrificeArea-2.25) > 1e-12 {
		t.Errorf("areas %.6f and %.6f mm²", small.OrificeArea, large.OrificeArea)
	}
}

// TestThrough: 70/80 through 0.060 in is about 44/80 through 0.040 in; to the
// digit 43.797, computed by bisection in a Python script.
func TestThrough(t *testing.T) {
	l := leakOf(t, heldTest(t, "70", LargeOrifice))
	if got, err := l.Through(SmallOrifice); err != nil || math.Abs(got-43.797) > 0.0005 {
		t.Errorf("70/80 through the other orifice: %.4f, %v", got, err)
	}
	l = leakOf(t, heldTest(t, "60", SmallOrifice))
	if got, err := l.Through(LargeOrifice); err != nil || math.Abs(got-75.312) > 0.0005 {
		t.Errorf("60/80 through the other orifice: %.4f, %v", got, err)
	}
	tight := leakOf(t, heldTest(t, "80", SmallOrifice))
	if got, err := tight.Through(LargeOrifice); err != nil || got != 80 {
		t.Errorf("no leak through the other orifice: %g, %v", got, err)
	}
}

// TestThroughAndBack: the area found from a reading gives that reading again,
// and grows as the reading falls, for random tests.
func TestThroughAndBack(t *testing.T) {
	random := rand.New(rand.NewSource(6))
	for range 2000 {
		test := LeakTest{Regulated: PSI(600 + random.Intn(600)), Ambient: PSI(100 + random.Intn(50)), Orifice: Value(500_000 + random.Intn(2_000_000))}
		test.Reading = 10 + PSI(random.Intn(int(test.Regulated)-11))
		l := leakOf(t, test)
		back, err := l.Through(test.Orifice)
		if err != nil || math.Abs(back-test.Reading.Float()) > 1e-6 {
			t.Fatalf("%+v: comes back as %.9f, %v", test, back, err)
		}
		lower := test
		lower.Reading--
		if below := leakOf(t, lower); below.Area <= l.Area {
			t.Fatalf("%+v: %g mm² at a lower reading, %g above", test, below.Area, l.Area)
		}
		wider := test
		wider.Orifice *= 2
		if double := leakOf(t, wider); math.Abs(double.Area/l.Area-4) > 1e-9 {
			t.Fatalf("%+v: twice the orifice makes the leak %g times as large", test, double.Area/l.Area)
		}
	}
}

// TestSuggestOrifice: FAA AC 43.13-1B chg 1, para 8-14.
func TestSuggestOrifice(t *testing.T) {
	for bore, want := range map[string]string{"3.875": "0.040", "4.9999": "0.040", "5.00": "0.060", "5.125": "0.060"} {
		if got, err := SuggestOrifice(size(t, bore)); err != nil || got != size(t, want) {
			t.Errorf("bore %s: %s, %v; want %s", bore, got.Format(Inch), err, want)
		}
	}
	if _, err := SuggestOrifice(0); !errors.Is(err, ErrRange) {
		t.Errorf("no bore: %v", err)
	}
}

// TestParsePSI: what is typed comes back as it was.
func TestParsePSI(t *testing.T) {
	for text, want := range map[string]PSI{"80": 800, "14.7": 147, "0": 0, " 72.5 ": 725, "300": 3000, "80.0": 800} {
		got, err := ParsePSI(text)
		if err != nil || got != want {
			t.Errorf("%q: %d, %v; want %d", text, int64(got), err, int64(want))
		}
		if again, err := ParsePSI(got.String()); err != nil || again != got {
			t.Errorf("%q is written %q and read as %d, %v", text, got, int64(again), err)
		}
	}
	for text, want := range map[string]error{"": ErrNoNumber, "7o": ErrNoNumber, "-1": ErrNegative, "72.25": ErrTooFine, "300.1": ErrTooLarge, "80,5": ErrNoNumber} {
		if got, err := ParsePSI(text); !errors.Is(err, want) || got != 0 {
			t.Errorf("%q: %d, %v; want %v", text, int64(got), err, want)
		}
	}
	if s := UsualAmbient.String() + " " + UsualRegulated.String(); s != "14.7 80" {
		t.Errorf("written as %s", s)
	}
}

// TestLeakDefaults: what is not given is filled in and said.
func TestLeakDefaults(t *testing.T) {
	given := leakOf(t, heldTest(t, "70", SmallOrifice))
	assumed := leakOf(t, LeakTest{Reading: 700, Orifice: SmallOrifice, Resolution: 10})
	if assumed.Test != given.Test || assumed.Ratio != given.Ratio || len(assumed.Assumed) != len(given.Assumed)+2 {
		t.Errorf("%+v and %+v", given, assumed)
	}
}

func TestLeakErrors(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(*LeakTest)
		want   error
	}{
		{"nothing held", func(l *LeakTest) { l.Reading = 0 }, ErrNoPressure},
		{"nothing held, gauges exact", func(l *LeakTest) { l.Reading, l.Resolution = 0, 0 }, ErrNoPressure},
		{"lost in the gauge", func(l *LeakTest) { l.Reading = 5 }, ErrNoPressure},
		{"above", func(l *LeakTest) { l.Reading = 801 }, ErrAboveRegular},
		{"negative", func(l *LeakTest) { l.Reading = -1 }, ErrRange},
		{"no orifice", func(l *LeakTest) { l.Orifice = 0 }, ErrRange},
		{"orifice too large", func(l *LeakTest) { l.Orifice = 25_400_001 }, ErrRange},
		{"vacuum outside", func(l *LeakTest) { l.Ambient = -147 }, ErrRange},
		{"regulated too high", func(l *LeakTest) { l.Regulated = 3001 }, ErrRange},
		{"gauge NaN", func(l *LeakTest) { l.GaugeSD = math.NaN() }, ErrNotFinite},
		{"gauge negative", func(l *LeakTest) { l.GaugeSD = -1 }, ErrRange},
		{"resolution negative", func(l *LeakTest) { l.Resolution = -1 }, ErrRange},
	} {
		test := heldTest(t, "70", SmallOrifice)
		c.change(&test)
		if l, err := LeakArea(test); !errors.Is(err, c.want) || l.Ratio != 0 {
			t.Errorf("%s: %g, %v; want %v", c.what, l.Ratio, err, c.want)
		}
	}
	good := leakOf(t, heldTest(t, "70", SmallOrifice))
	lame, less := good, good
	lame.Area, less.Area = math.Inf(1), -1
	for _, c := range []struct {
		leak    Leak
		orifice Value
		want    error
	}{{good, 0, ErrRange}, {lame, SmallOrifice, ErrNotFinite}, {less, SmallOrifice, ErrRange}, {Leak{}, SmallOrifice, ErrRange}} {
		if got, err := c.leak.Through(c.orifice); !errors.Is(err, c.want) || got != 0 {
			t.Errorf("through %d: %g, %v; want %v", int64(c.orifice), got, err, c.want)
		}
	}
}

// TestLeakFinite: whatever goes in, a named error or finite numbers come out.
func TestLeakFinite(t *testing.T) {
	random := rand.New(rand.NewSource(7))
	any := func(usual int) PSI {
		if random.Intn(10) == 0 {
			return PSI(wildValue(random))
		}
		return PSI(random.Intn(usual))
	}
	sized := 0
	for range 20_000 {
		test := LeakTest{Regulated: any(1000), Reading: any(800), Ambient: any(200), Orifice: Value(any(3_000_000)), Resolution: any(20)}
		if random.Intn(3) == 0 {
			test.GaugeSD = wild(random)
		}
		l, err := LeakArea(test)
		if err != nil {
			if !anyOf(err, ErrRange, ErrNotFinite, ErrAboveRegular, ErrNoPressure) {
				t.Fatalf("%+v: %v has no name", test, err)
			}
			continue
		}
		sized++
		finite(t, "leak", reflect.ValueOf(l))
		through, err := l.Through(Value(1000 + random.Intn(25_000_000)))
		if err != nil || !(through >= 0 && through <= l.Test.Regulated.Float()) {
			t.Fatalf("%+v: through another orifice %g, %v", l, through, err)
		}
	}
	if sized < 2000 {
		t.Errorf("only %d leaks could be sized: the check checks little", sized)
	}
}
