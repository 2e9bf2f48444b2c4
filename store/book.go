// Package store keeps a book in one SQLite file: engines, parts, where each
// sat, what it measured, the limits it is held against, and for each run the
// summary that every judgement is made from.
//
// Each public method is one transaction with one fixed time; the private
// functions below them take that transaction and compose.
package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/gofrs/flock"
	"github.com/pressly/goose/v3"
	_ "modernc.org/sqlite" // the pure-Go SQLite driver

	"barrelbook/migrations"
	"barrelbook/wear"
)

// Book is an open book. It is safe for concurrent use.
type Book struct {
	path  string
	write *sql.DB // one connection; every transaction takes the write lock at once
	read  *pool
	lock  *flock.Flock
	now   func() time.Time
	temp  string // folder to remove on Close, for a throw-away book

	audited []auditTable
}

// Errors of opening a book.
var (
	ErrInUse   = errors.New("the book is open in another program")
	ErrNewer   = errors.New("the book was written by a newer version of this program")
	ErrDamaged = errors.New("the book is damaged")
	ErrNoBook  = errors.New("there is no book")
	ErrNotBook = errors.New("that is no book")
)

// Open opens the book at path for reading and writing, making and migrating
// it as needed. Errors: ErrInUse (with what the other program wrote into the
// lock file), ErrNewer, ErrDamaged, ErrNotBook, and those of the file system.
func Open(ctx context.Context, path string) (*Book, error) {
	abs, err := bookFile(path)
	if err != nil && !errors.Is(err, ErrNoBook) {
		return nil, err
	}
	lock := flock.New(abs + ".lock")
	got, err := lock.TryLock()
	if err != nil {
		return nil, fmt.Errorf("lock book: %w", err)
	}
	if !got {
		where, _ := os.ReadFile(abs + ".address")
		if len(where) == 0 {
			return nil, ErrInUse
		}
		return nil, fmt.Errorf("%w, which serves it at %s", ErrInUse, where)
	}
	// a new book is its owner's alone to read; SQLite gives what stands beside it the same mode
	if f, err := os.OpenFile(abs, os.O_RDONLY|os.O_CREATE, 0o600); err == nil {
		_ = f.Close()
	}
	b := &Book{path: abs, lock: lock, now: time.Now}
	if err := b.open(ctx); err != nil {
		return nil, errors.Join(damaged(ctx, abs, err), b.Close())
	}
	return b, nil
}

// OpenTemporary makes an empty book in a folder of its own, which Close
// removes.
func OpenTemporary(ctx context.Context) (*Book, error) {
	dir, err := os.MkdirTemp("", "barrelbook-")
	if err != nil {
		return nil, fmt.Errorf("make temporary book: %w", err)
	}
	b, err := Open(ctx, filepath.Join(dir, "barrelbook.db"))
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	b.temp = dir
	return b, nil
}

// OpenReadOnly opens an existing book for reading only, also while another
// program has it open. Errors: ErrNoBook, ErrNewer, ErrDamaged, ErrNotBook, and
// those of the file system.
func OpenReadOnly(ctx context.Context, path string) (*Book, error) {
	abs, err := bookFile(path)
	if err != nil {
		return nil, err
	}
	b := &Book{path: abs, now: time.Now}
	if b.read, err = openPool(abs); err != nil {
		return nil, err
	}
	version, newest, err := versions(ctx, b.read.DB)
	switch {
	case err != nil:
		return nil, errors.Join(damaged(ctx, abs, unread(err)), b.Close())
	case version > newest:
		return nil, errors.Join(ErrNewer, b.Close())
	case version < newest:
		return nil, errors.Join(fmt.Errorf("the book at %s is of an older version: start the program on it once", path), b.Close())
	}
	return b, nil
}

func (b *Book) open(ctx context.Context) (err error) {
	whole := b.needsReading()
	if b.write, err = sql.Open("sqlite", dsn(b.path, "_txlock", "immediate")); err != nil {
		return fmt.Errorf("open book: %w", err)
	}
	b.write.SetMaxOpenConns(1)
	if whole {
		if err := checkPages(ctx, b.write); err != nil {
			return err
		}
	}
	if err := migrate(ctx, b.write); err != nil {
		return err
	}
	if b.read, err = openPool(b.path); err != nil {
		return err
	}
	if b.audited, err = findAuditTables(ctx, b.read); err != nil {
		return err
	}
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		if err := b.cover(ctx, t); err != nil {
			return err
		}
		return ensureFeatures(ctx, t)
	})
	if err != nil {
		return err
	}
	return b.summariseOutdated(ctx)
}

// dsn carries the pragmas, so that each pooled connection has them.
func dsn(path string, more ...string) string {
	q := url.Values{"_pragma": {"busy_timeout(5000)", "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)", "cache_size(-16000)", "temp_store(memory)"}}
	for i := 0; i < len(more); i += 2 {
		q.Set(more[i], more[i+1])
		if more[i+1] == "ro" {
			q["_pragma"] = []string{"busy_timeout(5000)", "cache_size(-16000)", "temp_store(memory)", "query_only(1)"}
		}
	}
	return (&url.URL{Scheme: "file", Path: filepath.ToSlash(path), RawQuery: q.Encode()}).String()
}

// quickSize is the size in bytes up to which a book is read through at every
// start, which takes up to half a second then.
const quickSize = 64 << 20

// needsReading reports whether all pages of the file should be looked at
// before it is used: a book of usual size always, a large one where it was not
// closed properly, so that its log is still there.
func (b *Book) needsReading() bool {
	file, err := os.Stat(b.path)
	if err != nil || file.Size() <= quickSize {
		return true
	}
	log, err := os.Stat(b.path + "-wal")
	return err == nil && log.Size() > 0
}

// bookFile is where a book lies. It must be a file, or nothing yet, which is
// ErrNoBook.
func bookFile(path string) (abs string, err error) {
	if abs, err = filepath.Abs(path); err != nil {
		return "", fmt.Errorf("find book: %w", err)
	}
	at, err := os.Stat(abs)
	switch {
	case path == "":
		return "", fmt.Errorf("%w: its name is empty", ErrNotBook)
	case errors.Is(err, fs.ErrNotExist):
		return abs, fmt.Errorf("%w at %s", ErrNoBook, path)
	case err != nil:
		return "", fmt.Errorf("find book: %w", err)
	case !at.Mode().IsRegular():
		return "", fmt.Errorf("%w: %s", ErrNotBook, path)
	}
	return abs, nil
}

// unread keeps a book that is damaged, and a file that is none, apart from one
// that cannot be read just now, such as for want of a right to.
func unread(err error) error {
	switch {
	case isDamage(err):
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	case isNoTable(err):
		return fmt.Errorf("%w: %w", ErrNotBook, err)
	}
	return fmt.Errorf("read book: %w", err)
}

func checkPages(ctx context.Context, db *sql.DB) error {
	var check string
	if err := db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&check); err != nil {
		return unread(err)
	}
	if check != "ok" {
		return fmt.Errorf("%w: %s", ErrDamaged, check)
	}
	return nil
}

// migrate brings the file to the newest version, or refuses one that is newer
// than this program or no book at all.
func migrate(ctx context.Context, db *sql.DB) error {
	provider, err := goose.NewProvider(goose.DialectSQLite3, db, migrations.FS)
	if err != nil {
		return fmt.Errorf("read migrations: %w", err)
	}
	version, newest, err := provider.GetVersions(ctx)
	if err != nil {
		return unread(err)
	}
	if version > newest {
		return fmt.Errorf("%w (version %d, this program knows %d)", ErrNewer, version, newest)
	}
	if _, err := provider.Up(ctx); err != nil {
		return fmt.Errorf("bring book up to date: %w", err)
	}
	return nil
}

// versions reads the book's version without changing it, and the newest one
// this program knows.
func versions(ctx context.Context, db *sql.DB) (version, newest int64, err error) {
	err = db.QueryRowContext(ctx, "SELECT max(version_id) FROM goose_db_version WHERE is_applied").Scan(&version)
	if err != nil {
		return 0, 0, fmt.Errorf("read book version: %w", err)
	}
	sources, err := fs.Glob(migrations.FS, "*.sql")
	if err != nil || len(sources) == 0 {
		return 0, 0, fmt.Errorf("read migrations: %w", err)
	}
	for _, name := range sources {
		n, err := goose.NumericComponent(name)
		if err != nil {
			return 0, 0, fmt.Errorf("read migration %s: %w", name, err)
		}
		newest = max(newest, n)
	}
	return version, newest, nil
}

// Serving writes where the book is being served, so that a second start can
// say so; Close removes it.
func (b *Book) Serving(address string) error {
	if err := os.WriteFile(b.path+".address", []byte(address), 0o600); err != nil {
		return fmt.Errorf("note address: %w", err)
	}
	return nil
}

// Path is the file the book is kept in.
func (b *Book) Path() string { return b.path }

// Close closes the book, gives up its lock and removes a temporary one.
func (b *Book) Close() error {
	var errs []error
	if b.read != nil {
		errs = append(errs, b.read.Close())
	}
	if b.write != nil {
		errs = append(errs, b.write.Close())
	}
	if b.lock != nil {
		if err := os.Remove(b.path + ".address"); err != nil && !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
		errs = append(errs, b.lock.Close())
	}
	if b.temp != "" {
		errs = append(errs, os.RemoveAll(b.temp))
	}
	return errors.Join(errs...)
}

// tx is a write transaction in hand, with the one time that all it writes
// carries and what has to be summarised before it ends.
type tx struct {
	*sql.Tx
	at      string
	now     time.Time
	answer  string         // the address of what it saves, for a receipt
	touched map[int64]bool // parts whose series must be made anew
	moved   map[int64]bool // engines that a part came to or left
	mu      sync.Mutex     // of cache
	cache   map[string]*sql.Stmt
}

// prepared returns a statement prepared once for the transaction.
func (t *tx) prepared(ctx context.Context, query string) (*sql.Stmt, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if s := t.cache[query]; s != nil {
		return s, nil
	}
	s, err := t.PrepareContext(ctx, query)
	if err == nil {
		t.cache[query] = s
	}
	return s, err
}

// insert runs a prepared INSERT and returns the new row's id.
func (t *tx) insert(ctx context.Context, query string, args ...any) (int64, error) {
	s, err := t.prepared(ctx, query)
	if err != nil {
		return 0, err
	}
	res, err := s.ExecContext(ctx, args...)
	if err != nil {
		return 0, err
	}
	return res.LastInsertId()
}

func (t *tx) touch(parts ...int64) {
	for _, p := range parts {
		t.touched[p] = true
	}
}

// tx runs do in one write transaction; the series of the parts it touched are
// made anew and judged, and the audit tells what it did, before it commits.
func (b *Book) tx(ctx context.Context, do func(ctx context.Context, t *tx) error) error {
	if b.write == nil {
		return errors.New("the book is open for reading only")
	}
	sqlTx, err := b.write.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("begin: %w", err)
	}
	defer sqlTx.Rollback() //nolint:errcheck // after Commit it has nothing to do
	now := b.now()
	t := &tx{Tx: sqlTx, at: moment(now), now: now, touched: map[int64]bool{}, moved: map[int64]bool{}, cache: map[string]*sql.Stmt{}}
	if err := b.watch(ctx, t); err != nil {
		return err
	}
	if err := asProvided(ctx); err != nil {
		return err
	}
	if err := do(ctx, t); err != nil {
		return err
	}
	if err := keepReceipt(ctx, t); err != nil {
		return err
	}
	if err := summarise(ctx, t); err != nil {
		return err
	}
	if err := b.account(ctx, t); err != nil {
		return err
	}
	if err := sqlTx.Commit(); err != nil {
		return fmt.Errorf("commit: %w", err)
	}
	return nil
}

// moment writes a time as fixed-width UTC text, which sorts.
func moment(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

// Today is the present day where the program runs.
func (b *Book) Today() wear.Day { return wear.Day(b.now().Format("2006-01-02")) }

// QueryContext prepares each query once for the transaction.
func (t *tx) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	s, err := t.prepared(ctx, query)
	if err != nil {
		return nil, err
	}
	return s.QueryContext(ctx, args...)
}
