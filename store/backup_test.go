package store

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"barrelbook/wear"
)

// TestBackup copies a book in use: the copy holds the same, its name tells of
// the head of its audit, and it opens as a book.
func TestBackup(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	everyKind(t, b, e, parts)
	path := must[string](t)(b.Backup(ctx, ""))
	head := must[Head](t)(b.Head(ctx))
	if want := fmt.Sprintf("book-20260501T120000Z-row%d-%s.db", head.Rows, head.Hash[:12]); filepath.Base(path) != want {
		t.Errorf("it is called %s, want %s", filepath.Base(path), want)
	}
	if got := Backups(b.Path()); len(got) != 1 || got[0] != path {
		t.Errorf("backups %v", got)
	}
	must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Pin, Serial: "N-after", Source: "new"}))
	c := must[*Book](t)(Open(ctx, path))
	if got := sound(t, c); got.Head != head {
		t.Errorf("the copy's head %+v, want %+v", got.Head, head)
	}
	if _, total, err := c.Parts(ctx, PartFilter{Limit: 1}); err != nil || total != 9 {
		t.Errorf("the copy has %d parts, %v", total, err)
	}
	ok(t, c.Close())
	if r := sound(t, b); len(r.Backups) != 1 {
		t.Errorf("checked beside %v", r.Backups)
	}
}

// TestBackupPlaces: into a folder, to a file that is there already, not over
// the book itself, and by a program that only reads.
func TestBackupPlaces(t *testing.T) {
	ctx, path := context.Background(), closed(t)
	b := must[*Book](t)(OpenReadOnly(ctx, path))
	defer func() { ok(t, b.Close()) }()
	stick := t.TempDir()
	if p := must[string](t)(b.Backup(ctx, stick)); filepath.Dir(p) != stick || !backupNamed.MatchString(p) {
		t.Errorf("into a folder: %s", p)
	}
	to := filepath.Join(stick, "monday.db")
	ok(t, os.WriteFile(to, []byte("an older one"), 0o600))
	if p := must[string](t)(b.Backup(ctx, to)); p != to {
		t.Errorf("to a file: %s", p)
	}
	if _, err := checked(t, to, ""); err != nil {
		t.Errorf("the copy over an older one: %v", err)
	}
	before := must[[]byte](t)(os.ReadFile(path))
	if _, err := b.Backup(ctx, path); err == nil {
		t.Error("the book was copied over itself")
	}
	if _, err := b.Backup(ctx, filepath.Join(stick, "none", "x.db")); err == nil {
		t.Error("copied into a folder that is not there")
	}
	if after := must[[]byte](t)(os.ReadFile(path)); string(before) != string(after) {
		t.Error("the book was changed")
	}
	halves := must[[]string](t)(filepath.Glob(filepath.Join(stick, "*"+halfBackup)))
	if len(halves) > 0 {
		t.Errorf("left behind: %v", halves)
	}
}

// TestNewestGood: a damaged book is refused, and the newest backup that reads
// well is named; copied over the book, it opens.
func TestNewestGood(t *testing.T) {
	ctx, path := context.Background(), closed(t)
	b := must[*Book](t)(Open(ctx, path))
	b.now = func() time.Time { return time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC) }
	good := must[string](t)(b.Backup(ctx, ""))
	b.now = func() time.Time { return time.Date(2026, 5, 2, 12, 0, 0, 0, time.UTC) }
	torn := must[string](t)(b.Backup(ctx, ""))
	ok(t, b.Close())
	for _, p := range []string{torn, path} {
		text := must[[]byte](t)(os.ReadFile(p))
		for i := 4096; i < len(text); i++ {
			text[i] = 0xff
		}
		ok(t, os.WriteFile(p, text, 0o600))
	}
	for _, open := range []func(context.Context, string) (*Book, error){Open, OpenReadOnly} {
		if _, err := open(ctx, path); !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), "the newest good backup is "+good) {
			t.Errorf("the damaged book: %v", err)
		}
	}
	ok(t, os.WriteFile(path, must[[]byte](t)(os.ReadFile(good)), 0o600))
	again := must[*Book](t)(Open(ctx, path))
	sound(t, again)
	ok(t, again.Close())
	ok(t, os.Remove(good))
	ok(t, os.WriteFile(path, []byte(strings.Repeat("x", 8192)), 0o600))
	if _, err := Open(ctx, path); err == nil || !strings.Contains(err.Error(), "no good backup") {
		t.Errorf("with no backup: %v", err)
	}
}

// TestSweep takes away halves that were given up, not one just begun.
func TestSweep(t *testing.T) {
	b, ctx := open(t), context.Background()
	b.now = time.Now
	old, young := filepath.Join(filepath.Dir(b.path), "book.1"+halfBackup), filepath.Join(filepath.Dir(b.path), "book.2"+halfBackup)
	ok(t, os.WriteFile(old, nil, 0o600))
	ok(t, os.WriteFile(young, nil, 0o600))
	ok(t, os.Chtimes(old, time.Time{}, time.Now().Add(-25*time.Hour)))
	must[string](t)(b.Backup(ctx, ""))
	if _, err := os.Stat(old); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the old half: %v", err)
	}
	if _, err := os.Stat(young); err != nil {
		t.Errorf("the young half: %v", err)
	}
}

// childBackup names the book that the test program, started again by
// TestBackupKilled, copies until it is killed.
const childBackup = "BARRELBOOK_TEST_BACKUP"

func backUpUntilKilled(path string) error {
	ctx := context.Background()
	b, err := OpenReadOnly(ctx, path)
	if err != nil {
		return err
	}
	for n := len(Backups(path)); ; n++ {
		b.now = func() time.Time { return time.Now().AddDate(0, 0, n) } // a name for each, however many are made in a second
		to, err := b.Backup(ctx, "")
		if err != nil {
			return err
		}
		if _, err := fmt.Println(to); err != nil {
			return err
		}
	}
}

// TestBackupKilled kills a program that copies the book, at moments that nobody
// chose: whatever has the name of a backup is a whole one, and each that was
// acknowledged is there.
func TestBackupKilled(t *testing.T) {
	path := closed(t)
	rng := rand.New(rand.NewPCG(5, 5))
	var said []string
	for range 3 { // each acknowledges one before it is killed, or killChild fails
		said = append(said, killChild(t, childBackup+"="+path, time.Duration(rng.IntN(200))*time.Millisecond)...)
	}
	backups := Backups(path)
	for i, p := range said {
		if !slices.Contains(backups, p) || slices.Contains(said[:i], p) {
			t.Errorf("%s was acknowledged, and is not among the backups by a name of its own", filepath.Base(p))
		}
	}
	for _, p := range backups {
		if _, err := checked(t, p, ""); err != nil {
			t.Errorf("%s: %v", filepath.Base(p), err)
		}
	}
	t.Logf("%d backups, %d acknowledged", len(backups), len(said))
	if _, err := checked(t, path, ""); err != nil {
		t.Errorf("the book: %v", err)
	}
}
