package main

import (
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// TestTopOverhaul takes a nine-cylinder radial through a whole top overhaul in
// the browser: opened, steps against the order refused, every cylinder off, one
// piston decided and replaced from the shelf, every cylinder on again, refitted
// in one save, closed, and its entry drafted. The order is common practice, no
// source; all numbers are invented.
func TestTopOverhaul(t *testing.T) {
	book := temporaryBook(t)
	engine := overhauled(t, book)
	tab := openTab(t, serveTest(t, book))
	tab.open(fmt.Sprintf("/engines/%d", engine))
	tab.press("Open a job", http.StatusOK)
	tab.press("Open the job", http.StatusUnprocessableEntity)
	tab.see("say why the cylinders come off", "choose the cylinders that come off")
	tab.fill("why", "top overhaul")
	tab.choose("all", "yes")
	tab.fill("hours", "850")
	tab.press("Open the job", http.StatusOK)
	tab.see("Job 1: top overhaul", "Cylinder 1 off.")
	tab.shoot("overhaul-opened")

	tab.press("Cylinder 5 is off", http.StatusUnprocessableEntity)
	tab.see("Refused: cylinder 5 is off", "comes off last")
	tab.press("Leave it", http.StatusOK)
	for _, n := range []int{1, 2, 3, 4, 6, 7, 8, 9, 5} {
		tab.see(fmt.Sprintf("Cylinder %d off.", n))
		tab.press(fmt.Sprintf("Cylinder %d is off", n), http.StatusOK)
	}
	tab.see("Do not turn the crankshaft", "Cylinder 5 on.")
	tab.shoot("overhaul-all-off")
	tab.press("Cylinder 7 is on", http.StatusUnprocessableEntity)
	tab.see("Refused: cylinder 7 is on", "the crank is not turned")
	tab.open(fmt.Sprintf("/engines/%d/positions/3", engine))
	tab.see("Do not turn the crankshaft")

	decideAndPlace(tab, book)
	tab.open("/jobs/1")
	for _, n := range []int{5, 6, 7, 8, 9, 1, 2, 3, 4} {
		tab.see(fmt.Sprintf("Cylinder %d on.", n))
		tab.press(fmt.Sprintf("Cylinder %d is on", n), http.StatusOK)
	}
	tab.see("Every cylinder of this job is back on")
	refitAndClose(tab)
	drafted(tab)
	if stays, err := book.StaysOf(t.Context(), partCalled(t, book, wear.Piston, "P-30").ID); err != nil || len(stays) != 1 || stays[0].Position != 3 || !stays[0].Open() {
		t.Errorf("the piston from the shelf sits at %+v (%v)", stays, err)
	}
	if p := partCalled(t, book, wear.Piston, "P-3"); p.Status != "scrapped" {
		t.Errorf("the piston that was decided scrap is %s", p.Status)
	}
}

// overhauled is an engine whose nine stacks are measured, with a piston more
// on the shelf.
func overhauled(t *testing.T, b *store.Book) int64 {
	t.Helper()
	ctx := t.Context()
	addOwner(t, b)
	engine := got[int64](t)(b.AddEngine(ctx, store.NewEngine{Serial: "T-1", Model: "Invented nine", Arrangement: "radial", Cylinders: 9, MasterRod: 5, Day: "2024-01-01"}))
	e := got[store.Engine](t)(b.Engine(ctx, engine))
	m := e.Model
	m.Grooves, m.Stations, m.Axes = 0, []string{"top"}, []string{"thrust"}
	must(t, b.SaveModel(ctx, m))
	number := func(text string) *wear.Value { v := got[wear.Value](t)(wear.ParseValue(text, wear.Inch)); return &v }
	for _, l := range []struct {
		kind                      wear.Kind
		feature, low, high, bound string
		wear                      wear.Direction
	}{{wear.Cylinder, "barrel bore", "5.2490", "5.2510", "5.2600", wear.Up}, {wear.Piston, "piston skirt", "5.2250", "5.2270", "5.2200", wear.Down}} {
		f := featureCalled(t, b, l.kind, l.feature)
		limit := wear.Limit{NewMin: number(l.low), NewMax: number(l.high), Wear: l.wear}
		if l.wear == wear.Up {
			limit.ServiceMax = number(l.bound)
		} else {
			limit.ServiceMin = number(l.bound)
		}
		must(t, b.AddLimit(ctx, store.LimitRow{Model: m.ID, Feature: f, Unit: wear.Inch, Document: "Invented manual", Limit: limit}))
	}
	bore, skirt := featureCalled(t, b, wear.Cylinder, "barrel bore"), featureCalled(t, b, wear.Piston, "piston skirt")
	shows := wear.Hours(85_000)
	read := func(part, feature int64, text string) store.NewReading {
		r := store.NewReading{Part: part, Feature: feature, Value: *number(text), Typed: text, Unit: wear.Inch}
		if feature == bore {
			r.Station, r.Axis = "top", "thrust"
		}
		return r
	}
	add := func(kind wear.Kind, serial string) int64 {
		return got[int64](t)(b.AddPart(ctx, store.Part{Kind: kind, Serial: serial, Source: "new", ModelID: m.ID}))
	}
	for n := 1; n <= 9; n++ {
		at := store.Place{Engine: engine, Position: n}
		cylinder, piston, pin := add(wear.Cylinder, fmt.Sprintf("C-%d", n)), add(wear.Piston, fmt.Sprintf("P-%d", n)), add(wear.Pin, fmt.Sprintf("N-%d", n))
		for _, part := range []int64{cylinder, piston, pin} {
			must(t, b.Install(ctx, part, at, "2024-01-01", 0))
		}
		got[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-01-01", Engine: engine, Position: n}, Shows: &shows, Readings: []store.NewReading{read(cylinder, bore, "5.2512"), read(piston, skirt, "5.2255")}}))
	}
	shelf := add(wear.Piston, "P-30")
	got[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-01-01"}, Readings: []store.NewReading{read(shelf, skirt, "5.2260")}}))
	return engine
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func featureCalled(t *testing.T, b *store.Book, kind wear.Kind, name string) int64 {
	t.Helper()
	for _, f := range got[[]wear.Feature](t)(b.Features(t.Context())) {
		if f.Kind == kind && f.Name == name {
			return f.ID
		}
	}
	t.Fatalf("no feature %s", name)
	return 0
}

func partCalled(t *testing.T, b *store.Book, kind wear.Kind, serial string) store.Part {
	t.Helper()
	return only(b.PartsNamed(t.Context(), kind, serial))(t)
}

// decideAndPlace scraps the piston of position 3 and takes the placing that is
// proposed, with another off the shelf.
func decideAndPlace(tab *tab, book *store.Book) {
	tab.t.Helper()
	piston := partCalled(tab.t, book, wear.Piston, "P-3")
	tab.open("/jobs/1/bench/3")
	tab.see("P-3", "C-3", "N-3")
	tab.open(fmt.Sprintf("/jobs/1/decide/%d", piston.ID))
	tab.shoot("overhaul-decide")
	tab.press("Save the decision", http.StatusUnprocessableEntity)
	tab.see("choose what becomes of the piston", "say why")
	tab.choose("disposition", "scrap")
	tab.fill("reason", "crack at the pin boss")
	tab.press("Save the decision", http.StatusOK)
	tab.open("/jobs/1/placing")
	tab.see("P-30", "P-3")
	tab.shoot("overhaul-placing")
	tab.press("Save the placing", http.StatusOK)
}

func refitAndClose(tab *tab) {
	tab.t.Helper()
	tab.open("/jobs/1/close")
	tab.see("P-30", "scrap: crack at the pin boss")
	tab.press("Close the job", http.StatusUnprocessableEntity)
	tab.fill("hours", "850")
	tab.press("Save the refit", http.StatusOK)
	tab.see("No leak test after the refit")
	tab.fill("end_reason", "leak test at the next ground run")
	tab.shoot("overhaul-close")
	tab.press("Close the job", http.StatusOK)
	tab.open("/jobs")
	tab.see("closed on")
}

// drafted wants the contents of 14 CFR 43.9(a) in the draft: (1) what was
// done, (2) the day, (3) who did it, (4) blank lines for who signs.
func drafted(tab *tab) {
	tab.t.Helper()
	tab.open("/jobs/1/entry")
	tab.see("nobody has signed it")
	resp, err := tab.get("/jobs/1/entry.txt")
	if err != nil {
		tab.t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		tab.t.Fatal(err)
	}
	for _, want := range []string{"DRAFT", "T-1", "P-3", "P-30", "C-5", "850.0 h", "Signature", "ertificate number"} {
		if !strings.Contains(string(text), want) {
			tab.t.Errorf("the draft does not say %q:\n%.3000s", want, text)
		}
	}
}
