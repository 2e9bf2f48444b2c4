package wear

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// engines are engines of eight barrels with the normal ratios, each engine's
// multiplied by its own factor, and the engine of each run.
func enginesOf(factors []float64, hours ...float64) (runs []Run, engineOf []int) {
	for n, by := range factors {
		for _, k := range normalRatios {
			runs, engineOf = append(runs, runAt(bedded, by*k, hours...)), append(engineOf, n)
		}
	}
	return runs, engineOf
}

func judgeEnginesOf(t testing.TB, runs []Run, engineOf []int, a Allowance) []EngineJudgement {
	t.Helper()
	s := DefaultSettings()
	g, shares, err := FitGroup(runs, a, s)
	if err != nil {
		t.Fatal(err)
	}
	_, _, js, err := JudgeEngines(g, shares, runs, engineOf, s)
	if err != nil {
		t.Fatal(err)
	}
	return js
}

// The mode that commonRatio finds is that of the likelihood written out: Σ ln ∫
// N(k; e^z, s²) N(z; m, ω²) dz - m² prior/2, here by rectangles over a grid of m.
// At so many degrees of freedom Student's t is normal.
func TestCommonRatioAgainstLikelihood(t *testing.T) {
	const omega, dof, step = 0.35, 1e9, 0.002
	for _, c := range []struct {
		parts []member
		prior float64
	}{
		{[]member{{k: 1, s: 0.2}, {k: 1.8, s: 0.5}, {k: 0.4, s: 0.4}}, 25},
		{[]member{{k: 3, s: 0.4}, {k: 2.2, s: 0.4}, {k: 4, s: 0.5}, {k: -0.2, s: 0.9}}, 10},
		{[]member{{k: -0.3, s: 0.5}, {k: 0.1, s: 0.6}, {k: -0.9, s: 0.8}}, 16},
		{[]member{{k: 5, s: 2}, {k: -3, s: 2}, {k: 9, s: 3}, {k: 2, s: 2.5}}, 25},
	} {
		best, at := math.Inf(-1), 0.0
		for m := -2.0; m < 2.5; m += step {
			sum := -m * m * c.prior / 2
			for _, p := range c.parts {
				like := 0.0
				for z := m - 2.5; z < m+2.5; z += 0.01 {
					e, d := (p.k-math.Exp(z))/p.s, (z-m)/omega
					like += math.Exp(-(e*e + d*d) / 2)
				}
				sum += math.Log(like)
			}
			if sum > best {
				best, at = sum, m
			}
		}
		x, weight := commonRatio(c.parts, omega, dof, c.prior)
		near(t, "mode", x*weight/(weight+c.prior), at, 0.01)
	}
}

// Exactly measured parts: ln of the common ratio is the mean of ln k, for ratios
// spread evenly about it, with the variance ω²/n.
func TestCommonRatioOfExactParts(t *testing.T) {
	var parts []member
	for _, k := range normalRatios {
		parts = append(parts, member{k: 2.5 * k, s: 1e-5})
	}
	x, weight := commonRatio(parts, 0.3, 1e9, 20)
	near(t, "ln ratio", x, math.Log(2.5), 1e-9)
	near(t, "variance", 1/weight, 0.09/8, 1e-6)
}

// All barrels of one engine wear three times as fast: dust, say. No barrel
// stands out in its engine; the engine does among three. One bad barrel does
// not make its engine bad.
func TestWholeEngine(t *testing.T) {
	runs, engineOf := enginesOf([]float64{1.1, 3, 0.9}, 0, 130, 300)
	runs[17] = runAt(bedded, 8, 0, 130, 300)
	js := judgeEnginesOf(t, runs, engineOf, Allowance{})
	for i, j := range js {
		if want := map[bool]State{true: Flagged, false: Normal}[i == 1]; j.State != want || j.Engine != i || j.Parts != 8 || j.ReferenceRuns != 16 || j.OtherEngines > 2 {
			t.Errorf("engine %d: %+v", i, j)
		}
	}
	// Against engines of 1.1 and 0.9: 3/√0.99 within what the bad barrel moves.
	near(t, "ratio", js[1].Ratio/3, 1, 0.12)
	if j := js[1]; !(j.RatioLow < 3 && 3 < j.RatioHigh) || j.Faster != 8 {
		t.Errorf("%.2f to %.2f, %d faster", j.RatioLow, j.RatioHigh, j.Faster)
	}
}

// What is told of an engine is enough to reckon it again: from the ratios of its
// parts, well measured here, comes x by the equations that the page gives, in
// steps of its own.
func TestEngineReckonedAgain(t *testing.T) {
	refs, engineOf := enginesOf([]float64{1, 1.1, 0.9}, 0, 200, 500)
	g, shares, err := FitGroup(refs, Allowance{}, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	all, _, _, err := JudgeEngines(g, shares, refs, engineOf, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	var runs []Run
	for _, k := range normalRatios {
		runs = append(runs, runAt(bedded, 2.2*k, 0, 200, 500))
	}
	runs[0] = runAt(bedded, 30, 0, 200, 500) // one far off
	for _, r := range runs {
		for i := range r.Points {
			r.Points[i].U /= 10 // well measured: k > 20 s
		}
	}
	j, err := g.JudgeEngine(runs, nil, all, DefaultSettings())
	if err != nil || len(j.Ratios) != len(runs) || j.Parts != len(runs) {
		t.Fatalf("%+v, %v", j, err)
	}
	v := j.EngineLogSD*j.EngineLogSD*(1+j.Crowd) + j.CentreSD*j.CentreSD
	m, x, sum := 0.0, 0.0, 0.0
	for range 1000 {
		x, sum = 0, 0
		for _, p := range j.Ratios {
			xi, scale := math.Log(p.Ratio), j.PartLogSD*j.PartLogSD+p.SD*p.SD/p.Ratio/p.Ratio
			a := (j.PartDoF + 1) / (j.PartDoF + (xi-m)*(xi-m)/scale) / scale
			sum += a
			x += a * xi
		}
		x /= sum
		m += (x*sum/(sum+1/v) - m) / 4
	}
	near(t, "x", j.LogRatio, x, 1e-4)
	near(t, "A", 1/(j.MeasuredLogSD*j.MeasuredLogSD), sum, 1e-3)
	near(t, "its variance", j.PredictiveSD*j.PredictiveSD, v+1/sum, 1e-4)
}

// Wear lost in the gauge's error, some of it negative, says nothing and breaks
// nothing.
func TestEngineOfNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	refs, engineOf := enginesOf([]float64{1, 1.1, 0.9}, 0, 200, 500)
	g, shares, err := FitGroup(refs, Allowance{}, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	all, _, _, err := JudgeEngines(g, shares, refs, engineOf, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		hours, shift float64
		want         State
	}{{2, 0, TooYoung}, {200, -1.3, NoWearSeen}, {200, 0, Normal}} {
		var runs []Run
		for _, k := range normalRatios {
			r := runAt(bedded, k+c.shift, 0, c.hours)
			for i := range r.Points {
				r.Points[i].Y += gaugeU * rng.NormFloat64()
			}
			runs = append(runs, r)
		}
		j, err := g.JudgeEngine(runs, nil, all, DefaultSettings())
		if err != nil {
			t.Fatal(err)
		}
		if j.State != c.want || j.P < 0.005 {
			t.Errorf("%g h, shifted by %g: %v, p %.3f, ratio %.2f, gauge %.2f", c.hours, c.shift, j.State, j.P, j.Ratio, j.GaugeSD)
		}
	}
}

func TestEngineStates(t *testing.T) {
	s := DefaultSettings()
	refs, engineOf := enginesOf([]float64{1, 1.1, 0.9}, 0, 200)
	few := append(refs[:18:18], refs[0])
	for _, c := range []struct {
		name   string
		runs   []Run
		engine []int
		a      Allowance
		want   State
		maker  bool
	}{
		{"no engine known", refs[:8], []int{5, 5, 5, 5, 5, 5, 5, 5}, Allowance{}, NoReference, false},
		{"the maker's allowance", refs[:8], []int{5, 5, 5, 5, 5, 5, 5, 5}, Allowance{PerHour: 7e-6, Life: 1500}, Normal, true},
		{"ten times the allowance", refs[:8], []int{5, 5, 5, 5, 5, 5, 5, 5}, Allowance{PerHour: 5e-7, Life: 1500}, Flagged, true},
		{"two parts", few[16:18], []int{5, 5}, Allowance{PerHour: 7e-6, Life: 1500}, TooFewReadings, true},
	} {
		js := judgeEnginesOf(t, c.runs, c.engine, c.a)
		if len(js) != 1 || js[0].State != c.want || js[0].Engine != 5 || js[0].ByAllowance != c.maker {
			t.Errorf("%s: %+v", c.name, js)
		}
	}
	// Runs of no engine are judged against, and are not judged.
	for i := 16; i < 24; i++ {
		engineOf[i] = -1
	}
	if js := judgeEnginesOf(t, refs, engineOf, Allowance{}); len(js) != 2 || js[0].ReferenceRuns != 16 {
		t.Errorf("%+v", js)
	}
	g, shares, err := FitGroup(refs, Allowance{}, s)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, _, err := JudgeEngines(g, shares, refs, engineOf[1:], s); !errors.Is(err, ErrQuestions) {
		t.Error(err)
	}
	bad := []Run{{Points: []Point{{Hours: 5, Y: math.Inf(1)}}}}
	if _, err := g.JudgeEngine(bad, nil, Engines{}, s); !errors.Is(err, ErrNotFinite) {
		t.Error(err)
	}
	s.PriorEngines = 0
	if _, err := g.JudgeEngine(refs[:8], nil, Engines{}, s); !errors.Is(err, ErrSettings) {
		t.Error(err)
	}
}

// A faster engine is less likely, the units do not matter, and the parts that a
// judgement names make up its spread and degrees of freedom by the equations of
// JudgeEngine (JCGM 100 (GUM) 5.1.2 and G.4.1).
func TestEngineProperties(t *testing.T) {
	last := EngineJudgement{P: 2}
	for by := 0.25; by < 9; by *= 1.3 {
		runs, engineOf := enginesOf([]float64{by, 1.1, 0.9, 1}, 0, 130, 300)
		j := judgeEnginesOf(t, runs, engineOf, Allowance{})[0]
		if !(j.P < last.P) || !(j.Ratio > last.Ratio) {
			t.Fatalf("at %.2f: p %g after %g, ratio %g after %g", by, j.P, last.P, j.Ratio, last.Ratio)
		}
		u := judgeEnginesOf(t, inUnits(runs, 25.4e6, 60), engineOf, Allowance{})[0]
		near(t, "p in other units", u.P/j.P, 1, 1e-4)
		near(t, "ratio in other units", u.Ratio/j.Ratio, 1, 1e-5)
		v, c, own := j.EngineLogSD*j.EngineLogSD*(1+j.Crowd), j.CentreSD*j.CentreSD, j.MeasuredLogSD*j.MeasuredLogSD
		near(t, "spread", j.PredictiveSD, math.Sqrt(v+c+own), 1e-12)
		near(t, "degrees of freedom", j.DoF, (v+c+own)*(v+c+own)/(v*v/j.EngineDoF+(c*c+own*own)/j.PartDoF), 1e-9)
		near(t, "ratio", j.Ratio, math.Exp(j.LogRatio), 1e-12)
		near(t, "chance", j.P, studentTail(j.LogRatio/j.PredictiveSD, j.DoF), 1e-12)
		last = j
	}
}

// In large groups an engine is taken out of the fit by its shares: nearly as
// good as a refit.
func TestWithoutEngineAgainstRefit(t *testing.T) {
	runs, _ := fleet(6, 52, 4)
	var engineOf []int
	for i := range runs {
		engineOf = append(engineOf, i/cylinders)
	}
	bad, _ := enginesOf([]float64{2.5}, 0, 120, 260, 400)
	copy(runs[27:], bad)
	s := DefaultSettings()
	quick := judgeEnginesOf(t, runs, engineOf, Allowance{})
	s.MaxRefits = 1000
	g, shares, err := FitGroup(runs, Allowance{}, s)
	if err != nil {
		t.Fatal(err)
	}
	_, _, slow, err := JudgeEngines(g, shares, runs, engineOf, s)
	if err != nil {
		t.Fatal(err)
	}
	for i := range quick {
		near(t, "ln ratio", math.Log(quick[i].Ratio/slow[i].Ratio), 0, 0.05)
		near(t, "p", quick[i].P, slow[i].P, 0.05)
		if quick[i].State != slow[i].State {
			t.Errorf("engine %d: %v, refit %v (p %.4f, %.4f)", i, quick[i].State, slow[i].State, quick[i].P, slow[i].P)
		}
	}
	if quick[3].State != Flagged {
		t.Errorf("bad engine %+v", quick[3])
	}
	// The same from what a book stores: group, shares of the engine, spread.
	all, own, _, err := JudgeEngines(g, shares, runs, engineOf, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	j, err := g.JudgeEngine(runs[27:36], shares[27:36], all.without(own[3]), DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "p from what is stored", j.P/quick[3].P, 1, 1e-9)
}

// All shares at once are one share, and one by one nearly the same.
func TestWithoutAll(t *testing.T) {
	runs, _ := fleet(7, 20, 4)
	s := DefaultSettings()
	g, shares, err := FitGroup(runs, Allowance{}, s)
	if err != nil {
		t.Fatal(err)
	}
	one, same := g.withoutOne(&shares[3], s), g.withoutAll(shares[3:4], s)
	near(t, "W", same.W(300)/one.W(300), 1, 0)
	f := newFitter(runs[9:], Allowance{}, s)
	refit, _ := f.group(-1)
	rest := g.withoutAll(shares[:9], s)
	if rest.Runs != 171 {
		t.Errorf("%d runs left", rest.Runs)
	}
	for _, h := range []float64{100, 300, 600} {
		near(t, "W without an engine", rest.W(h)/refit.W(h), 1, 0.03)
	}
	near(t, "log-sd", rest.LogSD, refit.LogSD, 0.01)
	if none := g.withoutAll(shares, s); none.Runs != 0 || none.Curve.Form != NoCurve {
		t.Errorf("%+v", none)
	}
}
