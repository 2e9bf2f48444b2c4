package main

import (
	"context"
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"barrelbook/server"
	"barrelbook/store"
)

// idle makes a tab believe that nobody has touched it for an hour.
const idle = `localStorage.setItem("barrelbook-touched", String(Date.now() - 3600000)); document.dispatchEvent(new Event("visibilitychange"))`

const covered = `document.querySelector("dialog.cover").open`

// until waits for something on the page.
func (b *tab) until(what string) {
	b.t.Helper()
	for end := time.Now().Add(stepLimit); !eval[bool](b, what); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			b.t.Fatalf("never: %s", what)
		}
	}
}

// pastes types a password where it can be seen, cuts it out, and pastes it in
// masked, as a password manager or its reader does (OWASP ASVS 5, 6.2.6 and
// 6.2.7).
func (b *tab) pastes(words string) {
	b.t.Helper()
	kind := func(want string) {
		b.t.Helper()
		if got := eval[string](b, `document.querySelector("[name=password]").type`); got != want {
			b.t.Fatalf("the password's field is of type %q, want %q", got, want)
		}
	}
	edit := func(command string) chromedp.Action[chromedp.Void] {
		return chromedp.Func(func(ctx context.Context, at *chromedp.Target) error {
			_, err := cdp.Call(ctx, at, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: "rawKeyDown", Commands: []string{command}})
			return err
		})
	}
	kind("password")
	show := chromedp.CSS("[data-reveal] button")
	b.do(chromedp.Click(show))
	kind("text")
	b.fill("password", words)
	b.do(edit("selectAll"), edit("cut"), chromedp.Click(show))
	kind("password")
	if left := eval[string](b, `document.querySelector("[name=password]").value`); left != "" {
		b.t.Fatalf("after it was cut out the field holds %q", left)
	}
	b.do(edit("paste"))
	if got := eval[string](b, `document.querySelector("[name=password]").value`); got != words {
		b.t.Fatalf("what was pasted is %q", got)
	}
}

// TestCover: a page that nobody touches covers itself and signs out. Escape
// does not lift the cover; after the password what was typed is there and can
// be saved.
func TestCover(t *testing.T) {
	const words = "quiet lamp under stairs"
	book := temporaryBook(t)
	tab := openTab(t, serveTest(t, book))
	if _, err := book.AddFirstOwner(t.Context(), store.Person{Name: "A. Owner", Roles: store.Owner | store.Mechanic}, server.HashPassword(words)); err != nil {
		t.Fatal(err)
	}
	tab.open("/engines/new")
	tab.do(chromedp.Click(chromedp.CSS(`input[name=name][value="A. Owner"]`)))
	tab.pastes(words)
	tab.press("Sign in", http.StatusOK)
	tab.fill("serial", "R9-2041")
	tab.fill("notes", "half typed")
	if eval[bool](tab, covered) {
		t.Fatal("the page is covered while somebody types")
	}
	tab.do(chromedp.Evaluate[chromedp.Void](idle))
	tab.until(covered)
	tab.shoot("covered")
	tab.judgeNow("a covered page")
	if answer, err := tab.get("/engines"); err != nil || answer.Request.URL.Path != "/sign-in" {
		t.Errorf("the covered page is still signed in: %v", err)
	}
	for range 3 {
		tab.do(chromedp.KeyEvent("\x1b"))
	}
	tab.until(covered)
	const kind = `document.getElementById("cover-password").type`
	tab.do(chromedp.Click(chromedp.CSS(".cover [data-reveal] button")))
	if got := eval[string](tab, kind); got != "text" {
		t.Errorf("shown on demand: the field is a %s", got)
	}
	tab.do(chromedp.SendKeys(chromedp.CSS("#cover-password"), words+"\r"))
	tab.until("!" + covered)
	if got := eval[string](tab, kind); got != "password" {
		t.Errorf("after it was sent the field is a %s", got)
	}
	if got := eval[string](tab, `document.forms[0].elements.serial.value + " " + document.forms[0].elements.notes.value`); got != "R9-2041 half typed" {
		t.Errorf("the form holds %q", got)
	}
	tab.set("day", daysAgo(10))
	tab.fill("model", "Corvane 9")
	tab.choose("arrangement", "radial")
	tab.fill("cylinders", "9")
	tab.fill("hours", "10")
	tab.press("Make the engine", http.StatusOK)
	tab.see("Engine R9-2041 is in the book", "half typed")
}
