package server

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
)

// checklistOf is the list that a job on an engine of a model is opened with.
func (s *Server) checklistOf(ctx context.Context, model int64) ([]store.JobStep, error) {
	c, err := s.book.Checklist(ctx, model)
	return c.Lines, err
}

// jobChecklist is a job's steps with what was done of them.
type jobChecklist struct {
	job       store.Job
	model     store.Model
	steps     []store.JobStep
	entries   []store.JobEntry
	done      map[store.StepAt]store.JobEntry
	positions []int
	at        string // which steps the page shows: "", job, or a position
}

func (s *Server) jobChecklist(r *http.Request) (*jobChecklist, error) {
	ctx := r.Context()
	c := &jobChecklist{at: r.URL.Query().Get("at")}
	var err error
	if c.job, err = s.jobOf(r); err != nil {
		return nil, err
	}
	for _, read := range []func() error{
		func() (err error) { c.steps, err = s.book.JobSteps(ctx, c.job.ID); return err },
		func() (err error) { c.entries, err = s.book.JobEntries(ctx, c.job.ID); return err },
		func() (err error) { c.positions, err = s.book.JobPositions(ctx, c.job.ID); return err },
		func() error {
			e, err := s.book.Engine(ctx, c.job.Engine)
			c.model = e.Model
			return err
		},
	} {
		if err := read(); err != nil {
			return nil, err
		}
	}
	c.done = store.StepsDone(c.entries)
	if n, err := strconv.Atoi(c.at); c.at != "job" && (err != nil || !slices.Contains(c.positions, n)) {
		c.at = ""
	}
	return c, nil
}

// jobSteps shows the checklist of a job and saves what was ticked, a phase a
// form.
func (s *Server) jobSteps(w http.ResponseWriter, r *http.Request) error {
	c, err := s.jobChecklist(r)
	if err != nil {
		return err
	}
	f, status := blankForm(map[string]string{}), http.StatusOK
	var stale []views.StaleRow
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		ticks := c.ticks(f)
		err := s.book.TickSteps(r.Context(), c.job.ID, ticks, f.text("who-"+f.text("phase")), f.text("uid"), int64(f.number("after", 0, 1<<40, false)))
		if err == nil {
			return s.redirect(w, r, c.href()+"#phase-"+f.text("phase"), counted(len(ticks), "step")+" saved as done.")
		}
		if stale = c.staleSteps(f, err, ticks); stale == nil {
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
		if status = f.status(); stale != nil {
			status = http.StatusConflict
			f.values["uid"] = ""
		}
	}
	return s.draw(w, r, status, views.JobStepsPage(s.stepsPage(r, c, f, stale)))
}

// href is the page with the same steps shown.
func (c *jobChecklist) href() string {
	if c.at == "" {
		return href("/jobs/", c.job.ID, "/steps")
	}
	return href("/jobs/", c.job.ID, "/steps?at=", c.at)
}

// ticks reads what was ticked in a form, in the order of the list.
func (c *jobChecklist) ticks(f *form) []store.Tick {
	var ticks []store.Tick
	for _, st := range c.steps {
		for _, p := range c.placesOf(st) {
			if f.text(tickName(st.ID, p)) != "" {
				ticks = append(ticks, store.Tick{StepAt: store.StepAt{Step: st.ID, Position: p}, Text: f.text(valueName(st.ID))})
			}
		}
	}
	return ticks
}

// placesOf are the positions a step is done at; 0 alone for once a job.
func (c *jobChecklist) placesOf(st store.JobStep) []int {
	if st.Each {
		return c.positions
	}
	return []int{0}
}

func tickName(step int64, position int) string { return fmt.Sprintf("done-%d-%d", step, position) }
func valueName(step int64) string              { return fmt.Sprintf("value-%d", step) }

// staleSteps sets what others saved about the same steps beside what stands in
// the form; nil where err does not say so.
func (c *jobChecklist) staleSteps(f *form, err error, ticks []store.Tick) []views.StaleRow {
	var behind store.Stale
	if !errors.As(err, &behind) {
		return nil
	}
	var rows []views.StaleRow
	for _, e := range behind.Since {
		i := slices.IndexFunc(c.steps, func(st store.JobStep) bool { return st.ID == e.Step })
		if i < 0 {
			continue
		}
		what, yours := store.OpenStep{JobStep: c.steps[i], Position: e.Position}.String(), "done"
		for _, k := range ticks {
			if k.Step == e.Step && k.Position == e.Position && k.Text != "" {
				yours += ": " + k.Text
			}
		}
		rows = append(rows, f.staleRows(store.Stale{Since: []store.JobEntry{e}}, what, yours)...)
	}
	return rows
}

func (s *Server) stepsPage(r *http.Request, c *jobChecklist, f *form, stale []views.StaleRow) views.JobSteps {
	p := views.JobSteps{Page: s.page(r, "Checklist, "+c.job.Why, views.NavJobs), Head: jobHead(c.job, "/steps"), Stale: stale, Draft: f.draft(), Empty: len(c.steps) == 0, Ended: !c.job.Open(),
		Model: views.Link{Text: "Checklist of " + c.model.Name, Href: href("/models/", c.model.ID, "/checklist")}}
	done, all := c.count(func(store.JobStep, int) bool { return true })
	p.Count = fmt.Sprintf("%d of %s done, %d open", done, counted(all, "step"), all-done)
	c.addWays(&p)
	for _, o := range store.JobPhases {
		ph := c.phase(o, f)
		if len(ph.Lines) == 0 {
			continue
		}
		ph.UID, ph.After = newUID(), lastEntry(c.entries)
		if f.text("phase") == o && f.text("uid") != "" {
			ph.UID, ph.After = f.text("uid"), f.text("after")
		}
		p.Phases = append(p.Phases, ph)
	}
	return p
}

// addWays leads to the steps of the whole job and of each position.
func (c *jobChecklist) addWays(p *views.JobSteps) {
	way := func(text, at string, counts func(store.JobStep, int) bool) {
		done, all := c.count(counts)
		if all > 0 {
			p.Ways = append(p.Ways, views.JobWay{Text: fmt.Sprintf("%s (%d open)", text, all-done), Href: (&jobChecklist{job: c.job, at: at}).href(), Here: at == c.at})
		}
	}
	way("Everything", "", func(store.JobStep, int) bool { return true })
	way("Once a job", "job", func(st store.JobStep, _ int) bool { return !st.Each })
	for _, n := range c.positions {
		way("Position "+itoa(n), itoa(n), func(st store.JobStep, at int) bool { return st.Each && at == n })
	}
}

// count counts the steps, at each of their positions, that are done, of all
// those wanted.
func (c *jobChecklist) count(wanted func(st store.JobStep, position int) bool) (done, all int) {
	for _, st := range c.steps {
		for _, p := range c.placesOf(st) {
			if !wanted(st, p) {
				continue
			}
			all++
			if _, ok := c.done[store.StepAt{Step: st.ID, Position: p}]; ok {
				done++
			}
		}
	}
	return done, all
}

// shows reports whether the page shows a step at a position.
func (c *jobChecklist) shows(st store.JobStep, position int) bool {
	switch c.at {
	case "":
		return true
	case "job":
		return !st.Each
	}
	return st.Each && itoa(position) == c.at
}

func (c *jobChecklist) phase(key string, f *form) views.StepPhase {
	done, all := c.count(func(st store.JobStep, p int) bool { return st.Phase == key && c.shows(st, p) })
	ph := views.StepPhase{Key: key, Name: capital(key), Count: fmt.Sprintf("%d of %d done", done, all), Action: c.href()}
	for _, st := range c.steps {
		if st.Phase != key {
			continue
		}
		if line, any := c.line(st, f); any {
			ph.Lines = append(ph.Lines, line)
			ph.Saves = ph.Saves || line.ValueName != ""
		}
	}
	return ph
}

// line is one step with its boxes and its history; false where the page shows
// it at no position.
func (c *jobChecklist) line(st store.JobStep, f *form) (views.StepLine, bool) {
	v := views.StepLine{Text: st.Text, Caution: st.Caution, Torque: st.Torque, Wrench: st.Wrench, Each: st.Each, ValueOpen: st.Torque != "" || st.Wrench != ""}
	any := false
	for _, p := range c.placesOf(st) {
		if !c.shows(st, p) {
			continue
		}
		any = true
		label := "done"
		if p > 0 {
			label = itoa(p)
		}
		v.Done = append(v.Done, c.history(st.ID, p)...)
		_, done := c.done[store.StepAt{Step: st.ID, Position: p}]
		if name := tickName(st.ID, p); c.job.Open() && (!done || f.text(name) != "") {
			v.Boxes = append(v.Boxes, views.StepBox{Name: name, Label: label})
			v.ValueName = valueName(st.ID)
		} else if !done {
			v.Boxes = append(v.Boxes, views.StepBox{Label: label})
		}
	}
	return v, any
}

// history is what was ticked of a step at a position, oldest first, with what
// was taken back.
func (c *jobChecklist) history(step int64, position int) []views.StepDone {
	var out []views.StepDone
	for _, e := range c.entries {
		if e.Kind != store.JobDone || e.Step != step || e.Position != position {
			continue
		}
		v := views.StepDone{Text: entryText(e)}
		if position > 0 {
			v.Label = itoa(position)
		}
		if i := slices.IndexFunc(c.entries, func(u store.JobEntry) bool { return u.Undoes == e.ID }); i >= 0 {
			v.Back = entryText(c.entries[i])
		} else if c.job.Open() {
			v.UndoHref = href("/jobs/", c.job.ID, "/steps/", e.ID, "/undo")
		}
		out = append(out, v)
	}
	return out
}

// entryText says who made an entry, when, and with what words.
func entryText(e store.JobEntry) string {
	return joinText(", ", e.Who, when(e.SavedAt), e.Text)
}

// undoStep takes a step back that was ticked.
func (s *Server) undoStep(w http.ResponseWriter, r *http.Request) error {
	c, err := s.jobChecklist(r)
	if err != nil {
		return err
	}
	n, err := id(r, "entry")
	if err != nil {
		return err
	}
	i := slices.IndexFunc(c.entries, func(e store.JobEntry) bool { return e.ID == n && e.Kind == store.JobDone })
	if i < 0 {
		return store.ErrNotFound
	}
	e := c.entries[i]
	st := store.OpenStep{Position: e.Position}
	for _, x := range c.steps {
		if x.ID == e.Step {
			st.JobStep = x
		}
	}
	back := href("/jobs/", c.job.ID, "/steps#phase-", st.Phase)
	f, status := blankForm(map[string]string{"uid": newUID(), "after": lastEntry(c.entries)}), http.StatusOK
	var stale []views.StaleRow
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		_, err := s.book.AddJobEntry(r.Context(), store.JobEntry{UID: f.text("uid"), Job: c.job.ID, Kind: store.JobUndone, Undoes: n, Text: f.text("reason"), Day: s.book.Today(), Who: f.text("who")}, int64(f.number("after", 0, 1<<40, false)))
		if err == nil {
			return s.redirect(w, r, back, "The step was taken back; it is open again.")
		}
		if stale = f.staleRows(err, st.String(), "taken back: "+f.text("reason")); stale == nil {
			if err := f.refused(err, map[string]string{"undoes": "reason", "job": "reason"}); err != nil {
				return err
			}
		}
		if status = f.status(); stale != nil {
			status = http.StatusConflict
		}
	}
	return s.draw(w, r, status, views.UndoStepPage(views.UndoStep{Page: s.page(r, "Take a step back", views.NavJobs), Head: jobHead(c.job, "/steps"), Action: href("/jobs/", c.job.ID, "/steps/", n, "/undo"), Draft: f.draft(), Stale: stale,
		Facts: []views.Fact{{Label: "Step", Value: st.String()}, {Label: "Ticked", Value: entryText(e)}}, Back: views.Link{Text: "Leave it done", Href: back}}))
}
