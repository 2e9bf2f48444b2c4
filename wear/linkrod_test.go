package wear

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand"
	"reflect"
	"testing"
)

// checkedRow is the row that calculations are checked with: r 70, L 260, a 65,
// l 195 mm, nine cylinders, knuckle pins at the angles of their cylinders.
func checkedRow() RodRow {
	w := RodRow{Crank: mm(70), MasterRod: mm(260), Master: 1}
	for i := range 9 {
		axis := float64(40 * i)
		w.Cylinders = append(w.Cylinders, RodCylinder{Position: i + 1, Axis: axis, KnuckleRadius: mm(65), KnuckleAngle: axis, LinkRod: mm(195)})
	}
	return w
}

// built is the same geometry as points in the plane: the crankpin; the
// master's piston pin where a circle about it cuts the axis; the knuckle pin
// by turning the rod's direction; the link's piston pin where a circle about
// that cuts its axis. Angles in radians from the master's axis.
func built(r, long, a, l, alpha, psi, t, lean float64) (pin, knuckle, piston, master complex128) {
	pin = cmplx.Rect(r, t)
	master = complex(real(pin)+math.Sqrt(long*long-imag(pin)*imag(pin)), 0)
	rod := (master - pin) / complex(long, 0)
	knuckle = pin + rod*cmplx.Rect(a, psi-lean)
	axis := cmplx.Rect(1, alpha)
	along := knuckle * cmplx.Conj(axis)
	piston = axis * complex(real(along)+math.Sqrt(l*l-imag(along)*imag(along)), 0)
	return pin, knuckle, piston, master
}

// anyRow is a row of random sizes that turns, and its numbers in mm.
func anyRow(rnd *rand.Rand) (w RodRow, long, a, l float64) {
	for {
		w = RodRow{Crank: mm(50 + Value(rnd.Intn(50))), MasterRod: mm(150 + Value(rnd.Intn(200))), Master: 3, Ahead: float64(rnd.Intn(360))}
		for i := range 7 {
			axis := 360*float64(i)/7 + 11
			w.Cylinders = append(w.Cylinders, RodCylinder{Position: i + 1, Axis: axis, KnuckleRadius: mm(20 + Value(rnd.Intn(70))),
				KnuckleAngle: axis - 360*2.0/7 - 11 + rnd.Float64()*8 - 4, LinkRod: mm(120 + Value(rnd.Intn(200)))})
		}
		if w.Check() == nil {
			c := w.Cylinders[5]
			return w, w.MasterRod.millimetres(), c.KnuckleRadius.millimetres(), c.LinkRod.millimetres()
		}
	}
}

// The closed form against the points built in the plane.
func TestLinkRodHeightAgainstVectors(t *testing.T) {
	rnd := rand.New(rand.NewSource(8101))
	for range 40 {
		w, long, a, l := anyRow(rnd)
		c := w.Cylinders[5]
		main := w.Cylinders[2].Axis
		for range 20 {
			crank := rnd.Float64()*1000 - 300
			_, _, piston, master := built(w.Crank.millimetres(), long, a, l, radians(c.Axis-main), radians(c.KnuckleAngle), radians(crank+w.Ahead-main), 0)
			s, err := w.Height(6, crank)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "link piston", s, cmplx.Abs(piston), 1e-9)
			s, _ = w.Height(3, crank)
			near(t, "master piston", s, cmplx.Abs(master), 1e-9)
		}
	}
}

// ds/dθ against the difference of s over a small step.
func TestLinkRodSlope(t *testing.T) {
	for _, k := range checkedRow().linkages() {
		for i := range 36 {
			at, h := float64(i)/5, 1e-5
			up, _ := k.height(at+h, 0)
			down, _ := k.height(at-h, 0)
			near(t, fmt.Sprintf("slope of %d at %g", k.position, at), k.slope(at), (up-down)/(2*h), 1e-6)
		}
	}
}

// A knuckle pin at the crankpin's middle makes a link rod a rod of its own.
func TestLinkRodWithoutKnuckle(t *testing.T) {
	w := checkedRow()
	for i := range w.Cylinders {
		w.Cylinders[i].KnuckleRadius = 1
	}
	plain := PlainCrank{Radius: mm(70), Rod: mm(195), Throws: []Throw{{4, 120, 0}}}
	for crank := 0.0; crank < 360; crank += 17 {
		s, err := w.Height(4, crank)
		want, err2 := plain.Height(4, crank)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		near(t, "s", s, want, 2.1e-6) // the nanometre of knuckle
	}
}

func TestRodRowErrors(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(*RodRow)
		want   error
	}{
		{"master rod as short as the crank", func(w *RodRow) { w.MasterRod = mm(70) }, ErrRodShort},
		{"link rod that does not reach", func(w *RodRow) { w.Cylinders[3].LinkRod = mm(80) }, ErrLinkShort},
		{"link rod of no length", func(w *RodRow) { w.Cylinders[3].LinkRod = 0 }, ErrRange},
		{"knuckle in the crankpin", func(w *RodRow) { w.Cylinders[3].KnuckleRadius = -1 }, ErrRange},
		{"master rod of another row", func(w *RodRow) { w.Master = 12 }, ErrMasterRod},
		{"twice", func(w *RodRow) { w.Cylinders[3].Position = 5 }, ErrTwice},
		{"position below 1", func(w *RodRow) { w.Cylinders[3].Position = -5 }, ErrPosition},
		{"no cylinders", func(w *RodRow) { w.Cylinders = nil }, ErrNoCylinder},
		{"axis not a number", func(w *RodRow) { w.Cylinders[3].Axis = math.NaN() }, ErrNotFinite},
		{"knuckle infinite", func(w *RodRow) { w.Cylinders[3].KnuckleAngle = math.Inf(-1) }, ErrNotFinite},
		{"row infinitely ahead", func(w *RodRow) { w.Ahead = math.Inf(1) }, ErrNotFinite},
	} {
		w := checkedRow()
		c.change(&w)
		if err := w.Check(); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.what, err, c.want)
		}
		if _, err := w.DeadCentres(); !errors.Is(err, c.want) {
			t.Errorf("dead centres, %s: %v, want %v", c.what, err, c.want)
		}
	}
	if _, err := checkedRow().Height(10, 0); !errors.Is(err, ErrPosition) {
		t.Errorf("unknown position: %v", err)
	}
}

// Whatever sizes come in, there is an error or every figure is finite.
func TestRodRowFinite(t *testing.T) {
	rnd := rand.New(rand.NewSource(8105))
	sizes := []Value{-1, 0, 1, 2, 69_999_999, 70_000_000, 70_000_001, 135_000_000, longestRod, longestRod + 1, math.MaxInt64, math.MinInt64}
	angles := []float64{0, math.Copysign(0, -1), 90, 180, 1e6, -1e6, 1e300, math.NaN(), math.Inf(1), 1e-300, 33}
	length := func() Value {
		if rnd.Intn(3) > 0 {
			return mm(1 + Value(rnd.Intn(400)))
		}
		return sizes[rnd.Intn(len(sizes))]
	}
	angle := func() float64 {
		if rnd.Intn(3) > 0 {
			return rnd.Float64() * 720
		}
		return angles[rnd.Intn(len(angles))]
	}
	reckoned := 0
	for range 3000 {
		w := RodRow{Crank: length(), MasterRod: length(), Master: 1, Ahead: angle(), Cylinders: []RodCylinder{{Position: 1, Axis: angle()},
			{Position: 2, Axis: angle(), KnuckleAngle: angle(), KnuckleRadius: length(), LinkRod: length()}}}
		rings := []LowestRing{{2, length(), length(), length()}}
		crank, lean := angle(), angle()/8
		if centres, err := w.DeadCentres(); err == nil {
			finite(t, "dead centres", reflect.ValueOf(centres))
			reckoned++
		}
		if s, err := w.Height(2, crank); err == nil {
			finite(t, "height", reflect.ValueOf(s))
		}
		if drops, err := w.Drops(crank, lean, rings); err == nil {
			finite(t, "drops", reflect.ValueOf(drops))
		}
		if l, err := w.SafeLean(crank, rings); err == nil {
			finite(t, "lean", reflect.ValueOf(l.Angle))
		}
	}
	if reckoned < 50 {
		t.Fatalf("only %d rows could be reckoned", reckoned)
	}
}
