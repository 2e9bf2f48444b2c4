package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"barrelbook/wear"
)

// BenchReadings lists, by part, the readings that stand for how the parts are
// in a job: taken since it was opened, not corrected, and not overtaken by
// work done on the part since. Newest sheet first.
func (b *Book) BenchReadings(ctx context.Context, j Job, parts []int64) (map[int64][]Reading, error) {
	until := wear.Day("9999-12-31")
	if !j.Open() {
		until = j.EndDay
	}
	rs, err := findReadings(ctx, b.read, `r.part_id IN (SELECT value FROM json_each(?)) AND r.value IS NOT NULL AND (s.day > ? OR s.day = ? AND s.saved_at >= ?) AND s.day <= ?
		ORDER BY s.day DESC, s.id DESC, r.feature_id, r.groove, r.root, r.id`, jsonList(parts), j.Day, j.Day, j.SavedAt, until)
	if err != nil {
		return nil, err
	}
	work, err := findWorkDone(ctx, b.read, parts, j.Day)
	if err != nil {
		return nil, err
	}
	x, err := findFeatureIndex(ctx, b.read)
	if err != nil {
		return nil, err
	}
	stand := map[int64][]Reading{}
	for _, r := range rs {
		overtaken := slices.ContainsFunc(work[r.Part], func(m markDone) bool { return m.overtakes(r, x.byID[r.Feature]) })
		if !r.Struck && !overtaken {
			stand[r.Part] = append(stand[r.Part], r)
		}
	}
	return stand, nil
}

// markDone is a wear event with the moment it was entered.
type markDone struct {
	wear.Mark
	part    int64
	savedAt string
}

// overtakes reports whether the work changed what a reading had measured. On
// one day what was entered first came first, where it is not known otherwise.
func (m markDone) overtakes(r Reading, f *wear.Feature) bool {
	if f == nil || !m.Event.Resets(*f, r.Groove, m.Groove) {
		return false
	}
	if m.Day != r.Sheet.Day {
		return m.Day > r.Sheet.Day
	}
	if m.After == 0 {
		return m.savedAt > r.Sheet.SavedAt
	}
	return r.Sheet.ID <= m.After
}

func findWorkDone(ctx context.Context, q querier, parts []int64, since wear.Day) (map[int64][]markDone, error) {
	ms, err := list(ctx, q, func(r scanner, m *markDone) error {
		return r.Scan(&m.part, &m.Event, &m.Day, &m.Groove, &m.After, &m.savedAt)
	}, "SELECT part_id, event, day, groove, after_sheet, saved_at FROM mark WHERE void = '' AND part_id IN (SELECT value FROM json_each(?)) AND day >= ? ORDER BY id", jsonList(parts), since)
	if err != nil {
		return nil, fmt.Errorf("list work done: %w", err)
	}
	byPart := map[int64][]markDone{}
	for _, m := range ms {
		byPart[m.part] = append(byPart[m.part], m)
	}
	return byPart, nil
}

// BenchParts lists what sat at the positions of a job when it was opened, by
// position in the order of the stack: what its bench is about, also when the
// job has ended since.
func (b *Book) BenchParts(ctx context.Context, j Job) ([]Slot, error) {
	positions, err := b.JobPositions(ctx, j.ID)
	if err != nil {
		return nil, err
	}
	stays, err := findStays(ctx, b.read, "s.engine_id = ? AND s.void = '' AND s.from_day <= ? AND (s.to_day IS NULL OR s.to_day >= ?)", j.Engine, j.Day, j.Day)
	if err != nil {
		return nil, err
	}
	var held []Slot
	for _, s := range stays { // of two in one place the first is what came off
		taken := func(o Slot) bool {
			return o.Position == s.Position && o.Kind == s.Kind && o.AtGroove == s.Groove
		}
		before := s.To == j.Day && j.EndDay != j.Day // it came off on that day, but not at the end of this job
		if !before && slices.Contains(positions, s.Position) && !slices.ContainsFunc(held, taken) {
			held = append(held, Slot{Part: Part{ID: s.Part, Kind: s.Kind}, Position: s.Position, AtGroove: s.Groove, From: s.From, SinceHours: j.Hours - s.FromHours})
		}
	}
	slices.SortStableFunc(held, func(a, b Slot) int {
		return cmp.Or(a.Position-b.Position, slices.Index(wear.Kinds, a.Kind)-slices.Index(wear.Kinds, b.Kind), a.AtGroove-b.AtGroove)
	})
	return held, b.readParts(ctx, held)
}

// readParts fills in the parts that slots name by their ids.
func (b *Book) readParts(ctx context.Context, slots []Slot) error {
	var ids []int64
	for _, s := range slots {
		ids = append(ids, s.ID)
	}
	parts, err := list(ctx, b.read, scanPart, "SELECT "+partColumns+" FROM part p WHERE p.id IN (SELECT value FROM json_each(?))", jsonList(ids))
	if err != nil {
		return fmt.Errorf("find parts: %w", err)
	}
	for i := range slots {
		at := slices.IndexFunc(parts, func(p Part) bool { return p.ID == slots[i].ID })
		slots[i].Part = parts[at]
	}
	return nil
}
