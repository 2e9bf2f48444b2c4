package wear

import (
	"errors"
	"math"
	"testing"
)

// Numbers that no fit gives are refused by name wherever a stored group comes
// in, and nothing comes out beside the error. All errors are by definition.
func TestDamagedGroup(t *testing.T) {
	runs, qs := fleet(5, 2, 3)
	s := DefaultSettings()
	good, shares, err := FitGroup(runs, Allowance{PerHour: 3e-6, Life: 1500}, s)
	if err != nil || good.Check() != nil {
		t.Fatal(err, good.Check())
	}
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		what   string
		damage func(*Group)
		want   error
	}{
		{"spread not a number", func(g *Group) { g.LogSD = nan }, ErrNotFinite},
		{"spread infinite", func(g *Group) { g.LogSD = inf }, ErrNotFinite},
		{"no spread", func(g *Group) { g.LogSD = 0 }, ErrRange},
		{"spread below 0", func(g *Group) { g.LogSD = -0.3 }, ErrRange},
		{"spread without sense", func(g *Group) { g.LogSD = 11 }, ErrRange},
		{"centre not a number", func(g *Group) { g.Centre = nan }, ErrNotFinite},
		{"centre far off", func(g *Group) { g.Centre = 800 }, ErrRange},
		{"no degrees of freedom", func(g *Group) { g.DoF = 0 }, ErrRange},
		{"fewer than no runs", func(g *Group) { g.Runs = -1 }, ErrRange},
		{"no longest run", func(g *Group) { g.Longest = 0 }, ErrRange},
		{"wander above all wear", func(g *Group) { g.Wander = 2 }, ErrRange},
		{"weights", func(g *Group) { g.WeightSD = -1 }, ErrRange},
		{"a form of another time", func(g *Group) { g.Curve.Form = "parabola" }, ErrForm},
		{"wear that goes down", func(g *Group) { g.Curve.B = -1e-6 }, ErrRange},
		{"a curve not a number", func(g *Group) { g.Curve.B = nan }, ErrNotFinite},
		{"a plausible curve", func(g *Group) { g.Plausible = []Curve{{Form: PowerLaw, B: 1, Q: 0}} }, ErrRange},
		{"bedding-in in no time", func(g *Group) { g.Curve = Curve{Form: BeddingIn, A: 1, B: 1} }, ErrRange},
		{"allowance", func(g *Group) { g.Allowance.PerHour = -1 }, ErrRange},
		{"normal equations", func(g *Group) { g.Sums.T2 = inf }, ErrNotFinite},
		{"moments", func(g *Group) { g.Moments.A2XX = 1e70 }, ErrRange},
	} {
		g := good
		c.damage(&g)
		_, err1 := g.Judge(runs[0], &shares[0], qs[0], s)
		_, err2 := g.PredictReading(runs[0], nil, 500, 1e-4, s)
		low, high, err3 := g.Band(300, s)
		rest, err4 := g.Without(shares[0], s)
		_, err5 := g.WithoutAll(shares[:2], s)
		_, err6 := g.JudgeEngine(runs[:4], shares[:4], Engines{}, s)
		_, err7 := g.EngineShareOf(1, shares[:4], s)
		_, _, _, err8 := JudgeEngines(g, shares, runs, make([]int, len(runs)), s)
		for i, err := range []error{g.Check(), err1, err2, err3, err4, err5, err6, err7, err8} {
			if !errors.Is(err, c.want) {
				t.Errorf("%s, %d: %v, want %v", c.what, i, err, c.want)
			}
		}
		if low != 0 || high != 0 || rest.Runs != 0 {
			t.Errorf("%s: band %g to %g, %d runs left", c.what, low, high, rest.Runs)
		}
	}
}

// Settings that make no sense, and shares, are refused where they are taken in.
func TestDamagedShares(t *testing.T) {
	runs, qs := fleet(5, 2, 3)
	s := DefaultSettings()
	g, shares, err := FitGroup(runs, Allowance{}, s)
	if err != nil {
		t.Fatal(err)
	}
	for _, damage := range []func(*Settings){
		func(s *Settings) { s.PriorLogSD = math.NaN() }, func(s *Settings) { s.PriorLogSD = math.Inf(1) },
		func(s *Settings) { s.PriorParts = math.NaN() }, func(s *Settings) { s.PriorParts = math.Inf(1) }, func(s *Settings) { s.PriorParts = 0 },
		func(s *Settings) { s.Trim = math.NaN() }, func(s *Settings) { s.Trim = 0 },
	} {
		bad := s
		damage(&bad)
		_, err1 := g.Without(shares[0], bad)
		_, err2 := g.WithoutAll(shares[:2], bad)
		_, _, err3 := g.Band(300, bad)
		for i, err := range []error{err1, err2, err3} {
			if !errors.Is(err, ErrSettings) {
				t.Errorf("%+v, %d: %v", bad, i, err)
			}
		}
	}
	bad := shares[0]
	bad.Sums.T1 = math.NaN()
	_, err1 := g.Without(bad, s)
	_, err2 := g.WithoutAll([]Share{shares[1], bad}, s)
	_, err3 := g.Judge(runs[0], &bad, qs[0], s)
	_, err4 := g.EngineShareOf(1, []Share{bad}, s)
	for i, err := range []error{err1, err2, err3, err4} {
		if !errors.Is(err, ErrNotFinite) {
			t.Errorf("%d: %v", i, err)
		}
	}
	bad = shares[0]
	bad.RatioSD = -1
	if _, err := g.EngineShareOf(1, []Share{bad}, s); !errors.Is(err, ErrRange) {
		t.Error(err)
	}
	if _, err := g.JudgeEngine(runs[:4], shares[:2], Engines{}, s); !errors.Is(err, ErrShares) {
		t.Errorf("4 runs with 2 shares: %v", err)
	}
	if _, err := g.JudgeEngine(runs[:4], nil, Engines{}, s); err != nil {
		t.Errorf("runs that are not in the group: %v", err)
	}
	if _, err := g.JudgeEngine(runs[:4], nil, Engines{Parts: math.NaN()}, s); !errors.Is(err, ErrNotFinite) {
		t.Error(err)
	}
}

func TestDamagedEngines(t *testing.T) {
	s := DefaultSettings()
	shares := []EngineShare{{Engine: 1, Parts: 9, X: 0.1, Variance: 0.01}, {Engine: 2, Parts: 9, X: -0.1, Variance: 0.01}}
	all, err := FitEngines(shares, s)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := FitEngines(append(shares, shares[1]), s); !errors.Is(err, ErrEngineTwice) {
		t.Errorf("an engine twice: %v", err)
	}
	if _, err := all.Without(EngineShare{Parts: 3, X: math.NaN(), Variance: 1}); !errors.Is(err, ErrRange) {
		t.Error(err)
	}
	for _, damaged := range []Engines{{WeightSD: -1}, {PartsSq: -1}, {WeightSD: 101}} {
		if _, err := damaged.Without(shares[0]); !errors.Is(err, ErrRange) {
			t.Errorf("%+v: %v", damaged, err)
		}
	}
}

// A curve that makes no sense has wear and hours all the same, finite ones, and
// Check names the fault.
func TestDamagedCurve(t *testing.T) {
	odd := []float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -1, 0, math.SmallestNonzeroFloat64}
	for _, form := range []Form{NoCurve, BeddingIn, PowerLaw, MakerAllowance, "parabola"} {
		for _, a := range odd {
			for _, b := range odd {
				for _, c := range []Curve{{form, a, b, 1e-6, 0.5}, {form, 1e-3, 40, a, b}, {form, 0, a, b, b}} {
					for _, h := range append(odd, 300) {
						hours, _ := c.HoursAt(h, 5000)
						sound(t, "wear", []float64{c.W(h), c.Between(1, h), hours}, nil)
					}
					sound(t, "curve", c, c.Check(), ErrForm, ErrNotFinite, ErrRange)
				}
			}
		}
	}
}

// The hours of a part need a date, and stays that begin before they end.
func TestClockErrors(t *testing.T) {
	ended := Stay{Engine: 1, From: "2024-01-10", FromHours: 10_000, To: "2024-06-10", ToHours: 40_000}
	backwards, uphill := ended, ended
	backwards.To, uphill.ToHours = "2024-01-09", 9_950
	later := Stay{Engine: 2, From: "2024-08-01", FromHours: 1}
	for _, c := range []struct {
		what  string
		stays []Stay
		day   Day
		want  error
	}{
		{"good", []Stay{ended, later}, "2024-07-01", nil},
		{"no time at all", []Stay{{Engine: 1, From: "2024-01-10", FromHours: 5, To: "2024-01-10", ToHours: 5}}, "2024-07-01", nil},
		{"no date", []Stay{ended}, "x", ErrDay},
		{"no day", []Stay{ended}, "", ErrDay},
		{"a day that no month has", nil, "2024-02-30", ErrDay},
		{"ends the day before", []Stay{backwards}, "2024-07-01", ErrStay},
		{"ends half an hour before", []Stay{uphill}, "2024-07-01", ErrStay},
		{"out of order", []Stay{later, ended}, "2024-07-01", ErrStay},
	} {
		if _, err := (Clock{Stays: c.stays}).At(c.day, nil); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.what, err, c.want)
		}
	}
}

func TestPositionsGivenWrongly(t *testing.T) {
	places, err := RadialPlaces(9, 1, []int{5}, false)
	if err != nil {
		t.Fatal(err)
	}
	turn := PullMove{Kind: TurnCrank, Degrees: 10}
	for _, c := range []struct {
		off  []int
		want error
	}{{nil, nil}, {[]int{}, nil}, {[]int{2}, nil}, {[]int{2, 2}, ErrTwice}, {[]int{10}, ErrPosition}, {[]int{0}, ErrPosition}} {
		if err := (PullState{Places: places, Off: c.off}).Allow(turn); !errors.Is(err, c.want) {
			t.Errorf("off %v: %v, want %v", c.off, err, c.want)
		}
	}
	for _, c := range []struct {
		centres []DeadCentre
		want    error
	}{{nil, nil}, {[]DeadCentre{{Position: 2}}, nil}, {[]DeadCentre{{Position: 10}}, ErrPosition}, {[]DeadCentre{{Position: 2}, {Position: 2}}, ErrTwice}} {
		for _, plan := range []func(PullRequest) (PullPlan, error){PlanRemoval, PlanRefit} {
			if _, err := plan(PullRequest{Places: places, Centres: c.centres}); !errors.Is(err, c.want) {
				t.Errorf("centres %+v: %v, want %v", c.centres, err, c.want)
			}
		}
	}
}

func TestMatchAtHomeNowhere(t *testing.T) {
	for home, want := range map[int]error{-9: ErrMatchPair, -1: ErrMatchPair, 0: nil, 1: ErrMatchPair, 9: ErrMatchPair} {
		ask := MatchAsk{
			Holes: []MatchHole{{Size: Gauged{Value: 130_000_000}}}, Shafts: []MatchShaft{{Size: Gauged{Value: 129_900_000}, Home: &home}},
			Fit: MatchFit{Max: 200_000},
		}
		if _, err := Match(ask); !errors.Is(err, want) {
			t.Errorf("at home in %d: %v, want %v", home, err, want)
		}
		if _, err := JudgePlacing(ask, []int{0}); !errors.Is(err, want) {
			t.Errorf("at home in %d, by hand: %v, want %v", home, err, want)
		}
	}
}

// What a result hands back is finite as well, where it was not needed too.
func TestNumbersHandedBack(t *testing.T) {
	ring := RingSizes{From: FromTangential, Force: Gauged{20_000_000, 1000}, Width: Gauged{2_400_000, 1000}, Bore: Gauged{130_000_000, 2000}}
	good, err := PressureOf(ring)
	if err != nil {
		t.Fatal(err)
	}
	for _, damage := range []func(*RingSizes){
		func(r *RingSizes) { r.Radial.U = math.NaN() }, func(r *RingSizes) { r.FreeGap.U = math.Inf(1) },
		func(r *RingSizes) { r.ClosedGap.U = math.NaN() }, func(r *RingSizes) { r.Modulus = math.NaN() }, func(r *RingSizes) { r.ModulusU = math.Inf(-1) },
	} {
		bad := ring
		damage(&bad)
		if _, err := PressureOf(bad); !errors.Is(err, ErrNotFinite) {
			t.Errorf("%+v: %v", bad, err)
		}
	}
	bad := good
	bad.Tangential = math.NaN()
	if _, err := ComparePressure(bad, good, RatioLimits{}); !errors.Is(err, ErrNotFinite) {
		t.Errorf("offered: %v", err)
	}
	if _, err := ComparePressure(good, bad, RatioLimits{}); !errors.Is(err, ErrNotFinite) {
		t.Errorf("original: %v", err)
	}
	ask := RegrooveAsk{Groove: Gauged{Value: 2_000_000}, ClearanceMax: 100_000}
	if _, err := RegrooveFor(ask, WidthRing{WidthMin: 1_950_000, WidthMax: 1_950_000, Pressure: &bad}); !errors.Is(err, ErrNotFinite) {
		t.Errorf("ring for a groove: %v", err)
	}
	for _, c := range []struct {
		leak Leak
		h    Hours
		want error
	}{{Leak{Area: math.NaN()}, 1, ErrNotFinite}, {Leak{AreaU: math.Inf(1)}, 1, ErrNotFinite}, {Leak{Area: -1}, 1, ErrRange}, {Leak{Area: 1}, -1, ErrRange}, {Leak{Area: 1, AreaU: 0.1}, 1, nil}} {
		if _, err := c.leak.Point(c.h); !errors.Is(err, c.want) {
			t.Errorf("%+v at %s h: %v, want %v", c.leak, c.h, err, c.want)
		}
	}
}
