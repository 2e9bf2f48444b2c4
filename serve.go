package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"time"

	"barrelbook/server"
	"barrelbook/store"
)

// serve serves the book on this machine until it is told to stop.
func serve(ctx context.Context, args []string, out io.Writer) error {
	set, path := flags("serve", "", out)
	addr := set.String("addr", "localhost:8440", "the `address` to listen on, of this machine only")
	demo := set.Bool("demo", false, "serve a throw-away book filled with an invented scenario")
	if err := parse(set, args); err != nil {
		return err
	}
	if set.NArg() > 0 {
		return fmt.Errorf("serve takes no %q: %w", set.Arg(0), errUsage)
	}
	if err := onlyHere(*addr); err != nil {
		return err
	}
	book, err := bookToServe(ctx, *path, *demo)
	if err != nil {
		return err
	}
	return errors.Join(serveBook(ctx, book, *addr, out), book.Close())
}

func bookToServe(ctx context.Context, path string, demo bool) (*store.Book, error) {
	if !demo {
		book, err := store.Open(ctx, path)
		if err != nil {
			return nil, fmt.Errorf("open %s: %w", path, err)
		}
		return book, nil
	}
	book, err := store.OpenTemporary(ctx)
	if err != nil {
		return nil, err
	}
	if err := fillDemo(ctx, book, book.Today()); err != nil {
		return nil, errors.Join(fmt.Errorf("fill demo book: %w", err), book.Close())
	}
	return book, nil
}

// onlyHere refuses an address that others could reach: what goes there is not
// encrypted.
func onlyHere(addr string) error {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return fmt.Errorf("address %q: write it as localhost:8440: %w", addr, errUsage)
	}
	if !server.ThisMachine(host) {
		return fmt.Errorf("address %q can be reached from other machines without encryption: use localhost: %w", addr, errUsage)
	}
	return nil
}

func serveBook(ctx context.Context, book *store.Book, addr string, out io.Writer) error {
	listener, err := net.Listen("tcp", addr)
	if err != nil {
		return fmt.Errorf("listen on %s: %w", addr, err)
	}
	host, _, _ := net.SplitHostPort(addr)
	_, port, _ := net.SplitHostPort(listener.Addr().String())
	url := "http://" + net.JoinHostPort(host, port)
	if err := book.Serving(url); err != nil {
		return errors.Join(err, listener.Close())
	}
	log := slog.New(slog.NewTextHandler(os.Stderr, nil))
	answers := server.New(book, log)
	background, stop := context.WithCancel(ctx)
	answers.Run(background)
	web := webServer(answers.Handler(), log)
	fmt.Fprintf(out, "Barrelbook keeps %s and serves it at %s (stop with Ctrl+C)\n", book.Path(), url)
	failed := make(chan error, 1)
	go func() { failed <- web.Serve(listener) }()
	select {
	case err = <-failed:
	case <-ctx.Done():
		last, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		err = web.Shutdown(last)
		cancel()
	}
	stop()
	answers.Wait()
	if errors.Is(err, http.ErrServerClosed) {
		err = nil
	}
	return errors.Join(err, answers.Close())
}

// webServer has limits for whoever sends or reads slowly, or too much.
func webServer(answers http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{Handler: answers, ReadHeaderTimeout: server.ReadHeaderTimeout, ReadTimeout: server.ReadTimeout, WriteTimeout: server.WriteTimeout,
		IdleTimeout: server.IdleTimeout, MaxHeaderBytes: server.MaxHeaderBytes, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
}
