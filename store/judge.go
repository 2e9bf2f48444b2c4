package store

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"

	"barrelbook/wear"
)

// smallGroup is the number of runs up to which a changed run is judged against
// a fit of the others made for it. In larger groups one run hardly moves the
// fit: the changed run is judged against the group's stored fit, its own share
// taken out. Either way the others are judged anew by Refresh.
const smallGroup = 64

// mostAtOnce is how many series one save judges itself: more than a whole
// position has. What changes more, an import or a new limit, leaves them all
// to Refresh.
const mostAtOnce = 200

// member is a series with what judging it needs.
type member struct {
	id, part   int64
	rev        int
	run        wear.Run
	question   wear.Question
	allowance  float64
	looks      int // stations of the same feature looked at
	start      wear.Event
	share      *wear.Share
	wasFlagged bool
	seat       int64 // engine that the part sits on in this run, notSeated where there is none
}

// makers is the maker's wear allowance that the member's limits give, else the
// one known so far.
func (m member) makers(known wear.Allowance) wear.Allowance {
	if m.allowance > 0 {
		return wear.Allowance{PerHour: m.allowance, Life: m.question.Life}
	}
	return known
}

const memberQuery = `SELECT s.id, s.part_id, s.rev, s.points, s.assumed, s.allowance, s.bound, s.life, s.share, s.state, s.start_event,
	(SELECT count(*) FROM series n WHERE n.part_id = s.part_id AND n.feature_id = s.feature_id AND n.groove = s.groove AND n.current = 1),
	coalesce(CASE s.current WHEN 1 THEN (SELECT t.engine_id FROM stay t WHERE t.part_id = s.part_id AND t.to_day IS NULL AND t.void = '') END, -1) FROM series s`

func findMembers(ctx context.Context, q querier, next wear.Hours, where string, args ...any) ([]member, error) {
	ms, err := list(ctx, q, func(r scanner, m *member) error {
		var points, share []byte
		var assumed bool
		var bound *float64
		var life wear.Hours
		var state wear.State
		if err := r.Scan(&m.id, &m.part, &m.rev, &points, &assumed, &m.allowance, &bound, &life, &share, &state, &m.start, &m.looks, &m.seat); err != nil {
			return err
		}
		m.wasFlagged = state == wear.Flagged
		m.question = wear.Question{Life: life.Float(), NextIn: next.Float()}
		if bound != nil {
			m.question.Limit, m.question.HasLimit = *bound, true
		}
		var err error
		if m.share, err = unpackShare(share); err != nil {
			return err
		}
		m.run.Points, err = decodePoints(points, assumed)
		return err
	}, memberQuery+" WHERE "+where, args...)
	if err != nil {
		return nil, fmt.Errorf("read summaries: %w", err)
	}
	return ms, nil
}

// judgeChanged judges the changed series of each group, and marks the group so
// that Refresh judges the others.
func judgeChanged(ctx context.Context, t *tx, changed map[int64][]int64, settings Settings) error {
	total := 0
	for _, ids := range changed {
		total += len(ids)
	}
	for _, peers := range slices.Sorted(maps.Keys(changed)) {
		if total > mostAtOnce {
			if _, err := t.ExecContext(ctx, "UPDATE peers SET stale = stale + members + 1 WHERE id = ?", peers); err != nil {
				return fmt.Errorf("mark peers: %w", err)
			}
			continue
		}
		if err := judgeSome(ctx, t, peers, changed[peers], settings); err != nil {
			return fmt.Errorf("judge peers %d: %w", peers, err)
		}
	}
	if total > mostAtOnce {
		clear(t.moved)
	}
	return judgeMoved(ctx, t, settings)
}

// judgeSome judges single runs of a group.
func judgeSome(ctx context.Context, t *tx, peers int64, ids []int64, settings Settings) error {
	seats := map[int64]bool{}
	for _, id := range ids {
		ms, err := findMembers(ctx, t, settings.NextIn, "s.id = ?", id)
		if err != nil {
			return err
		}
		for _, m := range ms { // none where the series was dropped
			group, _, err := others(ctx, t, peers, m, settings)
			if err != nil {
				return err
			}
			j, err := group.Judge(m.run, nil, m.question, settings.wear())
			if err != nil {
				return err
			}
			if err := saveJudgement(ctx, t, m, m.share, j.AmongLooks(m.looks, settings.wear())); err != nil {
				return err
			}
			seats[m.seat] = true
		}
	}
	for _, engine := range slices.Sorted(maps.Keys(seats)) {
		if engine != notSeated && !t.moved[engine] {
			if err := judgeEngine(ctx, t, peers, engine, settings); err != nil {
				return fmt.Errorf("judge engine %d: %w", engine, err)
			}
		}
	}
	_, err := t.ExecContext(ctx, "UPDATE peers SET stale = stale + ? WHERE id = ?", len(ids), peers)
	return err
}

func judgeMembers(ms []member, settings Settings) (wear.Group, []wear.Share, []wear.Judgement, error) {
	runs := make([]wear.Run, len(ms))
	questions := make([]wear.Question, len(ms))
	var allowance wear.Allowance
	for i, m := range ms {
		runs[i], questions[i] = m.run, m.question
		allowance = m.makers(allowance)
	}
	group, shares, judgements, err := wear.JudgeGroup(runs, questions, allowance, settings.wear())
	if err != nil {
		return group, nil, nil, err
	}
	for i, m := range ms {
		judgements[i] = judgements[i].AmongLooks(m.looks, settings.wear())
	}
	return group, shares, judgements, nil
}

// groupFit is what is kept of a group: the fit of its runs, and how much its
// engines differ.
type groupFit struct {
	wear.Group
	Engines wear.Engines
}

func findFit(ctx context.Context, q querier, peers int64) (*groupFit, error) {
	var fit []byte
	if err := q.QueryRowContext(ctx, "SELECT fit FROM peers WHERE id = ?", peers).Scan(&fit); err != nil {
		return nil, fmt.Errorf("read fit: %w", err)
	}
	if len(fit) == 0 {
		return nil, nil
	}
	var g groupFit
	if err := json.Unmarshal(fit, &g); err != nil {
		return nil, fmt.Errorf("read fit: %w", err)
	}
	return &g, nil
}

// saveFit keeps a group's fit. The group stays stale where something was saved
// since the fit was begun, when stale was what it had.
func saveFit(ctx context.Context, t *tx, peers int64, g groupFit, members, stale int) error {
	fit, err := json.Marshal(g)
	if err != nil {
		return fmt.Errorf("write fit: %w", err)
	}
	_, err = t.ExecContext(ctx, "UPDATE peers SET fit = ?, members = ?, stale = CASE stale WHEN ? THEN 0 ELSE stale END WHERE id = ?", fit, members, stale, peers)
	if err != nil {
		return fmt.Errorf("save fit: %w", err)
	}
	return nil
}

// saveJudgement keeps a judgement with the series it judged, unless that has
// changed since it was read.
func saveJudgement(ctx context.Context, t *tx, m member, share *wear.Share, j wear.Judgement) error {
	packed, err := packShare(share)
	if err != nil {
		return err
	}
	var low, median, high any
	canSay := false
	if f := j.Forecast; f != nil && f.CanSay {
		canSay, low, median, high = true, f.Low, f.Median, f.High
	}
	s, err := t.prepared(ctx, `UPDATE series SET share = ?, state = ?, hours = ?, wear = ?, expected = ?, ratio = ?, ratio_low = ?, ratio_high = ?, equivalent = ?, chance = ?, refs = ?,
		can_say = ?, left_low = ?, left_median = ?, left_high = ?, sentence = ?, test = ? WHERE id = ? AND rev = ?`)
	if err != nil {
		return err
	}
	if _, err := s.ExecContext(ctx, packed, j.State, j.Hours, j.Wear, j.Expected, j.Ratio, j.RatioLow, j.RatioHigh, j.EquivalentHours, j.P, j.ReferenceRuns,
		canSay, low, median, high, j.Sentence(m.start.Since()), j.Test, m.id, m.rev); err != nil {
		return fmt.Errorf("save judgement: %w", err)
	}
	if m.wasFlagged == (j.State == wear.Flagged) {
		return nil
	}
	mark, err := t.prepared(ctx, "UPDATE part SET state = EXISTS (SELECT 1 FROM series WHERE part_id = ?1 AND current = 1 AND state = ?2) WHERE id = ?1")
	if err != nil {
		return err
	}
	if _, err := mark.ExecContext(ctx, m.part, wear.Flagged); err != nil {
		return fmt.Errorf("mark part: %w", err)
	}
	return nil
}
