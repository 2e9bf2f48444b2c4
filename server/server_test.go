package server

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/go-chi/chi/v5"
	"golang.org/x/net/html"

	"barrelbook/static"
)

// internals are words of the program's inside, which no page may show.
var internals = []string{"SQL", "constraint failed", "sql:", "goroutine", "panic", "runtime error", "strconv.", ".go:", "%!"}

// check wants a status, texts on the page and texts off it, and nothing of the
// program's inside.
func check(t *testing.T, what string, w *httptest.ResponseRecorder, status int, wanted, unwanted []string) {
	t.Helper()
	page := w.Body.String()
	if w.Code != status {
		t.Errorf("%s: status %d, want %d", what, w.Code, status)
	}
	for _, text := range wanted {
		if !strings.Contains(page, text) {
			t.Errorf("%s: the page does not say %q", what, text)
		}
	}
	for _, text := range append(unwanted, internals...) {
		if strings.Contains(page, text) {
			t.Errorf("%s: the page says %q", what, text)
		}
	}
}

// ask is a page to ask for: its address, the status it has in the filled and
// in the empty book, and what it says in the filled one.
type ask struct {
	path          string
	filled, empty int
	says          []string
}

// pages are the addresses of everything that can be asked for.
func (b *filled) pages() []ask {
	e, cylinder, n := fmt.Sprintf("/engines/%d", b.engine.ID), fmt.Sprintf("/parts/%d", b.cylinders[0]), fmt.Sprint
	return []ask{
		{"/", 200, 200, []string{"R-1", "Invented 9", "an aeroplane"}},
		{"/?q=R-1&page=1", 200, 200, []string{"R-1"}},
		{"/?q=nothing&page=x", 200, 200, nil},
		{"/findings", 200, 200, []string{"C-9", "times a normal part", "position 9"}},
		{"/findings?all=1", 200, 200, []string{"C-9"}},
		{"/findings/" + n(b.fast) + "/acknowledge", 200, 404, []string{"C-9"}},
		{"/findings/leak/" + n(b.cylinders[1]) + "/acknowledge", 200, 404, []string{"C-2", "leak test", "loses more"}},
		{"/engines", 200, 200, []string{"R-1", "600.0 h"}},
		{"/engines?page=2", 200, 200, nil},
		{"/engines/new", 200, 200, []string{`name="serial"`, "Invented 9"}},
		{e, 200, 404, []string{"R-1", "a note", "<svg", "C-9"}},
		{e + "/edit", 200, 404, []string{`value="R-1"`, "an aeroplane"}},
		{href("/features/", b.boreID, "/group"), 200, 200, []string{"Who is compared: cylinder, barrel bore", "Invented 9", "nitrided"}},
		{e + "/crank?at=4&pull=9,1,5", 200, 404, []string{"Order off and on", "master-rod cylinder", "never backwards"}},
		{e + "/match", 200, 404, []string{"Match pistons to the barrels of R-1", "Left out"}},
		{e + "/match?positions=x", 422, 404, []string{"is no position"}},
		{e + "/crank?pull=12", 422, 404, []string{"is no position: the engine has 1 to 9", `value="12"`}},
		{href("/models/", b.engine.Model.ID, "/rods"), 200, 404, []string{"Crank radius", "Knuckle radius"}},
		{e + "/meter", 200, 404, []string{"600.0 h"}},
		{e + "/meter/" + n(b.meterRoot) + "/correct", 200, 404, []string{"600.0 h"}},
		{e + "/positions/1", 200, 404, []string{"C-1", "P-1", "K-1", "N-1"}},
		{e + "/positions/9", 200, 404, []string{"C-9"}},
		{e + "/positions/10", 404, 404, nil},
		{e + "/positions/0", 404, 404, nil},
		{e + "/positions/1/install", 200, 404, []string{"serial-ring-2", "C-1"}},
		{e + "/leak", 200, 404, []string{"C-2", "59 of 80 psi", "through 0.040 in", "beyond", "No rule of the maker"}},
		{e + "/leak/new", 200, 404, []string{"spin the propeller", "suggests 0.060 in", `name="psi-9"`, "59 of 80", "LT-1"}},
		{"/leaktests/" + n(b.leak), 200, 404, []string{"57 of 80 psi", "digit misread", "exhaust valve leaks", "LT-1", "staked once", "What the program cannot know"}},
		{"/leaktests/" + n(b.leak) + "/correct", 200, 404, []string{`value="0.060"`, "R-1"}},
		{"/leakreadings/" + n(b.leakReading) + "/correct", 200, 404, []string{`value="57"`, "C-2", "digit misread"}},
		{"/leakreadings/999/correct", 404, 404, nil},
		{"/models/" + n(b.engine.Model.ID) + "/leak", 200, 404, []string{"Invented 9", "25 %"}},
		{fmt.Sprintf("/parts/%d", b.cylinders[1]), 200, 404, []string{"Leak tests", "59 of 80 psi"}},
		{"/jobs", 200, 200, []string{"Job 1", "oil use", "1 of 2 off"}},
		{href("/jobs/", b.job), 200, 404, []string{"oil use", "a quart an hour", "A. Smith", "Cylinder 7 off.", "Turn the crank 240.0° forward, to 240.0°", "only in its direction of rotation"}},
		{"/jobs/999", 404, 404, nil},
		{e + "/jobs/new", 200, 404, []string{"Cylinder 1, C-1", "in job 1", "by the job under way"}},
		{e + "/jobs/new?p3=yes", 200, 404, []string{`checked`}},
		{href("/models/", b.engine.Model.ID, "/turning"), 200, 404, []string{"Order of Invented 9", `name="order_off"`}},
		{"/parts", 200, 200, []string{"C-90", "P-90", "K-1"}},
		{"/parts?kind=ring&q=K&status=on+engine", 200, 200, []string{"K-1"}},
		{"/parts/new", 200, 200, []string{`name="serial"`}},
		{"/parts/new?kind=ring", 200, 200, nil},
		{cylinder, 200, 404, []string{"C-1", "PN-7", "Invented manual", "misread"}},
		{cylinder + "?limits=day", 200, 404, []string{"C-1"}},
		{fmt.Sprintf("/parts/%d?series=%d", b.cylinders[8], b.fast), 200, 404, []string{"C-9", "<svg", "times a normal part"}},
		{fmt.Sprintf("/parts/%d?series=9999", b.cylinders[8]), 200, 404, []string{"C-9"}},
		{fmt.Sprintf("/parts/%d", b.shelf), 200, 404, []string{"C-90", "ground to oversize"}},
		{fmt.Sprintf("/parts/%d", b.scrapped), 200, 404, []string{"P-90", "cracked"}},
		{cylinder + "/edit", 200, 404, []string{`value="C-1"`, "PN-7"}},
		{cylinder + "/events", 200, 404, []string{"honed"}},
		{fmt.Sprintf("/parts/%d/scrap", b.shelf), 200, 404, []string{"C-90"}},
		{fmt.Sprintf("/parts/%d/install", b.shelf), 200, 404, []string{"R-1"}},
		{cylinder + "/remove", 200, 404, []string{"position 1"}},
		{fmt.Sprintf("/parts/%d/remove", b.shelf), 422, 404, []string{"not on an engine"}},
		{fmt.Sprintf("/parts/%d/compare", b.ring), 200, 404, []string{"K-1", "Missing:", "measure tangential force"}},
		{fmt.Sprintf("/parts/%d/compare?bore=5,25", b.ring), 422, 404, []string{`value="5,25"`, "after a point"}},
		{fmt.Sprintf("/parts/%d/compare", b.piston), 404, 404, nil},
		{fmt.Sprintf("/parts/%d/regroove?groove=2", b.piston), 200, 404, []string{"P-1", "groove 2", `name="rings"`}},
		{fmt.Sprintf("/parts/%d/regroove?rings=thick", b.piston), 422, 404, []string{"thick", "not a number"}},
		{cylinder + "/regroove", 404, 404, nil},
		{"/facings", 200, 200, []string{"hard chrome rings never run", `name="document"`}},
		{"/facings?facing=moly&surface=nitrided", 200, 200, []string{`value="moly"`}},
		{"/installations/1/strike", 200, 404, []string{"C-1"}},
		{"/work/1/strike", 200, 404, []string{"ground to oversize", "by a specialist"}},
		{"/measure", 200, 200, []string{"R-1", "C-90"}},
		{"/measure?q=R-1", 200, 200, []string{"R-1"}},
		{fmt.Sprintf("/measure/engine/%d/1", b.engine.ID), 200, 404, []string{"C-1", "5.2510", "at most 5.2600", "Side clearance"}},
		{fmt.Sprintf("/measure/engine/%d/10", b.engine.ID), 404, 404, nil},
		{fmt.Sprintf("/measure/part/%d", b.shelf), 200, 404, []string{"C-90", "at most 5.2700"}}, // ground 0.010 over
		{fmt.Sprintf("/measure/part/%d", b.pin), 200, 404, []string{"1.1248"}},
		{"/sheets/" + n(b.sheet), 200, 404, []string{"5.2510", "misread", "A. Smith", "BG-2", "overdue"}},
		{"/readings/" + n(b.reading) + "/correct", 200, 404, []string{"5.2510", "5.2509"}},
		{"/limits", 200, 200, []string{"5.2600", "Invented manual"}},
		{"/limits?model=9999", 200, 200, nil},
		{"/limits/new", 404, 404, nil},
		{"/limits/new?model=" + n(b.engine.Model.ID), 200, 404, []string{`name="service_max"`}},
		{"/limits/new?from=" + n(b.limit), 200, 404, []string{"5.2600"}},
		{"/limits/new?from=9999", 404, 404, nil},
		{"/limits/" + n(b.limit) + "/history", 200, 404, []string{"5.2600"}},
		{"/features", 200, 200, []string{"Side clearance"}},
		{"/gauges", 200, 200, []string{"BG-2"}},
		{"/gauges?id=" + n(b.gauge), 200, 200, []string{`value="BG-2"`}},
		{"/models/" + n(b.engine.Model.ID), 200, 404, []string{"top, middle, bottom"}},
		{"/settings", 200, 200, []string{"0.0025", "book.db", "1.15", "Make a backup now", "none beside the book yet"}},
		{"/audit", 200, 200, []string{"Who did what", "nobody signed in", "Corrected reading of cylinder C-1", "The head"}},
		{"/audit?page=2", 200, 200, []string{"Entered"}},
		{"/audit?serial=C-90&record=mark&who=-", 200, 200, []string{"Entered work ground to oversize of cylinder C-90"}},
		{"/audit?serial=r-1&day=2001-01-01", 200, 200, []string{"0 entries"}},
		{"/audit?day=yesterday", 422, 422, []string{"is no date"}},
		{"/import", 200, 200, []string{`type="file"`}},
		{"/tablets", 200, 200, []string{"barrelbook serve -lan"}},
		{"/record", 200, 200, []string{"R-1", "C-1"}},
		{"/record?q=C-9", 200, 200, []string{"C-9"}},
		{fmt.Sprintf("/record/part/%d.pdf", b.cylinders[8]), 200, 404, []string{"%PDF"}},
		{fmt.Sprintf("/record/part/%d.csv", b.cylinders[8]), 200, 404, []string{"C-9"}},
		{fmt.Sprintf("/record/part/%d.json", b.cylinders[8]), 200, 404, []string{`"serial": "C-9"`}},
		{fmt.Sprintf("/record/part/%d.xls", b.cylinders[8]), 404, 404, nil},
		{fmt.Sprintf("/record/engine/%d.json", b.engine.ID), 200, 404, []string{`"serial": "R-1"`}},
		{"/record/engine/x.json", 404, 404, nil},
		{"/people", 200, 200, []string{"A. Owner", "owner, mechanic", `name="engines"`}},
		{"/people/1", 200, 200, []string{`value="A. Owner"`, "added", "Sign out everywhere"}},
		{"/people/99", 404, 404, nil},
		{"/me", 200, 200, []string{"A. Owner", "Change your password"}},
		{"/sign-in", 200, 200, []string{`value="A. Owner"`, `type="password"`}},
		{"/first-owner", 303, 303, nil},
		{"/waiting", 200, 200, []string{"Waiting on this device", "Deliver now"}},
		{"/offline.json", 200, 200, []string{`"/waiting"`, href(`"/jobs/`, b.job, `/bench/4"`), href(`"/jobs/`, b.job8, `/steps"`), href("/measure/engine/", b.engine.ID, "/9"), href("/engines/", b.engine.ID, "/leak/new"), "/static/" + static.Build() + "/outbox.js"}},
		{"/sw.js", 200, 200, []string{"/static/" + static.Build() + "/sw.js", `^/measure/engine/[^/]+/[^/]+$`}},
		{"/static/" + static.Build() + "/reach.js", 200, 200, []string{"import"}},
		{"/static/00000000/reach.js", 404, 404, nil},
		{href("/jobs/", b.job8, "/close"), 200, 404, []string{"C-8", "No piston at position 8", "was to come off", "must be done", `name="hours"`}},
		{href("/jobs/", b.job8, "/entry"), 200, 404, []string{"Nobody has signed it", "under way"}},
		{href("/jobs/", b.job8, "/entry?inspection=yes"), 200, 404, []string{"43.11"}},
		{href("/jobs/", b.job8, "/entry.txt"), 200, 404, []string{"DRAFT", "serial number R-1"}},
		{href("/jobs/", b.job8, "/entry.pdf?inspection=yes"), 200, 404, []string{"%PDF"}},
		{href("/jobs/", b.job8, "/entry.xls"), 404, 404, nil},
		{"/settings/wording", 200, 200, []string{"{engine}"}},
		{href("/settings/wording?job=", b.job8), 200, 200, []string{"With job 2"}},
		{href("/jobs/", b.job8, "/tags"), 200, 404, []string{"nothing came off yet", "only this computer can reach"}},
		{href("/jobs/", b.job8, "/tags?which=leaving"), 200, 404, []string{"nothing came off yet"}},
		{cylinder + "/tag", 200, 404, []string{"C-1", "PN-7", "TSN", "600.0 h", "Not a release certificate", "<svg class=\"qr\""}},
		{fmt.Sprintf("/jobs/%d/decide/%d", b.job8, b.cylinders[7]), 200, 404, []string{"What becomes of", "C-8", "Side by side", `name="reason"`, "scrap"}},
		{fmt.Sprintf("/jobs/%d/decide/%d", b.job8, b.scrapped), 200, 404, []string{"Scrapped on 2024-02-01: cracked"}},
		{fmt.Sprintf("/jobs/%d/decide/9999", b.job8), 404, 404, nil},
		{fmt.Sprintf("/jobs/%d/placing", b.job8), 200, 404, []string{"What goes where", "C-8, position 8", "Judge again"}},
		{fmt.Sprintf("/jobs/%d/placing?do=judge&cylinder-8=no", b.job8), 422, 404, []string{"choose one from the list"}},
		{"/jobs/outcomes", 200, 200, []string{"No job with a decision has been closed yet"}},
		{"/static/base.css", 200, 200, []string{"{"}},
		{"/static/", 404, 404, nil},
		{"/static/none.css", 404, 404, nil},
		{"/favicon.ico", 301, 301, nil},
		{"/health", 200, 200, []string{"ok"}},
		{"/engines/x", 404, 404, nil},
		{"/engines/-1", 404, 404, nil},
		{"/engines/99999999999999999999", 404, 404, nil},
		{"/nowhere", 404, 404, nil},
	}
}

// TestPages asks for every page of a filled and of an empty book.
func TestPages(t *testing.T) {
	b := fill(t)
	full, fullLog := serving(t, b.Book)
	bare, bareLog := serving(t, emptyBook(t))
	b.openBench(t)
	for _, a := range append(b.pages(), b.benchPages()...) {
		inside := internals
		if strings.Contains(a.path, ".pdf") {
			internals = nil // what is in a compressed page is no text
		}
		w, of := get(full, a.path), get(bare, a.path)
		check(t, a.path, w, a.filled, a.says, nil)
		check(t, a.path+" of an empty book", of, a.empty, nil, nil)
		hasType(t, a.path, w)
		hasType(t, a.path, of)
		hasNoScript(t, a.path, w)
		internals = inside
	}
	if fullLog.Len()+bareLog.Len() > 0 {
		t.Errorf("the log says\n%s%s", fullLog, bareLog)
	}
}

// hasType wants the content type that goes with an address: an answer is a page
// unless it is a file that was found (OWASP ASVS 5, 4.1.1). JSON has no
// character set of its own (RFC 8259, 11).
func hasType(t *testing.T, path string, w *httptest.ResponseRecorder) {
	t.Helper()
	u := must[*url.URL](t)(url.Parse(path))
	want := "text/html; charset=utf-8"
	switch ending := regexp.MustCompile(`\.[a-z]+$`).FindString(u.Path); {
	case u.Path == "/health", w.Code >= 400 && strings.HasPrefix(u.Path, "/static/"):
		want = "text/plain; charset=utf-8"
	case w.Code < 300 && strings.HasPrefix(u.Path, "/photos/") && !strings.HasSuffix(u.Path, "/strike"):
		want = "image/jpeg"
	case w.Code < 300 && ending != "":
		want = map[string]string{
			".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml; charset=utf-8", ".csv": "text/csv; charset=utf-8", ".txt": "text/plain; charset=utf-8",
			".json": "application/json", ".png": "image/png", ".webmanifest": "application/manifest+json", ".pdf": "application/pdf",
		}[ending]
	}
	if got := w.Header().Get("Content-Type"); got != want || got == "" {
		t.Errorf("%s (status %d) is %q, want %q", path, w.Code, got, want)
	}
}

// hasNoScript wants a page without a script of its own, and without an address
// that is one: scripts are files of the program (OWASP ASVS 5, 1.2.2 and 1.2.3).
func hasNoScript(t *testing.T, path string, w *httptest.ResponseRecorder) {
	t.Helper()
	if !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
		return
	}
	for n := range must[*html.Node](t)(html.Parse(w.Body)).Descendants() {
		if n.Data == "script" && (n.FirstChild != nil || !strings.HasPrefix(attributes(n)["src"], "/static/")) {
			t.Errorf("%s: the script %v is no file of the program", path, n.Attr)
		}
		for name, value := range attributes(n) {
			scheme, _, _ := strings.Cut(strings.ToLower(strings.TrimSpace(value)), ":")
			if strings.HasPrefix(name, "on") || name == "srcdoc" || scheme == "javascript" || scheme == "vbscript" {
				t.Errorf("%s: <%s %s=%q> is a script", path, n.Data, name, value)
			}
		}
	}
}

// TestPagesAreAll wants each route that answers a GET among the pages asked
// for, so that a new one is not forgotten.
func TestPagesAreAll(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	h, _ := serving(t, b.Book)
	err := chi.Walk(h.(chi.Routes), func(method, route string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		pattern := regexp.MustCompile("^" + regexp.MustCompile(`\\\{[a-z]+\\\}`).ReplaceAllString(strings.ReplaceAll(regexp.QuoteMeta(route), `\*`, ".*"), "[^/]+") + "$")
		if method != http.MethodGet {
			return nil
		}
		for _, a := range append(b.pages(), b.benchPages()...) {
			if path, _, _ := strings.Cut(a.path, "?"); pattern.MatchString(path) && a.filled < 400 {
				return nil
			}
		}
		t.Errorf("no page asked for is %s", route)
		return nil
	})
	ok(t, err)
}

// TestRefusedRequests: what the program does not answer at all.
func TestRefusedRequests(t *testing.T) {
	h, logged := serving(t, fill(t).Book)
	send := func(method, path, body string, change func(r *http.Request)) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, path, strings.NewReader(body))
		r.Host = "localhost:8440"
		if method == http.MethodPost {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		}
		change(r)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w
	}
	header := func(name, value string) func(r *http.Request) {
		return func(r *http.Request) { r.Header.Set(name, value) }
	}
	host := func(name string) func(r *http.Request) { return func(r *http.Request) { r.Host = name } }
	check(t, "a form from another site", send("POST", "/engines", "serial=X", header("Sec-Fetch-Site", "cross-site")), 403, nil, nil)
	check(t, "a form from another origin", send("POST", "/engines", "serial=X", header("Origin", "http://elsewhere.example")), 403, nil, nil)
	check(t, "a form from a page of the program", send("POST", "/engines", "serial=X", header("Origin", "http://localhost:8440")), 422, nil, nil)
	for _, name := range []string{"elsewhere.example", "elsewhere.example:8440", "192.0.2.1", "localhost.elsewhere.example", ""} {
		check(t, "host "+name, send("GET", "/", "", host(name)), 421, nil, []string{"R-1"})
	}
	for _, name := range []string{"localhost", "127.0.0.1:8440", "[::1]:8440"} {
		check(t, "host "+name, send("GET", "/", "", host(name)), 200, []string{"R-1"}, nil)
	}
	for _, path := range []string{"/engines", "/import"} { // files only may be larger
		check(t, "a form of 2 MB to "+path, send("POST", path, "serial="+strings.Repeat("x", 2<<20), func(*http.Request) {}), 413, []string{"larger"}, nil)
	}
	check(t, "an answer to nothing", send("DELETE", "/engines", "", func(*http.Request) {}), 405, nil, nil)
	check(t, "a form to a page", send("POST", "/findings", "", func(*http.Request) {}), 405, nil, nil)
	check(t, "a form that is none", send("POST", "/engines", "%zz", func(*http.Request) {}), 400, nil, nil)
	if strings.Contains(logged.String(), "ERROR") {
		t.Errorf("the log calls that the program's fault:\n%s", logged)
	}
}

// nulls never end.
type nulls struct{}

func (nulls) Read(b []byte) (int, error) { clear(b); return len(b), nil }

// TestBodyLimits: what is sent is read up to the size that its address takes,
// and no byte further; only what comes in parts, as files do, may be larger than
// a form (OWASP ASVS 5, 5.2.1).
func TestBodyLimits(t *testing.T) {
	const form, upload = "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"
	for _, c := range []struct {
		path, kind string
		most       int64
	}{
		{"/engines", form, 1 << 20}, {"/engines", upload, 1 << 20}, {"/outbox", "application/json", 1 << 20}, {"/sign-in", form, 2 << 20}, {"/sign-in", upload, 2 << 20},
		{"/parts/1/photos", upload, 200 << 20}, {"/jobs/1/bench/1/photos", upload, 200 << 20}, {"/jobs/1/bench/1/photos", form, 1 << 20}, {"/import", upload, 32 << 20}, {"/import", form, 1 << 20}, {"/import", "", 1 << 20},
	} {
		for size, whole := range map[int64]bool{c.most: true, c.most + 1: false} {
			r := httptest.NewRequest(http.MethodPost, c.path, io.LimitReader(nulls{}, size))
			r.Header.Set("Content-Type", c.kind)
			limitBody(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
				if _, err := io.Copy(io.Discard, r.Body); (err == nil) != whole {
					t.Errorf("%d bytes of %q to %s: %v", size, c.kind, c.path, err)
				}
			})).ServeHTTP(httptest.NewRecorder(), r)
		}
	}
}

func TestHeaders(t *testing.T) {
	h, _ := serving(t, fill(t).Book)
	for _, path := range []string{"/", "/nowhere", "/record/part/1.json", "/record/part/1.pdf", "/sign-in"} {
		got := get(h, path).Header()
		for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "Cache-Control": "no-store", "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin", "Permissions-Policy": permissions} {
			if got.Get(name) != want {
				t.Errorf("%s: %s is %q, want %q", path, name, got.Get(name), want)
			}
		}
		if csp := got.Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'self'") || !strings.Contains(csp, "frame-ancestors 'none'") || strings.Contains(csp, "unsafe") {
			t.Errorf("%s: policy %q", path, csp)
		} else if other := regexp.MustCompile(`; \S+ (?:'self'|'none')`).ReplaceAllString("; "+csp, ""); other != "" {
			t.Errorf("%s: the policy lets in more: %q", path, other)
		}
	}
	for path, want := range map[string]string{
		"/record/part/1.pdf":  `inline; filename="barrelbook-cylinder-C-1.pdf"`,
		"/record/part/1.csv":  `attachment; filename="barrelbook-cylinder-C-1.csv"`,
		"/record/part/1.json": `attachment; filename="barrelbook-cylinder-C-1.json"`,
	} {
		if got := get(h, path).Header().Get("Content-Disposition"); got != want {
			t.Errorf("%s: %q; want %q", path, got, want)
		}
	}
	for _, path := range append(static.Addresses(), "/static/record.schema.json", "/static/icon.svg") {
		w := get(h, path)
		check(t, path, w, 200, nil, nil)
		hasType(t, path, w)
	}
	// the one script that is not a file: nothing that was typed stands in it
	if got := get(h, "/sw.js").Body.String(); !regexp.MustCompile(`^import \{ work \} from "/static/[0-9a-f]+/sw\.js";\nwork\("[0-9a-f]+", "[0-9a-f-]+", \[(?:"[^"]+",?)+\]\);\n$`).MatchString(got) {
		t.Errorf("the worker is started by\n%s", got)
	}
	if got := get(h, "/static/base.css?v=1").Header().Get("Cache-Control"); !strings.Contains(got, "immutable") {
		t.Errorf("a style sheet with its version: %q", got)
	}
	if got := get(h, "/static/base.css").Header().Get("Cache-Control"); strings.Contains(got, "immutable") {
		t.Errorf("a style sheet without its version: %q", got)
	}
}

// TestSaidOnce: what a save has to say is on the next page and not on the one
// after.
func TestSaidOnce(t *testing.T) {
	h, _ := serving(t, emptyBook(t))
	w := post(h, "/parts", url.Values{"kind": {"pin"}, "serial": {"N-1"}, "source": {"new"}})
	if w.Code != http.StatusSeeOther || !strings.HasPrefix(w.Header().Get("Location"), "/parts/") {
		t.Fatalf("status %d to %q", w.Code, w.Header().Get("Location"))
	}
	cookies := w.Result().Cookies()
	for i, want := range []bool{true, false} {
		r := httptest.NewRequest(http.MethodGet, "/parts", nil)
		r.Host = "localhost:8440"
		for _, c := range cookies {
			if !c.HttpOnly || c.SameSite != http.SameSiteLaxMode {
				t.Errorf("cookie %+v", c)
			}
			r.AddCookie(c)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if got := strings.Contains(w.Body.String(), "Pin N-1 is on the shelf"); got != want {
			t.Errorf("page %d says it: %t, want %t", i+1, got, want)
		}
		cookies = w.Result().Cookies()
	}
	r := httptest.NewRequest(http.MethodGet, "/parts", nil)
	r.Host = "localhost"
	r.AddCookie(&http.Cookie{Name: sessionName, Value: "forged"})
	w = httptest.NewRecorder()
	h.ServeHTTP(w, r)
	check(t, "a forged cookie", w, 303, []string{"/sign-in?to="}, []string{"N-1", "forged"})
}

// TestBrokenBook: when the book cannot be read, people are told so in words
// and the log has the rest.
func TestBrokenBook(t *testing.T) {
	b := emptyBook(t)
	h, logged := serving(t, b)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	r := httptest.NewRequest(http.MethodGet, "/", nil).WithContext(ctx) // the browser went away
	r.Host = "localhost"
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code == http.StatusInternalServerError {
		t.Errorf("a request that was given up: status %d", w.Code)
	}
	logged.Reset()
	ok(t, b.Close())
	check(t, "the first page", get(h, "/"), 500, []string{"it is in its log"}, []string{"database is closed"})
	if !strings.Contains(logged.String(), "database is closed") {
		t.Errorf("the log says %q", logged)
	}
	if w := get(h, "/health"); w.Code != http.StatusServiceUnavailable {
		t.Errorf("health: status %d", w.Code)
	}
}
