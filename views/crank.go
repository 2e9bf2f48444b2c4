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
// knuckle_radius, link_rod, pin_to_crown, below_crown, skirt_end.
type RodsForm struct {
	Page   Page
	Action string
	Draft  Draft
	Model  string
	Unit   string
	Back   Link
}
