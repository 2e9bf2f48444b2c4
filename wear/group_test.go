package wear

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"
)

// Taking a share away is nearly as good as a refit in a group of some size, for
// the latest interval, whose wear is little, a bit less; the outcome may differ
// where the chance lies within a fifth of the level.
func TestWithoutAgainstRefit(t *testing.T) {
	runs, qs := fleet(3, 20, 4)
	runs[7] = runAt(bedded, 6, 0, 90, 200)
	s := DefaultSettings()
	f := newFitter(runs, Allowance{}, s)
	g, shares := f.group(-1)
	for i := range runs {
		rest, _ := f.group(i)
		want := rest.reference(s).judge(runs[i], qs[i], s)
		got := g.withoutOne(&shares[i], s).reference(s).judge(runs[i], qs[i], s)
		near(t, "ln ratio", math.Log(math.Max(got.Whole.Ratio, 0.05)/math.Max(want.Whole.Ratio, 0.05)), 0, 0.02)
		near(t, "p", got.Whole.P, want.Whole.P, 0.03)
		near(t, "p of the interval", got.Interval.P, want.Interval.P, 0.08)
		if got.State != want.State && math.Abs(want.P/s.FlagChance-1) > 0.2 {
			t.Errorf("run %d: %v, refit %v (p %.5f, %.5f)", i, got.State, want.State, got.P, want.P)
		}
	}
}

// Sums of the shares are the sums of the group, so that shares can be taken
// away one by one down to nothing.
func TestSharesAddUp(t *testing.T) {
	runs, _ := fleet(4, 3, 3)
	g, shares, err := FitGroup(runs, Allowance{}, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	var sums Sums
	var all Moments
	for _, sh := range shares {
		sums, all = sums.plus(sh.Sums, 1), all.plus(sh.Moments, 1)
	}
	near(t, "normal equations", sums.T2/g.Sums.T2, 1, 1e-12)
	near(t, "normal equations", sums.S22/g.Sums.S22, 1, 1e-12)
	near(t, "weights of the spread", all.A/g.Moments.A, 1, 1e-12)
	rest := g
	for _, sh := range shares {
		if rest, err = rest.Without(sh, DefaultSettings()); err != nil {
			t.Fatal(err)
		}
		if !(rest.LogSD > 0) || math.IsNaN(rest.Centre) || math.IsNaN(rest.W(100)) {
			t.Fatalf("after %d shares: %+v", len(shares)-rest.Runs, rest)
		}
	}
	if rest.Runs != 0 || rest.Curve.Form != NoCurve {
		t.Errorf("%d runs left, form %q", rest.Runs, rest.Curve.Form)
	}
}

// A group that was stored and read again judges alike.
func TestGroupStored(t *testing.T) {
	runs, qs := fleet(5, 2, 3)
	s := DefaultSettings()
	g, shares, err := FitGroup(runs, Allowance{PerHour: 3e-6, Life: 1500}, s)
	if err != nil {
		t.Fatal(err)
	}
	var g2 Group
	var share Share
	again(t, g, &g2)
	again(t, shares[4], &share)
	want, err := g.Judge(runs[4], &shares[4], qs[4], s)
	if err != nil {
		t.Fatal(err)
	}
	got, err := g2.Judge(runs[4], &share, qs[4], s)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "p", got.P, want.P, 0)
	near(t, "ratio", got.Ratio, want.Ratio, 0)
	near(t, "hours to limit", got.Forecast.Median, want.Forecast.Median, 0)
}

func again(t *testing.T, from, to any) {
	t.Helper()
	text, err := json.Marshal(from)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, to); err != nil {
		t.Fatal(err)
	}
}

// The fit finds the truth it was given, within four standard errors of 180
// parts in the simulation: log-sd/√(2·180) of the spread, log-sd/√180 of the
// centre.
func TestFitFindsTruth(t *testing.T) {
	for _, logSD := range []float64{0.15, 0.3, 0.5, 0.6} {
		truth := newTruth(rand.New(rand.NewPCG(9, 9)))
		truth.logSD = logSD
		var runs []Run
		for range 20 {
			hours := []float64{0, truth.uniform(50, 300)}
			hours = append(hours, hours[1]+truth.uniform(50, 300), hours[1]+600)
			for range cylinders {
				runs = append(runs, truth.part(hours, truth.normal()).run)
			}
		}
		g, _, err := FitGroup(runs, Allowance{}, DefaultSettings())
		if err != nil {
			t.Fatal(err)
		}
		near(t, "log-sd", g.LogSD, logSD, 4*logSD/math.Sqrt(360)+0.02)
		for _, h := range []float64{150, 400, 800} {
			near(t, "ln W over truth", math.Log(g.W(h)/truth.wear(h)), 0, 4*logSD/math.Sqrt(180)+0.05)
		}
		if g.Wander > 0.1 {
			t.Errorf("wander %.3f where there is none", g.Wander)
		}
	}
}

// Wander of the readings beyond the gauge's error is found, and widens what is
// foretold.
func TestWander(t *testing.T) {
	truth := newTruth(rand.New(rand.NewPCG(2, 2)))
	var even, uneven []Run
	for range 60 {
		r := truth.part([]float64{0, 300, 600, 900}, truth.normal()).run
		even = append(even, r)
		u := Run{Points: append([]Point{}, r.Points...)}
		for i := range u.Points[1:] {
			u.Points[i+1].Y += 0.25 * truth.rng.NormFloat64() * truth.wear(u.Points[i+1].Hours)
		}
		uneven = append(uneven, u)
	}
	g, _, err := FitGroup(even, Allowance{}, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	w, _, err := FitGroup(uneven, Allowance{}, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	if g.Wander > 0.1 || w.Wander < 0.15 || w.Wander > 0.35 {
		t.Errorf("wander %.3f of even parts and %.3f of uneven ones, want about 0 and 0.25", g.Wander, w.Wander)
	}
	a, err := g.PredictReading(even[0], nil, 1200, truth.u(), DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	b, err := w.PredictReading(even[0], nil, 1200, truth.u(), DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	if !(b.High-b.Low > 1.3*(a.High-a.Low)) {
		t.Errorf("prediction %v with wander, %v without", b, a)
	}
}

func TestBandHoldsNormalParts(t *testing.T) {
	g, _, err := FitGroup(references(0, 120, 260, 500), Allowance{}, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	low, high, err := g.Band(260, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	middle := g.W(260)
	if !(0 < low && low < middle && middle < high) {
		t.Fatalf("band %g to %g about %g", low, high, middle)
	}
	near(t, "middle of the band", math.Sqrt(low*high)/middle, 1, 1e-9)
	near(t, "W over truth", middle/bedded.W(260), 1, 0.1)
	h, more := g.HoursAt(middle)
	if more {
		t.Error("260 h out of reach")
	}
	near(t, "hours at the wear of 260 h", h, 260, 1e-6)
}
