package server

import (
	"errors"
	"fmt"
	"net/http"

	"barrelbook/store"
	"barrelbook/views"
)

// jobOf finds the job that the address names.
func (s *Server) jobOf(r *http.Request) (store.Job, error) {
	n, err := id(r, "id")
	if err != nil {
		return store.Job{}, err
	}
	return s.book.Job(r.Context(), n)
}

// jobPages are the pages of a job, in the order of the work; the first is its
// own address.
var jobPages = []struct{ text, path string }{
	{"Order", ""}, {"Checklist", "/steps"}, {"Bench", "/bench"}, {"Placing", "/placing"}, {"Refit and close", "/close"}, {"Draft entry", "/entry"}, {"Tags", "/tags"},
}

// jobHead is what stands above the page of a job; here is its path below the
// job's address.
func jobHead(j store.Job, here string) views.JobHead {
	h := views.JobHead{Title: fmt.Sprintf("Job %d: %s", j.ID, j.Why), Engine: j.EngineNo, EngineHref: href("/engines/", j.Engine), About: fmt.Sprintf("opened %s at %s", j.Day, hours(j.Hours))}
	if j.Who != "" {
		h.About += " by " + j.Who
	}
	if !j.Open() {
		h.Ended = j.Ended + " on " + string(j.EndDay)
	}
	for _, p := range jobPages {
		h.Ways = append(h.Ways, views.JobWay{Text: p.text, Href: href("/jobs/", j.ID, p.path), Here: p.path == here})
	}
	return h
}

// lastEntry is the last entry of a job that a form drawn now knows of; 0 for
// none.
func lastEntry(es []store.JobEntry) string {
	if len(es) == 0 {
		return "0"
	}
	return fmt.Sprint(es[len(es)-1].ID)
}

// staleRows are what others saved since a form was drawn, where err says so.
// yours is what stands in the form; after, in the draft, becomes the last of
// theirs, so that sending the form again saves over it.
func (f *form) staleRows(err error, what, yours string) []views.StaleRow {
	var stale store.Stale
	if !errors.As(err, &stale) {
		return nil
	}
	var rows []views.StaleRow
	for _, e := range stale.Since {
		theirs := e.Kind
		if e.Text != "" {
			theirs += ": " + e.Text
		}
		rows = append(rows, views.StaleRow{What: what, Theirs: theirs, Yours: yours, Who: e.Who, When: when(e.SavedAt)})
		f.values["after"] = fmt.Sprint(e.ID)
	}
	return rows
}
