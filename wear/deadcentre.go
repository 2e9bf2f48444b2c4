package wear

import (
	"fmt"
	"math"
)

// DeadCentre is where a cylinder's piston stands at the ends of its stroke.
// Angles are of the crank's pointer, degrees; lengths in mm.
type DeadCentre struct {
	Position                int
	Nominal                 float64 // crank angle at which the crankpin points along the cylinder's axis
	Top, Bottom             float64 // true dead centres, 0 to 360
	TopOffset, BottomOffset float64 // from nominal and from nominal + 180; positive is later
	TopHeight, BottomHeight float64 // crank centre to piston pin
	Stroke                  float64
	Working                 []Step
}

// DeadCentres finds the true dead centres of each cylinder of the row: the
// largest and the smallest s of RodRow.Height over the turn. The crank angle
// is tried at each degree, narrowed by golden section, and settled by halving
// on ds/dθ = 0, to better than 1e-9 rad where s is curved there. The
// master-rod cylinder's own are at its axis and half a turn on. Errors: those
// of RodRow.Check. Source: derived here; the search is the textbook's.
func (w RodRow) DeadCentres() ([]DeadCentre, error) {
	if err := w.Check(); err != nil {
		return nil, fmt.Errorf("find dead centres: %w", err)
	}
	var centres []DeadCentre
	for _, k := range w.linkages() {
		centres = append(centres, k.deadCentre())
	}
	return centres, nil
}

func (k linkage) deadCentre() DeadCentre {
	top, bottom := k.alpha, k.alpha+math.Pi
	if k.l != 0 {
		top, bottom = k.extreme(1), k.extreme(-1)
	}
	d := DeadCentre{Position: k.position, Nominal: k.nominal,
		TopOffset: aside(degrees(top - k.alpha)), BottomOffset: aside(degrees(bottom-k.alpha) - 180)}
	d.Top, d.Bottom = turned(k.nominal+d.TopOffset), turned(k.nominal+180+d.BottomOffset)
	d.TopHeight, _ = k.height(top, 0)
	d.BottomHeight, _ = k.height(bottom, 0)
	d.Stroke = d.TopHeight - d.BottomHeight
	d.Working = k.working(d)
	return d
}

// extreme is the crankpin angle of the largest s, or with sign -1 of the
// smallest.
func (k linkage) extreme(sign float64) float64 {
	const step = math.Pi / 180
	value := func(t float64) float64 { s, _ := k.height(t, 0); return sign * s }
	best := 0.0
	for i := 1; i < 360; i++ {
		if t := float64(i) * step; value(t) > value(best) {
			best = t
		}
	}
	t := golden(value, best-step, best+step, 1e-6)
	lo, hi := t-1e-5, t+1e-5
	for range 60 {
		if t = (lo + hi) / 2; sign*k.slope(t) > 0 {
			lo = t
		} else {
			hi = t
		}
	}
	return t
}

// golden is where f is largest between lo and hi, to within width.
func golden(f func(float64) float64, lo, hi, width float64) float64 {
	ratio := (math.Sqrt(5) - 1) / 2
	a, b := hi-ratio*(hi-lo), lo+ratio*(hi-lo)
	fa, fb := f(a), f(b)
	for hi-lo > width {
		if fa > fb {
			hi, b, fb = b, a, fa
			a = hi - ratio*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + ratio*(hi-lo)
			fb = f(b)
		}
	}
	return (lo + hi) / 2
}

// The two equations of s, and what they rest on.
const (
	sliderEquation = "s = r cos θ + √(L² − r² sin² θ)"
	linkEquation   = "s = r cos(θ−α) + a cos(ψ−φ−α) + √(l² − [r sin(θ−α) + a sin(ψ−φ−α)]²), sin φ = (r/L) sin θ"
	derivedHere    = "derived from the geometry; no published source needed"
)

func plainWorking(r, l float64) []Step {
	return []Step{
		{"Piston pin at top dead centre", sliderEquation + ", θ = 0", fmt.Sprintf("%.3f + %.3f = %.3f mm", r, l, r+l), derivedHere},
		{"Stroke", "2 r", fmt.Sprintf("2 × %.3f = %.3f mm", r, 2*r), derivedHere},
	}
}

func (k linkage) working(d DeadCentre) []Step {
	if k.l == 0 {
		return plainWorking(k.r, k.long)
	}
	given := fmt.Sprintf("r %.3f, L %.3f, a %.3f, l %.3f mm, α %.2f°, ψ %.2f°", k.r, k.long, k.a, k.l, turned(degrees(k.alpha)), turned(degrees(k.psi)))
	return []Step{
		{"Piston pin over the crank", linkEquation, given, derivedHere},
		{"True top dead centre: largest s", "ds/dθ = 0", fmt.Sprintf("crank at %.2f°, %+.2f° from nominal %.2f°; s %.3f mm", d.Top, d.TopOffset, d.Nominal, d.TopHeight), derivedHere},
		{"True bottom dead centre: smallest s", "ds/dθ = 0", fmt.Sprintf("crank at %.2f°, %+.2f° from nominal %.2f°; s %.3f mm", d.Bottom, d.BottomOffset, turned(d.Nominal+180), d.BottomHeight), derivedHere},
		{"Stroke", "largest s − smallest s", fmt.Sprintf("%.3f − %.3f = %.3f mm", d.TopHeight, d.BottomHeight, d.Stroke), derivedHere},
	}
}
