package main

import (
	"bytes"
	"context"
	"fmt"
	"image/png"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"

	"barrelbook/server"
	"barrelbook/static"
	"barrelbook/store"
	"barrelbook/wear"
)

// TestSignInExpired: the sign-in has ended while a sheet waited. The laptop asks to
// sign in, the outbox is kept and the page says so; after the sign-in it goes on.
func TestSignInExpired(t *testing.T) {
	l := newLaptop(t)
	l.setPassword()
	l.through(func(http.Handler) http.Handler { return l.bare })
	x := openTablet(t, l.base, "")
	x.signsIn(l)
	l.stop()
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname === "/waiting"`)
	must(t, l.book.EndSessions(t.Context(), 1)) // as after twelve hours away
	l.start()
	x.visit("/waiting")
	x.until(`document.querySelector("[data-said]").innerText === "sign in to deliver"`)
	x.until(`document.querySelector("[data-count]").innerText === "1 waits"`)
	wantSheets(t, l, 1)
	x.do(chromedp.Click(chromedp.CSS("[data-said]")))
	x.until(`location.pathname === "/sign-in"`)
	x.givesPassword()
	x.until(`location.pathname !== "/sign-in"`)
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
}

// TestSignInExpiredInReach: a sheet that is saved after its sign-in ended waits
// on the device like any other, and while somebody is signed in who may not
// record the sign says who may.
func TestSignInExpiredInReach(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1))
	x.visit(l.sheetOf(1))
	x.fill("hours", "150.0")
	x.fill(l.cell(1), "5.2511")
	l.through(func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			r.Header.Del("Cookie")
			l.bare.ServeHTTP(w, r)
		})
	})
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname === "/waiting"`)
	x.until(`document.querySelector("[data-said]").innerText === "sign in to deliver"`)
	x.shows("Sheet of position 1 of engine R9-77")
	l.through(func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/outbox" {
				http.Error(w, "your roles do not include this", http.StatusForbidden)
				return
			}
			next.ServeHTTP(w, r)
		})
	})
	x.visit("/waiting")
	x.until(`document.querySelector("[data-said]").innerText === "a mechanic must sign in to deliver"`)
	x.until(`document.querySelector("[data-reach]").innerText === "In reach"`)
	wantSheets(t, l, 1)
	l.through(nil)
	x.visit("/waiting")
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
}

// TestSignOutForgets: after somebody signed out, a tablet that lost the laptop
// shows no page of the book, and loses nothing of what waits; the next sign-in
// brings the pages back.
func TestSignOutForgets(t *testing.T) {
	l := newLaptop(t)
	l.setPassword()
	var shut atomic.Bool // to deliveries
	l.through(func(http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/outbox" && shut.Load() {
				panic(http.ErrAbortHandler)
			}
			l.bare.ServeHTTP(w, r)
		})
	})
	x := openTablet(t, l.base, "")
	signIn := func() { x.signsIn(l) }
	const pages = `(async () => {
		const all = [];
		for (const name of await caches.keys()) for (const r of await (await caches.open(name)).keys()) all.push(new URL(r.url).pathname);
		return all.filter((p) => !p.startsWith("/static/") && p !== "/.waiting").sort().join(" ");
	})()`
	signIn()
	shut.Store(true)
	l.stop()
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname === "/waiting"`)
	l.start()
	x.visit("/engines")
	x.do(chromedp.Click(chromedp.CSS("[form=hand-over]")))
	x.until(`location.pathname === "/sign-in"`)
	x.until(pages + `.then((p) => p === "/waiting")`)
	l.stop()
	for _, path := range []string{l.sheetOf(1), "/engines", "/"} {
		x.visit(path)
		x.shows("nobody is signed in on this device", "Sheet of position 1 of engine R9-77")
		if text := eval[string](x.tab, `document.body.innerText`); eval[bool](x.tab, `document.documentElement.dataset.person !== undefined || !!document.querySelector(".who")`) || strings.Contains(text, "5.2600") {
			t.Errorf("%s shows what was kept:\n%s", path, text)
		}
	}
	shut.Store(false)
	l.start()
	signIn()
	x.delivered()
	wantSheets(t, l, 1, "5.2511")

	// out of reach too, and the laptop is told before it is asked for anything
	l.stop()
	x.visit("/engines")
	x.do(chromedp.Click(chromedp.CSS("[form=hand-over]")))
	x.until(`location.pathname === "/waiting" && !document.getElementById("hand-over")`)
	x.visit("/engines")
	x.shows("nobody is signed in on this device", "as the book was on 20")
	l.start()
	x.visit("/engines")
	x.until(`location.pathname === "/sign-in"`)
	signIn()

	// a page that covers itself forgets too, and comes back with the password
	x.visit(l.sheetOf(2))
	x.fill("note", "half typed")
	x.until(`localStorage.getItem("barrelbook-touched") !== null`)
	x.do(chromedp.Evaluate[chromedp.Void](idle))
	x.until(covered)
	x.until(pages + `.then((p) => p === "/waiting")`)
	x.do(chromedp.SendKeys(chromedp.CSS("#cover-password"), ownersWords+"\r"))
	x.until("!" + covered)
	x.do(chromedp.Evaluate[chromedp.Void](`document.dispatchEvent(new Event("visibilitychange"))`))
	x.ready(l.sheetOf(2), "/engines")
	if got := eval[string](x.tab, `document.querySelector("form[data-waits]").elements.note.value`); got != "half typed" {
		t.Errorf("the note holds %q", got)
	}

	// an open page is covered when another one signs out
	x.do(chromedp.Evaluate[chromedp.Void](`fetch("/sign-out", { method: "POST", headers: { Accept: "application/json" } }).then(() => true)`))
	x.until(covered)
}

// TestSignOutBeforeRestart: somebody signed out out of reach, and the browser
// is started again with the laptop in reach. The browser asks for the page
// while the worker still starts, with the cookie of who was signed in; what
// comes of that is not shown.
func TestSignOutBeforeRestart(t *testing.T) {
	l := newLaptop(t)
	l.setPassword()
	l.through(func(http.Handler) http.Handler { return l.bare })
	x := openTablet(t, l.base, "")
	x.signsIn(l)
	l.stop()
	x.visit("/engines")
	x.do(chromedp.Click(chromedp.CSS("[form=hand-over]")))
	x.until(`location.pathname === "/waiting" && !document.getElementById("hand-over")`)
	x.close()
	x = openTablet(t, l.base, x.profile)
	l.start()
	x.visit("/engines?q=R9")
	x.until(`location.pathname + location.search === "/sign-in?to=%2Fengines%3Fq%3DR9"`)
	x.until(`caches.has("signed-out").then((noted) => !noted)`)
	x.signsIn(l)

	// a form that is sent while the worker starts is carried through the sign-in
	x.visit("/parts/new")
	x.fill("serial", "C-new")
	x.until(`caches.open("signed-out").then((cache) => cache.put("/.left", new Response(""))).then(() => true)`)
	x.do(chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
		if _, err := cdp.Call(ctx, tab, serviceworker.Enable, cdp.Empty{}); err != nil {
			return err
		}
		_, err := cdp.Call(ctx, tab, serviceworker.StopAllWorkers, cdp.Empty{})
		return err
	}))
	x.do(chromedp.Click(chromedp.CSS("main form button")))
	x.until(`document.querySelector("form.sign-in [name='carried.serial']")?.value === "C-new"`)
}

// TestEnteredAndDelivered: what one person put away, and another delivers after a
// hand-over out of reach, says who entered it and who delivered it.
func TestEnteredAndDelivered(t *testing.T) {
	l := newLaptop(t)
	l.setPassword()
	ctx := t.Context()
	owner, err := l.book.Person(ctx, 1)
	must(t, err)
	_, err = l.book.AddPerson(ctx, store.Person{Name: "B. Fitter", Roles: store.Mechanic}, store.Password{Hash: server.HashPassword(ownersWords)})
	must(t, err)
	l.through(func(http.Handler) http.Handler { return l.bare })
	x := openTablet(t, l.base, "")
	x.signsIn(l)
	l.stop()
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname === "/waiting"`)
	x.shows("by " + owner.Name)
	x.do(chromedp.Click(chromedp.CSS("[form=hand-over]")))
	x.until(`location.pathname === "/waiting" && !document.getElementById("hand-over")`)
	if named := eval[string](x.tab, `document.documentElement.dataset.person ?? ""`); named != "" {
		t.Errorf("after the hand-over the page is still %s's", named)
	}
	l.start()
	x.visit("/sign-in")
	x.do(chromedp.Click(chromedp.CSS(`input[name=name][value="B. Fitter"]`)))
	x.fill("password", ownersWords)
	x.do(chromedp.Click(chromedp.CSS("form.sign-in button[type=submit]")))
	x.until(`location.pathname === "/"`)
	x.visit("/waiting")
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
	x.until(`!!document.querySelector("#delivered-list a")`)
	x.do(chromedp.Click(chromedp.CSS("#delivered-list a")))
	x.until(`location.pathname.startsWith("/sheets/")`)
	x.shows("5.2511", owner.Name, "Delivered by", "B. Fitter")
}

// TestExpiredThenCorrected: a sheet that was refused is corrected after the
// sign-in has ended. The sign-in leads back to it, and it keeps its name.
func TestExpiredThenCorrected(t *testing.T) {
	l := newLaptop(t)
	l.setPassword()
	l.through(func(http.Handler) http.Handler { return l.bare })
	x := openTablet(t, l.base, "")
	x.signsIn(l)
	l.stop()
	x.writes(l, 1, "150.0", "5.25l1")
	x.savesAnyway()
	x.until(`location.pathname === "/waiting"`)
	l.start()
	x.visit("/waiting")
	x.until(`document.querySelector("#outbox-list .bad")?.innerText === "✕ refused"`)
	name := eval[string](x.tab, `document.querySelector("#outbox-list li[id]").id`)
	x.do(chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
		_, err := cdp.Call(ctx, tab, network.ClearBrowserCookies, cdp.Empty{})
		return err
	}))
	x.do(chromedp.Click(chromedp.CSS("#outbox-list .actions a")))
	x.until(`location.pathname === "/sign-in"`)
	x.givesPassword()
	x.until(`document.querySelector("[aria-invalid=true]")?.name === ` + quoted(l.cell(1)))
	x.until(`document.querySelector("form[data-waits]").elements.uid.value === ` + quoted(name))
	x.ready(l.sheetOf(1), l.sheetOf(2))
	l.stop()
	x.empty(l.cell(1))
	x.fill(l.cell(1), "5.2512")
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname === "/waiting"`)
	// the page is kept without the name of the sheet that waits
	x.do(chromedp.Click(chromedp.CSS("#outbox-list .actions a")))
	x.shows("Shown from this device's memory", "This sheet waits on this device")
	x.empty(l.cell(1))
	x.fill(l.cell(1), "5.2511")
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname === "/waiting"`)
	l.start()
	x.visit("/waiting")
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
}

// ownersWords is the password of the laptop's owner, where it asks for one.
const ownersWords = "quiet lamp under stairs"

func (l *laptop) setPassword() {
	l.t.Helper()
	must(l.t, l.book.SetPassword(l.t.Context(), 1, store.Password{Hash: server.HashPassword(ownersWords)}))
}

// signsIn signs the owner in, and waits until pages are kept.
func (x *tablet) signsIn(l *laptop) {
	x.t.Helper()
	x.visit("/")
	x.givesPassword()
	x.ready("/waiting", l.sheetOf(1), "/engines")
}

// givesPassword fills in the sign-in.
func (x *tablet) givesPassword() {
	x.t.Helper()
	x.do(chromedp.Click(chromedp.CSS(`input[name=name]`)))
	x.fill("password", ownersWords)
	x.do(chromedp.Click(chromedp.CSS("form.sign-in button[type=submit]")))
}

// TestHandOverWhileKeeping: a tablet that is handed over while its first pages are
// being kept keeps none of them for the next person.
func TestHandOverWhileKeeping(t *testing.T) {
	l := newLaptop(t)
	l.setPassword()
	got[int64](t)(l.book.AddPerson(t.Context(), store.Person{Name: "C. Visitor", Roles: store.Inspector, Limited: true, Engines: []int64{l.engine.ID}}, store.Password{Hash: server.HashPassword(ownersWords)}))
	held := make(chan struct{})
	asked := make(chan struct{}, 100)
	l.through(func(http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.Header.Get("Barrelbook-Keeper") != "" && strings.HasPrefix(r.URL.Path, "/measure/") {
				asked <- struct{}{}
				<-held
			}
			l.bare.ServeHTTP(w, r)
		})
	})
	x := openTablet(t, l.base, "")
	x.visit("/")
	x.givesPassword()
	<-asked
	x.do(chromedp.Click(chromedp.CSS(".who button")))
	x.until(`document.querySelector("form.sign-in") !== null`)
	x.do(chromedp.Click(chromedp.CSS(`input[name=name][value="C. Visitor"]`)))
	x.fill("password", ownersWords)
	x.do(chromedp.Click(chromedp.CSS("form.sign-in button[type=submit]")))
	x.until(`document.querySelector(".who a")?.innerText === "C. Visitor"`)
	close(held)
	x.ready("/waiting", "/engines", "/engines/1/positions/9")
	x.until(`caches.keys().then(async (names) => {
		for (const name of names) {
			if (await (await caches.open(name)).match("/findings", { ignoreVary: true })) return false;
		}
		return true;
	})`)
	l.stop()
	x.visit("/findings")
	x.shows("was never opened on this device")
}

// newer serves the same program as if it were another build: every address of
// its files is another, and so is the worker.
func newer(next http.Handler) http.Handler {
	const build = "feedbeef"
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Header.Del("Accept-Encoding")
		r.URL.Path = strings.Replace(r.URL.Path, "/static/"+build+"/", "/static/"+static.Build()+"/", 1)
		answer := httptest.NewRecorder()
		next.ServeHTTP(answer, r)
		for name, values := range answer.Header() {
			w.Header()[name] = values
		}
		w.Header().Del("Content-Length")
		w.WriteHeader(answer.Code)
		fmt.Fprint(w, strings.ReplaceAll(answer.Body.String(), static.Build(), build))
	})
}

// TestNewVersion: the laptop gets a new version while a tablet that is out of
// reach still has the old one. What was filled in on the old page is taken in;
// then the new files and pages replace the old ones, all or none.
func TestNewVersion(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/engines/" + fmt.Sprint(l.engine.ID) + "?once=1") // used, and in no list
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1), l.sheetOf(2))
	x.visit("/engines/" + fmt.Sprint(l.engine.ID) + "?once=1")
	x.until(`caches.match("/engines/1?once=1").then(r => r !== undefined)`)
	l.stop()
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname === "/waiting"`)
	x.visit(l.sheetOf(2)) // stays open
	l.through(newer)
	l.start()
	x.fill("hours", "150.0")
	x.fill(l.cell(2), "5.2512")
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname.startsWith("/sheets/")`)
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
	wantSheets(t, l, 2, "5.2512")
	x.until(`caches.keys().then(k => k.length === 1 && k[0].startsWith("barrelbook-feedbeef-"))`)
	x.ready("/waiting", l.sheetOf(1), "/engines/1?once=1")
	l.stop()
	x.visit("/engines/1?once=1")
	x.see("Shown from this device's memory", "R9-77")
	x.until(`document.documentElement.dataset.build === "feedbeef" && getComputedStyle(document.querySelector(".reach")).display === "flex"`)
	x.writes(l, 3, "150.0", "5.2513")
	x.until(`location.pathname === "/waiting"`)
	// a version that no longer understands what the page wrote
	l.through(func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/outbox" {
				body, err := io.ReadAll(r.Body)
				if err != nil {
					t.Error(err)
				}
				body = bytes.Replace(body, []byte(`"format":1`), []byte(`"format":9`), 1)
				r.Body, r.ContentLength = io.NopCloser(bytes.NewReader(body)), int64(len(body))
			}
			newer(next).ServeHTTP(w, r)
		})
	})
	l.start()
	x.visit("/waiting")
	x.until(`document.querySelector("[data-count]").innerText === "1 refused"`)
	x.shows("another version of the program", "Sheet of position 3")
	wantSheets(t, l, 3)
}

// TestKeptPages: out of reach the pages that were used open, a page that was
// never opened leads to those that can be, and no answer but a page is kept.
func TestKeptPages(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(9))
	part := fmt.Sprintf("/parts/%d", l.barrels[2])
	x.visit(part)
	x.visit("/parts/9999") // not in the book: not kept
	x.ready(part)
	// a job that is opened meanwhile is kept at the next look
	shows := wear.Hours(12_000)
	job, err := l.book.OpenJob(t.Context(), store.NewJob{Job: store.Job{Engine: l.engine.ID, Why: "top overhaul", Day: "2025-01-02", Stands: 1}, Shows: &shows, Positions: []int{1, 2}})
	if err != nil {
		t.Fatal(err)
	}
	x.visit("/findings")
	x.ready(fmt.Sprintf("/jobs/%d", job), fmt.Sprintf("/jobs/%d/bench/2", job))
	l.stop()
	x.visit(part)
	x.shows("Shown from this device's memory", "C-3", "5.2502")
	x.visit("/parts/9999")
	x.shows("was never opened on this device", "Measure position 9 of engine R9-77")
	x.until(`caches.keys().then(async ([name]) => {
		const all = (await (await caches.open(name)).keys()).map(r => [r.method, new URL(r.url).pathname]);
		return all.length > 20 && all.every(([m, p]) => m === "GET" && !["/health", "/outbox", "/offline.json", "/sw.js", "/parts/9999"].includes(p));
	})`)
	l.start()
	x.visit(part)
	x.until(`!document.querySelector(".from-cache") && document.querySelector("[data-reach]").innerText === "In reach"`)
}

// TestInstallable: the app's description and its icons are what a browser
// wants of an app that can be installed.
func TestInstallable(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/")
	x.ready()
	got, err := chromedp.Call(x.ctx, page.GetAppManifest, page.GetAppManifestParams{})
	if err != nil || len(got.Errors) > 0 || !strings.Contains(got.Data, `"Barrelbook"`) {
		t.Fatalf("description %+v (%v)", got, err)
	}
	bad, err := chromedp.Call(x.ctx, page.GetInstallabilityErrors, cdp.Empty{})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range bad.InstallabilityErrors {
		t.Errorf("not installable: %s %+v", e.ErrorID, e.ErrorArguments)
	}
	for name, size := range map[string]int{"icon-192.png": 192, "icon-512.png": 512, "icon-maskable-512.png": 512} {
		file, err := static.FS.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		c, err := png.DecodeConfig(file)
		if err != nil || c.Width != size || c.Height != size {
			t.Errorf("%s is %d by %d (%v)", name, c.Width, c.Height, err)
		}
	}
}
