package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"modernc.org/sqlite"

	"barrelbook/wear"
)

// mayGo are the audited tables whose rows may be changed and taken out; those
// of all others are kept.
var mayGo = []string{"password", "setting", "wider"}

// mayChange are the columns of kept rows that may be changed, some of them once
// or in some rows only; "*" is all but the id.
var mayChange = map[string]string{
	"engine": "*", "gauge": "*", "model": "*", "part": "*",
	"mark": "void", "photo": "void", "stay": "to_day to_meter reason_out void despite",
}

// TestNeverChanged: the file itself refuses what no method does, whichever
// program asks: to change or delete a kept row, and to write another in its
// place.
func TestNeverChanged(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	everyKind(t, b, e, parts)
	must[int64](t)(b.SaveGauge(ctx, Gauge{Name: "BG-3", Unit: wear.Inch, SD: 5080, Resolution: 2540}))
	must[int64](t)(b.AddEngine(ctx, NewEngine{Serial: "R-2", Model: "Invented 7", Arrangement: "radial", Cylinders: 7, Day: "2024-01-01"}))
	x := otherProgram{T: t, DB: must[*sql.DB](t)(sql.Open("sqlite", b.path))}
	t.Cleanup(func() { ok(t, x.Close()) })

	kept := []string{"audit"}
	for _, a := range b.audited {
		if !slices.Contains(mayGo, a.name) {
			kept = append(kept, a.name)
		}
	}
	for _, table := range x.texts("SELECT DISTINCT tbl_name FROM sqlite_schema WHERE type = 'trigger' AND sql LIKE '%RAISE%'") {
		if !slices.Contains(kept, table) {
			t.Errorf("rows of %s are kept, and nothing here tries to change them", table)
		}
	}
	for _, table := range kept {
		t.Run(table, func(t *testing.T) { x := x; x.T = t; x.tries(table) })
	}
	for _, change := range []string{"stay SET to_day = '2001-01-01' WHERE to_day IS NOT NULL", "stay SET to_day = NULL, to_meter = NULL WHERE to_day IS NOT NULL", "stay SET reason_out = 'x' WHERE to_day IS NOT NULL", "stay SET void = '' WHERE void <> ''"} {
		x.refused("", "UPDATE "+change)
	}
	sound(t, b)
}

// otherProgram has the file open without what the program adds to it.
type otherProgram struct {
	*testing.T
	*sql.DB
}

// texts lists the first column of a query.
func (x otherProgram) texts(query string, args ...any) []string {
	x.T.Helper()
	return must[[]string](x.T)(list(context.Background(), x.DB, func(r scanner, s *string) error { return r.Scan(s) }, query, args...))
}

// refused wants a trigger (SQLITE_CONSTRAINT_TRIGGER, 1811) to refuse a
// statement, with these words where they are given, and returns its words.
func (x otherProgram) refused(words, query string) string {
	x.T.Helper()
	_, err := x.Exec(query)
	var said *sqlite.Error
	if !errors.As(err, &said) || said.Code() != 1811 || words != "" && said.Error() != words {
		x.T.Errorf("%s: %v, want it refused %s", query, err, words)
	}
	return fmt.Sprint(err)
}

// uniqueKey is what only one row of a table may have.
type uniqueKey struct {
	columns []string
	where   string // the rows that it is asked of
}

// keysOf are the keys of a table, the primary one first.
func (x otherProgram) keysOf(table string) []uniqueKey {
	keys := []uniqueKey{{x.texts("SELECT name FROM pragma_table_info(?) WHERE pk > 0 ORDER BY pk", table), "true"}}
	for _, index := range x.texts(`SELECT name FROM pragma_index_list(?) WHERE "unique" AND origin <> 'pk' ORDER BY name`, table) {
		where := "true"
		if _, some, found := strings.Cut(x.texts("SELECT coalesce(sql, '') FROM sqlite_schema WHERE name = ?", index)[0], " WHERE "); found {
			where = some
		}
		keys = append(keys, uniqueKey{x.texts("SELECT name FROM pragma_index_info(?)", index), where})
	}
	return keys
}

// tries all that could change, delete or replace a row of a table.
func (x otherProgram) tries(table string) {
	x.T.Helper()
	words := x.refused("", "DELETE FROM "+table)
	columns := x.texts("SELECT name FROM pragma_table_info(?)", table)
	other := map[string]string{} // a value that a column has not
	for _, c := range columns {
		other[c] = fmt.Sprintf("CASE typeof(%[1]s) WHEN 'text' THEN %[1]s || 'x' WHEN 'blob' THEN randomblob(8) ELSE coalesce(%[1]s, 0) + 1000 END", c)
	}
	keys := x.keysOf(table)
	id := keys[0].columns[0]
	rowid := x.texts("SELECT CASE wr WHEN 0 THEN 'rowid' ELSE '' END FROM pragma_table_list WHERE schema = 'main' AND name = ?", table)[0]
	for _, c := range append(slices.Clone(columns), rowid) {
		switch may := mayChange[table]; {
		case c == "", slices.Contains(strings.Fields(may), c), may == "*" && c != id && c != "rowid":
		case c == "rowid":
			x.refused("", fmt.Sprintf("UPDATE OR REPLACE %s SET rowid = rowid + 1000", table))
		default:
			x.refused("", fmt.Sprintf("UPDATE OR REPLACE %s SET %s = %s", table, c, other[c]))
		}
	}
	for n, k := range keys {
		row := map[string]string{} // the same in this key, another in all others
		for _, c := range columns {
			row[c] = c
		}
		for _, o := range keys {
			for _, c := range o.columns {
				if !slices.Contains(k.columns, c) {
					row[c] = other[c]
				}
			}
		}
		if n > 0 {
			row[id] = fmt.Sprintf("(SELECT max(%s) + 1 FROM %s)", id, table)
			if row["root"] != "" {
				row["root"] = row[id]
			}
		}
		x.replaces(table, words, columns, row, k.where)
		if rowid != "" && n == 0 {
			x.replaces(table, words, append([]string{rowid}, slices.DeleteFunc(slices.Clone(columns), func(c string) bool { return c == id })...), row, k.where)
		}
		if n > 0 {
			row[id] = "NULL" // SQLite chooses it
			x.replaces(table, words, columns, row, k.where)
		}
		if n > 0 && mayChange[table] == "*" {
			list := strings.Join(k.columns, ", ")
			x.refused(words, fmt.Sprintf("UPDATE OR REPLACE %[1]s SET (%[2]s) = (SELECT %[2]s FROM %[1]s ORDER BY %[3]s DESC LIMIT 1) WHERE %[3]s = (SELECT min(%[3]s) FROM %[1]s)", table, list, id))
		}
	}
}

// replaces tries to write a row in the place of another.
func (x otherProgram) replaces(table, words string, columns []string, row map[string]string, where string) {
	x.T.Helper()
	values := make([]string, len(columns))
	for i, c := range columns {
		if values[i] = row[c]; c == "rowid" {
			values[i] = c
		}
	}
	into := fmt.Sprintf("INTO %s (%s) SELECT %s FROM %s WHERE %s LIMIT 1", table, strings.Join(columns, ", "), strings.Join(values, ", "), table, where)
	last := columns[len(columns)-1]
	x.refused(words, "INSERT OR REPLACE "+into)
	x.refused(words, fmt.Sprintf("INSERT %s ON CONFLICT DO UPDATE SET %s = excluded.%[2]s", into, last))
}

// TestBookBeforeReplacing: in a book of the version before, a row could be
// written in the place of another; opened now, it refuses that, and goes on.
func TestBookBeforeReplacing(t *testing.T) {
	const replace = "INSERT OR REPLACE INTO reading (id, root, sheet_id, part_id, feature_id, value, unit, saved_at) VALUES (5, 5, 1, 1, 1, 133352000, 'in', '')"
	b := must[*Book](t)(Open(context.Background(), olderBook(t, 18, replace)))
	defer func() { ok(t, b.Close()) }()
	x := otherProgram{T: t, DB: must[*sql.DB](t)(sql.Open("sqlite", b.path))}
	defer func() { ok(t, x.Close()) }()
	x.tries("reading")
	x.refused("", replace)
	e := must[Engine](t)(b.Engine(context.Background(), 1))
	c := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	measure(t, b, e, 1, c, "2024-06-01", 30_000, "5.2505")
	sound(t, b)
}
