package views

// FitRow is the fit of two parts of a stack.
type FitRow struct {
	Name      string // "Skirt in barrel", "Ring in groove 1"
	Hole      string // "5.2531, barrel C-104, top, thrust"
	Shaft     string
	Clearance string // "0.0145L"
	Both      string // where it is tightest and loosest: "0.0122L to 0.0145L"
	U         string // "± 0.0005"
	Measured  string // the same by feeler: "0.0035 by feeler, 2026-11-01"; "" for none
	Limit     string // "0.0100 to 0.0160, service 0.0200"
	LimitFrom string // "typed for the fit", or that it follows from those of the parts
	Verdict   VerdictMark
	Plain     string
	Decides   bool // the fit fails where each part passes
}

// Fits are the fits of a stack, and how they were worked out.
type Fits struct {
	Rows  []FitRow
	Warm  bool // sizes were carried to 20 °C
	Steps []WorkedStep
}
