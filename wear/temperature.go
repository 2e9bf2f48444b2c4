package wear

import (
	"fmt"
	"math"
)

// Material is what a part is made of, as far as warmth changes its size.
type Material struct {
	Name   string
	Alpha  float64 // coefficient of linear expansion, 1/K
	Source string
}

// Materials of an engine's parts; a shop can set its own figure.
var (
	Steel      = Material{"steel (4140, 4340)", 12.3e-6, "Callister, Materials Science and Engineering, appendix B.6"}
	GreyIron   = Material{"grey iron", 11.4e-6, "Callister, Materials Science and Engineering, appendix B.6"}
	PistonAlSi = Material{"piston alloy AlSi12", 20.5e-6, "a piston maker's data sheet"}
)

// MaterialOf is the usual material of a kind of part: steel barrels and pins,
// aluminium pistons, iron rings; steel for any other kind. Source: common
// practice, no source.
func MaterialOf(k Kind) Material {
	switch k {
	case Piston:
		return PistonAlSi
	case Ring:
		return GreyIron
	}
	return Steel
}

// reference temperature of sizes, °C. Source: ISO 1.
const referenceC = 20

// The temperatures at which a part can be measured, °C; outside it is a slip.
const (
	Coldest = -60
	Warmest = 150
)

// TemperatureU is the standard uncertainty taken for a part's temperature, °C
// (a choice without a source).
const TemperatureU = 1

// At20 is the size that a part read at a temperature has at 20 °C:
//
//	d₂₀ = d / (1 + α (T - 20)),
//
// T in °C from -60 to 150, α in 1/K from 0 to 1e-4. temperatureU is the
// standard uncertainty of T, which adds d α u(T) to that of the reading by root
// sum of squares. It corrects the part and not the gauge, which is taken to
// have been set at the temperature of its setting ring, 20 °C. Errors: ErrRange,
// ErrNotFinite.
//
// Source: ISO 1 for 20 °C; JCGM 100 (GUM) 5.1.2.
func At20(d Gauged, celsius, temperatureU float64, m Material) (Gauged, error) {
	if err := checkNumbers(celsius, temperatureU, m.Alpha); err != nil {
		return Gauged{}, fmt.Errorf("carry size to 20 °C: %w", err)
	}
	if err := checkGauged(d); err != nil {
		return Gauged{}, fmt.Errorf("carry size to 20 °C: %w", err)
	}
	if celsius < Coldest || celsius > Warmest || temperatureU < 0 || m.Alpha < 0 || m.Alpha > 1e-4 {
		return Gauged{}, fmt.Errorf("carry size to 20 °C from %g °C: %w", celsius, ErrRange)
	}
	size := float64(d.Value)
	return Gauged{
		Value: Value(math.Round(size / (1 + m.Alpha*(celsius-referenceC)))),
		U:     math.Hypot(d.U, size*m.Alpha*temperatureU),
	}, nil
}

// Counted is a reading as verdicts and wear count it.
type Counted struct {
	Gauged
	Carried bool    // to 20 °C
	WarmthU float64 // what the temperature adds to U, as a root sum of squares; base units
}

// Count is what a reading of a feature counts as: the size at 20 °C where it is
// one of a single part whose temperature is known, with what is not known of
// the temperature in its uncertainty; else what was read. celsius is nil where
// no temperature was taken; one that no part is measured at counts as none.
//
// A gap between two parts stands as read: it changes by the difference of their
// expansions alone. From 20 to 35 °C a side clearance, of an iron ring 0.1 in wide
// in aluminium, grows by 0.00001 in, the end gap of an iron ring in a 5 in steel
// bore by 0.0002 in. A skirt clearance measured itself shrinks by 0.0006 in: it is
// better reckoned from its two sizes. Computed from α by this equation.
//
// Source: ISO 1.
func Count(f Feature, read Gauged, celsius *float64, m Material) Counted {
	if celsius == nil || !f.Expands() {
		return Counted{Gauged: read}
	}
	at20, err := At20(read, *celsius, TemperatureU, m)
	if err != nil {
		return Counted{Gauged: read}
	}
	return Counted{Gauged: at20, Carried: true, WarmthU: float64(read.Value) * m.Alpha * TemperatureU}
}

// Combined is the standard uncertainty of a sum of independent parts,
// √(u₁² + u₂² + …). A part below 0 is ErrRange. Source: JCGM 100 (GUM) 5.1.2.
func Combined(parts ...float64) (float64, error) {
	sum := 0.0
	for _, u := range parts {
		if err := checkNumbers(u); err != nil {
			return 0, fmt.Errorf("combine uncertainties: %w", err)
		}
		if u < 0 {
			return 0, fmt.Errorf("combine uncertainties: %w", ErrRange)
		}
		sum = math.Hypot(sum, u)
	}
	return sum, nil
}
