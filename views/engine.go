package views

import "slices"

// Engine is the page of one engine.
type Engine struct {
	Page     Page
	Serial   string
	Model    string
	Aircraft string
	Notes    string
	Facts    []Fact // hours, last measured, cylinders, master-rod cylinder ...
	Worst    VerdictMark
	Findings int // open ones

	Plan        EnginePlan
	Rows        []EnginePosition
	Others      []OpenLine   // open findings that are not of one series
	Whole       []WholeWear  // what its parts show together, the least likely first
	WholeWorked *WholeWorked // how that was worked out

	MeterStory string     // how the engine's hours follow from the meter; "" while no meter was replaced
	Meter      []MeterRow // the latest entries, newest first
	MeterMore  int        // how many more there are

	InstallHref                                                                  string // where parts are installed first, "" where some are
	MeasureHref, MeterHref, LeakHref, EditHref, RecordHref, CrankHref, MatchHref string

	JobHref string   // opens a job
	Jobs    []JobRow // under way
}

// wholeFlagged reports whether the engine wears faster than others as a whole.
func (p Engine) wholeFlagged() bool {
	return slices.ContainsFunc(p.Whole, func(w WholeWear) bool { return w.State == "flagged" && w.Seen == "" })
}

// OpenLine is an open finding of an engine in a line.
type OpenLine struct{ Where, Href, Text string }

// WholeWorked is how the judgements of a whole engine were worked out.
type WholeWorked struct {
	Letters []string // what the letters in the equations stand for
	Groups  []StepGroup
	Assumed []string

	More     int // judgements that are not told of here
	MoreHref string
}

// WholeWear is what the parts of an engine show together for one feature.
type WholeWear struct {
	What     string // "barrel bore, top"
	State    string
	Sentence string
	Numbers  []Fact
	Engine   string // where several engines are listed
	Href     string
	Aircraft string
	First    string // the first step to consider, of one that is flagged
	AckHref  string // "" where it is not to be acknowledged
	Seen     string // "Acknowledged 2025-11-04 by A. Fitter: ..."; "" where it is open
}

// EnginePosition is a position in the table beside the plan.
type EnginePosition struct {
	Number       int
	Href         string
	Master       bool   // the master-rod cylinder
	Cylinder     string // its serial, "" where none is recorded
	CylinderHref string
	Hours        string // since installation: "412.3 h"
	Worst        VerdictMark
	WorstWhat    string // what the worst verdict is of: "piston P-22, groove 1 width"
	Finding      string // the sentence of the open finding, "" for none
	FindingHref  string // the part it is about
	Measured     string // day, "" for never
	MeasureHref  string
	InstallHref  string // where something is missing, "" where nothing is
}

// about is the line under the heading.
func (p Engine) about() string { return joined(", ", p.Model, p.Aircraft) }

// hasMaster reports whether a master-rod cylinder is marked on the plan.
func (p Engine) hasMaster() bool { return p.Plan.MasterRod > 0 }

// WholeShown is how many of what an engine's parts show together stand open:
// all that are flagged, and at least three.
func WholeShown(ws []WholeWear) int {
	n := 3
	for i, w := range ws {
		if w.State == "flagged" {
			n = max(n, i+1)
		}
	}
	return n
}
