package main

import (
	"testing"

	"github.com/chromedp/chromedp"
)

// TestHandOverWithoutSpace: a device that has no space left forgets and covers all
// the same, and the laptop hears of it; out of reach it says that it cannot note it.
func TestHandOverWithoutSpace(t *testing.T) {
	l := askingLaptop(t)
	x := openTablet(t, l.base, "")
	x.signsIn(l)
	sheet := x.beside("")
	sheet.visit(l.sheetOf(1))
	sheet.fill("note", "half typed")
	x.visit("/engines")
	x.do(quota(l.base, 1))
	x.do(chromedp.Click(chromedp.CSS("[form=hand-over]")))
	x.until(`location.pathname === "/sign-in"`)
	sheet.until(covered)
	x.visit("/engines")
	x.until(`location.pathname === "/sign-in"`)
	x.givesPassword()
	x.until(`document.querySelector(".who a") !== null`)
	sheet.until("!" + covered) // the laptop has said who is signed in
	if got := eval[string](sheet.tab, `document.querySelector("form[data-waits]").elements.note.value`); got != "half typed" {
		t.Errorf("the note holds %q", got)
	}
}

// TestCoverWithoutCaches: where the browser keeps no pages, the cover is lifted
// by the password, and what waits is delivered.
func TestCoverWithoutCaches(t *testing.T) {
	l := askingLaptop(t)
	x := openTablet(t, l.base, "").beside(noWorker + ";" + noCaches)
	x.visit(l.sheetOf(1))
	x.givesPassword()
	x.until(`location.pathname === ` + quoted(l.sheetOf(1)) + ` && document.readyState === "complete"`)
	x.fill("hours", "150.0")
	x.fill(l.cell(1), "5.2511")
	x.do(chromedp.Evaluate[chromedp.Void](idle))
	x.until(covered)
	x.do(chromedp.SendKeys(chromedp.CSS("#cover-password"), ownersWords+"\r"))
	x.until("!" + covered)
	l.stop()
	x.until(`(document.querySelector("[data-save]").click(), true)`)
	x.until(inOutbox + `.then((n) => n === 1)`)
	l.start()
	x.do(chromedp.Evaluate[chromedp.Void](`window.dispatchEvent(new Event("online"))`))
	x.delivered()
	wantSheets(t, l, 1, "5.2511")
}

// TestHandOverWithoutWorker: in a browser without a worker a hand-over in reach
// covers the other tabs too.
func TestHandOverWithoutWorker(t *testing.T) {
	l := askingLaptop(t)
	first := openTablet(t, l.base, "")
	x, sheet := first.beside(noWorker), first.beside(noWorker)
	x.visit("/engines")
	x.givesPassword()
	x.until(`location.pathname === "/engines" && document.readyState === "complete"`)
	sheet.visit(l.sheetOf(1))
	sheet.fill(l.cell(1), "5.2511")
	x.handsOver()
	sheet.until(covered)
	sheet.until(`(document.querySelector("[data-save]").click(), true)`)
	sheet.until(inOutbox + `.then((n) => n === 0)`)
}
