package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"

	"barrelbook/server"
	"barrelbook/store"
	"barrelbook/wear"
)

// findings lists the parts that wear faster than normal, worst first: one JSON
// object a line a part and feature, or a table.
func findings(ctx context.Context, args []string, out io.Writer) error {
	set, path := flags("findings", "", out)
	format := set.String("format", "table", "json or table")
	all := set.Bool("all", false, "also those that are not flagged")
	if err := parse(set, args); err != nil {
		return err
	}
	if *format != "json" && *format != "table" {
		return fmt.Errorf("format %q is neither json nor table: %w", *format, errUsage)
	}
	book, err := store.OpenReadOnly(ctx, *path)
	if err != nil {
		return fmt.Errorf("open %s: %w", *path, err)
	}
	return errors.Join(listFindings(ctx, book, *format, *all, out), book.Close())
}

func listFindings(ctx context.Context, book *store.Book, format string, all bool, out io.Writer) error {
	settings, err := book.Settings(ctx)
	if err != nil {
		return err
	}
	fs, err := book.AllFindings(ctx, all)
	if err != nil {
		return err
	}
	encoder := json.NewEncoder(out)
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	if format == "table" {
		fmt.Fprintln(table, "part\tengine\tposition\tfeature\thours\ttimes normal\tlike hours\tchance\tverdict\tstate")
	}
	for _, f := range fs {
		r := server.FindingOf(f, settings.Unit)
		if format == "json" {
			if err := encoder.Encode(r); err != nil {
				return fmt.Errorf("write finding: %w", err)
			}
			continue
		}
		fmt.Fprintf(table, "%s %s\t%s\t%s\t%s\t%.0f\t%.2f\t%.0f\t%s\t%s\t%s\n", r.Kind, r.Serial, r.Engine, dash(r.Position), place(r), r.Hours, r.Ratio, r.Equivalent, wear.OneIn(r.P), r.Verdict, r.State)
	}
	if format == "table" && len(fs) == 0 {
		fmt.Fprintln(table, "no part is flagged")
	}
	return table.Flush()
}

func dash(n int) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprint(n)
}

func place(r server.FindingRecord) string {
	s := r.Feature
	if r.Groove > 0 {
		s += fmt.Sprintf(" groove %d", r.Groove)
	}
	if r.Station != "" {
		s += " " + r.Station
	}
	return s
}
