package store

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/wear"
)

func (im *historyImport) wearEvent(ctx context.Context, t *tx, r *HistoryRow, p *importPart) error {
	m := wear.Mark{Event: wear.Event(r.Event), Day: r.Day}
	if p.Kind != wear.Ring { // of a ring it tells where it sits
		m.Groove = r.Groove
	}
	if r.Value != "" {
		unit, err := wear.UnitNamed(r.Unit)
		if err != nil {
			unit = im.book.Unit
		}
		v, err := wear.ParseValue(r.Value, unit)
		if err != nil {
			return rowFault{"value", r.Value, err.Error()}
		}
		m.Oversize = &v
	}
	if err := checkWork(p.Kind, m); err != nil {
		return err
	}
	var at markHours
	if r.Engine == "" && r.PartHours != nil {
		at.since = p.told(r.PartHours)
	} else if _, err := clockOf(p).At(r.Day, nil); err != nil {
		return rowFault{"date", string(r.Day), "the part was on an engine then: the work was done when it was off"}
	}
	return addMark(ctx, t, p.ID, m, at, r.Note)
}

func clockOf(p *importPart) wear.Clock {
	c := wear.Clock{Before: p.HoursBefore}
	for _, s := range p.stays {
		c.Stays = append(c.Stays, s.Stay)
	}
	return c
}

// reading keeps one number, on the sheet that it shares with the others of
// its day and place.
func (im *historyImport) reading(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter meterAt) error {
	f := im.feature(p.Kind, r.Feature)
	if f == nil {
		return rowFault{"feature", r.Feature, fmt.Sprintf("is not measured on a %s in this book. It has: %s. A limits file, or the page of own features, adds one", p.Kind, im.features.names(p.Kind))}
	}
	n, err := im.number(r, p, f)
	if err != nil {
		return err
	}
	if err := im.plausible(ctx, t, r, p, e, f, n); err != nil {
		return err
	}
	if n.Since, err = im.placeReading(ctx, t, r, p, e, meter); err != nil {
		return err
	}
	sheet, err := im.sheet(ctx, t, r, p, e, meter)
	if err != nil {
		return err
	}
	im.report.Readings++
	im.put(t, sheet, n)
	return im.flush(ctx, t, readingsChunk)
}

// readingsChunk is how many readings one statement inserts.
const readingsChunk = 40

// readingColumns are what a file brings of a reading.
const readingColumns = 15

// put notes a reading to be inserted.
func (im *historyImport) put(t *tx, sheet int64, n NewReading) {
	var hours any
	if n.Since != nil {
		hours = int64(*n.Since)
	}
	id := im.nextReading
	im.pending = append(im.pending, id, id, sheet, n.Part, n.Feature, int64(n.Groove), n.Station, n.Axis, int64(n.Value), n.Typed, n.Unit.Name, int64(n.SD), int64(n.Resolution), hours, t.at)
	im.nextReading++
	t.touch(n.Part)
}

// flush inserts what was noted once there are so many readings, while the
// next rows are read.
func (im *historyImport) flush(ctx context.Context, t *tx, least int) error {
	values := im.pending
	rows := len(values) / readingColumns
	if rows == 0 || rows < least {
		return nil
	}
	im.pending = make([]any, 0, readingsChunk*readingColumns)
	return im.inserting.run(func() error {
		one := "(" + strings.Repeat("?, ", readingColumns-1) + "?)"
		_, err := t.insert(ctx, `INSERT INTO reading (id, root, sheet_id, part_id, feature_id, groove, station, axis, value, typed, unit, sd, resolution, since_install, saved_at) VALUES `+
			strings.Repeat(one+", ", rows-1)+one, values...)
		if err != nil {
			return fmt.Errorf("save readings: %w", err)
		}
		return nil
	})
}

// feature finds a feature by the name that the file calls it; nil where the
// book has none.
func (im *historyImport) feature(kind wear.Kind, name string) *wear.Feature {
	k := featureName{kind, name}
	f, ok := im.called[k]
	if !ok {
		f = im.features.called(kind, name)
		im.called[k] = f
	}
	return f
}

// number reads the value with its unit and gauge.
func (im *historyImport) number(r *HistoryRow, p *importPart, f *wear.Feature) (NewReading, error) {
	n := NewReading{Part: p.ID, Feature: f.ID, Station: r.Station, Axis: r.Axis, Typed: r.Value, Unit: UnitFor(*f, im.book.Unit), Field: "value"}
	if f.Groove {
		if n.Groove = r.Groove; n.Groove == 0 {
			return n, rowFault{"groove", "", f.Name + " is measured in a groove: give its number"}
		}
	}
	var err error
	if r.Unit != "" {
		if n.Unit, err = wear.UnitNamed(r.Unit); err != nil {
			return n, rowFault{"unit", r.Unit, err.Error()}
		}
	}
	if n.Unit.Dim != f.Dim || f.Dim == wear.Plain && !strings.EqualFold(n.Unit.Name, f.Unit) {
		return n, rowFault{"unit", r.Unit, fmt.Sprintf("does not measure %s", f.Name)}
	}
	if r.Value == "" {
		return n, rowFault{"value", "", "is missing"}
	}
	if n.Value, n.Resolution, err = im.figures(r.Value, n.Unit); err != nil {
		return n, rowFault{"value", r.Value, err.Error()}
	}
	n.SD = wear.AssumedSD(n.Unit.Dim)
	if r.GaugeSD != "" {
		if n.SD, _, err = im.figures(r.GaugeSD, n.Unit); err == nil && n.SD < 0 {
			err = fmt.Errorf("a standard deviation %w", wear.ErrNegative)
		}
		if err == nil && n.Unit.Dim == wear.Length && n.SD > coarsest {
			err = fmt.Errorf("a standard deviation above 0.1 in is %w", wear.ErrTooLarge)
		}
		if err != nil {
			return n, rowFault{"gauge_sd", r.GaugeSD, err.Error()}
		}
	}
	return n, nil
}

// plausible refuses a number that cannot be meant, by the limits of the part's
// model.
func (im *historyImport) plausible(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, f *wear.Feature, n NewReading) error {
	model := p.ModelID
	if model == 0 && e != nil {
		model = e.Model.ID
	}
	limits, known := im.limits[model]
	if !known {
		var err error
		if limits, err = findLimits(ctx, t, model, ""); err != nil {
			return err
		}
		im.limits[model] = limits
	}
	groove := n.Groove
	if p.Kind == wear.Ring {
		groove = p.Groove
	}
	if message := implausible(*f, n, limits.For(f.ID, groove), p.Oversize); message != "" {
		return rowFault{"value", r.Value, message}
	}
	return nil
}

// figure is a number as it was written, in a unit.
type figure struct{ text, unit string }

// read is a figure's value and the size of its last digit.
type read struct{ value, resolution wear.Value }

// mostFigures bounds how many figures are remembered.
const mostFigures = 1 << 16

// figures reads a number in a unit: its value, and the resolution that the
// last digit written shows. Numbers recur, so they are remembered.
func (im *historyImport) figures(text string, u wear.Unit) (value, resolution wear.Value, err error) {
	k := figure{text, u.Name}
	if known, ok := im.read[k]; ok {
		return known.value, known.resolution, nil
	}
	if value, err = wear.ParseValue(text, u); err != nil {
		return 0, 0, err
	}
	if resolution, err = wear.LastDigit(text, u); err != nil {
		return 0, 0, err
	}
	if len(im.read) >= mostFigures {
		clear(im.read)
	}
	im.read[k] = read{value, resolution}
	return value, resolution, nil
}

// sheetKey is what the readings of one sheet share.
type sheetKey struct {
	head       uint32
	hoursGiven bool
	hours      wear.Hours
	part       int64 // where no engine is known, or a note was made
}

func (im *historyImport) sheet(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter meterAt) (int64, error) {
	s := Sheet{Day: r.Day, Temperature: r.Temperature, Note: r.Note}
	k := sheetKey{head: r.head}
	if e != nil {
		s.Engine, s.Position, s.MeterRoot = e.ID, r.Position, meter.root
	} else {
		k.part = p.ID
		if r.PartHours != nil {
			k.hoursGiven, k.hours = true, *r.PartHours
		}
	}
	if r.Feature != "" && r.Note != "" {
		k.part = p.ID // a note belongs to the part it was written beside
	}
	if id, ok := im.sheets[k]; ok {
		return id, nil
	}
	s.UID = newUID() // rows that come twice were left out before
	id, err := insertSheet(ctx, t, s)
	if err == nil {
		im.sheets[k] = id
	}
	return id, err
}
