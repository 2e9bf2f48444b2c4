package main

import (
	"fmt"
	"os"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
)

// axeSource is axe-core's script, from the file that BARRELBOOK_AXE names;
// testdata/axe says which version. Empty where it is not named: then pages are
// not judged by it, and the test says so. .ci/run fetches it with npm; where that
// cannot be done it warns, and the gate goes on without it.
func axeSource(t *testing.T) string {
	t.Helper()
	axe.Do(func() {
		file := os.Getenv("BARRELBOOK_AXE")
		if file == "" {
			return
		}
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatalf("read axe-core: %v", err)
		}
		axe.text = string(text)
	})
	if axe.text == "" {
		t.Log("accessibility was not judged: BARRELBOOK_AXE names no axe.min.js")
	}
	return axe.text
}

var axe struct {
	sync.Once
	text string
}

// axeFaults lists what axe-core finds wrong with the page of a tab, as it
// stands: WCAG 2.2, levels A and AA, and what axe-core calls best practice.
func axeFaults(b *tab, source string) []string {
	b.t.Helper()
	const run = `axe.run(document, {resultTypes: ["violations"]}).then(r => r.violations.map(v =>
		v.id + ": " + v.help + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(" | ")))`
	eval[bool](b, source+"\n;true")
	faults, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](run, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("run axe-core: %v", err)
	}
	return faults
}

// judge has axe-core look at the page in both themes, on a laptop and on a phone.
func (b *tab) judge(page look, source string) {
	b.t.Helper()
	for _, width := range []int64{1366, 360} {
		for _, theme := range []string{"light", "dark"} {
			b.do(emulateScreen(width, theme))
			for _, fault := range axeFaults(b, source) {
				b.t.Errorf("%s (%s), %d px, %s: %s", page.name, page.path, width, theme, fault)
			}
		}
	}
}

// judgeNow has axe-core look at the page as it stands in the middle of another
// test, where there is one.
func (b *tab) judgeNow(name string) {
	b.t.Helper()
	if source := axeSource(b.t); source != "" {
		b.judge(look{name: name, path: eval[string](b, "location.pathname")}, source)
	}
}

// TestAxeFindsFaults: the judge of the other tests is awake.
func TestAxeFindsFaults(t *testing.T) {
	source := axeSource(t)
	if source == "" {
		t.Skip("no axe-core")
	}
	tab := openTab(t, serveTest(t, temporaryBook(t)))
	tab.open("/gauges")
	if faults := axeFaults(tab, source); len(faults) > 0 {
		t.Errorf("before: %v", faults)
	}
	eval[bool](tab, `document.querySelector("main").insertAdjacentHTML("beforeend", "<img src=/favicon.ico><input>"), true`)
	if faults := axeFaults(tab, source); len(faults) < 2 {
		t.Errorf("an image without words and a field without a label: %v", fmt.Sprint(faults))
	}
}
