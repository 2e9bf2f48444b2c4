package store

import (
	"context"
	"fmt"

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
	for _, e := range engines {
		slots, err := list(ctx, b.read, func(r scanner, s *Slot) error {
			var from wear.Hours
			err := r.Scan(append(partTargets(&s.Part), &s.Position, &s.AtGroove, &s.From, &from)...)
			s.SinceHours = e.Hours - from
			return err
		}, "SELECT "+partColumns+`, s.position, s.groove, s.from_day, (SELECT hours FROM meter_now m WHERE m.root = s.from_meter)
			FROM stay s JOIN part p ON p.id = s.part_id WHERE s.engine_id = ? AND s.to_day IS NULL AND s.void = ''
			ORDER BY s.position, CASE s.kind WHEN 'cylinder' THEN 1 WHEN 'piston' THEN 2 WHEN 'ring' THEN 3 ELSE 4 END, s.groove`, e.ID)
		if err != nil {
			return nil, fmt.Errorf("list positions of engine %s: %w", e.Serial, err)
		}
		out[e.ID] = slots
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
