package server

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"barrelbook/store"
	"barrelbook/views"
)

// visitor is who sends a request, and what they may do.
type visitor struct {
	person store.Person // zero while nobody is signed in
	may    func(method, href string) access
}

type visitorKey struct{}

func visitorOf(ctx context.Context) visitor {
	v, ok := ctx.Value(visitorKey{}).(visitor)
	if !ok { // an answer before anybody was asked for
		v.may = func(string, string) access { return refused }
	}
	return v
}

// guard lets a request through to a route that its sender may use, and notes
// in its context who that is. It stands before the routes, so that one that
// nobody thought of is refused.
func (s *Server) guard(routes chi.Routes) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			params := chi.NewRouteContext()
			pattern := patternOf(routes, params, r.Method, routePath(r.URL))
			if rights[pattern]&open != 0 {
				next.ServeHTTP(w, r)
				return
			}
			w.Header().Set("Cache-Control", "no-store")
			visit, err := s.identify(w, r, routes)
			if err != nil {
				s.fail(w, r, err)
				return
			}
			r = r.WithContext(store.As(context.WithValue(r.Context(), visitorKey{}, visit), store.Actor{Person: visit.person.ID, Name: visit.person.Name, Device: deviceOf(r)}))
			if err := s.admit(w, r, next, pattern, params); err != nil {
				s.fail(w, r, err)
			}
		})
	}
}

// admit answers a request whose sender is known.
func (s *Server) admit(w http.ResponseWriter, r *http.Request, next http.Handler, pattern string, params *chi.Context) error {
	p := visitorOf(r.Context()).person
	any, err := s.anyPeople(r.Context())
	if err != nil {
		return err
	}
	if !any && !strings.HasSuffix(pattern, " /first-owner") {
		http.Redirect(w, r, "/first-owner", http.StatusSeeOther)
		return nil
	}
	if p.ID == 0 && rights[pattern]&anybody == 0 {
		return s.askToSignIn(w, r, pattern)
	}
	if strings.HasSuffix(pattern, " ") { // nothing is there: the routes say so
		next.ServeHTTP(w, r)
		return nil
	}
	got, err := s.access(r.Context(), p, pattern, params)
	switch {
	case err != nil:
		return err
	case got == elsewhere:
		return store.ErrNotFound
	case got == refused:
		return errNoRight
	}
	next.ServeHTTP(w, r)
	return nil
}

// errNoRight says that a person's roles do not include what was asked for.
var errNoRight = errors.New("no right")

// patternOf is the method and pattern of the route that answers a request,
// with nothing after the method where none does.
func patternOf(routes chi.Routes, params *chi.Context, method, path string) string {
	if method == http.MethodHead {
		method = http.MethodGet
	}
	return method + " " + routes.Find(params, method, path)
}

// routePath is the path by which chi finds a route.
func routePath(u *url.URL) string {
	if u.RawPath != "" {
		return u.RawPath
	}
	if u.Path == "" {
		return "/"
	}
	return u.Path
}

// identify finds out who sends a request. In the demo book whoever comes to
// this machine without a session is its first person.
func (s *Server) identify(w http.ResponseWriter, r *http.Request, routes chi.Routes) (visitor, error) {
	session, err := s.sessions.Get(r, sessionName)
	if err != nil {
		return visitor{}, err
	}
	id := session.Values[personKey].(int64)
	if session.IsNew && here(r) && r.Header.Get(nobodyHeader) == "" {
		if id, err = s.demoPerson(r.Context()); err != nil {
			return visitor{}, err
		}
		if id != 0 {
			if err := s.enter(w, r, id, nil); err != nil {
				return visitor{}, err
			}
		}
	}
	var v visitor
	if id != 0 {
		p, err := s.book.Person(r.Context(), id)
		if err != nil && !errors.Is(err, store.ErrNotFound) {
			return v, err
		}
		if !p.MayIn(s.book.Today()) { // it ends for good, not only until a day is set anew
			if err := s.enter(w, r, 0, nil); err != nil {
				return v, err
			}
		} else if v.person = p; !keeper(r) {
			if err := session.Save(r, w); err != nil { // notes that it is used
				s.complain(r.Context(), "save session", err)
			}
		}
	}
	ctx := r.Context()
	v.may = func(method, href string) access {
		u, err := url.Parse(href)
		if err != nil || u.Host != "" {
			return allowed // leads out of the program
		}
		params := chi.NewRouteContext()
		got, err := s.access(ctx, v.person, patternOf(routes, params, method, routePath(u)), params)
		if err != nil {
			return refused
		}
		return got
	}
	return v, nil
}

// demoPerson is who plays in the demo book, 0 in any other.
func (s *Server) demoPerson(ctx context.Context) (int64, error) {
	set, err := s.book.Settings(ctx)
	if err != nil || !set.Demo {
		return 0, err
	}
	people, err := s.book.People(ctx)
	if i := slices.IndexFunc(people, func(p store.Person) bool { return p.Roles.Has(store.Owner) }); i >= 0 {
		return people[i].ID, err
	}
	return 0, err
}

// anyPeople reports whether the book has people; once it has, it always will.
func (s *Server) anyPeople(ctx context.Context) (bool, error) {
	if s.people.Load() {
		return true, nil
	}
	any, err := s.book.AnyPeople(ctx)
	s.people.Store(any)
	return any, err
}

// here reports whether a request comes from this machine.
func here(r *http.Request) bool {
	ip := net.ParseIP(addressOf(r))
	return ip != nil && ip.IsLoopback()
}

// addressOf is the address that a request comes from.
func addressOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

// deviceOf names where somebody sits.
func deviceOf(r *http.Request) string {
	if here(r) {
		return "this computer"
	}
	return addressOf(r)
}

// asksJSON reports a request of a script.
func asksJSON(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept"), "application/json")
}

// askToSignIn answers who is not signed in. What a form sent is carried through
// the sign-in; a script is told only.
func (s *Server) askToSignIn(w http.ResponseWriter, r *http.Request, pattern string) error {
	if pattern == "POST /outbox" {
		return s.answerJSON(w, http.StatusUnauthorized, map[string]string{"signIn": "/sign-in?to=" + waitingPath})
	}
	if mode := r.Header.Get("Sec-Fetch-Mode"); mode != "" && mode != "navigate" || asksJSON(r) {
		http.Error(w, "sign in first", http.StatusUnauthorized)
		return nil
	}
	to := r.URL.RequestURI()
	if r.Method != http.MethodPost || rights[pattern] == 0 {
		http.Redirect(w, r, "/sign-in?"+url.Values{"to": {to}}.Encode(), http.StatusSeeOther)
		return nil
	}
	p := views.SignIn{To: to, Sent: true, Lost: isUpload(r)}
	if !p.Lost {
		r.Body = http.MaxBytesReader(w, r.Body, largestForm) // nobody is known yet, so that no upload is taken in
		if _, err := readForm(r); err != nil {
			return err
		}
		p.Carried = carry(r.PostForm)
	}
	return s.drawSignIn(w, r, http.StatusUnauthorized, blankForm(nil), p)
}
