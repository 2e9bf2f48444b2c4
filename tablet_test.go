package main

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"barrelbook/server"
	"barrelbook/store"
	"barrelbook/wear"
)

// laptop serves a book at an address that stays the same while the program is
// stopped and started.
type laptop struct {
	t       *testing.T
	book    *store.Book
	engine  store.Engine
	bore    int64 // the feature
	barrels []int64
	shelf   []int64 // barrels that sit nowhere
	base    string
	bare    http.Handler // to who is not signed in
	handler http.Handler
	gate    atomic.Pointer[func(next http.Handler) http.Handler] // what stands before the handler
	web     *http.Server
	ended   sync.WaitGroup
}

// newLaptop serves a book with a nine-cylinder engine, invented, whose barrels
// have a limit and were measured once.
func newLaptop(t *testing.T) *laptop {
	t.Helper()
	l := &laptop{t: t, book: temporaryBook(t)}
	ctx := t.Context()
	id := got[int64](t)(l.book.AddEngine(ctx, store.NewEngine{Serial: "R9-77", Model: "Corvane 9", Arrangement: "radial", Cylinders: 9, MasterRod: 5, Day: "2024-01-01"}))
	l.engine = got[store.Engine](t)(l.book.Engine(ctx, id))
	l.bore = featureCalled(t, l.book, wear.Cylinder, "barrel bore")
	inch := func(text string) *wear.Value { v := got[wear.Value](t)(wear.ParseValue(text, wear.Inch)); return &v }
	must(t, l.book.AddLimit(ctx, store.LimitRow{Model: l.engine.Model.ID, Feature: l.bore, Unit: wear.Inch, Document: "Invented manual", Page: "12",
		Limit: wear.Limit{NewMin: inch("5.2490"), NewMax: inch("5.2510"), ServiceMax: inch("5.2600"), Wear: wear.Up, Life: 120_000}}))
	for position := 1; position <= 9; position++ {
		part := got[int64](t)(l.book.AddPart(ctx, store.Part{Kind: wear.Cylinder, Serial: fmt.Sprintf("C-%d", position), Source: "new"}))
		must(t, l.book.Install(ctx, part, store.Place{Engine: id, Position: position}, "2024-01-01", 0))
		l.barrels = append(l.barrels, part)
	}
	shows := wear.Hours(10_000)
	got[int64](t)(l.book.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2024-06-01", Engine: id, Position: 3}, Shows: &shows, Readings: []store.NewReading{
		{Part: l.barrels[2], Feature: l.bore, Station: "top", Axis: "thrust", Value: *inch("5.2502"), Typed: "5.2502", Unit: wear.Inch}}}))

	addOwner(t, l.book)
	answers := server.New(l.book, slog.New(slog.NewTextHandler(&failing{t}, nil)))
	background, stop := context.WithCancel(context.Background())
	answers.Run(background)
	l.bare, l.handler = answers.Handler(), signedIn(t, l.book, answers)
	t.Cleanup(func() {
		l.stop()
		stop()
		answers.Wait()
		if err := answers.Close(); err != nil {
			t.Error(err)
		}
	})
	l.base = "http://127.0.0.1:0"
	l.start()
	return l
}

// addShelf puts barrels on the shelf.
func (l *laptop) addShelf(count int) {
	l.t.Helper()
	for i := range count {
		part, err := l.book.AddPart(l.t.Context(), store.Part{Kind: wear.Cylinder, Serial: fmt.Sprintf("S-%d", i+1), Source: "new"})
		if err != nil {
			l.t.Fatal(err)
		}
		l.shelf = append(l.shelf, part)
	}
}

// start listens where the laptop always listens.
func (l *laptop) start() {
	l.t.Helper()
	address := strings.TrimPrefix(l.base, "http://")
	listener, err := net.Listen("tcp", address)
	if err != nil {
		l.t.Fatal(err)
	}
	l.base = "http://" + listener.Addr().String()
	web := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if gate := l.gate.Load(); gate != nil {
			(*gate)(l.handler).ServeHTTP(w, r)
			return
		}
		l.handler.ServeHTTP(w, r)
	})}
	l.web = web
	l.ended.Go(func() { _ = web.Serve(listener) })
}

// stop cuts every connection, as a laptop does that is switched off.
func (l *laptop) stop() {
	l.t.Helper()
	if l.web == nil {
		return
	}
	if err := l.web.Close(); err != nil {
		l.t.Error(err)
	}
	l.ended.Wait()
	l.web = nil
}

// through has every request pass a gate first; nil takes it away.
func (l *laptop) through(gate func(next http.Handler) http.Handler) {
	if gate == nil {
		l.gate.Store(nil)
		return
	}
	l.gate.Store(&gate)
}

// sheets are the values of the bore that the book holds of a position, in the
// order in which they were saved, without the first sheet.
func (l *laptop) sheets(position int) []string {
	l.t.Helper()
	rs, err := l.book.ReadingsOf(l.t.Context(), l.barrels[position-1])
	if err != nil {
		l.t.Fatal(err)
	}
	var typed []string
	for i := len(rs) - 1; i >= 0; i-- {
		if rs[i].Sheet.Day != "2024-06-01" {
			typed = append(typed, rs[i].Typed)
		}
	}
	return typed
}

// cell is the name of the first number of the bore on a position's sheet.
func (l *laptop) cell(position int) string {
	return fmt.Sprintf("v-%d-%d-0-0-0", l.barrels[position-1], l.bore)
}

func (l *laptop) sheetOf(position int) string {
	return fmt.Sprintf("/measure/engine/%d/%d", l.engine.ID, position)
}

// tablet is a browser with a profile of its own, which outlives it.
type tablet struct {
	*tab
	profile string
	close   func()
}

// openTablet starts the browser on a profile; an empty one is a new tablet.
func openTablet(t *testing.T, base, profile string) *tablet {
	t.Helper()
	if profile == "" {
		profile = t.TempDir()
	}
	program := findBrowser(t)
	host, err := url.Parse(base)
	if err != nil {
		t.Fatal(err)
	}
	w := &watch{host: host.Host}
	outside := httptest.NewServer(http.NotFoundHandler()) // what Chromium asks on its own account
	flags := append(browserFlags(program, profile, outside.URL), chromedp.Flag("proxy-bypass-list", "<-loopback>;"+host.Host))
	limited, cancel := context.WithTimeout(context.Background(), browserLimit)
	allocated, cancel2 := chromedp.NewExecAllocator(limited, flags...)
	ctx, cancel3 := chromedp.NewContext(allocated)
	if err := chromedp.Do(ctx, emulateScreen(768, "light")); err != nil {
		t.Fatalf("start %s: %v", program, err)
	}
	if err := chromedp.Listen(ctx, func(ev any) {
		if e, ok := ev.(*network.EventRequestWillBeSent); ok {
			w.visit(e.Request.URL)
		}
	}); err != nil {
		t.Fatalf("watch the tablet: %v", err)
	}
	x := &tablet{tab: &tab{t, ctx, base}, profile: profile}
	x.close = sync.OnceFunc(func() {
		closeTablet(t, ctx)
		cancel3()
		cancel2()
		cancel()
		outside.Close()
		for _, complaint := range w.list() {
			t.Errorf("tablet: %s", complaint)
		}
	})
	t.Cleanup(x.close)
	return x
}

func closeTablet(t *testing.T, ctx context.Context) {
	patient, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	if err := chromedp.Cancel(patient); err != nil {
		t.Logf("close tablet: %v", err)
	}
}

// kill ends the browser as an empty battery does, and starts it again on the
// same profile.
func (x *tablet) kill() *tablet {
	x.t.Helper()
	process := chromedp.FromContext(x.ctx).Browser.Process()
	if err := process.Kill(); err != nil {
		x.t.Fatal(err)
	}
	x.close()
	for _, lock := range []string{"SingletonLock", "SingletonCookie", "SingletonSocket"} {
		if err := removeLeft(filepath.Join(x.profile, lock)); err != nil {
			x.t.Fatal(err)
		}
	}
	return openTablet(x.t, x.base, x.profile)
}

// until waits for an expression to be true, on whatever page comes up.
func (x *tablet) until(expression string) {
	x.t.Helper()
	deadline := time.Now().Add(stepLimit)
	for {
		got, err := chromedp.Run(x.ctx, chromedp.Evaluate[bool]("Promise.resolve("+expression+").then(Boolean)", chromedp.EvalAwaitPromise))
		if err == nil && got {
			return
		}
		if time.Now().After(deadline) {
			said, _ := chromedp.Run(x.ctx, chromedp.Evaluate[string](`location.href + "\n" + document.body.innerText.slice(0, 1500)`))
			x.t.Fatalf("waited in vain for %s (%v) on %s", expression, err, said)
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// ready waits until the worker is in charge and has all that it keeps.
func (x *tablet) ready(pages ...string) {
	x.t.Helper()
	x.until("navigator.serviceWorker.controller !== null")
	for _, page := range pages {
		x.until("caches.match(" + quoted(page) + ", {ignoreVary: true}).then(r => r !== undefined)")
	}
}

// visit opens a page as a link does, and does not mind that the laptop is out
// of reach.
func (x *tablet) visit(path string) {
	x.t.Helper()
	ctx, cancel := context.WithTimeout(x.ctx, stepLimit)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.Navigate(x.base+path)); err != nil {
		x.t.Fatalf("visit %s: %v", path, err)
	}
}

// savesAnyway puts a sheet away that the page has asked about.
func (x *tablet) savesAnyway() {
	x.t.Helper()
	x.until(`[...document.querySelectorAll(".fault-summary button")].some(b => b.innerText === "Save it all the same" && (b.click(), true))`)
}

// writes fills in a position's sheet and saves it.
func (x *tablet) writes(l *laptop, position int, hours, size string) {
	x.t.Helper()
	x.visit(l.sheetOf(position))
	x.fill("hours", hours)
	x.fill(l.cell(position), size)
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
}

// empty takes out what stands in a field.
func (x *tablet) empty(name string) {
	x.t.Helper()
	x.focus(name)
	x.do(chromedp.KeyEvent("a", chromedp.KeyModifiers(kb.ModifierCtrl)), chromedp.KeyEvent(kb.Backspace))
}

// shows waits for words on the page, which a script may be about to write.
func (x *tablet) shows(words ...string) {
	x.t.Helper()
	for _, want := range words {
		x.until(`document.querySelector("main").innerText.includes(` + quoted(want) + `)`)
	}
}

// delivered waits until nothing waits any more.
func (x *tablet) delivered() {
	x.t.Helper()
	x.until(`document.querySelector("[data-count]").innerText === "nothing waits" && document.querySelector("[data-reach]").innerText === "In reach"`)
}
