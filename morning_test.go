package main

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestMorning leads a mechanic's first morning through the browser, from the
// first owner of an empty book to the record for the inspector: an engine, its limits, a
// position with its parts, the history of the other eight from a file, and two
// sheets months apart, of which the second shows a barrel that wears like a
// much older one. All numbers are invented.
func TestMorning(t *testing.T) {
	tab := openTab(t, serveTest(t, temporaryBook(t)))
	tab.open("/")
	tab.see("Whose book is this?")
	tab.fill("name", "mechanic 1")
	tab.fill("password", "quiet lamp under stairs")
	tab.press("Make the book mine", http.StatusOK)
	tab.see("Welcome, mechanic 1", "The book is empty")
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
	tab.enter("who", "") // who is signed in stands there
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
	answer, err := tab.get(path)
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
		tab.press("Acknowledge", http.StatusOK)
		tab.see("The finding was acknowledged")
	}
	tab.see("Acknowledged (", "No part wears faster than normal")
	tab.do(chromedp.Click(chromedp.CSS("details.seen > summary")))
	tab.see("new rings ordered", "mechanic 1")
	tab.press("Fleet", http.StatusOK)
	tab.see("R9-2041", "none")
}
