package views

// JobBench is the page of all positions of a job.
type JobBench struct {
	Page Page
	Head JobHead
	Next BenchNext
	Rows []BenchRow
}

// BenchNext is what is to be done next, with the address where it is done.
type BenchNext struct {
	Text, Href string
	Why        string
}

// BenchRow is one position of a job.
type BenchRow struct {
	Position string
	Href     string
	Name     string // of its cylinder; "" where none is recorded
	Master   bool
	State    string // still on, off, back on
	Measured string // "12 of 18"
	Decided  string
	Steps    string
	Photos   string
	Worst    VerdictMark
}

// BenchPosition is the page of one position of a job.
type BenchPosition struct {
	Page     Page
	Head     JobHead
	Position string
	Ways     []JobWay // the other positions
	Row      BenchRow
	Next     BenchNext
	Facts    []Fact
	Slots    []BenchSlot
	Placed   []Link // parts that are to be fitted here and came from elsewhere
	Fits     *Fits
	Photos   Photos
	StepsWay Link
	Master   bool
}

// BenchSlot is a part of the stack on the bench.
type BenchSlot struct {
	ID          string // an element id
	Place       string // "Cylinder", "Ring, groove 1"
	Name, Href  string
	About       string
	Decided     string // "grind: scored, 2026-05-02, R. Moss"; "" for not decided
	State       string // how it wears, in a word
	Sentence    string
	Pressing    *RingPressing
	Work        []string // done on it since the job was opened
	Lines       []BenchLine
	Missing     string // "barrel bore (6), pin bore (2)"; "" where nothing is to be measured any more
	MeasureHref string // "" where it cannot be done now
	DecideHref  string
	EventHref   string
}

// waits says what a part waits for first.
func (s BenchSlot) waits() string {
	switch {
	case s.Missing != "":
		return "to be measured"
	case s.Decided == "":
		return "to be decided"
	}
	return "decided"
}

// BenchLine is a feature: what it was before the job, and what it is on the
// bench.
type BenchLine struct {
	What, Href string
	Last       string // "5.2520, 2025-11-03"; "" for never
	Now, U     string // "" for not yet measured on the bench
	At20       string // "5.1272 at 20 °C", where it was read at another temperature and that shows
	Limit      string
	Verdict    VerdictMark
	Plain      string
	Missing    string // "4 of 6 to be measured"; "" for none
}
