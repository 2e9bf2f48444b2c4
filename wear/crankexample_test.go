package wear_test

import (
	"fmt"

	"barrelbook/wear"
)

// nineRow is a made-up row: crank radius 70 mm, master rod 260 mm in cylinder
// 1, knuckle pins at 65 mm, link rods 195 mm.
func nineRow() wear.RodRow {
	w := wear.RodRow{Crank: 70_000_000, MasterRod: 260_000_000, Master: 1}
	for i := range 9 {
		axis := float64(40 * i)
		w.Cylinders = append(w.Cylinders, wear.RodCylinder{Position: i + 1, Axis: axis, KnuckleRadius: 65_000_000, KnuckleAngle: axis, LinkRod: 195_000_000})
	}
	return w
}

func ExampleRodRow_DeadCentres() {
	centres, err := nineRow().DeadCentres()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, d := range centres[:4] {
		fmt.Printf("cylinder %d: nominal %.0f°, true top %+.2f°, bottom %+.2f°, stroke %.3f mm\n", d.Position, d.Nominal, d.TopOffset, d.BottomOffset, d.Stroke)
	}
	// Output:
	// cylinder 1: nominal 0°, true top +0.00°, bottom +0.00°, stroke 140.000 mm
	// cylinder 2: nominal 40°, true top +0.60°, bottom -0.98°, stroke 140.013 mm
	// cylinder 3: nominal 80°, true top +3.34°, bottom -5.45°, stroke 140.393 mm
	// cylinder 4: nominal 120°, true top +4.74°, bottom -10.63°, stroke 141.123 mm
}

func ExamplePlainCrank_Height() {
	c := wear.PlainCrank{Radius: 3_000_000, Rod: 5_000_000, Throws: []wear.Throw{{Position: 1}}}
	s, err := c.Height(1, 90)
	fmt.Println(s, err)
	// Output: 4 <nil>
}

func ExampleRodRow_SafeLean() {
	var rings []wear.LowestRing
	for p := 2; p <= 9; p++ {
		rings = append(rings, wear.LowestRing{Position: p, PinToCrown: 40_000_000, BelowCrown: 60_000_000, SkirtEnd: 165_000_000})
	}
	l, err := nineRow().SafeLean(0, rings)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f° lets a ring out of cylinder %d\n", l.Angle, l.Position)
	drops, err := nineRow().Drops(0, l.Angle+1, rings)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, d := range drops {
		if d.Leaves {
			fmt.Printf("a degree more: cylinder %d down %.2f mm, its ring %.2f mm outside\n", d.Position, d.Drop, -d.Room)
		}
	}
	// Output:
	// 19.6° lets a ring out of cylinder 5
	// a degree more: cylinder 5 down 8.40 mm, its ring 0.65 mm outside
}

func ExampleFiringOrder() {
	order, err := wear.FiringOrder(9, 1)
	fmt.Println(order, err)
	// Output: [1 3 5 7 9 2 4 6 8] <nil>
}

func ExamplePlanRemoval() {
	places, err := wear.RadialPlaces(9, 1, []int{5}, false)
	if err != nil {
		fmt.Println(err)
		return
	}
	plan, err := wear.PlanRemoval(wear.PullRequest{Places: places, Pull: []int{1, 4, 5, 9}, From: 50})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, l := range plan.Lines {
		fmt.Printf("%d: turn %.0f° to %.0f°. %s\n", l.Position, l.Turn, l.Angle, l.Reason)
	}
	state := wear.PullState{Places: places, Pull: []int{1, 4, 5, 9}, Off: []int{4}}
	fmt.Println(state.Allow(wear.PullMove{Kind: wear.PullCylinder, Position: 5}))
	// Output:
	// 4: turn 70° to 120°. The next piston to reach top dead centre, 70° on in the direction of rotation.
	// 9: turn 200° to 320°. The next piston to reach top dead centre, 200° on in the direction of rotation.
	// 1: turn 40° to 0°. The next piston to reach top dead centre, 40° on in the direction of rotation.
	// 5: turn 160° to 160°. Master-rod cylinder: last of its row to come off. From then on the crank is not turned, and its rod stays centred: pistons are still in cylinders 2, 3, 6, 7, 8.
	// take step: position 5: 1 is still to come off, and the crank is not turned after: the master-rod cylinder comes off last in its row
}
