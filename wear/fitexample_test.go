package wear_test

import (
	"errors"
	"fmt"
	"math"

	"barrelbook/wear"
)

// settings, and a group of nine normal barrels with their shares.
func nineBarrels() (wear.Group, []wear.Share, wear.Settings, error) {
	s := wear.DefaultSettings()
	group, shares, err := wear.FitGroup(barrels(0.0009), wear.Allowance{PerHour: 0.005 / 1500, Life: 1500}, s)
	return group, shares, s, err
}

// Bedding-in of 0.0008 in with a time constant of 40 h, then 0.003 in in 1,000 h.
func ExampleCurve_W() {
	c := wear.Curve{Form: wear.BeddingIn, A: 0.0008, Tau: 40, B: 3e-6}
	for _, h := range []float64{0, 40, 400} {
		fmt.Printf("%.0f h: %.5f in\n", h, c.W(h))
	}
	// Output:
	// 0 h: 0.00000 in
	// 40 h: 0.00063 in
	// 400 h: 0.00200 in
}

func ExampleCurve_Between() {
	c := wear.Curve{Form: wear.MakerAllowance, B: 0.005 / 1500}
	fmt.Printf("%.4f in\n", c.Between(300, 600))
	// Output: 0.0010 in
}

// Wear with the root of the hours: twice the wear takes four times the hours.
func ExampleCurve_HoursAt() {
	c := wear.Curve{Form: wear.PowerLaw, B: 0.0001, Q: 0.5}
	for _, w := range []float64{0.001, 0.002, 0.004} {
		h, more := c.HoursAt(w, 1000)
		fmt.Printf("%.3f in: %.0f h, more: %v\n", w, h, more)
	}
	// Output:
	// 0.001 in: 100 h, more: false
	// 0.002 in: 400 h, more: false
	// 0.004 in: 1000 h, more: true
}

func ExampleCurve_Check() {
	damaged := wear.Curve{Form: wear.MakerAllowance, B: math.NaN()}
	fmt.Println(damaged.Check(), damaged.W(100))
	// Output: check curve: number is not finite 0
}

func ExampleGroup_Check() {
	group, _, _, err := nineBarrels()
	fmt.Println(err, group.Check())
	group.LogSD = math.NaN()
	fmt.Println(group.Check())
	_, err = group.Judge(barrels(0.0009)[0], nil, wear.Question{}, wear.DefaultSettings())
	fmt.Println(errors.Is(err, wear.ErrNotFinite))
	// Output:
	// <nil> <nil>
	// check group: number is not finite
	// true
}

func ExampleGroup_W() {
	group, _, _, err := nineBarrels()
	fmt.Printf("%.5f in by 61 h, %v\n", group.W(61), err)
	// Output: 0.00085 in by 61 h, <nil>
}

func ExampleGroup_HoursAt() {
	group, _, _, err := nineBarrels()
	if err != nil {
		fmt.Println(err)
		return
	}
	h, more := group.HoursAt(group.W(500))
	fmt.Printf("%.0f h, more: %v\n", h, more)
	h, more = group.HoursAt(1)
	fmt.Printf("%.0f h, more: %v\n", h, more)
	// Output:
	// 500 h, more: false
	// 4500 h, more: true
}

func ExampleGroup_Band() {
	group, _, s, err := nineBarrels()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, h := range []float64{0, 61, 500} {
		low, high, err := group.Band(h, s)
		fmt.Printf("%.0f h: %.4f to %.4f in, %v\n", h, low, high, err)
	}
	// Output:
	// 0 h: 0.0000 to 0.0000 in, <nil>
	// 61 h: 0.0005 to 0.0016 in, <nil>
	// 500 h: 0.0011 to 0.0065 in, <nil>
}

// The ninth barrel is taken out of the group that it was fitted with.
func ExampleGroup_Without() {
	group, shares, s, err := nineBarrels()
	if err != nil {
		fmt.Println(err)
		return
	}
	rest, err := group.Without(shares[8], s)
	fmt.Println(group.Runs, rest.Runs, err)
	s.PriorLogSD = math.NaN()
	_, err = group.Without(shares[8], s)
	fmt.Println(err)
	// Output:
	// 9 8 <nil>
	// take run from group: check settings: NaN: setting is out of range
}

func ExampleGroup_WithoutAll() {
	group, shares, s, err := nineBarrels()
	if err != nil {
		fmt.Println(err)
		return
	}
	rest, err := group.WithoutAll(shares[:4], s)
	fmt.Println(rest.Runs, rest.Curve.Form != wear.NoCurve, err)
	none, err := group.WithoutAll(shares, s)
	fmt.Println(none.Runs, none.Curve.Form != wear.NoCurve, err)
	// Output:
	// 5 true <nil>
	// 0 false <nil>
}

func ExampleGroup_EngineShareOf() {
	group, shares, s, err := nineBarrels()
	if err != nil {
		fmt.Println(err)
		return
	}
	e, err := group.EngineShareOf(7, shares[:5], s)
	fmt.Printf("engine %d, %d parts: %.2f times the group's middle part, %v\n", e.Engine, e.Parts, math.Exp(e.X), err)
	// Output: engine 7, 5 parts: 1.01 times the group's middle part, <nil>
}

func ExampleFitEngines() {
	var shares []wear.EngineShare
	for engine, x := range []float64{-0.2, 0.1, 0.15, -0.05} {
		shares = append(shares, wear.EngineShare{Engine: engine, Parts: 9, X: x, Variance: 0.01})
	}
	s := wear.DefaultSettings()
	spread, err := wear.FitEngines(shares, s)
	fmt.Println(spread.Moments.N, "engines,", spread.Parts, "parts", err)
	_, err = wear.FitEngines(append(shares, shares[0]), s)
	fmt.Println(err)
	// Output:
	// 4 engines, 36 parts <nil>
	// fit engines: engine 0: the same engine was given twice
}

func ExampleEngines_Without() {
	shares := []wear.EngineShare{{Engine: 1, Parts: 9, X: 0.1, Variance: 0.01}, {Engine: 2, Parts: 7, X: -0.1, Variance: 0.02}}
	spread, err := wear.FitEngines(shares, wear.DefaultSettings())
	if err != nil {
		fmt.Println(err)
		return
	}
	rest, err := spread.Without(shares[1])
	fmt.Println(rest.Moments.N, "engine,", rest.Parts, "parts", err)
	// Output: 1 engine, 9 parts <nil>
}

// The worst of four stations has a chance of 1 in 500: looked at in four
// places, 1 in 125.
func ExampleJudgement_AmongLooks() {
	one := wear.Tested{Test: wear.WholeRun, State: wear.Flagged, Ratio: 2.5, P: 0.002}
	j := wear.Judgement{Whole: one, Interval: wear.Tested{Test: wear.LastInterval}}.AmongLooks(4, wear.DefaultSettings())
	fmt.Println(j.State, wear.OneIn(j.P), j.Looks)
	// Output: normal 1 in 130 4
}

func ExampleEngineJudgement_AmongLooks() {
	j := wear.EngineJudgement{State: wear.Flagged, Ratio: 1.8, P: 0.0004}
	fmt.Println(j.AmongLooks(4, wear.DefaultSettings()).State, j.AmongLooks(20, wear.DefaultSettings()).State)
	// Output: flagged normal
}

func ExampleEngineJudgement_Sentence() {
	j := wear.EngineJudgement{State: wear.TooFewReadings, Parts: 2}
	fmt.Println(j.Sentence("cylinders"))
	// Output: Whole engine, 2 cylinders: too few to judge, it takes 3 with a reading after some hours of running.
}

func ExampleTested_Sentence() {
	t := wear.Tested{Test: wear.LastInterval, State: wear.Normal, FromHours: 300, ToHours: 500, Ratio: 1.2, P: 0.3}
	fmt.Println(t.Sentence())
	// Output: Latest 200 h: 1.2 times a normal part.
}

func ExampleForecast_Sentence() {
	fmt.Println(wear.Forecast{CanSay: true, Low: 570, Median: 1013, High: 2704}.Sentence())
	fmt.Println(wear.Forecast{ReadAgainAfter: 72}.Sentence())
	// Output:
	// About 1,010 h to the service limit, between 570 and 2,700 h.
	// Cannot say yet how long it will last; a reading after 80 more hours would.
}

func ExampleDefaultSettings() {
	s := wear.DefaultSettings()
	fmt.Println("flagged below", wear.OneIn(s.FlagChance), "and above", s.FlagRatio, "times a normal part")
	// Output: flagged below 1 in 400 and above 1.5 times a normal part
}

// Nine barrels show less spread than expected beforehand, and the gauge explains
// part of that.
func ExampleGroup_Learned() {
	group, _, s, err := nineBarrels()
	if err != nil {
		fmt.Println(err)
		return
	}
	l, err := group.Learned(s)
	fmt.Printf("of %.0f parts, variance %.3f; with %.2g beforehand log-sd %.2f, %.0f degrees of freedom, %v\n", l.Moments.N, l.Seen, s.PriorLogSD, l.LogSD, l.DoF, err)
	// Output: of 9 parts, variance -0.048; with 0.35 beforehand log-sd 0.33, 16 degrees of freedom, <nil>
}

func ExampleShare_LogRatio() {
	_, shares, _, err := nineBarrels()
	if err != nil {
		fmt.Println(err)
		return
	}
	x, v, a, ok := shares[1].LogRatio()
	fmt.Printf("ln k %.3f, by measurement ± %.2f, weight %.2f, %v\n", x, math.Sqrt(v), a, ok)
	// Output: ln k -0.088, by measurement ± 0.34, weight 4.54, true
}

// A barrel as the others, 0.0020 in above its size when new until it is worn out.
func ExampleGroup_Foretold() {
	group, shares, s, err := nineBarrels()
	if err != nil {
		fmt.Println(err)
		return
	}
	f, err := group.Foretold(barrels(0.0009)[8], &shares[8], wear.Question{Limit: 5.0025, HasLimit: true}, s)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, l := range f.Curves {
		fmt.Printf("%s: k %.2f ± %.2f, reached %.0f, %.0f, %.0f %%\n", l.Curve.Form, l.Ratio, l.RatioSD, 100*l.Low, 100*l.Median, 100*l.High)
	}
	// Output:
	// bedding-in: k 1.01 ± 0.25, reached 0, 0, 67 %
	// bedding-in: k 1.01 ± 0.25, reached 0, 5, 95 %
	// power law: k 1.01 ± 0.25, reached 0, 22, 94 %
	// bedding-in: k 1.01 ± 0.25, reached 1, 44, 100 %
	// bedding-in: k 1.01 ± 0.25, reached 2, 65, 100 %
	// power law: k 1.01 ± 0.25, reached 3, 60, 100 %
	// power law: k 1.01 ± 0.25, reached 5, 71, 100 %
	// bedding-in: k 1.01 ± 0.25, reached 10, 88, 100 %
	// power law: k 1.01 ± 0.25, reached 24, 95, 100 %
}
