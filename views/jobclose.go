package views

// JobClose is the page on which a job's parts go back on and the job is
// closed. Its forms post to Action with what = refit, close, give up or reopen,
// uid and after; fields of refit: day, hours, despite; of the others: end_day,
// end_reason. Places whose faults it can show are named as the store names
// them.
type JobClose struct {
	Page      Page
	Head      JobHead
	Action    string
	Draft     Draft
	Stale     []StaleRow
	UID       string
	After     string
	Open      bool
	HoursHint string
	Offset    string
	Positions []RefitPosition
	Changes   string // "3 places change: 2 parts come off, 3 go on"
	Ways      []Link // the next steps
	Fitted    string // when the last refit was saved
	Checks    []CloseCheck
	Refused   bool // a check refuses to close
	History   []Fact
}

// RefitPosition is a position of the job: the places that change or stay
// empty, and the parts that go back where they were.
type RefitPosition struct {
	Name   string // "Position 3"
	Places []RefitRow
	Back   []Link // "ring R-206-1"
}

// RefitRow is a place, what sits there by the book, and what is to.
type RefitRow struct {
	Place          string // "Ring, groove 1"
	Sits, SitsHref string
	Goes, GoesHref string
	Says           string // "P-190 goes on; P-206 comes off, replace: worn", "empty: place a part"
	Despite        string
	Bad            bool // empty
	Pressing       *RingPressing
}

// CloseCheck is something that is open before the job is closed.
type CloseCheck struct {
	Words, Href string
	Refuses     bool
}

// labels names the fields for the summary of what is wrong.
func (p JobClose) labels() map[string]string {
	return map[string]string{"day": "Day of the refit", "hours": "Meter shows", "despite": "Why all the same", "end_day": "Date", "end_reason": "Reason"}
}

// commaBefore is what stands before the ith of n things in a line: nothing
// after the last.
func commaBefore(i, n int) string {
	if i < n {
		return ", "
	}
	return ""
}
