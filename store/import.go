package store

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"barrelbook/wear"
)

// RowError is what is wrong with one row of a file, at a column.
type RowError struct {
	Line                  int
	Column, Value, Reason string
}

// mostRowErrors is how many bad rows a report lists; all are counted.
const mostRowErrors = 500

// ImportReport says what an import did, or on a dry run would do. A file with
// a bad row changed nothing.
type ImportReport struct {
	Kind          string // history or limits
	Rows          int
	Readings      int
	Events        int // installations, removals and wear events
	Limits        int
	Already       int // rows the book had
	Engines       []string
	Parts         []string
	Installations []string // not in the file, but needed by its readings
	Features      []string
	Models        []string
	Errors        []RowError
	BadRows       int

	lastBad int // line of the latest bad row
}

// OK reports whether every row was good.
func (r ImportReport) OK() bool { return r.BadRows == 0 }

// Fail notes a bad row.
func (r *ImportReport) Fail(e RowError) {
	if e.Line != r.lastBad {
		r.BadRows, r.lastBad = r.BadRows+1, e.Line // one row, however many faults
	}
	if len(r.Errors) < mostRowErrors {
		r.Errors = append(r.Errors, e)
	}
}

// Importer takes files one after the other, each whole or not at all: into the
// book, or on trial.
type Importer struct {
	book  *Book
	trial *tx // nil where the files are kept
}

// Import lets do bring files into the book, then judges all that they changed,
// on all cores. What do brought is in the book before it is judged.
func (b *Book) Import(ctx context.Context, do func(Importer) error) error {
	err := do(Importer{book: b})
	_, refused := b.refreshStale(ctx, runtime.GOMAXPROCS(0))
	return errors.Join(err, refused)
}

// errTrial undoes all that was imported on trial.
var errTrial = errors.New("on trial")

// TryImport lets do import files on trial: each file finds what the good ones
// before it brought, and in the end nothing is kept.
func (b *Book) TryImport(ctx context.Context, do func(Importer) error) error {
	err := b.tx(ctx, func(ctx context.Context, t *tx) error {
		if err := do(Importer{b, t}); err != nil {
			return err
		}
		return errTrial
	})
	if errors.Is(err, errTrial) {
		return nil
	}
	return err
}

// errBadRows undoes a file with a bad row.
var errBadRows = errors.New("bad rows")

// file imports one file and undoes it where a row is bad.
func (i Importer) file(ctx context.Context, report *ImportReport, do func(ctx context.Context, t *tx) error) error {
	err := i.keep(ctx, func(ctx context.Context, t *tx) error {
		if err := do(ctx, t); err != nil {
			return err
		}
		if !report.OK() {
			return errBadRows
		}
		return nil
	})
	slices.SortStableFunc(report.Errors, func(a, b RowError) int { return cmp.Compare(a.Line, b.Line) })
	if err != nil && !errors.Is(err, errBadRows) {
		return fmt.Errorf("import %s: %w", report.Kind, err)
	}
	return nil
}

func (i Importer) keep(ctx context.Context, do func(ctx context.Context, t *tx) error) error {
	if i.trial != nil {
		return i.trial.within(ctx, do)
	}
	return i.book.tx(ctx, do)
}

// within runs a part of the transaction that is undone by itself when it
// fails. Nothing is summarised.
func (t *tx) within(ctx context.Context, do func(ctx context.Context, t *tx) error) error {
	if _, err := t.ExecContext(ctx, "SAVEPOINT part"); err != nil {
		return err
	}
	failed := do(ctx, t)
	clear(t.touched)
	if failed != nil {
		if _, err := t.ExecContext(ctx, "ROLLBACK TO part"); err != nil {
			return errors.Join(failed, err)
		}
	}
	_, err := t.ExecContext(ctx, "RELEASE part")
	return errors.Join(failed, err)
}

// rowHash is what a row said, in 16 bytes; nth tells equal rows of one file
// apart, which are repeated measurements.
func rowHash(nth int, fields ...string) []byte {
	h := sha256.New()
	for _, f := range fields {
		h.Write([]byte(f))
		h.Write([]byte{0})
	}
	h.Write(strconv.AppendInt(nil, int64(nth), 10))
	return h.Sum(nil)[:16]
}

// fresh notes a row as imported; false where the book had it already.
func fresh(ctx context.Context, t *tx, hash []byte) (bool, error) {
	s, err := t.prepared(ctx, "INSERT INTO imported (hash) VALUES (?) ON CONFLICT DO NOTHING")
	if err != nil {
		return false, err
	}
	res, err := s.ExecContext(ctx, hash)
	if err != nil {
		return false, fmt.Errorf("note row: %w", err)
	}
	n, err := res.RowsAffected()
	return n == 1, err
}

// LimitsRow is a row of a limits file: text as it stands, numbers unread.
type LimitsRow struct {
	Line                                   int
	Model, Kind, Feature, Groove, Ref      string
	NewMin, NewMax, ServiceMin, ServiceMax string
	Unit, Wear, Life                       string
	Document, Revision, Page               string
}

func (r LimitsRow) fields() []string {
	return []string{"limits", r.Model, r.Kind, r.Feature, r.Groove, r.Ref, r.NewMin, r.NewMax, r.ServiceMin, r.ServiceMax, r.Unit, r.Wear, r.Life, r.Document, r.Revision, r.Page}
}

// Limits adds the rows of a limits file: all, or none where one is bad. report
// comes with what reading the file found.
func (i Importer) Limits(ctx context.Context, rows []LimitsRow, report *ImportReport) error {
	report.Kind, report.Rows = "limits", report.Rows+len(rows)
	return i.file(ctx, report, func(ctx context.Context, t *tx) error {
		seen := map[string]int{}
		models := map[int64]bool{}
		for _, r := range rows {
			said := strings.Join(r.fields(), "\x00")
			seen[said]++
			isNew, err := fresh(ctx, t, rowHash(seen[said], said))
			if err != nil {
				return err
			}
			if !isNew {
				report.Already++
				continue
			}
			model, err := importLimit(ctx, t, r, report)
			if err != nil {
				return err
			}
			models[model] = true
		}
		for m := range models {
			if err := touchModel(ctx, t, m); err != nil {
				return err
			}
		}
		return nil
	})
}

// importLimit adds one row and returns its model; what is wrong with the row
// goes into the report.
func importLimit(ctx context.Context, t *tx, r LimitsRow, report *ImportReport) (int64, error) {
	failed := false
	fail := func(column, value, reason string) {
		failed = true
		report.Fail(RowError{r.Line, column, value, reason})
	}
	kind, ok := wear.ParseKind(r.Kind)
	if !ok {
		fail("kind", r.Kind, "is none of cylinder, piston, ring, pin")
	}
	unit, err := wear.UnitNamed(r.Unit)
	if err != nil {
		fail("unit", r.Unit, "the unit is missing")
	}
	direction, ok := wear.ParseDirection(r.Wear)
	if !ok {
		fail("wear", r.Wear, "is neither up nor down")
	}
	if strings.TrimSpace(r.Model) == "" {
		fail("engine_model", r.Model, "the engine model is missing")
	}
	if strings.TrimSpace(r.Feature) == "" {
		fail("feature", r.Feature, "the feature is missing")
	}
	l := LimitRow{Ref: r.Ref, Unit: unit, Document: r.Document, Revision: r.Revision, Page: r.Page, Limit: wear.Limit{Wear: direction}}
	if l.Groove, err = smallNumber(r.Groove, 8); err != nil {
		fail("groove", r.Groove, err.Error())
	}
	if r.Life != "" {
		if l.Life, err = wear.ParseHours(r.Life); err != nil {
			fail("overhaul_hours", r.Life, err.Error())
		}
	}
	for _, bound := range []struct {
		column, text string
		to           **wear.Value
	}{{"new_min", r.NewMin, &l.NewMin}, {"new_max", r.NewMax, &l.NewMax}, {"service_min", r.ServiceMin, &l.ServiceMin}, {"service_max", r.ServiceMax, &l.ServiceMax}} {
		if bound.text == "" || unit.Name == "" {
			continue
		}
		v, err := wear.ParseValue(bound.text, unit)
		if err != nil {
			fail(bound.column, bound.text, err.Error())
			continue
		}
		*bound.to = &v
	}
	if failed {
		return 0, nil
	}
	var made bool
	if l.Model, made, err = ensureModel(ctx, t, r.Model, "", 0); err != nil {
		return 0, err
	}
	if made {
		report.Models = append(report.Models, r.Model)
	}
	if l.Feature, err = ensureFeature(ctx, t, kind, r.Feature, unit, direction, report); err == nil {
		err = addLimit(ctx, t, l)
	}
	var bad Invalid
	if errors.As(err, &bad) {
		for _, f := range bad {
			fail(limitColumn[f.Field], "", f.Message)
		}
		return 0, nil
	}
	report.Limits++
	return l.Model, err
}

// limitColumn names the column of a field where the two differ.
var limitColumn = columnNames{"life": "overhaul_hours", "name": "feature"}.complete("new_min", "new_max", "service_min", "service_max", "unit", "wear", "groove", "document", "feature", "kind")

type columnNames map[string]string

func (c columnNames) complete(same ...string) columnNames {
	for _, s := range same {
		c[s] = s
	}
	return c
}

func ensureFeature(ctx context.Context, t *tx, kind wear.Kind, name string, unit wear.Unit, direction wear.Direction, report *ImportReport) (int64, error) {
	x, err := findFeatureIndex(ctx, t)
	if err != nil {
		return 0, err
	}
	if f := x.called(kind, name); f != nil {
		return f.ID, nil
	}
	id, err := addFeature(ctx, t, wear.Feature{Kind: kind, Name: name, Unit: unit.Name, Wear: direction})
	if err == nil {
		report.Features = append(report.Features, fmt.Sprintf("%s %s (%s, wears %s)", kind, name, unit.Name, direction))
	}
	return id, err
}

// smallNumber reads a whole number from 0 to most; "" is 0.
func smallNumber(text string, most int) (int, error) {
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > most {
		return 0, fmt.Errorf("is no whole number from 0 to %d", most)
	}
	return n, nil
}
