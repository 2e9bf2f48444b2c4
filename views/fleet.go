package views

import "strconv"

// Fleet is the first page: every engine with its positions at a glance.
type Fleet struct {
	Page   Page
	Query  string
	Found  string // "214 engines, 1,926 positions"
	Rows   []FleetRow
	Before string // href of the page before, "" for none
	After  string // href of the next page, "" for none
	Empty  bool   // the book has no engine yet
}

// FleetRow is one engine.
type FleetRow struct {
	Serial, Model, Aircraft string
	Hours                   string // "1,204.5 h", "" where the meter was never read
	Measured                string // day last measured, "" for never
	Worst                   VerdictMark
	Findings                int  // open ones
	Whole                   bool // the whole engine wears faster than others
	Href, MeasureHref       string
	Jobs                    []Link // under way
	Cells                   []FleetCell
}

// FleetCell is one position of an engine.
type FleetCell struct {
	Number  int
	Verdict string // the worst verdict's word, "" where nothing was measured
	Note    string // what the verdict is of, where that is no part: "leak test"
	Flagged bool   // a part there wears faster than normal, not acknowledged
	Bare    bool   // no part is recorded there
	Href    string
}

// says is the position in words.
func (c FleetCell) says() string {
	if c.Bare {
		return "no parts"
	}
	says := joined(", ", orWord(c.Verdict, "not measured"), c.Note)
	if c.Flagged {
		says += ", flagged"
	}
	return says
}

// class gives the loudest colour that the position has.
func (c FleetCell) class() string {
	switch {
	case c.Bare:
		return "cell-bare"
	case c.Flagged:
		return "bad"
	}
	return tone(c.Verdict)
}

// findings counts in words.
func findings(n int) string {
	switch n {
	case 0:
		return "none"
	case 1:
		return "1 open"
	}
	return strconv.Itoa(n) + " open"
}
