package wear

import (
	"errors"
	"fmt"
	"math"
)

// ErrNoReference is returned where a prediction has nothing to rest on.
var ErrNoReference = errors.New("no curve of expected wear")

// Judge asks whether a run wears faster than a normal part at its hours. Its
// ratio k ± s is the slope of its readings on the expected wear W at their hours,
// with a free intercept, each weighted by 1/u²:
//
//	k = Σw (W - W̄)(y - ȳ) / Σw (W - W̄)²,  s = 1 / √Σw (W - W̄)²,
//
// y and u in any one length unit, hours in hours, k without a unit and 1 for the
// middle normal part. The chance that a normal part shows as much or more is
//
//	p = ∫ t(z) Φ((e^(σz) - k) / s) dz,
//
// t Student's density with DoF degrees of freedom, σ the log-sd of normal wear:
// from part to part, of the centre and of the curves left open. The latest
// interval is tested as well, given the readings before it. The run is Flagged
// where either has p < Settings.FlagChance and k > FlagRatio; TooYoung where
// s > ClearSD; NoWearSeen where k ≤ 0; TooFewReadings with no hours between its
// readings; NoReference without a curve; else Normal. The hours to the limit are
// where the chance to have reached it passes 5, 50 and 95 %.
//
// own is the run's share of the group, which is taken away first, or nil where
// the run was not in it. The run's points may be newer than its share; that the
// share is this run's cannot be seen and is not checked. The work does not
// depend on the size of the group. Numbers are up to 1e12. Errors: ErrOrder,
// ErrNotFinite, ErrRange, ErrSettings, and ErrForm, ErrNotFinite or ErrRange for
// a group or share that no fit gives.
//
// Source: weighted regression, NIST/SEMATECH e-Handbook 4.1.4.3; the test was
// worked out for this purpose and tried by simulation (BenchmarkSimulation), no
// published source.
func (g Group) Judge(run Run, own *Share, q Question, s Settings) (Judgement, error) {
	if err := g.checkJudge(run, own, q, s); err != nil {
		return Judgement{}, fmt.Errorf("judge run: %w", err)
	}
	j := g.withoutOne(own, s).reference(s).judge(run, q, s)
	if err := j.check(); err != nil {
		return Judgement{}, fmt.Errorf("judge run by a group of odd numbers: %w", err)
	}
	return j, nil
}

// JudgeGroup fits a group and judges each of its runs with that run left out:
// by a true refit up to Settings.MaxRefits runs, by Group.Without beyond. qs
// has one question for each run. Equations, units, states and special cases are
// those of FitGroup and Group.Judge. Errors: those of FitGroup and Judge, and
// ErrQuestions. Source: leaving out what is judged is cross-validation (common
// practice); otherwise as Group.Judge.
func JudgeGroup(runs []Run, qs []Question, allowance Allowance, s Settings) (Group, []Share, []Judgement, error) {
	fail := func(err error) (Group, []Share, []Judgement, error) {
		return Group{}, nil, nil, fmt.Errorf("judge group: %w", err)
	}
	if len(qs) != len(runs) {
		return fail(ErrQuestions)
	}
	if err := checkGroup(runs, allowance, s); err != nil {
		return fail(err)
	}
	for i, q := range qs {
		if err := q.check(); err != nil {
			return fail(fmt.Errorf("question %d: %w", i, err))
		}
	}
	f := newFitter(runs, allowance, s)
	g, shares := f.group(-1)
	judgements := make([]Judgement, len(runs))
	for i, run := range runs {
		rest := g
		switch {
		case !shares[i].In:
		case g.Runs <= s.MaxRefits:
			rest, _ = f.group(i)
		default:
			rest = g.withoutOne(&shares[i], s)
		}
		judgements[i] = rest.reference(s).judge(run, qs[i], s)
	}
	return g, shares, judgements, nil
}

func (g Group) checkJudge(run Run, own *Share, q Question, s Settings) error {
	if err := s.check(); err != nil {
		return err
	}
	if err := g.Check(); err != nil {
		return err
	}
	if own != nil {
		if err := own.check(); err != nil {
			return fmt.Errorf("check share: %w", err)
		}
	}
	if err := q.check(); err != nil {
		return err
	}
	return run.check()
}

func (q Question) check() error {
	if err := checkNumbers(q.Limit, q.Life, q.NextIn); err != nil {
		return fmt.Errorf("check question: %w", err)
	}
	if q.Life < 0 || q.NextIn < 0 {
		return fmt.Errorf("check question: negative hours: %w", ErrRange)
	}
	return nil
}

func wrapPredict(err error) error { return fmt.Errorf("predict reading: %w", err) }

// judge judges a run that has no part in the reference.
func (r reference) judge(run Run, q Question, s Settings) Judgement {
	j, _ := r.judged(run, q, s)
	return j
}

// judged is judge with what the forecast was made of, nil where there is none.
func (r reference) judged(run Run, q Question, s Settings) (j Judgement, b belief) {
	j = Judgement{
		Readings: len(run.Points), ReferenceRuns: r.runs,
		Curve: r.curve, LogSD: r.logSD, DoF: r.dof, Wander: r.wander,
		Whole: Tested{Test: WholeRun, State: TooFewReadings}, Interval: Tested{Test: LastInterval, State: TooFewReadings},
	}
	if len(run.Points) > 0 {
		first, last := run.first(), run.last()
		j.Hours, j.BaselineHours, j.BaselineAssumed = last.Hours, first.Hours, first.Assumed
		j.Whole.Expected = r.curve.Between(first.Hours, last.Hours)
	}
	if run.ages() {
		b = r.test(&j, run, q, s)
	}
	j.decide()
	return j, b
}

// abnormalLogSD is the log-sd of the ratio that a part is forecast with after a
// late change: it is no normal part any more, and the normal parts' spread would
// pull its ratio down and promise too many hours. A choice, no source; see
// BenchmarkSimulation.
const abnormalLogSD = 1

// test makes both tests and what follows from them. Where the latest interval
// is what the part shows, the forecast rests on it alone: the part will not go
// on as it began.
func (r reference) test(j *Judgement, run Run, q Question, s Settings) belief {
	points, l, rests := run.Points, line{}, WholeRun
	if j.Whole, l = r.whole(points, s); j.Whole.Expected <= 0 {
		return nil
	}
	most := reach * math.Max(r.longest, j.Hours)
	j.EquivalentHours, j.EquivalentMore = r.curve.HoursAt(r.curve.W(j.BaselineHours)+j.Whole.Wear, most)
	if j.Whole.State == TooYoung {
		j.MoreHours = readAgainAfter(points, r, l, s.ClearSD)
	}
	if from, to, ok := interval(points); ok {
		var late line
		j.Interval, late = r.lastly(points, from, to, s)
		if j.decide(); j.Test == LastInterval {
			points, l, rests = points[from:], late, LastInterval
			r.sd = math.Max(r.sd, abnormalLogSD)
		}
	}
	if !q.HasLimit {
		return nil
	}
	b := believe(points, r)
	j.Forecast = b.forecast(points, r, l, q)
	j.Forecast.Test = rests
	return b
}
