package server

import (
	"cmp"
	"context"
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
		names, err := s.engineNames(r.Context(), x)
		if err != nil {
			return err
		}
		row.Engines = strings.Join(names, ", ")
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
	for name := range strings.Lines(f.text("engines")) {
		if name = strings.TrimSpace(name); name == "" {
			continue
		}
		id, fault, err := s.engineNamed(r.Context(), name)
		if err != nil {
			return p, err
		}
		if fault != "" {
			f.fault("engines", "%s", fault)
		} else if !slices.Contains(p.Engines, id) {
			p.Engines = append(p.Engines, id)
		}
	}
	p.Limited = len(p.Engines) > 0
	return p, nil
}

// engineNamed finds the engine that engineNames calls so, or says why there is
// none.
func (s *Server) engineNamed(ctx context.Context, name string) (id int64, fault string, err error) {
	serial, model, _ := strings.Cut(name, ofModel)
	es, err := s.book.EnginesBySerial(ctx, name)
	if err == nil && len(es) == 0 && model != "" {
		es, err = s.book.EnginesBySerial(ctx, serial)
		es = slices.DeleteFunc(es, func(e store.Engine) bool { return !strings.EqualFold(e.Model.Name, strings.TrimSpace(model)) })
	}
	switch {
	case err != nil:
		return 0, "", err
	case len(es) == 0:
		return 0, "there is no engine " + name, nil
	case len(es) == 1:
		return es[0].ID, "", nil
	}
	var which []string
	for _, e := range es {
		which = append(which, e.Serial+ofModel+e.Model.Name)
	}
	return 0, "there is more than one engine " + name + ": say which, " + strings.Join(which, " or "), nil
}

// ofModel stands between serial and model of an engine where others have the
// same serial.
const ofModel = " of model "

// engineNames are the engines that a person is limited to: serials, with their
// models where engines of other models have the same.
func (s *Server) engineNames(ctx context.Context, p store.Person) ([]string, error) {
	var names []string
	for _, id := range p.Engines {
		e, err := s.book.Engine(ctx, id)
		if err != nil {
			return nil, err
		}
		same, err := s.book.EnginesBySerial(ctx, e.Serial)
		if err != nil {
			return nil, err
		}
		name := e.Serial
		if len(same) > 1 {
			name += ofModel + e.Model.Name
		}
		names = append(names, name)
	}
	return names, nil
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
	f, err := s.personForm(r.Context(), x)
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
		if said != "" {
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
		names, err := s.engineNames(r.Context(), e.Person)
		if err != nil {
			return err
		}
		row.Engines = strings.Join(names, ", ")
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
func (s *Server) personForm(ctx context.Context, x store.Person) (*form, error) {
	values, err := s.personValues(ctx, x)
	return changingForm(values), err
}

func (s *Server) personValues(ctx context.Context, x store.Person) (map[string]string, error) {
	engines, err := s.engineNames(ctx, x)
	v := map[string]string{"name": x.Name, "until": string(x.Until), "engines": strings.Join(engines, "\n")}
	for _, role := range []store.Roles{store.Owner, store.Mechanic, store.Inspector} {
		if x.Roles.Has(role) {
			v[role.String()] = "yes"
		}
	}
	if x.Active {
		v["active"] = "yes"
	}
	return v, err
}

// changePerson does what the form on a person's page asks for, and says what
// was done; "" where it was refused.
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
		again, err := s.personForm(r.Context(), x) // the other form on the page
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
	err = s.book.SavePerson(f.knowing(r.Context(), func(ctx context.Context) (map[string]string, error) {
		now, err := s.book.Person(ctx, n.ID)
		if err != nil {
			return nil, err
		}
		return s.personValues(ctx, now)
	}), n)
	if err == nil {
		return "The entry of " + n.Name + " was saved.", nil
	}
	return "", f.refused(err, personFields)
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
	engines, err := s.engineNames(r.Context(), x)
	if err != nil {
		return err
	}
	p := views.Me{Page: s.page(r, x.Name, ""), Action: "/me", Draft: views.Draft{Faults: f.faults}, Facts: []views.Fact{{Label: "May do", Value: x.Roles.String()}}}
	if x.Until != "" {
		p.Facts = append(p.Facts, views.Fact{Label: "Until", Value: string(x.Until)})
	}
	if len(engines) > 0 {
		p.Facts = append(p.Facts, views.Fact{Label: "Engines", Value: strings.Join(engines, ", ")})
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
