package views

// Worked is how a wear judgement was worked out: every number that it used.
type Worked struct {
	Readings []WorkedReading
	Baseline string // what wear is counted from, and where that came from
	Counts   []Fact // what a reading counts as, and how its u is made up

	Group     string // what makes a part one of the group: "barrel bore, top, of XR-9 engines, chrome-plated"
	GroupHref string // where the group is widened
	Runs      int    // behind the curve, this one left out
	Parts     []WorkedPart
	PartsMore int // how many more there are beyond those named

	Curve    []Fact       // form and constants
	Steps    []WorkedStep // expected wear, ratio, chance, hours to the limit
	Likely   *LikelyCurves
	Shown    string   // which test is shown, and what both say
	Settings []Fact   // levels and priors
	Sources  []string // of what no step names; published, or that there is none
	Assumed  []string // what the judgement takes for granted
	Unknown  []string // what the program cannot know here, beside what it never knows
}

// WorkedReading is a reading of the run.
type WorkedReading struct {
	Day, Hours, Value, U string
	Used                 bool
	Why                  string // "baseline", or why it was left out
	Wear                 string // since the baseline
	Expected             string // W(h) of a normal part
	Read                 string // as it was typed: "thrust 5.1272, pin 5.1270 at 35 °C"
}

// WorkedPart is a part that this one was compared with.
type WorkedPart struct {
	Name, Href string
	Where      string
	Hours      string // length of its run
	Readings   string // how many
	Ratio      string // to the group's curve: "0.94 ± 0.21"
	LogRatio   string // x ± √v, as the spread of normal parts counts it: "-0.062 ± 0.22"
	Weight     string // a, in that spread
	Note       string // "left out of the spread: too far off"
}

// LikelyCurves are the curves that a forecast was made along, the mean of them
// last.
type LikelyCurves struct {
	Equation, Numbers string
	At                []string // hours from now at which the chances are: "1,240 h"
	Curves            []LikelyCurve
}

// LikelyCurve is one of them.
type LikelyCurve struct {
	Curve   string // its constants
	Times   int    // how many of them are this curve
	X, Y    string // weighted means of W and of the readings
	Seen    string // ratio of the readings alone
	Ratio   string // with what is known beforehand
	Reached []string
}

// neverKnown is what no reading tells, whatever the part.
var neverKnown = []string{
	"Whether a gauge was set or read wrongly the same way each time: such an error moves all readings together and no number shows it.",
	"What the part went through between two readings: dust, cold starts, idle weeks, heat.",
	"Cracks, scores, corrosion pits and everything else that is not a dimension.",
	"Whether the parts it is compared with are as normal as they look: they are only this shop's own.",
}
