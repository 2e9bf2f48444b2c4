package server

import (
	"fmt"
	"net/http"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
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
