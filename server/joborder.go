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

// jobList lists the jobs of the book.
func (s *Server) jobList(w http.ResponseWriter, r *http.Request) error {
	ctx, at := r.Context(), pageOf(r)
	open, err := s.book.Jobs(ctx, store.JobFilter{Open: true})
	if err != nil {
		return err
	}
	ended, err := s.book.Jobs(ctx, store.JobFilter{Ended: true, Limit: pageSize, Offset: at.offset()})
	if err != nil {
		return err
	}
	total, err := s.book.CountJobs(ctx, store.JobFilter{Ended: true})
	if err != nil {
		return err
	}
	p := views.Jobs{Page: s.page(r, "Jobs", views.NavJobs)}
	for _, j := range open {
		row, err := s.jobRow(r, j)
		if err != nil {
			return err
		}
		p.Open = append(p.Open, row)
	}
	for _, j := range ended {
		row := jobRow(j)
		row.Stands = j.Ended + " on " + string(j.EndDay)
		p.Ended = append(p.Ended, row)
	}
	p.Before, p.After = at.around(r, total)
	return s.draw(w, r, http.StatusOK, views.JobsPage(p))
}

func jobRow(j store.Job) views.JobRow {
	return views.JobRow{Name: fmt.Sprintf("Job %d", j.ID), Href: href("/jobs/", j.ID), Why: j.Why, Engine: j.EngineNo, EngineHref: href("/engines/", j.Engine), Opened: string(j.Day)}
}

// jobRow is the row of a job under way.
func (s *Server) jobRow(r *http.Request, j store.Job) (views.JobRow, error) {
	row := jobRow(j)
	work, err := s.book.Work(r.Context(), j.Engine)
	if err != nil {
		return row, err
	}
	mine := work.Positions(j.ID)
	off := slices.DeleteFunc(slices.Clone(mine), func(p int) bool { return !work.IsOff(p) })
	row.Stands = fmt.Sprintf("%d of %d off", len(off), len(mine))
	row.Halted = len(work.MastersOff()) > 0
	return row, nil
}

// jobsOn are the rows of the jobs under way on an engine.
func (s *Server) jobsOn(r *http.Request, e store.Engine) ([]views.JobRow, error) {
	jobs, err := s.book.Jobs(r.Context(), store.JobFilter{Engine: e.ID, Open: true})
	if err != nil {
		return nil, err
	}
	var rows []views.JobRow
	for _, j := range jobs {
		row, err := s.jobRow(r, j)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// jobAt leads to the job under way at a position; an empty link for none.
func (s *Server) jobAt(r *http.Request, engine int64, position int) (views.Link, error) {
	jobs, err := s.book.Jobs(r.Context(), store.JobFilter{Engine: engine, Open: true})
	if err != nil || len(jobs) == 0 {
		return views.Link{}, err
	}
	work, err := s.book.Work(r.Context(), engine)
	if err != nil || work.JobAt(position) == 0 {
		return views.Link{}, err
	}
	l := views.Link{Text: fmt.Sprintf("Job %d", work.JobAt(position)), Href: href("/jobs/", work.JobAt(position))}
	if work.IsOff(position) {
		l.Text += ": the cylinder is off"
	}
	return l, nil
}

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
	o.fill(&p)
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

// order is a job's order as its page draws it.
type order struct {
	job     store.Job
	work    store.Work
	entries []store.JobEntry
	places  []wear.CrankPlace
	known   bool
	centres []wear.DeadCentre
	mine    []int // the job's positions
	off, on []views.JobLine
	words   string
	missing bool
}

func orderOf(j store.Job, work store.Work, entries []store.JobEntry) *order {
	o := &order{job: j, work: work, entries: entries}
	o.places, o.known = work.Engine.CrankPlaces()
	if row, missing := rodRow(work.Engine, o.places); o.known && missing == "" {
		o.centres, _ = row.DeadCentres() // rods that make no engine tell no true dead centre; the crank page says so
	}
	o.mine = work.Positions(j.ID)
	o.done()
	if j.Open() {
		o.plan()
	}
	return o
}

// done are the cylinders that came off and went on, in the order they did.
func (o *order) done() {
	for _, x := range o.entries {
		if x.Struck || x.Kind != store.JobPulled && x.Kind != store.JobRefitted {
			continue
		}
		l := o.line(x.Position, x.Kind)
		l.Done, l.Despite = when(x.SavedAt), x.Despite
		if x.Who != "" {
			l.Done += ", " + x.Who
		}
		if x.Kind == store.JobPulled {
			o.off = append(o.off, l)
		} else {
			o.on = append(o.on, l)
		}
	}
}

func (o *order) line(position int, kind string) views.JobLine {
	l := views.JobLine{Position: itoa(position), Kind: kind, BenchHref: href("/jobs/", o.job.ID, "/bench/", position)}
	l.Master = slices.Contains(o.work.Engine.Masters(), position)
	l.Waits = kind == store.JobRefitted && !o.work.IsOff(position)
	return l
}

// cameOff reports whether the cylinder of a position came off in the job, be it
// on again or not.
func (o *order) cameOff(position int) bool {
	return slices.ContainsFunc(o.entries, func(x store.JobEntry) bool { return !x.Struck && x.Kind == store.JobPulled && x.Position == position })
}

// plan proposes the order of what is still to be done.
func (o *order) plan() {
	toPull := slices.DeleteFunc(slices.Clone(o.mine), o.cameOff)
	toRefit := slices.DeleteFunc(slices.Clone(o.mine), func(p int) bool { return o.cameOff(p) && !o.work.IsOff(p) })
	ask := wear.PullRequest{Places: o.places, Off: o.work.Off, Centres: o.centres, From: o.angle(o.work.Stands)}
	end := o.propose(ask, toPull, o.work.Engine.Model.Turning.OrderOff, store.JobPulled, wear.PlanRemoval)
	ask.Off, ask.From = nil, end
	o.propose(ask, toRefit, o.work.Engine.Model.Turning.OrderOn, store.JobRefitted, wear.PlanRefit)
}

func (o *order) angle(position int) float64 {
	for _, c := range o.places {
		if c.Position == position && c.Known {
			return c.Angle
		}
	}
	return 0
}

// propose adds the lines of one plan and says where the crank stands after it.
func (o *order) propose(ask wear.PullRequest, positions, maker []int, kind string, plan func(wear.PullRequest) (wear.PullPlan, error)) float64 {
	if len(positions) == 0 {
		return ask.From
	}
	ask.Pull = positions
	if len(maker) > 0 {
		ask.Maker = maker
	}
	p, err := plan(ask)
	if err != nil {
		o.missing = true
		for _, n := range positions {
			o.add(o.line(n, kind), "In the order of the numbers: no other is known.")
		}
		return ask.From
	}
	for _, l := range p.Lines {
		line := o.line(l.Position, kind)
		line.Caution = l.Caution
		if l.Known {
			line.Turn, line.To = degrees(l.Turn), degrees(l.Angle)
		}
		if l.HasTrue {
			line.True = degrees(l.True)
		}
		o.add(line, l.Reason)
	}
	if o.words == "" {
		o.words = "What turns the crank least, master-rod cylinders last off and first on."
		if p.ByMaker {
			o.words = "The maker's order, as the shop typed it."
		}
	}
	return p.End
}

func (o *order) add(l views.JobLine, reason string) {
	l.Reason = reason
	if l.Kind == store.JobPulled {
		o.off = append(o.off, l)
		return
	}
	o.on = append(o.on, l)
}

// fill draws the order on the page.
func (o *order) fill(p *views.JobOrder) {
	p.Off, p.On = o.off, o.on
	p.Words = o.words
	if o.missing {
		p.Missing = "The crank angles of this engine are not known, so no order can be proposed."
	}
	p.AllOn = o.job.Open() && len(o.mine) > 0
	for _, lines := range [][]views.JobLine{p.Off, p.On} {
		for i := range lines {
			if lines[i].Done != "" {
				continue
			}
			p.AllOn = false
			if p.Next == nil && !lines[i].Waits {
				lines[i].Next, p.Next = true, &lines[i]
			}
		}
	}
	if o.work.Stands > 0 && o.job.Open() {
		p.Stands = fmt.Sprintf("The crank stands at top dead centre of position %d.", o.work.Stands)
	}
	for n := 1; n <= o.work.Engine.Cylinders; n++ {
		opt := views.Option{Value: itoa(n), Label: "position " + itoa(n)}
		p.Turn = append(p.Turn, opt)
		switch {
		case o.work.JobAt(n) == 0:
			p.Add = append(p.Add, opt)
		case o.work.JobAt(n) == o.job.ID && !o.cameOff(n):
			p.Leave = append(p.Leave, opt)
		}
	}
}
