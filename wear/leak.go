package wear

import (
	"errors"
	"fmt"
	"math"
)

// LeakRule is the least a cylinder must hold, as typed from a document. A
// bound that is 0 was not given.
type LeakRule struct {
	Minimum   PSI    // least reading
	MaxLoss   int    // most of the regulated pressure to be lost, tenths of a percent
	Orifice   Value  // the orifice the rule is for, 0 for any
	Regulated PSI    // the regulated pressure it is for, 0 for any
	Document  string // document, revision and page
}

// GeneralLeakRule suspects a cylinder that loses more than 25 % of the input,
// for want of a maker's rule. Source: FAA AC 43.13-1B chg 1, para 8-14.
var GeneralLeakRule = LeakRule{MaxLoss: 250, Document: "FAA AC 43.13-1B chg 1, para 8-14"}

// AirHeard is a place where air was heard during the test.
type AirHeard string

// The places one listens at.
const (
	AirAtExhaust  AirHeard = "exhaust"
	AirAtIntake   AirHeard = "intake"
	AirAtBreather AirHeard = "breather"
	AirAtJoint    AirHeard = "plug or joint"
)

// AirPlaces lists the places in the order one listens.
var AirPlaces = []AirHeard{AirAtExhaust, AirAtIntake, AirAtBreather, AirAtJoint}

// Errors of judging a leak.
var (
	ErrAirHeard = errors.New("not a place where air is heard")
	ErrLeakRule = errors.New("the rule gives no limit, or one that cannot be")
)

// Meaning says what leaks when air is heard there; ErrAirHeard for any other
// place. Source: FAA AC 43.13-1B chg 1, para 8-14.
func (a AirHeard) Meaning() (string, error) {
	switch a {
	case AirAtExhaust:
		return "Air at the exhaust: the exhaust valve leaks.", nil
	case AirAtIntake:
		return "Air at the intake: the intake valve leaks.", nil
	case AirAtBreather:
		return "Air at the breather: it passes the piston rings.", nil
	case AirAtJoint:
		return "Air at a plug or joint: a crack or a leaking joint.", nil
	}
	return "", fmt.Errorf("explain air at %q: %w", string(a), ErrAirHeard)
}

// LeakJudgement is the verdict on one test and what it was made of.
type LeakJudgement struct {
	Verdict   Verdict // with the gauges' uncertainty allowed for: Serviceable, Undecided, Beyond or NoLimit
	Plain     Verdict // the bare comparison: never Undecided
	Rule      LeakRule
	Loss      float64 // percent of the regulated pressure
	Leak      *Leak   // nil where too little pressure was held to size it
	Suggested Value   // orifice by bore, 0 where the bore is not known
	Reasons   []string
}

// JudgeLeak sets a test against the maker's rule, or against GeneralLeakRule
// where maker is nil. A maker's rule made for another orifice or regulated
// pressure is not applied, the reason says so, and the general rule is not put
// in its place: the verdict is NoLimit. With bounds
//
//	reading ≥ minimum  and  (regulated - reading) / regulated ≤ most loss
//
// a reading on the bound is within it. Beyond and Serviceable are past or
// inside by more than U = 1.645 u of the gauges; the worse of two bounds
// counts. bore 0 is not known; heard lists where air was heard.
//
// Errors: ErrLeakRule, ErrAirHeard and those of LeakArea but ErrNoPressure.
// Source: FAA AC 43.13-1B chg 1, para 8-14; decision ISO 14253-1.
func JudgeLeak(t LeakTest, bore Value, heard []AirHeard, maker *LeakRule) (LeakJudgement, error) {
	j := LeakJudgement{Rule: GeneralLeakRule}
	if maker != nil {
		j.Rule = *maker
	}
	if err := j.Rule.check(); err != nil {
		return LeakJudgement{}, fmt.Errorf("judge leak: %w", err)
	}
	leak, err := LeakArea(t)
	if err == nil {
		j.Leak = &leak
	} else if !errors.Is(err, ErrNoPressure) {
		return LeakJudgement{}, fmt.Errorf("judge leak: %w", err)
	}
	t, _ = t.filled()
	j.Loss = 100 * float64(t.Regulated-t.Reading) / float64(t.Regulated)
	if j.Rule.fits(t) {
		j.assess(t)
	} else {
		j.say("%s is for another orifice or regulated pressure than this test's and is not applied.", j.Rule.name())
	}
	j.advise(t)
	if err := j.suggest(t, bore); err != nil {
		return LeakJudgement{}, fmt.Errorf("judge leak: %w", err)
	}
	if err := j.listen(heard); err != nil {
		return LeakJudgement{}, fmt.Errorf("judge leak: %w", err)
	}
	return j, nil
}

func (r LeakRule) check() error {
	if r.Minimum < 0 || r.Minimum > mostPSI || r.MaxLoss < 0 || r.MaxLoss >= 1000 || r.Orifice < 0 || r.Regulated < 0 || r.Minimum == 0 && r.MaxLoss == 0 {
		return ErrLeakRule
	}
	return nil
}

func (r LeakRule) fits(t LeakTest) bool {
	return (r.Orifice == 0 || r.Orifice == t.Orifice) && (r.Regulated == 0 || r.Regulated == t.Regulated)
}

func (r LeakRule) name() string {
	if r.Document == "" {
		return "The rule, typed without a document,"
	}
	return r.Document
}

// assess compares in ten-thousandths of a psi, in which both bounds are whole.
func (j *LeakJudgement) assess(t LeakTest) {
	const scale = 1000
	u := t.gaugeU() * 10 * scale
	against := func(least Value, u float64) {
		a := Assess(Value(t.Reading)*scale, u, Limit{ServiceMin: &least, Wear: Down})
		j.Verdict, j.Plain = max(j.Verdict, a.Verdict), max(j.Plain, a.Plain)
	}
	if j.Rule.Minimum > 0 {
		against(Value(j.Rule.Minimum)*scale, u)
		j.say("Reading %s psi; %s wants at least %s psi.", t.Reading, j.Rule.name(), j.Rule.Minimum)
	}
	if j.Rule.MaxLoss > 0 {
		kept := float64(scale-j.Rule.MaxLoss) / scale
		against(Value(t.Regulated)*Value(scale-j.Rule.MaxLoss), math.Hypot(u, u*kept))
		j.say("Loss %.1f %% of the input; %s allows %s %%.", j.Loss, j.Rule.name(), trimZero(float64(j.Rule.MaxLoss)/10))
	}
}

// advise says what the verdict asks for.
func (j *LeakJudgement) advise(t LeakTest) {
	switch {
	case j.Verdict == Beyond && t.Rechecked:
		j.say("Suspect, rechecked warm.")
	case j.Verdict == Beyond:
		j.say("Suspect: run the engine for at least 3 minutes and test again while it is warm.")
	case j.Verdict == Undecided:
		j.say("Too near the limit to be sure with these gauges: test again.")
	}
	if j.Leak == nil {
		j.say("So little pressure is held that the leak cannot be sized.")
	}
}

// suggest compares the orifice with the one for the bore.
func (j *LeakJudgement) suggest(t LeakTest, bore Value) error {
	if bore == 0 {
		return nil
	}
	var err error
	if j.Suggested, err = SuggestOrifice(bore); err != nil {
		return err
	}
	if j.Suggested == t.Orifice {
		return nil
	}
	more := ""
	if j.Leak != nil {
		through, err := j.Leak.Through(j.Suggested)
		if err != nil {
			return err
		}
		more = fmt.Sprintf("; through that one the same leak would read about %.0f psi", through)
	}
	j.say("Tested through %s in, where a bore of %s in suggests %s in%s.", t.Orifice.Format(Inch), bore.Format(Inch), j.Suggested.Format(Inch), more)
	return nil
}

// listen adds what the sounds mean.
func (j *LeakJudgement) listen(heard []AirHeard) error {
	for _, place := range heard {
		meaning, err := place.Meaning()
		if err != nil {
			return err
		}
		j.Reasons = append(j.Reasons, meaning)
	}
	if len(heard) == 0 && j.Verdict >= Undecided {
		j.say("Where the air goes is not recorded: listen at exhaust, intake, breather, plugs and joints.")
	}
	return nil
}

func (j *LeakJudgement) say(format string, a ...any) {
	j.Reasons = append(j.Reasons, fmt.Sprintf(format, a...))
}
