package store

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/wear"
)

// Gauge is an instrument: its standard deviation, that between people who read
// it and its resolution in base units, and when its calibration is due (empty:
// not kept). Standard deviation and resolution are not both 0, but in books of
// before that was asked: a reading would count as exact. The resolution a alone
// leaves a/√12, JCGM 100 (GUM) 4.3.7 and F.2.2.1.
type Gauge struct {
	ID             int64
	Name           string
	Unit           wear.Unit
	SD, Resolution wear.Value
	OperatorSD     wear.Value // 0 where it is not known
	Due            wear.Day
}

// Overdue reports whether the gauge was past its calibration on a day.
func (g Gauge) Overdue(on wear.Day) bool { return g.Due != "" && g.Due < on }

// Gauges lists the shop's gauges by name.
func (b *Book) Gauges(ctx context.Context) ([]Gauge, error) { return findGauges(ctx, b.read) }

func findGauges(ctx context.Context, q querier) ([]Gauge, error) {
	gs, err := list(ctx, q, func(r scanner, g *Gauge) error {
		var unit string
		if err := r.Scan(&g.ID, &g.Name, &unit, &g.SD, &g.OperatorSD, &g.Resolution, &g.Due); err != nil {
			return err
		}
		var err error
		g.Unit, err = wear.UnitNamed(unit)
		return err
	}, "SELECT id, name, unit, sd, operator_sd, resolution, due FROM gauge ORDER BY name")
	if err != nil {
		return nil, fmt.Errorf("list gauges: %w", err)
	}
	return gs, nil
}

// coarsest bounds the standard deviation and the resolution of a gauge for
// lengths, 0.1 in: nothing that wears is measured with a coarser one.
const coarsest wear.Value = 2_540_000

// SaveGauge adds a gauge, or changes one that has an id: readings keep the
// figures that the gauge had when they were taken.
func (b *Book) SaveGauge(ctx context.Context, g Gauge) (id int64, err error) {
	g.Name = strings.TrimSpace(g.Name)
	bad := tooLong(MostName, "name", g.Name)
	if g.Name == "" {
		bad = append(bad, FieldError{Field: "name", Message: "give the gauge a name or number"})
	}
	for _, x := range []struct {
		field string
		v     wear.Value
	}{{"sd", g.SD}, {"resolution", g.Resolution}} {
		if x.v < 0 {
			bad = append(bad, FieldError{Field: x.field, Message: "may not be negative"})
		}
		if g.Unit.Dim == wear.Length && x.v > coarsest {
			bad = append(bad, FieldError{Field: x.field, Message: "above 0.1 in: is the decimal point right?"})
		}
	}
	if g.SD == 0 && g.Resolution == 0 {
		bad = append(bad, FieldError{Field: "sd", Message: "no gauge repeats perfectly: give how far one reading strays, or the resolution where ten readings of one part do not differ"})
	}
	if g.OperatorSD < 0 {
		bad = append(bad, FieldError{Field: "operator_sd", Message: "a standard deviation may not be negative"})
	}
	if len(bad) > 0 {
		return 0, bad
	}
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		if g.ID != 0 {
			id = g.ID
			_, err = t.ExecContext(ctx, "UPDATE gauge SET name = ?, unit = ?, sd = ?, operator_sd = ?, resolution = ?, due = ?, saved_at = ? WHERE id = ?",
				g.Name, g.Unit.Name, g.SD, g.OperatorSD, g.Resolution, g.Due, t.at, g.ID)
		} else {
			id, err = t.insert(ctx, "INSERT INTO gauge (name, unit, sd, operator_sd, resolution, due, saved_at) VALUES (?, ?, ?, ?, ?, ?, ?)",
				g.Name, g.Unit.Name, g.SD, g.OperatorSD, g.Resolution, g.Due, t.at)
		}
		if isUnique(err) {
			return invalid("name", "there is already a gauge called %s", g.Name)
		}
		if err != nil {
			return fmt.Errorf("save gauge: %w", err)
		}
		return nil
	})
	return id, err
}
