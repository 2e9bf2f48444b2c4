package views

// Acknowledge is the form with which a person says that a finding was seen
// and why it may stand. Fields: who, reason.
type Acknowledge struct {
	Page     Page
	Action   string
	Draft    Draft
	Back     Link
	Part     string // "Cylinder C-1041"
	PartHref string
	Where    string // "engine R-1021, position 3"
	What     string // "Barrel bore, top"
	State    string // "flagged", or the verdict word for a limit
	Sentence string
	First    string // the first step to consider
	Comes    string // when it comes back: "when the next reading is worse"
	Earlier  []Fact // acknowledged before: day, and who, what was seen, why
}
