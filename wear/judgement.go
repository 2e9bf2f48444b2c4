package wear

// State is what the wear rate says of a part.
type State int

// The states of a judgement.
const (
	NoReference    State = iota // nothing to compare with: only the numbers
	TooFewReadings              // no reading after the baseline
	TooYoung                    // the gauge's error hides even four times the normal wear
	NoWearSeen                  // the readings shrink or stand still
	Normal                      // wears as normal parts do
	Flagged                     // wears faster than a normal part would by chance
)

var stateWords = [...]string{
	"no verdict", "too few readings", "too young to judge", "no wear seen", "normal", "flagged",
}

// String is the state in a mechanic's words.
func (s State) String() string {
	if s < 0 || int(s) >= len(stateWords) {
		return "unknown"
	}
	return stateWords[s]
}

// Question is what a shop wants to know of one run. Limit is the service
// limit, signed and in the unit of Point.Y, so that wear reaches it from
// below; Life the overhaul life in hours of the run, 0 where there is none;
// NextIn the hours from now to the next inspection, 0 where none is planned.
type Question struct {
	Limit    float64
	HasLimit bool
	Life     float64
	NextIn   float64
}

// Judgement is what one run shows against its group, with all that is needed
// to explain it. Every number is finite. Lengths are in the unit of Point.Y.
//
// A run is tested twice, as a whole and over its latest interval, and is
// flagged by either test. Test names the one whose wear, ratio and chance are
// shown here; Whole and Interval hold both.
type Judgement struct {
	State    State
	Test     string // which test is shown: WholeRun, or LastInterval where that is what the part shows
	Whole    Tested
	Interval Tested // State is TooFewReadings where the latest interval is the whole run

	Readings        int     // readings used, the baseline among them
	Hours           float64 // in the run at the latest reading
	BaselineHours   float64 // in the run at the baseline
	BaselineAssumed bool    // nobody measured the part when new
	Wear            float64 // best estimate over the hours tested; may be negative
	WearSD          float64 // its standard error
	Expected        float64 // wear of a normal part between the same hours

	Ratio     float64 // wear over expected; 1 is normal, negative says the gauge
	RatioSD   float64 // standard error from the gauge
	RatioLow  float64 // 90 % interval
	RatioHigh float64

	EquivalentHours float64 // at which a normal part shows the wear of the whole run
	EquivalentMore  bool    // more than EquivalentHours: beyond what the references can tell
	P               float64 // chance that a normal part, measured this well, shows this ratio or more
	Looks           int     // stations looked at, by whose number P was multiplied; see AmongLooks

	ReferenceRuns int     // runs behind the curve, this one left out
	Curve         Curve   // expected wear of a normal part, this run left out
	LogSD         float64 // of the ratio of normal parts
	PredictiveSD  float64 // the same with what is not known of centre and curve
	DoF           float64 // degrees of freedom of that spread
	Wander        float64 // sd of the group's readings beyond the gauge's error, over the wear

	MoreHours float64   // when TooYoung: hours from now after which a reading would tell, 0 if none would
	Forecast  *Forecast // nil without a limit or a verdict
}

// mostJudged bounds the numbers of a judgement: those of sound groups stay far
// below.
const mostJudged = 1e60

// check returns ErrNotFinite or ErrRange for what a group of numbers each in its
// range, but which contradict each other, may lead to.
func (j *Judgement) check() error {
	if err := checkWithin(mostJudged, j.Hours, j.BaselineHours, j.Wear, j.WearSD, j.Expected, j.Ratio, j.RatioSD, j.RatioLow, j.RatioHigh,
		j.EquivalentHours, j.P, j.LogSD, j.PredictiveSD, j.DoF, j.Wander, j.MoreHours); err != nil {
		return err
	}
	for _, t := range [...]*Tested{&j.Whole, &j.Interval} {
		if err := checkWithin(mostJudged, t.FromHours, t.ToHours, t.Wear, t.WearSD, t.Expected, t.Ratio, t.RatioSD, t.RatioLow, t.RatioHigh,
			t.P, t.Centre, t.PredictiveSD, t.Seen, t.SeenSD); err != nil {
			return err
		}
	}
	if f := j.Forecast; f != nil {
		return checkWithin(mostJudged, f.Low, f.Median, f.High, f.ReachNext, f.ReachLife, f.ReadAgainAfter)
	}
	return nil
}

// Forecast is the time left to the service limit in hours from the latest
// reading. When CanSay is false the slope is below its error, Low, Median and
// High are 0 and ReadAgainAfter is set; the chances hold all the same. Hours are capped at a hundred times the longest run
// known, where Capped is set for High.
type Forecast struct {
	Test              string  // the readings it rests on: those of WholeRun, or of LastInterval where that was flagged
	From              float64 // hours of the run it looks ahead from: the latest reading
	Now               float64 // best estimate of the dimension there, in the unit of Point.Y
	Ratio             float64 // mean of k over all that the readings and the group leave likely
	CanSay            bool
	Low, Median, High float64 // 90 % interval and its middle
	Capped            bool    // High is "more than"
	Beyond            bool    // more likely than not the limit has been reached
	ReachNext         float64 // chance to reach the next inspection inside the limit; 0 if not asked
	ReachLife         float64 // chance to reach the overhaul life inside the limit; 0 if not asked or past
	ReadAgainAfter    float64 // hours from now to a reading that would tell, 0 if none would
}

// Prediction is what a reading to come will show: the median and the limits
// of its 90 % interval, in the unit of Point.Y.
type Prediction struct {
	Low, Median, High float64
}
