package wear

import (
	"fmt"
	"math/rand/v2"
	"os"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
)

// fleet is runs of so many engines with the questions a shop asks of them.
func fleet(seed uint64, engines, points int) ([]Run, []Question) {
	t := newTruth(rand.New(rand.NewPCG(seed, 1)))
	var runs []Run
	var qs []Question
	for range engines {
		hours := []float64{0}
		for len(hours) < points {
			hours = append(hours, hours[len(hours)-1]+t.uniform(50, 300))
		}
		for range cylinders {
			runs = append(runs, t.part(hours, t.normal()).run)
			qs = append(qs, Question{Limit: 5 + t.allowance, HasLimit: true, Life: t.life, NextIn: 100})
		}
	}
	return runs, qs
}

// BenchmarkJudgeGroup is the largest group of a large book.
func BenchmarkJudgeGroup(b *testing.B) {
	runs, qs := fleet(1, 2000, 4)
	b.ResetTimer()
	for b.Loop() {
		if _, _, _, err := JudgeGroup(runs, qs, Allowance{}, DefaultSettings()); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkAnalysis is all that is judged of a large fleet, without a book:
// every part and every engine of 126,000 runs of 8 readings, in 28 groups, on
// as many cores as there are.
func BenchmarkAnalysis(b *testing.B) {
	const groups, engines, points = 28, 500, 8
	var runs [groups][]Run
	var questions [groups][]Question
	for g := range groups {
		runs[g], questions[g] = fleet(uint64(g+1), engines, points)
	}
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		var next atomic.Int64
		var all sync.WaitGroup
		for range runtime.GOMAXPROCS(0) {
			all.Go(func() {
				for g := next.Add(1) - 1; g < groups; g = next.Add(1) - 1 {
					if err := analyse(runs[g], questions[g]); err != nil {
						b.Error(err)
					}
				}
			})
		}
		all.Wait()
	}
	b.ReportMetric(float64(b.N*groups*engines*cylinders)/b.Elapsed().Seconds(), "runs/s")
	reportPeak(b)
}

// reportPeak prints the most memory that the process has had, runs and questions
// included, where the system tells it.
func reportPeak(b *testing.B) {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return
	}
	var kB float64
	for line := range strings.Lines(string(status)) {
		if n, _ := fmt.Sscanf(line, "VmHWM: %f", &kB); n == 1 {
			b.ReportMetric(kB/1024, "peak-MB")
		}
	}
}

func analyse(runs []Run, qs []Question) error {
	s := DefaultSettings()
	group, shares, _, err := JudgeGroup(runs, qs, Allowance{}, s)
	if err != nil {
		return err
	}
	_, _, _, err = JudgeEngines(group, shares, runs, engineNumbers(len(runs)), s)
	return err
}

func BenchmarkFitGroup(b *testing.B) {
	runs, _ := fleet(1, 2000, 4)
	b.ResetTimer()
	for b.Loop() {
		if _, _, err := FitGroup(runs, Allowance{}, DefaultSettings()); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkJudgeGroupSmall leaves each of three engines' parts out by a refit.
func BenchmarkJudgeGroupSmall(b *testing.B) {
	runs, qs := fleet(1, 3, 4)
	b.ResetTimer()
	for b.Loop() {
		if _, _, _, err := JudgeGroup(runs, qs, Allowance{}, DefaultSettings()); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkJudge(b *testing.B) {
	runs, qs := fleet(1, 100, 4)
	g, shares, err := FitGroup(runs, Allowance{}, DefaultSettings())
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for i := 0; b.Loop(); i++ {
		n := i % len(runs)
		if _, err := g.Judge(runs[n], &shares[n], qs[n], DefaultSettings()); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkJudgeEngine is one engine of a large group, judged from what a book
// stores.
func BenchmarkJudgeEngine(b *testing.B) {
	runs, _ := fleet(1, 100, 4)
	s := DefaultSettings()
	g, shares, err := FitGroup(runs, Allowance{}, s)
	if err != nil {
		b.Fatal(err)
	}
	all, own, _, err := JudgeEngines(g, shares, runs, engineNumbers(len(runs)), s)
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for i := 0; b.Loop(); i++ {
		n := i % len(own)
		if _, err := g.JudgeEngine(runs[n*cylinders:][:cylinders], shares[n*cylinders:][:cylinders], all.without(own[n]), s); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkJudgeEngines is all engines of the largest group of a large book.
func BenchmarkJudgeEngines(b *testing.B) {
	runs, _ := fleet(1, 2000, 4)
	s := DefaultSettings()
	g, shares, err := FitGroup(runs, Allowance{}, s)
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for b.Loop() {
		if _, _, _, err := JudgeEngines(g, shares, runs, engineNumbers(len(runs)), s); err != nil {
			b.Fatal(err)
		}
	}
}

// engineNumbers is the engine of each of so many barrels.
func engineNumbers(n int) []int {
	engineOf := make([]int, n)
	for i := range engineOf {
		engineOf[i] = i / cylinders
	}
	return engineOf
}
