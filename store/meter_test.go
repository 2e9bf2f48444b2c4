package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"barrelbook/wear"
)

func TestHoursBackwards(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	root := must[int64](t)(b.AddMeter(ctx, e.ID, "2024-06-01", 30_000))
	_, err := b.AddMeter(ctx, e.ID, "2024-07-01", 29_000)
	bad := refusal(t, err, "hours", "290.0 h on 2024-07-01 is less than 300.0 h on 2024-06-01", "correct it", "replaced or reset")
	if want := fmt.Sprintf("/engines/%d/meter/%d/correct", e.ID, root); bad[0].Href != want {
		t.Errorf("the way out is %q, want %q", bad[0].Href, want)
	}
	_, err = b.AddMeter(ctx, e.ID, "2024-05-01", 30_001)
	refusal(t, err, "hours", "300.01 h on 2024-05-01 is more than 300.0 h on 2024-06-01")
	same := must[int64](t)(b.AddMeter(ctx, e.ID, "2024-06-01", 30_000)) // saying the same again adds nothing
	if same != root {
		t.Errorf("the same entry again has root %d, want %d", same, root)
	}
	if ms := must[[]MeterEntry](t)(b.Meter(ctx, e.ID)); len(ms) != 2 {
		t.Errorf("%d meter entries, want the first and one more", len(ms))
	}
}

// TestHoursTooFast: a day has 24 hours, so a decimal point that was forgotten
// is found at once, from either side of the entry.
func TestHoursTooFast(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	root := must[int64](t)(b.AddMeter(ctx, e.ID, "2024-06-01", 15_230))
	_, err := b.AddMeter(ctx, e.ID, "2024-06-10", 160_010)
	bad := refusal(t, err, "hours", "1600.1 h on 2024-06-10 and 152.3 h on 2024-06-01 are 1447.8 h apart, more than 24 a day", "decimal point")
	if want := fmt.Sprintf("/engines/%d/meter/%d/correct", e.ID, root); bad[0].Href != want {
		t.Errorf("the way out is %q, want %q", bad[0].Href, want)
	}
	_, err = b.AddMeter(ctx, e.ID, "2024-05-30", 7_000)
	refusal(t, err, "hours", "70.0 h on 2024-05-30 and 152.3 h on 2024-06-01 are 82.3 h apart")
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-05-30", 8_030)) // 72 h in three days
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-06-10", 16_001))
	refusal(t, b.CorrectMeter(ctx, root, "2024-06-01", 15_231, "read again"), "hours", "more than 24 a day")
	ok(t, b.CorrectMeter(ctx, root, "2024-06-01", 15_200, "read again"))
	ok(t, b.ReplaceMeter(ctx, e.ID, "2024-06-11", 16_100, 160_010, "another meter"))
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-06-12", 160_500))
}

// TestReplacedMeter: the old meter stood at 300 h, the new one began at 10 h,
// so 290 h are added to what it shows.
func TestReplacedMeter(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	refusal(t, b.ReplaceMeter(ctx, e.ID, "2024-06-01", 30_000, 1_000, " "), "reason")
	ok(t, b.ReplaceMeter(ctx, e.ID, "2024-06-01", 30_000, 1_000, "meter failed"))
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-09-01", 6_000))
	e = must[Engine](t)(b.Engine(ctx, e.ID))
	if e.Hours != 35_000 || e.Offset != 29_000 {
		t.Errorf("the engine has %s h with an offset of %s h, want 350 and 290", e.Hours, e.Offset)
	}
	if h := must[Hours](t)(b.PartHours(ctx, part)); *h.SinceInstall != 35_000 || h.SinceNew != 35_000 {
		t.Errorf("the part has run %s h", h.SinceNew)
	}
	refusal(t, b.ReplaceMeter(ctx, e.ID, "2024-08-01", 5_000, 0, "again"), "day", "1 meter entries after")

	var replaced MeterEntry
	for _, m := range must[[]MeterEntry](t)(b.Meter(ctx, e.ID)) {
		if m.Kind == "replaced" {
			replaced = m
		}
	}
	ok(t, b.CorrectMeter(ctx, replaced.Root, "2024-06-01", 0, "the new meter began at 0"))
	e = must[Engine](t)(b.Engine(ctx, e.ID))
	if e.Hours != 36_000 || e.Offset != 30_000 {
		t.Errorf("after the correction the engine has %s h with an offset of %s h, want 360 and 300", e.Hours, e.Offset)
	}
}

// TestMeterCorrection: hours of parts, of installations and of readings that
// were entered with a meter entry follow its correction.
func TestMeterCorrection(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	measure(t, b, e, 1, part, "2024-01-01", 0, "5.2500")
	measure(t, b, e, 1, part, "2024-06-01", 30_000, "5.2520")
	points := func() []wear.Point {
		ss := must[[]Series](t)(b.SeriesOf(ctx, part))
		if len(ss) != 1 {
			t.Fatalf("%d series", len(ss))
		}
		return ss[0].Points
	}
	if ps := points(); len(ps) != 2 || ps[1].Hours != 300 {
		t.Fatalf("points %+v", ps)
	}
	ms := must[[]MeterEntry](t)(b.Meter(ctx, e.ID))
	refusal(t, b.CorrectMeter(ctx, ms[0].Root, "2024-06-01", 20_000, ""), "reason")
	ok(t, b.CorrectMeter(ctx, ms[0].Root, "2024-06-01", 20_000, "misread"))
	if ps := points(); ps[1].Hours != 200 {
		t.Errorf("after the correction the reading stands at %g h, want 200", ps[1].Hours)
	}
	if h := must[Hours](t)(b.PartHours(ctx, part)); h.SinceNew != 20_000 {
		t.Errorf("the part has run %s h, want 200", h.SinceNew)
	}
	ms = must[[]MeterEntry](t)(b.Meter(ctx, e.ID))
	struck := 0
	for _, m := range ms {
		if m.Struck {
			struck++
			if m.Shows != 30_000 {
				t.Errorf("the struck entry shows %s h", m.Shows)
			}
		}
	}
	if len(ms) != 3 || struck != 1 {
		t.Errorf("%d entries, %d struck; want 3 with the old one struck", len(ms), struck)
	}
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-09-01", 40_000))
	refusal(t, b.CorrectMeter(ctx, ms[0].Root, "2024-06-01", 50_000, "no"), "hours", "backwards")
	if _, err := b.MeterEntry(ctx, 999); !errors.Is(err, ErrNotFound) {
		t.Errorf("an entry that is not there: %v", err)
	}
}

// TestMeterCorrectionKeepsDay: a meter entry keeps its date while something that
// was entered with it has it.
func TestMeterCorrectionKeepsDay(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := onShelf(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"})
	ok(t, b.Install(ctx, part, Place{Engine: e.ID, Position: 1}, "2024-02-01", 1_000))
	measure(t, b, e, 1, part, "2024-03-01", 2_000, "5.2500")
	var root int64
	for _, m := range must[[]MeterEntry](t)(b.Meter(ctx, e.ID)) {
		if m.Shows == 1_000 {
			root = m.Root
		}
	}
	refusal(t, b.CorrectMeter(ctx, root, "2024-04-01", 3_000, "moved"), "day", "1 installation")
	if m := must[MeterEntry](t)(b.MeterEntry(ctx, root)); m.Shows != 1_000 {
		t.Errorf("a refused correction was kept: %+v", m)
	}
}

// TestKeptRows: the file itself refuses to change or delete what was written,
// whatever program tries.
func TestKeptRows(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	measure(t, b, e, 1, part, "2024-06-01", 30_000, "5.2520")
	for statement, words := range map[string]string{
		"UPDATE reading SET value = 1":        "a reading is never changed",
		"DELETE FROM reading":                 "a reading is never deleted",
		"UPDATE meter SET shows = 0":          "a meter entry is never changed",
		"DELETE FROM meter":                   "a meter entry is never deleted",
		"UPDATE limit_row SET service_max =0": "a limit is never changed",
	} {
		if _, err := b.write.ExecContext(ctx, statement); err == nil || !strings.Contains(err.Error(), words) {
			t.Errorf("%s: %v, want it to say %q", statement, err, words)
		}
	}
	if _, err := b.read.ExecContext(ctx, "DELETE FROM imported"); err == nil {
		t.Error("the readers' connections can write")
	}
}
