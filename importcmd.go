package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"barrelbook/server"
	"barrelbook/store"
)

// errBadRows says that a file was not imported; its bad rows have been listed.
var errBadRows = errors.New("nothing of a file with bad rows was imported")

// importFiles brings CSV files into the book, each whole or not at all.
func importFiles(ctx context.Context, args []string, out io.Writer) error {
	set, path := flags("import", "CSV...", out)
	dry := set.Bool("dry-run", false, "say what would happen and change nothing")
	if err := parse(set, args); err != nil {
		return err
	}
	if set.NArg() == 0 {
		return fmt.Errorf("import takes at least one CSV file: %w", errUsage)
	}
	book, err := bookToFill(ctx, *path, *dry)
	if err != nil {
		return fmt.Errorf("open %s: %w", *path, err)
	}
	var bad bool
	all := func(into store.Importer) error {
		for _, file := range set.Args() {
			report, err := server.ImportFile(ctx, into, file)
			if err != nil {
				return fmt.Errorf("%s: %w", file, err)
			}
			say(out, file, report, *dry)
			bad = bad || !report.OK()
		}
		return nil
	}
	if *dry {
		err = book.TryImport(ctx, all)
	} else {
		err = book.Import(ctx, all)
	}
	if err == nil && bad {
		err = errBadRows
	}
	return errors.Join(err, book.Close())
}

// bookToFill opens the book; a dry run where there is none tries an empty one
// elsewhere, so that nothing is left behind.
func bookToFill(ctx context.Context, path string, dry bool) (*store.Book, error) {
	if _, err := os.Stat(path); dry && errors.Is(err, fs.ErrNotExist) {
		return store.OpenTemporary(ctx)
	}
	return store.Open(ctx, path)
}

// say prints what a file brought, or why it brought nothing.
func say(out io.Writer, file string, r store.ImportReport, dry bool) {
	did := "added"
	if dry {
		did = "would add"
	}
	if !r.OK() {
		fmt.Fprintf(out, "%s: %s file, %d rows, %d of them bad: nothing imported\n", file, r.Kind, r.Rows, r.BadRows)
		for _, e := range r.Errors {
			fmt.Fprintf(out, "  line %d, column %s, value %q: %s\n", e.Line, e.Column, e.Value, e.Reason)
		}
		if more := r.BadRows - len(r.Errors); more > 0 {
			fmt.Fprintf(out, "  and %d more\n", more)
		}
		return
	}
	fmt.Fprintf(out, "%s: %s file, %d rows\n", file, r.Kind, r.Rows)
	if r.Rows > 0 && r.Already == r.Rows {
		fmt.Fprintln(out, "  every row was in the book already: nothing added")
		return
	}
	for _, c := range []struct {
		n    int
		what string
	}{{r.Readings, "readings"}, {r.Events, "installations, removals and work"}, {r.Limits, "limits"}} {
		if c.n > 0 {
			fmt.Fprintf(out, "  %s %d %s\n", did, c.n, c.what)
		}
	}
	if r.Already > 0 {
		fmt.Fprintf(out, "  %d rows were in the book already\n", r.Already)
	}
	for _, made := range []struct {
		what  string
		names []string
	}{{"engine models", r.Models}, {"engines", r.Engines}, {"parts", r.Parts}, {"installations that the file does not tell", r.Installations}, {"features", r.Features}} {
		if len(made.names) > 0 {
			fmt.Fprintf(out, "  %s %d %s: %s\n", did, len(made.names), made.what, someOf(made.names))
		}
	}
}

func someOf(names []string) string {
	const most = 40
	if len(names) <= most {
		return strings.Join(names, "; ")
	}
	return fmt.Sprintf("%s; and %d more", strings.Join(names[:most], "; "), len(names)-most)
}
