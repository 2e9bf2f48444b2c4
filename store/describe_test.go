package store

import (
	"context"
	"errors"
	"testing"

	"barrelbook/wear"
)

func TestEngineRefusals(t *testing.T) {
	b, ctx := open(t), context.Background()
	addRadial(t, b, "R-1")
	good := NewEngine{Serial: "R-2", Model: "Invented 9", Arrangement: "radial", Cylinders: 9, MasterRod: 5, Day: "2024-01-01"}
	for _, c := range []struct {
		what, field string
		change      func(n *NewEngine)
	}{
		{"no serial", "serial", func(n *NewEngine) { n.Serial = "  " }},
		{"a serial that is taken, whatever its case", "serial", func(n *NewEngine) { n.Serial = " r-1 " }},
		{"no model", "model", func(n *NewEngine) { n.Model = "" }},
		{"no arrangement", "arrangement", func(n *NewEngine) { n.Arrangement = "" }},
		{"no cylinder", "cylinders", func(n *NewEngine) { n.Cylinders, n.MasterRod = 0, 0 }},
		{"too many cylinders", "cylinders", func(n *NewEngine) { n.Cylinders = 37 }},
		{"master rod outside", "master_rod", func(n *NewEngine) { n.MasterRod = 10 }},
		{"master rod of a flat engine", "master_rod", func(n *NewEngine) { n.Arrangement = "flat" }},
		{"no day", "day", func(n *NewEngine) { n.Day = "" }},
	} {
		n := good
		c.change(&n)
		_, err := b.AddEngine(ctx, n)
		t.Run(c.what, func(t *testing.T) { refusal(t, err, c.field) })
	}
	both := NewEngine{}.Check()
	for _, field := range []string{"serial", "model", "arrangement", "cylinders"} {
		refusal(t, both, field) // everything at once
	}
	id := must[int64](t)(b.AddEngine(ctx, good))
	addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: id, Position: 9})
	good.Cylinders = 7
	refusal(t, b.SaveEngine(ctx, id, good), "cylinders", "position 9")
	good.Cylinders, good.Serial = 9, "R-1"
	refusal(t, b.SaveEngine(ctx, id, good), "serial")
	good.Serial, good.Aircraft, good.MasterRod = "R-3", "an aeroplane", 0
	ok(t, b.SaveEngine(ctx, id, good))
	if e := must[Engine](t)(b.Engine(ctx, id)); e.Serial != "R-3" || e.Aircraft != "an aeroplane" || e.MasterRod != 0 || e.Model.Name != "Invented 9" {
		t.Errorf("after the change: %+v", e)
	}
	if es := must[[]Engine](t)(b.EnginesBySerial(ctx, "r-3")); len(es) != 1 || es[0].ID != id {
		t.Errorf("found by serial: %+v", es)
	}
	if _, err := b.Engine(ctx, 999); !errors.Is(err, ErrNotFound) {
		t.Errorf("an engine that is not there: %v", err)
	}
}

// TestSearch: words are looked for as they stand; a percent sign is one.
func TestSearch(t *testing.T) {
	b, ctx := open(t), context.Background()
	addRadial(t, b, "R-1")
	addRadial(t, b, "R_2")
	for _, serial := range []string{"100%", "1000", `A\B`} {
		onShelf(t, b, Part{Kind: wear.Pin, Serial: serial, PartNumber: "PN-7"})
	}
	for words, want := range map[string]int{"": 2, "r-": 1, "_": 1, "invented": 2, "%": 0} {
		if es, total, err := b.Engines(ctx, words, 10, 0); err != nil || total != want || len(es) != want {
			t.Errorf("engines with %q: %d of %d, %v; want %d", words, len(es), total, err, want)
		}
	}
	for words, want := range map[string]int{"": 3, "100": 2, "100%": 1, `\`: 1, "pn-7": 3, "none": 0} {
		if ps, total, err := b.Parts(ctx, PartFilter{Words: words, Limit: 10}); err != nil || total != want || len(ps) != want {
			t.Errorf("parts with %q: %d of %d, %v; want %d", words, len(ps), total, err, want)
		}
	}
	if ps, total, err := b.Parts(ctx, PartFilter{Limit: 2, Offset: 2}); err != nil || total != 3 || len(ps) != 1 {
		t.Errorf("the second page: %d of %d, %v", len(ps), total, err)
	}
}

func TestPartRefusals(t *testing.T) {
	b, ctx := open(t), context.Background()
	onShelf(t, b, Part{Kind: wear.Cylinder, Serial: "C-1", PartNumber: "PN-1"})
	good := Part{Kind: wear.Cylinder, Serial: "C-2", Source: "overhauled", Surface: "nitrided", HoursBefore: 90_000}
	for _, c := range []struct {
		what, field string
		change      func(p *Part)
	}{
		{"no kind", "kind", func(p *Part) { p.Kind = "" }},
		{"no serial", "serial", func(p *Part) { p.Serial = " " }},
		{"a slash", "serial", func(p *Part) { p.Serial = "C/2" }},
		{"taken", "serial", func(p *Part) { p.Serial, p.PartNumber = "c-1", "pn-1" }},
		{"no source", "source", func(p *Part) { p.Source = "" }},
		{"unknown surface", "surface", func(p *Part) { p.Surface = "gold" }},
		{"new with hours", "hours_before", func(p *Part) { p.Source = "new" }},
		{"groove", "groove", func(p *Part) { p.Groove = 9 }},
		{"weight", "weight", func(p *Part) { p.Weight = ptr[wear.Value](-1) }},
		{"overhaul before new", "overhaul_before", func(p *Part) { p.OverhaulBefore = ptr[wear.Hours](90_001) }},
		{"a model that is not in the book", "model", func(p *Part) { p.ModelID = 999 }},
	} {
		p := good
		c.change(&p)
		_, err := b.AddPart(ctx, p)
		t.Run(c.what, func(t *testing.T) { refusal(t, err, c.field) })
	}
	id := must[int64](t)(b.AddPart(ctx, good))
	onShelf(t, b, Part{Kind: wear.Cylinder, Serial: "C-1", PartNumber: "PN-2"}) // another part number: another part
	onShelf(t, b, Part{Kind: wear.Piston, Serial: "C-1", PartNumber: "PN-1"})   // another kind too
	if ps := must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, " C-1 ")); len(ps) != 2 {
		t.Errorf("%d cylinders C-1, want 2", len(ps))
	}
	p := must[Part](t)(b.Part(ctx, id))
	p.Kind, p.Serial, p.PartNumber = wear.Pin, "C-1", "PN-1"
	refusal(t, b.SavePart(ctx, p), "serial")
	p.Serial, p.Note = "C-9", "a note"
	ok(t, b.SavePart(ctx, p))
	if p = must[Part](t)(b.Part(ctx, id)); p.Kind != wear.Cylinder || p.Serial != "C-9" || p.Note != "a note" {
		t.Errorf("after the change: %+v", p)
	}
	p.ModelID = 999
	refusal(t, b.SavePart(ctx, p), "model")
	if _, err := b.Part(ctx, 999); !errors.Is(err, ErrNotFound) {
		t.Errorf("a part that is not there: %v", err)
	}
}

func TestOwnFeature(t *testing.T) {
	b, ctx := open(t), context.Background()
	for _, c := range []struct {
		field string
		f     wear.Feature
	}{
		{"name", wear.Feature{Kind: wear.Cylinder, Unit: "in", Wear: wear.Up}},
		{"kind", wear.Feature{Kind: "crank", Name: "throw", Unit: "in", Wear: wear.Up}},
		{"unit", wear.Feature{Kind: wear.Cylinder, Name: "hardness", Wear: wear.Down}},
		{"wear", wear.Feature{Kind: wear.Cylinder, Name: "hardness", Unit: "HRC"}},
		{"name", wear.Feature{Kind: wear.Cylinder, Name: "Barrel_Bore", Unit: "in", Wear: wear.Up}},
		{"name", wear.Feature{Kind: wear.Cylinder, Name: "cylinder bore", Unit: "in", Wear: wear.Up}}, // an old name of the same
	} {
		_, err := b.AddFeature(ctx, c.f)
		refusal(t, err, c.field)
	}
	id := must[int64](t)(b.AddFeature(ctx, wear.Feature{Kind: wear.Cylinder, Name: "hardness", Unit: "HRC", Wear: wear.Down}))
	f := feature(t, b, wear.Cylinder, "Hardness")
	if f.ID != id || f.Dim != wear.Plain || f.BuiltIn || UnitFor(f, wear.Inch).Name != "HRC" {
		t.Errorf("the shop's own feature: %+v in %s", f, UnitFor(f, wear.Inch).Name)
	}
	must[int64](t)(b.AddFeature(ctx, wear.Feature{Kind: wear.Piston, Name: "hardness", Unit: "HRC", Wear: wear.Down}))
	for name, want := range map[string]string{"barrel bore": "mm", "weight": "g"} {
		if got := UnitFor(feature(t, b, wear.Cylinder, name), wear.Millimetre).Name; got != want {
			t.Errorf("%s in a book of mm is written in %s", name, got)
		}
	}
	if got := UnitFor(feature(t, b, wear.Ring, "tension"), wear.Inch).Name; got != "N" {
		t.Errorf("tension is written in %s", got)
	}
}

func TestGauges(t *testing.T) {
	b, ctx := open(t), context.Background()
	_, err := b.SaveGauge(ctx, Gauge{Name: " ", Unit: wear.Inch})
	refusal(t, err, "name")
	_, err = b.SaveGauge(ctx, Gauge{Name: "BG-1", Unit: wear.Inch, SD: -1})
	refusal(t, err, "sd")
	_, err = b.SaveGauge(ctx, Gauge{Name: "BG-1", Unit: wear.Inch, OperatorSD: 5080})
	refusal(t, err, "sd", "no gauge repeats perfectly")
	must[int64](t)(b.SaveGauge(ctx, Gauge{Name: "A clock", Unit: wear.Inch, Resolution: 2540})) // a/√12, JCGM 100 (GUM) F.2.2.1
	id := must[int64](t)(b.SaveGauge(ctx, Gauge{Name: "BG-1", Unit: wear.Inch, SD: 5080, Resolution: 2540, Due: "2026-05-01"}))
	_, err = b.SaveGauge(ctx, Gauge{Name: "bg-1", Unit: wear.Inch, SD: 5080})
	refusal(t, err, "name", "already")
	must[int64](t)(b.SaveGauge(ctx, Gauge{ID: id, Name: "BG-1", Unit: wear.Inch, SD: 2540, Resolution: 1270, Due: "2027-05-01"}))
	gs := must[[]Gauge](t)(b.Gauges(ctx))
	if len(gs) != 2 || gs[1].SD != 2540 || gs[1].Overdue("2027-05-01") || !gs[1].Overdue("2027-05-02") {
		t.Errorf("gauges %+v", gs)
	}
}

func TestModelPlan(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	m := e.Model
	if m.Grooves != 3 || len(m.Stations) != 3 || len(m.Axes) != 2 {
		t.Errorf("the plan of a new model: %+v", m)
	}
	m.Grooves = 9
	refusal(t, b.SaveModel(ctx, m), "grooves")
	m.Grooves, m.Stations = 4, make([]string, 13)
	refusal(t, b.SaveModel(ctx, m), "stations")
	m.Stations, m.Axes = []string{"A", "B", "C", "D", "E"}, make([]string, 7)
	refusal(t, b.SaveModel(ctx, m), "axes")
	m.Axes = nil
	ok(t, b.SaveModel(ctx, m))
	if m = must[Model](t)(b.Model(ctx, m.ID)); m.Grooves != 4 || len(m.Stations) != 5 || len(m.Axes) != 0 {
		t.Errorf("the plan after the change: %+v", m)
	}
	if ms := must[[]Model](t)(b.Models(ctx)); len(ms) != 1 {
		t.Errorf("models %+v", ms)
	}
	if _, err := b.Model(ctx, 999); !errors.Is(err, ErrNotFound) {
		t.Errorf("a model that is not there: %v", err)
	}
}
