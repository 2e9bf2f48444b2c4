package store

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/wear"
)

// LeakRule is one version of the maker's own rule for the leak test of an
// engine model, as the shop typed it from its own manual. Nil bounds are not
// given.
type LeakRule struct {
	ID, Model                int64
	Minimum                  *wear.PSI
	MaxLoss                  *int        // tenths of a percent of the input
	Orifice                  *wear.Value // it holds for, nil for any
	Unit                     wear.Unit   // of the orifice, as it was typed
	Regulated                *wear.PSI   // it holds for, nil for any
	Document, Revision, Page string
	SavedAt                  string
}

// Rule is the rule as package wear takes it.
func (l LeakRule) Rule() *wear.LeakRule {
	r := &wear.LeakRule{Document: l.Document}
	for _, more := range [][2]string{{"rev. ", l.Revision}, {"p. ", l.Page}} {
		if more[1] != "" {
			r.Document += ", " + more[0] + more[1]
		}
	}
	if l.Minimum != nil {
		r.Minimum = *l.Minimum
	}
	if l.MaxLoss != nil {
		r.MaxLoss = *l.MaxLoss
	}
	if l.Orifice != nil {
		r.Orifice = *l.Orifice
	}
	if l.Regulated != nil {
		r.Regulated = *l.Regulated
	}
	return r
}

// LeakRules lists every version of the rule of a model, the one in force
// first; none where the shop typed none.
func (b *Book) LeakRules(ctx context.Context, model int64) ([]LeakRule, error) {
	ls, err := list(ctx, b.read, func(r scanner, l *LeakRule) error {
		var unit string
		if err := r.Scan(&l.ID, &l.Model, &l.Minimum, &l.MaxLoss, &l.Orifice, &unit, &l.Regulated, &l.Document, &l.Revision, &l.Page, &l.SavedAt); err != nil {
			return err
		}
		var err error
		l.Unit, err = wear.UnitNamed(unit)
		return err
	}, "SELECT id, model_id, minimum, max_loss, orifice, unit, regulated, document, revision, page, saved_at FROM leak_rule WHERE model_id = ? ORDER BY id DESC", model)
	if err != nil {
		return nil, fmt.Errorf("list leak rules: %w", err)
	}
	return ls, nil
}

// AddLeakRule types a new version of a model's rule.
func (b *Book) AddLeakRule(ctx context.Context, l LeakRule) error {
	if err := l.Check(); err != nil {
		return err
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if _, err := findModel(ctx, t, l.Model); err != nil {
			return err
		}
		_, err := t.insert(ctx, "INSERT INTO leak_rule (model_id, minimum, max_loss, orifice, unit, regulated, document, revision, page, saved_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			l.Model, l.Minimum, l.MaxLoss, l.Orifice, l.Unit.Name, l.Regulated, l.Document, l.Revision, l.Page, t.at)
		if err != nil {
			return fmt.Errorf("add leak rule: %w", err)
		}
		return nil
	})
}

// Check says, as Invalid, all that is wrong with a rule typed by hand.
func (l LeakRule) Check() error {
	var bad Invalid
	add := func(field, message string) { bad = append(bad, FieldError{Field: field, Message: message}) }
	if l.Minimum == nil && l.MaxLoss == nil {
		add("minimum", "give the least reading or the greatest loss, or both")
	}
	if l.Minimum != nil && (*l.Minimum <= 0 || *l.Minimum > 3000) {
		add("minimum", "a least reading above 0, up to 300 psi")
	}
	if l.MaxLoss != nil && (*l.MaxLoss <= 0 || *l.MaxLoss >= 1000) {
		add("max_loss", "a loss above 0 and below 100 %")
	}
	if l.Regulated != nil && (*l.Regulated < 10 || *l.Regulated > 3000) {
		add("regulated", "a regulated pressure from 1 to 300 psi")
	} else if l.Regulated != nil && l.Minimum != nil && *l.Minimum > *l.Regulated {
		add("minimum", "the least reading is above the regulated pressure: no cylinder would pass")
	}
	if l.Orifice != nil && (*l.Orifice < leastOrifice || *l.Orifice > mostOrifice) {
		add("orifice", fmt.Sprintf("%s %s is no orifice of a tester: is the decimal point right?", l.Orifice.Format(l.Unit), l.Unit.Name))
	}
	if l.Minimum != nil && l.Orifice == nil {
		add("orifice", "give the orifice that the least reading is for: the same cylinder reads otherwise through another")
	}
	if strings.TrimSpace(l.Document) == "" {
		add("document", "name the document it was typed from, so that an inspector can find it")
	}
	return bad.orNil()
}
