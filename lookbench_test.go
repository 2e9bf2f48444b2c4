package main

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"testing"

	"barrelbook/store"
)

// TestBenchLooks looks at the pages of a job's bench, checklist and
// photographs, as TestPagesLook does at the others.
func TestBenchLooks(t *testing.T) {
	ctx, book := t.Context(), temporaryBook(t)
	if err := fillDemo(ctx, book, book.Today()); err != nil {
		t.Fatal(err)
	}
	e := only(book.EnginesBySerial(ctx, "R9-0417"))(t)
	list, err := book.Checklist(ctx, e.Model.ID)
	if err != nil {
		t.Fatal(err)
	}
	shows := e.Hours - e.Offset
	job, err := book.OpenJob(ctx, store.NewJob{Job: store.Job{Engine: e.ID, Why: "top overhaul", Day: book.Today(), Stands: 1}, Shows: &shows, Positions: []int{1, 2, 3}, Steps: list.Lines})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := book.AddJobEntry(ctx, store.JobEntry{Job: job, Kind: store.JobPulled, Position: 1}, 1<<40); err != nil {
		t.Fatal(err)
	}
	steps := firstOf(t, func() ([]store.JobStep, error) { return book.JobSteps(ctx, job) })
	if err := book.TickSteps(ctx, job, []store.Tick{{StepAt: store.StepAt{Step: steps.ID}, Text: "invented manual, rev. 3"}}, "R. Moss", "", 1<<40); err != nil {
		t.Fatal(err)
	}
	var shot bytes.Buffer
	if err := jpeg.Encode(&shot, image.NewGray(image.Rect(0, 0, 320, 200)), nil); err != nil {
		t.Fatal(err)
	}
	part := firstOf(t, func() ([]store.Slot, error) { j, _ := book.Job(ctx, job); return book.BenchParts(ctx, j) })
	if err := book.AddPhotos(ctx, []store.NewPhoto{{Photo: store.Photo{Job: job, Position: 1, Part: part.ID, Type: "image/jpeg", Width: 320, Height: 200, Note: "invented", Day: book.Today()}, Bytes: shot.Bytes(), Small: shot.Bytes()}}); err != nil {
		t.Fatal(err)
	}
	entries, err := book.JobEntries(ctx, job)
	if err != nil {
		t.Fatal(err)
	}
	at := func(rest string) string { return fmt.Sprintf("/jobs/%d%s", job, rest) }
	lookAt(t, "bench", book, []look{
		{"bench", at("/bench")}, {"bench-position", at("/bench/1")}, {"bench-still-on", at("/bench/2")}, {"bench-photos", at("/bench/1/photos")},
		{"steps", at("/steps")}, {"steps-position", at("/steps?at=1")}, {"steps-undo", at(fmt.Sprintf("/steps/%d%s", entries[len(entries)-1].ID, "/undo"))},
		{"checklist", fmt.Sprintf("/models/%d%s", e.Model.ID, "/checklist")}, {"part-photos", fmt.Sprintf("/parts/%d%s", part.ID, "/photos")}, {"part-with-photo", fmt.Sprintf("/parts/%d%s", part.ID, "")}, {"photo-strike", "/photos/1/strike"},
	})
}
