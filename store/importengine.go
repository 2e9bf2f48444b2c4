package store

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/wear"
)

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
		if err := im.widen(ctx, t, &found[0], im.positions[k]); err != nil {
			return nil, err
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

// widen gives an engine that an import made, and nobody has described since,
// the cylinders that this file shows. Where a person did, that decides, and
// the row's own check refuses the position.
func (im *historyImport) widen(ctx context.Context, t *tx, e *Engine, cylinders int) error {
	if e.Arrangement != "" || cylinders <= e.Cylinders {
		return nil
	}
	if _, err := t.ExecContext(ctx, "UPDATE engine SET cylinders = ? WHERE id = ?", cylinders, e.ID); err != nil {
		return fmt.Errorf("widen engine: %w", err)
	}
	e.Cylinders = cylinders
	return nil
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
	m, err := readMeter(ctx, t, e.ID, r.Day, func(offset wear.Hours) wear.Hours { return *r.EngineHours - offset })
	if err != nil {
		return meterAt{}, err
	}
	im.meters[k] = meterAt{m.Root, m.Hours}
	return im.meters[k], nil
}
