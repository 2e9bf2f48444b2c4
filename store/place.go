package store

import (
	"context"
	"fmt"

	"barrelbook/wear"
)

// Place is a slot of an engine: a position, and a groove for a ring.
type Place struct {
	Engine   int64
	Position int
	Groove   int
}

// findStaysIn lists what sat in one place of an engine, oldest first.
func findStaysIn(ctx context.Context, q querier, at Place, kind wear.Kind) ([]Stay, error) {
	return findStays(ctx, q, "s.engine_id = ? AND s.position = ? AND s.kind = ? AND s.groove = ? AND s.void = ''", at.Engine, at.Position, kind, at.Groove)
}

// putOn enters the installation of a part that is free in a place that is.
func putOn(ctx context.Context, t *tx, p Part, e Engine, at Place, day wear.Day, meter int64) (int64, error) {
	if bad := t.happened(day); len(bad) > 0 {
		return 0, bad
	}
	id, err := t.insert(ctx, "INSERT INTO stay (part_id, kind, engine_id, position, groove, from_day, from_meter, saved_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		p.ID, p.Kind, at.Engine, at.Position, at.Groove, day, meter, t.at)
	if err != nil {
		return 0, fmt.Errorf("install part: %w", err)
	}
	s, err := t.prepared(ctx, "UPDATE part SET status = 'on engine', model_id = coalesce(model_id, ?) WHERE id = ? AND (status <> 'on engine' OR model_id IS NULL)")
	if err != nil {
		return 0, err
	}
	if _, err := s.ExecContext(ctx, e.Model.ID, p.ID); err != nil {
		return 0, fmt.Errorf("install part: %w", err)
	}
	t.touch(p.ID)
	t.move(at.Engine)
	return id, nil
}

// checkPlace refuses a place that the engine lacks or the part does not go
// into, and a scrapped part.
func checkPlace(p Part, e Engine, at Place) error {
	var bad Invalid
	if at.Position < 1 || at.Position > e.Cylinders {
		bad = append(bad, FieldError{Field: "position", Message: fmt.Sprintf("engine %s has positions 1 to %d", e.Serial, e.Cylinders)})
	}
	if p.Kind == wear.Ring && (at.Groove < 1 || at.Groove > 8) {
		bad = append(bad, FieldError{Field: "groove", Message: "a ring sits in a groove: give its number, counted from the crown"})
	}
	if p.Kind != wear.Ring && at.Groove != 0 {
		bad = append(bad, FieldError{Field: "groove", Message: "only a ring sits in a groove"})
	}
	if len(bad) == 0 && p.Status == "scrapped" {
		return invalid("part", "%s %s was scrapped on %s (%s) and cannot be fitted again", p.Kind, p.Serial, p.ScrapDay, p.ScrapReason)
	}
	return bad.orNil()
}

// checkFree refuses a part that sits elsewhere and a place that is taken, now
// or at any time after the day: mine are the part's stays, theirs those in the
// place, both oldest first.
func checkFree(p Part, e Engine, at Place, day wear.Day, hours wear.Hours, mine, theirs []Stay) error {
	for _, s := range mine {
		if s.blocks(at.Engine, day, hours) {
			return invalid("part", "%s %s sits on engine %s at position %d since %s%s: a part is in one place at a time, so remove it there first",
				p.Kind, p.Serial, s.EngineNo, s.Position, s.From, until(s))
		}
	}
	for _, s := range theirs {
		if !s.blocks(at.Engine, day, hours) {
			continue
		}
		where := fmt.Sprintf("position %d of engine %s", at.Position, e.Serial)
		if at.Groove > 0 {
			where += fmt.Sprintf(", groove %d,", at.Groove)
		}
		return invalid("position", "%s holds %s %s since %s%s: remove that first", where, s.Kind, s.Serial, s.From, until(s))
	}
	return nil
}

// blocks reports whether the stay is in the way of an installation on a day,
// at the engine's hours. What came off the same day is out of the way, off the
// same engine at the same hours or before.
func (s Stay) blocks(engine int64, day wear.Day, hours wear.Hours) bool {
	return s.Open() || s.To > day || s.To == day && s.Stay.Engine == engine && s.ToHours > hours
}

func until(s Stay) string {
	if s.Open() {
		return ""
	}
	return " until " + string(s.To)
}
