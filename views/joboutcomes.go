package views

// JobOutcomes looks back on what was decided in closed jobs.
type JobOutcomes struct {
	Page  Page
	Kinds []OutcomeKind
	Rows  []OutcomeLine
	Total string // "12 decisions of closed jobs"
	Turn  Turn
}

// OutcomeKind is what decisions of one kind have led to over the fleet.
type OutcomeKind struct {
	Disposition, Decisions                       string
	Well, Flagged, Beyond, Removed, Unread, Rest string
	Median                                       string // hours since
}

// OutcomeLine is one decision and what it led to.
type OutcomeLine struct {
	Says, Href string // "Reused piston P-114"
	Now        string // "310.0 h later still normal, measured 2026-05-01"
	Mark       VerdictMark
	Reason     string // of the decision
	Job        Link
	Day        string
}

// Turn leads to the pages of a table before and after.
type Turn struct{ Before, After string }

// DecisionLine is a decision on the page of its part.
type DecisionLine struct {
	Text   string // "grind to 0.0150 in oversize"
	Reason string
	Struck bool
	When   string
	Job    Link
	Decide string // the page it was made on
}
