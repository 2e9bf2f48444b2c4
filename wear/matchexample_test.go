package wear_test

import (
	"fmt"

	"barrelbook/wear"
)

// shelf is two barrels and three weighed pistons, in inches and grams.
func shelf() (wear.MatchAsk, error) {
	ask := wear.MatchAsk{
		Fit:    wear.MatchFit{Min: 254_000, Max: 355_600}, // 0.010 to 0.014 in
		Spread: 7_000_000, Unit: wear.Inch,
		Holes: []wear.MatchHole{
			{Name: "1", Size: wear.Gauged{Value: 130_175_000}}, // 5.1250 in
			{Name: "2", Size: wear.Gauged{Value: 130_225_800}}, // 5.1270 in
		},
	}
	for _, piston := range []struct{ name, skirt, weight string }{
		{"A", "5.1149", "1010"}, {"B", "5.1150", "1020"}, {"C", "5.1129", "1005"},
	} {
		skirt, err := wear.ParseValue(piston.skirt, wear.Inch)
		if err != nil {
			return ask, err
		}
		weight, err := wear.ParseValue(piston.weight, wear.Gram)
		if err != nil {
			return ask, err
		}
		ask.Shafts = append(ask.Shafts, wear.MatchShaft{Name: piston.name, Size: wear.Gauged{Value: skirt}, Weight: &weight})
	}
	return ask, nil
}

func ExampleMatch() {
	ask, err := shelf()
	if err != nil {
		fmt.Println(err)
		return
	}
	m, err := wear.Match(ask)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, l := range m.Best.Lines {
		fmt.Println("barrel", ask.Holes[l.Hole].Name, "piston", ask.Shafts[l.Shaft].Name, l.Clearance.Format(wear.Inch), l.Works)
	}
	for _, s := range m.Best.Working {
		fmt.Println(s.Text+":", s.Numbers)
	}
	ask.Spread = 4_000_000
	if m, err = wear.Match(ask); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(m.Why.Words)
	// Output:
	// barrel 1 piston C 0.0121 true
	// barrel 2 piston A 0.0121 true
	// spread of weights: 1010.0 g - 1005.0 g = 5.0 g
	// typical distance from the wanted clearance: √(((0.0001 in)² + (0.0001 in)²) / 2) = 0.0001 in
	// Every set that fits is more than 4.0 g apart in weight; 5.0 g would do.
}

func ExampleJudgePlacing() {
	ask, err := shelf()
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := wear.JudgePlacing(ask, []int{2, 1}) // the mechanic takes piston B for barrel 2
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, b := range p.Breaches {
		fmt.Println(b.Words)
	}
	// Output: from piston C to piston B the weights are 15.0 g apart, 8.0 g more than allowed
}
