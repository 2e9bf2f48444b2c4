package wear_test

import (
	"fmt"
	"slices"

	"barrelbook/wear"
)

// ofKind is a built-in feature.
func ofKind(kind wear.Kind, name string) wear.Feature {
	i := slices.IndexFunc(wear.BuiltIn, func(f wear.Feature) bool { return f.Kind == kind && f.Called(name) })
	f := wear.BuiltIn[i]
	f.BuiltIn = true // as the book marks them
	return f
}

// at is a bound of a limit, in inches.
func at(text string) *wear.Value {
	v := inch(text)
	return &v
}

func ExampleParseKind() {
	kind, ok := wear.ParseKind(" Cylinders ")
	fmt.Println(kind, ok)
	_, ok = wear.ParseKind("propeller")
	fmt.Println(ok)
	// Output:
	// cylinder true
	// false
}

// A shaft gets smaller as it wears: times its sign, wear is positive.
func ExampleDirection_Sign() {
	fmt.Println(wear.Up.Sign(), wear.Down.Sign(), wear.NoWear.Sign())
	// Output: 1 -1 0
}

func ExampleParseDirection() {
	d, ok := wear.ParseDirection("Down")
	fmt.Println(d, ok)
	// Output: down true
}

func ExampleFeature_Called() {
	bore := ofKind(wear.Cylinder, "barrel bore")
	fmt.Println(bore.Called("Barrel_Bore"), bore.Called("bore"), bore.Called("skirt"))
	// Output: true true false
}

func ExampleFeature_Spots() {
	stations, axes := []string{"top", "middle"}, []string{"along", "across"}
	fmt.Println(ofKind(wear.Cylinder, "barrel bore").Spots(stations, axes))
	fmt.Println(ofKind(wear.Cylinder, "valve stem").Spots(stations, axes))
	fmt.Println(len(ofKind(wear.Pin, "weight").Spots(stations, axes)), "spot of a weight")
	// Output:
	// [[top along] [top across] [middle along] [middle across]]
	// [[intake ] [exhaust ]]
	// 1 spot of a weight
}

func ExampleNormalName() {
	fmt.Println(wear.NormalName(" Re-grooved  by_Hand"))
	// Output: re grooved by hand
}

func ExampleParseDay() {
	day, err := wear.ParseDay("2024-02-29")
	fmt.Println(day, err)
	_, err = wear.ParseDay("2023-02-29")
	fmt.Println(err)
	// Output:
	// 2024-02-29 <nil>
	// "2023-02-29" is not a date: write it as 2006-01-31
}

func ExampleParseEvent() {
	event, ok := wear.ParseEvent("Re-grooved")
	fmt.Println(event, ok)
	// Output: re-grooved true
}

// Grinding begins a new run of the bore, but not of the guides.
func ExampleEvent_Resets() {
	for _, name := range []string{"barrel bore", "guide bore"} {
		fmt.Println(name, wear.Ground.Resets(ofKind(wear.Cylinder, name), 0, 0))
	}
	// Output:
	// barrel bore true
	// guide bore false
}

func ExampleEvent_Fresh() {
	fmt.Println(wear.Ground.Fresh(), wear.Honed.Fresh())
	// Output: true false
}

func ExampleEvent_Since() {
	fmt.Println("61 h since", wear.Honed.Since())
	// Output: 61 h since honing
}

// A reading of the day of grinding, taken before it, is of the old run.
func ExampleSpanOn() {
	over := inch("0.010")
	marks := []wear.Mark{{Event: wear.Ground, Day: "2024-05-01", At: 80_000, Oversize: &over, After: 7}}
	spans := wear.Runs(ofKind(wear.Cylinder, "barrel bore"), 0, marks, 0)
	for _, number := range []int64{7, 8} {
		s := spans[wear.SpanOn(spans, "2024-05-01", 80_000, number)]
		fmt.Printf("reading %d: run %d, oversize %s in\n", number, s.Number, s.Oversize.Format(wear.Inch))
	}
	// Output:
	// reading 7: run 1, oversize 0.0000 in
	// reading 8: run 2, oversize 0.0100 in
}

func ExampleUnitNamed() {
	inches, err := wear.UnitNamed("inches")
	fmt.Println(inches.Name, inches.Dim, err)
	own, err := wear.UnitNamed("Shore A")
	fmt.Println(own.Name, own.Dim, err)
	// Output:
	// in length <nil>
	// Shore A plain <nil>
}

func ExampleUnitsOf() {
	for _, u := range wear.UnitsOf(wear.Force) {
		fmt.Println(u.Name)
	}
	// Output:
	// N
	// lbf
}

func ExampleUnit_Decimals() {
	fmt.Println(wear.Inch.Decimals(), wear.Millimetre.Decimals())
	// Output: 4 3
}

func ExampleUnit_FormatFloat() {
	fmt.Println(wear.Inch.FormatFloat(0.00085, 0), wear.Inch.FormatFloat(0.00085, 1))
	// Output: 0.0008 0.00085
}

func ExampleValue_In() {
	fmt.Println(wear.Value(25_400_000).In(wear.Inch), wear.Value(25_400_000).In(wear.Millimetre))
	// Output: 1 25.4
}

func ExampleValue_Format() {
	fmt.Println(inch("5.25").Format(wear.Inch), inch("0.00005").Format(wear.Inch), inch("1").Format(wear.Millimetre))
	// Output: 5.2500 0.00005 25.400
}

func ExampleValueOf() {
	v, err := wear.ValueOf(0.5, wear.Inch)
	fmt.Println(int64(v), err)
	// Output: 12700000 <nil>
}

func ExampleAssumedSD() {
	fmt.Println(wear.AssumedSD(wear.Length).Format(wear.Inch), wear.AssumedSD(wear.Force))
	// Output: 0.0002 0
}

func ExampleListOf() {
	position := func(i int) string { return fmt.Sprint("cylinder ", i) }
	fmt.Println(wear.ListOf([]int{2, 5, 9}, position))
	// Output: cylinder 2, cylinder 5 and cylinder 9
}

// bore is the service and new limits of a barrel, with an overhaul life of
// 1,500 h.
func bore() wear.Limit {
	return wear.Limit{NewMin: at("5.0000"), NewMax: at("5.0020"), ServiceMax: at("5.0060"), Wear: wear.Up, Life: 150_000}
}

func ExampleLimit_Nominal() {
	nominal, ok := bore().Nominal()
	fmt.Println(nominal.Format(wear.Inch), ok)
	// Output: 5.0000 true
}

func ExampleLimit_MiddleOfNew() {
	mid, u, ok := bore().MiddleOfNew()
	fmt.Printf("%.4f ± %.5f in, %v\n", mid/25.4e6, u/25.4e6, ok)
	crossed := wear.Limit{NewMin: at("5.0020"), NewMax: at("5.0000")}
	_, _, ok = crossed.MiddleOfNew()
	fmt.Println(ok, "where they are crossed")
	// Output:
	// 5.0010 ± 0.00058 in, true
	// false where they are crossed
}

func ExampleLimit_ServiceLimit() {
	service, ok := bore().ServiceLimit()
	fmt.Println(service.Format(wear.Inch), ok)
	// Output: 5.0060 true
}

// From 5.0010 to 5.0060 in 1,500 h.
func ExampleLimit_AllowancePerHour() {
	perHour, ok := bore().AllowancePerHour()
	fmt.Printf("%.5f in in 100 h, %v\n", 100*perHour/25.4e6, ok)
	// Output: 0.00033 in in 100 h, true
}

func ExampleExpandedU() {
	fmt.Printf("%.5f in\n", wear.ExpandedU(0.0002))
	// Output: 0.00033 in
}

func ExampleMaterialOf() {
	for _, k := range []wear.Kind{wear.Cylinder, wear.Piston, wear.Ring} {
		fmt.Println(k, wear.MaterialOf(k).Name)
	}
	// Output:
	// cylinder steel (4140, 4340)
	// piston piston alloy AlSi12
	// ring grey iron
}

func ExampleDefaultRatioLimits() {
	l := wear.DefaultRatioLimits()
	fmt.Printf("%.3f to %.2f\n", l.Low, l.High)
	// Output: 0.870 to 1.15
}

func ExampleDefaultFacingRules() {
	a, err := wear.JudgeFacing("Hard-Chrome", "porous chrome", wear.DefaultFacingRules())
	fmt.Println(a.State, a.BuiltIn, err)
	// Output: not allowed true <nil>
}

func ExampleFitText() {
	fmt.Println(wear.FitText(inch("0.0015"), wear.Inch), wear.FitText(inch("-0.0005"), wear.Inch))
	// Output: 0.0015L 0.0005T
}

// Bore and skirt pass, each for itself; the clearance between them does not.
func ExampleJoint() {
	hole := wear.Assess(inch("5.0050"), 0, wear.Limit{ServiceMax: at("5.0060")})
	shaft := wear.Assess(inch("4.9850"), 0, wear.Limit{ServiceMin: at("4.9840")})
	fit := wear.Assess(inch("0.0200"), 0, wear.Limit{ServiceMax: at("0.0180")})
	j := wear.Joint(hole, shaft, fit)
	fmt.Println(hole.Verdict, shaft.Verdict, j.Verdict, j.FitDecides)
	// Output: serviceable serviceable beyond true
}

func ExampleBanOversizes() {
	ask := wear.MatchAsk{
		Holes:  []wear.MatchHole{{Name: "1", Oversize: inch("0.010")}},
		Shafts: []wear.MatchShaft{{Name: "A"}, {Name: "B", Oversize: inch("0.010")}},
		Unit:   wear.Inch,
	}
	for _, b := range wear.BanOversizes(ask) {
		fmt.Println(b.Hole, b.Shaft, b.Reason)
	}
	// Output: 0 0 barrel 1 is 0.0100 in oversize, piston A is standard
}

func ExampleParsePSI() {
	p, err := wear.ParsePSI("78.5")
	fmt.Println(p, p.Float(), err)
	_, err = wear.ParsePSI("78.55")
	fmt.Println(err)
	// Output:
	// 78.5 78.5 <nil>
	// "78.55" is finer than the book keeps (a tenth of a psi)
}

func ExampleAirHeard_Meaning() {
	words, err := wear.AirAtBreather.Meaning()
	fmt.Println(words, err)
	// Output: Air at the breather: it passes the piston rings. <nil>
}

// A leak at 120.5 h, as a point of the trend.
func ExampleLeak_Point() {
	l, err := wear.LeakArea(wear.LeakTest{Reading: 720, Orifice: wear.SmallOrifice, Resolution: 5})
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := l.Point(12_050)
	fmt.Printf("%.2f h: %.3f ± %.3f mm², %v\n", p.Hours, p.Y, p.U, err)
	// Output: 120.50 h: 0.507 ± 0.007 mm², <nil>
}

func ExampleRegrooveSummary() {
	fmt.Println(wear.RegrooveSummary([]wear.Regroove{{Ring: wear.WidthRing{Name: "0.020 over"}, Reasons: []wear.RegrooveReason{wear.LandTooThin}}}))
	// Output: None of the listed over-width rings works. 0.020 over: a land would be left below its limit.
}

// A rod as long as the crank's radius could not pass the dead centre.
func ExamplePlainCrank_Check() {
	c := wear.PlainCrank{Radius: inch("3"), Rod: inch("3"), Throws: []wear.Throw{{Position: 1}}}
	fmt.Println(c.Check())
	// Output: check crank: the rod is not longer than the crank radius
}

func ExamplePlainCrank_Curve() {
	c := wear.PlainCrank{Radius: 60_000_000, Rod: 200_000_000, Throws: []wear.Throw{{Position: 1}}}
	heights, err := c.Curve(1, 4)
	fmt.Printf("%.1f %v\n", heights, err)
	// Output: [260.0 190.8 140.0 190.8] <nil>
}

func ExampleRodRow_Check() {
	row := nineRow()
	fmt.Println(row.Check())
	row.Master = 12
	fmt.Println(row.Check())
	// Output:
	// <nil>
	// check row: position 12: the master-rod cylinder is not known
}

func ExampleRodRow_Curve() {
	heights, err := nineRow().Curve(1, 2)
	fmt.Printf("%.1f %v\n", heights, err)
	// Output: [330.0 190.0] <nil>
}
