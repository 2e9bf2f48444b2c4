package views

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

func samplePlan(arrangement string, n int) EnginePlan {
	p := EnginePlan{Title: "Positions of engine R-1021", Arrangement: arrangement}
	for i := 1; i <= n; i++ {
		p.Positions = append(p.Positions, PlanPosition{Number: i, Label: fmt.Sprintf("C-%d", 1040+i), Mark: VerdictMark{Word: "serviceable"}, Href: fmt.Sprintf("/engines/1/positions/%d", i)})
	}
	return p
}

// TestRing: number 1 is on top, the others follow clockwise seen from the
// rear.
func TestRing(t *testing.T) {
	p := samplePlan("radial", 9)
	ss, wide, high := p.spots(9, p.tag(false))
	last := -1.0
	for i, s := range ss {
		x, y := s.tag.x-wide/2, high/2-s.tag.y
		clock := math.Mod(math.Atan2(x, y)+2*math.Pi+1e-9, 2*math.Pi) // 0 on top, grows clockwise
		if i == 0 && clock > 1e-6 {
			t.Errorf("number 1 lies %g rad off the top", clock)
		}
		if want := 2 * math.Pi * float64(i) / 9; math.Abs(clock-want) > 1e-6 {
			t.Errorf("number %d lies at %g rad clockwise, want %g", i+1, clock, want)
		}
		if clock <= last {
			t.Errorf("number %d does not follow clockwise", i+1)
		}
		last = clock
	}
}

// TestBanks: left and right by turns, the front first, or as ordered.
func TestBanks(t *testing.T) {
	for _, arrangement := range []string{"flat", "V"} {
		p := samplePlan(arrangement, 6)
		ss, wide, _ := p.spots(6, p.tag(false))
		for i, s := range ss {
			if left := s.tag.x < wide/2; left != (i%2 == 0) {
				t.Errorf("%s: number %d is left: %t", arrangement, i+1, left)
			}
			if i > 1 && s.tag.y <= ss[i-2].tag.y {
				t.Errorf("%s: number %d does not lie behind %d", arrangement, i+1, i-1)
			}
		}
	}
	p := samplePlan("flat", 4)
	p.Order = []int{2, 1, 4, 3}
	var got []int
	for _, q := range p.ordered() {
		got = append(got, q.Number)
	}
	if fmt.Sprint(got) != "[2 1 4 3]" {
		t.Errorf("ordered are %v, want 2 1 4 3", got)
	}
}

// TestTagsApart: whatever the engine, no tag covers another, and all lie on
// the drawing.
func TestTagsApart(t *testing.T) {
	for _, c := range []struct {
		arrangement string
		rows, most  int
	}{{"radial", 1, 28}, {"radial", 2, 28}, {"flat", 0, 12}, {"V", 0, 16}, {"inline", 0, 12}, {"", 0, 8}} {
		for n := 0; n <= c.most; n++ {
			p := samplePlan(c.arrangement, n)
			p.Rows = c.rows
			for _, narrow := range []bool{false, true} {
				g := p.tag(narrow)
				ss, wide, high := p.spots(n, g)
				for i, s := range ss {
					if s.tag.x-g.wide/2 < 0 || s.tag.x+g.wide/2 > wide || s.tag.y-g.high/2 < 0 || s.tag.y+g.high/2 > high {
						t.Fatalf("%s of %d, narrow %t: tag %d lies off the drawing of %g by %g, at %v", c.arrangement, n, narrow, i+1, wide, high, s.tag)
					}
					for j, o := range ss[:i] {
						if math.Abs(s.tag.x-o.tag.x) < g.wide && math.Abs(s.tag.y-o.tag.y) < g.high {
							t.Fatalf("%s of %d, rows %d, narrow %t: tags %d and %d overlap", c.arrangement, n, c.rows, narrow, j+1, i+1)
						}
					}
				}
			}
		}
	}
}

func TestPlanSVG(t *testing.T) {
	for _, arrangement := range []string{"radial", "flat", "inline", "V", "unheard of"} {
		p := samplePlan(arrangement, 6)
		p.MasterRod = 5
		p.Positions[2].Flagged = true
		p.Positions[3].Label = `<"&`
		p.Positions[4].Mark.Word = ""
		for _, svg := range []string{p.Wide(), p.Narrow()} {
			wellFormed(t, svg)
			for _, want := range []string{
				`href="/engines/1/positions/6"`, `<title>Position 3, C-1043, serviceable, flagged</title>`,
				`<title>Position 5, C-1045, not measured, master rod</title>`, "<title", "<desc", `class="plan-rod"`, ">M</text>",
			} {
				if !strings.Contains(svg, want) {
					t.Errorf("%s: plan does not hold %s", arrangement, want)
				}
			}
			if got := strings.Count(svg, "<a "); got != 6 {
				t.Errorf("%s: plan has %d links, want 6", arrangement, got)
			}
		}
	}
	wellFormed(t, EnginePlan{}.Wide())
}
