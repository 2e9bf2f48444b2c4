package server

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"barrelbook/static"
	"barrelbook/store"
	"barrelbook/wear"
)

// schema is the published schema of a record.
func schema(t testing.TB) *jsonschema.Schema {
	t.Helper()
	text := must[[]byte](t)(static.FS.ReadFile("record.schema.json"))
	doc := must[any](t)(jsonschema.UnmarshalJSON(bytes.NewReader(text)))
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	ok(t, c.AddResource("record.schema.json", doc))
	return must[*jsonschema.Schema](t)(c.Compile("record.schema.json"))
}

func written(t testing.TB, b *store.Book, rec Record, format string) []byte {
	t.Helper()
	var buf bytes.Buffer
	ok(t, WriteRecord(context.Background(), b, &buf, rec, format))
	return buf.Bytes()
}

// allRecords makes the record of every part and of the engine of the filled
// book, and of some odd ones.
func allRecords(t testing.TB, b *filled) map[string]Record {
	t.Helper()
	ctx := context.Background()
	beyond := b.fitted(t, store.Part{Kind: wear.Piston, Serial: "P-2"}, store.Place{Engine: b.engine.ID, Position: 2})
	r := b.number(t, beyond, wear.Piston, "side clearance", "0.0150")
	r.Groove = 2
	b.save(t, "2025-02-01", 61_000, 2, r)
	ok(t, b.Remove(ctx, beyond, "2025-02-02", 61_000, "=1+1", false))
	out := map[string]Record{"the engine": must[Record](t)(EngineRecordOf(ctx, b.Book, b.engine.ID))}
	parts, _, err := b.Parts(ctx, store.PartFilter{Limit: 100})
	ok(t, err)
	for _, p := range parts {
		out[string(p.Kind)+" "+p.Serial] = must[Record](t)(PartRecordOf(ctx, b.Book, p.ID))
	}
	bare := must[int64](t)(b.AddEngine(ctx, store.NewEngine{Serial: "bare", Model: "Invented 6", Arrangement: "flat", Cylinders: 6, Day: "2024-01-01"}))
	out["an engine without parts"] = must[Record](t)(EngineRecordOf(ctx, b.Book, bare))
	return out
}

// TestRecordJSON holds every record to the published schema.
func TestRecordJSON(t *testing.T) {
	b, s := fill(t), schema(t)
	for what, rec := range allRecords(t, b) {
		text := written(t, b.Book, rec, "json")
		doc := must[any](t)(jsonschema.UnmarshalJSON(bytes.NewReader(text)))
		if err := s.Validate(doc); err != nil {
			t.Errorf("%s: %v", what, err)
		}
		var back Record
		ok(t, json.Unmarshal(text, &back))
		if len(back.Parts) != len(rec.Parts) || back.Notice != Notice || len(back.Cautions) != len(recordCautions) {
			t.Errorf("%s: read back as %+v", what, back)
		}
	}
}

// TestSchemaRefuses shows that the schema is more than a formality.
func TestSchemaRefuses(t *testing.T) {
	b, s := fill(t), schema(t)
	must[int64](t)(b.SaveLeakTest(context.Background(), store.NewLeakTest{LeakTest: store.LeakTest{Engine: b.engine.ID, Day: "2025-01-01", Regulated: 800, Orifice: wear.LargeOrifice, Unit: wear.Inch}, Shows: ptr(wear.Hours(60_000)), Readings: []store.NewLeakReading{{Position: 9, Reading: 760}}}))
	rec := must[Record](t)(PartRecordOf(context.Background(), b.Book, b.cylinders[8]))
	for what, spoil := range map[string]func(doc map[string]any){
		"another format":                  func(doc map[string]any) { doc["format"] = "other" },
		"no notice":                       func(doc map[string]any) { delete(doc, "notice") },
		"a field of its own":              func(doc map[string]any) { doc["released"] = true },
		"a number for a size":             func(doc map[string]any) { firstOf(doc, "readings")["value"] = 5.25 },
		"a day of another kind":           func(doc map[string]any) { firstOf(doc, "readings")["day"] = "1.1.2024" },
		"a leak test without its orifice": func(doc map[string]any) { delete(firstOf(doc, "leak_tests"), "orifice_in") },
		"air from nowhere":                func(doc map[string]any) { firstOf(doc, "leak_tests")["air_heard"] = []any{"spinner"} },
		"another verdict":                 func(doc map[string]any) { firstOf(doc, "readings")["verdict"] = "fine" },
		"a chance above one":              func(doc map[string]any) { firstOf(doc, "findings")["p"] = 1.5 },
		"a stay half ended":               func(doc map[string]any) { firstOf(doc, "installations")["to"] = "2025-01-01" },
	} {
		var doc map[string]any
		ok(t, json.Unmarshal(written(t, b.Book, rec, "json"), &doc))
		if err := s.Validate(doc); err != nil {
			t.Fatalf("before it was spoiled: %v", err)
		}
		spoil(doc)
		if s.Validate(doc) == nil {
			t.Errorf("%s passes", what)
		}
	}
	var closed func(at string, part any)
	closed = func(at string, part any) {
		switch part := part.(type) {
		case map[string]any:
			if _, object := part["properties"].(map[string]any); object && part["additionalProperties"] != false {
				t.Errorf("%s takes a field that is not named", at)
			}
			for name, inner := range part {
				closed(at+"/"+name, inner)
			}
		case []any:
			for i, inner := range part {
				closed(fmt.Sprint(at, "/", i), inner)
			}
		}
	}
	closed("", must[any](t)(jsonschema.UnmarshalJSON(bytes.NewReader(must[[]byte](t)(static.FS.ReadFile("record.schema.json"))))))
}

// firstOf is the first entry of a list of the first part.
func firstOf(doc map[string]any, list string) map[string]any {
	return doc["parts"].([]any)[0].(map[string]any)[list].([]any)[0].(map[string]any)
}

// TestRecordSays compares a record with what the filled book holds.
func TestRecordSays(t *testing.T) {
	b := fill(t)
	rec := must[Record](t)(PartRecordOf(context.Background(), b.Book, b.cylinders[0]))
	p := rec.Parts[0]
	if p.Serial != "C-1" || p.PartNumber != "PN-7" || p.Surface != "nitrided" || p.SinceNew != "600.0" || !p.NewKnown || p.SinceInstall != "600.0" || p.Status != "on engine" || p.Model != "Invented 9" {
		t.Errorf("part %+v", p)
	}
	if len(p.Readings) != 4 || len(p.Installations) != 1 || len(p.Limits) != 1 || len(p.Findings) != 1 {
		t.Fatalf("%d readings, %d installations, %d limits, %d findings", len(p.Readings), len(p.Installations), len(p.Limits), len(p.Findings))
	}
	old, now := p.Readings[0], p.Readings[1]
	if old.Value != "5.2509" || !old.Struck || now.Value != "5.2510" || now.Struck || now.Reason != "misread" || now.Gauge != "BG-2" || !now.GaugeOverdue || *now.Temperature != 20.5 || now.Who != "A. Smith" ||
		now.Verdict != "new" || now.RunHours != "600.0" || now.EngineHours != "600.0" || now.At20 != "5.2510" || now.Uncertainty != "0.00035" { // 1.645·√(0.0002² + 0.0001²/12 + (5.251 · 12.3e-6 · 1 °C)²)
		t.Errorf("the reading that was corrected: %+v; the correction: %+v", old, now)
	}
	if l := p.Limits[0]; l.New != "5.2490 to 5.2510" || l.Service != "at most 5.2600" || l.Document != "Invented manual" || l.Revision != "3" || l.Page != "12" || l.Life != "1200.0" {
		t.Errorf("limit %+v", l)
	}
	fast := must[Record](t)(PartRecordOf(context.Background(), b.Book, b.cylinders[8])).Parts[0].Findings[0]
	if !fast.Flagged || fast.State != "flagged" || fast.Test != wear.WholeRun || fast.Unit != "in" || fast.Wear < 0.005 || fast.Wear > 0.007 || fast.ReferenceRuns != 8 || fast.HoursToLimit == nil {
		t.Errorf("the fast barrel's finding: %+v", fast)
	}
	struck := must[Record](t)(PartRecordOf(context.Background(), b.Book, must[[]store.Part](t)(b.PartsNamed(context.Background(), wear.Pin, "N-2"))[0].ID))
	if s := struck.Parts[0].Installations[0]; s.Struck != "wrong position" {
		t.Errorf("the struck installation: %+v", s)
	}
	if rec.Name() != "cylinder-C-1" || (Record{Engine: &EngineFacts{Serial: "R/1 ü"}}).Name() != "engine-R_1__" {
		t.Errorf("file names %s", rec.Name())
	}
}

// TestRecordCSV reads the file again: a row a reading, and no cell that a
// spreadsheet would take for a formula.
func TestRecordCSV(t *testing.T) {
	b, ctx := fill(t), context.Background()
	part := must[int64](t)(b.AddPart(ctx, store.Part{Kind: wear.Pin, Serial: "=HYPERLINK(1)", Source: "new", Note: "@note"}))
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2024-06-01", Who: "+1 SUM", Note: "-2+3 \"quoted\", with\na line"}, Readings: []store.NewReading{b.number(t, part, wear.Pin, "pin diameter", "1.1248")}}))
	for what, rec := range allRecords(t, b) {
		rows := must[[][]string](t)(csv.NewReader(bytes.NewReader(written(t, b.Book, rec, "csv"))).ReadAll())
		readings := 0
		for _, p := range rec.Parts {
			readings += len(p.Readings) + len(p.LeakTests)
		}
		if len(rows) != readings+1 {
			t.Errorf("%s: %d rows for %d readings", what, len(rows), readings)
		}
		for _, row := range rows {
			for _, cell := range row {
				if cell != "" && strings.ContainsRune("=+@\t\r", rune(cell[0])) || regexp.MustCompile(`^-[^0-9.]`).MatchString(cell) {
					t.Errorf("%s: cell %q", what, cell)
				}
			}
		}
	}
	rows := must[[][]string](t)(csv.NewReader(bytes.NewReader(written(t, b.Book, must[Record](t)(PartRecordOf(ctx, b.Book, part)), "csv"))).ReadAll())
	cell := map[string]string{}
	for i, name := range rows[0] {
		cell[name] = rows[1][i]
	}
	for name, want := range map[string]string{"serial": "'=HYPERLINK(1)", "who": "'+1 SUM", "note": "'-2+3 \"quoted\", with\na line", "value": "1.1248", "unit": "in", "feature": "pin diameter", "date": "2024-06-01"} {
		if cell[name] != want {
			t.Errorf("column %s is %q, want %q", name, cell[name], want)
		}
	}
}

// TestRecordPDF: the paper is a PDF whose text tells the same.
func TestRecordPDF(t *testing.T) {
	b, ctx := fill(t), context.Background()
	says := map[string][]string{
		"cylinder C-9":            {"Condition record: cylinder C-9", "PN-7", "R-1", "5.2560", "5.2500", "Invented manual", "A. Smith", "BG-2", "overdue", "times a normal part", "Date", "Signature", "Certificate", "1 of"},
		"cylinder C-1":            {"misread", "5.2509"},
		"cylinder C-2":            {"Leak tests (differential compression)", "57 of 80", "0.060 in", "LT-1", "exhaust"},
		"cylinder C-90":           {"ground to oversize", "0.0100"},
		"piston P-2":              {"=1+1", "beyond"},
		"the engine":              {"engine R-1", "an aeroplane", "C-1", "C-9", "P-1", "N-1", "K-1", "Master-rod"},
		"an engine without parts": {"engine bare"},
	}
	files, records := map[string]string{}, allRecords(t, b)
	for what := range says {
		text := written(t, b.Book, records[what], "pdf")
		if !bytes.HasPrefix(text, []byte("%PDF-")) || !bytes.Contains(text[max(0, len(text)-32):], []byte("%%EOF")) {
			t.Errorf("%s: no whole PDF of %d bytes", what, len(text))
		}
		files[what] = filepath.Join(t.TempDir(), "record.pdf")
		ok(t, os.WriteFile(files[what], text, 0o600))
	}
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("no pdftotext here: the text on the pages was not looked at")
	}
	for what, wanted := range says {
		text := string(must[[]byte](t)(exec.CommandContext(ctx, tool, "-layout", files[what], "-").Output()))
		flat := strings.Join(strings.Fields(text), " ")
		for _, w := range append(wanted, "Draft for a logbook entry; not a release to service", "maker's current manual") {
			if !strings.Contains(strings.ToLower(flat), strings.ToLower(w)) {
				t.Errorf("%s: the pages do not say %q", what, w)
			}
		}
	}
}

func TestWriteRecordRefuses(t *testing.T) {
	b := fill(t)
	rec := must[Record](t)(PartRecordOf(context.Background(), b.Book, b.pin))
	if err := WriteRecord(context.Background(), b.Book, &bytes.Buffer{}, rec, "xls"); err == nil {
		t.Error("a format that there is not was written")
	}
}
