package views

// JobPlacing is the page on which a person settles what goes where in a job.
// Its form is judged by GET and saved by POST. Fields: uid, after (hidden);
// limits, do, despite; for each place the part in it, named as
// store.PlaceField names it, and keep-… whether it stays there.
type JobPlacing struct {
	Page      Page
	Head      JobHead
	Action    string
	Draft     Draft
	Ended     string // why nothing can be saved any more
	Saved     string // that and when it was saved, or that it was not yet
	Limits    []Option
	Stale     []StaleRow
	Warn      []string // what the placing breaks, or why none can be proposed
	Says      []string
	Sum       []Fact
	Positions []PlacingPosition
	Decided   []DecidedPart
	Missing   []string // what was left out and why
	Despite   bool     // a ring is placed where its facing or its pressure speaks against it
	Steps     []StepGroup
	Labels    map[string]string // of the fields
}

// PlacingPosition is the places of one position.
type PlacingPosition struct {
	Name  string
	Lines []PlacingLine
}

// PlacingLine is one place with the part that is proposed for it.
type PlacingLine struct {
	Place   string // "piston", "ring, groove 1"
	Label   string // "Piston at position 3"
	Field   string
	Keep    string
	Kept    bool
	Options []Option
	Into    string // "5.2531 in of barrel C-104"
	Size    string
	Fit     string
	Off     string // from the target
	Also    string // weight of a piston, end gap of a ring
	Verdict VerdictMark
	Against []string
	Compare Link   // of a ring, with the one that it replaces
	Change  string // how it differs from what sat there
}

// KeptValue is what the checkbox of a line that stays holds.
func (l PlacingLine) KeptValue() string {
	if l.Kept {
		return "yes"
	}
	return ""
}

// DecidedPart is a part of the job and what was decided of it.
type DecidedPart struct {
	Name, Href, Where, Disposition string
}
