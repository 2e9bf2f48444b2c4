package store

import (
	"context"
	"errors"
	"strings"
	"testing"

	"barrelbook/wear"
)

// refusal wants an error that a person can act on: at the field, with the
// words in its message.
func refusal(t testing.TB, err error, field string, words ...string) Invalid {
	t.Helper()
	var bad Invalid
	if !errors.As(err, &bad) {
		t.Fatalf("error %v, want a refusal at %s", err, field)
	}
	message := bad.For(field)
	if message == "" {
		t.Fatalf("refused with %v, want a message at %s", bad, field)
	}
	for _, w := range words {
		if !strings.Contains(message, w) {
			t.Errorf("refused at %s with %q, want it to say %q", field, message, w)
		}
	}
	return bad
}

func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// onShelf makes a part that nobody has fitted yet.
func onShelf(t testing.TB, b *Book, p Part) int64 {
	t.Helper()
	if p.Source == "" {
		p.Source = "new"
	}
	return must[int64](t)(b.AddPart(context.Background(), p))
}

func TestPositionHoldsOnePart(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	at := Place{Engine: e.ID, Position: 3}
	first := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, at)
	second := onShelf(t, b, Part{Kind: wear.Cylinder, Serial: "C-2"})
	refusal(t, b.Install(ctx, second, at, "2024-02-01", 1_000), "position", "position 3 of engine R-1", "cylinder C-1", "2024-01-01")
	refusal(t, b.Install(ctx, second, at, "2023-12-01", 0), "position", "C-1") // C-1 will sit there later
	piston := onShelf(t, b, Part{Kind: wear.Piston, Serial: "P-1"})
	ok(t, b.Install(ctx, piston, at, "2024-02-01", 1_000)) // another kind does not mind

	ok(t, b.Remove(ctx, first, "2024-03-01", 2_000, "inspection", false))
	refusal(t, b.Install(ctx, second, at, "2024-02-15", 1_500), "position", "C-1", "until 2024-03-01")
	ok(t, b.Install(ctx, second, at, "2024-03-01", 2_000)) // the same day, after the other came off
	if slots := must[map[int64][]Slot](t)(b.Slots(ctx, []Engine{e})); len(slots[e.ID]) != 2 || slots[e.ID][0].Serial != "C-2" || slots[e.ID][1].Serial != "P-1" {
		t.Errorf("the engine holds %+v", slots[e.ID])
	}
}

func TestPartInOnePlace(t *testing.T) {
	b, ctx := open(t), context.Background()
	one, two := addRadial(t, b, "R-1"), addRadial(t, b, "R-2")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: one.ID, Position: 1})
	refusal(t, b.Install(ctx, part, Place{Engine: one.ID, Position: 2}, "2024-02-01", 1_000), "part", "C-1", "engine R-1", "position 1", "one place at a time")
	refusal(t, b.Install(ctx, part, Place{Engine: two.ID, Position: 1}, "2024-02-01", 1_000), "part", "engine R-1")
	ok(t, b.Remove(ctx, part, "2024-03-01", 2_000, "top overhaul", false))
	refusal(t, b.Install(ctx, part, Place{Engine: two.ID, Position: 1}, "2024-02-01", 1_000), "part", "until 2024-03-01")
	ok(t, b.Install(ctx, part, Place{Engine: two.ID, Position: 1}, "2024-04-01", 5_000))
	if p := must[Part](t)(b.Part(ctx, part)); p.Status != "on engine" {
		t.Errorf("status %q", p.Status)
	}
	// what came off one engine goes onto another on the same day, and not a day before
	third := addRadial(t, b, "R-3")
	moved := addFitted(t, b, Part{Kind: wear.Pin, Serial: "N-9"}, Place{Engine: third.ID, Position: 1})
	ok(t, b.Remove(ctx, moved, "2024-05-02", 10_000, "to another engine", false))
	fourth := addRadial(t, b, "R-4")
	refusal(t, b.Install(ctx, moved, Place{Engine: fourth.ID, Position: 2}, "2024-05-01", 0), "part", "R-3", "until 2024-05-02")
	ok(t, b.Install(ctx, moved, Place{Engine: fourth.ID, Position: 2}, "2024-05-02", 0))
}

func TestPlacesThatCannotBe(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	ring, cylinder := onShelf(t, b, Part{Kind: wear.Ring, Serial: "K-1"}), onShelf(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"})
	refusal(t, b.Install(ctx, ring, Place{Engine: e.ID, Position: 1}, "2024-01-01", 0), "groove", "counted from the crown")
	refusal(t, b.Install(ctx, ring, Place{Engine: e.ID, Position: 1, Groove: 9}, "2024-01-01", 0), "groove")
	refusal(t, b.Install(ctx, cylinder, Place{Engine: e.ID, Position: 1, Groove: 1}, "2024-01-01", 0), "groove", "only a ring")
	refusal(t, b.Install(ctx, cylinder, Place{Engine: e.ID, Position: 10}, "2024-01-01", 0), "position", "positions 1 to 9")
	refusal(t, b.Install(ctx, cylinder, Place{Engine: e.ID, Position: 0}, "2024-01-01", 0), "position")
	ok(t, b.Install(ctx, ring, Place{Engine: e.ID, Position: 1, Groove: 2}, "2024-01-01", 0))
	other := onShelf(t, b, Part{Kind: wear.Ring, Serial: "K-2"})
	refusal(t, b.Install(ctx, other, Place{Engine: e.ID, Position: 1, Groove: 2}, "2024-01-01", 0), "position", "groove 2", "ring K-1")
	ok(t, b.Install(ctx, other, Place{Engine: e.ID, Position: 1, Groove: 1}, "2024-01-01", 0))
	if err := b.Install(ctx, 999, Place{Engine: e.ID, Position: 1}, "2024-01-01", 0); !errors.Is(err, ErrNotFound) {
		t.Errorf("a part that is not in the book: %v", err)
	}
}

func TestScrappedStaysOff(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	at := Place{Engine: e.ID, Position: 1}
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, at)
	refusal(t, b.ScrapPart(ctx, part, "2024-02-01", "cracked"), "reason", "engine R-1", "remove it first")
	refusal(t, b.Remove(ctx, part, "2024-02-01", 1_000, " ", true), "reason")
	ok(t, b.Remove(ctx, part, "2024-02-01", 1_000, "cracked head", true))
	refusal(t, b.Install(ctx, part, at, "2024-03-01", 1_000), "part", "scrapped on 2024-02-01", "cracked head")
	refusal(t, b.ScrapPart(ctx, part, "2025-02-01", "again"), "reason", "scrapped on 2024-02-01")
	if p := must[Part](t)(b.Part(ctx, part)); p.Status != "scrapped" || p.ScrapDay != "2024-02-01" || p.ScrapReason != "cracked head" {
		t.Errorf("the part is %+v", p)
	}
}

func TestRemoveInOrder(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	_, err := b.AddMeter(ctx, e.ID, "2024-02-01", 5_000)
	ok(t, err)
	part := onShelf(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"})
	refusal(t, b.Remove(ctx, part, "2024-02-02", 5_000, "inspection", false), "part", "not on an engine")
	ok(t, b.Install(ctx, part, Place{Engine: e.ID, Position: 1}, "2024-02-01", 5_000))
	refusal(t, b.Remove(ctx, part, "2024-01-15", 2_000, "inspection", false), "day", "2024-02-01")
	refusal(t, b.Remove(ctx, part, "2024-02-01", 4_000, "inspection", false), "hours")
	refusal(t, b.Remove(ctx, part, "2024-03-01", 6_000, "", false), "reason")
	if p := must[Part](t)(b.Part(ctx, part)); p.Status != "on engine" {
		t.Errorf("refused removals left the part %q", p.Status)
	}
}

// TestStruckInstallation: an entry that was never true stays visible, counts
// for nothing, and frees both place and part.
func TestStruckInstallation(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	stays := must[[]Stay](t)(b.StaysOf(ctx, part))
	refusal(t, b.VoidStay(ctx, stays[0].ID, "  "), "reason")
	ok(t, b.VoidStay(ctx, stays[0].ID, "wrong position"))
	if p := must[Part](t)(b.Part(ctx, part)); p.Status != "on shelf" {
		t.Errorf("a struck installation leaves the part %q", p.Status)
	}
	if here := must[[]Stay](t)(b.StaysAt(ctx, e.ID, 1)); len(here) != 0 {
		t.Errorf("the position still tells of %+v", here)
	}
	ok(t, b.Install(ctx, part, Place{Engine: e.ID, Position: 2}, "2024-01-01", 0))
	all := must[[]Stay](t)(b.StaysOf(ctx, part))
	if len(all) != 2 || all[0].Void != "wrong position" || all[1].Void != "" {
		t.Errorf("the part's installations: %+v", all)
	}
	refusal(t, b.VoidStay(ctx, stays[0].ID, "once more"), "reason", "struck")
	if p := must[Part](t)(b.Part(ctx, part)); p.Status != "on engine" {
		t.Errorf("striking the same entry again took the part off: %q", p.Status)
	}
	if _, err := b.Stay(ctx, 99); !errors.Is(err, ErrNotFound) {
		t.Errorf("an installation that is not there: %v", err)
	}
}

// TestStruckWithReadings: readings that were taken on the engine that the
// part never sat on stand in the way of the right entry; the book says which.
func TestStruckWithReadings(t *testing.T) {
	b, ctx := open(t), context.Background()
	wrong, right := addRadial(t, b, "R-1"), addRadial(t, b, "R-2")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: wrong.ID, Position: 1})
	sheet := measure(t, b, wrong, 1, part, "2024-03-01", 4_000, "5.2503")
	ok(t, b.VoidStay(ctx, must[[]Stay](t)(b.StaysOf(ctx, part))[0].ID, "wrong engine"))
	bad := refusal(t, b.Install(ctx, part, Place{Engine: right.ID, Position: 1}, "2024-01-01", 0), "day", "2024-03-01", "40.0 engine hours")
	if bad[0].Href == "" {
		t.Error("the refusal leads nowhere")
	}
	_, readings, err := b.Sheet(ctx, sheet)
	ok(t, err)
	ok(t, b.CorrectReading(ctx, readings[0].ID, 0, "", "A. Smith", "taken on another engine"))
	ok(t, b.Install(ctx, part, Place{Engine: right.ID, Position: 1}, "2024-01-01", 0))
}

// TestBackdatedOverWork: a part that was worked on cannot have been on an
// engine that day.
func TestBackdatedOverWork(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	refusal(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Honed, Day: "2024-03-01"}, ""), "day", "on an engine")
	ok(t, b.Remove(ctx, part, "2024-04-01", 10_000, "honing", false))
	ok(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Honed, Day: "2024-04-10"}, ""))
	refusal(t, b.Install(ctx, part, Place{Engine: e.ID, Position: 1}, "2024-04-05", 10_000), "day", "honed", "2024-04-10")
	ok(t, b.Install(ctx, part, Place{Engine: e.ID, Position: 1}, "2024-04-10", 10_000))
}

func TestInstallAllTellsEachFault(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	addFitted(t, b, Part{Kind: wear.Piston, Serial: "P-1"}, Place{Engine: e.ID, Position: 1})
	fittings := []Fitting{
		{Part: Part{Kind: wear.Cylinder, Serial: "C-1", Source: "new"}, Field: "serial-cylinder"},
		{Part: Part{Kind: wear.Piston, Serial: "P-2", Source: "new"}, Field: "serial-piston"},          // the place is taken
		{Part: Part{Kind: wear.Ring, Serial: "K/1", Source: "new"}, Groove: 1, Field: "serial-ring-1"}, // no such serial
		{Part: Part{Kind: wear.Pin, Serial: "N-1", Source: "found in a drawer"}, Field: "serial-pin"},  // no such source
		{Part: Part{Kind: wear.Ring, Serial: "K-2", Source: "new"}, Groove: 2, Field: "serial-ring-2"},
	}
	err := b.InstallAll(ctx, e.ID, 1, "2024-01-01", 0, fittings)
	refusal(t, err, "serial-piston", "P-1")
	refusal(t, err, "serial-ring-1", "slash")
	refusal(t, err, "serial-pin")
	if _, total, err := b.Parts(ctx, PartFilter{Limit: 10}); err != nil || total != 1 {
		t.Errorf("a refused stack left %d parts, %v; want the piston alone", total, err)
	}
	ok(t, b.InstallAll(ctx, e.ID, 1, "2024-01-01", 0, []Fitting{fittings[0], fittings[4]}))
	rows, total, err := b.Parts(ctx, PartFilter{Kind: wear.Ring, Status: "on engine", Limit: 10})
	if err != nil || total != 1 || rows[0].Serial != "K-2" || rows[0].AtGroove != 2 || rows[0].Groove != 2 || rows[0].EngineNo != "R-1" || rows[0].ModelID != e.Model.ID {
		t.Errorf("the ring that was fitted: %+v, %v", rows, err)
	}
}
