package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"barrelbook/server"
)

// site is one address that is listened on, and what answers there.
type site struct {
	listener net.Listener
	web      *http.Server
	url      string
}

// listen takes an address. What answers there, and whether encrypted, is set
// before answer.
func listen(addr string, log *slog.Logger) (*site, error) {
	listener, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, fmt.Errorf("listen on %s: %w", addr, err)
	}
	return &site{listener: listener, web: webServer(nil, log)}, nil
}

// webServer has limits for whoever sends or reads slowly, or too much.
func webServer(answers http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{Handler: answers, ReadHeaderTimeout: server.ReadHeaderTimeout, ReadTimeout: server.ReadTimeout, WriteTimeout: server.WriteTimeout,
		IdleTimeout: server.IdleTimeout, MaxHeaderBytes: server.MaxHeaderBytes, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
}

func (s *site) port() string {
	_, port, _ := net.SplitHostPort(s.listener.Addr().String())
	return port
}

func (s *site) serve() error {
	if s.web.TLSConfig != nil {
		return s.web.ServeTLS(s.listener, "", "")
	}
	return s.web.Serve(s.listener)
}

// stopWithin is how long requests may take to end after the program was told to
// stop.
const stopWithin = 10 * time.Second

// answer serves all sites until ctx ends or one of them fails, then lets the
// requests that are under way end.
func answer(ctx context.Context, sites []*site) error {
	ended := make(chan error, len(sites))
	for _, s := range sites {
		go func() { ended <- s.serve() }()
	}
	var failed error
	left := len(sites)
	select {
	case failed = <-ended:
		left--
	case <-ctx.Done():
	}
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopWithin)
	defer cancel()
	stopped := make(chan error, len(sites))
	for _, s := range sites {
		go func() { stopped <- s.web.Shutdown(last) }()
	}
	errs := []error{failed}
	for range sites {
		errs = append(errs, <-stopped)
	}
	for range left {
		if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}

// closeAll gives up addresses before anything was answered there.
func closeAll(sites []*site) error {
	var errs []error
	for _, s := range sites {
		errs = append(errs, s.listener.Close())
	}
	return errors.Join(errs...)
}
