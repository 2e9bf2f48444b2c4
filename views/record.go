package views

// RecordChoose is the page on which a person picks whose record to take along.
type RecordChoose struct {
	Page        Page
	Query       string
	Engines     []RecordRow
	Parts       []RecordRow
	MoreEngines int
	MoreParts   int
	Empty       bool
}

// RecordRow is an engine or a part with the addresses of its record.
type RecordRow struct {
	Name, About    string // "Cylinder C-1041", "R-1021, position 3"
	Href           string
	PDF, CSV, JSON string
}
