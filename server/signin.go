package server

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"barrelbook/store"
	"barrelbook/views"
)

// DemoPassword is that of everybody in the demo book.
const DemoPassword = "four invented words here"

// carriedPrefix marks the fields of a form that waits for the sign-in.
const carriedPrefix = "carried."

// lastName is what a session remembers of who was signed in before.
const lastName = "last name"

// signIn signs a person in, and goes on to where they wanted to go or sends on
// the form that had to wait.
func (s *Server) signIn(w http.ResponseWriter, r *http.Request) error {
	f := blankForm(map[string]string{"name": r.URL.Query().Get("name")})
	if f.text("name") == "" {
		f.values["name"], _ = s.session(r).Values[lastName].(string)
	}
	p := views.SignIn{To: r.URL.Query().Get("to")}
	if r.Method != http.MethodPost {
		return s.drawSignIn(w, r, http.StatusOK, f, p)
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	p.To, p.Carried, p.Sent = f.text("to"), carriedAgain(r.PostForm), f.text("sent") != ""
	if f.text("what") == views.SignInOwn {
		return s.chooseOwn(w, r, f, p)
	}
	person, password, status, err := s.checkSignIn(w, r, f)
	if err != nil {
		return err
	}
	asked := asksJSON(r)
	if f.ok() && password.Given && asked {
		status = http.StatusForbidden
		f.fault("password", "that password was given to you: leave this page and choose your own")
	}
	switch {
	case !f.ok() && asked:
		http.Error(w, f.faults[0].Message, status)
		return nil
	case !f.ok():
		return s.drawSignIn(w, r, status, f, p)
	case password.Given:
		if err := s.enter(w, r, 0, map[string]string{lastName: person.Name, chooser: chooserOf(person, password)}); err != nil {
			return err
		}
		return s.drawOwn(w, r, blankForm(nil), p, person)
	}
	return s.goOn(w, r, p, person.ID, asked)
}

// goOn signs a person in and leads them to where they wanted to go.
func (s *Server) goOn(w http.ResponseWriter, r *http.Request, p views.SignIn, person int64, asked bool) error {
	if err := s.enter(w, r, person, nil); err != nil {
		return err
	}
	if asked {
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	if p.Sent && len(p.Carried) > 0 {
		return s.sendOn(w, r, p)
	}
	http.Redirect(w, r, within(p.To), http.StatusSeeOther)
	return nil
}

// checkSignIn finds who signs in. The answer to a wrong name is that to a
// wrong password, and takes as long.
func (s *Server) checkSignIn(w http.ResponseWriter, r *http.Request, f *form) (person store.Person, kept store.Password, status int, err error) {
	name, password := f.needed("name", "choose your name"), f.values["password"]
	if password == "" {
		f.fault("password", "type your password")
	}
	if !f.ok() {
		return person, kept, http.StatusUnprocessableEntity, nil
	}
	account, address := "account "+strings.ToLower(name), "address "+addressOf(r)
	if wait := s.slow.try(s.now(), map[string]int{account: freeForAccount, address: freeForAddress}); wait > 0 {
		seconds := int((wait + time.Second - 1) / time.Second)
		w.Header().Set("Retry-After", strconv.Itoa(seconds))
		f.fault("password", "too many wrong tries: wait %s, then try again", waiting(seconds))
		return person, kept, http.StatusTooManyRequests, nil
	}
	person, kept, err = s.book.PasswordOf(r.Context(), name)
	if errors.Is(err, store.ErrNotFound) {
		person, kept, err = store.Person{}, store.Password{Hash: nobody}, nil
	}
	if err != nil {
		return person, kept, 0, err
	}
	if !isPassword(kept.Hash, password) || person.ID == 0 {
		f.fault("password", "name and password do not belong together")
		return person, kept, http.StatusUnprocessableEntity, nil
	}
	s.slow.forgive(account, address)
	switch {
	case !person.MayIn(s.book.Today()):
		f.fault("name", "%s may not sign in any more: ask the owner", person.Name)
	case kept.Ended(s.now()):
		f.fault("password", "that password was given to you on %s and counted for %d days: ask the owner for a new one", kept.SetAt.In(s.now().Location()).Format("2006-01-02"), store.GivenDays)
	default:
		return person, kept, http.StatusOK, nil
	}
	return person, kept, http.StatusForbidden, nil
}

// chooser is what a session remembers of who signed in with a password that
// was given to them, and has to choose their own before anything else.
const chooser = "chooses own password"

// chooserOf names a person with the password they were given, so that a newer
// one ends it.
func chooserOf(p store.Person, given store.Password) string {
	return fmt.Sprintf("%s %s", given.SetAt.UTC().Format(time.RFC3339Nano), p.Name)
}

// chooseOwn replaces a given password by the person's own, and signs them in.
func (s *Server) chooseOwn(w http.ResponseWriter, r *http.Request, f *form, p views.SignIn) error {
	name, _ := s.session(r).Values[lastName].(string)
	person, given, err := s.book.PasswordOf(r.Context(), name)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	if err != nil || !given.Given || given.Ended(s.now()) || !person.MayIn(s.book.Today()) || s.session(r).Values[chooser] != chooserOf(person, given) {
		f = blankForm(map[string]string{"name": name})
		f.fault("password", "type once more the password you were given")
		return s.drawSignIn(w, r, f.status(), f, p)
	}
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	if s.newPassword(f, person.Name, set.Shop); f.ok() && isPassword(given.Hash, f.values["password"]) {
		f.fault("password", "that is the one you were given, and others may know it: choose another")
	}
	if !f.ok() {
		return s.drawOwn(w, r, f, p, person)
	}
	ctx := store.As(r.Context(), store.Actor{Person: person.ID, Name: person.Name, Device: deviceOf(r)})
	if err := s.book.SetPassword(ctx, person.ID, store.Password{Hash: HashPassword(f.values["password"])}); err != nil {
		return err
	}
	return s.goOn(w, r, p, person.ID, false)
}

func (s *Server) drawOwn(w http.ResponseWriter, r *http.Request, f *form, p views.SignIn, person store.Person) error {
	p.Page, p.Draft, p.Choose = s.page(r, "Choose your password", ""), views.Draft{Faults: f.faults}, person.Name
	return s.draw(w, r, f.status(), views.OwnPasswordPage(p))
}

func waiting(seconds int) string {
	if seconds < 90 {
		return counted(seconds, "second")
	}
	return counted((seconds+59)/60, "minute")
}

func (s *Server) drawSignIn(w http.ResponseWriter, r *http.Request, status int, f *form, p views.SignIn) error {
	if visitorOf(r.Context()).person.ID == 0 {
		w.Header().Set(signedOutHeader, "1")
	}
	people, err := s.book.People(r.Context())
	if err != nil {
		return err
	}
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	p.Page, p.Draft = s.page(r, "Sign in", ""), f.draft()
	for _, x := range people {
		if x.MayIn(s.book.Today()) {
			p.Names = append(p.Names, views.Option{Value: x.Name, Label: x.Name})
		}
	}
	if set.Demo {
		p.DemoPassword = DemoPassword
	}
	return s.draw(w, r, status, views.SignInPage(p))
}

// carry marks fields of a form for the way through the sign-in, save for
// passwords.
func carry(values url.Values) []views.Carried {
	var all []views.Carried
	for _, name := range slices.Sorted(maps.Keys(values)) {
		if name == "password" || name == "old" {
			continue
		}
		for _, v := range values[name] {
			all = append(all, views.Carried{Name: carriedPrefix + name, Value: v})
		}
	}
	return all
}

// carriedAgain are the fields that a sign-in which failed has to carry on.
func carriedAgain(values url.Values) []views.Carried {
	var all []views.Carried
	for _, c := range carry(values) {
		if name := strings.TrimPrefix(c.Name, carriedPrefix); strings.HasPrefix(name, carriedPrefix) {
			all = append(all, views.Carried{Name: name, Value: c.Value})
		}
	}
	return all
}

// sendOn sends the form that waited, now as the person who signed in.
func (s *Server) sendOn(w http.ResponseWriter, r *http.Request, p views.SignIn) error {
	to, err := url.Parse(within(p.To))
	if err != nil {
		return errBadAddress
	}
	values := url.Values{}
	for _, c := range p.Carried {
		values.Add(strings.TrimPrefix(c.Name, carriedPrefix), c.Value)
	}
	sent := r.Clone(context.WithValue(r.Context(), chi.RouteCtxKey, nil))
	sent.URL, sent.RequestURI, sent.PostForm, sent.Form = to, to.RequestURI(), values, values
	sent.Body, sent.ContentLength = http.NoBody, 0
	sent.Header.Del("Accept-Encoding") // what comes back is compressed once
	w.Header().Del("Cache-Control")
	chi.RouteContext(r.Context()).Routes.(http.Handler).ServeHTTP(w, sent)
	return nil
}

// within is an address of this program, the first page where it is none.
func within(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n") || strings.HasPrefix(to, "/sign-") {
		return "/"
	}
	return to
}

// signOut ends a session. Whoever comes next chooses their name; a page that
// covers itself signs out too.
func (s *Server) signOut(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	last, _ := s.session(r).Values[lastName].(string)
	keep := map[string]string{lastName: cmp.Or(visitorOf(r.Context()).person.Name, last)}
	if err := s.enter(w, r, 0, keep); err != nil {
		return err
	}
	if asksJSON(r) {
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	http.Redirect(w, r, "/sign-in?"+url.Values{"to": {within(f.text("to"))}}.Encode(), http.StatusSeeOther)
	return nil
}

// firstOwner makes the first person of a book, on this machine only.
func (s *Server) firstOwner(w http.ResponseWriter, r *http.Request) error {
	any, err := s.anyPeople(r.Context())
	if err != nil {
		return err
	}
	if any {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return nil
	}
	if !here(r) {
		s.problem(w, r, views.Problem{Status: http.StatusForbidden, Detail: "The book has no owner yet. Open it on the computer it is kept on and make one there."})
		return nil
	}
	f := blankForm(map[string]string{"mechanic": "yes"})
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		n := store.Person{Name: f.needed("name", "give the name that work is recorded under"), Roles: store.Owner}
		if f.text("mechanic") != "" {
			n.Roles |= store.Mechanic
		}
		s.newPassword(f, f.text("name"), "")
		if f.ok() {
			who, err := s.book.AddFirstOwner(r.Context(), n, HashPassword(f.values["password"]))
			if err == nil {
				if err := s.enter(w, r, who, nil); err != nil {
					return err
				}
				return s.redirect(w, r, "/", fmt.Sprintf("Welcome, %s. The people you work with are added under People.", n.Name))
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	return s.draw(w, r, f.status(), views.FirstOwnerPage(views.FirstOwner{Page: s.page(r, "Make the first owner", ""), Draft: f.draft()}))
}

// newPassword checks the field password of a form.
func (s *Server) newPassword(f *form, names ...string) {
	if why := passwordFault(f.values["password"], names...); why != "" {
		f.fault("password", "%s", why)
	}
}
