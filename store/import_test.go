package store

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"barrelbook/wear"
)

// barrelRow is a reading of a barrel in inches on engine R-7.
func barrelRow(line int, day wear.Day, hours wear.Hours, position int, serial, value string) HistoryRow {
	return HistoryRow{Line: line, Day: day, Model: "Invented 9", Engine: "R-7", EngineHours: &hours, Position: position, Kind: wear.Cylinder, Serial: serial, Event: EventReading,
		Feature: "bore", Station: "top", Axis: "thrust", Value: value, Unit: "in", GaugeSD: "0.0002"}
}

// importing imports into the book, or on trial.
func importing(t testing.TB, b *Book, dry bool, do func(Importer) error) {
	t.Helper()
	if dry {
		ok(t, b.TryImport(context.Background(), do))
		return
	}
	ok(t, b.Import(context.Background(), do))
}

func importRows(t testing.TB, b *Book, dry bool, rows ...HistoryRow) ImportReport {
	t.Helper()
	h := &History{}
	for _, r := range rows {
		h.Add(r)
	}
	var report ImportReport
	importing(t, b, dry, func(i Importer) error { return i.History(context.Background(), h, &report) })
	return report
}

func importLimits(t testing.TB, b *Book, dry bool, rows ...LimitsRow) ImportReport {
	t.Helper()
	var report ImportReport
	importing(t, b, dry, func(i Importer) error { return i.Limits(context.Background(), rows, &report) })
	return report
}

func twoBarrels() []HistoryRow {
	return []HistoryRow{
		barrelRow(2, "2024-01-01", 10_000, 1, "C-1", "5.2500"), barrelRow(3, "2024-01-01", 10_000, 2, "C-2", "5.2501"),
		barrelRow(4, "2024-06-01", 40_000, 1, "C-1", "5.2510"), barrelRow(5, "2024-06-01", 40_000, 2, "C-2", "5.2512"),
	}
}

// holds counts what a book holds.
func holds(t testing.TB, b *Book) string {
	t.Helper()
	var n [6]int
	for i, table := range []string{"engine", "part", "stay", "sheet", "reading", "limit_row"} {
		ok(t, b.read.QueryRow("SELECT count(*) FROM "+table).Scan(&n[i]))
	}
	return fmt.Sprintf("%d engines, %d parts, %d stays, %d sheets, %d readings, %d limits", n[0], n[1], n[2], n[3], n[4], n[5])
}

// TestImportMakesWhatIsMissing: engines, parts and installations that a
// history file names without saying where they come from are made and listed.
func TestImportMakesWhatIsMissing(t *testing.T) {
	b, ctx := open(t), context.Background()
	dry := importRows(t, b, true, twoBarrels()...)
	if got := holds(t, b); got != "0 engines, 0 parts, 0 stays, 0 sheets, 0 readings, 0 limits" {
		t.Errorf("a dry run left %s", got)
	}
	report := importRows(t, b, false, twoBarrels()...)
	if !reflect.DeepEqual(dry, report) {
		t.Errorf("the dry run said %+v, the import %+v", dry, report)
	}
	if !report.OK() || report.Kind != "history" || report.Rows != 4 || report.Readings != 4 || report.Already != 0 || report.Events != 0 {
		t.Errorf("report %+v", report)
	}
	if !slices.Equal(report.Models, []string{"Invented 9"}) || !slices.Equal(report.Engines, []string{"Invented 9 R-7"}) || !slices.Equal(report.Parts, []string{"cylinder C-1", "cylinder C-2"}) {
		t.Errorf("made %v, %v, %v", report.Models, report.Engines, report.Parts)
	}
	if len(report.Installations) != 2 || !strings.Contains(report.Installations[0], "cylinder C-1 on R-7 at position 1 from 2024-01-01, 100.0 h") {
		t.Errorf("installations %v", report.Installations)
	}
	if got := holds(t, b); got != "1 engines, 2 parts, 2 stays, 4 sheets, 4 readings, 0 limits" {
		t.Errorf("the import left %s", got)
	}
	e := must[[]Engine](t)(b.EnginesBySerial(ctx, "R-7"))[0]
	if e.Cylinders != 2 || e.Arrangement != "" || e.Hours != 40_000 {
		t.Errorf("the engine it made: %+v", e)
	}
	p := must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, "C-1"))[0]
	if h := must[Hours](t)(b.PartHours(ctx, p.ID)); *h.SinceInstall != 30_000 || h.NewKnown || p.Source != "serviceable used" {
		t.Errorf("the part it made: %+v, %+v", p, h)
	}
	rs := must[[]Reading](t)(b.ReadingsOf(ctx, p.ID))
	if len(rs) != 2 || rs[0].SD != 5_080 || rs[0].Resolution != 2_540 || rs[0].Typed != "5.2510" {
		t.Errorf("its readings: %+v", rs)
	}
}

// TestImportTwice: the same rows again add nothing, in whatever order they
// come; equal rows within one file are repeated measurements and stay two.
func TestImportTwice(t *testing.T) {
	b := open(t)
	rows := append(twoBarrels(), barrelRow(6, "2024-06-01", 40_000, 1, "C-1", "5.2510"))
	if r := importRows(t, b, false, rows...); r.Readings != 5 || r.Already != 0 {
		t.Errorf("the first time: %+v", r)
	}
	before := holds(t, b)
	slices.Reverse(rows)
	for i := range rows {
		rows[i].Line = i + 2
	}
	if r := importRows(t, b, false, rows...); r.Readings != 0 || r.Already != 5 || !r.OK() || len(r.Parts) != 0 {
		t.Errorf("the second time: %+v", r)
	}
	if after := holds(t, b); after != before {
		t.Errorf("before %s, after %s", before, after)
	}
	more := append(rows, barrelRow(7, "2024-09-01", 50_000, 1, "C-1", "5.2513"))
	if r := importRows(t, b, false, more...); r.Readings != 1 || r.Already != 5 {
		t.Errorf("with one more row: %+v", r)
	}
}

// TestImportAllOrNothing: one bad row and nothing is kept, but every bad row
// is listed with its line, column, value and reason.
func TestImportAllOrNothing(t *testing.T) {
	b := open(t)
	rows := twoBarrels()
	hours := func(h wear.Hours) *wear.Hours { return &h }
	change := func(line int, f func(r *HistoryRow)) {
		r := barrelRow(line, "2024-07-01", 45_000, 1, "C-1", "5.2511")
		f(&r)
		rows = append(rows, r)
	}
	change(6, func(r *HistoryRow) { r.Value = "5,2511" })
	change(7, func(r *HistoryRow) { r.Feature = "colour" })
	change(8, func(r *HistoryRow) { r.Unit = "g" })
	change(9, func(r *HistoryRow) { r.EngineHours = nil })
	change(10, func(r *HistoryRow) { r.EngineHours = hours(1_000) }) // less than in June
	change(11, func(r *HistoryRow) { r.Position = 2 })               // where C-2 sits
	change(12, func(r *HistoryRow) { r.GaugeSD = "-1" })
	change(13, func(r *HistoryRow) { r.Engine, r.Model = "R-8", "" })
	change(14, func(r *HistoryRow) { r.Event, r.Engine = EventRemoved, "R-9"; r.Serial = "C-5" })
	change(15, func(r *HistoryRow) { r.Event, r.Value, r.Day = string(wear.Ground), "", "2024-07-02" })
	change(16, func(r *HistoryRow) { r.PartHours = hours(90_000) }) // it has run 350 h there
	change(17, func(r *HistoryRow) { r.Value = "" })
	report := importRows(t, b, false, rows...)
	want := map[int][2]string{
		6: {"value", "5,2511"}, 7: {"feature", "colour"}, 8: {"unit", "g"}, 9: {"engine_hours", ""}, 10: {"engine_hours", "10.0"}, 11: {"serial", "C-1"}, 12: {"gauge_sd", "-1"},
		13: {"engine_model", ""}, 14: {"event", "removed"}, 15: {"value", ""}, 16: {"part_hours", "900.0"}, 17: {"value", ""},
	}
	if report.OK() || report.BadRows != len(want) || len(report.Errors) != len(want) {
		t.Errorf("%d bad rows listed as %d, want %d", report.BadRows, len(report.Errors), len(want))
	}
	last := 0
	for _, e := range report.Errors {
		if w, known := want[e.Line]; !known || e.Column != w[0] || e.Value != w[1] || e.Reason == "" {
			t.Errorf("line %d, column %q, value %q: %s; want column and value %q", e.Line, e.Column, e.Value, e.Reason, w)
		}
		if e.Line < last {
			t.Errorf("line %d is listed after line %d", e.Line, last)
		}
		last = e.Line
	}
	if got := holds(t, b); got != "0 engines, 0 parts, 0 stays, 0 sheets, 0 readings, 0 limits" {
		t.Errorf("a refused file left %s", got)
	}
	if r := importRows(t, b, false, twoBarrels()...); !r.OK() || r.Readings != 4 {
		t.Errorf("the good rows alone, afterwards: %+v", r)
	}
}

// TestImportInstallsAndRemoves: rows may come in any order; on one day a part
// comes off, is worked on, goes on and is measured.
func TestImportInstallsAndRemoves(t *testing.T) {
	b, ctx := open(t), context.Background()
	event := func(line int, day wear.Day, hours wear.Hours, serial, event, value string) HistoryRow {
		r := barrelRow(line, day, hours, 1, serial, value)
		r.Event, r.Feature = event, ""
		return r
	}
	rows := []HistoryRow{
		barrelRow(2, "2024-06-01", 40_000, 1, "C-2", "5.2500"),
		event(3, "2024-06-01", 40_000, "C-2", string(wear.InstalledNew), ""),
		event(4, "2024-06-01", 40_000, "C-1", EventRemoved, ""),
		event(5, "2024-01-01", 0, "C-1", EventInstalled, ""),
		barrelRow(6, "2024-01-01", 0, 1, "C-1", "5.2550"),
		event(7, "2024-07-01", 45_000, "C-1", string(wear.Ground), "0.010"),
		barrelRow(8, "2024-09-01", 50_000, 1, "C-2", "5.2505"),
	}
	rows[5].Engine, rows[5].EngineHours, rows[5].Position = "", nil, 0
	if r := importRows(t, b, false, rows...); !r.OK() || r.Events != 4 || r.Readings != 3 || len(r.Installations) != 0 {
		t.Fatalf("report %+v", r)
	}
	one, two := must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, "C-1"))[0], must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, "C-2"))[0]
	if one.Status != "on shelf" || two.Status != "on engine" || two.Source != "new" || one.Source != "serviceable used" {
		t.Errorf("C-1 is %s, %s; C-2 is %s, %s", one.Status, one.Source, two.Status, two.Source)
	}
	if h := must[Hours](t)(b.PartHours(ctx, one.ID)); h.SinceNew != 40_000 {
		t.Errorf("C-1 has run %s h, want 400", h.SinceNew)
	}
	if size := must[wear.Value](t)(b.OversizeOf(ctx, one.ID)); size != inches(t, "0.010") {
		t.Errorf("C-1 is ground to %d nm over", size)
	}
	ss := must[[]Series](t)(b.SeriesOf(ctx, two.ID))
	if len(ss) != 1 || ss[0].Start.Event != wear.InstalledNew || ss[0].Points[1].Hours != 100 {
		t.Errorf("C-2's run: %+v", ss)
	}
	scrap := barrelRow(9, "2024-10-01", 60_000, 2, "C-1", "5.2600") // a position that the engine was not known to have
	ok(t, b.ScrapPart(ctx, one.ID, "2024-09-15", "cracked"))
	if r := importRows(t, b, false, scrap); r.OK() || r.Errors[0].Column != "serial" || !strings.Contains(r.Errors[0].Reason, "scrapped") {
		t.Errorf("a scrapped part that a file fits again: %+v", r)
	}
}

// TestImportPartHours: where no engine is known, the hours since installation
// place a reading; installed again, they count from there.
func TestImportPartHours(t *testing.T) {
	b, ctx := open(t), context.Background()
	row := func(line int, day wear.Day, event string, hours wear.Hours, value string) HistoryRow {
		r := HistoryRow{Line: line, Day: day, Model: "Ship engine", Kind: wear.Cylinder, Serial: "L-1", Event: event, PartHours: &hours, Unit: "mm"}
		if event == EventReading {
			r.Feature, r.Value = "barrel bore", value
		}
		return r
	}
	report := importRows(t, b, false, row(2, "2020-01-01", string(wear.InstalledNew), 0, ""), row(3, "2020-06-01", EventReading, 100_000, "600.10"), row(4, "2021-01-01", EventReading, 250_000, "600.30"),
		row(5, "2021-02-01", string(wear.InstalledNew), 0, ""), row(6, "2021-09-01", EventReading, 50_000, "600.05"))
	if !report.OK() {
		t.Fatalf("report %+v", report)
	}
	p := must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, "L-1"))[0]
	if h := must[Hours](t)(b.PartHours(ctx, p.ID)); h.SinceNew != 300_000 {
		t.Errorf("the part has run %s h, want 2500 + 500", h.SinceNew)
	}
	ss := must[[]Series](t)(b.SeriesOf(ctx, p.ID))
	if len(ss) != 2 || len(ss[0].Points) != 1 || ss[0].Points[0].Hours != 500 || len(ss[1].Points) != 2 || ss[1].Points[1].Hours != 2500 {
		t.Errorf("runs %+v", ss)
	}
	none := row(7, "2022-01-01", EventReading, 0, "600.2")
	none.PartHours, none.Serial = nil, "L-2"
	if r := importRows(t, b, false, none); r.OK() || r.Errors[0].Column != "part_hours" {
		t.Errorf("neither engine nor hours: %+v", r)
	}
}

// TestImportUsedThenNew: a part seen in use first and installed new later has
// two runs, and no reading counts from after it was taken.
func TestImportUsedThenNew(t *testing.T) {
	b, ctx := open(t), context.Background()
	hours := func(h wear.Hours) *wear.Hours { return &h }
	row := HistoryRow{Line: 2, Day: "2020-06-01", Model: "Ship engine", Kind: wear.Cylinder, Serial: "L-1", Event: EventReading, PartHours: hours(100_000), Feature: "barrel bore", Value: "600.10", Unit: "mm"}
	fresh := HistoryRow{Line: 3, Day: "2021-01-01", Model: "Ship engine", Kind: wear.Cylinder, Serial: "L-1", Event: string(wear.InstalledNew)}
	if r := importRows(t, b, false, row, fresh); !r.OK() {
		t.Fatalf("report %+v", r)
	}
	p := must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, "L-1"))[0]
	for _, s := range must[[]Series](t)(b.SeriesOf(ctx, p.ID)) {
		for _, point := range s.Points {
			if point.Hours < 0 {
				t.Errorf("a reading at %g h of its run: %+v", point.Hours, s)
			}
		}
	}
}

func TestImportLimits(t *testing.T) {
	b, ctx := open(t), context.Background()
	good := LimitsRow{Line: 2, Model: "Invented 9", Kind: "Cylinders", Feature: "barrel_bore", NewMin: "5.2490", NewMax: "5.2510", ServiceMax: "5.2600", Unit: "in", Wear: "up", Life: "1200", Document: "Invented manual", Revision: "3", Page: "12", Ref: "501"}
	own := LimitsRow{Line: 3, Model: "Invented 9", Kind: "cylinder", Feature: "hardness", ServiceMin: "48", Unit: "HRC", Wear: "down"}
	if r := importLimits(t, b, true, good, own); !r.OK() || r.Limits != 2 || len(r.Features) != 1 {
		t.Errorf("dry run: %+v", r)
	}
	if got := holds(t, b); got != "0 engines, 0 parts, 0 stays, 0 sheets, 0 readings, 0 limits" {
		t.Errorf("a dry run left %s", got)
	}
	r := importLimits(t, b, false, good, own)
	if !r.OK() || r.Limits != 2 || !slices.Equal(r.Models, []string{"Invented 9"}) || !slices.Equal(r.Features, []string{"cylinder hardness (HRC, wears down)"}) {
		t.Errorf("report %+v", r)
	}
	if r = importLimits(t, b, false, good, own); r.Limits != 0 || r.Already != 2 {
		t.Errorf("a second time: %+v", r)
	}
	m := must[[]Model](t)(b.Models(ctx))[0]
	ls := must[Limits](t)(b.LimitsOf(ctx, m.ID, ""))
	l := ls.For(feature(t, b, wear.Cylinder, "barrel bore").ID, 0)
	if l == nil || *l.ServiceMax != inches(t, "5.2600") || l.Life != 120_000 || l.Page != "12" || l.Ref != "501" || l.Wear != wear.Up {
		t.Errorf("the limit: %+v", l)
	}
	bad := good
	bad.Line, bad.Kind, bad.Unit, bad.Wear, bad.NewMin, bad.Life, bad.Groove, bad.Model, bad.Feature = 4, "crank", "", "", "five", "-1", "x", "", ""
	upside := good
	upside.Line, upside.NewMin, upside.NewMax = 5, "5.2510", "5.2490"
	r = importLimits(t, b, false, bad, upside, LimitsRow{Line: 6, Model: "Invented 9", Kind: "pin", Feature: "pin diameter", ServiceMin: "1,5", Unit: "in", Wear: "down"})
	seen := map[string]bool{}
	for _, e := range r.Errors {
		seen[fmt.Sprintf("%d %s", e.Line, e.Column)] = true
	}
	for _, want := range []string{"4 kind", "4 unit", "4 wear", "4 overhaul_hours", "4 groove", "4 engine_model", "4 feature", "5 new_max", "6 service_min"} {
		if !seen[want] {
			t.Errorf("nothing is said of line and column %s: %+v", want, r.Errors)
		}
	}
	if r.BadRows != 3 {
		t.Errorf("%d bad rows, want 3", r.BadRows)
	}
}

// TestTryTogether: on trial a file finds what the good files before it brought,
// nothing of a bad one, and nothing is kept.
func TestTryTogether(t *testing.T) {
	b := open(t)
	limits := func(feature string) []LimitsRow {
		return []LimitsRow{{Line: 2, Model: "Invented 9", Kind: "cylinder", Feature: feature, NewMin: "0", NewMax: "0", ServiceMax: "4", Unit: "mm", Wear: "up", Document: "invented"}}
	}
	bad := limits("depth of score")
	bad[0].Wear = "sideways"
	row := func(feature string) *History {
		r := barrelRow(2, "2024-01-01", 10_000, 1, "C-1", "1.5")
		r.Feature, r.Unit, r.GaugeSD = feature, "mm", "0.05"
		h := &History{}
		h.Add(r)
		return h
	}
	var good, refused, knows, misses ImportReport
	ctx := context.Background()
	ok(t, b.TryImport(ctx, func(i Importer) error {
		return errors.Join(i.Limits(ctx, limits("liner wear"), &good), i.Limits(ctx, bad, &refused), i.History(ctx, row("liner wear"), &knows), i.History(ctx, row("depth of score"), &misses))
	}))
	if !good.OK() || refused.OK() || !knows.OK() || misses.OK() {
		t.Errorf("limits %d bad, bad limits %d, readings of the new feature %d, of the refused one %d: want 0, 1, 0, 1", good.BadRows, refused.BadRows, knows.BadRows, misses.BadRows)
	}
	if counts := must[Counts](t)(b.Counts(ctx)); counts != (Counts{}) {
		t.Errorf("after a trial the book holds %+v", counts)
	}
}

// TestImportSlip: a number far from its limits is taken for a slip of the
// decimal point, in a file as on a sheet; limits that begin at 0 rule out
// nothing small.
func TestImportSlip(t *testing.T) {
	b := open(t)
	limit := LimitsRow{Line: 2, Model: "Invented 9", Kind: "cylinder", Feature: "bore", NewMin: "5.2490", NewMax: "5.2510", ServiceMax: "5.2600", Unit: "in", Wear: "up"}
	wall := LimitsRow{Line: 3, Model: "Invented 9", Kind: "ring", Feature: "wall loss", NewMin: "0", NewMax: "0", ServiceMax: "4", Unit: "mm", Wear: "up"}
	if r := importLimits(t, b, false, limit, wall); !r.OK() {
		t.Fatal(r.Errors)
	}
	small := barrelRow(3, "2024-01-01", 10_000, 1, "R-1", "0.9")
	small.Kind, small.Feature, small.Groove, small.Unit = wear.Ring, "wall loss", 1, "mm"
	r := importRows(t, b, false, barrelRow(2, "2024-01-01", 10_000, 1, "C-1", "52.505"), small)
	if r.BadRows != 1 || r.Errors[0].Line != 2 || r.Errors[0].Column != "value" || !strings.Contains(r.Errors[0].Reason, "decimal point") {
		t.Errorf("%d bad rows: %v", r.BadRows, r.Errors)
	}
}
