package store

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
)

// covers is what a row that covers tables says of each.
type covers struct {
	Columns []string `json:"columns"`
	Rows    int64    `json:"rows"`
	Last    int64    `json:"last"` // highest id
	Digest  string   `json:"digest"`
}

// cover tells, where the tables are not those that the audit knows, of all that
// is in the book: on a new one, one that had no audit, and after a migration.
func (b *Book) cover(ctx context.Context, t *tx) error {
	known, err := findCovers(ctx, t)
	if err != nil {
		return err
	}
	if len(known) > 0 && sameTables(b.audited, known[len(known)-1].tables) {
		return nil
	}
	tables, total := map[string]covers{}, int64(0)
	for _, a := range b.audited {
		c := covers{Columns: a.columns}
		digest := newRowDigest()
		if err := eachRow(ctx, t, func(row []any) error { digest.add(row); return nil },
			"SELECT "+a.exprs("")+" FROM "+quoteName(a.name)+" ORDER BY "+a.order()); err != nil {
			return fmt.Errorf("cover %s: %w", a.name, err)
		}
		if a.numbered {
			if err := t.QueryRowContext(ctx, "SELECT coalesce(max("+quoteName(a.key[0])+"), 0) FROM "+quoteName(a.name)).Scan(&c.Last); err != nil {
				return fmt.Errorf("cover %s: %w", a.name, err)
			}
		}
		c.Rows, c.Digest = digest.rows, digest.text()
		tables[a.name], total = c, total+c.Rows
	}
	text, err := json.Marshal(tables)
	if err != nil {
		return fmt.Errorf("cover: %w", err)
	}
	return t.chain(ctx, AuditRow{Did: "covered", Rows: total, What: fmt.Sprintf("took stock of all %d records in the book", total), After: string(text)})
}

// covered is a row that covers tables.
type covered struct {
	seq    int64
	tables map[string]covers
}

func findCovers(ctx context.Context, q querier) ([]covered, error) {
	all, err := list(ctx, q, func(r scanner, c *covered) error {
		var text string
		if err := r.Scan(&c.seq, &text); err != nil {
			return err
		}
		return json.Unmarshal([]byte(text), &c.tables)
	}, "SELECT seq, after FROM audit WHERE did = 'covered' ORDER BY seq")
	if err != nil {
		return nil, fmt.Errorf("find what the audit covers: %w", err)
	}
	return all, nil
}

func sameTables(tables []auditTable, known map[string]covers) bool {
	return len(tables) == len(known) && !slices.ContainsFunc(tables, func(a auditTable) bool {
		return !slices.Equal(a.columns, known[a.name].Columns)
	})
}
