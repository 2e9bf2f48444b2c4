package store

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"barrelbook/wear"
)

// replacement is the entry in force of an engine's first replacement from a day
// on.
func replacement(t *testing.T, b *Book, engine int64, day wear.Day) MeterEntry {
	t.Helper()
	ms := must[[]MeterEntry](t)(b.Meter(context.Background(), engine))
	i := slices.IndexFunc(ms, func(m MeterEntry) bool { return m.Day == day && m.Replaced() && !m.Struck })
	if i < 0 {
		t.Fatalf("no replacement on %s among %+v", day, ms)
	}
	return ms[i]
}

// readOn is the entry in force of a reading of a day.
func readOn(t *testing.T, b *Book, engine int64, day wear.Day) MeterEntry {
	t.Helper()
	ms := must[[]MeterEntry](t)(b.Meter(context.Background(), engine))
	i := slices.IndexFunc(ms, func(m MeterEntry) bool { return m.Day == day && !m.Replaced() && !m.Struck })
	if i < 0 {
		t.Fatalf("no reading on %s among %+v", day, ms)
	}
	return ms[i]
}

// TestReplacementCorrected: an engine's total is what its meters ran, each from
// where it began to where it stood, whatever number of a replacement was wrong
// first. By the meaning of a total; no source.
func TestReplacementCorrected(t *testing.T) {
	ctx := context.Background()
	const swap, later = "2024-02-01", "2024-09-01"
	for _, c := range []struct {
		name                 string
		old, began           wear.Hours // as they were typed at first
		fix                  func(t *testing.T, b *Book, e int64)
		rightOld, rightBegan wear.Hours
	}{
		{"old meter misread low, its reading corrected", 48_000, 0, func(t *testing.T, b *Book, e int64) {
			ok(t, b.CorrectMeter(ctx, readOn(t, b, e, swap).Root, swap, 50_000, "misread"))
		}, 50_000, 0},
		{"old meter misread high, its reading corrected", 58_000, 0, func(t *testing.T, b *Book, e int64) {
			ok(t, b.CorrectMeter(ctx, readOn(t, b, e, swap).Root, swap, 50_000, "misread"))
		}, 50_000, 0},
		{"old meter misread, the replacement corrected", 58_000, 0, func(t *testing.T, b *Book, e int64) {
			ok(t, b.CorrectReplaced(ctx, replacement(t, b, e, swap).Root, swap, 50_000, 0, "misread"))
		}, 50_000, 0},
		{"new meter began elsewhere", 50_000, 0, func(t *testing.T, b *Book, e int64) {
			ok(t, b.CorrectReplaced(ctx, replacement(t, b, e, swap).Root, swap, 50_000, 1_000, "it began at 10"))
		}, 50_000, 1_000},
		{"set to the old one's figure, corrected", 50_000, 50_000, func(t *testing.T, b *Book, e int64) {
			ok(t, b.CorrectMeter(ctx, replacement(t, b, e, swap).Root, swap, 49_000, "it was set to 490"))
		}, 50_000, 49_000},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := open(t)
			e := addRadial(t, b, "R-1")
			part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
			ok(t, b.ReplaceMeter(ctx, e.ID, swap, c.old, c.began, "failed"))
			c.fix(t, b, e.ID)
			must[int64](t)(b.AddMeter(ctx, e.ID, later, c.rightBegan+2_000)) // 20 h on the new meter
			want := c.rightOld + 2_000
			if e := must[Engine](t)(b.Engine(ctx, e.ID)); e.Hours != want || e.Offset != c.rightOld-c.rightBegan {
				t.Errorf("the engine has %s h with %s h added, want %s and %s", e.Hours, e.Offset, want, c.rightOld-c.rightBegan)
			}
			if m := replacement(t, b, e.ID, swap); m.Stood != c.rightOld || m.Shows != c.rightBegan || m.Hours != c.rightOld {
				t.Errorf("the replacement says %s, %s, %s h in total; want %s, %s, %s", m.Stood, m.Shows, m.Hours, c.rightOld, c.rightBegan, c.rightOld)
			}
			if h := must[Hours](t)(b.PartHours(ctx, part)); h.SinceNew != want {
				t.Errorf("the part has run %s h, want %s", h.SinceNew, want)
			}
			if old := readOn(t, b, e.ID, swap); b.CorrectMeter(ctx, old.Root, swap, old.Shows, "nothing") == nil {
				t.Error("a correction that changes nothing was taken")
			}
			sound(t, b)
		})
	}
}

// TestEarlierReplacementCorrected: a correction of one replacement moves the
// totals after later ones too.
func TestEarlierReplacementCorrected(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	ok(t, b.ReplaceMeter(ctx, e.ID, "2024-02-01", 50_000, 0, "failed"))
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-03-01", 10_000))
	ok(t, b.ReplaceMeter(ctx, e.ID, "2024-04-01", 20_000, 0, "failed too"))
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-05-01", 5_000))
	ok(t, b.CorrectMeter(ctx, replacement(t, b, e.ID, "2024-02-01").Root, "2024-02-01", 5_000, "it began at 50"))
	want := map[wear.Day]wear.Hours{"2024-03-01": 55_000, "2024-04-01": 65_000, "2024-05-01": 70_000} // 500 + (200 − 50) + 50
	for _, m := range must[[]MeterEntry](t)(b.Meter(ctx, e.ID)) {
		if h, asked := want[m.Day]; asked && !m.Struck && m.Hours != h {
			t.Errorf("%s on %s: %s h in total, want %s", m.Kind, m.Day, m.Hours, h)
		}
	}
}

// TestReadingsOfOneDay: nobody keeps the time of day, so readings of a day come
// in any order; the engine has the higher.
func TestReadingsOfOneDay(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-03-01", 10_200))
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-03-01", 10_000))
	if e := must[Engine](t)(b.Engine(ctx, e.ID)); e.Hours != 10_200 {
		t.Errorf("the engine has %s h, want 102", e.Hours)
	}
	_, err := b.AddMeter(ctx, e.ID, "2024-03-02", 10_100)
	refusal(t, err, "hours", "backwards", "102.0 h on 2024-03-01")
	ok(t, b.ReplaceMeter(ctx, e.ID, "2024-03-03", 10_300, 0, "failed")) // before and after it on one day
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-03-03", 100))
	must[int64](t)(b.AddMeter(ctx, e.ID, "2024-03-03", 10_250))
	for shows, want := range map[wear.Hours]wear.Hours{100: 10_400, 10_250: 10_250, 10_300: 10_300} {
		ms := must[[]MeterEntry](t)(b.Meter(ctx, e.ID))
		i := slices.IndexFunc(ms, func(m MeterEntry) bool { return m.Day == "2024-03-03" && m.Shows == shows })
		if i < 0 || ms[i].Hours != want {
			t.Errorf("%s on the day of the replacement: %+v, want %s h in total", shows, ms, want)
		}
	}
}

// TestMeterDayStays: with its sheet withdrawn, a meter entry's date can be
// corrected, and the sheet's numbers no longer be put back.
func TestMeterDayStays(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	sheet, readings, err := b.Sheet(ctx, measure(t, b, e, 1, part, "2024-11-01", 10_000, "5.2530"))
	ok(t, err)
	refusal(t, b.CorrectMeter(ctx, sheet.MeterRoot, "2024-10-01", 10_000, "wrong month"), "day", "1 sheet", "2024-11-01")
	ok(t, b.CorrectMeter(ctx, sheet.MeterRoot, "2024-11-01", 10_010, "tenth misread"))
	for _, r := range readings {
		ok(t, b.CorrectReading(ctx, r.ID, 0, "", "", "wrong month"))
	}
	ok(t, b.CorrectMeter(ctx, sheet.MeterRoot, "2024-10-01", 10_010, "wrong month"))
	r := must[[]Reading](t)(b.ReadingsOf(ctx, part))[0]
	refusal(t, b.CorrectReading(ctx, r.ID, inches(t, "5.2530"), "5.2530", "", "was right"), "value", "2024-10-01")
	sound(t, b)
}

// TestRefitFollowsMeter: what a job says of its refit are the hours that the
// meter entry has now.
func TestRefitFollowsMeter(t *testing.T) {
	s, ctx := newShopJob(t), context.Background()
	s.move(JobPulled, 1, 2)
	s.move(JobRefitted, 1, 2)
	s.place(1, wear.Ring, 1, "R9", "x")
	ok(t, s.RefitJob(ctx, s.job, fitDay, 40_500, "R. Moss", "fit-1", 1<<40))
	for _, m := range must[[]MeterEntry](t)(s.Meter(ctx, s.engine)) {
		if m.Hours == 40_500 {
			ok(t, s.CorrectMeter(ctx, m.Root, m.Day, 40_600, "misread"))
		}
	}
	said := 0
	for _, x := range must[[]JobEntry](t)(s.JobEntries(ctx, s.job)) {
		if h, is := x.FittedAt(); is {
			if said++; h != 40_600 || x.Text != "at 406.0 h" {
				t.Errorf("the refit was at %s h, %q", h, x.Text)
			}
		}
	}
	if said != 1 {
		t.Errorf("%d entries say when the refit was", said)
	}
	sound(t, s.Book)
}

// TestMeterChainComesRight: whatever number was wrong at first, once all are
// corrected the totals are those of a chain typed right. By the meaning of a
// total; random meters.
func TestMeterChainComesRight(t *testing.T) {
	ctx := context.Background()
	rng := rand.New(rand.NewPCG(5, 14))
	for range 12 {
		b := open(t)
		e := addRadial(t, b, "R-1")
		type event struct {
			day        wear.Day
			shows, old wear.Hours
			replaced   bool
			root       int64
			total      wear.Hours
			slip       wear.Hours
		}
		var events []event
		var shows, total wear.Hours
		for month := range 9 {
			ran := wear.Hours(1_000 + rng.Int64N(4_000))
			shows, total = shows+ran, total+ran
			x := event{day: wear.Day([]string{"2024-02-01", "2024-03-01", "2024-04-01", "2024-05-01", "2024-06-01", "2024-07-01", "2024-08-01", "2024-09-01", "2024-10-01"}[month]), shows: shows, total: total, slip: wear.Hours(rng.Int64N(400)) - 200}
			if rng.IntN(3) == 0 {
				x.replaced, x.old, x.shows = true, shows, wear.Hours(rng.Int64N(50_000))
				shows = x.shows
			}
			events = append(events, x)
		}
		for i, x := range events { // typed with slips
			if x.replaced {
				ok(t, b.ReplaceMeter(ctx, e.ID, x.day, x.old+x.slip, x.shows+x.slip/2+100, "failed"))
				events[i].root = replacement(t, b, e.ID, x.day).Root
				continue
			}
			near := x.shows
			for j := i - 1; j >= 0; j-- {
				if events[j].replaced {
					near += events[j].slip/2 + 100
					break
				}
			}
			events[i].root = must[int64](t)(b.AddMeter(ctx, e.ID, x.day, near))
		}
		for range 4 { // a correction that another wrong number stands against waits for it
			for _, i := range rng.Perm(len(events)) {
				if x := events[i]; x.replaced {
					_ = b.CorrectReplaced(ctx, x.root, x.day, x.old, x.shows, "read again")
				} else {
					_ = b.CorrectMeter(ctx, x.root, x.day, x.shows, "read again")
				}
			}
		}
		for _, x := range events {
			if m := must[MeterEntry](t)(b.MeterEntry(ctx, x.root)); m.Hours != x.total || m.Shows != x.shows || m.Stood != x.old {
				t.Errorf("%s on %s: %s, old %s, %s h in total; want %s, %s, %s", m.Kind, x.day, m.Shows, m.Stood, m.Hours, x.shows, x.old, x.total)
			}
		}
		sound(t, b)
	}
}

// TestReadingKeepsItsMeter: whichever entry's date is corrected, a reading
// stays with the meter that it was read from. By the meaning of a total; no
// source.
func TestReadingKeepsItsMeter(t *testing.T) {
	ctx := context.Background()
	const before, swap = "2024-06-05", "2024-06-10"
	for _, c := range []struct {
		name         string
		stood, began wear.Hours
		shows        wear.Hours // of the old meter on the day before the swap, entered after it
		fix          func(t *testing.T, b *Book, e, reading int64)
	}{
		{"a small reading comes onto the day of the swap", 1_500, 1_000, 1_400, func(t *testing.T, b *Book, _, reading int64) {
			ok(t, b.CorrectMeter(ctx, reading, swap, 1_400, "wrong day"))
		}},
		{"a large one does", 30_000, 0, 29_900, func(t *testing.T, b *Book, _, reading int64) {
			ok(t, b.CorrectMeter(ctx, reading, swap, 29_900, "wrong day"))
		}},
		{"the swap comes onto the day of a small reading", 1_500, 1_000, 1_400, func(t *testing.T, b *Book, e, _ int64) {
			r := replacement(t, b, e, swap)
			ok(t, b.CorrectMeter(ctx, readOn(t, b, e, swap).Root, before, 1_500, "wrong day"))
			ok(t, b.CorrectReplaced(ctx, r.Root, before, 1_500, 1_000, "wrong day"))
		}},
		{"onto the day of a large one", 30_000, 0, 29_900, func(t *testing.T, b *Book, e, _ int64) {
			r := replacement(t, b, e, swap)
			ok(t, b.CorrectMeter(ctx, readOn(t, b, e, swap).Root, before, 30_000, "wrong day"))
			ok(t, b.CorrectReplaced(ctx, r.Root, before, 30_000, 0, "wrong day"))
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := open(t)
			e := addRadial(t, b, "R-1")
			ok(t, b.ReplaceMeter(ctx, e.ID, swap, c.stood, c.began, "failed"))
			reading := must[int64](t)(b.AddMeter(ctx, e.ID, before, c.shows))
			c.fix(t, b, e.ID, reading)
			if m := must[MeterEntry](t)(b.MeterEntry(ctx, reading)); m.Hours != c.shows || m.Offset != 0 {
				t.Errorf("the old meter's reading has %s h in total with %s h added, want %s and none", m.Hours, m.Offset, c.shows)
			}
			if e := must[Engine](t)(b.Engine(ctx, e.ID)); e.Hours != c.stood || e.Offset != c.stood-c.began {
				t.Errorf("the engine has %s h with %s h added, want %s and %s", e.Hours, e.Offset, c.stood, c.stood-c.began)
			}
			must[int64](t)(b.AddMeter(ctx, e.ID, "2024-07-01", c.began+2_000))
			if e := must[Engine](t)(b.Engine(ctx, e.ID)); e.Hours != c.stood+2_000 {
				t.Errorf("20 h later the engine has %s h, want %s", e.Hours, c.stood+2_000)
			}
			sound(t, b)
		})
	}
}
