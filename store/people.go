package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"

	"barrelbook/wear"
)

// Roles are what a person may do; one person may have several.
type Roles uint8

// The roles: a mechanic records work, an inspector reads and exports, an owner
// reads everything and sets limits, gauges, settings and people.
const (
	Owner Roles = 1 << iota
	Mechanic
	Inspector
)

// Has reports whether any of the roles is among these.
func (r Roles) Has(any Roles) bool { return r&any != 0 }

// String lists the roles: owner, mechanic.
func (r Roles) String() string {
	var names []string
	for i, name := range [...]string{"owner", "mechanic", "inspector"} {
		if r.Has(1 << i) {
			names = append(names, name)
		}
	}
	return strings.Join(names, ", ")
}

// Person is somebody who may sign in: until a day, where one is set, and with
// Limited only to read of the Engines named.
type Person struct {
	ID      int64
	Name    string
	Roles   Roles
	Until   wear.Day
	Limited bool
	Engines []int64
	Active  bool
}

// MayIn reports whether the person may sign in on a day.
func (p Person) MayIn(on wear.Day) bool {
	return p.ID != 0 && p.Active && (p.Until == "" || on <= p.Until)
}

// Password is what the book keeps of a password. One that was Given, by another
// person or by the program, lets in once, to choose one's own, and no longer
// than GivenDays.
type Password struct {
	Hash  string
	Given bool
	SetAt time.Time // set by the book
}

// GivenDays is how many days a given password counts. A choice: who is added
// on a Friday begins on a Monday, or after a week off.
const GivenDays = 7

// Ended reports whether a given password counts no more.
func (p Password) Ended(now time.Time) bool {
	return p.Given && now.After(p.SetAt.AddDate(0, 0, GivenDays))
}

// PersonEntry is a person as an entry left them, with what was done and by
// whom.
type PersonEntry struct {
	Person
	What, By, SavedAt string
}

// People lists everybody by name, those who have left too.
func (b *Book) People(ctx context.Context) ([]Person, error) {
	es, err := findPeople(ctx, b.read, "person_now p ORDER BY name")
	if err != nil {
		return nil, err
	}
	ps := make([]Person, len(es))
	for i, e := range es {
		ps[i] = e.Person
	}
	return ps, nil
}

// AnyPeople reports whether the book has people yet.
func (b *Book) AnyPeople(ctx context.Context) (bool, error) { return anyPeople(ctx, b.read) }

func anyPeople(ctx context.Context, q querier) (bool, error) {
	n, err := one(ctx, q, func(r scanner, n *int) error { return r.Scan(n) }, "SELECT EXISTS (SELECT 1 FROM person)")
	if err != nil {
		return false, fmt.Errorf("look for people: %w", err)
	}
	return n == 1, nil
}

// Person finds somebody; ErrNotFound where there is no such person.
func (b *Book) Person(ctx context.Context, id int64) (Person, error) {
	return findPerson(ctx, b.read, id)
}

func findPerson(ctx context.Context, q querier, id int64) (Person, error) {
	es, err := findPeople(ctx, q, "person_now p WHERE root = ?", id)
	if err == nil && len(es) == 0 {
		err = fmt.Errorf("find person: %w", ErrNotFound)
	}
	if err != nil {
		return Person{}, err
	}
	return es[0].Person, nil
}

// PersonHistory lists all entries of a person, the newest first.
func (b *Book) PersonHistory(ctx context.Context, id int64) ([]PersonEntry, error) {
	return findPeople(ctx, b.read, "person p WHERE root = ? ORDER BY id DESC", id)
}

func findPeople(ctx context.Context, q querier, from string, args ...any) ([]PersonEntry, error) {
	es, err := list(ctx, q, func(r scanner, e *PersonEntry) error {
		var owner, mechanic, inspector Roles
		var engines string
		if err := r.Scan(&e.ID, &e.Name, &owner, &mechanic, &inspector, &e.Until, &e.Limited, &e.Active, &e.What, &e.By, &e.SavedAt, &engines); err != nil {
			return err
		}
		e.Roles = owner*Owner | mechanic*Mechanic | inspector*Inspector
		return json.Unmarshal([]byte(engines), &e.Engines)
	}, `SELECT root, name, owner, mechanic, inspector, until, limited, active, what, by_name, saved_at,
		(SELECT json_group_array(engine_id) FROM person_engine WHERE row_id = p.id) FROM `+from, args...)
	if err != nil {
		return nil, fmt.Errorf("find people: %w", err)
	}
	return es, nil
}

// PasswordOf finds a person by name, with their password; ErrNotFound where
// there is no such person.
func (b *Book) PasswordOf(ctx context.Context, name string) (Person, Password, error) {
	es, err := findPeople(ctx, b.read, "person_now p WHERE name = ?", oneSpace(name))
	if err == nil && len(es) == 0 {
		err = fmt.Errorf("find person: %w", ErrNotFound)
	}
	if err != nil {
		return Person{}, Password{}, err
	}
	password, err := one(ctx, b.read, func(r scanner, p *Password) error {
		var at string
		if err := r.Scan(&p.Hash, &p.Given, &at); err != nil {
			return err
		}
		var err error
		p.SetAt, err = time.Parse(time.RFC3339, at)
		return err
	}, "SELECT hash, given, set_at FROM password WHERE person_id = ?", es[0].ID)
	if err != nil {
		return Person{}, Password{}, fmt.Errorf("find password: %w", err)
	}
	return es[0].Person, password, nil
}

// AddFirstOwner adds the first person of a book, who must be an owner. A book
// that has people refuses.
func (b *Book) AddFirstOwner(ctx context.Context, p Person, hash string) (id int64, err error) {
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		if any, err := anyPeople(ctx, t); err != nil || any {
			return errors.Join(err, invalid("", "the book has an owner already: sign in"))
		}
		id, err = t.addPerson(ctx, p, Password{Hash: hash})
		return err
	})
	return id, err
}

// AddPerson adds somebody, with their password.
func (b *Book) AddPerson(ctx context.Context, p Person, password Password) (id int64, err error) {
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		id, err = t.addPerson(ctx, p, password)
		return err
	})
	return id, err
}

func (t *tx) addPerson(ctx context.Context, p Person, password Password) (int64, error) {
	p.ID, p.Active = 0, true
	id, err := t.enterPerson(ctx, p, "added")
	if err != nil {
		return 0, err
	}
	return id, t.setPassword(ctx, id, password)
}

// SavePerson keeps a change to a person as a new entry. One that says the same
// as the last adds nothing. Who may not sign in, before it or after, is signed
// out everywhere.
func (b *Book) SavePerson(ctx context.Context, p Person) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		before, err := findPerson(ctx, t, p.ID)
		if err != nil {
			return err
		}
		if fmt.Sprint(before) == fmt.Sprint(p) {
			return nil
		}
		today := b.Today()
		if _, err = t.enterPerson(ctx, p, "changed"); err != nil || before.MayIn(today) && p.MayIn(today) {
			return err
		}
		return t.endSessions(ctx, p.ID)
	})
}

// SetPassword gives a person a new password and signs them out everywhere.
func (b *Book) SetPassword(ctx context.Context, person int64, password Password) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		p, err := findPerson(ctx, t, person)
		if err != nil {
			return err
		}
		if _, err := t.enterPerson(ctx, p, "new password"); err != nil {
			return err
		}
		if err := t.setPassword(ctx, person, password); err != nil {
			return err
		}
		return t.endSessions(ctx, person)
	})
}

func (t *tx) setPassword(ctx context.Context, person int64, p Password) error {
	_, err := t.ExecContext(ctx, `INSERT INTO password (person_id, hash, given, set_at) VALUES (?, ?, ?, ?)
		ON CONFLICT (person_id) DO UPDATE SET hash = excluded.hash, given = excluded.given, set_at = excluded.set_at`, person, p.Hash, p.Given, t.at)
	if err != nil {
		return fmt.Errorf("save password: %w", err)
	}
	return nil
}

// enterPerson checks a person, and keeps them as a new entry of their root, or
// of a new one.
func (t *tx) enterPerson(ctx context.Context, p Person, what string) (id int64, err error) {
	p.Name = oneSpace(p.Name)
	if err := t.checkPerson(ctx, p); err != nil {
		return 0, err
	}
	who := actor(ctx)
	row, err := t.insert(ctx, `INSERT INTO person (root, name, owner, mechanic, inspector, until, limited, active, what, by_person, by_name, saved_at)
		VALUES (CASE WHEN ?1 = 0 THEN (SELECT coalesce(max(id), 0) + 1 FROM person) ELSE ?1 END, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)`,
		p.ID, p.Name, p.Roles.Has(Owner), p.Roles.Has(Mechanic), p.Roles.Has(Inspector), p.Until, p.Limited, p.Active, what, who.Person, who.Name, t.at)
	if err != nil {
		return 0, fmt.Errorf("save person: %w", err)
	}
	for _, e := range p.Engines {
		if _, err := t.insert(ctx, "INSERT INTO person_engine (row_id, engine_id) VALUES (?, ?)", row, e); err != nil {
			return 0, fmt.Errorf("save engines of person: %w", err)
		}
	}
	if p.ID != 0 {
		return p.ID, nil
	}
	return row, nil
}

// oneSpace is a name as it is kept: with single spaces between its words.
func oneSpace(name string) string { return strings.Join(strings.Fields(name), " ") }

// checkPerson says, as Invalid, all that is wrong with a person.
func (t *tx) checkPerson(ctx context.Context, p Person) error {
	others, err := findPeople(ctx, t, "person_now p WHERE root <> ?", p.ID)
	if err != nil {
		return err
	}
	bad := tooLong(MostName, "name", p.Name)
	if p.Name == "" {
		bad = append(bad, FieldError{Field: "name", Message: "give the name that work is recorded under"})
	}
	if strings.ContainsFunc(p.Name, func(r rune) bool { return unicode.Is(unicode.Cf, r) }) {
		bad = append(bad, FieldError{Field: "name", Message: "there is a character in it that cannot be seen: type the name anew"})
	}
	if p.Roles == 0 {
		bad = append(bad, FieldError{Field: "roles", Message: "choose what the person may do"})
	}
	if p.Limited && p.Roles != Inspector {
		bad = append(bad, FieldError{Field: "limited", Message: "only who is an inspector and nothing else is limited to named engines"})
	}
	if p.Limited && len(p.Engines) == 0 {
		bad = append(bad, FieldError{Field: "limited", Message: "name an engine, or take the limit away"})
	}
	owners := p.Roles.Has(Owner) && p.Active && p.Until == ""
	for _, o := range others {
		owners = owners || o.Roles.Has(Owner) && o.Active && o.Until == ""
		if strings.EqualFold(o.Name, p.Name) {
			bad = append(bad, FieldError{Field: "name", Message: "there is already somebody called " + o.Name})
		}
	}
	if !owners {
		bad = append(bad, FieldError{Field: "roles", Message: "somebody must stay an owner who may sign in without an end date"})
	}
	return bad.orNil()
}
