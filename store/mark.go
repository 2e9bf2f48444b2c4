package store

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/wear"
)

// AddMark records a wear event on a part. Where m.After is 0, all sheets of its
// day that are in the book were measured before it; below 0, none was.
func (b *Book) AddMark(ctx context.Context, part int64, m wear.Mark, note string) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		h, err := findHistory(ctx, t, part)
		if err != nil {
			return err
		}
		if err := checkWork(h.part.Kind, m); err != nil {
			return err
		}
		var at markHours
		if _, err := h.clock.At(m.Day, nil); isHoursNeeded(err) {
			if at.meter, err = h.meterOnBench(ctx, t, m.Day); err != nil {
				return err
			}
		} else if err != nil {
			return err
		}
		if m.After == 0 {
			m.After, err = one(ctx, t, func(r scanner, n *int64) error { return r.Scan(n) },
				"SELECT coalesce(max(s.id), -1) FROM sheet s WHERE s.day = ? AND EXISTS (SELECT 1 FROM reading r WHERE r.sheet_id = s.id AND r.part_id = ?)", m.Day, part)
			if err != nil {
				return fmt.Errorf("find sheets of the day: %w", err)
			}
		}
		return addMark(ctx, t, part, m, at, note)
	})
}

// markHours is what tells the part's hours at an event, where its stays alone do
// not.
type markHours struct {
	since *wear.Hours // hours since installation, where no engine is known
	meter int64       // root of the meter entry of a job; 0 for none
}

func addMark(ctx context.Context, t *tx, part int64, m wear.Mark, at markHours, note string) error {
	_, err := t.insert(ctx, "INSERT INTO mark (part_id, event, day, since_install, meter_root, groove, oversize, after_sheet, note, saved_at) VALUES (?, ?, ?, ?, nullif(?, 0), ?, ?, ?, ?, ?)",
		part, m.Event, m.Day, at.since, at.meter, m.Groove, m.Oversize, m.After, note, t.at)
	if err != nil {
		return fmt.Errorf("add wear event: %w", err)
	}
	t.touch(part)
	return nil
}

// MarkRow is a wear event with the note made on it. ID is 0 for one that
// nobody entered: it follows from what is known otherwise.
type MarkRow struct {
	wear.Mark
	ID      int64
	Part    int64
	Note    string
	SavedAt string
	Void    string // why the entry was a mistake; empty for a good one
}

// Marks lists the events of a part that started runs, oldest first: those a
// person entered and those that follow from its installations.
func (b *Book) Marks(ctx context.Context, part int64) ([]MarkRow, error) {
	h, err := findHistory(ctx, b.read, part)
	if err != nil {
		return nil, err
	}
	return h.rows(), nil
}

func (h *history) rows() []MarkRow {
	rows := make([]MarkRow, len(h.marks))
	for i, m := range h.marks {
		rows[i] = MarkRow{Mark: m, ID: h.about[i].id, Part: h.part.ID, Note: h.about[i].note, SavedAt: h.about[i].saved}
	}
	return rows
}

// MarksOf is Marks for several parts, by part.
func (b *Book) MarksOf(ctx context.Context, parts []int64) (map[int64][]MarkRow, error) {
	hs, err := findHistories(ctx, b.read, parts)
	of := make(map[int64][]MarkRow, len(hs))
	for _, h := range hs {
		of[h.part.ID] = h.rows()
	}
	return of, err
}

// StruckMarks lists the events of a part that were entered by mistake.
func (b *Book) StruckMarks(ctx context.Context, part int64) ([]MarkRow, error) {
	return findMarkRows(ctx, b.read, "part_id = ? AND void <> ''", part)
}

// Mark finds an entered event by its id; its hours are not told.
func (b *Book) Mark(ctx context.Context, id int64) (MarkRow, error) {
	rows, err := findMarkRows(ctx, b.read, "id = ?", id)
	if err == nil && len(rows) == 0 {
		err = fmt.Errorf("find wear event: %w", ErrNotFound)
	}
	if err != nil {
		return MarkRow{}, err
	}
	return rows[0], nil
}

func findMarkRows(ctx context.Context, q querier, where string, args ...any) ([]MarkRow, error) {
	rows, err := list(ctx, q, func(r scanner, m *MarkRow) error {
		return r.Scan(&m.ID, &m.Part, &m.Event, &m.Day, &m.Groove, &m.Oversize, &m.After, &m.Note, &m.Void, &m.SavedAt)
	}, "SELECT id, part_id, event, day, groove, oversize, after_sheet, note, void, saved_at FROM mark WHERE "+where+" ORDER BY day, id", args...)
	if err != nil {
		return nil, fmt.Errorf("list wear events: %w", err)
	}
	return rows, nil
}

// VoidMark strikes an event that was entered by mistake, with a reason; it
// stays visible and starts no run.
func (b *Book) VoidMark(ctx context.Context, id int64, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say what was wrong with the entry")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		rows, err := findMarkRows(ctx, t, "id = ? AND void = ''", id)
		if err != nil {
			return err
		}
		if len(rows) == 0 {
			return invalid("reason", "the entry was struck already")
		}
		if _, err := t.ExecContext(ctx, "UPDATE mark SET void = ? WHERE id = ?", why, id); err != nil {
			return fmt.Errorf("strike wear event: %w", err)
		}
		t.touch(rows[0].Part)
		return nil
	})
}
