package main

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"barrelbook/server"
	"barrelbook/store"
)

// TestPasswordCommand: who forgot the password gets a fresh one that lets them in, to choose their own.
func TestPasswordCommand(t *testing.T) {
	db := filepath.Join(t.TempDir(), "book.db")
	if _, err := said(t, "password", "-db", db, "A. Owner"); !errors.Is(err, store.ErrNoBook) {
		t.Errorf("without a book: %v", err)
	}
	says(t, "import", "-db", db, linerLimits)
	if _, err := said(t, "password", "-db", db, "A. Owner"); !errors.Is(err, store.ErrNotFound) || !strings.Contains(err.Error(), "no people yet") {
		t.Errorf("without people: %v", err)
	}
	book, err := store.Open(context.Background(), db)
	if err != nil {
		t.Fatal(err)
	}
	addOwner(t, book)
	if _, err := said(t, "password", "-db", db, "A. Owner"); !errors.Is(err, store.ErrInUse) {
		t.Errorf("while the book is open: %v", err)
	}
	if err := book.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := said(t, "password", "-db", db, "N. Nobody"); !errors.Is(err, store.ErrNotFound) || !strings.Contains(err.Error(), "only A. Owner") {
		t.Errorf("of nobody: %v", err)
	}
	if _, err := said(t, "password", "-db", db); !errors.Is(err, errUsage) {
		t.Errorf("without a name: %v", err)
	}
	out := says(t, "password", "-db", db, "a.", "owner")
	fresh := regexp.MustCompile(`is now: ([a-z2-7]{5}(?:-[a-z2-7]{5}){3})\n`).FindStringSubmatch(out)
	if fresh == nil {
		t.Fatalf("it says %q", out)
	}
	if book, err = store.Open(context.Background(), db); err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	r := httptest.NewRequest(http.MethodPost, "http://localhost/sign-in", strings.NewReader(url.Values{"name": {"A. Owner"}, "password": {fresh[1]}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	answers := server.New(book, slog.New(slog.DiscardHandler))
	answers.Handler().ServeHTTP(w, r)
	if w.Code != http.StatusOK || len(w.Result().Cookies()) != 1 || !strings.Contains(w.Body.String(), "Choose your own password") {
		t.Errorf("signing in with %s: status %d", fresh[1], w.Code)
	}
	if err := answers.Close(); err != nil {
		t.Error(err)
	}
}

// TestServerLimits: the server that is started has a limit of everything that
// a slow or greedy sender could stretch.
func TestServerLimits(t *testing.T) {
	web := webServer(http.NotFoundHandler(), slog.New(slog.DiscardHandler))
	for name, d := range map[string]int64{"ReadHeaderTimeout": int64(web.ReadHeaderTimeout), "ReadTimeout": int64(web.ReadTimeout), "WriteTimeout": int64(web.WriteTimeout), "IdleTimeout": int64(web.IdleTimeout), "MaxHeaderBytes": int64(web.MaxHeaderBytes)} {
		if d <= 0 {
			t.Errorf("%s is not limited", name)
		}
	}
}
