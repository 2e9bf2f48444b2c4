package store

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"barrelbook/wear"
)

// The events of a history row beside the wear events.
const (
	EventReading   = "reading"
	EventInstalled = "installed"
	EventRemoved   = "removed"
)

// HistoryRow is a row of a history file. Engine hours are the engine's total;
// PartHours are hours since installation, for parts whose engine is not
// known. Numbers that need the feature's unit stand as they were written.
type HistoryRow struct {
	Line          int
	Day           wear.Day
	Model, Engine string
	EngineHours   *wear.Hours
	Position      int
	Kind          wear.Kind
	Serial        string
	Event         string // EventReading, EventInstalled, EventRemoved or a wear.Event
	PartHours     *wear.Hours
	Feature       string
	Groove        int
	Station, Axis string
	Value, Unit   string
	GaugeSD       string
	Temperature   *float64
	Note          string
}

// rowFault is a fault of a row at a column.
type rowFault struct{ column, value, reason string }

func (f rowFault) Error() string { return f.column + " " + f.reason }

// faultColumn names the column of a store's field.
var faultColumn = columnNames{"part": "serial", "hours": "engine_hours", "day": "date", "kind": "kind", "model": "engine_model"}.complete("position", "groove", "serial")

// historyImport holds what the rows of one file share.
type historyImport struct {
	report    *ImportReport
	book      Settings
	features  featureIndex
	models    map[string]int64
	engines   map[[2]string]*Engine
	positions map[[2]string]int // highest position the file names
	parts     map[[2]string]*importPart
	made      map[int64]bool // engines that the file brought
	sits      map[slot]*importPart
	mates     map[Place]bool // positions where something was installed
	meters    map[meterKey]meterAt
	sheets    map[sheetKey]int64
	called    map[featureName]*wear.Feature
	read      map[figure]read

	nextReading int64 // id of the next reading
	limits      map[int64]Limits
}

// featureName is what a file calls a feature of a kind of part.
type featureName struct {
	kind wear.Kind
	name string
}

// importPart is a part of the file with where it sits at this point of it.
type importPart struct {
	Part
	stays []Stay
	base  wear.Hours // the part's own hours at installation, where no engine tells them
	seen  wear.Hours // the highest of its own hours so far, for the same
}

// ImportHistory adds the rows of a history file in the order they happened:
// all, or none where one is bad. Unknown engines, parts and installations are
// made and listed. report comes with what reading the file found.
func (b *Book) ImportHistory(ctx context.Context, rows *History, report *ImportReport, dry bool) error {
	report.Kind, report.Rows = "history", report.Rows+rows.Len()
	return b.importTx(ctx, report, dry, func(ctx context.Context, t *tx) error {
		im := &historyImport{report: report, models: map[string]int64{}, engines: map[[2]string]*Engine{}, positions: map[[2]string]int{}, parts: map[[2]string]*importPart{},
			made: map[int64]bool{}, sits: map[slot]*importPart{}, mates: map[Place]bool{}, meters: map[meterKey]meterAt{}, sheets: map[sheetKey]int64{}, called: map[featureName]*wear.Feature{}, read: map[figure]read{}, limits: map[int64]Limits{}}
		var err error
		if im.features, err = findFeatureIndex(ctx, t); err != nil {
			return err
		}
		if im.book, err = findSettings(ctx, t); err != nil {
			return err
		}
		if err := t.QueryRowContext(ctx, "SELECT coalesce(max(id), 0) + 1 FROM reading").Scan(&im.nextReading); err != nil {
			return fmt.Errorf("count readings: %w", err)
		}
		return im.run(ctx, t, rows)
	})
}

func (im *historyImport) run(ctx context.Context, t *tx, h *History) error {
	order := h.order()
	for _, i := range order {
		r := h.At(int(i))
		k := [2]string{strings.ToLower(r.Model), strings.ToLower(r.Engine)}
		im.positions[k] = max(im.positions[k], r.Position)
	}
	isNew, err := freshRows(ctx, t, h, order)
	if err != nil {
		return err
	}
	for place, i := range order {
		if !isNew[place] {
			im.report.Already++
			continue
		}
		r := h.At(int(i))
		if err := im.fault(&r, im.row(ctx, t, &r)); err != nil {
			return fmt.Errorf("line %d: %w", r.Line, err)
		}
	}
	if !im.report.OK() {
		clear(t.touched) // it will be undone
		return nil
	}
	return im.touchMates(ctx, t)
}

// fault puts what is wrong with a row into the report; any other error comes
// back.
func (im *historyImport) fault(r *HistoryRow, err error) error {
	var f rowFault
	var bad Invalid
	switch {
	case err == nil:
	case errors.As(err, &f):
		im.report.Fail(RowError{r.Line, f.column, f.value, f.reason})
	case errors.As(err, &bad):
		for _, b := range bad {
			im.report.Fail(RowError{r.Line, faultColumn[b.Field], r.at(faultColumn[b.Field]), b.Message})
		}
	default:
		return err
	}
	return nil
}

// at is what the row has in a column, for the report.
func (r *HistoryRow) at(column string) string {
	switch column {
	case "serial":
		return r.Serial
	case "position":
		return fmt.Sprint(r.Position)
	case "date":
		return string(r.Day)
	case "engine_hours":
		if r.EngineHours != nil {
			return r.EngineHours.String()
		}
	case "engine_model":
		return r.Model
	case "groove":
		return fmt.Sprint(r.Groove)
	}
	return ""
}

func (im *historyImport) row(ctx context.Context, t *tx, r *HistoryRow) error {
	var engine *Engine
	var meter meterAt
	var err error
	if r.Engine != "" {
		if engine, err = im.engine(ctx, t, r); err != nil {
			return err
		}
		if r.EngineHours == nil {
			return rowFault{"engine_hours", "", "is missing: an engine is named, so its hours are needed"}
		}
		if meter, err = im.meter(ctx, t, engine, r); err != nil {
			return err
		}
	}
	p, err := im.part(ctx, t, r)
	if err != nil {
		return err
	}
	switch r.Event {
	case EventReading:
		return im.reading(ctx, t, r, p, engine, meter)
	case EventInstalled, string(wear.InstalledNew):
		im.report.Events++
		return im.installed(ctx, t, r, p, engine, meter)
	case EventRemoved:
		im.report.Events++
		return im.removed(ctx, t, r, p, engine, meter)
	}
	im.report.Events++
	return im.wearEvent(ctx, t, r, p)
}

func (im *historyImport) engine(ctx context.Context, t *tx, r *HistoryRow) (*Engine, error) {
	k := [2]string{strings.ToLower(r.Model), strings.ToLower(r.Engine)}
	if e := im.engines[k]; e != nil {
		return e, nil
	}
	found, err := list(ctx, t, scanEngine, engineQuery+" WHERE e.serial = ?1 AND (?2 = '' OR m.name = ?2)", r.Engine, r.Model)
	if err != nil {
		return nil, fmt.Errorf("find engine: %w", err)
	}
	switch {
	case len(found) > 1:
		return nil, rowFault{"engine", r.Engine, "stands for several engines: give engine_model too"}
	case len(found) == 1:
		if found[0].Cylinders < im.positions[k] && found[0].Arrangement != "" {
			break // its description decides; the row's own check refuses the position
		}
	case r.Model == "":
		return nil, rowFault{"engine_model", "", "is missing, and the book has no engine " + r.Engine}
	default:
		e, err := im.addEngine(ctx, t, r, max(im.positions[k], 1))
		if err != nil {
			return nil, err
		}
		found = []Engine{e}
	}
	im.engines[k] = &found[0]
	return &found[0], nil
}

// model finds the engine model that the file names, making it where the book
// has none.
func (im *historyImport) model(ctx context.Context, t *tx, name string) (int64, error) {
	if id, ok := im.models[name]; ok {
		return id, nil
	}
	id, made, err := ensureModel(ctx, t, name, "", 0)
	if err != nil {
		return 0, err
	}
	if made {
		im.report.Models = append(im.report.Models, name)
	}
	im.models[name] = id
	return id, nil
}

// addEngine makes an engine that the file names; like the others of its model
// where the book has some, else with as many cylinders as the file shows.
func (im *historyImport) addEngine(ctx context.Context, t *tx, r *HistoryRow, cylinders int) (Engine, error) {
	model, err := im.model(ctx, t, r.Model)
	if err != nil {
		return Engine{}, err
	}
	n := NewEngine{Serial: r.Engine, Model: r.Model, Cylinders: cylinders}
	like, err := list(ctx, t, scanEngine, engineQuery+" WHERE e.model_id = ? AND e.arrangement <> '' ORDER BY e.id LIMIT 1", model)
	if err != nil {
		return Engine{}, fmt.Errorf("find engines of model: %w", err)
	}
	if len(like) > 0 {
		n.Arrangement, n.Cylinders, n.MasterRod = like[0].Arrangement, like[0].Cylinders, like[0].MasterRod
	}
	id, err := addEngine(ctx, t, n)
	if err != nil {
		return Engine{}, err
	}
	im.made[id] = true
	im.report.Engines = append(im.report.Engines, r.Model+" "+r.Engine)
	return findEngine(ctx, t, id)
}

// meterKey is a moment of an engine as a row gives it.
type meterKey struct {
	engine int64
	day    wear.Day
	hours  wear.Hours
}

// meterAt is a meter entry in force.
type meterAt struct {
	root  int64
	hours wear.Hours // the engine's, in total
}

// meter finds or makes the meter entry of a row; the file's engine hours are
// totals, so what the meter showed is that less the offset.
func (im *historyImport) meter(ctx context.Context, t *tx, e *Engine, r *HistoryRow) (meterAt, error) {
	k := meterKey{e.ID, r.Day, *r.EngineHours}
	if m, ok := im.meters[k]; ok {
		return m, nil
	}
	offset, err := offsetOn(ctx, t, e.ID, r.Day)
	if err != nil {
		return meterAt{}, err
	}
	shows := *r.EngineHours - offset
	if shows < 0 {
		shows = *r.EngineHours
	}
	root, err := addMeter(ctx, t, e.ID, r.Day, shows)
	if err != nil {
		return meterAt{}, err
	}
	im.meters[k] = meterAt{root, shows + offset}
	return im.meters[k], nil
}

func (im *historyImport) part(ctx context.Context, t *tx, r *HistoryRow) (*importPart, error) {
	k := [2]string{string(r.Kind), strings.ToLower(r.Serial)}
	if p := im.parts[k]; p != nil {
		return p, nil
	}
	found, err := partsNamed(ctx, t, r.Kind, r.Serial)
	if err != nil {
		return nil, err
	}
	if len(found) > 1 {
		return nil, rowFault{"serial", r.Serial, fmt.Sprintf("stands for %d parts with different part numbers: enter these readings on the part's page", len(found))}
	}
	p := &importPart{}
	if len(found) == 1 {
		p.Part = found[0]
		if p.stays, err = findStays(ctx, t, "s.part_id = ? AND s.void = ''", p.ID); err != nil {
			return nil, err
		}
		err = t.QueryRowContext(ctx, "SELECT coalesce(max(at_hours), 0) FROM mark WHERE part_id = ? AND event = ?", p.ID, wear.InstalledNew).Scan(&p.base)
		if err != nil {
			return nil, fmt.Errorf("read wear events: %w", err)
		}
		p.seen = p.base
	} else if p.Part, err = im.addPart(ctx, t, r); err != nil {
		return nil, err
	}
	im.parts[k] = p
	return p, nil
}

func (im *historyImport) addPart(ctx context.Context, t *tx, r *HistoryRow) (Part, error) {
	p := Part{Kind: r.Kind, Serial: r.Serial, Source: "serviceable used", Status: "on shelf"}
	if r.Event == string(wear.InstalledNew) {
		p.Source = "new"
	}
	if r.Kind == wear.Ring {
		p.Groove = r.Groove
	}
	if r.Event == EventReading && r.Engine != "" && r.PartHours != nil {
		p.HoursBefore = *r.PartHours // it ran before the file begins
	}
	if r.Model != "" {
		model, err := im.model(ctx, t, r.Model)
		if err != nil {
			return p, err
		}
		p.ModelID = model
	}
	var err error
	if p.ID, err = addPart(ctx, t, p); err != nil {
		return p, err
	}
	im.report.Parts = append(im.report.Parts, fmt.Sprintf("%s %s", p.Kind, p.Serial))
	return p, nil
}
