package server

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"barrelbook/store"
)

// client is a browser as far as cookies go.
type client struct {
	h       http.Handler
	cookies map[string]string
	from    string // the address it comes from
}

func (s *testServer) client() *client { return &client{s.mux, map[string]string{}, "127.0.0.1:5000"} }

func (c *client) send(method, path string, values url.Values, headers ...string) *httptest.ResponseRecorder {
	var body io.Reader
	if method == http.MethodPost {
		body = strings.NewReader(values.Encode())
	}
	r := httptest.NewRequest(method, path, body)
	r.Host, r.RemoteAddr = "localhost:8440", c.from
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	for name, value := range c.cookies {
		r.AddCookie(&http.Cookie{Name: name, Value: value})
	}
	w := httptest.NewRecorder()
	c.h.ServeHTTP(w, r)
	for _, k := range w.Result().Cookies() {
		c.cookies[k.Name] = k.Value
	}
	return w
}

func (c *client) get(path string) *httptest.ResponseRecorder {
	return c.send(http.MethodGet, path, nil)
}

func (c *client) signIn(name, password string) *httptest.ResponseRecorder {
	return c.send(http.MethodPost, "/sign-in", formOf("name="+name, "password="+password))
}

// TestFirstOwner: an empty book leads every page to the one that makes its
// owner, on this computer only and only once.
func TestFirstOwner(t *testing.T) {
	s, _ := serverOn(t, emptyBook(t))
	c := s.client()
	for _, path := range []string{"/", "/parts", "/sign-in", "/people", "/nowhere"} {
		if w := c.get(path); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/first-owner" {
			t.Errorf("%s of an empty book: status %d to %s", path, w.Code, w.Header().Get("Location"))
		}
	}
	for _, path := range []string{"/health", "/static/base.css"} {
		if w := c.get(path); w.Code != http.StatusOK {
			t.Errorf("%s of an empty book: status %d", path, w.Code)
		}
	}
	far := s.client()
	far.from = "192.0.2.7:5000"
	check(t, "from another computer", far.get("/first-owner"), 403, []string{"no owner yet"}, []string{`name="password"`})
	check(t, "a first owner from another computer", far.send("POST", "/first-owner", formOf("name=E. Else", "password="+testPassword)), 403, nil, nil)
	check(t, "the page", c.get("/first-owner"), 200, []string{"Whose book is this?", `type="password"`}, []string{"Hand over"})
	check(t, "nothing typed", c.send("POST", "/first-owner", formOf("name=", "password=short")), 422, []string{"give the name", "at least 12 characters"}, []string{"short"})
	w := c.send("POST", "/first-owner", formOf("name=F. Owner", "password="+testPassword, "mechanic=yes"))
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/" {
		t.Fatalf("the first owner: status %d\n%s", w.Code, w.Body)
	}
	check(t, "the first page", c.get("/"), 200, []string{"Welcome, F. Owner", "Hand over", "The book is empty"}, nil)
	if w := s.client().send("POST", "/first-owner", formOf("name=Second", "password="+testPassword)); w.Header().Get("Location") != "/" {
		t.Errorf("a second first owner: status %d", w.Code)
	}
	people := must[[]store.Person](t)(s.book.People(context.Background()))
	if len(people) != 1 || people[0].Roles != store.Owner|store.Mechanic {
		t.Errorf("the book has %+v", people)
	}
}

// TestSignIn: by name and password, to where one wanted to go, with a new
// session each time.
func TestSignIn(t *testing.T) {
	b := fill(t)
	s, _ := serverOn(t, b.Book)
	addPerson(t, b.Book, store.Person{Name: "A. Owner", Roles: store.Owner})
	addPerson(t, b.Book, store.Person{Name: "M. Mechanic", Roles: store.Mechanic})
	addPerson(t, b.Book, store.Person{Name: "L. Late", Roles: store.Inspector, Until: "2024-01-01"})
	c := s.client()
	if w := c.get("/parts?q=C-1"); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/sign-in?to=%2Fparts%3Fq%3DC-1" {
		t.Errorf("signed out: status %d to %q", w.Code, w.Header().Get("Location"))
	}
	check(t, "the page", c.get("/sign-in?to=%2Fparts%3Fq%3DC-1"), 200, []string{`value="M. Mechanic"`, `value="/parts?q=C-1"`, "barrelbook password"}, []string{"L. Late", "Hand over", ">Parts<"})
	wrong := []string{c.signIn("M. Mechanic", "not the password").Body.String(), c.signIn("N. Nobody", "not the password").Body.String()}
	strip := strings.NewReplacer("M. Mechanic", "", "N. Nobody", "", " checked", "")
	if a, b := strip.Replace(wrong[0]), strip.Replace(wrong[1]); a != b || !strings.Contains(a, "do not belong together") || strings.Contains(a, "not the password") {
		t.Errorf("a wrong name and a wrong password are answered differently:\n%s\n%s", a, b)
	}
	if w := c.signIn("M. Mechanic", ""); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("no password: status %d", w.Code)
	}
	check(t, "past the last day", c.signIn("L. Late", testPassword), 403, []string{"may not sign in any more"}, nil)
	w := c.send("POST", "/sign-in", formOf("name=m. mechanic", "password="+testPassword, "to=/parts?q=C-1"))
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/parts?q=C-1" {
		t.Fatalf("signed in: status %d to %q", w.Code, w.Header().Get("Location"))
	}
	for _, k := range w.Result().Cookies() {
		if !k.HttpOnly || k.SameSite != http.SameSiteLaxMode || k.Path != "/" || k.Secure || len(k.Value) != idLength || k.MaxAge != 12*60*60 {
			t.Errorf("the cookie %+v", k)
		}
	}
	check(t, "signed in", c.get("/parts?q=C-1"), 200, []string{"M. Mechanic", "C-1"}, nil)
	before := c.cookies["barrelbook-8440"]
	c.signIn("A. Owner", testPassword)
	if after := c.cookies["barrelbook-8440"]; after == before || after == "" {
		t.Error("another person has the same session")
	}
	old := &client{s.mux, map[string]string{"barrelbook-8440": before}, c.from}
	if w := old.get("/"); w.Code != http.StatusSeeOther {
		t.Errorf("the session before it: status %d", w.Code)
	}
	for _, to := range []string{"//elsewhere.example", "http://elsewhere.example", "/\\elsewhere.example", "", "parts"} {
		if w := c.send("POST", "/sign-in", formOf("name=A. Owner", "password="+testPassword, "to="+to)); w.Header().Get("Location") != "/" {
			t.Errorf("on to %q: %q", to, w.Header().Get("Location"))
		}
	}
}

// TestSecureCookie: over HTTPS the cookie keeps to it and to this host.
func TestSecureCookie(t *testing.T) {
	b := emptyBook(t)
	s, _ := serverOn(t, b)
	addPerson(t, b, store.Person{Name: "A. Owner", Roles: store.Owner})
	r := httptest.NewRequest(http.MethodPost, "https://localhost:8441/sign-in", strings.NewReader(formOf("name=A. Owner", "password="+testPassword).Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	s.mux.ServeHTTP(w, r)
	// a browser takes no __Host- with a domain or another path: RFC 6265bis, 4.1.3.2
	if got := w.Result().Cookies(); len(got) != 1 || !got[0].Secure || got[0].Name != "__Host-barrelbook-8441" || got[0].Path != "/" || got[0].Domain != "" {
		t.Errorf("status %d with %+v", w.Code, got)
	}
	if w.Header().Get("Strict-Transport-Security") != "" {
		t.Error("there is HSTS: see DEVELOPERS.md, 3.4.1")
	}
}

// TestSessionsHashed: the book knows no session's id, and no password.
func TestSessionsHashed(t *testing.T) {
	b := emptyBook(t)
	s, _ := serverOn(t, b)
	addPerson(t, b, store.Person{Name: "A. Owner", Roles: store.Owner})
	c := s.client()
	c.signIn("A. Owner", testPassword)
	id := c.cookies["barrelbook-8440"]
	whole := sha256.Sum256([]byte(id))
	kept := must[store.Session](t)(b.Session(context.Background(), whole[:], time.Now().Add(-time.Hour)))
	if bits, err := base64.RawURLEncoding.DecodeString(id); err != nil || len(bits) != 32 { // 256 bits, of which no two ids have the same at all places
		t.Errorf("the id %q: %v", id, err)
	}
	ids := make([]string, 64)
	for i := range ids {
		ids[i] = newID()
	}
	for at := range idLength {
		seen := map[byte]bool{}
		for _, id := range ids {
			seen[id[at]] = true
		}
		if len(seen) < 8 { // of 64 possible, or 16 at the end: chance below 1e-18
			t.Errorf("character %d of an id is one of %d only", at, len(seen))
		}
	}
	if strings.Contains(string(kept.Key)+string(kept.Data), id) || kept.Person != 1 {
		t.Errorf("the book keeps %+v", kept)
	}
	_, p, err := b.PasswordOf(context.Background(), "a. owner")
	if err != nil || !strings.HasPrefix(p.Hash, "$argon2id$v=19$m=19456,t=2,p=1$") || !isPassword(p.Hash, testPassword) || isPassword(p.Hash, testPassword+" ") {
		t.Errorf("the password is kept as %q (%v)", p.Hash, err)
	}
}

// TestGivenPassword: a password that somebody else chose lets in once, to
// choose one's own, with the form that waited still there; and not for ever
// (OWASP ASVS 5, 6.4.1).
func TestGivenPassword(t *testing.T) {
	b := fill(t)
	s, _ := serverOn(t, b.Book)
	boss := s.as(t, addPerson(t, b.Book, store.Person{Name: "A. Owner", Roles: store.Owner}))
	check(t, "a person is added", post(boss, "/people", formOf("name=M. Mechanic", "mechanic=yes", "password="+testPassword)), 303, nil, nil)
	check(t, "the list", get(boss, "/people"), 200, []string{"lets them in once, until"}, nil)
	c := s.client()
	if w := c.send("POST", "/sign-in", formOf("name=M. Mechanic", "password="+testPassword), "Accept", "application/json"); w.Code != http.StatusForbidden || len(w.Result().Cookies()) != 0 {
		t.Errorf("over a covered page: status %d", w.Code)
	}
	w := c.send("POST", "/sign-in", formOf("name=M. Mechanic", "password="+testPassword, "to=/parts", "sent=yes", "carried.serial=C-77"))
	check(t, "the given password", w, 200, []string{"Choose your own password", `value="/parts"`, `name="carried.serial" value="C-77"`}, []string{"Hand over", testPassword})
	check(t, "before the choice", c.get("/"), 303, nil, nil)
	own := func(password string) *httptest.ResponseRecorder {
		return c.send("POST", "/sign-in", formOf("what=own", "password="+password, "to=/parts"))
	}
	check(t, "a short one", own("short"), 422, []string{"at least 12 characters", "Choose your own password"}, nil)
	check(t, "the same", own(testPassword), 422, []string{"the one you were given"}, nil)
	check(t, "of another browser", s.client().send("POST", "/sign-in", formOf("what=own", "password=a louder lamp upstairs")), 422, []string{"type once more"}, nil)
	if w := own("a louder lamp upstairs"); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/parts" {
		t.Fatalf("one's own: status %d to %q", w.Code, w.Header().Get("Location"))
	}
	check(t, "signed in", c.get("/"), 200, []string{"M. Mechanic"}, nil)
	check(t, "a second choice", own("a third lamp outside"), 422, []string{"type once more"}, nil)
	check(t, "the given one again", s.client().signIn("M. Mechanic", testPassword), 422, nil, nil)
	if w := s.client().signIn("M. Mechanic", "a louder lamp upstairs"); w.Code != http.StatusSeeOther {
		t.Errorf("one's own again: status %d", w.Code)
	}
	entries := must[[]store.PersonEntry](t)(b.PersonHistory(context.Background(), 2))
	if len(entries) != 2 || entries[0].By != "M. Mechanic" || entries[0].What != "new password" {
		t.Errorf("the entries are %+v", entries)
	}
}

// TestGivenPasswordEnds: it counts for some days, and a newer one ends it.
func TestGivenPasswordEnds(t *testing.T) {
	b := emptyBook(t)
	s, _ := serverOn(t, b)
	boss := s.as(t, addPerson(t, b, store.Person{Name: "A. Owner", Roles: store.Owner}))
	post(boss, "/people", formOf("name=M. Mechanic", "mechanic=yes", "password="+testPassword))
	c := s.client()
	check(t, "the first one", c.signIn("M. Mechanic", testPassword), 200, []string{"Choose your own"}, nil)
	at := time.Now()
	s.now = func() time.Time { return at }
	at = at.AddDate(0, 0, store.GivenDays).Add(time.Minute)
	check(t, "a week later", s.client().signIn("M. Mechanic", testPassword), 403, []string{"counted for 7 days"}, nil)
	check(t, "a choice a week later", c.send("POST", "/sign-in", formOf("what=own", "password=a louder lamp upstairs")), 422, []string{"type once more"}, nil)
	at = time.Now()
	check(t, "a newer one", post(boss, "/people/2", formOf("what=password", "password=some newer words here")), 303, nil, nil)
	check(t, "a choice with the older", c.send("POST", "/sign-in", formOf("what=own", "password=a louder lamp upstairs")), 422, []string{"type once more"}, nil)
	check(t, "the newer one", c.signIn("M. Mechanic", "some newer words here"), 200, []string{"Choose your own"}, nil)
	check(t, "the owner's own, without the old one", post(boss, "/people/1", formOf("what=password", "password=some newer words here")), 422, []string{"your own page"}, nil)
	check(t, "the owner's own page", get(boss, "/people/1"), 200, []string{`href="/me"`}, []string{`value="password"`})
	at = at.AddDate(0, 0, store.GivenDays).Add(-time.Hour)
	check(t, "nearly a week later", c.signIn("M. Mechanic", "some newer words here"), 200, []string{"Choose your own"}, nil)
	at = at.Add(2 * time.Hour) // the session lasts yet
	check(t, "a choice when the week is over", c.send("POST", "/sign-in", formOf("what=own", "password=a louder lamp upstairs")), 422, []string{"type once more"}, nil)
}

// TestIdle: a session ends twelve hours after it was used last.
func TestIdle(t *testing.T) {
	b := emptyBook(t)
	s, _ := serverOn(t, b)
	addPerson(t, b, store.Person{Name: "A. Owner", Roles: store.Owner})
	at := time.Now()
	s.now = func() time.Time { return at }
	c := s.client()
	c.signIn("A. Owner", testPassword)
	for range 3 {
		at = at.Add(11 * time.Hour)
		if w := c.get("/"); w.Code != http.StatusOK {
			t.Fatalf("eleven hours after it was used: status %d", w.Code)
		}
	}
	at = at.Add(12*time.Hour + time.Minute)
	if w := c.get("/"); w.Code != http.StatusSeeOther {
		t.Errorf("after more than twelve hours: status %d", w.Code)
	}
}

// TestNobodysRequests: what a page that is left open asks for by itself does
// not keep the sign-in alive.
func TestNobodysRequests(t *testing.T) {
	b := emptyBook(t)
	s, _ := serverOn(t, b)
	addPerson(t, b, store.Person{Name: "A. Owner", Roles: store.Owner | store.Mechanic})
	at := time.Now()
	s.now = func() time.Time { return at }
	c := s.client()
	c.signIn("A. Owner", testPassword)
	ask := func(method, path string) int {
		return c.send(method, path, nil, keeperHeader, "1", "Sec-Fetch-Mode", "cors", "Content-Type", "application/json").Code
	}
	for hour := 1; hour <= 13; hour++ {
		at = at.Add(time.Hour)
		got := []int{ask(http.MethodGet, "/offline.json"), ask(http.MethodGet, "/engines"), ask(http.MethodPost, "/outbox")}
		want := []int{http.StatusOK, http.StatusOK, http.StatusBadRequest} // an outbox without records
		if hour > 12 {
			want = []int{http.StatusUnauthorized, http.StatusUnauthorized, http.StatusUnauthorized}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%d hours after a person asked: status %d, want %d", hour, got, want)
		}
	}
}

// TestSlowed: wrong passwords cost time, of an account and of an address, and
// the right one does not help before it is over.
func TestSlowed(t *testing.T) {
	b := emptyBook(t)
	s, _ := serverOn(t, b)
	addPerson(t, b, store.Person{Name: "A. Owner", Roles: store.Owner})
	at := time.Now()
	s.now = func() time.Time { return at }
	c := s.client()
	for i := range freeForAccount {
		if w := c.signIn("A. Owner", "wrong password"); w.Code != http.StatusUnprocessableEntity {
			t.Fatalf("try %d: status %d", i+1, w.Code)
		}
	}
	w := c.signIn("A. Owner", testPassword)
	check(t, "too many tries", w, http.StatusTooManyRequests, []string{"too many wrong tries: wait 1 second,"}, nil)
	if w.Header().Get("Retry-After") == "" {
		t.Error("it does not say when to try again")
	}
	at = at.Add(time.Second)
	if w := c.signIn("A. Owner", "wrong password"); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("after the wait: status %d", w.Code)
	}
	at = at.Add(time.Second)
	if w := c.signIn("A. Owner", testPassword); w.Code != http.StatusTooManyRequests {
		t.Errorf("the wait does not grow: status %d", w.Code)
	}
	at = at.Add(longestWait)
	if w := c.signIn("A. Owner", testPassword); w.Code != http.StatusSeeOther {
		t.Errorf("after the longest wait: status %d", w.Code)
	}
	sprayer := s.client()
	sprayer.from = "127.0.0.9:1"
	for i := range freeForAddress {
		sprayer.signIn(fmt.Sprint("name ", i), "wrong password")
	}
	if w := sprayer.signIn("A. Owner", testPassword); w.Code != http.StatusTooManyRequests {
		t.Errorf("many names from one address: status %d", w.Code)
	}
	if w := c.signIn("A. Owner", testPassword); w.Code != http.StatusSeeOther {
		t.Errorf("another address meanwhile: status %d", w.Code)
	}
	for i := range 16 { // who guesses on and on makes nobody wait for longer than five minutes
		at = at.Add(5 * time.Minute)
		if w := sprayer.signIn("A. Owner", "wrong password"); w.Code != http.StatusUnprocessableEntity {
			t.Fatalf("guess %d, five minutes after the last: status %d", i+1, w.Code)
		}
	}
	check(t, "right after a guess", c.signIn("a. owner", testPassword), http.StatusTooManyRequests, []string{"too many wrong tries"}, nil)
	at = at.Add(5 * time.Minute)
	if w := c.signIn("A. Owner", testPassword); w.Code != http.StatusSeeOther {
		t.Errorf("the owner, five minutes after the last guess: status %d", w.Code)
	}
}

// TestHandOver: who hands over is signed out, and the next one comes back to
// the same page.
func TestHandOver(t *testing.T) {
	b := fill(t)
	s, _ := serverOn(t, b.Book)
	addPerson(t, b.Book, store.Person{Name: "A. Owner", Roles: store.Owner})
	addPerson(t, b.Book, store.Person{Name: "M. Mechanic", Roles: store.Mechanic})
	c := s.client()
	c.signIn("A. Owner", testPassword)
	w := c.send("POST", "/sign-out", formOf("to=/parts"))
	if w.Header().Get("Location") != "/sign-in?to=%2Fparts" {
		t.Errorf("handed over: status %d to %q", w.Code, w.Header().Get("Location"))
	}
	if w := c.get("/parts"); w.Code != http.StatusSeeOther {
		t.Errorf("after that: status %d", w.Code)
	}
	check(t, "the next one chooses", c.get("/sign-in?to=%2Fparts"), 200, []string{`value="M. Mechanic"`, `value="A. Owner" checked`}, nil)
	json := []string{"Accept", "application/json", "Sec-Fetch-Mode", "cors"}
	for _, x := range []struct {
		path   string
		values url.Values
		status int
	}{
		{"/sign-in", formOf("name=M. Mechanic", "password=wrong password"), 422},
		{"/sign-in", formOf("name=M. Mechanic", "password="+testPassword), 204},
		{"/sign-out", nil, 204},
		{"/engines", formOf("serial=X"), 401},
	} {
		if w := c.send("POST", x.path, x.values, json...); w.Code != x.status || strings.Contains(w.Body.String(), "<html") {
			t.Errorf("%s by a script: status %d, want %d", x.path, w.Code, x.status)
		}
	}
}

// TestFormAfterExpiry: what was typed when the sign-in ended is carried
// through it without a script, also past a wrong password, and saved.
func TestFormAfterExpiry(t *testing.T) {
	b := fill(t)
	s, logged := serverOn(t, b.Book)
	addPerson(t, b.Book, store.Person{Name: "M. Mechanic", Roles: store.Mechanic | store.Owner})
	c := s.client()
	typed := url.Values{"kind": {"pin"}, "serial": {`N-"7`, "second"}, "source": {"new"}, "note": {"line one\nline <two>"}, "password": {"of no use"}}
	w := c.send("POST", "/parts", typed)
	check(t, "a form after the sign-in has ended", w, 401, []string{"What you typed is kept", `name="carried.serial" value="N-&#34;7"`, `value="second"`, "line &lt;two&gt;", `value="/parts"`}, []string{"of no use"})
	values := url.Values{"name": {"M. Mechanic"}, "password": {"a wrong password"}, "to": {"/parts"}, "sent": {"yes"}}
	for _, in := range carry(typed) {
		values.Add(in.Name, in.Value)
	}
	check(t, "a wrong password", c.send("POST", "/sign-in", values), 422, []string{`name="carried.serial" value="N-&#34;7"`, "line &lt;two&gt;"}, nil)
	values.Set("password", testPassword)
	w = c.send("POST", "/sign-in", values)
	if w.Code != http.StatusSeeOther || !strings.HasPrefix(w.Header().Get("Location"), "/parts/") {
		t.Fatalf("sent on: status %d to %q\n%s", w.Code, w.Header().Get("Location"), w.Body)
	}
	check(t, "the part", c.get(w.Header().Get("Location")), 200, []string{"N-&#34;7", "M. Mechanic", "line &lt;two&gt;"}, nil)
	c.send("POST", "/sign-out", nil)
	values.Set("carried.source", "stolen")
	check(t, "a form with a fault", c.send("POST", "/sign-in", values), 422, []string{"Nothing was saved", `value="N-&#34;7"`, "M. Mechanic"}, nil)
	addPerson(t, b.Book, store.Person{Name: "I. Inspector", Roles: store.Inspector})
	values.Set("name", "I. Inspector")
	check(t, "as somebody who may not", c.send("POST", "/sign-in", values), 403, []string{"Your roles do not include this"}, nil)
	c.send("POST", "/sign-out", nil)
	if w := c.send("POST", "/import", nil, "Content-Type", "multipart/form-data; boundary=x"); w.Code != 401 || !strings.Contains(w.Body.String(), "Files cannot wait") {
		t.Errorf("files after the sign-in has ended: status %d", w.Code)
	}
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

// TestDemoSignsIn: whoever opens the demo on this machine is its owner, once;
// after a hand-over, and from elsewhere, the sign-in page is shown with the
// password.
func TestDemoSignsIn(t *testing.T) {
	b := fill(t)
	set := must[store.Settings](t)(b.Settings(context.Background()))
	set.Demo = true
	ok(t, b.SaveSettings(context.Background(), set))
	addPerson(t, b.Book, store.Person{Name: "A. Owner", Roles: store.Owner | store.Mechanic})
	s, _ := serverOn(t, b.Book)
	w := s.client().send("GET", "/waiting", nil, nobodyHeader, "1")
	check(t, "what waits, for nobody", w, 200, []string{"Waiting on this device", `href="/sign-in?to=/waiting"`}, []string{"A. Owner", "hand-over"})
	if len(w.Result().Cookies()) != 0 {
		t.Error("a page for nobody signs somebody in")
	}
	c := s.client()
	check(t, "the demo", c.get("/"), 200, []string{"A. Owner", "R-1"}, nil)
	c.send("POST", "/sign-out", nil)
	if w := c.get("/"); w.Code != http.StatusSeeOther {
		t.Errorf("after a hand-over: status %d", w.Code)
	}
	check(t, "its sign-in page", c.get("/sign-in"), 200, []string{DemoPassword}, nil)
	far := s.client()
	far.from = "192.0.2.7:5000"
	if w := far.get("/"); w.Code != http.StatusSeeOther {
		t.Errorf("from another computer: status %d", w.Code)
	}
}
