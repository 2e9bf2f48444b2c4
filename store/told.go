package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"barrelbook/wear"
)

// toldHours are a part's hours where no engine tells them; both nil where one
// does.
type toldHours struct {
	since *wear.Hours // since its installation, as an import told them
	own   *wear.Hours // the part's own, as older versions kept them
}

// point is what a reading or work tells of a part's hours on a day.
type point struct {
	day wear.Day
	toldHours
}

// stint is a part's time from one installation to the next: on an engine of
// the book, or on one that nobody named, where only points tell how far it ran.
type stint struct {
	day    wear.Day // empty for what came before the first installation
	mark   int64    // the entered installation that it began with, where no engine is known
	base   wear.Hours
	given  *wear.Hours // the part's own hours at its start, as older versions kept them
	stay   *Stay       // nil where no engine is known
	points []point
}

// dayOfRunning is how many hours fit into a day: on the day of an installation
// more than that were run since the one before.
const dayOfRunning wear.Hours = 2400

// wind counts the part's stints and makes its clock of them. What ran on an
// engine that nobody named goes onto the clock as stays of no engine, each at
// the day of a point and as long as that is ahead of the clock.
func (h *history) wind(told []point, marks []entered) {
	h.stints = []stint{{base: h.part.HoursBefore}}
	for _, m := range marks {
		switch {
		case m.beginsStint():
			h.stints = append(h.stints, stint{day: m.Day, mark: m.id, given: m.own})
		case m.since != nil:
			told = append(told, point{m.Day, m.toldHours})
		}
	}
	for i := range h.stays {
		h.stints = append(h.stints, stint{day: h.stays[i].From, stay: &h.stays[i]})
	}
	slices.SortStableFunc(h.stints, func(a, b stint) int { return cmp.Compare(a.day, b.day) })
	for _, p := range told {
		s := h.stintOf(p)
		s.points = append(s.points, p)
	}
	h.clock = wear.Clock{Before: h.part.HoursBefore}
	now := h.clock.Before
	for i := range h.stints {
		now = h.stints[i].wind(&h.clock, now)
	}
}

// wind puts the stint onto the clock, which stands at now, and returns where
// the clock stands after it.
func (s *stint) wind(c *wear.Clock, now wear.Hours) wear.Hours {
	s.base = now
	if s.given != nil {
		s.base = *s.given
	}
	if s.stay != nil {
		c.Stays = append(c.Stays, s.stay.Stay)
		if !s.stay.Open() {
			now += s.stay.ToHours - s.stay.FromHours
		}
	}
	slices.SortStableFunc(s.points, func(a, b point) int { return cmp.Compare(a.day, b.day) })
	for _, p := range s.points {
		if s.stay != nil && p.day >= s.day && (s.stay.Open() || p.day <= s.stay.To) {
			continue // the engine tells how far it ran
		}
		if at := s.own(p.toldHours); at > now {
			c.Stays = append(c.Stays, wear.Stay{From: p.day, To: p.day, FromHours: now, ToHours: at})
			now = at
		}
	}
	return now
}

// own are the part's own hours at a point of the stint.
func (s *stint) own(t toldHours) wear.Hours {
	if t.since == nil {
		return *t.own
	}
	return s.base + *t.since
}

// stintOf finds the stint that a point belongs to.
func (h *history) stintOf(p point) *stint {
	i := len(h.stints) - 1
	for i > 0 && (h.stints[i].day > p.day || h.stints[i].day == p.day && (p.since == nil || *p.since > dayOfRunning)) {
		i--
	}
	return &h.stints[i]
}

// stintOn is the stint that an entered installation began.
func (h *history) stintOn(mark int64) *stint {
	return &h.stints[slices.IndexFunc(h.stints, func(s stint) bool { return s.mark == mark })]
}

// inForce is the condition that a reading r was not corrected.
const inForce = "NOT EXISTS (SELECT 1 FROM reading n WHERE n.part_id = r.part_id AND n.feature_id = r.feature_id AND n.root = r.root AND n.id > r.id)"

// findTold reads what the readings in force tell of the hours of parts.
func findTold(ctx context.Context, q querier, parts []int64) (map[int64][]point, error) {
	byPart := map[int64][]point{}
	_, err := list(ctx, q, func(r scanner, _ *struct{}) error {
		var part int64
		var p point
		if err := r.Scan(&part, &p.day, &p.since, &p.own); err != nil {
			return err
		}
		byPart[part] = append(byPart[part], p)
		return nil
	}, `SELECT r.part_id, s.day, r.since_install, r.part_hours FROM reading r INDEXED BY reading_told JOIN sheet s ON s.id = r.sheet_id
		WHERE r.part_id IN (SELECT value FROM json_each(?)) AND (r.since_install IS NOT NULL OR r.part_hours IS NOT NULL) AND r.value IS NOT NULL AND `+inForce, jsonList(parts))
	if err != nil {
		return nil, fmt.Errorf("read hours of parts: %w", err)
	}
	return byPart, nil
}

// partHours are the part's own hours when a sheet was measured.
func (h *history) partHours(s sheetAt, told toldHours) (wear.Hours, error) {
	if told != (toldHours{}) {
		p := point{s.day, told}
		return h.stintOf(p).own(told), nil
	}
	var at *wear.EngineHours
	if s.engine != 0 {
		at = &wear.EngineHours{Engine: s.engine, Hours: s.hours}
	}
	return h.clock.At(s.day, at)
}

// PartClock tells a part's own hours.
type PartClock struct{ h *history }

// PartClock reads what a part's own hours follow from.
func (b *Book) PartClock(ctx context.Context, part int64) (PartClock, error) {
	h, err := findHistory(ctx, b.read, part)
	return PartClock{h}, err
}

// At are the part's own hours when a reading was taken. Errors as
// wear.Clock.At.
func (c PartClock) At(r Reading) (wear.Hours, error) {
	return c.h.partHours(sheetAt{day: r.Sheet.Day, engine: r.Sheet.Engine, hours: r.Sheet.Hours}, toldHours{r.Since, r.PartHours})
}
