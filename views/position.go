package views

// Position is the page of one position of an engine: the stack that sits there.
type Position struct {
	Page        Page
	Engine      string // "R-1021"
	EngineHref  string
	Model       string
	Number      int
	Master      bool // the master-rod cylinder is here
	MasterAt    int  // position of the master-rod cylinder elsewhere, 0 for none
	Facts       []Fact
	Slots       []PositionSlot
	Fits        *Fits // nil where none can be told
	Earlier     []EarlierPart
	Job         Link   // the job under way here: "Job 3: cylinder off"; empty where there is none
	JobHref     string // opens one
	Prev, Next  Link   // the neighbours: "Position 2"
	MeasureHref string
	InstallHref string // installs what is missing; "" where nothing is
}

// PositionSlot is a place of the stack and what sits in it.
type PositionSlot struct {
	Place       string // "Cylinder", "Ring, groove 1"
	Name        string // "C-1041"; "" for an empty place
	Href        string
	About       string // "part number 6511, chrome-plated, oversize 0.010"
	Installed   string // day
	SinceNew    string // "1,204.5 h", "" where not known
	SinceDone   string // since overhaul, "" where never
	SinceHere   string // since installation
	State       string // how it wears, in a word: normal, flagged ...
	Sentence    string // and in a sentence
	Lines       []PositionLine
	Facing      *FacingCheck // of a ring in a barrel
	Pressing    *RingPressing
	Despite     string // why it was fitted although a ring's facing or pressure speaks against it
	CompareHref string // of a ring
	MeasureHref string
	RemoveHref  string
	EventHref   string // work done to it in place
	InstallHref string // of an empty place
}

// PositionLine is the latest reading of one feature, the worst spot of it.
type PositionLine struct {
	What    string // "barrel bore, top, thrust"
	Value   string // "5.2535"
	U       string // "± 0.0004"
	Limit   string // "at most 5.2560 in", "" for no limit
	Day     string
	Verdict VerdictMark
	Href    string // the part with that chart
}

// EarlierPart is a part that sat here before.
type EarlierPart struct {
	Place, Name, Href string
	From, To          string // days
	Hours             string // it ran here
	Reason            string // why it came out
}
