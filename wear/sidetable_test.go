package wear

import (
	"math"
	"math/rand/v2"
	"testing"
)

// inchU is a size in inches with its standard uncertainty.
func inchU(t *testing.T, text, u string) Gauged {
	t.Helper()
	return Gauged{Value: inchNM(t, text), U: float64(inchNM(t, u))}
}

// Clearance and its uncertainty, by definition of a fit and JCGM 100 (GUM) 5.1.2;
// the third row is an interference.
func TestFitOfTable(t *testing.T) {
	for _, c := range []struct {
		hole, holeU, shaft, shaftU string
		clearance, u, tolerance    float64 // inches
		origin                     string
	}{
		{"1.3142", "0.0002", "1.3119", "0.0002", 0.0023, 0.000282843, 1e-9, "1.3142 − 1.3119; 0.0002 √2"},
		{"5.2535", "0.0003", "5.2390", "0.0004", 0.0145, 0.0005, 1e-9, "the 3-4-5 triangle"},
		{"1.1246", "0.0001", "1.1250", "0", -0.0004, 0.0001, 1e-9, "one size exact"},
		{"0.5015", "0", "0.5000", "0", 0.0015, 0, 1e-12, "both exact"},
	} {
		f, err := FitOf(inchU(t, c.hole, c.holeU), inchU(t, c.shaft, c.shaftU))
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.origin+": clearance", f.Clearance.In(Inch), c.clearance, c.tolerance)
		near(t, c.origin+": u", f.U/25.4e6, c.u, c.tolerance)
	}
}

// A gap in another bore, exact by geometry: gap + π times the difference.
func TestGapInTable(t *testing.T) {
	for _, c := range []struct {
		gap, gapU, in, inU, runs, runsU string
		want, u, tolerance              float64 // inches
		origin                          string
	}{
		{"0.0200", "0.0003", "5.2500", "0", "5.2510", "0", 0.0200 + math.Pi*0.001, 0.0003, 1e-7, "π 0.001"},
		{"0.0200", "0", "5.2500", "0", "5.2480", "0", 0.0200 - math.Pi*0.002, 0, 1e-7, "a smaller bore"},
		{"0.0200", "0.0003", "5.2500", "0.0001", "5.2500", "0.0001", 0.0200, math.Sqrt(9e-8 + 2*math.Pi*math.Pi*1e-8), 1e-7, "the same bore; JCGM 100 (GUM) 5.1.2"},
		{"0", "0", "5.2500", "0", "5.2503", "0", math.Pi * 0.0003, 0, 1e-7, "ends that just touch"},
	} {
		g, err := GapIn(inchU(t, c.gap, c.gapU), inchU(t, c.in, c.inU), inchU(t, c.runs, c.runsU))
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.origin+": gap", g.Value.In(Inch), c.want, c.tolerance)
		near(t, c.origin+": u", g.U/25.4e6, c.u, c.tolerance)
	}
}

// Growth of a bore by gauge and by gap, exact by geometry; the bound is 1.96 times
// the root sum of squares (JCGM 100, GUM, 5.1.2; NIST/SEMATECH e-Handbook
// 1.3.6.7.1).
func TestCompareGrowthTable(t *testing.T) {
	for _, c := range []struct {
		worn, unworn, wide, narrow string
		byGap, byGauge, tolerance  float64 // inches
		disagree                   bool
		origin                     string
	}{
		{"0.0294", "0.0200", "5.2540", "5.2510", 0.0094 / math.Pi, 0.0030, 1e-8, false, "0.0094 / π"},
		{"0.0230", "0.0200", "5.2540", "5.2510", 0.0030 / math.Pi, 0.0030, 1e-8, true, "a gap misread by 0.0064"},
		{"0.0200", "0.0200", "5.2510", "5.2510", 0, 0, 1e-12, false, "no wear"},
	} {
		g, err := CompareGrowth(inchU(t, c.worn, "0.0003"), inchU(t, c.unworn, "0.0003"), inchU(t, c.wide, "0.0002"), inchU(t, c.narrow, "0.0002"))
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.origin+": by gap", g.ByGap/25.4e6, c.byGap, c.tolerance)
		near(t, c.origin+": by gauge", g.ByGauge/25.4e6, c.byGauge, c.tolerance)
		near(t, c.origin+": bound", g.Bound/25.4e6, 1.96*math.Sqrt(2*4e-8+2*9e-8/(math.Pi*math.Pi)), 1e-9)
		if g.Disagree != c.disagree {
			t.Errorf("%s: disagree %t", c.origin, g.Disagree)
		}
	}
}

// Root sums of squares: the end gauge of JCGM 100 (GUM) H.1, its figures from
// memory, in nanometres.
func TestCombinedTable(t *testing.T) {
	for _, c := range []struct {
		parts           []float64
		want, tolerance float64
		origin          string
	}{
		{[]float64{5.8, 3.9, 6.7}, 9.7, 0.05, "H.1.3.2, the difference of the two gauges"},
		{[]float64{25, 9.7, 2.9, 16.6}, 32, 0.5, "H.1.4, the length"},
		{[]float64{3, 4}, 5, 1e-12, "the 3-4-5 triangle"},
		{nil, 0, 0, "nothing"},
	} {
		got, err := Combined(c.parts...)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.origin, got, c.want, c.tolerance)
	}
}

// What geometry and the root sum of squares promise for any sizes: unit, order,
// sign and growth.
func TestSidesProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 25))
	some := func(base, spread int64) Gauged {
		return Gauged{Value: Value(base + rng.Int64N(spread)), U: 1000 + float64(rng.Int64N(9000))}
	}
	times := func(g Gauged, k int64) Gauged { return Gauged{Value: g.Value * Value(k), U: g.U * float64(k)} }
	for range 300 {
		a, b, wide, narrow := some(400_000, 400_000), some(400_000, 400_000), some(130_000_000, 100_000), some(130_000_000, 100_000)
		g, err := CompareGrowth(a, b, wide, narrow)
		if err != nil {
			t.Fatal(err)
		}
		back, _ := CompareGrowth(b, a, narrow, wide)
		near(t, "growth the other way", back.ByGap+g.ByGap+back.ByGauge+g.ByGauge, 0, 1e-6)
		big, _ := CompareGrowth(times(a, 3), times(b, 3), times(wide, 3), times(narrow, 3))
		near(t, "three times as large", big.Bound/g.Bound, 3, 1e-12)
		if big.Disagree != g.Disagree {
			t.Errorf("another scale, another answer: %+v, %+v", big, g)
		}

		gap, _ := GapIn(a, wide, narrow)
		again, _ := GapIn(Gauged{Value: max(gap.Value, 0)}, narrow, wide)
		if gap.Value > 0 {
			near(t, "there and back", float64(again.Value), float64(a.Value), 2)
		}
		more := narrow
		more.Value += 10_000
		if wider, _ := GapIn(a, wide, more); wider.Value <= gap.Value || wider.U != gap.U {
			t.Errorf("a wider bore: %+v after %+v", wider, gap)
		}

		fit, _ := FitOf(wide, narrow)
		other, _ := FitOf(narrow, wide)
		if fit.Clearance != -other.Clearance || fit.U != other.U {
			t.Errorf("hole and shaft changed over: %+v, %+v", fit, other)
		}

		parts := []float64{a.U, b.U, wide.U}
		u, _ := Combined(parts...)
		turned, _ := Combined(parts[2], parts[0], parts[1])
		scaled, _ := Combined(2*parts[0], 2*parts[1], 2*parts[2])
		near(t, "order", turned/u, 1, 1e-12)
		near(t, "scale", scaled/u, 2, 1e-12)
		if grown, _ := Combined(append(parts, 1)...); grown <= u || u < max(a.U, b.U, wide.U) || u > a.U+b.U+wide.U {
			t.Errorf("parts %v make %g, with one more %g", parts, u, grown)
		}
	}
}
