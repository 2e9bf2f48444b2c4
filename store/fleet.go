package store

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"barrelbook/wear"
)

// Slot is what sits at one place of an engine now.
type Slot struct {
	Part
	Position   int
	AtGroove   int
	From       wear.Day
	SinceHours wear.Hours // since installation
}

// Slots lists the parts that sit on the given engines now, by engine, in the
// order of position and stack.
func (b *Book) Slots(ctx context.Context, engines []Engine) (map[int64][]Slot, error) {
	out := make(map[int64][]Slot, len(engines))
	hours := make(map[int64]wear.Hours, len(engines))
	for _, e := range engines {
		hours[e.ID] = e.Hours
	}
	_, err := list(ctx, b.read, func(r scanner, _ *struct{}) error {
		var s Slot
		var engine int64
		var from wear.Hours
		if err := r.Scan(append(partTargets(&s.Part), &engine, &s.Position, &s.AtGroove, &s.From, &from)...); err != nil {
			return err
		}
		s.SinceHours = hours[engine] - from
		out[engine] = append(out[engine], s)
		return nil
	}, "SELECT "+partColumns+`, s.engine_id, s.position, s.groove, s.from_day, (SELECT hours FROM meter_now m WHERE m.root = s.from_meter)
		FROM stay s JOIN part p ON p.id = s.part_id WHERE s.engine_id IN (SELECT value FROM json_each(?)) AND s.to_day IS NULL AND s.void = ''
		ORDER BY s.engine_id, s.position, CASE s.kind WHEN 'cylinder' THEN 1 WHEN 'piston' THEN 2 WHEN 'ring' THEN 3 ELSE 4 END, s.groove`, jsonList(slices.Collect(maps.Keys(hours))))
	if err != nil {
		return nil, fmt.Errorf("list positions: %w", err)
	}
	return out, nil
}

// Glance is Slots at a glance: one entry a position that holds anything, with
// the worst verdict of its parts, whether one is flagged, and the last day one
// was measured.
func (b *Book) Glance(ctx context.Context, engines []Engine) (map[int64][]Slot, error) {
	out := make(map[int64][]Slot, len(engines))
	ids := make([]int64, len(engines))
	for i, e := range engines {
		ids[i] = e.ID
	}
	_, err := list(ctx, b.read, func(r scanner, _ *struct{}) error {
		var s Slot
		var engine int64
		if err := r.Scan(&engine, &s.Position, &s.Verdict, &s.Flagged, &s.LastDay); err != nil {
			return err
		}
		out[engine] = append(out[engine], s)
		return nil
	}, `SELECT s.engine_id, s.position, max(p.verdict), max(p.state), max(p.last_day) FROM stay s JOIN part p ON p.id = s.part_id
		WHERE s.engine_id IN (SELECT value FROM json_each(?)) AND s.to_day IS NULL AND s.void = '' GROUP BY s.engine_id, s.position`, jsonList(ids))
	if err != nil {
		return nil, fmt.Errorf("list positions: %w", err)
	}
	return out, nil
}

// Counts says how much a book holds.
type Counts struct{ Engines, Parts, Sheets, Limits int }

// Counts counts engines, parts, sheets and limits; for the empty book's first
// steps only, so each stops at one.
func (b *Book) Counts(ctx context.Context) (c Counts, err error) {
	err = b.read.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM engine), EXISTS (SELECT 1 FROM part), EXISTS (SELECT 1 FROM sheet), EXISTS (SELECT 1 FROM limit_row)`).
		Scan(&c.Engines, &c.Parts, &c.Sheets, &c.Limits)
	if err != nil {
		return c, fmt.Errorf("count book: %w", err)
	}
	return c, nil
}
