package wear

import (
	"math"
	"reflect"
	"testing"
)

// FuzzStored: what a book stores of a fit and reads again, with any of its
// numbers damaged. It is refused by name or judged with finite numbers.
func FuzzStored(f *testing.F) {
	feeds(f)
	for _, odd := range []byte{3, 4, 6, 8} { // oddFloats: NaN, infinite, very large and very small
		for field := byte(0); field < 40; field += 3 {
			f.Add([]byte{0, field, odd, 1, field, odd, 2, field, odd, 3, field, odd})
		}
	}
	f.Add([]byte("1B\x0077\x120"))  // weights made at a log-sd of 0
	f.Add([]byte("2A\b2"))          // a ratio without an error
	f.Add([]byte("0\xb5000\xed\b")) // numbers that contradict each other
	runs, qs := fleet(5, 2, 3)
	runs = runs[:16]
	s := DefaultSettings()
	allowance := Allowance{PerHour: 3e-6, Life: 1500}
	g, shares, err := FitGroup(runs, allowance, s)
	if err != nil {
		f.Fatal(err)
	}
	engineOf := make([]int, len(runs))
	for i := range engineOf {
		engineOf[i] = i / 4
	}
	all, own, _, err := JudgeEngines(g, shares, runs, engineOf, s)
	if err != nil {
		f.Fatal(err)
	}
	named := []error{ErrNotFinite, ErrRange, ErrForm}
	f.Fuzz(func(t *testing.T, data []byte) {
		d := feed{data}
		g, all, share, engine := g, all, shares[3], own[1]
		g.Plausible = append([]Curve(nil), g.Plausible...)
		for range min(len(d.data)/3+1, 12) {
			v := []reflect.Value{reflect.ValueOf(&g), reflect.ValueOf(&all), reflect.ValueOf(&share), reflect.ValueOf(&engine)}[d.small(4)]
			damage(v.Elem(), d.small(64), &d)
		}
		sound(t, "group", g, g.Check(), named...)
		sound(t, "wear", []float64{g.W(300), g.Curve.W(300), g.Curve.Between(2, 300), g.W(d.float())}, nil)
		for _, w := range []float64{0.001, d.float()} {
			at, _ := g.HoursAt(w)
			alone, _ := g.Curve.HoursAt(w, 5000)
			sound(t, "hours", []float64{at, alone}, nil)
		}
		low, high, err := g.Band(300, s)
		sound(t, "band", []float64{low, high}, err, named...)
		rest, err := g.Without(share, s)
		if sound(t, "group without", rest, err, named...) && rest.Check() != nil {
			t.Fatalf("left over: %v of %+v", rest.Check(), rest)
		}
		rest, err = g.WithoutAll([]Share{share, shares[4]}, s)
		sound(t, "group without two", rest, err, named...)
		j, err := g.Judge(runs[3], &share, qs[3], s)
		sound(t, "judgement", j, err, named...)
		p, err := g.PredictReading(runs[3], &share, 700, 1e-4, s)
		sound(t, "prediction", p, err, append(named, ErrNoReference)...)
		l, err := g.Learned(s)
		sound(t, "what was learned", l, err, named...)
		x, v, a, _ := share.LogRatio()
		sound(t, "log-ratio", []float64{x, v, a}, nil)
		made, err := g.Foretold(runs[3], &share, qs[3], s)
		sound(t, "what a forecast was made of", made, err, named...)
		e, err := g.EngineShareOf(1, []Share{share, shares[4], shares[5]}, s)
		sound(t, "engine share", e, err, named...)
		others, err := all.Without(engine)
		sound(t, "engines without one", others, err, named...)
		together, err := g.JudgeEngine(runs[3:6], []Share{share, shares[4], shares[5]}, all, s)
		sound(t, "engine", together, err, named...)
		mine := append([]Share(nil), shares...)
		mine[3] = share
		among, each, judged, err := JudgeEngines(g, mine, runs, engineOf, s)
		sound(t, "engines judged", struct {
			A Engines
			B []EngineShare
			C []EngineJudgement
		}{among, each, judged}, err, named...)
		fitted, err := FitEngines([]EngineShare{own[0], engine}, s)
		sound(t, "engines", fitted, err, append(named, ErrEngineTwice)...)
	})
}

// damage puts a number of the feed into the n-th number of v, counted round
// and round.
func damage(v reflect.Value, n int, d *feed) {
	numbers := numbersIn(v)
	field := numbers[n%len(numbers)]
	x := d.float()
	switch field.Kind() {
	case reflect.Float64:
		field.SetFloat(x)
	case reflect.Int:
		field.SetInt(int64(math.Max(math.Min(x, 1e9), -1e9)))
	}
}

func numbersIn(v reflect.Value) []reflect.Value {
	var list []reflect.Value
	switch v.Kind() {
	case reflect.Float64, reflect.Int:
		list = append(list, v)
	case reflect.Struct:
		for i := range v.NumField() {
			list = append(list, numbersIn(v.Field(i))...)
		}
	case reflect.Slice:
		for i := range v.Len() {
			list = append(list, numbersIn(v.Index(i))...)
		}
	}
	return list
}
