package store

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"barrelbook/wear"
)

// EngineWear is what the parts of one engine show together for one feature.
type EngineWear struct {
	Engine   int64
	EngineNo string
	Aircraft string
	Feature  wear.Feature
	Groove   int
	Station  string
	wear.EngineJudgement
	Looks int     // stations of the feature, by whose number P was multiplied
	Alone float64 // P before it was
	Seen  Seen
	peers int64
}

// Sentence says what the engine shows.
func (w EngineWear) Sentence() string {
	return w.EngineJudgement.Sentence(string(w.Feature.Kind) + "s")
}

// notSeated is the engine of a run that is not that of a part on an engine.
const notSeated = -1

// judgeEngines judges the engines of a whole group from its fit.
func judgeEngines(g wear.Group, shares []wear.Share, ms []member, settings Settings) (wear.Engines, []wear.EngineJudgement, error) {
	runs, engines := make([]wear.Run, len(ms)), make([]int, len(ms))
	for i, m := range ms {
		runs[i], engines[i] = m.run, int(m.seat)
	}
	all, _, judged, err := wear.JudgeEngines(g, shares, runs, engines, settings.wear())
	return all, judged, err
}

// judgeEngine judges one engine by its part of a group, and keeps what it
// finds.
func judgeEngine(ctx context.Context, t *tx, peers, engine int64, settings Settings) error {
	if _, err := t.ExecContext(ctx, "DELETE FROM engine_wear WHERE engine_id = ? AND peers_id = ?", engine, peers); err != nil {
		return fmt.Errorf("drop engine's judgement: %w", err)
	}
	small, err := isSmall(ctx, t, peers)
	if err != nil {
		return err
	}
	j, sits, err := engineJudgement(ctx, t, peers, engine, small, settings)
	if err != nil || !sits {
		return err
	}
	return saveEngines(ctx, t, peers, []wear.EngineJudgement{j})
}

// engineJudgement judges one engine by its part of a group: with refit against
// a fit of the others made for it, else against the stored fit. sits is false
// where none of the group sits on the engine.
func engineJudgement(ctx context.Context, q querier, peers, engine int64, refit bool, settings Settings) (j wear.EngineJudgement, sits bool, err error) {
	where, args := "s.peers_id = ? ORDER BY s.id", []any{peers}
	if !refit { // by the parts on the engine, not by the group: + keeps its index out
		where, args = "+s.peers_id = ? AND s.current = 1 AND s.part_id IN (SELECT part_id FROM stay WHERE engine_id = ? AND to_day IS NULL AND void = '') ORDER BY s.id", []any{peers, engine}
	}
	ms, err := findMembers(ctx, q, settings.NextIn, where, args...)
	if err != nil {
		return j, false, err
	}
	var own, rest []member
	for _, m := range ms {
		if m.seat == engine {
			own = append(own, m)
		} else {
			rest = append(rest, m)
		}
	}
	if len(own) == 0 {
		return j, false, nil
	}
	if refit {
		j, err = judgeAmong(own, rest, settings)
	} else {
		j, err = judgeByFit(ctx, q, peers, engine, own, settings)
	}
	j.Engine = int(engine)
	return j, true, err
}

// ExplainEngine judges again what EngineWearOf found of an engine, as Refresh
// does, and returns every number used. It takes a fit of the group where the
// engine is much of it: some 40 ms for 450 runs.
func (b *Book) ExplainEngine(ctx context.Context, w EngineWear) (EngineWear, error) {
	settings, err := findSettings(ctx, b.read)
	if err != nil {
		return w, err
	}
	var runs int
	if err := b.read.QueryRowContext(ctx, "SELECT count(*) FROM series WHERE peers_id = ?", w.peers).Scan(&runs); err != nil {
		return w, fmt.Errorf("count peers: %w", err)
	}
	j, sits, err := engineJudgement(ctx, b.read, w.peers, w.Engine, !settings.wear().TakesAway(runs, w.Parts), settings)
	if err != nil {
		return w, fmt.Errorf("explain engine: %w", err)
	}
	if sits {
		w.Alone, w.EngineJudgement = j.P, j.AmongLooks(w.Looks, settings.wear())
	}
	return w, nil
}

// judgeAmong judges an engine's runs against a fit of the others made for it.
func judgeAmong(own, rest []member, settings Settings) (wear.EngineJudgement, error) {
	s := settings.wear()
	runs := make([]wear.Run, len(rest))
	var allowance wear.Allowance
	for _, m := range own {
		allowance = m.makers(allowance)
	}
	for i, m := range rest {
		runs[i] = m.run
		allowance = m.makers(allowance)
	}
	g, shares, err := wear.FitGroup(runs, allowance, s)
	if err != nil {
		return wear.EngineJudgement{}, err
	}
	byEngine := map[int64][]wear.Share{}
	for i, m := range rest {
		if m.seat != notSeated {
			byEngine[m.seat] = append(byEngine[m.seat], shares[i])
		}
	}
	var others []wear.EngineShare
	for _, id := range slices.Sorted(maps.Keys(byEngine)) {
		share, err := g.EngineShareOf(int(id), byEngine[id], s)
		if err != nil {
			return wear.EngineJudgement{}, err
		}
		others = append(others, share)
	}
	spread, err := wear.FitEngines(others, s)
	if err != nil {
		return wear.EngineJudgement{}, err
	}
	return g.JudgeEngine(runsOf(own), nil, spread, s)
}

// judgeByFit judges an engine's runs against the group's stored fit, their own
// shares taken out.
func judgeByFit(ctx context.Context, q querier, peers, engine int64, own []member, settings Settings) (wear.EngineJudgement, error) {
	s := settings.wear()
	f, err := findFit(ctx, q, peers)
	if err != nil || f == nil {
		return wear.EngineJudgement{State: wear.NoReference, P: 1}, err
	}
	shares := make([]wear.Share, len(own))
	for i, m := range own {
		if m.share != nil { // the others are newer than the fit and have none in it
			shares[i] = *m.share
		}
	}
	share, err := f.EngineShareOf(int(engine), shares, s)
	if err != nil {
		return wear.EngineJudgement{}, err
	}
	others, err := f.Engines.Without(share)
	if err != nil {
		return wear.EngineJudgement{}, err
	}
	return f.JudgeEngine(runsOf(own), shares, others, s)
}

func runsOf(ms []member) []wear.Run {
	runs := make([]wear.Run, len(ms))
	for i, m := range ms {
		runs[i] = m.run
	}
	return runs
}

// saveEngines keeps the judgements of engines by a group.
func saveEngines(ctx context.Context, t *tx, peers int64, judged []wear.EngineJudgement) error {
	for _, j := range judged {
		_, err := t.insert(ctx, `INSERT OR REPLACE INTO engine_wear (engine_id, peers_id, state, parts, faster, hours, ratio, ratio_low, ratio_high, chance, refs, others, allowance)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, j.Engine, peers, j.State, j.Parts, j.Faster, j.Hours, j.Ratio, j.RatioLow, j.RatioHigh, j.P, j.ReferenceRuns, j.OtherEngines, j.ByAllowance)
		if err != nil {
			return fmt.Errorf("save engine's judgement: %w", err)
		}
	}
	return nil
}

// judgeMoved judges engines that a part came to or left, by every group that
// their parts belong to.
func judgeMoved(ctx context.Context, t *tx, settings Settings) error {
	for _, engine := range slices.Sorted(maps.Keys(t.moved)) {
		if _, err := t.ExecContext(ctx, "DELETE FROM engine_wear WHERE engine_id = ?", engine); err != nil {
			return fmt.Errorf("drop engine's judgements: %w", err)
		}
		groups, err := list(ctx, t, func(r scanner, id *int64) error { return r.Scan(id) },
			"SELECT DISTINCT s.peers_id FROM stay t JOIN series s ON s.part_id = t.part_id AND s.current = 1 WHERE t.engine_id = ? AND t.to_day IS NULL AND t.void = '' ORDER BY 1", engine)
		if err != nil {
			return fmt.Errorf("list groups of engine: %w", err)
		}
		for _, peers := range groups {
			if err := judgeEngine(ctx, t, peers, engine, settings); err != nil {
				return fmt.Errorf("judge engine %d: %w", engine, err)
			}
		}
	}
	return nil
}

// move notes an engine that a part came to or left.
func (t *tx) move(engine int64) { t.moved[engine] = true }

const engineWearQuery = `SELECT w.engine_id, e.serial, e.aircraft, p.feature_id, p.groove, p.station, w.state, w.parts, w.faster, w.hours, w.ratio, w.ratio_low, w.ratio_high, w.chance, w.refs, w.others, w.allowance, w.peers_id,
	(SELECT count(*) FROM engine_wear n JOIN peers q ON q.id = n.peers_id WHERE n.engine_id = w.engine_id AND q.feature_id = p.feature_id AND q.groove = p.groove AND n.parts >= 3)
	FROM engine_wear w JOIN peers p ON p.id = w.peers_id JOIN engine e ON e.id = w.engine_id`

// EngineWearOf lists what an engine's parts show together, by feature the
// station that looks worst, the least likely first.
func (b *Book) EngineWearOf(ctx context.Context, engine int64) ([]EngineWear, error) {
	return findEngineWear(ctx, b.read, "w.engine_id = ?", engine)
}

// FastEngines lists, over the fleet, the engines whose parts wear fast
// together, the least likely first.
func (b *Book) FastEngines(ctx context.Context) ([]EngineWear, error) {
	ws, err := findEngineWear(ctx, b.read, "w.state = 5")
	return slices.DeleteFunc(ws, func(w EngineWear) bool { return w.State != wear.Flagged }), err
}

func findEngineWear(ctx context.Context, q querier, where string, args ...any) ([]EngineWear, error) {
	x, err := findFeatureIndex(ctx, q)
	if err != nil {
		return nil, err
	}
	settings, err := findSettings(ctx, q)
	if err != nil {
		return nil, err
	}
	ws, err := list(ctx, q, func(r scanner, w *EngineWear) error {
		var feature int64
		j := &w.EngineJudgement
		if err := r.Scan(&w.Engine, &w.EngineNo, &w.Aircraft, &feature, &w.Groove, &w.Station, &j.State, &j.Parts, &j.Faster, &j.Hours, &j.Ratio, &j.RatioLow, &j.RatioHigh, &j.P, &j.ReferenceRuns, &j.OtherEngines, &j.ByAllowance, &w.peers, &w.Looks); err != nil {
			return err
		}
		w.Feature = *x.byID[feature]
		w.Alone, w.EngineJudgement = j.P, j.AmongLooks(w.Looks, settings.wear())
		return nil
	}, engineWearQuery+" WHERE "+where+" ORDER BY w.engine_id, p.feature_id, p.groove, w.chance, p.station", args...)
	if err != nil {
		return nil, fmt.Errorf("list engines' wear: %w", err)
	}
	acknowledged, err := findSeenThings(ctx, q, seenEngine)
	if err != nil {
		return nil, err
	}
	for i, w := range ws {
		ws[i].Seen = acknowledged[w.thing()]
	}
	type spot struct {
		engine, feature int64
		groove          int
	}
	seen := map[spot]bool{}
	ws = slices.DeleteFunc(ws, func(w EngineWear) bool {
		k := spot{w.Engine, w.Feature.ID, w.Groove}
		again := seen[k]
		seen[k] = true
		return again || w.Feature.Wear == wear.NoWear
	})
	slices.SortStableFunc(ws, func(a, b EngineWear) int {
		switch {
		case a.P < b.P:
			return -1
		case a.P > b.P:
			return 1
		}
		return 0
	})
	return ws, nil
}
