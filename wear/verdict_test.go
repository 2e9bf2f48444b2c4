package wear

import (
	"math"
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

// TestAssessNumbers: an uncertainty that is none counts as 0, one without end
// leaves the verdict open, and nothing that is not finite comes out.
func TestAssessNumbers(t *testing.T) {
	for _, u := range []float64{math.Inf(1), math.MaxFloat64} {
		if a := Assess(size(t, "5.7601"), u, armyBore(t)); a.Verdict != Undecided || a.Plain != Beyond || math.IsInf(a.U, 0) {
			t.Errorf("u = %g: %+v", u, a)
		}
	}
	for _, u := range []float64{math.NaN(), math.Inf(-1), -1} {
		for _, lim := range []Limit{armyBore(t), {}} {
			a := Assess(size(t, "5.7601"), u, lim)
			if a.U != 0 || math.IsNaN(a.Room) || math.IsInf(a.Room, 0) || a.Verdict != a.Plain {
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

// TestStandardUncertainty: GUM 5.1.2 and 4.3.7; 3² + 12/12·4² = 25 by hand.
func TestStandardUncertainty(t *testing.T) {
	for _, c := range []struct{ sd, resolution, want float64 }{{3, 4 * math.Sqrt(12), 5}, {0, math.Sqrt(12), 1}, {7, 0, 7}, {0, 0, 0}} {
		if got := StandardUncertainty(c.sd, c.resolution); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("sd %g, resolution %g: u = %g, want %g", c.sd, c.resolution, got, c.want)
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
