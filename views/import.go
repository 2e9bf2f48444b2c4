package views

// Import takes CSV files. First it asks for files, then it shows what would
// happen, then what did. Fields: files (several), then token and confirm.
type Import struct {
	Page   Page
	Action string
	Fault  string // what was wrong with the upload as a whole
	Token  string // of the files kept after a dry run; "" when there is nothing to confirm
	Done   bool   // the rows are in the book
	Files  []ImportFile
}

// ImportFile is what a file would bring, or has brought.
type ImportFile struct {
	Name   string
	Format string   // "history", "limits", "not known"
	Counts []Fact   // rows read, readings, installations, already in the book
	Made   []Made   // what would be created
	Bad    []BadRow // rows refused: then nothing of the file is imported
	More   int      // how many bad rows there are beyond those listed
	Fault  string   // why the file cannot be read at all
}

// Made is what a file creates, by kind: "Engines", with the names.
type Made struct {
	What  string
	Names []string
	More  int
}

// BadRow is a row that was refused.
type BadRow struct {
	Line, Column, Value, Reason string
}

// ready reports whether any file has rows that can be imported.
func (p Import) ready() bool { return p.Token != "" && !p.Done }

// Columns of the two kinds of file, in their usual order.
var (
	historyColumns = []Fact{
		{Label: "date", Value: "the day, 2006-01-31"},
		{Label: "engine_model", Value: "the engine's model"},
		{Label: "engine", Value: "its serial; empty for a part whose engine is not known"},
		{Label: "engine_hours", Value: "the engine's hours that day"},
		{Label: "position", Value: "the cylinder's number"},
		{Label: "kind", Value: "cylinder, piston, ring or pin"},
		{Label: "serial", Value: "the part's serial or shop number"},
		{Label: "event", Value: "reading (when empty), installed, removed, or work: installed new, honed, ground to oversize, plated, re-grooved, overhauled"},
		{Label: "part_hours", Value: "hours since it was installed, where the engine is not known"},
		{Label: "feature", Value: "what was measured, such as barrel bore"},
		{Label: "groove", Value: "the groove's number, counted from the crown"},
		{Label: "station", Value: "top, middle, bottom, or as the measuring plan has it"},
		{Label: "axis", Value: "thrust or pin"},
		{Label: "value", Value: "the number; for ground to oversize the new oversize"},
		{Label: "unit", Value: "in, mm, g, N, ..."},
		{Label: "gauge_sd", Value: "the gauge's standard deviation, in the same unit"},
		{Label: "temperature_c", Value: "the part's temperature, °C: its sizes count as they are at 20 °C"},
		{Label: "note", Value: "anything"},
	}
	limitColumns = []Fact{
		{Label: "engine_model", Value: "the engine model"},
		{Label: "kind", Value: "cylinder, piston, ring or pin"},
		{Label: "feature", Value: "what the limit is for; an unknown name becomes a feature of the shop's own"},
		{Label: "groove", Value: "the groove's number, empty for all"},
		{Label: "ref", Value: "the maker's number of the line"},
		{Label: "new_min, new_max", Value: "limits of a new part"},
		{Label: "service_min, service_max", Value: "limits in service"},
		{Label: "unit", Value: "of the four numbers"},
		{Label: "wear", Value: "up when it grows as the part wears, down when it shrinks"},
		{Label: "overhaul_hours", Value: "overhaul life, h"},
		{Label: "document, revision, page", Value: "where the limit stands in the shop's own manual"},
	}
)
