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

// allRings are lowest rings 60 mm below crowns that are 40 mm above the pin,
// in barrels that end at the skirt given, for the positions named.
func allRings(skirt Value, positions ...int) []LowestRing {
	var rings []LowestRing
	for _, p := range positions {
		rings = append(rings, LowestRing{Position: p, PinToCrown: mm(40), BelowCrown: mm(60), SkirtEnd: skirt})
	}
	return rings
}

// Computed independently from the stated geometry by a script in Python,
// points as complex numbers, nine decimals; the row of TestDeadCentres.
func TestDrops(t *testing.T) {
	for _, c := range []struct {
		crank, lean float64
		want        [4]float64 // positions 2, 5, 6 and 9
	}{
		{0, 10, [4]float64{4.024193937, 2.720771645, -0.076780673, -1.339186109}},
		{0, -25, [4]float64{1.616901078, 4.646623733, 11.514060414, 14.792514413}},
		{100, 10, [4]float64{1.829282198, 8.955901165, 9.590548991, 2.713341344}},
		{100, -25, [4]float64{7.277509351, -11.173967407, -12.637129227, 4.775296005}},
		{100, 0, [4]float64{}},
	} {
		drops, err := checkedRow().Drops(c.crank, c.lean, allRings(mm(165), 2, 5, 6, 9))
		if err != nil {
			t.Fatal(err)
		}
		for i, d := range drops {
			near(t, fmt.Sprintf("drop of %d, crank %g, lean %g", d.Position, c.crank, c.lean), d.Drop, c.want[i], 1e-8)
			near(t, "before less after", d.Before-d.After, d.Drop, 1e-12)
			near(t, "ring", d.Ring, d.After+40-60, 1e-12)
			near(t, "room", d.Room, d.Ring-165, 1e-9)
			if d.Leaves != (d.Room < 0) {
				t.Errorf("%+v", d)
			}
		}
	}
}

// Computed independently in Python by cutting two circles, of the knuckle pin
// about the crankpin and about the piston pin where its ring is just in: with
// the master at top dead centre positions 5 and 6 are first to leave, at
// 19.621117359 degrees one way and the other.
func TestSafeLean(t *testing.T) {
	for _, c := range []struct {
		on       []int
		position int
		angle    float64
	}{
		{[]int{2, 3, 4, 5, 6, 7, 8, 9}, 5, 19.621117359},
		{[]int{2, 3, 4, 6, 7, 8, 9}, 6, -19.621117359},
		{[]int{5}, 5, 19.621117359},
		{[]int{4, 8}, 4, 36.567721966},
	} {
		l, err := checkedRow().SafeLean(0, allRings(mm(165), c.on...))
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprint("lean with on ", c.on), l.Angle, c.angle, 2e-9)
		if !l.Leaves || l.Position != c.position || len(l.Working) == 0 {
			t.Errorf("on %v: %+v", c.on, l)
		}
	}
	l, err := checkedRow().SafeLean(0, allRings(mm(165), 3, 8))
	if err != nil || l.Leaves || l.Position != 0 || l.Searched != [2]float64{-60, 60} { // 66.3 degrees in the script
		t.Errorf("none should leave within 60 degrees: %+v %v", l, err)
	}
	l, err = checkedRow().SafeLean(0, allRings(mm(180), 2, 5)) // 192.75 - 20 is outside already
	if err != nil || !l.Leaves || l.Position != 5 || l.Angle != 0 {
		t.Errorf("out before it leans: %+v %v", l, err)
	}
}

// circles are the leans at which piston c is at the height s, by cutting the
// circle of the knuckle pin about the crankpin with that of the link rod about
// the piston pin.
func circles(k linkage, t, s float64) []float64 {
	pin, knuckle, _, _ := built(k.r, k.long, k.a, k.l, k.alpha, k.psi, t, 0)
	to := cmplx.Rect(s, k.alpha) - pin
	d := cmplx.Abs(to)
	cos := (k.a*k.a + d*d - k.l*k.l) / (2 * k.a * d)
	if math.Abs(cos) > 1 {
		return nil
	}
	var leans []float64
	for _, turn := range []float64{math.Acos(cos), -math.Acos(cos)} {
		leans = append(leans, aside(degrees(cmplx.Phase(knuckle-pin)-cmplx.Phase(to)-turn)))
	}
	return leans
}

// The search finds what cutting circles finds, at any crank angle, and no ring
// is out at a smaller lean.
func TestSafeLeanAgainstCircles(t *testing.T) {
	rnd := rand.New(rand.NewSource(8104))
	found := 0
	for range 60 {
		w, _, _, _ := anyRow(rnd)
		crank := rnd.Float64() * 360
		rings := allRings(0, 1, 2, 4, 5, 6, 7)
		before, err := w.Drops(crank, 0, allRings(mm(1), 1, 2, 4, 5, 6, 7))
		if err != nil {
			t.Fatal(err)
		}
		for i := range rings {
			rings[i].SkirtEnd = Value(1e6*(before[i].Ring-1-20*rnd.Float64())) + 1
		}
		l, err := w.SafeLean(crank, rings)
		if err != nil {
			t.Fatal(err)
		}
		finite(t, "lean", reflect.ValueOf(l))
		least := math.Inf(1)
		for _, k := range w.linkages() {
			for _, r := range rings {
				if r.Position == k.position {
					for _, lean := range circles(k, radians(crank)-k.zero, (r.SkirtEnd + mm(20)).millimetres()) {
						least = math.Min(least, math.Abs(lean))
					}
				}
			}
		}
		searched := math.Min(-l.Searched[0], l.Searched[1])
		switch {
		case l.Leaves:
			near(t, "lean", math.Abs(l.Angle), least, 1e-6)
			found++
		case least < searched-0.05:
			t.Errorf("a ring leaves at %g, none was found within %g", least, searched)
		}
	}
	if found < 30 {
		t.Fatalf("a ring left in only %d rows", found)
	}
}

// A barrel that ends farther from the crank lets a ring out no later.
func TestSafeLeanMonotone(t *testing.T) {
	last := math.Inf(1)
	for skirt := Value(150); skirt < 172; skirt++ {
		l, err := checkedRow().SafeLean(0, allRings(mm(skirt), 2, 3, 4, 5, 6, 7, 8, 9))
		if err != nil || !l.Leaves || math.Abs(l.Angle) >= last {
			t.Fatalf("skirt end at %d: %+v after %g, %v", skirt, l, last, err)
		}
		last = math.Abs(l.Angle)
	}
}

// dropsOf are the drops of a row with lowest rings in every link cylinder.
func dropsOf(t *testing.T, w RodRow, crank, lean float64, rings []LowestRing) []Drop {
	t.Helper()
	drops, err := w.Drops(crank, lean, rings)
	if err != nil {
		t.Fatal(err)
	}
	return drops
}

// ringsAt are the lowest rings of a row's link cylinders, by times their sizes.
func ringsAt(w RodRow, by Value) []LowestRing {
	var rings []LowestRing
	for _, c := range w.Cylinders {
		if c.Position != w.Master {
			rings = append(rings, LowestRing{Position: c.Position, PinToCrown: 40_000_000 * by, BelowCrown: 60_000_000 * by, SkirtEnd: 100_000_000 * by})
		}
	}
	return rings
}

// sameDrops holds drops against each other, those wanted by times as large.
func sameDrops(t *testing.T, what string, got, want []Drop, by float64) {
	t.Helper()
	for i := range want {
		near(t, fmt.Sprintf("%s, drop of %d", what, want[i].Position), got[i].Drop, by*want[i].Drop, 1e-6)
		near(t, fmt.Sprintf("%s, room of %d", what, want[i].Position), got[i].Room, by*want[i].Room, 1e-6)
	}
}

// Mirror: a row seen from the other end of the engine, axes, knuckle pins, crank
// and lean the other way about the master's axis, drops as far. By symmetry.
func TestDropsMirror(t *testing.T) {
	rnd := rand.New(rand.NewSource(8105))
	for range 60 {
		w, _, _, _ := anyRow(rnd)
		w.Ahead = 0
		m := w
		m.Cylinders = nil
		for _, c := range w.Cylinders {
			c.Axis, c.KnuckleAngle = -c.Axis, -c.KnuckleAngle
			m.Cylinders = append(m.Cylinders, c)
		}
		crank, lean := rnd.Float64()*360, rnd.Float64()*30-15
		if _, err := w.Drops(crank, lean, ringsAt(w, 1)); errors.Is(err, ErrLinkShort) {
			continue
		}
		sameDrops(t, "mirrored", dropsOf(t, m, -crank, -lean, ringsAt(m, 1)), dropsOf(t, w, crank, lean, ringsAt(w, 1)), 1)
		a, err := w.SafeLean(crank, ringsAt(w, 1))
		b, err2 := m.SafeLean(-crank, ringsAt(m, 1))
		if err != nil || err2 != nil || a.Leaves != b.Leaves || math.Abs(math.Abs(a.Angle)-math.Abs(b.Angle)) > 1e-6 {
			t.Errorf("smallest lean %+v, mirrored %+v, %v %v", a, b, err, err2)
		}
	}
}

// Scale: every length three times as large drops three times as far, and a ring
// leaves at the same lean. Turned: the engine turned about its crank, which is
// turned with it, drops as before. By similarity.
func TestDropsScale(t *testing.T) {
	rnd := rand.New(rand.NewSource(8106))
	for range 60 {
		w, _, _, _ := anyRow(rnd)
		crank, lean := rnd.Float64()*360, rnd.Float64()*30-15
		if _, err := w.Drops(crank, lean, ringsAt(w, 1)); errors.Is(err, ErrLinkShort) {
			continue
		}
		large, turned := w, w
		large.Crank, large.MasterRod = 3*w.Crank, 3*w.MasterRod
		large.Cylinders, turned.Cylinders = nil, nil
		for _, c := range w.Cylinders {
			l := c
			l.KnuckleRadius, l.LinkRod = 3*c.KnuckleRadius, 3*c.LinkRod
			large.Cylinders = append(large.Cylinders, l)
			c.Axis += 77 // the knuckle angle is from the master's axis
			turned.Cylinders = append(turned.Cylinders, c)
		}
		was := dropsOf(t, w, crank, lean, ringsAt(w, 1))
		sameDrops(t, "three times as large", dropsOf(t, large, crank, lean, ringsAt(w, 3)), was, 3)
		sameDrops(t, "turned", dropsOf(t, turned, crank+77, lean, ringsAt(w, 1)), was, 1)
		a, err := w.SafeLean(crank, ringsAt(w, 1))
		b, err2 := large.SafeLean(crank, ringsAt(w, 3))
		if err != nil || err2 != nil || a.Position != b.Position || math.Abs(a.Angle-b.Angle) > 1e-6 {
			t.Errorf("smallest lean %+v, three times as large %+v, %v %v", a, b, err, err2)
		}
	}
}

func TestDropErrors(t *testing.T) {
	short := checkedRow()
	for i := range short.Cylinders {
		short.Cylinders[i].LinkRod = mm(125)
	}
	for _, c := range []struct {
		what        string
		row         RodRow
		crank, lean float64
		rings       []LowestRing
		want        error
	}{
		{"no rings", checkedRow(), 0, 1, nil, ErrNoCylinder},
		{"the master", checkedRow(), 0, 1, allRings(mm(165), 1), ErrPosition},
		{"unknown position", checkedRow(), 0, 1, allRings(mm(165), 10), ErrPosition},
		{"twice", checkedRow(), 0, 1, allRings(mm(165), 2, 2), ErrTwice},
		{"ring above the crown", checkedRow(), 0, 1, []LowestRing{{Position: 2, BelowCrown: -1}}, ErrRings},
		{"lean flat", checkedRow(), 0, 90, allRings(mm(165), 2), ErrRange},
		{"lean not a number", checkedRow(), 0, math.NaN(), allRings(mm(165), 2), ErrNotFinite},
		{"crank infinite", checkedRow(), math.Inf(1), 0, allRings(mm(165), 2), ErrNotFinite},
		{"rod stopped by a link", short, 210, -80, allRings(mm(10), 4), ErrLinkShort},
	} {
		if _, err := c.row.Drops(c.crank, c.lean, c.rings); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.what, err, c.want)
		}
	}
	if _, err := checkedRow().SafeLean(0, nil); !errors.Is(err, ErrNoCylinder) {
		t.Errorf("no rings: %v", err)
	}
	l, err := short.SafeLean(210, allRings(mm(1), 4))
	if err != nil || l.Leaves || l.Searched[1] != 60 || math.Abs(l.Searched[0]+50) > 1 {
		t.Errorf("a link rod should stop the lean: %+v %v", l, err)
	}
}
