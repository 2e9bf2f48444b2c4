package store

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/wear"
)

// MeterEntry is what an engine's meter showed on a day, or that another meter
// took its place. Hours is the engine's total: what the meter shows and the
// offset together.
type MeterEntry struct {
	ID, Root, Engine int64
	Day              wear.Day
	Shows, Offset    wear.Hours
	Hours            wear.Hours
	Kind             string // MeterRead or MeterReplaced
	Reason           string
	SavedAt          string
	AheadOf          int64      // root of the replacement of its day that it was taken before, and entered after; 0 for none
	Stood            wear.Hours // of a replacement in force: what the old meter showed
	Struck           bool       // a later correction replaced it

	turn int // when in its day it comes: see meterChain
}

// Kinds of meter entries: a replacement shows what the new meter began at.
const (
	MeterRead     = "reading"
	MeterReplaced = "replaced"
)

// Replaced reports whether the entry says that the meter was replaced or
// reset.
func (m MeterEntry) Replaced() bool { return m.Kind == MeterReplaced }

const meterColumns = "id, root, engine_id, day, shows, offset, kind, reason, saved_at, coalesce(ahead_of, 0)"

func meterTargets(m *MeterEntry) []any {
	return []any{&m.ID, &m.Root, &m.Engine, &m.Day, &m.Shows, &m.Offset, &m.Kind, &m.Reason, &m.SavedAt, &m.AheadOf}
}

func scanMeter(r scanner, m *MeterEntry) error {
	err := r.Scan(meterTargets(m)...)
	m.Hours = m.Shows + m.Offset
	return err
}

// Meter lists every entry of an engine's meter, newest first, corrected ones
// struck.
func (b *Book) Meter(ctx context.Context, engine int64) ([]MeterEntry, error) {
	ms, err := list(ctx, b.read, func(r scanner, m *MeterEntry) error {
		err := r.Scan(append(meterTargets(m), &m.Struck)...)
		m.Hours = m.Shows + m.Offset
		return err
	}, "SELECT "+meterColumns+`, EXISTS (SELECT 1 FROM meter n WHERE n.root = meter.root AND n.id > meter.id)
		FROM meter WHERE engine_id = ? ORDER BY day DESC, shows + offset DESC, coalesce(ahead_of, root) DESC, kind DESC, id DESC`, engine)
	if err != nil {
		return nil, fmt.Errorf("list meter entries: %w", err)
	}
	c, err := findChain(ctx, b.read, engine)
	if err != nil {
		return nil, err
	}
	for i := range ms {
		if !ms[i].Struck {
			ms[i].Stood = c.entry(ms[i].Root).Stood
		}
	}
	return ms, nil
}

// MeterEntry finds the entry in force for a root.
func (b *Book) MeterEntry(ctx context.Context, root int64) (MeterEntry, error) {
	m, err := findMeter(ctx, b.read, root)
	if err != nil {
		return m, err
	}
	c, err := findChain(ctx, b.read, m.Engine)
	if err != nil {
		return m, err
	}
	return *c.entry(root), nil
}

func findMeter(ctx context.Context, q querier, root int64) (MeterEntry, error) {
	m, err := one(ctx, q, scanMeter, "SELECT "+meterColumns+" FROM meter_now WHERE root = ?", root)
	if err != nil {
		return m, fmt.Errorf("find meter entry: %w", err)
	}
	return m, nil
}

// AddMeter records what an engine's meter showed.
func (b *Book) AddMeter(ctx context.Context, engine int64, day wear.Day, shows wear.Hours) (root int64, err error) {
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		root, err = addMeter(ctx, t, engine, day, shows)
		return err
	})
	return root, err
}

// addMeter records a meter reading, or finds the entry that says the same,
// and returns its root.
func addMeter(ctx context.Context, t *tx, engine int64, day wear.Day, shows wear.Hours) (int64, error) {
	m, err := readMeter(ctx, t, engine, day, func(wear.Hours) wear.Hours { return shows })
	return m.Root, err
}

// readMeter records a reading of the meter that the engine had that day, or
// finds the entry that says the same. shows tells what that meter showed by
// its offset. On the day of a replacement it is the new meter where the number
// fits it, else the old one.
func readMeter(ctx context.Context, t *tx, engine int64, day wear.Day, shows func(offset wear.Hours) wear.Hours) (MeterEntry, error) {
	near, err := findNear(ctx, t, engine, day)
	if err != nil {
		return MeterEntry{}, err
	}
	var refused error
	for _, m := range near.meters(engine, day) {
		m.Shows = shows(m.Offset)
		m.Hours = m.Shows + m.Offset
		c := near.with(m)
		if same := c.same(m); same != nil {
			return *same, nil
		}
		err := c.refusal(near, 0)
		if err == nil && m.Shows < 0 {
			err = invalid("hours", "%s h in total is less than the engine had when its meter was replaced", m.Hours)
		}
		if err == nil {
			m.Root, err = insertMeter(ctx, t, m)
			return m, err
		}
		refused = firstOf(refused, err)
	}
	return MeterEntry{}, refused
}

func insertMeter(ctx context.Context, t *tx, m MeterEntry) (int64, error) {
	id, err := t.insert(ctx, `INSERT INTO meter (root, engine_id, day, shows, offset, kind, reason, saved_at, ahead_of)
		VALUES (CASE WHEN ?1 = 0 THEN (SELECT coalesce(max(id), 0) + 1 FROM meter) ELSE ?1 END, ?2, ?3, ?4, ?5, ?6, ?7, ?8, nullif(?9, 0))`,
		m.Root, m.Engine, m.Day, m.Shows, m.Offset, m.Kind, m.Reason, t.at, m.AheadOf)
	if err != nil {
		return 0, fmt.Errorf("add meter entry: %w", err)
	}
	if m.Root != 0 {
		return m.Root, nil
	}
	return id, nil
}

// ReplaceMeter records a new or reset meter: the old one stood at oldShows,
// the new one starts at newShows. The difference becomes the offset. Errors:
// Invalid at reason, day, hours, and at stood where the old meter's number
// does not fit.
func (b *Book) ReplaceMeter(ctx context.Context, engine int64, day wear.Day, oldShows, newShows wear.Hours, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say why the meter was replaced or reset")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if _, err := addMeter(ctx, t, engine, day, oldShows); err != nil {
			return err
		}
		var later int
		if err := t.QueryRowContext(ctx, "SELECT count(*) FROM meter_now WHERE engine_id = ? AND day > ?", engine, day).Scan(&later); err != nil {
			return fmt.Errorf("count later entries: %w", err)
		}
		if later > 0 {
			return invalid("day", "there are %d meter entries after %s, and they were read from the old meter: enter the replacement in its order, or correct those", later, day)
		}
		near, err := findNear(ctx, t, engine, day)
		if err != nil {
			return err
		}
		m := near.meters(engine, day)[0]
		m.Kind, m.Reason, m.Stood, m.Shows = MeterReplaced, why, oldShows, newShows
		m.Offset += oldShows - newShows
		m.Hours = m.Shows + m.Offset
		if err := near.with(m).refusal(near, 0); err != nil {
			return err
		}
		_, err = insertMeter(ctx, t, m)
		return err
	})
}
