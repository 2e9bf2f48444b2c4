package wear

import (
	"math"
	"testing"
)

func TestHoursAtInvertsW(t *testing.T) {
	for _, c := range []Curve{
		bedded,
		{Form: PowerLaw, B: 2e-4, Q: 0.5},
		{Form: MakerAllowance, B: 3e-6},
	} {
		for _, h := range []float64{0, 1, 61, 940, 4999} {
			got, more := c.HoursAt(c.W(h), 5000)
			if more {
				t.Errorf("%s: %g h out of reach", c.Form, h)
			}
			near(t, string(c.Form), got, h, 1e-9)
		}
		if got, more := c.HoursAt(c.W(5001), 5000); !more || got != 5000 {
			t.Errorf("%s: %g, %v beyond reach", c.Form, got, more)
		}
		if got, more := c.HoursAt(-1, 5000); more || got != 0 {
			t.Errorf("%s: %g, %v of negative wear", c.Form, got, more)
		}
	}
	if w := (Curve{}).W(100); w != 0 {
		t.Errorf("no curve: %g", w)
	}
}

// Worked by hand: 0.0008 (1 - 1/e) + 3e-6 · 40, and 0.0002 · √100.
func TestW(t *testing.T) {
	near(t, "bedding-in", bedded.W(40), 0.0008*(1-1/math.E)+0.00012, 1e-15)
	near(t, "power law", Curve{Form: PowerLaw, B: 2e-4, Q: 0.5}.W(100), 2e-3, 1e-15)
}
