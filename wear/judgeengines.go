package wear

import (
	"errors"
	"fmt"
	"slices"
)

// JudgeEngines judges every engine of a group with all of its runs left out of
// curve and spread: by Group.WithoutAll where they are few of more than
// Settings.MaxRefits runs, else by a true refit. g and shares are what JudgeGroup or FitGroup
// returned for the runs; engineOf names the engine of each run, below 0 for
// none. Engines come in the order of their first run. Equations, states and
// units are those of Group.JudgeEngine, and between the engines those of
// FitEngines, the engine itself left out.
//
// Runs have no name: one given twice counts as two parts that wear alike, as two
// barrels may, and cannot be told from them. Errors: those of FitGroup and of
// Group.Check, and ErrQuestions where the lists are not of one length. Source:
// leaving out what is judged is cross-validation (common practice); the model
// was worked out for this purpose and tried by simulation, no published source.
func JudgeEngines(g Group, shares []Share, runs []Run, engineOf []int, s Settings) (Engines, []EngineShare, []EngineJudgement, error) {
	fail := func(err error) (Engines, []EngineShare, []EngineJudgement, error) {
		return Engines{}, nil, nil, fmt.Errorf("judge engines: %w", err)
	}
	if len(engineOf) != len(runs) || len(shares) != len(runs) {
		return fail(ErrQuestions)
	}
	if err := checkGroup(runs, g.Allowance, s); err != nil {
		return fail(err)
	}
	if err := errors.Join(g.Check(), checkShares(shares)); err != nil {
		return fail(err)
	}
	ids, members := byEngine(engineOf)
	own := make([]EngineShare, len(ids))
	for i, id := range ids {
		own[i] = g.engineShare(id, pickAt(shares, members[i]), s)
		if err := checkWithin(mostSum, own[i].X, own[i].Variance); err != nil {
			return fail(err)
		}
	}
	all := fitEngines(own, s)
	judged := make([]EngineJudgement, len(ids))
	for i, id := range ids {
		ref := g.withoutEngine(shares, runs, members[i], s).reference(s)
		judged[i], _ = ref.judgeEngine(pickAt(runs, members[i]), all.without(own[i]), s)
		judged[i].Engine = id
		if err := judged[i].check(); err != nil {
			return fail(err)
		}
	}
	return all, own, judged, nil
}

// fewOut is the share of a group, one in so many, up to which an engine's runs
// are taken away to first order: more bend the curve too much for that.
const fewOut = 50

// TakesAway reports whether out runs are taken out of a group of so many by
// their shares; where they are more of it, only a refit without them will do.
// Source: the share of one in fifty is a choice.
func (s Settings) TakesAway(runs, out int) bool {
	return runs > s.MaxRefits && out*fewOut <= runs
}

// withoutEngine is the group without the runs at these places.
func (g Group) withoutEngine(shares []Share, runs []Run, out []int, s Settings) Group {
	if s.TakesAway(g.Runs, len(out)) {
		return g.withoutAll(pickAt(shares, out), s)
	}
	rest := slices.Clone(runs)
	for _, i := range out {
		rest[i] = Run{}
	}
	left, _ := newFitter(rest, g.Allowance, s).group(-1)
	return left
}

// byEngine lists the engines in the order of their first run, and the places
// of the runs of each.
func byEngine(engineOf []int) (ids []int, members [][]int) {
	at := make(map[int]int)
	for i, id := range engineOf {
		if id < 0 {
			continue
		}
		n, known := at[id]
		if !known {
			n = len(ids)
			at[id] = n
			ids, members = append(ids, id), append(members, nil)
		}
		members[n] = append(members[n], i)
	}
	return ids, members
}

func pickAt[T any](all []T, at []int) []T {
	picked := make([]T, len(at))
	for i, n := range at {
		picked[i] = all[n]
	}
	return picked
}
