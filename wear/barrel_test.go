package wear

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// inchNM is a length in inches as nanometres, for tests.
func inchNM(t testing.TB, text string) Value {
	t.Helper()
	v, err := ParseValue(text, Inch)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

var fivePoints = []string{"A", "B", "C", "D", "E"}

// spots are readings at the points A to E in two directions, inches.
func spots(t testing.TB, u float64, rows ...[2]string) []SpotReading {
	t.Helper()
	var out []SpotReading
	for i, r := range rows {
		for a, axis := range []string{"thrust", "pin"} {
			out = append(out, SpotReading{Spot{fivePoints[i], axis}, Gauged{inchNM(t, r[a]), u}, 0})
		}
	}
	return out
}

// Limits of a public table: US Army TM 9-2815-220-24 WP 0135, bore 5.7510 to
// 5.7530 in new, wear limit 5.7600, out-of-round 0.0020 new and 0.0030 worn,
// points A to E in two directions, averaged; replaced when the average at the
// head end exceeds that at the flange end. The readings are made to lie on and
// about those limits, the expected figures reckoned by hand.
func TestShapeAgainstTable(t *testing.T) {
	b, err := ShapeOf(fivePoints, spots(t, 3000, [2]string{"5.7600", "5.7570"}, [2]string{"5.7560", "5.7550"}, [2]string{"5.7550", "5.7545"}, [2]string{"5.7540", "5.7540"}, [2]string{"5.7535", "5.7530"}),
		spots(t, 4000, [2]string{"5.7530", "5.7530"}, [2]string{"5.7520", "5.7520"}))
	if err != nil {
		t.Fatal(err)
	}
	const in = 25.4e6
	top, bottom := b.Stations[0], b.Stations[4]
	near(t, "mean at the head", top.Mean, 5.7585*in, 1e-12)
	near(t, "its u", top.MeanU, 3000/math.Sqrt2, 1e-12)
	near(t, "out-of-round at the head", top.OutOfRound, 0.0030*in, 1e-9)
	near(t, "its u", top.OutOfRoundU, 3000*math.Sqrt2, 1e-12)
	near(t, "mean at the flange", bottom.Mean, 5.75325*in, 1e-12)
	near(t, "taper", b.Taper, 0.00525*in, 1e-9)
	near(t, "its u", b.TaperU, 3000, 1e-12)
	if b.Largest.Spot != (Spot{"A", "thrust"}) || b.Largest.Value != inchNM(t, "5.7600") {
		t.Errorf("largest %+v", b.Largest)
	}
	worn := inchNM(t, "5.7600")
	if a := Assess(b.Largest.Value, 0, Limit{ServiceMax: &worn, Wear: Up}); a.Verdict != Serviceable {
		t.Errorf("on the wear limit: %s", a.Verdict)
	}
	near(t, "step", b.Step, -0.0030*in, 1e-9)
	if b.StepFrom != "A" || b.StepTo != "B" {
		t.Errorf("step from %s to %s", b.StepFrom, b.StepTo)
	}
	if b.MostWorn == nil || b.MostWorn.Spot != (Spot{"A", "thrust"}) || len(b.Wear) != 4 || len(b.New) != 6 {
		t.Fatalf("wear %+v, without baseline %v", b.Wear, b.New)
	}
	near(t, "most worn", b.MostWorn.Wear, 0.0070*in, 1e-9)
	near(t, "its u", b.MostWorn.U, 5000, 1e-12)
}

// What the readings of one measuring share stays in their mean and cancels in
// their differences; two measurings share nothing. Each expected value is the
// combined variance with the covariances s·s written out, Σᵢⱼ cᵢcⱼ cov(i, j)
// (JCGM 100 (GUM) 5.2.2), o = 3, s = 4, U = 5.
func TestShapeSharedErrors(t *testing.T) {
	at := func(station, axis string, size Value) SpotReading {
		return SpotReading{Spot{station, axis}, Gauged{size, 5}, 4}
	}
	now := []SpotReading{at("A", "thrust", 130_010_000), at("A", "pin", 130_004_000), at("E", "thrust", 130_001_000), at("E", "pin", 130_000_000)}
	b, err := ShapeOf(fivePoints, now, now)
	if err != nil {
		t.Fatal(err)
	}
	u := func(c ...float64) float64 { // of Σ c x of readings of one measuring
		sum := 0.0
		for i := range c {
			for j := range c {
				cov := 4.0 * 4.0
				if i == j {
					cov = 5.0 * 5.0
				}
				sum += c[i] * c[j] * cov
			}
		}
		return math.Sqrt(sum)
	}
	near(t, "mean", b.Stations[0].MeanU, u(0.5, 0.5), 1e-12)
	near(t, "mean, not shared", b.Stations[0].OwnU, 3/math.Sqrt2, 1e-12)
	near(t, "out-of-round", b.Stations[0].OutOfRoundU, u(1, -1), 1e-12)
	near(t, "taper", b.TaperU, u(0.5, 0.5, -0.5, -0.5), 1e-12)
	near(t, "wear", b.MostWorn.U, 5*math.Sqrt2, 1e-12)
	now[1].U, now[1].Shared = 5, 0 // another person read it
	if b, err = ShapeOf(fivePoints, now, nil); err != nil {
		t.Fatal(err)
	}
	near(t, "out-of-round, nothing shared", b.Stations[0].OutOfRoundU, 5*math.Sqrt2, 1e-12)
}

// Choke is a taper below zero, and one axis or one station tells less.
func TestShapeOfLittle(t *testing.T) {
	one := []SpotReading{{Spot{"A", "pin"}, Gauged{100e6, 500}, 0}}
	b, err := ShapeOf(fivePoints, one, nil)
	if err != nil || b.Tapers || b.Stations[0].Round || b.MostWorn != nil || len(b.New) != 1 {
		t.Errorf("%+v %v", b, err)
	}
	b, err = ShapeOf(fivePoints, append(one, SpotReading{Spot{"E", "pin"}, Gauged{100.01e6, 500}, 0}), nil)
	if err != nil || !b.Tapers || b.Taper != -10_000 {
		t.Errorf("choke %g, %v", b.Taper, err)
	}
}

// Like axis with like: at the head only the thrust axis was measured, so that
// alone tells the taper, 5.7550 - 5.7530.
func TestTaperOfSharedAxes(t *testing.T) {
	read := func(station, axis, size string) SpotReading {
		return SpotReading{Spot{station, axis}, Gauged{inchNM(t, size), 1000}, 0}
	}
	b, err := ShapeOf(fivePoints, []SpotReading{read("A", "thrust", "5.7550"), read("E", "thrust", "5.7530"), read("E", "pin", "5.7560")}, nil)
	if err != nil || !b.Tapers || math.Abs(b.Taper-0.0020*25.4e6) > 1e-3 {
		t.Errorf("taper %g nm, %v", b.Taper, err)
	}
	if b, err = ShapeOf(fivePoints, []SpotReading{read("A", "thrust", "5.7550"), read("E", "pin", "5.7560")}, nil); err != nil || b.Tapers {
		t.Errorf("no axis shared: %+v %v", b, err)
	}
}

func TestShapeRefusals(t *testing.T) {
	good := SpotReading{Spot{"A", "pin"}, Gauged{100e6, 500}, 0}
	change := func(f func(r *SpotReading)) []SpotReading {
		r := good
		f(&r)
		return []SpotReading{r}
	}
	for name, c := range map[string]struct {
		now, was []SpotReading
		want     error
	}{
		"nothing":          {nil, nil, ErrNoSpots},
		"other station":    {change(func(r *SpotReading) { r.Station = "F" }), nil, ErrStation},
		"twice":            {[]SpotReading{good, good}, nil, ErrSpotTwice},
		"no size":          {change(func(r *SpotReading) { r.Value = 0 }), nil, ErrRange},
		"u below 0":        {change(func(r *SpotReading) { r.U = -1 }), nil, ErrRange},
		"u not a number":   {change(func(r *SpotReading) { r.U = math.NaN() }), nil, ErrNotFinite},
		"shared below 0":   {change(func(r *SpotReading) { r.Shared = -1 }), nil, ErrRange},
		"shared above u":   {change(func(r *SpotReading) { r.Shared = 501 }), nil, ErrRange},
		"shared no number": {change(func(r *SpotReading) { r.Shared = math.NaN() }), nil, ErrNotFinite},
		"baseline of none": {[]SpotReading{good}, change(func(r *SpotReading) { r.Station = "" }), ErrStation},
	} {
		if _, err := ShapeOf(fivePoints, c.now, c.was); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}

// Adding the same to every diameter moves the means by it and nothing else;
// turning the barrel round turns the taper's sign.
func TestShapeProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 5))
	for range 200 {
		var now, moved, turned []SpotReading
		for i, s := range fivePoints {
			for _, a := range []string{"thrust", "pin"} {
				g := Gauged{Value(130e6 + r.IntN(200_000)), 1000 + r.Float64()}
				now = append(now, SpotReading{Spot{s, a}, g, 0})
				turned = append(turned, SpotReading{Spot{fivePoints[4-i], a}, g, 0})
				g.Value += 12_345
				moved = append(moved, SpotReading{Spot{s, a}, g, 0})
			}
		}
		a, err1 := ShapeOf(fivePoints, now, now)
		b, err2 := ShapeOf(fivePoints, moved, now)
		c, err3 := ShapeOf(fivePoints, turned, nil)
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		if math.Abs(a.Taper-b.Taper) > 1e-3 || math.Abs(a.Taper+c.Taper) > 1e-3 || a.Largest.Value+12_345 != b.Largest.Value || a.Largest.Value != c.Largest.Value {
			t.Fatalf("taper %g, moved %g, turned %g", a.Taper, b.Taper, c.Taper)
		}
		for i := range b.Wear {
			if a.Wear[i].Wear != 0 || b.Wear[i].Wear != 12_345 {
				t.Fatalf("wear %+v", b.Wear[i])
			}
		}
	}
}

func ExampleShapeOf() {
	read := func(station, axis string, mm float64) SpotReading {
		v, _ := ValueOf(mm, Millimetre)
		return SpotReading{Spot{station, axis}, Gauged{v, 2000}, 0}
	}
	b, err := ShapeOf([]string{"top", "bottom"}, []SpotReading{read("top", "thrust", 130.08), read("top", "pin", 130.05), read("bottom", "thrust", 130.02), read("bottom", "pin", 130.02)}, nil)
	if err != nil {
		panic(err)
	}
	fmt.Printf("taper %.3f mm, out of round %.3f mm at the top\n", b.Taper/1e6, b.Stations[0].OutOfRound/1e6)
	// Output: taper 0.045 mm, out of round 0.030 mm at the top
}

// The smallest listed oversize with standard + oversize ≥ largest + clean-up; of
// FAA-H-8083-32 the example and its oversizes, the other rows sums by hand.
func TestSmallestOversize(t *testing.T) {
	v := func(s string) Value { return inchNM(t, s) }
	usual := []Value{v("0.030"), v("0.010"), v("0.015"), v("0.020")}
	for _, c := range []struct {
		largest, allowance, oversize, finish string
		unsure                               bool
		origin                               string
	}{
		{"3.8860", "0.002", "0.015", "3.890", false, "worked in FAA-H-8083-32: 3.875 and 0.015 oversize give 3.890"},
		{"3.8880", "0.002", "0.015", "3.890", true, "by hand: 3.8880 + 0.002 = 3.890, just clears: the gauge could say 0.020"},
		{"3.8801", "0.005", "0.015", "3.890", true, "by hand: 3.8801 + 0.005 = 3.8851, past 3.885 by less than U"},
		{"3.8840", "0", "0.010", "3.885", false, "by hand: 3.8840 lies 0.001 below 3.885"},
	} {
		got, err := SmallestOversize(v("3.875"), usual, Gauged{v(c.largest), 3000}, v(c.allowance))
		if err != nil || !got.Clears || got.Oversize != v(c.oversize) || got.Finish != v(c.finish) || got.Unsure != c.unsure || got.Metal != v(c.finish)-v(c.largest) {
			t.Errorf("%s + %s: %+v %v (%s)", c.largest, c.allowance, got, err, c.origin)
		}
	}
	got, err := SmallestOversize(v("3.875"), usual, Gauged{v("3.9080"), 3000}, v("0.002"))
	if err != nil || got.Clears || got.Short != v("0.005") {
		t.Errorf("none clears: %+v %v", got, err)
	}
	if got, err = SmallestOversize(v("3.875"), nil, Gauged{v("3.8760"), 0}, 0); err != nil || got.Clears || got.Short != v("0.001") {
		t.Errorf("none listed: %+v %v", got, err)
	}
	for _, bad := range []Gauged{{0, 1}, {v("3.9"), -1}, {v("3.9"), math.NaN()}, {v("3.9"), math.Inf(1)}} {
		if _, err := SmallestOversize(v("3.875"), usual, bad, 0); !errors.Is(err, ErrRange) {
			t.Errorf("%+v: %v", bad, err)
		}
	}
	if _, err := SmallestOversize(v("3.875"), []Value{0}, Gauged{v("3.9"), 1}, 0); !errors.Is(err, ErrRange) {
		t.Errorf("an oversize of nothing: %v", err)
	}
}

// What is picked clears, and nothing smaller that is listed would.
func TestSmallestOversizeIsSmallest(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	for range 2000 {
		var listed []Value
		for range r.IntN(5) {
			listed = append(listed, Value(1+r.IntN(1000)))
		}
		spot, allowance := Value(100_000+r.IntN(1200)), Value(r.IntN(100))
		c, err := SmallestOversize(100_000, listed, Gauged{spot, 0}, allowance)
		if err != nil {
			t.Fatal(err)
		}
		for _, o := range listed {
			if clears := 100_000+o >= spot+allowance; clears && (!c.Clears || o < c.Oversize) {
				t.Fatalf("%d would clear %d: %+v", o, spot, c)
			}
		}
		if c.Clears && c.Finish < spot+allowance {
			t.Fatalf("%+v does not clear %d", c, spot)
		}
	}
}

func ExampleSmallestOversize() {
	in := func(text string) Value { v, _ := ParseValue(text, Inch); return v }
	c, err := SmallestOversize(in("3.875"), []Value{in("0.010"), in("0.015"), in("0.020")}, Gauged{in("3.8860"), 2540}, in("0.002"))
	if err != nil {
		panic(err)
	}
	fmt.Println(c.Oversize.Format(Inch), "finishes at", c.Finish.Format(Inch))
	// Output: 0.0150 finishes at 3.8900
}
