package views

// Jobs is the list of jobs.
type Jobs struct {
	Page          Page
	Open, Ended   []JobRow
	Before, After string // pages of the list
}

// JobRow is a job in a list.
type JobRow struct {
	Name, Href string // "Job 12"
	Why        string
	Engine     string
	EngineHref string
	Opened     string
	Stands     string // "3 of 9 off", "closed on 2026-03-09"
	Halted     bool   // the crankshaft must not be turned
}

// JobForm opens a job. Fields: uid, why, detail, all, p1 to pN, day, hours,
// stands.
type JobForm struct {
	Page       Page
	Action     string
	Draft      Draft
	Engine     string
	About      string
	Back       Link
	Reasons    []string
	Positions  []JobChoice
	Stands     []Option
	HoursHint  string
	Master     string // "Position 5 holds the master rod …"; empty where there is none
	Under      []Link // jobs under way on the engine
	FixedStand string // where the crank stands by those
	Checklist  Link
}

// JobChoice is a position that can come off.
type JobChoice struct {
	Number int
	Label  string // "5, master rod, C-1041"
	Taken  string // the job it is in; empty where it is free
}

// JobOrder is the page of a job's order. Fields of its forms: uid, after,
// kind, position, text, despite, undoes.
type JobOrder struct {
	Page     Page
	Head     JobHead
	Open     bool
	Action   string
	UID      string
	After    string
	Draft    Draft
	Stale    []StaleRow
	Refused  *JobRefusal
	Detail   string // what was typed when the job was opened
	Stands   string
	Words    string    // how the order was made
	Missing  string    // why no order can be told
	Turning  Link      // where orders are typed
	Next     *JobLine  // of the order; nil where it is done
	Todo     BenchNext // what comes first; blank where Next does
	Off, On  []JobLine
	Add      []Option
	Leave    []Option
	Turn     []Option
	History  []JobEvent
	Cautions []string
}

// JobRefusal is a step that was refused, and can be taken with a reason.
type JobRefusal struct {
	Step, Words    string
	Kind, Position string
}

// JobLine is a cylinder in the order off or on.
type JobLine struct {
	Position        string
	Master          bool
	Kind            string // pulled or refitted
	Turn, To, True  string
	Reason, Caution string
	Done            string // when and by whom; empty where it is to be done
	Despite         string
	Next            bool
	Waits           bool // it cannot be done yet
	BenchHref       string
}

// step says what is recorded with the line: "Cylinder 3 is off".
func (l JobLine) step() string {
	if l.Kind == "pulled" {
		return "Cylinder " + l.Position + " is off"
	}
	return "Cylinder " + l.Position + " is on"
}

// JobEvent is something that happened in a job.
type JobEvent struct {
	ID, When, Who string
	What, Text    string
	Despite       string
	Struck        bool
	CanTakeBack   bool
}

// TurningForm is how a model's crank brings its cylinders up. Fields: rows,
// anticlockwise, firing, order_off, order_on, spread, overhaul.
type TurningForm struct {
	Page   Page
	Action string
	Draft  Draft
	Model  string
	Radial bool
	Back   Link
}

// turning says how the piston comes to top dead centre: to the true one where
// that is known.
func (l JobLine) turning() string {
	switch {
	case l.Turn == "":
		return "Bring its piston to top dead centre, either stroke."
	case l.Turn == "0.0°" && l.True != "":
		return "No turn: its piston is at top dead centre, truly " + l.True + " (nominal " + l.To + ")."
	case l.Turn == "0.0°":
		return "No turn: its piston is at top dead centre, " + l.To + "."
	case l.True != "":
		return "Turn the crank forward and stop at " + l.True + ", its true top dead centre (nominal: " + l.Turn + " on, at " + l.To + ")."
	}
	return "Turn the crank " + l.Turn + " forward, to " + l.To + "."
}
