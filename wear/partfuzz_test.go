package wear

import (
	"math"
	"slices"
	"testing"
)

func (f *feed) ring() RingSizes {
	r := RingSizes{From: []PressureFrom{FromTangential, FromDiametral, FromFreeGap, "guess"}[f.small(4)], Material: []RingMaterial{CastIronRing, SGIronRing, OtherMaterial, "wood"}[f.small(4)],
		FreeGap: f.gauged(), ClosedGap: f.gauged(), Width: f.gauged(), Radial: f.gauged(), Bore: f.gauged(), Modulus: f.float() * 1000, ModulusU: f.float()}
	r.Force = Gauged{Value: f.value(), U: float64(f.byte()) * 1000}
	return r
}

// own is what was worked out of a ring, without the sizes that were given: of
// those only what is asked for is looked at.
func own(p RingPressure) RingPressure {
	p.Ring = RingSizes{}
	return p
}

// FuzzRings: pressure, comparison, and grooves for wider rings.
func FuzzRings(f *testing.F) {
	feeds(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		in := &feed{data}
		one, two := in.ring(), in.ring()
		if in.byte() < 200 {
			two.Bore = one.Bore
		}
		a, err := PressureOf(one)
		good := sound(t, "pressure", own(a), err, ErrPressureFrom, ErrRingMaterial, ErrRingSize, ErrNotFinite, ErrRange)
		if good && !(a.P > 0 && a.U >= 0) {
			t.Fatalf("pressure %g ± %g", a.P, a.U)
		}
		b, err := PressureOf(two)
		if sound(t, "pressure", own(b), err, ErrPressureFrom, ErrRingMaterial, ErrRingSize, ErrNotFinite, ErrRange) && good {
			c, err := ComparePressure(a, b, RatioLimits{in.float(), in.float()})
			c.Offered, c.Original = own(c.Offered), own(c.Original)
			sound(t, "comparison", c, err, ErrBores, ErrRatioLimits, ErrNotFinite, ErrRange)
		}
		ask := RegrooveAsk{Groove: in.gauged(), ClearanceMin: in.value() / 1000, ClearanceMax: in.value() / 1000, CleanUp: in.value() / 1000}
		for range in.small(3) {
			ask.Lands = append(ask.Lands, CutLand{Width: in.gauged(), Min: in.bound(), Percent: in.small(120) - 5})
		}
		var rings []WidthRing
		for range 1 + in.small(3) {
			rings = append(rings, WidthRing{WidthMin: in.value(), WidthMax: in.value()})
		}
		if good {
			ask.Original, rings[0].Pressure = &a, &b
		}
		list, err := RankRegrooves(ask, rings)
		for i := range list {
			list[i].Ring.Pressure = nil
			if c := list[i].Pressure; c != nil {
				c.Offered, c.Original = own(c.Offered), own(c.Original)
			}
		}
		if sound(t, "grooves", list, err, ErrRegroove, ErrNotFinite, ErrRange, ErrBores, ErrRatioLimits) && len(list) != len(rings) {
			t.Fatalf("%d grooves of %d rings", len(list), len(rings))
		}
	})
}

// FuzzLeaks: areas, verdicts, other orifices and trends.
func FuzzLeaks(f *testing.F) {
	feeds(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		in := &feed{data}
		test := func() LeakTest {
			return LeakTest{Regulated: PSI(in.value() / 100_000), Reading: PSI(in.value() / 200_000), Ambient: PSI(in.small(300)), Orifice: in.value() / 100, Resolution: PSI(in.small(12)), GaugeSD: in.float() / 100, Rechecked: in.byte() > 127}
		}
		one, two := test(), test()
		all := []error{ErrRange, ErrNotFinite, ErrAboveRegular, ErrNoPressure}
		l, err := LeakArea(one)
		if sound(t, "leak", l, err, all...) {
			psi, err := l.Through(two.Orifice)
			if sound(t, "through", psi, err, all...) && (psi < 0 || psi > l.Test.Regulated.Float()+1e-6) {
				t.Fatalf("through another orifice it reads %g of %s psi", psi, l.Test.Regulated)
			}
			if same, err := l.Through(l.Test.Orifice); err != nil || math.Abs(same-l.Test.Reading.Float()) > 1e-6 {
				t.Fatalf("through its own orifice %s psi reads %g (%v)", l.Test.Reading, same, err)
			}
		}
		var maker *LeakRule
		if in.byte() > 100 {
			maker = &LeakRule{Minimum: PSI(in.small(256) * 10), MaxLoss: in.small(1100) - 10, Orifice: []Value{0, one.Orifice, in.value()}[in.small(3)], Regulated: PSI(in.small(2)) * one.Regulated}
		}
		heard := []AirHeard{AirAtExhaust, "elsewhere"}[:in.small(3)]
		j, err := JudgeLeak(one, in.value(), heard, maker)
		if sound(t, "verdict", j, err, append(all, ErrLeakRule, ErrAirHeard)...) && j.Plain == Undecided {
			t.Fatalf("plainly undecided: %+v", j)
		}
		if d, err := RawChange(one, two); sound(t, "change", d, err, append(all, ErrOrifices, ErrRegulated)...) {
			back, err := RawChange(two, one)
			if err != nil || back != -d {
				t.Fatalf("the change is %s, backwards %s (%v)", d, back, err)
			}
		}
		var points []Point
		for range in.small(6) {
			points = append(points, Point{Hours: in.float(), Y: in.float(), U: in.float()})
		}
		if in.byte() > 50 {
			slices.SortFunc(points, func(a, b Point) int {
				if a.Hours < b.Hours {
					return -1
				}
				return 1
			})
		}
		trend, err := TrendLeak(points)
		sound(t, "trend", trend, err, ErrOrder, ErrNotFinite, ErrRange)
		o, err := SuggestOrifice(in.value())
		if sound(t, "orifice", o, err, ErrRange) && o != SmallOrifice && o != LargeOrifice {
			t.Fatalf("orifice %d", o)
		}
	})
}

// FuzzMatch: every hole gets another shaft, inside the limits, or there is a
// reason.
func FuzzMatch(f *testing.F) {
	feeds(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		in := &feed{data}
		ask := MatchAsk{Fit: MatchFit{Min: in.value() / 1000, Max: in.value() / 1000}, Spread: in.value()}
		for range in.small(5) {
			ask.Holes = append(ask.Holes, MatchHole{Size: in.gauged(), Oversize: in.value() / 1000})
		}
		for range in.small(6) {
			s := MatchShaft{Size: in.gauged(), Weight: in.bound(), Oversize: in.value() / 1000}
			if in.byte() > 128 {
				home := in.small(6) - 1
				s.Home = &home
			}
			ask.Shafts = append(ask.Shafts, s)
		}
		if in.byte() > 200 {
			ask.Bans = BanOversizes(ask)
		}
		for range in.small(2) {
			ask.Pins = append(ask.Pins, MatchPin{in.small(6) - 1, in.small(7) - 1})
		}
		named := []error{ErrMatchSize, ErrMatchFit, ErrMatchWeight, ErrMatchPair, ErrMatchPin, ErrMatchMany, ErrNotFinite, ErrRange}
		m, err := Match(ask)
		if !sound(t, "matching", m, err, named...) {
			return
		}
		if (m.Best == nil) == (m.Why == nil) && len(ask.Holes) > 0 {
			t.Fatalf("neither placing nor reason, or both: %+v", m)
		}
		if m.Best == nil {
			return
		}
		of, used := make([]int, len(ask.Holes)), map[int]bool{}
		for i, l := range m.Best.Lines {
			if used[l.Shaft] {
				t.Fatalf("shaft %d is used twice", l.Shaft)
			}
			used[l.Shaft], of[i] = true, l.Shaft
		}
		if p, err := JudgePlacing(ask, of); !sound(t, "placing", p, err, named...) || !p.Works {
			t.Fatalf("the best placing breaks something: %+v (%v)", p.Breaches, err)
		}
	})
}
