package wear

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand"
	"reflect"
	"testing"
)

// Computed independently from the stated geometry by a script in Python:
// points as complex numbers, dead centres as roots of a five-point central
// difference, six decimals. The rounded figures are those of the project's
// own table.
func TestDeadCentres(t *testing.T) {
	centres, err := checkedRow().DeadCentres()
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range [][4]float64{
		{0, 0, 140, 330},
		{0.603817, -0.984107, 140.012676, 328.699354},
		{3.338939, -5.447718, 140.393006, 327.059569},
		{4.737856, -10.627820, 141.123015, 327.960301},
		{2.134445, -8.123324, 140.378572, 329.709780},
		{-2.134445, 8.123324, 140.378572, 329.709780},
		{-4.737856, 10.627820, 141.123015, 327.960301},
		{-3.338939, 5.447718, 140.393006, 327.059569},
		{-0.603817, 0.984107, 140.012676, 328.699354},
	} {
		d, what := centres[i], fmt.Sprintf("position %d ", i+1)
		near(t, what+"top offset", d.TopOffset, want[0], 1e-6)
		near(t, what+"bottom offset", d.BottomOffset, want[1], 1e-6)
		near(t, what+"stroke", d.Stroke, want[2], 1e-6)
		near(t, what+"s at top", d.TopHeight, want[3], 1e-6)
		near(t, what+"nominal", d.Nominal, float64(40*i), 1e-9)
		near(t, what+"top", aside(d.Top-d.Nominal), d.TopOffset, 1e-9)
		near(t, what+"bottom", aside(d.Bottom-d.Nominal-180), d.BottomOffset, 1e-9)
		if d.Position != i+1 || len(d.Working) < 2 {
			t.Errorf("position %d: %+v", i+1, d)
		}
	}
}

// square says how far the knuckle pin's motion is from square to the link rod,
// by the master rod's instant centre: it lies on the line of the crank and on
// the square to the master's axis through its piston pin. At a dead centre the
// piston stands, so the link rod's line passes through that centre. This uses
// neither s nor its slope.
func square(k linkage, t float64) float64 {
	_, knuckle, piston, master := built(k.r, k.long, k.a, k.l, k.alpha, k.psi, t, 0)
	centre := complex(real(master), real(master)*math.Tan(t))
	return imag((piston - knuckle) * cmplx.Conj(knuckle-centre))
}

// Dead centres lie within 1e-9 rad of where the instant centre puts them: its
// sign changes between 1e-9 before and after.
func TestDeadCentresByInstantCentre(t *testing.T) {
	rnd := rand.New(rand.NewSource(8102))
	checked := 0
	for i := range 60 {
		w := checkedRow()
		if i > 0 {
			w, _, _, _ = anyRow(rnd)
		}
		for _, k := range w.linkages() {
			if k.l == 0 {
				continue
			}
			for _, sign := range []float64{1, -1} {
				at := k.extreme(sign)
				if square(k, at-1e-9)*square(k, at+1e-9) > 0 {
					t.Errorf("row %d position %d: dead centre at %.12f is off", i, k.position, at)
				}
				checked++
			}
		}
	}
	if checked < 600 {
		t.Fatalf("only %d dead centres checked", checked)
	}
}

// Nothing in the turn lies above top or below bottom dead centre; a mirrored
// cylinder has mirrored offsets; twice the size has the same angles and twice
// the stroke; a row turned as a whole has the same offsets.
func TestDeadCentreProperties(t *testing.T) {
	rnd := rand.New(rand.NewSource(8103))
	for range 20 {
		w, _, _, _ := anyRow(rnd)
		centres, err := w.DeadCentres()
		if err != nil {
			t.Fatal(err)
		}
		finite(t, "dead centres", reflect.ValueOf(centres))
		double, mirror, turnedRow := w, w, w
		double.Crank, double.MasterRod = 2*w.Crank, 2*w.MasterRod
		mirror.Ahead, turnedRow.Ahead = -w.Ahead, w.Ahead+33
		double.Cylinders, mirror.Cylinders, turnedRow.Cylinders = nil, nil, nil
		for _, c := range w.Cylinders {
			d, m, r := c, c, c
			d.KnuckleRadius, d.LinkRod = 2*c.KnuckleRadius, 2*c.LinkRod
			m.Axis, m.KnuckleAngle = -c.Axis, -c.KnuckleAngle
			r.Axis += 75
			double.Cylinders, mirror.Cylinders, turnedRow.Cylinders = append(double.Cylinders, d), append(mirror.Cylinders, m), append(turnedRow.Cylinders, r)
		}
		doubled, _ := double.DeadCentres()
		mirrored, _ := mirror.DeadCentres()
		moved, _ := turnedRow.DeadCentres()
		for i, d := range centres {
			near(t, "doubled offset", doubled[i].TopOffset, d.TopOffset, 1e-7)
			near(t, "doubled stroke", doubled[i].Stroke, 2*d.Stroke, 1e-9)
			near(t, "mirrored top", mirrored[i].TopOffset, -d.TopOffset, 1e-7)
			near(t, "mirrored bottom", aside(mirrored[i].BottomOffset+d.BottomOffset), 0, 1e-7)
			near(t, "moved top", moved[i].TopOffset, d.TopOffset, 1e-7)
			near(t, "moved nominal", aside(moved[i].Nominal-d.Nominal), 75-33, 1e-9)
			curve, _ := w.Curve(d.Position, 360)
			for _, s := range curve {
				if s > d.TopHeight+1e-9 || s < d.BottomHeight-1e-9 {
					t.Fatalf("position %d: s = %.9f outside %.9f to %.9f", d.Position, s, d.BottomHeight, d.TopHeight)
				}
			}
		}
	}
}

// Knuckle pins can be set so that every top dead centre comes right: at each
// cylinder's axis, by the master rod's instant centre alone, the angle is
// sought at which the link rod's line passes through it. Pins lie at other radii
// in each cylinder, and link rods are as long as brings all pistons to the
// master's height. By the drawing, knuckle pin and crankpin then lie in the
// cylinder's axis together: ψ = α + φ, and a + l = L.
func TestDeadCentresBroughtRight(t *testing.T) {
	w := checkedRow()
	for i := range w.Cylinders {
		c := &w.Cylinders[i]
		if c.Position == w.Master {
			continue
		}
		c.KnuckleRadius = mm(Value(60 + i))
		k := w.linkages()[i]
		for range 20 { // angle and rod in turn, each for the other
			lo, hi := k.alpha-0.5, k.alpha+0.5
			at := func(psi float64) float64 { k.psi = psi; return square(k, k.alpha+1e-12) }
			if at(lo)*at(hi) > 0 {
				t.Fatalf("position %d: no knuckle angle within half a radian", c.Position)
			}
			for range 60 {
				if mid := (lo + hi) / 2; at(lo)*at(mid) > 0 {
					lo = mid
				} else {
					hi = mid
				}
			}
			k.psi = lo
			_, knuckle, _, _ := built(k.r, k.long, k.a, k.l, k.alpha, k.psi, k.alpha, 0)
			k.l = cmplx.Abs(cmplx.Rect(k.r+k.long, k.alpha) - knuckle)
		}
		c.KnuckleAngle, c.LinkRod = degrees(k.psi), Value(math.Round(k.l*1e6))
		near(t, "knuckle angle", c.KnuckleAngle, c.Axis+degrees(math.Asin(70.0/260*math.Sin(radians(c.Axis)))), 1e-6)
		near(t, "link rod", k.l, 260-float64(60+i), 1e-9)
	}
	centres, err := w.DeadCentres()
	if err != nil {
		t.Fatal(err)
	}
	for i, d := range centres {
		what := fmt.Sprintf("position %d ", i+1)
		near(t, what+"top offset", d.TopOffset, 0, 1e-5) // the rod is whole nanometres
		near(t, what+"s at top", d.TopHeight, 330, 2e-6)
	}
}
