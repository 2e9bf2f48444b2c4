package server

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"path"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
	"github.com/gorilla/sessions"

	"barrelbook/static"
	"barrelbook/store"
	"barrelbook/views"
)

// Server answers requests on one book.
type Server struct {
	book     *store.Book
	log      *slog.Logger
	sessions sessions.Store
	uploads  uploads
	lan      *LAN // nil where the book is served on this machine only
	slow     slowdown
	now      func() time.Time
	people   atomic.Bool            // the book has people
	replays  http.Handler           // of forms that waited on a tablet
	open     atomic.Int64           // open findings, for the navigation; -1: count anew
	others   atomic.Pointer[others] // that are not of one series; nil: read anew
	wake     chan struct{}
	done     sync.WaitGroup
}

// New makes a server on a book. Close it before the book.
func New(book *store.Book, log *slog.Logger) *Server {
	s := &Server{book: book, log: log, now: time.Now, wake: make(chan struct{}, 1)}
	s.sessions = &bookSessions{book: book, now: func() time.Time { return s.now() }}
	s.open.Store(-1)
	s.replays = s.newReplays()
	return s
}

// Run judges groups anew in the background, whenever something was saved,
// until ctx ends.
func (s *Server) Run(ctx context.Context) {
	s.done.Add(1)
	go func() {
		defer s.done.Done()
		for {
			if n, err := s.book.Refresh(ctx); err != nil && ctx.Err() == nil {
				s.log.Error("refresh judgements", "error", err)
			} else if n > 0 {
				s.others.Store(nil)
				s.open.Store(-1)
			}
			select {
			case <-ctx.Done():
				return
			case <-s.wake:
			}
		}
	}()
}

// Wait returns when the background work has ended.
func (s *Server) Wait() { s.done.Wait() }

// saved notes that the book has changed.
func (s *Server) saved() {
	s.others.Store(nil)
	s.open.Store(-1)
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// largestForm is the largest request body in bytes, save for imports and
// photographs.
const (
	largestForm   = 1 << 20
	largestUpload = 32 << 20 // some 300,000 rows
)

// Handler is the server with all its routes, for this machine.
func (s *Server) Handler() http.Handler { return s.HandlerFor(ThisMachine) }

// HandlerFor is the server for requests to the hosts.
func (s *Server) HandlerFor(hosts Hosts) http.Handler {
	r := chi.NewRouter()
	allowed := func(next http.Handler) http.Handler { return onlyHosts(hosts, next) }
	r.Use(s.recover, allowed, secure, http.NewCrossOriginProtection().Handler, middleware.Compress(5), middleware.GetHead, limitBody, s.guard(r))
	r.NotFound(func(w http.ResponseWriter, r *http.Request) { s.fail(w, r, store.ErrNotFound) })
	r.MethodNotAllowed(func(w http.ResponseWriter, r *http.Request) {
		s.problem(w, r, views.Problem{Status: http.StatusMethodNotAllowed, Detail: "This address does not take that kind of request."})
	})
	r.Get("/static/*", assets().ServeHTTP)
	r.Get("/favicon.ico", func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, static.URL("icon.svg"), http.StatusMovedPermanently)
	})
	r.Get("/health", func(w http.ResponseWriter, r *http.Request) {
		if _, err := s.book.Settings(r.Context()); err != nil {
			http.Error(w, "the book cannot be read", http.StatusServiceUnavailable)
			return
		}
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		fmt.Fprintln(w, "ok")
	})
	s.routes(r)
	return r
}

func (s *Server) routes(r chi.Router) {
	for path, handler := range map[string]handler{"/first-owner": s.firstOwner, "/sign-in": s.signIn, "/me": s.me, "/people": s.peoplePage, "/people/{id}": s.personPage} {
		r.Get(path, s.h(handler))
		r.Post(path, s.h(handler))
	}
	r.Post("/sign-out", s.h(s.signOut))

	r.Get("/", s.h(s.fleet))
	r.Get("/findings", s.h(s.findings))
	r.Get("/findings/{id}/acknowledge", s.h(s.acknowledge))
	r.Post("/findings/{id}/acknowledge", s.h(s.acknowledge))
	r.Get("/findings/{sort}/{id}/acknowledge", s.h(s.acknowledgeOther))
	r.Post("/findings/{sort}/{id}/acknowledge", s.h(s.acknowledgeOther))

	r.Get("/engines", s.h(s.engines))
	r.Post("/engines", s.h(s.newEngine))
	r.Get("/engines/new", s.h(s.newEngine))
	r.Get("/engines/{id}", s.h(s.engine))
	r.Get("/engines/{id}/edit", s.h(s.editEngine))
	r.Post("/engines/{id}/edit", s.h(s.editEngine))
	r.Get("/engines/{id}/meter", s.h(s.meter))
	r.Post("/engines/{id}/meter", s.h(s.meter))
	r.Get("/engines/{id}/meter/{meter}/correct", s.h(s.correctMeter))
	r.Post("/engines/{id}/meter/{meter}/correct", s.h(s.correctMeter))
	r.Get("/engines/{id}/crank", s.h(s.crank))
	r.Get("/engines/{id}/match", s.h(s.match))
	r.Get("/engines/{id}/positions/{position}", s.h(s.position))
	r.Get("/engines/{id}/positions/{position}/install", s.h(s.installStack))
	r.Post("/engines/{id}/positions/{position}/install", s.h(s.installStack))

	r.Get("/engines/{id}/leak", s.h(s.leakList))
	r.Get("/leaktests/{id}", s.h(s.leakTest))
	for path, handler := range map[string]handler{"/leaktests/{id}/correct": s.correctLeakTest, "/leakreadings/{id}/correct": s.correctLeakReading, "/models/{id}/leak": s.leakRule} {
		r.Get(path, s.h(handler))
		r.Post(path, s.h(handler))
	}

	r.Get("/parts", s.h(s.parts))
	r.Post("/parts", s.h(s.newPart))
	r.Get("/parts/new", s.h(s.newPart))
	r.Get("/parts/{id}", s.h(s.part))
	for path, handler := range map[string]handler{"edit": s.editPart, "events": s.wearEvent, "scrap": s.scrap, "install": s.installPart, "remove": s.removePart} {
		r.Get("/parts/{id}/"+path, s.h(handler))
		r.Post("/parts/{id}/"+path, s.h(handler))
	}
	r.Get("/parts/{id}/compare", s.h(s.compareRings))
	r.Get("/parts/{id}/regroove", s.h(s.regroove))
	r.Get("/installations/{id}/strike", s.h(s.strike))
	r.Post("/installations/{id}/strike", s.h(s.strike))

	r.Get("/work/{id}/strike", s.h(s.strikeWork))
	r.Post("/work/{id}/strike", s.h(s.strikeWork))

	r.Get("/measure", s.h(s.measure))
	for path, handler := range s.onceForms() {
		r.Get(path, s.h(handler))
		r.Post(path, s.h(s.once(handler)))
	}
	r.Get(waitingPath, s.h(s.waiting))
	r.Get("/offline.json", s.h(s.offline))
	r.Get("/sw.js", s.h(s.worker))
	r.Post("/outbox", s.h(s.outbox))
	r.Get("/sheets/{id}", s.h(s.savedSheet))
	r.Get("/readings/{id}/correct", s.h(s.correctReading))
	r.Post("/readings/{id}/correct", s.h(s.correctReading))

	r.Get("/limits", s.h(s.limits))
	r.Post("/limits", s.h(s.newLimit))
	r.Get("/limits/new", s.h(s.newLimit))
	r.Get("/limits/{id}/history", s.h(s.limitHistory))
	for path, handler := range map[string]handler{"/features": s.features, "/gauges": s.gauges, "/models/{id}": s.model, "/models/{id}/rods": s.rods, "/settings": s.settings, "/facings": s.facings, "/features/{id}/group": s.wider, "/import": s.importFiles} {
		r.Get(path, s.h(handler))
		r.Post(path, s.h(handler))
	}

	r.Get("/tablets", s.h(s.tablets))
	r.Get("/audit", s.h(s.audit))
	r.Post("/settings/backup", s.h(s.backup))
	r.Get("/record", s.h(s.chooseRecord))
	r.Get("/record/part/{id}.{format}", s.h(s.partRecord))
	r.Get("/record/engine/{id}.{format}", s.h(s.engineRecord))

	r.Get("/jobs", s.h(s.jobList))
	r.Get("/jobs/outcomes", s.h(s.outcomes))
	r.Get("/jobs/{id}", s.h(s.job))
	r.Post("/jobs/{id}/entries", s.h(s.jobEntry))
	r.Get("/jobs/{id}/bench", s.h(s.jobBench))
	r.Get("/jobs/{id}/bench/{position}", s.h(s.jobBenchPosition))
	r.Get("/jobs/{id}/entry", s.h(s.jobEntryPage))
	r.Get("/jobs/{id}/entry.{format}", s.h(s.jobEntryFile))
	r.Get("/jobs/{id}/tags", s.h(s.jobTags))
	r.Get("/parts/{id}/tag", s.h(s.partTag))
	r.Get("/photos/{id}", s.h(s.photo))
	r.Get("/photos/{id}/small", s.h(s.photo))
	for path, handler := range map[string]handler{"/engines/{id}/jobs/new": s.newJob, "/jobs/{id}/steps": s.jobSteps, "/jobs/{id}/steps/{entry}/undo": s.undoStep, "/jobs/{id}/bench/{position}/photos": s.jobPhotos,
		"/jobs/{id}/decide/{part}": s.decide, "/jobs/{id}/placing": s.placing, "/jobs/{id}/close": s.jobClose, "/parts/{id}/photos": s.partPhotos, "/photos/{id}/strike": s.strikePhoto,
		"/models/{id}/turning": s.turning, "/models/{id}/checklist": s.checklist, "/settings/wording": s.wordingPage} {
		r.Get(path, s.h(handler))
		r.Post(path, s.h(handler))
	}
}

// handler answers a request or says why not.
type handler func(w http.ResponseWriter, r *http.Request) error

// h draws the error of a handler as a page.
func (s *Server) h(do handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if err := do(w, r); err != nil {
			s.fail(w, r, err)
		}
	}
}

// Errors of a request: an address with a part that cannot be one, and a body
// that is no form.
var (
	errBadAddress = errors.New("no such address")
	errBadForm    = errors.New("read form")
)

// errorPages says how a kind of error is answered; whatever is not here is
// the program's own fault.
var errorPages = []struct {
	is     error
	status int
	detail string
}{
	{store.ErrNotFound, http.StatusNotFound, "The address may be mistyped, or belongs to another book."},
	{errBadAddress, http.StatusNotFound, "The address may be mistyped, or belongs to another book."},
	{errBadForm, http.StatusBadRequest, "The form did not come as a browser sends it. Go back and send it again."},
	{errNoRight, http.StatusForbidden, "Your roles do not include this. The owner decides who may do what, under People."},
	{context.Canceled, 499, "The request was given up."},
}

// fail answers an error. People see words for what they can do; the error
// itself goes to the log.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	var bad store.Invalid
	var large *http.MaxBytesError
	switch {
	case r.Context().Err() != nil: // whoever asked has gone
		w.WriteHeader(499)
		return
	case errors.As(err, &bad):
		p := views.Problem{Status: http.StatusUnprocessableEntity, Heading: "The book refuses that", Detail: capital(bad[0].Message) + ".", Typed: r.Method == http.MethodPost}
		if bad[0].Href != "" {
			p.Ways = []views.Link{{Text: wayTo(bad[0].Href), Href: bad[0].Href}}
		}
		s.problem(w, r, p)
		return
	case errors.As(err, &large):
		s.problem(w, r, views.Problem{Status: http.StatusRequestEntityTooLarge, Typed: true, Detail: "What was sent is larger than the program takes."})
		return
	}
	for _, page := range errorPages {
		if errors.Is(err, page.is) {
			s.problem(w, r, views.Problem{Status: page.status, Detail: page.detail})
			return
		}
	}
	s.log.Error("answer request", "method", r.Method, "path", r.URL.Path, "error", err)
	detail := "Something went wrong inside the program; it is in its log."
	if store.IsFull(err) {
		detail = "The disk is full. Make space, then go back and send the form again."
	}
	s.problem(w, r, views.Problem{Status: http.StatusInternalServerError, Typed: r.Method == http.MethodPost, Detail: detail})
}

func (s *Server) problem(w http.ResponseWriter, r *http.Request, p views.Problem) {
	p.Page = s.page(r, http.StatusText(p.Status), "")
	if err := s.render(w, r, p.Status, views.ProblemPage(p)); err != nil {
		s.log.Error("draw problem page", "error", err)
	}
}

// render draws a page into a buffer before it writes the status, so that a
// page that fails half-way is no half page.
func (s *Server) render(w http.ResponseWriter, r *http.Request, status int, page templ.Component) error {
	var buf bytes.Buffer
	if err := page.Render(r.Context(), &buf); err != nil {
		return fmt.Errorf("draw page: %w", err)
	}
	visitorOf(r.Context()).takeOut(&buf)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, err := buf.WriteTo(w)
	if err != nil {
		s.log.Debug("send page", "error", err) // the reader went away
	}
	return nil
}

// redirect leads to a page after something was saved; flash is said there.
func (s *Server) redirect(w http.ResponseWriter, r *http.Request, to, flash string) error {
	s.saved()
	if flash != "" {
		s.say(w, r, flash)
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// id reads a number from the address.
func id(r *http.Request, name string) (int64, error) {
	n, err := strconv.ParseInt(chi.URLParam(r, name), 10, 64)
	if err != nil || n <= 0 {
		return 0, errBadAddress
	}
	return n, nil
}

func position(r *http.Request) (int, error) {
	n, err := id(r, "position")
	if err != nil || n > 36 {
		return 0, errBadAddress
	}
	return int(n), nil
}

// fileTypes are the content types of the embedded files. What the system takes
// an ending for differs, and leaves the character set of some out.
var fileTypes = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml; charset=utf-8",
	".json": "application/json", ".png": "image/png", ".webmanifest": "application/manifest+json",
}

// assets serves the embedded files; their addresses carry a hash, so they may
// be kept for ever.
func assets() http.Handler {
	files := http.StripPrefix("/static/", http.FileServerFS(fs.FS(static.FS)))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, "/") {
			http.NotFound(w, r)
			return
		}
		name, ofBuild := strings.CutPrefix(r.URL.Path, "/static/"+static.Build()+"/")
		if ofBuild || r.URL.Query().Has("v") {
			w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		}
		if ofBuild {
			r.URL.Path = "/static/" + name
		}
		w.Header().Set("Content-Type", fileTypes[path.Ext(r.URL.Path)])
		files.ServeHTTP(w, r)
	})
}

// recover turns a panic into an answer and a line in the log.
func (s *Server) recover(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if v := recover(); v != nil && v != http.ErrAbortHandler {
				s.fail(w, r, fmt.Errorf("panic: %v", v))
			}
		}()
		next.ServeHTTP(w, r)
	})
}

// Timeouts of the server that main starts.
const (
	ReadHeaderTimeout = 10 * time.Second
	ReadTimeout       = 5 * time.Minute  // an import over a slow disk
	WriteTimeout      = 30 * time.Minute // and until its rows are in the book
	IdleTimeout       = 2 * time.Minute
	MaxHeaderBytes    = 64 << 10
)
