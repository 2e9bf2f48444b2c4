package wear

import (
	"errors"
	"fmt"
	"math"
)

// ErrNoReference is returned where a prediction has nothing to rest on.
var ErrNoReference = errors.New("no curve of expected wear")

// Judge asks whether a run wears faster than a normal part at its hours. own
// is the run's share of the group, which is taken away first, or nil where the
// run was not in it. The run's points may be newer than its share. The work
// does not depend on the size of the group. Errors: ErrOrder, ErrNotFinite,
// ErrRange, ErrSettings.
func (g Group) Judge(run Run, own *Share, q Question, s Settings) (Judgement, error) {
	if err := checkJudge(run, q, s); err != nil {
		return Judgement{}, fmt.Errorf("judge run: %w", err)
	}
	if own != nil {
		g = g.Without(*own, s)
	}
	return g.reference(s).judge(run, q, s), nil
}

// JudgeGroup fits a group and judges each of its runs with that run left out:
// by a true refit up to Settings.MaxRefits runs, by Group.Without beyond. qs
// has one question for each run. Errors: those of FitGroup and Judge, and
// ErrQuestions.
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
			rest = g.Without(shares[i], s)
		}
		judgements[i] = rest.reference(s).judge(run, qs[i], s)
	}
	return g, shares, judgements, nil
}

func checkJudge(run Run, q Question, s Settings) error {
	if err := s.check(); err != nil {
		return err
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
	j := Judgement{
		Test: WholeRun, Readings: len(run.Points), ReferenceRuns: r.runs,
		Curve: r.curve, LogSD: r.logSD, DoF: r.dof, Wander: r.wander,
	}
	if len(run.Points) == 0 {
		j.State = TooFewReadings
		return j
	}
	first, last := run.first(), run.last()
	j.Hours, j.BaselineHours, j.BaselineAssumed = last.Hours, first.Hours, first.Assumed
	j.Expected = r.curve.Between(first.Hours, last.Hours)
	j.Wear, j.WearSD = last.Y-first.Y, math.Hypot(first.U, last.U)
	switch {
	case !run.ages():
		j.State = TooFewReadings
		j.Wear, j.WearSD = 0, 0
	case j.Expected <= 0:
		j.State = NoReference
	default:
		r.compare(&j, run, q, s)
	}
	return j
}

// compare fills in the ratio and what follows from it.
func (r reference) compare(j *Judgement, run Run, q Question, s Settings) {
	l := ratioLine(run.Points, r.curve, r.wander)
	j.Ratio, j.RatioSD = l.slope, l.sd
	j.RatioLow, j.RatioHigh = l.slope-normal95*l.sd, l.slope+normal95*l.sd
	j.Wear, j.WearSD = l.slope*j.Expected, l.sd*j.Expected
	most := reach * math.Max(r.longest, j.Hours)
	j.EquivalentHours, j.EquivalentMore = r.curve.HoursAt(r.curve.W(j.BaselineHours)+j.Wear, most)
	j.PredictiveSD = r.sdBetween(j.BaselineHours, j.Hours)
	j.P = chance(0, j.PredictiveSD, r.dof, l.slope, l.sd)
	j.State = r.state(j, s)
	if j.State == TooYoung {
		j.MoreHours = readAgainAfter(run.Points, r, l, s.ClearSD)
	}
	if q.HasLimit {
		j.Forecast = believe(run.Points, r).forecast(run.Points, r, l, q)
	}
}

func (r reference) state(j *Judgement, s Settings) State {
	switch {
	case j.P < s.FlagChance && j.Ratio > s.FlagRatio:
		return Flagged
	case j.RatioSD > s.ClearSD:
		return TooYoung
	case j.Ratio <= 0:
		return NoWearSeen
	}
	return Normal
}
