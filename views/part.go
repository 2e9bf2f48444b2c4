package views

// Part is the page of one part.
type Part struct {
	Page       Page
	Kind       string // cylinder, piston, ring, pin
	Serial     string
	PartNumber string
	Status     string // on engine, on shelf, scrapped
	Where      string // "R-1021, position 3, groove 2, since 2024-02-02"; "" on the shelf
	WhereHref  string
	Scrapped   string // day and reason
	Worst      VerdictMark
	Facing     *FacingCheck // of a ring in a barrel, nil for all others
	Hours      []Fact       // since new, since overhaul, since installation
	Facts      []Fact       // source, oversize, surface, facing, groove, weight ...
	Note       string

	Series []PartSeries // every spot that was measured, the one shown marked
	Judged *PartJudged  // nil where nothing was measured yet

	Barrel *Barrel   // nil where there is none to show
	Leak   *PartLeak // of a cylinder, nil where it was never tested

	Readings  []PartReading  // newest first
	UNote     string         // what U is: "U is 1.645 times the standard uncertainty."
	Stays     []PartStay     // newest first
	Events    []PartEvent    // newest first
	Decisions []DecisionLine // made in jobs
	Photos    Photos
	Links     PartLinks
}

// PartLinks are the addresses of what can be done with the part; "" where it
// cannot be done now.
type PartLinks struct {
	Measure, Install, Remove, Event, Scrap, Edit string
	Compare                                      string // of a ring, with the one it replaces
	Regroove                                     string // of a piston, for an over-width ring
	PDF, CSV, JSON                               string
	Tag                                          string
}

// PartSeries is one spot in the picker.
type PartSeries struct {
	Label   string // "barrel bore, top"
	Href    string
	Shown   bool
	State   string // how it wears, in a word
	Verdict VerdictMark
	Value   string // the latest reading, "5.2535 in"
}

// PartJudged is the spot that the page shows: verdict, chart, limits,
// forecast and how they were worked out.
type PartJudged struct {
	What     string // "Barrel bore, top"
	State    string // normal, flagged, too young to judge, no wear seen, no verdict, too few readings
	Sentence string // "61 h since installation, worn like 940 h; 6.2 times a normal part, chance 1 in 4,000."
	Verdict  VerdictMark
	UNote    string // what the error bars are: "Bars: ± U."
	Reading  string // the latest: "5.2535 ± 0.0004 in, 2025-11-03"
	Seen     string // "Acknowledged 2025-11-04 by A. Fitter: ..."; "" for none
	AckHref  string // "" where there is nothing to acknowledge

	Forecast []string // in words
	Chart    WearChart
	AllRuns  bool // the chart shows all runs
	OtherRun Link // the other view, zero where there is one run only
	Limit    *PartLimit
	LimitHow Link // verdicts by the limits of their day, or by those of today
	Worked   *Worked
}

// PartLimit is the limit that the spot is held to.
type PartLimit struct {
	New, Service       string // "5.2490 to 5.2510 in", "at most 5.2560 in"
	Wear               string // "grows with wear"
	Life               string // overhaul life
	Oversize           string // "moved by the oversize of 0.010 in"
	Ref                string // the maker's number of the line
	Document, Revision string
	PageNo             string
	Since, Href        string // when typed; its history
}

// PartReading is a row of the table of measurements.
type PartReading struct {
	Day, Engine   string
	EngineHours   string
	RunHours      string // hours in the run
	Feature       string
	Groove        string
	Station, Axis string
	Value, Typed  string // Typed only where it is not the value in full
	At20          string // "5.1272 at 20 °C", where it was read at another temperature and that shows
	U             string
	Gauge         string
	Temperature   string
	Who           string
	Verdict       VerdictMark
	Plain         string // the bare comparison's word
	Struck        bool   // a correction replaced it
	Reason        string // of the correction
	LeftOut       string // why the wear judgement does not use it
	Note          string
	SheetHref     string
	CorrectHref   string
	Begins        string // the run that begins with this reading: "run 2, since honing on 2024-02-02"; "" for all others
}

// bySheet parts readings, which are in the order of their sheets, sheet by
// sheet.
func bySheet(rs []PartReading) [][]PartReading {
	var sheets [][]PartReading
	for i, r := range rs {
		if i == 0 || r.SheetHref != rs[i-1].SheetHref || r.Day != rs[i-1].Day {
			sheets = append(sheets, nil)
		}
		last := &sheets[len(sheets)-1]
		*last = append(*last, r)
	}
	return sheets
}

// PartStay is where the part was.
type PartStay struct {
	Engine, EngineHref string
	Place              string // "position 3, groove 2"
	PlaceHref          string
	From, FromHours    string
	To, ToHours        string // "" while it is there
	Hours              string // it ran there
	Reason             string // why it came out
	Void               string // why the entry counts for nothing
	Despite            string // why it was fitted although a ring's facing or pressure speaks against it
	StrikeHref         string // strikes an entry that was never true
}

// PartEvent is something that began a run or was done to the part.
type PartEvent struct {
	Day, What, Hours string // hours on the part
	Run              string // "run 2 begins"
	Note             string
	Void             string // why the entry counts for nothing
	StrikeHref       string // strikes an entry that was never true
}
