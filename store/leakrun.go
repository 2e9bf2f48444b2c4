package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"barrelbook/wear"
)

// LeakRun is the leak tests of a cylinder since it was last fitted, or got
// another piston or ring, and what their leak areas say.
type LeakRun struct {
	Since    string        // what it began with: "it was fitted on 2024-01-01"
	Readings []LeakReading // in force, oldest first
	Leaks    []*wear.Leak  // of each; nil where too little pressure was held to size it
	Trend    wear.LeakTrend
	Span     float64 // hours from the first sized leak to the last
}

// Change is by how much the line through the leaks goes from the first to the
// last of them, mm², with its standard uncertainty.
func (r LeakRun) Change() (change, u float64) {
	return r.Trend.PerHour * r.Span, r.Trend.PerHourU * r.Span
}

// LeakRunOf is the run in hand of a cylinder: that of its newest test. It is
// empty where none was made.
func (b *Book) LeakRunOf(ctx context.Context, part int64) (LeakRun, error) {
	all, err := b.LeakReadingsOf(ctx, part)
	if err != nil {
		return LeakRun{}, err
	}
	all = slices.DeleteFunc(all, func(r LeakReading) bool { return r.Struck || r.Reading == nil })
	if len(all) == 0 {
		return LeakRun{}, nil
	}
	newest := all[0]
	begin, err := b.leakRunBegins(ctx, newest)
	if err != nil {
		return LeakRun{}, err
	}
	run := LeakRun{Since: begin.words}
	var points []wear.Point
	for _, r := range slices.Backward(all) {
		h := r.Test
		if h.Engine != newest.Test.Engine || h.Day < begin.day || h.Hours < begin.hours {
			continue
		}
		t, _ := r.Measured()
		leak, err := wear.LeakArea(t)
		run.Readings = append(run.Readings, r)
		if errors.Is(err, wear.ErrNoPressure) {
			run.Leaks = append(run.Leaks, nil)
			continue
		}
		if err != nil {
			return LeakRun{}, fmt.Errorf("leak of %s on %s: %w", r.Serial, h.Day, err)
		}
		run.Leaks = append(run.Leaks, &leak)
		p, err := leak.Point(h.Hours - begin.hours)
		if err != nil {
			return LeakRun{}, fmt.Errorf("leak of %s on %s: %w", r.Serial, h.Day, err)
		}
		points = append(points, p)
	}
	slices.SortStableFunc(points, func(a, b wear.Point) int { return cmp.Compare(a.Hours, b.Hours) })
	if n := len(points); n > 0 {
		run.Span = points[n-1].Hours - points[0].Hours
	}
	run.Trend, err = wear.TrendLeak(points)
	return run, err
}

type leakBegin struct {
	day   wear.Day
	hours wear.Hours // the engine's
	words string
}

// leakRunBegins finds what last set back the leak of the cylinder before its
// newest test: its fitting, or that of another piston or ring in it. Work on a
// cylinder is done off the engine, so its fitting comes after.
func (b *Book) leakRunBegins(ctx context.Context, newest LeakReading) (leakBegin, error) {
	at := newest.Test
	begin := leakBegin{words: "the first test in the book"}
	stays, err := b.StaysAt(ctx, at.Engine, newest.Position)
	if err != nil {
		return begin, err
	}
	before := func(s Stay) bool { return s.From <= at.Day && s.FromHours <= at.Hours }
	for _, s := range stays {
		if s.Part == newest.Part && before(s) {
			begin = leakBegin{s.From, s.FromHours, "it was fitted on " + string(s.From)}
		}
	}
	for _, s := range stays {
		if (s.Kind == wear.Piston || s.Kind == wear.Ring) && before(s) && s.From > begin.day {
			begin = leakBegin{s.From, s.FromHours, fmt.Sprintf("%s %s was fitted with it on %s", s.Kind, s.Serial, s.From)}
		}
	}
	return begin, nil
}
