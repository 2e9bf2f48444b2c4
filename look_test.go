package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"barrelbook/store"
	"barrelbook/wear"
)

// TestPagesLook visits a page of every kind in the demo book and in an empty
// one, on a phone, a tablet and a laptop. None may be wider than the screen,
// lack its one h1 or the name of a field, use an element's id twice, or have a
// target too small for a thumb; the browser must have nothing to complain of.
// With BARRELBOOK_SHOTS each page is drawn as well, in both themes and on
// paper.
func TestPagesLook(t *testing.T) {
	demo, empty := temporaryBook(t), temporaryBook(t)
	if err := fillDemo(t.Context(), demo, demo.Today()); err != nil {
		t.Fatal(err)
	}
	addOwner(t, empty)
	lookAt(t, "demo", demo, demoPages(t, demo))
	lookAt(t, "empty", empty, emptyPages())
}

func temporaryBook(t *testing.T) *store.Book {
	t.Helper()
	book := got[*store.Book](t)(store.OpenTemporary(t.Context()))
	t.Cleanup(func() {
		if err := book.Close(); err != nil {
			t.Error(err)
		}
	})
	return book
}

// lookAt looks at pages of a book, a few in each browser: drawing them takes
// its time.
func lookAt(t *testing.T, name string, book *store.Book, pages []look) {
	base, source := serveTest(t, book), axeSource(t)
	for some := range slices.Chunk(pages, 16) {
		t.Run(name+", "+some[0].name+" and on", func(t *testing.T) {
			tab := openTab(t, base)
			for _, page := range some {
				tab.open(page.path)
				for _, width := range []int64{360, 768, 1366} {
					tab.do(emulateScreen(width, "light"))
					for _, fault := range eval[[]string](tab, lookFaults) {
						t.Errorf("%s (%s) at %d px: %s", page.name, page.path, width, fault)
					}
				}
				if source != "" {
					tab.judge(page, source)
				}
				tab.draw(page.name)
			}
		})
	}
}

// look is a page to look at.
type look struct{ name, path string }

func emptyPages() []look {
	var pages []look
	for _, path := range []string{"/", "/findings", "/measure", "/parts", "/engines", "/limits", "/record"} {
		pages = append(pages, look{"empty" + strings.ReplaceAll(path, "/", "-"), path})
	}
	return pages
}

// demoPages finds in the demo book what each kind of page can show.
func demoPages(t *testing.T, book *store.Book) []look {
	t.Helper()
	ctx := t.Context()
	radials := only(book.EnginesBySerial(ctx, "R9-0417"))(t)
	flats := only(book.EnginesBySerial(ctx, "F6-1120"))(t)
	abnormal := only(book.PartsNamed(ctx, wear.Cylinder, abnormalBarrel))(t)
	worn := only(book.PartsNamed(ctx, wear.Piston, wornPiston))(t)
	ground := only(book.PartsNamed(ctx, wear.Cylinder, groundBarrel))(t)
	misread := only(book.PartsNamed(ctx, wear.Cylinder, misreadBarrel))(t)
	ring := only(book.PartsNamed(ctx, wear.Ring, heavyRing))(t)
	shelf := firstOf(t, func() ([]store.PartRow, error) {
		parts, _, err := book.Parts(ctx, store.PartFilter{Status: "on shelf", Limit: 1})
		return parts, err
	})
	finding := firstOf(t, func() ([]store.Finding, error) { return book.FastWear(ctx) })
	reading := firstOf(t, func() ([]store.Reading, error) { return book.ReadingsOf(ctx, abnormal.ID) })
	corrected := firstOf(t, func() ([]store.Reading, error) {
		all, err := book.ReadingsOf(ctx, misread.ID)
		var struck []store.Reading
		for _, r := range all {
			if r.Struck {
				struck = append(struck, r)
			}
		}
		return struck, err
	})
	stay := firstOf(t, func() ([]store.Stay, error) { return book.StaysOf(ctx, abnormal.ID) })
	meter := firstOf(t, func() ([]store.MeterEntry, error) { return book.Meter(ctx, radials.ID) })
	limit := firstOf(t, func() ([]store.LimitRow, error) {
		ls, err := book.LimitsOf(ctx, radials.Model.ID, "")
		return ls.Rows, err
	})
	leak := firstOf(t, func() ([]store.LeakReading, error) { return book.LeakReadingsOn(ctx, radials.ID) })
	gauge := firstOf(t, func() ([]store.Gauge, error) { return book.Gauges(ctx) })

	engine := func(e store.Engine, rest string) string { return fmt.Sprintf("/engines/%d%s", e.ID, rest) }
	part := func(id int64, rest string) string { return fmt.Sprintf("/parts/%d%s", id, rest) }
	return []look{
		{"fleet", "/"},
		{"fleet-search", "/?q=nothing"},
		{"findings", "/findings?all=1"},
		{"acknowledge", fmt.Sprintf("/findings/%d/acknowledge", finding.Series)},
		{"engines", "/engines"},
		{"engine-new", "/engines/new"},
		{"engine-radial", engine(radials, "")},
		{"engine-flat", engine(flats, "")},
		{"engine-edit", engine(radials, "/edit")},
		{"meter", engine(radials, "/meter")},
		{"meter-correct", engine(radials, fmt.Sprintf("/meter/%d/correct", meter.Root))},
		{"crank", engine(radials, "/crank?at=3&angle=40&lean=4")},
		{"crank-flat", engine(flats, "/crank")},
		{"rods", fmt.Sprintf("/models/%d/rods", radials.Model.ID)},
		{"match", engine(radials, "/match?spread=20")},
		{"match-none", engine(flats, "/match?spread=0.001")},
		{"compared-with", fmt.Sprintf("/features/%d/group", limit.Feature)},
		{"leak-list", engine(radials, "/leak")},
		{"leak-list-none", engine(flats, "/leak")},
		{"leak-new", engine(radials, "/leak/new")},
		{"leak-test", fmt.Sprintf("/leaktests/%d", leak.Test.Root)},
		{"leak-correct", fmt.Sprintf("/leaktests/%d/correct", leak.Test.Root)},
		{"leak-reading-correct", fmt.Sprintf("/leakreadings/%d/correct", leak.Root)},
		{"leak-rule", fmt.Sprintf("/models/%d/leak", radials.Model.ID)},
		{"part-leak", part(leak.Part, "")},
		{"position", engine(radials, fmt.Sprintf("/positions/%d", stay.Position))},
		{"install-stack", engine(radials, "/positions/4/install")},
		{"parts", "/parts"},
		{"parts-search", "/parts?q=C-1&kind=cylinder"},
		{"part-new", "/parts/new"},
		{"part-abnormal", part(abnormal.ID, "")},
		{"part-beyond", part(worn.ID, "")},
		{"part-ground", part(ground.ID, "")},
		{"part-ring", part(ring.ID, "")},
		{"ring-compare", part(ring.ID, "/compare")},
		{"ring-typed", part(ring.ID, "/compare?force=44&width=0.0930&bore=5.5")},
		{"ring-missing", part(ring.ID, "/compare?with=&serial=R-190-1")},
		{"regroove", part(worn.ID, "/regroove?groove=1")},
		{"regroove-worked", part(worn.ID, "/regroove?groove=1&groove_width=0.1050&clearance_min=0.0035&clearance_max=0.0050&above=0.150&above_min=0.140&below=0.120&rings=0.010+over+%3D+0.1030+to+0.1035,+60+N%0A0.040+over+%3D+0.1330")},
		{"facings", "/facings"},
		{"part-shelf", part(shelf.ID, "")},
		{"part-edit", part(abnormal.ID, "/edit")},
		{"part-event", part(shelf.ID, "/events")},
		{"part-scrap", part(shelf.ID, "/scrap")},
		{"part-install", part(shelf.ID, "/install")},
		{"part-remove", part(abnormal.ID, "/remove")},
		{"strike", fmt.Sprintf("/installations/%d/strike", stay.ID)},
		{"measure", "/measure"},
		{"measure-position", fmt.Sprintf("/measure/engine/%d/%d", radials.ID, stay.Position)},
		{"measure-part", fmt.Sprintf("/measure/part/%d", shelf.ID)},
		{"sheet", fmt.Sprintf("/sheets/%d", reading.Sheet.ID)},
		{"sheet-corrected", fmt.Sprintf("/sheets/%d", corrected.Sheet.ID)},
		{"reading-correct", fmt.Sprintf("/readings/%d/correct", corrected.Root)},
		{"limits", "/limits"},
		{"limit-new", fmt.Sprintf("/limits/new?model=%d", radials.Model.ID)},
		{"limit-version", fmt.Sprintf("/limits/new?from=%d", limit.ID)},
		{"limit-history", fmt.Sprintf("/limits/%d/history", limit.ID)},
		{"features", "/features"},
		{"gauges", "/gauges"},
		{"gauge-change", fmt.Sprintf("/gauges?id=%d", gauge.ID)},
		{"plan", fmt.Sprintf("/models/%d", radials.Model.ID)},
		{"settings", "/settings"},
		{"audit", "/audit"},
		{"wording", "/settings/wording"},
		{"job-ended", "/jobs/1/close"},
		{"job-close", "/jobs/2/close"},
		{"job-entry", "/jobs/1/entry?inspection=yes"},
		{"job-tags", "/jobs/1/tags"},
		{"part-tag", part(abnormal.ID, "/tag")},
		{"import", "/import"},
		{"people", "/people"},
		{"person", fmt.Sprintf("/people/%d", firstOf(t, func() ([]store.Person, error) { return book.People(ctx) }).ID)},
		{"me", "/me"},
		{"sign-in", "/sign-in"},
		{"record", "/record"},
		{"tablets", "/tablets"},
		{"waiting", "/waiting"},
	}
}

// only is the one thing that a name finds.
func only[T any](all []T, err error) func(t *testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		if err != nil || len(all) != 1 {
			t.Fatalf("found %d in the demo book, want one (%v)", len(all), err)
		}
		return all[0]
	}
}

func firstOf[T any](t *testing.T, find func() ([]T, error)) T {
	t.Helper()
	all, err := find()
	if err != nil || len(all) == 0 {
		t.Fatalf("found none in the demo book (%v)", err)
	}
	return all[0]
}

// lookFaults lists what is wrong with the looks of a page. A target is 44 CSS
// pixels high (WCAG 2.2, 2.5.5), save for links within text or a table's line,
// and for what cannot be seen or is reached through its label.
const lookFaults = `(() => {
	const faults = [], all = (s, from = document) => [...from.querySelectorAll(s)];
	const wide = document.documentElement.scrollWidth;
	if (wide > innerWidth) {
		const widest = all("main *").filter(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".scroll"));
		faults.push("is " + wide + " px wide: " + (widest[0]?.outerHTML ?? "").slice(0, 120));
	}
	const heads = all("h1").length;
	if (heads !== 1) faults.push("has " + heads + " h1");
	const ids = all("[id]").map(e => e.id);
	for (const id of new Set(ids.filter((id, i) => ids.indexOf(id) !== i))) faults.push("uses the id " + id + " twice");
	const seen = e => e.checkVisibility({ visibilityProperty: true }) && e.getBoundingClientRect().width > 1;
	for (const e of all("input:not([type=hidden]), select, textarea")) {
		if (!(e.labels?.length && e.labels[0].textContent.trim())) faults.push("has no label for " + e.name);
	}
	for (const e of all("a[href], button, input:not([type=hidden]), select, textarea, summary")) {
		if (!seen(e) || e.closest("svg, .skip")) continue;
		const target = e.matches("[type=radio], [type=checkbox]") ? e.closest("label, .check") : e;
		const inText = e.tagName === "A" && (getComputedStyle(e).display === "inline" || e.closest("td, th"));
		const high = target.getBoundingClientRect().height;
		if (!inText && high < 43.9) faults.push("has a target of " + Math.round(high) + " px: " + e.outerHTML.slice(0, 100));
	}
	return faults;
})()`

// draw takes pictures of the page, where they are wanted: both themes, three
// widths and paper.
func (b *tab) draw(name string) {
	dir := os.Getenv("BARRELBOOK_SHOTS")
	if dir == "" {
		return
	}
	for _, width := range []int64{360, 768, 1366} {
		for _, theme := range []string{"light", "dark"} {
			screenshot(b.t, b.ctx, name, width, theme)
		}
	}
	if !strings.HasPrefix(name, "part-") && !strings.HasPrefix(name, "position") {
		return
	}
	paper, err := chromedp.Run(b.ctx, chromedp.PrintToPDF())
	if err != nil {
		b.t.Fatalf("print %s: %v", name, err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".pdf"), paper, 0o600); err != nil {
		b.t.Fatal(err)
	}
}
