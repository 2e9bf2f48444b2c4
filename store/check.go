package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
)

// Broken says where a book is not what its audit says it is, in plain words.
type Broken string

func (b Broken) Error() string { return string(b) }

func broken(format string, args ...any) error { return Broken(fmt.Sprintf(format, args...)) }

// CheckReport is what a check looked at.
type CheckReport struct {
	Head    Head
	Tables  int
	Records int64  // that the audit tells of
	Printed string // what is known of the hash it was compared with
	Backups []string
}

// Check looks the book through: the file, its tables and rules, that the chain
// of the audit is whole, and that each record is what the audit says of it. The
// first thing wrong is returned as Broken. head, where given, is the hash that
// a record or backup carries, or its beginning: it must be in the chain.
//
// Rows cut off the end of the audit together with all records they tell of
// leave no trace in the file: only a printed head or a backup shows that.
func (b *Book) Check(ctx context.Context, head string) (CheckReport, error) {
	var r CheckReport
	tx, err := b.read.BeginTx(ctx, nil) // all of it as it was at one moment
	if err != nil {
		return r, fmt.Errorf("begin check: %w", err)
	}
	defer tx.Rollback() //nolint:errcheck // nothing was written
	for _, step := range []func() error{
		func() error { return checkFile(ctx, tx) },
		func() error { return checkSchema(ctx, tx) },
		func() error { return checkRoots(ctx, tx) },
		func() (err error) { r.Head, err = checkChain(ctx, tx); return err },
		func() (err error) { r.Tables, r.Records, err = checkRecords(ctx, tx); return err },
		func() (err error) { r.Printed, err = checkHead(ctx, tx, head); return err },
		func() (err error) { r.Backups, err = b.checkBackups(ctx, tx); return err },
	} {
		if err := step(); err != nil {
			if isDamage(err) {
				err = broken("the file is damaged: %v", err)
			}
			return r, err
		}
	}
	return r, nil
}

// checkFile has SQLite look at every page, index and reference.
func checkFile(ctx context.Context, q querier) error {
	said, err := list(ctx, q, func(r scanner, s *string) error { return r.Scan(s) }, "PRAGMA integrity_check(1)")
	if err != nil {
		return fmt.Errorf("check file: %w", err)
	}
	if len(said) > 0 && said[0] != "ok" {
		return broken("the file is damaged: %s", strings.ReplaceAll(said[0], "\n", "; "))
	}
	return eachRow(ctx, q, func(row []any) error {
		return broken("row %v of table %v refers to a row of %v that is not there", row[1], row[0], row[2])
	}, "PRAGMA foreign_key_check")
}

// checkSchema compares tables, views, indexes and above all the triggers that
// refuse changes with those of a new book.
func checkSchema(ctx context.Context, q querier) error {
	want, err := newSchema()
	if err != nil {
		return fmt.Errorf("make book to compare with: %w", err)
	}
	have, err := schemaOf(ctx, q)
	if err != nil {
		return err
	}
	for _, name := range slices.Sorted(maps.Keys(want)) {
		if have[name] == "" {
			return broken("the %s, which every book has, is missing", name)
		}
		if have[name] != want[name] {
			return broken("the %s is not that of the program", name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(have)) {
		if want[name] == "" {
			return broken("the book has a %s that the program did not make", name)
		}
	}
	return nil
}

// newSchema is that of a new book, made once.
var newSchema = sync.OnceValues(func() (schema map[string]string, err error) {
	ctx := context.Background()
	fresh, err := OpenTemporary(ctx)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, fresh.Close()) }()
	return schemaOf(ctx, fresh.read)
})

func schemaOf(ctx context.Context, q querier) (map[string]string, error) {
	out := map[string]string{}
	err := eachRow(ctx, q, func(row []any) error {
		out[fmt.Sprintf("%v %v", row[0], row[1])] = strings.Join(strings.Fields(fmt.Sprint(row[2])), " ")
		return nil
	}, `SELECT type, name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite\_%' ESCAPE '\' ORDER BY name`)
	if err != nil {
		return nil, fmt.Errorf("read tables: %w", err)
	}
	return out, nil
}

// checkRoots looks whether each correction names an entry that is there, a
// first one of its own.
func checkRoots(ctx context.Context, q querier) error {
	tables, err := list(ctx, q, func(r scanner, s *string) error { return r.Scan(s) },
		"SELECT m.name FROM sqlite_schema m JOIN pragma_table_info(m.name) c WHERE m.type = 'table' AND c.name = 'root' ORDER BY m.name")
	if err != nil {
		return fmt.Errorf("read tables: %w", err)
	}
	for _, t := range tables {
		err := eachRow(ctx, q, func(row []any) error {
			return broken("%s %v corrects %v, which is no first entry", RecordWord(t, 1), row[0], row[1])
		}, fmt.Sprintf("SELECT id, root FROM %[1]s x WHERE root <> id AND NOT EXISTS (SELECT 1 FROM %[1]s r WHERE r.id = x.root AND r.root = r.id) LIMIT 1", quoteName(t)))
		if err != nil {
			return err
		}
	}
	return nil
}

// checkChain follows the audit from its first row to its last.
func checkChain(ctx context.Context, q querier) (Head, error) {
	var h Head
	rows, err := q.QueryContext(ctx, "SELECT "+auditColumns+" FROM audit ORDER BY seq")
	if err != nil {
		return h, fmt.Errorf("read audit: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		var a AuditRow
		if err := scanAudit(rows, &a); err != nil {
			return h, fmt.Errorf("read audit: %w", err)
		}
		switch {
		case a.Seq != h.Rows+1:
			return h, broken("the audit goes from row %d to row %d: what is between is missing", h.Rows, a.Seq)
		case a.Hash != a.sealed(h.Hash):
			return h, broken("row %d of the audit (%s, %s) is not what was written, or does not follow the row before it", a.Seq, a.At, a.What)
		}
		h = Head{Rows: a.Seq, Hash: a.Hash, At: a.At}
	}
	if h.Rows == 0 && rows.Err() == nil {
		return h, broken("the audit is empty")
	}
	return h, rows.Err()
}

// shortestHead is how much of a hash is enough to name one.
const shortestHead = 12

// checkHead looks for a hash that was noted elsewhere.
func checkHead(ctx context.Context, q querier, head string) (string, error) {
	head = strings.ToLower(strings.Join(strings.Fields(head), ""))
	if head == "" {
		return "", nil
	}
	if len(head) < shortestHead {
		return "", broken("the hash %s is too short to tell: give at least %d characters", head, shortestHead)
	}
	found, err := list(ctx, q, scanAudit, "SELECT "+auditColumns+" FROM audit WHERE substr(hash, 1, ?) = ?", len(head), head)
	if err != nil {
		return "", fmt.Errorf("look for hash: %w", err)
	}
	if len(found) == 0 {
		return "", broken("no row of the audit has the hash %s: it was cut off or written anew since that was noted, or belongs to another book", head)
	}
	var more int64
	if err := q.QueryRowContext(ctx, "SELECT max(seq) FROM audit").Scan(&more); err != nil {
		return "", fmt.Errorf("look for hash: %w", err)
	}
	return fmt.Sprintf("row %d of %s; %d rows since", found[0].Seq, found[0].At, more-found[0].Seq), nil
}
