package server

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/a-h/templ"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// page is the frame of a page: its title, the entry of the navigation it
// belongs to, and what the last request wants to say. It carries on without
// settings it cannot read, so that an error page can always be drawn.
func (s *Server) page(r *http.Request, title, nav string) views.Page {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		s.complain(r.Context(), "read settings", err)
	}
	p := views.Page{Title: title, Nav: nav, Shop: set.Shop, Demo: set.Demo, Book: set.Book, Findings: s.openFindings(r.Context())}
	p.Halt, p.Clock = s.halt(r), s.clockDoubt(r.Context())
	visit := visitorOf(r.Context())
	p.Person, p.Allows = visit.person.Name, func(method, href string) bool { return visit.may(method, href) == allowed }
	p.Whose, p.Lock, p.Here = whose(visit.person), set.Lock, "/"
	if r.Method == http.MethodGet {
		p.Here = r.URL.RequestURI()
	}
	if keeper(r) {
		return p
	}
	if words := s.session(r).Flashes(); len(words) > 0 {
		p.Flash, _ = words[len(words)-1].(string)
	}
	return p
}

// complain logs what went wrong beside the matter of a request; nothing where
// the request was given up.
func (s *Server) complain(ctx context.Context, what string, err error) {
	if ctx.Err() == nil {
		s.log.Error(what, "error", err)
	}
}

// openFindings is the number in the navigation, counted again after a save.
func (s *Server) openFindings(ctx context.Context) int {
	if n := s.open.Load(); n >= 0 {
		return int(n)
	}
	n, _, err := s.book.OpenFindings(ctx)
	if err != nil {
		s.complain(ctx, "count findings", err)
		return 0
	}
	o, err := s.othersKept(ctx)
	if err != nil {
		s.complain(ctx, "count findings", err)
		return n
	}
	o.each(func(int64, views.OpenLine) { n++ })
	s.open.Store(int64(n))
	return n
}

// say notes what the next page has to say.
func (s *Server) say(w http.ResponseWriter, r *http.Request, words string) {
	session := s.session(r)
	session.AddFlash(words)
	if err := session.Save(r, w); err != nil {
		s.complain(r.Context(), "save session", err) // the page after it only says less
	}
}

// remember keeps fields of a form in the session, for the next form of its
// kind.
func (s *Server) remember(w http.ResponseWriter, r *http.Request, f *form, fields []string) {
	session := s.session(r)
	for _, name := range fields {
		session.Values[name] = f.text(name)
	}
	if err := session.Save(r, w); err != nil {
		s.complain(r.Context(), "save session", err) // the next form only begins empty
	}
}

// remembered are the fields that were kept.
func (s *Server) remembered(r *http.Request, fields []string) map[string]string {
	session := s.session(r)
	kept := map[string]string{}
	for _, name := range fields {
		if text, ok := session.Values[name].(string); ok {
			kept[name] = text
		}
	}
	return kept
}

// who begins a form with the name of who is signed in, unless another was
// typed in the last one of its kind.
func who(r *http.Request, values map[string]string) map[string]string {
	if values == nil {
		values = map[string]string{}
	}
	if values["who"] == "" {
		values["who"] = visitorOf(r.Context()).person.Name
	}
	return values
}

// draw renders a page and takes back what it said once.
func (s *Server) draw(w http.ResponseWriter, r *http.Request, status int, page templ.Component) error {
	if keeper(r) {
		return s.render(w, r, status, page)
	}
	if err := s.session(r).Save(r, w); err != nil {
		s.complain(r.Context(), "save session", err)
	}
	return s.render(w, r, status, page)
}

func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return ""
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// local writes a moment of the book by the clock on the wall; what is no moment
// stands as it is.
func local(moment, layout string) string {
	t, err := time.Parse(time.RFC3339, moment)
	if err != nil {
		return moment
	}
	return t.Local().Format(layout)
}

// when is a moment to the minute.
func when(moment string) string { return local(moment, "2006-01-02 15:04") }

// day is the day of a moment.
func day(moment string) string { return local(moment, time.DateOnly) }

// hours writes hours with their unit: 1,204.5 h.
func hours(h wear.Hours) string { return grouped(h.String()) + " h" }

// grouped puts commas between thousands.
func grouped(s string) string {
	whole, rest, _ := strings.Cut(s, ".")
	sign := ""
	if strings.HasPrefix(whole, "-") {
		sign, whole = "-", whole[1:]
	}
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if rest != "" {
		whole += "." + rest
	}
	return sign + whole
}

func itoa(n int) string { return strconv.Itoa(n) }

func href(parts ...any) string {
	var b strings.Builder
	for _, p := range parts {
		switch v := p.(type) {
		case string:
			b.WriteString(v)
		case int:
			b.WriteString(strconv.Itoa(v))
		case int64:
			b.WriteString(strconv.FormatInt(v, 10))
		}
	}
	return b.String()
}

// partName is what a person calls a part: Cylinder C-1041.
func partName(kind wear.Kind, serial string) string { return capital(string(kind)) + " " + serial }

// spot names a station and an axis: top, thrust.
func spot(groove int, station, axis string) string {
	in := ""
	if groove > 0 {
		in = "groove " + itoa(groove)
	}
	return joinText(", ", in, station, axis)
}

// source names where a limit was typed from.
func source(l *store.LimitRow) string {
	var parts []string
	for _, s := range [][2]string{{"", l.Document}, {"rev. ", l.Revision}, {"p. ", l.Page}, {"ref. ", l.Ref}} {
		if s[1] != "" {
			parts = append(parts, s[0]+s[1])
		}
	}
	return strings.Join(parts, ", ")
}

// between writes two bounds in a unit: 5.2490 to 5.2510, at least 5.2490.
func between(low, high *wear.Value, u wear.Unit) string {
	switch {
	case low != nil && high != nil:
		return low.Format(u) + " to " + high.Format(u)
	case low != nil:
		return "at least " + low.Format(u)
	case high != nil:
		return "at most " + high.Format(u)
	}
	return ""
}

// wornWay says which way a dimension goes.
func wornWay(d wear.Direction) string {
	switch d {
	case wear.Up:
		return "grows with wear"
	case wear.Down:
		return "shrinks with wear"
	}
	return ""
}
