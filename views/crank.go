package views

// Crank is the page of where the pistons of an engine stand as its crank
// turns. Fields: at, pull, lean, angle.
type Crank struct {
	Page        Page
	Engine      string
	EngineHref  string
	Action      string
	Draft       Draft
	Positions   []Option
	Radial      bool
	Rows        []CrankRow
	Angle       string // "40.0°", where the pistons stand; "" where it was not asked
	Rods        []Fact // the lengths it is reckoned from
	RodsHref    string // where they are typed
	Missing     string // why true dead centres cannot be told
	Off, On     []CrankStep
	OrderWords  string // how the order was made
	TurningHref string // where the model's order is typed
	Fault       string // why there is no order
	Lean        []string
	LeanWarn    string
	Drops       []CrankDrop
	LeanMissing string
	Steps       []WorkedStep
	Unknown     []string
	Assumed     []string
}

// CrankRow is a position's place in the turn of the crank.
type CrankRow struct {
	Position    string
	Master      bool
	Nominal     string // crank angle of top dead centre, degrees
	True        string // and the true one; "" where the rods are not known
	TopOffset   string
	BelowOffset string // of bottom dead centre
	Stroke      string
	Height      string // crank's centre to piston pin at top dead centre
	Below       string // how far below that the piston stands at the angle asked for
}

// CrankStep is a line of the order.
type CrankStep struct {
	Position        string
	Master          bool
	Turn, To, True  string
	Reason, Caution string
}

// CrankDrop is what a lean of the master rod does to one piston.
type CrankDrop struct {
	Position, Drop, Room string
	Leaves               bool
}

// RodsForm is a model's crank and rods. Fields: crank_radius, master_rod,
// knuckle_radius, link_rod, pin_to_crown, below_crown, skirt_end; where a
// cylinder differs list_master, and knuckle_radius-3, knuckle_angle-3,
// link_rod-3 by position.
type RodsForm struct {
	Page      Page
	Action    string
	Draft     Draft
	Model     string
	Unit      string
	Positions []string // of the cylinders that can differ; none where that is not reckoned
	Back      Link
}

// masters are the cylinders that can have the master rod.
func (p RodsForm) masters() []Option {
	os := []Option{{Label: "choose"}}
	for _, n := range p.Positions {
		os = append(os, Option{n, "position " + n})
	}
	return os
}

// byCylinder are the fields of one cylinder that differs.
func (p RodsForm) byCylinder(position string) []Field {
	return []Field{
		{Name: "knuckle_radius-" + position, Label: "Knuckle radius, position " + position, InputMode: "decimal", Unit: p.Unit},
		{Name: "knuckle_angle-" + position, Label: "Knuckle angle, position " + position, InputMode: "decimal", Unit: "°"},
		{Name: "link_rod-" + position, Label: "Link rod, position " + position, InputMode: "decimal", Unit: p.Unit},
	}
}

// differs reports whether anything was typed by cylinder.
func (p RodsForm) differs() bool {
	for _, n := range p.Positions {
		for _, f := range p.byCylinder(n) {
			if p.Draft.Value(f.Name) != "" {
				return true
			}
		}
	}
	return p.Draft.Fault("list_master").Message != ""
}

// labels are the fields' names for people.
func (p RodsForm) labels() map[string]string {
	names := map[string]string{"crank_radius": "Crank radius", "master_rod": "Master rod", "knuckle_radius": "Knuckle radius", "link_rod": "Link rod", "pin_to_crown": "Pin to crown", "below_crown": "Lowest ring below the crown", "skirt_end": "End of the barrel",
		"list_master": "Master rod in"}
	for _, n := range p.Positions {
		for _, f := range p.byCylinder(n) {
			names[f.Name] = f.Label
		}
	}
	return names
}
