package store

import (
	"context"
	"database/sql"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"github.com/pressly/goose/v3"

	"barrelbook/migrations"
)

// TestPeople: a change is a new entry that says who made it, and the earlier
// ones stay.
func TestPeople(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	if any := must[bool](t)(b.AnyPeople(ctx)); any {
		t.Error("an empty book has people")
	}
	_, err := b.AddFirstOwner(ctx, Person{Name: "M. Mechanic", Roles: Mechanic}, "h")
	refusal(t, err, "roles", "must stay an owner")
	boss := must[int64](t)(b.AddFirstOwner(ctx, Person{Name: " A.  Owner ", Roles: Owner | Mechanic}, "h1"))
	_, err = b.AddFirstOwner(ctx, Person{Name: "B. Owner", Roles: Owner}, "h")
	refusal(t, err, "", "has an owner already")
	ctx = As(ctx, Actor{Person: boss, Name: "A. Owner"})
	guest := must[int64](t)(b.AddPerson(ctx, Person{Name: "I. Inspector", Roles: Inspector, Until: "2026-05-01", Limited: true, Engines: []int64{e.ID}}, Password{Hash: "h2"}))
	for field, p := range map[string]Person{
		"name":    {Name: "a. owner", Roles: Mechanic},
		"roles":   {Name: "N. Nothing"},
		"limited": {Name: "M. Mechanic", Roles: Mechanic | Inspector, Limited: true, Engines: []int64{e.ID}},
	} {
		_, err := b.AddPerson(ctx, p, Password{Hash: "h"})
		refusal(t, err, field)
	}
	for _, hidden := range []string{"A. Owner\u200b", "\u202eA. Owner", "A.\u00ad Owner"} { // looks like somebody else (zero width, right to left, soft hyphen)
		_, err := b.AddPerson(ctx, Person{Name: hidden, Roles: Mechanic}, Password{Hash: "h"})
		refusal(t, err, "name", "cannot be seen")
	}
	_, err = b.AddPerson(ctx, Person{Name: "No Engine", Roles: Inspector, Limited: true}, Password{Hash: "h"})
	refusal(t, err, "limited", "name an engine")
	p := must[Person](t)(b.Person(ctx, guest))
	if !p.Limited || len(p.Engines) != 1 || p.Engines[0] != e.ID || !p.MayIn("2026-05-01") || p.MayIn("2026-05-02") || p.Roles.String() != "inspector" {
		t.Errorf("the inspector is %+v", p)
	}
	ok(t, b.SavePerson(ctx, p)) // says the same: no entry
	p.Until = ""
	ok(t, b.SavePerson(ctx, p))
	p.Active = false
	ok(t, b.SavePerson(ctx, p))
	ok(t, b.SetPassword(ctx, guest, Password{Hash: "h3"}))
	entries := must[[]PersonEntry](t)(b.PersonHistory(ctx, guest))
	if len(entries) != 4 || entries[0].What != "new password" || entries[1].What != "changed" || entries[3].What != "added" || entries[3].Until != "2026-05-01" || entries[0].By != "A. Owner" || len(entries[0].Engines) != 1 {
		t.Errorf("the entries are %+v", entries)
	}
	if p := must[Person](t)(b.Person(ctx, guest)); p.Active || p.MayIn("2026-05-01") {
		t.Errorf("after that: %+v", p)
	}
	if _, p, err := b.PasswordOf(ctx, " i.  inspector"); err != nil || p.Hash != "h3" || p.Given || p.Ended(b.now().AddDate(9, 0, 0)) {
		t.Errorf("the password: %+v, %v", p, err)
	}
	ok(t, b.SetPassword(ctx, guest, Password{Hash: "h4", Given: true}))
	if _, p, err := b.PasswordOf(ctx, " i.  inspector"); err != nil || p.Hash != "h4" || !p.Given || p.Ended(b.now().AddDate(0, 0, 6)) || !p.Ended(b.now().AddDate(0, 0, 8)) {
		t.Errorf("the given password: %+v, %v", p, err)
	}
	if _, _, err := b.PasswordOf(ctx, "nobody"); !errors.Is(err, ErrNotFound) {
		t.Errorf("nobody's password: %v", err)
	}
	refusal(t, b.SavePerson(ctx, Person{ID: boss, Name: "A. Owner", Roles: Mechanic, Active: true}), "roles", "must stay an owner")
	for _, change := range []string{"UPDATE person SET name = 'x'", "DELETE FROM person", "UPDATE person_engine SET engine_id = 1", "DELETE FROM person_engine"} {
		if _, err := b.write.ExecContext(ctx, change); err == nil {
			t.Errorf("the book takes %s", change)
		}
	}
	if all := must[[]Person](t)(b.People(ctx)); len(all) != 2 || all[0].Name != "A. Owner" {
		t.Errorf("people: %+v", all)
	}
}

// TestSessions: kept by their key, until they were not used for a while or
// were ended; one that was ended is not brought back by a late save.
func TestSessions(t *testing.T) {
	b, ctx := open(t), context.Background()
	one := must[int64](t)(b.AddFirstOwner(ctx, Person{Name: "A. Owner", Roles: Owner}, "h"))
	two := must[int64](t)(b.AddPerson(ctx, Person{Name: "B. Both", Roles: Owner | Mechanic}, Password{Hash: "h"}))
	at := b.now()
	add := func(key string, person int64) Session {
		s := Session{Key: []byte(key), Person: person, Data: []byte("{}"), Used: at}
		ok(t, b.AddSession(ctx, s, at.Add(-time.Hour)))
		return s
	}
	there := func(key string) bool {
		_, err := b.Session(ctx, []byte(key), at.Add(-time.Hour))
		if err != nil && !errors.Is(err, ErrNotFound) {
			t.Error(err)
		}
		return err == nil
	}
	first := add("first", one)
	add("second", one)
	add("other", two)
	add("nobody", 0)
	if s := must[Session](t)(b.Session(ctx, first.Key, at)); s.Person != one || !s.Used.Equal(at) || string(s.Data) != "{}" {
		t.Errorf("the session is %+v", s)
	}
	if s := must[Session](t)(b.Session(ctx, []byte("nobody"), at)); s.Person != 0 {
		t.Errorf("nobody's session is %+v", s)
	}
	ok(t, b.EndSessions(ctx, one))
	ok(t, b.SaveSession(ctx, first))
	if there("first") || there("second") || !there("other") || !there("nobody") {
		t.Error("ended are not the sessions of one person")
	}
	ok(t, b.SetPassword(ctx, two, Password{Hash: "h2"}))
	if there("other") {
		t.Error("a new password leaves a session")
	}
	ok(t, b.EndSession(ctx, []byte("nobody")))
	add("old", one)
	at = at.Add(61 * time.Minute)
	if there("old") || there("nobody") {
		t.Error("a session outlives its time")
	}
	add("new", one)
	n := must[int](t)(oneRow(b, "SELECT count(*) FROM session"))
	if n != 1 {
		t.Errorf("%d sessions are left, want the new one", n)
	}
}

func oneRow(b *Book, query string) (int, error) {
	return one(context.Background(), b.read, func(r scanner, n *int) error { return r.Scan(n) }, query)
}

// TestBookBeforePeople: a book of the version before opens, and waits for its
// first owner; what is in it stays.
func TestBookBeforePeople(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "book.db")
	db := must[*sql.DB](t)(sql.Open("sqlite", path))
	provider := must[*goose.Provider](t)(goose.NewProvider(goose.DialectSQLite3, db, migrations.FS))
	must[[]*goose.MigrationResult](t)(provider.UpTo(ctx, 5))
	for _, row := range []string{
		"INSERT INTO model (id, name) VALUES (1, 'Invented 9')",
		"INSERT INTO engine (id, model_id, serial, arrangement, cylinders, saved_at) VALUES (1, 1, 'R-1', 'radial', 9, '2024-01-01T00:00:00.000Z')",
	} {
		if _, err := db.ExecContext(ctx, row); err != nil {
			t.Fatal(err)
		}
	}
	ok(t, db.Close())
	b := must[*Book](t)(Open(ctx, path))
	defer func() { ok(t, b.Close()) }()
	if any, err := b.AnyPeople(ctx); any || err != nil {
		t.Errorf("it has people: %t, %v", any, err)
	}
	if e := must[Engine](t)(b.Engine(ctx, 1)); e.Serial != "R-1" {
		t.Errorf("its engine is %+v", e)
	}
	must[int64](t)(b.AddFirstOwner(ctx, Person{Name: "A. Owner", Roles: Owner}, "h"))
	set := must[Settings](t)(b.Settings(ctx))
	if set.Lock != 15 {
		t.Errorf("a page is covered after %d minutes", set.Lock)
	}
	set.Lock = 241
	refusal(t, b.SaveSettings(ctx, set), "lock_minutes")
}
