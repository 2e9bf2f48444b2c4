package wear

import (
	"errors"
	"math"
	"math/rand"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// widths reads a list of widths of one figure each, named by their text.
func widths(t testing.TB, texts ...string) []WidthRing {
	t.Helper()
	var rings []WidthRing
	for _, text := range texts {
		rings = append(rings, WidthRing{Name: text, WidthMin: size(t, text), WidthMax: size(t, text)})
	}
	return rings
}

// wornGroove asks for 0.003 to 0.005 in of side clearance in a groove worn to
// 0.0800 in, between two lands of 0.150 in that may not fall below 0.140 in.
func wornGroove(t testing.TB) RegrooveAsk {
	t.Helper()
	least := size(t, "0.140")
	land := func(name string) CutLand {
		return CutLand{Name: name, Width: Gauged{Value: size(t, "0.150")}, Min: &least, Percent: 50}
	}
	return RegrooveAsk{
		Groove: Gauged{Value: size(t, "0.0800")}, ClearanceMin: size(t, "0.003"), ClearanceMax: size(t, "0.005"),
		Lands: []CutLand{land("land above"), land("land below")}, Unit: Inch,
	}
}

// TestRegrooveFor: each row by hand, groove = ring + side clearance, cut = groove -
// groove as it is, land left = land - its share of the cut. Side clearance is
// groove less ring: FAA-H-8083-32, piston ring fitting.
func TestRegrooveFor(t *testing.T) {
	for _, c := range []struct {
		what, ring      string
		change          func(*RegrooveAsk, *WidthRing)
		grooveMin, most string
		cutMin, cutMax  string
		clear           string // side clearance, least to most
		left            string // of the last land
		reason          RegrooveReason
		note            string
	}{
		{what: "plain", ring: "0.0880", grooveMin: "0.0910", most: "0.0930", cutMin: "0.0110", cutMax: "0.0130", clear: "0.0030 to 0.0050", left: "0.1435"},
		{what: "cut to the land's last", ring: "0.0950", grooveMin: "0.0980", most: "0.1000", cutMin: "0.0180", cutMax: "0.0200", left: "0.1400"},
		{what: "land narrows the cut", ring: "0.0960", grooveMin: "0.0990", most: "0.1000", cutMin: "0.0190", cutMax: "0.0200", clear: "0.0030 to 0.0040", left: "0.1400", note: "no wider"},
		{what: "land too thin", ring: "0.0980", grooveMin: "0.1010", most: "0.1030", reason: LandTooThin, note: "too little to spare"},
		{what: "worn too wide", ring: "0.0740", grooveMin: "0.0770", most: "0.0790", reason: GrooveNotClean},
		{what: "worn to the largest", ring: "0.0750", grooveMin: "0.0800", most: "0.0800", cutMin: "0.0000", cutMax: "0.0000", left: "0.1500", note: "already gives"},
		{what: "worn into the range", ring: "0.0760", grooveMin: "0.0800", most: "0.0810", cutMin: "0.0000", cutMax: "0.0010", clear: "0.0040 to 0.0050", left: "0.1495"},
		{what: "with a clean-up cut", ring: "0.0760", change: func(a *RegrooveAsk, _ *WidthRing) { a.CleanUp = 12_700 },
			grooveMin: "0.0805", most: "0.0810", cutMin: "0.0005", cutMax: "0.0010", left: "0.1495"},
		{what: "clean-up cut too large", ring: "0.0760", change: func(a *RegrooveAsk, _ *WidthRing) { a.CleanUp = 25_402 },
			grooveMin: "0.0790", most: "0.0810", reason: GrooveNotClean},
		{what: "ring varies", ring: "0.0880", change: func(_ *RegrooveAsk, r *WidthRing) { r.WidthMax = size(t, "0.0895") },
			grooveMin: "0.0925", most: "0.0930", cutMin: "0.0125", cutMax: "0.0130", clear: "0.0030 to 0.0050", left: "0.1435"},
		{what: "ring varies too much", ring: "0.0880", change: func(_ *RegrooveAsk, r *WidthRing) { r.WidthMax = size(t, "0.0901") },
			grooveMin: "0.0931", most: "0.0930", reason: RingVariesTooMuch},
		{what: "one land, all of it", ring: "0.0850", change: func(a *RegrooveAsk, _ *WidthRing) { a.Lands = a.Lands[1:]; a.Lands[0].Percent = 100 },
			grooveMin: "0.0880", most: "0.0900", cutMin: "0.0080", cutMax: "0.0100", left: "0.1400"},
		{what: "a land without a limit", ring: "0.0850", change: func(a *RegrooveAsk, _ *WidthRing) { a.Lands[1].Min = nil },
			grooveMin: "0.0880", most: "0.0900", cutMin: "0.0080", cutMax: "0.0100", left: "0.1450", note: "no limit to check"},
		{what: "a land without a limit cut away", ring: "0.0850", change: func(a *RegrooveAsk, _ *WidthRing) {
			a.Lands[1] = CutLand{Name: "b", Width: Gauged{Value: 100}, Percent: 50}
		},
			grooveMin: "0.0880", most: "0.0900", reason: LandTooThin, note: "b has too little"},
		{what: "no lands", ring: "0.0850", change: func(a *RegrooveAsk, _ *WidthRing) { a.Lands = nil },
			grooveMin: "0.0880", most: "0.0900", cutMin: "0.0080", cutMax: "0.0100", note: "100 % of the machining"},
	} {
		ask, ring := wornGroove(t), widths(t, c.ring)[0]
		if c.change != nil {
			c.change(&ask, &ring)
		}
		g, err := RegrooveFor(ask, ring)
		if err != nil {
			t.Fatalf("%s: %v", c.what, err)
		}
		if g.GrooveMin != size(t, c.grooveMin) || g.GrooveMax != size(t, c.most) || g.Works != (c.reason == "") {
			t.Errorf("%s: groove %s to %s, works %t", c.what, g.GrooveMin.Format(Inch), g.GrooveMax.Format(Inch), g.Works)
		}
		if c.reason != "" && !slices.Equal(g.Reasons, []RegrooveReason{c.reason}) {
			t.Errorf("%s: reasons %q, want %q", c.what, g.Reasons, c.reason)
		}
		if c.cutMin != "" && (g.CutMin != size(t, c.cutMin) || g.CutMax != size(t, c.cutMax)) {
			t.Errorf("%s: cut %s to %s", c.what, g.CutMin.Format(Inch), g.CutMax.Format(Inch))
		}
		if clear := g.ClearMin.Format(Inch) + " to " + g.ClearMax.Format(Inch); c.clear != "" && clear != c.clear {
			t.Errorf("%s: side clearance %s, want %s", c.what, clear, c.clear)
		}
		if c.left != "" && g.Lands[len(g.Lands)-1].Left != size(t, c.left) {
			t.Errorf("%s: land left %s, want %s", c.what, g.Lands[0].Left.Format(Inch), c.left)
		}
		if c.note != "" && !strings.Contains(strings.Join(g.Notes, "; "), c.note) {
			t.Errorf("%s: notes %q, want %q", c.what, g.Notes, c.note)
		}
	}
}

// TestRegrooveUncertain: a land 0.0001 in above its limit with u = 0.0002 in
// is inside U = 0.000329 in, undecided, and so is the groove that cleans up by
// 0.0001 in.
func TestRegrooveUncertain(t *testing.T) {
	ask := wornGroove(t)
	for i := range ask.Lands {
		ask.Lands[i].Width.U = float64(size(t, "0.0002"))
	}
	g, err := RegrooveFor(ask, widths(t, "0.0948")[0])
	if err != nil || !g.Works || g.Lands[0].Verdict != Undecided || g.Lands[0].Plain != Serviceable || g.landRisk() != 1 {
		t.Errorf("land: %+v, %v", g.Lands, err)
	}
	ask = wornGroove(t)
	ask.Groove.U = float64(size(t, "0.0002"))
	g, err = RegrooveFor(ask, widths(t, "0.0751")[0])
	if err != nil || !g.Works || g.CleansUp.Verdict != Undecided || !strings.Contains(strings.Join(g.Notes, ";"), "cleans up") {
		t.Errorf("groove: %+v, %v", g, err)
	}
}

// TestNeededForce: 10 % more width at the same pressure needs 10 % more
// tangential force, as p = 2 Ft / (d h) says.
func TestNeededForce(t *testing.T) {
	original := tensioned(t, "10", 0) // 2.0 mm wide
	ask := wornGroove(t)
	ask.Original = &original
	wide := WidthRing{Name: "10 % wider", WidthMin: 2_200_000, WidthMax: 2_200_000}
	g, err := RegrooveFor(ask, wide)
	if err != nil || math.Abs(g.NeededForce-11) > 1e-9 {
		t.Fatalf("needs %g N, %v; want 11", g.NeededForce, err)
	}
	if !strings.Contains(strings.Join(g.Notes, ";"), "not known") {
		t.Errorf("notes %q say nothing of the ring's unknown pressure", g.Notes)
	}
	sizes := bookRing(t, FromTangential)
	sizes.Force, sizes.Width.Value = gauged(t, "11", 0, Newton), wide.WidthMin
	offered := pressure(t, sizes)
	wide.Pressure = &offered
	if g, err = RegrooveFor(ask, wide); err != nil || g.Pressure == nil || math.Abs(g.Pressure.Ratio-1) > 1e-12 || g.Pressure.Warn {
		t.Errorf("a ring with the force it needs: %+v, %v", g.Pressure, err)
	}
}

// TestRankRegrooves: what works comes first, then what leaves its lands thick
// enough for sure, then what presses like the original, then the least cut;
// RegrooveSummary says why none works. The order is common practice, no source.
func TestRankRegrooves(t *testing.T) {
	ask := wornGroove(t)
	original := tensioned(t, "10", 0)
	ask.Original = &original
	rings := widths(t, "0.0980", "0.0740", "0.0900", "0.0840", "0.0880")
	hard, alike := tensioned(t, "14", 0), tensioned(t, "10.5", 0)
	rings[3].Pressure, rings[2].Pressure, rings[4].Pressure = &hard, &alike, &alike
	list, err := RankRegrooves(ask, rings)
	if err != nil {
		t.Fatal(err)
	}
	var order []string
	for _, g := range list {
		order = append(order, g.Ring.Name)
	}
	if want := []string{"0.0880", "0.0900", "0.0840"}; !slices.Equal(order[:3], want) || list[3].Works || list[4].Works {
		t.Errorf("order %q, want %q first", order, want)
	}
	if s := RegrooveSummary(list); !strings.Contains(s, "0.0880") {
		t.Errorf("summary %q", s)
	}
	for i := range ask.Lands {
		ask.Lands[i].Width.U = float64(size(t, "0.0004"))
	}
	ask.Original, ask.Lands[0].Min, ask.Groove.U = nil, nil, float64(size(t, "0.0002"))
	list, err = RankRegrooves(ask, widths(t, "0.0751", "0.0850"))
	if err != nil || list[0].Ring.Name != "0.0850" || list[1].CleansUp.Verdict != Undecided {
		t.Errorf("what is sure does not come before the smaller cut that is not: %v, %v", list, err)
	}
	ask = wornGroove(t) // a land 0.0001 in above its least with u = 0.0002 in is undecided, by ISO 14253-1
	ask.Original, ask.Lands[0].Width.U = &original, float64(size(t, "0.0002"))
	rings = widths(t, "0.0948", "0.1000", "0.0900", "0.0980", "0.0740")
	rings[0].Pressure, rings[1].Pressure, rings[2].Pressure = &alike, &alike, &hard
	if list, err = RankRegrooves(ask, rings); err != nil {
		t.Fatal(err)
	}
	order = nil
	for _, g := range list {
		order = append(order, g.Ring.Name)
	}
	if want := []string{"0.0900", "0.0948", "0.0740", "0.0980", "0.1000"}; !slices.Equal(order, want) {
		t.Errorf("order %q, want %q: how safe a land is goes before how a ring presses", order, want)
	}
	none, err := RankRegrooves(wornGroove(t), widths(t, "0.0980", "0.0740"))
	if s := RegrooveSummary(none); err != nil || !strings.Contains(s, string(LandTooThin)) || !strings.Contains(s, string(GrooveNotClean)) {
		t.Errorf("summary %q, %v", s, err)
	}
	if s := RegrooveSummary(nil); !strings.Contains(s, "No over-width") {
		t.Errorf("summary of nothing: %q", s)
	}
}

func TestRegrooveErrors(t *testing.T) {
	for what, change := range map[string]func(*RegrooveAsk, *WidthRing){
		"no groove":          func(a *RegrooveAsk, _ *WidthRing) { a.Groove.Value = 0 },
		"ring inside out":    func(_ *RegrooveAsk, r *WidthRing) { r.WidthMax = r.WidthMin - 1 },
		"negative clearance": func(a *RegrooveAsk, _ *WidthRing) { a.ClearanceMin = -1 },
		"clearance reversed": func(a *RegrooveAsk, _ *WidthRing) { a.ClearanceMax = a.ClearanceMin - 1 },
		"too many percent":   func(a *RegrooveAsk, _ *WidthRing) { a.Lands[0].Percent = 51 },
		"percent negative":   func(a *RegrooveAsk, _ *WidthRing) { a.Lands[0].Percent = -1 },
		"no land width":      func(a *RegrooveAsk, _ *WidthRing) { a.Lands[1].Width.Value = 0 },
	} {
		ask, ring := wornGroove(t), widths(t, "0.0880")[0]
		change(&ask, &ring)
		if g, err := RegrooveFor(ask, ring); !errors.Is(err, ErrRegroove) || g.Works {
			t.Errorf("%s: %v, want %v", what, err, ErrRegroove)
		}
	}
	ask := wornGroove(t)
	ask.Groove.U = math.NaN()
	if _, err := RankRegrooves(ask, widths(t, "0.0880")); !errors.Is(err, ErrNotFinite) {
		t.Errorf("uncertainty NaN: %v", err)
	}
	original, other := tensioned(t, "10", 0), tensioned(t, "10", 0)
	other.Ring.Bore.Value++
	ask = wornGroove(t)
	ask.Original = &original
	ring := widths(t, "0.0880")[0]
	ring.Pressure = &other
	if _, err := RegrooveFor(ask, ring); !errors.Is(err, ErrBores) {
		t.Errorf("ring of another bore: %v", err)
	}
}

// TestRegrooveScale: every size twice as large gives every size twice as large;
// which rings work does not change. By similarity.
func TestRegrooveScale(t *testing.T) {
	for _, ring := range widths(t, "0.0740", "0.0760", "0.0850", "0.0880", "0.0950", "0.0960", "0.0980") {
		ask := wornGroove(t)
		ask.CleanUp, ask.Groove.U = 12_700, 5080
		large, wide := ask, ring
		large.Groove, large.ClearanceMin, large.ClearanceMax, large.CleanUp = Gauged{2 * ask.Groove.Value, 2 * ask.Groove.U}, 2*ask.ClearanceMin, 2*ask.ClearanceMax, 2*ask.CleanUp
		large.Lands = nil
		for _, l := range ask.Lands {
			least := 2 * *l.Min
			l.Width.Value, l.Min = 2*l.Width.Value, &least
			large.Lands = append(large.Lands, l)
		}
		wide.WidthMin, wide.WidthMax = 2*ring.WidthMin, 2*ring.WidthMax
		was, err := RegrooveFor(ask, ring)
		now, err2 := RegrooveFor(large, wide)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		if now.GrooveMin != 2*was.GrooveMin || now.GrooveMax != 2*was.GrooveMax || now.CutMin != 2*was.CutMin || now.CutMax != 2*was.CutMax ||
			now.Works != was.Works || len(now.Lands) != len(was.Lands) || now.CleansUp.Verdict != was.CleansUp.Verdict {
			t.Errorf("%s: %+v, twice as large %+v", ring.Name, was, now)
		}
		for i := range was.Lands {
			if now.Lands[i].Left != 2*was.Lands[i].Left {
				t.Errorf("%s: %+v left, twice as large %+v", ring.Name, was.Lands[i], now.Lands[i])
			}
		}
	}
}

// TestRegrooveAlwaysFits: whatever the sizes, a ring that works has the wanted
// clearance at both ends of the groove's range, removes no metal that is not
// there and leaves every land within its limit, its share rounded up; nothing is NaN.
func TestRegrooveAlwaysFits(t *testing.T) {
	random := rand.New(rand.NewSource(5))
	works := 0
	for range 20_000 {
		least := Value(random.Intn(1000))
		ask := RegrooveAsk{Groove: Gauged{Value: Value(1 + random.Intn(1000)), U: 5 * random.Float64()}, CleanUp: Value(random.Intn(20)),
			ClearanceMin: Value(random.Intn(50)), Lands: []CutLand{{Name: "a", Width: Gauged{Value: Value(1 + random.Intn(1500))}, Min: &least, Percent: random.Intn(101)}}}
		ask.ClearanceMax = ask.ClearanceMin + Value(random.Intn(50))
		ring := WidthRing{WidthMin: Value(1 + random.Intn(1200))}
		ring.WidthMax = ring.WidthMin + Value(random.Intn(20))
		g, err := RegrooveFor(ask, ring)
		if err != nil {
			t.Fatalf("%+v %+v: %v", ask, ring, err)
		}
		finite(t, "groove", reflect.ValueOf(g.CleansUp))
		finite(t, "lands", reflect.ValueOf(g.Lands))
		if g.Works != (len(g.Reasons) == 0) {
			t.Fatalf("works %t for %q", g.Works, g.Reasons)
		}
		if !g.Works {
			continue
		}
		works++
		takes, share := ask.Lands[0].Width.Value-g.Lands[0].Left, Value(ask.Lands[0].Percent)
		if g.GrooveMin-ring.WidthMax < ask.ClearanceMin || g.GrooveMax-ring.WidthMin > ask.ClearanceMax || g.CutMin < ask.CleanUp ||
			g.ClearMin < ask.ClearanceMin || g.ClearMax > ask.ClearanceMax ||
			g.CutMax < g.CutMin || takes*100 < g.CutMax*share || (takes-1)*100 >= g.CutMax*share && takes > 0 || g.Lands[0].Left < least || g.Lands[0].Left <= 0 || ask.Groove.Value+g.CutMax != g.GrooveMax {
			t.Fatalf("%+v %+v gives %+v", ask, ring, g)
		}
	}
	if works < 500 {
		t.Errorf("only %d rings work: the check checks little", works)
	}
}
