package server

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"barrelbook/store"
	"barrelbook/wear"
)

// File is a CSV file that was read: history rows or limits rows, and in the
// report what was wrong with single rows.
type File struct {
	History *store.History
	Limits  []store.LimitsRow
	Report  store.ImportReport
}

// Errors of a file as a whole.
var (
	ErrEmptyFile   = errors.New("the file is empty")
	ErrUnknownFile = errors.New("the header is neither that of a history nor that of a limits file")
	ErrLongRow     = fmt.Errorf("a row is longer than %d KB: is a quotation mark left open?", longestRow>>10)
)

// longestRow is how many bytes of a file may go by without a row's end.
const longestRow = 256 << 10

// rowReader gives up a file whose row does not end, before it fills the memory.
type rowReader struct {
	io.Reader
	row int // bytes read since the last row, and those read ahead of it
}

func (r *rowReader) Read(p []byte) (int, error) {
	if r.row > longestRow {
		return 0, ErrLongRow
	}
	n, err := r.Reader.Read(p)
	r.row += n
	return n, err
}

var (
	historyColumns = []string{"date", "engine_model", "engine", "engine_hours", "position", "kind", "serial", "event", "part_hours", "feature", "groove", "station", "axis", "value", "unit", "gauge_sd", "temperature_c", "note"}
	limitsColumns  = []string{"engine_model", "kind", "feature", "groove", "ref", "new_min", "new_max", "service_min", "service_max", "unit", "wear", "overhaul_hours", "document", "revision", "page"}
)

// ReadCSV reads a history or limits file; which one is seen from its header.
// Columns may come in any order; those that may be empty may be missing. A
// bad row goes into the report and reading goes on; an error comes back only
// for a file that cannot be read at all.
func ReadCSV(r io.Reader) (*File, error) {
	bounded := &rowReader{Reader: r}
	buffered := bufio.NewReaderSize(bounded, 64<<10)
	head, err := buffered.Peek(4096)
	if len(head) == 0 {
		if err != nil && err != io.EOF {
			return nil, fmt.Errorf("read file: %w", err)
		}
		return nil, ErrEmptyFile
	}
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		if _, err := buffered.Discard(3); err != nil {
			return nil, fmt.Errorf("read file: %w", err)
		}
	}
	rows := csv.NewReader(buffered)
	rows.FieldsPerRecord, rows.ReuseRecord, rows.TrimLeadingSpace = -1, true, true
	line, _, _ := bytes.Cut(head, []byte("\n"))
	if bytes.Count(line, []byte(";")) > bytes.Count(line, []byte(",")) {
		rows.Comma = ';' // as spreadsheets write where the comma is a decimal sign
	}
	header, err := rows.Read()
	if err != nil {
		return nil, fmt.Errorf("read header: %w", err)
	}
	return readRows(func() ([]string, int, error) {
		bounded.row = 0
		record, err := rows.Read()
		if err != nil || len(record) == 0 {
			return nil, 0, err
		}
		line, _ := rows.FieldPos(0)
		return record, line, nil
	}, header)
}

// nextRow reads a row, with the line it begins in; io.EOF after the last.
type nextRow func() (record []string, line int, err error)

func readRows(next nextRow, header []string) (*File, error) {
	has := map[string]bool{}
	names := make([]string, len(header))
	for i, h := range header {
		if fault := textFault(h); fault != "" {
			return nil, fmt.Errorf("%w: it %s", ErrUnknownFile, fault)
		}
		names[i] = strings.ReplaceAll(wear.NormalName(h), " ", "_")
		has[names[i]] = true
	}
	f := &File{History: &store.History{}}
	switch {
	case has["kind"] && has["serial"] && has["date"]:
		f.Report.Kind = "history"
		t, err := newTable(names, historyColumns)
		if err != nil {
			return nil, err
		}
		return f, t.each(next, &f.Report, func(line int) { f.addHistory(t, line) })
	case has["feature"] && has["kind"] && (has["new_min"] || has["new_max"] || has["service_min"] || has["service_max"]):
		f.Report.Kind = "limits"
		t, err := newTable(names, limitsColumns)
		if err != nil {
			return nil, err
		}
		return f, t.each(next, &f.Report, func(line int) { f.addLimits(t, line) })
	}
	return nil, fmt.Errorf("%w: it has %s", ErrUnknownFile, strings.Join(names, ", "))
}

// table reads cells by the name of their column.
type table struct {
	at     map[string]int
	record []string

	hoursText string // the last engine hours, as text and read
	hours     wear.Hours
}

func newTable(names, known []string) (*table, error) {
	t := &table{at: map[string]int{}}
	for i, n := range names {
		if _, twice := t.at[n]; twice && n != "" {
			return nil, fmt.Errorf("column %s stands twice in the header", n)
		}
		t.at[n] = i
		found := n == ""
		for _, k := range known {
			found = found || k == n
		}
		if !found {
			return nil, fmt.Errorf("column %q is not one of %s", n, strings.Join(known, ", "))
		}
	}
	return t, nil
}

// each reads every row; one that is no CSV is a bad row, and after three in
// a row the file is given up.
func (t *table) each(next nextRow, report *store.ImportReport, do func(line int)) error {
	broken := 0
	for {
		record, line, err := next()
		if err == io.EOF {
			return nil
		}
		var parse *csv.ParseError
		if errors.As(err, &parse) {
			report.Rows++
			report.Fail(store.RowError{Line: parse.StartLine, Reason: "the row is not well-formed: " + parse.Err.Error()})
			if broken++; broken > 3 {
				return nil
			}
			continue
		}
		if err != nil {
			return fmt.Errorf("read row: %w", err)
		}
		broken = 0
		t.record = record
		if blank(record) {
			continue
		}
		if !t.readable(line, report) {
			report.Rows++
			continue
		}
		do(line)
	}
}

// readable puts what cannot be kept of the row's text into the report.
func (t *table) readable(line int, report *store.ImportReport) bool {
	good := true
	for i, c := range t.record {
		fault := textFault(c)
		if fault == "" {
			continue
		}
		good = false
		column := "" // of a cell that no column names
		for name, at := range t.at {
			if at == i {
				column = name
			}
		}
		report.Fail(store.RowError{Line: line, Column: column, Value: cleaned(c), Reason: fault})
	}
	return good
}

func blank(record []string) bool {
	for _, c := range record {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}

// cell is the text of a column.
func (t *table) cell(name string) string {
	i, ok := t.at[name]
	if !ok || i >= len(t.record) {
		return ""
	}
	return strings.TrimSpace(t.record[i])
}

func (f *File) addLimits(t *table, line int) {
	f.Limits = append(f.Limits, store.LimitsRow{Line: line, Model: t.cell("engine_model"), Kind: t.cell("kind"), Feature: t.cell("feature"), Groove: t.cell("groove"), Ref: t.cell("ref"),
		NewMin: t.cell("new_min"), NewMax: t.cell("new_max"), ServiceMin: t.cell("service_min"), ServiceMax: t.cell("service_max"),
		Unit: t.cell("unit"), Wear: t.cell("wear"), Life: t.cell("overhaul_hours"), Document: t.cell("document"), Revision: t.cell("revision"), Page: t.cell("page")})
}

// addHistory reads a row's cells into their types; a bad one goes into the
// report and the row is left out.
func (f *File) addHistory(t *table, line int) {
	before := f.Report.BadRows
	fail := func(column, value, reason string) {
		f.Report.Fail(store.RowError{Line: line, Column: column, Value: value, Reason: reason})
	}
	r := store.HistoryRow{Line: line, Model: t.cell("engine_model"), Engine: t.cell("engine"), Serial: t.cell("serial"), Feature: t.cell("feature"),
		Station: t.cell("station"), Axis: t.cell("axis"), Value: t.cell("value"), Unit: t.cell("unit"), GaugeSD: t.cell("gauge_sd"), Note: t.cell("note")}
	var err error
	if r.Day, err = wear.ParseDay(t.cell("date")); err != nil {
		fail("date", t.cell("date"), err.Error())
	}
	var ok bool
	if r.Kind, ok = wear.ParseKind(t.cell("kind")); !ok {
		fail("kind", t.cell("kind"), "is none of cylinder, piston, ring, pin")
	}
	if r.Serial == "" {
		fail("serial", "", "is missing: give the serial or shop number")
	} else if strings.Contains(r.Serial, "/") {
		fail("serial", r.Serial, "may not contain a slash: write a hyphen")
	}
	if r.Event, ok = readEvent(t.cell("event")); !ok {
		fail("event", t.cell("event"), "is none of reading, installed, removed, installed new, honed, ground to oversize, plated, re-grooved, overhauled")
	}
	r.Position = readNumber(t, "position", 36, fail)
	r.Groove = readNumber(t, "groove", 8, fail)
	r.EngineHours = readHours(t, "engine_hours", fail)
	r.PartHours = readHours(t, "part_hours", fail)
	if text := t.cell("temperature_c"); text != "" {
		c, ok := decimal(text)
		if !ok || c < wear.Coldest || c > wear.Warmest {
			fail("temperature_c", text, fmt.Sprintf("is no temperature of a part in °C, from %d to %d", wear.Coldest, wear.Warmest))
		}
		r.Temperature = &c
	}
	if r.Event == store.EventReading && r.Feature == "" {
		fail("feature", "", "is missing: say what was measured")
	}
	if f.Report.BadRows > before {
		f.Report.Rows++
		return
	}
	f.History.Add(r)
}

func readEvent(text string) (string, bool) {
	if text == "" {
		return store.EventReading, true
	}
	switch n := wear.NormalName(text); n {
	case "", store.EventReading:
		return store.EventReading, true
	case store.EventInstalled, store.EventRemoved:
		return n, true
	}
	e, ok := wear.ParseEvent(text)
	return string(e), ok && e != wear.MateReplaced
}

func readNumber(t *table, column string, most int, fail func(column, value, reason string)) int {
	text := t.cell(column)
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > most {
		fail(column, text, fmt.Sprintf("is no whole number from 1 to %d", most))
		return 0
	}
	return n
}

func readHours(t *table, column string, fail func(column, value, reason string)) *wear.Hours {
	text := t.cell(column)
	if text == "" {
		return nil
	}
	if text == t.hoursText { // as on every row of a sheet
		h := t.hours
		return &h
	}
	h, err := wear.ParseHours(text)
	if err != nil {
		fail(column, text, err.Error())
		return nil
	}
	if column == "engine_hours" {
		t.hoursText, t.hours = text, h
	}
	return &h
}

// safeCell keeps a spreadsheet from taking a text cell for a formula: text
// that begins with one of = + - @, a tab or a carriage return and is no number gets
// a leading apostrophe. Source: OWASP, CSV Injection.
func safeCell(s string) string {
	if s == "" || !strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return s
	}
	if _, err := strconv.ParseFloat(s, 64); err == nil {
		return s
	}
	return "'" + s
}
