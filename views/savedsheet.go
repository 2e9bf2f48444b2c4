package views

// SavedSheet is a sheet after it was saved: every number with its verdict
// beside it, and what the numbers say of the wear.
type SavedSheet struct {
	Page  Page
	Name  string // "Position 3 of engine R-1021, 2025-11-03"
	Facts []Fact // date, meter and total hours, who, gauge, temperature, note
	Parts []SheetResult
	Steps []WorkedStep // to the worst verdict on each feature
	Next  []Link       // part pages, the next position to measure
}

// SheetResult is one part on a saved sheet.
type SheetResult struct {
	ID     string // an element id
	Name   string
	Href   string
	About  string
	Blocks []ResultBlock
}

// ResultBlock is one feature of a part: what its wear says, then the numbers.
type ResultBlock struct {
	Feature string
	Unit    string
	Limits  string // "new 5.2490 to 5.2510, service at most 5.2560"
	Source  string // document, revision, page
	Wear    []WearLine
	Rows    []ResultRow
}

// WearLine is the sentence on a feature, or on one station or groove of it.
type WearLine struct {
	Where string // "top", "groove 1"; "" for the whole feature
	State string // normal, flagged, too young to judge, no wear seen, no verdict
	Text  string
	Href  string // the part's page with that chart
}

// ResultRow is one reading. Struck readings were corrected later.
type ResultRow struct {
	Spot        string // "top, thrust"
	Typed       string // "+3.5", "" where it was typed in full
	Value       string // "5.2535"
	U           string // "± 0.0003"
	Verdict     VerdictMark
	At20        string // "5.1272 at 20 °C", where it was read at another temperature and that shows
	Plain       string // the bare comparison: "0.0025 inside the service limit"
	Change      string // "+0.0012 since 2025-04-02", "first reading"
	Struck      bool
	Reason      string // why it was corrected
	CorrectHref string
}

// gathered puts facts with the same label together, in the place of the first.
func gathered(fs []Fact) []Fact {
	var out []Fact
	at := map[string]int{}
	for _, f := range fs {
		if i, known := at[f.Label]; known {
			out[i].Value += ", " + f.Value
			continue
		}
		at[f.Label] = len(out)
		out = append(out, f)
	}
	return out
}
