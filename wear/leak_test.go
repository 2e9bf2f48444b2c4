package wear

import (
	"errors"
	"math"
	"math/rand"
	"reflect"
	"strings"
	"testing"
)

// TestGeneralRule: AC 43.13-1B chg 1, para 8-14: more than 25 % of the input
// lost is suspect, so 60 of 80 psi is the last that is not. With gauges read
// to 1 psi U = 1.645 × 0.2887 × √(1 + 0.75²) = 0.594 psi, by hand.
func TestGeneralRule(t *testing.T) {
	for _, c := range []struct {
		reading        string
		verdict, plain Verdict
		exact          Verdict // with gauges taken as exact
	}{
		{"80", Serviceable, Serviceable, Serviceable},
		{"72", Serviceable, Serviceable, Serviceable},
		{"60.6", Serviceable, Serviceable, Serviceable},
		{"60.5", Undecided, Serviceable, Serviceable},
		{"60", Undecided, Serviceable, Serviceable},
		{"59.9", Undecided, Beyond, Beyond},
		{"59.5", Undecided, Beyond, Beyond},
		{"59.4", Beyond, Beyond, Beyond},
		{"43", Beyond, Beyond, Beyond},
		{"0", Beyond, Beyond, Beyond},
	} {
		test := heldTest(t, c.reading, LargeOrifice)
		j, err := JudgeLeak(test, 0, nil, nil)
		if err != nil || j.Verdict != c.verdict || j.Plain != c.plain || j.Rule != GeneralLeakRule || len(j.Reasons) == 0 {
			t.Errorf("%s: %s, plainly %s, %v; want %s, %s", c.reading, j.Verdict, j.Plain, err, c.verdict, c.plain)
		}
		if want := 100 - test.Reading.Float()/0.8; math.Abs(j.Loss-want) > 1e-9 {
			t.Errorf("%s: loss %g %%, want %g", c.reading, j.Loss, want)
		}
		test.Resolution = 0
		if j, err := JudgeLeak(test, 0, nil, nil); err != nil || j.Verdict != c.exact {
			t.Errorf("%s with exact gauges: %s, %v; want %s", c.reading, j.Verdict, err, c.exact)
		}
	}
}

// TestMakerRule: a rule as typed takes the general one's place; the rules are
// the test's own, the verdicts follow from plain comparison.
func TestMakerRule(t *testing.T) {
	document := "manual A rev 3 page 12"
	for _, c := range []struct {
		what    string
		reading string
		rule    LeakRule
		verdict Verdict
		says    string
	}{
		{"minimum held", "48", LeakRule{Minimum: 470, Document: document}, Serviceable, document},
		{"minimum just held", "47", LeakRule{Minimum: 470, Document: document}, Serviceable, "at least 47 psi"},
		{"minimum missed", "46.9", LeakRule{Minimum: 470, Document: document}, Beyond, "Suspect"},
		{"loss allowed", "70", LeakRule{MaxLoss: 125}, Serviceable, "12.5 %"},
		{"loss too large", "69.9", LeakRule{MaxLoss: 125}, Beyond, "without a document"},
		{"the worse counts", "65", LeakRule{Minimum: 600, MaxLoss: 150}, Beyond, "at least 60"},
		{"the worse counts, the other way", "65", LeakRule{Minimum: 700, MaxLoss: 300}, Beyond, "at least 70"},
		{"for this orifice", "50", LeakRule{Minimum: 470, Orifice: SmallOrifice, Regulated: 800}, Serviceable, "at least"},
		{"for another orifice", "50", LeakRule{Minimum: 470, Orifice: LargeOrifice, Document: document}, NoLimit, "not applied"},
		{"for another pressure", "50", LeakRule{Minimum: 470, Regulated: 1000}, NoLimit, "not applied"},
	} {
		test := heldTest(t, c.reading, SmallOrifice)
		test.Resolution = 0
		j, err := JudgeLeak(test, 0, nil, &c.rule)
		if err != nil || j.Verdict != c.verdict || j.Plain != c.verdict || !strings.Contains(strings.Join(j.Reasons, " "), c.says) {
			t.Errorf("%s: %s, %q, %v; want %s and %q", c.what, j.Verdict, j.Reasons, err, c.verdict, c.says)
		}
	}
	for _, rule := range []LeakRule{{}, {Minimum: -1}, {MaxLoss: 1000}, {Minimum: 3001}, {Minimum: 10, Orifice: -1}} {
		if j, err := JudgeLeak(heldTest(t, "70", SmallOrifice), 0, nil, &rule); !errors.Is(err, ErrLeakRule) || j.Reasons != nil {
			t.Errorf("%+v: %v, want %v", rule, err, ErrLeakRule)
		}
	}
}

// TestJudgeLeakReasons: orifice against bore, and what the sounds mean.
func TestJudgeLeakReasons(t *testing.T) {
	for _, c := range []struct {
		what    string
		reading string
		bore    string
		heard   []AirHeard
		want    []string
		not     string
	}{
		{"orifice for the bore", "72", "4.5", nil, nil, "suggests"},
		{"orifice not for the bore", "44", "5.125", []AirHeard{AirAtBreather, AirAtExhaust}, []string{"suggests 0.0600 in", "about 70 psi", "rings", "exhaust valve"}, "not recorded"},
		{"nothing heard", "44", "4.5", nil, []string{"Where the air goes"}, ""},
		{"nothing held", "0", "5.125", []AirHeard{AirAtJoint}, []string{"cannot be sized", "suggests 0.0600 in", "crack"}, "would read"},
		{"intake", "72", "4.5", []AirHeard{AirAtIntake}, []string{"intake valve"}, "exhaust"},
	} {
		j, err := JudgeLeak(heldTest(t, c.reading, SmallOrifice), size(t, c.bore), c.heard, nil)
		if err != nil {
			t.Fatalf("%s: %v", c.what, err)
		}
		said := strings.Join(j.Reasons, " ")
		for _, w := range c.want {
			if !strings.Contains(said, w) {
				t.Errorf("%s: %q does not say %q", c.what, said, w)
			}
		}
		if c.not != "" && strings.Contains(said, c.not) {
			t.Errorf("%s: %q says %q", c.what, said, c.not)
		}
	}
	if j, err := JudgeLeak(heldTest(t, "72", SmallOrifice), 0, []AirHeard{"hangar"}, nil); !errors.Is(err, ErrAirHeard) || j.Reasons != nil {
		t.Errorf("air in the hangar: %+v, %v", j, err)
	}
	if _, err := JudgeLeak(heldTest(t, "72", SmallOrifice), -1, nil, nil); !errors.Is(err, ErrRange) {
		t.Errorf("negative bore: %v", err)
	}
	if _, err := JudgeLeak(LeakTest{Reading: 810, Orifice: SmallOrifice}, 0, nil, nil); !errors.Is(err, ErrAboveRegular) {
		t.Errorf("reading above 80: %v", err)
	}
}

// TestAirMeanings: every place that is listed means something of its own.
func TestAirMeanings(t *testing.T) {
	seen := map[string]AirHeard{}
	for _, place := range AirPlaces {
		m, err := place.Meaning()
		if err != nil || seen[m] != "" {
			t.Errorf("%s: %q, %v, as %q", place, m, err, seen[m])
		}
		seen[m] = place
	}
}

func TestRawChange(t *testing.T) {
	at := func(text string, o Value, regulated PSI) LeakTest {
		return LeakTest{Regulated: regulated, Reading: psi(t, text), Orifice: o}
	}
	for _, c := range []struct {
		before, after LeakTest
		want          PSI
		err           error
	}{
		{at("72", SmallOrifice, 0), at("68.5", SmallOrifice, 800), -35, nil},
		{at("0", SmallOrifice, 0), at("70", SmallOrifice, 0), 700, nil},
		{at("72", SmallOrifice, 0), at("72", LargeOrifice, 0), 0, ErrOrifices},
		{at("72", SmallOrifice, 0), at("72", SmallOrifice, 1000), 0, ErrRegulated},
		{at("72", SmallOrifice, 0), at("81", SmallOrifice, 0), 0, ErrAboveRegular},
		{at("72", 0, 0), at("72", 0, 0), 0, ErrRange},
	} {
		if got, err := RawChange(c.before, c.after); got != c.want || !errors.Is(err, c.err) {
			t.Errorf("%+v to %+v: %d, %v; want %d, %v", c.before, c.after, int64(got), err, int64(c.want), c.err)
		}
	}
}

// TestTrendLeak: by hand. A straight line through 0.5, 0.6, 0.7 mm² at 0, 100
// and 200 h rises 0.001 mm² an hour; with u = 0.01 each its error is
// 0.01/√(2 × 100²) = 7.07e-5. Areas 0, 1, 0 have no slope, χ² = (2/3)/u², and
// with u = 0.1 a scatter of √66.67 = 8.165. With one degree of freedom t is
// 6.314, with two 2.920 (NIST/SEMATECH e-Handbook 1.3.6.7.2).
func TestTrendLeak(t *testing.T) {
	for _, c := range []struct {
		what           string
		points         []Point
		slope, u       float64
		scatter        float64
		grows, shrinks bool
		words          string
	}{
		{"straight", []Point{{0, 0.5, 0.01, false}, {100, 0.6, 0.01, false}, {200, 0.7, 0.01, false}}, 0.001, 7.0711e-5, 1, true, false, "grows by about 0.1 mm² in 100 h"},
		{"straight down", []Point{{0, 0.7, 0.01, false}, {100, 0.6, 0.01, false}, {200, 0.5, 0.01, false}}, -0.001, 7.0711e-5, 1, false, true, "shrinks by about 0.1"},
		{"below 6.314 errors", []Point{{0, 0.5, 0.02, false}, {100, 0.58, 0.02, false}, {200, 0.66, 0.02, false}}, 0.0008, 1.41421e-4, 1, false, false, "No clear change"},
		{"above 6.314 errors", []Point{{0, 0.5, 0.01, false}, {100, 0.58, 0.01, false}, {200, 0.66, 0.01, false}}, 0.0008, 7.0711e-5, 1, true, false, "0.08 mm²"},
		{"one up", []Point{{0, 0, 0.1, false}, {1, 1, 0.1, false}, {2, 0, 0.1, false}}, 0, 0.1 / math.Sqrt2 * 8.16497, 8.16497, false, false, "No clear change"},
		{"two tests", []Point{{0, 0.5, 0.01, false}, {100, 0.6, 0.01, false}}, 0.001, 1.41421e-4, 1, false, false, "Too few"},
		{"one test", []Point{{0, 0.5, 0.01, false}}, 0, 0, 1, false, false, "Too few"},
		{"none", nil, 0, 0, 1, false, false, "Too few"},
		{"all at once", []Point{{5, 0.5, 0.01, false}, {5, 0.6, 0.01, false}, {5, 0.7, 0.01, false}}, 0, 0, 1, false, false, "Too few"},
		{"the surer test weighs more", []Point{{0, 0, 0.1, false}, {1, 0, 0.1, false}, {1, 3, 0.2, false}}, 0.6, 0.1 * math.Sqrt(1+0.8) * math.Sqrt(180), math.Sqrt(180), false, false, "No clear"},
	} {
		got, err := TrendLeak(c.points)
		if err != nil || math.Abs(got.PerHour-c.slope) > 1e-9 || math.Abs(got.PerHourU-c.u) > 1e-5*c.u+1e-15 || math.Abs(got.Scatter-c.scatter) > 1e-4 ||
			got.Grows != c.grows || got.Shrinks != c.shrinks || !strings.Contains(got.Words, c.words) || got.Tests != len(c.points) {
			t.Errorf("%s: %+v, %v; want slope %g ± %g, scatter %g", c.what, got, err, c.slope, c.u, c.scatter)
		}
	}
	for _, c := range []struct {
		points []Point
		want   error
	}{
		{[]Point{{Hours: 2}, {Hours: 1}}, ErrOrder},
		{[]Point{{Hours: 1, Y: math.NaN()}}, ErrNotFinite},
		{[]Point{{Hours: 1, U: -1}}, ErrRange},
	} {
		if got, err := TrendLeak(c.points); !errors.Is(err, c.want) || got.Tests != 0 {
			t.Errorf("%+v: %+v, %v; want %v", c.points, got, err, c.want)
		}
	}
}

// TestTrendSurvivesOrifice: a leak that grows steadily is read through one
// orifice, then through the other, in whole tenths. The raw readings jump by
// some 20 psi, the line stays within four of its errors of the truth.
func TestTrendSurvivesOrifice(t *testing.T) {
	random := rand.New(rand.NewSource(8))
	for range 200 {
		start, growth := 0.6+0.4*random.Float64(), 0.0005+0.0005*random.Float64()
		var points []Point
		for i := range 8 {
			hours := Hours(i * 5000)
			orifice := []Value{SmallOrifice, LargeOrifice}[random.Intn(2)]
			truth := leakOf(t, heldTest(t, "70", orifice))
			truth.Area = start + growth*hours.Float()
			through, err := truth.Through(orifice)
			if err != nil {
				t.Fatal(err)
			}
			test := heldTest(t, "70", orifice)
			test.Reading = PSI(math.Round(through * 10))
			test.Resolution = 1
			p, err := leakOf(t, test).Point(hours)
			if err != nil {
				t.Fatal(err)
			}
			points = append(points, p)
		}
		trend, err := TrendLeak(points)
		if err != nil || !trend.Grows || math.Abs(trend.PerHour-growth) > 4*trend.PerHourU {
			t.Errorf("truth %.6f mm²/h, line %.6f ± %.6f, %v", growth, trend.PerHour, trend.PerHourU, err)
		}
	}
}

// TestTrendUnits: areas in another unit and hours counted from elsewhere
// change nothing but the unit.
func TestTrendUnits(t *testing.T) {
	random := rand.New(rand.NewSource(9))
	for range 200 {
		var points, other []Point
		for i := range 3 + random.Intn(5) {
			p := Point{Hours: 50 * float64(i), Y: random.Float64(), U: 0.01 + 0.01*random.Float64()}
			points = append(points, p)
			other = append(other, Point{Hours: p.Hours + 300, Y: p.Y / 645.16, U: p.U / 645.16})
		}
		a, err := TrendLeak(points)
		b, err2 := TrendLeak(other)
		if err != nil || err2 != nil || math.Abs(a.PerHour-645.16*b.PerHour) > 1e-9 || math.Abs(a.PerHourU-645.16*b.PerHourU) > 1e-9 || a.Grows != b.Grows || math.Abs(b.Hours-a.Hours-300) > 1e-6 {
			t.Errorf("%+v and %+v, %v, %v", a, b, err, err2)
		}
	}
}

// TestTrendFinite: whatever goes in, a named error or finite numbers come out.
func TestTrendFinite(t *testing.T) {
	random := rand.New(rand.NewSource(10))
	for range 20_000 {
		var points []Point
		hours := 0.0
		for range random.Intn(6) {
			hours += math.Abs(wild(random))
			points = append(points, Point{Hours: hours, Y: wild(random), U: math.Abs(wild(random))})
		}
		trend, err := TrendLeak(points)
		if err != nil && !anyOf(err, ErrOrder, ErrRange, ErrNotFinite) {
			t.Fatalf("%+v: %v has no name", points, err)
		}
		finite(t, "trend", reflect.ValueOf(trend))
	}
}

// TestJudgeLeakRechecked: a suspect cylinder is to be rechecked warm (FAA AC
// 43.13-1B chg 1, para 8-14); one that was is not sent round again.
func TestJudgeLeakRechecked(t *testing.T) {
	for rechecked, want := range map[bool]string{false: "test again while it is warm", true: "rechecked warm"} {
		j, err := JudgeLeak(LeakTest{Reading: 560, Orifice: LargeOrifice, Resolution: 10, Rechecked: rechecked}, 0, []AirHeard{AirAtExhaust}, nil)
		if err != nil || j.Verdict != Beyond {
			t.Fatalf("%v, %v", j.Verdict, err)
		}
		if said := strings.Join(j.Reasons, " "); !strings.Contains(said, want) || rechecked && strings.Contains(said, "test again") {
			t.Errorf("rechecked %t: %q", rechecked, said)
		}
	}
}
