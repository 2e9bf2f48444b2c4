package server

import (
	"fmt"
	"net/http"

	"github.com/go-chi/chi/v5"

	"barrelbook/views"
	"barrelbook/wear"
)

// engineAt is the engine that a page is about, by its address; 0 for none.
func (s *Server) engineAt(r *http.Request) int64 {
	n, err := id(r, "id")
	if err != nil {
		return 0
	}
	engines, err := enginesOf(r.Context(), s.book, chi.RouteContext(r.Context()).RoutePattern(), n)
	if err != nil || len(engines) == 0 {
		return 0
	}
	return engines[0]
}

// halt says on every page of an engine that its crankshaft must not be turned,
// while a master-rod cylinder is off.
func (s *Server) halt(r *http.Request) *views.Halt {
	engine := s.engineAt(r)
	if engine == 0 {
		return nil
	}
	jobs, masters, err := s.book.Halts(r.Context(), engine)
	if err != nil {
		s.complain(r.Context(), "read jobs of engine", err)
		return nil
	}
	if len(masters) == 0 {
		return nil
	}
	h := &views.Halt{Words: fmt.Sprintf("Master-rod cylinder %s of engine %s is off.", wear.ListOf(masters, itoa), jobs[0].EngineNo)}
	for _, j := range jobs {
		h.Ways = append(h.Ways, views.Link{Text: fmt.Sprintf("Job %d", j.ID), Href: href("/jobs/", j.ID)})
	}
	return h
}

// refuseTurning refuses work of a day that turns the crankshaft, while a
// master-rod cylinder is off.
func (s *Server) refuseTurning(r *http.Request, f *form, engine int64, day wear.Day) error {
	jobs, masters, err := s.book.Halts(r.Context(), engine)
	if err != nil || len(masters) == 0 {
		return err
	}
	since := jobs[0].Day
	for _, j := range jobs {
		since = min(since, j.Day)
	}
	if day >= since {
		f.fault("day", "master-rod cylinder %s is off, and a leak test turns the crankshaft: refused. A test made before the job has a date before %s", wear.ListOf(masters, itoa), since)
	}
	return nil
}
