package wear

import (
	"errors"
	"fmt"
	"math"
	"math/rand"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// leastTurning tries every order in which the cylinders may go, turning
// forwards only, and returns the least total.
func leastTurning(places []CrankPlace, from float64, refit bool) float64 {
	best := math.Inf(1)
	var try func(left []CrankPlace, at, sum float64)
	try = func(left []CrankPlace, at, sum float64) {
		if sum >= best {
			return
		}
		if len(left) == 0 {
			best = sum
		}
		for i, c := range left {
			others := func(o CrankPlace) bool { return o.Master != c.Master }
			if c.Master != refit && slices.ContainsFunc(left, others) {
				continue // a master before another on removal, another before a master on refitting
			}
			rest := slices.Delete(slices.Clone(left), i, i+1)
			turn := math.Mod(c.Angle-at+720, 360)
			if turn > 360-1e-6 {
				turn = 0
			}
			try(rest, c.Angle, sum+turn)
		}
	}
	try(places, math.Mod(from, 360), 0)
	return best
}

// anyEngine is a radial engine of 3 to 14 cylinders, in one row or two.
func anyEngine(t *testing.T, rnd *rand.Rand) []CrankPlace {
	t.Helper()
	n := 3 + rnd.Intn(12)
	rows, masters := 1, []int{1 + rnd.Intn(n)}
	if n%2 == 0 && rnd.Intn(3) > 0 {
		rows, masters = 2, []int{1 + 2*rnd.Intn(n/2), 2 + 2*rnd.Intn(n/2)}
	}
	places, err := RadialPlaces(n, rows, masters, rnd.Intn(2) == 0)
	if err != nil {
		t.Fatal(err)
	}
	return places
}

// some are positions to pull, at least one and at most most of them.
func some(rnd *rand.Rand, places []CrankPlace, most int) []int {
	var pull []int
	for _, i := range rnd.Perm(len(places))[:1+rnd.Intn(min(most, len(places)))] {
		pull = append(pull, places[i].Position)
	}
	return pull
}

// No order that keeps the rule turns the crank less: against every order, up
// to nine cylinders pulled of engines of 3 to 14.
func TestPlansTurnLeast(t *testing.T) {
	rnd := rand.New(rand.NewSource(8201))
	for i := range 300 {
		r := PullRequest{Places: anyEngine(t, rnd), From: float64(rnd.Intn(3600)) / 10}
		if r.Pull = some(rnd, r.Places, 9); i < 30 {
			r.Places, r.Pull = anyEngine(t, rnd), nil
			for len(r.Places) > 9 {
				r.Places = anyEngine(t, rnd)
			}
		}
		chosen, err := r.chosen()
		if err != nil {
			t.Fatal(err)
		}
		for _, refit := range []bool{false, true} {
			p, err := r.plan(refit)
			if err != nil {
				t.Fatal(err)
			}
			near(t, fmt.Sprintf("turning, pull %v of %d, refit %t", r.Pull, len(r.Places), refit), p.Turn, leastTurning(chosen, r.From, refit), 1e-6)
		}
	}
}

// Every position once, masters last off and first on, turns within a turn and
// adding up, and every step let through by the interlock, save turns with a
// master-rod cylinder off, which say so.
func TestPlansKeepTheRules(t *testing.T) {
	rnd := rand.New(rand.NewSource(8202))
	cautions := 0
	for i := range 1500 {
		r := PullRequest{Places: anyEngine(t, rnd), From: rnd.Float64() * 360}
		if i%2 == 0 {
			r.Pull = some(rnd, r.Places, 14)
		}
		off, err := PlanRemoval(r)
		if err != nil {
			t.Fatal(err)
		}
		on := r
		on.From = off.End
		back, err := PlanRefit(on)
		if err != nil {
			t.Fatal(err)
		}
		finite(t, "removal", reflect.ValueOf(off))
		finite(t, "refit", reflect.ValueOf(back))
		state := PullState{Places: r.Places, Pull: r.Pull}
		cautions += walk(t, &state, off, PullCylinder) + walk(t, &state, back, RefitCylinder)
		if len(state.Off) != 0 {
			t.Fatalf("still off: %v", state.Off)
		}
	}
	if cautions == 0 {
		t.Error("no engine had its two master-rod cylinders at different crank angles")
	}
}

// walk takes the steps of a plan and returns how many cautions it had.
func walk(t *testing.T, s *PullState, p PullPlan, kind MoveKind) int {
	t.Helper()
	seen, total, at, cautions := map[int]bool{}, 0.0, p.From, 0
	for i, l := range p.Lines {
		if seen[l.Position] || l.Turn < 0 || l.Turn >= 360 || !l.Known || l.Reason == "" {
			t.Fatalf("%+v", l)
		}
		if i > 0 && p.Lines[i-1].Master != l.Master && l.Master != (kind == PullCylinder) {
			t.Fatalf("%s: master in the wrong place: %+v", kind, p.Lines)
		}
		if l.Turn > 0 {
			err := s.Allow(PullMove{Kind: TurnCrank, Degrees: l.Turn})
			if (l.Caution != "") != errors.Is(err, ErrMasterOff) || err != nil && l.Caution == "" {
				t.Fatalf("%s %d, caution %q: %v", kind, l.Position, l.Caution, err)
			}
		}
		if err := s.Allow(PullMove{Kind: kind, Position: l.Position}); err != nil {
			t.Fatalf("%s %d: %v", kind, l.Position, err)
		}
		if kind == PullCylinder {
			s.Off = append(s.Off, l.Position)
		} else {
			s.Off = slices.DeleteFunc(s.Off, func(x int) bool { return x == l.Position })
		}
		if l.Caution != "" {
			cautions++
		}
		total += l.Turn
		near(t, "angle", aside(at+l.Turn-l.Angle), 0, 1e-5)
		seen[l.Position], at = true, l.Angle
	}
	near(t, "sum of turns", p.Turn, total, 1e-9)
	return cautions
}

// A line at a time, reckoned by hand: nine cylinders 40 degrees apart, master
// rod in 5, crank at 50.
func TestPlanRemovalLines(t *testing.T) {
	places, err := RadialPlaces(9, 1, []int{5}, false)
	if err != nil {
		t.Fatal(err)
	}
	centres, err := checkedRow().DeadCentres()
	if err != nil {
		t.Fatal(err)
	}
	p, err := PlanRemoval(PullRequest{Places: places, Pull: []int{1, 2, 5, 4, 9}, From: 50, Centres: centres})
	if err != nil {
		t.Fatal(err)
	}
	turns := map[int]float64{4: 70, 9: 200, 1: 40, 2: 40, 5: 120}
	order := []int{4, 9, 1, 2, 5}
	for i, l := range p.Lines {
		if l.Position != order[i] || l.Turn != turns[l.Position] || !l.HasTrue || l.Offset != centres[l.Position-1].TopOffset || l.Caution != "" {
			t.Errorf("line %d: %+v", i+1, l)
		}
	}
	if last := p.Lines[4]; !last.Master || !strings.Contains(last.Reason, "pistons are still in cylinders 3, 6, 7, 8") {
		t.Errorf("last: %+v", last)
	}
	if p.Turn != 470 || p.From != 50 || p.End != 160 || p.ByMaker {
		t.Errorf("%+v", p)
	}
}

// Two rows: with 14 cylinders and masters 5 and 12 both come up at 102.86
// degrees (reckoned by hand: 4 × 360/14, and 11 × 360/14 - 180), so nothing
// turns between them. Masters 1 and 2 do not come up together, and the plan says so.
func TestPlanTwoRows(t *testing.T) {
	for _, c := range []struct {
		masters  []int
		cautions int
	}{{[]int{5, 12}, 0}, {[]int{1, 2}, 1}} {
		places, err := RadialPlaces(14, 2, c.masters, false)
		if err != nil {
			t.Fatal(err)
		}
		for _, refit := range []bool{false, true} {
			p, err := (PullRequest{Places: places, From: places[c.masters[0]-1].Angle}).plan(refit)
			if err != nil {
				t.Fatal(err)
			}
			masters, cautions := 0, 0
			for i, l := range p.Lines {
				if l.Master && (i >= 12) == !refit {
					masters++
				}
				if l.Caution != "" {
					cautions++
				}
			}
			if masters != 2 || cautions != c.cautions {
				t.Errorf("masters %v, refit %t: %+v", c.masters, refit, p.Lines)
			}
		}
	}
}

// The maker's order is kept as typed, for those that come off.
func TestPlanByMaker(t *testing.T) {
	places, err := FiringPlaces([]int{1, 4, 5, 2, 3, 6})
	if err != nil {
		t.Fatal(err)
	}
	unknown := slices.Clone(places)
	unknown[2].Known = false
	maker := []int{6, 5, 4, 3, 2, 1}
	for _, c := range []struct {
		places []CrankPlace
		known  bool
	}{{places, true}, {unknown, false}} {
		p, err := PlanRemoval(PullRequest{Places: c.places, Pull: []int{1, 3, 6}, Maker: maker})
		if err != nil {
			t.Fatal(err)
		}
		if p.Lines[0].Position != 6 || p.Lines[1].Position != 3 || p.Lines[2].Position != 1 || !p.ByMaker || p.Lines[1].Known != c.known {
			t.Errorf("%+v", p)
		}
		if want := map[bool]float64{true: 240 + 240 + 240, false: 0}[c.known]; p.Turn != want {
			t.Errorf("turn %g, want %g", p.Turn, want)
		}
	}
	radial, _ := RadialPlaces(5, 1, []int{2}, false)
	for _, c := range []struct {
		what   string
		r      PullRequest
		refit  bool
		wanted error
	}{
		{"angles not known", PullRequest{Places: unknown}, false, ErrNoAngles},
		{"one left out", PullRequest{Places: places, Maker: maker[1:]}, false, ErrEach},
		{"one twice", PullRequest{Places: places, Maker: []int{1, 1, 2, 3, 4, 5}}, false, ErrEach},
		{"one too many", PullRequest{Places: places, Maker: []int{1, 2, 3, 4, 5, 6, 7}}, false, ErrEach},
		{"master off early", PullRequest{Places: radial, Maker: []int{1, 2, 3, 4, 5}}, false, ErrMasterEarly},
		{"master on late", PullRequest{Places: radial, Maker: []int{1, 2, 3, 4, 5}}, true, ErrMasterLate},
		{"master first on", PullRequest{Places: radial, Maker: []int{2, 1, 3, 4, 5}}, true, nil},
		{"master last off", PullRequest{Places: radial, Maker: []int{1, 3, 4, 5, 2}}, false, nil},
		{"master early, but the others stay on", PullRequest{Places: radial, Pull: []int{1, 2}, Maker: []int{1, 2, 3, 4, 5}}, false, nil},
		{"no places", PullRequest{}, false, ErrNoCylinder},
		{"nothing to pull", PullRequest{Places: radial, Pull: []int{}}, false, ErrNoCylinder},
		{"pull twice", PullRequest{Places: radial, Pull: []int{1, 1}}, false, ErrTwice},
		{"pull another engine's", PullRequest{Places: radial, Pull: []int{6}}, false, ErrPosition},
		{"off, and of another engine", PullRequest{Places: radial, Pull: []int{1}, Off: []int{6}}, false, ErrPosition},
		{"off twice", PullRequest{Places: radial, Pull: []int{1}, Off: []int{3, 3}}, true, ErrTwice},
		{"crank not a number", PullRequest{Places: radial, From: math.NaN()}, false, ErrNotFinite},
		{"place twice", PullRequest{Places: append(slices.Clone(radial), radial[0])}, false, ErrTwice},
		{"place infinite", PullRequest{Places: []CrankPlace{{Position: 1, Angle: math.Inf(1), Known: true}}}, false, ErrNotFinite},
		{"dead centre not a number", PullRequest{Places: radial, Centres: []DeadCentre{{Top: math.NaN()}}}, false, ErrNotFinite},
	} {
		plan := PlanRemoval
		if c.refit {
			plan = PlanRefit
		}
		if _, err := plan(c.r); !errors.Is(err, c.wanted) {
			t.Errorf("%s: %v, want %v", c.what, err, c.wanted)
		}
	}
}

// The rules that the interlock keeps: common practice, no source.
func TestAllow(t *testing.T) {
	one, _ := RadialPlaces(5, 1, []int{3}, false)
	two, _ := RadialPlaces(14, 2, []int{5, 12}, false)
	for _, c := range []struct {
		what      string
		places    []CrankPlace
		pull, off []int
		move      PullMove
		want      error
	}{
		{"master first of all", one, nil, nil, PullMove{Kind: PullCylinder, Position: 3}, ErrMasterEarly},
		{"master with one to come", one, nil, []int{1, 2, 4}, PullMove{Kind: PullCylinder, Position: 3}, ErrMasterEarly},
		{"master last", one, nil, []int{1, 2, 4, 5}, PullMove{Kind: PullCylinder, Position: 3}, nil},
		{"master last of those to be pulled", one, []int{1, 3}, []int{1}, PullMove{Kind: PullCylinder, Position: 3}, nil},
		{"master alone", one, []int{3}, nil, PullMove{Kind: PullCylinder, Position: 3}, nil},
		{"another", one, nil, nil, PullMove{Kind: PullCylinder, Position: 1}, nil},
		{"one that is off", one, nil, []int{1}, PullMove{Kind: PullCylinder, Position: 1}, ErrIsOff},
		{"refit one that is on", one, nil, nil, PullMove{Kind: RefitCylinder, Position: 1}, ErrIsOn},
		{"refit before the master", one, nil, []int{1, 3}, PullMove{Kind: RefitCylinder, Position: 1}, ErrMasterLate},
		{"refit the master", one, nil, []int{1, 3}, PullMove{Kind: RefitCylinder, Position: 3}, nil},
		{"refit after the master", one, nil, []int{1}, PullMove{Kind: RefitCylinder, Position: 1}, nil},
		{"turn with the master off", one, nil, []int{3}, PullMove{Kind: TurnCrank, Degrees: 1}, ErrMasterOff},
		{"turn with another off", one, nil, []int{1}, PullMove{Kind: TurnCrank, Degrees: 72}, nil},
		{"turn backwards", one, nil, nil, PullMove{Kind: TurnCrank, Degrees: -1}, ErrBackwards},
		{"turn by no number", one, nil, nil, PullMove{Kind: TurnCrank, Degrees: math.NaN()}, ErrNotFinite},
		{"no such position", one, nil, nil, PullMove{Kind: PullCylinder, Position: 6}, ErrPosition},
		{"no such position off", one, nil, []int{7}, PullMove{Kind: PullCylinder, Position: 1}, ErrPosition},
		{"no such step", one, nil, nil, PullMove{Kind: "drop", Position: 1}, ErrMove},
		{"no engine", nil, nil, nil, PullMove{Kind: TurnCrank}, ErrNoCylinder},
		{"rear master while the front row waits", two, []int{5, 6}, nil, PullMove{Kind: PullCylinder, Position: 5}, ErrMasterEarly},
		{"rear master while the front master waits", two, []int{5, 12}, nil, PullMove{Kind: PullCylinder, Position: 5}, nil},
		{"front cylinder back before the rear master", two, nil, []int{5, 6}, PullMove{Kind: RefitCylinder, Position: 6}, nil},
		{"turn with the front master off", two, nil, []int{12}, PullMove{Kind: TurnCrank, Degrees: 10}, ErrMasterOff},
	} {
		if err := (PullState{Places: c.places, Pull: c.pull, Off: c.off}).Allow(c.move); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.what, err, c.want)
		}
	}
}

// A turn of nearly nothing, either way, is none: 360/7 and its like are not
// whole. Else it is what is left to the next time the angle comes up.
func TestForward(t *testing.T) {
	third := 1080.0 / 7
	for _, c := range []struct{ from, to, want float64 }{
		{third, third - 1e-10, 0}, {third, third + 1e-10, 0}, {0, 360, 0}, {360, 0, 0},
		{10, 9, 359}, {9, 10, 1}, {350, 10, 20}, {-10, 10, 20}, {0, 359.9, 359.9},
	} {
		near(t, fmt.Sprintf("from %g to %g", c.from, c.to), forward(c.from, c.to), c.want, 1e-9)
	}
}

// Every radial of 3 to 14 cylinders, in one row and in two, with every master
// rod that it can have, from every top dead centre: each cylinder once,
// masters last off and first on; up to nine cylinders no order turns less.
func TestPlansOfEveryEngine(t *testing.T) {
	for n := 3; n <= 14; n++ {
		for _, masters := range everyMaster(n) {
			places, err := RadialPlaces(n, len(masters), masters, n%4 == 1)
			if err != nil {
				t.Fatal(err)
			}
			for _, from := range places {
				r := PullRequest{Places: places, From: from.Angle}
				for _, refit := range []bool{false, true} {
					p, err := r.plan(refit)
					if err != nil {
						t.Fatal(err)
					}
					inOrder(t, p, n, len(masters), refit)
					if n <= 9 && from.Position == 1 {
						near(t, fmt.Sprintf("turning of %d, masters %v, refit %t", n, masters, refit), p.Turn, leastTurning(places, r.From, refit), 1e-6)
					}
				}
			}
		}
	}
}

// everyMaster lists the master rods of one row, and of two where they can be.
func everyMaster(n int) (all [][]int) {
	for m := 1; m <= n; m++ {
		all = append(all, []int{m})
		for o := 2; n%2 == 0 && m%2 == 1 && o <= n; o += 2 {
			all = append(all, []int{m, o})
		}
	}
	return all
}

func inOrder(t *testing.T, p PullPlan, n, masters int, refit bool) {
	t.Helper()
	seen := map[int]bool{}
	for i, l := range p.Lines {
		atEnd := i >= n-masters
		if refit {
			atEnd = i < masters
		}
		if l.Master != atEnd {
			t.Fatalf("refit %t: cylinder %d, master %t, is number %d of %d", refit, l.Position, l.Master, i+1, n)
		}
		seen[l.Position] = true
	}
	if len(seen) != n || len(p.Lines) != n {
		t.Fatalf("%d positions on %d lines of %d", len(seen), len(p.Lines), n)
	}
}

// Half-way, the plan of what is left is the rest of the plan.
func TestPlanGoesOn(t *testing.T) {
	rnd := rand.New(rand.NewSource(8203))
	for range 300 {
		r := PullRequest{Places: anyEngine(t, rnd), From: rnd.Float64() * 360}
		whole, err := PlanRemoval(r)
		if err != nil {
			t.Fatal(err)
		}
		done := 1 + rnd.Intn(len(whole.Lines)-1)
		for _, l := range whole.Lines[:done] {
			r.Off, r.From = append(r.Off, l.Position), l.Angle
		}
		for _, l := range whole.Lines[done:] {
			r.Pull = append(r.Pull, l.Position)
		}
		rest, err := PlanRemoval(r)
		if err != nil {
			t.Fatal(err)
		}
		for i, l := range rest.Lines {
			if want := whole.Lines[done+i]; l.Position != want.Position || l.Caution != want.Caution || math.Abs(l.Turn-want.Turn) > 1e-6 {
				t.Fatalf("line %d: %+v, in the whole plan %+v", i, l, want)
			}
			if strings.Contains(l.Reason, "still in cylinders") {
				t.Fatalf("all are off: %s", l.Reason)
			}
		}
	}
}
