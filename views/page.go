// Package views draws the pages, their drawings and the printed records. Each
// page takes one plain struct that mirrors it, with every number already
// written out: nothing is looked up, and nothing is reckoned but where things
// stand on a drawing.
package views

import "strconv"

// Page is what every page has around its own content.
type Page struct {
	Title    string // of the browser's tab, without the shop's name: "Engine R-1021"
	Nav      string // the key of the current entry of the navigation, see NavFleet and the rest
	Shop     string // the shop's name, "" where it gave none
	Demo     bool   // the book is the invented demo
	Book     string // what tells this book from every other, for what waits on a tablet
	Flash    string // what was just done: "Sheet saved, 24 readings"
	Findings int    // open findings, shown in the navigation
}

// Keys of the navigation's entries; the last five stand at the foot.
const (
	NavFleet    = "fleet"
	NavFindings = "findings"
	NavMeasure  = "measure"
	NavParts    = "parts"
	NavEngines  = "engines"
	NavLimits   = "limits"
	NavImport   = "import"
	NavRecord   = "record"
	NavGauges   = "gauges"
	NavFeatures = "features"
	NavSettings = "settings"
	NavFacings  = "facings"
	NavWaiting  = "waiting"
)

// navEntry is an entry of the navigation.
type navEntry struct{ key, text, href string }

var (
	topNav = []navEntry{
		{NavFleet, "Fleet", "/"}, {NavFindings, "Findings", "/findings"},
		{NavMeasure, "Measure", "/measure"}, {NavParts, "Parts", "/parts"},
		{NavEngines, "Engines", "/engines"}, {NavLimits, "Limits", "/limits"},
		{NavImport, "Import", "/import"}, {NavRecord, "Record", "/record"},
	}
	footNav = []navEntry{
		{NavGauges, "Gauges", "/gauges"}, {NavFeatures, "Own features", "/features"}, {NavFacings, "Ring facings", "/facings"}, {NavSettings, "Settings", "/settings"},
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
