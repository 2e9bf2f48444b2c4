package views

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/a-h/templ"
)

func samplePart() Part {
	verdict := VerdictMark{Word: "serviceable", Note: "0.0025 in left"}
	return Part{
		Kind: "cylinder", Serial: "C-1043", PartNumber: "6511", Status: "on engine", Where: "R-1021, position 3", WhereHref: "/engines/1/positions/3",
		Hours: []Fact{{Label: "Since installation", Value: "61.0 h"}},
		Series: []PartSeries{
			{Label: "barrel bore, top", Href: "/parts/1?series=1", Shown: true, State: "flagged", Verdict: verdict},
			{Label: "barrel bore, middle", Href: "/parts/1?series=2", State: "too few readings"},
		},
		Judged: &PartJudged{
			What: "Barrel bore, top", State: "flagged", Sentence: "61 h since installation, worn like 940 h.", Verdict: verdict, AckHref: "/findings/1/acknowledge", Seen: "seen",
			Chart: sampleChart(), OtherRun: Link{"All runs", "/parts/1?runs=all"}, LimitHow: Link{"By the limits of their day", "/parts/1?limits=day"}, Forecast: []string{"About 620 h."},
			Limit: &PartLimit{New: "5.2490 to 5.2510 in", Document: "OM-1", Revision: "C", PageNo: "212", Oversize: "moved by 0.010 in"},
			Worked: &Worked{Readings: []WorkedReading{{"2024-02-02", "0.0 h", "5.2502 in", "0.0003", true, "baseline", "0.0000", "0.000000", "thrust 5.2504 at 25 °C"}, {"2024-09-11", "60.0 h", "5.2519 in", "0.0006", false, "one axis only", "", "", "thrust 5.2519"}},
				Parts: []WorkedPart{{Name: "Cylinder C-1041", Href: "/parts/2", Ratio: "0.94 ± 0.21"}}, PartsMore: 23, Unknown: []string{"Which rings ran here."}, Sources: []string{"a source"}, Shown: "The test of the whole run.", Steps: []WorkedStep{{"expected wear", "W = B·h", "B = 1", "a source"}}},
		},
		Readings: []PartReading{
			{Day: "2025-11-03", Value: "5.2535 in", Typed: "+3.5", Verdict: verdict, SheetHref: "/sheets/1", CorrectHref: "/readings/1/correct", Begins: "run 1"},
			{Day: "2024-08-02", Value: "5.2553 in", Struck: true, Reason: "digits swapped"},
			{Day: "2024-08-02", Value: "5.2519 in", LeftOut: "one axis only"},
		},
		Stays:  []PartStay{{Engine: "R-1021", From: "2025-08-02"}, {Engine: "R-1022", Void: "wrong engine"}, {Engine: "R-1023", To: "2024-01-01"}},
		Events: []PartEvent{{Day: "2024-01-20", What: "honed"}},
		Links:  PartLinks{Measure: "/measure/part/1", Scrap: "/parts/1/scrap", PDF: "/record/part/1.pdf"},
	}
}

func sampleSpark() LeakSpark {
	return LeakSpark{Hours: []float64{100, 200, 300}, Areas: []float64{0.5, 0.9, 2}, U: []float64{0.1, 0.1, 0.1}, Most: 2.1, Says: "The leak grows."}
}

// A spark rises with the leak, is nothing for a single test, and stays on its
// drawing.
func TestLeakSpark(t *testing.T) {
	s := sampleSpark()
	var ys []float64
	for _, m := range regexp.MustCompile(`cy="([^"]*)"`).FindAllStringSubmatch(s.SVG(), -1) {
		y, err := strconv.ParseFloat(m[1], 64)
		if err != nil || y < 0 || y > 44 {
			t.Errorf("a point at %s", m[1])
		}
		ys = append(ys, y)
	}
	if len(ys) != 3 || !(ys[0] > ys[1] && ys[1] > ys[2]) {
		t.Errorf("points at %v, want three that rise", ys)
	}
	s.Hours, s.Areas, s.U = s.Hours[:1], s.Areas[:1], s.U[:1]
	if svg := s.SVG(); svg != "" {
		t.Errorf("one test is drawn: %s", svg)
	}
}

func sampleEngine() Engine {
	return Engine{Serial: "R-1021", Notes: "note", Findings: 1, Plan: samplePlan("radial", 9), MeterStory: "story", MeterMore: 2,
		Meter: []MeterRow{{Day: "2025-11-03", Shows: "392.2 h", CorrectHref: "/x"}, {Day: "2025-06-03", Shows: "329.2 h", Struck: true}},
		Rows:  []EnginePosition{{Number: 1, Cylinder: "C-1041", Master: true, Finding: "worn fast", WorstWhat: "groove 1"}, {Number: 2, InstallHref: "/i"}}}
}

// readPages are the reading pages, each full and each bare.
func readPages() map[string]templ.Component {
	finding := FindingRow{Word: "flagged", Part: "Cylinder C-1043", Where: "on shelf", Sentence: "worn fast", Numbers: []Fact{{Label: "Ratio", Value: "6.2"}}, Against: "26 barrels", First: "measure again", AckHref: "/a"}
	seen := FindingRow{Word: "flagged", Part: "Piston P-1", Where: "R-1021, position 3", WhereHref: "/p", Against: "26 pistons", AgainstHref: "/q", Reason: "watched", Who: "A. Fitter"}
	slot := PositionSlot{Place: "Cylinder", Name: "C-1043", State: "flagged", Sentence: "worn fast", SinceDone: "1 h", EventHref: "/e",
		Lines: []PositionLine{{What: "barrel bore", Value: "5.2535", Verdict: VerdictMark{Word: "undecided"}}}}
	return map[string]templ.Component{
		"fleet":           FleetPage(Fleet{Page: Page{Nav: NavFleet, Demo: true, Flash: "saved", Findings: 2, Shop: "A shop"}, Rows: []FleetRow{{Serial: "R-1", Findings: 2, Whole: true, Cells: []FleetCell{{Number: 1, Verdict: "new", Flagged: true}, {Number: 2, Bare: true}}}}, After: "/?page=2"}),
		"fleet, empty":    FleetPage(Fleet{Empty: true}),
		"fleet, none":     FleetPage(Fleet{Query: "x"}),
		"engine":          EnginePage(sampleEngine()),
		"engine, bare":    EnginePage(Engine{}),
		"leaks":           LeakListPage(LeakList{Engine: "R-1", Trends: []LeakTrendRow{{Position: 1, Cylinder: "C-1", Latest: "70 of 80 psi", ByMaker: true, Maker: VerdictMark{Word: "no limit"}, General: VerdictMark{Word: "beyond"}, Trend: "The leak grows.", Spark: sampleSpark()}, {Position: 2}}, Tests: []LeakTestRow{{Day: "2025-01-01", Href: "/leaktests/1", WorstAt: "position 1"}}, Rules: []LeakRuleLine{{Text: "a rule"}}}),
		"leaks, none":     LeakListPage(LeakList{}),
		"leak test":       LeakResultPage(LeakResult{Engine: "R-1", Rows: []LeakRow{{Position: 1, Cylinder: "C-1", Struck: true, Reason: "misread", Reading: "71 of 80 psi"}, {Position: 1, Cylinder: "C-1", Mind: true, Reading: "50 of 80 psi", Reasons: []string{"Suspect."}, Change: []string{"−6 psi"}, Worked: &LeakWorked{Steps: []WorkedStep{{Text: "loss"}}, Unknown: []string{"Hoses."}}}, {Position: 2, Reading: "withdrawn", Reason: "another engine"}}, Before: []Correction{{Value: "orifice 0.060 in"}}}),
		"position":        PositionPage(Position{Engine: "R-1021", Number: 3, Master: true, InstallHref: "/i", Prev: Link{"Position 2", "/2"}, Slots: []PositionSlot{slot, {Place: "Piston", Name: "P-1"}, {Place: "Ring, groove 1", Name: "K-1", Pressing: aPressing(), Despite: "only one"}, {Place: "Pin", InstallHref: "/i"}}, Earlier: []EarlierPart{{Place: "Pin", Name: "N-1"}}}),
		"position, bare":  PositionPage(Position{MasterAt: 5}),
		"part":            PartPage(samplePart()),
		"part, bare":      PartPage(Part{Kind: "pin", Scrapped: "2025-01-01, cracked", Status: "scrapped"}),
		"part, little":    PartPage(Part{Judged: &PartJudged{}}),
		"findings":        FindingsPage(Findings{Flagged: []FindingRow{finding}, Hard: []FindingRow{finding}, HardMore: 2, Beyond: []FindingRow{finding}, Seen: []FindingRow{seen}, SeenMore: 3, AllHref: "/findings?all=1"}),
		"findings, none":  FindingsPage(Findings{}),
		"findings, early": FindingsPage(Findings{Unread: true}),
	}
}

// Every reading page has one first heading, no id twice, every reference
// leads somewhere, and nothing breaks the content security policy.
func TestReadPagesAreSound(t *testing.T) {
	for name, page := range readPages() {
		t.Run(name, func(t *testing.T) {
			html := drawn(t, page)
			ids := map[string]bool{}
			for _, m := range idPattern.FindAllStringSubmatch(html, -1) {
				if ids[m[1]] || m[1] == "" {
					t.Errorf("id %q stands twice or is empty", m[1])
				}
				ids[m[1]] = true
			}
			for _, m := range hintPattern.FindAllStringSubmatch(html, -1) {
				for _, id := range strings.Fields(m[1]) {
					if !ids[id] {
						t.Errorf("nothing has the id %q that is referred to", id)
					}
				}
			}
			for _, use := range strings.Split(html, `<use href="#`)[1:] {
				if id, _, _ := strings.Cut(use, `"`); !ids[id] {
					t.Errorf("no mark has the id %q", id)
				}
			}
			if n := strings.Count(html, "<h1"); n != 1 {
				t.Errorf("%d first headings", n)
			}
			if bad := stylePattern.FindString(html); bad != "" {
				t.Errorf("the policy forbids %q", bad)
			}
		})
	}
}

// TestReadPagesSay looks for what a mechanic must find on a page.
func TestReadPagesSay(t *testing.T) {
	for name, wants := range map[string][]string{
		"fleet":          {`aria-current="page"`, "Demo book", "saved", "new, flagged", "no parts", "2 open"},
		"fleet, empty":   {"Make the first engine", `href="/import"`},
		"engine":         {"Seen from the rear", "worn fast", "story", "<s>329.2 h</s>", "none recorded"},
		"position":       {"comes off last and goes on first", "flagged", "worn fast", "Nothing is recorded here"},
		"part":           {"61 h since installation, worn like 940 h.", "How this was worked out", "<s>5.2553 in</s>", "digits swapped", "left out: one axis only", "entered by mistake: wrong engine", "page 212", "What the program cannot know", "and 23 more"},
		"leaks":          {"70 of 80 psi", "no limit", "beyond", "The leak grows.", "not tested", "<svg class=\"spark\"", "position 1"},
		"leaks, none":    {"No test yet"},
		"leak test":      {"<s>71 of 80 psi</s>", "counts for nothing: misread", "Suspect.", "−6 psi", "Hoses.", "another engine", "orifice 0.060 in"},
		"part, bare":     {"Not measured yet", "2025-01-01, cracked"},
		"findings":       {"worn fast", "First step to consider:", "watched", "Acknowledged (4)", "Show 3 more"},
		"findings, none": {"No part wears faster"},
	} {
		html := drawn(t, readPages()[name])
		for _, want := range wants {
			if !strings.Contains(html, want) {
				t.Errorf("page %s does not say %q", name, want)
			}
		}
	}
}

// TestField: what is wrong stands under the field and is tied to it, what was
// typed stays, and nothing that was typed becomes markup.
func TestField(t *testing.T) {
	html := drawn(t, FormField(Field{Name: "hours", Label: "Meter shows", Value: `12"><b>`, Error: "not a number", Hint: "hours", Unit: "h", InputMode: "decimal", Required: true, List: []string{"a"}}))
	for _, want := range []string{
		`<label for="f-hours">`, `id="f-hours"`, `aria-invalid="true"`, `aria-required="true"`, `aria-describedby="f-hours-hint f-hours-error"`,
		`value="12&#34;&gt;&lt;b&gt;"`, `id="f-hours-error">not a number`, `inputmode="decimal"`, `list="f-hours-list"`, `<datalist id="f-hours-list">`,
	} {
		if !strings.Contains(html, want) {
			t.Errorf("field lacks %s:\n%s", want, html)
		}
	}
	for typ, want := range map[string]string{
		"checkbox": `type="checkbox" value="yes" checked`, "select": `<option value="1" selected>one</option>`, "textarea": ">1</textarea>", "date": `type="date"`, "list": `<datalist`,
	} {
		html := drawn(t, FormField(Field{Name: "x", Type: typ, Value: "1", Options: []Option{{"1", "one"}, {"2", "two"}}}))
		if !strings.Contains(html, want) {
			t.Errorf("field of type %s lacks %s:\n%s", typ, want, html)
		}
		if strings.Contains(html, "aria-invalid") {
			t.Errorf("field of type %s is marked wrong without a fault", typ)
		}
	}
}
