package wear_test

import (
	"errors"
	"fmt"

	"barrelbook/wear"
)

// Of a bank of four the crank of 3 in with rods of 8 in: stroke 6 in.
func ExamplePlainCrank_DeadCentres() {
	c := wear.PlainCrank{Radius: inch("3"), Rod: inch("8"), Throws: []wear.Throw{{Position: 1}, {Position: 2, Ahead: 180}, {Position: 3, Ahead: 180}, {Position: 4}}}
	centres, err := c.DeadCentres()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, d := range centres {
		fmt.Printf("cylinder %d: top at %.0f°, bottom at %.0f°, stroke %.1f mm\n", d.Position, d.Top, d.Bottom, d.Stroke)
	}
	// Output:
	// cylinder 1: top at 0°, bottom at 180°, stroke 152.4 mm
	// cylinder 2: top at 180°, bottom at 0°, stroke 152.4 mm
	// cylinder 3: top at 180°, bottom at 0°, stroke 152.4 mm
	// cylinder 4: top at 0°, bottom at 180°, stroke 152.4 mm
}

// At the crank's dead centres the master piston stands at L + r and L - r.
func ExampleRodRow_Height() {
	for _, crank := range []float64{0, 180} {
		s, err := nineRow().Height(1, crank)
		fmt.Printf("%.0f°: %.1f mm from the crank's centre, %v\n", crank, s, err)
	}
	// Output:
	// 0°: 330.0 mm from the crank's centre, <nil>
	// 180°: 190.0 mm from the crank's centre, <nil>
}

// The rod leans by two degrees: pistons on its one side come down, on the
// other up.
func ExampleRodRow_Drops() {
	rings := []wear.LowestRing{{Position: 2, PinToCrown: 40_000_000, BelowCrown: 60_000_000, SkirtEnd: 165_000_000}, {Position: 9, PinToCrown: 40_000_000, BelowCrown: 60_000_000, SkirtEnd: 165_000_000}}
	drops, err := nineRow().Drops(0, 2, rings)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, d := range drops {
		fmt.Printf("cylinder %d: %+.2f mm down, ring leaves: %v\n", d.Position, d.Drop, d.Leaves)
	}
	// Output:
	// cylinder 2: +0.59 mm down, ring leaves: false
	// cylinder 9: -0.48 mm down, ring leaves: false
}

func ExampleRadialPlaces() {
	places, err := wear.RadialPlaces(5, 1, []int{1}, false)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range places {
		fmt.Printf("%d at %.0f°\n", p.Position, p.Angle)
	}
	_, err = wear.RadialPlaces(14, 2, []int{1}, false)
	fmt.Println(errors.Is(err, wear.ErrMasterRod), "for one master rod in two rows")
	// Output:
	// 1 at 0°
	// 2 at 72°
	// 3 at 144°
	// 4 at 216°
	// 5 at 288°
	// true for one master rod in two rows
}

func ExampleFiringPlaces() {
	places, err := wear.FiringPlaces([]int{1, 3, 2, 4})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range places {
		fmt.Printf("%d at %.0f°\n", p.Position, p.Angle)
	}
	// Output:
	// 1 at 0°
	// 2 at 0°
	// 3 at 180°
	// 4 at 180°
}

// After removal the crank stands where the master-rod cylinder came off: that
// one goes on first.
func ExamplePlanRefit() {
	places, err := wear.RadialPlaces(9, 1, []int{5}, false)
	if err != nil {
		fmt.Println(err)
		return
	}
	pull := []int{1, 4, 5, 9}
	plan, err := wear.PlanRefit(wear.PullRequest{Places: places, Pull: pull, Off: pull, From: 160})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, l := range plan.Lines {
		fmt.Printf("%d: turn %.0f°\n", l.Position, l.Turn)
	}
	fmt.Printf("%.0f° in all\n", plan.Turn)
	// Output:
	// 5: turn 0°
	// 9: turn 160°
	// 1: turn 40°
	// 4: turn 120°
	// 320° in all
}

func ExamplePullState_Allow() {
	places, err := wear.RadialPlaces(9, 1, []int{5}, false)
	if err != nil {
		fmt.Println(err)
		return
	}
	s := wear.PullState{Places: places, Off: []int{1, 2, 3, 4, 5, 6, 7, 8, 9}}
	fmt.Println(s.Allow(wear.PullMove{Kind: wear.TurnCrank, Degrees: 40}))
	fmt.Println(s.Allow(wear.PullMove{Kind: wear.RefitCylinder, Position: 4}))
	fmt.Println(s.Allow(wear.PullMove{Kind: wear.RefitCylinder, Position: 5}))
	// Output:
	// take step: position 5, a link piston's lowest ring may leave its barrel: a master-rod cylinder is off: the crank is not turned
	// take step: position 4: 5 is still off: the master-rod cylinder goes on first in its row
	// <nil>
}

func ExampleSuggestOrifice() {
	for _, bore := range []string{"4.9990", "5.0000"} {
		o, err := wear.SuggestOrifice(inch(bore))
		fmt.Println(bore, "in:", o.Format(wear.Inch), "in", err)
	}
	// Output:
	// 4.9990 in: 0.0400 in <nil>
	// 5.0000 in: 0.0600 in <nil>
}

// The same leak reads less through a smaller orifice.
func ExampleLeak_Through() {
	l, err := wear.LeakArea(wear.LeakTest{Regulated: 800, Reading: 700, Orifice: wear.LargeOrifice})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, o := range []wear.Value{wear.LargeOrifice, wear.SmallOrifice} {
		psi, err := l.Through(o)
		fmt.Printf("%s in: %.1f psi, %v\n", o.Format(wear.Inch), psi, err)
	}
	// Output:
	// 0.0600 in: 70.0 psi, <nil>
	// 0.0400 in: 43.8 psi, <nil>
}

// A ring 0.020 wider into a groove of 0.0800 with 0.003 to 0.005 clearance.
func ExampleRegrooveFor() {
	ask := wear.RegrooveAsk{Groove: wear.Gauged{Value: inch("0.0800")}, ClearanceMin: inch("0.003"), ClearanceMax: inch("0.005"),
		Lands: []wear.CutLand{{Name: "land below", Width: wear.Gauged{Value: inch("0.1500")}, Percent: 100}}, Unit: wear.Inch}
	g, err := wear.RegrooveFor(ask, wear.WidthRing{Name: "0.020 over", WidthMin: inch("0.0970"), WidthMax: inch("0.0970")})
	fmt.Println(g.Works, g.GrooveMin.Format(wear.Inch), "to", g.GrooveMax.Format(wear.Inch), err)
	// Output: true 0.1000 to 0.1020 <nil>
}

// Two small chances of a hundred tests, the others not at hand: each counts
// for no more than its bound.
func ExampleLeastOf() {
	order, err := wear.LeastOf([]float64{0.0002, 0.004}, 100, 0.05)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, d := range order {
		fmt.Println(d.P, "adjusted", d.Adjusted, d.Passes)
	}
	// Output:
	// 0.0002 adjusted 0.02 true
	// 0.004 adjusted 0.2 false
}

func ExampleFitGroup() {
	group, _, err := wear.FitGroup(barrels(0.0009), wear.Allowance{PerHour: 0.005 / 1500, Life: 1500}, wear.DefaultSettings())
	if err != nil {
		fmt.Println(err)
		return
	}
	low, high, err := group.Band(61, wear.DefaultSettings())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("a normal barrel wears %.4f by 61 h, between %.4f and %.4f\n", group.W(61), low, high)
	// Output:
	// a normal barrel wears 0.0008 by 61 h, between 0.0005 and 0.0016
}

func ExampleGroup_PredictReading() {
	s := wear.DefaultSettings()
	runs := barrels(0.0009)
	group, shares, err := wear.FitGroup(runs, wear.Allowance{PerHour: 0.005 / 1500, Life: 1500}, s)
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := group.PredictReading(runs[8], &shares[8], 161, 0.0002, s)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("at 161 h about %.4f, between %.4f and %.4f\n", p.Median, p.Low, p.High)
	// Output:
	// at 161 h about 5.0020, between 5.0014 and 5.0029
}
