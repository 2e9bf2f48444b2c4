package server

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"barrelbook/store"
	"barrelbook/wear"
)

// A bore that reads 5.2604 in at 35 °C is 5.2594 in at 20 °C, d / (1 + α (T − 20))
// with steel's 12.3e-6 per K (ISO 1; Callister, appendix B.6): inside the limit of
// 5.2600 in, which the reading as typed is past. One verdict stands everywhere,
// with both numbers; U is 1.645·√(0.0002² + 0.0001²/12 + (5.2604·12.3e-6·1)²) =
// 0.00035 in (JCGM 100, GUM, 5.1.2).
func TestOneVerdictWarm(t *testing.T) {
	b, ctx := fill(t), context.Background()
	part := b.cylinders[2]
	r := b.number(t, part, wear.Cylinder, "barrel bore", "5.2604")
	r.Station, r.Axis = "top", "thrust"
	shows := wear.Hours(70_000)
	sheet := must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-03-01", Engine: b.engine.ID, Position: 3, Temperature: ptr(35.0)}, Shows: &shows, Readings: []store.NewReading{r}}))
	h, _ := serving(t, b.Book)
	plain := "0.0006 inside the service limit; serviceable, as it was read beyond, 0.0004 past the service limit"
	wants(t, get(h, href("/sheets/", sheet)).Body.String(), "5.2604", "5.2594 at 20 °C", "± 0.0003", "serviceable", plain, "Part temperature 35 °C; sizes count as they are at 20 °C")
	page := get(h, href("/parts/", part)).Body.String()
	wants(t, page, "5.2604 5.2594 at 20 °C", "serviceable", plain, "verdict and wear go by the size at 20 °C", "5.2594 ± 0.0003 in at 20 °C", "thrust 5.2604 at 35 °C", "5.25943",
		"u = √(gauge² + operator² + resolution²/12 + temperature²)", "operator not known, taken as 0", "temperature d α × 1 °C = 0.00006", "u = 0.00021 in", "α 12.3 × 10⁻⁶ per K")
	wants(t, get(h, href("/engines/", b.engine.ID, "/positions/3")).Body.String(), "5.2594 in at 20 °C")
	wants(t, get(h, href("/measure/part/", part)).Body.String(), "5.2604 2025-03-01 5.2594 at 20 °C")
	for _, f := range must[[]store.Finding](t)(b.FindingsOf(ctx, part)) {
		if f.Station == "top" && f.Verdict != wear.Serviceable {
			t.Errorf("the finding says %s", f.Verdict)
		}
	}
	rec := must[Record](t)(PartRecordOf(ctx, b.Book, part))
	x := rec.Parts[0].Readings[0]
	if x.Value != "5.2604" || x.At20 != "5.2594" || x.Uncertainty != "0.00035" || x.Verdict != "serviceable" || x.Plain != plain {
		t.Errorf("the record says %+v", x)
	}
	if err := schema(t).Validate(must[any](t)(jsonschema.UnmarshalJSON(bytes.NewReader(written(t, b.Book, rec, "json"))))); err != nil {
		t.Error(err)
	}
	rows := must[[][]string](t)(csv.NewReader(bytes.NewReader(written(t, b.Book, rec, "csv"))).ReadAll())
	for name, want := range map[string]string{"value": "5.2604", "value_at_20_c": "5.2594", "expanded_uncertainty": "0.00035", "temperature_c": "35", "verdict": "serviceable", "plain_comparison": plain} {
		if got := rows[1][slices.Index(rows[0], name)]; got != want {
			t.Errorf("the CSV has %s %q, want %q", name, got, want)
		}
	}
	paper := paperReadings(rec.Parts[0]).Rows[0].Cells
	if !slices.Contains(paper, "5.2604 in; 5.2594 at 20 °C") || !slices.Contains(paper, "0.00035") || !slices.Contains(paper, "serviceable") {
		t.Errorf("on paper: %q", paper)
	}
}

// The change since the sheet before is that of the sizes at 20 °C: a bore of
// 5.2500 in that reads 5.2510 at 35 °C (ISO 1; Callister, appendix B.6) has not
// changed.
func TestChangeAt20(t *testing.T) {
	b, ctx := fill(t), context.Background()
	for i, x := range []struct {
		value   string
		celsius float64
	}{{"5.2500", 20}, {"5.2510", 35}} {
		r := b.number(t, b.shelf, wear.Cylinder, "barrel bore", x.value)
		r.Station, r.Axis, r.PartHours = "middle", "pin", ptr(wear.Hours(90_000))
		sheet := must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: wear.Day(fmt.Sprintf("2025-04-0%d", i+1)), Temperature: &x.celsius}, Readings: []store.NewReading{r}}))
		if h, _ := serving(t, b.Book); i == 1 {
			wants(t, get(h, href("/sheets/", sheet)).Body.String(), "5.2510", "5.2500 at 20 °C", "as on 2025-04-01")
		}
	}
}

// What another person reads differently is a field of the gauge. It goes into
// the readings that are typed with it from then on: 0.0003² + 0.0004² = 0.0005², by
// root sum of squares (JCGM 100, GUM, 5.1.2). Of a gauge without a resolution the
// last digit typed counts, 0.0001/√12 (GUM 4.3.7).
func TestOperatorOnPages(t *testing.T) {
	b, ctx := fill(t), context.Background()
	h, _ := serving(t, b.Book)
	wants(t, get(h, "/gauges").Body.String(), "Another person reads it differently by", "not known, taken as 0")
	check(t, "a bad number", post(h, "/gauges", formOf("name=BG-7", "unit=in", "sd=0.0003", "operator_sd=often", "resolution=0")), http.StatusUnprocessableEntity, []string{`id="f-operator_sd-error"`, `value="often"`, `value="0.0003"`}, nil)
	for _, operator := range []string{"", "0.0004"} { // the first gauge as it is sent by a page that does not know the field
		form := formOf("name=BG-8"+operator, "unit=in", "sd=0.0003", "resolution=0")
		if operator != "" {
			form.Set("operator_sd", operator)
		}
		if w := post(h, "/gauges", form); w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, text(w.Body.String()))
		}
	}
	var gauge store.Gauge
	for _, g := range must[[]store.Gauge](t)(b.Gauges(ctx)) {
		if g.Name == "BG-80.0004" {
			gauge = g
		}
	}
	wants(t, get(h, "/gauges").Body.String(), "0.0004 last digit typed 0.00050 in")
	check(t, "the gauge in the form", get(h, href("/gauges?id=", gauge.ID)), http.StatusOK, []string{`value="0.0004"`}, nil)
	cell := fmt.Sprintf("v-%d-%d-0-0-0", b.cylinders[3], b.boreID)
	w := post(h, fmt.Sprintf("/measure/part/%d", b.cylinders[3]), formOf("uid=operator-1", "day=2025-03-01", "hours=700", "unit=in", "mode=full", "gauge="+fmt.Sprint(gauge.ID), cell+"=5.2515"))
	if w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, text(w.Body.String()))
	}
	page := get(h, w.Header().Get("Location")).Body.String()
	wants(t, page, "5.2515 ± 0.0008") // 1.645 · 0.0005
	wants(t, get(h, href("/parts/", b.cylinders[3])).Body.String(), "gauge 0.00030; operator 0.00040; resolution 0.00010 / √12; temperature part's not taken, nothing added: u = 0.00050 in")
	if rec := must[Record](t)(PartRecordOf(ctx, b.Book, b.cylinders[3])); rec.Parts[0].Readings[0].Uncertainty != "0.00082" {
		t.Errorf("the record says %+v", rec.Parts[0].Readings[0])
	}
}

// Ten readings of a gauge do not differ: its resolution a alone leaves a/√12,
// 0.29 a (JCGM 100, GUM, 4.3.7 and F.2.2.1). With U = 1.645 × 0.001/√12 = 0.00047 in a
// bore 0.0004 in short of its limit is undecided, one 0.0005 in short is not
// (ISO 14253-1).
func TestGaugeThatDoesNotStray(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	if w := post(h, "/gauges", formOf("name=CL-1", "unit=in", "sd=0", "resolution=0.001")); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, text(w.Body.String()))
	}
	wants(t, get(h, "/gauges").Body.String(), "CL-1 0.0000 not known, taken as 0 0.0010 0.00029 in")
	gs := must[[]store.Gauge](t)(b.Gauges(context.Background()))
	gauge := gs[slices.IndexFunc(gs, func(g store.Gauge) bool { return g.Name == "CL-1" })]
	cell := fmt.Sprintf("v-%d-%d-0-0-0", b.cylinders[3], b.boreID)
	for reading, verdict := range map[string]string{"5.2596": "undecided", "5.2595": "serviceable"} { // the limit is 5.2600
		w := post(h, fmt.Sprintf("/measure/part/%d", b.cylinders[3]), formOf("uid=stray-"+reading, "day=2025-03-01", "hours=700", "unit=in", "mode=full", "gauge="+fmt.Sprint(gauge.ID), cell+"="+reading))
		if w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, text(w.Body.String()))
		}
		wants(t, get(h, w.Header().Get("Location")).Body.String(), reading+" ± 0.0005", verdict)
	}
}

// TestTemperatureOfAPart: what no part is measured at is refused at its field.
func TestTemperatureOfAPart(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	cell := fmt.Sprintf("v-%d-%d-0-0-0", b.cylinders[3], b.boreID)
	for _, bad := range []string{"200", "-61", "NaN"} {
		w := post(h, fmt.Sprintf("/measure/part/%d", b.cylinders[3]), formOf("uid=hot", "day=2025-03-01", "hours=700", "unit=in", "mode=full", "temperature="+bad, cell+"=5.2515"))
		check(t, bad, w, http.StatusUnprocessableEntity, []string{`id="f-temperature-error"`, "from -60 to 150", `value="5.2515"`}, nil)
	}
	if rows := strings.Count(get(h, href("/parts/", b.cylinders[3])).Body.String(), "5.2515"); rows != 0 {
		t.Error("a refused sheet is in the book")
	}
}

// A groove that was measured warm is put into the page on over-width rings as a
// number that can be sent as it stands: 0.1080 in at 30 °C is 0.1080 / (1 +
// 20.5e-6 · 10) = 0.10798 in at 20 °C (ISO 1; AlSi12 by a piston maker's data
// sheet), and the page says which it was.
func TestRegrooveWarm(t *testing.T) {
	b, ctx := fill(t), context.Background()
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-02-01", Engine: b.engine.ID, Position: 1, Temperature: ptr(30.0)}, Shows: ptr(wear.Hours(60_500)), Readings: []store.NewReading{
		{Part: b.piston, Feature: b.feature(t, wear.Piston, "groove width").ID, Groove: 1, Value: inches(t, "0.1080"), Typed: "0.1080", Unit: wear.Inch}}}))
	h, _ := serving(t, b.Book)
	path := href("/parts/", b.piston, "/regroove")
	check(t, "the page", get(h, path), http.StatusOK, []string{`value="0.10798"`, "read 0.1080 at 30 °C"}, nil)
	check(t, "sent as it stands", get(h, asking(path, "groove=1", "groove_width=0.10798", "clearance_min=0.0055", "clearance_max=0.0075", "share=50", "rings=wide = 0.1100")), http.StatusOK, []string{"0.1155 to 0.1175 in"}, []string{"finer than"})
}

// Two sheets at the same hours, as before and after a refit, each stand with
// their own day, temperature and number beside what they count as.
func TestWorkedSameHours(t *testing.T) {
	b, ctx := fill(t), context.Background()
	part := b.cylinders[2]
	for day, x := range map[wear.Day]struct {
		text    string
		celsius float64
	}{"2025-03-01": {"5.2564", 35}, "2025-03-05": {"5.2566", 20}} {
		r := b.number(t, part, wear.Cylinder, "barrel bore", x.text)
		r.Station, r.Axis = "top", "thrust"
		shows := wear.Hours(70_000)
		must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: day, Engine: b.engine.ID, Position: 3, Temperature: ptr(x.celsius)}, Shows: &shows, Readings: []store.NewReading{r}}))
	}
	h, _ := serving(t, b.Book)
	wants(t, get(h, href("/parts/", part)).Body.String(), "2025-03-01 700 h thrust 5.2564 at 35 °C 5.25543", "2025-03-05 700 h thrust 5.2566 at 20 °C 5.25660")
}
