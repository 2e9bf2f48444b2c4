package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

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

	head uint32 // number of its head in a History
}

// rowFault is a fault of a row at a column.
type rowFault struct{ column, value, reason string }

func (f rowFault) Error() string { return f.column + " " + f.reason }

// faultColumn names the column of a store's field.
var faultColumn = columnNames{"part": "serial", "hours": "engine_hours", "day": "date", "kind": "kind", "model": "engine_model", "oversize": "value"}.complete("position", "groove", "serial", "event")

// historyImport holds what the rows of one file share.
type historyImport struct {
	report    *ImportReport
	book      Settings
	latest    wear.Day // rows of a later day are refused
	features  featureIndex
	models    map[string]int64
	engines   map[[2]string]*Engine
	positions map[[2]string]int // highest position the file names
	parts     map[[2]string]*importPart
	made      map[int64]bool // engines that the file brought
	sits      map[slot]*importPart
	mates     map[Place]bool // positions where something was installed
	meters    map[meterKey]meterAt
	heads     map[uint32]headAt
	sheets    map[sheetKey]int64
	called    map[featureName]*wear.Feature
	limits    map[int64]Limits // by model
	read      map[figure]read

	nextReading int64 // id of the next reading
	pending     []any // readings not yet inserted
	inserting   behind
	noParts     bool // the book had none before the file
}

// featureName is what a file calls a feature of a kind of part.
type featureName struct {
	kind wear.Kind
	name string
}

// History adds the rows of a history file in the order they happened: all, or
// none where one is bad. Unknown engines, parts and installations are
// made and listed. report comes with what reading the file found.
func (i Importer) History(ctx context.Context, rows *History, report *ImportReport) error {
	report.Kind, report.Rows = "history", report.Rows+rows.Len()
	return i.file(ctx, report, func(ctx context.Context, t *tx) error {
		im := &historyImport{report: report, latest: wear.Day(i.book.now().AddDate(0, 0, 1).Format(time.DateOnly)), models: map[string]int64{}, engines: map[[2]string]*Engine{}, positions: map[[2]string]int{}, parts: map[[2]string]*importPart{},
			made: map[int64]bool{}, sits: map[slot]*importPart{}, mates: map[Place]bool{}, meters: map[meterKey]meterAt{}, heads: map[uint32]headAt{}, sheets: map[sheetKey]int64{}, called: map[featureName]*wear.Feature{}, limits: map[int64]Limits{}, read: map[figure]read{}}
		var err error
		if im.features, err = findFeatureIndex(ctx, t); err != nil {
			return err
		}
		if im.book, err = findSettings(ctx, t); err != nil {
			return err
		}
		if err := t.QueryRowContext(ctx, "SELECT (SELECT coalesce(max(id), 0) + 1 FROM reading), NOT EXISTS (SELECT 1 FROM part)").Scan(&im.nextReading, &im.noParts); err != nil {
			return fmt.Errorf("count readings: %w", err)
		}
		return errors.Join(im.run(ctx, t, rows), im.inserting.wait())
	})
}

func (im *historyImport) run(ctx context.Context, t *tx, h *History) error {
	order := h.order()
	for _, head := range h.heads.all {
		k := [2]string{strings.ToLower(h.texts.of(head.model)), strings.ToLower(h.texts.of(head.engine))}
		im.positions[k] = max(im.positions[k], int(head.position))
	}
	isNew, err := freshRows(ctx, t, h, order, im.noParts)
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
	if err := errors.Join(im.flush(ctx, t, 1), im.inserting.wait()); err != nil {
		return err
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
	case "event":
		return r.Event
	case "value":
		return r.Value
	}
	return ""
}

// headAt is the engine of a row's head, and its meter then.
type headAt struct {
	engine *Engine
	meter  meterAt
}

// moment finds or makes the engine that a row names, nil where it names none,
// and the meter entry of its hours.
func (im *historyImport) moment(ctx context.Context, t *tx, r *HistoryRow) (*Engine, meterAt, error) {
	if r.Engine == "" {
		return nil, meterAt{}, nil
	}
	if at, ok := im.heads[r.head]; ok {
		return at.engine, at.meter, nil
	}
	engine, err := im.engine(ctx, t, r)
	if err != nil {
		return nil, meterAt{}, err
	}
	if r.EngineHours == nil {
		return nil, meterAt{}, rowFault{"engine_hours", "", "is missing: an engine is named, so its hours are needed"}
	}
	meter, err := im.meter(ctx, t, engine, r)
	if err == nil {
		im.heads[r.head] = headAt{engine, meter}
	}
	return engine, meter, err
}

func (im *historyImport) row(ctx context.Context, t *tx, r *HistoryRow) error {
	if r.Day > im.latest {
		return rowFault{"date", string(r.Day), "lies in the future"}
	}
	engine, meter, err := im.moment(ctx, t, r)
	if err != nil {
		return err
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
