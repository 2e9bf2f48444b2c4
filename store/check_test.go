package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"barrelbook/wear"
)

// workedBook is a closed book with at least a row in each table.
func workedBook(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "book.db")
	b := must[*Book](t)(Open(context.Background(), path))
	e, parts := aFleet(t, b)
	everyKind(t, b, e, parts)
	bringsTwo(t, b)
	ok(t, b.Close())
	return path
}

// bringsTwo imports four readings of two barrels on an engine of their own.
func bringsTwo(t testing.TB, b *Book) {
	t.Helper()
	rows := twoBarrels()
	for i := range rows {
		rows[i].Serial = "D" + rows[i].Serial
	}
	if r := importRows(t, b, false, rows...); r.Readings != 4 {
		t.Fatalf("imported %+v", r)
	}
}

// by runs SQL on a book with another program, in which nothing stands in its
// way: triggers that refuse are dropped first and put back.
func by(t testing.TB, path string, statements ...string) {
	t.Helper()
	db := must[*sql.DB](t)(sql.Open("sqlite", "file:"+path))
	defer db.Close()
	db.SetMaxOpenConns(1)
	type trigger struct{ name, sql string }
	triggers := must[[]trigger](t)(list(context.Background(), db, func(r scanner, x *trigger) error { return r.Scan(&x.name, &x.sql) }, "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"))
	var all []string
	for _, x := range triggers {
		all = append(all, "DROP TRIGGER "+x.name)
	}
	all = append(all, statements...)
	for _, x := range triggers {
		all = append(all, x.sql)
	}
	for _, s := range all {
		if _, err := db.Exec(s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
}

// checked checks the book at a path.
func checked(t testing.TB, path, head string) (CheckReport, error) {
	t.Helper()
	b, err := OpenReadOnly(context.Background(), path)
	if err != nil {
		return CheckReport{}, err
	}
	defer func() { ok(t, b.Close()) }()
	return b.Check(context.Background(), head)
}

func copyOf(t testing.TB, path string) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "book.db")
	ok(t, os.WriteFile(to, must[[]byte](t)(os.ReadFile(path)), 0o600))
	return to
}

// TestTampered changes a book past the program in many ways: each is found,
// and named.
func TestTampered(t *testing.T) {
	path := workedBook(t)
	if _, err := checked(t, path, ""); err != nil {
		t.Fatalf("the book as it was made: %v", err)
	}
	for _, c := range []struct {
		name  string
		do    []string
		words string
	}{
		{"a reading changed", []string{"UPDATE reading SET value = value - 2540 WHERE id = 5"}, "changed past the program"},
		{"a reading's hours", []string{"UPDATE reading SET part_hours = 1 WHERE id = 6"}, "reading 6 was changed"},
		{"an imported reading", []string{"UPDATE reading SET typed = typed || '0' WHERE id = (SELECT max(id) FROM reading)"}, "readings"},
		{"a reading deleted", []string{"DELETE FROM leak_reading", "DELETE FROM reading WHERE id = 7"}, "reading"},
		{"an imported reading deleted", []string{"DELETE FROM reading WHERE id = (SELECT max(id) - 1 FROM reading)"}, "is missing"},
		{"the last reading deleted", []string{"DELETE FROM reading WHERE id = (SELECT max(id) FROM reading)"}, "is missing"},
		{"a reading slipped in", []string{"INSERT INTO reading (root, sheet_id, part_id, feature_id, unit, saved_at) SELECT (SELECT max(id) + 1 FROM reading), sheet_id, part_id, feature_id, unit, saved_at FROM reading WHERE id = 1"}, "nobody who entered it"},
		{"a reading slipped in below them all", []string{"INSERT INTO reading (id, root, sheet_id, part_id, feature_id, unit, saved_at) SELECT -5, -5, sheet_id, part_id, feature_id, unit, saved_at FROM reading WHERE id = 1"}, "reading -5 is in the book"},
		{"a gauge slipped in below them all", []string{"INSERT INTO gauge (id, name, unit, sd, resolution, saved_at) SELECT -5, 'BG-9', unit, sd, resolution, saved_at FROM gauge LIMIT 1"}, "gauge -5 is in the book"},
		{"two readings swapped", []string{"UPDATE reading SET id = 1000 WHERE id = 3", "UPDATE reading SET root = 3, id = 3 WHERE id = 4", "UPDATE reading SET id = 4, root = 4 WHERE id = 1000"}, "changed past the program"},
		{"a correction let go", []string{"UPDATE reading SET root = id WHERE root <> id"}, "changed past the program"},
		{"a correction of nothing", []string{"UPDATE reading SET root = 4000 WHERE root <> id"}, "no first entry"},
		{"a limit", []string{"UPDATE limit_row SET service_max = service_max + 1 WHERE id = 1"}, "limit 1 was changed"},
		{"a meter entry", []string{"UPDATE meter SET shows = shows + 1 WHERE id = 2"}, "meter entr"},
		{"a leak reading", []string{"UPDATE leak_reading SET reading = 790"}, "leak reading"},
		{"a struck installation revived", []string{"UPDATE stay SET void = '' WHERE void <> ''"}, `its void is ""`},
		{"a gauge", []string{"UPDATE gauge SET sd = 1"}, "its sd is 1"},
		{"a gauge taken away", []string{"DELETE FROM gauge"}, "gauge 1 is missing"},
		{"a gauge's name, which was never changed", []string{"UPDATE gauge SET name = 'BG-3'"}, "gauge 1 was changed"},
		{"a setting", []string{"UPDATE setting SET value = '9' WHERE key = 'flag_ratio'"}, "setting flag_ratio was changed"},
		{"a setting taken away", []string{"DELETE FROM setting WHERE key = 'shop'"}, "setting shop is missing"},
		{"a setting slipped in", []string{"INSERT INTO setting VALUES ('door', 'open')"}, "settings"},
		{"a part's serial", []string{"UPDATE part SET serial = 'C-77' WHERE id = 3"}, "part 3 was changed"},
		{"a finding's acknowledgement", []string{"UPDATE acknowledgement SET amount = 99.5"}, "acknowledgement"},
		{"a person's name in the audit", []string{"UPDATE audit SET who = 'somebody else' WHERE seq = 9"}, "row 9 of the audit"},
		{"a hash", []string{"UPDATE audit SET hash = replace(hash, substr(hash, 1, 1), 'x') WHERE seq = 12"}, "row 12 of the audit"},
		{"a row of the audit taken out", []string{"DELETE FROM audit WHERE seq = 10"}, "from row 9 to row 11"},
		{"its first rows taken out", []string{"DELETE FROM audit WHERE seq < 4"}, "from row 0 to row 4"},
		{"two of its rows changed over", []string{"UPDATE audit SET seq = -1 WHERE seq = 20", "UPDATE audit SET seq = 20 WHERE seq = 21", "UPDATE audit SET seq = 21 WHERE seq = -1"}, "row 20 of the audit"},
		{"its last row taken out, its record not", []string{"DELETE FROM audit WHERE seq = (SELECT max(seq) FROM audit)"}, "installation 11 is in the book"},
		{"all of it taken out", []string{"DELETE FROM audit"}, "the audit is empty"},
		{"a reference to nothing", []string{"PRAGMA foreign_keys = 0", "UPDATE sheet SET engine_id = 99 WHERE id = 2"}, "refers to a row of engine that is not there"},
		{"a table of its own", []string{"CREATE TABLE other (x)"}, "did not make"},
		{"a view bent", []string{"DROP VIEW limit_now", "CREATE VIEW limit_now AS SELECT * FROM limit_row"}, "view limit_now is not that of the program"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := copyOf(t, path)
			by(t, path, c.do...)
			_, err := checked(t, path, "")
			var b Broken
			if !errors.As(err, &b) || !strings.Contains(err.Error(), c.words) {
				t.Errorf("check says %v; wanted words %q", err, c.words)
			}
		})
	}
}

// TestTriggerDropped: a rule that was taken away is missed.
func TestTriggerDropped(t *testing.T) {
	path := workedBook(t)
	db := must[*sql.DB](t)(sql.Open("sqlite", "file:"+path))
	if _, err := db.Exec("DROP TRIGGER reading_kept"); err != nil {
		t.Fatal(err)
	}
	ok(t, db.Close())
	if _, err := checked(t, path, ""); err == nil || !strings.Contains(err.Error(), "trigger reading_kept, which every book has, is missing") {
		t.Errorf("check says %v", err)
	}
}

// TestCutOff: the newest rows of the audit cut off with all that they tell of
// leave no trace in the file; a hash noted before shows it, and so does the
// name of a backup.
func TestCutOff(t *testing.T) {
	path, ctx := workedBook(t), context.Background()
	b := must[*Book](t)(Open(ctx, path))
	ok(t, b.AddFacing(ctx, FacingEntry{Facing: "plain iron", Surface: "chrome", Says: "allowed", Document: "invented list"}))
	head := must[Head](t)(b.Head(ctx))
	ok(t, b.Close())
	r, err := checked(t, path, head.Hash[:12])
	if err != nil || !strings.HasSuffix(r.Printed, "; 0 rows since") {
		t.Errorf("before: %+v, %v", r, err)
	}
	by(t, path, "DELETE FROM audit WHERE seq = (SELECT max(seq) FROM audit)", "DELETE FROM facing_pair WHERE id = (SELECT max(id) FROM facing_pair)")
	if _, err := checked(t, path, ""); err != nil {
		t.Errorf("without a hash to compare with: %v", err)
	}
	if _, err := checked(t, path, head.Hash); err == nil || !strings.Contains(err.Error(), "cut off") {
		t.Errorf("with one: %v", err)
	}
	if _, err := checked(t, path, "abc"); err == nil || !strings.Contains(err.Error(), "too short") {
		t.Errorf("with three characters: %v", err)
	}
	ok(t, os.WriteFile(filepath.Join(filepath.Dir(path), backupName("book", b.now(), head)), nil, 0o600))
	if _, err := checked(t, path, ""); err == nil || !strings.Contains(err.Error(), "as the backup") {
		t.Errorf("beside a backup: %v", err)
	}
}

// TestTruncated: a file cut short is refused, or found damaged.
func TestTruncated(t *testing.T) {
	path := workedBook(t)
	whole := must[[]byte](t)(os.ReadFile(path))
	for _, size := range []int{len(whole) - 4096, len(whole) / 2, 5000, 50} {
		ok(t, os.WriteFile(path, whole[:size], 0o600))
		var b Broken
		if _, err := checked(t, path, ""); !errors.Is(err, ErrDamaged) && !errors.As(err, &b) {
			t.Errorf("cut to %d bytes: %v", size, err)
		}
	}
	torn := bytes.Clone(whole)
	for i := len(torn) / 2; i < len(torn)/2+4096; i++ {
		torn[i] ^= 0x55
	}
	ok(t, os.WriteFile(path, torn, 0o600))
	if _, err := checked(t, path, ""); err == nil {
		t.Error("a torn page was not found")
	}
}

// TestChecksMuch: a book in which much was changed and made anew checks out,
// with nothing to see twice.
func TestChecksMuch(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	for i := range 30 {
		p := must[Part](t)(b.Part(ctx, parts[i%9]))
		p.Note, p.PartNumber = strings.Repeat("x", i), strings.Repeat("9", i)
		ok(t, b.SavePart(ctx, p))
		if i%3 == 0 {
			must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Pin, Serial: strings.Repeat("N", i+1), Source: "new"}))
		}
	}
	everyKind(t, b, e, parts)
	ok(t, b.tx(ctx, func(ctx context.Context, t *tx) error { // deleted and made anew with the id of old
		for _, q := range []string{"DROP TRIGGER gauge_never_deleted", "DELETE FROM gauge", "INSERT INTO gauge (name, unit, sd, resolution, saved_at) VALUES ('BG-9', 'in', 1, 1, ''), ('BG-10', 'in', 1, 1, '')", "DELETE FROM gauge WHERE id = 2", "DELETE FROM setting WHERE key = 'unit'"} {
			if _, err := t.ExecContext(ctx, q); err != nil {
				return err
			}
		}
		return nil
	}))
	ok(t, b.tx(ctx, func(ctx context.Context, t *tx) error { _, err := t.ExecContext(ctx, "DELETE FROM gauge"); return err }))
	must[int64](t)(b.SaveGauge(ctx, Gauge{Name: "BG-11", Unit: wear.Inch, SD: 1}))
	if _, n, err := checkRecords(ctx, b.read); err != nil || n < 80 {
		t.Errorf("%d records, %v", n, err)
	}
}
