package views

// EngineList is the table of engines.
type EngineList struct {
	Page    Page
	Query   string
	Rows    []EngineRow
	Found   string // "214 engines"
	Older   string // href of the page before, "" for none
	Newer   string // href of the page after, "" for none
	Empty   bool   // the book has no engine yet
	NewHref string
}

// EngineRow is one engine in the table.
type EngineRow struct {
	Serial, Model, Arrangement, Cylinders string
	Aircraft, Hours, Measured             string
	Worst                                 VerdictMark
	Href, MeasureHref                     string
}

// EngineForm makes an engine or changes one. Fields: serial, model,
// arrangement, cylinders, master_rod, aircraft, notes; a new engine also day
// and hours.
type EngineForm struct {
	Page   Page
	Action string
	Draft  Draft
	New    bool
	Back   Link
	Models []string // models the book knows
	Fixed  string   // the model of an engine that has one: it stays
	Plan   Link     // the model's measuring plan, for an engine that has one
}

// MeterForm takes what an engine's meter shows, or that it was replaced or
// reset. Fields: what (reading or replaced), day, hours; old_hours, new_hours
// and reason for a replaced meter.
type MeterForm struct {
	Page    Page
	Action  string
	Draft   Draft
	Engine  string
	Back    Link
	Last    string // "1,204.5 h on 2025-11-03"; "" for none
	Offset  string // "1,000.0 h"; "" while no meter was replaced
	Entries []MeterRow
}

// MeterRow is one entry of the meter, newest first.
type MeterRow struct {
	Day, Shows, Offset, Total string
	Kind, Reason              string
	Struck                    bool
	CorrectHref               string
}

// added is what a meter's offset adds, nothing while it is nought.
func added(offset string) string {
	if offset == "0.0 h" {
		return ""
	}
	return offset
}

// What was entered on a meter: the values of field what.
const (
	MeterReading  = "reading"
	MeterReplaced = "replaced"
)
