package store

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"barrelbook/wear"
)

// childBook names the book that the test program, started again by
// TestKilled, saves into until it is killed.
const childBook = "BARRELBOOK_TEST_CHILD"

func TestMain(m *testing.M) {
	if path := os.Getenv(childBackup); path != "" {
		fmt.Fprintln(os.Stderr, backUpUntilKilled(path))
		os.Exit(3)
	}
	if path := os.Getenv(childBook); path != "" {
		if err := saveUntilKilled(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
		os.Exit(3)
	}
	os.Exit(m.Run())
}

// saveUntilKilled saves one sheet after the other and prints the name of each
// once the book has acknowledged it.
func saveUntilKilled(path string) error {
	ctx := context.Background()
	b, err := Open(ctx, path)
	if err != nil {
		return err
	}
	e, err := b.Engine(ctx, 1)
	if err != nil {
		return err
	}
	x, err := findFeatureIndex(ctx, b.read)
	if err != nil {
		return err
	}
	bore := x.called(wear.Cylinder, "barrel bore")
	for shows := e.Hours + 10; ; shows += 10 {
		n := NewSheet{Sheet: Sheet{UID: uuid.NewString(), Day: "2025-01-01", Engine: 1, Position: 1}, Shows: &shows}
		for _, axis := range []string{"thrust", "pin"} {
			n.Readings = append(n.Readings, NewReading{Part: 1, Feature: bore.ID, Station: "top", Axis: axis, Value: 133_350_000 + wear.Value(shows), Typed: "5.25", Unit: wear.Inch, SD: 5080, Resolution: 2540})
		}
		if _, err := b.SaveSheet(ctx, n); err != nil {
			return err
		}
		if _, err := fmt.Println(n.UID); err != nil {
			return err
		}
	}
}

// TestKilled kills a program that saves, at a moment that nobody chose: every
// sheet it had acknowledged is in the book, whole, and the file is sound.
func TestKilled(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "book.db")
	b := must[*Book](t)(Open(ctx, path))
	e := addRadial(t, b, "R-1")
	addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	ok(t, b.Close())
	rng := rand.New(rand.NewPCG(7, 7))
	var acknowledged []string
	for range 4 {
		acknowledged = append(acknowledged, killAfter(t, path, time.Duration(rng.IntN(250))*time.Millisecond)...)
		b := must[*Book](t)(Open(ctx, path))
		var check string
		ok(t, b.read.QueryRowContext(ctx, "PRAGMA integrity_check").Scan(&check))
		if check != "ok" {
			t.Errorf("integrity check: %s", check)
		}
		for _, uid := range acknowledged {
			var n int
			ok(t, b.read.QueryRowContext(ctx, "SELECT count(*) FROM reading r JOIN sheet s ON s.id = r.sheet_id WHERE s.uid = ?", uid).Scan(&n))
			if n != 2 {
				t.Errorf("sheet %s was acknowledged, and the book has %d of its 2 readings", uid, n)
			}
		}
		var half, points, sheets int
		ok(t, b.read.QueryRowContext(ctx, "SELECT count(*) FROM sheet WHERE (SELECT count(*) FROM reading WHERE sheet_id = sheet.id) <> 2").Scan(&half))
		ok(t, b.read.QueryRowContext(ctx, "SELECT count(*) FROM sheet").Scan(&sheets))
		ok(t, b.read.QueryRowContext(ctx, "SELECT length(points) / 24 FROM series").Scan(&points))
		if half != 0 || points != sheets+1 { // and the middle of new at 0 h
			t.Errorf("%d half sheets; the summary has %d points for %d sheets", half, points, sheets)
		}
		sound(t, b)
		ok(t, b.Close())
	}
	t.Logf("%d sheets acknowledged before four kills", len(acknowledged))
}

// killAfter starts the saving program, kills it some time after its first
// acknowledgement, and returns all that it acknowledged.
func killAfter(t *testing.T, path string, wait time.Duration) []string {
	t.Helper()
	return killChild(t, childBook+"="+path, wait)
}

// killChild starts the test program as another, and returns the lines that it
// printed until it was killed.
func killChild(t *testing.T, as string, wait time.Duration) []string {
	t.Helper()
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), as)
	var stderr strings.Builder
	child.Stderr = &stderr
	out := must[io.ReadCloser](t)(child.StdoutPipe())
	ok(t, child.Start())
	lines := bufio.NewReader(out)
	var uids []string
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			break // a line cut short was not acknowledged
		}
		if len(uids) == 0 {
			time.AfterFunc(wait, func() { child.Process.Kill() }) //nolint:errcheck // it may have ended by itself, which is found below
		}
		uids = append(uids, strings.TrimSpace(line))
	}
	if err := child.Wait(); child.ProcessState.Exited() {
		t.Fatalf("the program ended by itself: %v: %s", err, stderr.String())
	}
	return uids
}
