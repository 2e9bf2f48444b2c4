package wear

import (
	"math"
	"testing"
)

// FuzzGroup: groups and engines under any settings, and wear at any hours.
// What is refused is refused by name; chances lie from 0 to 1, bands and
// predictions in their order.
func FuzzGroup(f *testing.F) {
	runs := []byte{1, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 20, 30, 40, 41, 60, 70, 80, 90, 100, 110, 120, 130}
	f.Add(runs, 1e-3, 300.0, 0.35, 8.0, 0.18, 8.0, 0.7, 2.5, 0.005)
	f.Add(runs, 1e-3, math.NaN(), 0.35, 8.0, 0.18, 8.0, 0.7, 2.5, 0.005)
	f.Add(runs, 1e-3, math.Inf(1), 3.0, 1.0, 3.0, 1.0, 3.0, 1e-5, 0.9)
	f.Add(runs, 1e9, -1.0, 1.1e-6, 1e6, 1.1e-6, 1e6, 1.1e-6, 1e6, 1.1e-6)
	f.Add(runs, 1e12, 1e300, math.NaN(), -1.0, 0.0, math.Inf(1), 0.7, 2.5, 0.005)
	f.Add([]byte{3, 9, 250, 0, 9, 9, 0, 9, 250, 0, 10, 0, 0, 1, 250, 250, 1, 1, 1, 0, 0, 0, 200, 200, 0}, 1e-12, 1e12, 3.0, 1.0, 3.0, 1.0, 3.0, 2.5, 0.005)
	f.Add([]byte("10!00001C0080C080A00000(00000(00000(00000(00020(00000(00000(00000(000C000000000000000000000000000000000000"), 3.000000000001002, 3.3333333236833332e+10, 3.0, 1.0, 3.0, 1.0, 0.75, 46.5, 0.005) // quantiles nearer to each other than they are found
	f.Fuzz(func(t *testing.T, data []byte, unit, hours, part, parts, engine, engines, allowance, trim, chance float64) {
		s := DefaultSettings()
		s.PriorLogSD, s.PriorParts, s.PriorEngineLogSD, s.PriorEngines = part, parts, engine, engines
		s.AllowanceLogSD, s.Trim, s.EngineChance = allowance, trim, chance
		all := fuzzRuns(data, unit)
		n := len(all) * 2 / 3
		named := []error{ErrOrder, ErrNotFinite, ErrRange, ErrSettings}
		a := Allowance{PerHour: math.Abs(unit) / 100, Life: 1000}
		g, shares, err := FitGroup(all[:n], a, s)
		if !sound(t, "group", g, err, named...) {
			return
		}
		sound(t, "shares", shares, nil)
		for _, h := range []float64{hours, 300, math.NaN(), math.Inf(1), math.MaxFloat64} {
			sound(t, "wear", g.W(h), nil)
			at, _ := g.HoursAt(h)
			sound(t, "hours", at, nil)
			low, high, err := g.Band(h, s)
			if err != nil {
				t.Fatal(err)
			}
			sound(t, "band", []float64{low, high}, nil)
			if low > high {
				t.Fatalf("band from %g to %g at %g", low, high, h)
			}
		}
		if len(all) > 0 {
			p, err := g.PredictReading(all[0], nil, hours, math.Abs(unit), s)
			if sound(t, "prediction", p, err, append(named, ErrNoReference)...) && (p.Low > p.Median || p.Median > p.High) {
				t.Fatalf("prediction %+v", p)
			}
		}
		var each []EngineShare
		for from := 0; from < n; from += 3 {
			e, err := g.EngineShareOf(from, shares[from:min(from+3, n)], s)
			if sound(t, "engine share", e, err) {
				each = append(each, e)
			}
		}
		each = append(each, EngineShare{Engine: -1, Parts: 3, X: hours, Variance: math.Abs(unit)})
		between, err := FitEngines(each, s)
		if !sound(t, "engines", between, err, ErrRange) {
			return
		}
		for _, runs := range [][]Run{all[n:], all[:n]} {
			rest, err := between.Without(each[0])
			if !sound(t, "engines without one", rest, err, ErrRange) {
				continue
			}
			j, err := g.JudgeEngine(runs, nil, rest, s)
			if !sound(t, "engine", j, err, named...) {
				continue
			}
			if j.P < 0 || j.P > 1 || j.RatioLow > j.Ratio || j.Ratio > j.RatioHigh {
				t.Fatalf("engine %+v", j)
			}
		}
	})
}
