package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql/driver"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"strconv"

	"modernc.org/sqlite"
)

// The functions that the audit's SQL calls: audit_row writes values as the
// canonical JSON list that is hashed, audit_secret hides one.
func init() {
	register("audit_row", -1, func(args []driver.Value) (driver.Value, error) {
		row := make([]any, len(args))
		for i, a := range args {
			row[i] = a
		}
		return string(appendRow(nil, row)), nil
	})
	register("audit_secret", 1, func(args []driver.Value) (driver.Value, error) {
		if args[0] == nil {
			return nil, nil
		}
		return digestOf(fmt.Sprint(args[0])), nil
	})
}

// register makes a function of SQL, which keeps nothing of what it is given: so
// text comes to it whole, where a copy would end at its first NUL.
func register(name string, args int32, do func([]driver.Value) (driver.Value, error)) {
	sqlite.MustRegisterFunction(name, &sqlite.FunctionImpl{NArgs: args, Deterministic: true, VolatileArgs: true,
		Scalar: func(_ *sqlite.FunctionContext, given []driver.Value) (driver.Value, error) { return do(given) }})
}

func digestOf(s string) string {
	sum := sha256.Sum256([]byte(s))
	return "sha256:" + hex.EncodeToString(sum[:])
}

// appendRow writes the values of a row as a JSON list, always alike: whole
// numbers with all their digits, fractions with as many as tell them apart,
// and of a piece of bytes its digest.
func appendRow(b []byte, row []any) []byte {
	b = append(b, '[')
	for i, v := range row {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendValue(b, v)
	}
	return append(b, ']')
}

func appendValue(b []byte, v any) []byte {
	switch v := v.(type) {
	case nil:
		return append(b, "null"...)
	case int64:
		return strconv.AppendInt(b, v, 10)
	case float64:
		text := strconv.AppendFloat(nil, v, 'g', -1, 64)
		if !json.Valid(text) { // an infinity
			return appendText(b, string(text))
		}
		return append(b, text...)
	case []byte:
		return appendText(b, digestOf(string(v)))
	case string:
		return appendText(b, v)
	}
	return appendText(b, fmt.Sprint(v))
}

// appendText writes a JSON string; plain text, which is most of it, is copied.
func appendText(b []byte, s string) []byte {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c > '~' || c == '"' || c == '\\' || c == '<' || c == '>' || c == '&' {
			text, _ := json.Marshal(s) // a string always can be
			return append(b, text...)
		}
	}
	return append(append(append(b, '"'), s...), '"')
}

// readRow takes a row that appendRow wrote apart, each value as it stands.
func readRow(text string) ([]json.RawMessage, error) {
	var row []json.RawMessage
	if err := json.Unmarshal([]byte(text), &row); err != nil {
		return nil, fmt.Errorf("read audited row: %w", err)
	}
	return row, nil
}

// rowDigest is the SHA-256 over rows, a line each.
type rowDigest struct {
	hash.Hash
	rows int64
	line []byte
}

func newRowDigest() *rowDigest { return &rowDigest{Hash: sha256.New()} }

func (d *rowDigest) add(row []any) {
	d.line = append(appendRow(d.line[:0], row), '\n')
	d.Write(d.line)
	d.rows++
}

func (d *rowDigest) addRaw(row []json.RawMessage) {
	d.line = append(append(append(d.line[:0], '['), bytes.Join(asBytes(row), []byte{','})...), "]\n"...)
	d.Write(d.line)
	d.rows++
}

func asBytes(row []json.RawMessage) [][]byte {
	out := make([][]byte, len(row))
	for i, v := range row {
		out[i] = v
	}
	return out
}

func (d *rowDigest) text() string { return hex.EncodeToString(d.Sum(nil)) }

// eachRow runs a query and hands over each row's values, which hold until the
// next one.
func eachRow(ctx context.Context, q querier, do func(row []any) error, query string, args ...any) error {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return err
	}
	row, at := make([]any, len(columns)), make([]any, len(columns))
	for i := range row {
		at[i] = &row[i]
	}
	for rows.Next() {
		if err := rows.Scan(at...); err != nil {
			return err
		}
		if err := do(row); err != nil {
			return err
		}
	}
	return rows.Err()
}

// AuditRow is one row of the audit.
type AuditRow struct {
	Seq               int64
	At                string
	Person            int64
	Who, Device       string
	Did, Record, Key  string
	First, Last, Rows int64
	Digest            string
	What, Page        string
	Before, After     string
	Hash              string
}

const auditColumns = "seq, at, person, who, device, did, record, key, first, last, rows, digest, what, page, before, after, hash"

func scanAudit(r scanner, a *AuditRow) error {
	return r.Scan(&a.Seq, &a.At, &a.Person, &a.Who, &a.Device, &a.Did, &a.Record, &a.Key, &a.First, &a.Last, &a.Rows, &a.Digest, &a.What, &a.Page, &a.Before, &a.After, &a.Hash)
}

// sealed is the hash of the row after one with the hash before.
func (a AuditRow) sealed(before string) string {
	line := appendRow([]byte(before+"\n"), []any{a.Seq, a.At, a.Person, a.Who, a.Device, a.Did, a.Record, a.Key, a.First, a.Last, a.Rows, a.Digest, a.What, a.Page, a.Before, a.After})
	sum := sha256.Sum256(line)
	return hex.EncodeToString(sum[:])
}
