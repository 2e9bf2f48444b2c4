package server

import (
	"bytes"
	"context"
	"encoding/csv"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// TestRecordGoesByTheRun: the verdict and the limits beside a reading are those
// of the run it belongs to, on the day of grinding too. The limits move with the
// oversize (US Army TM 9-2815-220-24, WP 0135).
func TestRecordGoesByTheRun(t *testing.T) {
	b, ctx := fill(t), context.Background()
	part := must[int64](t)(b.AddPart(ctx, store.Part{Kind: wear.Cylinder, Serial: "G-1", Source: "serviceable used", ModelID: b.engine.Model.ID}))
	bore := func(day wear.Day, size string) {
		must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: day}, Readings: []store.NewReading{{Part: part, Feature: b.boreID, Station: "top", Axis: "thrust", Value: inches(t, size), Typed: size, Unit: wear.Inch, SD: 2540}}}))
	}
	over := inches(t, "0.0100")
	bore("2026-02-01", "5.2630")
	bore("2026-03-01", "5.2680")
	ok(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Ground, Day: "2026-03-01", Oversize: &over}, ""))
	bore("2026-03-01", "5.2605")
	rec := must[Record](t)(PartRecordOf(ctx, b.Book, part))
	var buf bytes.Buffer
	ok(t, WriteRecord(ctx, b.Book, &buf, rec, "csv"))
	rows := must[[][]string](t)(csv.NewReader(&buf).ReadAll())
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	want := map[string][2]string{"5.2630": {"beyond", "at most 5.2600"}, "5.2680": {"beyond", "at most 5.2600"}, "5.2605": {"new", "at most 5.2700"}}
	for _, row := range rows[1:] {
		if got := [2]string{row[at["verdict"]], row[at["limit_service"]]}; got != want[row[at["value"]]] {
			t.Errorf("%s is %q, want %q", row[at["value"]], got, want[row[at["value"]]])
		}
	}
	if len(rows) != 4 {
		t.Errorf("%d rows, want 4", len(rows))
	}
}
