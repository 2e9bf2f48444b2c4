package views

// Findings is the page of what asks for somebody, worst first.
type Findings struct {
	Page                    Page
	Flagged                 []FindingRow // wear faster than normal
	Whole                   []WholeWear  // engines whose parts wear fast together
	Hard                    []FindingRow // rings that press harder than the original
	WholeMore               int
	HardMore                int
	HardLevel               string
	Beyond                  []FindingRow // measured beyond a limit
	Leaks                   []FindingRow // last leak test beyond its rule
	LeaksMore               int
	Seen                    []FindingRow // acknowledged
	Young                   []FindingRow // too young to judge, those measured last
	FlaggedMore, BeyondMore int          // how many more of those there are
	SeenMore                int          // how many more of those there are
	Levels                  string       // "Flagged: chance below 1 in 400 and more than 1.5 times a normal part."
	Unread                  bool         // nothing was measured yet
	Ordered                 string       // how the list is ordered, in words
	AllHref                 string       // shows every acknowledged one, "" where all are shown
}

// FindingRow is one finding.
type FindingRow struct {
	Word        string // flagged or beyond; of a ring that presses hard, higher or undecided
	Part        string // "Cylinder C-1041"
	Href        string // the part with that chart
	Where       string // "R-1021, position 3"; "on shelf"
	WhereHref   string
	Aircraft    string
	What        string // "barrel bore, top"
	Sentence    string
	Numbers     []Fact // ratio, chance, hours to the limit
	Against     string // "against 26 barrels of the same model and surface"
	AgainstHref string // where they are named
	First       string // the first step to consider
	Measured    string // day
	AckHref     string // "" where it was acknowledged
	Reason      string // why it may stand
	Who, When   string
}
