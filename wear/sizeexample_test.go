package wear_test

import (
	"fmt"

	"barrelbook/wear"
)

// inch reads a size in inches that is known to be one.
func inch(text string) wear.Value {
	v, err := wear.ParseValue(text, wear.Inch)
	if err != nil {
		panic(err)
	}
	return v
}

func ExampleParseValue() {
	v, err := wear.ParseValue("5.2535", wear.Inch)
	fmt.Println(int64(v), "nm is", v.Format(wear.Millimetre), "mm", err)
	_, err = wear.ParseValue("5,2535", wear.Inch)
	fmt.Println(err)
	// Output:
	// 133438900 nm is 133.4389 mm <nil>
	// "5,2535" is not a number: write the decimals after a point
}

func ExampleParseHours() {
	h, err := wear.ParseHours("1204.55")
	fmt.Println(h, h.Float(), err)
	// Output: 1204.55 1204.55 <nil>
}

func ExampleLastDigit() {
	// A gauge that was read to 5.253 shows steps of 0.001.
	step, err := wear.LastDigit("5.253", wear.Inch)
	fmt.Println(step.Format(wear.Inch), err)
	// Output: 0.0010 <nil>
}

// 0.0004 past the limit with U of 0.00033 is beyond; 0.0003 past is not sure.
func ExampleAssess() {
	most := inch("5.2600")
	u := wear.StandardUncertainty(float64(inch("0.0002")), 0, 0)
	for _, text := range []string{"5.2590", "5.2598", "5.2603", "5.2604"} {
		a := wear.Assess(inch(text), u, wear.Limit{ServiceMax: &most, Wear: wear.Up})
		fmt.Printf("%s: %s, plainly %s\n", text, a.Verdict, a.Plain)
	}
	// Output:
	// 5.2590: serviceable, plainly serviceable
	// 5.2598: undecided, plainly serviceable
	// 5.2603: undecided, plainly beyond
	// 5.2604: beyond, plainly beyond
}

// A dial that scatters by 2, that people read differently by 1, and that is read
// in steps of 1: √(2² + 1² + 1²/12).
func ExampleStandardUncertainty() {
	u := wear.StandardUncertainty(2, 1, 1)
	fmt.Printf("u = %.3f, U = %.3f\n", u, wear.ExpandedU(u))
	// Output: u = 2.255, U = 3.709
}

func ExampleLimit_Shifted() {
	least, most := inch("5.2490"), inch("5.2510")
	over := wear.Limit{NewMin: &least, NewMax: &most}.Shifted(inch("0.010"))
	fmt.Println(over.NewMin.Format(wear.Inch), over.NewMax.Format(wear.Inch))
	// Output: 5.2590 5.2610
}

func ExampleMatchFitOf() {
	least, most, worn := inch("0.020"), inch("0.024"), inch("0.030")
	f, err := wear.MatchFitOf(wear.Limit{NewMin: &least, NewMax: &most, ServiceMax: &worn}, true)
	fmt.Println(f.Min.Format(wear.Inch), f.Max.Format(wear.Inch), f.Target.Format(wear.Inch), err)
	// Output: 0.0200 0.0300 0.0220 <nil>
}

// A barrel ran 200 h on one engine, and sits on another since its 1,000 h.
func ExampleClock_At() {
	c := wear.Clock{Stays: []wear.Stay{
		{Engine: 1, From: "2024-01-10", FromHours: 0, To: "2024-09-01", ToHours: 20_000},
		{Engine: 2, From: "2024-10-01", FromHours: 100_000},
	}}
	h, err := c.At("2025-03-01", &wear.EngineHours{Engine: 2, Hours: 105_050})
	fmt.Println(h, err)
	_, err = c.At("2025-03-01", nil)
	fmt.Println(err)
	// Output:
	// 250.5 <nil>
	// the engine's hours are needed: the part was running on that date
}

func ExampleRuns() {
	bore := wear.Feature{Kind: wear.Cylinder, Name: "barrel bore"}
	spans := wear.Runs(bore, 0, []wear.Mark{
		{Event: wear.InstalledNew, Day: "2024-01-10", At: 0},
		{Event: wear.Honed, Day: "2024-09-03", At: 20_000},
	}, 0)
	for _, s := range spans {
		fmt.Printf("run %d from %s h on, since %s\n", s.Number, s.Start.At, s.Start.Event.Since())
	}
	fmt.Println("a reading at 120 h belongs to run", spans[wear.SpanOn(spans, "2024-05-01", 12_000, 1)].Number)
	// Output:
	// run 1 from 0.0 h on, since installation
	// run 2 from 200.0 h on, since honing
	// a reading at 120 h belongs to run 1
}
