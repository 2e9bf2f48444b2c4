package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"barrelbook/store"
)

// backup copies a book, also while it is served.
func backup(ctx context.Context, args []string, out io.Writer) error {
	set, path := flags("backup", "[FILE or FOLDER]", out)
	if err := parse(set, args); err != nil {
		return err
	}
	if set.NArg() > 1 {
		return fmt.Errorf("backup writes one file: %w", errUsage)
	}
	book, err := store.OpenReadOnly(ctx, *path)
	if err != nil {
		return fmt.Errorf("open %s: %w", *path, err)
	}
	to, err := book.Backup(ctx, set.Arg(0))
	if store.IsFull(err) {
		err = fmt.Errorf("the disk is full, and nothing was left on it: %w", err)
	}
	if err = errors.Join(err, book.Close()); err != nil {
		return err
	}
	fmt.Fprintf(out, "%s was copied to %s\n", *path, to)
	return nil
}
