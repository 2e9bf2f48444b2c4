package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"time"
)

// health asks a running program whether it answers, for a container's check.
func health(ctx context.Context, args []string, out io.Writer) error {
	set, _ := flags("health", "", out)
	addr := set.String("addr", "localhost:8440", "the `address` it listens on")
	if err := parse(set, args); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+*addr+"/health", nil)
	if err != nil {
		return fmt.Errorf("ask %s: %w", *addr, err)
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return fmt.Errorf("ask %s: %w", *addr, err)
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		return fmt.Errorf("%s answers %s", *addr, resp.Status)
	}
	fmt.Fprintln(out, "ok")
	return nil
}
