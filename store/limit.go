package store

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/wear"
)

// LimitRow is one version of a line of the maker's table of limits, as the
// shop typed it from its own manual.
type LimitRow struct {
	ID       int64
	Model    int64
	Feature  int64
	Groove   int
	Ref      string // the maker's reference number of the line
	Unit     wear.Unit
	Document string
	Revision string
	Page     string
	SavedAt  string
	wear.Limit
}

const limitColumns = "l.id, l.model_id, l.feature_id, l.groove, l.ref, l.new_min, l.new_max, l.service_min, l.service_max, l.unit, l.wear, l.life, l.document, l.revision, l.page, l.saved_at"

func scanLimit(r scanner, l *LimitRow) error {
	var unit string
	if err := r.Scan(&l.ID, &l.Model, &l.Feature, &l.Groove, &l.Ref, &l.NewMin, &l.NewMax, &l.ServiceMin, &l.ServiceMax, &unit, &l.Wear, &l.Life,
		&l.Document, &l.Revision, &l.Page, &l.SavedAt); err != nil {
		return err
	}
	var err error
	l.Unit, err = wear.UnitNamed(unit)
	return err
}

// Limits are the lines of a model's table in force, to look up by feature and
// groove.
type Limits struct {
	Rows []LimitRow
	byID map[limitKey]*LimitRow
}

type limitKey struct {
	feature int64
	groove  int
}

// For finds the line of a feature in a groove, else the line that serves all
// grooves; nil where there is none.
func (ls Limits) For(feature int64, groove int) *LimitRow {
	if l := ls.byID[limitKey{feature, groove}]; l != nil {
		return l
	}
	return ls.byID[limitKey{feature, 0}]
}

// LimitsOf reads the limits of a model in force; as of the given moment (the
// SavedAt of what was judged) when that is not empty.
func (b *Book) LimitsOf(ctx context.Context, model int64, asOf string) (Limits, error) {
	return findLimits(ctx, b.read, model, asOf)
}

func findLimits(ctx context.Context, q querier, model int64, asOf string) (Limits, error) {
	rows, err := list(ctx, q, scanLimit, "SELECT "+limitColumns+` FROM limit_row l JOIN feature f ON f.id = l.feature_id
		WHERE l.model_id = ?1 AND (?2 = '' OR l.saved_at <= ?2)
		AND NOT EXISTS (SELECT 1 FROM limit_row n WHERE n.model_id = l.model_id AND n.feature_id = l.feature_id AND n.groove = l.groove AND n.id > l.id AND (?2 = '' OR n.saved_at <= ?2))
		ORDER BY CASE f.kind WHEN 'cylinder' THEN 1 WHEN 'piston' THEN 2 WHEN 'ring' THEN 3 ELSE 4 END, f.id, l.groove`, model, asOf)
	if err != nil {
		return Limits{}, fmt.Errorf("list limits: %w", err)
	}
	ls := Limits{Rows: rows, byID: map[limitKey]*LimitRow{}}
	for i, r := range rows {
		ls.byID[limitKey{r.Feature, r.Groove}] = &rows[i]
	}
	return ls, nil
}

// LimitHistory lists every version of the line that a limit belongs to,
// newest first.
func (b *Book) LimitHistory(ctx context.Context, id int64) ([]LimitRow, error) {
	rows, err := list(ctx, b.read, scanLimit, "SELECT "+limitColumns+` FROM limit_row l JOIN limit_row me ON me.id = ?
		WHERE l.model_id = me.model_id AND l.feature_id = me.feature_id AND l.groove = me.groove ORDER BY l.id DESC`, id)
	if err == nil && len(rows) == 0 {
		err = ErrNotFound
	}
	if err != nil {
		return nil, fmt.Errorf("list limit versions: %w", err)
	}
	return rows, nil
}

// AddLimit types a new version of a line; every part of the model is judged
// anew.
func (b *Book) AddLimit(ctx context.Context, l LimitRow) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if err := checkLimit(ctx, t, l); err != nil {
			return err
		}
		if _, err := findModel(ctx, t, l.Model); err != nil {
			return err
		}
		if err := addLimit(ctx, t, l); err != nil {
			return err
		}
		return touchModel(ctx, t, l.Model)
	})
}

// CheckLimit says, as Invalid, all that is wrong with a line typed by hand,
// without saving it.
func (b *Book) CheckLimit(ctx context.Context, l LimitRow) error { return checkLimit(ctx, b.read, l) }

func checkLimit(ctx context.Context, q querier, l LimitRow) error {
	x, err := findFeatureIndex(ctx, q)
	if err != nil {
		return err
	}
	var bad Invalid
	if strings.TrimSpace(l.Document) == "" {
		bad = append(bad, FieldError{Field: "document", Message: "name the document it was typed from, so that an inspector can find it"})
	}
	return append(bad, l.check(x.byID[l.Feature])...).orNil()
}

func (l LimitRow) check(f *wear.Feature) Invalid {
	bad := append(tooLong(MostName, "ref", l.Ref, "revision", l.Revision, "page", l.Page), tooLong(mostText, "document", l.Document)...)
	add := func(field, message string) { bad = append(bad, FieldError{Field: field, Message: message}) }
	if f == nil {
		return invalid("feature", "choose what the limit is for")
	}
	if _, ok := wear.ParseDirection(string(l.Wear)); !ok {
		add("wear", "say which way it goes as the part wears")
	}
	if l.Unit.Dim != f.Dim {
		add("unit", fmt.Sprintf("%s is a %s: %s does not measure that", f.Name, f.Dim, l.Unit.Name))
	}
	for _, x := range []struct {
		field string
		v     *wear.Value
	}{{"new_min", l.NewMin}, {"new_max", l.NewMax}, {"service_min", l.ServiceMin}, {"service_max", l.ServiceMax}} {
		if x.v != nil {
			if message := f.Outside(*x.v, l.Unit); message != "" {
				add(x.field, message)
			}
		}
	}
	if l.NewMin == nil && l.NewMax == nil && l.ServiceMin == nil && l.ServiceMax == nil {
		add("new_min", "give at least one limit")
	}
	if l.NewMin != nil && l.NewMax != nil && *l.NewMin > *l.NewMax {
		add("new_max", "the new maximum is below the new minimum")
	}
	if l.ServiceMin != nil && l.ServiceMax != nil && *l.ServiceMin > *l.ServiceMax {
		add("service_max", "the service maximum is below the service minimum")
	}
	if l.ServiceMax != nil && l.NewMax != nil && *l.ServiceMax < *l.NewMax {
		add("service_max", "the service maximum is below the new maximum: new parts would be beyond it")
	}
	if l.ServiceMin != nil && l.NewMin != nil && *l.ServiceMin > *l.NewMin {
		add("service_min", "the service minimum is above the new minimum: new parts would be beyond it")
	}
	switch {
	case l.Wear == wear.Up && l.ServiceMin != nil && l.ServiceMax == nil:
		add("service_max", "it grows as it wears, so the service limit is a maximum")
	case l.Wear == wear.Down && l.ServiceMax != nil && l.ServiceMin == nil:
		add("service_min", "it shrinks as it wears, so the service limit is a minimum")
	}
	if l.Groove != 0 && !f.Groove && f.Kind != wear.Ring || l.Groove < 0 || l.Groove > 8 {
		add("groove", fmt.Sprintf("%s is not measured by groove", f.Name))
	}
	return bad
}

func addLimit(ctx context.Context, t *tx, l LimitRow) error {
	x, err := findFeatureIndex(ctx, t)
	if err != nil {
		return err
	}
	if err := l.check(x.byID[l.Feature]).orNil(); err != nil {
		return err
	}
	_, err = t.insert(ctx, `INSERT INTO limit_row (model_id, feature_id, groove, ref, new_min, new_max, service_min, service_max, unit, wear, life, document, revision, page, saved_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, l.Model, l.Feature, l.Groove, l.Ref, l.NewMin, l.NewMax, l.ServiceMin, l.ServiceMax, l.Unit.Name, l.Wear, l.Life,
		l.Document, l.Revision, l.Page, t.at)
	if err != nil {
		return fmt.Errorf("add limit: %w", err)
	}
	return nil
}

// touchModel touches every part that was measured and is held against the
// limits of a model: its own, or that of the engine it last sat on.
func touchModel(ctx context.Context, t *tx, model int64) error {
	ids, err := list(ctx, t, func(r scanner, id *int64) error { return r.Scan(id) }, `SELECT p.id FROM part p WHERE p.last_day <> '' AND ?1 = coalesce(p.model_id,
		(SELECT e.model_id FROM stay s JOIN engine e ON e.id = s.engine_id JOIN meter_now f ON f.root = s.from_meter WHERE s.part_id = p.id AND s.void = '' ORDER BY s.from_day DESC, f.hours DESC, s.id DESC LIMIT 1))`, model)
	if err != nil {
		return fmt.Errorf("list parts of model: %w", err)
	}
	t.touch(ids...)
	return nil
}
