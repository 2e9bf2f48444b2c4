// Package views draws the pages, their drawings and the printed records. Each
// page takes one plain struct that mirrors it, with every number already
// written out: nothing is looked up, and nothing is reckoned but where things
// stand on a drawing.
package views

import "strconv"

// Page is what every page has around its own content.
type Page struct {
	Title    string                         // of the browser's tab, without the shop's name: "Engine R-1021"
	Nav      string                         // the key of the current entry of the navigation, see NavFleet and the rest
	Shop     string                         // the shop's name, "" where it gave none
	Demo     bool                           // the book is the invented demo
	Book     string                         // what tells this book from every other, for what waits on a tablet
	Flash    string                         // what was just done: "Sheet saved, 24 readings"
	Findings int                            // open findings, shown in the navigation
	Person   string                         // who is signed in, "" for nobody
	Whose    string                         // tells that person from others, whatever their names are
	Lock     int                            // minutes without a touch after which the page is covered, 0 for never by itself
	Here     string                         // where a hand-over comes back to
	Halt     *Halt                          // why the crankshaft of the page's engine must not be turned; nil where it may
	Clock    string                         // what speaks against the clock of the computer, "" for nothing
	Allows   func(method, href string) bool // what the person may do; nil for everything
}

// Can reports whether who is signed in may do something: show what is at an
// address (GET), or send a form there (POST).
func (p Page) Can(method, href string) bool { return p.Allows == nil || p.Allows(method, href) }

// Halt says that a crankshaft must not be turned.
type Halt struct {
	Words string // "Master-rod cylinder 5 of engine R9-1 is off."
	Ways  []Link // to the jobs
}

// Keys of the navigation's entries; the last ones stand at the foot.
const (
	NavFleet    = "fleet"
	NavFindings = "findings"
	NavMeasure  = "measure"
	NavParts    = "parts"
	NavEngines  = "engines"
	NavJobs     = "jobs"
	NavLimits   = "limits"
	NavImport   = "import"
	NavRecord   = "record"
	NavGauges   = "gauges"
	NavFeatures = "features"
	NavSettings = "settings"
	NavFacings  = "facings"
	NavTablets  = "tablets"
	NavPeople   = "people"
	NavWaiting  = "waiting"
)

// navEntry is an entry of the navigation.
type navEntry struct{ key, text, href string }

var (
	topNav = []navEntry{
		{NavFleet, "Fleet", "/"}, {NavFindings, "Findings", "/findings"},
		{NavJobs, "Jobs", "/jobs"}, {NavMeasure, "Measure", "/measure"}, {NavParts, "Parts", "/parts"},
		{NavEngines, "Engines", "/engines"}, {NavLimits, "Limits", "/limits"},
		{NavImport, "Import", "/import"}, {NavRecord, "Record", "/record"},
	}
	footNav = []navEntry{
		{NavGauges, "Gauges", "/gauges"}, {NavFeatures, "Own features", "/features"}, {NavFacings, "Ring facings", "/facings"}, {NavSettings, "Settings", "/settings"}, {NavTablets, "Tablets", "/tablets"},
		{NavAudit, "Who did what", "/audit"},
		{NavPeople, "People", "/people"},
		{NavWaiting, "Waiting on this device", "/waiting"},
	}
)

// heading is the text of the browser's tab.
func (p Page) heading() string {
	return joined(" · ", p.Title, orWord(p.Shop, "Barrelbook"))
}

// count is what stands beside an entry: the open findings, or nothing.
func (p Page) count(e navEntry) string {
	if e.key != NavFindings || p.Findings <= 0 {
		return ""
	}
	return strconv.Itoa(p.Findings)
}
