package store

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/wear"
)

// Stay is a part's time at a position of an engine, with the engine's total
// hours at both ends.
type Stay struct {
	ID       int64
	Part     int64
	Kind     wear.Kind
	Serial   string
	EngineNo string
	wear.Stay
	FromMeter, ToMeter int64 // roots
	ReasonOut          string
	Void               string
	Despite            string // why it was fitted although a ring's facing or pressure speaks against it
}

const stayColumns = `s.id, s.part_id, s.kind, p.serial, e.serial, s.engine_id, s.position, s.groove, s.from_day, f.hours, coalesce(s.to_day, ''), coalesce(u.hours, 0),
	s.from_meter, coalesce(s.to_meter, 0), s.reason_out, s.void, s.despite`

const stayQuery = "SELECT " + stayColumns + ` FROM stay s JOIN part p ON p.id = s.part_id JOIN engine e ON e.id = s.engine_id
	JOIN meter_now f ON f.root = s.from_meter LEFT JOIN meter_now u ON u.root = s.to_meter`

func stayTargets(s *Stay) []any {
	return []any{&s.ID, &s.Part, &s.Kind, &s.Serial, &s.EngineNo, &s.Engine, &s.Position, &s.Groove, &s.From, &s.FromHours, &s.To, &s.ToHours,
		&s.FromMeter, &s.ToMeter, &s.ReasonOut, &s.Void, &s.Despite}
}

func scanStay(r scanner, s *Stay) error { return r.Scan(stayTargets(s)...) }

func findStays(ctx context.Context, q querier, where string, args ...any) ([]Stay, error) {
	ss, err := list(ctx, q, scanStay, stayQuery+" WHERE "+where+" ORDER BY s.from_day, f.hours, s.id", args...)
	if err != nil {
		return nil, fmt.Errorf("list installations: %w", err)
	}
	return ss, nil
}

// StaysOf lists where a part sat, oldest first, mistaken entries too.
func (b *Book) StaysOf(ctx context.Context, part int64) ([]Stay, error) {
	return findStays(ctx, b.read, "s.part_id = ?", part)
}

// StaysAt lists what sat at a position of an engine, oldest first.
func (b *Book) StaysAt(ctx context.Context, engine int64, position int) ([]Stay, error) {
	return findStays(ctx, b.read, "s.engine_id = ? AND s.position = ? AND s.void = ''", engine, position)
}

// whereNow is the open stay of a part; ErrNotFound on the shelf.
func whereNow(ctx context.Context, q querier, part int64) (Stay, error) {
	return one(ctx, q, scanStay, stayQuery+" WHERE s.part_id = ? AND s.to_day IS NULL AND s.void = ''", part)
}

// Install puts a part that is on the shelf onto an engine. Shows is what the
// engine's meter shows.
func (b *Book) Install(ctx context.Context, part int64, at Place, day wear.Day, shows wear.Hours) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if err := notInJob(ctx, t, at.Engine, at.Position); err != nil {
			return err
		}
		meter, err := addMeter(ctx, t, at.Engine, day, shows)
		if err != nil {
			return err
		}
		return install(ctx, t, part, at, day, meter)
	})
}

// Fitting is one part that goes onto a position with others: one that the
// book has (Part.ID set) or a new entry. Field names the form field it came
// from; where it is empty, faults keep the store's own names.
type Fitting struct {
	Part    Part
	Groove  int
	Field   string
	Despite string // why it is fitted although a ring's facing or pressure speaks against it
}

// InstallAll puts a whole stack onto a position, in one save.
func (b *Book) InstallAll(ctx context.Context, engine int64, position int, day wear.Day, shows wear.Hours, fittings []Fitting) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if err := notInJob(ctx, t, engine, position); err != nil {
			return err
		}
		if bad := t.happened(day); len(bad) > 0 {
			return bad // once, not at each part
		}
		meter, err := addMeter(ctx, t, engine, day, shows)
		if err != nil {
			return err
		}
		e, err := findEngine(ctx, t, engine)
		if err != nil {
			return err
		}
		var bad Invalid
		for _, f := range fittings {
			if err := fit(ctx, t, e, position, day, meter, f); err != nil {
				invalid, ok := err.(Invalid)
				if !ok {
					return err
				}
				for _, i := range invalid {
					if f.Field != "" {
						i.Field = f.Field
					}
					bad = append(bad, i)
				}
			}
		}
		return bad.orNil()
	})
}

func fit(ctx context.Context, t *tx, e Engine, position int, day wear.Day, meter int64, f Fitting) error {
	if f.Part.ID == 0 {
		if f.Part.ModelID == 0 {
			f.Part.ModelID = e.Model.ID
		}
		if f.Part.Kind == wear.Ring && f.Part.Groove == 0 {
			f.Part.Groove = f.Groove
		}
		id, err := addPart(ctx, t, f.Part)
		if err != nil {
			return err
		}
		f.Part.ID = id
	}
	if err := install(ctx, t, f.Part.ID, Place{e.ID, position, f.Groove}, day, meter); err != nil || f.Despite == "" {
		return err
	}
	if _, err := t.ExecContext(ctx, "UPDATE stay SET despite = ? WHERE part_id = ? AND to_day IS NULL AND void = ''", f.Despite, f.Part.ID); err != nil {
		return fmt.Errorf("note reason of installation: %w", err)
	}
	return nil
}

func install(ctx context.Context, t *tx, part int64, at Place, day wear.Day, meter int64) error {
	p, err := findPart(ctx, t, part)
	if err != nil {
		return err
	}
	e, err := findEngine(ctx, t, at.Engine)
	if err != nil {
		return err
	}
	m, err := findMeter(ctx, t, meter)
	if err != nil {
		return err
	}
	if err := checkPlace(p, e, at); err != nil {
		return err
	}
	mine, err := findStays(ctx, t, "s.part_id = ? AND s.void = ''", part)
	if err != nil {
		return err
	}
	theirs, err := findStaysIn(ctx, t, at, p.Kind)
	if err != nil {
		return err
	}
	if err := checkFree(p, e, at, day, m.Hours, mine, theirs); err != nil {
		return err
	}
	if _, err := putOn(ctx, t, p, e, at, day, meter); err != nil {
		return err
	}
	return touchMates(ctx, t, at.Engine, at.Position, day, "")
}

// touchMates touches the parts that sat at a position at any time between two
// days, both empty for ever: another mate there can start their run anew, one
// that never was there does not.
func touchMates(ctx context.Context, t *tx, engine int64, position int, from, to wear.Day) error {
	ids, err := list(ctx, t, func(r scanner, id *int64) error { return r.Scan(id) },
		`SELECT DISTINCT part_id FROM stay WHERE engine_id = ?1 AND position = ?2 AND void = '' AND kind IN ('piston', 'ring')
		AND (to_day IS NULL OR to_day >= ?3) AND (?4 = '' OR from_day <= ?4)`, engine, position, from, to)
	if err != nil {
		return fmt.Errorf("list mates: %w", err)
	}
	t.touch(ids...)
	return nil
}

// Remove takes a part off its engine; with scrap it does not go on the shelf.
func (b *Book) Remove(ctx context.Context, part int64, day wear.Day, shows wear.Hours, why string, scrap bool) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say why the part comes off")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		s, err := whereNow(ctx, t, part)
		if err == ErrNotFound {
			return invalid("part", "the part is not on an engine")
		}
		if err != nil {
			return fmt.Errorf("find installation: %w", err)
		}
		if err := notInJob(ctx, t, s.Engine, s.Position); err != nil {
			return err
		}
		if bad := t.happened(day); len(bad) > 0 {
			return bad
		}
		meter, err := addMeter(ctx, t, s.Engine, day, shows)
		if err != nil {
			return err
		}
		if err := remove(ctx, t, s, day, meter, why); err != nil || !scrap {
			return err
		}
		return scrapPart(ctx, t, part, day, why)
	})
}

func remove(ctx context.Context, t *tx, s Stay, day wear.Day, meter int64, why string) error {
	if bad := t.happened(day); len(bad) > 0 {
		return bad
	}
	m, err := findMeter(ctx, t, meter)
	if err != nil {
		return err
	}
	if day < s.From {
		return invalid("day", "the part went on on %s: it cannot come off before", s.From)
	}
	if m.Hours < s.FromHours {
		return invalid("hours", "the part went on at %s h: it cannot come off at %s h", s.FromHours, m.Hours)
	}
	update, err := t.prepared(ctx, "UPDATE stay SET to_day = ?, to_meter = ?, reason_out = ? WHERE id = ?")
	if err != nil {
		return err
	}
	if _, err := update.ExecContext(ctx, day, meter, why, s.ID); err != nil {
		return fmt.Errorf("remove part: %w", err)
	}
	shelve, err := t.prepared(ctx, "UPDATE part SET status = 'on shelf' WHERE id = ?")
	if err != nil {
		return err
	}
	if _, err := shelve.ExecContext(ctx, s.Part); err != nil {
		return fmt.Errorf("remove part: %w", err)
	}
	t.move(s.Engine)
	t.touch(s.Part)
	return nil
}

// VoidStay strikes an installation that was entered by mistake, with a
// reason; it stays visible and counts for nothing.
func (b *Book) VoidStay(ctx context.Context, id int64, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say what was wrong with the entry")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		s, err := one(ctx, t, scanStay, stayQuery+" WHERE s.id = ?", id)
		if err != nil {
			return fmt.Errorf("find installation: %w", err)
		}
		if s.Void != "" {
			return invalid("reason", "the entry was struck already: %s", s.Void)
		}
		if s.Open() {
			if err := at("reason", notInJob(ctx, t, s.Engine, s.Position)); err != nil {
				return err
			}
		}
		if _, err := t.ExecContext(ctx, "UPDATE stay SET void = ? WHERE id = ?", why, id); err != nil {
			return fmt.Errorf("strike installation: %w", err)
		}
		if err := forgetModel(ctx, t, s); err != nil {
			return err
		}
		if s.Open() {
			if _, err := t.ExecContext(ctx, "UPDATE part SET status = 'on shelf' WHERE id = ?", s.Part); err != nil {
				return fmt.Errorf("strike installation: %w", err)
			}
		}
		t.move(s.Engine)
		t.touch(s.Part)
		return touchMates(ctx, t, s.Engine, s.Position, s.From, s.To)
	})
}

// forgetModel takes an engine's model off a part that has it from being
// installed, once the last such installation was struck. The audit tells
// whether it came so or was typed: an installation names the model in the
// moment it is saved.
func forgetModel(ctx context.Context, t *tx, s Stay) error {
	_, err := t.ExecContext(ctx, `UPDATE part SET model_id = NULL WHERE id = ?1 AND model_id = (SELECT model_id FROM engine WHERE id = ?2)
		AND NOT EXISTS (SELECT 1 FROM stay o JOIN engine e ON e.id = o.engine_id WHERE o.part_id = ?1 AND o.void = '' AND e.model_id = part.model_id)
		AND coalesce((SELECT at FROM audit WHERE record = 'part' AND did = 'changed' AND first = ?1 AND json_type(after, '$.model_id') IS NOT NULL ORDER BY seq DESC LIMIT 1), saved_at)
			IN (SELECT saved_at FROM stay WHERE part_id = ?1)`, s.Part, s.Engine)
	if err != nil {
		return fmt.Errorf("take off model: %w", err)
	}
	return nil
}

// Stay finds an installation by its id.
func (b *Book) Stay(ctx context.Context, id int64) (Stay, error) {
	s, err := one(ctx, b.read, scanStay, stayQuery+" WHERE s.id = ?", id)
	if err != nil {
		return s, fmt.Errorf("find installation: %w", err)
	}
	return s, nil
}
