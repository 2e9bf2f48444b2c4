package server

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// wholeJob is a job of the filled book from its opening to its closing: at
// position 1 the pin goes back, the piston is scrapped and another goes on, the
// cylinder is honed; the master-rod cylinder at 5 came off before it, with a
// reason. Missing parts of both stacks are new.
func (b *filled) wholeJob(t *testing.T) store.Job {
	t.Helper()
	ctx := context.Background()
	id := must[int64](t)(b.OpenJob(ctx, store.NewJob{Job: store.Job{Engine: b.engine.ID, Why: "top overhaul", Detail: "Oil use on two cylinders.", Day: "2025-02-01", Stands: 5, Who: "A. Smith"},
		Shows: ptr(wear.Hours(60_000)), Positions: []int{1, 5}, Steps: []store.JobStep{{Phase: "after", Text: "ground run"}}}))
	say := func(e store.JobEntry) {
		t.Helper()
		e.Job, e.Who = id, "A. Smith"
		must[int64](t)(b.AddJobEntry(ctx, e, 1<<40))
	}
	decide := func(part int64, disposition, reason string) {
		t.Helper()
		ok(t, b.Decide(ctx, store.Decision{Job: id, Part: part, Position: 1, Disposition: disposition, Reason: reason, Entry: store.JobEntry{Day: "2025-02-02", Who: "C. Brown"}}, "", 1<<40))
	}
	say(store.JobEntry{Kind: store.JobPulled, Position: 5, Day: "2025-02-01", Despite: "rod held by the maker's tool"})
	say(store.JobEntry{Kind: store.JobPulled, Position: 1, Day: "2025-02-01", Despite: "same tool"})
	say(store.JobEntry{Kind: store.JobNote, Position: 1, Text: "ring land chipped"})
	piston := b.number(t, b.piston, wear.Piston, "side clearance", "0.01150")
	piston.Groove = 2
	bore := b.number(t, b.cylinders[0], wear.Cylinder, "barrel bore", "5.2512")
	bore.Station, bore.Axis = "top", "thrust"
	b.save(t, "2025-02-02", 60_000, 1, piston, bore, b.number(t, b.pin, wear.Pin, "pin diameter", "1.1247"))
	decide(b.piston, "scrap", "side clearance beyond its limit")
	decide(b.cylinders[0], "hone", "glazed")
	decide(b.pin, "reuse", "inside its limits")
	ok(t, b.AddMark(ctx, b.cylinders[0], wear.Mark{Event: wear.Honed, Day: "2025-02-03"}, "shop order 12"))
	b.fillPlaces(t, id)
	say(store.JobEntry{Kind: store.JobRefitted, Position: 5, Day: "2025-02-05", Despite: "crank held"})
	say(store.JobEntry{Kind: store.JobRefitted, Position: 1, Day: "2025-02-05"})
	ok(t, b.RefitJob(ctx, id, "2025-02-05", 60_010, "A. Smith", "", 1<<40))
	must[int64](t)(b.SaveLeakTest(ctx, store.NewLeakTest{LeakTest: store.LeakTest{Engine: b.engine.ID, Day: "2025-02-06", Regulated: 800, Orifice: wear.LargeOrifice, Unit: wear.Inch, Gauge: b.tester}, Shows: ptr(wear.Hours(60_020)), Readings: []store.NewLeakReading{{Position: 1, Reading: 760}}}))
	ok(t, b.CloseJob(ctx, id, "2025-02-07", "position 5 is tested after the first flight", "C. Brown", "", 1<<40))
	return must[store.Job](t)(b.Job(ctx, id))
}

// fillPlaces places a new part wherever the job would leave a place empty.
func (b *filled) fillPlaces(t *testing.T, job int64) {
	t.Helper()
	fit := must[store.Refit](t)(b.Refit(context.Background(), job))
	var ps []store.Placing
	for _, p := range fit.Places {
		if p.Goes.ID != 0 {
			continue
		}
		serial := fmt.Sprintf("NEW-%s", p.Field())
		part := must[int64](t)(b.AddPart(context.Background(), store.Part{Kind: p.Kind, Serial: serial, PartNumber: "PN-NEW", Source: "new", Groove: p.Groove}))
		pl := store.Placing{Position: p.Position, Kind: p.Kind, Groove: p.Groove, Part: part}
		if p.Kind == wear.Ring && p.Groove == 2 && p.Position == 1 {
			pl.Despite = "no other ring at hand"
		}
		ps = append(ps, pl)
	}
	ok(t, b.Place(context.Background(), job, ps, "", 1<<40))
}

// flat is a text with every run of blanks as one, as it wraps elsewhere on
// paper.
func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// drafts are the draft of a job as text and as the PDF's text; "" for the PDF
// where nothing here reads one.
func drafts(t *testing.T, h http.Handler, job store.Job, query string) map[string]string {
	t.Helper()
	out := map[string]string{}
	w := get(h, href("/jobs/", job.ID, "/entry.txt", query))
	if w.Code != http.StatusOK {
		t.Fatalf("status %d", w.Code)
	}
	out["text"] = flat(w.Body.String())
	pdf := get(h, href("/jobs/", job.ID, "/entry.pdf", query))
	if !strings.HasPrefix(pdf.Body.String(), "%PDF") {
		t.Fatalf("no PDF: status %d", pdf.Code)
	}
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Log("no pdftotext here: the text on the pages was not looked at")
		return out
	}
	file := filepath.Join(t.TempDir(), "draft.pdf")
	ok(t, os.WriteFile(file, pdf.Body.Bytes(), 0o600))
	out["PDF"] = flat(string(must[[]byte](t)(exec.Command(tool, "-layout", file, "-").Output())))
	return out
}

// TestDraftEntry holds the draft of a whole job, as text and as PDF, to the
// contents that 14 CFR 43.9(a) lists.
func TestDraftEntry(t *testing.T) {
	b := fill(t)
	h, logged := serving(t, b.Book)
	job := b.wholeJob(t)
	made := drafts(t, h, job, "")
	for _, c := range []struct {
		paragraph string
		says      []string
	}{
		{"43.9(a)(1), a description of the work", []string{
			"Position 1: cylinder removed 2025-02-01, refitted 2025-02-05.", "Out: piston P-1; 600.0 h since new. Reason: scrap: side clearance beyond its limit.", "In: piston NEW-piston-1 (part number PN-NEW), new; 0.0 h since new.",
			"Back in place: cylinder C-1 (part number PN-7); 600.0 h since new;", "pin N-1; 600.0 h since new.", "Work: cylinder C-1 honed (shop order 12), 2025-02-03.",
			"In: ring NEW-ring-1-2 (part number PN-NEW), groove 2, new;", "Position 5: cylinder removed 2025-02-01"}},
		{"43.9(a)(1), or reference to acceptable data", []string{"(1) Reference to data acceptable to the Administrator", "Limits as the shop typed them from: Invented manual, rev. 3"}},
		{"43.9(a)(2), the date of completion", []string{"(2) Date of completion", "refit in the book: 2025-02-05 by A. Smith"}},
		{"43.9(a)(3), the name of who did the work, where another approves", []string{"(3) Name of the person who did the work", "where that is not who signs"}},
		{"43.9(a)(4), signature, certificate number, kind of certificate", []string{"(4) Signature", "Certificate number", "Kind of certificate"}},
		{"it is a draft", []string{"DRAFT for a logbook entry. Nobody has signed it, and it is not a release to service."}},
		{"engine and hours", []string{"Engine Invented 9, serial number R-1, aircraft an aeroplane. Total time of the engine 600.1 h.", "refit 2025-02-05: top overhaul. Oil use on two cylinders."}},
		{"findings", []string{"side clearance, groove 2: 0.01150 in, beyond (service at most 0.0110 in; Invented manual, rev. 3, p. 12, ref. 501)", "Note, position 1: ring land chipped (A. Smith,"}},
		{"decisions", []string{"Position 1, cylinder C-1: hone: glazed (C. Brown, 2025-02-02)", "pin N-1: reuse: inside its limits"}},
		{"overrides", []string{"Cylinder 5 was taken off out of the order. Reason: rod held by the maker's tool (A. Smith, 2025-02-01)", "ring NEW-ring-1-2: fitted although a ring's facing or pressure speaks against it: no other ring at hand"}},
		{"leak test", []string{"Position 1, cylinder C-1: 76 of 80 psi through 0.060 in, 2025-02-06, LT-1."}},
		{"left open", []string{"A step is open: ground run", "Reason: position 5 is tested after the first flight"}},
		{"details of measurements, rule 43.69(a)(3) of New Zealand", []string{"details of measurements", "43.69(a)(3)", "5.2512 in", "1.1247 in", "BG-2"}},
	} {
		for form, text := range made {
			for _, words := range c.says {
				if !strings.Contains(strings.ToLower(text), strings.ToLower(words)) {
					t.Errorf("%s, as %s: no %q", c.paragraph, form, words)
				}
			}
		}
	}
	text := made["text"]
	if !strings.Contains(text, "gauge BG-2 (calibration was overdue)") {
		t.Error("a gauge past its calibration is not told")
	}
	for _, label := range []string{"Signature", "Certificate number", "Kind of certificate", "Date of completion (refit in the book: 2025-02-05 by A. Smith)", "Name of the person who did the work (where that is not who signs)"} {
		if !regexp.MustCompile(regexp.QuoteMeta(label) + ": _+ ").MatchString(text) {
			t.Errorf("%s is not left blank", label)
		}
	}
	if strings.Contains(text, "43.11") {
		t.Error("the part about an inspection stands there unasked")
	}
	page := get(h, href("/jobs/", job.ID, "/entry"))
	check(t, "the page", page, http.StatusOK, []string{"readonly", "Nobody has signed it", `href="/jobs/`, "copy.js", "data-copy"}, nil)
	if logged.Len() > 0 {
		t.Error(logged)
	}
}

// TestDraftInspection: the part about an inspection has the contents of 14 CFR
// 43.11(a), both statements left to choose.
func TestDraftInspection(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	job := b.wholeJob(t)
	made := drafts(t, h, job, "?inspection=yes")
	for form, text := range made {
		_, text, _ = strings.Cut(strings.ToLower(text), "14 cfr 43.11(a)")
		for paragraph, words := range map[string]string{"(a)(1), type": "(1) Type of inspection", "(a)(1), extent": "Extent: cylinders 1 and 5 of engine", "(a)(2), date": "(2) Date of the inspection", "(a)(2), aircraft total time": "Aircraft total time in service",
			"(a)(3), signature": "(3) Signature", "(a)(3), certificate": "Certificate number", "(a)(3), kind": "Kind of certificate", "(a)(4), found airworthy": "found to be in airworthy condition", "(a)(5), list of discrepancies": "list of discrepancies and unairworthy items dated"} {
			if !strings.Contains(text, strings.ToLower(words)) {
				t.Errorf("43.11%s, as %s: no %q", paragraph, form, words)
			}
		}
	}
	if text := made["text"]; strings.Count(text, "[ ]") != 2 {
		t.Errorf("%d boxes to choose from, want two", strings.Count(text, "[ ]"))
	}
}

// TestWording: the shop's own wording is used; a placeholder that is none is
// refused with all that was typed, and the program's comes back.
func TestWording(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	job := href("/jobs/", b.job8, "/entry.txt")
	page := "/settings/wording"
	check(t, "the form", get(h, page), http.StatusOK, []string{"{engine}", "{work}", "With job 2", "serial number R-1", "The program&#39;s wording"}, nil)
	send := func(pairs ...string) {
		check(t, pairs[0], post(h, page, formOf(pairs...)), http.StatusSeeOther, nil, nil)
	}
	bad := post(h, page, formOf("entry=Engine {engin} typed", "inspection={open"))
	check(t, "unknown placeholder", bad, http.StatusUnprocessableEntity, []string{"there is no {engin}", "Engine {engin} typed", "stands alone", "{open"}, nil)
	preview := post(h, page, formOf("entry=Our words on {engine}, {hours}", "preview=yes"))
	check(t, "shown, not saved", preview, http.StatusOK, []string{"Our words on R-1, 600.0", "Our words on {engine}"}, nil)
	check(t, "not saved", get(h, job), http.StatusOK, nil, []string{"Our words"})
	send("entry=Our words on {engine}, {hours}", "inspection=")
	check(t, "saved", get(h, job), http.StatusOK, []string{"Our words on R-1, 600.0", "Nobody has signed it", "(4) Signature: ____"}, []string{"DECISIONS"})
	check(t, "the form again", get(h, page), http.StatusOK, []string{"Your own wording"}, nil)
	send("entry=Our words on {engine}, {hours}", "ours=entry")
	check(t, "ours again", get(h, job), http.StatusOK, []string{"DECISIONS"}, []string{"Our words"})
}

// TestOurWordings: the program's wordings hold only placeholders there are, and
// together with the attachment every one that tells of the work.
func TestOurWordings(t *testing.T) {
	for _, x := range wordings {
		if message := checkWording(x.ours); message != "" {
			t.Errorf("%s: %s", x.name, message)
		}
	}
	for _, w := range entryWords {
		if !strings.Contains(ourEntry+ourInspection, "{"+w.name+"}") && w.name != "shop" && w.name != "measurements" {
			t.Errorf("{%s} is in no wording of ours", w.name)
		}
	}
}

// What a job was closed over stands an item a line; semicolons within an item,
// and an older entry that has nothing else between its items, stay as they are.
func TestOpenItemsStayWhole(t *testing.T) {
	for text, want := range map[string]string{
		"open: no leak test\n2 steps are open: leads off; openings covered · ground run": "No leak test\n2 steps are open: leads off; openings covered · ground run\nReason: typed reason",
		"open: no leak test; a step is open: leads off; openings covered":                "No leak test; a step is open: leads off; openings covered\nReason: typed reason",
	} {
		d := &jobDraft{job: store.Job{Ended: "closed"}, entries: []store.JobEntry{{Kind: store.JobClosed, Text: text, Despite: "typed reason"}}}
		if got := d.openWords(); got != want {
			t.Errorf("%q is told as %q, want %q", text, got, want)
		}
	}
}
