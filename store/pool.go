package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"sync"
)

// pool is the reading connections of a book. It prepares each query once: to
// parse one of a page's queries takes as long as to run it.
type pool struct {
	*sql.DB
	mu       sync.Mutex
	prepared map[string]*sql.Stmt
}

// readers is the number of reading connections.
const readers = 4

func openPool(path string) (*pool, error) {
	db, err := sql.Open("sqlite", dsn(path, "mode", "ro"))
	if err != nil {
		return nil, fmt.Errorf("open book: %w", err)
	}
	db.SetMaxOpenConns(readers)
	db.SetMaxIdleConns(readers)
	return &pool{DB: db, prepared: map[string]*sql.Stmt{}}, nil
}

// QueryContext runs a query by its prepared statement.
func (p *pool) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	s, err := p.statement(ctx, query)
	if err != nil {
		return nil, err
	}
	return s.QueryContext(ctx, args...)
}

func (p *pool) statement(ctx context.Context, query string) (*sql.Stmt, error) {
	p.mu.Lock()
	s := p.prepared[query]
	p.mu.Unlock()
	if s != nil {
		return s, nil
	}
	s, err := p.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if known := p.prepared[query]; known != nil {
		return known, s.Close() // another request was faster
	}
	p.prepared[query] = s
	return s, nil
}

// Close closes the statements and the connections.
func (p *pool) Close() error {
	var errs []error
	for _, s := range p.prepared {
		errs = append(errs, s.Close())
	}
	return errors.Join(append(errs, p.DB.Close())...)
}
