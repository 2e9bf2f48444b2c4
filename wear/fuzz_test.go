package wear

import (
	"math"
	"reflect"
	"testing"
)

// FuzzJudge feeds any numbers: there must be an error or finite results, and
// never a panic.
func FuzzJudge(f *testing.F) {
	f.Add([]byte{3, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, 1e-3, 4e-6, 5.0)
	f.Add([]byte{1, 1, 1, 1, 1, 1, 1, 1, 1}, 0.0, 0.0, 0.0)
	f.Add([]byte{2, 255, 0, 255, 0, 7, 1, 90, 3, 200, 180, 4, 4, 4, 20, 40, 60, 80, 100}, 1e12, 1e12, -1e12)
	f.Add([]byte{3, 9, 250, 0, 9, 9, 0, 9, 250, 0, 10, 0, 0, 1, 250, 250, 1, 1, 1, 0, 0, 0, 200, 200, 0}, 1e-12, 1e-9, 1e9)
	f.Add([]byte("10X2000000021000000000010"), 5.000000000001, 1.4e-10, 1e9)                          // no part counts as normal
	f.Add([]byte("1X\x0200\"0"), 0.001, 111.00000399999999, 5.0)                                      // a run far from the maker's allowance
	f.Add([]byte("7\"\xfa0100C00000180070"), 75.000000000001, 6.000000000000001e-08, 1.000000056e+10) // hardly any wear, and hardly any allowed
	f.Fuzz(func(t *testing.T, data []byte, unit, perHour, limit float64) {
		runs := fuzzRuns(data, unit)
		qs := make([]Question, len(runs))
		for i := range qs {
			qs[i] = Question{Limit: limit, HasLimit: true, Life: 1000, NextIn: 100}
		}
		s := DefaultSettings()
		a := Allowance{PerHour: perHour, Life: 1000}
		g, shares, js, err := JudgeGroup(runs, qs, a, s)
		if err != nil {
			return
		}
		finite(t, "group", reflect.ValueOf(g))
		if err := g.Check(); err != nil {
			t.Fatalf("%v: %+v", err, g.Curve)
		}
		for i, j := range js {
			finite(t, "judgement", reflect.ValueOf(j))
			finite(t, "judgement among looks", reflect.ValueOf(j.AmongLooks(3, s)))
			if j.P < 0 || j.P > 1 {
				t.Fatalf("p = %g", j.P)
			}
			finite(t, "share", reflect.ValueOf(shares[i]))
			again, err := g.Judge(runs[i], &shares[i], qs[i], s)
			if err != nil {
				t.Fatal(err)
			}
			finite(t, "judgement alone", reflect.ValueOf(again))
			if p, err := g.PredictReading(runs[i], &shares[i], 500, math.Abs(unit), s); err == nil {
				finite(t, "prediction", reflect.ValueOf(p))
			}
		}
		engineOf := make([]int, len(runs))
		for i := range engineOf {
			engineOf[i] = i % 3
		}
		engines, own, together, err := JudgeEngines(g, shares, runs, engineOf, s)
		if err != nil {
			t.Fatal(err)
		}
		finite(t, "engines", reflect.ValueOf(engines))
		finite(t, "engine shares", reflect.ValueOf(own))
		finite(t, "engine judgements", reflect.ValueOf(together))
		for _, j := range together {
			if j.P < 0 || j.P > 1 {
				t.Fatalf("p of an engine = %g", j.P)
			}
		}
		low, high, err := g.Band(300, s)
		if err != nil {
			t.Fatal(err)
		}
		finite(t, "band", reflect.ValueOf([]float64{low, high, g.W(300)}))
	})
}

// fuzzRuns makes runs of up to four points of three bytes each; a byte of 250
// and more stands for a number far away.
func fuzzRuns(data []byte, unit float64) []Run {
	if len(data) == 0 {
		return nil
	}
	data = data[:min(len(data), 120)] // ten to forty runs: beyond that only time grows
	size := 1 + int(data[0])%4
	var runs []Run
	hours := 0.0
	for data = data[1:]; len(data) >= 3; data = data[3:] {
		if len(runs) == 0 || len(runs[len(runs)-1].Points) == size {
			runs, hours = append(runs, Run{}), float64(data[2]%3)
		}
		r := &runs[len(runs)-1]
		r.Points = append(r.Points, Point{Hours: hours, Y: fuzzNumber(data[1]) * unit, U: math.Abs(fuzzNumber(data[2]%8) * unit)})
		hours += math.Abs(fuzzNumber(data[0]))
	}
	return runs
}

func fuzzNumber(b byte) float64 {
	if b >= 250 {
		return float64(int8(b)) * math.Pow(10, float64(b-250)*3)
	}
	return float64(int8(b))
}

// finite fails where any number in v is NaN or infinite.
func finite(t *testing.T, what string, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.Float64:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("%s: %g", what, x)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			finite(t, what, v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			finite(t, what+"."+v.Type().Field(i).Name, v.Field(i))
		}
	case reflect.Slice:
		for i := range v.Len() {
			finite(t, what, v.Index(i))
		}
	}
}
