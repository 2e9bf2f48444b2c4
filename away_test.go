package main

import (
	"errors"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"sync/atomic"
	"testing"
	"time"
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
	x.see("Shown from this device's memory", "5.2502", "at most 5.2600", "out of reach")
	x.writes(l, 3, "150.0", "5.2513")
	x.until(`document.querySelectorAll("#outbox-list li[id]").length === 3`)
	x.see("Sheet of position 3 of engine R9-77", "waiting")
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
