package store

import (
	"context"
	"fmt"

	"barrelbook/wear"
)

// history is all that a part's clock and runs follow from.
type history struct {
	part  Part
	stays []Stay // good ones, oldest first
	marks []wear.Mark
	clock wear.Clock
	notes []string // of the marks a person entered, in the order of marks
}

func findHistory(ctx context.Context, q querier, id int64) (*history, error) {
	part, err := findPart(ctx, q, id)
	if err != nil {
		return nil, err
	}
	h := &history{part: part}
	if h.stays, err = findStays(ctx, q, "s.part_id = ? AND s.void = ''", id); err != nil {
		return nil, err
	}
	h.clock = wear.Clock{Before: part.HoursBefore}
	for _, s := range h.stays {
		h.clock.Stays = append(h.clock.Stays, s.Stay)
	}
	if err := h.findMarks(ctx, q); err != nil {
		return nil, err
	}
	return h, nil
}

// findMarks reads the entered wear events and adds those that follow from
// what is known otherwise: a new part's beginning, and changed mates.
func (h *history) findMarks(ctx context.Context, q querier) error {
	type entered struct {
		wear.Mark
		at   *wear.Hours
		note string
	}
	found, err := list(ctx, q, func(r scanner, m *entered) error {
		return r.Scan(&m.Event, &m.Day, &m.at, &m.Groove, &m.Oversize, &m.note)
	}, "SELECT event, day, at_hours, groove, oversize, note FROM mark WHERE part_id = ? ORDER BY day, id", h.part.ID)
	if err != nil {
		return fmt.Errorf("list wear events: %w", err)
	}
	if h.part.Source == "new" {
		first := wear.Mark{Event: wear.InstalledNew, At: h.part.HoursBefore}
		if len(h.stays) > 0 {
			first.Day = h.stays[0].From
		}
		h.marks, h.notes = append(h.marks, first), append(h.notes, "")
	}
	for _, m := range found {
		if m.at != nil {
			m.Mark.At = *m.at
		} else if m.Mark.At, err = h.clock.At(m.Day, nil); err != nil {
			return fmt.Errorf("place wear event of %s: %w", m.Day, err)
		}
		h.marks, h.notes = append(h.marks, m.Mark), append(h.notes, m.note)
	}
	return h.findMates(ctx, q)
}

// findMates marks where a piston got another ring in a groove, or a ring
// another barrel: what they measure together starts anew.
func (h *history) findMates(ctx context.Context, q querier) error {
	var mate wear.Kind
	switch h.part.Kind {
	case wear.Piston:
		mate = wear.Ring
	case wear.Ring:
		mate = wear.Cylinder
	default:
		return nil
	}
	last := map[int]int64{} // groove to mate
	for _, s := range h.stays {
		mates, err := findStays(ctx, q, "s.engine_id = ?1 AND s.position = ?2 AND s.kind = ?3 AND s.void = '' AND (s.to_day IS NULL OR s.to_day >= ?4) AND (?5 = '' OR s.from_day <= ?5)",
			s.Engine, s.Position, mate, s.From, s.To)
		if err != nil {
			return err
		}
		for _, m := range mates {
			day, hours := max(s.From, m.From), max(s.FromHours, m.FromHours)
			if !s.Open() && hours > s.ToHours || !m.Open() && (m.ToHours < s.FromHours || m.ToHours == m.FromHours) {
				continue
			}
			known, seen := last[m.Groove]
			last[m.Groove] = m.Part
			if !seen || known == m.Part {
				continue
			}
			at, err := h.clock.At(day, &wear.EngineHours{Engine: s.Engine, Hours: hours})
			if err != nil {
				return fmt.Errorf("place change of mate: %w", err)
			}
			h.marks = append(h.marks, wear.Mark{Event: wear.MateReplaced, Day: day, At: at, Groove: m.Groove})
			h.notes = append(h.notes, fmt.Sprintf("%s %s", m.Kind, m.Serial))
		}
	}
	return nil
}

// oversizeNow is the part's size over standard after all its wear events.
func (h *history) oversizeNow() wear.Value {
	size := h.part.Oversize
	for _, m := range h.marks {
		if m.Oversize != nil {
			size = *m.Oversize
		}
	}
	return size
}

// modelID is the engine model whose limits the part is held against: its own,
// else that of the engine it last sat on.
func (h *history) modelID(ctx context.Context, q querier) (int64, error) {
	if h.part.ModelID != 0 || len(h.stays) == 0 {
		return h.part.ModelID, nil
	}
	e, err := findEngine(ctx, q, h.stays[len(h.stays)-1].Engine)
	return e.Model.ID, err
}

// OversizeOf is a part's size over standard after all that was done to it.
func (b *Book) OversizeOf(ctx context.Context, part int64) (wear.Value, error) {
	h, err := findHistory(ctx, b.read, part)
	if err != nil {
		return 0, err
	}
	return h.oversizeNow(), nil
}
