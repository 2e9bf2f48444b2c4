package wear

import (
	"errors"
	"fmt"
	"math"
)

// JudgeEngine asks whether all parts of one engine together wear faster than
// those of other engines: dust, cold starts, wrong rings on all cylinders. g
// is the group; own are the shares of the engine's runs in it, which are taken
// away together from the curve and from the spread, or nil where they were not
// in it; others is the spread between the other engines. The work does not
// depend on the size of the group.
//
// Each part's measured ratio is kᵢ = e^(m + εᵢ) ± sᵢ: m common to the engine, εᵢ
// the scatter of normal parts, Student's t of log-sd ω, sᵢ the gauge's error, so
// that negative and noisy ratios count by what they tell and no logarithm of
// noise is taken. For a normal engine m is 0 with the variance
//
//	V = τ² (1 + Σq²) + c²,
//
// τ² between normal engines, q the shares of the other engines in the
// reference, c the error of its centre and of the curve over these hours. The
// likeliest m with this prior is found by steps of Newton; a straight line
// through the slope of ln likelihood there gives the observation x ± 1/√A that
// says the same, and
//
//	p = P(t > x / √(V + 1/A)),  DoF = (V + 1/A)² / Σ vⱼ²/νⱼ
//
// (Welch and Satterthwaite, JCGM 100 (GUM) G.4.1). The Ratio is e^x, between
// e^-10 and e^10.
//
// The state is NoReference without a curve, TooFewReadings with fewer than
// three parts, Flagged with p < Settings.EngineChance, TooYoung where the
// gauge's error of the mean ratio exceeds Settings.ClearSD, NoWearSeen where
// the mean ratio, each weighted by 1/s², is 0 or less; else Normal.
//
// own has one share for each run, zero for a run that was not in the fit.
// Readings are in any one length unit, hours in hours; the ratio has none.
//
// Runs and shares have no names: a run given twice counts as two parts that wear
// alike, and shares of other runs or of another group cannot be told from its
// own. Errors: ErrOrder, ErrNotFinite, ErrRange, ErrForm, ErrSettings, and
// ErrShares where own has not one share for each run. Source of the model: none,
// worked out for this purpose and tried by simulation.
func (g Group) JudgeEngine(runs []Run, own []Share, others Engines, s Settings) (EngineJudgement, error) {
	fail := func(err error) (EngineJudgement, error) {
		return EngineJudgement{}, fmt.Errorf("judge engine: %w", err)
	}
	if own != nil && len(own) != len(runs) {
		return fail(ErrShares)
	}
	if err := checkGroup(runs, g.Allowance, s); err != nil {
		return fail(err)
	}
	if err := errors.Join(g.Check(), checkShares(own)); err != nil {
		return fail(err)
	}
	if err := others.check(); err != nil {
		return fail(fmt.Errorf("other engines: %w", err))
	}
	j, e := g.withoutAll(own, s).reference(s).judgeEngine(runs, others, s)
	for _, p := range e.parts {
		j.Ratios = append(j.Ratios, PartRatio{p.k, p.s})
	}
	if err := j.check(); err != nil {
		return fail(err)
	}
	return j, nil
}

// judgeEngine judges an engine that has no part in the reference.
func (r reference) judgeEngine(runs []Run, others Engines, s Settings) (EngineJudgement, measured) {
	j := EngineJudgement{
		ReferenceRuns: r.runs, OtherEngines: int(others.Moments.N), ByAllowance: r.curve.Form == MakerAllowance,
		Curve: r.curve, PartLogSD: r.logSD, Ratio: 1, RatioLow: 1, RatioHigh: 1, P: 1,
	}
	e := r.measure(runs)
	j.Parts, j.Faster, j.Hours = len(e.parts), e.faster, e.hours
	switch {
	case r.curve.Form == NoCurve:
		j.State = NoReference
	case len(e.parts) < minEngineParts:
		j.State = TooFewReadings
	default:
		r.compareEngine(&j, e, others, s)
	}
	return j, e
}

// measured are the ratios of one engine's parts.
type measured struct {
	parts  []member
	faster int
	hours  float64
	mean   float64 // of the ratios, each weighted by 1/s²
	sd     float64 // its standard error
	open   float64 // mean variance of ln W that the plausible curves leave open
}

func (r reference) measure(runs []Run) (e measured) {
	weight := 0.0
	for _, run := range runs {
		if !run.ages() || r.curve.Between(run.first().Hours, run.last().Hours) <= 0 {
			continue
		}
		l := ratioLine(run.Points, r.curve, r.wander)
		e.parts = append(e.parts, member{k: l.slope, s: l.sd})
		if l.slope > 1 {
			e.faster++
		}
		e.hours = math.Max(e.hours, run.last().Hours)
		sd := r.sdBetween(run.first().Hours, run.last().Hours)
		e.open += math.Max(sd*sd-r.sd*r.sd, 0)
		weight += 1 / (l.sd * l.sd)
		e.mean += l.slope / (l.sd * l.sd)
	}
	if n := float64(len(e.parts)); n > 0 {
		e.mean, e.sd, e.open = e.mean/weight, 1/math.Sqrt(weight), e.open/n
	}
	return e
}

func (r reference) compareEngine(j *EngineJudgement, e measured, others Engines, s Settings) {
	between := others.spread(s)
	j.Crowd = others.crowd(r)
	engines := between.Omega * between.Omega * (1 + j.Crowd)
	centre := math.Max(r.sd*r.sd-r.logSD*r.logSD, 0) + e.open
	x, precision := commonRatio(e.parts, r.logSD, r.dof, 1/(engines+centre))
	own := 1 / precision
	all := engines + centre + own
	j.EngineLogSD, j.CentreSD, j.MeasuredLogSD, j.GaugeSD = between.Omega, math.Sqrt(centre), math.Sqrt(own), e.sd
	j.PredictiveSD = math.Sqrt(all)
	j.DoF = all * all / (engines*engines/between.DoF + (centre*centre+own*own)/r.dof)
	j.P = studentTail(x/j.PredictiveSD, j.DoF)
	j.PartDoF, j.EngineDoF, j.LogRatio = r.dof, between.DoF, x
	j.Ratio = math.Exp(x)
	j.RatioLow, j.RatioHigh = math.Exp(x-normal95*j.MeasuredLogSD), math.Exp(x+normal95*j.MeasuredLogSD)
	j.PredictiveHigh = math.Exp(math.Min(studentQuantile(1-s.EngineChance, j.DoF)*j.PredictiveSD, mostCentre))
	switch {
	case j.P < s.EngineChance:
		j.State = Flagged
	case e.sd > s.ClearSD:
		j.State = TooYoung
	case e.mean <= 0:
		j.State = NoWearSeen
	default:
		j.State = Normal
	}
}
