package store

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
)

// past is a table as it was, on the way back through the audit from now.
type past struct {
	auditTable
	q      querier
	before int64              // in a numbered table: ids from here on had not been entered
	other  map[string]pastRow // rows that were not as they are; all rows of a table without numbers
}

// pastRow is a row by column, nil where it was not there.
type pastRow map[string]json.RawMessage

// checkRecords goes back through the audit and holds what it says of each
// record against the record. It returns how many tables and records it saw.
func checkRecords(ctx context.Context, q querier) (tables int, records int64, err error) {
	audited, err := findAuditTables(ctx, q)
	if err != nil {
		return 0, 0, err
	}
	stocks, err := findCovers(ctx, q)
	if err != nil {
		return 0, 0, err
	}
	if len(stocks) == 0 || !sameTables(audited, stocks[len(stocks)-1].tables) {
		return 0, 0, broken("the audit does not cover the tables that the book has")
	}
	for _, a := range audited {
		n, err := checkTable(ctx, q, a, stocks)
		if err != nil {
			return tables, records, err
		}
		tables, records = tables+1, records+n
	}
	return tables, records, nil
}

// checkTable goes back through what the audit tells of one table.
func checkTable(ctx context.Context, q querier, a auditTable, stocks []covered) (records int64, err error) {
	if err := q.QueryRowContext(ctx, "SELECT count(*) FROM "+quoteName(a.name)).Scan(&records); err != nil {
		return 0, fmt.Errorf("count %s: %w", a.name, err)
	}
	p := &past{auditTable: a, q: q, before: math.MaxInt64, other: map[string]pastRow{}}
	if err := p.start(ctx); err != nil {
		return records, err
	}
	last := int64(math.MaxInt64)
	for _, stock := range slices.Backward(stocks) {
		c, known := stock.tables[a.name]
		if !known {
			break
		}
		p.columns = c.Columns
		rows, err := list(ctx, q, scanAudit, "SELECT "+auditColumns+" FROM audit WHERE record = ? AND seq > ? AND seq <= ? ORDER BY seq DESC", a.name, stock.seq, last)
		if err != nil {
			return records, fmt.Errorf("read audit: %w", err)
		}
		for _, r := range rows {
			if err := p.back(ctx, r); err != nil {
				return records, err
			}
		}
		if err := p.stock(ctx, c, stock.seq); err != nil {
			return records, err
		}
		last = stock.seq
	}
	return records, nil
}

// start reads a table without numbers whole.
func (p *past) start(ctx context.Context) error {
	if p.numbered {
		return nil
	}
	p.before = 0
	columns := p.columns
	return eachRow(ctx, p.q, func(row []any) error {
		values, err := readRow(string(appendRow(nil, row[1:])))
		if err != nil {
			return err
		}
		p.other[fmt.Sprint(row[0])] = rowOf(columns, values)
		return nil
	}, "SELECT CAST("+p.keyExpr("")+" AS TEXT), "+p.exprs("")+" FROM "+quoteName(p.name))
}

func rowOf(columns []string, values []json.RawMessage) pastRow {
	row := pastRow{}
	for i, c := range columns {
		row[c] = values[i]
	}
	return row
}

// back undoes what a row of the audit tells of, once it agrees with the rows
// as they were after it.
func (p *past) back(ctx context.Context, r AuditRow) error {
	if r.Did == "entered" || r.Did == "corrected" {
		return p.enter(ctx, r)
	}
	row, err := p.row(ctx, r.key())
	if err != nil {
		return err
	}
	was, err := readPast(r.Before)
	if err != nil {
		return err
	}
	is, err := readPast(r.After)
	if err != nil {
		return err
	}
	if r.Did == "removed" {
		if row != nil {
			return broken("%s %s is in the book, although it was removed on %s (row %d of the audit)", RecordWord(p.name, 1), r.key(), r.At, r.Seq)
		}
		p.other[r.key()] = was
		return nil
	}
	if row == nil {
		return broken("%s %s is missing: %s on %s (row %d of the audit)", RecordWord(p.name, 1), r.key(), r.What, r.At, r.Seq)
	}
	for _, c := range slices.Sorted(maps.Keys(is)) {
		if string(row[c]) != string(is[c]) {
			return broken("%s %s was changed past the program: its %s is %s, and row %d of the audit (%s) says %s", RecordWord(p.name, 1), r.key(), c, row[c], r.Seq, r.At, is[c])
		}
	}
	row = maps.Clone(row)
	maps.Copy(row, was)
	p.other[r.key()] = row
	return nil
}

func readPast(text string) (pastRow, error) {
	row := pastRow{}
	if text == "" {
		return row, nil
	}
	if err := json.Unmarshal([]byte(text), &row); err != nil {
		return nil, fmt.Errorf("read audit: %w", err)
	}
	return row, nil
}

func (r AuditRow) key() string {
	if r.Key != "" {
		return r.Key
	}
	return strconv.FormatInt(r.First, 10)
}

// enter checks rows that were entered together, and takes them out.
func (p *past) enter(ctx context.Context, r AuditRow) error {
	digest := newRowDigest()
	if r.Key != "" && !p.numbered {
		row := p.other[r.Key]
		if row == nil {
			return broken("%s %s is missing: %s on %s (row %d of the audit)", RecordWord(p.name, 1), r.Key, r.What, r.At, r.Seq)
		}
		digest.addRaw(row.values(p.columns))
		delete(p.other, r.Key)
	} else {
		if err := p.none(ctx, r.Last+1, p.before); err != nil {
			return err
		}
		if err := p.each(ctx, r.First, r.Last, digest); err != nil {
			return err
		}
		for _, id := range p.othersIn(r.First, r.Last) {
			delete(p.other, strconv.FormatInt(id, 10))
		}
		p.before = min(p.before, r.First)
	}
	return p.compare(ctx, r, digest)
}

func (p *past) compare(ctx context.Context, r AuditRow, digest *rowDigest) error {
	name, when := RecordWord(p.name, r.Rows), fmt.Sprintf("on %s (row %d of the audit: %s)", r.At, r.Seq, r.What)
	switch {
	case digest.rows < r.Rows:
		missing, err := p.gap(ctx, r.First, r.Last)
		if err != nil {
			return err
		}
		return broken("of %d %s entered %s only %d are in the book%s", r.Rows, name, when, digest.rows, missing)
	case digest.rows > r.Rows:
		return broken("%d %s were entered %s, and the book has %d", r.Rows, name, when, digest.rows)
	case digest.text() != r.Digest && r.Rows == 1:
		return broken("%s %s was changed past the program since it was entered %s", name, r.key(), when)
	case digest.text() != r.Digest:
		return broken("one or more of the %d %s %d to %d were changed past the program since they were entered %s", r.Rows, name, r.First, r.Last, when)
	}
	return nil
}

// gap names the first row that is missing of a range.
func (p *past) gap(ctx context.Context, first, last int64) (string, error) {
	want, missing := first, ""
	err := eachRow(ctx, p.q, func(row []any) error {
		if id, _ := row[0].(int64); missing == "" && id != want {
			missing = fmt.Sprintf(": %s %d is missing", RecordWord(p.name, 1), want)
		}
		want++
		return nil
	}, fmt.Sprintf("SELECT %[1]s FROM %[2]s WHERE %[1]s BETWEEN ? AND ? ORDER BY %[1]s", quoteName(p.key[0]), quoteName(p.name)), first, last)
	if err != nil {
		return "", fmt.Errorf("look for gap: %w", err)
	}
	if missing == "" && want <= last {
		missing = fmt.Sprintf(": %s %d is missing", RecordWord(p.name, 1), want)
	}
	return missing, nil
}

// none wants no row from one id on and before another: nobody is known to have
// entered it.
func (p *past) none(ctx context.Context, from, before int64) error {
	return eachRow(ctx, p.q, func(row []any) error {
		return broken("%s %v is in the book, and the audit knows of nobody who entered it", RecordWord(p.name, 1), row[0])
	}, fmt.Sprintf("SELECT %[1]s FROM %[2]s WHERE %[1]s >= ? AND %[1]s < ? ORDER BY %[1]s LIMIT 1", quoteName(p.key[0]), quoteName(p.name)), from, before)
}

// stock compares the table with what it held when stock was taken.
func (p *past) stock(ctx context.Context, c covers, seq int64) error {
	digest := newRowDigest()
	if p.numbered {
		if err := p.none(ctx, math.MinInt64, 0); err != nil { // SQLite numbers from 1 up
			return err
		}
		if err := p.none(ctx, c.Last+1, p.before); err != nil {
			return err
		}
		if err := p.each(ctx, 0, c.Last, digest); err != nil {
			return err
		}
	} else {
		for _, key := range slices.Sorted(maps.Keys(p.other)) {
			if row := p.other[key]; row != nil {
				digest.addRaw(row.values(p.columns))
			}
		}
	}
	name := RecordWord(p.name, 2)
	switch {
	case digest.rows != c.Rows:
		return broken("when stock was taken (row %d of the audit) there were %d %s; of these or beside them the book has %d", seq, c.Rows, name, digest.rows)
	case digest.text() != c.Digest:
		return broken("one or more of the %d %s that were there when stock was taken (row %d of the audit) were changed past the program", c.Rows, name, seq)
	}
	return nil
}

func (r pastRow) values(columns []string) []json.RawMessage {
	out := make([]json.RawMessage, len(columns))
	for i, c := range columns {
		if out[i] = r[c]; out[i] == nil {
			out[i] = json.RawMessage("null")
		}
	}
	return out
}

// row is a row as it was.
func (p *past) row(ctx context.Context, key string) (pastRow, error) {
	if row, changed := p.other[key]; changed || !p.numbered {
		return row, nil
	}
	if id, err := strconv.ParseInt(key, 10, 64); err != nil || id >= p.before {
		return nil, nil
	}
	text, err := rowNow(ctx, p.q, p.auditTable, key)
	if err != nil || text == "" {
		return nil, err
	}
	values, err := readRow(text)
	return rowOf(p.columns, values), err
}

// each adds the rows of a range, as they were, to a digest.
func (p *past) each(ctx context.Context, first, last int64, digest *rowDigest) error {
	others := p.othersIn(first, last)
	upTo := func(id int64) { // rows that were not as they are, before the one with the id
		for len(others) > 0 && others[0] < id {
			if row := p.other[strconv.FormatInt(others[0], 10)]; row != nil {
				digest.addRaw(row.values(p.columns))
			}
			others = others[1:]
		}
	}
	key := quoteName(p.key[0])
	err := eachRow(ctx, p.q, func(row []any) error {
		id, _ := row[0].(int64)
		upTo(id)
		if len(others) > 0 && others[0] == id {
			upTo(id + 1)
			return nil
		}
		digest.add(row[1:])
		return nil
	}, fmt.Sprintf("SELECT %[1]s, %[2]s FROM %[3]s WHERE %[1]s >= ? AND %[1]s <= ? AND %[1]s < ? ORDER BY %[1]s", key, p.exprs(""), quoteName(p.name)), first, last, p.before)
	if err != nil {
		return fmt.Errorf("read %s: %w", p.name, err)
	}
	upTo(math.MaxInt64)
	return nil
}

// othersIn lists the ids of a range that were not as they are.
func (p *past) othersIn(first, last int64) []int64 {
	var ids []int64
	if n := int64(len(p.other)); last-n < first { // the range is the shorter one
		for id := first; id <= last && n > 0; id++ {
			if _, changed := p.other[strconv.FormatInt(id, 10)]; changed {
				ids = append(ids, id)
			}
		}
		return ids
	}
	for key := range p.other {
		if id, err := strconv.ParseInt(key, 10, 64); err == nil && id >= first && id <= last {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	return ids
}
