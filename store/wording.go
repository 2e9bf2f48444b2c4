package store

import (
	"context"
	"fmt"
	"strings"
)

// Wordings that a shop can write in its own style, by the names they are kept
// under.
const (
	WordingEntry      = "entry"      // what a draft logbook entry says of a job
	WordingInspection = "inspection" // its part about an inspection
)

// Wordings reads those that the shop wrote; one that is not among them is the
// program's.
func (b *Book) Wordings(ctx context.Context) (map[string]string, error) {
	type pair struct{ key, value string }
	pairs, err := list(ctx, b.read, func(r scanner, p *pair) error { return r.Scan(&p.key, &p.value) }, "SELECT key, value FROM setting WHERE key LIKE 'wording\\_%' ESCAPE '\\'")
	if err != nil {
		return nil, fmt.Errorf("read wordings: %w", err)
	}
	ws := map[string]string{}
	for _, p := range pairs {
		ws[strings.TrimPrefix(p.key, "wording_")] = p.value
	}
	return ws, nil
}

// SaveWordings keeps the shop's wordings; an empty one is the program's again.
func (b *Book) SaveWordings(ctx context.Context, ws map[string]string) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		for name, text := range ws {
			query, args := "INSERT INTO setting (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value", []any{"wording_" + name, text}
			if strings.TrimSpace(text) == "" {
				query, args = "DELETE FROM setting WHERE key = ?", args[:1]
			}
			if _, err := t.ExecContext(ctx, query, args...); err != nil {
				return fmt.Errorf("save wording %s: %w", name, err)
			}
		}
		return nil
	})
}
