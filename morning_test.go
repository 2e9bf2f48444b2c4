package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"barrelbook/server"
	"barrelbook/store"
)

// TestMorning leads a mechanic's first morning through the browser, from an
// empty book to the record for the inspector: an engine, its limits, a
// position with its parts, the history of the other eight from a file, and two
// sheets months apart, of which the second shows a barrel that wears like a
// much older one. All numbers are invented.
func TestMorning(t *testing.T) {
	tab := openTab(t, serveTest(t, temporaryBook(t)))
	tab.open("/")
	tab.see("The book is empty")
	tab.press("Make the first engine", http.StatusOK)
	makeEngine(tab)
	typeLimits(tab)
	installStack(tab, 3)
	importOthers(tab)
	firstSheet(tab)
	secondSheet(tab)
	readPart(tab)
	readRecord(tab)
	acknowledge(tab)
}

// daysAgo is a day as a date field takes it.
func daysAgo(n int) string { return time.Now().UTC().AddDate(0, 0, -n).Format(time.DateOnly) }

func makeEngine(tab *tab) {
	tab.fill("serial", "R9-2041")
	tab.fill("model", "Corvane 9")
	tab.choose("arrangement", "radial")
	tab.fill("cylinders", "9")
	tab.fill("master_rod", "5")
	tab.fill("aircraft", "QQ-CRV")
	tab.fill("hours", "1240.0")
	tab.set("day", daysAgo(600))
	tab.press("Make the engine", http.StatusOK)
	tab.see("Engine R9-2041 is in the book", "1,240.0 h", "radial")
	if n := eval[int](tab, `document.querySelectorAll("svg.plan-wide .plan-tag").length`); n != 9 {
		tab.t.Errorf("the plan of the engine shows %d positions, want 9", n)
	}
}

func typeLimits(tab *tab) {
	for _, limit := range []map[string]string{
		{"new_min": "5.2490", "new_max": "5.2510", "service_max": "5.2600", "life": "1400"},
		{"groove": "1", "new_min": "0.0040", "new_max": "0.0060", "service_max": "0.0120", "life": "1400"},
	} {
		tab.press("Limits", http.StatusOK)
		tab.press("Type a limit", http.StatusOK)
		feature := "barrel bore"
		if limit["groove"] != "" {
			feature = "side clearance"
		}
		tab.pick("feature", feature)
		for name, value := range limit {
			tab.fill(name, value)
		}
		tab.fill("document", "Invented overhaul manual")
		tab.fill("revision", "7")
		tab.fill("page", "12")
		tab.press("Save the limit", http.StatusOK)
		tab.see("The limit was saved", feature)
	}
	tab.see("5.2600", "0.0120", "Invented overhaul manual")
}

// installStack fits a whole position 150 days ago, at 1900.0 h.
func installStack(tab *tab, position int) {
	tab.press("Engines", http.StatusOK)
	tab.press("R9-2041", http.StatusOK)
	tab.open(eval[string](tab, fmt.Sprintf(`document.querySelectorAll("table.positions tbody th a")[%d].pathname`, position-1)))
	tab.press("Install what is missing", http.StatusOK)
	tab.set("day", daysAgo(150))
	tab.fill("hours", "1900.0")
	for name, serial := range map[string]string{"cylinder": "C-93", "piston": "P-93", "ring-1": "R-93-1", "ring-2": "R-93-2", "ring-3": "R-93-3", "pin": "N-93"} {
		tab.set("from-"+name, "new")
		tab.fill("serial-"+name, serial)
	}
	tab.press("Save what was fitted", http.StatusOK)
	tab.see("6 parts installed at position 3", "C-93", "R-93-3")
}

// importOthers brings in what the shop had measured at the other positions
// before it had the book: one file with a mistake, then the mended one.
func importOthers(tab *tab) {
	dir := tab.t.TempDir()
	bad, good := filepath.Join(dir, "history.csv"), filepath.Join(dir, "mended.csv")
	history := othersHistory()
	for path, text := range map[string]string{bad: strings.Replace(history, "5.2503", "5.25O3", 1), good: history} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			tab.t.Fatal(err)
		}
	}
	tab.press("Import", http.StatusOK)
	tab.upload("files", bad)
	tab.press("See what would happen", http.StatusUnprocessableEntity)
	tab.see("Nothing can be imported from these files", "5.25O3")
	tab.upload("files", good)
	tab.press("See what would happen", http.StatusOK)
	tab.see("This is what would happen", "C-91")
	tab.press("Import for real", http.StatusOK)
	tab.see("Done. This is what the book took in")
}

// othersHistory is a history file of eight normal barrels: fitted 560 days ago
// at 1300.0 h, measured then and three times since.
func othersHistory() string {
	var b strings.Builder
	b.WriteString("date,engine_model,engine,engine_hours,position,kind,serial,event,feature,station,axis,value,unit,gauge_sd\n")
	worn := []float64{0, 0.9, 1.6, 2.3} // thousandths, of a barrel in the middle
	part := []float64{0.8, 1.1, 0.95, 1.25, 1, 0.85, 1.15, 1.05}
	for i, factor := range part {
		position := i + 1
		if position >= 3 {
			position++
		}
		for visit, w := range worn {
			row := fmt.Sprintf("%s,Corvane 9,R9-2041,%d,%d,cylinder,C-9%d", daysAgo(560-120*visit), 1300+200*visit, position, position)
			if visit == 0 {
				fmt.Fprintf(&b, "%s,installed,,,,,,\n", row)
			}
			for axis, more := range map[string]float64{"thrust": 0.1, "pin": -0.1} {
				bore := 5.2500 + 0.0001*float64(i) + (w*factor+more*w)/1000
				fmt.Fprintf(&b, "%s,reading,barrel bore,top,%s,%.4f,in,0.0002\n", row, axis, bore)
			}
		}
	}
	return b.String()
}

// firstSheet is typed by keyboard alone, from the meter on: Enter leads from
// field to field and from number to number, in every way of writing a size.
func firstSheet(tab *tab) {
	tab.press("Engines", http.StatusOK)
	tab.press("R9-2041", http.StatusOK)
	tab.open(eval[string](tab, `document.querySelectorAll("table.positions tbody tr")[2].querySelector("td.act a").pathname`))
	tab.see("Cylinder C-93", "5.2490 to 5.2510", "first time")
	tab.set("day", daysAgo(150))
	tab.focus("hours")
	tab.enter("hours", "1900.0")
	tab.enter("who", "mechanic 1")
	tab.enter("gauge", "")
	tab.enter("temperature", "20.5")
	tab.enter("unit", "")
	tab.enter("mode", "")
	bore := tab.cells("Barrel bore")
	tab.focus(bore[0])
	tab.enter(bore[0], "5.2502")
	tab.enter(bore[1], "+1.4")
	tab.enter(bore[2], "5.25O1") // the letter O
	tab.enter(bore[3], "5.2500")
	clearance := tab.cells("Side clearance")
	tab.focus(clearance[0])
	tab.enter(clearance[0], "+1.2")
	tab.press("Save the sheet", http.StatusUnprocessableEntity)

	tab.see("Nothing was saved")
	if at := tab.active(); at != bore[2] {
		tab.t.Errorf("after a bad number the keyboard is at %q, want the cell %q", at, bore[2])
	}
	wrong := eval[[]string](tab, `[...document.querySelectorAll("[aria-invalid=true]")].map(e => e.name)`)
	if len(wrong) != 1 || wrong[0] != bore[2] {
		tab.t.Errorf("marked as wrong are %q, want %q alone", wrong, bore[2])
	}
	for name, typed := range map[string]string{"hours": "1900.0", "who": "mechanic 1", "day": daysAgo(150), bore[0]: "5.2502", bore[1]: "+1.4", bore[2]: "5.25O1", clearance[0]: "+1.2"} {
		if got := eval[string](tab, `document.forms[0].elements[`+quoted(name)+`].value`); got != typed {
			tab.t.Errorf("after a bad number %s holds %q, want what was typed, %q", name, got, typed)
		}
	}
	tab.shoot("sheet-refused")
	tab.enter(bore[2], "5.2501") // the cell is selected: typing replaces it
	tab.press("Save the sheet", http.StatusOK)
	tab.see("The sheet was saved", "5.2504", "typed +1.4", "5.2501", "0.0052", "new")
}

// secondSheet is a dial gauge's, 61 hours on.
func secondSheet(tab *tab) {
	tab.open(eval[string](tab, `document.querySelector(".result-part h2 a").pathname`))
	tab.press("Measure", http.StatusOK) // the part's own sheet
	tab.set("day", daysAgo(20))
	tab.focus("hours")
	tab.enter("hours", "1961.0")
	if at := tab.active(); at != "who" {
		tab.t.Errorf("after the hours the keyboard is at %q, want who measured", at)
	}
	tab.choose("mode", "dial")
	tab.set(tab.name(`input[name^="s-"]`), "5.2500")
	bore := tab.cells("Barrel bore")
	tab.focus(bore[0])
	tab.enter(bore[0], "4.4")
	tab.enter(bore[1], "4.1")
	if at := tab.active(); at != bore[2] {
		tab.t.Errorf("Enter led to %q, want the next number %q", at, bore[2])
	}
	tab.press("Save the sheet", http.StatusOK)
	tab.see("The sheet was saved", "5.2544", "5.2541", "typed 4.4", "serviceable", "flagged", "61 h since installation")
}

func readPart(tab *tab) {
	tab.press("Findings", http.StatusOK)
	tab.see("Wearing faster than normal", "Cylinder C-93", "61 h since installation, worn like", "times a normal part", "First step to consider")
	tab.press("Cylinder C-93", http.StatusOK)
	tab.see("61 h since installation, worn like")
	if n := eval[int](tab, `document.querySelectorAll("svg.chart-wide .chart-dot").length`); n < 2 {
		tab.t.Errorf("the wear chart shows %d readings, want both", n)
	}
	if eval[bool](tab, `document.querySelector("#worked").open`) {
		tab.t.Error("how it was worked out is open before anybody asked")
	}
	tab.do(chromedp.Click(chromedp.CSS("#worked > summary")))
	tab.see("What a normal part wears", "What the program cannot know", "Cylinder C-91", "Cylinder C-99")
	tab.shoot("worked")
}

// readRecord opens the part's record as an inspector gets it.
func readRecord(tab *tab) {
	path := eval[string](tab, `[...document.querySelectorAll(".record-links a")].find(a => a.innerText === "PDF").pathname`)
	answer, err := http.Get(tab.base + path)
	if err != nil {
		tab.t.Fatal(err)
	}
	defer answer.Body.Close()
	paper, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK || !bytes.HasPrefix(paper, []byte("%PDF-")) {
		tab.t.Fatalf("record %s: status %d, %d bytes that begin %.8q (%v)", path, answer.StatusCode, len(paper), paper, err)
	}
	reader, err := exec.LookPath("pdftotext")
	if err != nil {
		tab.t.Log("no pdftotext: the text of the record is not looked at")
		return
	}
	read := exec.CommandContext(tab.t.Context(), reader, "-layout", "-", "-")
	read.Stdin = bytes.NewReader(paper)
	text, err := read.Output()
	if err != nil {
		tab.t.Fatalf("read the record: %v", err)
	}
	flat := strings.Join(strings.Fields(string(text)), " ")
	for _, want := range []string{"C-93", "R9-2041", "61 h since installation, worn like", "5.2544", "Invented overhaul manual", "not a release to service", "43.9", "Date", "Signature", "Certificate number", "page 1 of"} {
		if !strings.Contains(strings.ToLower(flat), strings.ToLower(want)) {
			tab.t.Errorf("the record does not say %q", want)
		}
	}
}

func acknowledge(tab *tab) {
	tab.press("Findings", http.StatusOK)
	for eval[bool](tab, `document.querySelector("main section .finding .actions a") !== null`) {
		tab.open(eval[string](tab, `document.querySelector("main section .finding .actions a").pathname`))
		tab.press("Acknowledge", http.StatusUnprocessableEntity)
		tab.see("Nothing was saved")
		tab.fill("reason", "Measured again with another gauge; new rings ordered.")
		tab.fill("who", "mechanic 1")
		tab.press("Acknowledge", http.StatusOK)
		tab.see("The finding was acknowledged")
	}
	tab.see("Acknowledged (", "No part wears faster than normal")
	tab.do(chromedp.Click(chromedp.CSS("details.seen > summary")))
	tab.see("new rings ordered", "mechanic 1")
	tab.press("Fleet", http.StatusOK)
	tab.see("R9-2041", "none")
}

// tab is a tab of the browser on a server of a book. Whatever goes wrong ends
// the test.
type tab struct {
	t    *testing.T
	ctx  context.Context
	base string
}

// serveTest serves a book until the test ends, and returns its address. What
// the server logs fails the test.
func serveTest(t *testing.T, book *store.Book) string {
	t.Helper()
	answers := server.New(book, slog.New(slog.NewTextHandler(&failing{t}, nil)))
	background, stop := context.WithCancel(context.Background())
	answers.Run(background)
	web := httptest.NewServer(answers.Handler())
	t.Cleanup(func() {
		web.Close()
		stop()
		answers.Wait()
		if err := answers.Close(); err != nil {
			t.Error(err)
		}
	})
	return web.URL
}

// openTab opens a tab of a laptop's width for the pages at base.
func openTab(t *testing.T, base string) *tab {
	t.Helper()
	b := &tab{t, browser(t, base), base}
	b.do(emulateScreen(1366, "light"))
	return b
}

// failing fails a test for each line that is written to it.
type failing struct{ t *testing.T }

func (f *failing) Write(line []byte) (int, error) {
	f.t.Errorf("the server logs: %s", line)
	return len(line), nil
}

// stepLimit ends a step that waits for what never comes.
const stepLimit = 30 * time.Second

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, stepLimit)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

func (b *tab) open(path string) {
	b.t.Helper()
	answer, err := chromedp.Run(b.ctx, chromedp.NavigateResponse(b.base+path))
	if err != nil || answer.Status != http.StatusOK {
		b.t.Fatalf("open %s: %+v (%v)", path, answer, err)
	}
}

// press clicks the first link or button that is seen and says this, those of
// the page before those of the navigation, and waits for where it leads.
func (b *tab) press(text string, status int64) {
	b.t.Helper()
	const mark = `["main a:not(svg a), main button", ".wide-nav a"].flatMap(s => [...document.querySelectorAll(s)]).some(e =>
		e.checkVisibility() && e.innerText.split("\n")[0].trim() === %s && (e.setAttribute("data-press", ""), true))`
	if !eval[bool](b, fmt.Sprintf(mark, quoted(text))) {
		b.t.Fatalf("there is no link or button %q on %s", text, eval[string](b, "location.pathname"))
	}
	answer, err := chromedp.RunResponse(b.ctx, chromedp.Click(chromedp.CSS("[data-press]")))
	if err != nil {
		b.t.Fatalf("press %q: %v", text, err)
	}
	if answer.Status != status {
		b.t.Fatalf("press %q: status %d, want %d; the page says %s", text, answer.Status, status, eval[string](b, `document.querySelector("main").innerText.slice(0, 600)`))
	}
}

func field(name string) chromedp.CSS { return chromedp.CSS(`[name=` + quoted(name) + `]`) }

func quoted(s string) string { return fmt.Sprintf("%q", s) }

func (b *tab) fill(name, text string) { b.t.Helper(); b.do(chromedp.SendKeys(field(name), text)) }

// set puts a value into a field without the keyboard: a date is typed in the
// order of the machine's language.
func (b *tab) set(name, value string) { b.t.Helper(); b.do(chromedp.SetValue(field(name), value)) }

func (b *tab) upload(name, path string) {
	b.t.Helper()
	b.do(chromedp.SetUploadFiles(field(name), []string{path}))
}

func (b *tab) choose(name, value string) {
	b.t.Helper()
	b.do(chromedp.Click(chromedp.CSS(`input[name=` + quoted(name) + `][value=` + quoted(value) + `]`)))
}

// pick selects the option of a select that says this.
func (b *tab) pick(name, text string) {
	b.t.Helper()
	b.set(name, eval[string](b, `[...document.querySelector("select[name=`+name+`]").options].find(o => o.text === `+quoted(text)+`).value`))
}

func (b *tab) focus(name string) { b.t.Helper(); b.do(chromedp.Focus(field(name))) }

// enter types at the keyboard, which must be at the named field, and presses
// Enter.
func (b *tab) enter(name, text string) {
	b.t.Helper()
	if at := b.active(); at != name {
		b.t.Fatalf("the keyboard is at %q, want %q", at, name)
	}
	b.do(chromedp.KeyEvent(text + kb.Enter))
}

func (b *tab) active() string { return eval[string](b, "document.activeElement.name ?? ''") }

func (b *tab) name(selector string) string {
	return eval[string](b, "document.querySelector("+quoted(selector)+").name")
}

// cells are the names of the fields of a feature on a sheet, in their order.
func (b *tab) cells(feature string) []string {
	return eval[[]string](b, `[...document.querySelectorAll(".sheet-block")].find(s => s.querySelector("h3").innerText.startsWith(`+quoted(feature)+`)).querySelectorAll("input[data-cell]").values().map(e => e.name).toArray()`)
}

// see wants words on the page.
func (b *tab) see(words ...string) {
	b.t.Helper()
	said := eval[string](b, `document.querySelector("main").innerText`)
	for _, want := range words {
		if !strings.Contains(said, want) {
			b.t.Fatalf("%s does not say %q but:\n%.2000s", eval[string](b, "location.pathname"), want, said)
		}
	}
}

// shoot draws the page as it stands, where pictures are wanted.
func (b *tab) shoot(name string) {
	if os.Getenv("BARRELBOOK_SHOTS") != "" {
		screenshot(b.t, b.ctx, name, 360, "dark")
		screenshot(b.t, b.ctx, name, 1366, "light")
		b.do(emulateScreen(1366, "light"))
	}
}

func eval[T any](b *tab, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
	return v
}
