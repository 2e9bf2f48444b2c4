package store

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/wear"
)

// ensureFeatures puts the built-in features into a book that lacks them.
func ensureFeatures(ctx context.Context, t *tx) error {
	for _, f := range wear.BuiltIn {
		_, err := t.ExecContext(ctx, `INSERT INTO feature (kind, name, dim, unit, wear, built_in, saved_at) SELECT ?1, ?2, ?3, '', ?4, 1, ?5
			WHERE NOT EXISTS (SELECT 1 FROM feature WHERE kind = ?1 AND name = ?2)`, f.Kind, f.Name, f.Dim, f.Wear, t.at)
		if err != nil {
			return fmt.Errorf("add feature %s: %w", f.Name, err)
		}
	}
	return nil
}

// Features lists what can be measured, built-in ones first, a kind after the
// other.
func (b *Book) Features(ctx context.Context) ([]wear.Feature, error) {
	return findFeatures(ctx, b.read)
}

func findFeatures(ctx context.Context, q querier) ([]wear.Feature, error) {
	fs, err := list(ctx, q, scanFeature, `SELECT id, kind, name, dim, unit, wear, built_in FROM feature
		ORDER BY CASE kind WHEN 'cylinder' THEN 1 WHEN 'piston' THEN 2 WHEN 'ring' THEN 3 ELSE 4 END, built_in DESC, id`)
	if err != nil {
		return nil, fmt.Errorf("list features: %w", err)
	}
	return fs, nil
}

// scanFeature adds to a built-in feature what only the program knows of it.
func scanFeature(r scanner, f *wear.Feature) error {
	if err := r.Scan(&f.ID, &f.Kind, &f.Name, &f.Dim, &f.Unit, &f.Wear, &f.BuiltIn); err != nil || !f.BuiltIn {
		return err
	}
	for _, known := range wear.BuiltIn {
		if known.Kind == f.Kind && known.Name == f.Name {
			id := f.ID
			*f = known
			f.ID, f.BuiltIn = id, true
		}
	}
	return nil
}

// featureIndex finds features by id and by name.
type featureIndex struct {
	all  []wear.Feature
	byID map[int64]*wear.Feature
}

func findFeatureIndex(ctx context.Context, q querier) (featureIndex, error) {
	all, err := findFeatures(ctx, q)
	x := featureIndex{all: all, byID: map[int64]*wear.Feature{}}
	for i := range all {
		x.byID[all[i].ID] = &all[i]
	}
	return x, err
}

func (x featureIndex) called(kind wear.Kind, name string) *wear.Feature {
	for i := range x.all {
		if x.all[i].Kind == kind && x.all[i].Called(name) {
			return &x.all[i]
		}
	}
	return nil
}

func (x featureIndex) names(kind wear.Kind) string {
	var names []string
	for _, f := range x.all {
		if f.Kind == kind {
			names = append(names, f.Name)
		}
	}
	return strings.Join(names, ", ")
}

// AddFeature adds a feature of the shop's own and returns its id.
func (b *Book) AddFeature(ctx context.Context, f wear.Feature) (id int64, err error) {
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		id, err = addFeature(ctx, t, f)
		return err
	})
	return id, err
}

func addFeature(ctx context.Context, t *tx, f wear.Feature) (int64, error) {
	f.Name = strings.TrimSpace(f.Name)
	bad := tooLong(MostName, "name", f.Name, "unit", f.Unit)
	if f.Name == "" {
		bad = append(bad, FieldError{Field: "name", Message: "give the feature a name"})
	}
	if _, ok := wear.ParseKind(string(f.Kind)); !ok {
		bad = append(bad, FieldError{Field: "kind", Message: "choose cylinder, piston, ring or pin"})
	}
	unit, err := wear.UnitNamed(f.Unit)
	if err != nil {
		bad = append(bad, FieldError{Field: "unit", Message: "give the unit it is measured in"})
	}
	if _, ok := wear.ParseDirection(string(f.Wear)); !ok {
		bad = append(bad, FieldError{Field: "wear", Message: "say which way it goes as the part wears: up or down"})
	}
	known, err := findFeatureIndex(ctx, t)
	if err != nil {
		return 0, err
	}
	if other := known.called(f.Kind, f.Name); other != nil && len(bad) == 0 {
		bad = append(bad, FieldError{Field: "name", Message: fmt.Sprintf("a %s already has a feature called %s", f.Kind, other.Name)})
	}
	if len(bad) > 0 {
		return 0, bad
	}
	id, err := t.insert(ctx, "INSERT INTO feature (kind, name, dim, unit, wear, saved_at) VALUES (?, ?, ?, ?, ?, ?)",
		f.Kind, f.Name, unit.Dim, unit.Name, f.Wear, t.at)
	if err != nil {
		return 0, fmt.Errorf("add feature: %w", err)
	}
	return id, nil
}

// UnitFor is the unit a feature is written in: its own if it has one, else
// the book's for lengths, grams for mass, newtons for force.
func UnitFor(f wear.Feature, book wear.Unit) wear.Unit {
	if f.Unit != "" {
		if u, err := wear.UnitNamed(f.Unit); err == nil {
			return u
		}
	}
	switch f.Dim {
	case wear.Length:
		return book
	case wear.Mass:
		return wear.Gram
	}
	return wear.Newton
}
