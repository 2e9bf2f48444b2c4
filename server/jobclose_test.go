package server

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"barrelbook/store"
)

// TestJobClosePage goes from the refit to the closing and back by the page's
// forms.
func TestJobClosePage(t *testing.T) {
	ctx, b := context.Background(), fill(t)
	h, _ := serving(t, b.Book)
	page := href("/jobs/", b.job8, "/close")
	newest := func() string {
		return lastEntry(must[[]store.JobEntry](t)(b.JobEntries(ctx, b.job8)))
	}
	send := func(pairs ...string) (status int, says string) {
		w := post(h, page, formOf(append(pairs, "after="+newest())...))
		return w.Code, w.Body.String()
	}
	move := func(kind string) {
		must[int64](t)(b.AddJobEntry(ctx, store.JobEntry{Job: b.job8, Kind: kind, Position: 8}, 1<<40))
	}
	move(store.JobPulled)
	w := post(h, page, formOf("what=refit", "uid=u1", "day=yesterday", "hours=60x", "after="+newest()))
	check(t, "what cannot be read", w, http.StatusUnprocessableEntity, []string{`value="yesterday"`, `value="60x"`, "not a date", "is not a number", `value="u1"`}, nil)
	w = post(h, page, formOf("what=refit", "uid=u1", "day=2025-01-05", "hours=600", "after="+newest()))
	check(t, "a cylinder off", w, http.StatusUnprocessableEntity, []string{"cylinder 8 is still off", "Open the job", `value="600"`}, nil)
	old := newest()
	b.fillPlaces(t, b.job8)
	move(store.JobRefitted)
	w = post(h, page, formOf("what=refit", "uid=u1", "day=2025-01-05", "hours=600.1", "after="+old))
	check(t, "placed since the form was drawn", w, http.StatusConflict, []string{"somebody else saved this", `value="600.1"`, `name="after" value="` + newest()}, nil)
	if status, _ := send("what=refit", "uid=u1", "day=2025-01-05", "hours=600.1"); status != http.StatusSeeOther {
		t.Fatalf("refit: status %d", status)
	}
	check(t, "after the refit", get(h, page), http.StatusOK, []string{"Every part goes back where it was", "A refit was saved: 2025-01-05, at 600.1 h", "No leak test after the refit of position 8"}, []string{`class="overdue"`})
	if status, says := send("what=close", "uid=u2", "end_day=2025-01-06", "end_reason="); status != http.StatusUnprocessableEntity || !strings.Contains(says, "say why the job is closed although") {
		t.Errorf("closed over without a reason: status %d", status)
	}
	if status, _ := send("what=close", "uid=u2", "end_day=", "end_reason=typed reason"); status != http.StatusUnprocessableEntity {
		t.Errorf("closed without a day: status %d", status)
	}
	if status, _ := send("what=what", "uid=u2", "end_day=2025-01-06"); status != http.StatusUnprocessableEntity {
		t.Errorf("asked for nothing: status %d", status)
	}
	if status, _ := send("what=close", "uid=u2", "end_day=2025-01-06", "end_reason=tested tomorrow"); status != http.StatusSeeOther {
		t.Fatalf("close: status %d", status)
	}
	check(t, "closed", get(h, page), http.StatusOK, []string{"closed on 2025-01-06", "Reason: tested tomorrow", "Reopen"}, []string{"Save the refit"})
	if status, _ := send("what=refit", "uid=u9", "day=2025-01-07", "hours=601"); status != http.StatusUnprocessableEntity {
		t.Errorf("refit of a closed job: status %d", status)
	}
	if status, _ := send("what=reopen", "uid=u3", "end_day=2025-01-07", "end_reason="); status != http.StatusUnprocessableEntity {
		t.Errorf("reopened without a reason: status %d", status)
	}
	if status, _ := send("what=reopen", "uid=u3", "end_day=2025-01-07", "end_reason=forgot the test"); status != http.StatusSeeOther {
		t.Errorf("reopen: status %d", status)
	}
	if status, _ := send("what=close", "give_up=yes", "uid=u4", "end_day=2025-01-08", "end_reason=done elsewhere"); status != http.StatusSeeOther {
		t.Errorf("give up: status %d", status)
	}
	check(t, "given up", get(h, page), http.StatusOK, []string{"given up on 2025-01-08", "done elsewhere", "forgot the test"}, nil)
}

// TestPartsInJobAreLeftAlone: other pages do not fit or remove parts of a
// position that a job has in hand, and lead to the job.
func TestPartsInJobAreLeftAlone(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	job := fmt.Sprintf(`href="/jobs/%d/placing"`, b.job8)
	for path, form := range map[string][]string{
		href("/parts/", b.cylinders[7], "/remove"):             {"day=2025-01-05", "hours=601", "reason=typed reason"},
		href("/parts/", b.shelf, "/install"):                   {"engine=R-1", "position=8", "day=2025-01-05", "hours=601"},
		href("/engines/", b.engine.ID, "/positions/8/install"): {"day=2025-01-05", "hours=601", "from-piston=new", "serial-piston=P-typed"},
	} {
		check(t, path, post(h, path, formOf(form...)), http.StatusUnprocessableEntity, []string{"which is under way", job, "Open the job", `value="601"`}, nil)
	}
	check(t, "another position", post(h, href("/parts/", b.cylinders[5], "/remove"), formOf("day=2025-01-05", "hours=601", "reason=oil use")), http.StatusSeeOther, nil, nil)
}
