package wear

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

// mm makes a length of whole millimetres.
func mm(n Value) Value { return n * 1_000_000 }

// A plain crank of radius 3 and rod 5 at right angles makes the triangle 3, 4,
// 5, so s = 4; at the dead centres s = 5 ± 3. Reckoned by hand.
func TestPlainCrankHeight(t *testing.T) {
	c := PlainCrank{Radius: mm(3), Rod: mm(5), Throws: []Throw{{1, 0, 0}, {2, 180, 0}, {3, 0, 120}, {4, 60, 240}}}
	for _, e := range []struct {
		position    int
		crank, want float64
	}{
		{1, 0, 8}, {1, 90, 4}, {1, 180, 2}, {1, 270, 4}, {1, 720, 8},
		{2, 180, 8}, {2, 0, 2}, {2, 270, 4},
		{3, 240, 8}, {3, -30, 4}, {4, 180, 8}, {4, 0, 2},
	} {
		s, err := c.Height(e.position, e.crank)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("s of %d at %g", e.position, e.crank), s, e.want, 1e-12)
	}
	for i, want := range []float64{0, 180, 240, 180} {
		centres, err := c.DeadCentres()
		if err != nil {
			t.Fatal(err)
		}
		d := centres[i]
		if d.Position != i+1 || d.Top != want || d.Bottom != math.Mod(want+180, 360) || d.TopHeight != 8 || d.BottomHeight != 2 || d.Stroke != 6 || len(d.Working) == 0 {
			t.Errorf("position %d: %+v, want top at %g", i+1, d, want)
		}
	}
}

// The curve has what Height says at the same angles.
func TestCrankCurve(t *testing.T) {
	plain := PlainCrank{Radius: mm(60), Rod: mm(200), Throws: []Throw{{7, 30, 10}}}
	curve, err := plain.Curve(7, 12)
	row, err2 := checkedRow().Curve(4, 12)
	if err != nil || err2 != nil || len(curve) != 12 || len(row) != 12 {
		t.Fatal(err, err2, len(curve), len(row))
	}
	for i := range curve {
		s, _ := plain.Height(7, float64(30*i))
		near(t, "plain curve", curve[i], s, 1e-12)
		s, _ = checkedRow().Height(4, float64(30*i))
		near(t, "row's curve", row[i], s, 1e-12)
	}
}

func TestCrankErrors(t *testing.T) {
	good := PlainCrank{Radius: mm(60), Rod: mm(200), Throws: []Throw{{1, 0, 0}}}
	for _, c := range []struct {
		what   string
		change func(*PlainCrank)
		want   error
	}{
		{"rod as long as the radius", func(c *PlainCrank) { c.Rod = mm(60) }, ErrRodShort},
		{"no radius", func(c *PlainCrank) { c.Radius = 0 }, ErrRange},
		{"rod of a mile", func(c *PlainCrank) { c.Rod = mm(1_609_344) }, ErrRange},
		{"no cylinders", func(c *PlainCrank) { c.Throws = nil }, ErrNoCylinder},
		{"twice", func(c *PlainCrank) { c.Throws = []Throw{{1, 0, 0}, {1, 0, 0}} }, ErrTwice},
		{"position 0", func(c *PlainCrank) { c.Throws[0].Position = 0 }, ErrPosition},
		{"axis not a number", func(c *PlainCrank) { c.Throws[0].Axis = math.NaN() }, ErrNotFinite},
		{"axis too large", func(c *PlainCrank) { c.Throws[0].Axis = 1e7 }, ErrRange},
	} {
		bad := good
		bad.Throws = []Throw{good.Throws[0]}
		c.change(&bad)
		if _, err := bad.DeadCentres(); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.what, err, c.want)
		}
		if _, err := bad.Height(1, 0); !errors.Is(err, c.want) {
			t.Errorf("height, %s: %v, want %v", c.what, err, c.want)
		}
	}
	if _, err := good.Height(2, 0); !errors.Is(err, ErrPosition) {
		t.Errorf("unknown position: %v", err)
	}
	if _, err := good.Height(1, math.Inf(1)); !errors.Is(err, ErrNotFinite) {
		t.Errorf("infinite crank angle: %v", err)
	}
	if _, err := good.Curve(1, 0); !errors.Is(err, ErrRange) {
		t.Errorf("no steps: %v", err)
	}
	if _, err := good.Curve(2, 8); !errors.Is(err, ErrPosition) {
		t.Errorf("curve of an unknown position: %v", err)
	}
}

// An angle and the same a turn on are one, and none is ever 360 or minus
// nothing.
func TestTurned(t *testing.T) {
	for _, c := range []struct{ a, turned, aside float64 }{
		{0, 0, 0}, {360, 0, 0}, {-360, 0, 0}, {-90, 270, -90}, {180, 180, 180}, {-180, 180, 180}, {541, 181, -179}, {-1e-300, 0, 0},
	} {
		if got := turned(c.a); got != c.turned || math.Signbit(got) {
			t.Errorf("turned(%g) = %g, want %g", c.a, got, c.turned)
		}
		if got := aside(c.a); got != c.aside {
			t.Errorf("aside(%g) = %g, want %g", c.a, got, c.aside)
		}
	}
}
