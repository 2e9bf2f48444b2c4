package views

import (
	"math"
	"strconv"

	"github.com/a-h/templ"
)

// LeakForm is the sheet on which an engine's differential compression test is
// typed. Fields: uid, day, hours, who, regulated, ambient, orifice, master,
// tester, minutes, note; for each position N psi-N, warm-N, air-N-0 and on
// (see LeakAir), and part-N where two cylinders sat there that day.
type LeakForm struct {
	Page       Page
	Action     string
	Draft      Draft
	Engine     string
	Href       string // the engine's tests
	About      string
	HoursHint  string
	OffsetHint string
	Meter      Meter
	Suggest    string // "a bore of 5.4990 in suggests 0.060 in (...)"
	Orifices   []string
	Testers    []Option
	Rules      []LeakRuleLine // what it will be judged by
	Rows       []LeakFormRow
}

// LeakRuleLine is a rule in words. Where it is Called something, its bounds are
// given to the script that compares: in tenths of a psi or of a percent, the
// orifice in nanometres; 0 for none.
type LeakRuleLine struct {
	Text, Called                         string
	Minimum, MaxLoss, Orifice, Regulated int64
}

// bounds are those of the rule as data attributes.
func (l LeakRuleLine) bounds() templ.Attributes {
	if l.Called == "" {
		return nil
	}
	all := templ.Attributes{"data-rule": l.Called}
	for name, bound := range map[string]int64{"data-minimum": l.Minimum, "data-max-loss": l.MaxLoss, "data-orifice": l.Orifice, "data-regulated": l.Regulated} {
		if bound != 0 {
			all[name] = strconv.FormatInt(bound, 10)
		}
	}
	return all
}

// LeakFormRow is one position of the sheet.
type LeakFormRow struct {
	Position    int
	Master      bool
	Cylinder    string // "" where none is recorded
	Href        string
	InstallHref string
	Last        string // "74 of 80"
	LastAbout   string // "through 0.060 in, 2025-05-01"
	Sitters     []Option
}

// LeakAir names the places where air is heard, in the order of the fields
// air-N-0 and on.
var LeakAir = []string{"exhaust", "intake", "breather", "plug or joint"}

// fields of a row.
func (r LeakFormRow) psi() string  { return "psi-" + itoa(r.Position) }
func (r LeakFormRow) warm() string { return "warm-" + itoa(r.Position) }
func (r LeakFormRow) part() string { return "part-" + itoa(r.Position) }

// asks reports whether the row asks which of two cylinders was tested.
func (r LeakFormRow) asks(d Draft) bool {
	return len(r.Sitters) > 1 && (d.Fault(r.part()).Message != "" || d.Value(r.part()) != "")
}

// labels are the fields' names for people.
func (p LeakForm) labels() map[string]string {
	m := map[string]string{"who": "Tested by"}
	for name, label := range leakHeadLabels {
		m[name] = label
	}
	for _, r := range p.Rows {
		n := "Position " + itoa(r.Position)
		m[r.psi()], m[r.warm()], m[r.part()] = n, n+", recheck", n+", cylinder"
	}
	return m
}

var leakHeadLabels = map[string]string{"day": "Date", "hours": "Meter shows", "regulated": "Regulated pressure", "ambient": "Pressure outside", "orifice": "Orifice", "master": "Master orifice", "tester": "Tester", "minutes": "Since shutdown",
	"reason": "Reason", "who": "Corrected by", "value": "Right reading", "recheck": "Recheck, warm", "what": "What was wrong"}

// LeakResult is a saved test.
type LeakResult struct {
	Page        Page
	Engine      string
	EngineHref  string
	Day         string
	Facts       []Fact
	CorrectHref string
	Before      []Correction   // heads that were corrected
	Rules       []LeakRuleLine // what it is judged by
	RuleHref    string
	Maker       bool // the model has a rule of its maker
	Rows        []LeakRow
	Next        []Link
}

// LeakRow is what one cylinder held.
type LeakRow struct {
	Position    int
	Cylinder    string
	Href        string
	Reading     string // "62 of 80 psi"
	Recheck     string // "rechecked warm: 66 of 80 psi", "" where it was not
	Struck      bool
	Reason      string // why it was corrected
	Maker       VerdictMark
	General     VerdictMark
	Loss        string // "22.5 %"
	Area        string // "0.81 ± 0.05 mm²"
	Change      []string
	Reasons     []string
	Mind        bool // the reasons stand in the open
	Trend       string
	CorrectHref string
	Worked      *LeakWorked
}

// key is an element id.
func (r LeakRow) key() string { return "pos-" + itoa(r.Position) }

// LeakWorked is how a leak was worked out.
type LeakWorked struct {
	Given   []Fact
	Steps   []WorkedStep
	Assumed []string
	Unknown []string
	Sources []string
}

// LeakList is the leak tests of an engine.
type LeakList struct {
	Page     Page
	Engine   string
	Href     string
	About    string
	NewHref  string
	RuleHref string
	Rules    []LeakRuleLine
	Trends   []LeakTrendRow
	Tests    []LeakTestRow
}

// LeakTrendRow is one position with the cylinder that sits there.
type LeakTrendRow struct {
	Position int
	Cylinder string
	Href     string
	Latest   string // "62 of 80 psi", "" where it was not tested
	About    string // "through 0.060 in, 2025-05-01"
	Maker    VerdictMark
	General  VerdictMark
	ByMaker  bool
	Area     string
	Trend    string
	Spark    LeakSpark
}

// LeakTestRow is one test of an engine.
type LeakTestRow struct {
	Day, Href, Hours, How, Tested, Who string
	ByMaker                            bool
	Maker, General                     VerdictMark // the worst by each rule
	WorstAt                            string
}

// LeakSpark is the leak areas of one cylinder over the hours, drawn small: the
// number that goes with each stands in the text beside it.
type LeakSpark struct {
	Hours, Areas, U []float64
	Most            float64 // the top of the drawing, mm²
	Says            string
}

// SVG draws it; "" for fewer than two points.
func (s LeakSpark) SVG() string {
	n := len(s.Areas)
	if n < 2 || len(s.Hours) != n || len(s.U) != n || !(s.Most > 0) {
		return ""
	}
	const wide, high, edge = 150.0, 44.0, 5.0
	span := math.Max(s.Hours[n-1]-s.Hours[0], 1e-9)
	var d drawing
	d.open("svg", "class", "spark", "viewBox", "0 0 150 44", "width", "150", "height", "44", "role", "img", "aria-label", s.Says)
	d.shape("path", "class", "chart-axis", "d", pathOf([]place{{edge, high - 1}, {wide - edge, high - 1}}, false))
	var line []place
	y := func(area float64) float64 { return high - 1 - (high-2*edge)*math.Max(area, 0)/s.Most }
	for i, area := range s.Areas {
		line = append(line, place{edge + (wide-2*edge)*(s.Hours[i]-s.Hours[0])/span, y(area)})
	}
	d.shape("path", "class", "chart-join", "d", pathOf(line, false))
	for i, at := range line {
		d.shape("path", "class", "chart-error", "d", pathOf([]place{{at.x, y(s.Areas[i] - s.U[i])}, {at.x, y(s.Areas[i] + s.U[i])}}, false))
		d.shape("circle", "class", "chart-dot", "cx", at.x, "cy", at.y, "r", 3.5)
	}
	d.close("svg")
	return d.String()
}

// LeakCorrect is the form that corrects one reading or withdraws it. Fields:
// what, value, recheck, air-0 and on, reason, who.
type LeakCorrect struct {
	Page   Page
	Action string
	Draft  Draft
	Back   Link
	What   string
	Facts  []Fact
	Old    string
	Before []Correction
}

// LeakHeadForm is the form that corrects the head of a test. Fields:
// regulated, ambient, orifice, master, tester, minutes, reason, who.
type LeakHeadForm struct {
	Page     Page
	Action   string
	Draft    Draft
	Back     Link
	What     string
	Facts    []Fact
	Suggest  string
	Orifices []string
	Testers  []Option
	Before   []Correction
}

// LeakRuleForm types the maker's rule of a model: always a new version.
// Fields: minimum, max_loss, orifice, regulated, document, revision, page.
type LeakRuleForm struct {
	Page     Page
	Action   string
	Draft    Draft
	Back     Link
	Model    string
	General  string
	Orifices []string
	Rows     []LeakRuleRow
}

// LeakRuleRow is one version of a rule.
type LeakRuleRow struct{ Since, Until, Rule, For, From string }

// PartLeak is the leak tests of a cylinder on its page.
type PartLeak struct {
	Latest  string // "62 of 80 psi through 0.060 in, 2025-05-01"
	Href    string // that test
	AllHref string // the engine's tests
	ByMaker bool
	Maker   VerdictMark
	General VerdictMark
	Area    string
	Trend   string
	Spark   LeakSpark
	Tests   string // "3 tests since it was fitted on 2024-01-01"
}
