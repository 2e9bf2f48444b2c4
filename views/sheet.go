package views

import "strings"

// Sheet is the form on which a position or a part is measured: the head, then
// a block a feature of each part. Field names of the head: uid, day, hours,
// who, gauge, temperature, unit, mode, note.
type Sheet struct {
	Page   Page
	Name   string // "Position 3 of engine R-1021"
	Href   string // the engine's position, or the part
	About  string // a line under the name: model, aircraft
	Action string
	Draft  Draft

	OnEngine   bool   // asks for the meter; a part on the shelf has none
	HoursHint  string // "last 1,204.5 h on 2025-11-03"
	OffsetHint string // "the meter was replaced: 1,000.0 h are added to what it shows"; "" for none
	Meter      Meter
	Gauges     []Option
	Units      []Option // in, mm
	GaugesHref string

	Parts   []SheetPart
	Missing []Link // "No pin is recorded here", with the link to install one
}

// Ways to type a number: the values of field mode.
const (
	ModeFull    = "full"    // 5.2535, and +3.5 where a nominal size is known
	ModeNominal = "nominal" // 3.5: thousandths from the nominal
	ModeDial    = "dial"    // what the dial shows against the set size
)

// SheetPart is one part on a sheet.
type SheetPart struct {
	ID     string // an element id, "part-41"
	Name   string // "Cylinder C-1041"
	Href   string
	About  string // "61.0 h since installation, oversize 0.010 in"
	Blocks []SheetBlock
}

// SheetBlock is one feature of a part: rows of cells.
type SheetBlock struct {
	ID        string // an element id, "b-41-3"
	Feature   string // "Barrel bore"
	Wear      string // "grows with wear", "shrinks with wear", ""
	Unit      string // "in"
	Clearance bool   // too little of it is as bad as too much
	OwnUnit   bool   // whatever the head of the sheet says
	Nominal   string // "5.2500", from which thousandths count; "" where there is none
	Step      string // "thousandths" or "hundredths"
	New       string // limits that hold for every cell: "5.2490 to 5.2510", "" for none
	Service   string // "at most 5.2560", "" for none
	Source    string // document, revision, page
	LimitsTo  string // where limits are typed, for a feature without any
	Bounds    Bounds // the same limits, for the comparison on a tablet out of reach

	Expansion string // 1/K, of a size that is carried to 20 °C; "" for any other

	RowHead string      // "Station", "Groove", "Place"; "" where a feature has one spot
	Heads   []string    // a column head an axis; one empty head where there are no axes
	Rows    []SheetRow  // at least one
	Gauge   *SheetExtra // another gauge for this feature, g-<part>-<feature>
	SetSize *SheetExtra // what the dial gauge was set to, s-<part>-<feature>
	Bore    *SheetExtra // the bore a ring's end gap was measured in, b-<part>-<feature>
}

// SheetExtra is a field beside the cells of a block; its value and faults are
// in the draft.
type SheetExtra struct {
	Name string
	Hint string
}

// SheetRow is a station, groove or place. New and Service are limits of this
// row alone.
type SheetRow struct {
	Label        string
	New, Service string
	Bounds       *Bounds // of this row alone
	Cells        []SheetCell
}

// SheetCell is one number to type; its value and fault are in the draft.
type SheetCell struct {
	Name    string // v-<part>-<feature>-<groove>-<station index>-<axis index>
	Label   string // "top, thrust"
	Last    string // "5.2512", "" for never measured
	LastDay string // "2025-04-02"

	LastAt20 string // "5.1272 at 20 °C", where it was read at another temperature and that shows
}

// full is the cell's name for somebody who hears it.
func (b SheetBlock) full(c SheetCell) string {
	if c.Label == "" {
		return b.Feature
	}
	return b.Feature + ", " + c.Label
}

// howRead says how a number with a sign is read in this block, where it may
// have one.
func (b SheetBlock) howRead() string {
	if b.Nominal == "" {
		return ""
	}
	return "with a sign, +3.5: " + b.Step + " from " + b.Nominal
}

// rare reports whether the feature has no limit and was never measured.
func (b SheetBlock) rare() bool {
	for _, r := range b.Rows {
		for _, c := range r.Cells {
			if c.Last != "" {
				return false
			}
		}
	}
	return b.New == "" && b.Service == "" && !b.rowLimits()
}

// split takes the rare features of a part from the others, so that they can
// be folded away. Where all are rare, all are usual.
func (p SheetPart) split() (usual, rare SheetPart) {
	usual, rare = p, p
	usual.Blocks, rare.Blocks = nil, nil
	for _, b := range p.Blocks {
		if b.rare() {
			rare.Blocks = append(rare.Blocks, b)
		} else {
			usual.Blocks = append(usual.Blocks, b)
		}
	}
	if len(usual.Blocks) == 0 {
		usual, rare = rare, usual
	}
	return usual, rare
}

// names lists the features of a part: guide bore, valve stem.
func (p SheetPart) names() string {
	names := make([]string, len(p.Blocks))
	for i, b := range p.Blocks {
		names[i] = strings.ToLower(b.Feature)
	}
	return strings.Join(names, ", ")
}

// typed reports whether anything stands in a cell of the part, or is wrong
// with one.
func (p SheetPart) typed(d Draft) bool {
	for _, b := range p.Blocks {
		for _, r := range b.Rows {
			for _, c := range r.Cells {
				if d.Value(c.Name) != "" || d.Fault(c.Name).Message != "" {
					return true
				}
			}
		}
	}
	return false
}

// rowLimits reports whether any row has limits of its own.
func (b SheetBlock) rowLimits() bool {
	for _, r := range b.Rows {
		if r.New != "" || r.Service != "" {
			return true
		}
	}
	return false
}

// blockGroup is blocks drawn together: one grid, or single numbers that
// follow each other.
type blockGroup []SheetBlock

func (g blockGroup) grid() bool { return !g[0].single() }

// single reports whether the feature has but one spot.
func (b SheetBlock) single() bool { return len(b.Rows) == 1 && len(b.Rows[0].Cells) == 1 }

// groups puts single numbers that follow each other together.
func (p SheetPart) groups() []blockGroup {
	var gs []blockGroup
	for _, b := range p.Blocks {
		if len(b.Rows) == 0 {
			continue
		}
		if n := len(gs); n > 0 && b.single() && !gs[n-1].grid() {
			gs[n-1] = append(gs[n-1], b)
			continue
		}
		gs = append(gs, blockGroup{b})
	}
	return gs
}

// labels names every field of the sheet for the summary of what is wrong.
func (p Sheet) labels() map[string]string {
	names := map[string]string{"day": "Date", "hours": "Meter shows", "who": "Measured by", "gauge": "Gauge",
		"temperature": "Part temperature", "unit": "Lengths in", "mode": "Numbers are", "note": "Note"}
	for _, part := range p.Parts {
		for _, b := range part.Blocks {
			for _, r := range b.Rows {
				for _, c := range r.Cells {
					names[c.Name] = part.Name + ", " + b.full(c)
				}
			}
			for _, x := range []struct {
				extra *SheetExtra
				what  string
			}{{b.Gauge, "gauge"}, {b.SetSize, "set size"}, {b.Bore, "bore of the gap"}} {
				if x.extra != nil {
					names[x.extra.Name] = part.Name + ", " + b.Feature + ", " + x.what
				}
			}
		}
	}
	return names
}

// line is the limits of a single number; nothing where none was typed.
func (b SheetBlock) line() (unworn, service string) {
	return orWord(b.New, b.Rows[0].New), orWord(b.Service, b.Rows[0].Service)
}
