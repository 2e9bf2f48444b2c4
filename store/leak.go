package store

import (
	"context"
	"fmt"

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
	OperatorSD     wear.Value // between people who read it then, likewise
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
	Seen        Seen // of the cylinder; LeaksNow alone tells it
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
	// Resolution and operator go in with the standard deviation, so that gauges finer
	// than a tenth of a psi count as what they are.
	t = wear.LeakTest{Regulated: r.Test.Regulated, Reading: *psi, Orifice: r.Test.Orifice, Rechecked: r.Recheck != nil, GaugeSD: wear.StandardUncertainty(r.Test.SD.In(Psi), r.Test.OperatorSD.In(Psi), r.Test.Resolution.In(Psi))}
	if r.Test.Ambient != nil {
		t.Ambient = *r.Test.Ambient
	}
	return t, true
}

const leakTestColumns = `t.id, t.root, t.uid, t.engine_id, e.serial, e.model_id, t.day, t.meter_root, m.hours, t.who, t.regulated, t.ambient, t.orifice, t.unit, t.master, coalesce(t.gauge_id, 0), coalesce(g.name, ''),
	t.due, t.sd, t.operator_sd, t.resolution, t.minutes, t.note, t.corrected, t.reason, t.saved_at`

const leakTestJoins = " JOIN engine e ON e.id = t.engine_id JOIN meter_now m ON m.root = t.meter_root LEFT JOIN gauge g ON g.id = t.gauge_id"

func leakTestTargets(h *LeakTest, unit *string) []any {
	return []any{&h.ID, &h.Root, &h.UID, &h.Engine, &h.EngineNo, &h.Model, &h.Day, &h.MeterRoot, &h.Hours, &h.Who, &h.Regulated, &h.Ambient, &h.Orifice, unit, &h.Master, &h.Gauge, &h.Tester,
		&h.Due, &h.SD, &h.OperatorSD, &h.Resolution, &h.Minutes, &h.Note, &h.Corrected, &h.Reason, &h.SavedAt}
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
