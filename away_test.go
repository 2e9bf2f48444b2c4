package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image/png"
	"io"
	"io/fs"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/storage"
	"github.com/chromedp/chromedp"

	"barrelbook/server"
	"barrelbook/static"
	"barrelbook/store"
	"barrelbook/wear"
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
	x = x.kill()
	x.visit("/waiting")
	x.until(`document.querySelectorAll("#outbox-list li[id]").length === 3`)
	l.start()
	x.visit("/waiting")
	x.delivered()
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

// TestCutBeforeAnswer: the laptop took a sheet in and was switched off before
// it could say so. The tablet sends it again, and it is in the book once.
func TestCutBeforeAnswer(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/")
	x.ready("/waiting", l.sheetOf(1))
	l.stop()
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname === "/waiting"`)
	var cut atomic.Int32
	l.through(deaf(&cut))
	l.start()
	x.visit("/waiting")
	waitFor(t, func() bool { return cut.Load() > 0 })
	wantSheets(t, l, 1, "5.2511")
	l.stop()
	l.through(nil)
	l.start()
	x.visit("/waiting")
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
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

// TestSignInExpired: while the laptop asks to sign in, the outbox is kept and
// the page says so; afterwards it goes on.
func TestSignInExpired(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1))
	l.stop()
	x.writes(l, 1, "150.0", "5.2511")
	x.until(`location.pathname === "/waiting"`)
	l.through(func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/outbox" {
				r.Header.Del("Cookie") // as after twelve hours away
				l.bare.ServeHTTP(w, r)
				return
			}
			next.ServeHTTP(w, r)
		})
	})
	l.start()
	x.visit("/waiting")
	x.until(`document.querySelector("[data-said]").innerText === "sign in to deliver"`)
	x.until(`document.querySelector("[data-said]").pathname === "/sign-in"`)
	x.until(`document.querySelector("[data-count]").innerText === "1 waits"`)
	wantSheets(t, l, 1)
	l.through(nil)
	x.visit("/findings")
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
}

// TestSignOutForgets: after somebody signed out, a tablet that lost the laptop
// shows no page of the book, and loses nothing of what waits; the next sign-in
// brings the pages back.
func TestSignOutForgets(t *testing.T) {
	const words = "quiet lamp under stairs"
	l := newLaptop(t)
	if err := l.book.SetPassword(t.Context(), 1, store.Password{Hash: server.HashPassword(words)}); err != nil {
		t.Fatal(err)
	}
	var shut atomic.Bool // to deliveries
	l.through(func(http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/outbox" && shut.Load() {
				panic(http.ErrAbortHandler)
			}
			l.bare.ServeHTTP(w, r)
		})
	})
	l.stop()
	l.start()
	x := openTablet(t, l.base, "")
	signIn := func() {
		x.visit("/")
		x.do(chromedp.Click(chromedp.CSS(`input[name=name]`)))
		x.fill("password", words)
		x.do(chromedp.Click(chromedp.CSS("form.sign-in button[type=submit]")))
		x.ready("/waiting", l.sheetOf(1), "/engines")
	}
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
		if text := eval[string](x.tab, `document.body.innerText`); strings.Contains(text, "A. Owner") || strings.Contains(text, "5.2600") {
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
	x.do(chromedp.SendKeys(chromedp.CSS("#cover-password"), words+"\r"))
	x.until("!" + covered)
	x.do(chromedp.Evaluate[chromedp.Void](`document.dispatchEvent(new Event("visibilitychange"))`))
	x.ready(l.sheetOf(2), "/engines")
	if got := eval[string](x.tab, `document.querySelector("form[data-waits]").elements.note.value`); got != "half typed" {
		t.Errorf("the note holds %q", got)
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
	x.empty(l.cell(1))
	x.fill(l.cell(1), "5.25l1")
	x.until(`document.querySelector(".cell .beside").innerText.includes("cannot be read")`)
	x.shows("The laptop is out of reach", "fits, verdicts and wear appear when the laptop is back in reach")
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname === "/waiting"`)
	l.start()
	x.visit("/waiting")
	x.until(`document.querySelector("[data-count]").innerText === "1 refused"`)
	x.until(`document.querySelector("#outbox-list .bad")?.innerText === "✕ refused"`)
	x.shows("is not a number", "Barrel bore")
	wantSheets(t, l, 1)

	x.do(chromedp.Click(chromedp.CSS("#outbox-list .actions a")))
	x.until(`document.querySelector("[aria-invalid=true]")?.name === ` + quoted(l.cell(1)))
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
	x.see("5.2511", "scored at the top", "Filled in on")
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
		x.see("5.2511")
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
	x.until(`document.documentElement.dataset.build === "feedbeef" && getComputedStyle(document.querySelector(".reach")).position === "sticky"`)
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

// TestNumbersInBrowser holds the page's reading of numbers against the
// laptop's, on the entries that people make and on others.
func TestNumbersInBrowser(t *testing.T) {
	texts := strings.Split("|.|-|+|5|5.|.5|5.2535|+5.2535|-5.2535|−5.2535|−−5|+-5|--5|5,25|5.25.1|5e3|0x10|1/2| 5.25 |\t5.25\n|\u00a05.25\u2003|\ufeff5.25|5 .25|٥|5.25l1|0|-0|0.0000|0.00001|0.00000001|0.000000039|0.00000000001|0.0000000000001|99999999999|-99999999999|363150.0000|363088.9778689|123456789012345678901234567890|1234567890123456789012345678901|0.0005|0.0000005|-0.0000005|0.0000015|2.5|1.0000005|constructor|__proto__|NaN|Infinity|+3.5|-12.5", "|")
	rng := rand.New(rand.NewPCG(11, 7))
	for range 400 {
		digits := fmt.Sprintf("%0*d", 1+rng.IntN(12), rng.Int64N(1e12))
		at := rng.IntN(len(digits) + 1)
		texts = append(texts, []string{"", "+", "-", "−"}[rng.IntN(4)]+digits[:at]+"."+digits[at:])
	}
	units := []string{"in", "mm", "µm", "g", "kg", "oz", "lb", "N", "lbf", "HRC", "psi", "constructor"}
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	ask, err := json.Marshal(map[string]any{"texts": texts, "units": units})
	if err != nil {
		t.Fatal(err)
	}
	read, err := chromedp.Run(x.ctx, chromedp.Evaluate[map[string][]string](fmt.Sprintf(`import(%q).then(({parse}) => {
		const ask = %s, out = {};
		for (const unit of ask.units) out[unit] = ask.texts.map(t => parse(t, unit)?.toString() ?? "refused");
		return out;
	})`, static.Module("quantity.js"), ask), chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	refused, taken := 0, 0
	for _, name := range units {
		u, err := wear.UnitNamed(name)
		if err != nil {
			t.Fatal(err)
		}
		for i, text := range texts {
			want := "refused"
			if v, err := wear.ParseValue(text, u); err == nil {
				want = strconv.FormatInt(int64(v), 10)
				taken++
			} else {
				refused++
			}
			if got := read[name][i]; got != want {
				t.Errorf("%q %s: the page reads %s, the laptop %s", text, name, got, want)
			}
		}
	}
	t.Logf("%d numbers read alike, %d refused alike", taken, refused)
}

// TestEntriesInBrowser types signed and dial entries in both units out of
// reach. The laptop refuses an entry that it reads otherwise than the page did,
// so that their being in the book shows that both read the same.
func TestEntriesInBrowser(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1))
	l.stop()
	rng := rand.New(rand.NewPCG(3, 5))
	var want []string
	for i := range 12 {
		x.visit(l.sheetOf(1))
		unit, mode, typed := []string{"in", "mm"}[i%2], []string{"full", "nominal", "dial"}[i/2%3], fmt.Sprintf("%+.1f", rng.Float64()*6-2)
		x.fill("hours", fmt.Sprintf("%d", 150+i))
		x.set("unit", unit)
		x.choose("mode", mode)
		if mode == "dial" {
			x.set(fmt.Sprintf("s-%d-%d", l.barrels[0], l.bore), map[string]string{"in": "5.2500", "mm": "133.350"}[unit])
		}
		x.fill(l.cell(1), typed)
		size, err := chromedp.Run(x.ctx, chromedp.Evaluate[string](fmt.Sprintf(`import(%q).then(m => m.sizeOf(document.querySelector("[name=%s]")).toString())`, static.Module("beside.js"), l.cell(1)), chromedp.EvalAwaitPromise))
		if err != nil {
			t.Fatal(err)
		}
		if n, err := strconv.Atoi(size); err != nil || n < 133_000_000 || n > 134_000_000 {
			t.Errorf("%s %s %s is read as %s nm", typed, unit, mode, size)
		}
		x.do(chromedp.Click(chromedp.CSS("[data-save]")))
		x.until(`location.pathname === "/waiting"`)
		want = append(want, typed)
	}
	l.start()
	x.visit("/waiting")
	x.delivered()
	wantSheets(t, l, 1, want...)
}

// TestLeakTestAway: a leak test waits as a sheet does, with where air was
// heard, and is changed on the tablet before it is delivered. The page that
// was kept yesterday has the date of today.
func TestLeakTestAway(t *testing.T) {
	l := newLaptop(t)
	least, orifice := wear.PSI(560), wear.LargeOrifice // 0.060 in
	if err := l.book.AddLeakRule(t.Context(), store.LeakRule{Model: l.engine.Model.ID, Minimum: &least, Orifice: &orifice, Unit: wear.Inch, Document: "Invented manual"}); err != nil {
		t.Fatal(err)
	}
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	path := fmt.Sprintf("/engines/%d/leak/new", l.engine.ID)
	x.ready("/waiting", path)
	// the kept page grows a day older
	x.until(`caches.keys().then(async ([name]) => {
		const cache = await caches.open(name), kept = await cache.match(` + quoted(path) + `, {ignoreVary: true});
		const text = (await kept.text()).replace(/value="\d{4}-\d\d-\d\d"/, 'value="2020-02-02"');
		await cache.put(` + quoted(path) + `, new Response(text, {headers: kept.headers}));
		return true;
	})`)
	l.stop()
	x.visit(path)
	x.shows("Air in a cylinder can spin the propeller", "The laptop is out of reach")
	if got, want := eval[string](x.tab, `document.querySelector("[name=day]").value`), eval[string](x.tab, `new Date(Date.now() - new Date().getTimezoneOffset() * 60000).toISOString().slice(0, 10)`); got != want {
		t.Errorf("the date is %s, want %s", got, want)
	}
	x.fill("hours", "150.0")
	x.fill("psi-3", "58")
	x.fill("orifice", "0.060")
	x.until(`document.querySelector("[name=psi-3] ~ .beside")?.innerText === "2 psi above the maker's rule; ✕ 2 psi below the general rule"`)
	x.empty("psi-3")
	x.fill("psi-3", "x")
	x.until(`document.querySelector("[name=psi-3] ~ .beside").innerText === "cannot be read as a pressure here"`)
	x.fill("warm-3", "60")
	x.until(`document.querySelector("[name=warm-3] ~ .beside").innerText === "4 psi above the maker's rule; just what the general rule asks for"`)
	x.empty("orifice")
	x.fill("orifice", "0.040")
	x.until(`document.querySelector("[name=warm-3] ~ .beside").innerText.startsWith("the maker's rule is for another orifice")`)
	x.empty("orifice")
	x.fill("orifice", "0.060")
	x.empty("warm-3")
	x.empty("psi-3")
	x.fill("psi-3", "71")
	x.do(chromedp.Click(chromedp.CSS(`label:has([name="air-3-0"])`)))
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname === "/waiting"`)
	x.shows("Leak test of R9-77")
	x.until(`document.querySelector("#outbox-list .actions a")?.click() ?? location.hash.startsWith("#waiting=")`)
	x.until(`document.querySelector("[name=psi-3]")?.value === "71" && document.querySelector("[name=air-3-0]").checked`)
	x.fill("psi-4", "74")
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname === "/waiting" && document.querySelectorAll("#outbox-list li[id]").length === 1`)
	l.start()
	x.visit("/waiting")
	x.delivered()
	x.do(chromedp.Click(chromedp.CSS("#delivered-list a")))
	x.shows("71 of 80 psi", "74 of 80 psi", "exhaust", "Filled in on")
	rs, err := l.book.LeakReadingsOn(t.Context(), l.engine.ID)
	if err != nil || len(rs) != 2 {
		t.Errorf("the book holds %d leak readings (%v), want 2", len(rs), err)
	}
}

// TestLeakRuleInBrowser holds the comparison with a rule that a page makes out
// of reach against the laptop's plain verdict, on the bound too.
func TestLeakRuleInBrowser(t *testing.T) {
	type question struct {
		Reading   string `json:"reading"`
		Regulated string `json:"regulated"`
		Minimum   int    `json:"minimum,omitempty"`
		MaxLoss   int    `json:"maxLoss,omitempty"`
	}
	var ask []question
	rng := rand.New(rand.NewPCG(9, 2))
	for range 400 {
		regulated := wear.PSI(700 + rng.IntN(200))
		q := question{Regulated: regulated.String(), Minimum: rng.IntN(2) * (500 + rng.IntN(200)), MaxLoss: rng.IntN(2) * (100 + rng.IntN(300))}
		if q.Minimum == 0 && q.MaxLoss == 0 {
			q.MaxLoss = 250
		}
		near := max(q.Minimum, int(regulated)*(1000-q.MaxLoss)/1000*min(q.MaxLoss, 1)) + rng.IntN(5) - 2
		q.Reading = wear.PSI(min(near, int(regulated))).String()
		ask = append(ask, q)
	}
	for _, text := range []string{"", "x", "-1", "60.05", "60.10", "300", "300.1", "1e2", " 60 "} {
		ask = append(ask, question{Reading: text, Regulated: "300", MaxLoss: 250})
	}
	asked, err := json.Marshal(ask)
	if err != nil {
		t.Fatal(err)
	}
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	got, err := chromedp.Run(x.ctx, chromedp.Evaluate[[]string](fmt.Sprintf(`import(%q).then(({above, pressure}) => %s.map((q) => {
		const reading = pressure(q.reading), room = reading === null ? null : above(q, reading, pressure(q.regulated));
		return room === null ? "refused" : room < 0n ? "beyond" : "within";
	}))`, static.Module("leak.js"), asked), chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	for i, q := range ask {
		want := "refused"
		if reading, err := wear.ParsePSI(q.Reading); err == nil {
			regulated, err := wear.ParsePSI(q.Regulated)
			if err != nil {
				t.Fatal(err)
			}
			j, err := wear.JudgeLeak(wear.LeakTest{Regulated: regulated, Reading: reading, Orifice: wear.SmallOrifice}, 0, nil, &wear.LeakRule{Minimum: wear.PSI(q.Minimum), MaxLoss: q.MaxLoss})
			if err != nil {
				t.Fatal(err)
			}
			if want = "within"; j.Plain == wear.Beyond {
				want = "beyond"
			}
		}
		count[want]++
		if got[i] != want {
			t.Errorf("%+v: the page says %s, the laptop %s", q, got[i], want)
		}
	}
	if count["within"] < 100 || count["beyond"] < 100 || count["refused"] < 4 {
		t.Errorf("the questions are one-sided: %v", count)
	}
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
