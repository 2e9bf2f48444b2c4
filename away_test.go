package main

import (
	"context"
	"errors"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/storage"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// waitFor waits for something of the laptop's side.
func waitFor(t *testing.T, ready func() bool) {
	t.Helper()
	for deadline := time.Now().Add(stepLimit); !ready(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal("waited in vain")
		}
	}
}

func removeLeft(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// wantSheets wants exactly these numbers of a position in the book.
func wantSheets(t *testing.T, l *laptop, position int, want ...string) {
	t.Helper()
	if got := l.sheets(position); !slices.Equal(got, want) {
		t.Errorf("the book holds %q of position %d, want %q", got, position, want)
	}
}

// TestAway fills in three sheets while the laptop is switched off, looks at
// the list, loads it again, kills the browser, starts it on the same profile,
// and switches the laptop on: each sheet is in the book once, in order.
func TestAway(t *testing.T) {
	l := newLaptop(t)
	x := threeAway(t, l)
	x = x.kill()
	x.visit("/waiting")
	x.until(`document.querySelectorAll("#outbox-list li[id]").length === 3`)
	l.start()
	x.visit("/waiting")
	x.delivered()
	wantThree(t, l)
}

// threeAway fills in three sheets on a tablet while the laptop is switched off, and
// loads the list of them again.
func threeAway(t *testing.T, l *laptop) *tablet {
	t.Helper()
	x := openTablet(t, l.base, "")
	x.visit("/")
	x.ready("/waiting", l.sheetOf(1), l.sheetOf(2), l.sheetOf(3))
	l.stop()
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname === "/waiting"`)
	x.writes(l, 2, "150.0", "+1.2")
	x.until(`location.pathname === "/waiting"`)
	x.visit(l.sheetOf(3))
	x.shows("Shown from this device's memory", "5.2502", "at most 5.2600", "out of reach")
	x.writes(l, 3, "150.0", "5.2513")
	x.until(`document.querySelectorAll("#outbox-list li[id]").length === 3`)
	x.shows("Sheet of position 3 of engine R9-77", "waiting")
	x.visit("/waiting")
	x.until(`document.querySelector("[data-count]").innerText === "3 wait"`)
	x.until(`document.querySelector("[data-reach]").innerText === "Out of reach"`)
	x.judgeNow("what waits")
	return x
}

// wantThree wants the sheets of threeAway in the book, each once.
func wantThree(t *testing.T, l *laptop) {
	t.Helper()
	wantSheets(t, l, 1, "5.2511")
	wantSheets(t, l, 2, "+1.2")
	wantSheets(t, l, 3, "5.2513")
}

// deaf passes requests to /outbox on and cuts the line before the answer.
func deaf(cut *atomic.Int32) func(next http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path != "/outbox" {
				next.ServeHTTP(w, r)
				return
			}
			next.ServeHTTP(httptest.NewRecorder(), r)
			cut.Add(1)
			panic(http.ErrAbortHandler)
		})
	}
}

// TestCutBeforeAnswer: the laptop took three sheets in and was switched off before
// it could say so; the browser is killed too. Started again on the same profile the
// tablet sends them again, and each is in the book once.
func TestCutBeforeAnswer(t *testing.T) {
	l := newLaptop(t)
	x := threeAway(t, l)
	var cut atomic.Int32
	l.through(deaf(&cut))
	l.start()
	x.visit("/waiting")
	waitFor(t, func() bool { return cut.Load() > 0 })
	l.stop()
	wantThree(t, l)
	x = x.kill()
	x.visit("/waiting")
	x.until(`document.querySelectorAll("#outbox-list li[id]").length === 3`)
	l.through(nil)
	l.start()
	x.visit("/waiting")
	x.delivered()
	wantThree(t, l)
}

// TestTwoTablets measure the same part, both out of reach: both sheets come
// through, for readings are only added.
func TestTwoTablets(t *testing.T) {
	l := newLaptop(t)
	one, two := openTablet(t, l.base, ""), openTablet(t, l.base, "")
	for _, x := range []*tablet{one, two} {
		x.visit("/waiting")
		x.ready("/waiting", l.sheetOf(3))
	}
	l.stop()
	one.writes(l, 3, "150.0", "5.2511")
	two.writes(l, 3, "150.0", "5.2512")
	for _, x := range []*tablet{one, two} {
		x.until(`location.pathname === "/waiting"`)
	}
	l.start()
	one.visit("/waiting")
	one.delivered()
	two.visit("/waiting")
	two.delivered()
	got := l.sheets(3)
	slices.Sort(got) // which of the two is heard first is chance
	if !slices.Equal(got, []string{"5.2511", "5.2512"}) {
		t.Errorf("the book holds %q of position 3, want both", got)
	}
}

// TestRefusedAndCorrected: what the laptop refuses stays on the tablet, is
// shown at its field with all that was typed, and is delivered once corrected.
func TestRefusedAndCorrected(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1))
	l.stop()
	x.visit(l.sheetOf(1))
	x.fill("note", "scored at the top")
	x.fill("hours", "150.0")
	x.fill(l.cell(1), "5.2511")
	x.until(`document.querySelector(".cell .beside").innerText === "0.0089 inside the service limit"`)
	x.fill("temperature", "35") // 5.2511 / (1 + 12.3e-6 · 15), ISO 1 and Callister, appendix B.6
	x.until(`document.querySelector(".cell .beside").innerText === "0.0099 inside the service limit (5.2501 at 20 °C)"`)
	x.empty("temperature")
	x.until(`document.querySelector(".cell .beside").innerText === "0.0089 inside the service limit"`)
	x.empty(l.cell(1))
	x.fill(l.cell(1), "52.511")
	x.until(`document.querySelector(".cell .beside").innerText === "✕ far from the limits: is the decimal point right?"`)
	x.empty(l.cell(1))
	x.fill(l.cell(1), "5.25l1")
	x.until(`document.querySelector(".cell .beside").innerText.includes("cannot be read")`)
	x.shows("The laptop is out of reach", "fits, verdicts and wear appear when the laptop is back in reach")
	x.judgeNow("a sheet from memory")
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`document.querySelector(".fault-summary")?.innerText.includes("cannot be read as a number")`)
	x.savesAnyway()
	x.until(`location.pathname === "/waiting"`)
	l.start()
	x.visit("/waiting")
	x.until(`document.querySelector("[data-count]").innerText === "1 refused"`)
	x.until(`document.querySelector("#outbox-list .bad")?.innerText === "✕ refused"`)
	x.shows("is not a number", "Barrel bore")
	x.judgeNow("what was refused")
	wantSheets(t, l, 1)

	x.do(chromedp.Click(chromedp.CSS("#outbox-list .actions a")))
	x.until(`document.querySelector("[aria-invalid=true]")?.name === ` + quoted(l.cell(1)))
	x.judgeNow("a refused sheet")
	x.shows("Not in the book yet", "is not a number")
	for name, want := range map[string]string{l.cell(1): "5.25l1", "hours": "150.0", "note": "scored at the top"} {
		if got := eval[string](x.tab, `document.querySelector("form[data-waits]").elements[`+quoted(name)+`].value`); got != want {
			t.Errorf("%s holds %q, want what was typed, %q", name, got, want)
		}
	}
	x.empty(l.cell(1))
	x.fill(l.cell(1), "5.2511")
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname.startsWith("/sheets/")`)
	x.shows("5.2511", "scored at the top", "Filled in on")
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
}

// TestBackWhileEditing: the laptop comes back while a sheet that waits is open to
// be changed. It is not delivered under the editor's hands, what waits beside it is, and the
// change arrives. One that left all the same is said to have.
func TestBackWhileEditing(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1), l.sheetOf(2))
	l.stop()
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname === "/waiting"`)
	x.writes(l, 2, "150.0", "5.2512")
	x.until(`location.pathname === "/waiting" && document.querySelectorAll("#outbox-list li[id]").length === 2`)
	x.do(chromedp.Click(chromedp.CSS("#outbox-list .actions a")))
	x.shows("it keeps its place")
	l.start()
	x.until(`import("/static/" + document.documentElement.dataset.build + "/outbox.js").then((o) => o.flush()).then(() => true)`)
	x.until(`document.querySelector("[data-count]").innerText === "1 waits"`)
	wantSheets(t, l, 1)
	wantSheets(t, l, 2, "5.2512")
	x.empty(l.cell(1))
	x.fill(l.cell(1), "5.2517")
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname.startsWith("/sheets/")`)
	x.delivered()
	wantSheets(t, l, 1, "5.2517")

	l.stop()
	x.writes(l, 1, "160.0", "5.2518")
	x.until(`location.pathname === "/waiting"`)
	x.do(chromedp.Click(chromedp.CSS("#outbox-list .actions a")))
	x.shows("it keeps its place")
	x.until(`import("/static/" + document.documentElement.dataset.build + "/outbox.js").then(async (o) => { await o.discard((await o.records())[0].uid); return true; })`)
	x.shows("This sheet was discarded")
}

// TestIncompleteAway: out of reach a page asks for what the laptop would refuse
// the sheet without, and for hours that run backwards, before it is put away;
// it is put away all the same when a person says so, by keyboard.
func TestIncompleteAway(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1), "/engines/1/leak/new")
	l.stop()
	x.visit("/engines/1/leak/new")
	x.fill("hours", "1,000")
	x.fill("psi-3", "71")
	save := func() { x.do(chromedp.Focus(chromedp.CSS("[data-save]")), chromedp.KeyEvent(kb.Enter)) }
	save()
	x.until(`document.activeElement.name === "orifice" && document.querySelectorAll(".fault-summary li").length === 1`)
	x.fill("orifice", "-0.06o")
	save()
	x.until(`document.getElementById("f-orifice-error")?.innerText.includes("cannot be read as a number")`)
	x.empty("orifice")
	x.fill("orifice", "0.060")
	save()
	x.until(`location.pathname === "/waiting"`)

	x.visit(l.sheetOf(1))
	x.fill(l.cell(1), "5.2511")
	save()
	x.until(`document.activeElement.name === "hours"`)
	x.until(`document.querySelector(".fault-summary").innerText.includes("Not saved yet")`)
	x.until(`document.getElementById("f-hours-error").innerText.includes("is empty")`)
	x.fill("hours", "99.9") // the meter showed 100.0 h
	save()
	x.until(`document.getElementById("f-hours-error")?.innerText.includes("the meter showed 100.0 h on 2024-06-01 already")`)
	x.until(`document.querySelector("form[data-waits]").elements[` + quoted(l.cell(1)) + `].value === "5.2511"`)
	for range 10 { // a date has a stop for each of its parts
		if eval[bool](x.tab, `document.activeElement.innerText === "Save it all the same"`) {
			break
		}
		x.do(chromedp.KeyEvent(kb.Tab, chromedp.KeyModifiers(kb.ModifierShift)))
	}
	x.do(chromedp.KeyEvent(kb.Enter))
	x.until(`location.pathname === "/waiting"`)
	x.until(`document.querySelectorAll("#outbox-list li[id]").length === 2`)
	l.start()
	x.visit("/waiting")
	x.until(`document.querySelector("[data-count]").innerText === "1 refused"`)
	x.shows("may not run backwards")
	rs, err := l.book.LeakReadingsOn(t.Context(), l.engine.ID)
	if err != nil || len(rs) != 1 {
		t.Errorf("the book holds %d leak readings (%v), want 1", len(rs), err)
	}
	x.do(chromedp.Click(chromedp.CSS("#outbox-list .actions a")))
	x.until(`document.querySelector("[aria-invalid=true]")?.name === "hours"`)
	x.empty("hours")
	x.fill("hours", "1000.5")
	save()
	x.until(`location.pathname.startsWith("/sheets/")`)
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
}

// TestLocalStorageRefused: a browser that keeps no name for the device keeps
// the sheet all the same.
func TestLocalStorageRefused(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.do(chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
		_, err := cdp.Call(ctx, tab, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{
			Source: `Object.defineProperty(window, "localStorage", { get() { throw new DOMException("refused", "SecurityError"); } });`})
		return err
	}))
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1))
	l.stop()
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname === "/waiting"`)
	x.shows("Not named yet.", "Sheet of position 1 of engine R9-77")
	l.start()
	x.visit("/waiting")
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
}

// TestDiscardAsks: nothing leaves the outbox before a person has said so.
func TestDiscardAsks(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1))
	l.stop()
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname === "/waiting" && document.querySelectorAll("#outbox-list li[id]").length === 1`)
	press := func(text string) {
		x.until(`[...document.querySelectorAll("#outbox-list button")].some(b => b.innerText === ` + quoted(text) + ` && (b.click(), true))`)
	}
	press("Discard")
	press("Keep it")
	x.until(`document.querySelectorAll("#outbox-list .caution").length === 0 && document.querySelectorAll("#outbox-list li[id]").length === 1`)
	press("Discard")
	x.shows("on this device alone")
	press("Discard it for good")
	x.until(`document.querySelector("[data-count]").innerText === "nothing waits"`)
	l.start()
	x.visit("/waiting")
	x.delivered()
	wantSheets(t, l, 1)
}

// TestStorageFull: a device without space says so, and what was typed stays on
// the page until there is.
func TestStorageFull(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1))
	l.stop()
	x.visit(l.sheetOf(1))
	x.do(quota(l.base, 1))
	x.fill("hours", "150.0")
	x.fill(l.cell(1), "5.2511")
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`document.querySelector("#keep-said")?.innerText.includes("no space left")`)
	if got := eval[string](x.tab, `document.querySelector("form[data-waits]").elements[`+quoted(l.cell(1))+`].value`); got != "5.2511" {
		t.Errorf("the cell holds %q", got)
	}
	x.do(quota(l.base, -1))
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname === "/waiting"`)
	l.start()
	x.visit("/waiting")
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
}

// quota limits what the browser keeps for a site, in bytes; not at all below 0.
func quota(origin string, bytes float64) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
		params := storage.OverrideQuotaForOriginParams{Origin: origin}
		if bytes >= 0 {
			params.QuotaSize = &bytes
		}
		_, err := cdp.Call(ctx, tab, storage.OverrideQuotaForOrigin, params)
		return err
	})
}

// TestNoAnswerToForm: a sheet is sent in reach, and the line is cut before, or
// after, the laptop has it. Nothing typed is lost, and it is in the book once.
// A form that cannot wait stays on its page, and says why.
func TestNoAnswerToForm(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1))
	for i, reached := range []bool{false, true} {
		l.through(func(next http.Handler) http.Handler {
			return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				if r.Method == http.MethodPost && r.URL.Path != "/outbox" {
					if reached {
						next.ServeHTTP(httptest.NewRecorder(), r)
					}
					panic(http.ErrAbortHandler)
				}
				next.ServeHTTP(w, r)
			})
		})
		x.writes(l, i+1, "150.0", "5.2511")
		x.until(`location.pathname.startsWith("/sheets/")`)
		x.shows("5.2511")
		wantSheets(t, l, i+1, "5.2511")
	}
	x.visit("/parts/new")
	x.fill("serial", "C-new")
	x.do(chromedp.Click(chromedp.CSS("main form button")))
	x.until(`document.querySelector("[data-said]").innerText.includes("did not answer")`)
	if got := eval[string](x.tab, `document.querySelector("[name=serial]").value`); got != "C-new" {
		t.Errorf("the serial is %q", got)
	}
}
