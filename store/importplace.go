package store

import (
	"context"
	"fmt"

	"barrelbook/wear"
)

// installed puts the part onto the engine the row names, or notes only that
// its run begins where no engine is known.
func (im *historyImport) installed(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter meterAt) error {
	if e == nil {
		if _, err := clockOf(p).At(r.Day, nil); err != nil {
			return rowFault{"date", string(r.Day), "the part was on an engine then: it came off before it was installed elsewhere"}
		}
		return addMark(ctx, t, p.ID, wear.Mark{Event: wear.Event(r.Event), Day: r.Day}, markHours{since: new(wear.Hours)}, r.Note)
	}
	again := r.Event == string(wear.InstalledNew) && (p.Source != "new" || len(p.stays) > 0 || p.ran)
	if err := im.place(ctx, t, r, p, e, meter); err != nil || !again {
		return err
	}
	return addMark(ctx, t, p.ID, wear.Mark{Event: wear.InstalledNew, Day: r.Day}, markHours{}, r.Note)
}

// slot is a place that holds one part of a kind.
type slot struct {
	Place
	kind wear.Kind
}

// place installs the part as the row says.
func (im *historyImport) place(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter meterAt) error {
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
	part := p.part()
	if err := checkPlace(part, *e, at); err != nil {
		return err
	}
	theirs, err := im.staysIn(ctx, t, slot{at, p.Kind})
	if err != nil {
		return err
	}
	if err := checkFree(part, *e, at, r.Day, meter.hours, p.allStays(), theirs); err != nil {
		return err
	}
	id, err := putOn(ctx, t, part, *e, at, r.Day, meter.root)
	if err != nil {
		return err
	}
	p.Status = "on engine"
	p.stays = append(p.stays, importStay{id, e.Serial, wear.Stay{Engine: e.ID, Position: r.Position, Groove: groove, From: r.Day, FromHours: meter.hours}})
	im.sits[slot{at, p.Kind}] = p
	im.mates[Place{Engine: e.ID, Position: r.Position}] = true
	return nil
}

// staysIn lists what sat in a place that could be in the way. On an engine
// that the file brought, that is the latest part there: the rows come in the
// order they happened.
func (im *historyImport) staysIn(ctx context.Context, t *tx, s slot) ([]Stay, error) {
	if !im.made[s.Engine] {
		return findStaysIn(ctx, t, s.Place, s.kind)
	}
	last := im.sits[s]
	if last == nil {
		return nil, nil
	}
	for i := len(last.stays) - 1; i >= 0; i-- {
		if at := last.stays[i]; (Place{at.Engine, at.Position, at.Groove}) == s.Place {
			return []Stay{last.stay(at)}, nil
		}
	}
	return nil, nil
}

// touchMates touches the mates of all that was installed.
func (im *historyImport) touchMates(ctx context.Context, t *tx) error {
	for at := range im.mates {
		if err := touchMates(ctx, t, at.Engine, at.Position, "", ""); err != nil {
			return err
		}
	}
	return nil
}

func (im *historyImport) removed(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter meterAt) error {
	if e == nil {
		return nil // its engine is not known: the hours on the readings say all
	}
	if len(p.stays) == 0 || !p.stays[len(p.stays)-1].Open() {
		return rowFault{"event", r.Event, fmt.Sprintf("%s %s is not on an engine on %s", p.Kind, p.Serial, r.Day)}
	}
	s := &p.stays[len(p.stays)-1]
	if s.Engine != e.ID {
		return rowFault{"engine", r.Engine, fmt.Sprintf("%s %s sits on engine %s", p.Kind, p.Serial, s.EngineNo)}
	}
	why := r.Note
	if why == "" {
		why = "not given"
	}
	if err := remove(ctx, t, p.stay(*s), r.Day, meter.root, why); err != nil {
		return err
	}
	s.To, s.ToHours = r.Day, meter.hours
	p.Status = "on shelf"
	return nil
}

// placeReading finds the reading's place in the part's life, installing the
// part where the file never said that it went on. Its hours since
// installation come back where no engine tells them.
func (im *historyImport) placeReading(ctx context.Context, t *tx, r *HistoryRow, p *importPart, e *Engine, meter meterAt) (*wear.Hours, error) {
	if e == nil {
		if r.PartHours != nil {
			return p.told(r.PartHours), nil
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
			return nil, im.agrees(r, s.Stay)
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
func (im *historyImport) agrees(r *HistoryRow, s wear.Stay) error {
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
