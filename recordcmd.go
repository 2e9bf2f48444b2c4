package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"barrelbook/server"
	"barrelbook/store"
	"barrelbook/wear"
)

// record writes the record of a part or an engine.
func record(ctx context.Context, args []string, out io.Writer) error {
	set, path := flags("record", "", out)
	part := set.String("part", "", "`KIND/SERIAL` of a part, or KIND/PARTNUMBER/SERIAL")
	engine := set.String("engine", "", "`SERIAL` of an engine")
	format := set.String("format", "pdf", "pdf, csv or json")
	file := set.String("o", "", "the `file` to write; - for standard output")
	if err := parse(set, args); err != nil {
		return err
	}
	switch {
	case (*part == "") == (*engine == ""):
		return fmt.Errorf("give either -part or -engine: %w", errUsage)
	case *file == "":
		return fmt.Errorf("give the file to write with -o: %w", errUsage)
	case *format != "pdf" && *format != "csv" && *format != "json":
		return fmt.Errorf("format %q is none of pdf, csv, json: %w", *format, errUsage)
	}
	book, err := store.OpenReadOnly(ctx, *path)
	if err != nil {
		return fmt.Errorf("open %s: %w", *path, err)
	}
	var buf bytes.Buffer
	rec, err := findRecord(ctx, book, *part, *engine)
	if err == nil {
		err = server.WriteRecord(ctx, book, &buf, rec, *format)
	}
	if err = errors.Join(err, book.Close()); err != nil {
		return err
	}
	if *file == "-" {
		_, err = buf.WriteTo(out)
		return err
	}
	if err := os.WriteFile(*file, buf.Bytes(), 0o644); err != nil {
		return fmt.Errorf("write record: %w", err)
	}
	return nil
}

func findRecord(ctx context.Context, book *store.Book, part, engine string) (server.Record, error) {
	if engine != "" {
		es, err := book.EnginesBySerial(ctx, engine)
		if err != nil {
			return server.Record{}, err
		}
		if len(es) != 1 {
			return server.Record{}, fmt.Errorf("the book has %d engines with serial %s", len(es), engine)
		}
		return server.EngineRecordOf(ctx, book, es[0].ID)
	}
	words := strings.Split(part, "/")
	kind, ok := wear.ParseKind(words[0])
	if !ok || len(words) < 2 || len(words) > 3 {
		return server.Record{}, fmt.Errorf("part %q: write it as cylinder/C-1041: %w", part, errUsage)
	}
	ps, err := book.PartsNamed(ctx, kind, words[len(words)-1])
	if err != nil {
		return server.Record{}, err
	}
	var ids []int64
	var numbers []string
	for _, p := range ps {
		if len(words) == 2 || strings.EqualFold(words[1], p.PartNumber) {
			ids, numbers = append(ids, p.ID), append(numbers, p.PartNumber)
		}
	}
	switch len(ids) {
	case 0:
		return server.Record{}, fmt.Errorf("the book has no %s", part)
	case 1:
		return server.PartRecordOf(ctx, book, ids[0])
	}
	return server.Record{}, fmt.Errorf("several parts are called %s, with part numbers %s: write KIND/PARTNUMBER/SERIAL", part, strings.Join(numbers, ", "))
}
