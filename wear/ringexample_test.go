package wear_test

import (
	"fmt"

	"barrelbook/wear"
)

// tensioned is a 130 mm cast iron ring, 2.4 mm wide, of so many newtons across,
// each read to 0.2 N.
func tensioned(newtons int64, width wear.Value) wear.RingSizes {
	return wear.RingSizes{
		From: wear.FromDiametral, Material: wear.CastIronRing,
		Force: wear.Gauged{Value: wear.Value(newtons * 1_000_000), U: 58_000},
		Width: wear.Gauged{Value: width, U: 1000}, Bore: wear.Gauged{Value: 130_000_000},
	}
}

func ExamplePressureOf() {
	p, err := wear.PressureOf(tensioned(50, 2_400_000))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f ± %.3f N/mm² from the %s\n", p.P, wear.ExpandedU(p.U), p.Ring.From)
	for _, s := range p.Working {
		fmt.Println(s.Equation, "|", s.Numbers)
	}
	// Output:
	// 0.156 ± 0.007 N/mm² from the diametral force
	// Ft = Fd / k | 50 N / 2.05 = 24.39 N
	// p = 2 Ft / (d h) | 2 × 24.39 N / (130.000 mm × 2.400 mm) = 0.1563 N/mm²
	// u(p) = p √Σ(part)² | 0.1563 × √(0.0012² + 0.00042² + 0² + 0.029²) = 0.004517 N/mm²
}

func ExampleComparePressure() {
	original, err := wear.PressureOf(tensioned(50, 2_400_000))
	if err != nil {
		fmt.Println(err)
		return
	}
	offered, err := wear.PressureOf(tensioned(65, 2_400_000))
	if err != nil {
		fmt.Println(err)
		return
	}
	c, err := wear.ComparePressure(offered, original, wear.DefaultRatioLimits())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(c.State)
	fmt.Println(c.Words)
	// Output:
	// higher
	// Presses 1.300 ± 0.003 times as hard as the ring it replaces. Expect it to wear the barrel and the piston fast: a barrel under 100 h old can look like one of 1,000 h, and the piston wears with it.
}

func ExampleDiametralFactor() {
	k, u, source, err := wear.DiametralFactor(wear.OtherMaterial)
	fmt.Printf("%.4f ± %.2f, %s, %v\n", k, u, source, err)
	// Output: 2.2732 ± 0.13, thin-ring theory, by derivation, <nil>
}

func ExampleRankRegrooves() {
	least := wear.Value(3_556_000) // 0.140 in
	ask := wear.RegrooveAsk{
		Groove:       wear.Gauged{Value: 2_032_000}, // 0.0800 in
		ClearanceMin: 76_200, ClearanceMax: 127_000, // 0.003 to 0.005 in
		Lands: []wear.CutLand{{Name: "land below", Width: wear.Gauged{Value: 3_810_000}, Min: &least, Percent: 100}},
		Unit:  wear.Inch,
	}
	list, err := wear.RankRegrooves(ask, []wear.WidthRing{
		{Name: "0.020 over", WidthMin: 2_463_800, WidthMax: 2_463_800},
		{Name: "0.005 over", WidthMin: 2_082_800, WidthMax: 2_082_800},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(wear.RegrooveSummary(list))
	for _, g := range list {
		fmt.Println(g.Ring.Name, g.Works, g.Reasons)
	}
	for _, s := range list[0].Working {
		fmt.Println(s.Text+":", s.Numbers)
	}
	// Output:
	// 0.005 over works with the least drawback.
	// 0.005 over true []
	// 0.020 over false [a land would be left below its limit]
	// new groove width: least 0.0820 in + 0.0030 in = 0.0850 in, most 0.0820 in + 0.0050 in = 0.0870 in
	// cleans up: 0.0800 in + 0.0000 in = 0.0800 in against 0.0870 in
	// to machine: 0.0850 in - 0.0800 in = 0.0050 in to 0.0870 in - 0.0800 in = 0.0070 in
	// side clearance then: least 0.0850 in - 0.0820 in = 0.0030 in, most 0.0870 in - 0.0820 in = 0.0050 in
	// land below: 0.1500 in - 0.0070 in = 0.1430 in
}

func ExampleJudgeFacing() {
	rules := wear.DefaultFacingRules()
	rules.Pairs = []wear.FacingPair{{Facing: "plain iron", Surface: "chrome-plated", Allowed: true, Document: "maker's ring list, page 3"}}
	for _, facing := range []string{"hard chrome", "plain iron", "nitrided"} {
		a, err := wear.JudgeFacing(facing, "chrome-plated", rules)
		fmt.Println(a.State, err)
		fmt.Println(a.Words)
	}
	// Output:
	// not allowed <nil>
	// A ring faced with hard chrome never runs in a chrome-plated bore: chrome on chrome scuffs and wears both.
	// allowed <nil>
	// A ring faced with plain iron may run in a chrome-plated bore.
	// unknown <nil>
	// The shop's list says nothing of nitrided on chrome-plated: look it up in the maker's list before fitting.
}
