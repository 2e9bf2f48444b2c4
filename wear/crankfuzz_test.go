package wear

import (
	"math"
	"slices"
	"testing"
)

// FuzzCranks: heights, dead centres and leans of cranks with rods of any size.
func FuzzCranks(f *testing.F) {
	feeds(f)
	named := []error{ErrRodShort, ErrLinkShort, ErrPosition, ErrTwice, ErrMasterRod, ErrNoCylinder, ErrRange, ErrNotFinite, ErrRings}
	f.Fuzz(func(t *testing.T, data []byte) {
		in := &feed{data}
		plain := PlainCrank{Radius: in.value(), Rod: in.value() * 3}
		row := RodRow{Crank: in.value() / 2, MasterRod: in.value() * 2, Master: 1 + in.small(3), Ahead: in.float()}
		n := 1 + in.small(5)
		var rings []LowestRing
		for i := range n {
			position := i + 1
			if in.byte() < 10 {
				position = in.small(9) - 1
			}
			plain.Throws = append(plain.Throws, Throw{position, in.float(), in.float()})
			axis := 360 / float64(n) * float64(i)
			row.Cylinders = append(row.Cylinders, RodCylinder{Position: position, Axis: axis, KnuckleRadius: in.value() / 3, KnuckleAngle: axis + in.float()/100, LinkRod: in.value() * 2})
			if position != row.Master {
				rings = append(rings, LowestRing{position, in.value() / 4, in.value() / 3, in.value()})
			}
		}
		at, crank := 1+in.small(n), in.float()
		if h, err := plain.Height(at, crank); sound(t, "height", h, err, named...) && (h > float64(plain.Radius+plain.Rod)/1e6*(1+1e-12) || h < float64(plain.Rod-plain.Radius)/1e6*(1-1e-9)) {
			t.Fatalf("height %g of %+v", h, plain)
		}
		c, err := plain.Curve(at, in.small(40))
		sound(t, "curve", c, err, named...)
		ds, err := plain.DeadCentres()
		sound(t, "dead centres", ds, err, named...)
		h, err := row.Height(at, crank)
		sound(t, "height", h, err, named...)
		c, err = row.Curve(at, in.small(40))
		sound(t, "curve", c, err, named...)
		ds, err = row.DeadCentres()
		if sound(t, "dead centres", ds, err, named...) {
			for _, d := range ds {
				if d.TopHeight < d.BottomHeight || math.Abs(d.Stroke-(d.TopHeight-d.BottomHeight)) > 1e-9*math.Abs(d.TopHeight) {
					t.Fatalf("dead centres %+v", d)
				}
			}
		}
		drops, err := row.Drops(crank, in.float()/4, rings)
		sound(t, "drops", drops, err, named...)
		lean, err := row.SafeLean(crank, rings)
		sound(t, "lean", lean, err, named...)
	})
}

// FuzzOrders: a plan has every cylinder that is to come off once, never turns
// backwards, and the interlock allows it step by step.
func FuzzOrders(f *testing.F) {
	feeds(f)
	named := []error{ErrNoCylinder, ErrPosition, ErrTwice, ErrEach, ErrNoAngles, ErrNotFinite, ErrRange, ErrMasterEarly, ErrMasterLate, ErrMasterRod, ErrRows, ErrFiring}
	f.Fuzz(func(t *testing.T, data []byte) {
		in := &feed{data}
		n, rows := in.small(40)-1, in.small(4)
		if order, err := FiringOrder(n, rows); sound(t, "firing order", order, err, named...) {
			places, err := FiringPlaces(order)
			if !sound(t, "places", places, err, named...) || len(places) != n {
				t.Fatalf("places of %v: %v (%v)", order, places, err)
			}
		}
		places, err := RadialPlaces(n, rows, []int{1 + in.small(12), 1 + in.small(12)}[:min(rows, 2)], in.byte() > 127)
		if !sound(t, "places", places, err, named...) {
			return
		}
		r := PullRequest{Places: places, From: in.float()}
		for range in.small(n + 1) {
			r.Pull = append(r.Pull, 1+in.small(n+1))
		}
		p, err := PlanRemoval(r)
		if !sound(t, "removal", p, err, named...) {
			return
		}
		want := r.Pull
		if want == nil {
			for i := range n {
				want = append(want, i+1)
			}
		}
		state, got := PullState{Places: places, Pull: r.Pull}, []int(nil)
		for _, l := range p.Lines {
			if l.Turn < 0 || l.Turn >= 360 {
				t.Fatalf("turn %g", l.Turn)
			}
			if err := state.Allow(PullMove{Kind: PullCylinder, Position: l.Position}); err != nil {
				t.Fatalf("the plan %v goes against the interlock: %v", p.Lines, err)
			}
			state.Off, got = append(state.Off, l.Position), append(got, l.Position)
		}
		slices.Sort(got)
		if want = slices.Sorted(slices.Values(want)); !slices.Equal(got, want) {
			t.Fatalf("the plan has %v, want %v", got, want)
		}
		back, err := PlanRefit(PullRequest{Places: places, Pull: r.Pull, Off: state.Off, From: p.End})
		if !sound(t, "refit", back, err, named...) {
			t.Fatalf("no order back: %v", err)
		}
		move := PullMove{[]MoveKind{PullCylinder, RefitCylinder, TurnCrank, "wait"}[in.small(4)], in.small(40) - 1, in.float()}
		if err := state.Allow(move); err != nil {
			sound(t, "step", nil, err, append(named, ErrMasterOff, ErrBackwards, ErrIsOff, ErrIsOn, ErrMove)...)
		}
	})
}

// FuzzChances: shares of false discoveries, and the clock and runs of a part.
func FuzzChances(f *testing.F) {
	feeds(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		in := &feed{data}
		var ps []float64
		for range in.small(12) {
			ps = append(ps, in.float()/256)
		}
		q, more := in.float()/256, in.small(400)
		order, err := Discoveries(ps, q)
		if sound(t, "discoveries", order, err, ErrNotFinite, ErrRange) {
			for i, d := range order {
				if d.Adjusted < d.P || d.Adjusted > 1 || i > 0 && order[i-1].Adjusted > d.Adjusted {
					t.Fatalf("order %+v", order)
				}
			}
			least, err := LeastOf(ps, more, q)
			if !sound(t, "least", least, err) {
				t.Fatal(err)
			}
			for i := range least {
				if least[i].Adjusted < order[i].Adjusted {
					t.Fatalf("of %d tests %+v, of all %+v", more, least[i], order[i])
				}
			}
		}
		days := []Day{"2024-01-01", "2024-02-01", "2024-02-01", "2024-03-01", ""}
		c := Clock{Before: Hours(in.value())}
		for range in.small(4) {
			c.Stays = append(c.Stays, Stay{Engine: int64(in.small(3)), From: days[in.small(4)], FromHours: Hours(in.value()), To: days[in.small(5)], ToHours: Hours(in.value())})
		}
		at, err := c.At(days[in.small(5)], &EngineHours{int64(in.small(3)), Hours(in.value())})
		sound(t, "hours of a part", at, err, ErrHoursNeeded, ErrHoursOrder, ErrDay, ErrStay)
		var marks []Mark
		for range in.small(6) {
			marks = append(marks, Mark{Event: WearEvents[in.small(len(WearEvents))], Day: days[in.small(4)], At: Hours(in.value()), Groove: in.small(4), Oversize: in.bound(), After: int64(in.small(9)) - 1})
		}
		spans := Runs(Feature{Kind: Cylinder, Name: "barrel bore", Wear: Up}, in.small(3), marks, in.value())
		if i := SpanOn(spans, days[in.small(4)], Hours(in.value()), int64(in.small(9))); i < 0 || i >= len(spans) {
			t.Fatalf("run %d of %d", i, len(spans))
		}
	})
}
