package main

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"barrelbook/server"
	"barrelbook/store"
)

// tab is a tab of the browser on a server of a book. Whatever goes wrong ends
// the test.
type tab struct {
	t    *testing.T
	ctx  context.Context
	base string
}

// serveTest serves a book until the test ends, and returns its address. What
// the server logs fails the test.
func serveTest(t *testing.T, book *store.Book) string {
	t.Helper()
	answers := server.New(book, slog.New(slog.NewTextHandler(&failing{t}, nil)))
	background, stop := context.WithCancel(context.Background())
	answers.Run(background)
	web := httptest.NewServer(signedIn(t, book, answers))
	t.Cleanup(func() {
		web.Close()
		stop()
		answers.Wait()
		if err := answers.Close(); err != nil {
			t.Error(err)
		}
	})
	return web.URL
}

// signedIn is a server for the first of the book's people, signed in without a
// password. A demo book signs its visitors in by itself, and one without people
// wants its first owner.
func signedIn(t testing.TB, book *store.Book, answers *server.Server) http.Handler {
	t.Helper()
	people, err := book.People(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	set, err := book.Settings(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if set.Demo || len(people) == 0 {
		return answers.Handler()
	}
	cookie, err := answers.SignedIn(context.Background(), people[0].ID, "localhost")
	if err != nil {
		t.Fatal(err)
	}
	return withCookie(answers.Handler(), cookie)
}

// withCookie adds the cookie of a session, as one for the port that is asked,
// to requests without any.
func withCookie(handler http.Handler, c *http.Cookie) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if len(r.Cookies()) == 0 {
			name := c.Name
			if _, port, err := net.SplitHostPort(r.Host); err == nil {
				name += "-" + port
			}
			r.AddCookie(&http.Cookie{Name: name, Value: c.Value})
		}
		handler.ServeHTTP(w, r)
	})
}

// addOwner adds an owner who is a mechanic too, unless the book has people.
func addOwner(t testing.TB, book *store.Book) {
	t.Helper()
	if any, err := book.AnyPeople(context.Background()); err != nil || any {
		return
	}
	_, err := book.AddFirstOwner(context.Background(), store.Person{Name: "A. Owner", Roles: store.Owner | store.Mechanic}, "no password")
	if err != nil {
		t.Fatal(err)
	}
}

// openTab opens a tab of a laptop's width for the pages at base.
func openTab(t *testing.T, base string) *tab {
	t.Helper()
	b := &tab{t, browser(t, base), base}
	b.do(emulateScreen(1366, "light"))
	return b
}

// failing fails a test for each line that is written to it.
type failing struct{ t *testing.T }

func (f *failing) Write(line []byte) (int, error) {
	f.t.Errorf("the server logs: %s", line)
	return len(line), nil
}

// stepLimit ends a step that waits for what never comes.
const stepLimit = time.Minute

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, stepLimit)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

func (b *tab) open(path string) {
	b.t.Helper()
	answer, err := chromedp.Run(b.ctx, chromedp.NavigateResponse(b.base+path))
	if err != nil || answer.Status != http.StatusOK {
		b.t.Fatalf("open %s: %+v (%v)", path, answer, err)
	}
}

// press clicks the first link or button that is seen and says this, those of
// the page before those of the navigation, and waits for where it leads.
func (b *tab) press(text string, status int64) {
	b.t.Helper()
	const mark = `["main a:not(svg a), main button", ".wide-nav a"].flatMap(s => [...document.querySelectorAll(s)]).some(e =>
		e.checkVisibility() && e.innerText.split("\n")[0].trim() === %s && (e.setAttribute("data-press", ""), true))`
	if !eval[bool](b, fmt.Sprintf(mark, quoted(text))) {
		b.t.Fatalf("there is no link or button %q on %s", text, eval[string](b, "location.pathname"))
	}
	answer, err := chromedp.RunResponse(b.ctx, chromedp.Click(chromedp.CSS("[data-press]")))
	if err != nil {
		b.t.Fatalf("press %q: %v", text, err)
	}
	if answer.Status != status {
		b.t.Fatalf("press %q: status %d, want %d; the page says %s", text, answer.Status, status, eval[string](b, `document.querySelector("main").innerText.slice(0, 600)`))
	}
}

func field(name string) chromedp.CSS { return chromedp.CSS(`[name=` + quoted(name) + `]`) }

func quoted(s string) string { return fmt.Sprintf("%q", s) }

func (b *tab) fill(name, text string) { b.t.Helper(); b.do(chromedp.SendKeys(field(name), text)) }

// set puts a value into a field without the keyboard: a date is typed in the
// order of the machine's language.
func (b *tab) set(name, value string) { b.t.Helper(); b.do(chromedp.SetValue(field(name), value)) }

func (b *tab) upload(name, path string) {
	b.t.Helper()
	b.do(chromedp.SetUploadFiles(field(name), []string{path}))
}

func (b *tab) choose(name, value string) {
	b.t.Helper()
	b.do(chromedp.Click(chromedp.CSS(`input[name=` + quoted(name) + `][value=` + quoted(value) + `]`)))
}

// pick selects the option of a select that says this, or begins with it and a
// comma.
func (b *tab) pick(name, text string) {
	b.t.Helper()
	b.set(name, eval[string](b, `[...document.querySelector("select[name=`+name+`]").options].find(o => o.text === `+quoted(text)+` || o.text.startsWith(`+quoted(text+",")+`)).value`))
}

func (b *tab) focus(name string) { b.t.Helper(); b.do(chromedp.Focus(field(name))) }

// enter types at the keyboard, which must be at the named field, and presses
// Enter.
func (b *tab) enter(name, text string) {
	b.t.Helper()
	if at := b.active(); at != name {
		b.t.Fatalf("the keyboard is at %q, want %q", at, name)
	}
	b.do(chromedp.KeyEvent(text + kb.Enter))
}

// get asks for what is no page, as who is signed in in the tab.
func (b *tab) get(path string) (*http.Response, error) {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), http.MethodGet, b.base+path, nil)
	if err != nil {
		return nil, err
	}
	b.do(chromedp.Func(func(ctx context.Context, at *chromedp.Target) error {
		got, err := cdp.Call(ctx, at, network.GetCookies, network.GetCookiesParams{})
		for _, c := range got.Cookies {
			r.AddCookie(&http.Cookie{Name: c.Name, Value: c.Value})
		}
		return err
	}))
	return http.DefaultClient.Do(r)
}

func (b *tab) active() string { return eval[string](b, "document.activeElement.name ?? ''") }

func (b *tab) name(selector string) string {
	return eval[string](b, "document.querySelector("+quoted(selector)+").name")
}

// cells are the names of the fields of a feature on a sheet, in their order.
func (b *tab) cells(feature string) []string {
	return eval[[]string](b, `[...document.querySelectorAll(".sheet-block")].find(s => s.querySelector("h3").innerText.startsWith(`+quoted(feature)+`)).querySelectorAll("input[data-cell]").values().map(e => e.name).toArray()`)
}

// see wants words on the page.
func (b *tab) see(words ...string) {
	b.t.Helper()
	said := eval[string](b, `document.querySelector("main").innerText`)
	for _, want := range words {
		if !strings.Contains(said, want) {
			b.t.Fatalf("%s does not say %q but:\n%.2000s", eval[string](b, "location.pathname"), want, said)
		}
	}
}

// shoot draws the page as it stands, where pictures are wanted.
func (b *tab) shoot(name string) {
	if os.Getenv("BARRELBOOK_SHOTS") != "" {
		screenshot(b.t, b.ctx, name, 360, "dark")
		screenshot(b.t, b.ctx, name, 1366, "light")
		b.do(emulateScreen(1366, "light"))
	}
}

func eval[T any](b *tab, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
	return v
}
