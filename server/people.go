package server

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
)

// peoplePage lists everybody and adds somebody.
func (s *Server) peoplePage(w http.ResponseWriter, r *http.Request) error {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	f := blankForm(map[string]string{"mechanic": "yes"})
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		n, err := s.readPerson(r, f, store.Person{})
		if err != nil {
			return err
		}
		s.newPassword(f, n.Name, set.Shop)
		if f.ok() {
			_, err := s.book.AddPerson(r.Context(), n, store.Password{Hash: HashPassword(f.values["password"]), Given: true})
			if err == nil {
				return s.redirect(w, r, "/people", fmt.Sprintf("%s was added. %s", n.Name, s.givenWords()))
			}
			if err := f.refused(err, personFields); err != nil {
				return err
			}
		}
	}
	all, err := s.book.People(r.Context())
	if err != nil {
		return err
	}
	p := views.People{Page: s.page(r, "People", views.NavPeople), Action: "/people", Draft: f.draft()}
	for _, x := range all {
		row := views.PersonRow{Name: x.Name, Roles: x.Roles.String(), Until: string(x.Until), Href: href("/people/", x.ID)}
		if !x.MayIn(s.book.Today()) {
			row.Out = "may not sign in"
		}
		if row.Engines, err = s.engineNames(r, x); err != nil {
			return err
		}
		p.Rows = append(p.Rows, row)
	}
	return s.draw(w, r, f.status(), views.PeoplePage(p))
}

// personFields names the form's fields where the store's are others.
var personFields = map[string]string{"roles": "owner", "limited": "engines"}

// readPerson reads a person from a form onto what they were before.
func (s *Server) readPerson(r *http.Request, f *form, p store.Person) (store.Person, error) {
	p.Name, p.Roles, p.Until, p.Active = f.needed("name", "give the name that work is recorded under"), 0, "", f.text("active") != ""
	for _, role := range []store.Roles{store.Owner, store.Mechanic, store.Inspector} {
		if f.text(role.String()) != "" {
			p.Roles |= role
		}
	}
	if p.Roles == 0 {
		f.fault("owner", "choose what the person may do")
	}
	if f.text("until") != "" {
		p.Until = f.day("until")
	}
	p.Engines = []int64{}
	for _, serial := range items(f.text("engines")) {
		es, err := s.book.EnginesBySerial(r.Context(), serial)
		if err != nil {
			return p, err
		}
		if len(es) == 0 {
			f.fault("engines", "there is no engine %s", serial)
		}
		for _, e := range es {
			p.Engines = append(p.Engines, e.ID)
		}
	}
	p.Limited = len(p.Engines) > 0
	return p, nil
}

// engineNames lists the serials of the engines that a person is limited to.
func (s *Server) engineNames(r *http.Request, p store.Person) (string, error) {
	var names []string
	for _, id := range p.Engines {
		e, err := s.book.Engine(r.Context(), id)
		if err != nil {
			return "", err
		}
		if !slices.Contains(names, e.Serial) {
			names = append(names, e.Serial)
		}
	}
	return strings.Join(names, ", "), nil
}

// personPage changes what somebody may do, gives them a new password or signs
// them out everywhere.
func (s *Server) personPage(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	x, err := s.book.Person(r.Context(), n)
	if err != nil {
		return err
	}
	f, err := s.personForm(r, x)
	if err != nil {
		return err
	}
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		said, err := s.changePerson(r, f, x)
		if err != nil {
			return err
		}
		if f.ok() {
			return s.redirect(w, r, href("/people/", n), said)
		}
	}
	entries, err := s.book.PersonHistory(r.Context(), n)
	if err != nil {
		return err
	}
	p := views.PersonForm{Page: s.page(r, x.Name, views.NavPeople), Action: href("/people/", n), Draft: f.draft(), Name: x.Name, Own: n == visitorOf(r.Context()).person.ID, Back: views.Link{Text: "Back to people", Href: "/people"}}
	for _, e := range entries {
		row := views.PersonEntry{When: day(e.SavedAt), What: e.What, By: cmp.Or(e.By, "at the computer"), Name: e.Name, Roles: e.Roles.String(), Until: string(e.Until)}
		if !e.Active {
			row.Out = "may not sign in"
		}
		if row.Engines, err = s.engineNames(r, e.Person); err != nil {
			return err
		}
		p.Entries = append(p.Entries, row)
	}
	return s.draw(w, r, f.status(), views.PersonPage(p))
}

// givenWords say what a password that is given to somebody is good for.
func (s *Server) givenWords() string {
	until := s.now().AddDate(0, 0, store.GivenDays).Format("2006-01-02")
	return "That password lets them in once, until " + until + ", to choose their own."
}

// personForm is the form with what counts of a person.
func (s *Server) personForm(r *http.Request, x store.Person) (*form, error) {
	engines, err := s.engineNames(r, x)
	v := map[string]string{"name": x.Name, "until": string(x.Until), "engines": engines}
	for _, role := range []store.Roles{store.Owner, store.Mechanic, store.Inspector} {
		if x.Roles.Has(role) {
			v[role.String()] = "yes"
		}
	}
	if x.Active {
		v["active"] = "yes"
	}
	return blankForm(v), err
}

// changePerson does what the form on a person's page asks for, and says what
// was done.
func (s *Server) changePerson(r *http.Request, f *form, x store.Person) (string, error) {
	switch f.text("what") {
	case views.PersonPassword:
		set, err := s.book.Settings(r.Context())
		if err != nil {
			return "", err
		}
		if s.newPassword(f, x.Name, set.Shop); x.ID == visitorOf(r.Context()).person.ID {
			f.fault("password", "your own is changed on your own page, where the present one is asked for")
		}
		again, err := s.personForm(r, x) // the other form on the page
		if err != nil {
			return "", err
		}
		again.faults = f.faults
		*f = *again
		if !f.ok() {
			return "", nil
		}
		said := fmt.Sprintf("%s has a new password and was signed out everywhere. %s", x.Name, s.givenWords())
		return said, s.book.SetPassword(r.Context(), x.ID, store.Password{Hash: HashPassword(r.PostForm.Get("password")), Given: true})
	case views.PersonOut:
		return x.Name + " was signed out everywhere.", s.book.EndSessions(r.Context(), x.ID)
	}
	n, err := s.readPerson(r, f, x)
	if err != nil || !f.ok() {
		return "", err
	}
	if err := f.refused(s.book.SavePerson(r.Context(), n), personFields); err != nil || !f.ok() {
		return "", err
	}
	return "The entry of " + n.Name + " was saved.", nil
}

// me shows who is signed in, changes their password and signs them out
// everywhere.
func (s *Server) me(w http.ResponseWriter, r *http.Request) error {
	x := visitorOf(r.Context()).person
	f := blankForm(nil)
	if r.Method == http.MethodPost {
		var err error
		if f, err = readForm(r); err != nil {
			return err
		}
		if f.text("what") == views.PersonOut {
			if err := s.book.EndSessions(r.Context(), x.ID); err != nil {
				return err
			}
			http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
			return nil
		}
		if err := s.ownPassword(r, f, x); err != nil {
			return err
		}
		if f.ok() {
			if err := s.enter(w, r, x.ID, nil); err != nil {
				return err
			}
			return s.redirect(w, r, "/me", "Your new password counts from now on. Everywhere else you were signed out.")
		}
	}
	engines, err := s.engineNames(r, x)
	if err != nil {
		return err
	}
	p := views.Me{Page: s.page(r, x.Name, ""), Action: "/me", Draft: views.Draft{Faults: f.faults}, Facts: []views.Fact{{Label: "May do", Value: x.Roles.String()}}}
	if x.Until != "" {
		p.Facts = append(p.Facts, views.Fact{Label: "Until", Value: string(x.Until)})
	}
	if engines != "" {
		p.Facts = append(p.Facts, views.Fact{Label: "Engines", Value: engines})
	}
	return s.draw(w, r, f.status(), views.MePage(p))
}

// ownPassword changes the password of who is signed in, who must know the old
// one.
func (s *Server) ownPassword(r *http.Request, f *form, x store.Person) error {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	_, kept, err := s.book.PasswordOf(r.Context(), x.Name)
	if err != nil {
		return err
	}
	account := "account " + strings.ToLower(x.Name)
	switch wait := s.slow.try(s.now(), map[string]int{account: freeForAccount}); {
	case wait > 0:
		f.fault("old", "too many wrong tries: wait a little, then try again")
	case !isPassword(kept.Hash, f.values["old"]):
		f.fault("old", "that is not your password")
	default:
		s.slow.forgive(account)
	}
	s.newPassword(f, x.Name, set.Shop)
	if !f.ok() {
		return nil
	}
	return s.book.SetPassword(r.Context(), x.ID, store.Password{Hash: HashPassword(f.values["password"])})
}
