package server

import (
	"fmt"
	"net/http"

	"barrelbook/store"
	"barrelbook/views"
)

// jobClose shows what a job fits where and what is open in it, saves its refit
// and ends it.
func (s *Server) jobClose(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobOf(r)
	if err != nil {
		return err
	}
	entries, err := s.book.JobEntries(r.Context(), j.ID)
	if err != nil {
		return err
	}
	today := string(s.book.Today())
	f := blankForm(map[string]string{"uid": newUID(), "after": lastEntry(entries), "day": today, "end_day": today})
	var stale []views.StaleRow
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		for _, name := range []string{"day", "end_day"} { // the page's other form begins as before
			if _, sent := f.values[name]; !sent {
				f.values[name] = today
			}
		}
		to, said, err := s.saveJobEnd(r, j, f)
		if err == nil && f.ok() {
			return s.redirect(w, r, to, said)
		}
		if stale = f.staleRows(err, jobFormName(f), "unsaved"); len(stale) == 0 {
			if err := f.refused(err, endFields(f)); err != nil {
				return err
			}
		}
	}
	p, err := s.jobCloseView(r, j, entries)
	if err != nil {
		return err
	}
	p.Draft, p.Stale, p.UID, p.After = f.draft(), stale, f.text("uid"), f.text("after")
	status := f.status()
	if len(stale) > 0 {
		status = http.StatusConflict
	}
	return s.draw(w, r, status, views.JobClosePage(p))
}

// endFields are the form's names of the store's fields.
func endFields(f *form) map[string]string {
	if f.text("what") == "refit" {
		return nil
	}
	return map[string]string{"day": "end_day", "reason": "end_reason"}
}

func jobFormName(f *form) string {
	switch {
	case f.text("what") == "refit":
		return "The refit"
	case f.text("give_up") != "":
		return "The giving up"
	}
	return "The closing"
}

// saveJobEnd saves what one of the page's forms asks for.
func (s *Server) saveJobEnd(r *http.Request, j store.Job, f *form) (to, said string, err error) {
	ctx, uid, after := r.Context(), f.text("uid"), f.ref("after")
	here := href("/jobs/", j.ID, "/close")
	what := f.text("what")
	if what == "refit" {
		day, shows := f.day("day"), f.hours("hours")
		if !f.ok() {
			return "", "", nil
		}
		return here, "The refit was saved. Hours count from here.", s.book.RefitJob(ctx, j.ID, day, shows, "", uid, after)
	}
	day, reason := f.day("end_day"), f.text("end_reason")
	switch {
	case what == "reopen":
		err = s.book.ReopenJob(ctx, j.ID, day, reason, "", uid)
		return here, "The job is open again.", err
	case f.text("give_up") != "":
		err = s.book.GiveUpJob(ctx, j.ID, day, reason, "", uid, after)
		return here, "The job was given up.", err
	case what == "close":
		err = s.book.CloseJob(ctx, j.ID, day, reason, "", uid, after)
		return here, "The job is closed.", err
	}
	f.fault("", "say what is to be done with the job")
	return "", "", nil
}

// jobCloseView fills the page.
func (s *Server) jobCloseView(r *http.Request, j store.Job, entries []store.JobEntry) (views.JobClose, error) {
	p := views.JobClose{Page: s.page(r, fmt.Sprintf("Refit and close job %d", j.ID), views.NavJobs), Head: jobHead(j, "/close"), Action: href("/jobs/", j.ID, "/close"), Open: j.Open()}
	if !j.Open() {
		p.History = endFacts(entries)
		p.Ways = []views.Link{{Text: "Draft of the logbook entry", Href: href("/jobs/", j.ID, "/entry")}, {Text: "Shelf tags", Href: href("/jobs/", j.ID, "/tags")}}
		return p, nil
	}
	fit, err := s.book.Refit(r.Context(), j.ID)
	if err != nil {
		return p, err
	}
	p.HoursHint, p.Offset = meterHints(fit.Engine)
	p.Positions, p.Changes = refitRows(fit), refitChanges(fit)
	p.Ways = []views.Link{{Text: "Change what is placed", Href: href("/jobs/", j.ID, "/placing")}}
	for _, e := range entries {
		if e.Kind == store.JobFitted && e.Part == 0 {
			p.Fitted = fmt.Sprintf("A refit was saved: %s, %s%s. Saving again carries over only what was placed or decided since.", e.Day, e.Text, by(e.Who))
		}
	}
	checks, err := s.book.ClosingChecks(r.Context(), j.ID)
	if err != nil {
		return p, err
	}
	for _, c := range checks {
		p.Checks = append(p.Checks, views.CloseCheck{Words: c.Words, Href: c.Href, Refuses: c.Refuses})
		p.Refused = p.Refused || c.Refuses
	}
	return p, nil
}

// endFacts tells how a job ended, and what it was closed over.
func endFacts(entries []store.JobEntry) []views.Fact {
	var facts []views.Fact
	for _, e := range entries {
		label := map[string]string{store.JobClosed: "Closed", store.JobGivenUp: "Given up", store.JobReopened: "Reopened"}[e.Kind]
		if e.Kind == store.JobFitted && e.Part == 0 {
			label = "Refit"
		}
		if label == "" {
			continue
		}
		words := string(e.Day) + by(e.Who)
		if e.Text != "" {
			words += ": " + e.Text
		}
		if e.Despite != "" {
			words += ". Reason: " + e.Despite
		}
		facts = append(facts, views.Fact{Label: label, Value: words})
	}
	return facts
}

// refitChanges counts what comes off and goes on.
func refitChanges(fit store.Refit) string {
	off, on := 0, 0
	for _, p := range fit.Changes() {
		if p.Sits.Part != 0 {
			off++
		}
		if p.Goes.ID != 0 {
			on++
		}
	}
	if off+on == 0 {
		return "Every part goes back where it was."
	}
	return fmt.Sprintf("%s off, %s on.", counted(off, "part"), counted(on, "part"))
}

func refitRows(fit store.Refit) []views.RefitPosition {
	var out []views.RefitPosition
	for _, p := range fit.Places {
		name := "Position " + itoa(p.Position)
		if len(out) == 0 || out[len(out)-1].Name != name {
			out = append(out, views.RefitPosition{Name: name})
		}
		last := &out[len(out)-1]
		if !p.Changes() && p.Goes.ID != 0 {
			last.Back = append(last.Back, views.Link{Text: string(p.Kind) + " " + p.Goes.Serial, Href: href("/parts/", p.Goes.ID)})
			continue
		}
		last.Places = append(last.Places, refitRow(p))
	}
	return out
}

func refitRow(p store.RefitPlace) views.RefitRow {
	row := views.RefitRow{Place: capital(string(p.Kind)), Despite: p.Despite, Bad: p.Goes.ID == 0}
	if p.Groove > 0 {
		row.Place = fmt.Sprintf("%s, groove %d", row.Place, p.Groove)
	}
	if p.Sits.Part != 0 {
		row.Sits, row.SitsHref = p.Sits.Serial, href("/parts/", p.Sits.Part)
	}
	if p.Goes.ID != 0 {
		row.Goes, row.GoesHref = p.Goes.Serial, href("/parts/", p.Goes.ID)
	}
	switch {
	case p.Goes.ID == 0 && p.Sits.Part == 0:
		row.Says = "empty: place a part"
	case p.Goes.ID == 0:
		row.Says = "empty: " + p.Sits.Serial + " comes off, " + p.Leaves
	case p.Sits.Part == 0:
		row.Says = p.Goes.Serial + " goes on"
	default:
		row.Says = p.Goes.Serial + " goes on; " + p.Sits.Serial + " comes off, " + p.Leaves
	}
	return row
}
