package store

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"barrelbook/wear"
)

// AuditFilter says which rows of the audit are wanted; empty is all.
type AuditFilter struct {
	Who           string // "-" for nobody signed in
	Day           wear.Day
	Record        string // a table
	Serial        string // of a part or an engine
	Limit, Offset int
}

// Audit lists what was done, newest first, and how much there is in all.
func (b *Book) Audit(ctx context.Context, f AuditFilter) (rows []AuditRow, total int, err error) {
	where, args, err := b.auditWhere(ctx, f)
	if err != nil {
		return nil, 0, err
	}
	if err := b.read.QueryRowContext(ctx, "SELECT count(*) FROM audit WHERE "+where, args...).Scan(&total); err != nil {
		return nil, 0, fmt.Errorf("count audit: %w", err)
	}
	rows, err = list(ctx, b.read, scanAudit, "SELECT "+auditColumns+" FROM audit WHERE "+where+" ORDER BY seq DESC LIMIT ? OFFSET ?", append(args, f.Limit, f.Offset)...)
	if err != nil {
		return nil, 0, fmt.Errorf("list audit: %w", err)
	}
	return rows, total, nil
}

func (b *Book) auditWhere(ctx context.Context, f AuditFilter) (string, []any, error) {
	where, args := []string{"1"}, []any{}
	add := func(condition string, with ...any) { where, args = append(where, condition), append(args, with...) }
	switch f.Who {
	case "":
	case "-":
		add("who = ''")
	default:
		add("who = ?", f.Who)
	}
	if f.Day != "" {
		from, err := time.ParseInLocation("2006-01-02", string(f.Day), b.now().Location())
		if err != nil {
			return "", nil, invalid("day", "is no date: write it as 2026-01-31")
		}
		add("at >= ? AND at < ?", moment(from), moment(from.AddDate(0, 0, 1)))
	}
	if f.Record != "" {
		add("record = ?", f.Record)
	}
	if f.Serial = strings.TrimSpace(f.Serial); f.Serial != "" {
		about, with, err := b.auditAbout(ctx, f.Serial)
		if err != nil {
			return "", nil, err
		}
		add(about, with...)
	}
	return strings.Join(where, " AND "), args, nil
}

// auditAbout finds the rows that tell of the parts and engines with a serial,
// and of what belongs to them.
func (b *Book) auditAbout(ctx context.Context, serial string) (string, []any, error) {
	tables, err := findAuditTables(ctx, b.read)
	if err != nil {
		return "", nil, err
	}
	var all []string
	var args []any
	for _, subject := range []string{"part", "engine"} {
		// The entry that tells of row x.id starts at the last first below it.
		told := "SELECT a.seq FROM %s JOIN audit a ON a.record = '%s' AND a.last >= x.id AND a.first BETWEEN coalesce((SELECT c.first FROM audit c WHERE c.record = '%[2]s' AND c.did IN ('entered', 'corrected') AND c.first <= x.id ORDER BY c.first DESC LIMIT 1), x.id) AND x.id" +
			" WHERE %s IN (SELECT id FROM " + subject + " WHERE serial = ?)"
		add := func(from, table, of string) {
			all, args = append(all, fmt.Sprintf(told, from, table, of)), append(args, serial)
		}
		for _, t := range tables {
			switch {
			case t.name == subject:
				add(quoteName(t.name)+" x", t.name, "x.id")
			case t.numbered && t.key[0] == "id" && slices.Contains(t.columns, subject+"_id"):
				add(quoteName(t.name)+" x", t.name, "x."+subject+"_id")
			}
		}
		if subject == "engine" {
			add("sheet s JOIN reading x ON x.sheet_id = s.id", "reading", "s.engine_id")
		}
	}
	return "seq IN (" + strings.Join(all, " UNION ") + ")", args, nil
}

// AuditChoices are who and what the audit tells of.
func (b *Book) AuditChoices(ctx context.Context) (who, records []string, err error) {
	text := func(r scanner, s *string) error { return r.Scan(s) }
	if who, err = list(ctx, b.read, text, "SELECT DISTINCT who FROM audit WHERE who <> '' ORDER BY who"); err != nil {
		return nil, nil, fmt.Errorf("list people of audit: %w", err)
	}
	if records, err = list(ctx, b.read, text, "SELECT DISTINCT record FROM audit WHERE record <> '' ORDER BY record"); err != nil {
		return nil, nil, fmt.Errorf("list records of audit: %w", err)
	}
	return who, records, nil
}
