package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"barrelbook/wear"
)

// Psi is the unit of a tester among the gauges.
var Psi = func() wear.Unit {
	u, err := wear.UnitNamed("psi")
	if err != nil {
		panic(err)
	}
	return u
}()

// What is taken for each gauge of a tester that nobody named, in millionths of
// a psi: read to 1 psi, with a standard deviation of 0.5 psi (common practice,
// no source).
const (
	AssumedTesterSD         wear.Value = 500_000
	AssumedTesterResolution wear.Value = 1_000_000
)

// The orifices that a tester can have; a number outside is a slip of the
// decimal point.
const (
	leastOrifice wear.Value = 254_000   // 0.010 in
	mostOrifice  wear.Value = 6_350_000 // 0.250 in
)

// LeakTest is the head of a differential compression test of an engine on a
// day.
type LeakTest struct {
	ID, Root       int64
	UID            string // made by whoever sends it, so that sending twice adds nothing
	Engine         int64
	EngineNo       string
	Model          int64
	Day            wear.Day
	MeterRoot      int64
	Hours          wear.Hours // the engine's, in total
	Who            string
	Regulated      wear.PSI
	Ambient        *wear.PSI // absolute; nil where it was not taken
	Orifice        wear.Value
	Unit           wear.Unit // of the orifice, as it was typed
	Master         *wear.PSI // reading on the master orifice
	Gauge          int64     // the tester, 0 where not named
	Tester         string
	Due            wear.Day   // when its calibration was due then, empty where not kept
	SD, Resolution wear.Value // of one of its gauges then, millionths of a psi
	Minutes        *int       // since shutdown
	Note           string
	Corrected      string // by whom, of a correction
	Reason         string // of a correction
	SavedAt        string
}

// Overdue reports whether the tester was past its calibration on the day.
func (t LeakTest) Overdue() bool { return t.Due != "" && t.Due < t.Day }

// LeakReading is what one cylinder held, with the head of its test in force.
type LeakReading struct {
	ID, Root    int64
	Test        LeakTest
	Position    int
	Part        int64 // the cylinder that sat there
	Serial      string
	Reading     *wear.PSI // nil where it was withdrawn
	Recheck     *wear.PSI // warm, after running; nil where it was not rechecked
	Heard       []wear.AirHeard
	Who, Reason string // of a correction
	SavedAt     string
	Struck      bool // a later entry replaced it
}

// Counts is the reading that a verdict goes by: the recheck where there is
// one; nil where it was withdrawn.
func (r LeakReading) Counts() *wear.PSI {
	if r.Reading != nil && r.Recheck != nil {
		return r.Recheck
	}
	return r.Reading
}

// Measured is the reading that counts as package wear takes it; not ok where
// it was withdrawn.
func (r LeakReading) Measured() (t wear.LeakTest, ok bool) {
	psi := r.Counts()
	if psi == nil {
		return t, false
	}
	// The resolution goes in with the standard deviation, so that gauges finer
	// than a tenth of a psi count as what they are.
	t = wear.LeakTest{Regulated: r.Test.Regulated, Reading: *psi, Orifice: r.Test.Orifice, Rechecked: r.Recheck != nil, GaugeSD: wear.StandardUncertainty(r.Test.SD.In(Psi), r.Test.Resolution.In(Psi))}
	if r.Test.Ambient != nil {
		t.Ambient = *r.Test.Ambient
	}
	return t, true
}

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
	bad, err := n.useTester(ctx, t)
	if err != nil {
		return 0, err
	}
	bad = append(append(bad, n.LeakTest.check()...), n.checkReadings(e)...)
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

// useTester takes over what the tester was then.
func (h *LeakTest) useTester(ctx context.Context, q querier) (Invalid, error) {
	h.Due, h.SD, h.Resolution = "", AssumedTesterSD, AssumedTesterResolution
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
	h.Due, h.SD, h.Resolution = gs[i].Due, gs[i].SD, gs[i].Resolution
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
		if message := aboveRegulated(r.Reading, r.Recheck, n.Regulated); message != "" {
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
	id, err := t.insert(ctx, `INSERT INTO leak_test (root, uid, engine_id, day, meter_root, who, regulated, ambient, orifice, unit, master, gauge_id, due, sd, resolution, minutes, note, corrected, reason, saved_at)
		VALUES (CASE WHEN ?1 = 0 THEN (SELECT coalesce(max(id), 0) + 1 FROM leak_test) ELSE ?1 END, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, nullif(?12, 0), ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20)`,
		h.Root, h.UID, h.Engine, h.Day, h.MeterRoot, h.Who, h.Regulated, h.Ambient, h.Orifice, h.Unit.Name, h.Master, h.Gauge, h.Due, h.SD, h.Resolution, h.Minutes, h.Note, h.Corrected, h.Reason, t.at)
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

const leakTestColumns = `t.id, t.root, t.uid, t.engine_id, e.serial, e.model_id, t.day, t.meter_root, m.hours, t.who, t.regulated, t.ambient, t.orifice, t.unit, t.master, coalesce(t.gauge_id, 0), coalesce(g.name, ''),
	t.due, t.sd, t.resolution, t.minutes, t.note, t.corrected, t.reason, t.saved_at`

const leakTestJoins = " JOIN engine e ON e.id = t.engine_id JOIN meter_now m ON m.root = t.meter_root LEFT JOIN gauge g ON g.id = t.gauge_id"

func leakTestTargets(h *LeakTest, unit *string) []any {
	return []any{&h.ID, &h.Root, &h.UID, &h.Engine, &h.EngineNo, &h.Model, &h.Day, &h.MeterRoot, &h.Hours, &h.Who, &h.Regulated, &h.Ambient, &h.Orifice, unit, &h.Master, &h.Gauge, &h.Tester,
		&h.Due, &h.SD, &h.Resolution, &h.Minutes, &h.Note, &h.Corrected, &h.Reason, &h.SavedAt}
}

func scanLeakReading(r scanner, d *LeakReading) error {
	var unit, heard string
	to := []any{&d.ID, &d.Root, &d.Position, &d.Part, &d.Serial, &d.Reading, &d.Recheck, &heard, &d.Who, &d.Reason, &d.SavedAt, &d.Struck}
	if err := r.Scan(append(to, leakTestTargets(&d.Test, &unit)...)...); err != nil {
		return err
	}
	for _, place := range splitList(heard) {
		d.Heard = append(d.Heard, wear.AirHeard(place))
	}
	var err error
	d.Test.Unit, err = wear.UnitNamed(unit)
	return err
}

func findLeakReadings(ctx context.Context, q querier, where string, args ...any) ([]LeakReading, error) {
	rs, err := list(ctx, q, scanLeakReading, `SELECT r.id, r.root, r.position, r.part_id, p.serial, r.reading, r.recheck, r.heard, r.who, r.reason, r.saved_at,
		EXISTS (SELECT 1 FROM leak_reading n WHERE n.root = r.root AND n.id > r.id), `+leakTestColumns+`
		FROM leak_reading r JOIN part p ON p.id = r.part_id JOIN leak_test_now t ON t.root = r.test_root`+leakTestJoins+" WHERE "+where, args...)
	if err != nil {
		return nil, fmt.Errorf("list leak readings: %w", err)
	}
	return rs, nil
}

const newestLeakFirst = " ORDER BY t.day DESC, m.hours DESC, t.root DESC, r.position, r.root, r.id"

// LeakReadingsOf lists every leak reading of a cylinder, newest test first,
// with the corrected ones struck.
func (b *Book) LeakReadingsOf(ctx context.Context, part int64) ([]LeakReading, error) {
	return findLeakReadings(ctx, b.read, "r.part_id = ?"+newestLeakFirst, part)
}

// LeakReadingsOn lists every leak reading of an engine, newest test first and
// by position, with the corrected ones struck.
func (b *Book) LeakReadingsOn(ctx context.Context, engine int64) ([]LeakReading, error) {
	return findLeakReadings(ctx, b.read, "t.engine_id = ?"+newestLeakFirst, engine)
}

// LeakTest finds a test: every version of its head, the one in force first,
// and its readings by position, corrections beside what they replaced.
func (b *Book) LeakTest(ctx context.Context, root int64) ([]LeakTest, []LeakReading, error) {
	heads, err := findLeakHeads(ctx, b.read, root)
	if err != nil {
		return nil, nil, err
	}
	rs, err := findLeakReadings(ctx, b.read, "r.test_root = ? ORDER BY r.position, r.root, r.id", root)
	return heads, rs, err
}

func findLeakHeads(ctx context.Context, q querier, root int64) ([]LeakTest, error) {
	heads, err := list(ctx, q, func(r scanner, h *LeakTest) error {
		var unit string
		if err := r.Scan(leakTestTargets(h, &unit)...); err != nil {
			return err
		}
		var err error
		h.Unit, err = wear.UnitNamed(unit)
		return err
	}, "SELECT "+leakTestColumns+" FROM leak_test t"+leakTestJoins+" WHERE t.root = ? ORDER BY t.id DESC", root)
	if err == nil && len(heads) == 0 {
		err = ErrNotFound
	}
	if err != nil {
		return nil, fmt.Errorf("find leak test: %w", err)
	}
	return heads, nil
}

// LeakReading finds a reading by its root: every version, the one in force
// first.
func (b *Book) LeakReading(ctx context.Context, root int64) ([]LeakReading, error) {
	return findLeakReading(ctx, b.read, root)
}

func findLeakReading(ctx context.Context, q querier, root int64) ([]LeakReading, error) {
	rs, err := findLeakReadings(ctx, q, "r.root = ? ORDER BY r.id DESC", root)
	if err == nil && len(rs) == 0 {
		err = fmt.Errorf("find leak reading: %w", ErrNotFound)
	}
	return rs, err
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
