package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"barrelbook/wear"
)

// closed makes a book with one engine, closes it and returns its path.
func closed(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "book.db")
	b := must[*Book](t)(Open(context.Background(), path))
	addRadial(t, b, "R-1")
	ok(t, b.Close())
	return path
}

func TestOpenAgain(t *testing.T) {
	ctx, path := context.Background(), closed(t)
	b := must[*Book](t)(Open(ctx, path))
	defer func() { ok(t, b.Close()) }()
	if es, total, err := b.Engines(ctx, "", 10, 0); err != nil || total != 1 || es[0].Serial != "R-1" {
		t.Errorf("opened again it holds %+v, %v", es, err)
	}
	if !filepath.IsAbs(b.Path()) || filepath.Base(b.Path()) != "book.db" {
		t.Errorf("its path is %s", b.Path())
	}
}

// TestSecondOpen: a book that one program has open is refused to another,
// which is told where it is served; reading it is not.
func TestSecondOpen(t *testing.T) {
	ctx, path := context.Background(), closed(t)
	b := must[*Book](t)(Open(ctx, path))
	if _, err := Open(ctx, path); !errors.Is(err, ErrInUse) {
		t.Errorf("a second open: %v", err)
	}
	ok(t, b.Serving("http://localhost:8440"))
	if _, err := Open(ctx, path); !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), "http://localhost:8440") {
		t.Errorf("a second open while it is served: %v", err)
	}
	r := must[*Book](t)(OpenReadOnly(ctx, path))
	must[int64](t)(b.AddEngine(ctx, NewEngine{Serial: "R-2", Model: "Invented 9", Arrangement: "radial", Cylinders: 9, Day: "2024-01-01"}))
	if _, total, err := r.Engines(ctx, "", 10, 0); err != nil || total != 2 {
		t.Errorf("the reader sees %d engines, %v; want both", total, err)
	}
	if err := r.AddLimit(ctx, LimitRow{}); err == nil {
		t.Error("a book opened for reading was written")
	}
	ok(t, r.Close())
	ok(t, b.Close())
	again := must[*Book](t)(Open(ctx, path)) // the lock is gone with the program
	ok(t, again.Close())
	if left, err := filepath.Glob(path + ".address"); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

func TestReadOnlyRefuses(t *testing.T) {
	ctx, missing := context.Background(), filepath.Join(t.TempDir(), "none.db")
	if _, err := OpenReadOnly(ctx, missing); !errors.Is(err, ErrNoBook) || !strings.Contains(err.Error(), missing) {
		t.Errorf("no book: %v", err)
	}
	if _, err := os.Stat(missing); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("looking for a book made one: %v", err)
	}
}

// TestNewerBook: a book of a later version of the program is refused as it
// is, to readers too, and not a byte of it is changed.
func TestNewerBook(t *testing.T) {
	ctx, path := context.Background(), closed(t)
	b := must[*Book](t)(Open(ctx, path))
	if _, err := b.write.ExecContext(ctx, "INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)"); err != nil {
		t.Fatal(err)
	}
	ok(t, b.Close())
	before := must[[]byte](t)(os.ReadFile(path))
	if _, err := Open(ctx, path); !errors.Is(err, ErrNewer) {
		t.Errorf("a newer book: %v", err)
	}
	if _, err := OpenReadOnly(ctx, path); !errors.Is(err, ErrNewer) {
		t.Errorf("a newer book, to read: %v", err)
	}
	if after := must[[]byte](t)(os.ReadFile(path)); !bytes.Equal(before, after) {
		t.Error("the newer book was changed")
	}
}

// TestDamagedBook: a file that is no book, or one with a torn page, is refused
// and left as it is.
func TestDamagedBook(t *testing.T) {
	ctx := context.Background()
	noBook := filepath.Join(t.TempDir(), "letter.db")
	ok(t, os.WriteFile(noBook, []byte(strings.Repeat("Dear Sir or Madam, ", 500)), 0o600))
	torn := closed(t)
	text := must[[]byte](t)(os.ReadFile(torn))
	for i := 4096; i < len(text); i++ { // every page but the first
		text[i] = 0xff
	}
	ok(t, os.WriteFile(torn, text, 0o600))
	for _, path := range []string{noBook, torn} {
		before := must[[]byte](t)(os.ReadFile(path))
		if b, err := Open(ctx, path); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s: %v, %v", filepath.Base(path), b, err)
		}
		if _, err := OpenReadOnly(ctx, path); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s, to read: %v", filepath.Base(path), err)
		}
		if after := must[[]byte](t)(os.ReadFile(path)); !bytes.Equal(before, after) {
			t.Errorf("%s was changed", filepath.Base(path))
		}
	}
}

func TestTemporaryBook(t *testing.T) {
	ctx := context.Background()
	b := must[*Book](t)(OpenTemporary(ctx))
	addRadial(t, b, "R-1")
	dir := filepath.Dir(b.Path())
	ok(t, b.Close())
	if _, err := os.Stat(dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a throw-away book left %s: %v", dir, err)
	}
}

// TestReadersWhileSaving: people look at pages while another saves; nobody
// waits in vain and every page sees whole sheets only.
func TestReadersWhileSaving(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	saved := make(chan struct{})
	errs := make(chan error, 100)
	var readers sync.WaitGroup
	for range 4 {
		readers.Go(func() {
			for {
				select {
				case <-saved:
					return
				default:
				}
				rs, err := b.ReadingsOf(ctx, parts[0])
				bySheet := map[int64]int{}
				for _, r := range rs {
					bySheet[r.Sheet.ID]++
				}
				for sheet, n := range bySheet {
					if n != 1 && n != 2 {
						err = errors.Join(err, fmt.Errorf("sheet %d shows %d of its 2 readings", sheet, n))
					}
				}
				if _, _, more := b.OpenFindings(ctx); more != nil {
					err = errors.Join(err, more)
				}
				if _, more := b.Slots(ctx, []Engine{e}); more != nil {
					err = errors.Join(err, more)
				}
				if err != nil {
					errs <- err
					return
				}
			}
		})
	}
	for i := range 10 {
		thrust, pin := reading(t, b, parts[0], wear.Cylinder, "barrel bore", 0, "5.2512"), reading(t, b, parts[0], wear.Cylinder, "barrel bore", 0, "5.2512")
		thrust.Station, pin.Station, thrust.Axis, pin.Axis = "top", "top", "thrust", "pin"
		sheetOn(t, b, e, 1, wear.Day(fmt.Sprintf("2025-02-%02d", i+1)), wear.Hours(61_000+100*i), thrust, pin)
	}
	close(saved)
	readers.Wait()
	close(errs)
	for err := range errs {
		t.Error(err)
	}
}

// TestWritersTakeTurns: saves at the same time all succeed.
func TestWritersTakeTurns(t *testing.T) {
	b, ctx := open(t), context.Background()
	var all sync.WaitGroup
	errs := make([]error, 20)
	for i := range errs {
		all.Go(func() {
			_, errs[i] = b.AddPart(ctx, Part{Kind: wear.Pin, Serial: fmt.Sprintf("N-%d", i), Source: "new"})
		})
	}
	all.Wait()
	if err := errors.Join(errs...); err != nil {
		t.Error(err)
	}
	if _, total, err := b.Parts(ctx, PartFilter{Limit: 1}); err != nil || total != len(errs) {
		t.Errorf("%d parts, %v; want %d", total, err, len(errs))
	}
}

// TestNotABook: what is no file, or a file of something else, is not called
// damaged, and nothing is left beside it.
func TestNotABook(t *testing.T) {
	ctx := context.Background()
	folder := t.TempDir()
	other := filepath.Join(folder, "other.db")
	db := must[*sql.DB](t)(sql.Open("sqlite", other))
	must[sql.Result](t)(db.Exec("CREATE TABLE x (a)"))
	ok(t, db.Close())
	for _, path := range []string{"", folder, os.DevNull} {
		_, err := Open(ctx, path)
		_, err2 := OpenReadOnly(ctx, path)
		for _, err := range []error{err, err2} {
			if !errors.Is(err, ErrNotBook) || errors.Is(err, ErrDamaged) {
				t.Errorf("%q: %v", path, err)
			}
		}
		if _, err := os.Stat(path + ".lock"); path != "" && !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("a lock was left beside %q: %v", path, err)
		}
	}
	if _, err := OpenReadOnly(ctx, other); !errors.Is(err, ErrNotBook) {
		t.Errorf("a file of another program: %v", err)
	}
}
