package wear

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

func span(t testing.TB, newMin, newMax, serviceMin, serviceMax string, d Direction) Limit {
	p := func(s string) *Value {
		if s == "" {
			return nil
		}
		v := inchNM(t, s)
		return &v
	}
	return Limit{NewMin: p(newMin), NewMax: p(newMax), ServiceMin: p(serviceMin), ServiceMax: p(serviceMax), Wear: d}
}

// Published: US Army TM 9-2815-220-34 table 3-11. Pin bore 2.1268 to 2.1270,
// service 2.1280; pin 2.1250 to 2.1252, service 2.1248. The table prints the
// fit 0.0016L to 0.0020L new and 0.0032L as its limit.
func TestFitLimitOfTable(t *testing.T) {
	l := FitLimit(span(t, "2.1268", "2.1270", "", "2.1280", Up), span(t, "2.1250", "2.1252", "2.1248", "", Down))
	for what, c := range map[string]struct {
		got  *Value
		want string
	}{"new least": {l.NewMin, "0.0016L"}, "new most": {l.NewMax, "0.0020L"}, "service": {l.ServiceMax, "0.0032L"}} {
		if c.got == nil || FitText(*c.got, Inch) != c.want {
			t.Errorf("%s: %v, want %s", what, c.got, c.want)
		}
	}
	if l := FitLimit(Limit{}, span(t, "2.1250", "2.1252", "2.1248", "", Down)); l.NewMin != nil || l.NewMax != nil || l.ServiceMax != nil {
		t.Errorf("a limit of nothing: %+v", l)
	}
}

func TestFitText(t *testing.T) {
	for _, c := range []struct {
		nm   Value
		u    Unit
		want string
	}{{38_100, Inch, "0.0015L"}, {-12_700, Inch, "0.0005T"}, {0, Inch, "0.0000L"}, {38_100, Millimetre, "0.0381L"}, {-40_000, Millimetre, "0.040T"}} {
		if got := FitText(c.nm, c.u); got != c.want {
			t.Errorf("%d nm in %s: %s, want %s", c.nm, c.u.Name, got, c.want)
		}
	}
}

func TestFitOf(t *testing.T) {
	f, err := FitOf(Gauged{inchNM(t, "2.1275"), 3000}, Gauged{inchNM(t, "2.1250"), 4000})
	if err != nil || FitText(f.Clearance, Inch) != "0.0025L" || f.U != 5000 {
		t.Errorf("%+v %v", f, err)
	}
	for _, bad := range []Gauged{{0, 1}, {-5, 1}, {1e6, -1}, {1e6, math.NaN()}, {1e6, math.Inf(1)}, {1e13, 1}} {
		if _, err := FitOf(bad, Gauged{1e6, 1}); err == nil {
			t.Errorf("hole %+v passed", bad)
		}
		if _, err := FitOf(Gauged{1e6, 1}, bad); err == nil {
			t.Errorf("shaft %+v passed", bad)
		}
	}
}

// A pin bore and a pin that are each inside the limits of the table above, and
// a fit of them that is past a tighter limit of the fit: the fit decides (US
// Army TM 9-2520-234-35 para 235).
func TestFitDecides(t *testing.T) {
	hole, shaft := Gauged{inchNM(t, "2.1279"), 500}, Gauged{inchNM(t, "2.12485"), 500}
	f, err := FitOf(hole, shaft)
	if err != nil {
		t.Fatal(err)
	}
	h := Assess(hole.Value, hole.U, span(t, "2.1268", "2.1270", "", "2.1280", Up))
	s := Assess(shaft.Value, shaft.U, span(t, "2.1250", "2.1252", "2.1248", "", Down))
	loose := inchNM(t, "0.0030")
	j := Joint(h, s, Assess(f.Clearance, f.U, Limit{ServiceMax: &loose, Wear: Up}))
	if h.Verdict != Serviceable || s.Verdict != Serviceable || j.Verdict != Beyond || !j.FitDecides {
		t.Errorf("hole %s, pin %s, together %+v", h.Verdict, s.Verdict, j)
	}
	wide := inchNM(t, "0.0032")
	if j := Joint(h, s, Assess(f.Clearance, f.U, Limit{ServiceMax: &wide, Wear: Up})); j.Verdict != Serviceable || j.FitDecides {
		t.Errorf("inside the table's own limit of the fit: %+v", j)
	}
	if j := Joint(Assessment{Verdict: Beyond, Plain: Beyond}, s, Assessment{Verdict: Beyond, Plain: Beyond}); j.Verdict != Beyond || j.FitDecides {
		t.Errorf("a part that fails for itself: %+v", j)
	}
}

func ExampleFitOf() {
	hole, _ := ParseValue("2.1275", Inch)
	pin, _ := ParseValue("2.1250", Inch)
	f, err := FitOf(Gauged{hole, 3000}, Gauged{pin, 3000})
	if err != nil {
		panic(err)
	}
	fmt.Println(FitText(f.Clearance, Inch))
	// Output: 0.0025L
}

// Exact by geometry: a gap grows by π times the bore, 0.00314 in for 0.001 in;
// the trade says about 0.003.
func TestGapIn(t *testing.T) {
	g, err := GapIn(Gauged{inchNM(t, "0.0200"), 3000}, Gauged{inchNM(t, "5.2500"), 0}, Gauged{inchNM(t, "5.2510"), 1000})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "gap", g.Value.In(Inch), 0.0231416, 1e-7)
	near(t, "u", g.U, math.Hypot(3000, math.Pi*1000), 1e-12)
	back, err := GapIn(g, Gauged{inchNM(t, "5.2510"), 0}, Gauged{inchNM(t, "5.2500"), 0})
	if err != nil || back.Value != inchNM(t, "0.0200") {
		t.Errorf("there and back: %d, %v", back.Value, err)
	}
	// closed in the smaller bore it was measured in, open by the same 0.0031 in
	if g, err := GapIn(Gauged{0, 1}, Gauged{inchNM(t, "5.2500"), 0}, Gauged{inchNM(t, "5.2510"), 0}); err != nil || math.Abs(g.Value.In(Inch)-0.0031416) > 1e-7 {
		t.Errorf("no gap: %v, %v", g, err)
	}
	for _, gap := range []Gauged{{-1, 1}, {1, math.NaN()}, {largest + 1, 1}} {
		if _, err := GapIn(gap, g, g); err == nil {
			t.Errorf("a gap of %v is carried over", gap)
		}
	}
}

func TestCompareGrowth(t *testing.T) {
	bore := Gauged{inchNM(t, "5.2500"), 5000}
	worn := Gauged{inchNM(t, "5.2530"), 5000}
	gap := Gauged{inchNM(t, "0.0200"), 12_700}
	agree, err := CompareGrowth(Gauged{inchNM(t, "0.0294"), 12_700}, gap, worn, bore)
	if err != nil || agree.Disagree {
		t.Errorf("0.0094 in of gap is 0.0030 in of bore: %+v %v", agree, err)
	}
	near(t, "by gap", agree.ByGap, 0.0094*25.4e6/math.Pi, 1e-9)
	near(t, "by gauge", agree.ByGauge, 0.0030*25.4e6, 1e-9)
	near(t, "bound", agree.Bound, 1.96*math.Hypot(12_700*math.Sqrt2/math.Pi, 5000*math.Sqrt2), 1e-9)
	off, err := CompareGrowth(Gauged{inchNM(t, "0.0250"), 12_700}, gap, worn, bore)
	if err != nil || !off.Disagree || off.Difference >= 0 {
		t.Errorf("half the gap: %+v %v", off, err)
	}
	if _, err := CompareGrowth(gap, gap, worn, Gauged{}); !errors.Is(err, ErrRange) {
		t.Errorf("no bore: %v", err)
	}
}

func ExampleFitLimit() {
	in := func(text string) *Value { v, _ := ParseValue(text, Inch); return &v }
	l := FitLimit(Limit{NewMin: in("2.1268"), NewMax: in("2.1270"), ServiceMax: in("2.1280"), Wear: Up},
		Limit{NewMin: in("2.1250"), NewMax: in("2.1252"), ServiceMin: in("2.1248"), Wear: Down})
	fmt.Println(FitText(*l.NewMin, Inch), FitText(*l.NewMax, Inch), FitText(*l.ServiceMax, Inch))
	// Output: 0.0016L 0.0020L 0.0032L
}

func ExampleGapIn() {
	in := func(text string) Gauged { v, _ := ParseValue(text, Inch); return Gauged{v, 2540} }
	g, err := GapIn(in("0.0200"), in("5.2500"), in("5.2510"))
	if err != nil {
		panic(err)
	}
	fmt.Printf("%.4f in\n", g.Value.In(Inch))
	// Output: 0.0231 in
}

func ExampleCompareGrowth() {
	in := func(text string) Gauged { v, _ := ParseValue(text, Inch); return Gauged{v, 5080} }
	b, err := CompareGrowth(in("0.0230"), in("0.0200"), in("5.2530"), in("5.2500"))
	if err != nil {
		panic(err)
	}
	fmt.Printf("by gap %.4f, by gauge %.4f, disagree: %t\n", b.ByGap/25.4e6, b.ByGauge/25.4e6, b.Disagree)
	// Output: by gap 0.0010, by gauge 0.0030, disagree: true
}

// The same sizes in other units say the same, and swapping hole and shaft turns
// the sign.
func TestFitProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for range 500 {
		hole, shaft := Gauged{Value(1e6 + r.IntN(1e8)), 5000 * r.Float64()}, Gauged{Value(1e6 + r.IntN(1e8)), 5000 * r.Float64()}
		f, err1 := FitOf(hole, shaft)
		back, err2 := FitOf(shaft, hole)
		big, err3 := FitOf(Gauged{hole.Value * 10, hole.U * 10}, Gauged{shaft.Value * 10, shaft.U * 10})
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		if f.Clearance != -back.Clearance || big.Clearance != 10*f.Clearance || math.Abs(big.U-10*f.U) > 1e-9*big.U || math.Abs(f.U-back.U) > 1e-12*f.U {
			t.Fatalf("%+v, swapped %+v, tenfold %+v", f, back, big)
		}
	}
}
