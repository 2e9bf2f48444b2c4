package views

// InstallStack is the form that fits parts at a position: one row a place,
// the taken ones named and the free ones to fill. Fields: day, hours; a free
// place named slot has from-slot, serial-slot, part_number-slot,
// hours_before-slot and, where asked, oversize-slot, surface-slot and
// facing-slot.
type InstallStack struct {
	Page       Page
	Action     string
	Draft      Draft
	Engine     string
	Position   string
	Back       Link
	HoursHint  string
	OffsetHint string
	MasterRod  string // "Position 5 holds the master rod: ..." for a radial; "" otherwise
	Unit       string // of oversizes
	Sources    []Option
	Surfaces   []Option
	Slots      []Slot
	Next       string // the position after this one, "" after the last
}

// Slot is a place of the stack.
type Slot struct {
	Name   string   // ends the fields' names: cylinder, piston, ring-1, pin
	Label  string   // "Ring, groove 1"
	Holds  string   // "cylinder C-1041 since 2024-02-02"; "" for a free place
	Href   string   // the part that it holds
	Remove string   // where that is removed
	Shelf  []Option // parts on the shelf: value is the serial
	// what a new entry is also asked for
	AskOversize, AskSurface, AskFacing bool
	Pressing                           *RingPressing // of the ring that was named
}

// full reports whether every place holds a part.
func (p InstallStack) full() bool {
	for _, s := range p.Slots {
		if s.Holds == "" {
			return false
		}
	}
	return true
}

// FromShelf is the value of a from field that takes a part from the shelf;
// any other is the source of a new entry.
const FromShelf = ""

// InstallPart is the form that fits one part on the shelf. Fields: engine,
// position, groove (a ring), day, hours.
type InstallPart struct {
	Page     Page
	Action   string
	Draft    Draft
	Part     string // "Cylinder C-1041"
	Back     Link
	About    string   // oversize, surface, hours
	Ring     bool     // asks for the groove
	Engines  []Option // value is what a person types, the serial
	Pressing *RingPressing
}

// RemovePart is the form that takes a part off. Fields: day, hours, reason,
// scrap.
type RemovePart struct {
	Page       Page
	Action     string
	Draft      Draft
	Part       string
	Kind       string
	Back       Link
	From       string // "engine R-1021, position 3, since 2024-02-02 at 1,100.0 h"
	HoursHint  string
	OffsetHint string
	Radial     bool
	MasterRod  bool   // it sits at the master-rod position
	MasterAt   string // the master-rod position of the engine, "" for none
	Reasons    []string
}

// WearEventForm records work on a part's surface. Fields: event, day,
// oversize, groove, note, and after where it was measured that day.
type WearEventForm struct {
	Page   Page
	Action string
	Draft  Draft
	Part   string
	Kind   string
	Back   Link
	Events []Option
	Unit   string
	Known  []Fact // events so far: day and what

	Measured []Option // what was measured that day, for the field after
}

// ReasonForm strikes something out for good, with a reason: scraps a part, or
// strikes an installation entered by mistake. Fields: day (where asked),
// reason.
type ReasonForm struct {
	Page    Page
	Action  string
	Draft   Draft
	Heading string // "Scrap cylinder C-1041"
	Explain string // what happens then
	Facts   []Fact
	Back    Link
	AskDay  bool
	Reasons []string // reasons often given
	Button  string   // "Scrap the part"
}

// Cautions shown where a cylinder comes off or goes on. Common practice, no
// source; what the rod of the master-rod cylinder does is from memory.
const (
	liveCaution   = "Ignition off and grounded; treat any propeller as live."
	heavyCaution  = "A cylinder is heavy, and a rod that falls hurts and breaks: a second person holds it, the case is padded."
	tdcCaution    = "Its piston stands at top dead centre before the cylinder is pulled, so that the rings stay in the barrel."
	masterCaution = "On a radial the master-rod cylinder comes off last and goes on first. Never turn the crankshaft while it is off."
	manualCaution = "The order and torques of the maker's current manual come before anything here."
)

func (p InstallStack) cautions() []string {
	cs := []string{liveCaution, heavyCaution}
	if p.MasterRod != "" {
		cs = append(cs, p.MasterRod)
	}
	return append(cs, manualCaution)
}

func (p RemovePart) cautions() []string {
	cs := []string{liveCaution}
	if p.Kind == "cylinder" {
		cs = append(cs, tdcCaution, heavyCaution)
	}
	if p.Radial {
		s := masterCaution
		if p.MasterAt != "" {
			s += " Here that is position " + p.MasterAt + "."
		}
		if p.MasterRod && p.Kind == "cylinder" {
			s = "This is the master-rod cylinder: it comes off last. Never turn the crankshaft while it is off; its rod stays centred."
		}
		cs = append(cs, s)
	}
	return append(cs, manualCaution)
}

// from are the choices of where a part comes from.
func (p InstallStack) from() []Option {
	os := []Option{{Value: FromShelf, Label: "from the shelf"}}
	for _, s := range p.Sources {
		os = append(os, Option{Value: s.Value, Label: "make a new entry: " + s.Label})
	}
	return os
}

// labels names every field for the summary of what is wrong.
func (p InstallStack) labels() map[string]string {
	names := map[string]string{"day": "Date", "hours": "Meter shows", "despite": "Why all the same"}
	for _, s := range p.Slots {
		for field, label := range map[string]string{"from": "take", "serial": "serial", "part_number": "part number",
			"hours_before": "hours it had", "oversize": "oversize", "surface": "barrel surface", "facing": "facing"} {
			names[field+"-"+s.Name] = s.Label + ", " + label
		}
	}
	return names
}
