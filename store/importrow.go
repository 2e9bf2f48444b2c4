package store

import (
	"context"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"

	"barrelbook/wear"
)

// installed puts the part onto the engine the row names, or notes only that
// its run begins where no engine is known.
func (im *historyImport) installed(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter int64) error {
	again := r.Event == string(wear.InstalledNew) && (p.Source != "new" || len(p.stays) > 0 || p.seen > 0)
	if e == nil {
		p.base = p.seen
		if again {
			return addMark(ctx, t, p.ID, wear.Mark{Event: wear.InstalledNew, Day: r.Day}, &p.base, r.Note)
		}
		t.touch(p.ID)
		return nil
	}
	if err := im.place(ctx, t, r, p, e, meter); err != nil || !again {
		return err
	}
	return addMark(ctx, t, p.ID, wear.Mark{Event: wear.InstalledNew, Day: r.Day}, nil, r.Note)
}

// place installs the part as the row says.
func (im *historyImport) place(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter int64) error {
	if r.Position == 0 {
		return rowFault{"position", "", "is missing: on which cylinder position does the part sit?"}
	}
	groove := 0
	if p.Kind == wear.Ring {
		if groove = r.Groove; groove == 0 {
			groove = p.Groove
		}
	}
	at := Place{e.ID, r.Position, groove}
	for _, s := range p.stays {
		if s.From == r.Day && s.Engine == e.ID && s.Position == r.Position && s.Groove == groove {
			return nil // entered by hand before
		}
	}
	if err := install(ctx, t, p.ID, at, r.Day, meter); err != nil {
		return err
	}
	return p.reload(ctx, t)
}

func (p *importPart) reload(ctx context.Context, t *tx) (err error) {
	p.stays, err = findStays(ctx, t, "s.part_id = ? AND s.void = ''", p.ID)
	return err
}

func (im *historyImport) removed(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter int64) error {
	if e == nil {
		return nil // its engine is not known: the hours on the readings say all
	}
	if len(p.stays) == 0 || !p.stays[len(p.stays)-1].Open() {
		return rowFault{"event", r.Event, fmt.Sprintf("%s %s is not on an engine on %s", p.Kind, p.Serial, r.Day)}
	}
	s := p.stays[len(p.stays)-1]
	if s.Engine != e.ID {
		return rowFault{"engine", r.Engine, fmt.Sprintf("%s %s sits on engine %s", p.Kind, p.Serial, s.EngineNo)}
	}
	why := r.Note
	if why == "" {
		why = "not given"
	}
	if err := remove(ctx, t, s, r.Day, meter, why); err != nil {
		return err
	}
	return p.reload(ctx, t)
}

func (im *historyImport) wearEvent(ctx context.Context, t *tx, r *HistoryRow, p *importPart) error {
	m := wear.Mark{Event: wear.Event(r.Event), Day: r.Day, Groove: r.Groove}
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
	if m.Event == wear.Ground && m.Oversize == nil {
		return rowFault{"value", "", "is missing: the size over standard that it was ground to"}
	}
	var at *wear.Hours
	if r.Engine == "" && r.PartHours != nil {
		hours := p.base + *r.PartHours
		at, p.seen = &hours, max(p.seen, hours)
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
func (im *historyImport) reading(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter int64) error {
	f := im.features.called(p.Kind, r.Feature)
	if f == nil {
		return rowFault{"feature", r.Feature, fmt.Sprintf("is not measured on a %s in this book. It has: %s. A limits file, or the page of own features, adds one", p.Kind, im.features.names(p.Kind))}
	}
	n, err := im.number(r, p, f)
	if err != nil {
		return err
	}
	if n.PartHours, err = im.placeReading(ctx, t, r, p, e, meter); err != nil {
		return err
	}
	sheet, err := im.sheet(ctx, t, r, p, e, meter)
	if err != nil {
		return err
	}
	im.report.Readings++
	_, err = insertReading(ctx, t, sheet, 0, "", "", n)
	return err
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
	if n.Value, err = wear.ParseValue(r.Value, n.Unit); err != nil {
		return n, rowFault{"value", r.Value, err.Error()}
	}
	if n.SD, n.Resolution, err = gaugeFigures(r, n.Unit); err != nil {
		return n, rowFault{"gauge_sd", r.GaugeSD, err.Error()}
	}
	if message := implausible(*f, n, im.limitsFor(p).For(f.ID, max(n.Groove, p.Groove)), p.Oversize); message != "" {
		return n, rowFault{"value", r.Value, message}
	}
	return n, nil
}

func (im *historyImport) limitsFor(p *importPart) Limits { return im.limits[p.ModelID] }

// gaugeFigures are the gauge's standard deviation, as given or assumed, and
// the resolution that the last digit written shows.
func gaugeFigures(r *HistoryRow, u wear.Unit) (sd, resolution wear.Value, err error) {
	resolution, err = wear.LastDigit(r.Value, u)
	if err != nil {
		return 0, 0, err
	}
	if r.GaugeSD == "" {
		return wear.AssumedSD(u.Dim), resolution, nil
	}
	sd, err = wear.ParseValue(r.GaugeSD, u)
	if err == nil && sd < 0 {
		err = fmt.Errorf("a standard deviation %w", wear.ErrNegative)
	}
	return sd, resolution, err
}

// placeReading finds the reading's place in the part's life, installing the
// part where the file never said that it went on. The part's own hours come
// back where no engine tells them.
func (im *historyImport) placeReading(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter int64) (*wear.Hours, error) {
	if e == nil {
		if r.PartHours != nil {
			hours := p.HoursBefore + p.base + *r.PartHours
			p.seen = max(p.seen, hours)
			return &hours, nil
		}
		if _, err := clockOf(p).At(r.Day, nil); err != nil || len(p.stays) == 0 && p.Source != "new" && p.HoursBefore == 0 {
			return nil, rowFault{"part_hours", "", "is missing: with no engine named, the hours since installation are needed"}
		}
		return nil, nil
	}
	if r.Position == 0 {
		if _, err := clockOf(p).At(r.Day, &wear.EngineHours{Engine: e.ID, Hours: *r.EngineHours}); err == nil && len(p.stays) > 0 {
			return nil, nil
		}
		return nil, rowFault{"position", "", "is missing: on which cylinder position does the part sit?"}
	}
	for _, s := range p.stays {
		if s.Engine == e.ID && s.Position == r.Position && s.From <= r.Day && (s.Open() || s.To >= r.Day) {
			return nil, im.agrees(r, s)
		}
	}
	if n := len(p.stays); n > 0 && !p.stays[n-1].Open() && p.stays[n-1].Engine == e.ID && p.stays[n-1].Position == r.Position && p.stays[n-1].To <= r.Day {
		return nil, nil // on the bench after it came off there
	}
	if err := im.place(ctx, t, r, p, e, meter); err != nil {
		return nil, err
	}
	im.report.Installations = append(im.report.Installations, fmt.Sprintf("%s %s on %s at position %d from %s, %s h", p.Kind, p.Serial, r.Engine, r.Position, r.Day, r.EngineHours))
	return nil, nil
}

// agrees refuses hours since installation that contradict the engine's.
func (im *historyImport) agrees(r *HistoryRow, s Stay) error {
	if r.PartHours == nil || *r.EngineHours < s.FromHours {
		return nil
	}
	if ran := *r.EngineHours - s.FromHours; *r.PartHours-ran > 100 || ran-*r.PartHours > 100 {
		if s.From == r.Day || ran == 0 {
			return nil
		}
		return rowFault{"part_hours", r.PartHours.String(), fmt.Sprintf("does not agree with the engine's hours: the part went on at %s h, so it has run %s h since", s.FromHours, ran)}
	}
	return nil
}

func (im *historyImport) sheet(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter int64) (int64, error) {
	s := Sheet{Day: r.Day, Temperature: r.Temperature, Note: r.Note}
	k := fmt.Sprintf("%s|%s|%v", r.Day, r.Note, r.Temperature != nil)
	if r.Temperature != nil {
		k += fmt.Sprint(*r.Temperature)
	}
	if e != nil {
		s.Engine, s.Position, s.MeterRoot = e.ID, r.Position, meter
		k += fmt.Sprintf("|%d|%d|%d", e.ID, r.Position, meter)
	} else {
		k += fmt.Sprintf("|part %d|%v", p.ID, r.PartHours != nil)
		if r.PartHours != nil {
			k += r.PartHours.String()
		}
	}
	if r.Feature != "" && r.Note != "" {
		k += "|" + p.Serial // a note belongs to the part it was written beside
	}
	if id, ok := im.sheets[k]; ok {
		return id, nil
	}
	hash := hash16(strconv.AppendInt(r.appendSaid(nil), int64(r.Line), 10))
	s.UID = "csv-" + hex.EncodeToString(hash[:])
	id, err := insertSheet(ctx, t, s)
	if err == nil {
		im.sheets[k] = id
	}
	return id, err
}
