package wear

import (
	"math"
	"strings"
	"testing"
)

// size reads a size in inches.
func size(t testing.TB, text string) Value {
	t.Helper()
	v, err := ParseValue(text, Inch)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// limit makes a limit from sizes in inches; an empty one is not given.
func limit(t testing.TB, w Direction, newMin, newMax, serviceMin, serviceMax string) Limit {
	t.Helper()
	bound := func(text string) *Value {
		if text == "" {
			return nil
		}
		v := size(t, text)
		return &v
	}
	return Limit{Wear: w, NewMin: bound(newMin), NewMax: bound(newMax), ServiceMin: bound(serviceMin), ServiceMax: bound(serviceMax)}
}

// Published limits to judge by. US Army TM 9-2815-220-24 WP 0135 for the
// bore; TM 9-2815-220-34 table 3-11 for pin bore, pin and skirt.
func armyBore(t testing.TB) Limit    { return limit(t, Up, "5.7510", "5.7530", "", "5.7600") }
func armyPinBore(t testing.TB) Limit { return limit(t, Up, "2.1268", "2.1270", "", "2.1280") }
func armyPin(t testing.TB) Limit     { return limit(t, Down, "2.1250", "2.1252", "2.1248", "") }
func armySkirt(t testing.TB) Limit   { return limit(t, Down, "5.7410", "5.7420", "5.7380", "") }

// TestAssessPlainly compares without any uncertainty: the manual's own rule,
// a value exactly on a limit being within it.
func TestAssessPlainly(t *testing.T) {
	bore, oversize := armyBore(t), armyBore(t).Shifted(size(t, "0.010"))
	for _, c := range []struct {
		what string
		lim  Limit
		size string
		want Verdict
		room string
	}{
		{"bore, smallest new", bore, "5.7510", New, "0.0090"},
		{"bore, largest new", bore, "5.7530", New, "0.0070"},
		{"bore, past new", bore, "5.7531", Serviceable, "0.0069"},
		{"bore, on its wear limit", bore, "5.7600", Serviceable, "0.0000"},
		{"bore, past its wear limit", bore, "5.7601", Beyond, "-0.0001"},
		{"bore, smaller than new", bore, "5.7509", Serviceable, "0.0091"},
		{"oversize bore, standard limit passed", oversize, "5.7605", Serviceable, "0.0095"}, // below its new minimum 5.7610, inside 5.7700
		{"oversize bore, smallest new", oversize, "5.7610", New, "0.0090"},
		{"oversize bore, on its wear limit", oversize, "5.7700", Serviceable, "0.0000"},
		{"oversize bore, past its wear limit", oversize, "5.7701", Beyond, "-0.0001"},
		{"pin bore, new", armyPinBore(t), "2.1269", New, "0.0011"},
		{"pin bore, worn", armyPinBore(t), "2.1275", Serviceable, "0.0005"},
		{"pin bore, past", armyPinBore(t), "2.1281", Beyond, "-0.0001"},
		{"pin, new", armyPin(t), "2.1251", New, "0.0003"},
		{"pin, worn", armyPin(t), "2.1249", Serviceable, "0.0001"},
		{"pin, on its limit", armyPin(t), "2.1248", Serviceable, "0.0000"},
		{"pin, past", armyPin(t), "2.1247", Beyond, "-0.0001"},
		{"skirt, worn", armySkirt(t), "5.7390", Serviceable, "0.0010"},
		{"skirt, past", armySkirt(t), "5.7379", Beyond, "-0.0001"},
		{"both bounds, too large", limit(t, Down, "", "", "1.0000", "1.1000"), "1.1001", Beyond, "-0.0001"},
		{"both bounds, too small", limit(t, Down, "", "", "1.0000", "1.1000"), "0.9999", Beyond, "-0.0001"},
		{"both bounds, between", limit(t, Down, "", "", "1.0000", "1.1000"), "1.0200", Serviceable, "0.0200"},
	} {
		a := Assess(size(t, c.size), 0, c.lim)
		if a.Verdict != c.want || a.Plain != c.want || a.Room != float64(size(t, c.room)) || !a.Bounded || a.U != 0 {
			t.Errorf("%s: %+v; want %s with %s to go", c.what, a, c.want, c.room)
		}
	}
}

// TestAssessWithUncertainty: ISO 14253-1. A part is beyond only when it is
// past by more than U, and good only when inside by more than U; U is 1.645 u
// for one-sided 95 %. With u = 0.0004 in U is 0.000658 in, so the border lies
// between six and seven ten-thousandths.
func TestAssessWithUncertainty(t *testing.T) {
	u := float64(size(t, "0.0004"))
	for _, c := range []struct {
		lim   Limit
		size  string
		want  Verdict
		plain Verdict
	}{
		{armyBore(t), "5.7520", New, New},
		{armyBore(t), "5.7593", Serviceable, Serviceable},
		{armyBore(t), "5.7594", Undecided, Serviceable},
		{armyBore(t), "5.7600", Undecided, Serviceable},
		{armyBore(t), "5.7606", Undecided, Beyond},
		{armyBore(t), "5.7607", Beyond, Beyond},
		{armyPin(t), "2.1255", Serviceable, Serviceable},
		{armyPin(t), "2.1252", Undecided, New}, // new, but the gauge is too coarse for this pin
		{armyPin(t), "2.1242", Undecided, Beyond},
		{armyPin(t), "2.1241", Beyond, Beyond},
	} {
		a := Assess(size(t, c.size), u, c.lim)
		if a.Verdict != c.want || a.Plain != c.plain {
			t.Errorf("%s in: %s, plainly %s; want %s, plainly %s", c.size, a.Verdict, a.Plain, c.want, c.plain)
		}
		if want := 1.645 * u; math.Abs(a.U-want) > 1e-9*want || ExpandedU(u) != a.U {
			t.Errorf("U = %g, want %g", a.U, want)
		}
	}
}

// armySide is the side clearance of ring 2: US Army TM 9-2815-220-34 table
// 3-11, 0.0055L to 0.0075L, service 0.0110L; armyPinFit its pin in piston,
// 0.0016L to 0.0020L, 0.0032L.
func armySide(t testing.TB) Limit   { return limit(t, Up, "0.0055", "0.0075", "", "0.0110") }
func armyPinFit(t testing.TB) Limit { return limit(t, Up, "0.0016", "0.0020", "", "0.0032") }

// TestAssessClearancePlainly: both sides bind, without any uncertainty. The
// limits are those of TM 9-2815-220-34 table 3-11; that the new minimum holds
// for a worn fit is common practice, no source.
func TestAssessClearancePlainly(t *testing.T) {
	side, pin := armySide(t), armyPinFit(t)
	service := limit(t, Up, "0.0055", "0.0075", "0.0050", "0.0110")
	tight := limit(t, Up, "-0.0005", "0.0005", "", "0.0015")
	for _, c := range []struct {
		what         string
		lim          Limit
		size         string
		want         Verdict
		room         string
		edge         Edge
		interference bool
	}{
		{"side, past its service limit", side, "0.0111", Beyond, "-0.0001", ServiceEdge, false},
		{"side, on its service limit", side, "0.0110", Serviceable, "0", ServiceEdge, false},
		{"side, worn", side, "0.0090", Serviceable, "0.0020", ServiceEdge, false},
		{"side, just past new, nearer to the new minimum", side, "0.0076", Serviceable, "0.0034", ServiceEdge, false},
		{"side, largest new", side, "0.0075", New, "0.0020", TightNewEdge, false},
		{"side, smallest new", side, "0.0055", New, "0", TightNewEdge, false},
		{"side, tighter than new", side, "0.0054", Beyond, "-0.0001", TightNewEdge, false},
		{"side, ring stuck", side, "0.0000", Beyond, "-0.0055", TightNewEdge, false},
		{"side, ring wider than its groove", side, "-0.0003", Beyond, "-0.0058", TightNewEdge, true},
		{"pin, smallest new", pin, "0.0016", New, "0", TightNewEdge, false},
		{"pin, tighter than new", pin, "0.0015", Beyond, "-0.0001", TightNewEdge, false},
		{"pin, on its service limit", pin, "0.0032", Serviceable, "0", ServiceEdge, false},
		{"pin, past its service limit", pin, "0.0033", Beyond, "-0.0001", ServiceEdge, false},
		{"service minimum typed, below new", service, "0.0052", Serviceable, "0.0002", TightServiceEdge, false},
		{"service minimum typed, past it", service, "0.0049", Beyond, "-0.0001", TightServiceEdge, false},
		{"a fit that is meant to be tight", tight, "-0.0004", New, "0.0001", TightNewEdge, false},
		{"tighter than it is meant to be", tight, "-0.0006", Beyond, "-0.0001", TightNewEdge, false},
		{"only a service maximum, nothing left", limit(t, Up, "", "", "", "0.0110"), "0.0000", Serviceable, "0.0110", ServiceEdge, false},
		{"only a service maximum, interference", limit(t, Up, "", "", "", "0.0110"), "-0.0001", Beyond, "-0.0001", NothingEdge, true},
		{"no limit, interference", Limit{Wear: Up}, "-0.0001", Beyond, "-0.0001", NothingEdge, true},
		{"no service limit, tighter than new", limit(t, Up, "0.0055", "0.0075", "", ""), "0.0054", Beyond, "-0.0001", TightNewEdge, false},
		{"no service limit, smallest new", limit(t, Up, "0.0055", "0.0075", "", ""), "0.0055", New, "0", TightNewEdge, false},
	} {
		a := AssessClearance(size(t, c.size), 0, c.lim)
		if a.Verdict != c.want || a.Plain != c.want || a.Room != float64(size(t, c.room)) || !a.Bounded || a.Edge != c.edge || a.Interference != c.interference {
			t.Errorf("%s: %+v; want %s with %s to go to edge %d", c.what, a, c.want, c.room, c.edge)
		}
	}
	for _, c := range []struct {
		lim  Limit
		size string
		want Verdict
	}{{limit(t, Up, "0.0055", "0.0075", "", ""), "0.0076", NoLimit}, {limit(t, Up, "0.0055", "0.0075", "", ""), "0.0060", New}, {Limit{Wear: Up}, "0.0000", NoLimit}} {
		if a := AssessClearance(size(t, c.size), 0, c.lim); a.Verdict != c.want || a.Plain != c.want || a.Bounded {
			t.Errorf("%s without a service limit: %+v, want %s", c.size, a, c.want)
		}
	}
}

// TestAssessClearanceWithUncertainty: the guard band of ISO 14253-1 on either
// side. With u = 0.0002 in U is 0.000329 in, so the border lies between three
// and four ten-thousandths. Limits of TM 9-2815-220-34 table 3-11.
func TestAssessClearanceWithUncertainty(t *testing.T) {
	u := float64(size(t, "0.0002"))
	for _, c := range []struct {
		lim   Limit
		size  string
		want  Verdict
		plain Verdict
	}{
		{armySide(t), "0.0059", New, New},
		{armySide(t), "0.0058", Undecided, New},
		{armySide(t), "0.0055", Undecided, New},
		{armySide(t), "0.0052", Undecided, Beyond},
		{armySide(t), "0.0051", Beyond, Beyond},
		{armySide(t), "0.0106", Serviceable, Serviceable},
		{armySide(t), "0.0107", Undecided, Serviceable},
		{armySide(t), "0.0113", Undecided, Beyond},
		{armySide(t), "0.0114", Beyond, Beyond},
		{armyPinFit(t), "0.0024", Serviceable, Serviceable},
		{armyPinFit(t), "0.0018", Undecided, New}, // the new limits are closer than this gauge can tell
		{Limit{Wear: Up}, "-0.0003", Undecided, Beyond},
		{Limit{Wear: Up}, "-0.0004", Beyond, Beyond},
		{Limit{Wear: Up}, "0.0001", NoLimit, NoLimit},
		{limit(t, Up, "0.0055", "", "", ""), "0.0057", Undecided, New},
		{limit(t, Up, "0.0055", "0.0056", "", ""), "0.0057", Undecided, NoLimit},
	} {
		a := AssessClearance(size(t, c.size), u, c.lim)
		if a.Verdict != c.want || a.Plain != c.plain {
			t.Errorf("%s in: %s, plainly %s; want %s, plainly %s", c.size, a.Verdict, a.Plain, c.want, c.plain)
		}
	}
}

// TestAssessClearanceMonotone: from midway between the bounds to either side no
// step makes a clearance better, new and serviceable counting alike, whatever
// the gauge, and plainly both sides are judged as MatchFitOf allows. Limits of TM 9-2815-220-34 table 3-11.
func TestAssessClearanceMonotone(t *testing.T) {
	step := size(t, "0.00005")
	for _, lim := range []Limit{armySide(t), armyPinFit(t), limit(t, Up, "0.0055", "0.0075", "0.0050", "0.0110"), limit(t, Up, "-0.0005", "0.0005", "", "0.0015")} {
		fit, err := MatchFitOf(lim, true)
		if err != nil {
			t.Fatal(err)
		}
		for _, u := range []float64{0, 1_000, 5_080, 25_400} {
			for _, way := range []Value{-step, step} {
				var last Assessment
				for i, v := 0, (fit.Min+fit.Max)/2; i < 500; i, v = i+1, v+way {
					a := AssessClearance(v, u, lim)
					if i > 0 && (max(a.Verdict, Serviceable) < last.Verdict || max(a.Plain, Serviceable) < last.Plain) {
						t.Fatalf("u %g: %s is %s (%s), nearer the middle it was %s (%s)", u, FitText(v, Inch), a.Verdict, a.Plain, last.Verdict, last.Plain)
					}
					if (a.Plain == Beyond) != (fit.miss(v, v) != 0) {
						t.Fatalf("%s is plainly %s, and misses the fit by %d", FitText(v, Inch), a.Plain, fit.miss(v, v))
					}
					last = a
				}
				if last.Verdict != Beyond {
					t.Errorf("u %g: far out on side %d it ends %s", u, way, last.Verdict)
				}
			}
		}
	}
}

// TestClearanceFeatures: a clearance or gap binds when it is too small; a size
// of one part that is below its new minimum passes.
func TestClearanceFeatures(t *testing.T) {
	for _, f := range BuiltIn {
		want := strings.HasSuffix(f.Name, "clearance") || f.Name == "end gap" || f.Name == "gap of a pushed ring"
		if f.Clearance != want {
			t.Errorf("%s %s: clearance %t, want %t", f.Kind, f.Name, f.Clearance, want)
		}
		if a := f.Assess(size(t, "0.0040"), 0, armySide(t)); (a.Verdict == Beyond) != want {
			t.Errorf("%s below its new minimum is %s", f.Name, a.Verdict)
		}
	}
}

func TestAssessWithoutServiceBound(t *testing.T) {
	onlyNew := limit(t, Up, "5.7510", "5.7530", "", "")
	for _, c := range []struct {
		lim  Limit
		size string
		want Verdict
	}{{onlyNew, "5.7520", New}, {onlyNew, "5.7540", NoLimit}, {Limit{}, "5.7520", NoLimit}} {
		a := Assess(size(t, c.size), 5080, c.lim)
		if a.Verdict != c.want || a.Plain != c.want || a.Bounded || a.Room != 0 {
			t.Errorf("%s without a service bound: %+v, want %s", c.size, a, c.want)
		}
	}
}

// TestAssessNumbers: an uncertainty that cannot be one, or is without end, leaves
// the verdict open, and nothing that is not finite comes out.
func TestAssessNumbers(t *testing.T) {
	for _, u := range []float64{math.Inf(1), math.MaxFloat64} {
		if a := Assess(size(t, "5.7601"), u, armyBore(t)); a.Verdict != Undecided || a.Plain != Beyond || math.IsInf(a.U, 0) {
			t.Errorf("u = %g: %+v", u, a)
		}
	}
	for _, u := range []float64{math.NaN(), math.Inf(-1), -1} {
		for _, lim := range []Limit{armyBore(t), {}} {
			a := Assess(size(t, "5.7601"), u, lim)
			if a.U < 1e19 || math.IsInf(a.U, 0) || math.IsNaN(a.Room) || math.IsInf(a.Room, 0) || a.Bounded != (a.Verdict == Undecided) {
				t.Errorf("u = %g: %+v", u, a)
			}
		}
	}
}

// TestShifted: TM 9-2815-220-24 WP 0135, each 0.010 in oversize adds 0.010 in.
func TestShifted(t *testing.T) {
	l := armyBore(t)
	for n, want := range map[string][3]string{"0.010": {"5.7610", "5.7630", "5.7700"}, "0.020": {"5.7710", "5.7730", "5.7800"}, "0.030": {"5.7810", "5.7830", "5.7900"}} {
		moved := l.Shifted(size(t, n))
		if *moved.NewMin != size(t, want[0]) || *moved.NewMax != size(t, want[1]) || *moved.ServiceMax != size(t, want[2]) || moved.ServiceMin != nil {
			t.Errorf("oversize %s: %+v", n, moved)
		}
	}
	if *l.NewMin != size(t, "5.7510") {
		t.Error("shifting a limit changed the limit itself")
	}
}

// TestMiddleOfNew: GUM (JCGM 100) 4.3.7, a rectangular distribution of width
// 0.0020 in has the standard uncertainty 0.0020/√12 = 0.000577 in.
func TestMiddleOfNew(t *testing.T) {
	mid, u, ok := armyBore(t).MiddleOfNew()
	if !ok || mid != float64(size(t, "5.7520")) || math.Abs(u-25_400_000*0.000577350) > 1 {
		t.Errorf("middle %.0f, u %.1f, %t", mid, u, ok)
	}
	for _, l := range []Limit{limit(t, Up, "5.7510", "", "", ""), limit(t, Up, "", "5.7530", "", "5.7600"), limit(t, Up, "5.7530", "5.7510", "", ""), {}} {
		if _, _, ok := l.MiddleOfNew(); ok {
			t.Errorf("%+v has a middle of new", l)
		}
	}
}

// TestStandardUncertainty: GUM 5.1.2 and 4.3.7; 3² + 12/12·4² = 25 by hand, and
// with a person's 12, 13.
func TestStandardUncertainty(t *testing.T) {
	for _, c := range []struct{ sd, operator, resolution, want float64 }{{3, 0, 4 * math.Sqrt(12), 5}, {3, 12, 4 * math.Sqrt(12), 13}, {0, 0, math.Sqrt(12), 1}, {7, 0, 0, 7}, {0, 7, 0, 7}, {0, 0, 0, 0}} {
		if got := StandardUncertainty(c.sd, c.operator, c.resolution); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("sd %g, operator %g, resolution %g: u = %g, want %g", c.sd, c.operator, c.resolution, got, c.want)
		}
	}
}

func TestNominal(t *testing.T) {
	for _, c := range []struct {
		lim  Limit
		want string
	}{
		{armyBore(t), "5.7510"},                        // a bore wears away from its smallest new size
		{armyPin(t), "2.1252"},                         // a pin from its largest
		{limit(t, Up, "", "5.7530", "", ""), "5.7530"}, // for want of the other
		{limit(t, Down, "5.7410", "", "", ""), "5.7410"},
	} {
		if got, ok := c.lim.Nominal(); !ok || got != size(t, c.want) {
			t.Errorf("nominal %s, %t; want %s", got.Format(Inch), ok, c.want)
		}
	}
	if _, ok := limit(t, Up, "", "", "", "5.7600").Nominal(); ok {
		t.Error("a nominal without new limits")
	}
}

// TestAllowancePerHour: (5.7600 - 5.7520) in over 2,000 h is 0.000004 in an
// hour, 101.6 nm; for the pin (2.1251 - 2.1248) in over 2,000 h is 3.81 nm.
// The 2,000 h are ours, the limits those of TM 9-2815-220-24 and -34.
func TestAllowancePerHour(t *testing.T) {
	for _, c := range []struct {
		lim  Limit
		want float64
	}{{armyBore(t), 101.6}, {armyBore(t).Shifted(size(t, "0.020")), 101.6}, {armyPin(t), 3.81}} {
		c.lim.Life = 200_000
		if got, ok := c.lim.AllowancePerHour(); !ok || math.Abs(got-c.want) > 1e-9 {
			t.Errorf("allowance %g nm an hour, %t; want %g", got, ok, c.want)
		}
	}
	noLife, noRoom := armyBore(t), limit(t, Up, "5.7510", "5.7530", "", "5.7520")
	noRoom.Life = 200_000
	upWithMinimum := limit(t, Up, "5.7510", "5.7530", "5.7400", "")
	upWithMinimum.Life = 200_000
	for _, l := range []Limit{noLife, noRoom, upWithMinimum, {}} {
		if got, ok := l.AllowancePerHour(); ok {
			t.Errorf("%+v allows %g an hour", l, got)
		}
	}
}

func TestVerdictWords(t *testing.T) {
	for v, want := range map[Verdict]string{NoLimit: "no limit", New: "new", Serviceable: "serviceable", Undecided: "undecided", Beyond: "beyond", -1: "no limit", 9: "no limit"} {
		if v.String() != want {
			t.Errorf("verdict %d is %q, want %q", int(v), v, want)
		}
	}
	if !(NoLimit < New && New < Serviceable && Serviceable < Undecided && Undecided < Beyond) {
		t.Error("verdicts are not in order from best to worst")
	}
}
