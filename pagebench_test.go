package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"

	"barrelbook/server"
	"barrelbook/store"
)

// BenchmarkPages is the server time of each page, from the request to the
// last byte of the answer.
func BenchmarkPages(b *testing.B) {
	book := openBook(b, bigBook(b, bigEngines(b)))
	addOwner(b, book)
	handler := signedIn(b, book, server.New(book, slog.New(slog.DiscardHandler)))
	engines := engineIDs(b, book)
	parts := len(engines) * bigPositions * partsEach
	for _, page := range []struct {
		name string
		path func(i int) string
	}{
		{"Fleet", func(int) string { return "/" }},
		{"Engine", func(i int) string { return fmt.Sprintf("/engines/%d", engines[step(i, len(engines))]) }},
		{"Part", func(i int) string { return fmt.Sprintf("/parts/%d", step(i, parts)+1) }},
		{"Findings", func(int) string { return "/findings" }},
		{"Engines", func(int) string { return "/engines" }},
		{"Parts", func(int) string { return "/parts" }},
		{"PartsSearch", func(i int) string { return fmt.Sprintf("/parts?q=C-%04d", step(i, len(engines))+1) }},
		{"Measure", func(i int) string {
			return fmt.Sprintf("/measure/engine/%d/%d", engines[step(i, len(engines))], i%bigPositions+1)
		}},
		{"Limits", func(int) string { return "/limits" }},
	} {
		b.Run(page.name, func(b *testing.B) {
			resetPeak()
			percentiles(b, func(i int) func() error {
				path := page.path(i)
				return func() error { return get(handler, path) }
			})
			reportPeak(b)
		})
	}
}

func get(handler http.Handler, path string) error {
	r := httptest.NewRequest(http.MethodGet, "http://localhost"+path, nil)
	w := httptest.NewRecorder()
	handler.ServeHTTP(w, r)
	if w.Code != http.StatusOK {
		return fmt.Errorf("GET %s: status %d", path, w.Code)
	}
	return nil
}

// BenchmarkStart is the time from opening the big book to the first answer.
func BenchmarkStart(b *testing.B) {
	path := bigBook(b, bigEngines(b))
	cookie := leaveCookie(b, path)
	for b.Loop() {
		if err := start(path, cookie); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms")
	b.ReportMetric(0, "ns/op")
}

// leaveCookie signs somebody in to a book that is not open.
func leaveCookie(b *testing.B, path string) *http.Cookie {
	b.Helper()
	book, err := store.Open(b.Context(), path)
	if err != nil {
		b.Fatal(err)
	}
	addOwner(b, book)
	cookie, err := server.New(book, slog.New(slog.DiscardHandler)).SignedIn(b.Context(), 1, "localhost")
	if err := errors.Join(err, book.Close()); err != nil {
		b.Fatal(err)
	}
	return cookie
}

func start(path string, cookie *http.Cookie) error {
	book, err := store.Open(context.Background(), path)
	if err != nil {
		return err
	}
	err = get(withCookie(server.New(book, slog.New(slog.DiscardHandler)).Handler(), cookie), "/")
	return errors.Join(err, book.Close())
}

// BenchmarkQueries is the time of what each page asks of the book.
func BenchmarkQueries(b *testing.B) {
	book := openBook(b, bigBook(b, bigEngines(b)))
	engines := engineIDs(b, book)
	parts := len(engines) * bigPositions * partsEach
	for _, q := range []struct {
		name string
		ask  func(ctx context.Context, i int) error
	}{
		{"Engines", func(ctx context.Context, _ int) error {
			es, _, err := book.Engines(ctx, "", 50, 0)
			if err != nil {
				return err
			}
			_, err = book.Slots(ctx, es)
			return err
		}},
		{"OpenFindings", func(ctx context.Context, _ int) error { _, _, err := book.OpenFindings(ctx); return err }},
		{"FindingsOn", func(ctx context.Context, i int) error {
			_, err := book.FindingsOn(ctx, engines[step(i, len(engines))])
			return err
		}},
		{"FastWear", func(ctx context.Context, _ int) error { _, err := book.FastWear(ctx); return err }},
		{"BeyondLimit", func(ctx context.Context, _ int) error { _, err := book.BeyondLimit(ctx); return err }},
		{"Part", func(ctx context.Context, i int) error { return askPart(ctx, book, int64(step(i, parts)+1)) }},
		{"Parts", func(ctx context.Context, _ int) error {
			_, _, err := book.Parts(ctx, store.PartFilter{Limit: 50})
			return err
		}},
		{"PartsSearch", func(ctx context.Context, i int) error {
			_, _, err := book.Parts(ctx, store.PartFilter{Words: fmt.Sprintf("C-%04d", step(i, len(engines))+1), Limit: 50})
			return err
		}},
	} {
		b.Run(q.name, func(b *testing.B) {
			percentiles(b, func(i int) func() error { return func() error { return q.ask(b.Context(), i) } })
		})
	}
}

// askPart reads what a part's page shows.
func askPart(ctx context.Context, book *store.Book, part int64) error {
	if _, err := book.ReadingsOf(ctx, part); err != nil {
		return err
	}
	if _, err := book.StaysOf(ctx, part); err != nil {
		return err
	}
	series, err := book.SeriesOf(ctx, part)
	if err != nil {
		return err
	}
	for _, s := range series {
		if _, err := book.Explain(ctx, s.ID); err != nil {
			return err
		}
	}
	return nil
}
