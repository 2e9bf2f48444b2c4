package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"barrelbook/wear"
)

// CorrectMeter replaces a meter entry by a correction with a reason: of a
// replacement, what the new meter began at. A replacement that gives the same
// number for the old meter follows. All offsets are made anew, and parts'
// hours follow. Errors: Invalid at reason; at hours or stood where hours would
// run backwards, or a part come off before it went on; at day where something
// was entered with the entry that has its date.
func (b *Book) CorrectMeter(ctx context.Context, root int64, day wear.Day, shows wear.Hours, why string) error {
	return b.correctMeter(ctx, root, why, func(m *MeterEntry) { m.Day, m.Shows = day, shows })
}

// CorrectReplaced is CorrectMeter for a replacement: stood is what the old
// meter showed, began what the new one began at. A reading of the old meter
// that gave the same number follows where it would not fit any more.
func (b *Book) CorrectReplaced(ctx context.Context, root int64, day wear.Day, stood, began wear.Hours, why string) error {
	return b.correctMeter(ctx, root, why, func(m *MeterEntry) { m.Day, m.Stood, m.Shows = day, stood, began })
}

func (b *Book) correctMeter(ctx context.Context, root int64, why string, change func(*MeterEntry)) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say why the entry is corrected")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		old, err := findMeter(ctx, t, root)
		if err != nil {
			return err
		}
		was, err := findChain(ctx, t, old.Engine)
		if err != nil {
			return err
		}
		old = *was.entry(root)
		fixed := old
		change(&fixed)
		if fixed == old {
			return invalid("hours", "that is what the entry says already")
		}
		from := was
		if fixed.Day != old.Day {
			if err := dayStays(ctx, t, old); err != nil {
				return err
			}
			from = was.ontoDay(&fixed)
		}
		now, err := from.corrected(old, fixed)
		if err != nil {
			return err
		}
		if err := now.save(ctx, t, was, fixed, why); err != nil {
			return err
		}
		return recountEngine(ctx, t, old.Engine)
	})
}

// ontoDay has each reading keep its meter while an entry gets another day: a
// reading stays with the meter that it was read from where that was on then, and
// a replacement that comes earlier leaves the readings of that day to the old one.
func (c meterChain) ontoDay(fixed *MeterEntry) meterChain {
	fixed.AheadOf = 0
	if !fixed.Replaced() {
		for _, m := range c.meters(fixed.Engine, fixed.Day) {
			if m.Offset == fixed.Offset {
				fixed.AheadOf = m.AheadOf
				break
			}
		}
		return c
	}
	c = slices.Clone(c)
	for i := range c {
		m := &c[i]
		if m.Day == fixed.Day && m.Day < c.entry(fixed.Root).Day && !m.Replaced() && m.AheadOf == 0 && m.Root > fixed.Root {
			m.AheadOf = fixed.Root
		}
	}
	return c
}

// corrected is the chain with an entry corrected. A number of the old meter that
// stands both in a reading and in the replacement of its day was typed once: the
// replacement follows the reading, the reading the replacement where it must.
func (c meterChain) corrected(old, fixed MeterEntry) (meterChain, error) {
	try := func(follow bool) (meterChain, error) {
		now := slices.Clone(c)
		for i := range now {
			m := &now[i]
			switch {
			case m.Root == old.Root:
				*m = fixed
			case !follow || m.Day != old.Day || m.Day != fixed.Day:
			case m.turn == old.turn+1 && m.Replaced() && m.Stood == old.Shows:
				m.Stood = fixed.Shows
			case m.turn == old.turn-1 && old.Replaced() && m.Shows == old.Stood:
				m.Shows = fixed.Stood
			}
		}
		now.reckon()
		return now, now.refusal(c, old.Root)
	}
	now, err := try(!old.Replaced())
	var bad Invalid
	if old.Replaced() && errors.As(err, &bad) {
		return try(true)
	}
	return now, err
}

// save keeps what a correction changed in the chain.
func (c meterChain) save(ctx context.Context, t *tx, was meterChain, fixed MeterEntry, why string) error {
	for _, m := range c {
		old := was.entry(m.Root)
		switch {
		case m.Root == fixed.Root || m.Shows != old.Shows || m.Stood != old.Stood:
			m.Reason = why
		case m.Offset != old.Offset:
			m.Reason = fmt.Sprintf("the meter's offset was corrected on %s", fixed.Day)
		case m.AheadOf != old.AheadOf:
			m.Reason = fmt.Sprintf("the replacement's date was corrected to %s", fixed.Day)
		default:
			continue
		}
		if _, err := insertMeter(ctx, t, m); err != nil {
			return err
		}
	}
	return nil
}

// MeterHolds says in words what was entered with a meter entry and has its
// date, "" for nothing. What was struck, withdrawn or given up does not count.
func (b *Book) MeterHolds(ctx context.Context, m MeterEntry) (string, error) {
	return meterHolds(ctx, b.read, m)
}

func meterHolds(ctx context.Context, q querier, m MeterEntry) (string, error) {
	var n [6]int
	names := [6][2]string{{"installation", "installations"}, {"sheet", "sheets"}, {"leak test", "leak tests"}, {"job", "jobs"}, {"refit", "refits"}, {"piece of work", "pieces of work"}}
	err := q.QueryRowContext(ctx, `SELECT
		(SELECT count(*) FROM stay WHERE engine_id = ?1 AND (from_meter = ?2 OR to_meter = ?2) AND void = ''),
		(SELECT count(*) FROM sheet s WHERE s.engine_id = ?1 AND s.meter_root = ?2 AND EXISTS (SELECT 1 FROM reading r WHERE r.sheet_id = s.id AND r.value IS NOT NULL
			AND NOT EXISTS (SELECT 1 FROM reading x WHERE x.root = r.root AND x.id > r.id AND x.part_id = r.part_id AND x.feature_id = r.feature_id))),
		(SELECT count(DISTINCT h.root) FROM leak_test h WHERE h.engine_id = ?1 AND h.meter_root = ?2 AND EXISTS (SELECT 1 FROM leak_reading r WHERE r.test_root = h.root AND r.reading IS NOT NULL
			AND NOT EXISTS (SELECT 1 FROM leak_reading x WHERE x.root = r.root AND x.id > r.id))),
		(SELECT count(*) FROM job_now WHERE engine_id = ?1 AND meter_root = ?2 AND ended <> 'given up'),
		(SELECT count(*) FROM job_entry x JOIN job_now j ON j.id = x.job_id WHERE j.engine_id = ?1 AND x.meter_root = ?2 AND j.ended <> 'given up'),
		(SELECT count(*) FROM mark k WHERE k.meter_root = ?2 AND k.void = '')`,
		m.Engine, m.Root).Scan(&n[0], &n[1], &n[2], &n[3], &n[4], &n[5])
	if err != nil {
		return "", fmt.Errorf("find what was entered with a meter entry: %w", err)
	}
	var some []int
	for i := range n {
		if n[i] > 0 {
			some = append(some, i)
		}
	}
	return wear.ListOf(some, func(i int) string { return strconv.Itoa(n[i]) + " " + names[i][min(n[i], 2)-1] }), nil
}

// dayStays refuses another date for a meter entry while something has it.
func dayStays(ctx context.Context, q querier, m MeterEntry) error {
	holds, err := meterHolds(ctx, q, m)
	if err != nil || holds == "" {
		return err
	}
	return invalid("day", "entered with it on %s: %s. They keep their date, so the entry keeps it too. Strike or withdraw first what has the wrong date; after this correction enter it again", m.Day, holds)
}

// sameDay refuses to put numbers back onto what was withdrawn once the meter
// entry that it was entered with has another date; root is 0 where there is
// none.
func sameDay(ctx context.Context, q querier, root int64, day wear.Day, field string) error {
	if root == 0 {
		return nil
	}
	m, err := findMeter(ctx, q, root)
	if err != nil || m.Day == day {
		return err
	}
	return invalid(field, "it was withdrawn, and the date of its meter entry was corrected to %s: enter it again with that date", m.Day)
}

// recountEngine checks every stay on an engine after its hours were
// corrected, and touches the parts that sat there or were measured there.
func recountEngine(ctx context.Context, t *tx, engine int64) error {
	stays, err := findStays(ctx, t, "s.engine_id = ? AND s.void = ''", engine)
	if err != nil {
		return err
	}
	parts, places := map[int64]Stay{}, map[slot]Stay{}
	for _, s := range stays {
		if !s.Open() && s.ToHours < s.FromHours {
			return invalid("hours", "%s %s at position %d would come off at %s h, before it went on at %s h", s.Kind, s.Serial, s.Position, s.ToHours, s.FromHours)
		}
		at := slot{Place{s.Engine, s.Position, s.Groove}, s.Kind}
		for _, before := range []Stay{parts[s.Part], places[at]} {
			if before.ID != 0 && before.blocks(s.Engine, s.From, s.FromHours) {
				return invalid("hours", "%s %s would go on at position %d at %s h on %s, before %s %s came off at position %d at %s h", s.Kind, s.Serial, s.Position, s.FromHours, s.From, before.Kind, before.Serial, before.Position, before.ToHours)
			}
		}
		parts[s.Part], places[at] = s, s
		t.touch(s.Part)
	}
	return nil
}
