package wear

import (
	"errors"
	"math"
	"testing"
)

// bedded is a typical barrel's wear in inches: 0.0008 in of bedding-in within
// the first hours, then 0.003 in in 1,000 h. Common practice, no source.
var bedded = Curve{Form: BeddingIn, A: 0.0008, Tau: 40, B: 3e-6}

// gaugeU is the standard uncertainty of a good bore gauge in inches.
const gaugeU = 0.00025

// runAt is a barrel of 5 in that wears exactly k times the curve.
func runAt(c Curve, k float64, hours ...float64) Run {
	var r Run
	for _, h := range hours {
		r.Points = append(r.Points, Point{Hours: h, Y: 5 + k*c.W(h), U: gaugeU})
	}
	return r
}

// normalRatios are eight normal parts: the middles of eighths of a lognormal
// distribution with log-sd 0.3 (normal quantiles 0.157, 0.489, 0.887, 1.534;
// R qnorm).
var normalRatios = []float64{
	math.Exp(-0.3 * 1.534), math.Exp(-0.3 * 0.887), math.Exp(-0.3 * 0.489), math.Exp(-0.3 * 0.157),
	math.Exp(0.3 * 0.157), math.Exp(0.3 * 0.489), math.Exp(0.3 * 0.887), math.Exp(0.3 * 1.534),
}

func references(hours ...float64) []Run {
	var runs []Run
	for _, k := range normalRatios {
		runs = append(runs, runAt(bedded, k, hours...))
	}
	return runs
}

// judgeAmong judges the last run with all others as references.
func judgeAmong(t testing.TB, runs []Run, q Question, a Allowance) Judgement {
	t.Helper()
	qs := make([]Question, len(runs))
	qs[len(qs)-1] = q
	_, _, js, err := JudgeGroup(runs, qs, a, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	return js[len(js)-1]
}

// A ring of more tension than the barrel was made for makes it look, before
// 100 h, like one of about 1,000 h. It must be found at its first inspection
// with only the eight other barrels of its engine to compare. Common practice,
// no source.
func TestOldBeforeHundredHours(t *testing.T) {
	for _, age := range []float64{60, 75, 90} {
		k := bedded.W(1000) / bedded.W(age)
		j := judgeAmong(t, append(references(0, age), runAt(bedded, k, 0, age)), Question{}, Allowance{})
		if j.State != Flagged {
			t.Errorf("at %g h: %v, ratio %.2f ± %.2f, p = %.5f", age, j.State, j.Ratio, j.RatioSD, j.P)
		}
		if j.ReferenceRuns != 8 || j.Test != WholeRun {
			t.Errorf("at %g h: %d references, test %q", age, j.ReferenceRuns, j.Test)
		}
	}
}

func TestNormalPartsStayNormal(t *testing.T) {
	runs := references(0, 120, 260, 500)
	_, _, js, err := JudgeGroup(runs, make([]Question, len(runs)), Allowance{}, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	for i, j := range js {
		if j.State != Normal {
			t.Errorf("part %d of ratio %.2f: %v, p = %.4f", i, normalRatios[i], j.State, j.P)
		}
		near(t, "ratio over truth", math.Log(j.Ratio/normalRatios[i]), 0, 0.25)
	}
}

func TestStates(t *testing.T) {
	refs := references(0, 120, 260)
	for _, c := range []struct {
		name string
		runs []Run
		a    Allowance
		want State
	}{
		{"no points", append(refs, Run{}), Allowance{}, TooFewReadings},
		{"baseline only", append(refs, runAt(bedded, 1, 0)), Allowance{}, TooFewReadings},
		{"all at the same hours", append(refs, runAt(bedded, 1, 50, 50, 50)), Allowance{}, TooFewReadings},
		{"nothing to compare with", []Run{runAt(bedded, 1, 0, 100)}, Allowance{}, NoReference},
		{"two others are too few", append(refs[:2:2], runAt(bedded, 1, 0, 100)), Allowance{}, NoReference},
		{"five hours old", append(refs, runAt(bedded, 1, 0, 5)), Allowance{}, TooYoung},
		{"shrinks", append(refs, runAt(bedded, -0.3, 0, 120, 260)), Allowance{}, NoWearSeen},
		{"as the maker allows", []Run{runAt(bedded, 1, 0, 800)}, Allowance{PerHour: 4e-6}, Normal},
		{"twenty times what the maker allows", []Run{runAt(bedded, 20, 0, 800)}, Allowance{PerHour: 4e-6}, Flagged},
	} {
		if j := judgeAmong(t, c.runs, Question{Limit: 5.005, HasLimit: true}, c.a); j.State != c.want {
			t.Errorf("%s: %v, want %v (ratio %.2f ± %.2f, p = %.4f)", c.name, j.State, c.want, j.Ratio, j.RatioSD, j.P)
		}
	}
}

// With the allowance alone one part scatters by the allowance's log-sd, and
// each part seen makes that narrower and moves the centre its way.
func TestAllowanceLearns(t *testing.T) {
	a, part := Allowance{PerHour: 4e-6}, runAt(bedded, 1, 0, 800)
	alone := judgeAmong(t, []Run{part}, Question{}, a)
	near(t, "log-sd alone", alone.PredictiveSD, 0.7, 1e-12)
	seen := judgeAmong(t, []Run{runAt(bedded, 3, 0, 800), runAt(bedded, 3, 0, 800), part}, Question{}, a)
	if !(seen.PredictiveSD < alone.PredictiveSD) || !(seen.Expected > alone.Expected) || seen.ReferenceRuns != 2 {
		t.Errorf("sd %.3f, expected %.5f against %.3f, %.5f alone", seen.PredictiveSD, seen.Expected, alone.PredictiveSD, alone.Expected)
	}
}

// An abnormal part among eight references must hardly move what is expected of
// a ninth, nor hide it.
func TestOutlierAmongReferences(t *testing.T) {
	clean := references(0, 120)
	dirty := append([]Run{}, clean...)
	dirty[3] = runAt(bedded, 8, 0, 120)
	suspect := runAt(bedded, 5, 0, 120)
	before, after := judgeAmong(t, append(clean, suspect), Question{}, Allowance{}), judgeAmong(t, append(dirty, suspect), Question{}, Allowance{})
	near(t, "ln of expected wear", math.Log(after.Expected/before.Expected), 0, 0.1)
	if after.State != Flagged {
		t.Errorf("%v, p = %.4f", after.State, after.P)
	}
}

func TestMoreWearIsLessLikely(t *testing.T) {
	refs, last := references(0, 120, 260), Judgement{P: 2, Ratio: -10}
	for k := -0.5; k < 12; k += 0.25 {
		j := judgeAmong(t, append(refs[:8:8], runAt(bedded, k, 0, 120)), Question{}, Allowance{})
		if !(j.P < last.P) || !(j.Ratio > last.Ratio) || !(j.EquivalentHours >= last.EquivalentHours) {
			t.Fatalf("at %.2f: p %g after %g, ratio %g after %g", k, j.P, last.P, j.Ratio, last.Ratio)
		}
		last = j
	}
}

// Another unit of length changes only lengths, another unit of hours only
// hours.
func TestUnits(t *testing.T) {
	q := Question{Limit: 5.005, HasLimit: true, Life: 1500, NextIn: 100}
	runs := append(references(0, 120, 260), runAt(bedded, 2, 0, 130, 400))
	want := judgeAmong(t, runs, q, Allowance{PerHour: 4e-6, Life: 1500})
	for _, c := range []struct{ length, hours float64 }{{25.4, 1}, {25.4e6, 1}, {1, 60}, {1e-3, 1. / 24}} {
		scaled := make([]Run, len(runs))
		for i, r := range runs {
			for _, p := range r.Points {
				scaled[i].Points = append(scaled[i].Points, Point{Hours: p.Hours * c.hours, Y: p.Y * c.length, U: p.U * c.length})
			}
		}
		sq := Question{Limit: q.Limit * c.length, HasLimit: true, Life: q.Life * c.hours, NextIn: q.NextIn * c.hours}
		got := judgeAmong(t, scaled, sq, Allowance{PerHour: 4e-6 * c.length / c.hours, Life: 1500 * c.hours})
		near(t, "ratio", got.Ratio/want.Ratio, 1, 1e-6)
		near(t, "ratio sd", got.RatioSD/want.RatioSD, 1, 1e-6)
		near(t, "p", got.P/want.P, 1, 1e-5)
		near(t, "wear", got.Wear/want.Wear/c.length, 1, 1e-6)
		near(t, "equivalent hours", got.EquivalentHours/want.EquivalentHours/c.hours, 1, 1e-6)
		near(t, "hours to limit", got.Forecast.Median/want.Forecast.Median/c.hours, 1, 1e-4)
		near(t, "chance of the life", got.Forecast.ReachLife, want.Forecast.ReachLife, 1e-4)
	}
}

func TestOrderOfReferences(t *testing.T) {
	runs := append(references(0, 120, 260), runAt(bedded, 2, 0, 130))
	want := judgeAmong(t, runs, Question{}, Allowance{})
	turned := []Run{runs[5], runs[2], runs[7], runs[0], runs[3], runs[6], runs[1], runs[4], runs[8]}
	got := judgeAmong(t, turned, Question{}, Allowance{})
	near(t, "ratio", got.Ratio, want.Ratio, 1e-9)
	near(t, "p", got.P, want.P, 1e-9)
}

func TestErrors(t *testing.T) {
	good, s := runAt(bedded, 1, 0, 100), DefaultSettings()
	bad := func(p Point) []Run { return []Run{good, {Points: []Point{{Hours: 10, Y: 5, U: gaugeU}, p}}} }
	zero := s
	zero.PriorLogSD = 0
	for _, c := range []struct {
		name string
		runs []Run
		qs   int
		a    Allowance
		s    Settings
		want error
	}{
		{"backwards", bad(Point{Hours: 9, Y: 5, U: gaugeU}), 2, Allowance{}, s, ErrOrder},
		{"no number", bad(Point{Hours: 20, Y: math.NaN()}), 2, Allowance{}, s, ErrNotFinite},
		{"endless", bad(Point{Hours: math.Inf(1), Y: 5}), 2, Allowance{}, s, ErrNotFinite},
		{"huge", bad(Point{Hours: 20, Y: 1e300}), 2, Allowance{}, s, ErrRange},
		{"negative uncertainty", bad(Point{Hours: 20, Y: 5, U: -1}), 2, Allowance{}, s, ErrRange},
		{"negative allowance", []Run{good}, 1, Allowance{PerHour: -1}, s, ErrRange},
		{"no spread", []Run{good}, 1, Allowance{}, zero, ErrSettings},
		{"questions missing", []Run{good}, 0, Allowance{}, s, ErrQuestions},
	} {
		if _, _, _, err := JudgeGroup(c.runs, make([]Question, c.qs), c.a, c.s); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	if _, err := (Group{}).Judge(good, nil, Question{Life: -1}, s); !errors.Is(err, ErrRange) {
		t.Errorf("negative life: %v", err)
	}
	if _, err := (Group{}).PredictReading(good, nil, 200, gaugeU, s); !errors.Is(err, ErrNoReference) {
		t.Errorf("prediction from nothing: %v", err)
	}
}
