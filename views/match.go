package views

// Match is the page that matches pistons to the barrels of an engine. Fields:
// positions, limits, rings, spread, do; p3 the piston placed at position 3, keep3
// whether it stays there.
type Match struct {
	Page       Page
	Engine     string
	EngineHref string
	Action     string
	Draft      Draft
	Limits     []Option
	Rings      []Option
	WeightUnit string
	Fit        string // "new 0.0140L to 0.0180L, wanted 0.0160L"
	Lines      []MatchLine
	Sum        []Fact // typical distance from the target, spread of weights
	Says       []string
	Warn       []string // what the placing breaks, or why there is none
	Missing    []string // what is left out and why
	Unit       string
	Steps      []WorkedStep
}

// MatchLine is one barrel with the piston placed in it.
type MatchLine struct {
	Position  string
	Barrel    string
	BarrelRef string
	Bore      string
	Field     string // of the piston
	Keep      string // of whether it stays
	Kept      bool
	Pistons   []Option
	Piston    string // its id
	Fault     string // of the choice
	Skirt     string
	Clearance string
	Distance  string // from the target
	Weight    string
	Rings     []string // "groove 1, K-101-1: 0.0210": the gaps of those that stay in the piston
	Verdict   VerdictMark
	Bad       bool
}

// KeptValue is what the checkbox of a line that stays holds.
func (l MatchLine) KeptValue() string {
	if l.Kept {
		return "yes"
	}
	return ""
}
