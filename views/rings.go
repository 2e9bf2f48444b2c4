package views

// RingCompare sets a ring's contact pressure against that of the ring it
// replaces. Its form is sent by GET and saves nothing. Fields: with, serial,
// force, force_kind, width, material, bore.
type RingCompare struct {
	Page      Page
	Action    string
	Draft     Draft
	Ring      string // its serial
	Back      Link
	Choices   []Option // rings that sat there before, the maker's new ring
	Materials []Option
	Typed     bool // a typed reference is in use
	Unit      string
	Warn      string // "1.15", the ratio above which it warns
	Bore      RingInput
	Sides     []RingSide // the ring, and the original where one was chosen
	Notes     []string
	Result    *RingResult
	Worked    *RingWorked
}

// RingSide is one of the two rings.
type RingSide struct {
	Name, Href string
	Role       string // offered, original
	From       string // "from its tangential force"
	Inputs     []RingInput
	Pressure   string // "0.133 N/mm²", "" where it cannot be worked out
	PressureU  string
	Tangential string // the tangential force that follows, where another was measured
	Hint       string // against what is usual
	Missing    []Link // what is missing, with where to get it
	Why        string // what is wrong with its sizes
}

// RingInput is a number that went in, with where it came from.
type RingInput struct {
	What, Value, U, From, Href string
	Way                        Link // where to get it, of one that is missing
}

// RingResult is what came of the comparison.
type RingResult struct {
	Ratio  string
	Word   string // alike, higher, lower, undecided
	Plain  string // the bare comparison's word
	Words  string
	Limits string // "0.87 to 1.15 times"
	Warn   bool
}

// RingWorked is how something about rings was worked out, step by step.
type RingWorked struct {
	Groups  []StepGroup
	Assumed []string
	Unknown []string
}

// StepGroup is some steps under a heading.
type StepGroup struct {
	Title string
	Steps []WorkedStep
}

// Regroove works out which over-width rings a worn groove can be machined
// for. Its form is sent by GET and saves nothing. Fields: groove (hidden),
// groove_width, clearance_min, clearance_max, clean_up, rings, shelf, above,
// above_min, below, below_min, share.
type Regroove struct {
	Page     Page
	Action   string
	Draft    Draft
	Piston   string // its serial
	Groove   string
	Grooves  []GrooveLink
	Back     Link
	Measure  string
	Unit     string
	Hints    map[string]string // of fields that the book filled in
	Shelf    []Fact            // rings on the shelf that were measured
	Summary  string            // "" before the form was sent
	Rows     []RegrooveRow
	Original *Link  // what the offered rings are set against
	Lacks    []Link // what its pressure cannot be worked out without
	Worked   *RingWorked
}

// GrooveLink leads to another groove.
type GrooveLink struct {
	Number, Href string
	Shown        bool
}

// RegrooveRow is one over-width ring.
type RegrooveRow struct {
	Name      string
	Works     bool
	Word      string // works, does not work
	Ring      string // its width
	Groove    string // to be machined to
	Cut       string // to be taken off
	Clearance string // side clearance of the ring in it then
	Lands     []RegrooveLand
	Force     string // for the original's pressure
	Ratio     string
	RatioWord string
	Reasons   []string
	Notes     []string
}

// RegrooveLand is what is left of a land.
type RegrooveLand struct{ Text, Verdict string }

// FacingList is the shop's list of which facing may run on which surface, and
// the form of a new entry. Fields: facing, surface, says, document, reason.
type FacingList struct {
	Page     Page
	Action   string
	Draft    Draft
	Replaces string // "hard chrome on nitrided": the entry that is replaced
	Known    []string
	Surfaces []Option
	Rows     []FacingRow
}

// FacingRow is one entry.
type FacingRow struct {
	Facing, Surface, Says, Document, Reason, Since string
	Struck                                         bool
	Href                                           string // replaces it
}

// FacingCheck is a ring's facing judged against the barrel it runs in.
type FacingCheck struct {
	Word               string // allowed, not allowed, unknown
	Words, Source      string
	Barrel, BarrelHref string
	AddHref            string // types an entry for the pair; "" where a name is missing
}

// FittedDespite goes before the reason that was given for fitting a part.
const FittedDespite = "fitted although a ring's facing or pressure speaks against it: "

// RingPressing says how hard a ring presses against the original.
type RingPressing struct {
	Word  string // higher, undecided; "" for one that was not measured
	Words string
	Href  string // the comparison; "" for a ring that the book does not have yet
}

var (
	compareLabels = map[string]string{"with": "The original", "serial": "Its serial", "force": "Force", "width": "Axial width", "bore": "Bore"}
	grooveLabels  = map[string]string{"groove": "Groove", "groove_width": "Groove width now", "clearance_min": "Side clearance, least", "clearance_max": "Side clearance, most", "clean_up": "Least cut to clean up",
		"rings": "Over-width rings", "above": "Land above", "above_min": "Land above, least", "below": "Land below", "below_min": "Land below, least", "share": "Off the land below"}
)

// GrooveLabel is what a field of the page on over-width rings is called.
func GrooveLabel(field string) string { return orWord(grooveLabels[field], field) }
