package views

import (
	"regexp"
	"strings"
	"testing"

	"github.com/a-h/templ"
)

// formPages are the writing pages, each with enough on it to draw every field.
func formPages() map[string]templ.Component {
	few := texts("one", "two")
	faulty := Draft{Faults: []Fault{{Field: "day", Message: "not a date"}, {Field: "reason", Message: "say why", Href: "/engines/1", Way: "Look"}}}
	files := []ImportFile{{Name: "a.csv", Format: "history", Counts: []Fact{{"Rows", "2", ""}}, Made: []Made{{"Parts", []string{"piston P-1"}, 1}}, Bad: []BadRow{{"2", "value", "x", "not a number"}}}}
	return map[string]templ.Component{
		"measure":  MeasureChoosePage(MeasureChoose{Engines: []MeasureEngine{{Serial: "R-1", Positions: []MeasurePosition{{Number: "1", Href: "/m"}}}}, Shelf: []MeasurePart{{Kind: "pin", Serial: "N-1", Href: "/m"}}}),
		"sheet":    SheetPage(aBarrel()),
		"saved":    SavedSheetPage(SavedSheet{Name: "x", Parts: []SheetResult{{ID: "p-1", Name: "Pin N-1", Blocks: []ResultBlock{{Feature: "Pin diameter", Unit: "in", Wear: []WearLine{{State: "normal", Text: "as normal"}}, Rows: []ResultRow{{Value: "1", CorrectHref: "/r"}, {Struck: true}}}}}}}),
		"correct":  CorrectReadingPage(CorrectReading{Old: "1", Draft: faulty, Before: []Correction{{Value: "2"}}}),
		"meterfix": CorrectMeterPage(CorrectMeter{Draft: faulty, OldStood: "1,204.5 h", Holds: "1 sheet"}),
		"engines":  EngineListPage(EngineList{Rows: []EngineRow{{Serial: "R-1"}}, Newer: "/engines?page=2"}),
		"engine":   EngineFormPage(EngineForm{New: true, Models: []string{"one"}, Draft: faulty}),
		"edit":     EngineFormPage(EngineForm{Fixed: "one"}),
		"meter":    MeterFormPage(MeterForm{Entries: []MeterRow{{Day: "2025-01-01", CorrectHref: "/m"}}, Draft: faulty}),
		"parts":    PartListPage(PartList{Kinds: few, Statuses: few, Rows: []PartRow{{Serial: "C-1", Finding: "flagged"}}}),
		"part":     PartFormPage(PartForm{New: true, Kinds: few, Models: few, Sources: few, Surfaces: few}),
		"stack":    InstallStackPage(InstallStack{Draft: faulty, Sources: few, Surfaces: few, Slots: []Slot{{Name: "cylinder", Label: "Cylinder", AskOversize: true, AskSurface: true, Shelf: few}, {Name: "ring-1", Label: "Ring, groove 1", AskFacing: true, Pressing: aPressing()}, {Name: "pin", Label: "Pin", Holds: "pin N-1"}}}),
		"install":  InstallPartPage(InstallPart{Ring: true, Engines: few, Pressing: &RingPressing{Words: "not measured", Href: "/c"}}),
		"remove":   RemovePartPage(RemovePart{Kind: "cylinder", Radial: true, Reasons: []string{"a"}, Draft: faulty}),
		"event":    WearEventPage(WearEventForm{Kind: "piston", Events: few}),
		"reason":   ReasonPage(ReasonForm{Heading: "Scrap", AskDay: true, Draft: faulty}),
		"leak":     LeakFormPage(LeakForm{Engine: "R-1", Orifices: []string{"0.040"}, Testers: few, Rules: []LeakRuleLine{{Text: "a rule"}}, Draft: Draft{Values: map[string]string{"part-2": "1"}}, Rows: []LeakFormRow{{Position: 1, Cylinder: "C-1", Last: "70 of 80", Master: true}, {Position: 2, InstallHref: "/i", Sitters: few}}}),
		"leakfix":  LeakCorrectPage(LeakCorrect{Old: "70 of 80 psi", Draft: faulty, Before: []Correction{{Value: "2"}}}),
		"leakhead": LeakHeadFormPage(LeakHeadForm{Orifices: []string{"0.040"}, Testers: few, Draft: faulty}),
		"leakrule": LeakRulePage(LeakRuleForm{Model: "one", Orifices: []string{"0.040"}, Rows: []LeakRuleRow{{Since: "2025-01-01", Rule: "At least 60 psi"}}}),
		"limits":   LimitTablePage(LimitTable{Models: few, Groups: []LimitGroup{{"ring", []LimitLine{{Feature: "End gap"}}}}}),
		"limit":    LimitFormPage(LimitForm{Features: []OptionGroup{{"Ring", few}}, Units: few}),
		"history":  LimitHistoryPage(LimitHistory{Heading: "x", Rows: []LimitLine{{Since: "2025-01-01"}}}),
		"features": OwnFeaturesPage(OwnFeatures{Kinds: few, Rows: []FeatureRow{{Name: "a"}}}),
		"gauges":   GaugesPage(Gauges{Units: few, Rows: []GaugeRow{{Name: "a", Overdue: true}}}),
		"plan":     ModelPlanPage(ModelPlan{}),
		"facings":  FacingListPage(FacingList{Draft: faulty, Replaces: "a on b", Known: []string{"a"}, Surfaces: few, Rows: []FacingRow{{Facing: "a", Says: "allowed", Href: "/f"}, {Facing: "a", Says: "withdrawn", Struck: true}}}),
		"compare":  RingComparePage(RingCompare{Draft: faulty, Choices: few, Materials: few, Typed: true, Sides: []RingSide{{Name: "Ring K-1", Inputs: []RingInput{{What: "Bore", Value: "1"}}, Missing: []Link{{Text: "measure", Href: "/m"}, {Text: "gone"}}, Why: "odd"}, {Name: "b", Pressure: "1", Tangential: "2", Hint: "usual"}}, Result: &RingResult{Warn: true}, Worked: aRingWorked(), Notes: []string{"a note"}}),
		"regroove": RegroovePage(Regroove{Draft: faulty, Groove: "1", Grooves: []GrooveLink{{"1", "/g", true}, {"2", "/g", false}}, Shelf: []Fact{{Label: "Ring K-1"}}, Summary: "none", Original: &Link{"Ring K-1", "/r"}, Lacks: []Link{{Text: "a"}, {Text: "b", Href: "/b"}}, Rows: []RegrooveRow{{Name: "a", Lands: []RegrooveLand{{"x", "beyond"}}, Ratio: "1", Reasons: []string{"r"}, Notes: []string{"n"}}}, Worked: aRingWorked()}),
		"settings": SettingsPage(SettingsForm{Units: few}),
		"import":   ImportPage(Import{}),
		"dry run":  ImportPage(Import{Token: "t", Files: files}),
		"record":   RecordChoosePage(RecordChoose{Engines: []RecordRow{{Name: "R-1"}}}),
		"ack":      AcknowledgePage(Acknowledge{State: "flagged", Sentence: "worn fast", Draft: faulty}),
		"problem":  ProblemPage(Problem{Status: 409, Typed: true}),
	}
}

func aPressing() *RingPressing {
	return &RingPressing{Word: "higher", Words: "Presses 1.6 times as hard as ring <K-1>.", Href: "/c"}
}

// TestRingPressing: what is said of a ring is text, with a way to the
// comparison where there is one.
func TestRingPressing(t *testing.T) {
	says := drawn(t, ringPressing(aPressing()))
	if !strings.Contains(says, "ring &lt;K-1&gt;.") || !strings.Contains(says, `href="/c"`) || !strings.Contains(says, "higher") {
		t.Errorf("drawn as %s", says)
	}
	if says := drawn(t, ringPressing(&RingPressing{Words: "not measured"})); strings.Contains(says, "<a") || strings.Contains(says, "verdict") {
		t.Errorf("without a ring to compare: %s", says)
	}
	if says := drawn(t, ringPressing(nil)); says != "" {
		t.Errorf("nothing to say: %s", says)
	}
}

func aRingWorked() *RingWorked {
	return &RingWorked{Groups: []StepGroup{{"a", []WorkedStep{{"b", "c", "d", "e"}}}}, Assumed: []string{"f"}, Unknown: []string{"g"}}
}

var (
	idPattern    = regexp.MustCompile(`\sid="([^"]*)"`)
	forPattern   = regexp.MustCompile(`<label for="([^"]*)"`)
	hintPattern  = regexp.MustCompile(`aria-(?:describedby|labelledby)="([^"]*)"`)
	fieldPattern = regexp.MustCompile(`<(?:input|select|textarea)\s[^>]*>`)
	stylePattern = regexp.MustCompile(`\s(?:style|on[a-z]+)="|<style|https?:|<script(?:>|[^>]*[^"]>)`)
)

// Every field of every writing page has a label, every reference leads
// somewhere, no id stands twice, and nothing breaks the content security
// policy.
func TestFormPagesAreSound(t *testing.T) {
	for name, page := range formPages() {
		t.Run(name, func(t *testing.T) {
			html := drawn(t, page)
			ids, labelled := map[string]bool{}, map[string]bool{}
			for _, m := range idPattern.FindAllStringSubmatch(html, -1) {
				if ids[m[1]] || m[1] == "" {
					t.Errorf("id %q stands twice or is empty", m[1])
				}
				ids[m[1]] = true
			}
			for _, m := range forPattern.FindAllStringSubmatch(html, -1) {
				labelled[m[1]] = true
			}
			for _, m := range hintPattern.FindAllStringSubmatch(html, -1) {
				for _, id := range strings.Fields(m[1]) {
					if !ids[id] {
						t.Errorf("nothing has the id %q that is referred to", id)
					}
				}
			}
			for _, tag := range fieldPattern.FindAllString(html, -1) {
				if strings.Contains(tag, `type="hidden"`) || strings.Contains(tag, `type="radio"`) { // a radio stands inside its label
					continue
				}
				if m := idPattern.FindStringSubmatch(tag); m == nil || !labelled[m[1]] {
					t.Errorf("no label for %s", tag)
				}
			}
			if n := strings.Count(html, "<h1"); n != 1 {
				t.Errorf("%d first headings", n)
			}
			if bad := stylePattern.FindString(html); bad != "" {
				t.Errorf("the content security policy forbids %q", bad)
			}
		})
	}
}

// Every fault is said at its field and in the summary, which links to it.
func TestFaultsAreSaid(t *testing.T) {
	for _, name := range []string{"correct", "remove", "reason"} {
		html := drawn(t, formPages()[name])
		if n := strings.Count(html, "say why"); n != 2 {
			t.Errorf("%s: the fault is said %d times, want 2: summary and field", name, n)
		}
		if !strings.Contains(html, `href="#f-reason"`) || !strings.Contains(html, `id="f-reason"`) {
			t.Errorf("%s: the summary does not lead to the field", name)
		}
	}
}

func TestAcknowledgeShowsSentence(t *testing.T) {
	if html := drawn(t, formPages()["ack"]); !strings.Contains(html, "worn fast") {
		t.Error("the sentence is missing")
	}
}

func TestDraft(t *testing.T) {
	d := Draft{Values: map[string]string{"a": "", "b": "2"}, Faults: []Fault{{Field: "b", Message: "m"}}}
	if got := d.Or("a", "first"); got != "" {
		t.Errorf("an emptied field became %q again", got)
	}
	if got := d.Or("c", "first"); got != "first" {
		t.Errorf("a new field: %q", got)
	}
	if got := d.fill(Field{Name: "b"}); got.Value != "2" || got.Error != "m" {
		t.Errorf("filled: %+v", got)
	}
	if d.Fault("a").Message != "" {
		t.Error("a good field has a fault")
	}
}
