package store

import (
	"context"
	"errors"
	"testing"

	"barrelbook/wear"
)

func TestSheetTwice(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	n := NewSheet{Sheet: Sheet{UID: "0197-a", Day: "2024-06-01", Engine: e.ID, Position: 1, Who: "A. Smith", Note: "warm"}, Shows: ptr[wear.Hours](30_000),
		Readings: []NewReading{reading(t, b, part, wear.Cylinder, "barrel bore", 0, "5.2510")}}
	n.Temperature = ptr(21.5)
	first := must[int64](t)(b.SaveSheet(ctx, n))
	n.Readings[0].Value++ // even when something else is sent under the same name
	if again := must[int64](t)(b.SaveSheet(ctx, n)); again != first {
		t.Errorf("the same sheet again has id %d, want %d", again, first)
	}
	rs := must[[]Reading](t)(b.ReadingsOf(ctx, part))
	if len(rs) != 1 || *rs[0].Value != inches(t, "5.2510") {
		t.Errorf("readings %+v", rs)
	}
	s := rs[0].Sheet
	if s.UID != "0197-a" || s.Who != "A. Smith" || s.Note != "warm" || s.Temperature == nil || *s.Temperature != 21.5 || s.Hours != 30_000 || s.EngineNo != "R-1" || s.SavedAt != "2026-05-01T12:00:00.000Z" {
		t.Errorf("its sheet: %+v", s)
	}
	if ms := must[[]MeterEntry](t)(b.Meter(ctx, e.ID)); len(ms) != 2 {
		t.Errorf("%d meter entries, want the engine's first and the sheet's", len(ms))
	}
}

func TestSheetRefusals(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, other := addRadial(t, b, "R-1"), addRadial(t, b, "R-2")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	r := reading(t, b, part, wear.Cylinder, "barrel bore", 0, "5.2510")
	save := func(s Sheet, shows *wear.Hours, rs ...NewReading) error {
		_, err := b.SaveSheet(ctx, NewSheet{Sheet: s, Shows: shows, Readings: rs})
		return err
	}
	err := save(Sheet{Day: "2024-06-01", Engine: e.ID, Position: 1}, nil)
	refusal(t, err, "sheet", "nothing to save")
	refusal(t, err, "hours") // both at once
	refusal(t, save(Sheet{Day: "2024-06-01"}, nil, r), "day", "C-1", "hours are needed")
	refusal(t, save(Sheet{Day: "2024-06-01", Engine: other.ID, Position: 1}, ptr[wear.Hours](500), r), "day", "C-1")
	slip, tiny, second := r, r, r
	slip.Value, slip.Field = inches(t, "52.510"), "slip"
	tiny.Value, tiny.Field = 0, "tiny"
	second.Value, second.Field = inches(t, "-5.25"), "second"
	err = save(Sheet{Day: "2024-06-01", Engine: e.ID, Position: 1}, ptr[wear.Hours](30_000), slip, r, tiny, second)
	refusal(t, err, "slip", "decimal point")
	refusal(t, err, "tiny", "that small")
	refusal(t, err, "second", "that small")
	foreign := r
	foreign.Feature = feature(t, b, wear.Piston, "piston skirt").ID
	if err := save(Sheet{Day: "2024-06-01", Engine: e.ID, Position: 1}, ptr[wear.Hours](30_000), foreign); !errors.Is(err, ErrNotFound) {
		t.Errorf("a skirt on a cylinder: %v", err)
	}
	if rs := must[[]Reading](t)(b.ReadingsOf(ctx, part)); len(rs) != 0 {
		t.Errorf("refused sheets left %d readings", len(rs))
	}
	if ms := must[[]MeterEntry](t)(b.Meter(ctx, e.ID)); len(ms) != 1 {
		t.Errorf("refused sheets left %d meter entries", len(ms))
	}
}

// TestOutsideLimitsIsKept: a worn part is no slip of the pen.
func TestOutsideLimitsIsKept(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	measure(t, b, e, 1, part, "2024-06-01", 30_000, "5.3100")
	fs := must[[]Finding](t)(b.FindingsOf(ctx, part))
	if len(fs) != 1 || fs[0].Verdict != wear.Beyond || *fs[0].LastValue != inches(t, "5.3100") {
		t.Errorf("findings %+v", fs)
	}
}

// TestCorrection: the old number stays, struck, with the reason beside the
// new one; withdrawn it counts for nothing.
func TestCorrection(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	gauge := must[int64](t)(b.SaveGauge(ctx, Gauge{Name: "BG-2", Unit: wear.Inch, SD: 2540, Resolution: 1270, Due: "2024-03-01"}))
	r := reading(t, b, part, wear.Cylinder, "barrel bore", 0, "5.2550")
	r.Station, r.Axis, r.Gauge, r.SD, r.Resolution = "top", "thrust", gauge, 2540, 1270
	sheet := sheetOn(t, b, e, 1, "2024-06-01", 30_000, r)
	rs := must[[]Reading](t)(b.ReadingsOf(ctx, part))
	id := rs[0].ID
	if rs[0].Gauge != "BG-2" || !rs[0].GaugeOverdue || rs[0].Struck {
		t.Errorf("as saved: %+v", rs[0])
	}
	refusal(t, b.CorrectReading(ctx, id, inches(t, "5.2505"), "5.2505", "", " "), "reason")
	refusal(t, b.CorrectReading(ctx, id, inches(t, "5.2550"), "5.2550", "", "misread"), "value", "already")
	refusal(t, b.CorrectReading(ctx, id, inches(t, "52.505"), "52.505", "", "misread"), "value", "decimal point")
	ok(t, b.CorrectReading(ctx, id, inches(t, "5.2505"), "5.2505", "B. Jones", "misread"))
	s, rs, err := b.Sheet(ctx, sheet)
	ok(t, err)
	if s.ID != sheet || len(rs) != 2 || !rs[0].Struck || *rs[0].Value != inches(t, "5.2550") || rs[1].Struck || *rs[1].Value != inches(t, "5.2505") ||
		rs[1].Reason != "misread" || rs[1].Who != "B. Jones" || rs[1].Root != id || rs[1].Gauge != "BG-2" || rs[1].SD != 2540 || rs[1].Station != "top" {
		t.Errorf("after the correction: %+v", rs)
	}
	last := func() wear.Point {
		ss := must[[]Series](t)(b.SeriesOf(ctx, part))
		return ss[0].Points[len(ss[0].Points)-1]
	}
	if p := last(); p.Y != float64(inches(t, "5.2505")) {
		t.Errorf("the run still counts %g nm", p.Y)
	}
	ok(t, b.CorrectReading(ctx, id, inches(t, "5.2507"), "5.2507", "", "misread again")) // by the old id too
	now := must[Reading](t)(b.Reading(ctx, id))
	if *now.Value != inches(t, "5.2507") || now.Reason != "misread again" {
		t.Errorf("in force: %+v", now)
	}
	ok(t, b.CorrectReading(ctx, now.ID, 0, "", "", "wrong part"))
	if ss := must[[]Series](t)(b.SeriesOf(ctx, part)); len(ss) != 0 {
		t.Errorf("a withdrawn reading still makes a run: %+v", ss)
	}
	if now := must[Reading](t)(b.Reading(ctx, id)); now.Value != nil || now.Reason != "wrong part" {
		t.Errorf("withdrawn: %+v", now)
	}
	if p := must[Part](t)(b.Part(ctx, part)); p.LastDay != "" || p.Verdict != wear.NoLimit {
		t.Errorf("the part still says it was measured on %q, %s", p.LastDay, p.Verdict)
	}
	if _, rs, _ := b.Sheet(ctx, sheet); len(rs) != 4 {
		t.Errorf("%d entries on the sheet, want all four", len(rs))
	}
	if err := b.CorrectReading(ctx, 999, 0, "", "", "no"); !errors.Is(err, ErrNotFound) {
		t.Errorf("a reading that is not there: %v", err)
	}
	if _, _, err := b.Sheet(ctx, 999); !errors.Is(err, ErrNotFound) {
		t.Errorf("a sheet that is not there: %v", err)
	}
}

// TestShelfSheet: a part on the shelf needs no engine's hours.
func TestShelfSheet(t *testing.T) {
	b, ctx := open(t), context.Background()
	part := onShelf(t, b, Part{Kind: wear.Pin, Serial: "N-1"})
	must[int64](t)(b.SaveSheet(ctx, NewSheet{Sheet: Sheet{Day: "2024-06-01"}, Readings: []NewReading{reading(t, b, part, wear.Pin, "pin diameter", 0, "1.1248")}}))
	if ss := must[[]Series](t)(b.SeriesOf(ctx, part)); len(ss) != 1 || ss[0].Points[0].Y != -float64(inches(t, "1.1248")) || ss[0].Points[0].Hours != 0 {
		t.Errorf("series %+v", ss)
	}
}
