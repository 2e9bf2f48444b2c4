package wear

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// The spread between engines is found, within four of its standard errors
// τ/√(2·200), and an engine far off does not count.
func TestFitEnginesFindsTruth(t *testing.T) {
	rng, s := rand.New(rand.NewPCG(3, 3)), DefaultSettings()
	for _, tau := range []float64{0.1, 0.2, 0.4} {
		const sd = 0.1
		var shares []EngineShare
		for n := range 200 {
			shares = append(shares, EngineShare{Engine: n, Parts: 9, X: 0.3 + tau*rng.NormFloat64() + sd*rng.NormFloat64(), Variance: sd * sd})
		}
		shares = append(shares, EngineShare{Engine: 200, Parts: 9, X: 3, Variance: sd * sd}, EngineShare{Engine: 201, Parts: 2, X: 9, Variance: sd * sd})
		all, err := FitEngines(shares, s)
		if err != nil {
			t.Fatal(err)
		}
		got := all.spread(s)
		near(t, "log-sd", got.Omega, tau, 4*math.Hypot(tau, sd)/math.Sqrt(400))
		near(t, "centre", got.Centre, 0.3, 4*math.Hypot(tau, sd)/math.Sqrt(200))
		if !shares[200].Trimmed || all.Moments.N > 200 {
			t.Errorf("%g engines count", all.Moments.N)
		}
		near(t, "crowd", all.crowd(reference{runs: 100}), (201*81+4)/math.Pow(201*9+2, 2), 1e-12)
		for _, e := range shares {
			all = all.without(e)
		}
		if got := all.spread(s); math.Abs(got.Omega-s.PriorEngineLogSD) > 1e-6 || all.Parts != 0 {
			t.Errorf("with none left: %+v", got)
		}
	}
}

// An engine's share is its parts' common ratio to the middle normal part.
func TestEngineShareOf(t *testing.T) {
	s := DefaultSettings()
	runs, _ := enginesOf([]float64{1.25, 1, 0.8}, 0, 200, 500)
	g, shares, err := FitGroup(runs, Allowance{}, s)
	if err != nil {
		t.Fatal(err)
	}
	for n, want := range []float64{1.25, 1, 0.8} {
		e, err := g.EngineShareOf(n, shares[8*n:8*n+8], s)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "ratio to the middle engine", math.Exp(e.X), want, 0.06)
		var again2 EngineShare
		again(t, e, &again2)
		if again2 != e || e.Parts != 8 || e.Engine != n {
			t.Errorf("%+v stored as %+v", e, again2)
		}
	}
	if e, err := g.EngineShareOf(9, nil, s); err != nil || e != (EngineShare{Engine: 9}) {
		t.Errorf("no parts: %+v, %v", e, err)
	}
}

func TestFitEnginesErrors(t *testing.T) {
	s := DefaultSettings()
	for _, e := range []EngineShare{{Parts: 3, X: math.NaN()}, {Parts: 3, Variance: -1}, {Parts: -1}, {X: math.Inf(1)}} {
		if _, err := FitEngines([]EngineShare{e}, s); !errors.Is(err, ErrRange) {
			t.Errorf("%+v: %v", e, err)
		}
	}
	s.EngineChance = 1
	if _, err := FitEngines(nil, s); !errors.Is(err, ErrSettings) {
		t.Error(err)
	}
	if _, err := (Group{}).EngineShareOf(1, nil, s); !errors.Is(err, ErrSettings) {
		t.Error(err)
	}
}
