package server

import (
	"fmt"
	"net/http"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
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
		despite, rings, err := s.checkRefit(r, f, j.ID)
		if err != nil || !f.ok() {
			return "", "", err
		}
		return here, joinText(" ", "The refit was saved. Hours count from here.", unmeasuredText(rings)), s.book.RefitJob(ctx, j.ID, day, shows, "", uid, after, despite...)
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

// checkRefit asks for a reason where a ring that a refit puts on presses harder
// than the original and was placed without one, as of a ring that was measured
// after it was placed. The rings that go on come back.
func (s *Server) checkRefit(r *http.Request, f *form, job int64) (despite []store.Placing, rings []*pressing, err error) {
	fit, err := s.book.Refit(r.Context(), job)
	if err != nil {
		return nil, nil, err
	}
	pressed, err := s.pressingInRefit(r, fit)
	if err != nil {
		return nil, nil, err
	}
	reason := f.text("despite")
	var against []string
	var way views.Link
	for _, x := range fit.Changes() {
		p := pressed[x.Field()]
		rings = append(rings, p)
		if !p.hard() || x.Despite != "" {
			continue
		}
		despite = append(despite, store.Placing{Position: x.Position, Kind: x.Kind, Groove: x.Groove, Part: x.Goes.ID, Despite: reason})
		against, way = append(against, strings.TrimSuffix(p.against(), ".")), views.Link{Text: "Compare ring " + p.ring.Serial, Href: p.href()}
	}
	if len(against) > 0 && reason == "" {
		f.faults = append(f.faults, views.Fault{Field: "despite", Message: strings.Join(against, ". Besides, ") + ". Place another, or say why it is fitted all the same", Way: way.Text, Href: way.Href})
	}
	return despite, rings, nil
}

// pressingInRefit is how hard the rings press that a refit would put on, by
// place.
func (s *Server) pressingInRefit(r *http.Request, fit store.Refit) (map[string]*pressing, error) {
	k, err := s.ringBook(r.Context())
	if err != nil {
		return nil, err
	}
	pressed := map[string]*pressing{}
	for _, x := range fit.Changes() {
		if x.Kind != wear.Ring || x.Goes.ID == 0 {
			continue
		}
		if pressed[x.Field()], err = k.pressingIn(x.Goes, fit.Engine, x.Position, x.Groove); err != nil {
			return nil, err
		}
	}
	return pressed, nil
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
	pressed, err := s.pressingInRefit(r, fit)
	if err != nil {
		return p, err
	}
	p.Positions, p.Changes = refitRows(fit, pressed), refitChanges(fit)
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
			words += ": " + strings.ReplaceAll(e.Text, "\n", "; ")
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

func refitRows(fit store.Refit, pressed map[string]*pressing) []views.RefitPosition {
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
		last.Places = append(last.Places, refitRow(p, pressed[p.Field()]))
	}
	return out
}

func refitRow(p store.RefitPlace, ring *pressing) views.RefitRow {
	row := views.RefitRow{Place: capital(string(p.Kind)), Despite: p.Despite, Bad: p.Goes.ID == 0, Pressing: ring.view(true)}
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
