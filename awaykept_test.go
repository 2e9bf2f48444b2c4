package main

import (
	"bytes"
	"fmt"
	"image/png"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"barrelbook/static"
	"barrelbook/store"
	"barrelbook/wear"
)

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
	x.until(`caches.keys().then(k => k.filter(n => n !== "signed-out")).then(k => k.length === 1 && k[0].startsWith("barrelbook-feedbeef-"))`)
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
	x.until(`caches.keys().then(async (names) => {
		const name = names.find((n) => n !== "signed-out");
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
