package views

// Decide is the page on which a person decides what becomes of a part in a
// job. Nothing is chosen beforehand. Fields: uid, after, shown (hidden);
// disposition, oversize, groove, width, reason, who.
type Decide struct {
	Page      Page
	Head      JobHead
	Action    string
	Draft     Draft
	Part      string // "Cylinder C-104"
	PartHref  string
	Where     string // "position 3, since 2024-01-01"
	Notes     []string
	Changed   bool   // the consequences changed after the form was drawn
	Again     string // that the form was sent before
	Stale     []StaleRow
	Outlooks  []Outlook
	Ended     string   // why nothing can be decided any more
	Choices   []Option // dispositions open to the part
	Grinds    bool     // it can be ground
	Oversizes []Option // listed by the model
	Grooves   []Option // none for a part without grooves
	Unit      string
	Pending   *PendingWork
	History   []DecisionRow
	Ways      []Link
}

// PendingWork is machining that was decided, with where to record it.
type PendingWork struct {
	Says string
	Done bool
	Way  Link
}

// Outlook is what one disposition would lead to. What was shown when a
// decision was made is kept with it.
type Outlook struct {
	Disposition string         `json:"disposition"`
	Says        string         `json:"says"`           // in a sentence
	Size        string         `json:"size,omitempty"` // of the part afterwards
	Fit         string         `json:"fit,omitempty"`  // with its mate
	Left        string         `json:"left,omitempty"` // hours to the limit
	Verdict     VerdictMark    `json:"verdict"`
	Facts       []Fact         `json:"facts,omitempty"`
	Tables      []OutlookTable `json:"tables,omitempty"`
	Notes       []string       `json:"notes,omitempty"`
	Ways        []Link         `json:"-"`
	Steps       []WorkedStep   `json:"steps,omitempty"`
	Assumed     []string       `json:"assumed,omitempty"`
	Unknown     []string       `json:"unknown,omitempty"` // what the program cannot know of it
}

// OutlookTable is a table of consequences.
type OutlookTable struct {
	Title string       `json:"title"`
	Heads []string     `json:"heads"`
	Rows  []OutlookRow `json:"rows"`
	None  string       `json:"none,omitempty"` // said where there is no row
}

// OutlookRow is a line of it; the first cell is its head.
type OutlookRow []OutlookCell

// OutlookCell is text, or a word that judges.
type OutlookCell struct {
	Text string       `json:"text,omitempty"`
	Href string       `json:"href,omitempty"`
	Mark *VerdictMark `json:"mark,omitempty"`
}

// DecisionRow is a decision that was made of the part.
type DecisionRow struct {
	When, Who   string
	Job         string
	JobHref     string
	Disposition string // "grind to 0.0150 in"
	Reason      string
	Struck      bool // a later one overruled it
	Shown       []Outlook
}

var decideLabels = map[string]string{"disposition": "What becomes of it", "oversize": "Ground to", "groove": "Groove", "width": "Machined to", "reason": "Reason", "who": "Your name"}
