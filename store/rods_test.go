package store

import (
	"context"
	"errors"
	"math"
	"math/cmplx"
	"reflect"
	"slices"
	"testing"

	"barrelbook/wear"
)

// ownRods are a row whose knuckle pins and link rods differ in two cylinders,
// told for the master rod in position 5; lengths are invented.
func ownRods() Rods {
	mm := func(x float64) wear.Value { return wear.Value(math.Round(x * 1e6)) }
	return Rods{CrankRadius: mm(70), MasterRod: mm(260), KnuckleRadius: mm(65), LinkRod: mm(195), ListMaster: 5,
		LinkRods: []LinkRod{{Position: 3, KnuckleRadius: mm(63.5), KnuckleAngle: 277.25}, {Position: 8, KnuckleAngle: 121.5, Length: mm(196.25)}}}
}

// loop closes the linkage numerically: the piston's height s at which its pin
// is a link rod away from the knuckle pin, by halving along the cylinder. Angles
// in degrees, of the crankpin and the cylinder's axis from the master's.
func loop(r, long, a, psi, l, axis, crank float64) float64 {
	rad := math.Pi / 180
	pin := cmplx.Rect(r, crank*rad)
	lo, hi := 0.0, r+long // of the master's piston pin along its axis
	for range 100 {
		if mid := (lo + hi) / 2; mid < real(pin) || cmplx.Abs(complex(mid, 0)-pin) < long {
			lo = mid
		} else {
			hi = mid
		}
	}
	knuckle := pin + cmplx.Rect(a, cmplx.Phase(complex(lo, 0)-pin)+psi*rad)
	u := cmplx.Rect(1, axis*rad)
	along := real(knuckle * cmplx.Conj(u))
	lo, hi = along, along+l
	for range 100 {
		if mid := (lo + hi) / 2; cmplx.Abs(complex(mid, 0)*u-knuckle) < l {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// Piston heights and true dead centres of a row whose cylinders differ, against
// the linkage closed numerically, with the master rod where the list is told for
// and in another cylinder, and with the crank turning either way.
func TestRodsByCylinder(t *testing.T) {
	r := ownRods()
	for _, c := range []struct {
		master  int
		against bool
		differ  map[int][3]float64 // a, ψ, l by position, as the list says them
	}{
		{5, false, map[int][3]float64{3: {63.5, 277.25, 195}, 8: {65, 121.5, 196.25}}},
		{7, false, map[int][3]float64{5: {63.5, 277.25, 195}, 1: {65, 121.5, 196.25}}},
		{2, false, map[int][3]float64{9: {63.5, 277.25, 195}, 5: {65, 121.5, 196.25}}},
		// Turning the other way the crank meets the master's next first at 320°.
		{5, true, map[int][3]float64{3: {63.5, 277.25, 195}, 8: {65, 121.5, 196.25}}},
	} {
		places, err := wear.RadialPlaces(9, 1, []int{c.master}, c.against)
		ok(t, err)
		row := r.Row(places, c.master)
		centres := must[[]wear.DeadCentre](t)(row.DeadCentres())
		for i, p := range places {
			axis := math.Mod(p.Angle-places[c.master-1].Angle+360, 360)
			own := [3]float64{65, axis, 195}
			if d, differs := c.differ[p.Position]; differs {
				own = d
			}
			if p.Position == c.master {
				continue
			}
			top, at := 0.0, 0.0
			for crank := 0.0; crank < 360; crank += 7 {
				want := loop(70, 260, own[0], own[1], own[2], axis, crank)
				got := must[float64](t)(row.Height(p.Position, crank+places[c.master-1].Angle))
				if math.Abs(got-want) > 1e-6 {
					t.Fatalf("master %d, position %d at %g: s %.6f, want %.6f", c.master, p.Position, crank, got, want)
				}
			}
			for off := -20.0; off <= 20; off += 0.01 {
				if s := loop(70, 260, own[0], own[1], own[2], axis, axis+off); s > top {
					top, at = s, off
				}
			}
			if d := centres[i]; math.Abs(d.TopOffset-at) > 0.011 || math.Abs(d.TopHeight-top) > 1e-5 {
				t.Errorf("master %d, position %d: top %+.3f° at %.5f mm, want %+.2f° at %.5f", c.master, p.Position, d.TopOffset, d.TopHeight, at, top)
			}
		}
	}
}

// What cannot be is said at its field, by position.
func TestCheckRods(t *testing.T) {
	m := Model{Arrangement: "radial", Cylinders: 9, Turning: Turning{Rows: 1}}
	mm := func(x float64) wear.Value { return wear.Value(x * 1e6) }
	for _, c := range []struct {
		what   string
		change func(*Rods)
		fields []string
	}{
		{"right", func(*Rods) {}, nil},
		{"no master", func(r *Rods) { r.ListMaster = 0 }, []string{"list_master"}},
		{"no such master", func(r *Rods) { r.ListMaster = 10 }, []string{"list_master"}},
		{"the master's own", func(r *Rods) { r.LinkRods[0].Position = 5 }, []string{"knuckle_radius-5", "knuckle_angle-5"}},
		{"no such position", func(r *Rods) { r.LinkRods[1].Position = 12 }, []string{"link_rod-12"}},
		{"negative", func(r *Rods) { r.LinkRods[0].KnuckleRadius = -1 }, []string{"knuckle_radius-3"}},
		{"decimal point", func(r *Rods) { r.LinkRods[0].KnuckleRadius = mm(6.35) }, []string{"knuckle_radius-3"}},
		{"as long as the master rod", func(r *Rods) { r.LinkRods[1].Length, r.LinkRod = mm(260), 0 }, []string{"link_rod-8"}},
		{"angle the other way", func(r *Rods) { r.LinkRods[0].KnuckleAngle = 82.75 }, []string{"knuckle_angle-3"}},
		{"a whole turn", func(r *Rods) { r.LinkRods[0].KnuckleAngle = 637.25 }, []string{"knuckle_angle-3"}},
		{"none reaches", func(r *Rods) { r.LinkRod, r.LinkRods[1].Length = mm(60), 0 }, []string{"link_rod", "knuckle_radius-3"}},
		{"one does not reach", func(r *Rods) { r.LinkRod, r.LinkRods[1].Length = 0, mm(75) }, []string{"link_rod-8"}},
	} {
		m.Rods = ownRods()
		c.change(&m.Rods)
		var bad Invalid
		errors.As(m.CheckRods(), &bad)
		var fields []string
		for _, b := range bad {
			fields = append(fields, b.Field)
		}
		if !reflect.DeepEqual(fields, c.fields) {
			t.Errorf("%s: faults at %q, want %q: %v", c.what, fields, c.fields, bad)
		}
	}
}

// TestRodsMigration opens a book made before rods could differ by cylinder:
// what was typed for all stays, and a list can be added.
func TestRodsMigration(t *testing.T) {
	ctx := context.Background()
	b := must[*Book](t)(Open(ctx, olderBook(t, 18, "UPDATE model SET arrangement = 'radial', cylinders = 9, crank_radius = 70000000, master_rod = 260000000, knuckle_radius = 65000000, link_rod = 195000000")))
	defer func() { ok(t, b.Close()) }()
	was := must[Model](t)(b.Model(ctx, 1)).Rods
	if want := (Rods{CrankRadius: 70_000_000, MasterRod: 260_000_000, KnuckleRadius: 65_000_000, LinkRod: 195_000_000}); !reflect.DeepEqual(was, want) {
		t.Errorf("the rods of the older book: %+v", was)
	}
	ok(t, b.SaveRods(ctx, 1, ownRods()))
	if now := must[Engine](t)(b.Engine(ctx, 1)).Model.Rods; !reflect.DeepEqual(now, ownRods()) {
		t.Errorf("the list came back as %+v", now)
	}
	sound(t, b)
}

// FuzzLinkRods: a list of link rods as it is stored, damaged or not, is refused
// or comes back as it was.
func FuzzLinkRods(f *testing.F) {
	for _, s := range []string{"", "4 64262000 312.5 196088000", "4 1 0 0,6 0 47.25 0", "1 2 NaN 3", "1 2 1e999 3", "x", "1 2", "1 2 3 4 5", ",", "4 -1 -0 9223372036854775808"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, list string) {
		rods, err := readLinkRods(list)
		if err != nil {
			return
		}
		again, err := readLinkRods(joinLinkRods(rods))
		if err != nil || !slices.Equal(again, rods) {
			t.Fatalf("%q is %+v, written and read again %+v, %v", list, rods, again, err)
		}
	})
}
