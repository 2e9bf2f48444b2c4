package server

import (
	"fmt"
	"net/http"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// jobReasons are offered where a job is opened; any other words do as well.
var jobReasons = []string{"top overhaul", "low leak test", "oil use", "wears too fast", "beyond its limit", "metal in the oil", "inspection"}

// newJob opens a job on an engine.
func (s *Server) newJob(w http.ResponseWriter, r *http.Request) error {
	engine, err := id(r, "id")
	if err != nil {
		return err
	}
	work, err := s.book.Work(r.Context(), engine)
	if err != nil {
		return err
	}
	f := asked(r)
	f.values["uid"], f.values["day"], f.values["stands"] = newUID(), string(s.book.Today()), itoa(max(work.Stands, 1))
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		n, err := s.readJob(r, f, work)
		if err != nil {
			return err
		}
		if f.ok() {
			id, err := s.book.OpenJob(r.Context(), n)
			if err == nil {
				return s.redirect(w, r, href("/jobs/", id), fmt.Sprintf("Job %d is open.", id))
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	p, err := s.jobForm(r, work)
	if err != nil {
		return err
	}
	p.Draft = f.draft()
	return s.draw(w, r, f.status(), views.JobFormPage(p))
}

// readJob reads the form that opens a job.
func (s *Server) readJob(r *http.Request, f *form, work store.Work) (store.NewJob, error) {
	e := work.Engine
	shows := f.hours("hours")
	n := store.NewJob{Job: store.Job{UID: f.text("uid"), Engine: e.ID, Why: f.needed("why", "say why the cylinders come off"), Detail: f.text("detail"), Day: f.day("day"), Stands: f.number("stands", 1, e.Cylinders, true)}, Shows: &shows}
	for p := 1; p <= e.Cylinders; p++ {
		if f.text("p"+itoa(p)) != "" || f.text("all") != "" && work.JobAt(p) == 0 {
			n.Positions = append(n.Positions, p)
		}
	}
	if len(n.Positions) == 0 {
		f.fault("positions", "choose the cylinders that come off")
	}
	var err error
	n.Steps, err = s.checklistOf(r.Context(), e.Model.ID)
	return n, err
}

func (s *Server) jobForm(r *http.Request, work store.Work) (views.JobForm, error) {
	e := work.Engine
	p := views.JobForm{Page: s.page(r, "Open a job on "+e.Serial, views.NavJobs), Action: href("/engines/", e.ID, "/jobs/new"), Engine: e.Serial, About: e.Model.Name, Back: views.Link{Text: "Back to the engine", Href: href("/engines/", e.ID)}, Reasons: jobReasons,
		Checklist: views.Link{Text: "Look at it", Href: href("/models/", e.Model.ID, "/checklist")}}
	if e.Aircraft != "" {
		p.About += ", " + e.Aircraft
	}
	p.HoursHint, _ = meterHints(e)
	if ms := e.Masters(); len(ms) > 0 {
		p.Master = fmt.Sprintf("Position %s holds the master rod: that cylinder comes off last and goes on first, and the crank is not turned while it is off.", wear.ListOf(ms, itoa))
	}
	slots, err := s.book.Slots(r.Context(), []store.Engine{e})
	if err != nil {
		return p, err
	}
	for _, j := range work.Jobs {
		p.Under = append(p.Under, views.Link{Text: fmt.Sprintf("Job %d, %s", j.ID, j.Why), Href: href("/jobs/", j.ID)})
	}
	if len(work.Jobs) > 0 {
		p.FixedStand = fmt.Sprintf("at top dead centre of position %d, by the job under way", work.Stands)
	}
	for n := 1; n <= e.Cylinders; n++ {
		c := views.JobChoice{Number: n, Label: "Cylinder " + itoa(n) + cylinderAt(slots[e.ID], n)}
		if j := work.JobAt(n); j != 0 {
			c.Taken = fmt.Sprintf("job %d", j)
		}
		p.Positions = append(p.Positions, c)
		p.Stands = append(p.Stands, views.Option{Value: itoa(n), Label: "position " + itoa(n)})
	}
	return p, nil
}

// cylinderAt names the cylinder at a position: ", C-1041".
func cylinderAt(slots []store.Slot, n int) string {
	for _, x := range slotsAt(slots, n) {
		if x.Kind == wear.Cylinder {
			return ", " + x.Serial
		}
	}
	return ""
}
