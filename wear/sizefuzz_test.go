package wear

import (
	"errors"
	"math"
	"slices"
	"testing"
)

// FuzzSizes: barrels, oversizes, fits, end gaps, temperature and verdicts.
func FuzzSizes(f *testing.F) {
	feeds(f)
	stations, axes := []string{"top", "upper", "middle", "bottom"}, []string{"thrust", "pin"}
	f.Fuzz(func(t *testing.T, data []byte) {
		in := &feed{data}
		var spots [2][]SpotReading
		for i := range spots {
			for range in.small(9) {
				spot, g := Spot{stations[in.small(4)], axes[in.small(2)]}, in.gauged()
				spots[i] = append(spots[i], SpotReading{spot, g, []float64{0, g.U / 2, g.U, in.float()}[in.small(4)]})
			}
		}
		if s, err := ShapeOf(stations, spots[0], spots[1]); sound(t, "shape", s, err, ErrNoSpots, ErrStation, ErrSpotTwice, ErrRange, ErrNotFinite) {
			for _, x := range spots[0] {
				if x.Value > s.Largest.Value {
					t.Fatalf("the largest is %d, but %d was given", s.Largest.Value, x.Value)
				}
			}
		}
		listed := []Value{in.value(), in.value(), in.value()}
		if c, err := SmallestOversize(in.value(), listed, in.gauged(), in.value()); sound(t, "oversize", c, err, ErrRange, ErrNotFinite) && c.Clears && !slices.Contains(listed, c.Oversize) {
			t.Fatalf("oversize %d is not listed in %d", c.Oversize, listed)
		}
		hole, shaft := in.gauged(), in.gauged()
		fit, err := FitOf(hole, shaft)
		if sound(t, "fit", fit, err, ErrRange, ErrNotFinite) {
			back, err := FitOf(shaft, hole)
			if err != nil || back.Clearance != -fit.Clearance {
				t.Fatalf("fit %d, and the other way round %d (%v)", fit.Clearance, back.Clearance, err)
			}
		}
		gap, err := GapIn(in.gauged(), in.gauged(), in.gauged())
		sound(t, "gap", gap, err, ErrRange, ErrNotFinite)
		growth, err := CompareGrowth(in.gauged(), in.gauged(), in.gauged(), in.gauged())
		sound(t, "growth", growth, err, ErrRange, ErrNotFinite)
		at20, err := At20(in.gauged(), in.float(), in.float(), Material{Alpha: in.float() / 1e6})
		sound(t, "at 20 °C", at20, err, ErrRange, ErrNotFinite)
		celsius := in.float()
		counted := Count(BuiltIn[in.small(len(BuiltIn))], in.gauged(), &celsius, Material{Alpha: in.float() / 1e6})
		if !counted.Carried && counted.WarmthU != 0 {
			t.Fatalf("not carried, and the temperature adds %g", counted.WarmthU)
		}
		u, err := Combined(in.float(), in.float(), in.float())
		sound(t, "combined", u, err, ErrRange, ErrNotFinite)
	})
}

// FuzzVerdict: a verdict is never better for a size further out.
func FuzzVerdict(f *testing.F) {
	feeds(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		in := &feed{data}
		l, u := in.limit(), in.float()
		v, more := in.value(), Value(in.byte())*1000
		near := Assess(v, u, l)
		sound(t, "verdict", near, nil)
		if l.ServiceMax != nil && l.ServiceMin == nil && v > 0 && v < largest && *l.ServiceMax > -largest {
			if far := Assess(v+more, u, l); far.Verdict < near.Verdict && near.Verdict >= Undecided {
				t.Fatalf("%d is %s, %d is %s, with %+v", v, near.Verdict, v+more, far.Verdict, l)
			}
		}
		if near.Plain == Undecided || near.Verdict < NoLimit || near.Verdict > Beyond {
			t.Fatalf("verdict %+v", near)
		}
		sound(t, "shifted", l.Shifted(in.value()), nil)
		if n, ok := l.Nominal(); ok {
			sound(t, "nominal", n, nil)
		}
		if mid, u, ok := l.MiddleOfNew(); ok && (math.IsNaN(mid) || math.IsNaN(u) || u < 0) {
			t.Fatalf("the middle of new is %g ± %g", mid, u)
		}
		if per, ok := l.AllowancePerHour(); ok && (math.IsNaN(per) || math.IsInf(per, 0)) {
			t.Fatalf("allowance %g", per)
		}
		if m, err := MatchFitOf(l, in.byte() < 128); sound(t, "fit", m, err, ErrMatchFit) && m.Min > m.Max {
			t.Fatalf("fit %+v", m)
		}
		sound(t, "fit limit", FitLimit(l, in.limit()), nil)
	})
}

// FuzzWords: what people type where it is no size, and sizes from elsewhere.
func FuzzWords(f *testing.F) {
	for _, text := range []string{"", "80", "62.5", "-1", "300.1", "1e2", " 7 ", "2024-02-30", "2024-02-29", "1899-12-31", "2200-01-01", "installed new", "Ground to oversize", "cylinder", "up", "in", "µm", "\xff"} {
		f.Add(text, 5.2535, uint8(0))
		f.Add(text, math.Inf(1), uint8(9))
	}
	f.Fuzz(func(t *testing.T, text string, x float64, which uint8) {
		if p, err := ParsePSI(text); sound(t, "pressure", p, err, ErrNoNumber, ErrNegative, ErrTooFine, ErrTooLarge) {
			if back, err := ParsePSI(p.String()); p < 0 || p > mostPSI || err != nil || back != p {
				t.Fatalf("%q is %s psi, and again %s (%v)", text, p, back, err)
			}
		}
		if d, err := ParseDay(text); sound(t, "day", d, err, ErrDay) && string(d) != text {
			t.Fatalf("%q is the day %s", text, d)
		}
		if e, ok := ParseEvent(text); ok && e.Since() == "" {
			t.Fatalf("event %q begins nothing", e)
		}
		if k, ok := ParseKind(text); ok && MaterialOf(k).Alpha <= 0 {
			t.Fatalf("kind %q is of nothing", k)
		}
		if d, ok := ParseDirection(text); ok && math.Abs(d.Sign()) > 1 {
			t.Fatalf("direction %q", d)
		}
		if u, err := UnitNamed(text); sound(t, "unit", nil, err, ErrNoUnit) {
			if again, err := UnitNamed(u.Name); err != nil || again.Name != u.Name {
				t.Fatalf("unit %q is again %q (%v)", u.Name, again.Name, err)
			}
		}
		u := knownUnits[int(which)%len(knownUnits)]
		if v, err := ValueOf(x, u); sound(t, "value", v, err, ErrTooLarge) {
			if back := v.In(u); math.Abs(back-x) > math.Abs(x)*1e-12+1/unitSize(u) {
				t.Fatalf("%g %s comes back as %g", x, u.Name, back)
			}
			if v.Format(u) == "" {
				t.Fatalf("%g %s is written as nothing", x, u.Name)
			}
		}
		if _, err := ValueOf(x, Unit{}); !errors.Is(err, ErrNoUnit) {
			t.Fatalf("without a unit: %v", err)
		}
	})
}

// unitSize is a unit in base units.
func unitSize(u Unit) float64 {
	f, _ := u.base.Float64()
	return f
}
