package wear

import (
	"errors"
	"testing"
)

func TestParseDay(t *testing.T) {
	for _, good := range []string{"2026-01-31", "1900-01-01", "2199-12-31", "2024-02-29"} {
		if d, err := ParseDay(good); err != nil || string(d) != good {
			t.Errorf("ParseDay(%q) = %q, %v", good, d, err)
		}
	}
	for _, bad := range []string{"", "2026-1-31", "31.01.2026", "2026-02-30", "2025-02-29", "1899-12-31", "2200-01-01", "2026-01-31 ", "2026-01-31T00:00:00Z", "01/31/2026"} {
		if d, err := ParseDay(bad); !errors.Is(err, ErrDay) || d != "" {
			t.Errorf("ParseDay(%q) = %q, %v", bad, d, err)
		}
	}
}

// aLife is a part with 500 h before it came here that ran from 100 to 400 h
// on engine 1, lay on the shelf, and runs on engine 2 since its 2,000 h.
func aLife() Clock {
	return Clock{Before: 50_000, Stays: []Stay{
		{Engine: 1, Position: 3, From: "2024-01-10", FromHours: 10_000, To: "2024-06-10", ToHours: 40_000},
		{Engine: 2, Position: 7, From: "2024-09-01", FromHours: 200_000},
	}}
}

// TestClock: every expectation is a sum by hand, in hundredths of an hour.
func TestClock(t *testing.T) {
	on := func(engine int64, h Hours) *EngineHours { return &EngineHours{engine, h} }
	for _, c := range []struct {
		what string
		day  Day
		at   *EngineHours
		want Hours
		err  error
	}{
		{"before it came here", "2024-01-09", nil, 50_000, nil},
		{"the day it went on, not yet on", "2024-01-10", nil, 50_000, nil},
		{"the day it went on, on the engine", "2024-01-10", on(1, 10_000), 50_000, nil},
		{"that day, after a flight", "2024-01-10", on(1, 10_250), 50_250, nil},
		{"in the middle of the first engine", "2024-03-01", on(1, 25_000), 65_000, nil},
		{"the day it came off, still on", "2024-06-10", on(1, 39_000), 79_000, nil},
		{"the day it came off, at the last hours", "2024-06-10", on(1, 40_000), 80_000, nil},
		{"the day it came off, on the bench", "2024-06-10", nil, 80_000, nil},
		{"on the shelf", "2024-07-01", nil, 80_000, nil},
		{"on the shelf, while the old engine ran on", "2024-07-01", on(1, 45_000), 80_000, nil},
		{"the day it went on the second", "2024-09-01", nil, 80_000, nil},
		{"on the second engine", "2025-09-01", on(2, 210_000), 90_000, nil},
		{"running, no hours given", "2024-03-01", nil, 0, ErrHoursNeeded},
		{"running, hours of another engine", "2024-03-01", on(2, 205_000), 0, ErrHoursNeeded},
		{"open stay, no hours given", "2025-09-01", nil, 0, ErrHoursNeeded},
		{"before it went on, by the meter", "2024-03-01", on(1, 9_000), 0, ErrHoursOrder},
		{"after it came off, by the meter", "2024-03-01", on(1, 41_000), 0, ErrHoursOrder},
		{"below the open stay", "2025-09-01", on(2, 199_999), 0, ErrHoursOrder},
	} {
		got, err := aLife().At(c.day, c.at)
		if got != c.want || !errors.Is(err, c.err) {
			t.Errorf("%s: %s h, %v; want %s h, %v", c.what, got, err, c.want, c.err)
		}
	}
	if got, err := (Clock{Before: 7}).At("2026-01-01", nil); got != 7 || err != nil {
		t.Errorf("a part that never ran here: %d, %v", got, err)
	}
}

// TestClockSameDay: off one engine and onto another the same day, and off and
// on again at the same hours of the same engine.
func TestClockSameDay(t *testing.T) {
	swap := Clock{Stays: []Stay{
		{Engine: 1, From: "2024-01-01", To: "2024-05-05", ToHours: 10_000},
		{Engine: 2, From: "2024-05-05", FromHours: 70_000},
	}}
	if got, err := swap.At("2024-05-05", &EngineHours{2, 70_000}); got != 10_000 || err != nil {
		t.Errorf("onto the other engine: %s, %v; want 100 h", got, err)
	}
	again := Clock{Stays: []Stay{
		{Engine: 1, From: "2024-01-01", To: "2024-05-05", ToHours: 10_000},
		{Engine: 1, From: "2024-05-05", FromHours: 10_000},
	}}
	for h, want := range map[Hours]Hours{9_000: 9_000, 10_000: 10_000, 10_200: 10_200} {
		if got, err := again.At("2024-05-05", &EngineHours{1, h}); got != want || err != nil {
			t.Errorf("off and on at 100 h, at %s h: %s, %v; want %s", h, got, err, want)
		}
	}
}

func TestParseEvent(t *testing.T) {
	for text, want := range map[string]Event{"installed new": InstalledNew, "New": InstalledNew, "honed": Honed, "hone": Honed, "ground_to_oversize": Ground, "Ground": Ground, "plated": Plated,
		"re-grooved": Regrooved, "regrooved": Regrooved, " OVERHAULED ": Overhauled, "mate replaced": MateReplaced} {
		if got, ok := ParseEvent(text); !ok || got != want {
			t.Errorf("ParseEvent(%q) = %q, %t; want %q", text, got, ok, want)
		}
	}
	for _, text := range []string{"", "first seen", "painted", "removed"} {
		if got, ok := ParseEvent(text); ok {
			t.Errorf("ParseEvent(%q) = %q", text, got)
		}
	}
	for _, e := range WearEvents {
		if got, ok := ParseEvent(string(e)); !ok || got != e {
			t.Errorf("%q does not read as itself: %q, %t", e, got, ok)
		}
	}
}

func called(t testing.TB, kind Kind, name string) Feature {
	t.Helper()
	for _, f := range BuiltIn {
		if f.Kind == kind && f.Name == name {
			f.BuiltIn = true
			return f
		}
	}
	t.Fatalf("no built-in feature %s", name)
	return Feature{}
}

// TestResets: which surface a piece of work renews. Common practice, no
// source.
func TestResets(t *testing.T) {
	bore, skirt := called(t, Cylinder, "barrel bore"), called(t, Piston, "piston skirt")
	side, width, gap := called(t, Piston, "side clearance"), called(t, Piston, "groove width"), called(t, Ring, "end gap")
	pushed := called(t, Cylinder, "gap of a pushed ring")
	pin, guide, own := called(t, Pin, "pin diameter"), called(t, Cylinder, "guide bore"), Feature{Kind: Cylinder, Name: "liner wear"}
	for _, c := range []struct {
		event     Event
		feature   Feature
		groove    int
		eventIn   int
		want      bool
		wantFresh bool
	}{
		{InstalledNew, guide, 0, 0, true, true},
		{Honed, bore, 0, 0, true, false}, {Honed, guide, 0, 0, false, false}, {Honed, own, 0, 0, true, false},
		{Honed, pushed, 0, 0, true, false}, {Ground, pushed, 0, 0, true, true}, {Plated, pushed, 0, 0, true, true}, {MateReplaced, pushed, 0, 0, false, false},
		{Ground, bore, 0, 0, true, true}, {Ground, side, 1, 0, false, true},
		{Plated, skirt, 0, 0, true, true}, {Plated, pin, 0, 0, true, true},
		{Regrooved, width, 2, 2, true, false}, {Regrooved, width, 2, 1, false, false}, {Regrooved, side, 3, 0, true, false}, {Regrooved, skirt, 0, 0, false, false},
		{MateReplaced, side, 1, 1, true, false}, {MateReplaced, side, 1, 2, false, false}, {MateReplaced, gap, 0, 0, true, false}, {MateReplaced, width, 1, 1, false, false},
		{Overhauled, bore, 0, 0, false, false},
	} {
		if got := c.event.Resets(c.feature, c.groove, c.eventIn); got != c.want {
			t.Errorf("%s in groove %d resets %s, groove %d: %t, want %t", c.event, c.eventIn, c.feature.Name, c.groove, got, c.want)
		}
		if got := c.event.Fresh(); got != c.wantFresh {
			t.Errorf("%s leaves a surface within the new limits: %t, want %t", c.event, got, c.wantFresh)
		}
	}
}

func TestRuns(t *testing.T) {
	bore := called(t, Cylinder, "barrel bore")
	ten := Value(254_000)
	marks := []Mark{ // out of order on purpose
		{Event: Ground, Day: "2025-03-01", At: 90_000, Oversize: &ten},
		{Event: InstalledNew, Day: "2024-01-01"},
		{Event: Overhauled, Day: "2025-01-01", At: 80_000},
		{Event: Honed, Day: "2024-08-01", At: 40_000},
	}
	spans := Runs(bore, 0, marks, 0)
	if len(spans) != 3 {
		t.Fatalf("%d runs, want 3: %+v", len(spans), spans)
	}
	for i, want := range []Span{
		{Number: 1, Start: Mark{Event: InstalledNew, Day: "2024-01-01"}, End: "2024-08-01"},
		{Number: 2, Start: Mark{Event: Honed, Day: "2024-08-01", At: 40_000}, End: "2025-03-01"},
		{Number: 3, Start: Mark{Event: Ground, Day: "2025-03-01", At: 90_000}, Oversize: ten},
	} {
		got := spans[i]
		got.Start.Oversize = nil
		if got != want {
			t.Errorf("run %d: %+v, want %+v", i+1, got, want)
		}
	}
	for _, c := range []struct {
		day  Day
		at   Hours
		want int
	}{
		{"2024-01-01", 0, 0}, {"2024-07-31", 40_000, 0}, {"2024-08-01", 40_000, 1}, {"2025-02-28", 90_000, 1}, {"2025-03-01", 90_000, 2}, {"2026-01-01", 99_000, 2},
		{"2026-01-01", 0, 0}, // hours decide as well as the day
	} {
		if got := SpanOn(spans, c.day, c.at, 1); got != c.want {
			t.Errorf("a reading of %s at %s h belongs to run %d, want %d", c.day, c.at, got+1, c.want+1)
		}
	}
}

func TestRunsOfUnknownPast(t *testing.T) {
	bore := called(t, Cylinder, "barrel bore")
	if spans := Runs(bore, 0, nil, 7); len(spans) != 1 || spans[0].Start.Event != FirstSeen || spans[0].Oversize != 7 || spans[0].Number != 1 {
		t.Errorf("a part nothing is known of: %+v", spans)
	}
	spans := Runs(bore, 0, []Mark{{Event: Honed, Day: "2024-08-01", At: 40_000}}, 0)
	if len(spans) != 2 || spans[0].Start.Event != FirstSeen || spans[0].End != "2024-08-01" || spans[1].Start.Event != Honed {
		t.Errorf("honed after an unknown past: %+v", spans)
	}
}

// TestRunsAtOneMoment: two marks with nothing between them begin one run.
func TestRunsAtOneMoment(t *testing.T) {
	bore, side := called(t, Cylinder, "barrel bore"), called(t, Piston, "side clearance")
	ten := Value(254_000)
	spans := Runs(bore, 0, []Mark{{Event: Ground, Day: "2024-08-01", At: 100, Oversize: &ten}, {Event: Honed, Day: "2024-08-01", At: 100}}, 0)
	if len(spans) != 2 || spans[1].Start.Event != Honed || spans[1].Oversize != ten {
		t.Errorf("ground and honed on one day: %+v", spans)
	}
	spans = Runs(side, 1, []Mark{{Event: InstalledNew, Day: "2024-01-01"}, {Event: MateReplaced, Day: "2024-01-01", Groove: 1}, {Event: MateReplaced, Day: "2024-05-01", At: 500, Groove: 2}}, 0)
	if len(spans) != 1 || spans[0].Start.Event != InstalledNew {
		t.Errorf("a new piston with its first ring, and another groove's ring later: %+v", spans)
	}
}

// TestSpanOnOneDay: measured, honed and measured again on one day; then ground
// and honed with a reading between the two, which is of the new run.
func TestSpanOnOneDay(t *testing.T) {
	bore := called(t, Cylinder, "barrel bore")
	ten := Value(254_000)
	for _, c := range []struct {
		marks []Mark
		want  map[int64]int // number of the reading to its run
	}{
		{[]Mark{{Event: Honed, Day: "2024-08-01", At: 100, After: 7}}, map[int64]int{6: 0, 7: 0, 8: 1}},
		{[]Mark{{Event: Honed, Day: "2024-08-01", At: 100}}, map[int64]int{1: 1}},
		{[]Mark{{Event: Honed, Day: "2024-08-01", At: 100, After: -1}}, map[int64]int{1: 1}},
		{[]Mark{{Event: Ground, Day: "2024-08-01", At: 100, Oversize: &ten, After: 7}, {Event: Honed, Day: "2024-08-01", At: 100, After: 8}}, map[int64]int{7: 0, 8: 1, 9: 1}},
	} {
		spans := Runs(bore, 0, c.marks, 0)
		for number, want := range c.want {
			if got := SpanOn(spans, "2024-08-01", 100, number); got != want {
				t.Errorf("%+v: reading %d belongs to run %d, want %d", c.marks, number, got+1, want+1)
			}
			if got := SpanOn(spans, "2024-08-02", 100, number); got != len(spans)-1 {
				t.Errorf("%+v: a day later reading %d belongs to run %d", c.marks, number, got+1)
			}
		}
	}
}

// TestSpanOnBeforeAnyHours: a used part whose hours are not known is measured,
// honed and measured again on the shelf.
func TestSpanOnBeforeAnyHours(t *testing.T) {
	spans := Runs(called(t, Cylinder, "barrel bore"), 0, []Mark{{Event: Honed, Day: "2024-08-01", After: 5}}, 0)
	if len(spans) != 2 || SpanOn(spans, "2024-08-01", 0, 5) != 0 || SpanOn(spans, "2024-07-01", 0, 4) != 0 || SpanOn(spans, "2024-08-01", 0, 6) != 1 {
		t.Errorf("the runs are %+v", spans)
	}
}

// TestRunsNewAfterUse: a part of unknown past that was measured and then
// installed new again has two runs: readings from before cannot count from
// after.
func TestRunsNewAfterUse(t *testing.T) {
	bore := called(t, Cylinder, "barrel bore")
	spans := Runs(bore, 0, []Mark{{Event: InstalledNew, Day: "2024-08-01", At: 40_000}}, 0)
	if i := SpanOn(spans, "2024-02-01", 10_000, 1); spans[i].Start.At > 10_000 {
		t.Errorf("a reading at 100 h belongs to a run that began at %s h", spans[i].Start.At)
	}
}

func TestSince(t *testing.T) {
	for e, want := range map[Event]string{InstalledNew: "installation", FirstSeen: "new, as far as is known", Honed: "honing", Ground: "grinding to oversize", Plated: "plating", Regrooved: "re-grooving", MateReplaced: "its mate was replaced"} {
		if got := e.Since(); got != want {
			t.Errorf("hours of a run begun by %q count since %q, want %q", e, got, want)
		}
	}
}
