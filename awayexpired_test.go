package main

import (
	"context"
	"net/http"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"barrelbook/server"
	"barrelbook/store"
)

// TestSignInExpired: the sign-in has ended while a sheet waited. The laptop asks to
// sign in, the outbox is kept and the page says so; after the sign-in it goes on.
func TestSignInExpired(t *testing.T) {
	l := askingLaptop(t)
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

// TestExpiredThenCorrected: a sheet that was refused is corrected after the
// sign-in has ended. The sign-in leads back to it, and it keeps its name.
func TestExpiredThenCorrected(t *testing.T) {
	l := askingLaptop(t)
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

// askingLaptop is a laptop whose owner has that password, and which asks for it.
func askingLaptop(t *testing.T) *laptop {
	t.Helper()
	l := newLaptop(t)
	l.setPassword()
	l.through(func(http.Handler) http.Handler { return l.bare })
	return l
}

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

// givesPassword fills in the sign-in of the first person there.
func (x *tablet) givesPassword() {
	x.t.Helper()
	x.givesPasswordOf(`input[name=name]`)
}

// givesPasswordOf fills in the sign-in of somebody, once the page moves no more.
func (x *tablet) givesPasswordOf(person string) {
	x.t.Helper()
	x.until(`document.getElementById("reach")?.hidden === false`)
	x.do(chromedp.Click(chromedp.CSS(person)))
	x.fill("password", ownersWords)
	x.do(chromedp.Click(chromedp.CSS("form.sign-in button[type=submit]")))
}
