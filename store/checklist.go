package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Checklist is a version of a model's list of steps. The program's own has
// the ID 0.
type Checklist struct {
	ID, Model    int64
	Who, SavedAt string
	Lines        []JobStep
}

// ErrListMoved says that somebody else saved another version of a checklist
// after the form was drawn. Nothing was saved.
var ErrListMoved = errors.New("somebody else saved another version of this checklist in the meantime")

// Bounds of a checklist.
const (
	mostLines   = 200
	longestLine = 1000
)

// Checklist is the list in force for a model: the newest that the shop saved,
// else the program's.
func (b *Book) Checklist(ctx context.Context, model int64) (Checklist, error) {
	return findChecklist(ctx, b.read, model)
}

func findChecklist(ctx context.Context, q querier, model int64) (Checklist, error) {
	cs, err := findChecklists(ctx, q, model)
	if err != nil || len(cs) == 0 {
		return Checklist{Model: model, Lines: DefaultSteps}, err
	}
	return cs[0], nil
}

// Checklists lists every version that the shop saved of a model's list, the
// newest first.
func (b *Book) Checklists(ctx context.Context, model int64) ([]Checklist, error) {
	return findChecklists(ctx, b.read, model)
}

func findChecklists(ctx context.Context, q querier, model int64) ([]Checklist, error) {
	cs, err := list(ctx, q, func(r scanner, c *Checklist) error { return r.Scan(&c.ID, &c.Model, &c.Who, &c.SavedAt) },
		"SELECT id, model_id, who, saved_at FROM checklist WHERE model_id = ? ORDER BY id DESC", model)
	if err != nil {
		return nil, fmt.Errorf("list checklists: %w", err)
	}
	for i := range cs {
		cs[i].Lines, err = list(ctx, q, func(r scanner, s *JobStep) error {
			return r.Scan(&s.Phase, &s.Text, &s.Caution, &s.Torque, &s.Wrench, &s.Each)
		}, "SELECT phase, text, caution, torque, wrench, each FROM checklist_line WHERE checklist_id = ? ORDER BY ord", cs[i].ID)
		if err != nil {
			return nil, fmt.Errorf("list lines of checklist: %w", err)
		}
	}
	return cs, nil
}

// SaveChecklist keeps a new version of a model's list; after is the version
// that it was made from. One that says what the list in force says is not
// saved again. Errors: ErrListMoved; Invalid at "lines", or at a field and the
// line's number from 0, as in "text-3".
func (b *Book) SaveChecklist(ctx context.Context, c Checklist, after int64) error {
	c.Lines = InPhases(c.Lines)
	if err := c.check(); err != nil {
		return err
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if _, err := findModel(ctx, t, c.Model); err != nil {
			return err
		}
		now, err := findChecklist(ctx, t, c.Model)
		if err != nil {
			return err
		}
		if slices.Equal(now.Lines, c.Lines) {
			return nil
		}
		if now.ID != after {
			return ErrListMoved
		}
		return addChecklist(ctx, t, c)
	})
}

func addChecklist(ctx context.Context, t *tx, c Checklist) error {
	id, err := t.insert(ctx, "INSERT INTO checklist (model_id, who, saved_at) VALUES (?, ?, ?)", c.Model, nameOf(ctx, c.Who), t.at)
	if err != nil {
		return fmt.Errorf("save checklist: %w", err)
	}
	for i, s := range c.Lines {
		if _, err := t.insert(ctx, "INSERT INTO checklist_line (checklist_id, ord, phase, text, caution, torque, wrench, each) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
			id, i+1, s.Phase, s.Text, s.Caution, s.Torque, s.Wrench, s.Each); err != nil {
			return fmt.Errorf("save line of checklist: %w", err)
		}
	}
	return nil
}

// InPhases trims lines and brings them into the order of the phases; within
// one they stay as they are.
func InPhases(lines []JobStep) []JobStep {
	out := slices.Clone(lines)
	for i := range out {
		s := &out[i]
		s.ID = 0
		for _, text := range []*string{&s.Text, &s.Caution, &s.Torque, &s.Wrench} {
			*text = strings.TrimSpace(*text)
		}
	}
	slices.SortStableFunc(out, func(a, b JobStep) int {
		return slices.Index(JobPhases, a.Phase) - slices.Index(JobPhases, b.Phase)
	})
	return out
}

func (c Checklist) check() error {
	var bad Invalid
	if len(c.Lines) == 0 {
		bad = append(bad, invalid("lines", "the list has no line left: add one")...)
	}
	if len(c.Lines) > mostLines {
		bad = append(bad, invalid("lines", "at most %d lines", mostLines)...)
	}
	for i, s := range c.Lines {
		if !slices.Contains(JobPhases, s.Phase) {
			bad = append(bad, invalid(fmt.Sprintf("phase-%d", i), "choose the phase")...)
		}
		if s.Text == "" {
			bad = append(bad, invalid(fmt.Sprintf("text-%d", i), "say what is to be done, or remove the line")...)
		}
		for _, x := range []struct{ field, text string }{{"text", s.Text}, {"caution", s.Caution}, {"torque", s.Torque}, {"wrench", s.Wrench}} {
			if len(x.text) > longestLine {
				bad = append(bad, invalid(fmt.Sprintf("%s-%d", x.field, i), "at most %d letters", longestLine)...)
			}
		}
	}
	return bad.orNil()
}
