package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"barrelbook/wear"
)

// NewLeakReading is what one cylinder held, to be saved. Part is needed only
// where more than one cylinder sat there that day. Field and PartField name
// the form fields.
type NewLeakReading struct {
	Position         int
	Part             int64
	Reading          wear.PSI
	Recheck          *wear.PSI
	Heard            []wear.AirHeard
	Field, PartField string
}

// NewLeakTest is a test to save. Shows is what the engine's meter shows.
type NewLeakTest struct {
	LeakTest
	Shows    *wear.Hours
	Readings []NewLeakReading
}

// SaveLeakTest keeps a test in one transaction. One whose UID is already in
// the book is not saved again; its root comes back. Everything wrong is
// reported at once, each at its field.
func (b *Book) SaveLeakTest(ctx context.Context, n NewLeakTest) (root int64, err error) {
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		root, err = saveLeakTest(ctx, t, n)
		t.answer = fmt.Sprintf("/leaktests/%d", root)
		return err
	})
	return root, err
}

func saveLeakTest(ctx context.Context, t *tx, n NewLeakTest) (int64, error) {
	if n.UID == "" {
		n.UID = newUID()
	}
	known, err := list(ctx, t, func(r scanner, id *int64) error { return r.Scan(id) }, "SELECT root FROM leak_test WHERE uid = ?", n.UID)
	if err != nil {
		return 0, fmt.Errorf("find leak test: %w", err)
	}
	if len(known) > 0 {
		return known[0], nil
	}
	e, err := findEngine(ctx, t, n.Engine)
	if err != nil {
		return 0, err
	}
	n.Root = 0
	bad, err := n.checkAll(ctx, t, e)
	if err != nil {
		return 0, err
	}
	if n.Shows == nil {
		bad = append(bad, FieldError{Field: "hours", Message: "give the hours that the engine's meter shows"})
		return 0, bad
	}
	n.MeterRoot, err = addMeter(ctx, t, n.Engine, n.Day, *n.Shows)
	var wrong Invalid
	if errors.As(err, &wrong) {
		return 0, append(bad, wrong...)
	}
	if err != nil {
		return 0, err
	}
	m, err := findMeter(ctx, t, n.MeterRoot)
	if err != nil {
		return 0, err
	}
	for i := range n.Readings {
		r := &n.Readings[i]
		if r.Position < 1 || r.Position > e.Cylinders {
			continue
		}
		wrong, err := r.findCylinder(ctx, t, e, n.Day, m.Hours)
		if err != nil {
			return 0, err
		}
		bad = append(bad, wrong...)
	}
	if len(bad) > 0 {
		return 0, bad
	}
	root, err := insertLeakTest(ctx, t, n.LeakTest)
	if err != nil {
		return 0, err
	}
	for _, r := range n.Readings {
		if err := insertLeakReading(ctx, t, root, LeakReading{Position: r.Position, Part: r.Part, Reading: &r.Reading, Recheck: r.Recheck, Heard: r.Heard}); err != nil {
			return 0, err
		}
	}
	return root, nil
}

// CheckLeakTest says, as Invalid, what is wrong with a test without saving it.
// One without a day is not held against the meter and who sat where.
func (b *Book) CheckLeakTest(ctx context.Context, n NewLeakTest) error {
	return b.try(ctx, func(ctx context.Context, t *tx) error {
		if n.Day != "" {
			_, err := saveLeakTest(ctx, t, n)
			return err
		}
		e, err := findEngine(ctx, t, n.Engine)
		if err != nil {
			return err
		}
		bad, err := n.checkAll(ctx, t, e)
		return firstOf(err, bad.orNil())
	})
}

// checkAll finds what cannot be right about a test by itself.
func (n *NewLeakTest) checkAll(ctx context.Context, t *tx, e Engine) (Invalid, error) {
	bad, err := n.useTester(ctx, t)
	return slices.Concat(bad, t.happened(n.Day), n.LeakTest.check(), n.checkReadings(e)), err
}

// useTester takes over what the tester was then.
func (h *LeakTest) useTester(ctx context.Context, q querier) (Invalid, error) {
	h.Due, h.SD, h.OperatorSD, h.Resolution = "", AssumedTesterSD, 0, AssumedTesterResolution
	if h.Gauge == 0 {
		return nil, nil
	}
	gs, err := findGauges(ctx, q)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(gs, func(g Gauge) bool { return g.ID == h.Gauge })
	if i < 0 {
		return invalid("tester", "choose a tester from the list"), nil
	}
	if gs[i].Unit.Name != Psi.Name {
		return invalid("tester", "%s reads in %s: choose a tester that reads in psi", gs[i].Name, gs[i].Unit.Name), nil
	}
	h.Due, h.SD, h.OperatorSD = gs[i].Due, gs[i].SD, gs[i].OperatorSD
	if gs[i].Resolution > 0 {
		h.Resolution = gs[i].Resolution
	}
	return nil, nil
}

// check finds what cannot be right about the head of a test.
func (h LeakTest) check() Invalid {
	var bad Invalid
	add := func(field, format string, args ...any) {
		bad = append(bad, FieldError{Field: field, Message: fmt.Sprintf(format, args...)})
	}
	if h.Regulated < 10 || h.Regulated > 3000 {
		add("regulated", "a regulated pressure from 1 to 300 psi")
	}
	if h.Ambient != nil && (*h.Ambient < 50 || *h.Ambient > 200) {
		add("ambient", "%s psi is no pressure of the air outside, which is 14.7 psi at sea level: give it in psi, or leave it blank", h.Ambient)
	}
	switch {
	case h.Orifice <= 0:
		add("orifice", "give the orifice's diameter: a reading means nothing without it")
	case h.Orifice < leastOrifice || h.Orifice > mostOrifice:
		add("orifice", "%s %s is no orifice of a tester (%s to %s): is the decimal point right?", h.Orifice.Format(h.Unit), h.Unit.Name, leastOrifice.Format(h.Unit), mostOrifice.Format(h.Unit))
	}
	if h.Master != nil && h.Regulated >= 10 && *h.Master > h.Regulated {
		add("master", "%s psi is above the regulated %s psi", *h.Master, h.Regulated)
	}
	if h.Minutes != nil && (*h.Minutes < 0 || *h.Minutes > 10_000) {
		add("minutes", "a number of minutes from 0 to 10,000")
	}
	return bad
}

func (n NewLeakTest) checkReadings(e Engine) Invalid {
	if len(n.Readings) == 0 {
		return invalid("test", "no number was typed: there is nothing to save")
	}
	var bad Invalid
	seen := map[int]bool{}
	for _, r := range n.Readings {
		if r.Position < 1 || r.Position > e.Cylinders {
			bad = append(bad, FieldError{Field: r.Field, Message: fmt.Sprintf("engine %s has positions 1 to %d", e.Serial, e.Cylinders)})
			continue
		}
		if seen[r.Position] {
			bad = append(bad, FieldError{Field: r.Field, Message: fmt.Sprintf("position %d stands twice on this sheet", r.Position)})
		}
		seen[r.Position] = true
		if message := aboveRegulated(r.Reading, r.Recheck, n.Regulated); n.Regulated >= 10 && message != "" {
			bad = append(bad, FieldError{Field: r.Field, Message: message})
		}
	}
	return bad
}

// aboveRegulated says in words that a cylinder cannot have held so much; ""
// where it can.
func aboveRegulated(reading wear.PSI, recheck *wear.PSI, regulated wear.PSI) string {
	for _, psi := range []*wear.PSI{&reading, recheck} {
		if psi != nil && *psi > regulated {
			return fmt.Sprintf("%s psi is above the regulated %s psi: no cylinder holds more than it is given", *psi, regulated)
		}
	}
	return ""
}

// LeakSitters lists the cylinders that sat at a position at some time of a
// day, oldest first.
func (b *Book) LeakSitters(ctx context.Context, engine int64, position int, day wear.Day) ([]Stay, error) {
	return findSitters(ctx, b.read, engine, position, day)
}

func findSitters(ctx context.Context, q querier, engine int64, position int, day wear.Day) ([]Stay, error) {
	return findStays(ctx, q, "s.engine_id = ?1 AND s.position = ?2 AND s.kind = 'cylinder' AND s.void = '' AND s.from_day <= ?3 AND (s.to_day IS NULL OR s.to_day >= ?3)", engine, position, day)
}

// findCylinder finds the cylinder that was tested.
func (r *NewLeakReading) findCylinder(ctx context.Context, t *tx, e Engine, day wear.Day, hours wear.Hours) (Invalid, error) {
	sat, err := findSitters(ctx, t, e.ID, r.Position, day)
	if err != nil {
		return nil, err
	}
	sat = slices.DeleteFunc(sat, func(s Stay) bool { return s.FromHours > hours || !s.Open() && s.ToHours < hours })
	for _, s := range sat {
		if s.Part == r.Part || r.Part == 0 && len(sat) == 1 {
			r.Part = s.Part
			return nil, nil
		}
	}
	switch {
	case len(sat) == 0:
		return Invalid{{Field: r.Field, Href: fmt.Sprintf("/engines/%d/positions/%d/install", e.ID, r.Position),
			Message: fmt.Sprintf("no cylinder is recorded at position %d on %s, %s h: enter its installation first, so that the test belongs to it", r.Position, day, hours)}}, nil
	case r.Part != 0:
		return Invalid{{Field: r.PartField, Message: fmt.Sprintf("that cylinder did not sit at position %d on %s", r.Position, day)}}, nil
	}
	names := make([]string, len(sat))
	for i, s := range sat {
		names[i] = s.Serial
	}
	return Invalid{{Field: r.PartField, Message: fmt.Sprintf("%s sat at position %d that day: choose which one was tested", strings.Join(names, " and "), r.Position)}}, nil
}

// insertLeakTest keeps the head of a test, or a correction of one that has a
// root, and returns its root.
func insertLeakTest(ctx context.Context, t *tx, h LeakTest) (int64, error) {
	id, err := t.insert(ctx, `INSERT INTO leak_test (root, uid, engine_id, day, meter_root, who, regulated, ambient, orifice, unit, master, gauge_id, due, sd, resolution, minutes, note, corrected, reason, saved_at, operator_sd)
		VALUES (CASE WHEN ?1 = 0 THEN (SELECT coalesce(max(id), 0) + 1 FROM leak_test) ELSE ?1 END, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, nullif(?12, 0), ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21)`,
		h.Root, h.UID, h.Engine, h.Day, h.MeterRoot, h.Who, h.Regulated, h.Ambient, h.Orifice, h.Unit.Name, h.Master, h.Gauge, h.Due, h.SD, h.Resolution, h.Minutes, h.Note, h.Corrected, h.Reason, t.at, h.OperatorSD)
	if err != nil {
		return 0, fmt.Errorf("save leak test: %w", err)
	}
	if h.Root != 0 {
		return h.Root, nil
	}
	return id, nil
}

// insertLeakReading keeps a reading, or a correction of one that has a root.
func insertLeakReading(ctx context.Context, t *tx, test int64, r LeakReading) error {
	heard := make([]string, len(r.Heard))
	for i, place := range r.Heard {
		if _, err := place.Meaning(); err != nil {
			return fmt.Errorf("save leak reading: %w", err)
		}
		heard[i] = string(place)
	}
	_, err := t.insert(ctx, `INSERT INTO leak_reading (root, test_root, position, part_id, reading, recheck, heard, who, reason, saved_at)
		VALUES (CASE WHEN ?1 = 0 THEN (SELECT coalesce(max(id), 0) + 1 FROM leak_reading) ELSE ?1 END, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)`,
		r.Root, test, r.Position, r.Part, r.Reading, r.Recheck, strings.Join(heard, ","), r.Who, r.Reason, t.at)
	if err != nil {
		return fmt.Errorf("save leak reading: %w", err)
	}
	return nil
}

// CorrectLeakReading adds a correction of what a cylinder held, with a reason;
// the old one stays, struck. A nil reading withdraws it.
func (b *Book) CorrectLeakReading(ctx context.Context, root int64, reading, recheck *wear.PSI, heard []wear.AirHeard, who, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say why the reading is corrected")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		versions, err := findLeakReading(ctx, t, root)
		if err != nil {
			return err
		}
		old := versions[0]
		if reading == nil {
			recheck, heard = nil, nil
			if old.Reading == nil {
				return invalid("what", "the reading was withdrawn already")
			}
		} else if same(old.Reading, reading) && same(old.Recheck, recheck) && slices.Equal(old.Heard, heard) {
			return invalid("value", "that is what the book says already")
		} else if message := aboveRegulated(*reading, recheck, old.Test.Regulated); message != "" {
			return invalid("value", "%s", message)
		}
		if old.Reading == nil && reading != nil {
			if err := sameDay(ctx, t, old.Test.MeterRoot, old.Test.Day, "value"); err != nil {
				return err
			}
		}
		return insertLeakReading(ctx, t, old.Test.Root, LeakReading{Root: root, Position: old.Position, Part: old.Part, Reading: reading, Recheck: recheck, Heard: heard, Who: who, Reason: why})
	})
}

func same[T comparable](a, b *T) bool { return a == b || a != nil && b != nil && *a == *b }

// CorrectLeakTest adds a correction of a test's head, with a reason: of the
// pressures, the orifice, the tester and the minutes. Engine, day, hours, who
// and note stay. The old head stays, struck.
func (b *Book) CorrectLeakTest(ctx context.Context, root int64, fixed LeakTest, who, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say why the test is corrected")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		heads, err := findLeakHeads(ctx, t, root)
		if err != nil {
			return err
		}
		h := heads[0]
		unchanged := h.Regulated == fixed.Regulated && same(h.Ambient, fixed.Ambient) && h.Orifice == fixed.Orifice && same(h.Master, fixed.Master) && h.Gauge == fixed.Gauge && same(h.Minutes, fixed.Minutes)
		tester := h.Gauge != fixed.Gauge
		h.Regulated, h.Ambient, h.Orifice, h.Unit, h.Master, h.Gauge, h.Minutes = fixed.Regulated, fixed.Ambient, fixed.Orifice, fixed.Unit, fixed.Master, fixed.Gauge, fixed.Minutes
		var bad Invalid
		if tester {
			if bad, err = h.useTester(ctx, t); err != nil {
				return err
			}
		}
		bad = append(bad, h.check()...)
		if unchanged {
			bad = append(bad, FieldError{Field: "reason", Message: "nothing was changed: that is what the book says already"})
		}
		rs, err := findLeakReadings(ctx, t, "r.test_root = ? ORDER BY r.position, r.id", root)
		if err != nil {
			return err
		}
		for _, r := range rs {
			if !r.Struck && r.Reading != nil && aboveRegulated(*r.Reading, r.Recheck, h.Regulated) != "" {
				bad = append(bad, FieldError{Field: "regulated", Message: fmt.Sprintf("position %d reads more than %s psi: correct that reading first", r.Position, h.Regulated)})
				break
			}
		}
		if len(bad) > 0 {
			return bad
		}
		h.Corrected, h.Reason = who, why
		_, err = insertLeakTest(ctx, t, h)
		return err
	})
}
