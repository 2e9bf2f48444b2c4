package server

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strconv"

	"barrelbook/static"
	"barrelbook/store"
	"barrelbook/views"
)

// How much of the book a tablet keeps ready: engines recently worked on with
// all their sheets, and parts recently measured on the shelf.
const (
	keptEngines = 6
	keptShelf   = 12
)

// offlineList is what the service worker keeps: the files of this build, and
// the pages that are most likely to be needed out of reach.
type offlineList struct {
	Build string   `json:"build"`
	Book  string   `json:"book"`
	Whose string   `json:"whose"` // whom the pages are for
	May   string   `json:"may"`   // tells what they may read from what they might before
	Files []string `json:"files"`
	Pages []string `json:"pages"`
}

// offline lists what a tablet keeps ready.
func (s *Server) offline(w http.ResponseWriter, r *http.Request) error {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	l := offlineList{Build: static.Build(), Book: set.Book, Whose: whose(visitorOf(r.Context()).person), May: may(visitorOf(r.Context()).person), Files: static.Addresses()}
	if l.Pages, err = s.offlinePages(r); err != nil {
		return err
	}
	return s.answerJSON(w, http.StatusOK, l)
}

// offlinePages are those that who asks may read: of somebody with named
// engines, theirs.
func (s *Server) offlinePages(r *http.Request) ([]string, error) {
	ctx, v := r.Context(), visitorOf(r.Context())
	pages := []string{waitingPath, "/", "/measure", "/findings", "/engines"}
	jobs, err := s.openJobPages(ctx)
	if err != nil {
		return nil, err
	}
	pages = append(pages, jobs...)
	engines, err := s.enginesToKeep(r)
	if err != nil {
		return nil, err
	}
	for _, e := range engines {
		pages = append(pages, href("/engines/", e.ID), href("/engines/", e.ID, "/leak/new"))
		for n := 1; n <= e.Cylinders; n++ {
			pages = append(pages, href("/measure/engine/", e.ID, "/", n))
			if v.person.Limited { // who measures nothing
				pages = append(pages, href("/engines/", e.ID, "/positions/", n))
			}
		}
	}
	shelf, err := s.book.RecentShelf(ctx, keptShelf)
	if err != nil {
		return nil, err
	}
	for _, part := range shelf {
		pages = append(pages, href("/measure/part/", part))
	}
	return slices.DeleteFunc(pages, func(page string) bool { return v.may(http.MethodGet, page) != allowed }), nil
}

// enginesToKeep are those whose pages are kept.
func (s *Server) enginesToKeep(r *http.Request) ([]store.Engine, error) {
	if visitorOf(r.Context()).person.Limited {
		es, _, err := s.enginesFor(r, "", paging{})
		return es[:min(len(es), keptEngines)], err
	}
	es, err := s.book.RecentEngines(r.Context(), keptEngines)
	if err == nil && len(es) == 0 {
		es, _, err = s.book.Engines(r.Context(), "", keptEngines, 0)
	}
	return es, err
}

// openJobPages are the addresses of every open job, so that they open out of
// reach: its order, checklist and bench, the sheets of its positions, its engine and
// that engine's leak test.
func (s *Server) openJobPages(ctx context.Context) ([]string, error) {
	jobs, err := s.book.Jobs(ctx, store.JobFilter{Open: true})
	if err != nil {
		return nil, err
	}
	pages := []string{"/jobs"}
	for _, j := range jobs {
		pages = append(pages, href("/jobs/", j.ID), href("/jobs/", j.ID, "/steps"), href("/jobs/", j.ID, "/bench"), href("/engines/", j.Engine), href("/engines/", j.Engine, "/leak/new"))
		positions, err := s.book.JobPositions(ctx, j.ID)
		if err != nil {
			return nil, err
		}
		for _, p := range positions {
			pages = append(pages, href("/jobs/", j.ID, "/bench/", p), href("/measure/engine/", j.Engine, "/", p))
		}
	}
	return pages, nil
}

// waitingPath is the page that lists what waits on a device.
const waitingPath = "/waiting"

// waiting is the same page for everybody: the device fills it in.
func (s *Server) waiting(w http.ResponseWriter, r *http.Request) error {
	return s.draw(w, r, http.StatusOK, views.WaitingPage(views.Waiting{Page: s.page(r, "Waiting on this device", views.NavWaiting)}))
}

// pathPart is what stands for a number in the address of a route.
var pathPart = regexp.MustCompile(`\{[a-z]+\}`)

// worker is the service worker, which answers for the whole site. Its text
// changes with every build and with the book, which is how a browser learns
// that it must put a new one in place.
func (s *Server) worker(w http.ResponseWriter, r *http.Request) error {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	w.Header().Set("Service-Worker-Allowed", "/")
	var forms []string
	for path := range s.onceForms() {
		forms = append(forms, "^"+pathPart.ReplaceAllString(path, "[^/]+")+"$")
	}
	slices.Sort(forms)
	patterns, err := json.Marshal(forms)
	if err != nil {
		return fmt.Errorf("write worker: %w", err)
	}
	fmt.Fprintf(w, "import { work } from %q;\nwork(%q, %q, %s);\n", static.Module("sw.js"), static.Build(), set.Book, patterns)
	return nil
}

// keeperHeader marks the requests that nobody made: those by which the service
// worker keeps its pages fresh, and the deliveries of an outbox. They take no
// message that is meant for a person, and do not count as use of the session.
const keeperHeader = "Barrelbook-Keeper"

// nobodyHeader asks for a page as it is for nobody, which the demo book would
// not show otherwise.
const nobodyHeader = "Barrelbook-Nobody"

func keeper(r *http.Request) bool { return r.Header.Get(keeperHeader) != "" }

// may tells what a person may read from what they might before: a tablet drops
// what it kept when that changes.
func may(p store.Person) string { return fmt.Sprint(p.Roles, p.Limited, p.Engines) }

// whose tells a person from others on a tablet.
func whose(p store.Person) string { return strconv.FormatInt(p.ID, 10) }
