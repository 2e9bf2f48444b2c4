package store

import (
	"context"
	"slices"
	"strings"
	"testing"

	"barrelbook/wear"
)

// groundInJob is a used barrel that ran to 400 h, was measured, ground to 0.010
// in a job, measured, refitted, and measured at 500 h.
func groundInJob(t *testing.T) (b *Book, e Engine, part int64) {
	t.Helper()
	b = open(t)
	ctx := context.Background()
	e = addRadial(t, b, "R-1")
	part = addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1", Source: "serviceable used"}, Place{Engine: e.ID, Position: 1})
	job := must[int64](t)(b.OpenJob(ctx, NewJob{Job: Job{Engine: e.ID, Why: "oil use", Day: "2024-06-01", Stands: 1}, Shows: ptr[wear.Hours](40_000), Positions: []int{1}}))
	ok(t, move(b, job, JobPulled, 1, ""))
	measure(t, b, e, 1, part, "2024-06-01", 40_000, "5.2590")
	ok(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Ground, Day: "2024-06-02", Oversize: ptr(inches(t, "0.0100"))}, ""))
	measure(t, b, e, 1, part, "2024-06-03", 40_000, "5.2600")
	ok(t, move(b, job, JobRefitted, 1, ""))
	ok(t, b.RefitJob(ctx, job, "2024-06-04", 40_000, "", "u", 1<<40))
	measure(t, b, e, 1, part, "2024-12-01", 50_000, "5.2604")
	return b, e, part
}

// TestWorkInAJobMovesWithHours: work in a job stands where the engine's hours of
// the job are on the part's own clock, also when its hours before or the meter
// are corrected afterwards. By the meaning of hours in a run; no source.
func TestWorkInAJobMovesWithHours(t *testing.T) {
	ctx := context.Background()
	runs := func(t *testing.T, b *Book, part int64, start wear.Hours, want, before []float64) {
		t.Helper()
		ss := must[[]Series](t)(b.SeriesOf(ctx, part))
		if len(ss) != 2 || ss[0].Start.At != start {
			t.Fatalf("runs %+v, want two, the second from %s h", ss, start)
		}
		for i, hours := range [][]float64{want, before} {
			var got []float64
			for _, p := range ss[i].Points {
				if !p.Assumed {
					got = append(got, p.Hours)
				}
			}
			if !slices.Equal(got, hours) {
				t.Errorf("run %d was measured at %v h, want %v", ss[i].Run, got, hours)
			}
		}
	}
	t.Run("as entered", func(t *testing.T) {
		b, _, part := groundInJob(t)
		runs(t, b, part, 40_000, []float64{0, 100}, []float64{400})
		if _, err := b.write.ExecContext(ctx, "UPDATE mark SET meter_root = NULL"); err == nil {
			t.Error("what tells the hours of work could be changed")
		}
		sound(t, b)
	})
	t.Run("hours before", func(t *testing.T) {
		b, _, part := groundInJob(t)
		p := must[Part](t)(b.Part(ctx, part))
		p.HoursBefore = 50_000
		ok(t, b.SavePart(ctx, p))
		runs(t, b, part, 90_000, []float64{0, 100}, []float64{900})
	})
	t.Run("meter", func(t *testing.T) {
		b, e, part := groundInJob(t)
		for _, day := range []wear.Day{"2024-06-01", "2024-06-03", "2024-06-04"} {
			for _, m := range must[[]MeterEntry](t)(b.Meter(ctx, e.ID)) {
				if m.Day == day && !m.Struck && m.Hours == 40_000 {
					ok(t, b.CorrectMeter(ctx, m.Root, m.Day, 39_000, "misread"))
				}
			}
		}
		runs(t, b, part, 39_000, []float64{0, 110}, []float64{390})
	})
}

// TestGroundOnTheShelf: what was measured before the first work on a part, at
// the same hours, is not of the run that the work began.
func TestGroundOnTheShelf(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "C-1", Source: "serviceable used", ModelID: e.Model.ID}))
	bore := func(day wear.Day, value string) {
		r := reading(t, b, part, wear.Cylinder, "barrel bore", 0, value)
		r.Station = "top"
		must[int64](t)(b.SaveSheet(ctx, NewSheet{Sheet: Sheet{Day: day}, Readings: []NewReading{r}}))
	}
	bore("2024-03-01", "5.2630")
	ok(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Ground, Day: "2024-03-05", Oversize: ptr(inches(t, "0.0100"))}, ""))
	bore("2024-03-06", "5.2605")
	ss := must[[]Series](t)(b.SeriesOf(ctx, part))
	if len(ss) != 2 || ss[0].Oversize != inches(t, "0.0100") || ss[0].Verdict != wear.New || ss[1].Oversize != 0 || ss[1].Verdict != wear.Beyond {
		t.Errorf("runs %+v", ss)
	}
}

// TestWorkThatCannotBe: a whole size where one over standard is asked, work that
// is not done on a kind of part, and a size or groove that the work does not
// take are refused on the page and in a file.
func TestWorkThatCannotBe(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	parts := map[wear.Kind]int64{}
	for _, k := range wear.Kinds {
		parts[k] = must[int64](t)(b.AddPart(ctx, Part{Kind: k, Serial: "X", Source: "serviceable used", ModelID: e.Model.ID}))
	}
	for _, c := range []struct {
		kind     wear.Kind
		event    wear.Event
		oversize string
		groove   int
		field    string // empty where it is good
	}{
		{wear.Cylinder, wear.Ground, "0.010", 0, ""},
		{wear.Cylinder, wear.Ground, "0.1000", 0, ""},
		{wear.Cylinder, wear.Ground, "0.1001", 0, "oversize"},
		{wear.Cylinder, wear.Ground, "5.2600", 0, "oversize"}, // the bore
		{wear.Cylinder, wear.Ground, "0", 0, "oversize"},
		{wear.Cylinder, wear.Ground, "-0.010", 0, "oversize"},
		{wear.Cylinder, wear.Ground, "", 0, "oversize"},
		{wear.Cylinder, wear.Honed, "5.2520", 0, "oversize"},
		{wear.Cylinder, wear.Honed, "", 1, "groove"},
		{wear.Cylinder, wear.Plated, "0", 0, ""}, // back to standard
		{wear.Cylinder, wear.Plated, "5.25", 0, "oversize"},
		{wear.Cylinder, wear.Regrooved, "", 0, "event"},
		{wear.Cylinder, wear.MateReplaced, "", 0, "event"},
		{wear.Piston, wear.Regrooved, "", 2, ""},
		{wear.Piston, wear.Honed, "", 0, "event"},
		{wear.Pin, wear.Regrooved, "", 0, "event"},
		{wear.Ring, wear.Plated, "", 0, "event"},
		{wear.Pin, wear.Overhauled, "", 0, ""},
	} {
		m := wear.Mark{Event: c.event, Day: "2024-01-02", Groove: c.groove}
		row := HistoryRow{Line: 2, Day: m.Day, Model: "Invented 9", Kind: c.kind, Serial: "X", Event: string(m.Event), PartHours: new(wear.Hours), Value: c.oversize, Unit: "in", Groove: c.groove}
		if c.oversize != "" {
			m.Oversize = ptr(inches(t, c.oversize))
		}
		err, report := b.AddMark(ctx, parts[c.kind], m, ""), importRows(t, b, true, row)
		if c.field == "" {
			if err != nil || !report.OK() {
				t.Errorf("%s %s %q: %v, %v", c.kind, c.event, c.oversize, err, report.Errors)
			}
			continue
		}
		refusal(t, err, c.field)
		if column := map[string]string{"oversize": "value", "groove": "groove", "event": "event"}[c.field]; report.OK() || report.Errors[0].Column != column {
			t.Errorf("a row of a file, %s %s %q: %+v, want it refused at %s", c.kind, c.event, c.oversize, report.Errors, column)
		}
	}
	for _, o := range []string{"-4.0", "5.25", "-0.0001"} {
		_, err := b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "Y", Source: "new", Oversize: inches(t, o)})
		refusal(t, err, "oversize", "over standard")
	}
}

// TestCorrectedDigits: a number that is corrected is as fine as its last digit,
// where no gauge is named.
func TestCorrectedDigits(t *testing.T) {
	b, ctx := open(t), context.Background()
	part := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "C-1", Source: "new"}))
	n := reading(t, b, part, wear.Cylinder, "barrel bore", 0, "5.25")
	n.Resolution = inches(t, "0.01")
	must[int64](t)(b.SaveSheet(ctx, NewSheet{Sheet: Sheet{Day: "2024-01-02"}, Readings: []NewReading{n}}))
	r := must[[]Reading](t)(b.ReadingsOf(ctx, part))[0]
	ok(t, b.CorrectReading(ctx, r.ID, inches(t, "5.2503"), "5.2503", "", "digits left out"))
	if r = must[Reading](t)(b.Reading(ctx, r.Root)); r.Resolution != inches(t, "0.0001") {
		t.Errorf("read to %s in, want 0.0001", r.Resolution.Format(wear.Inch))
	}
}

// TestImportOddRows: a row that a file has twice, one of them at the line where
// an earlier file had it; and a day after tomorrow.
func TestImportOddRows(t *testing.T) {
	b := open(t)
	row := func(line int, day wear.Day, hours wear.Hours) HistoryRow {
		return barrelRow(line, day, hours, 1, "C-1", "5.2540")
	}
	importRows(t, b, false, row(5, "2024-06-01", 15_000))
	if r := importRows(t, b, false, row(2, "2024-06-01", 15_000), row(5, "2024-06-01", 15_000)); !r.OK() || r.Readings != 1 || r.Already != 1 {
		t.Errorf("the row again, and once more: %+v", r)
	}
	r := importRows(t, b, false, row(2, "2026-05-02", 16_000), row(3, "2026-05-03", 16_000)) // the book's day is 2026-05-01
	if r.BadRows != 1 || r.Errors[0].Line != 3 || r.Errors[0].Column != "date" || !strings.Contains(r.Errors[0].Reason, "future") {
		t.Errorf("days to come: %+v", r.Errors)
	}
}

// TestAuditTakesTextWhole: the audit tells of a text with a NUL in it what the
// book has of it.
func TestAuditTakesTextWhole(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	n := NewEngine{Serial: "R-1", Model: "Invented 9", Arrangement: "radial", Cylinders: 9, MasterRod: 5}
	for _, n.Aircraft = range []string{"a\x00b", "x"} {
		ok(t, b.SaveEngine(ctx, e.ID, n))
	}
	sound(t, b)
}

// TestBookBeforeToldHours: a book of the version before opens, and the hours that
// it kept of readings and work stand.
func TestBookBeforeToldHours(t *testing.T) {
	ctx := context.Background()
	path := olderBook(t, 11, "INSERT INTO sheet (id, uid, day, saved_at) VALUES (2, 'v', '2024-03-01', '')",
		"INSERT INTO reading (id, root, sheet_id, part_id, feature_id, station, axis, value, unit, part_hours, saved_at) VALUES (6, 6, 2, 1, 1, 'top', 'thrust', 133352000, 'in', 30000, '')",
		"INSERT INTO mark (id, part_id, event, day, at_hours, saved_at) VALUES (1, 1, 'honed', '2024-03-02', 30000, '')")
	b := must[*Book](t)(Open(ctx, path))
	hasHours(t, b, 1, 30_000)
	if ms := must[[]MarkRow](t)(b.Marks(ctx, 1)); len(ms) != 2 || ms[1].At != 30_000 {
		t.Errorf("work %+v", ms)
	}
	r := must[Reading](t)(b.Reading(ctx, 6))
	if at := must[wear.Hours](t)(must[PartClock](t)(b.PartClock(ctx, 1)).At(r)); at != 30_000 {
		t.Errorf("measured at %s h", at)
	}
	e := must[Engine](t)(b.Engine(ctx, 1))
	ok(t, b.Install(ctx, 1, Place{Engine: e.ID, Position: 1}, "2024-04-01", 10_000))
	measure(t, b, e, 1, 1, "2024-06-01", 20_000, "5.2530")
	hasHours(t, b, 1, 40_000)
	ok(t, b.CorrectReading(ctx, 6, inches(t, "5.2510"), "5.2510", "", "misread"))
	hasHours(t, b, 1, 40_000)
	sound(t, b)
	ok(t, b.Close())
}
