package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"barrelbook/wear"
)

// Sheet is one measuring of a part, or of all parts at a position, on a day.
type Sheet struct {
	ID          int64
	UID         string // made by whoever sends it, so that sending twice adds nothing
	Day         wear.Day
	Engine      int64 // 0 on the shelf
	EngineNo    string
	Position    int
	MeterRoot   int64
	Hours       wear.Hours // the engine's, in total
	Who         string
	Temperature *float64 // of the parts, °C
	Note        string
	SavedAt     string
}

// NewReading is one number on a sheet that is being saved.
type NewReading struct {
	Part, Feature  int64
	Groove         int
	Station, Axis  string
	Value          wear.Value
	Typed          string
	Unit           wear.Unit
	Bore           *wear.Value // the bore a ring gap was measured in
	Gauge          int64       // 0 where not named
	SD, Resolution wear.Value  // of the gauge then
	OperatorSD     wear.Value  // between people who read it, then
	Since          *wear.Hours // hours since installation, where no engine tells them
	PartHours      *wear.Hours // the part's own hours instead, of a reading that an older version kept
	Field          string      // the form field it was typed in
}

// NewSheet is a sheet to save. Shows is what the engine's meter shows; nil on
// the shelf.
type NewSheet struct {
	Sheet
	Shows    *wear.Hours
	Readings []NewReading
}

// SaveSheet keeps a sheet and judges what it measured, in one transaction. A
// sheet whose UID is already in the book is not saved again; its id comes
// back. Everything wrong is reported at once, each at its field.
func (b *Book) SaveSheet(ctx context.Context, n NewSheet) (id int64, err error) {
	ids, err := b.SaveSheets(ctx, []NewSheet{n})
	if err != nil {
		return 0, err
	}
	return ids[0], nil
}

// SaveSheets keeps several sheets as SaveSheet does, all or none.
func (b *Book) SaveSheets(ctx context.Context, ns []NewSheet) (ids []int64, err error) {
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		for _, n := range ns {
			id, err := saveSheet(ctx, t, n)
			if err != nil {
				return err
			}
			t.answer = fmt.Sprintf("/sheets/%d", id)
			ids = append(ids, id)
		}
		return nil
	})
	return ids, err
}

func saveSheet(ctx context.Context, t *tx, n NewSheet) (id int64, err error) {
	if n.UID == "" {
		n.UID = newUID()
	}
	known, err := list(ctx, t, func(r scanner, id *int64) error { return r.Scan(id) }, "SELECT id FROM sheet WHERE uid = ?", n.UID)
	if err != nil {
		return 0, fmt.Errorf("find sheet: %w", err)
	}
	if len(known) > 0 {
		return known[0], nil
	}
	var bad Invalid
	if len(n.Readings) == 0 {
		bad = append(bad, FieldError{Field: "sheet", Message: "no number was typed: there is nothing to save"})
	}
	if n.Engine != 0 && n.Shows == nil {
		bad = append(bad, FieldError{Field: "hours", Message: "give the hours that the engine's meter shows"})
	}
	bad = append(bad, t.happened(n.Day)...)
	if n.Engine != 0 && len(bad) == 0 {
		var wrong Invalid
		if n.MeterRoot, err = addMeter(ctx, t, n.Engine, n.Day, *n.Shows); errors.As(err, &wrong) {
			bad = append(bad, wrong...)
		} else if err != nil {
			return 0, err
		}
	}
	checked := n
	if len(bad) > 0 {
		checked.Day = "" // its moment is not known
	}
	wrong, err := checkReadings(ctx, t, checked)
	if bad = append(bad, wrong...); err != nil || len(bad) > 0 {
		return 0, firstOf(err, bad.orNil())
	}
	id, err = insertSheet(ctx, t, n.Sheet)
	if err != nil {
		return 0, err
	}
	for _, r := range n.Readings {
		if _, err := insertReading(ctx, t, id, 0, n.Who, "", r); err != nil {
			return 0, err
		}
	}
	return id, nil
}

// CheckSheet says, as Invalid, what is wrong with a sheet without saving it.
// One without a day is checked by its numbers alone.
func (b *Book) CheckSheet(ctx context.Context, n NewSheet) error {
	return b.try(ctx, func(ctx context.Context, t *tx) error {
		if n.Day == "" {
			bad, err := checkReadings(ctx, t, n)
			return firstOf(err, bad.orNil())
		}
		_, err := saveSheet(ctx, t, n)
		return err
	})
}

// try runs do in a transaction that is undone.
func (b *Book) try(ctx context.Context, do func(ctx context.Context, t *tx) error) error {
	err := b.tx(ctx, func(ctx context.Context, t *tx) error { return firstOf(do(ctx, t), errTrial) })
	if errors.Is(err, errTrial) {
		return nil
	}
	return err
}

func firstOf(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func insertSheet(ctx context.Context, t *tx, s Sheet) (int64, error) {
	if bad := t.happened(s.Day); len(bad) > 0 {
		return 0, bad
	}
	id, err := t.insert(ctx, `INSERT INTO sheet (uid, day, engine_id, position, meter_root, who, temperature, note, saved_at)
		VALUES (?, ?, nullif(?, 0), nullif(?, 0), nullif(?, 0), ?, ?, ?, ?)`, s.UID, s.Day, s.Engine, s.Position, s.MeterRoot, s.Who, s.Temperature, s.Note, t.at)
	if err != nil {
		return 0, fmt.Errorf("save sheet: %w", err)
	}
	return id, nil
}

// insertReading keeps a reading; root is the reading it corrects, 0 for none.
func insertReading(ctx context.Context, t *tx, sheet, root int64, who, reason string, r NewReading) (int64, error) {
	var value any = int64(r.Value)
	if reason != "" && r.Typed == "" {
		value = nil // withdrawn
	}
	id, err := t.insert(ctx, `INSERT INTO reading (root, sheet_id, part_id, feature_id, groove, station, axis, value, typed, unit, bore, gauge_id, sd, resolution, since_install, part_hours, who, reason, saved_at, operator_sd, overdue)
		VALUES (CASE WHEN ?1 = 0 THEN (SELECT coalesce(max(id), 0) + 1 FROM reading) ELSE ?1 END, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, nullif(?12, 0), ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20,
			?12 <> 0 AND EXISTS (SELECT 1 FROM gauge g WHERE g.id = ?12 AND g.due <> '' AND g.due < (SELECT day FROM sheet WHERE id = ?2)))`,
		root, sheet, r.Part, r.Feature, r.Groove, r.Station, r.Axis, value, r.Typed, r.Unit.Name, r.Bore, r.Gauge, r.SD, r.Resolution, r.Since, r.PartHours, who, reason, t.at, r.OperatorSD)
	if err != nil {
		return 0, fmt.Errorf("save reading: %w", err)
	}
	t.touch(r.Part)
	return id, nil
}

// checkReadings finds what cannot be right about the numbers of a sheet, and
// about its moment where it has a day.
func checkReadings(ctx context.Context, t *tx, n NewSheet) (Invalid, error) {
	x, err := findFeatureIndex(ctx, t)
	if err != nil {
		return nil, err
	}
	histories := map[int64]*history{}
	for _, r := range n.Readings {
		histories[r.Part] = nil
	}
	found, err := findHistories(ctx, t, slices.Sorted(maps.Keys(histories)))
	if err != nil {
		return nil, err
	}
	limits := map[int64]Limits{}
	var bad Invalid
	for _, h := range found {
		histories[h.part.ID] = h
		if n.Day == "" {
			continue
		}
		if message := h.placeOn(n.Sheet, ctx, t); message != "" {
			bad = append(bad, FieldError{Field: "day", Message: message})
		}
	}
	for _, r := range n.Readings {
		h := histories[r.Part]
		if h == nil {
			return nil, fmt.Errorf("find part %d: %w", r.Part, ErrNotFound)
		}
		model, err := h.modelID(ctx, t)
		if err != nil {
			return nil, err
		}
		if _, ok := limits[model]; !ok {
			if limits[model], err = findLimits(ctx, t, model, ""); err != nil {
				return nil, err
			}
		}
		f := x.byID[r.Feature]
		if f == nil || f.Kind != h.part.Kind {
			return nil, fmt.Errorf("reading of feature %d on a %s: %w", r.Feature, h.part.Kind, ErrNotFound)
		}
		groove := r.Groove
		if h.part.Kind == wear.Ring {
			groove = h.part.Groove
		}
		if message := implausible(*f, r, limits[model].For(f.ID, groove), h.oversizeNow()); message != "" {
			bad = append(bad, FieldError{Field: r.Field, Message: message})
		}
	}
	return bad, nil
}

// placeOn says in words why a sheet's moment cannot be placed in the part's
// life; "" when it can.
func (h *history) placeOn(s Sheet, ctx context.Context, t *tx) string {
	var at *wear.EngineHours
	if s.Engine != 0 {
		m, err := findMeter(ctx, t, s.MeterRoot)
		if err != nil {
			return err.Error()
		}
		at = &wear.EngineHours{Engine: s.Engine, Hours: m.Hours}
	}
	if _, err := h.clock.At(s.Day, at); err != nil {
		return fmt.Sprintf("%s %s: %s", h.part.Kind, h.part.Serial, err)
	}
	return ""
}

// far is how many times a number may lie outside the span of its limits
// before it is taken for a slip of the decimal point.
const far = 3

// implausible says in words why a number cannot be meant; "" when it can.
func implausible(f wear.Feature, r NewReading, l *LimitRow, oversize wear.Value) string {
	if r.Value > wear.MostTyped || r.Value < -wear.MostTyped {
		return fmt.Sprintf("%s %s is too large: is the decimal point right?", r.Value.Format(r.Unit), r.Unit.Name)
	}
	if !f.Fit && (r.Value < 0 && f.Dim != wear.Plain || r.Value == 0 && f.Dim == wear.Length && !f.Groove && f.BuiltIn && !f.InBore) {
		return fmt.Sprintf("%s %s: a %s cannot be that small", r.Value.Format(r.Unit), r.Unit.Name, f.Name)
	}
	if l == nil {
		return f.Outside(r.Value, r.Unit)
	}
	lim := l.Limit
	if f.Oversize {
		lim = lim.Shifted(oversize)
	}
	var bounds []wear.Value
	for _, v := range []*wear.Value{lim.NewMin, lim.NewMax, lim.ServiceMin, lim.ServiceMax} {
		if v != nil {
			bounds = append(bounds, *v)
		}
	}
	if len(bounds) == 0 {
		return f.Outside(r.Value, r.Unit)
	}
	low, high := slices.Min(bounds), slices.Max(bounds)
	if high <= 0 || r.Value <= high*far && (f.Clearance || r.Value >= low/far) {
		return "" // a stuck ring has no clearance, and ends that touch no gap
	}
	return fmt.Sprintf("%s %s is far from the limits of %s (%s to %s %s): is the decimal point right?",
		r.Value.Format(r.Unit), r.Unit.Name, f.Name, low.Format(r.Unit), high.Format(r.Unit), r.Unit.Name)
}

// Reading is a number in the book, with its sheet.
type Reading struct {
	ID, Root       int64
	Sheet          Sheet
	Part           int64
	Feature        int64
	Groove         int
	Station, Axis  string
	Value          *wear.Value // nil where it was withdrawn
	Typed          string
	Unit           wear.Unit
	Bore           *wear.Value
	Gauge          string
	GaugeOverdue   bool
	SD, Resolution wear.Value
	OperatorSD     wear.Value
	Since          *wear.Hours // hours since installation, where no engine tells them
	PartHours      *wear.Hours // the part's own hours instead, as older versions kept them
	Who, Reason    string
	SavedAt        string
	Struck         bool // a later entry replaced it
}

// Counted is what a reading that was not withdrawn counts as, for verdicts and
// wear alike: see wear.Count.
func (r Reading) Counted(f wear.Feature, m wear.Material) wear.Counted {
	u := wear.StandardUncertainty(float64(r.SD), float64(r.OperatorSD), float64(r.Resolution))
	return wear.Count(f, wear.Gauged{Value: *r.Value, U: u}, r.Sheet.Temperature, m)
}

const readingQuery = `SELECT r.id, r.root, r.part_id, r.feature_id, r.groove, r.station, r.axis, r.value, r.typed, r.unit, r.bore, coalesce(g.name, ''), r.overdue,
	r.sd, r.operator_sd, r.resolution, r.since_install, r.part_hours, r.who, r.reason, r.saved_at, EXISTS (SELECT 1 FROM reading n WHERE n.root = r.root AND n.id > r.id AND n.part_id = r.part_id AND n.feature_id = r.feature_id),
	s.id, s.uid, s.day, coalesce(s.engine_id, 0), coalesce(e.serial, ''), coalesce(s.position, 0), coalesce(s.meter_root, 0), coalesce(m.hours, 0), s.who, s.temperature, s.note, s.saved_at
	FROM reading r JOIN sheet s ON s.id = r.sheet_id LEFT JOIN gauge g ON g.id = r.gauge_id LEFT JOIN engine e ON e.id = s.engine_id LEFT JOIN meter_now m ON m.root = s.meter_root`

func scanReading(r scanner, d *Reading) error {
	var unit string
	s := &d.Sheet
	if err := r.Scan(&d.ID, &d.Root, &d.Part, &d.Feature, &d.Groove, &d.Station, &d.Axis, &d.Value, &d.Typed, &unit, &d.Bore, &d.Gauge, &d.GaugeOverdue,
		&d.SD, &d.OperatorSD, &d.Resolution, &d.Since, &d.PartHours, &d.Who, &d.Reason, &d.SavedAt, &d.Struck,
		&s.ID, &s.UID, &s.Day, &s.Engine, &s.EngineNo, &s.Position, &s.MeterRoot, &s.Hours, &s.Who, &s.Temperature, &s.Note, &s.SavedAt); err != nil {
		return err
	}
	var err error
	d.Unit, err = wear.UnitNamed(unit)
	return err
}

// ReadingsOf lists every reading of a part, newest sheet first, with the
// corrected ones struck.
func (b *Book) ReadingsOf(ctx context.Context, part int64) ([]Reading, error) {
	return findReadings(ctx, b.read, "r.part_id = ? ORDER BY s.day DESC, s.id DESC, r.feature_id, r.groove, r.root, r.id", part)
}

// ReadingsOfParts is ReadingsOf for several parts, by part.
func (b *Book) ReadingsOfParts(ctx context.Context, parts []int64) (map[int64][]Reading, error) {
	all, err := findReadings(ctx, b.read, "r.part_id IN (SELECT value FROM json_each(?)) ORDER BY s.day DESC, s.id DESC, r.feature_id, r.groove, r.root, r.id", jsonList(parts))
	of := map[int64][]Reading{}
	for _, r := range all {
		of[r.Part] = append(of[r.Part], r)
	}
	return of, err
}

func findReadings(ctx context.Context, q querier, where string, args ...any) ([]Reading, error) {
	rs, err := list(ctx, q, scanReading, readingQuery+" WHERE "+where, args...)
	if err != nil {
		return nil, fmt.Errorf("list readings: %w", err)
	}
	return rs, nil
}

// Sheet finds a sheet with its readings, corrections beside what they
// replaced.
func (b *Book) Sheet(ctx context.Context, id int64) (Sheet, []Reading, error) {
	rs, err := findReadings(ctx, b.read, "r.sheet_id = ? ORDER BY r.part_id, r.feature_id, r.groove, r.root, r.id", id)
	if err == nil && len(rs) == 0 {
		err = fmt.Errorf("find sheet: %w", ErrNotFound)
	}
	if err != nil {
		return Sheet{}, nil, err
	}
	return rs[0].Sheet, rs, nil
}

// SheetEngine is the engine that the parts of a sheet sat on; 0 on the shelf.
func (b *Book) SheetEngine(ctx context.Context, id int64) (int64, error) {
	engine, err := one(ctx, b.read, func(r scanner, e *int64) error { return r.Scan(e) }, "SELECT coalesce(engine_id, 0) FROM sheet WHERE id = ?", id)
	if err != nil {
		return 0, fmt.Errorf("find engine of sheet: %w", err)
	}
	return engine, nil
}

// Reading finds the reading in force for a root.
func (b *Book) Reading(ctx context.Context, root int64) (Reading, error) {
	return findReading(ctx, b.read, root)
}

func findReading(ctx context.Context, q querier, id int64) (Reading, error) {
	var part, root int64
	if err := q.QueryRowContext(ctx, "SELECT part_id, root FROM reading WHERE id = ?", id).Scan(&part, &root); err != nil {
		return Reading{}, fmt.Errorf("find reading: %w", ErrNotFound)
	}
	rs, err := findReadings(ctx, q, "r.part_id = ? AND r.root = ? ORDER BY r.id DESC LIMIT 1", part, root)
	if err != nil {
		return Reading{}, err
	}
	return rs[0], nil
}

// CorrectReading adds a correction of a reading with a reason; the old one
// stays, struck. typed is the new number in the reading's unit; empty
// withdraws it.
func (b *Book) CorrectReading(ctx context.Context, id int64, value wear.Value, typed, who, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say why the reading is corrected")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		old, err := findReading(ctx, t, id)
		if err != nil {
			return err
		}
		if typed != "" && old.Value != nil && *old.Value == value {
			return invalid("value", "that is what the reading says already")
		}
		if old.Value == nil && typed != "" {
			if err := sameDay(ctx, t, old.Sheet.MeterRoot, old.Sheet.Day, "value"); err != nil {
				return err
			}
		}
		n := NewReading{Part: old.Part, Feature: old.Feature, Groove: old.Groove, Station: old.Station, Axis: old.Axis, Value: value, Typed: typed,
			Unit: old.Unit, Bore: old.Bore, SD: old.SD, OperatorSD: old.OperatorSD, Resolution: old.Resolution, Since: old.Since, PartHours: old.PartHours, Field: "value"}
		gauge, err := gaugeOf(ctx, t, old.ID)
		if err != nil {
			return err
		}
		if n.Gauge = gauge; gauge == 0 && typed != "" {
			if n.Resolution, err = wear.LastDigit(typed, old.Unit); err != nil {
				return invalid("value", "%s", err)
			}
		}
		if typed != "" {
			bad, err := checkReadings(ctx, t, NewSheet{Sheet: old.Sheet, Readings: []NewReading{n}})
			if err != nil || len(bad) > 0 {
				return firstOf(err, bad.orNil())
			}
		}
		_, err = insertReading(ctx, t, old.Sheet.ID, old.Root, who, why, n)
		return err
	})
}

func gaugeOf(ctx context.Context, q querier, reading int64) (id int64, err error) {
	err = q.QueryRowContext(ctx, "SELECT coalesce(gauge_id, 0) FROM reading WHERE id = ?", reading).Scan(&id)
	return id, err
}
