package store

import (
	"context"
	"fmt"
)

// AuditEngines are, by serial, the engines that a person was limited to before
// and after an entry of the audit; of rows of person_engine, those they name.
func (b *Book) AuditEngines(ctx context.Context, a AuditRow) (before, after string, err error) {
	named := "SELECT coalesce(group_concat(serial, ', '), 'none') FROM (SELECT e.serial FROM person_engine v JOIN engine e ON e.id = v.engine_id WHERE "
	limit := "SELECT CASE limited WHEN 0 THEN 'all' ELSE (" + named + "v.row_id = p.id ORDER BY v.id)) END FROM person p WHERE "
	text := func(query string, args ...any) (string, error) {
		all, err := list(ctx, b.read, func(r scanner, s *string) error { return r.Scan(s) }, query, args...)
		if err != nil {
			return "", fmt.Errorf("find engines of audit row: %w", err)
		}
		if len(all) == 0 {
			return "", nil
		}
		return all[0], nil
	}
	switch {
	case a.Record == "person_engine":
		after, err = text(named+"v.id BETWEEN ? AND ? ORDER BY v.id)", a.First, a.Last)
	case a.Record == "person" && a.Rows == 1:
		if after, err = text(limit+"p.id = ?", a.First); err == nil {
			before, err = text(limit+"p.root = (SELECT root FROM person WHERE id = ?) AND p.id < ? ORDER BY p.id DESC LIMIT 1", a.First, a.First)
		}
	}
	return before, after, err
}
