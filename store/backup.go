package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Backup copies the book, also while it is in use, and returns the copy's path.
// to is a file, which is replaced, or a folder, where the copy is named after
// the book, the moment, the last row of its audit and the beginning of that
// row's hash; "" is the book's own folder. A copy that is not sound, or not
// whole, is thrown away: what has the name of a backup is one.
func (b *Book) Backup(ctx context.Context, to string) (path string, err error) {
	folder, name, err := b.backupPlace(to)
	if err != nil {
		return "", err
	}
	temp := filepath.Join(folder, fmt.Sprintf("%s.%d%s", b.baseName(), b.now().UnixNano(), halfBackup))
	b.sweep(folder)
	defer os.Remove(temp) //nolint:errcheck // once it has its name it is not there
	if err := copyBook(ctx, b.path, temp); err != nil {
		return "", fmt.Errorf("copy book: %w", err)
	}
	head, err := readBackup(ctx, temp)
	if err != nil {
		return "", fmt.Errorf("look at copy: %w", err)
	}
	if name == "" {
		name = backupName(b.baseName(), b.now(), head)
	}
	path = filepath.Join(folder, name)
	if err := syncFile(temp); err != nil {
		return "", fmt.Errorf("bring copy to the disk: %w", err)
	}
	if err := os.Chmod(temp, 0o600); err != nil {
		return "", fmt.Errorf("keep backup private: %w", err)
	}
	if err := os.Rename(temp, path); err != nil {
		return "", fmt.Errorf("name copy: %w", err)
	}
	if runtime.GOOS != "windows" { // where a folder cannot be flushed
		if err := syncFile(folder); err != nil {
			return "", fmt.Errorf("bring copy to the disk: %w", err)
		}
	}
	return path, nil
}

// copyBook copies a book as it is at one moment, by a connection of its own:
// those of the pool may write nothing, not even a copy.
func copyBook(ctx context.Context, from, to string) (err error) {
	db, err := sql.Open("sqlite", dsn(from, "mode", "ro"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	if _, err := db.ExecContext(ctx, "PRAGMA query_only = 0"); err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, "VACUUM INTO ?", to)
	return err
}

// halfBackup ends the name of a copy until it is whole.
const halfBackup = ".half"

// sweep takes away halves of copies that were given up a day ago or more.
func (b *Book) sweep(folder string) {
	halves, _ := filepath.Glob(filepath.Join(folder, b.baseName()+".*"+halfBackup)) // a name with a bracket finds none
	for _, h := range halves {
		if at, err := os.Stat(h); err == nil && b.now().Sub(at.ModTime()) > 24*time.Hour {
			os.Remove(h) //nolint:errcheck // the next time
		}
	}
}

// backupPlace splits where a copy should go into folder and file; no file where
// it shall be named.
func (b *Book) backupPlace(to string) (folder, name string, err error) {
	if to == "" {
		return filepath.Dir(b.path), "", nil
	}
	if to, err = filepath.Abs(to); err != nil {
		return "", "", fmt.Errorf("find place of copy: %w", err)
	}
	if at, err := os.Stat(to); err == nil && at.IsDir() {
		return to, "", nil
	}
	if book, err := os.Stat(b.path); err == nil {
		if same, err := os.Stat(to); err == nil && os.SameFile(book, same) {
			return "", "", errors.New("that is the book itself: name another file")
		}
	}
	return filepath.Dir(to), filepath.Base(to), nil
}

func (b *Book) baseName() string {
	return strings.TrimSuffix(filepath.Base(b.path), filepath.Ext(b.path))
}

// readBackup reads a copy through and finds the head of its audit.
func readBackup(ctx context.Context, path string) (h Head, err error) {
	db, err := sql.Open("sqlite", dsn(path, "mode", "ro"))
	if err != nil {
		return h, fmt.Errorf("open copy: %w", err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := checkPages(ctx, db); err != nil {
		return h, err
	}
	return findHead(ctx, db)
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil { // a folder, or a file that may only be read
		if f, err = os.Open(path); err != nil {
			return err
		}
	}
	return errors.Join(f.Sync(), f.Close())
}

// backupName is that of a copy: barrelbook-20260501T120000Z-row412-3fa9c1d2e4b7.db
func backupName(book string, at time.Time, h Head) string {
	return fmt.Sprintf("%s-%s-row%d-%.*s.db", book, at.UTC().Format("20060102T150405Z"), h.Rows, shortestHead, h.Hash)
}

var backupNamed = regexp.MustCompile(`-(\d{8}T\d{6}Z)-row(\d+)-([0-9a-f]{12})\.db$`)

// backupFile is a backup as its name tells of it.
type backupFile struct {
	path, at string
	head     Head
}

// Backups lists the backups beside a book, newest first.
func Backups(book string) []string {
	var out []string
	for _, f := range findBackups(book) {
		out = append(out, f.path)
	}
	return out
}

func findBackups(book string) []backupFile {
	entries, _ := os.ReadDir(filepath.Dir(book)) // no folder, no backups
	base := strings.TrimSuffix(filepath.Base(book), filepath.Ext(book))
	var out []backupFile
	for _, e := range entries {
		m := backupNamed.FindStringSubmatch(e.Name())
		if m == nil || e.Name() != base+m[0] {
			continue
		}
		rows, _ := strconv.ParseInt(m[2], 10, 64) // digits by the pattern
		out = append(out, backupFile{filepath.Join(filepath.Dir(book), e.Name()), m[1], Head{Rows: rows, Hash: m[3]}})
	}
	slices.SortFunc(out, func(x, y backupFile) int { return strings.Compare(y.at, x.at) })
	return out
}

// newestGood is the newest backup beside a book that reads well, "" for none.
func newestGood(ctx context.Context, book string) string {
	for _, f := range findBackups(book) {
		if _, err := readBackup(ctx, f.path); err == nil {
			return f.path
		}
	}
	return ""
}

// damaged adds to a refusal of a damaged book which backup there is.
func damaged(ctx context.Context, book string, err error) error {
	if !errors.Is(err, ErrDamaged) {
		return err
	}
	if good := newestGood(ctx, book); good != "" {
		return fmt.Errorf("%w; the newest good backup is %s", err, good)
	}
	return fmt.Errorf("%w; there is no good backup beside it", err)
}

// checkBackups wants the head that each backup's name tells of in the audit.
func (b *Book) checkBackups(ctx context.Context, q querier) ([]string, error) {
	var seen []string
	for _, f := range findBackups(b.path) {
		var there bool
		if err := q.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM audit WHERE seq = ? AND substr(hash, 1, ?) = ?)", f.head.Rows, shortestHead, f.head.Hash).Scan(&there); err != nil {
			return seen, fmt.Errorf("look for backup's head: %w", err)
		}
		if !there {
			return seen, broken("row %d of the audit is not there as the backup %s has it: the end of the audit was cut off or written anew, or the backup is another book's", f.head.Rows, f.path)
		}
		seen = append(seen, f.path)
	}
	return seen, nil
}
