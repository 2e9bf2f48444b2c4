package main

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"barrelbook/store"
	"barrelbook/wear"
)

// TestJobPagesLook looks at the pages on which parts of a job are decided on
// and placed, with a job opened in the demo book, and changes a line of the
// placing: it is judged at once, and the keyboard stays at it.
func TestJobPagesLook(t *testing.T) {
	book := temporaryBook(t)
	if err := fillDemo(t.Context(), book, book.Today()); err != nil {
		t.Fatal(err)
	}
	e := only(book.EnginesBySerial(t.Context(), "R9-0417"))(t)
	job, err := book.OpenJob(t.Context(), store.NewJob{Job: store.Job{Engine: e.ID, Why: "top overhaul", Day: book.Today(), Stands: 1}, Shows: &e.Hours, Positions: []int{2, 3}})
	if err != nil {
		t.Fatal(err)
	}
	slots, err := book.Slots(t.Context(), []store.Engine{e})
	if err != nil {
		t.Fatal(err)
	}
	placing := fmt.Sprintf("/jobs/%d/placing", job)
	pages := []look{{"job-placing", placing}, {"job-placing-propose", placing + "?do=propose"}, {"job-outcomes", "/jobs/outcomes"}}
	var piston int64
	for _, x := range slots[e.ID] {
		if x.Position == 2 && x.AtGroove < 2 {
			path := fmt.Sprintf("/jobs/%d/decide/%d", job, x.ID)
			pages = append(pages, look{"job-decide-" + string(x.Kind), path})
		}
		if x.Kind == wear.Piston && x.Position == 2 {
			piston = x.ID
		}
	}
	decided := store.Decision{Job: job, Part: piston, Position: 2, Disposition: "reuse", Reason: "clean and inside its limits", Worked: `[{"disposition":"reuse","says":"It goes back as it is.","verdict":{"Word":"serviceable"}}]`}
	if err := book.Decide(t.Context(), decided, "", 1<<40); err != nil {
		t.Fatal(err)
	}
	pages = append(pages, look{"part-decided", fmt.Sprintf("/parts/%d", piston)})
	lookAt(t, "job", book, pages)
	tab := openTab(t, serveTest(t, book))
	tab.open(placing)
	next := eval[string](tab, `(s => s.options[s.selectedIndex - 1].value)(document.querySelector("[name=piston-2]"))`)
	tab.focus("piston-2")
	answer, err := chromedp.RunResponse(tab.ctx, chromedp.KeyEvent(kb.ArrowUp))
	if err != nil || answer.Status != 200 {
		t.Fatalf("change a line: %+v %v", answer, err)
	}
	if at, stands := tab.active(), eval[string](tab, `document.querySelector("[name=piston-2]").value`); at != "piston-2" || stands != next {
		t.Errorf("the keyboard is at %q; piston %s stands at 2, want %s", at, stands, next)
	}
	if search := eval[string](tab, "location.search"); !strings.Contains(search, "do=judge") {
		t.Errorf("the changed line was not judged: %s", search)
	}
}
