package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"barrelbook/store"
)

// check looks a book through and holds every record against the audit.
func check(ctx context.Context, args []string, out io.Writer) error {
	set, path := flags("check", "", out)
	head := set.String("head", "", "a `hash` that a record or a backup carries, or its first 12 characters: it must be in the audit")
	if err := parse(set, args); err != nil {
		return err
	}
	if set.NArg() > 0 {
		return fmt.Errorf("check takes no %q: %w", set.Arg(0), errUsage)
	}
	book, err := store.OpenReadOnly(ctx, *path)
	if err != nil {
		return fmt.Errorf("open %s: %w", *path, err)
	}
	report, err := book.Check(ctx, *head)
	if err = errors.Join(err, book.Close()); err != nil {
		return fmt.Errorf("check %s: %w", *path, err)
	}
	sayChecked(out, *path, report, *head)
	return nil
}

func sayChecked(out io.Writer, path string, r store.CheckReport, head string) {
	fmt.Fprintf(out, "%s is as its audit says.\n", path)
	fmt.Fprintln(out, "  the file: every page, index and reference is sound, and the rules that refuse changes are there")
	fmt.Fprintf(out, "  the audit: %d rows, each follows the one before\n", r.Head.Rows)
	fmt.Fprintf(out, "  the records: %d in %d tables, none missing, none changed past the program\n", r.Records, r.Tables)
	fmt.Fprintln(out, "  not looked at: summaries, verdicts and findings, which the program makes from the readings")
	if r.Printed != "" {
		fmt.Fprintf(out, "  the hash %s: %s; rows after it could be anybody's who may write the file\n", head, r.Printed)
	}
	for _, b := range r.Backups {
		fmt.Fprintf(out, "  the backup %s: its last row of the audit is in this book\n", b)
	}
	fmt.Fprintf(out, "head %s, row %d, %s\n", r.Head.Hash, r.Head.Rows, r.Head.At)
	if r.Printed == "" && len(r.Backups) == 0 {
		fmt.Fprintln(out, "Nothing in the file can show whether its newest rows were cut off together with their records.\nCompare with the hash on a record printed before (-head), or keep backups beside the book.")
	}
}
