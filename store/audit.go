package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"
)

// Head is the newest row of the audit: a printed one can be compared later.
type Head struct {
	Rows     int64
	Hash, At string
}

// Head finds the newest row of the audit.
func (b *Book) Head(ctx context.Context) (Head, error) { return findHead(ctx, b.read) }

func findHead(ctx context.Context, q querier) (Head, error) {
	h, err := one(ctx, q, func(r scanner, h *Head) error { return r.Scan(&h.Rows, &h.Hash, &h.At) }, "SELECT seq, hash, at FROM audit ORDER BY seq DESC LIMIT 1")
	if errors.Is(err, ErrNotFound) {
		return Head{}, nil
	}
	if err != nil {
		return h, fmt.Errorf("find head of audit: %w", err)
	}
	return h, nil
}

// account writes, as the last thing of a transaction, what it did.
func (b *Book) account(ctx context.Context, t *tx) error {
	rows, err := b.entered(ctx, t)
	if err != nil {
		return fmt.Errorf("account for new rows: %w", err)
	}
	changed, err := b.changed(ctx, t)
	if err != nil {
		return fmt.Errorf("account for changes: %w", err)
	}
	return t.chain(ctx, append(rows, changed...)...)
}

// chain adds rows to the audit.
func (t *tx) chain(ctx context.Context, rows ...AuditRow) error {
	if len(rows) == 0 {
		return nil
	}
	head, err := findHead(ctx, t)
	if err != nil {
		return err
	}
	who := actor(ctx)
	for _, a := range rows {
		a.Seq, a.At, a.Person, a.Who, a.Device = head.Rows+1, t.at, who.Person, who.Name, who.Device
		a.Hash = a.sealed(head.Hash)
		_, err := t.insert(ctx, "INSERT INTO audit ("+auditColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			a.Seq, a.At, a.Person, a.Who, a.Device, a.Did, a.Record, a.Key, a.First, a.Last, a.Rows, a.Digest, a.What, a.Page, a.Before, a.After, a.Hash)
		if err != nil {
			return fmt.Errorf("write audit: %w", err)
		}
		head.Rows, head.Hash = a.Seq, a.Hash
	}
	return nil
}

// entered tells of the rows that are new in the numbered tables.
func (b *Book) entered(ctx context.Context, t *tx) ([]AuditRow, error) {
	type span struct {
		record      string
		after, last int64
	}
	spans, err := list(ctx, t, func(r scanner, s *span) error { return r.Scan(&s.record, &s.after, &s.last) },
		"WITH n (record, id) AS ("+latestIDs(b.audited)+") SELECT f.record, f.id, n.id FROM audit_from f JOIN n ON n.record = f.record WHERE n.id > f.id ORDER BY f.record")
	if err != nil {
		return nil, err
	}
	var rows []AuditRow
	for _, s := range spans {
		a, err := t.enteredRows(ctx, b.table(s.record), s.after, s.last)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.record, err)
		}
		rows = append(rows, a)
	}
	return rows, nil
}

func (b *Book) table(name string) auditTable {
	return b.audited[slices.IndexFunc(b.audited, func(a auditTable) bool { return a.name == name })]
}

// enteredRows tells of the rows of a table after an id, up to the last.
func (t *tx) enteredRows(ctx context.Context, a auditTable, after, last int64) (AuditRow, error) {
	digest, same := newRowDigest(), alike{columns: a.columns}
	var only []json.RawMessage
	err := eachRow(ctx, t, func(row []any) error {
		digest.add(row)
		same.add(row)
		return nil
	}, "SELECT "+a.exprs("")+" FROM "+quoteName(a.name)+" WHERE "+quoteName(a.key[0])+" > ? AND "+quoteName(a.key[0])+" <= ? ORDER BY "+quoteName(a.key[0]), after, last)
	if err != nil {
		return AuditRow{}, err
	}
	r := AuditRow{Did: "entered", Record: a.name, First: after + 1, Last: last, Rows: digest.rows, Digest: digest.text()}
	if r.Rows == 1 {
		if only, err = readRow(string(bytes.TrimSpace(digest.line))); err != nil {
			return r, err
		}
		r.Did, r.Before, r.After, err = t.correction(ctx, a, only)
	}
	if err != nil {
		return r, err
	}
	return r, t.describe(ctx, a, &r, same.values())
}

// versionsBy are the columns in which versions of the same thing agree, of tables
// without a root.
var versionsBy = map[string][]string{"limit_row": {"model_id", "feature_id", "groove"}}

// correction tells of a single new row: where it corrects another, only in what
// the two differ.
func (t *tx) correction(ctx context.Context, a auditTable, row []json.RawMessage) (did, before, after string, err error) {
	id := slices.Index(a.columns, a.key[0])
	same := versionsBy[a.name]
	if same == nil {
		same = []string{"root"}
	}
	where, args := "", []any{}
	if slices.Contains(a.columns, "part_id") { // which has an index
		same = append([]string{"part_id"}, same...)
	}
	for _, column := range same {
		at := slices.Index(a.columns, column)
		if at < 0 || id < 0 || column == "root" && string(row[at]) == string(row[id]) {
			return "entered", "", jsonOf(a.columns, row, said), nil
		}
		where, args = where+quoteName(column)+" = json_extract(?, '$') AND ", append(args, string(row[at]))
	}
	where, args = where+"id < ?", append(args, string(row[id]))
	var was []json.RawMessage
	err = eachRow(ctx, t, func(v []any) error {
		was, err = readRow(string(appendRow(nil, v)))
		return err
	}, "SELECT "+a.exprs("")+" FROM "+quoteName(a.name)+" WHERE "+where+" ORDER BY id DESC LIMIT 1", args...)
	if err != nil || was == nil {
		return "entered", "", jsonOf(a.columns, row, said), err
	}
	differ := func(i int, _ json.RawMessage) bool {
		return i != id && a.columns[i] != "saved_at" && string(was[i]) != string(row[i])
	}
	return "corrected", jsonOf(a.columns, was, differ), jsonOf(a.columns, row, differ), nil
}

// said reports a value that says something.
func said(_ int, v json.RawMessage) bool {
	return string(v) != "null" && string(v) != `""`
}

// jsonOf writes the wanted columns of a row as a JSON object, sorted by name.
func jsonOf(columns []string, row []json.RawMessage, wanted func(i int, v json.RawMessage) bool) string {
	object := map[string]json.RawMessage{}
	for i, c := range columns {
		if wanted(i, row[i]) {
			object[c] = row[i]
		}
	}
	text, _ := json.Marshal(object) // its values are JSON already
	return string(text)
}

// changed tells of the rows that were there before the transaction, or have a
// key of their own, and are not as they were.
func (b *Book) changed(ctx context.Context, t *tx) ([]AuditRow, error) {
	type pending struct {
		record, key string
		before      *string
	}
	all, err := list(ctx, t, func(r scanner, p *pending) error { return r.Scan(&p.record, &p.key, &p.before) },
		"SELECT record, key, before FROM audit_pending ORDER BY record, key")
	if err != nil || len(all) == 0 {
		return nil, err
	}
	var rows []AuditRow
	for _, p := range all {
		a := b.table(p.record)
		now, err := rowNow(ctx, t, a, p.key)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.record, err)
		}
		r, err := t.changedRow(ctx, a, p.key, p.before, now)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.record, err)
		}
		if r.Did != "" {
			rows = append(rows, r)
		}
	}
	_, err = t.ExecContext(ctx, "DELETE FROM audit_pending")
	return rows, err
}

// rowNow is a row as it is, "" where it is gone.
func rowNow(ctx context.Context, q querier, a auditTable, key string) (string, error) {
	bound := []any{key}
	if len(a.key) > 1 {
		bound = nil
		if err := json.Unmarshal([]byte(key), &bound); err != nil {
			return "", fmt.Errorf("read key: %w", err)
		}
	}
	var text string
	err := eachRow(ctx, q, func(row []any) error { text = string(appendRow(nil, row)); return nil },
		"SELECT "+a.exprs("")+" FROM "+quoteName(a.name)+" WHERE "+a.matches(func(string) string { return "?" }), bound...)
	return text, err
}

func (t *tx) changedRow(ctx context.Context, a auditTable, key string, before *string, now string) (AuditRow, error) {
	r := AuditRow{Record: a.name, Key: key, Rows: 1}
	var was, is []json.RawMessage
	var err error
	if before != nil {
		if was, err = readRow(*before); err != nil {
			return r, err
		}
	}
	if now != "" {
		if is, err = readRow(now); err != nil {
			return r, err
		}
		digest := newRowDigest()
		digest.addRaw(is)
		r.Digest = digest.text()
	}
	every := func(int, json.RawMessage) bool { return true }
	shown := is
	switch {
	case was == nil && is == nil, was != nil && *before == now:
		return r, nil
	case was == nil:
		r.Did, r.After = "entered", jsonOf(a.columns, is, said)
	case is == nil:
		r.Did, r.Before, shown = "removed", jsonOf(a.columns, was, every), was
	default:
		differ := func(i int, _ json.RawMessage) bool { return string(was[i]) != string(is[i]) }
		r.Did, r.Before, r.After = "changed", jsonOf(a.columns, was, differ), jsonOf(a.columns, is, differ)
	}
	if a.numbered {
		if err := json.Unmarshal([]byte(key), &r.First); err != nil {
			return r, err
		}
		r.Last = r.First
	}
	values := map[string]json.RawMessage{}
	for i, c := range a.columns {
		values[c] = shown[i]
	}
	return r, t.describe(ctx, a, &r, values)
}

// longSilence is after how long without an entry the clock is doubted.
const longSilence = 366 * 24 * time.Hour

// ClockDoubt reports whether the clock is before the newest entry, or so far
// after it that it may be wrong, and when that entry was made. Nothing depends
// on it: records go by their sequence.
func (b *Book) ClockDoubt(ctx context.Context) (newest string, doubtful bool, err error) {
	head, err := b.Head(ctx)
	if err != nil || head.At == "" {
		return "", false, err
	}
	at, err := time.Parse(time.RFC3339, head.At)
	if err != nil {
		return "", false, fmt.Errorf("read moment: %w", err)
	}
	since := b.now().Sub(at)
	return head.At, since < -time.Hour || since > longSilence, nil
}
