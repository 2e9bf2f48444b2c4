package server

import (
	"context"
	"fmt"
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// asking is an address with its query.
func asking(path string, pairs ...string) string { return path + "?" + formOf(pairs...).Encode() }

// aRing makes a ring on the shelf and measures it there; features as "free
// gap=13.5 mm".
func (b *filled) aRing(t *testing.T, p store.Part, features ...string) int64 {
	t.Helper()
	ctx := context.Background()
	p.Kind, p.Source, p.ModelID = wear.Ring, "new", b.engine.Model.ID
	id := must[int64](t)(b.AddPart(ctx, p))
	var rs []store.NewReading
	for _, x := range features {
		name, size, _ := strings.Cut(x, "=")
		number, unit, _ := strings.Cut(size, " ")
		u := must[wear.Unit](t)(wear.UnitNamed(unit))
		rs = append(rs, store.NewReading{Part: id, Feature: b.feature(t, wear.Ring, name).ID, Value: must[wear.Value](t)(wear.ParseValue(number, u)), Typed: number, Unit: u})
	}
	if len(rs) > 0 {
		must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-02-01"}, Readings: rs}))
	}
	return id
}

// inMillimetres sets the book's unit.
func (b *filled) inMillimetres(t *testing.T) {
	t.Helper()
	set := must[store.Settings](t)(b.Settings(context.Background()))
	set.Unit = wear.Millimetre
	ok(t, b.SaveSettings(context.Background(), set))
}

// TestComparePressures: the pressures on the page. 0.13304 N/mm² and 13.304 N
// from a free gap, E 100,000 N/mm², m 13, d 100, a 4.0, h 2.0 mm, were
// computed apart from the thin ring's formula; 2.05 and 2.15 are the Goetze
// piston ring handbook's ratios of the forces of cast and SG iron: 27.274 N
// across are the same 13.304 N.
func TestComparePressures(t *testing.T) {
	b := fill(t)
	b.inMillimetres(t)
	h, logged := serving(t, b.Book)
	sprung := b.aRing(t, store.Part{Serial: "K-20", Modulus: 100_000}, "free gap=13.5 mm", "end gap=0.5 mm", "radial thickness=4.0 mm", "axial width=2.0 mm")
	across := b.aRing(t, store.Part{Serial: "K-21", Material: "cast iron"}, "diametral force=27.274 N", "axial width=2.0 mm")
	b.aRing(t, store.Part{Serial: "K-22", Material: "SG iron"}, "diametral force=28.604 N", "axial width=2.0 mm")
	hard := b.aRing(t, store.Part{Serial: "K-23"}, "tangential force=16.6 N", "axial width=2.0 mm")
	bare := b.aRing(t, store.Part{Serial: "K-24"})
	page := func(ring int64, pairs ...string) string {
		return asking(fmt.Sprintf("/parts/%d/compare", ring), append(pairs, "bore=100")...)
	}
	for _, c := range []struct {
		path string
		says []string
		not  []string
	}{
		{page(sprung, "serial=K-21"), []string{"0.133 N/mm²", "13.3 N", "thin-ring theory", "Presses 1.000 ±", "Ft = Fd / k", "/ 2.05", "not measured in the same way"}, []string{"is not recorded"}},
		{page(across, "serial=K-22"), []string{"/ 2.05 =", "/ 2.15 =", "Presses 1.000 ±"}, nil},
		{page(hard, "serial=K-21"), []string{"Presses 1.248 ±", "higher", "a barrel under 100 h old can look like one of 1,000 h", "within its first 50", "0.87 to 1.15 times"}, nil},
		{page(across, "serial=K-23"), []string{"Presses 0.801 ±", "lower", "seal badly"}, nil},
		{page(hard, "force=13.304", "force_kind=tangential force", "width=2.000"), []string{"Typed reference", "Presses 1.248 ±", `value="13.304"`}, nil},
		{page(hard, fmt.Sprintf("with=%d", bare)), []string{"Missing:", "measure tangential force", fmt.Sprintf(`href="/measure/part/%d"`, bare)}, []string{"Presses"}},
		{page(bare, "serial=K-23"), []string{"Missing:", fmt.Sprintf(`href="/measure/part/%d"`, bare)}, []string{"Presses"}},
	} {
		check(t, c.path, get(h, c.path), http.StatusOK, c.says, c.not)
	}
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

// TestCompareFindsTheOriginal: without being told, a ring is compared with
// the one that sat in its place before, in the bore that it runs in now.
func TestCompareFindsTheOriginal(t *testing.T) {
	b, ctx := fill(t), context.Background()
	old := b.ring
	ok(t, b.Remove(ctx, old, "2025-02-01", 60_500, "rings changed", false))
	fresh := b.aRing(t, store.Part{Serial: "K-30", Groove: 1}, "tangential force=50.0 N", "axial width=0.0930 in")
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-02-02"}, Readings: []store.NewReading{
		{Part: old, Feature: b.feature(t, wear.Ring, "tangential force").ID, Value: 40_000_000, Typed: "40.0", Unit: wear.Newton}}}))
	h, _ := serving(t, b.Book)
	path := fmt.Sprintf("/parts/%d/compare", fresh)
	check(t, "on the shelf", get(h, path), http.StatusOK, []string{"middle of the new limits"}, []string{"Presses"})
	ok(t, b.Install(ctx, fresh, store.Place{Engine: b.engine.ID, Position: 1, Groove: 1}, "2025-02-03", 60_500))
	// read at 20.5 °C: 5.2510 / (1 + 12.3e-6 · 0.5), ISO 1
	check(t, "fitted", get(h, path), http.StatusOK, []string{"Ring K-1", "Presses 1.250 ±", "mean of 1 reading of Cylinder C-1", "5.25097 in", "R-1, position 1, groove 1 until 2025-02-01"}, nil)
	check(t, "itself", get(h, asking(path, fmt.Sprintf("with=%d", fresh))), http.StatusUnprocessableEntity, []string{`id="f-with-error"`, "the ring itself"}, []string{"Presses"})
	set := must[store.Settings](t)(b.Settings(ctx))
	set.Pressure = 1.3
	ok(t, b.SaveSettings(ctx, set))
	check(t, "by another setting", get(h, path), http.StatusOK, []string{"alike", "0.77 to 1.30 times", "Near enough"}, []string{"within its first 50"})
}

// TestBadRingQueries: what cannot be read is marked at its field with 422,
// and all that was typed stays.
func TestBadRingQueries(t *testing.T) {
	b := fill(t)
	h, logged := serving(t, b.Book)
	ring, piston := fmt.Sprintf("/parts/%d/compare", b.ring), fmt.Sprintf("/parts/%d/regroove", b.piston)
	for _, c := range []struct {
		path   string
		values url.Values
		marked []string
		says   string
	}{
		{ring, formOf("serial=K-typed", "bore=5,25"), []string{"serial", "bore"}, "no ring K-typed"},
		{ring, formOf("with=x"), []string{"with"}, "from the list"},
		{ring, formOf(fmt.Sprintf("with=%d", b.piston)), []string{"with"}, "is no ring"},
		{ring, formOf("force=12x", "width="), []string{"force", "width"}, "needs its force and its axial width"},
		{ring, formOf("force=0", "width=-1", "bore=0"), []string{"force", "width", "bore"}, "above 0"},
		{piston, formOf("rings=x", "groove_width=", "clearance_min=0.01", "clearance_max=y", "share=101"), []string{"rings", "groove_width", "clearance_max", "share"}, "line 1"},
		{piston, formOf("rings=", "groove_width=0.0980", "clearance_min=0.0030", "clearance_max=0.0020", "clean_up=0"), []string{"rings", "clearance_max"}, "below the least"},
		{piston, formOf("rings=a = 0.1000\nb = 0.1 to 0.09", "groove_width=0.0980", "clearance_min=0", "clearance_max=0.0020"), []string{"rings"}, "line 2"},
		{piston, formOf("rings=a = 0.1000, heavy", "groove_width=0.0980", "clearance_min=0.0010", "clearance_max=0.0020", "above_min=0.1", "below=thin"), []string{"rings", "above", "below"}, "tangential force"},
		{piston, formOf("groove=9"), []string{"groove"}, ""},
	} {
		path := c.path + "?" + c.values.Encode()
		w := get(h, path)
		check(t, path, w, http.StatusUnprocessableEntity, []string{html.EscapeString(c.says)}, []string{"Presses"})
		for _, field := range c.marked {
			if field != "groove" && strings.Count(w.Body.String(), fmt.Sprintf(`id="f-%s-error"`, field)) != 1 {
				t.Errorf("%s: field %s is not marked once", path, field)
			}
		}
		for name, v := range c.values {
			if name != "with" && name != "groove" && !kept(w.Body.String(), name, v[0]) {
				t.Errorf("%s: %s=%q is lost", path, name, v[0])
			}
		}
	}
	for path, status := range map[string]int{
		fmt.Sprintf("/parts/%d/compare", b.piston): 404, fmt.Sprintf("/parts/%d/regroove", b.ring): 404, ring + "?with=9999": 404} {
		check(t, path, get(h, path), status, nil, nil)
	}
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

// TestRegroovePage: new groove, cut and lands by geometry, with the side
// clearance 0.0055 to 0.0075 in of ring 2 of TM 9-2815-220-34, table 3-11; a
// ring that is 10 % wider needs 10 % more force for the same pressure, by
// p = 2 Ft / (d h).
func TestRegroovePage(t *testing.T) {
	b, ctx := fill(t), context.Background()
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-02-01", Engine: b.engine.ID, Position: 1}, Shows: ptr(wear.Hours(60_500)), Readings: []store.NewReading{
		{Part: b.ring, Feature: b.feature(t, wear.Ring, "tangential force").ID, Value: 40_000_000, Typed: "40.0", Unit: wear.Newton},
		{Part: b.ring, Feature: b.feature(t, wear.Ring, "axial width").ID, Value: inches(t, "0.1000"), Typed: "0.1000", Unit: wear.Inch},
		{Part: b.piston, Feature: b.feature(t, wear.Piston, "groove width").ID, Groove: 1, Value: inches(t, "0.1080"), Typed: "0.1080", Unit: wear.Inch}}}))
	b.aRing(t, store.Part{Serial: "K-40", Groove: 1, WidthClass: "0.010 over"}, "axial width=0.1100 in", "tangential force=55.0 N")
	land := must[int64](t)(b.AddFeature(ctx, wear.Feature{Kind: wear.Piston, Name: "land width", Unit: "in", Wear: wear.Down}))
	ok(t, b.AddLimit(ctx, store.LimitRow{Model: b.engine.Model.ID, Feature: land, Unit: wear.Inch, Document: "Invented manual", Limit: wear.Limit{ServiceMin: ptr(inches(t, "0.1405")), Wear: wear.Down}}))
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-02-01", Engine: b.engine.ID, Position: 1}, Shows: ptr(wear.Hours(60_500)), Readings: []store.NewReading{
		{Part: b.piston, Feature: land, Value: inches(t, "0.1503"), Typed: "0.1503", Unit: wear.Inch}}}))
	h, logged := serving(t, b.Book)
	path := fmt.Sprintf("/parts/%d/regroove", b.piston)
	check(t, "not yet asked", get(h, path), http.StatusOK, []string{`value="0.1080"`, `name="below" aria-describedby="f-below-hint" type="text" value="0.1503"`, `value="0.1405"`, "Service limit, Invented manual", "Ring K-40", "0.1100 in, 0.010 over"}, []string{"By these numbers alone", "f-rings-error"})
	sizes := []string{"groove=1", "groove_width=0.1080", "clearance_min=0.0055", "clearance_max=0.0075", "clean_up=0.0010", "above=0.1500", "above_min=0.1400", "below=0.1500", "below_min=0.1400", "share=50"}
	asked := asking(path, append(sizes, "rings=wide = 0.1100\nthick = 0.1400", "shelf=yes")...)
	check(t, "asked", get(h, asked), http.StatusOK, []string{
		"0.1155 to 0.1175 in",                 // 0.1100 + clearance
		"0.0075 to 0.0095 in",                 // less 0.1080
		"Land above 0.14525 in, least 0.1400", // less half of 0.0095
		"44.0 N",                              // 40 N + 10 %
		"1.25 ± ", "higher", "1,000 h",        // (55 / 0.11) / (40 / 0.10)
		"A land would be left below its limit", // 0.1400 + 0.0075 - 0.1080 is 0.0395
		"does not work", "wide works with the least drawback", "How this was worked out",
	}, nil)
	none := asking(path, append(sizes, "rings=thick = 0.1400")...)
	check(t, "none works", get(h, none), http.StatusOK, []string{"None of the listed over-width rings works", "does not work"}, []string{"with the least drawback"})
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

// TestFacingBeforeFitting: a pair that is not allowed is refused until a
// reason is given, which stays with the installation; the position and the
// ring say so from then on.
func TestFacingBeforeFitting(t *testing.T) {
	b, ctx := fill(t), context.Background()
	ok(t, b.AddFacing(ctx, store.FacingEntry{Facing: "moly", Surface: "nitrided", Says: store.FacingNotAllowed, Document: "Invented list, p. 3"}))
	h, _ := serving(t, b.Book)
	e := fmt.Sprintf("/engines/%d/positions/2", b.engine.ID)
	stack := []string{"day=2025-02-01", "hours=620", "from-ring-1=new", "serial-ring-1=K-50", "facing-ring-1=Moly"}
	check(t, "not allowed", post(h, e+"/install", formOf(stack...)), http.StatusUnprocessableEntity, []string{`id="f-despite-error"`, "may not run in a nitrided bore", "Invented list, p. 3", `value="K-50"`}, nil)
	if w := post(h, e+"/install", formOf(append(stack, "despite=a trial, invented")...)); w.Code != http.StatusSeeOther {
		t.Fatalf("with a reason: status %d: %s", w.Code, messages(w.Body.String()))
	}
	check(t, "the position", get(h, e), http.StatusOK, []string{"not allowed", "may not run in a nitrided bore", "a trial, invented"}, nil)
	ring := must[[]store.Part](t)(b.PartsNamed(ctx, wear.Ring, "K-50"))[0]
	check(t, "the ring", get(h, fmt.Sprintf("/parts/%d", ring.ID)), http.StatusOK, []string{"may not run in a nitrided bore", "facing or pressure speaks against it: a trial, invented"}, nil)

	check(t, "its record", get(h, fmt.Sprintf("/record/part/%d.json", ring.ID)), http.StatusOK, []string{`"fitted_despite_facing": "a trial, invented"`}, nil)

	one := b.aRing(t, store.Part{Serial: "K-51", Facing: "moly"})
	install, values := fmt.Sprintf("/parts/%d/install", one), []string{"engine=R-1", "position=3", "groove=1", "day=2025-02-01", "hours=620"}
	check(t, "one ring", post(h, install, formOf(values...)), http.StatusUnprocessableEntity, []string{`id="f-despite-error"`}, nil)
	if w := post(h, install, formOf(append(values, "despite=as above")...)); w.Code != http.StatusSeeOther {
		t.Errorf("one ring with a reason: status %d: %s", w.Code, messages(w.Body.String()))
	}

	barrel := must[int64](t)(b.AddPart(ctx, store.Part{Kind: wear.Cylinder, Serial: "C-95", Source: "new", Surface: "chrome-plated"}))
	ok(t, b.Remove(ctx, b.cylinders[0], "2025-02-01", 62_000, "changed", false))
	check(t, "a chrome barrel onto a chrome ring", post(h, fmt.Sprintf("/parts/%d/install", barrel), formOf("engine=R-1", "position=1", "day=2025-02-01", "hours=620")),
		http.StatusUnprocessableEntity, []string{`id="f-despite-error"`, "chrome on chrome"}, nil)
	check(t, "a piston is nobody's facing", post(h, e+"/install", formOf("day=2025-02-02", "hours=620", "from-piston=new", "serial-piston=P-2")), http.StatusSeeOther, nil, nil)
}
