package wear

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// fifteen are the chances of the example of Benjamini and Hochberg (1995),
// section 4, of which their procedure rejects the four smallest at 0.05.
var fifteen = []float64{
	0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344,
	0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.000,
}

func passing(ds []Discovery) (n int) {
	for _, d := range ds {
		if d.Passes {
			n++
		}
	}
	return n
}

func TestDiscoveriesPublished(t *testing.T) {
	ds, err := Discoveries(fifteen, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	if n := passing(ds); n != 4 || !ds[3].Passes || ds[4].Passes {
		t.Errorf("%d pass, want the first 4", n)
	}
	// By hand from the formula: 15·0.0001/1, 15·0.0095/4, 15·0.0344/8 for the
	// sixth to eighth, 15·1/15.
	for rank, want := range map[int]float64{1: 0.0015, 4: 0.035625, 6: 0.06385714, 8: 0.0645, 15: 1} {
		near(t, "adjusted", ds[rank-1].Adjusted, want, 1e-8)
	}
}

// Against the definition, reckoned here another way: i of the largest of equal
// chances is how many are not larger, and all not larger than the largest
// chance with p ≤ i q/m pass.
func TestDiscoveriesDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 300 {
		p := make([]float64, 1+rng.IntN(30))
		for i := range p {
			p[i] = math.Round(1000*math.Pow(rng.Float64(), 3)) / 1000 // with ties
		}
		q := 0.01 + 0.5*rng.Float64()
		bound := -1.0
		for _, x := range p {
			notMore := 0
			for _, y := range p {
				if y <= x {
					notMore++
				}
			}
			if x <= float64(notMore)*q/float64(len(p)) {
				bound = math.Max(bound, x)
			}
		}
		ds, err := Discoveries(p, q)
		if err != nil {
			t.Fatal(err)
		}
		for i, d := range ds {
			if d.Passes != (d.P <= bound) || d.P != p[d.Index] || d.Rank != i+1 {
				t.Fatalf("%+v of %v at %g, bound %g", d, p, q, bound)
			}
			if d.Adjusted < d.P || d.Adjusted > 1 || i > 0 && (d.Adjusted < ds[i-1].Adjusted || d.P < ds[i-1].P) {
				t.Fatalf("order %+v", ds)
			}
		}
	}
}

// The order in which chances are given changes nothing, and more false
// findings allowed never pass fewer.
func TestDiscoveriesProperties(t *testing.T) {
	want, err := Discoveries(fifteen, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	rng, last := rand.New(rand.NewPCG(2, 2)), 0
	for i := range 50 {
		turn := rng.Perm(len(fifteen))
		p := make([]float64, len(turn))
		for at, n := range turn {
			p[at] = fifteen[n]
		}
		got, err := Discoveries(p, 0.1)
		if err != nil {
			t.Fatal(err)
		}
		for at := range got {
			if turn[got[at].Index] != want[at].Index || got[at].Adjusted != want[at].Adjusted || got[at].Passes != want[at].Passes {
				t.Fatalf("%+v, want %+v", got[at], want[at])
			}
		}
		all, err := Discoveries(fifteen, float64(i+1)/50)
		if err != nil {
			t.Fatal(err)
		}
		if n := passing(all); n < last {
			t.Fatalf("%d pass at %d/50, fewer than %d", n, i+1, last)
		} else {
			last = n
		}
	}
	if last != len(fifteen) {
		t.Errorf("%d pass at a share of 1", last)
	}
}

func TestDiscoveriesErrors(t *testing.T) {
	for _, c := range []struct {
		p    []float64
		q    float64
		want error
	}{
		{nil, 0.1, nil}, {[]float64{0, 1}, 1, nil}, {[]float64{0.1}, 0, ErrRange}, {[]float64{0.1}, 1.01, ErrRange},
		{[]float64{0.1}, math.NaN(), ErrRange}, {[]float64{-1e-9}, 0.1, ErrRange}, {[]float64{0.5, 1.5}, 0.1, ErrRange},
		{[]float64{0.5, math.NaN()}, 0.1, ErrNotFinite}, {[]float64{math.Inf(1)}, 0.1, ErrRange},
	} {
		if _, err := Discoveries(c.p, c.q); !errors.Is(err, c.want) {
			t.Errorf("%v at %g: %v, want %v", c.p, c.q, err, c.want)
		}
	}
}

// The first of the 15 chances of Benjamini and Hochberg (1995) say of
// themselves, as the least of 15, what the whole list says of them wherever
// that does not rest on the rest of it: four pass at 0.05.
func TestLeastOf(t *testing.T) {
	all := []float64{0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1}
	whole, err := Discoveries(all, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	part, err := LeastOf(all[:6], 15, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	passes := 0
	for i, d := range part {
		if d.Adjusted < whole[i].Adjusted-1e-15 {
			t.Errorf("rank %d: %g is below the whole list's %g", d.Rank, d.Adjusted, whole[i].Adjusted)
		}
		if d.Passes {
			passes++
		}
	}
	near(t, "adjusted of the fourth", part[3].Adjusted, 15*0.0095/4, 1e-12)
	if passes != 4 {
		t.Errorf("%d pass, want 4", passes)
	}
	if _, err := LeastOf([]float64{2}, 5, 0.1); !errors.Is(err, ErrRange) {
		t.Errorf("a chance of 2: %v", err)
	}
}
