package store

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"barrelbook/wear"
)

// history is all that a part's clock and runs follow from.
type history struct {
	part  Part
	stays []Stay // good ones, oldest first
	marks []wear.Mark
	clock wear.Clock
	about []entry // of the marks, in their order

	stints []stint // oldest first
}

func findHistory(ctx context.Context, q querier, id int64) (*history, error) {
	hs, err := findHistories(ctx, q, []int64{id})
	if err != nil {
		return nil, err
	}
	if len(hs) == 0 {
		return nil, fmt.Errorf("find part: %w", ErrNotFound)
	}
	return hs[0], nil
}

// findHistories reads the histories of several parts at once, ordered by id;
// ids that are no part's are left out.
func findHistories(ctx context.Context, q querier, ids []int64) ([]*history, error) {
	parts, err := list(ctx, q, scanPart, "SELECT "+partColumns+" FROM part p WHERE p.id IN (SELECT value FROM json_each(?)) ORDER BY p.id", jsonList(ids))
	if err != nil {
		return nil, fmt.Errorf("find parts: %w", err)
	}
	stays, err := findStays(ctx, q, "s.part_id IN (SELECT value FROM json_each(?)) AND s.void = ''", jsonList(ids))
	if err != nil {
		return nil, err
	}
	marks, err := findEntered(ctx, q, ids)
	if err != nil {
		return nil, err
	}
	told, err := findTold(ctx, q, ids)
	if err != nil {
		return nil, err
	}
	mates, err := findMates(ctx, q, stays)
	if err != nil {
		return nil, err
	}
	byPart := map[int64][]Stay{}
	for _, s := range stays {
		byPart[s.Part] = append(byPart[s.Part], s)
	}
	all := make([]*history, len(parts))
	for i, part := range parts {
		h := &history{part: part, stays: byPart[part.ID]}
		h.wind(told[part.ID], marks[part.ID])
		if err := h.addMarks(marks[part.ID]); err != nil {
			return nil, err
		}
		if err := h.addMates(mates); err != nil {
			return nil, err
		}
		all[i] = h
	}
	return all, nil
}

// entry is where a mark comes from: the id of what a person entered, 0 for one
// that follows from what is known otherwise.
type entry struct {
	id    int64
	note  string
	saved string
}

// entered is a wear event as a person entered it.
type entered struct {
	wear.Mark
	entry
	toldHours
	part  int64
	meter *wear.EngineHours // what tells the hours of work in a job; nil for other work
}

// beginsStint reports whether it is an installation on an engine that nobody
// named.
func (m *entered) beginsStint() bool {
	return m.Event == wear.Event(EventInstalled) || m.Event == wear.InstalledNew && m.toldHours != (toldHours{})
}

func findEntered(ctx context.Context, q querier, parts []int64) (map[int64][]entered, error) {
	found, err := list(ctx, q, func(r scanner, m *entered) error {
		var engine, hours *int64
		if err := r.Scan(&m.id, &m.part, &m.Event, &m.Day, &m.since, &m.own, &engine, &hours, &m.Groove, &m.Oversize, &m.After, &m.Measured, &m.note, &m.saved); err != nil || engine == nil {
			return err
		}
		m.meter = &wear.EngineHours{Engine: *engine, Hours: wear.Hours(*hours)}
		return nil
	}, `SELECT k.id, k.part_id, k.event, k.day, k.since_install, k.at_hours, m.engine_id, m.hours, k.groove, k.oversize, k.after_sheet,
			EXISTS (SELECT 1 FROM reading r JOIN sheet s ON s.id = r.sheet_id WHERE r.part_id = k.part_id AND s.day < k.day AND r.value IS NOT NULL AND `+inForce+`), k.note, k.saved_at
		FROM mark k LEFT JOIN meter_now m ON m.root = k.meter_root WHERE k.void = '' AND k.part_id IN (SELECT value FROM json_each(?)) ORDER BY k.day, k.id`, jsonList(parts))
	if err != nil {
		return nil, fmt.Errorf("list wear events: %w", err)
	}
	byPart := map[int64][]entered{}
	for _, m := range found {
		byPart[m.part] = append(byPart[m.part], m)
	}
	return byPart, nil
}

// addMarks adds the entered wear events, and a new part's beginning.
func (h *history) addMarks(found []entered) (err error) {
	if h.part.Source == "new" && !h.toldNew(found) {
		first := wear.Mark{Event: wear.InstalledNew, At: h.part.HoursBefore}
		if len(h.stays) > 0 {
			first.Day = h.stays[0].From
		}
		h.marks, h.about = append(h.marks, first), append(h.about, entry{})
	}
	for _, m := range found {
		if m.Mark.At, err = h.hoursAt(m); err != nil {
			return err
		}
		h.marks, h.about = append(h.marks, m.Mark), append(h.about, m.entry)
	}
	return nil
}

// toldNew reports whether an entered event tells when the part was new: it was
// installed on an engine that nobody named before it ran at all.
func (h *history) toldNew(found []entered) bool {
	return slices.ContainsFunc(found, func(m entered) bool {
		return m.Event == wear.InstalledNew && m.since != nil && h.stintOn(m.id).base == h.part.HoursBefore && (len(h.stays) == 0 || m.Day <= h.stays[0].From)
	})
}

// hoursAt are the part's own hours at an event that a person entered.
func (h *history) hoursAt(m entered) (wear.Hours, error) {
	switch {
	case m.own != nil:
		return *m.own, nil
	case m.beginsStint():
		return h.stintOn(m.id).base, nil
	case m.since != nil:
		return h.stintOf(point{m.Day, m.toldHours}).own(m.toldHours), nil
	}
	at, err := h.clock.At(m.Day, m.meter)
	switch {
	case isHoursNeeded(err):
		err = invalid("day", "%s %s was off the engine on %s, when it was %s: it cannot have been on one that day", h.part.Kind, h.part.Serial, m.Day, m.Event)
	case errors.Is(err, wear.ErrHoursOrder):
		err = Invalid{{Field: "hours", Href: fmt.Sprintf("/work/%d/strike", m.id),
			Message: fmt.Sprintf("%s %s was %s on %s at %s engine hours, which would not fit where it sat then: strike that work first if it is wrong", h.part.Kind, h.part.Serial, m.Event, m.Day, m.meter.Hours)}}
	case err != nil:
		err = fmt.Errorf("place wear event of %s: %w", m.Day, err)
	}
	return at, err
}

// mateOf is the kind of part that a kind measures itself together with: rings
// in a piston's grooves, the barrel a ring runs in.
var mateOf = map[wear.Kind]wear.Kind{wear.Piston: wear.Ring, wear.Ring: wear.Cylinder}

// bench is where stays of a kind meet: a position of an engine.
type bench struct {
	engine   int64
	position int
	kind     wear.Kind
}

// findMates reads all that could be mates of what has these stays, oldest
// first.
func findMates(ctx context.Context, q querier, stays []Stay) (map[bench][]Stay, error) {
	wanted := map[bench]bool{}
	var engines []int64
	for _, s := range stays {
		mate, ok := mateOf[s.Kind]
		if !ok {
			continue
		}
		wanted[bench{s.Engine, s.Position, mate}] = true
		if !slices.Contains(engines, s.Engine) {
			engines = append(engines, s.Engine)
		}
	}
	if len(engines) == 0 {
		return nil, nil
	}
	found, err := findStays(ctx, q, "s.engine_id IN (SELECT value FROM json_each(?)) AND s.kind IN ('ring', 'cylinder') AND s.void = ''", jsonList(engines))
	if err != nil {
		return nil, err
	}
	mates := map[bench][]Stay{}
	for _, m := range found {
		if at := (bench{m.Engine, m.Position, m.Kind}); wanted[at] {
			mates[at] = append(mates[at], m)
		}
	}
	return mates, nil
}

// addMates marks where a piston got another ring in a groove, or a ring
// another barrel: what they measure together starts anew.
func (h *history) addMates(mates map[bench][]Stay) error {
	last := map[int]int64{} // groove to mate
	for _, s := range h.stays {
		for _, m := range mates[bench{s.Engine, s.Position, mateOf[s.Kind]}] {
			if !m.Open() && m.To < s.From || !s.Open() && m.From > s.To {
				continue
			}
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
			h.about = append(h.about, entry{note: fmt.Sprintf("%s %s", m.Kind, m.Serial)})
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

// stranded says which sheet of the part would no longer fit its time on
// engines, and leads there.
func (h *history) stranded(sheet int64, at sheetAt, why error) error {
	if !errors.Is(why, wear.ErrHoursNeeded) && !errors.Is(why, wear.ErrHoursOrder) {
		return why
	}
	return Invalid{{Field: "day", Href: fmt.Sprintf("/sheets/%d", sheet),
		Message: fmt.Sprintf("%s %s was measured on %s at %s engine hours, which would not fit where it sat then: withdraw those readings first if they are wrong", h.part.Kind, h.part.Serial, at.day, at.hours)}}
}
