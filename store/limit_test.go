package store

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"barrelbook/wear"
)

// TestLimitVersions: typing a limit again keeps the old one, judges every
// part anew, and the verdict of a day can be shown by the limits of that day.
func TestLimitVersions(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	f := feature(t, b, wear.Cylinder, "barrel bore")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	measure(t, b, e, 1, part, "2026-05-01", 100_000, "5.2580")
	verdict := func() wear.Verdict { return must[Part](t)(b.Part(ctx, part)).Verdict }
	if verdict() != wear.Serviceable {
		t.Fatalf("0.0020 in inside its limit the barrel is %s", verdict())
	}
	then := must[[]Reading](t)(b.ReadingsOf(ctx, part))[0].SavedAt
	b.now = func() time.Time { return time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC) }
	ok(t, b.AddLimit(ctx, LimitRow{Model: e.Model.ID, Feature: f.ID, Unit: wear.Inch, Document: "Invented manual", Revision: "2", Page: "12",
		Limit: wear.Limit{NewMin: ptr(inches(t, "5.2490")), NewMax: ptr(inches(t, "5.2510")), ServiceMax: ptr(inches(t, "5.2550")), Wear: wear.Up, Life: 120_000}}))
	if verdict() != wear.Beyond {
		t.Errorf("by the new limit the barrel is %s, want beyond", verdict())
	}
	now := must[Limits](t)(b.LimitsOf(ctx, e.Model.ID, ""))
	old := must[Limits](t)(b.LimitsOf(ctx, e.Model.ID, then))
	if len(now.Rows) != 1 || len(old.Rows) != 1 || now.Rows[0].Revision != "2" || old.Rows[0].Revision != "1" || *old.For(f.ID, 0).ServiceMax != inches(t, "5.2600") {
		t.Errorf("in force: %+v; on the day: %+v", now.Rows, old.Rows)
	}
	if a := wear.Assess(inches(t, "5.2580"), 5080, old.For(f.ID, 0).Limit); a.Verdict != wear.Serviceable {
		t.Errorf("by the limit of its day the reading is %s", a.Verdict)
	}
	if before := must[Limits](t)(b.LimitsOf(ctx, e.Model.ID, "2026-04-30T00:00:00.000Z")); len(before.Rows) != 0 || before.For(f.ID, 0) != nil {
		t.Errorf("before anything was typed: %+v", before.Rows)
	}
	rows := must[[]LimitRow](t)(b.LimitHistory(ctx, old.Rows[0].ID))
	if len(rows) != 2 || rows[0].Revision != "2" || rows[1].Revision != "1" {
		t.Errorf("versions: %+v", rows)
	}
	if _, err := b.LimitHistory(ctx, 999); !errors.Is(err, ErrNotFound) {
		t.Errorf("a limit that is not there: %v", err)
	}
}

// TestLimitByGroove: a groove's own line goes before the line for all.
func TestLimitByGroove(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	f := feature(t, b, wear.Piston, "side clearance")
	for groove, most := range map[int]string{0: "0.0090", 2: "0.0110"} {
		ok(t, b.AddLimit(ctx, LimitRow{Model: e.Model.ID, Feature: f.ID, Groove: groove, Unit: wear.Inch, Document: "Invented manual", Limit: wear.Limit{ServiceMax: ptr(inches(t, most)), Wear: wear.Up}}))
	}
	ls := must[Limits](t)(b.LimitsOf(ctx, e.Model.ID, ""))
	for groove, want := range map[int]string{1: "0.0090", 2: "0.0110", 3: "0.0090"} {
		if l := ls.For(f.ID, groove); l == nil || *l.ServiceMax != inches(t, want) {
			t.Errorf("groove %d: %+v, want %s in", groove, l, want)
		}
	}
}

func TestLimitRefusals(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	bore := feature(t, b, wear.Cylinder, "barrel bore")
	good := func() LimitRow {
		return LimitRow{Model: e.Model.ID, Feature: bore.ID, Unit: wear.Inch, Document: "Invented manual", Limit: wear.Limit{NewMin: ptr(inches(t, "5.2490")), NewMax: ptr(inches(t, "5.2510")), ServiceMax: ptr(inches(t, "5.2600")), Wear: wear.Up}}
	}
	for _, c := range []struct {
		what, field string
		change      func(l *LimitRow)
	}{
		{"no document", "document", func(l *LimitRow) { l.Document = " " }},
		{"no feature", "feature", func(l *LimitRow) { l.Feature = 0 }},
		{"grams for a length", "unit", func(l *LimitRow) { l.Unit = wear.Gram }},
		{"no bound", "new_min", func(l *LimitRow) { l.Limit = wear.Limit{Wear: wear.Up} }},
		{"new the wrong way round", "new_max", func(l *LimitRow) { l.NewMin, l.NewMax = l.NewMax, l.NewMin }},
		{"service the wrong way round", "service_max", func(l *LimitRow) { l.ServiceMin = ptr(inches(t, "5.3")) }},
		{"service inside new", "service_max", func(l *LimitRow) { l.ServiceMax = ptr(inches(t, "5.2500")) }},
		{"service minimum above new", "service_min", func(l *LimitRow) { l.ServiceMin = ptr(inches(t, "5.2495")) }},
		{"grows, with a minimum", "service_max", func(l *LimitRow) { l.ServiceMin, l.ServiceMax = ptr(inches(t, "5.2400")), nil }},
		{"shrinks, with a maximum", "service_min", func(l *LimitRow) { l.Wear = wear.Down }},
		{"a groove for a bore", "groove", func(l *LimitRow) { l.Groove = 2 }},
		{"no direction", "wear", func(l *LimitRow) { l.Wear = "sideways" }},
	} {
		l := good()
		c.change(&l)
		t.Run(c.what, func(t *testing.T) { refusal(t, b.AddLimit(ctx, l), c.field) })
	}
	l := good()
	l.Model = 999
	if err := b.AddLimit(ctx, l); !errors.Is(err, ErrNotFound) {
		t.Errorf("a model that is not in the book: %v", err)
	}
	if rows := must[[]LimitRow](t)(b.LimitHistory(ctx, 1)); len(rows) != 1 { // the one of addRadial
		t.Errorf("refused limits left %d versions", len(rows))
	}
}

// TestLimitOfBareParts: a part without a model of its own is held against the
// limits of the engine it sits on, new ones too.
func TestLimitOfBareParts(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	id := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	p := must[Part](t)(b.Part(ctx, id))
	p.ModelID = 0
	ok(t, b.SavePart(ctx, p))
	measure(t, b, e, 1, id, "2024-02-01", 1000, "5.2580")
	if v := must[Part](t)(b.Part(ctx, id)).Verdict; v != wear.Serviceable {
		t.Fatalf("5.2580 of 5.2600 is %v", v)
	}
	ok(t, b.AddLimit(ctx, LimitRow{Model: e.Model.ID, Feature: feature(t, b, wear.Cylinder, "barrel bore").ID, Unit: wear.Inch, Document: "Invented manual", Revision: "2",
		Limit: wear.Limit{NewMin: ptr(inches(t, "5.2490")), NewMax: ptr(inches(t, "5.2510")), ServiceMax: ptr(inches(t, "5.2550")), Wear: wear.Up}}))
	if v := must[Part](t)(b.Part(ctx, id)).Verdict; v != wear.Beyond {
		t.Errorf("5.2580 of 5.2550 is %v", v)
	}
}

// TestModelOfStruckInstallation: a part that has its model from an
// installation loses it when that is struck; one whose model was typed keeps
// it, and so does one that sat on another engine of the model.
func TestModelOfStruckInstallation(t *testing.T) {
	b, ctx := open(t), context.Background()
	now := time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC)
	b.now = func() time.Time { now = now.Add(time.Second); return now }
	e := addRadial(t, b, "R-1")
	other := must[Engine](t)(b.Engine(ctx, must[int64](t)(b.AddEngine(ctx, NewEngine{Serial: "F-1", Model: "Other 4", Arrangement: "flat", Cylinders: 4, Day: "2024-01-01"}))))
	strike := func(part int64) Part {
		t.Helper()
		ss := slices.DeleteFunc(must[[]Stay](t)(b.StaysOf(ctx, part)), func(s Stay) bool { return s.Void != "" })
		ok(t, b.VoidStay(ctx, ss[len(ss)-1].ID, "wrong engine"))
		return must[Part](t)(b.Part(ctx, part))
	}
	bare := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: other.ID, Position: 1})
	if p := strike(bare); p.ModelID != 0 {
		t.Errorf("a part without a model keeps %s of the struck installation", p.Model)
	}
	ok(t, b.Install(ctx, bare, Place{Engine: e.ID, Position: 1}, "2024-01-01", 0))
	measure(t, b, e, 1, bare, "2024-02-01", 1000, "5.2680")
	if p := must[Part](t)(b.Part(ctx, bare)); p.ModelID != e.Model.ID || p.Verdict != wear.Beyond {
		t.Errorf("installed on %s: model %s, 5.2680 of 5.2600 is %v", e.Model.Name, p.Model, p.Verdict)
	}
	typed := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-2", ModelID: other.Model.ID}, Place{Engine: other.ID, Position: 2})
	if p := strike(typed); p.ModelID != other.Model.ID {
		t.Errorf("the typed model became %q", p.Model)
	}
	ok(t, b.InstallAll(ctx, other.ID, 3, "2024-01-01", 0, []Fitting{{Part: Part{Kind: wear.Cylinder, Serial: "C-3", Source: "new"}}}))
	if p := strike(must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, "C-3"))[0].ID); p.ModelID != 0 {
		t.Errorf("a part that was entered with its installation keeps %s", p.Model)
	}
	twice := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-4"}, Place{Engine: other.ID, Position: 4})
	ok(t, b.Remove(ctx, twice, "2024-02-01", 1000, "inspection", false))
	ok(t, b.Install(ctx, twice, Place{Engine: other.ID, Position: 4}, "2024-03-01", 1000))
	if p := strike(twice); p.ModelID != other.Model.ID {
		t.Errorf("a part that sat on %s before has model %q", other.Model.Name, p.Model)
	}
	if p := strike(twice); p.ModelID != 0 {
		t.Errorf("with both installations struck it keeps %s", p.Model)
	}
}
