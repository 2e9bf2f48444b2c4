package store

import (
	"context"
	"errors"
	"strings"
	"testing"

	"barrelbook/wear"
)

// TestHappened: what has happened has no day ahead of the book's clock, which
// stands at 2026-05-01, save tomorrow's, and none of another age.
func TestHappened(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	shelf := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "C-77", Source: "new"}))
	shows := wear.Hours(90_000)
	sheet := func(day wear.Day) error {
		_, err := b.SaveSheet(ctx, NewSheet{Sheet: Sheet{Day: day, Engine: e.ID, Position: 1}, Shows: &shows, Readings: []NewReading{{Part: parts[0], Feature: 1, Value: inches(t, "5.25"), Typed: "5.25", Unit: wear.Inch}}})
		return err
	}
	tried := map[string]func(wear.Day) error{
		"an engine": func(d wear.Day) error {
			_, err := b.AddEngine(ctx, NewEngine{Serial: "R-9", Model: "Invented 9", Arrangement: "radial", Cylinders: 9, Day: d})
			return err
		},
		"a sheet": sheet,
		"a leak test": func(d wear.Day) error {
			_, err := b.SaveLeakTest(ctx, NewLeakTest{LeakTest: LeakTest{Engine: e.ID, Day: d, Regulated: 800, Orifice: 1_524_000, Unit: wear.Inch}, Shows: &shows, Readings: []NewLeakReading{{Position: 1, Reading: 700}}})
			return err
		},
		"an installation": func(d wear.Day) error {
			return b.InstallAll(ctx, e.ID, 9, d, shows, []Fitting{{Part: Part{ID: shelf}, Field: "serial"}})
		},
		"a removal": func(d wear.Day) error { return b.Remove(ctx, parts[0], d, shows, "cracked", false) },
		"scrapping": func(d wear.Day) error { return b.ScrapPart(ctx, shelf, d, "cracked") },
		"a job": func(d wear.Day) error {
			_, err := b.OpenJob(ctx, NewJob{Job: Job{Engine: e.ID, Why: "oil use", Day: d, Stands: 1}, Shows: &shows, Positions: []int{1}})
			return err
		},
	}
	for what, try := range tried {
		for day, says := range map[wear.Day]string{"2026-05-03": "today is 2026-05-01", "2062-04-30": "lies ahead", "1900-01-01": "is the year right"} {
			var bad Invalid
			if err := try(day); !errors.As(err, &bad) || !strings.Contains(bad.For("day"), says) {
				t.Errorf("%s on %s: %v", what, day, err)
			}
		}
	}
	if err := sheet("2023-01-01"); err == nil {
		t.Error("a sheet from before the cylinder was fitted is filed at today's hours")
	}
	ok(t, sheet("2026-05-02"))
	row := barrelRow(2, "2026-05-04", 10_000, 1, "C-300", "5.2500")
	if report := importRows(t, b, true, row); report.OK() || report.Errors[0].Column != "date" || report.Errors[0].Value != "2026-05-04" {
		t.Errorf("an import of a day ahead: %+v", report)
	}
}
