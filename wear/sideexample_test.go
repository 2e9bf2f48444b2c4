package wear_test

import (
	"fmt"

	"barrelbook/wear"
)

// built is the built-in feature of this kind and name.
func built(k wear.Kind, name string) wear.Feature {
	for _, f := range wear.BuiltIn {
		if f.Kind == k && f.Name == name {
			f.BuiltIn = true
			return f
		}
	}
	return wear.Feature{}
}

// A side clearance from 0.0040 to 0.0060 in new, worn up to 0.0110 in.
func sideClearance() wear.Limit {
	l := wear.Limit{Wear: wear.Up}
	for text, to := range map[string]**wear.Value{"0.0040": &l.NewMin, "0.0060": &l.NewMax, "0.0110": &l.ServiceMax} {
		if v, err := wear.ParseValue(text, wear.Inch); err == nil {
			*to = &v
		}
	}
	return l
}

func ExampleFeature_Span() {
	least, most, ok := built(wear.Cylinder, "barrel bore").Span()
	fmt.Println(least.Format(wear.Inch), most.Format(wear.Inch), ok)
	_, _, ok = wear.Feature{Name: "a shop's own"}.Span()
	fmt.Println(ok)
	// Output:
	// 0.5000 40.0000 true
	// false
}

// Hundredths of a millimetre typed where inches are read.
func ExampleFeature_Outside() {
	f := built(wear.Cylinder, "barrel bore")
	for _, text := range []string{"5.2510", "133.38"} {
		v, _ := wear.ParseValue(text, wear.Inch)
		fmt.Printf("%q\n", f.Outside(v, wear.Inch))
	}
	// Output:
	// ""
	// "133.3800 in: is the decimal point right? A barrel bore is between 0.5000 and 40.0000 in"
}

func ExampleFeature_Expands() {
	fmt.Println(built(wear.Cylinder, "barrel bore").Expands(), built(wear.Ring, "end gap").Expands(), built(wear.Piston, "weight").Expands())
	// Output: true false false
}

// A barrel read at 4 °C, with steel's expansion: ISO 1.
func ExampleCount() {
	v, _ := wear.ParseValue("5.1262", wear.Inch)
	celsius := 4.0
	bore := wear.Count(built(wear.Cylinder, "barrel bore"), wear.Gauged{Value: v}, &celsius, wear.MaterialOf(wear.Cylinder))
	fmt.Println(wear.Inch.FormatFloat(bore.Value.In(wear.Inch), 0), bore.Carried)
	gap := wear.Count(built(wear.Ring, "end gap"), wear.Gauged{Value: v}, &celsius, wear.MaterialOf(wear.Ring))
	fmt.Println(gap.Value == v, gap.Carried)
	// Output:
	// 5.1272 true
	// true false
}

// The new minimum bounds the tight side where no service minimum is typed.
func ExampleFeature_Held() {
	low, high := built(wear.Piston, "side clearance").Held(sideClearance())
	fmt.Println(low.Format(wear.Inch), high.Format(wear.Inch))
	low, high = built(wear.Piston, "groove width").Held(sideClearance())
	fmt.Println(low, high.Format(wear.Inch))
	// Output:
	// 0.0040 0.0110
	// <nil> 0.0110
}

// A side clearance has two ways to be bad, a groove width one.
func ExampleFeature_Assess() {
	v, _ := wear.ParseValue("0.0020", wear.Inch)
	fmt.Println(built(wear.Piston, "side clearance").Assess(v, 0, sideClearance()).Verdict)
	fmt.Println(built(wear.Piston, "groove width").Assess(v, 0, sideClearance()).Verdict)
	// Output:
	// beyond
	// serviceable
}

// Gauged to 0.0005 in, one standard deviation.
func ExampleAssessClearance() {
	for _, text := range []string{"-0.0030", "0.0020", "0.0037", "0.0050", "0.0090", "0.0130"} {
		v, _ := wear.ParseValue(text, wear.Inch)
		a := wear.AssessClearance(v, 12_700, sideClearance())
		fmt.Println(text, a.Verdict, a.Plain, a.Tight(), a.Interference)
	}
	// Output:
	// -0.0030 beyond beyond true true
	// 0.0020 beyond beyond true false
	// 0.0037 undecided beyond true false
	// 0.0050 new new true false
	// 0.0090 serviceable serviceable false false
	// 0.0130 beyond beyond false false
}

func ExampleAssessment_Tight() {
	v, _ := wear.ParseValue("0.0020", wear.Inch)
	fmt.Println(wear.AssessClearance(v, 0, sideClearance()).Tight())
	// Output: true
}

// The groove is loose enough at its widest spot, and binds at its narrowest.
func ExampleWorstFit() {
	at := func(hole, shaft string) wear.Fit {
		h, _ := wear.ParseValue(hole, wear.Inch)
		s, _ := wear.ParseValue(shaft, wear.Inch)
		f, _ := wear.FitOf(wear.Gauged{Value: h}, wear.Gauged{Value: s})
		return f
	}
	fit, a := wear.WorstFit(at("0.0990", "0.0930"), at("0.0960", "0.0935"), sideClearance())
	fmt.Println(wear.FitText(fit.Clearance, wear.Inch), a.Verdict)
	// Output: 0.0025L beyond
}

// Half of a group is never taken out by shares, and of a small one nothing is.
func ExampleSettings_TakesAway() {
	s := wear.DefaultSettings()
	fmt.Println(s.TakesAway(10_000, 9), s.TakesAway(10_000, 5000), s.TakesAway(30, 1))
	// Output: true false false
}
