package wear

import (
	"errors"
	"math"
	"math/rand"
	"reflect"
	"strings"
	"testing"
)

// gauged reads a size or force in unit u, with an uncertainty in the same unit.
func gauged(t testing.TB, text string, sd float64, u Unit) Gauged {
	t.Helper()
	v, err := ParseValue(text, u)
	if err != nil {
		t.Fatal(err)
	}
	return Gauged{v, sd * baseUnits(t, u)}
}

// baseUnits is the number of base units in one of u.
func baseUnits(t testing.TB, u Unit) float64 {
	t.Helper()
	v, err := ParseValue("1", u)
	if err != nil {
		t.Fatal(err)
	}
	return float64(v)
}

// bookRing is the ring of the check value: d 100, h 2.0, a 4.0, m 13 mm,
// E 100,000 N/mm². The gap is split as 13.4 free and 0.4 closed.
func bookRing(t testing.TB, from PressureFrom) RingSizes {
	t.Helper()
	return RingSizes{
		From: from, Material: CastIronRing, Force: gauged(t, "13.304", 0, Newton),
		FreeGap: gauged(t, "13.4", 0, Millimetre), ClosedGap: gauged(t, "0.4", 0, Millimetre),
		Width: gauged(t, "2.0", 0, Millimetre), Radial: gauged(t, "4.0", 0, Millimetre), Bore: gauged(t, "100", 0, Millimetre),
		Modulus: 100_000,
	}
}

func pressure(t testing.TB, r RingSizes) RingPressure {
	t.Helper()
	p, err := PressureOf(r)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestPressureOf: every figure computed independently from the stated formula,
// by a Python script of the test's writer and again by another's; what formula,
// stands with each.
func TestPressureOf(t *testing.T) {
	for _, c := range []struct {
		what      string
		from      PressureFrom
		change    func(*RingSizes)
		p, ft     float64
		tolerance float64
		origin    string
	}{
		{"free gap", FromFreeGap, nil, 0.133038, 13.3038, 1e-5, "thin ring, TestThinRing"},
		{"free gap, worn to 3.9 mm", FromFreeGap, func(r *RingSizes) { r.Radial = gauged(t, "3.9", 0, Millimetre) }, 0.133038 * (1 - 0.07603), 13.3038 * (1 - 0.07603), 1e-5, "p ~ a³/(d - a)³, (3.9/4)³ (96/96.1)³"},
		{"free gap, no width", FromFreeGap, func(r *RingSizes) { r.Width = Gauged{} }, 0.133038, 0, 1e-5, "as the first; no width, no force"},
		{"tangential", FromTangential, nil, 0.13304, 13.304, 1e-9, "p = 2 Ft/(d h), Goetze piston ring handbook"},
		{"diametral, cast iron", FromDiametral, func(r *RingSizes) { r.Force = gauged(t, "20.5", 0, Newton) }, 0.1, 10, 1e-9, "Fd = 2.05 Ft, Goetze piston ring handbook"},
		{"diametral, SG iron", FromDiametral, func(r *RingSizes) { r.Force, r.Material = gauged(t, "21.5", 0, Newton), SGIronRing }, 0.1, 10, 1e-9, "Fd = 2.15 Ft, Goetze piston ring handbook"},
		{"diametral, other", FromDiametral, func(r *RingSizes) { r.Force, r.Material = gauged(t, "22.73239545", 0, Newton), OtherMaterial }, 0.1, 10, 1e-7, "Fd = (1 + 4/π) Ft, TestThinRing"},
	} {
		r := bookRing(t, c.from)
		if c.change != nil {
			c.change(&r)
		}
		p := pressure(t, r)
		if math.Abs(p.P-c.p) > c.tolerance*c.p || math.Abs(p.Tangential-c.ft) > c.tolerance*c.ft || p.Ring.From != c.from || len(p.Working) < 2 {
			t.Errorf("%s: p %.6f, Ft %.5f, %s; want %.6f, %.5f (%s)", c.what, p.P, p.Tangential, p.Ring.From, c.p, c.ft, c.origin)
		}
	}
}

// TestThinRing works the two constants out anew: 9π/4 of the free gap and
// 1 + 4/π of the diametral force. A half ring of radius 1 and stiffness 1 is
// clamped at its back, loaded, and its shape found by adding up what each
// short piece turns. By derivation; nothing here comes from the code tested.
func TestThinRing(t *testing.T) {
	const n = 4000
	step := math.Pi / n
	// pressure's moment at φ, by adding up the load from φ to the gap.
	ofPressure := func(phi float64) (m float64) {
		const pieces = 200
		for i := range pieces {
			m += math.Sin((math.Pi-phi)*(float64(i)+0.5)/pieces) * (math.Pi - phi) / pieces
		}
		return m
	}
	ofForce := func(phi float64) float64 { return math.Max(math.Cos(phi), 0) }
	// closing is how far two mirrored points at end close on each other.
	closing := func(moment func(float64) float64, end float64) (sum float64) {
		for i := 0; float64(i)*step < end-step/2; i++ {
			phi := (float64(i) + 0.5) * step
			sum += 2 * moment(phi) * (math.Cos(phi) - math.Cos(end)) * step
		}
		return sum
	}
	gap, across := closing(ofPressure, math.Pi), closing(ofPressure, math.Pi/2)
	byForce := closing(ofForce, math.Pi/2)
	// m = gap·p h r⁴/(E I) with I = h a³/12, r = d/2 once and (d - a)/2 three times.
	if c := gap * 12 / 16; math.Abs(c-9*math.Pi/4) > 1e-4 || math.Abs(c-7.0686) > 1e-4 {
		t.Errorf("constant of the free gap %.5f, want 9π/4 = 7.0686", c)
	}
	k, _, _, err := DiametralFactor(OtherMaterial)
	if err != nil || math.Abs(across/byForce-k) > 1e-4 || math.Abs(k-2.27) > 0.005 {
		t.Errorf("force ratio %.5f, code says %.5f, %v; want 2.27", across/byForce, k, err)
	}
}

// TestPressureUncertainty moves each input by its uncertainty and adds up the
// squares of what that does: GUM 5.1.3 note 2, computed beside the code's
// analytic parts, for random rings.
func TestPressureUncertainty(t *testing.T) {
	random := rand.New(rand.NewSource(1))
	fields := func(r *RingSizes) []*Gauged {
		if r.From == FromFreeGap {
			return []*Gauged{&r.FreeGap, &r.ClosedGap, &r.Radial, &r.Bore}
		}
		return []*Gauged{&r.Force, &r.Width, &r.Bore}
	}
	for range 200 {
		r := bookRing(t, []PressureFrom{FromTangential, FromFreeGap}[random.Intn(2)])
		for _, g := range fields(&r) {
			g.Value = Value(float64(g.Value) * (0.8 + 0.4*random.Float64()))
			g.U = math.Round(float64(g.Value) * 0.004 * random.Float64())
		}
		r.ModulusU = 1000 * random.Float64()
		var sum float64
		if r.From == FromFreeGap {
			sum = r.ModulusU * r.ModulusU / r.Modulus / r.Modulus
		}
		p := pressure(t, r)
		for i := range fields(&r) {
			up, down := r, r
			g := fields(&up)[i]
			g.Value += Value(g.U)
			g = fields(&down)[i]
			g.Value -= Value(g.U)
			d := (pressure(t, up).P - pressure(t, down).P) / 2 / p.P
			sum += d * d
		}
		if want := p.P * math.Sqrt(sum); math.Abs(p.U-want) > 2e-3*want {
			t.Errorf("%s: u %.6g, moving the inputs gives %.6g", r.From, p.U, want)
		}
	}
}

// TestDiametralUncertainty: 5 % either way is 5 %/√3 = 2.887 % (GUM 4.3.7).
func TestDiametralUncertainty(t *testing.T) {
	p := pressure(t, bookRing(t, FromDiametral))
	if math.Abs(p.U/p.P-0.0288675) > 1e-6 {
		t.Errorf("relative u %.6f, want 0.0288675", p.U/p.P)
	}
}

// TestPressureScale: a ring of twice every length presses the same from its
// gap, and needs four times the force.
func TestPressureScale(t *testing.T) {
	random := rand.New(rand.NewSource(2))
	for range 100 {
		by := Value(2 + random.Intn(5))
		r := bookRing(t, FromFreeGap)
		was := pressure(t, r)
		for _, g := range []*Gauged{&r.FreeGap, &r.ClosedGap, &r.Width, &r.Radial, &r.Bore} {
			g.Value *= by
		}
		now := pressure(t, r)
		if math.Abs(now.P/was.P-1) > 1e-12 || math.Abs(now.Tangential/was.Tangential/float64(by*by)-1) > 1e-12 {
			t.Errorf("%d times as large: p %g to %g, Ft %g to %g", by, was.P, now.P, was.Tangential, now.Tangential)
		}
	}
}

func TestPressureErrors(t *testing.T) {
	for _, c := range []struct {
		what   string
		from   PressureFrom
		change func(*RingSizes)
		want   error
	}{
		{"no way", "", func(*RingSizes) {}, ErrPressureFrom},
		{"no bore", FromTangential, func(r *RingSizes) { r.Bore.Value = 0 }, ErrRingSize},
		{"no force", FromTangential, func(r *RingSizes) { r.Force.Value = 0 }, ErrRingSize},
		{"no width", FromTangential, func(r *RingSizes) { r.Width.Value = -1 }, ErrRingSize},
		{"no material", FromDiametral, func(r *RingSizes) { r.Material = "tin" }, ErrRingMaterial},
		{"gap closed wider than free", FromFreeGap, func(r *RingSizes) { r.ClosedGap.Value = r.FreeGap.Value }, ErrRingSize},
		{"gap wider than bore", FromFreeGap, func(r *RingSizes) { r.FreeGap.Value = r.Bore.Value }, ErrRingSize},
		{"no thickness", FromFreeGap, func(r *RingSizes) { r.Radial.Value = 0 }, ErrRingSize},
		{"all thickness", FromFreeGap, func(r *RingSizes) { r.Radial.Value = r.Bore.Value / 2 }, ErrRingSize},
		{"no modulus", FromFreeGap, func(r *RingSizes) { r.Modulus = 0 }, ErrRange},
		{"modulus NaN", FromFreeGap, func(r *RingSizes) { r.Modulus = math.NaN() }, ErrNotFinite},
		{"uncertainty too large", FromTangential, func(r *RingSizes) { r.Force.U = float64(r.Force.Value) }, ErrRange},
		{"uncertainty negative", FromTangential, func(r *RingSizes) { r.Width.U = -1 }, ErrRange},
		{"uncertainty infinite", FromFreeGap, func(r *RingSizes) { r.ClosedGap.U = math.Inf(1) }, ErrNotFinite},
	} {
		r := bookRing(t, c.from)
		c.change(&r)
		if p, err := PressureOf(r); !errors.Is(err, c.want) || p.P != 0 {
			t.Errorf("%s: p %g, %v; want %v", c.what, p.P, err, c.want)
		}
	}
}

// tensioned is the book ring with another force and relative uncertainty.
func tensioned(t testing.TB, newtons string, relative float64) RingPressure {
	t.Helper()
	r := bookRing(t, FromTangential)
	r.Force = gauged(t, newtons, 0, Newton)
	r.Force.U = relative * float64(r.Force.Value)
	return pressure(t, r)
}

// TestComparePressure: ratios and uncertainties by hand: parts of 3 % and 4 %
// are 5 % together, U = 1.645 × 0.05 × R.
func TestComparePressure(t *testing.T) {
	for _, c := range []struct {
		newtons     string
		state       RatioState
		plain       RatioState
		ratio       float64
		word        string
		exactlyFrom float64 // relative u of the offered ring; the original's is 4/3 of it
	}{
		{"10.0", PressureAlike, PressureAlike, 1, "Near enough", 0.03},
		{"11.5", PressureAlike, PressureAlike, 1.15, "Near enough", 0}, // on the limit is not past it
		{"11.51", PressureHigh, PressureHigh, 1.151, "1,000 h", 0},
		{"12.0", PressureOpen, PressureHigh, 1.2, "Too near", 0.03},
		{"11.0", PressureOpen, PressureAlike, 1.1, "Too near", 0.03},
		{"12.6", PressureHigh, PressureHigh, 1.26, "barrel", 0.03}, // 1.26 × (1 - 0.08225) = 1.1564
		{"8.0", PressureLow, PressureLow, 0.8, "oil", 0.03},        // 0.8 × 1.08225 = 0.8658 < 0.8696
		{"8.5", PressureOpen, PressureLow, 0.85, "Too near", 0.03}, // 0.85 × 1.08225 = 0.92
	} {
		offered, original := tensioned(t, c.newtons, c.exactlyFrom), tensioned(t, "10.0", c.exactlyFrom*4/3)
		got, err := ComparePressure(offered, original, RatioLimits{})
		if err != nil {
			t.Fatal(err)
		}
		wantU := c.ratio * c.exactlyFrom * 5 / 3
		if got.State != c.state || got.Plain != c.plain || got.Warn != (c.plain != PressureAlike) || math.Abs(got.Ratio-c.ratio) > 1e-9 ||
			math.Abs(got.U-wantU) > 1e-9 || !strings.Contains(got.Words, c.word) {
			t.Errorf("%s N: %s, plainly %s, ratio %.4f, u %.4f, %q; want %s, %s, u %.4f", c.newtons, got.State, got.Plain, got.Ratio, got.U, got.Words, c.state, c.plain, wantU)
		}
	}
}

// TestShared: what both rings have in common drops out.
func TestShared(t *testing.T) {
	for _, from := range []PressureFrom{FromTangential, FromDiametral, FromFreeGap} {
		r := bookRing(t, from)
		r.Bore.U, r.ModulusU = 100_000, 5_000
		p := pressure(t, r)
		if p.U == 0 {
			t.Fatalf("%s: no uncertainty to drop", from)
		}
		if c, err := ComparePressure(p, p, RatioLimits{}); err != nil || c.U > 1e-15 || c.Ratio != 1 {
			t.Errorf("%s: a ring against itself: ratio %g, u %g, %v", from, c.Ratio, c.U, err)
		}
	}
	iron, sg := bookRing(t, FromDiametral), bookRing(t, FromDiametral)
	sg.Material = SGIronRing
	c, err := ComparePressure(pressure(t, iron), pressure(t, sg), RatioLimits{})
	if err != nil || math.Abs(c.U/c.Ratio-0.0288675*math.Sqrt2) > 1e-6 || math.Abs(c.Ratio-2.15/2.05) > 1e-12 {
		t.Errorf("two materials: ratio %g, relative u %g, %v", c.Ratio, c.U/c.Ratio, err)
	}
}

// TestSharedBore: between a force and a gap the bore drops out only in part:
// p goes with 1/d by the force and with (1/d)(d/a - 1)⁻³ by the gap, so the
// ratio with (d/a - 1)³ and its part is 3 d/(d - a) = 3.125 times the bore's,
// by hand. Moduli that differ do not drop out.
func TestSharedBore(t *testing.T) {
	force, gap := bookRing(t, FromTangential), bookRing(t, FromFreeGap)
	force.Bore.U, gap.Bore.U = 100_000, 100_000 // 0.1 %
	c, err := ComparePressure(pressure(t, force), pressure(t, gap), RatioLimits{})
	if err != nil || math.Abs(c.U/c.Ratio-0.003125) > 1e-9 || c.Assumed != nil {
		t.Errorf("force against gap: relative u %g, %v, %v; want 0.003125", c.U/c.Ratio, c.Assumed, err)
	}
	a, b := bookRing(t, FromFreeGap), bookRing(t, FromFreeGap)
	a.ModulusU, b.ModulusU, b.Modulus = 3_000, 3_000, 75_000
	c, err = ComparePressure(pressure(t, a), pressure(t, b), RatioLimits{})
	if err != nil || math.Abs(c.U/c.Ratio-0.05) > 1e-9 || math.Abs(c.Ratio-4./3) > 1e-9 {
		t.Errorf("two moduli: ratio %g, relative u %g, %v; want 4/3, 0.05 of 3 %% and 4 %%", c.Ratio, c.U/c.Ratio, err)
	}
}

// TestCompareSwapped: the other way about the ratio is turned over, and what
// was higher is lower.
func TestCompareSwapped(t *testing.T) {
	random := rand.New(rand.NewSource(3))
	turned := map[RatioState]RatioState{PressureHigh: PressureLow, PressureLow: PressureHigh, PressureAlike: PressureAlike}
	for range 300 {
		a, b := tensioned(t, "10", 0.02), tensioned(t, "10", 0.03)
		a.P *= 0.7 + 0.6*random.Float64()
		ab, err := ComparePressure(a, b, RatioLimits{})
		ba, err2 := ComparePressure(b, a, RatioLimits{})
		if err != nil || err2 != nil || math.Abs(ab.Ratio*ba.Ratio-1) > 1e-12 || math.Abs(ab.U/ab.Ratio-ba.U/ba.Ratio) > 1e-12 || turned[ab.Plain] != ba.Plain {
			t.Errorf("ratio %g and %g, plainly %s and %s, %v, %v", ab.Ratio, ba.Ratio, ab.Plain, ba.Plain, err, err2)
		}
	}
}

// TestCompareScale: the ratio is one number, whatever it is measured in: both
// rings twice every length, or both forces twice, leave it as it was, with its
// uncertainty; more force on the one raises it in proportion. By p = 2 Ft/(d h).
func TestCompareScale(t *testing.T) {
	random := rand.New(rand.NewSource(7))
	for range 200 {
		a, b := bookRing(t, FromTangential), bookRing(t, FromTangential)
		for _, r := range []*RingSizes{&a, &b} {
			r.Force.Value = Value(float64(r.Force.Value) * (0.7 + 0.6*random.Float64()))
			r.Force.U = 0.03 * float64(r.Force.Value)
		}
		compare := func(a, b RingSizes) PressureComparison {
			c, err := ComparePressure(pressure(t, a), pressure(t, b), RatioLimits{})
			if err != nil {
				t.Fatal(err)
			}
			return c
		}
		was := compare(a, b)
		for what, change := range map[string]func(*RingSizes){
			"lengths": func(r *RingSizes) { r.Width.Value *= 2; r.Bore.Value *= 2 },
			"forces":  func(r *RingSizes) { r.Force.Value *= 2; r.Force.U *= 2 },
		} {
			a2, b2 := a, b
			change(&a2)
			change(&b2)
			if now := compare(a2, b2); math.Abs(now.Ratio/was.Ratio-1) > 1e-9 || math.Abs(now.U/was.U-1) > 1e-9 || now.State != was.State {
				t.Errorf("twice the %s: ratio %g ± %g, was %g ± %g", what, now.Ratio, now.U, was.Ratio, was.U)
			}
		}
		a.Force.Value *= 3
		if now := compare(a, b); math.Abs(now.Ratio/was.Ratio-3) > 1e-9 {
			t.Errorf("three times the force: ratio %g, was %g", now.Ratio, was.Ratio)
		}
	}
}

func TestCompareErrors(t *testing.T) {
	p := tensioned(t, "10", 0)
	other := p
	other.Ring.Bore.Value++
	lame, dead := p, p
	lame.P, dead.P = math.NaN(), 0
	for _, c := range []struct {
		what   string
		a, b   RingPressure
		limits RatioLimits
		want   error
	}{
		{"other bore", p, other, RatioLimits{}, ErrBores},
		{"limits below 1", p, p, RatioLimits{0.9, 0.8}, ErrRatioLimits},
		{"limits NaN", p, p, RatioLimits{math.NaN(), 0.8}, ErrRatioLimits},
		{"pressure NaN", lame, p, RatioLimits{}, ErrNotFinite},
		{"pressure 0", p, dead, RatioLimits{}, ErrRange},
	} {
		if got, err := ComparePressure(c.a, c.b, c.limits); !errors.Is(err, c.want) || got.Ratio != 0 {
			t.Errorf("%s: ratio %g, %v; want %v", c.what, got.Ratio, err, c.want)
		}
	}
}

// TestUsualPressure: 0.12 to 0.25 N/mm², Goetze piston ring handbook.
func TestUsualPressure(t *testing.T) {
	for p, want := range map[float64]string{0.119: "below", 0.12: "within", 0.133: "within", 0.25: "within", 0.251: "above"} {
		if got := usualPressure(p); !strings.HasPrefix(got, want) {
			t.Errorf("%g N/mm²: %q, want %s", p, got, want)
		}
	}
}

// TestRingFinite: whatever goes in, a named error or finite numbers come out.
func TestRingFinite(t *testing.T) {
	random := rand.New(rand.NewSource(4))
	var kept []RingPressure
	for range 20_000 {
		r := RingSizes{
			From:     []PressureFrom{FromTangential, FromDiametral, FromFreeGap}[random.Intn(3)],
			Material: []RingMaterial{CastIronRing, OtherMaterial}[random.Intn(2)],
			Modulus:  wild(random), ModulusU: wild(random),
		}
		for _, g := range []*Gauged{&r.Force, &r.FreeGap, &r.ClosedGap, &r.Width, &r.Radial, &r.Bore} {
			*g = Gauged{wildValue(random), wild(random)}
		}
		p, err := PressureOf(r)
		if err != nil {
			if !anyOf(err, ErrRingSize, ErrRange, ErrNotFinite) {
				t.Fatalf("%+v: %v has no name", r, err)
			}
			continue
		}
		finite(t, "pressure", reflect.ValueOf(p.Parts))
		if !(p.P > 0 && p.P <= largest && p.U >= 0 && p.U <= largest && p.Tangential >= 0 && p.Tangential <= largest) {
			t.Fatalf("%+v: p %g, u %g, Ft %g", r, p.P, p.U, p.Tangential)
		}
		p.Ring.Bore = Gauged{}
		kept = append(kept, p)
	}
	if len(kept) < 50 {
		t.Fatalf("only %d rings could be reckoned", len(kept))
	}
	for range 2000 {
		c, err := ComparePressure(kept[random.Intn(len(kept))], kept[random.Intn(len(kept))], RatioLimits{})
		finite(t, "comparison", reflect.ValueOf(c.Ratio+c.U))
		if err != nil && !errors.Is(err, ErrRange) {
			t.Fatalf("ratio %g, u %g, %v", c.Ratio, c.U, err)
		}
	}
}

// wild is a number that is seldom sensible; wildValue likewise.
func wild(random *rand.Rand) float64 {
	switch random.Intn(12) {
	case 0:
		return math.NaN()
	case 1:
		return math.Inf(random.Intn(2)*2 - 1)
	case 2:
		return -random.Float64()
	case 3, 4, 5:
		return 0
	}
	return math.Exp(40*random.Float64() - 10)
}

func wildValue(random *rand.Rand) Value {
	switch random.Intn(12) {
	case 0:
		return Value(math.MaxInt64)
	case 1:
		return Value(math.MinInt64)
	case 2:
		return Value(random.Intn(3) - 1)
	}
	return Value(math.Exp(29 * random.Float64()))
}

func anyOf(err error, targets ...error) bool {
	for _, target := range targets {
		if errors.Is(err, target) {
			return true
		}
	}
	return false
}
