package main

import (
	"bufio"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"barrelbook/migrations"
	"barrelbook/server"
	"barrelbook/store"
)

// The big book that benchmarks run on: engines of four invented models, nine
// positions each, seven parts a position; every part is fitted new and
// measured at two spots on four sheets. BARRELBOOK_BENCH=full makes 2,000
// engines: 126,000 parts and 1,008,000 readings. The default is small.
const (
	bigPositions = 9
	bigSheets    = 4
	bigRings     = 4
	bigModels    = 4

	partsEach    = 3 + bigRings // at a position
	readingsEach = 2 * partsEach

	// bigVersion is raised when the generator changes, so that a book kept
	// from an earlier run is made anew.
	bigVersion = "5"
)

func bigEngines(b *testing.B) int {
	switch size := os.Getenv("BARRELBOOK_BENCH"); size {
	case "full":
		return 2000
	case "", "small":
		return 50
	default:
		b.Fatalf("BARRELBOOK_BENCH=%s: choose full or small", size)
		return 0
	}
}

// spot is one thing measured on a part: its size when new, what it wears in
// bedding in and in 1,000 h after that, all in inches, and which way it goes.
type spot struct {
	feature, groove, station, axis string
	size, bed, rate, sign          float64
}

// stackPart is a part of a position's stack with its two spots.
type stackPart struct {
	kind, code, groove string
	spots              [2]spot
}

func bigStack() []stackPart {
	stack := []stackPart{
		{"cylinder", "C", "", [2]spot{{"barrel bore", "", "top", "thrust", 5.25, 0.0008, 0.004, 1}, {"barrel bore", "", "bottom", "thrust", 5.25, 0.0005, 0.002, 1}}},
		{"piston", "P", "", [2]spot{{"piston skirt", "", "", "thrust", 5.226, 0.0004, 0.0015, -1}, {"piston skirt", "", "", "pin", 5.226, 0.0003, 0.001, -1}}},
		{"pin", "N", "", [2]spot{{"pin diameter", "", "left", "", 1.25, 0.0001, 0.0006, -1}, {"pin diameter", "", "right", "", 1.25, 0.0001, 0.0006, -1}}},
	}
	for g := range bigRings {
		groove := fmt.Sprint(g + 1)
		stack = append(stack, stackPart{"ring", "R" + groove, groove,
			[2]spot{{"axial width", "", "", "", 0.0935, 0.0003, 0.001, -1}, {"end gap", "", "", "", 0.045, 0.002, 0.012, 1}}})
	}
	return stack
}

// bigEngine is one engine of the generated history.
type bigEngine struct {
	serial, model string
	start         time.Time
	hours         [bigSheets]float64 // the engine's, at each sheet
	fast          []float64          // a factor on the normal wear of each part
}

func newBigEngine(rng *rand.Rand, n int) bigEngine {
	e := bigEngine{serial: fmt.Sprintf("BB-%04d", n+1), model: fmt.Sprintf("Invented 9-%d", n%bigModels+1)}
	e.start = time.Date(2020, 1, 2, 0, 0, 0, 0, time.UTC).AddDate(0, 0, n%300)
	e.hours[0] = math.Round(2000 * rng.Float64())
	for i := 1; i < bigSheets; i++ {
		e.hours[i] = e.hours[i-1] + math.Round(80+240*rng.Float64())
	}
	e.fast = make([]float64, bigPositions*partsEach)
	for i := range e.fast {
		e.fast[i] = math.Exp(0.3 * rng.NormFloat64())
		if rng.Float64() < 0.02 {
			e.fast[i] = 3 + 7*rng.Float64()
		}
	}
	return e
}

// writeHistory writes the history of so many engines as an import file, in
// the order it happened, and returns how many rows it has. It is the same
// every time.
func writeHistory(to io.Writer, engines int) (rows int, err error) {
	rng := rand.New(rand.NewPCG(7, 1))
	all := make([]bigEngine, engines)
	for i := range all {
		all[i] = newBigEngine(rng, i)
	}
	w := bufio.NewWriterSize(to, 1<<20)
	stack := bigStack()
	fmt.Fprintln(w, "date,engine_model,engine,engine_hours,position,kind,serial,event,feature,groove,station,axis,value,unit,gauge_sd,temperature_c,note")
	for sheet := range bigSheets {
		for i := range all {
			e := &all[i]
			for position := 1; position <= bigPositions; position++ {
				rows += e.writeSheet(w, rng, stack, sheet, position)
			}
		}
	}
	return rows, w.Flush()
}

func (e *bigEngine) writeSheet(w io.Writer, rng *rand.Rand, stack []stackPart, sheet, position int) (rows int) {
	head := fmt.Sprintf("%s,%s,%s,%.0f,%d", e.start.AddDate(sheet, 0, 0).Format("2006-01-02"), e.model, e.serial, e.hours[sheet], position)
	ran := e.hours[sheet] - e.hours[0]
	for i, p := range stack {
		serial := fmt.Sprintf("%s-%s-%d", p.code, e.serial[3:], position)
		if sheet == 0 {
			fmt.Fprintf(w, "%s,%s,%s,installed new,,%s,,,,,,,\n", head, p.kind, serial, p.groove)
			rows++
		}
		for _, s := range p.spots {
			worn := e.fast[(position-1)*partsEach+i] * (-s.bed*math.Expm1(-ran/40) + s.rate*ran/1000)
			fmt.Fprintf(w, "%s,%s,%s,,%s,%s,%s,%s,%.4f,in,0.0002,20,\n", head, p.kind, serial, s.feature, p.groove, s.station, s.axis,
				s.size+s.sign*worn+0.0002*rng.NormFloat64())
			rows++
		}
	}
	return rows
}

// writeBigLimits writes invented limits for all the models.
func writeBigLimits(to io.Writer) error {
	w := bufio.NewWriter(to)
	fmt.Fprintln(w, "engine_model,kind,feature,groove,ref,new_min,new_max,service_min,service_max,unit,wear,overhaul_hours,document,revision,page")
	for m := range bigModels {
		for _, p := range bigStack() {
			for i, s := range p.spots {
				if i > 0 && s.feature == p.spots[0].feature {
					continue
				}
				service, way := fmt.Sprintf(",%.4f", s.size+0.001+1.6*(s.bed+s.rate)), "up"
				if s.sign < 0 {
					service, way = fmt.Sprintf("%.4f,", s.size-0.001-1.6*(s.bed+s.rate)), "down"
				}
				fmt.Fprintf(w, "Invented 9-%d,%s,%s,%s,%d,%.4f,%.4f,%s,in,%s,1500,Invented manual,1,12\n", m+1, p.kind, s.feature, p.groove, i+1, s.size-0.001, s.size+0.001, service, way)
			}
		}
	}
	return w.Flush()
}

// bigFolder is where the big book and its files are kept between runs, named
// after all that it follows from but the Go code of the store.
func bigFolder(engines int) (string, error) {
	h := sha256.New()
	names, err := fs.Glob(migrations.FS, "*.sql")
	if err != nil {
		return "", err
	}
	for _, name := range names {
		text, err := fs.ReadFile(migrations.FS, name)
		if err != nil {
			return "", err
		}
		h.Write(text)
	}
	return filepath.Join(os.TempDir(), fmt.Sprintf("barrelbook-bench-%s-%d-%x", bigVersion, engines, h.Sum(nil)[:6])), nil
}

// bigFile returns the path of a file of a book of so many engines, made once
// and kept.
func bigFile(b *testing.B, engines int, name string, make func(path string) error) string {
	b.Helper()
	dir, err := bigFolder(engines)
	if err != nil {
		b.Fatal(err)
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		b.Fatal(err)
	}
	path := filepath.Join(dir, name)
	if _, err := os.Stat(path); err == nil {
		return path
	}
	if err := make(path + ".part"); err != nil {
		b.Fatal(err)
	}
	if err := os.Rename(path+".part", path); err != nil {
		b.Fatal(err)
	}
	return path
}

func bigHistory(b *testing.B, engines int) string {
	return bigFile(b, engines, "history.csv", func(path string) error {
		return writeFile(path, func(w io.Writer) error {
			_, err := writeHistory(w, engines)
			return err
		})
	})
}

func bigLimits(b *testing.B, engines int) string {
	return bigFile(b, engines, "limits.csv", func(path string) error { return writeFile(path, writeBigLimits) })
}

func writeFile(path string, write func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Close())
}

// bigBook is the path of a book of so many engines; it is not to be written
// to.
func bigBook(b *testing.B, engines int) string {
	return bigFile(b, engines, "book.db", func(path string) error {
		for _, old := range []string{path, path + "-wal", path + "-shm"} {
			if err := os.Remove(old); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
		book, err := store.Open(context.Background(), path)
		if err != nil {
			return err
		}
		err = book.Import(context.Background(), func(into store.Importer) error {
			for _, file := range []string{bigLimits(b, engines), bigHistory(b, engines)} {
				if _, err := importFile(into, file); err != nil {
					return err
				}
			}
			return nil
		})
		return errors.Join(err, book.Close())
	})
}

// importFile imports a history or limits file as the program does; a bad row
// is an error.
func importFile(into store.Importer, path string) (rows int, err error) {
	report, err := server.ImportFile(context.Background(), into, path)
	if err == nil && !report.OK() {
		e := report.Errors[0]
		err = fmt.Errorf("line %d: %s %q %s", e.Line, e.Column, e.Value, strings.TrimSpace(e.Reason))
	}
	return report.Rows, err
}
