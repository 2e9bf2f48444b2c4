package server

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// TestBackupButton: the settings page copies the book and says where to.
func TestBackupButton(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	w := post(h, "/settings/backup", url.Values{})
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/settings" {
		t.Fatalf("status %d to %s", w.Code, w.Header().Get("Location"))
	}
	backups := store.Backups(b.Path())
	if len(backups) != 1 {
		t.Fatalf("backups %v", backups)
	}
	copied := must[*store.Book](t)(store.OpenReadOnly(context.Background(), backups[0]))
	defer func() { ok(t, copied.Close()) }()
	must[store.CheckReport](t)(copied.Check(context.Background(), ""))
	check(t, "settings after a backup", get(h, "/settings"), 200, []string{backups[0][strings.LastIndex(backups[0], "/")+1:]}, []string{"none beside the book"})
}

// TestWhoDidWhat: what a person did is shown with their name and device, before
// and after, and found again by each filter.
func TestWhoDidWhat(t *testing.T) {
	b := fill(t)
	ctx := store.As(context.Background(), store.Actor{Person: 3, Name: "J. <Example>", Device: "tablet 2"})
	g := must[[]store.Gauge](t)(b.Gauges(ctx))[0]
	g.Due = "2031-05-01"
	must[int64](t)(b.SaveGauge(ctx, g))
	h, _ := serving(t, b.Book)
	all := []string{"J. &lt;Example&gt;", "tablet 2", "Changed gauge " + g.Name, "<ins>2031-05-01</ins>", "1 entry"}
	check(t, "by who", get(h, "/audit?who="+url.QueryEscape("J. <Example>")), 200, all, nil)
	check(t, "by kind and day", get(h, "/audit?record=gauge&day="+string(b.Today())+"&who="+url.QueryEscape("J. <Example>")), 200, all, nil)
	check(t, "by nobody", get(h, "/audit?who=-&record=gauge"), 200, nil, []string{"2031-05-01"})
	check(t, "by an engine", get(h, "/audit?serial=R-1&record=leak_test"), 200, []string{"eak test", "of engine R-1"}, nil)
	check(t, "of a part", get(h, "/audit?serial=C-9&record=reading"), 200, []string{"reading"}, []string{"0 entries"})
	check(t, "sizes in their unit", get(h, "/audit?serial=C-1&record=reading"), 200, []string{"<ins>5.2510 in</ins>"}, []string{"133375400"}) // 5.2510 × 25,400,000
	check(t, "hours", get(h, "/audit?serial=R-1&record=meter"), 200, []string{"<ins>600.0 h</ins>"}, nil)
	check(t, "names of what is meant", get(h, "/audit?serial=R-1&record=meter"), 200, []string{"<ins>engine R-1</ins>"}, []string{"Engine id"})
	check(t, "of no part", get(h, "/audit?serial=C-none"), 200, []string{"0 entries"}, nil)
	head := must[store.Head](t)(b.Head(ctx))
	check(t, "the head", get(h, "/audit"), 200, []string{head.Hash}, nil)
}

// TestAuditTellsEngines: the engines that an inspector is limited to are told by
// serial, before and after, those taken away too.
func TestAuditTellsEngines(t *testing.T) {
	b, ctx := fill(t), context.Background()
	second := must[int64](t)(b.AddEngine(ctx, store.NewEngine{Serial: "R-2", Model: "Invented 9", Arrangement: "radial", Cylinders: 9, Day: "2024-01-01"}))
	must[int64](t)(b.AddPerson(ctx, store.Person{Name: "O. Owner", Roles: store.Owner}, store.Password{Hash: "$argon2id$invented"}))
	quill := store.Person{Name: "R. Quill", Roles: store.Inspector, Limited: true, Engines: []int64{b.engine.ID}}
	quill.ID = must[int64](t)(b.AddPerson(ctx, quill, store.Password{Hash: "$argon2id$invented"}))
	for _, engines := range [][]int64{{b.engine.ID, second}, {second}} {
		quill.Engines = engines
		ok(t, b.SavePerson(ctx, quill))
	}
	h, _ := serving(t, b.Book)
	check(t, "a person's engines", get(h, "/audit?record=person"), 200, []string{"Only these engines",
		"<del>R-1</del>", "<ins>R-1, R-2</ins>", "<del>R-1, R-2</del>", "<ins>R-2</ins>"}, nil)
	check(t, "the engines named", get(h, "/audit?record=person_engine"), 200, []string{"<ins>R-1, R-2</ins>"}, nil)
}

// TestAuditNames: what a number refers to is told in words.
func TestAuditNames(t *testing.T) {
	b := fill(t)
	ctx := context.Background()
	for column, want := range map[string]string{"engine_id": "engine R-1", "meter_root": "2024-01-01, 0.0 h", "gauge_id": "BG-2", "sheet_id": "no. 1 of 2024-01-01", "feature_id": "cylinder barrel bore", "serial": ""} {
		id := map[string]int64{"engine_id": b.engine.ID, "meter_root": 1, "gauge_id": b.gauge, "sheet_id": 1, "feature_id": b.boreID}[column]
		if got := must[string](t)(b.AuditName(ctx, column, fmt.Sprint(id))); got != want {
			t.Errorf("%s %d is %q, want %q", column, id, got, want)
		}
	}
	h, _ := serving(t, b.Book)
	check(t, "a stay", get(h, "/audit?record=stay"), 200, nil, []string{"From meter: 1<", "Meter root"})
}

// TestAuditInTheShopsWords: lengths stand in the shop's unit, flags as yes and
// no. The numbers are of the definitions: 1 in is 25,400,000 nm, 1 g 1,000,000 µg.
func TestAuditInTheShopsWords(t *testing.T) {
	in, mm := must[wear.Unit](t)(wear.UnitNamed("in")), must[wear.Unit](t)(wear.UnitNamed("mm"))
	for _, c := range []struct {
		record, column, text, want string
		shop                       wear.Unit
	}{
		{"model", "oversizes", "254000,508000", "0.0100 in, 0.0200 in", in},
		{"model", "oversizes", "254000", "0.254 mm", mm},
		{"part", "oversize", "127000", "0.0050 in", in},
		{"mark", "oversize", "254000", "0.0100 in", in},
		{"part", "weight", "500000000", "500.0 g", in},
		{"leak_rule", "minimum", "620", "62 psi", in},
		{"leak_test", "sd", "300000", "0.3 psi", in},
		{"model", "pin_to_crown", "69850000", "2.7500 in", in},
		{"model", "overhaul", "120000", "1200.0 h", in},
		{"model", "anticlockwise", "1", "yes", in},
		{"person", "inspector", "1", "yes", in},
		{"person", "owner", "0", "no", in},
		{"part", "serial", "127000", "127000", in},
	} {
		if got := store.AuditText(c.record, c.column, c.text, in, c.shop); got != c.want {
			t.Errorf("%s of %s: %q, want %q", c.column, c.record, got, c.want)
		}
	}
}

// TestAuditLeadsSomewhere: what was done to a thing leads to a page that is
// there.
func TestAuditLeadsSomewhere(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	h, _ := serving(t, b.Book)
	rows, _, err := b.Audit(context.Background(), store.AuditFilter{Limit: 1000})
	ok(t, err)
	pages := map[string]string{}
	for _, r := range rows {
		if r.Page != "" {
			pages[r.Page] = r.What
		}
	}
	for page, what := range pages {
		if w := get(h, page); w.Code != http.StatusOK {
			t.Errorf("%s leads to %s: status %d", what, page, w.Code)
		}
	}
	if len(pages) < 30 {
		t.Errorf("only %d pages", len(pages))
	}
}

// TestRecordCarriesHead: a record made before can be compared with the book
// later, whatever was entered since.
func TestRecordCarriesHead(t *testing.T) {
	b, ctx := fill(t), context.Background()
	rec := must[Record](t)(PartRecordOf(ctx, b.Book, b.cylinders[8]))
	head := must[store.Head](t)(b.Head(ctx))
	if rec.Audit.Head != head.Hash || rec.Audit.Entries != head.Rows || rec.Made == "" {
		t.Errorf("the record carries %+v, the book's head is %+v", rec.Audit, head)
	}
	for _, format := range []string{"json", "csv"} {
		if !strings.Contains(string(written(t, b.Book, rec, format)), head.Hash) {
			t.Errorf("the %s does not carry the head", format)
		}
	}
	if cells := paperSummary(Record{Parts: []PartRecord{{Kind: "pin", Serial: "N-1", SinceNew: "0.0"}}}).Rows[0].Cells; cells[4] != "not known" {
		t.Errorf("a pin of unknown age has %q h since new", cells[4])
	}
	paper := must[string](t)(func() (string, error) { p, err := recordPaper(ctx, b.Book, rec); return p.Head, err }())
	if !strings.Contains(paper, head.Hash) {
		t.Errorf("the foot of the paper says %q", paper)
	}
	must[int64](t)(b.SaveGauge(ctx, store.Gauge{Name: "BG-99", Unit: store.Psi, SD: 500_000}))
	if r := must[store.CheckReport](t)(b.Check(ctx, rec.Audit.Head)); !strings.HasSuffix(r.Printed, "; 1 rows since") {
		t.Errorf("compared later: %s", r.Printed)
	}
}

// TestFormOnFullDisk: a save that the disk has no room for says so, and what
// was typed is still in the form.
func TestFormOnFullDisk(t *testing.T) {
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		t.Skip("a small disk can be mounted by root on Linux only")
	}
	dir := t.TempDir()
	if said, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=16m", "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("mount a small disk: %v: %s", err, said)
	}
	t.Cleanup(func() {
		if said, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("umount: %v: %s", err, said)
		}
	})
	b := fill(t)
	ok(t, os.WriteFile(filepath.Join(dir, "book.db"), original.file, 0o600))
	book := must[*store.Book](t)(store.Open(context.Background(), filepath.Join(dir, "book.db")))
	t.Cleanup(func() { ok(t, book.Close()) })
	h, _ := serving(t, book)
	filler := must[*os.File](t)(os.Create(filepath.Join(dir, "holiday-videos")))
	for _, piece := range []int{64 << 10, 512} {
		for {
			if _, err := filler.Write(make([]byte, piece)); err != nil {
				break
			}
		}
	}
	filler.Close() //nolint:errcheck // the disk is full
	typed := url.Values{"name": {"typed gauge"}, "unit": {"in"}, "sd": {"0.00017"}, "resolution": {"0.0001"}}
	check(t, "a gauge", post(h, "/gauges", typed), 422, []string{"The disk is full", `value="typed gauge"`, `value="0.00017"`}, nil)
	engine := url.Values{"serial": {"typed serial"}, "model": {"typed model"}, "arrangement": {"radial"}, "cylinders": {"9"}, "day": {"2026-01-01"}, "hours": {"0"}, "notes": {"typed notes"}}
	check(t, "an engine", post(h, "/engines", engine), 422, []string{"The disk is full", `value="typed serial"`, "typed notes"}, nil)
	bore := fmt.Sprintf("v-%d-%d-", b.cylinders[0], b.boreID)
	sheet := formOf("uid=u-full", "day=2025-02-06", "hours=630", "unit=in", "mode=full", "who=A. Typed", bore+"0-0-0=5.2512")
	check(t, "a sheet", post(h, fmt.Sprintf("/measure/engine/%d/1", b.engine.ID), sheet), 422, []string{"The disk is full", `value="A. Typed"`, `value="5.2512"`}, nil)
	ok(t, os.Remove(filler.Name()))
	if w := post(h, "/gauges", typed); w.Code != http.StatusSeeOther {
		t.Errorf("after space was made: status %d", w.Code)
	}
}
