package store

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"barrelbook/wear"
)

// open makes an empty book in a folder of the test's own.
func open(t testing.TB) *Book {
	t.Helper()
	b, err := Open(context.Background(), filepath.Join(t.TempDir(), "book.db"))
	if err != nil {
		t.Fatal(err)
	}
	b.now = func() time.Time { return time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC) }
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

func must[T any](t testing.TB) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func inches(t testing.TB, text string) wear.Value {
	t.Helper()
	return must[wear.Value](t)(wear.ParseValue(text, wear.Inch))
}

func ptr[T any](v T) *T { return &v }

// addRadial makes a nine-cylinder radial at 0 hours on 2024-01-01 with limits
// for its barrels.
func addRadial(t testing.TB, b *Book, serial string) Engine {
	t.Helper()
	ctx := context.Background()
	id := must[int64](t)(b.AddEngine(ctx, NewEngine{Serial: serial, Model: "Invented 9", Arrangement: "radial", Cylinders: 9, MasterRod: 5, Day: "2024-01-01"}))
	e := must[Engine](t)(b.Engine(ctx, id))
	if ls := must[Limits](t)(b.LimitsOf(ctx, e.Model.ID, "")); len(ls.Rows) > 0 {
		return e
	}
	err := b.AddLimit(ctx, LimitRow{Model: e.Model.ID, Feature: feature(t, b, wear.Cylinder, "barrel bore").ID, Unit: wear.Inch, Document: "Invented manual", Revision: "1", Page: "12",
		Limit: wear.Limit{NewMin: ptr(inches(t, "5.2490")), NewMax: ptr(inches(t, "5.2510")), ServiceMax: ptr(inches(t, "5.2600")), Wear: wear.Up, Life: 120000}})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func feature(t testing.TB, b *Book, kind wear.Kind, name string) wear.Feature {
	t.Helper()
	x := must[featureIndex](t)(findFeatureIndex(context.Background(), b.read))
	f := x.called(kind, name)
	if f == nil {
		t.Fatalf("no feature %s", name)
	}
	return *f
}

// addFitted makes a part and fits it on 2024-01-01.
func addFitted(t testing.TB, b *Book, p Part, at Place) int64 {
	t.Helper()
	if p.Source == "" {
		p.Source = "new"
	}
	id := must[int64](t)(b.AddPart(context.Background(), p))
	if err := b.Install(context.Background(), id, at, "2024-01-01", 0); err != nil {
		t.Fatal(err)
	}
	return id
}

// measure saves a sheet with the same bore at one station.
func measure(t testing.TB, b *Book, e Engine, position int, part int64, day wear.Day, hours wear.Hours, bore string) int64 {
	t.Helper()
	f := feature(t, b, wear.Cylinder, "barrel bore")
	return must[int64](t)(b.SaveSheet(context.Background(), NewSheet{Sheet: Sheet{Day: day, Engine: e.ID, Position: position}, Shows: &hours,
		Readings: []NewReading{{Part: part, Feature: f.ID, Station: "top", Axis: "thrust", Value: inches(t, bore), Typed: bore, Unit: wear.Inch, SD: 5080, Resolution: 2540}}}))
}

// TestYoungBarrel: common practice, no source: a barrel that under 100 h has
// worn what normally takes about 1,000 h is found at that first inspection,
// in a fleet of one nine-cylinder engine.
func TestYoungBarrel(t *testing.T) {
	b := open(t)
	ctx := context.Background()
	e := addRadial(t, b, "R-1")
	bores := map[wear.Hours][9]string{
		0:     {"5.2500", "5.2498", "5.2502", "5.2501", "5.2499", "5.2500", "5.2503", "5.2497", "5.2500"},
		30000: {"5.2521", "5.2517", "5.2525", "5.2520", "5.2521", "5.2519", "5.2527", "5.2516", "5.2522"},
		60000: {"5.2535", "5.2530", "5.2540", "5.2533", "5.2536", "5.2532", "5.2543", "5.2530", "5.2537"},
	}
	parts := [9]int64{}
	for i := range parts {
		parts[i] = addFitted(t, b, Part{Kind: wear.Cylinder, Serial: string(rune('A' + i))}, Place{Engine: e.ID, Position: i + 1})
	}
	days := map[wear.Hours]wear.Day{0: "2024-01-01", 30000: "2024-06-01", 60000: "2025-01-01"}
	for _, h := range []wear.Hours{0, 30000, 60000} {
		for i, p := range parts {
			measure(t, b, e, i+1, p, days[h], h, bores[h][i])
		}
	}
	if fs := must[[]Finding](t)(b.FastWear(ctx)); len(fs) != 0 {
		t.Fatalf("normal barrels are flagged: %+v", fs)
	}
	if err := b.Remove(ctx, parts[3], "2025-01-01", 60000, "cracked head", true); err != nil {
		t.Fatal(err)
	}
	young := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "YOUNG", Source: "new"}))
	if err := b.Install(ctx, young, Place{Engine: e.ID, Position: 4}, "2025-01-01", 60000); err != nil {
		t.Fatal(err)
	}
	measure(t, b, e, 4, young, "2025-01-01", 60000, "5.2500")
	measure(t, b, e, 4, young, "2025-04-01", 66100, "5.2556")
	fs := must[[]Finding](t)(b.FastWear(ctx))
	if len(fs) != 1 || fs[0].Part != young {
		t.Fatalf("findings = %+v, want the young barrel alone", fs)
	}
	f := fs[0]
	t.Logf("%s (ratio %.2f, p %.2g, against %d runs)", f.Sentence, f.Ratio, f.Chance, f.Refs)
	if f.Hours != 61 || f.Equivalent < 700 || f.Equivalent > 1500 {
		t.Errorf("worn like %.0f h at %.0f h, want about 1,000 h at 61 h", f.Equivalent, f.Hours)
	}
}
