package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"sync"

	"barrelbook/server"
	"barrelbook/store"
)

// serving is what the command line says about where the book is served.
type serving struct {
	addr    string
	lan     bool
	lanAddr string
}

// serve serves the book on this machine, and with -lan to tablets on the same
// network, until it is told to stop.
func serve(ctx context.Context, args []string, out io.Writer) error {
	set, path := flags("serve", "", out)
	var where serving
	set.StringVar(&where.addr, "addr", "localhost:8440", "the `address` to listen on, of this machine only")
	set.BoolVar(&where.lan, "lan", false, "serve tablets on the same network too, over HTTPS")
	set.StringVar(&where.lanAddr, "lan-addr", lanAddress, "the `address` for tablets; how they come to trust it is told at the port after it")
	demo := set.Bool("demo", false, "serve a throw-away book filled with an invented scenario")
	if err := parse(set, args); err != nil {
		return err
	}
	if set.NArg() > 0 {
		return fmt.Errorf("serve takes no %q: %w", set.Arg(0), errUsage)
	}
	if err := onlyHere(where.addr); err != nil {
		return err
	}
	if _, _, err := lanPorts(where.lanAddr); err != nil {
		return err
	}
	book, err := bookToServe(ctx, *path, *demo)
	if err != nil {
		return err
	}
	return errors.Join(serveBook(ctx, book, where, out), book.Close())
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
		return fmt.Errorf("address %q can be reached from other machines without encryption: use localhost there, and -lan for tablets: %w", addr, errUsage)
	}
	return nil
}

// readyForNetwork says why the book may not be served to a network yet.
func readyForNetwork(ctx context.Context, book *store.Book) error {
	people, err := book.AnyPeople(ctx)
	if err == nil && !people {
		return errors.New("the book has no owner yet: start without -lan first, and make one in the browser of this machine")
	}
	return err
}

// serveBook listens wherever the book is to be served, and says where, before
// it answers anything.
func serveBook(ctx context.Context, book *store.Book, where serving, out io.Writer) error {
	log := slog.New(slog.NewTextHandler(os.Stderr, nil))
	answers := server.New(book, log)
	background, stop := context.WithCancel(ctx)
	defer stop()
	home, err := listenHere(book, answers, where.addr, log)
	if err != nil {
		return errors.Join(err, answers.Close())
	}
	sites := []*site{home}
	var watching sync.WaitGroup
	var lan *server.LAN
	if where.lan {
		var network []*site
		if lan, network, err = startLAN(ctx, book, answers, where.lanAddr, log); err != nil {
			return errors.Join(err, closeAll(sites), answers.Close())
		}
		sites = append(sites, network...)
	}
	home.web.Handler = answers.Handler()
	fmt.Fprintf(out, "Barrelbook keeps %s and serves it at %s (stop with Ctrl+C)\n", book.Path(), home.url)
	if lan != nil {
		tell(out, lan.Trust(), home.url)
		watching.Go(func() { watchLAN(background, lan, home.url, log, out) })
	}
	answers.Run(background)
	err = answer(ctx, sites)
	stop()
	watching.Wait()
	answers.Wait()
	return errors.Join(err, answers.Close())
}

// listenHere listens on this machine.
func listenHere(book *store.Book, answers *server.Server, addr string, log *slog.Logger) (*site, error) {
	home, err := listen(addr, log)
	if err != nil {
		return nil, err
	}
	if at, isTCP := home.listener.Addr().(*net.TCPAddr); !isTCP || !at.IP.IsLoopback() { // a hosts file can say anything
		return nil, errors.Join(fmt.Errorf("%s leads to %s, which other machines can reach: %w", addr, home.listener.Addr(), errUsage), home.listener.Close())
	}
	host, _, _ := net.SplitHostPort(addr)
	home.url = "http://" + net.JoinHostPort(host, home.port())
	if err := book.Serving(home.url); err != nil {
		return nil, errors.Join(err, home.listener.Close())
	}
	return home, nil
}
