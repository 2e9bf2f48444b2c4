package server

import (
	"html"
	"net/http"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

func unitOf(t testing.TB, n int) wear.Unit {
	t.Helper()
	return must[wear.Unit](t)(wear.UnitNamed([]string{"in", "mm"}[n&1]))
}

func FuzzReadOffer(f *testing.F) {
	for _, line := range []string{"0.010 over = 0.1030 to 0.1035, 46 N", "0.1 in", "= 0.1", "a = b = 0.1", "wide = 2.5 to 2.4", "0.1,,", "0.1, 0", "x = −0.1", "0.1 to", "0.1 in to 0.2 in, 46.0N", "9223372036.854775807"} {
		f.Add(line, 0)
		f.Add(line, 1)
	}
	f.Fuzz(func(t *testing.T, line string, unit int) {
		u := unitOf(t, unit)
		o, why := readOffer(line, u)
		switch {
		case why != "":
		case o.least <= 0 || o.most < o.least || o.most > 25_400_000:
			t.Errorf("%q is taken for %s to %s", line, o.least.Format(u), o.most.Format(u))
		case o.force != nil && (*o.force <= 0 || o.forceStep <= 0):
			t.Errorf("%q has the force %d, read to %d", line, *o.force, o.forceStep)
		case strings.TrimSpace(o.name) == "":
			t.Errorf("%q has no name", line)
		}
	})
}

func FuzzLengthsIn(f *testing.F) {
	for _, text := range []string{"0.010, 0.015, 0.020", "0,010", "0,010, 0,020", "010", "0", ",,", "0,25", "1,2", "0.010,", "００１"} {
		f.Add(text, 0)
		f.Add(text, 1)
	}
	f.Fuzz(func(t *testing.T, text string, unit int) {
		vs, why := lengthsIn(text, unitOf(t, unit))
		if why != "" && len(vs) > 0 {
			t.Errorf("%q is refused, and read as %d", text, vs)
		}
		if why == "" && len(vs) != len(items(text)) {
			t.Errorf("%q is read as %d sizes", text, len(vs))
		}
		for _, item := range items(text) {
			if item == "0" && why == "" {
				t.Errorf("a comma typed for the point is taken in %q", text)
			}
		}
	})
}

func FuzzPositionsIn(f *testing.F) {
	for _, text := range []string{"1, 2,3", "1 2 3", "0", "10", "-1", "+4", "1;2", "9223372036854775808", "\u00a01\u2003"} {
		f.Add(text, 9)
	}
	f.Fuzz(func(t *testing.T, text string, most int) {
		ps, why := positionsIn(text, most)
		if why != "" && len(ps) > 0 {
			t.Errorf("%q is refused, and read as %d", text, ps)
		}
		for _, p := range ps {
			if p < 1 || p > most {
				t.Errorf("%q is taken for position %d of %d", text, p, most)
			}
		}
	})
}

func FuzzPlainHours(f *testing.F) {
	for _, text := range []string{"1204.5", "1,204.5", "1204,5", "12,5", "0,500", "1,2,3", ",1", "1,", "1,000,000", "1,000.2,5", "999,999.99"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		h, err := wear.ParseHours(plainHours(text))
		if err != nil || !strings.Contains(text, ",") {
			return
		}
		if bare := strings.ReplaceAll(text, ",", ""); grouped(bare) != strings.TrimSuffix(text, ".") && grouped(bare) != text {
			t.Errorf("%q is taken for %s h", text, h)
		}
	})
}

// A comma typed for the point is never taken for something else.
func TestDecimalCommas(t *testing.T) {
	for text, want := range map[string]string{"0,010": "write 0.010 with a point", "0,010, 0,020": "write 0.010 with a point", "010": "write 0.010 with a point", "0, 25": "write 0.25 with a point", "0.010, 0": "write 0.010 with a point"} {
		if vs, why := lengthsIn(text, wear.Inch); !strings.Contains(why, want) {
			t.Errorf("oversizes %q: %d, %q", text, vs, why)
		}
	}
	if vs, why := lengthsIn("0.010, .015, 1", wear.Inch); why != "" || len(vs) != 3 {
		t.Errorf("a good list: %d, %q", vs, why)
	}
	for text, want := range map[string]string{"1,204.5": "1204.5", "12,000": "12000", "1204,5": "1204,5", "12,5": "12,5", "0,500": "0,500", "1,2045": "1,2045"} {
		if got := plainHours(text); got != want {
			t.Errorf("hours %q are read as %q, want %q", text, got, want)
		}
	}
}

// TestBadQueries: what cannot be meant in an address is marked at its field,
// and what is missing is asked for beside what was typed.
func TestBadQueries(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	e, piston := href("/engines/", b.engine.ID), href("/parts/", b.piston, "/regroove")
	ring := href("/parts/", b.ring, "/compare")
	for _, c := range []struct {
		path, says string
		marked     []string
	}{
		{e + "/crank?at=77", `"77" is no position: the engine has 1 to 9`, []string{"at"}},
		{e + "/crank?at=x&pull=12", `"12" is no position`, []string{"pull"}},
		{e + "/match?limits=old", "choose new or service", []string{"limits"}},
		{piston + "?groove=1&clearance_min=abc", "not a number", []string{"clearance_min", "groove_width", "rings"}},
		{piston + "?groove=1&clean_up=-1", "0 or more", []string{"clean_up", "rings"}},
		{piston + "?groove=1&above=0.1&above_min=-1", "0 or more", []string{"above_min"}},
		{piston + "?groove_width=9.5&clearance_min=0.0055&clearance_max=7.5&clean_up=10&above=15&above_min=140&rings=0.1", "is the decimal point right?", []string{"groove_width", "clearance_max", "clean_up", "above", "above_min"}},
		{piston + "?groove_width=0.0950&clearance_min=0.0055&clearance_max=0.0075&rings=wide+%3D+9.5", "line 1: 9.5000 in: is the decimal point right? An axial width is between 0.0000 and 1.0000 in", []string{"rings"}},
		{piston + "?groove_width=0.0950&clearance_min=0.0055&clearance_max=0.0075&rings=0.0970,+4600", "is the decimal point right?", []string{"rings"}},
		{ring + "?force=4600&width=9.5&bore=5250", "A barrel bore is between 0.5000 and 40.0000 in", []string{"force", "width", "bore"}},
	} {
		w := get(h, c.path)
		check(t, c.path, w, http.StatusUnprocessableEntity, []string{html.EscapeString(c.says)}, nil)
		for _, field := range c.marked {
			if !strings.Contains(w.Body.String(), `id="f-`+field+`-error"`) {
				t.Errorf("%s: field %s is not marked", c.path, field)
			}
		}
	}
	plan := href("/models/", b.engine.Model.ID)
	check(t, "clean-up", post(h, plan, formOf("grooves=3", "stations=top", "clean_up=-1")), http.StatusUnprocessableEntity, []string{"0 or more", `value="-1"`}, nil)
	check(t, "oversizes", post(h, plan, formOf("grooves=3", "stations=top", "oversizes=0,010")), http.StatusUnprocessableEntity, []string{"write 0.010 with a point", `value="0,010"`}, nil)
	check(t, "hours", post(h, e+"/meter", formOf("day=2025-06-01", "hours=700,5")), http.StatusUnprocessableEntity, []string{`value="700,5"`, "after a point"}, nil)
}

// A piston that is not on offer is refused at its line; the other lines keep
// what was chosen.
func TestMatchOfNoPiston(t *testing.T) {
	b := fill(t)
	ok(t, b.AddLimit(t.Context(), store.LimitRow{Model: b.engine.Model.ID, Feature: b.feature(t, wear.Piston, "piston skirt").ID, Unit: wear.Inch, Document: "Invented manual",
		Limit: wear.Limit{NewMin: ptr(inches(t, "5.2400")), NewMax: ptr(inches(t, "5.2420")), ServiceMin: ptr(inches(t, "5.2300")), Wear: wear.Down}}))
	b.save(t, "2025-02-01", 60_500, 1, b.number(t, b.piston, wear.Piston, "piston skirt", "5.2410"))
	h, _ := serving(t, b.Book)
	at := href("/engines/", b.engine.ID, "/match?positions=1,2")
	chosen := `value="` + itoa(int(b.piston)) + `" selected`
	w := get(h, at+"&p1="+itoa(int(b.piston))+"&p2=99999")
	check(t, "no piston", w, http.StatusUnprocessableEntity, []string{`id="f-p2-error"`, "choose one from the list", chosen}, []string{`id="f-p1-error"`})
	check(t, "none", get(h, at+"&do=judge&p1="+itoa(int(b.piston))+"&p2=0"), http.StatusOK, []string{chosen}, nil)
	check(t, "spread", get(h, at+"&spread=x&p1="+itoa(int(b.piston))), http.StatusUnprocessableEntity, []string{`value="x"`, chosen}, nil)
}
