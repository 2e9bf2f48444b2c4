package main

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"

	"barrelbook/server"
	"barrelbook/store"
)

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
		for (const name of await caches.keys()) if (name !== "signed-out") for (const r of await (await caches.open(name)).keys()) all.push(new URL(r.url).pathname);
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
	l := askingLaptop(t)
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
	x.until(`caches.match("/.left").then((noted) => noted === undefined)`)
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
	l := askingLaptop(t)
	l.addFitter()
	owner := got[store.Person](t)(l.book.Person(t.Context(), 1))
	x := openTablet(t, l.base, "")
	x.signsIn(l)
	l.stop()
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname === "/waiting"`)
	x.shows("by " + owner.Name)
	x.handsOver()
	l.start()
	x.signsInAs("B. Fitter")
	x.visit("/waiting")
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
	x.until(`!!document.querySelector("#delivered-list a")`)
	x.do(chromedp.Click(chromedp.CSS("#delivered-list a")))
	x.until(`location.pathname.startsWith("/sheets/")`)
	x.shows("5.2511", owner.Name, "Delivered by", "B. Fitter")
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
	x.givesPasswordOf(`input[name=name][value="C. Visitor"]`)
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

// addFitter adds a second mechanic, who has the owner's password.
func (l *laptop) addFitter() {
	l.t.Helper()
	got[int64](l.t)(l.book.AddPerson(l.t.Context(), store.Person{Name: "B. Fitter", Roles: store.Mechanic}, store.Password{Hash: server.HashPassword(ownersWords)}))
}

// coversAfter sets after how many minutes an idle page is covered, 0 for never.
func (l *laptop) coversAfter(minutes int) {
	l.t.Helper()
	set := got[store.Settings](l.t)(l.book.Settings(l.t.Context()))
	set.Lock = minutes
	must(l.t, l.book.SaveSettings(l.t.Context(), set))
}

// signsInAs signs somebody in by name.
func (x *tablet) signsInAs(name string) {
	x.t.Helper()
	x.visit("/sign-in")
	x.givesPasswordOf(`input[name=name][value=` + quoted(name) + `]`)
	x.until(`document.querySelector(".who a")?.innerText === ` + quoted(name))
}

// handsOver presses the button, and waits for the page as it is for nobody.
func (x *tablet) handsOver() {
	x.t.Helper()
	x.do(chromedp.Click(chromedp.CSS("[form=hand-over]")))
	x.until(`document.documentElement.dataset.person === undefined && ["/waiting", "/sign-in"].includes(location.pathname)`)
}

// beside opens another tab of the same browser, in which a script runs before
// every page; "" for none.
func (x *tablet) beside(script string) *tablet {
	x.t.Helper()
	ctx, cancel := chromedp.NewContext(x.ctx)
	x.t.Cleanup(cancel)
	other := &tablet{tab: &tab{x.t, ctx, x.base}, profile: x.profile}
	must(x.t, chromedp.Do(ctx, emulateScreen(768, "light"))) // the first step opens the tab, which ends with its context
	if script != "" {
		other.do(chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
			_, err := cdp.Call(ctx, tab, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
			return err
		}))
	}
	return other
}

const (
	// deafTab hears nothing of other tabs, like one that was asleep.
	deafTab = `window.BroadcastChannel = class { postMessage() {} close() {} addEventListener() {} }`
	// noCaches is a browser that keeps nothing, and noWorker one without a worker.
	noCaches = `CacheStorage.prototype.open = () => Promise.reject(new DOMException("refused", "SecurityError"))`
	noWorker = `Object.defineProperty(Navigator.prototype, "serviceWorker", { get() { return undefined; } })`
)

// inOutbox counts what waits on a tablet.
const inOutbox = `import("/static/" + document.documentElement.dataset.build + "/outbox.js").then((o) => o.records()).then((all) => all.length)`

// TestHandedOverInAnotherTab: a sheet that is open in another tab when somebody
// hands the tablet over is covered, also in one that hears nothing of it and where
// idle pages are not covered. It puts nothing away in their name, keeps what was
// typed, and goes on with their password.
func TestHandedOverInAnotherTab(t *testing.T) {
	for _, minutes := range []int{15, 0} {
		for _, deaf := range []bool{false, true} {
			for _, away := range []bool{true, false} {
				t.Run(fmt.Sprintf("%d minutes, deaf %v, out of reach %v", minutes, deaf, away), func(t *testing.T) {
					handedOverElsewhere(t, minutes, deaf, away)
				})
			}
		}
	}
}

func handedOverElsewhere(t *testing.T, minutes int, deaf, away bool) {
	l := askingLaptop(t)
	l.coversAfter(minutes)
	x := openTablet(t, l.base, "")
	x.signsIn(l)
	script := ""
	if deaf {
		script = deafTab
	}
	sheet := x.beside(script)
	sheet.visit(l.sheetOf(1))
	sheet.fill("hours", "150.0")
	sheet.fill(l.cell(1), "5.2511")
	if away {
		l.stop()
	}
	x.visit("/engines")
	x.handsOver()
	if !deaf {
		sheet.until(covered)
	}
	if deaf && away { // gone back to from the browser's memory of whole pages
		sheet.until(`dispatchEvent(new PageTransitionEvent("pageshow", { persisted: true }))`)
		sheet.until(covered)
	}
	sheet.until(`(document.querySelector("[data-save]").click(), true)`) // as a click that came before the cover
	sheet.until(covered)
	sheet.until(inOutbox + `.then((n) => n === 0)`)
	wantSheets(t, l, 1)
	if away {
		l.start()
	}
	sheet.do(chromedp.SendKeys(chromedp.CSS("#cover-password"), ownersWords+"\r"))
	sheet.until("!" + covered)
	sheet.do(chromedp.Click(chromedp.CSS("[data-save]")))
	sheet.until(`location.pathname.startsWith("/sheets/")`)
	wantSheets(t, l, 1, "5.2511")
}

// TestBackAfterHandOver: who goes back after a hand-over out of reach finds no
// sheet that could be put away in the name of who had the tablet before.
func TestBackAfterHandOver(t *testing.T) {
	for _, minutes := range []int{15, 0} {
		t.Run(fmt.Sprintf("%d minutes", minutes), func(t *testing.T) {
			l := askingLaptop(t)
			l.coversAfter(minutes)
			x := openTablet(t, l.base, "")
			x.signsIn(l)
			l.stop()
			x.visit(l.sheetOf(1))
			x.until(`document.querySelector("[form=hand-over]") !== null`)
			x.handsOver()
			x.until(`(history.back(), true)`)
			x.until(`location.pathname === ` + quoted(l.sheetOf(1)) + ` && document.readyState === "complete" && (document.querySelector("form[data-waits]") === null || document.querySelector("dialog.cover").open)`)
		})
	}
}

// TestCorrectedByAnother: what one person put away and another changes is the
// other's, and so it stands in the book.
func TestCorrectedByAnother(t *testing.T) {
	l := askingLaptop(t)
	l.addFitter()
	owner := got[store.Person](t)(l.book.Person(t.Context(), 1))
	x := openTablet(t, l.base, "")
	x.signsIn(l)
	l.stop()
	x.writes(l, 1, "150.0", "5.25l1") // an l for a 1: it is refused
	x.savesAnyway()
	x.until(`location.pathname === "/waiting"`)
	x.shows("by " + owner.Name)
	x.handsOver()
	l.start()
	x.signsInAs("B. Fitter")
	x.visit("/waiting")
	x.until(`document.querySelector("#outbox-list .bad")?.innerText === "✕ refused"`)
	x.shows("by " + owner.Name)
	x.ready("/waiting", l.sheetOf(1))
	l.stop()
	x.do(chromedp.Click(chromedp.CSS("#outbox-list .actions a")))
	x.shows("Shown from this device's memory")
	x.until(`document.querySelector("[aria-invalid=true]")?.value === "5.25l1"`) // what waits is in the form
	x.empty(l.cell(1))
	x.fill(l.cell(1), "5.2511")
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname === "/waiting"`)
	x.shows("by B. Fitter")
	l.start()
	x.visit("/waiting")
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
	x.until(`!!document.querySelector("#delivered-list a")`)
	x.do(chromedp.Click(chromedp.CSS("#delivered-list a")))
	x.until(`location.pathname.startsWith("/sheets/")`)
	x.shows("5.2511", "B. Fitter")
}

// TestNarrowedRight: what somebody may read no more is not shown from a tablet's
// memory either, once it has had contact with the laptop.
func TestNarrowedRight(t *testing.T) {
	l := newLaptop(t)
	l.setPassword()
	other := got[int64](t)(l.book.AddEngine(t.Context(), store.NewEngine{Serial: "R9-78", Model: "Corvane 9", Arrangement: "radial", Cylinders: 9, Day: "2024-01-01"}))
	guest := store.Person{Name: "C. Visitor", Roles: store.Inspector, Limited: true, Engines: []int64{l.engine.ID, other}, Active: true}
	guest.ID = got[int64](t)(l.book.AddPerson(t.Context(), guest, store.Password{Hash: server.HashPassword(ownersWords)}))
	l.through(func(http.Handler) http.Handler { return l.bare })
	x := openTablet(t, l.base, "")
	x.signsInAs("C. Visitor")
	taken, left := fmt.Sprintf("/engines/%d", other), fmt.Sprintf("/engines/%d", l.engine.ID)
	x.ready(taken, left)
	guest.Engines = []int64{l.engine.ID}
	must(t, l.book.SavePerson(t.Context(), guest))
	x.visit("/")
	x.until(`caches.match(` + quoted(taken) + `, {ignoreVary: true}).then((kept) => kept === undefined)`)
	x.ready("/waiting", left)
	l.stop()
	x.visit(taken)
	x.shows("was never opened on this device")
	x.visit(left)
	x.shows("Shown from this device's memory")
}

// TestUnansweredInOneTab: a form that got no answer is put away by its own tab. What
// is half typed on the same sheet in another tab stays there.
func TestUnansweredInOneTab(t *testing.T) {
	l := newLaptop(t)
	var shut atomic.Bool
	l.through(func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.Method == http.MethodPost && strings.HasPrefix(r.URL.Path, "/measure/") && shut.Load() {
				panic(http.ErrAbortHandler)
			}
			next.ServeHTTP(w, r)
		})
	})
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1))
	other := x.beside("")
	other.visit(l.sheetOf(1))
	other.fill("hours", "150.0")
	other.fill(l.cell(1), "5.25")
	other.fill("note", "half typed")
	shut.Store(true)
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname.startsWith("/sheets/")`)
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
	if got := eval[string](other.tab, `location.pathname + " " + document.querySelector("form[data-waits]").elements.note.value`); got != l.sheetOf(1)+" half typed" {
		t.Errorf("the other tab holds %q", got)
	}
}
