package views

// JobEntryDraft is the page with the draft of a job's logbook entry.
type JobEntryDraft struct {
	Page       Page
	Head       JobHead
	Action     string
	Open       bool // the job is under way: the draft is not complete
	Inspection bool // with the part about an inspection
	Text       string
	Files      []Link
}

// Wording edits the shop's wordings. Fields: job, and a text each, by its
// name; preview shows them without saving, ours takes one back to the
// program's.
type Wording struct {
	Page      Page
	Action    string
	Draft     Draft
	Texts     []WordingText
	Words     []Fact // placeholders and what they stand for
	Jobs      []Option
	PreviewOf string
	Preview   []string // of each text
}

// WordingText is a text that can be edited.
type WordingText struct {
	Name, Label string
	Own         bool // the shop wrote it
}

func (p Wording) labels() map[string]string {
	names := map[string]string{"job": "Job"}
	for _, t := range p.Texts {
		names[t.Name] = t.Label
	}
	return names
}
