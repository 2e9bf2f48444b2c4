package store

import (
	"context"
	"fmt"
	"slices"
	"strings"
)

// leftOut are the tables that no audit row tells of, and why. Every other one
// is audited by itself.
var leftOut = map[string]string{
	"audit":            "it is the audit",
	"goose_db_version": "the number of the newest migration",
	"imported":         "marks of rows that an import brought; the rows themselves are audited",
	"series":           "summaries, made anew from readings",
	"peers":            "groups of series, made anew from readings",
	"unsummarised":     "parts whose summaries are still to be made anew",
	"engine_wear":      "judgements, made anew from readings",
	"session":          "who is signed in at the moment",
}

// derived are the columns that are reckoned from other rows and left out too.
var derived = map[string][]string{"part": {"verdict", "state", "last_day"}}

// secret marks columns of which only a digest may be seen.
var secret = []string{"password", "secret", "hash", "token"}

// auditTable is a table whose rows are told of. Rows of a numbered one get
// ascending ids from SQLite, so that those of a transaction are a range.
type auditTable struct {
	name     string
	numbered bool
	key      []string // columns of its key; one, where it is numbered
	columns  []string
}

// tableColumn is a column as the schema has it.
type tableColumn struct {
	table, name, kind string
	key               int
	refers            bool // to another table
}

// findAuditTables reads from the schema which tables are told of.
func findAuditTables(ctx context.Context, q querier) ([]auditTable, error) {
	columns, err := list(ctx, q, func(r scanner, c *tableColumn) error {
		return r.Scan(&c.table, &c.name, &c.kind, &c.key, &c.refers)
	}, `SELECT m.name, c.name, upper(c.type), c.pk, EXISTS (SELECT 1 FROM pragma_foreign_key_list(m.name) f WHERE f."from" = c.name)
		FROM sqlite_schema m JOIN pragma_table_info(m.name) c WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite\_%' ESCAPE '\' ORDER BY m.name, c.cid`)
	if err != nil {
		return nil, fmt.Errorf("read tables: %w", err)
	}
	var tables []auditTable
	for len(columns) > 0 {
		n := slices.IndexFunc(columns, func(c tableColumn) bool { return c.table != columns[0].table })
		if n < 0 {
			n = len(columns)
		}
		if leftOut[columns[0].table] == "" {
			tables = append(tables, newAuditTable(columns[:n]))
		}
		columns = columns[n:]
	}
	return tables, nil
}

func newAuditTable(columns []tableColumn) auditTable {
	a := auditTable{name: columns[0].table}
	var keys []tableColumn
	for _, c := range columns {
		if !slices.Contains(derived[a.name], c.name) {
			a.columns = append(a.columns, c.name)
		}
		if c.key > 0 {
			keys = append(keys, c)
		}
	}
	slices.SortFunc(keys, func(x, y tableColumn) int { return x.key - y.key })
	for _, k := range keys {
		a.key = append(a.key, k.name)
	}
	a.numbered = len(keys) == 0 || len(keys) == 1 && keys[0].kind == "INTEGER" && !keys[0].refers
	if len(keys) == 0 {
		a.key = []string{"rowid"}
	}
	return a
}

// exprs are the columns as they are told of, of NEW, OLD or "" for the table.
func (a auditTable) exprs(of string) string { return exprs(a.columns, of) }

func exprs(columns []string, of string) string {
	out := make([]string, len(columns))
	for i, c := range columns {
		out[i] = of + quoteName(c)
		if slices.ContainsFunc(secret, func(s string) bool { return strings.Contains(c, s) }) {
			out[i] = "audit_secret(" + out[i] + ")"
		}
	}
	return strings.Join(out, ", ")
}

// keyExpr is the key of a row: its column, or a list of them.
func (a auditTable) keyExpr(of string) string {
	out := make([]string, len(a.key))
	for i, k := range a.key {
		out[i] = of + quoteName(k)
	}
	if len(out) == 1 {
		return out[0]
	}
	return "audit_row(" + strings.Join(out, ", ") + ")"
}

// order sorts rows by their keys, those that are no numbers as text.
func (a auditTable) order() string {
	if a.numbered {
		return quoteName(a.key[0])
	}
	return "CAST(" + a.keyExpr("") + " AS TEXT) COLLATE BINARY"
}

// matches finds the row with the key that to gives for each column.
func (a auditTable) matches(to func(column string) string) string {
	out := make([]string, len(a.key))
	for i, k := range a.key {
		out[i] = quoteName(k) + " = " + to(k)
	}
	return strings.Join(out, " AND ")
}

func quoteName(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }
func quoteText(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

// triggers are what notes a row as it was before a transaction changed it. They
// live with the connection that writes, not in the file.
func (a auditTable) triggers() []string {
	name, columns := quoteText(a.name), make([]string, len(a.columns))
	for i, c := range a.columns {
		columns[i] = quoteName(c)
	}
	first := "NOT EXISTS (SELECT 1 FROM audit_pending WHERE record = " + name + " AND key = " + a.keyExpr("%s.") + ")"
	if a.numbered { // rows of this transaction are told of as entered
		first = a.keyExpr("%s.") + " <= (SELECT id FROM audit_from WHERE record = " + name + ") AND " + first
	}
	trigger := func(event, on, of, was string) string {
		return fmt.Sprintf("CREATE TEMP TRIGGER %s BEFORE %s ON %s WHEN %s BEGIN INSERT INTO audit_pending VALUES (%s, %s, %s); END",
			quoteName("audit_"+a.name+"_"+event), on, quoteName(a.name), strings.ReplaceAll(first, "%s", of), name, a.keyExpr(of+"."), was)
	}
	old := "audit_row(" + a.exprs("OLD.") + ")"
	all := []string{trigger("update", "UPDATE OF "+strings.Join(columns, ", "), "OLD", old), trigger("delete", "DELETE", "OLD", old)}
	if !a.numbered { // it may replace a row
		same := a.matches(func(column string) string { return "NEW." + quoteName(column) })
		there := fmt.Sprintf("(SELECT audit_row(%s) FROM %s WHERE %s)", a.exprs(""), quoteName(a.name), same)
		all = append(all, trigger("insert", "INSERT", "NEW", there))
	}
	return all
}

// watch makes the writing connection note what changes, once for each, and
// where each table stands as the transaction begins.
func (b *Book) watch(ctx context.Context, t *tx) error {
	var there bool
	if err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM sqlite_temp_schema WHERE name = 'audit_from')").Scan(&there); err != nil {
		return fmt.Errorf("watch changes: %w", err)
	}
	if !there {
		statements := []string{"CREATE TEMP TABLE audit_pending (record TEXT, key ANY, before TEXT, PRIMARY KEY (record, key)) STRICT, WITHOUT ROWID",
			"CREATE TEMP TABLE audit_from (record TEXT PRIMARY KEY, id INTEGER) STRICT, WITHOUT ROWID"}
		for _, a := range b.audited {
			statements = append(statements, a.triggers()...)
		}
		for _, s := range statements {
			if _, err := t.ExecContext(ctx, s); err != nil {
				return fmt.Errorf("watch changes: %w", err)
			}
		}
	}
	if _, err := t.ExecContext(ctx, "REPLACE INTO audit_from "+latestIDs(b.audited)); err != nil {
		return fmt.Errorf("watch changes: %w", err)
	}
	return nil
}

// latestIDs asks for the highest id of each numbered table.
func latestIDs(tables []auditTable) string {
	var all []string
	for _, a := range tables {
		if a.numbered {
			all = append(all, fmt.Sprintf("SELECT %s, (SELECT coalesce(max(%s), 0) FROM %s)", quoteText(a.name), quoteName(a.key[0]), quoteName(a.name)))
		}
	}
	return strings.Join(all, " UNION ALL ")
}
