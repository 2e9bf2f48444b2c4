package main

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"barrelbook/store"
)

// TestCheckCommand: a book that is as its audit says, one compared with a hash
// of before and with a backup, and one that was changed past the program.
func TestCheckCommand(t *testing.T) {
	db := linerBook(t)
	out := says(t, "check", "-db", db)
	head, found := "", false
	if _, head, found = strings.Cut(out, "\nhead "); !found || !strings.Contains(out, "none changed past the program") || !strings.Contains(out, "cut off together with their records") {
		t.Fatalf("check says\n%s", out)
	}
	head, _, _ = strings.Cut(head, ",")
	if out := says(t, "backup", "-db", db); !strings.Contains(out, head[:12]+".db") {
		t.Errorf("backup says %s", out)
	}
	if out := says(t, "check", "-db", db, "-head", head); !strings.Contains(out, "0 rows since") || !strings.Contains(out, "its last row of the audit is in this book") || strings.Contains(out, "Nothing in the file") {
		t.Errorf("with a hash and a backup, check says\n%s", out)
	}
	if _, err := said(t, "check", "-db", db, "-head", strings.Repeat("0", 64)); err == nil || !strings.Contains(err.Error(), "no row of the audit has the hash") {
		t.Errorf("with a hash of another book: %v", err)
	}
	writer, err := sql.Open("sqlite", "file:"+db)
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []string{"CREATE TABLE kept AS SELECT sql FROM sqlite_schema WHERE name = 'reading_kept'", "DROP TRIGGER reading_kept", "UPDATE reading SET value = value + 1 WHERE id = 7"} {
		if _, err := writer.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	var trigger string
	if err := errors.Join(writer.QueryRow("SELECT sql FROM kept").Scan(&trigger)); err != nil {
		t.Fatal(err)
	}
	for _, q := range []string{trigger, "DROP TABLE kept"} {
		if _, err := writer.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	if err := writer.Close(); err != nil {
		t.Fatal(err)
	}
	var broken store.Broken
	if out, err := said(t, "check", "-db", db); !errors.As(err, &broken) || errors.Is(err, errUsage) || !strings.Contains(err.Error(), "readings 1 to 64 were changed past the program") {
		t.Errorf("of a changed book check says %v\n%s", err, out)
	}
}

func TestBackupCommand(t *testing.T) {
	db, stick := linerBook(t), t.TempDir()
	says(t, "backup", "-db", db, filepath.Join(stick, "copy.db"))
	says(t, "check", "-db", filepath.Join(stick, "copy.db"))
	if _, err := said(t, "backup", "-db", db, "a", "b"); !errors.Is(err, errUsage) {
		t.Errorf("two files: %v", err)
	}
	if _, err := said(t, "check", "-db", db, "x"); !errors.Is(err, errUsage) {
		t.Errorf("check with a word: %v", err)
	}
	if _, err := said(t, "backup", "-db", filepath.Join(stick, "none.db")); !errors.Is(err, store.ErrNoBook) {
		t.Errorf("no book: %v", err)
	}
	if _, err := os.Stat(filepath.Join(stick, "none.db")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("looking for a book made one: %v", err)
	}
}
