package views

// JobHead stands above every page of a job: what job it is, and the ways to
// its other pages.
type JobHead struct {
	Title      string // "Job 12: top overhaul"
	About      string // "opened 2026-03-04 at 1,204.5 h by R. Moss"
	Engine     string
	EngineHref string
	Ended      string // "closed on 2026-03-09"; empty while it is under way
	Ways       []JobWay
}

// JobWay leads to one of a job's pages.
type JobWay struct {
	Text, Href string
	Here       bool
}

// StaleRow is what others saved after a form was drawn: the form is shown
// again with both.
type StaleRow struct {
	What, Theirs, Yours string
	Taken               bool // the form had nothing of its own there, and has theirs now
	Who, When           string
}
