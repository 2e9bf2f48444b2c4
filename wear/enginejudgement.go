package wear

// WholeEngine is the test that looks at all parts of one engine together.
const WholeEngine = "engine"

// minEngineParts is the least number of parts an engine is judged by: with
// fewer, one bad part is the engine. A choice, no source.
const minEngineParts = 3

// PartRatio is the ratio that one part shows, with its error from the gauge.
type PartRatio struct{ Ratio, SD float64 }

// EngineJudgement is what the parts of one engine show together against those
// of the other engines. Every number is finite.
type EngineJudgement struct {
	Engine int
	State  State
	Parts  int     // with a ratio, the test's
	Faster int     // of those, wear faster than a normal part
	Hours  float64 // in the run at the latest reading of any

	Ratio     float64 // common to its parts, their geometric mean where all are well measured; 1 is normal
	RatioLow  float64 // 90 % interval
	RatioHigh float64
	P         float64 // chance that a normal engine shows this ratio or more

	ReferenceRuns  int     // runs of other engines behind the curve
	OtherEngines   int     // engines behind the spread between engines
	ByAllowance    bool    // compared with the maker's allowance, for want of other engines
	Curve          Curve   // expected wear of a normal part, this engine left out
	PartLogSD      float64 // of normal parts
	PartDoF        float64 // degrees of freedom of PartLogSD
	EngineLogSD    float64 // τ, of normal engines
	EngineDoF      float64 // degrees of freedom of EngineLogSD
	Crowd          float64 // Σq², q the other engines' shares in the reference
	CentreSD       float64 // c, log-sd of what is not known of the reference: centre and curve
	LogRatio       float64 // x = ln Ratio
	MeasuredLogSD  float64 // 1/√A, standard error of ln Ratio, from the gauge and the parts' spread
	PredictiveSD   float64 // of ln Ratio of a normal engine, all of these together
	DoF            float64 // degrees of freedom of PredictiveSD
	GaugeSD        float64 // standard error of the parts' mean ratio from the gauge alone
	PredictiveHigh float64 // ratio from which this engine would be flagged

	Ratios []PartRatio // kᵢ ± sᵢ of the parts, in the order of the runs; JudgeEngine's alone
}

// check is that of Judgement.
func (j *EngineJudgement) check() error {
	for _, p := range j.Ratios {
		if err := checkWithin(mostJudged, p.Ratio, p.SD); err != nil {
			return err
		}
	}
	return checkWithin(mostJudged, j.Hours, j.Ratio, j.RatioLow, j.RatioHigh, j.P, j.PartLogSD, j.EngineLogSD, j.CentreSD, j.MeasuredLogSD,
		j.PredictiveSD, j.DoF, j.GaugeSD, j.PredictiveHigh)
}

// AmongLooks is the judgement of the least likely of n stations that were
// looked at: P times n, at most 1, by which an engine that was flagged may no
// longer be. Source: Bonferroni's inequality; NIST/SEMATECH e-Handbook
// 7.4.7.3.
func (j EngineJudgement) AmongLooks(n int, s Settings) EngineJudgement {
	j.P = min(j.P*float64(max(n, 1)), 1)
	if j.State == Flagged && j.P >= s.EngineChance {
		j.State = Normal
	}
	return j
}
