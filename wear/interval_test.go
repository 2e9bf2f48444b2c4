package wear

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestIntervalPlaces(t *testing.T) {
	for _, c := range []struct {
		hours    []float64
		from, to int
		ok       bool
	}{
		{nil, 0, 0, false}, {[]float64{0}, 0, 0, false}, {[]float64{0, 100}, 0, 1, false}, {[]float64{5, 5, 5}, 0, 0, false},
		{[]float64{0, 100, 100}, 0, 1, false},        // two different hours: the whole run
		{[]float64{0, 0, 100}, 0, 2, false},          // likewise
		{[]float64{0, 100, 250}, 1, 2, true},         // the plain case
		{[]float64{0, 100, 250, 250}, 1, 2, true},    // both readings of the latest hours
		{[]float64{0, 100, 100, 250}, 1, 3, true},    // both readings it begins with
		{[]float64{0, 0, 100, 250, 400}, 3, 4, true}, // never more than two inspections
	} {
		var points []Point
		for _, h := range c.hours {
			points = append(points, Point{Hours: h})
		}
		if from, to, ok := interval(points); from != c.from || to != c.to || ok != c.ok {
			t.Errorf("%v: %d, %d, %v, want %d, %d, %v", c.hours, from, to, ok, c.from, c.to, c.ok)
		}
	}
}

// lateRun wears as the curve up to the hours turn and k times as fast after.
func lateRun(c Curve, k, turn float64, hours ...float64) Run {
	r := runAt(c, 1, hours...)
	for i, h := range hours {
		r.Points[i].Y += (k - 1) * math.Max(c.W(h)-c.W(turn), 0)
	}
	return r
}

var limit5 = Question{Limit: 5.006, HasLimit: true}

// A part that wore normally for 600 h and then five times as fast: the whole
// run still looks nearly normal, its latest interval does not. Its readings
// are exact, so that the ratio over the interval is 5 by construction; the
// curve fitted to the eight others is within 10 % of the truth.
func TestLateChange(t *testing.T) {
	refs := references(0, 300, 600, 800)
	j := judgeAmong(t, append(refs, lateRun(bedded, 5, 600, 0, 300, 600, 800)), limit5, Allowance{})
	if j.State != Flagged || j.Test != LastInterval || j.Whole.State != Normal || j.Interval.State != Flagged {
		t.Fatalf("%v by the %s; whole run %v (p %.4f), interval %v (p %.5f)", j.State, j.Test, j.Whole.State, j.Whole.P, j.Interval.State, j.Interval.P)
	}
	near(t, "ratio of the interval", j.Ratio/5, 1, 0.15)
	near(t, "hours it begins", j.Interval.FromHours, 600, 0)
	near(t, "hours it ends", j.Interval.ToHours, 800, 0)
	if j.P != j.Interval.P || j.Ratio != j.Interval.Ratio || j.Expected != j.Interval.Expected || j.Hours != 800 || j.BaselineHours != 0 {
		t.Errorf("shown numbers %+v", j)
	}
	// Wear goes on at the late rate, bedding-in long over.
	left := (5.006 - (5 + bedded.W(600) + 5*bedded.Between(600, 800))) / (5 * bedded.B)
	if f := j.Forecast; f.Test != LastInterval || f.Low > left || f.High < left {
		t.Errorf("forecast %+v, truth %.0f h", *f, left)
	}
}

// With two readings the interval is the whole run and says nothing.
func TestIntervalOfTwoReadings(t *testing.T) {
	j := judgeAmong(t, append(references(0, 120), runAt(bedded, 6, 0, 120)), limit5, Allowance{})
	if j.Interval != (Tested{Test: LastInterval, State: TooFewReadings}) || j.Test != WholeRun || j.State != Flagged || j.Forecast.Test != WholeRun {
		t.Errorf("%+v", j)
	}
}

// A part that keeps its ratio has it over every interval, within what the curve
// fitted to eight parts is off, and shows the whole run, even where both tests
// flag it.
func TestSteadyPartShowsWholeRun(t *testing.T) {
	refs := references(0, 120, 260, 500)
	for _, k := range []float64{-0.5, 0.3, 1, 1.7, 4, 9} {
		j := judgeAmong(t, append(refs[:8:8], runAt(bedded, k, 0, 120, 260, 500)), limit5, Allowance{})
		near(t, "ratio of the interval to that of the run", j.Interval.Ratio/j.Whole.Ratio, 1, 0.15)
		if j.Test != WholeRun || j.Ratio != j.Whole.Ratio {
			t.Errorf("at %g: %s", k, j.Test)
		}
	}
}

// The ratio of the latest interval is that of its two readings alone, whatever
// came before; the size when new changes nothing. Its chance asks whether the
// part has changed: the faster it wore before, the less is new.
func TestIntervalOwnReadings(t *testing.T) {
	refs := references(0, 120, 260, 500)
	last := Tested{}
	for k := 0.4; k < 4; k += 0.4 {
		run := runAt(bedded, k, 0, 120, 260, 500)
		run.Points[3].Y = run.Points[2].Y + 4*bedded.Between(260, 500)
		j := judgeAmong(t, append(refs[:8:8], run), Question{}, Allowance{}).Interval
		for i := range run.Points {
			run.Points[i].Y += 1
		}
		shifted := judgeAmong(t, append(refs[:8:8], run), Question{}, Allowance{}).Interval
		near(t, "p of a larger part", shifted.P/j.P, 1, 1e-6)
		if last.Ratio != 0 {
			near(t, "ratio", j.Ratio/last.Ratio, 1, 1e-6) // curves differ by the last rounding of their refits
			if !(j.P > last.P) || !(j.Centre > last.Centre) {
				t.Errorf("at %.1f: p %g after %g, centre %g after %g", k, j.P, last.P, j.Centre, last.Centre)
			}
		}
		last = j
	}
}

// The chance is honest or errs on the quiet side: of normal parts that keep
// their ratio about as many fall below it as it says, here with the curve and
// the spread known. Of 5,000 four binomial standard errors are 0.6, 1.2 and
// 2.3 %; the quiet side is what ownShare costs.
func TestIntervalChanceIsHonest(t *testing.T) {
	rng, s := rand.New(rand.NewPCG(5, 5)), DefaultSettings()
	ref := reference{curve: bedded, plausible: []Curve{bedded}, runs: 100, logSD: 0.3, sd: 0.3, dof: 1e5, longest: 1000}
	below := map[float64]*count{0.01: {}, 0.05: {}, 0.2: {}}
	for range 5000 {
		r := runAt(bedded, math.Exp(0.3*rng.NormFloat64()), 0, 150, 320, 500)
		for i := range r.Points {
			r.Points[i].Y += gaugeU * rng.NormFloat64()
		}
		j := ref.judge(r, Question{}, s)
		for p, c := range below {
			c.add(j.Interval.P < p)
		}
	}
	for p, most := range map[float64]float64{0.01: 1.6, 0.05: 6.2, 0.2: 22.3} {
		got := below[p].percent()
		t.Logf("below %g: %.2f %%", p, got)
		if got > most || got < 50*p {
			t.Errorf("%.2f %% of normal parts below %g", got, p)
		}
	}
}

func TestDecide(t *testing.T) {
	whole := func(s State, p float64) Tested { return Tested{Test: WholeRun, State: s, P: p, Ratio: 2} }
	late := func(s State, p float64) Tested { return Tested{Test: LastInterval, State: s, P: p, Ratio: 4} }
	for _, c := range []struct {
		whole, late Tested
		state       State
		test        string
	}{
		{whole(Normal, 0.3), late(TooFewReadings, 0), Normal, WholeRun},
		{whole(Normal, 0.3), late(Normal, 0.01), Normal, WholeRun},
		{whole(Normal, 0.3), late(Flagged, 0.002), Flagged, LastInterval},
		{whole(TooYoung, 0.01), late(Flagged, 0.002), Flagged, LastInterval},
		{whole(NoWearSeen, 0.9), late(TooYoung, 0.1), NoWearSeen, WholeRun},
		{whole(Flagged, 0.001), late(Normal, 0.2), Flagged, WholeRun},
		{whole(Flagged, 0.001), late(Flagged, 0.0002), Flagged, WholeRun},      // five times: the run will do
		{whole(Flagged, 0.001), late(Flagged, 0.00001), Flagged, LastInterval}, // a hundred times
		{whole(NoReference, 0), late(TooFewReadings, 0), NoReference, WholeRun},
	} {
		j := Judgement{Whole: c.whole, Interval: c.late}
		j.decide()
		show := c.whole
		if c.test == LastInterval {
			show = c.late
		}
		if j.State != c.state || j.Test != c.test || j.P != show.P || j.Ratio != show.Ratio {
			t.Errorf("%v %g and %v %g: %v by the %s, p %g", c.whole.State, c.whole.P, c.late.State, c.late.P, j.State, j.Test, j.P)
		}
	}
}

// Looking at more stations multiplies both chances and can take back the flag
// of either.
func TestAmongLooksOfBothTests(t *testing.T) {
	s := DefaultSettings()
	j := Judgement{
		Whole:    Tested{Test: WholeRun, State: Normal, P: 0.3, Ratio: 1.2},
		Interval: Tested{Test: LastInterval, State: Flagged, P: 0.001, Ratio: 4},
	}
	j.decide()
	two, four := j.AmongLooks(2, s), j.AmongLooks(4, s)
	if two.State != Flagged || two.Test != LastInterval || two.P != 0.002 || two.Whole.P != 0.6 {
		t.Errorf("two stations: %+v", two)
	}
	if four.State != Normal || four.Test != WholeRun || four.P != 1 || four.Interval.P != 0.004 || four.Interval.State != Normal {
		t.Errorf("four stations: %+v", four)
	}
}

// Another unit of length or of hours leaves ratio and chance of the interval.
func TestIntervalUnits(t *testing.T) {
	runs := append(references(0, 120, 260), lateRun(bedded, 4, 260, 0, 130, 260, 420))
	want := judgeAmong(t, runs, Question{}, Allowance{}).Interval
	for _, by := range []struct{ length, hours float64 }{{25.4e6, 1}, {1, 60}, {1e-3, 1. / 24}} {
		got := judgeAmong(t, inUnits(runs, by.length, by.hours), Question{}, Allowance{}).Interval
		near(t, "ratio", got.Ratio/want.Ratio, 1, 1e-6)
		near(t, "p", got.P/want.P, 1, 1e-5)
		near(t, "wear", got.Wear/want.Wear/by.length, 1, 1e-6)
		near(t, "hours", got.FromHours/want.FromHours/by.hours, 1, 1e-12)
	}
}

func inUnits(runs []Run, length, hours float64) []Run {
	scaled := make([]Run, len(runs))
	for i, r := range runs {
		for _, p := range r.Points {
			scaled[i].Points = append(scaled[i].Points, Point{Hours: p.Hours * hours, Y: p.Y * length, U: p.U * length})
		}
	}
	return scaled
}
