package server

import (
	"net/http"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
)

// enginesFor lists the engines that who asks may see, a page at a time; of
// somebody with named engines those, all at once.
func (s *Server) enginesFor(r *http.Request, words string, at paging) ([]store.Engine, int, error) {
	p := visitorOf(r.Context()).person
	if !p.Limited {
		return s.book.Engines(r.Context(), words, pageSize, at.offset())
	}
	var es []store.Engine
	for _, id := range p.Engines {
		e, err := s.book.Engine(r.Context(), id)
		if err != nil {
			return nil, 0, err
		}
		if strings.Contains(strings.ToLower(e.Serial+" "+e.Model.Name+" "+e.Aircraft), strings.ToLower(strings.TrimSpace(words))) {
			es = append(es, e)
		}
	}
	return es, len(es), nil
}

// unnamed takes the names out of the parts that one was compared with, where
// they sit on engines that are not the reader's: the numbers stay.
func (v visitor) unnamed(w *views.Worked) *views.Worked {
	if !v.person.Limited {
		return w
	}
	for i := range w.Parts {
		if p := &w.Parts[i]; v.may(http.MethodGet, p.Href) != allowed {
			p.Name = "part " + itoa(i+1) + " of another engine"
		}
	}
	return w
}
