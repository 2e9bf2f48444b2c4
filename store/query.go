package store

import (
	"context"
	"database/sql"
	"strconv"
)

// querier is what reading functions need of a pool or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// scanner is a row, of one or of many.
type scanner interface{ Scan(dest ...any) error }

// list runs a query and reads every row.
func list[T any](ctx context.Context, q querier, scan func(scanner, *T) error, query string, args ...any) ([]T, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		var one T
		if err := scan(rows, &one); err != nil {
			return nil, err
		}
		all = append(all, one)
	}
	return all, rows.Err()
}

// one runs a query for a single row; ErrNotFound where there is none.
func one[T any](ctx context.Context, q querier, scan func(scanner, *T) error, query string, args ...any) (T, error) {
	all, err := list(ctx, q, scan, query, args...)
	if err == nil && len(all) == 0 {
		err = ErrNotFound
	}
	if err != nil {
		var none T
		return none, err
	}
	return all[0], nil
}

// Now is the present moment as the book writes it.
func (b *Book) Now() string { return moment(b.now()) }

// jsonList writes ids as the JSON text that json_each reads, for queries that
// take many at once.
func jsonList(ids []int64) string {
	b := []byte{'['}
	for i, id := range ids {
		if i > 0 {
			b = append(b, ',')
		}
		b = strconv.AppendInt(b, id, 10)
	}
	return string(append(b, ']'))
}
