package wear

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"testing"
)

// FAA-H-8083-32, firing order: rows of 5, 7 and 9 in full; of 14 cylinders
// 8-3-12-7-2 and of 18 cylinders 1-12-5-16-9-2-13 as worked there, the rest by
// its rule of adding 9 or taking 5, adding 11 or taking 7. Three cylinders:
// from the same rule for one row, no source.
func TestFiringOrder(t *testing.T) {
	for _, c := range []struct {
		cylinders, rows int
		want            []int
	}{
		{3, 1, []int{1, 3, 2}},
		{5, 1, []int{1, 3, 5, 2, 4}},
		{7, 1, []int{1, 3, 5, 7, 2, 4, 6}},
		{9, 1, []int{1, 3, 5, 7, 9, 2, 4, 6, 8}},
		{14, 2, []int{1, 10, 5, 14, 9, 4, 13, 8, 3, 12, 7, 2, 11, 6}},
		{18, 2, []int{1, 12, 5, 16, 9, 2, 13, 6, 17, 10, 3, 14, 7, 18, 11, 4, 15, 8}},
	} {
		got, err := FiringOrder(c.cylinders, c.rows)
		if err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%d cylinders: %v %v, want %v", c.cylinders, got, err, c.want)
		}
	}
	for _, c := range []struct {
		cylinders, rows int
		want            error
	}{{8, 1, ErrFiring}, {1, 1, ErrFiring}, {13, 1, ErrFiring}, {16, 2, ErrFiring}, {9, 2, ErrFiring}, {28, 4, ErrRows}, {9, 0, ErrRows}, {-9, 1, ErrFiring}} {
		if got, err := FiringOrder(c.cylinders, c.rows); !errors.Is(err, c.want) {
			t.Errorf("%d cylinders in %d rows: %v %v, want %v", c.cylinders, c.rows, got, err, c.want)
		}
	}
}

// The published firing orders, with even intervals, put every cylinder at the
// crank angle at which the numbering and the throws put it: two derivations.
func TestFiringOrderAgainstPlaces(t *testing.T) {
	for _, c := range []struct {
		cylinders, rows int
		masters         []int
	}{{3, 1, []int{1}}, {5, 1, []int{1}}, {7, 1, []int{1}}, {9, 1, []int{1}}, {11, 1, []int{1}}, {10, 2, []int{1, 2}}, {14, 2, []int{1, 2}}, {18, 2, []int{1, 2}}, {22, 2, []int{1, 2}}} {
		firing, err := FiringOrder(c.cylinders, c.rows)
		if err != nil {
			t.Fatal(err)
		}
		fired, err := FiringPlaces(firing)
		placed, err2 := RadialPlaces(c.cylinders, c.rows, c.masters, false)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		for i := range placed {
			near(t, fmt.Sprintf("%d cylinders, angle of %d", c.cylinders, i+1), fired[i].Angle, placed[i].Angle, 1e-9)
		}
	}
}

func TestRadialPlaces(t *testing.T) {
	nine, err := RadialPlaces(9, 1, []int{5}, false)
	back, err2 := RadialPlaces(9, 1, []int{5}, true)
	if err != nil || err2 != nil {
		t.Fatal(err, err2)
	}
	for i := range nine {
		want := CrankPlace{Position: i + 1, Row: 1, Angle: float64(40 * i), Known: true, Master: i == 4}
		if nine[i] != want {
			t.Errorf("%+v, want %+v", nine[i], want)
		}
		near(t, "turning the other way", back[i].Angle, turned(-want.Angle), 1e-12)
	}
	for _, c := range []struct {
		cylinders, rows int
		masters         []int
		want            error
	}{
		{9, 1, nil, ErrMasterRod}, {9, 1, []int{10}, ErrMasterRod}, {9, 1, []int{1, 2}, ErrMasterRod},
		{14, 2, []int{1}, ErrMasterRod}, {14, 2, []int{1, 3}, ErrMasterRod}, {14, 2, []int{0, 3}, ErrMasterRod},
		{9, 2, []int{1, 2}, ErrRows}, {9, 3, []int{1, 2, 3}, ErrRows}, {2, 1, []int{1}, ErrRange}, {38, 1, []int{1}, ErrRange},
	} {
		if _, err := RadialPlaces(c.cylinders, c.rows, c.masters, false); !errors.Is(err, c.want) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// Six-cylinder opposed engine, firing order 1-4-5-2-3-6 of FAA-H-8083-32: each
// pair on a throw fires a turn apart, so 1 and 2, 3 and 4, 5 and 6 come up
// together, 120 degrees from one pair to the next; reckoned by hand.
func TestFiringPlaces(t *testing.T) {
	places, err := FiringPlaces([]int{4, 5, 2, 3, 6, 1})
	if err != nil {
		t.Fatal(err)
	}
	want := []float64{0, 0, 120, 120, 240, 240}
	for i, p := range places {
		if p.Position != i+1 || p.Angle != want[i] || !p.Known || p.Master {
			t.Errorf("%+v, want %g", p, want[i])
		}
	}
	for _, bad := range [][]int{{1, 1}, {0, 1}, {1, 3}} {
		if _, err := FiringPlaces(bad); !errors.Is(err, ErrEach) {
			t.Errorf("%v: %v", bad, err)
		}
	}
	for _, bad := range [][]int{nil, make([]int, 37)} {
		if _, err := FiringPlaces(bad); !errors.Is(err, ErrRange) {
			t.Errorf("%d cylinders: %v", len(bad), err)
		}
	}
	finite(t, "places", reflect.ValueOf(places))
}
