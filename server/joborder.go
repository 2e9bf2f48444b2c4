package server

import (
	"errors"
	"fmt"
	"net/http"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// job is the page of a job's order.
func (s *Server) job(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobOf(r)
	if err != nil {
		return err
	}
	return s.drawOrder(w, r, j, blankForm(map[string]string{}), nil, nil)
}

// jobEntry records what happened in a job: a cylinder off or on, the crank
// turned, a note, or an entry taken back.
func (s *Server) jobEntry(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobOf(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	e := store.JobEntry{UID: f.text("uid"), Job: j.ID, Kind: f.text("kind"), Text: f.text("text"), Despite: f.text("despite"), Undoes: f.ref("undoes")}
	if !slices.Contains([]string{store.JobPulled, store.JobRefitted, store.JobTurned, store.JobAdded, store.JobLeftOn, store.JobNote, store.JobUndone}, e.Kind) {
		return errBadForm
	}
	switch e.Kind {
	case store.JobNote:
		f.needed("text", "type the note")
	case store.JobUndone:
		e.Text = f.text(fmt.Sprint("reason", e.Undoes))
	default:
		e.Position = f.number("position", 1, 36, true)
	}
	after := f.ref("after")
	if f.ok() {
		_, err := s.book.AddJobEntry(r.Context(), e, after)
		if err == nil {
			return s.redirect(w, r, href("/jobs/", j.ID), capital(eventWords(e))+": recorded.")
		}
		var refused store.Refused
		if errors.As(err, &refused) {
			f.fault("despite", "give the reason")
			return s.drawOrder(w, r, j, f, nil, &views.JobRefusal{Step: eventWords(e), Words: refused.Words, Kind: e.Kind, Position: itoa(e.Position)})
		}
		if stale := f.staleRows(err, eventWords(e), e.Text); stale != nil {
			return s.drawOrder(w, r, j, f, stale, nil)
		}
		if err := f.refused(err, nil); err != nil {
			return err
		}
	}
	return s.drawOrder(w, r, j, f, nil, nil)
}

// eventWords say what an entry of a job tells.
func eventWords(e store.JobEntry) string {
	at := itoa(e.Position)
	switch e.Kind {
	case store.JobAdded:
		return "cylinder " + at + " comes off in this job"
	case store.JobLeftOn:
		return "cylinder " + at + " stays on after all"
	case store.JobPulled:
		return "cylinder " + at + " is off"
	case store.JobRefitted:
		return "cylinder " + at + " is on"
	case store.JobTurned:
		return "crank turned to top dead centre of " + at
	case store.JobDone:
		return "step done" + atPosition(e.Position)
	case store.JobDecided:
		return "decided" + atPosition(e.Position)
	case store.JobPlaced:
		return "placing of position " + at + " chosen"
	case store.JobFitted:
		return "parts fitted as placed"
	case store.JobUndone:
		return "entry taken back"
	case store.JobClosed, store.JobReopened, store.JobGivenUp:
		return "job " + e.Kind
	}
	return e.Kind
}

func atPosition(p int) string {
	if p == 0 {
		return ""
	}
	return " at position " + itoa(p)
}

// drawOrder draws the page of the order, with what was wrong with a step.
func (s *Server) drawOrder(w http.ResponseWriter, r *http.Request, j store.Job, f *form, stale []views.StaleRow, refused *views.JobRefusal) error {
	work, err := s.book.Work(r.Context(), j.Engine)
	if err != nil {
		return err
	}
	entries, err := s.book.JobEntries(r.Context(), j.ID)
	if err != nil {
		return err
	}
	p := views.JobOrder{Page: s.page(r, jobHead(j, "").Title, views.NavJobs), Head: jobHead(j, ""), Open: j.Open(), Action: href("/jobs/", j.ID, "/entries"), UID: newUID(), After: lastEntry(entries), Draft: f.draft(), Stale: stale, Refused: refused, Detail: j.Detail,
		Turning: views.Link{Text: "Type the maker's order", Href: href("/models/", work.Engine.Model.ID, "/turning")}}
	if refused != nil {
		p.Draft.Faults, p.UID = nil, f.text("uid")
	}
	if after := f.text("after"); after != "" {
		p.After = after
	}
	p.Cautions = orderCautions(work.Engine)
	o := orderOf(j, work, entries)
	b, err := s.benchOf(r)
	if err != nil {
		return err
	}
	o.fill(&p)
	if next, line := b.nextStep(o); line == nil {
		p.Todo = next
	}
	p.History = jobHistory(entries)
	status := f.status()
	if stale != nil {
		status = http.StatusConflict
	}
	return s.draw(w, r, status, views.JobOrderPage(p))
}

// orderCautions are those of taking cylinders off and putting them on.
// Sources: FAA-H-8083-32, removal and installation of cylinders; common
// practice, no source.
func orderCautions(e store.Engine) []string {
	cs := []string{"Ignition off and grounded; treat the propeller as live.", "Turn the crankshaft only in its direction of rotation: oil may stand in a lower cylinder. Drain it first.",
		"A second person catches the piston and rod; pad the rod, so that it marks neither itself nor the case.", "Push rods, tubes and parts go to numbered places."}
	if ms := e.Masters(); len(ms) > 0 {
		cs = append(cs, fmt.Sprintf("The master-rod cylinder (%s) comes off last and goes on first. While it is off the crankshaft is not turned and its rod stays centred.", wear.ListOf(ms, itoa)))
	}
	return append(cs, "The maker's manual prevails over this order.")
}

func jobHistory(es []store.JobEntry) []views.JobEvent {
	var out []views.JobEvent
	last := true // of the moves, only the last can be taken back
	for i, e := range slices.Backward(es) {
		if i+1 < len(es) && e.Kind == store.JobAdded && es[i+1].Kind == store.JobAdded && es[i+1].SavedAt == e.SavedAt {
			continue // told with the last that came in with it
		}
		v := views.JobEvent{ID: fmt.Sprint(e.ID), When: when(e.SavedAt), Who: e.Who, What: capital(eventWords(e)), Text: e.Text, Despite: e.Despite, Struck: e.Struck}
		switch e.Kind {
		case store.JobAdded:
			v.What = addedTogether(es[:i+1])
		case store.JobPulled, store.JobRefitted, store.JobTurned, store.JobLeftOn:
			v.CanTakeBack = last && !e.Struck
			last = last && e.Struck
		case store.JobNote:
			v.CanTakeBack = !e.Struck
		}
		out = append(out, v)
	}
	return out
}

// addedTogether says which cylinders came into the job with the last entry.
func addedTogether(es []store.JobEntry) string {
	last := es[len(es)-1]
	var ps []int
	for _, e := range es {
		if e.Kind == store.JobAdded && e.SavedAt == last.SavedAt {
			ps = append(ps, e.Position)
		}
	}
	if len(ps) == 1 {
		return capital(eventWords(last))
	}
	return "Cylinders " + wear.ListOf(ps, itoa) + " come off in this job"
}
