package main

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"testing"
	"time"

	"barrelbook/store"
	"barrelbook/wear"
)

// samples is how often one pass of a benchmark measures an operation whose
// percentiles are wanted.
const samples = 200

// percentiles runs what next prepares, samples times a pass, and reports how
// long that took at the middle and at the 95th percentile.
func percentiles(b *testing.B, next func(i int) func() error) {
	b.Helper()
	var took []time.Duration
	for b.Loop() {
		for range samples {
			do := next(len(took))
			start := time.Now()
			if err := do(); err != nil {
				b.Fatal(err)
			}
			took = append(took, time.Since(start))
		}
	}
	slices.Sort(took)
	at := func(p int) float64 { return float64(took[(len(took)-1)*p/100].Microseconds()) / 1000 }
	b.ReportMetric(at(50), "p50-ms")
	b.ReportMetric(at(95), "p95-ms")
	b.ReportMetric(0, "ns/op")
}

// memoryGoal is what Go's heap is kept to while there is garbage to collect,
// as the program does.
const memoryGoal = 180 << 20

// resetPeak starts the measuring of the most memory the process holds, and
// reportPeak ends it; Linux only, elsewhere nothing is reported.
func resetPeak() {
	debug.SetMemoryLimit(memoryGoal)
	debug.FreeOSMemory()
	_ = os.WriteFile("/proc/self/clear_refs", []byte("5"), 0) // man 5 proc
}

func reportPeak(b *testing.B) {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return
	}
	for line := range strings.Lines(string(status)) {
		var kB float64
		if n, _ := fmt.Sscanf(line, "VmHWM: %f", &kB); n == 1 {
			b.ReportMetric(kB/1024, "peak-MB")
		}
	}
}

// BenchmarkImport is the whole import of the big history into an empty book
// that has its limits: reading the file, inserting, summaries, judgements.
func BenchmarkImport(b *testing.B) {
	history, limits := bigHistory(b, bigEngines(b)), bigLimits(b, bigEngines(b))
	rows, kept, judged := 0, time.Duration(0), time.Duration(0)
	resetPeak()
	for b.Loop() {
		book, err := store.Open(b.Context(), filepath.Join(b.TempDir(), "book.db"))
		if err != nil {
			b.Fatal(err)
		}
		err = book.Import(b.Context(), func(into store.Importer) error {
			_, err := importFile(into, limits)
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
		start := time.Now()
		err = book.Import(b.Context(), func(into store.Importer) error {
			n, err := importFile(into, history)
			rows, kept = rows+n, kept+time.Since(start)
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
		judged += time.Since(start)
		if err := book.Close(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(rows)/kept.Seconds(), "rows/s")
	b.ReportMetric(float64(rows)/judged.Seconds(), "judged-rows/s")
	b.ReportMetric(0, "ns/op")
	reportPeak(b)
}

// BenchmarkJudgeBook judges every run of the big book anew, on all cores: from
// the book, into the book.
func BenchmarkJudgeBook(b *testing.B) {
	book := copyBook(b, bigEngines(b))
	settings, err := book.Settings(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	resetPeak()
	for b.Loop() {
		settings.NextIn += 100 // wakes every group
		if err := book.SaveSettings(b.Context(), settings); err != nil {
			b.Fatal(err)
		}
		if err := book.Import(b.Context(), func(store.Importer) error { return nil }); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s")
	b.ReportMetric(0, "ns/op")
	reportPeak(b)
}

// BenchmarkPlainInsert puts the lines of the same file into one bare table of
// plain SQLite, in one transaction.
func BenchmarkPlainInsert(b *testing.B) {
	text, err := os.ReadFile(bigHistory(b, bigEngines(b)))
	if err != nil {
		b.Fatal(err)
	}
	rows := 0
	for b.Loop() {
		db, err := sql.Open("sqlite", "file:"+filepath.Join(b.TempDir(), "plain.db")+"?_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)")
		if err != nil {
			b.Fatal(err)
		}
		n, err := plainInsert(b.Context(), db, string(text))
		if err != nil {
			b.Fatal(err)
		}
		rows += n
		if err := db.Close(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(rows)/b.Elapsed().Seconds(), "rows/s")
	b.ReportMetric(0, "ns/op")
}

func plainInsert(ctx context.Context, db *sql.DB, text string) (rows int, err error) {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return 0, err
	}
	defer tx.Rollback() //nolint:errcheck // after Commit it has nothing to do
	header, text, _ := strings.Cut(text, "\n")
	columns := strings.Count(header, ",") + 1
	marks := strings.TrimSuffix(strings.Repeat("?,", columns), ",")
	if _, err := tx.ExecContext(ctx, "CREATE TABLE plain ("+header+")"); err != nil {
		return 0, err
	}
	insert, err := tx.PrepareContext(ctx, "INSERT INTO plain VALUES ("+marks+")")
	if err != nil {
		return 0, err
	}
	cells := make([]any, columns)
	for line := range strings.Lines(text) {
		for i := range columns {
			cells[i], line, _ = strings.Cut(line, ",")
		}
		if _, err := insert.ExecContext(ctx, cells...); err != nil {
			return rows, err
		}
		rows++
	}
	return rows, tx.Commit()
}

// copyBook is a copy of a book of so many engines that may be written to.
func copyBook(b *testing.B, engines int) *store.Book {
	b.Helper()
	from, err := os.Open(bigBook(b, engines))
	if err != nil {
		b.Fatal(err)
	}
	defer from.Close()
	path := filepath.Join(b.TempDir(), "book.db")
	if err := writeFile(path, func(w io.Writer) error { _, err := io.Copy(w, from); return err }); err != nil {
		b.Fatal(err)
	}
	return openBook(b, path)
}

func openBook(b *testing.B, path string) *store.Book {
	b.Helper()
	book, err := store.Open(context.Background(), path)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := book.Close(); err != nil {
			b.Error(err)
		}
	})
	return book
}

// engineIDs lists every engine of a book.
func engineIDs(b *testing.B, book *store.Book) []int64 {
	b.Helper()
	engines, _, err := book.Engines(b.Context(), "", 1<<30, 0)
	if err != nil {
		b.Fatal(err)
	}
	ids := make([]int64, len(engines))
	for i, e := range engines {
		ids[i] = e.ID
	}
	return ids
}

// step strides through n things so that neighbours are not read together.
func step(i, n int) int { return i * 7919 % n }

// BenchmarkSaveSheet saves a sheet of 20 readings of all parts of a position,
// with its analysis: in the big book, and in that of a shop with one engine,
// where each part is judged against few.
func BenchmarkSaveSheet(b *testing.B) {
	for _, shop := range []struct {
		name    string
		engines int
	}{{"Big", bigEngines(b)}, {"OneEngine", 1}} {
		b.Run(shop.name, func(b *testing.B) { saveSheets(b, copyBook(b, shop.engines)) })
	}
}

func saveSheets(b *testing.B, book *store.Book) {
	ids := engineIDs(b, book)
	features, err := book.Features(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	byName := map[string]int64{}
	for _, f := range features {
		byName[string(f.Kind)+" "+f.Name] = f.ID
	}
	resetPeak()
	percentiles(b, func(i int) func() error {
		sheet, err := bigSheet(b.Context(), book, byName, ids[step(i, len(ids))], i)
		if err != nil {
			b.Fatal(err)
		}
		return func() error {
			_, err := book.SaveSheet(b.Context(), sheet)
			return err
		}
	})
	reportPeak(b)
}

// bigSheet is a new sheet of 20 readings at a position of an engine: eight of
// the barrel, two of each other part.
func bigSheet(ctx context.Context, book *store.Book, features map[string]int64, engine int64, n int) (store.NewSheet, error) {
	e, err := book.Engine(ctx, engine)
	if err != nil {
		return store.NewSheet{}, err
	}
	slots, err := book.Slots(ctx, []store.Engine{e})
	if err != nil {
		return store.NewSheet{}, err
	}
	day, err := time.Parse("2006-01-02", string(e.HoursDay))
	if err != nil {
		return store.NewSheet{}, err
	}
	shows := e.Hours - e.Offset + 2500
	s := store.NewSheet{Sheet: store.Sheet{Day: wear.Day(day.AddDate(0, 0, 2).Format("2006-01-02")), Engine: engine, Position: n%bigPositions + 1}, Shows: &shows}
	for _, slot := range slots[engine] {
		if slot.Position != s.Position {
			continue
		}
		for _, p := range sheetSpots(string(slot.Kind), slot.AtGroove) {
			text := fmt.Sprintf("%.4f", p.size+p.sign*(p.bed+p.rate*0.8))
			value, err := wear.ParseValue(text, wear.Inch)
			if err != nil {
				return s, err
			}
			s.Readings = append(s.Readings, store.NewReading{Part: slot.ID, Feature: features[string(slot.Kind)+" "+p.feature], Station: p.station, Axis: p.axis,
				Value: value, Typed: text, Unit: wear.Inch, SD: 5080, Resolution: 2540})
		}
	}
	if len(s.Readings) != 20 {
		return s, fmt.Errorf("the sheet has %d readings", len(s.Readings))
	}
	return s, nil
}

// sheetSpots are those of the history, and for a barrel two axes at four
// stations.
func sheetSpots(kind string, groove int) []spot {
	for _, p := range bigStack() {
		if p.kind != kind || p.groove != "" && p.groove != fmt.Sprint(groove) {
			continue
		}
		spots := p.spots[:]
		if kind == "cylinder" {
			for _, station := range []string{"upper", "middle"} {
				more := spots[0]
				more.station = station
				spots = append(spots, more)
			}
			for _, s := range spots {
				s.axis = "pin"
				spots = append(spots, s)
			}
		}
		return spots
	}
	return nil
}
