package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/pressly/goose/v3"

	"barrelbook/migrations"
	"barrelbook/wear"
)

// smallDisk mounts a disk of so many megabytes, which only root can do.
func smallDisk(t *testing.T, size int) string {
	t.Helper()
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		t.Skip("a small disk can be mounted by root on Linux only")
	}
	dir := t.TempDir()
	if said, err := exec.Command("mount", "-t", "tmpfs", "-o", fmt.Sprintf("size=%dm", size), "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("mount a small disk: %v: %s", err, said)
	}
	t.Cleanup(func() {
		if said, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("umount: %v: %s", err, said)
		}
	})
	return dir
}

// fillDisk writes until nothing more fits, and returns the file to remove.
func fillDisk(t *testing.T, dir string) string {
	t.Helper()
	path := filepath.Join(dir, "holiday-videos")
	f := must[*os.File](t)(os.Create(path))
	for _, piece := range []int{64 << 10, 512} {
		for {
			if _, err := f.Write(make([]byte, piece)); err != nil {
				break
			}
		}
	}
	f.Close() //nolint:errcheck // the disk is full
	return path
}

// TestDiskFull: a save on a full disk fails as that, nothing of it is in the
// book, pages still read, and once there is space it goes on. So does a backup,
// which leaves nothing behind.
func TestDiskFull(t *testing.T) {
	dir, ctx := smallDisk(t, 8), context.Background()
	b := must[*Book](t)(Open(ctx, filepath.Join(dir, "book.db")))
	defer func() { ok(t, b.Close()) }()
	e, parts := aFleet(t, b)
	if _, err := b.write.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		t.Fatal(err)
	}
	before, head := holds(t, b), must[Head](t)(b.Head(ctx))
	filler := fillDisk(t, dir)
	save := func(i int) error {
		r := reading(t, b, parts[0], wear.Cylinder, "barrel bore", 0, "5.2512")
		r.Station, r.Axis = "top", "thrust"
		_, err := b.SaveSheet(ctx, NewSheet{Sheet: Sheet{UID: fmt.Sprint("full-", i), Day: "2025-03-01", Engine: e.ID, Position: 1}, Shows: ptr(wear.Hours(62_000 + 100*i)), Readings: []NewReading{r}})
		return err
	}
	if err := save(1); !IsFull(err) {
		t.Fatalf("a save on a full disk: %v", err)
	}
	if _, err := b.Backup(ctx, ""); !IsFull(err) {
		t.Errorf("a backup on a full disk: %v", err)
	}
	if got := holds(t, b); got != before {
		t.Errorf("the book holds %s, and held %s", got, before)
	}
	if got := must[Head](t)(b.Head(ctx)); got != head {
		t.Errorf("the audit has a head %+v, and had %+v", got, head)
	}
	ok(t, os.Remove(filler))
	ok(t, save(1))
	ok(t, save(2))
	sound(t, b)
	must[string](t)(b.Backup(ctx, ""))
	if halves := must[[]string](t)(filepath.Glob(filepath.Join(dir, "*"+halfBackup+"*"))); len(halves) > 0 {
		t.Errorf("left behind: %v", halves)
	}
}

// TestReadOnlyFolder: a book in a folder that cannot be written is refused in
// words, unchanged.
func TestReadOnlyFolder(t *testing.T) {
	ctx := context.Background()
	var dir string
	shut := func() { ok(t, os.Chmod(dir, 0o500)) }
	if os.Getuid() == 0 { // whom rights of a folder do not stop
		dir = smallDisk(t, 8)
		shut = func() {
			if said, err := exec.Command("mount", "-o", "remount,ro", dir).CombinedOutput(); err != nil {
				t.Skipf("mount read-only: %v: %s", err, said)
			}
		}
	} else {
		dir = t.TempDir()
		t.Cleanup(func() { os.Chmod(dir, 0o700) }) //nolint:errcheck // so that it can be removed
	}
	path := filepath.Join(dir, "book.db")
	b := must[*Book](t)(Open(ctx, path))
	addRadial(t, b, "R-1")
	ok(t, b.Close())
	ok(t, os.Remove(path+".lock"))
	before := must[[]byte](t)(os.ReadFile(path))
	shut()
	if _, err := Open(ctx, path); err == nil || !strings.Contains(err.Error(), "lock book") || errors.Is(err, ErrDamaged) {
		t.Errorf("in a folder that cannot be written: %v", err)
	}
	if after := must[[]byte](t)(os.ReadFile(path)); !bytes.Equal(before, after) {
		t.Error("the book was changed")
	}
}

// TestClockJumps: the clock goes back by years, and ahead by years. Records keep
// the order they were made in, and the clock is doubted. Only a day that lies
// ahead of the clock is refused, with what the clock says.
func TestClockJumps(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	at := func(year int) { b.now = func() time.Time { return time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC) } }
	doubt := func() bool {
		_, doubtful, err := b.ClockDoubt(ctx)
		ok(t, err)
		return doubtful
	}
	if doubt() {
		t.Error("a good clock is doubted")
	}
	rs := must[[]Reading](t)(b.ReadingsOf(ctx, parts[0]))
	root := rs[0].ID
	for i, year := range []int{1970, 2099, 2026, 2019} {
		at(year)
		if !doubt() && year != 2019 {
			t.Errorf("the clock says %d, and is not doubted", year)
		}
		value := fmt.Sprintf("5.25%02d", 20+i)
		ok(t, b.CorrectReading(ctx, root, inches(t, value), value, "", "clock test"))
		if got := must[Reading](t)(b.Reading(ctx, root)); got.Typed != value {
			t.Errorf("corrected in %d, the reading in force is %s", year, got.Typed)
		}
		day, shows := wear.Day(fmt.Sprintf("2025-02-%02d", i+1)), wear.Hours(61_000+1000*i)
		if year < 2025 {
			var bad Invalid
			_, err := b.SaveSheet(ctx, NewSheet{Sheet: Sheet{Day: day, Engine: e.ID, Position: 2}, Shows: &shows, Readings: []NewReading{{Part: parts[1], Feature: 1, Value: inches(t, "5.2512"), Typed: "5.2512", Unit: wear.Inch}}})
			if !errors.As(err, &bad) || !strings.Contains(bad.For("day"), fmt.Sprintf("today is %d-01-01", year)) {
				t.Errorf("a day ahead of %d: %v", year, err)
			}
			continue
		}
		measure(t, b, e, 2, parts[1], day, shows, "5.2512")
	}
	if doubt() {
		t.Error("after an entry at that time the clock is still doubted")
	}
	l := must[Limits](t)(b.LimitsOf(ctx, e.Model.ID, "")).Rows[0]
	l.Revision = "of 2019"
	ok(t, b.AddLimit(ctx, l))
	at(1980)
	l.Revision = "of 1980"
	ok(t, b.AddLimit(ctx, l))
	if got := must[Limits](t)(b.LimitsOf(ctx, e.Model.ID, "")).Rows[0]; got.Revision != "of 1980" {
		t.Errorf("the limit in force is that %s", got.Revision)
	}
	sound(t, b)
}

// TestLidClosed: the laptop sleeps for a week with the book open, and is woken.
func TestLidClosed(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	b.now = func() time.Time { return time.Date(2026, 5, 8, 12, 0, 0, 0, time.UTC) }
	measure(t, b, e, 1, parts[0], "2026-05-08", 70_000, "5.2512")
	if _, doubtful, err := b.ClockDoubt(ctx); doubtful || err != nil {
		t.Errorf("after a week the clock is doubted: %t, %v", doubtful, err)
	}
	if b.Today() != "2026-05-08" {
		t.Errorf("today is %s", b.Today())
	}
	sound(t, b)
}

// olderBook makes a book as an older version of the program did, with an
// engine, a sheet and two readings of a part.
func olderBook(t *testing.T, version int64, more ...string) string {
	t.Helper()
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "book.db")
	db := must[*sql.DB](t)(sql.Open("sqlite", dsn(path)))
	provider := must[*goose.Provider](t)(goose.NewProvider(goose.DialectSQLite3, db, migrations.FS))
	must[[]*goose.MigrationResult](t)(provider.UpTo(ctx, version))
	for _, q := range append([]string{"INSERT INTO model (id, name) VALUES (1, 'Invented 9')",
		"INSERT INTO engine (id, model_id, serial, arrangement, cylinders, saved_at) VALUES (1, 1, 'R-old', 'radial', 9, '')",
		"INSERT INTO meter (id, root, engine_id, day, shows, kind, saved_at) VALUES (1, 1, 1, '2024-01-01', 0, 'reading', '')",
		"INSERT INTO part (id, kind, serial, source, status, saved_at) VALUES (1, 'cylinder', 'C-old', 'new', 'on shelf', '')",
		"INSERT INTO feature (id, kind, name, dim, wear, built_in, saved_at) VALUES (1, 'cylinder', 'barrel bore', 'length', 'up', 1, '')",
		"INSERT INTO sheet (id, uid, day, saved_at) VALUES (1, 'u', '2024-01-02', '')",
		"INSERT INTO reading (id, root, sheet_id, part_id, feature_id, value, unit, saved_at) VALUES (1, 1, 1, 1, 1, 133350000, 'in', ''), (5, 5, 1, 1, 1, 133351000, 'in', '')"}, more...) {
		if _, err := db.ExecContext(ctx, q); err != nil {
			t.Fatal(err)
		}
	}
	ok(t, db.Close())
	return path
}

// TestAuditMigration opens a book made before there was an audit: its first row
// covers what was there, so that none of it can vanish from then on.
func TestAuditMigration(t *testing.T) {
	ctx, path := context.Background(), olderBook(t, 5)
	b := must[*Book](t)(Open(ctx, path))
	rows := auditOf(t, b)
	if rows[0].Did != "covered" || rows[0].Rows != 9 || !strings.Contains(rows[0].After, `"reading":{"columns":["id",`) {
		t.Errorf("the first row: %+v", rows[0])
	}
	p := must[Part](t)(b.Part(ctx, 1))
	p.Note = "changed since"
	ok(t, b.SavePart(ctx, p))
	sound(t, b)
	ok(t, b.Close())
	again := must[*Book](t)(Open(ctx, path))
	if n := len(auditOf(t, again)); n != len(rows)+1 {
		t.Errorf("opened again it has %d rows of audit, want %d", n, len(rows)+1)
	}
	ok(t, again.Close())
	for _, change := range []string{"DELETE FROM reading WHERE id = 1", "UPDATE reading SET value = 1 WHERE id = 5", "UPDATE part SET oversize = 1"} {
		p := copyOf(t, path)
		by(t, p, change)
		var b Broken
		if _, err := checked(t, p, ""); !errors.As(err, &b) || !strings.Contains(err.Error(), "stock was taken") {
			t.Errorf("%s: %v", change, err)
		}
	}
}

// TestMigrationFails half-way: the book stays as it was, in the older version.
func TestMigrationFails(t *testing.T) {
	ctx, path := context.Background(), olderBook(t, 7, "CREATE TRIGGER stay_kept BEFORE UPDATE ON stay BEGIN SELECT 1; END") // a name that the migration needs
	schema := func() string {
		db := must[*sql.DB](t)(sql.Open("sqlite", dsn(path, "mode", "ro")))
		defer db.Close()
		s := fmt.Sprint(must[map[string]string](t)(schemaOf(ctx, db)))
		version, _, err := versions(ctx, db)
		ok(t, err)
		return fmt.Sprint(version, s)
	}
	before := schema()
	if _, err := Open(ctx, path); err == nil || !strings.Contains(err.Error(), "bring book up to date") {
		t.Fatalf("opened: %v", err)
	}
	if after := schema(); after != before {
		t.Errorf("the migration left something behind: %s", after)
	}
	db := must[*sql.DB](t)(sql.Open("sqlite", dsn(path)))
	if _, err := db.Exec("DROP TRIGGER stay_kept"); err != nil {
		t.Fatal(err)
	}
	ok(t, db.Close())
	b := must[*Book](t)(Open(ctx, path)) // what was in the way is gone
	sound(t, b)
	ok(t, b.Close())
}
