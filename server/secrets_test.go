package server

import (
	"context"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"barrelbook/static"
	"barrelbook/store"
)

// passwordFields lists the password fields of a page with what browsers are
// told they are for, those of its cover apart, and wants each to be sound: it
// is masked and empty, can be looked at, pasted into and filled in by a manager
// (OWASP ASVS 5, 6.2.6 and 6.2.7), and its form sends it in the body (14.2.1).
func passwordFields(t *testing.T, what string, w *httptest.ResponseRecorder) (fields, cover []string) {
	t.Helper()
	page := w.Body.String()
	var walk func(n *html.Node, method string, entry *html.Node)
	walk = func(n *html.Node, method string, entry *html.Node) {
		a := attributes(n)
		switch _, reveals := a["data-reveal"]; {
		case n.Data == "form":
			method = strings.ToLower(a["method"])
		case reveals:
			entry = n
		}
		if n.Data == "input" && (a["type"] == "password" || a["name"] == "password" || a["name"] == "old") {
			if a["type"] != "password" || a["value"] != "" || method != "post" {
				t.Errorf("%s: the field %v stands in a form of method %q", what, a, method)
			}
			for name := range a {
				if !slices.Contains([]string{"id", "name", "type", "value", "autocomplete", "aria-required", "aria-describedby", "aria-invalid"}, name) {
					t.Errorf("%s: %s may get in the way of what is pasted", what, name)
				}
			}
			field := a["name"] + " " + a["autocomplete"]
			if a["id"] == "cover-password" {
				cover = append(cover, field)
			} else {
				fields = append(fields, field)
			}
			if entry == nil || !hasButton(entry) || !strings.Contains(page, `src="`+static.URL("reveal.js")+`"`) {
				t.Errorf("%s: nothing shows what is typed for %s", what, field)
			}
		}
		for c := range n.ChildNodes() {
			walk(c, method, entry)
		}
	}
	walk(must[*html.Node](t)(html.Parse(strings.NewReader(page))), "", nil)
	return fields, cover
}

func attributes(n *html.Node) map[string]string {
	all := map[string]string{}
	for _, a := range n.Attr {
		all[a.Key] = a.Val
	}
	return all
}

func hasButton(n *html.Node) bool {
	for c := range n.Descendants() {
		if c.Data == "button" && attributes(c)["type"] == "button" {
			return true
		}
	}
	return false
}

// TestPasswordFields looks at the password fields of every page there is.
func TestPasswordFields(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	s, _ := serverOn(t, b.Book)
	boss := s.as(t, addPerson(t, b.Book, store.Person{Name: "A. Owner", Roles: store.Owner | store.Mechanic}))
	check(t, "a person is added", post(boss, "/people", formOf("name=M. Mechanic", "mechanic=yes", "password="+testPassword)), 303, nil, nil)
	empty, _ := serverOn(t, emptyBook(t))
	const now, fresh = "password current-password", "password new-password"
	for _, c := range []struct {
		what   string
		w      *httptest.ResponseRecorder
		fields []string
	}{
		{"the sign-in", s.client().get("/sign-in"), []string{now}},
		{"a sign-in that failed", s.client().signIn("A. Owner", "not the password"), []string{now}},
		{"a form after the sign-in has ended", s.client().send("POST", "/me", formOf("old=x", "password=y")), []string{now}},
		{"the choice of one's own", s.client().signIn("M. Mechanic", testPassword), []string{fresh}},
		{"the first owner", empty.client().get("/first-owner"), []string{fresh}},
		{"one's own page", get(boss, "/me"), []string{"old current-password", fresh}},
		{"one's own page with faults", post(boss, "/me", formOf("old=x", "password=y")), []string{"old current-password", fresh}},
		{"people", get(boss, "/people"), []string{fresh}},
		{"a person", get(boss, "/people/2"), []string{fresh}},
	} {
		if got, _ := passwordFields(t, c.what, c.w); !slices.Equal(got, c.fields) {
			t.Errorf("%s: the password fields are %q, want %q", c.what, got, c.fields)
		}
	}
	for _, a := range append(b.pages(), b.benchPages()...) {
		w := get(boss, a.path)
		if !strings.Contains(w.Body.String(), "</html>") {
			continue
		}
		if _, cover := passwordFields(t, a.path, w); !slices.Equal(cover, []string{now}) {
			t.Errorf("%s: its cover asks for %q", a.path, cover)
		}
	}
}

// TestNoSecretsInAddresses: no answer has a password or the id of a session
// anywhere but in its cookie, so no address can; a password that comes in an
// address is of no use (OWASP ASVS 5, 14.2.1).
func TestNoSecretsInAddresses(t *testing.T) {
	const own, next = "a louder lamp upstairs", "a third lamp outside"
	s, logged := serverOn(t, emptyBook(t))
	c := s.client()
	secrets := []string{testPassword, own, next}
	send := func(status int, method, path string, values url.Values, headers ...string) {
		t.Helper()
		w := c.send(method, path, values, headers...)
		for _, k := range w.Result().Cookies() {
			secrets = append(secrets, k.Value)
		}
		w.Header().Del("Set-Cookie")
		var said strings.Builder
		ok(t, w.Header().Write(&said))
		said.WriteString(w.Body.String())
		for _, secret := range secrets {
			if text := said.String(); strings.Contains(text, secret) || strings.Contains(text, url.QueryEscape(secret)) || strings.Contains(text, url.PathEscape(secret)) {
				t.Errorf("%s %s answers with %q:\n%.400s", method, path, secret, text)
			}
		}
		if w.Code != status {
			t.Errorf("%s %s: status %d, want %d", method, path, w.Code, status)
		}
	}
	inAddress := func(path string, fields ...string) string { return path + "?" + formOf(fields...).Encode() }
	send(422, "POST", "/first-owner", formOf("password="+testPassword))
	send(303, "POST", "/first-owner", formOf("name=A. Owner", "password="+testPassword))
	for _, path := range []string{"/", "/me", "/people", "/people/1", "/sign-in", "/waiting", "/offline.json", "/parts"} {
		send(200, "GET", path, nil)
	}
	c.get(inAddress("/me", "old="+testPassword, "password="+own)) // the page leads back to its own address
	send(422, "POST", inAddress("/me", "old="+testPassword, "password="+own), nil)
	send(422, "POST", "/me", formOf("old="+testPassword, "password=short"))
	send(303, "POST", "/people", formOf("name=M. Mechanic", "mechanic=yes", "password="+testPassword))
	send(303, "POST", "/me", formOf("old="+testPassword, "password="+own))
	send(303, "POST", "/sign-out", formOf("to=/parts"))

	// nobody is signed in now, and an address does not change that
	send(200, "GET", inAddress("/sign-in", "name=A. Owner", "password="+own), nil)
	send(422, "POST", inAddress("/sign-in", "name=A. Owner", "password="+own), nil)
	send(422, "POST", inAddress("/sign-in", "password="+own), formOf("name=A. Owner"))
	send(303, "GET", "/", nil)

	send(401, "POST", "/me", formOf("old="+own, "password="+next))
	send(422, "POST", "/sign-in", formOf("name=A. Owner", "password="+next))
	send(204, "POST", "/sign-in", formOf("name=A. Owner", "password="+own), "Accept", "application/json")
	send(204, "POST", "/sign-out", nil, "Accept", "application/json")
	send(200, "POST", "/sign-in", formOf("name=M. Mechanic", "password="+testPassword, "to=/parts"))
	send(422, "POST", "/sign-in", formOf("what=own", "password="+testPassword, "to=/parts"))
	send(303, "POST", "/sign-in", formOf("what=own", "password="+next, "to=/parts"))
	send(200, "GET", "/parts", nil)
	if people := must[[]store.Person](t)(s.book.People(context.Background())); len(people) != 2 || len(secrets) < 8 {
		t.Errorf("%d people, %d secrets", len(people), len(secrets))
	}
	for _, secret := range secrets {
		if strings.Contains(logged.String(), secret) {
			t.Errorf("the log has %q", secret)
		}
	}
}

// TestOldCookie: the cookie of a session that was ended is worth nothing, by
// the button, by a cover, by a sign-out everywhere and by the next one who
// signs in (OWASP ASVS 5, 7.4.1).
func TestOldCookie(t *testing.T) {
	b := fill(t)
	s, _ := serverOn(t, b.Book)
	addPerson(t, b.Book, store.Person{Name: "A. Owner", Roles: store.Owner})
	addPerson(t, b.Book, store.Person{Name: "M. Mechanic", Roles: store.Mechanic})
	for what, end := range map[string]func(c *client){
		"a hand-over":             func(c *client) { c.send("POST", "/sign-out", formOf("to=/parts")) },
		"a hand-over, and a next": func(c *client) { c.send("POST", "/sign-out", nil); c.signIn("M. Mechanic", testPassword) },
		"a cover": func(c *client) {
			c.send("POST", "/sign-out", nil, "Accept", "application/json", "Sec-Fetch-Mode", "cors")
		},
		"a sign-out everywhere": func(c *client) { c.send("POST", "/me", formOf("what=sign out")) },
		"a sign-in over it":     func(c *client) { c.signIn("M. Mechanic", testPassword) },
	} {
		c := s.client()
		c.signIn("A. Owner", testPassword)
		kept := c.cookies["barrelbook-8440"]
		check(t, "before "+what, c.get("/people"), 200, []string{"A. Owner"}, nil)
		end(c)
		for _, x := range []struct {
			method, path string
			status       int
		}{{"GET", "/people", 303}, {"GET", "/offline.json", 303}, {"POST", "/people", 401}, {"POST", "/outbox", 401}} {
			old := &client{s.mux, map[string]string{"barrelbook-8440": kept}, c.from}
			if w := old.send(x.method, x.path, nil); w.Code != x.status || strings.Contains(w.Body.String(), "Hand over") {
				t.Errorf("%s %s with the cookie from before %s: status %d, want %d", x.method, x.path, what, w.Code, x.status)
			}
		}
	}
}
