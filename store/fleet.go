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
	type row struct {
		Slot
		engine int64
		from   wear.Hours
	}
	rows, err := list(ctx, b.read, func(r scanner, s *row) error {
		return r.Scan(append(partTargets(&s.Part), &s.engine, &s.Position, &s.AtGroove, &s.From, &s.from)...)
	}, "SELECT "+partColumns+`, s.engine_id, s.position, s.groove, s.from_day, (SELECT hours FROM meter_now m WHERE m.root = s.from_meter)
		FROM stay s JOIN part p ON p.id = s.part_id WHERE s.engine_id IN (SELECT value FROM json_each(?)) AND s.to_day IS NULL AND s.void = ''
		ORDER BY s.engine_id, s.position, CASE s.kind WHEN 'cylinder' THEN 1 WHEN 'piston' THEN 2 WHEN 'ring' THEN 3 ELSE 4 END, s.groove`, jsonList(slices.Collect(maps.Keys(hours))))
	if err != nil {
		return nil, fmt.Errorf("list positions: %w", err)
	}
	for _, s := range rows {
		s.SinceHours = hours[s.engine] - s.from
		out[s.engine] = append(out[s.engine], s.Slot)
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
