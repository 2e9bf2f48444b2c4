package wear

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// FuzzValues: sizes and hours from one end of their range to the other. A size
// further out never has the better verdict, sums stop at the end of the range
// instead of coming round, and every value can be written.
func FuzzValues(f *testing.F) {
	f.Add(int64(128_270_000), int64(128_320_000), int64(254_000), 2540.0)
	f.Add(int64(math.MinInt64), int64(math.MaxInt64), int64(-1), math.NaN())
	f.Add(int64(-9e18), int64(9e18), int64(math.MinInt64), math.Inf(1))
	f.Add(int64(0), int64(math.MinInt64), int64(math.MaxInt64), -1e300)
	f.Fuzz(func(t *testing.T, a, b, c int64, u float64) {
		near, far, bound := Value(min(a, b)), Value(max(a, b)), Value(c)
		up, down := Limit{NewMax: &near, ServiceMax: &bound, Wear: Up}, Limit{NewMin: &far, ServiceMin: &bound, Wear: Down}
		for _, l := range []Limit{up, down} {
			good, bad := Assess(near, u, l), Assess(far, u, l)
			if l.Wear == Down {
				good, bad = bad, good
			}
			sound(t, "verdict", []Assessment{good, bad}, nil)
			if bad.Verdict < good.Verdict || bad.Plain < good.Plain || bad.Room > good.Room {
				t.Fatalf("from %d to %d with the limit %d: %+v, %+v", near, far, bound, good, bad)
			}
			if moved := *l.Shifted(max(bound, 0)).bound(); moved < bound {
				t.Fatalf("%d moves up to %d", bound, moved)
			}
		}
		if fit := FitLimit(Limit{NewMin: &far}, Limit{NewMax: &near}); *fit.NewMin < 0 {
			t.Fatalf("%d less %d is %d", far, near, *fit.NewMin)
		}
		if text := FitText(bound, Inch); strings.Contains(text, "-") {
			t.Fatalf("fit %d is written %s", c, text)
		}
		if text := Hours(c).String(); strings.LastIndex(text, "-") > 0 || strings.HasPrefix(text, "-") != (c < 0) {
			t.Fatalf("%d hundredths are written %s", c, text)
		}
		for _, unit := range append(knownUnits, Unit{}) {
			sound(t, "number", bound.In(unit), nil)
			if bound.Format(unit) == "" {
				t.Fatalf("%d is written as nothing", c)
			}
		}
		sound(t, "uncertainties", []float64{ExpandedU(u), StandardUncertainty(u, float64(c), u), StandardUncertainty(float64(c), u, float64(c))}, nil)
	})
}

// bound is the service bound of a limit that has one.
func (l Limit) bound() *Value {
	if l.ServiceMax != nil {
		return l.ServiceMax
	}
	return l.ServiceMin
}

func TestGapUncertaintyBelowNothing(t *testing.T) {
	good := RingSizes{From: FromFreeGap, FreeGap: Gauged{14_000_000, 5000}, ClosedGap: Gauged{400_000, 1000}, Radial: Gauged{5_000_000, 1000}, Bore: Gauged{130_000_000, 2000}, Modulus: 1e5}
	if _, err := PressureOf(good); err != nil {
		t.Fatal(err)
	}
	free, closed := good, good
	free.FreeGap.U, closed.ClosedGap.U = -5000, -1000
	for _, bad := range []RingSizes{free, closed} {
		if _, err := PressureOf(bad); !errors.Is(err, ErrRange) {
			t.Errorf("%+v: %v", bad, err)
		}
	}
}

func TestNegativeLeakHasNoTrend(t *testing.T) {
	if _, err := TrendLeak([]Point{{Hours: 1, Y: -0.1, U: 1}, {Hours: 2, Y: 1, U: 1}}); !errors.Is(err, ErrRange) {
		t.Errorf("an area below 0: %v", err)
	}
}

func TestStationNamedTwice(t *testing.T) {
	b, err := ShapeOf([]string{"A", "A"}, []SpotReading{{Spot{"A", ""}, Gauged{130_000_000, 1000}, 0}}, nil)
	if err != nil || len(b.Stations) != 1 || b.Tapers {
		t.Errorf("%+v, %v", b, err)
	}
}
