package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"barrelbook/store"
)

// said runs a command line and returns what it printed.
func said(t *testing.T, args ...string) (string, error) {
	t.Helper()
	var out bytes.Buffer
	err := run(context.Background(), args, &out)
	return out.String(), err
}

// says runs a command line that must succeed.
func says(t *testing.T, args ...string) string {
	t.Helper()
	out, err := said(t, args...)
	if err != nil {
		t.Fatalf("barrelbook %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return out
}

const (
	linerLimits  = "testdata/liners_limits.csv"
	linerHistory = "testdata/liners_history.csv"
)

// linerBook imports the published wear of 32 cylinder liners into a book.
func linerBook(t *testing.T) string {
	t.Helper()
	db := filepath.Join(t.TempDir(), "liners.db")
	says(t, "import", "-db", db, linerLimits, linerHistory)
	return db
}

// TestImportCommand: first what would happen, then that it happens, then that
// it does not happen again.
func TestImportCommand(t *testing.T) {
	db := filepath.Join(t.TempDir(), "book.db")
	for _, c := range []struct {
		args     []string
		wanted   []string
		unwanted string
	}{
		{[]string{"import", "-db", db, "-dry-run", linerLimits}, []string{"limits file, 1 rows", "would add 1 limits", "would add 1 features: cylinder liner wear (mm, wears up)"}, "\n  added"},
		{[]string{"import", "-db", db, linerLimits}, []string{"added 1 limits", "added 1 engine models: marine two-stroke"}, "would"},
		{[]string{"import", "-db", db, "-dry-run", linerHistory}, []string{"history file, 96 rows", "would add 64 readings", "would add 32 parts: cylinder L01"}, "\n  added"},
		{[]string{"import", "-db", db, linerHistory}, []string{"added 64 readings", "added 32 installations, removals and work", "added 32 parts"}, "would"},
		{[]string{"import", "-db", db, linerLimits, linerHistory}, []string{"limits file, 1 rows\n  every row was in the book already: nothing added", "history file, 96 rows\n  every row was in the book already: nothing added"}, "added 1"},
	} {
		out := says(t, c.args...)
		for _, w := range c.wanted {
			if !strings.Contains(out, w) {
				t.Errorf("%v does not say %q:\n%s", c.args, w, out)
			}
		}
		if strings.Contains(out, c.unwanted) {
			t.Errorf("%v says %q:\n%s", c.args, c.unwanted, out)
		}
	}
}

// TestImportBadRows: nothing of a file with a bad row, every bad row in words,
// and the status of a failure.
func TestImportBadRows(t *testing.T) {
	dir := t.TempDir()
	db, bad, none := filepath.Join(dir, "book.db"), filepath.Join(dir, "bad.csv"), filepath.Join(dir, "letter.csv")
	for path, text := range map[string]string{
		bad: "date,engine_model,engine,engine_hours,position,kind,serial,feature,value,unit\n2024-01-01,M,R-1,10,1,cylinder,C-1,barrel bore,5.2500,in\n" +
			"2024-06-01,M,R-1,310,1,cylinder,C-1,barrel bore,5.25oo,in\n1.9.2024,M,R-1,400,1,cylinder,C-1,barrel bore,5.2510,in\n",
		none: "Dear Sir or Madam,\nyours\n",
	} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	out, err := said(t, "import", "-db", db, bad)
	if !errors.Is(err, errBadRows) || errors.Is(err, errUsage) {
		t.Errorf("error %v", err)
	}
	for _, w := range []string{"3 rows, 2 of them bad: nothing imported", `line 3, column value, value "5.25oo": "5.25oo" is not a number`, `line 4, column date, value "1.9.2024": `} {
		if !strings.Contains(out, w) {
			t.Errorf("the import does not say %q:\n%s", w, out)
		}
	}
	if out := says(t, "findings", "-db", db, "-all", "-format", "json"); out != "" {
		t.Errorf("a refused file left %s", out)
	}
	if _, err := said(t, "import", "-db", db, none); err == nil || !strings.Contains(err.Error(), "neither that of a history nor that of a limits file") || !strings.Contains(err.Error(), "letter.csv") {
		t.Errorf("a letter: %v", err)
	}
	if _, err := said(t, "import", "-db", db, filepath.Join(dir, "missing.csv")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
}

// TestFastestLiners: liners 19 and 17 of the published data wear fastest for
// their hours, about twice as fast as the others, yet none is flagged: one in
// 32 looks like that by chance. Found beforehand by regressing the logarithm
// of wear on that of hours, which wear's own tests do too. Data: M. Giorgio,
// M. Guida, G. Pulcini, Technometrics 52(2), 172-187 (2010).
func TestFastestLiners(t *testing.T) {
	db := linerBook(t)
	type finding struct {
		Serial, Unit     string
		Ratio, Hours, P  float64
		Flagged          bool
		Reference_parts  int
		Equivalent_hours float64
	}
	var all []finding
	for decoder := json.NewDecoder(strings.NewReader(says(t, "findings", "-db", db, "-all", "-format", "json"))); decoder.More(); {
		var f finding
		if err := decoder.Decode(&f); err != nil {
			t.Fatal(err)
		}
		all = append(all, f)
	}
	if len(all) != 32 {
		t.Fatalf("%d findings, want 32", len(all))
	}
	slices.SortFunc(all, func(a, b finding) int {
		if a.Ratio > b.Ratio {
			return -1
		}
		return 1
	})
	if all[0].Serial != "L19" || all[1].Serial != "L17" {
		t.Errorf("the fastest are %s and %s, want L19 and L17", all[0].Serial, all[1].Serial)
	}
	for _, f := range all {
		if f.Flagged || f.Unit != "mm" || f.Reference_parts != 31 {
			t.Errorf("finding %+v", f)
		}
	}
	if f := all[0]; f.Hours != 3900 || f.Ratio < 1.8 || f.Ratio > 2.5 || f.P < 0.005 || f.P > 0.1 {
		t.Errorf("liner 19: %+v", f)
	}
	if out := says(t, "findings", "-db", db); !strings.Contains(out, "no part is flagged") {
		t.Errorf("without -all: %s", out)
	}
	table := strings.Split(strings.TrimSpace(says(t, "findings", "-db", db, "-all", "-format", "table")), "\n")
	if len(table) != 33 || !strings.Contains(table[0], "times normal") || !strings.HasPrefix(table[1], "cylinder L19") {
		t.Errorf("the table:\n%s", strings.Join(table, "\n"))
	}
}

// findingFields are those that the command promises.
var findingFields = strings.Fields("kind serial engine position feature groove hours wear unit expected ratio ratio_low ratio_high equivalent_hours p test flagged reference_parts verdict hours_to_limit sentence")

func TestFindingFields(t *testing.T) {
	lines := strings.Split(strings.TrimSpace(says(t, "findings", "-db", linerBook(t), "-all", "-format", "json")), "\n")
	forecasts := 0
	for _, line := range lines {
		var f map[string]any
		if err := json.Unmarshal([]byte(line), &f); err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		for _, name := range findingFields {
			if _, there := f[name]; !there {
				t.Fatalf("no field %s in %s", name, line)
			}
		}
		if left, _ := f["hours_to_limit"].(map[string]any); left != nil {
			forecasts++
			if names := slices.Sorted(maps.Keys(left)); !slices.Equal(names, []string{"high", "low", "median"}) {
				t.Errorf("the forecast has %v", names)
			}
			if left["low"].(float64) > left["median"].(float64) || left["median"].(float64) > left["high"].(float64) {
				t.Errorf("the forecast %v is out of order", left)
			}
		}
	}
	if forecasts < 20 {
		t.Errorf("%d forecasts of %d", forecasts, len(lines))
	}
}

func TestRecordCommand(t *testing.T) {
	db, dir := linerBook(t), t.TempDir()
	for format, begins := range map[string]string{"pdf": "%PDF-", "csv": "kind,serial,", "json": "{"} {
		file := filepath.Join(dir, "record."+format)
		says(t, "record", "-db", db, "-part", "cylinder/L19", "-format", format, "-o", file)
		text, err := os.ReadFile(file)
		if err != nil || !strings.HasPrefix(string(text), begins) {
			t.Errorf("%s: %.40q, %v", format, text, err)
		}
	}
	rows, err := csv.NewReader(strings.NewReader(says(t, "record", "-db", db, "-part", "cylinders/l19", "-format", "csv", "-o", "-"))).ReadAll()
	if err != nil || len(rows) != 2 {
		t.Errorf("%d rows, %v; want a head and the one inspection of liner 19", len(rows), err)
	}
	for what, args := range map[string][]string{
		"an unknown part":       {"-part", "cylinder/L99", "-o", "-"},
		"an unknown engine":     {"-engine", "R-99", "-o", "-"},
		"a part number of none": {"-part", "cylinder/PN/L19", "-o", "-"},
	} {
		if out, err := said(t, append([]string{"record", "-db", db}, args...)...); err == nil || errors.Is(err, errUsage) || out != "" {
			t.Errorf("%s: %v, %q", what, err, out)
		}
	}
}

// TestUsage: a command line that cannot be meant is refused with the way to
// help, and touches no book.
func TestUsage(t *testing.T) {
	db := filepath.Join(t.TempDir(), "book.db")
	for _, args := range [][]string{
		{"sail"}, {""}, {"import"}, {"import", "-db", db}, {"import", "-colour", "x.csv"}, {"findings", "-db", db, "-format", "xml"}, {"findings", "-all=perhaps"},
		{"record", "-db", db, "-o", "-"}, {"record", "-db", db, "-part", "cylinder/L1", "-engine", "R-1", "-o", "-"}, {"record", "-db", db, "-part", "cylinder/L1"},
		{"record", "-db", db, "-part", "cylinder/L1", "-format", "xls", "-o", "-"}, {"serve", "-db", db, "now"}, {"-port", "8440"}, {"serve", "-db", db, "-addr", "8440"},
		{"serve", "-db", db, "-addr", "0.0.0.0:8440"}, {"serve", "-db", db, "-addr", ":8440"}, {"serve", "-db", db, "-addr", "192.0.2.1:8440"}, {"serve", "-db", db, "-addr", "[::]:8440"}, {"serve", "-db", db, "-addr", "elsewhere.example:8440"},
	} {
		if _, err := said(t, args...); !errors.Is(err, errUsage) {
			t.Errorf("barrelbook %q: %v", args, err)
		}
	}
	if left, err := filepath.Glob(db + "*"); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	for _, args := range [][]string{{"help"}, {"-h"}, {"--help"}} {
		if out := says(t, args...); !strings.Contains(out, "barrelbook findings") || !strings.Contains(out, "barrelbook serve") {
			t.Errorf("%v says %s", args, out)
		}
	}
	for _, c := range commands {
		if out, err := said(t, c.name, "-h"); !errors.Is(err, flag.ErrHelp) || !strings.Contains(out, "usage: barrelbook "+c.name) {
			t.Errorf("%s -h: %v, %s", c.name, err, out)
		}
	}
	for _, args := range [][]string{{"findings", "-db", db}, {"record", "-db", db, "-part", "cylinder/L1", "-o", "-"}} {
		if _, err := said(t, args...); !errors.Is(err, store.ErrNoBook) {
			t.Errorf("%v without a book: %v", args, err)
		}
	}
}

// loud is a writer that can be read while it is written.
type loud struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (l *loud) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *loud) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// TestServe starts the program on a free port, asks whether it is well, and
// stops it as a signal would.
func TestServe(t *testing.T) {
	db := filepath.Join(t.TempDir(), "book.db")
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	var out loud
	ended := make(chan error, 1)
	go func() { ended <- run(ctx, []string{"serve", "-db", db, "-addr", "127.0.0.1:0"}, &out) }()
	address := regexp.MustCompile(`http://(127\.0\.0\.1:[1-9][0-9]*) `)
	var found []string
	for deadline := time.Now().Add(30 * time.Second); found == nil; found = address.FindStringSubmatch(out.String()) {
		select {
		case err := <-ended:
			t.Fatalf("it ended: %v", err)
		case <-time.After(10 * time.Millisecond):
		}
		if time.Now().After(deadline) {
			t.Fatal("it never said where it serves")
		}
	}
	if strings.Count(out.String(), "\n") != 1 || !strings.Contains(out.String(), db) {
		t.Errorf("it says %q, want one line with the book's file", out.String())
	}
	if got := says(t, "health", "-addr", found[1]); got != "ok\n" {
		t.Errorf("health says %q", got)
	}
	if _, err := said(t, "import", "-db", db, linerLimits); !errors.Is(err, store.ErrInUse) || !strings.Contains(err.Error(), "http://"+found[1]) {
		t.Errorf("an import into the book that is served: %v", err)
	}
	if got := says(t, "findings", "-db", db); !strings.Contains(got, "no part is flagged") {
		t.Errorf("findings of the book that is served: %q", got)
	}
	if _, err := said(t, "serve", "-db", filepath.Join(t.TempDir(), "other.db"), "-addr", found[1]); err == nil || errors.Is(err, errUsage) {
		t.Errorf("a second program on the same port: %v", err)
	}
	stop()
	if err := <-ended; err != nil {
		t.Errorf("it ended with %v", err)
	}
	if _, err := said(t, "health", "-addr", found[1]); err == nil {
		t.Error("it is healthy after it was stopped")
	}
	says(t, "import", "-db", db, linerLimits)
}
