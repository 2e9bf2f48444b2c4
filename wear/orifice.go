package wear

import (
	"errors"
	"fmt"
	"math"
	"math/big"
)

// PSI is a pressure in tenths of a pound-force per square inch, so that a
// reading comes back exactly as it was typed. Pressures are gauge pressures
// but for the ambient one.
type PSI int64

// What a differential compression test is made with as a rule.
//
// Source: FAA AC 43.13-1B chg 1, para 8-14, but for the ambient pressure,
// which is the standard one at sea level (ISO 2533, 101.325 kPa).
const (
	UsualRegulated PSI   = 800
	UsualAmbient   PSI   = 147
	SmallOrifice   Value = 1_016_000   // 0.040 in
	LargeOrifice   Value = 1_524_000   // 0.060 in
	largeBore      Value = 127_000_000 // 5.00 in, from which the large one serves
)

// mostPSI bounds a pressure at 300 psi, far above any such test.
const mostPSI PSI = 3000

// Errors of a leak test.
var (
	ErrNoPressure   = errors.New("too little pressure held to size the leak")
	ErrAboveRegular = errors.New("reading is above the regulated pressure")
	ErrOrifices     = errors.New("readings through different orifices cannot be compared")
	ErrRegulated    = errors.New("readings at different regulated pressures cannot be compared")
)

// ParsePSI reads a pressure of 0 to 300 psi with at most one decimal. Errors:
// ErrNoNumber, ErrNegative, ErrTooFine, ErrTooLarge. Source: the range is a
// choice, far above the tests of FAA AC 43.13-1B chg 1, para 8-14.
func ParsePSI(text string) (PSI, error) {
	r, err := parseDecimal(text)
	if err != nil {
		return 0, err
	}
	r.Mul(r, big.NewRat(10, 1))
	switch {
	case r.Sign() < 0:
		return 0, fmt.Errorf("%q: pressure %w", text, ErrNegative)
	case !r.IsInt():
		return 0, fmt.Errorf("%q is %w (a tenth of a psi)", text, ErrTooFine)
	case r.Cmp(big.NewRat(int64(mostPSI), 1)) > 0:
		return 0, fmt.Errorf("%q psi: %w", text, ErrTooLarge)
	}
	return PSI(r.Num().Int64()), nil
}

// Float returns the pressure in psi.
func (p PSI) Float() float64 { return float64(p) / 10 }

// String writes the pressure as a gauge shows it: 80 or 14.7.
func (p PSI) String() string { return trimZero(p.Float()) }

// trimZero writes a number to one decimal, and whole numbers without.
func trimZero(x float64) string {
	if x == math.Trunc(x) {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.1f", x)
}

// SuggestOrifice returns the orifice for a bore: 0.040 in below 5.00 in, else
// 0.060 in. A suggestion only: the maker's document decides.
//
// Errors: ErrRange for a bore of 0 or less. Source: FAA AC 43.13-1B chg 1,
// para 8-14.
func SuggestOrifice(bore Value) (Value, error) {
	if bore <= 0 {
		return 0, fmt.Errorf("suggest orifice: %w", ErrRange)
	}
	if bore < largeBore {
		return SmallOrifice, nil
	}
	return LargeOrifice, nil
}

// LeakTest is one differential compression reading.
type LeakTest struct {
	Regulated  PSI     // 0 stands for 80
	Reading    PSI     // behind the orifice
	Ambient    PSI     // absolute; 0 stands for 14.7
	Orifice    Value   // diameter
	Resolution PSI     // of both gauges, 0 where not known
	GaugeSD    float64 // standard deviation of either gauge, psi, 0 where not known
	Rechecked  bool    // it is the recheck of a suspect cylinder, warm
}

// Leak is the size of the hole a cylinder leaks like.
type Leak struct {
	Test          LeakTest // with what was not given filled in
	OrificeArea   float64  // mm²
	Ratio, RatioU float64  // leak area over orifice area, and its standard uncertainty
	Area, AreaU   float64  // mm², and its standard uncertainty
	OrificeChoked bool     // the air is at the speed of sound in the orifice
	LeakChoked    bool     // ... and in the leak
	Assumed       []string
	Working       []Step
}

// gamma is the ratio of specific heats of air.
const gamma = 1.4

// choked is the ratio of pressures r* = (2/(γ+1))^(γ/(γ-1)) = 0.5283 at and
// below which a restriction passes no more.
var choked = math.Pow(2/(gamma+1), gamma/(gamma-1))

const flowSource = "isentropic flow of an ideal gas with a choked limit, NASA Glenn, Mass Flow Choking"

// LeakArea works out the area of the hole that would leak as the cylinder
// does. The same air passes orifice and leak, so with absolute pressures p₁
// before the orifice, p₂ between and p₀ outside
//
//	A leak / A orifice = p₁ f(p₂/p₁) / (p₂ f(p₀/p₂)),
//	f(r) = √(2/(γ-1) (r^(2/γ) - r^((γ+1)/γ))) above r* = 0.5283, f(r*) below,
//
// γ = 1.4. It takes the temperature before either hole as the same and an
// orifice and a leak that pass air equally well for their area. The orifice's
// area is π d²/4. The uncertainty is that of both gauges, √(sd² + resolution²/12)
// each, as the larger change of the ratio when the pressure is moved by it
// either way (after JCGM 100, 5.1.3, note 2), which stays finite at a full reading.
//
// Valid for an orifice up to 1 in, a regulated pressure up to 300 psi and an
// ambient one from 1 to 30 psi. Errors: ErrRange, ErrNotFinite,
// ErrAboveRegular; ErrNoPressure where the reading is not above twice its own
// standard uncertainty, as of 0 psi, where the leak has no size.
//
// Source: isentropic flow of an ideal gas, NASA Glenn, Mass Flow Choking; the
// ratio by derivation.
func LeakArea(t LeakTest) (Leak, error) {
	t, assumed := t.filled()
	l := Leak{Test: t, Assumed: append(assumed, "air equally warm before orifice and leak, both passing it equally well for their area")}
	if err := t.check(); err != nil {
		return Leak{}, fmt.Errorf("size leak: %w", err)
	}
	u := t.gaugeU()
	if t.Reading.Float() <= 2*u {
		return Leak{}, fmt.Errorf("size leak at %s psi: %w", t.Reading, ErrNoPressure)
	}
	p1, p2, p0 := t.absolute()
	d := t.Orifice.In(Millimetre)
	l.OrificeArea = math.Pi * d * d / 4
	l.Ratio = areaRatio(p1, p2, p0)
	l.RatioU = math.Hypot(
		change(l.Ratio, areaRatio(p1, p2-u, p0), areaRatio(p1, math.Min(p2+u, p1), p0)),
		change(l.Ratio, areaRatio(math.Max(p1-u, p2), p2, p0), areaRatio(p1+u, p2, p0)))
	l.Area, l.AreaU = l.Ratio*l.OrificeArea, l.RatioU*l.OrificeArea
	l.OrificeChoked, l.LeakChoked = p2/p1 <= choked, p0/p2 <= choked
	if err := checkNumbers(l.Ratio, l.RatioU, l.Area, l.AreaU); err != nil {
		return Leak{}, fmt.Errorf("size leak: %w", err)
	}
	l.work(p1, p2, p0)
	return l, nil
}

// filled puts the usual pressures where none were given, and says so.
func (t LeakTest) filled() (LeakTest, []string) {
	var assumed []string
	if t.Regulated == 0 {
		t.Regulated = UsualRegulated
		assumed = append(assumed, "regulated pressure 80 psi")
	}
	if t.Ambient == 0 {
		t.Ambient = UsualAmbient
		assumed = append(assumed, "ambient pressure 14.7 psi")
	}
	return t, assumed
}

func (t LeakTest) check() error {
	if err := checkNumbers(t.GaugeSD); err != nil {
		return err
	}
	switch {
	case t.Regulated < 10 || t.Regulated > mostPSI || t.Ambient < 10 || t.Ambient > 300:
		return fmt.Errorf("pressures: %w", ErrRange)
	case t.Orifice < 1000 || t.Orifice > 25_400_000:
		return fmt.Errorf("orifice: %w", ErrRange)
	case t.Reading < 0 || t.Resolution < 0 || t.Resolution > t.Regulated || t.GaugeSD < 0 || t.GaugeSD > t.Regulated.Float():
		return fmt.Errorf("reading or gauge: %w", ErrRange)
	case t.Reading > t.Regulated:
		return ErrAboveRegular
	}
	return nil
}

// gaugeU is the standard uncertainty of one gauge in psi.
func (t LeakTest) gaugeU() float64 { return StandardUncertainty(t.GaugeSD, 0, t.Resolution.Float()) }

func (t LeakTest) absolute() (p1, p2, p0 float64) {
	p0 = t.Ambient.Float()
	return t.Regulated.Float() + p0, t.Reading.Float() + p0, p0
}

// flow is f(r) of LeakArea, for r from 0 to 1.
func flow(r float64) float64 {
	r = math.Max(r, choked)
	return math.Sqrt(math.Max(2/(gamma-1)*(math.Pow(r, 2/gamma)-math.Pow(r, (gamma+1)/gamma)), 0))
}

// areaRatio is that of LeakArea, for p₁ ≥ p₂ > p₀.
func areaRatio(p1, p2, p0 float64) float64 { return p1 * flow(p2/p1) / (p2 * flow(p0/p2)) }

// change is the larger distance of two values from a middle one.
func change(middle, a, b float64) float64 { return math.Max(math.Abs(a-middle), math.Abs(b-middle)) }

func (l *Leak) work(p1, p2, p0 float64) {
	how := func(is bool) string {
		if is {
			return "choked"
		}
		return "not choked"
	}
	l.Working = []Step{
		{"orifice area", "A = π d² / 4", fmt.Sprintf("π × (%.4g mm)² / 4 = %.4g mm²", l.Test.Orifice.In(Millimetre), l.OrificeArea), "by geometry"},
		{"orifice", "p₂/p₁ against 0.5283", fmt.Sprintf("%.1f / %.1f psi = %.4f, %s", p2, p1, p2/p1, how(l.OrificeChoked)), flowSource},
		{"leak", "p₀/p₂ against 0.5283", fmt.Sprintf("%.1f / %.1f psi = %.4f, %s", p0, p2, p0/p2, how(l.LeakChoked)), flowSource},
		{"leak area over orifice area", "p₁ f(p₂/p₁) / (p₂ f(p₀/p₂)), f(r) = √(2/(γ−1) (r^(2/γ) − r^((γ+1)/γ))), γ = 1.4; below 0.5283 f(0.5283)", fmt.Sprintf("%.1f × %.4f / (%.1f × %.4f) = %.3f", p1, flow(p2/p1), p2, flow(p0/p2), l.Ratio), flowSource},
		{"leak area", "ratio × orifice area", fmt.Sprintf("%.3f × %.4g = %.3f ± %.3f mm²", l.Ratio, l.OrificeArea, l.Area, ExpandedU(l.AreaU)), gumSum},
	}
}

// Through returns the reading in psi that the same leak would give through
// another orifice at the same regulated and ambient pressure: LeakArea solved
// for p₂, within 1e-9 psi. It is between 0 and the regulated pressure.
//
// Valid for an orifice up to 1 in. Errors: ErrRange, ErrNotFinite and those of
// LeakArea's test. Source: as LeakArea.
func (l Leak) Through(orifice Value) (float64, error) {
	t := l.Test
	t.Orifice = orifice
	if err := t.check(); err != nil {
		return 0, fmt.Errorf("put leak behind another orifice: %w", err)
	}
	if err := checkNumbers(l.Area); err != nil {
		return 0, fmt.Errorf("put leak behind another orifice: %w", err)
	}
	if l.Area < 0 {
		return 0, fmt.Errorf("put leak behind another orifice: negative area: %w", ErrRange)
	}
	d := orifice.In(Millimetre)
	want := l.Area / (math.Pi * d * d / 4)
	if want == 0 {
		return t.Regulated.Float(), nil
	}
	p1, _, p0 := t.absolute()
	p2 := invert(func(p float64) float64 { return -areaRatio(p1, p, p0) }, -want, p0, p1)
	return math.Max(p2-p0, 0), nil
}
