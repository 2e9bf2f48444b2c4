package server

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"barrelbook/store"
)

// TestSignedOutEverywhere: a new password, leaving, and the button end every
// session of a person at once, and of nobody else.
func TestSignedOutEverywhere(t *testing.T) {
	b := emptyBook(t)
	s, _ := serverOn(t, b)
	addPerson(t, b, store.Person{Name: "A. Owner", Roles: store.Owner})
	addPerson(t, b, store.Person{Name: "M. Mechanic", Roles: store.Mechanic})
	boss := s.client()
	boss.signIn("A. Owner", testPassword)
	for what, values := range map[string][]string{
		"the button":     {"what=sign out"},
		"a new password": {"what=password", "password=" + testPassword},
	} {
		one, two := s.client(), s.client()
		for _, c := range []*client{one, two} {
			c.signIn("M. Mechanic", testPassword)
			check(t, "before "+what, c.get("/parts"), 200, []string{"M. Mechanic"}, nil)
		}
		if w := boss.send("POST", "/people/2", formOf(values...)); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: status %d", what, w.Code)
		}
		if one.get("/parts").Code != http.StatusSeeOther || two.get("/parts").Code != http.StatusSeeOther {
			t.Errorf("after %s somebody is still signed in", what)
		}
		ok(t, b.SetPassword(context.Background(), 2, store.Password{Hash: testHash()}))
	}
	c := s.client()
	c.signIn("M. Mechanic", testPassword)
	boss.send("POST", "/people/2", formOf("what=change", "name=M. Mechanic", "inspector=yes", "active=yes"))
	if w := c.send("POST", "/parts", formOf("kind=pin", "serial=N-1", "source=new")); w.Code != http.StatusForbidden {
		t.Errorf("a role that was taken away counts still: status %d", w.Code)
	}
	boss.send("POST", "/people/2", formOf("what=change", "name=M. Mechanic", "inspector=yes"))
	if w := c.get("/parts"); w.Code != http.StatusSeeOther {
		t.Errorf("who is not active: status %d", w.Code)
	}
	boss.send("POST", "/people/2", formOf("what=change", "name=M. Mechanic", "inspector=yes", "active=yes"))
	if w := c.get("/parts"); w.Code != http.StatusSeeOther {
		t.Errorf("active again, who was signed in before: status %d", w.Code)
	}
	ended := func(until string) { // the day may have passed by itself, and been set anew before they came again
		t.Helper()
		boss.send("POST", "/people/2", formOf("what=change", "name=M. Mechanic", "inspector=yes", "active=yes", "until=2024-01-01"))
		came, away := s.as(t, 2), s.as(t, 2)
		if w := get(came, "/parts"); w.Code != http.StatusSeeOther || w.Header().Get(signedOutHeader) == "" {
			t.Errorf("past the last day: status %d", w.Code)
		}
		boss.send("POST", "/people/2", formOf("what=change", "name=M. Mechanic", "inspector=yes", "active=yes", "until="+until))
		for _, h := range []http.Handler{came, away} {
			check(t, "signed in past the last day, when that was set anew to "+until, get(h, "/parts"), http.StatusSeeOther, nil, nil)
		}
	}
	ended("")
	ended("2999-01-01")
	boss.send("POST", "/people/2", formOf("what=change", "name=M. Mechanic", "inspector=yes"))
	for _, path := range []string{"/import", "/parts/1/photos"} { // nobody's uploads are not taken in, let alone drawn again
		if w := s.client().send("POST", path, formOf("x="+strings.Repeat("<", largestForm+1))); w.Code != http.StatusRequestEntityTooLarge || w.Body.Len() > largestForm {
			t.Errorf("%s of nobody: status %d, %d bytes", path, w.Code, w.Body.Len())
		}
	}
	check(t, "the owner meanwhile", boss.get("/people/2"), 200, []string{"may not sign in", "new password", "A. Owner"}, nil)
}

// TestOwnPassword: one's own password is changed with the old one, which is
// slowed too; other sessions end, this one goes on under a new id.
func TestOwnPassword(t *testing.T) {
	b := emptyBook(t)
	s, _ := serverOn(t, b)
	addPerson(t, b, store.Person{Name: "A. Owner", Roles: store.Owner})
	at := time.Now()
	s.now = func() time.Time { return at }
	here, there := s.client(), s.client()
	here.signIn("A. Owner", testPassword)
	there.signIn("A. Owner", testPassword)
	before := here.cookies["barrelbook-8440"]
	if w := here.send("POST", "/me", formOf("old="+testPassword, "password=a louder lamp upstairs")); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", w.Code, messages(w.Body.String()))
	}
	check(t, "here", here.get("/me"), 200, []string{"new password counts"}, nil)
	if here.cookies["barrelbook-8440"] == before {
		t.Error("the session is the same")
	}
	if w := there.get("/me"); w.Code != http.StatusSeeOther {
		t.Errorf("elsewhere: status %d", w.Code)
	}
	if w := there.signIn("A. Owner", testPassword); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("the old password: status %d", w.Code)
	}
	for range freeForAccount {
		here.send("POST", "/me", formOf("old=wrong password", "password=a third lamp upstairs"))
	}
	check(t, "too many tries", here.send("POST", "/me", formOf("old=a louder lamp upstairs", "password=a third lamp upstairs")), 422, []string{"too many wrong tries"}, nil)
	here.send("POST", "/me", formOf("what=sign out"))
	if w := here.get("/me"); w.Code != http.StatusSeeOther {
		t.Errorf("signed out everywhere: status %d", w.Code)
	}
}

// TestPasswordAsTyped: no form changes a password on its way in, spaces at its
// ends and capitals included (OWASP ASVS 5, 6.2.8).
func TestPasswordAsTyped(t *testing.T) {
	b := emptyBook(t)
	s, _ := serverOn(t, b)
	addPerson(t, b, store.Person{Name: "A. Owner", Roles: store.Owner})
	const typed = "  Louder LAMP  upstairs ü "
	c := s.client()
	c.signIn("A. Owner", testPassword)
	check(t, "chosen", c.send("POST", "/me", formOf("old="+testPassword, "password="+typed)), 303, nil, nil)
	for _, other := range []string{strings.TrimSpace(typed), strings.ToLower(typed), strings.ReplaceAll(typed, "ü", "u")} {
		check(t, other, s.client().signIn("A. Owner", other), 422, nil, nil)
	}
	check(t, "as it was typed", s.client().signIn("A. Owner", typed), 303, nil, nil)
}

// TestEnginesOfOneSerial: of two engines with one serial a person is limited to
// the one that is named, and stays so when something else is changed; a serial
// with a comma in it can be named too.
func TestEnginesOfOneSerial(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	ctx := context.Background()
	add := func(serial, model string) int64 {
		return must[int64](t)(b.AddEngine(ctx, store.NewEngine{Serial: serial, Model: model, Arrangement: "radial", Cylinders: 9, Day: "2024-01-01"}))
	}
	comma := add("AB,12", "Invented 7")
	guest := addPerson(t, b.Book, store.Person{Name: "J. Guest", Roles: store.Inspector, Limited: true, Engines: []int64{b.engine.ID, comma}})
	path := fmt.Sprintf("/people/%d", guest)
	twin := add("R-1", "Invented 7")
	has := func(want ...int64) {
		t.Helper()
		if p := must[store.Person](t)(b.Person(ctx, guest)); !p.Limited || !slices.Equal(p.Engines, want) {
			t.Errorf("limited %v to %v, want %v", p.Limited, p.Engines, want)
		}
	}
	late := standing(t, get(h, path), path)
	late.Set("until", "2099-01-01")
	check(t, "another last day", post(h, path, late), 303, nil, nil)
	has(b.engine.ID, comma)
	change := func(engines string) *httptest.ResponseRecorder {
		values := standing(t, get(h, path), path)
		values.Set("engines", engines)
		return post(h, path, values)
	}
	check(t, "one of two", change("R-1"), 422, []string{"more than one engine R-1", "R-1 of model Invented 9", "R-1 of model Invented 7"}, nil)
	check(t, "of a model without it", change("R-1 of model Nobody"), 422, []string{"no engine R-1 of model Nobody"}, nil)
	has(b.engine.ID, comma)
	check(t, "the other", change("R-1 of model invented 7\r\nAB,12"), 303, nil, nil)
	has(twin, comma)
}

// TestWhoIsFilledIn: forms begin with the name of who is signed in; another
// that is typed there stays for the next form of its kind.
func TestWhoIsFilledIn(t *testing.T) {
	b := fill(t)
	s, _ := serverOn(t, b.Book)
	addPerson(t, b.Book, store.Person{Name: "A. Owner", Roles: store.Owner})
	h := s.as(t, addPerson(t, b.Book, store.Person{Name: "M. Mechanic", Roles: store.Mechanic}))
	for _, path := range []string{href("/measure/engine/", b.engine.ID, "/1"), href("/engines/", b.engine.ID, "/leak/new"), href("/readings/", b.reading, "/correct"), href("/leaktests/", b.leak, "/correct"), href("/leakreadings/", b.leakReading, "/correct"), href("/findings/", b.fast, "/acknowledge")} {
		check(t, path, get(h, path), 200, []string{`name="who"`, `value="M. Mechanic"`}, nil)
	}
}

// TestActor: what is saved is saved as who is signed in.
func TestActor(t *testing.T) {
	b := emptyBook(t)
	s, _ := serverOn(t, b)
	h := s.as(t, addPerson(t, b, store.Person{Name: "A. Owner", Roles: store.Owner}))
	if w := post(h, "/people", formOf("name=New One", "mechanic=yes", "password="+testPassword)); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d", w.Code)
	}
	entries, err := b.PersonHistory(context.Background(), 2)
	if err != nil || len(entries) != 1 || entries[0].By != "A. Owner" || entries[0].What != "added" {
		t.Errorf("the entry is %+v (%v)", entries, err)
	}
}

// TestPasswordAsked: wherever a password is set, a bad one is refused.
func TestPasswordAsked(t *testing.T) {
	s, _ := serverOn(t, emptyBook(t))
	boss, given := s.client(), s.client()
	const bad, says = "password=elevenchars", "at least 12 characters"
	check(t, "the first owner", boss.send("POST", "/first-owner", formOf("name=A. Owner", bad)), 422, []string{says}, nil)
	check(t, "the first owner", boss.send("POST", "/first-owner", formOf("name=A. Owner", "password="+testPassword)), 303, nil, nil)
	check(t, "somebody added", boss.send("POST", "/people", formOf("name=M. Mechanic", "mechanic=yes", bad)), 422, []string{says}, nil)
	check(t, "somebody added", boss.send("POST", "/people", formOf("name=M. Mechanic", "mechanic=yes", "password="+testPassword)), 303, nil, nil)
	check(t, "a new one for somebody", boss.send("POST", "/people/2", formOf("what=password", bad)), 422, []string{says}, nil)
	check(t, "one's own", boss.send("POST", "/me", formOf("old="+testPassword, bad)), 422, []string{says}, nil)
	check(t, "the given one", given.signIn("M. Mechanic", testPassword), 200, []string{"Choose your own"}, nil)
	check(t, "the choice", given.send("POST", "/sign-in", formOf("what=own", bad)), 422, []string{says}, nil)
}

// TestPasswordFault: long enough, and not what others would try first; no rule
// of how it is composed, as OWASP ASVS 5 wants it.
func TestPasswordFault(t *testing.T) {
	for _, good := range []string{"quiet lamp under stairs", "kmvzqhrtwyxb", "ÄÖÜ äöü ßéè ñç", strings.Repeat("correct horse ", 9), "Larkfield is windy in May", "12 hens crossed 7 roads"} {
		if why := passwordFault(good, "H. Larkfield", "Larkfield Air Works"); why != "" {
			t.Errorf("%q: %s", good, why)
		}
	}
	for _, bad := range []string{"", "elevenchars", "aaaaaaaaaaaaaaaa", "abababababab", "kwpmkwpmkwpm", "123456789012", "qwertyuiopas", "abcdefghijklm", "barrelbook12", "Barrelbook 1!", "H. Larkfield", "larkfieldairworks", "passwordpassword", "1qaz2wsx3edc", "Q1W2 e3r4 t5y6", "leavemealone", "administrator", "unbelievable", strings.Repeat("x7 ", 50), "bad \xff\xfe\xfd\xfc utf-8"} {
		if why := passwordFault(bad, "H. Larkfield", "Larkfield Air Works"); why == "" {
			t.Errorf("%q is taken", bad)
		}
	}
	if a, b := FreshPassword(), FreshPassword(); a == b || len(a) != 23 || passwordFault(a) != "" {
		t.Errorf("fresh passwords %s and %s", a, b)
	}
}

// TestIsPassword: against a hash that the reference implementation of argon2
// made, and hashes that are none.
func TestIsPassword(t *testing.T) {
	// By the command argon2 of Debian 20171227: echo -n "quiet lamp" | argon2 somesaltsomesalt -id -t 2 -k 19456 -p 1 -e
	const reference = "$argon2id$v=19$m=19456,t=2,p=1$c29tZXNhbHRzb21lc2FsdA$nuDlczKAFJPlagL8Ay8xldD+oUfIUShHQwsxmUUviJs"
	if !isPassword(reference, "quiet lamp") || isPassword(reference, "quiet lamp ") {
		t.Error("the reference's hash is not understood")
	}
	// 19 MiB, 2 passes, 1 lane: OWASP Password Storage Cheat Sheet
	if a, b := HashPassword("quiet lamp"), HashPassword("quiet lamp"); a == b || !strings.HasPrefix(a, "$argon2id$v=19$m=19456,t=2,p=1$") || !isPassword(a, "quiet lamp") {
		t.Errorf("kept as %s, and as %s", a, b)
	}
	for _, broken := range []string{"", "x", "$argon2id$v=19$m=19456,t=2,p=1$$", "$argon2id$v=19$m=19456,t=0,p=1$c29tZXNhbHQ$c29tZXNhbHQ", "$argon2i$v=19$m=19456,t=2,p=1$c29tZXNhbHQ$c29tZXNhbHQ", "$argon2id$v=16$m=19456,t=2,p=1$c29tZXNhbHQ$c29tZXNhbHQ", "$argon2id$v=19$m=19456,t=2,p=1$!$c29tZXNhbHQ", "no password"} {
		if isPassword(broken, "") || isPassword(broken, "quiet lamp") {
			t.Errorf("%q fits a password", broken)
		}
	}
	// as it was typed: capitals, spaces at its ends, letters beyond ASCII, and every one of 128 characters
	typed := " Quiet  LAMP ü " + strings.Repeat("x", 112) + "y"
	kept := HashPassword(typed)
	if !isPassword(kept, typed) {
		t.Error("a password does not fit itself")
	}
	for _, other := range []string{strings.ToLower(typed), strings.ToUpper(typed), strings.TrimSpace(typed), strings.ReplaceAll(typed, "  ", " "), strings.ReplaceAll(typed, "ü", "u\u0308"), strings.TrimSuffix(typed, "y"), typed[:72]} {
		if isPassword(kept, other) {
			t.Errorf("%q fits %q", other, typed)
		}
	}
}
