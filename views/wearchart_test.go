package views

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
)

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		n      int
		want   string
	}{
		{0, 100, 5, "0 20 40 60 80 100"},
		{5.2488, 5.2564, 8, "5.249 5.250 5.251 5.252 5.253 5.254 5.255 5.256"},
		{0, 58000, 4, "0 20,000 40,000"},
		{-0.0003, 0.0003, 3, "−0.0002 0.0000 0.0002"},
		{0, 1, 0, "0.0 0.5 1.0"},
		{7, 7, 5, ""},
		{9, 3, 5, ""},
		{math.NaN(), 1, 5, ""},
		{0, math.Inf(1), 5, ""},
		{1e15, 1e15 + 1, 5, ""}, // too far from 0 for the step to be told apart
	} {
		at, step := ticks(c.lo, c.hi, c.n)
		texts := make([]string, len(at))
		for i, v := range at {
			texts[i] = tickText(v, step)
		}
		if got := strings.Join(texts, " "); got != c.want {
			t.Errorf("ticks of %g to %g, about %d: %q, want %q", c.lo, c.hi, c.n, got, c.want)
		}
	}
}

// sampleChart has everything that a chart can show.
func sampleChart() WearChart {
	lo, hi := 5.2490, 5.2510
	return WearChart{
		Title: `Bore <top> & "middle"`, Summary: "It wears.", XLabel: "hours since installation", YLabel: "bore, in",
		NewMin: &lo, NewMax: &hi, Service: []ChartLimit{{5.2560, "service limit 5.2560"}},
		Points: []ChartPoint{
			{0, 5.2502, .0004, 1, PointAssumed, "assumed"}, {61, 5.2523, .0004, 1, PointUsed, "first"},
			{150, 5.2553, .0004, 1, PointStruck, "struck"}, {160, 5.2519, .0009, 1, PointLeftOut, "left out"}, {412, 5.2535, .0004, 1, PointUsed, "last"},
		},
		Band:     []ChartBand{{0, 5.2502, 5.2502, 5.2502}, {300, 5.2508, 5.2512, 5.2520}, {600, 5.2511, 5.2518, 5.2530}},
		Forecast: []ChartBand{{412, 5.2535, 5.2535, 5.2535}, {900, 5.2545, 5.2560, 5.2590}},
		ToLimit:  &ChartReach{5.2560, 700, 900, 1600, "limit at about 900 h"},
		Runs:     []ChartRun{{0, "new"}},
	}
}

// wellFormed fails where the text is no XML, or holds a number that is none.
func wellFormed(t *testing.T, svg string) {
	t.Helper()
	for _, bad := range []string{"NaN", "Inf"} {
		if strings.Contains(svg, bad) {
			t.Errorf("drawing holds %s: %s", bad, svg)
		}
	}
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return
		} else if err != nil {
			t.Fatalf("drawing is no XML: %v\n%s", err, svg)
		}
	}
}

func TestChartOfLittle(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	one := ChartPoint{Hours: 61, Value: 5.25, U: .0004}
	charts := map[string]WearChart{
		"nothing":        {},
		"everything":     sampleChart(),
		"one reading":    {Points: []ChartPoint{one}},
		"at hour 0":      {Points: []ChartPoint{{Value: 5.25}}},
		"equal hours":    {Points: []ChartPoint{one, one, {Hours: 61, Value: 5.26}}},
		"equal values":   {Points: []ChartPoint{one, {Hours: 100, Value: 5.25, U: .0004}}},
		"no numbers":     {Points: []ChartPoint{{Hours: nan, Value: inf, U: nan}}, Service: []ChartLimit{{nan, "x"}}, NewMin: &nan, NewMax: &inf, ToLimit: &ChartReach{nan, nan, inf, -inf, "x"}, Runs: []ChartRun{{nan, "x"}}, XMax: inf},
		"endless band":   {Points: []ChartPoint{one}, Band: []ChartBand{{0, -inf, 0, inf}, {nan, 1, 2, 3}, {100, 1, 2, inf}}},
		"huge":           {Points: []ChartPoint{{Hours: 1e300, Value: -1e300, U: 1e308}, {Hours: 1e308, Value: 1e308}}},
		"tiny":           {Points: []ChartPoint{{Hours: 1e-300, Value: 1e-300}, {Hours: 2e-300, Value: 2e-300}}},
		"endless reach":  {Points: []ChartPoint{one}, Service: []ChartLimit{{5.3, "limit"}}, ToLimit: &ChartReach{5.3, 100, 5000, inf, "limit"}},
		"before the run": {Points: []ChartPoint{{Hours: -200, Value: 5.25}, one}},
	}
	for name, c := range charts {
		t.Run(name, func(t *testing.T) {
			wellFormed(t, c.Wide())
			wellFormed(t, c.Narrow())
		})
	}
}

// TestChartPlaces holds the chart to what it shows: later is farther right,
// larger is higher, and all readings lie in the field.
func TestChartPlaces(t *testing.T) {
	c := sampleChart()
	for _, size := range [][2]float64{{860, 430}, {380, 400}} {
		f := c.frame(size[0], size[1])
		if !slices.IsSortedFunc(c.Points, func(a, b ChartPoint) int { return int(f.x(a.Hours) - f.x(b.Hours)) }) {
			t.Errorf("at %v later readings do not lie farther right", size)
		}
		if f.y(5.2560) >= f.y(5.2535) {
			t.Errorf("at %v the limit does not lie above a smaller reading", size)
		}
		for _, p := range c.Points {
			at := f.at(p.Hours, p.Value)
			if at.x < f.left || at.x > f.right || f.y(p.Value+p.U) < f.top || f.y(p.Value-p.U) > f.bottom {
				t.Errorf("at %v the reading at %g h lies outside the field, at %v", size, p.Hours, at)
			}
		}
	}
}

// TestChartLooksAhead: a limit that is far off does not squeeze the readings.
func TestChartLooksAhead(t *testing.T) {
	c := sampleChart()
	c.ToLimit.Median = 40000
	c.Forecast = append(c.Forecast, ChartBand{40000, 5.2545, 5.2560, 5.2990})
	f := c.frame(860, 430)
	if f.x1 > 3.2*412 {
		t.Errorf("the field ends at %g h with readings to 412 h, want not more than three times as much", f.x1)
	}
	if f.y1 > 5.2570 {
		t.Errorf("the field ends at %g in, want just above the limit of 5.2560", f.y1)
	}
	c.XMax = 2000
	if f := c.frame(860, 430); f.x1 < 2000 {
		t.Errorf("the field ends at %g h, want the 2000 h asked for", f.x1)
	}
}

// TestChartMarks: each kind of reading has a shape of its own.
func TestChartMarks(t *testing.T) {
	svg := sampleChart().Wide()
	for class, want := range map[string]int{"chart-dot": 2, "chart-out": 2, "chart-struck": 1, "chart-error": 5, "chart-limit": 1, "chart-band": 1, "chart-fan": 1, "chart-reach": 1, "chart-run": 1, "chart-new": 1} {
		if got := strings.Count(svg, `class="`+class+`"`); got != want {
			t.Errorf("chart has %d of %s, want %d", got, class, want)
		}
	}
	for _, text := range []string{"service limit 5.2560", "90 % of normal parts", "forecast, 90 %", "limit at about 900 h", "hours since installation", "&lt;top&gt; &amp;"} {
		if !strings.Contains(svg, text) {
			t.Errorf("chart does not say %q", text)
		}
	}
}

func TestSpreadWords(t *testing.T) {
	f := frame{top: 0, bottom: 100}
	ws := f.spread([]word{{at: place{0, 50}}, {at: place{0, 52}}, {at: place{0, 51}}, {at: place{0, -40}}, {at: place{0, 300}}})
	for i := 1; i < len(ws); i++ {
		if gap := ws[i].at.y - ws[i-1].at.y; gap < 17-1e-9 {
			t.Errorf("words %d and %d lie %g apart, want a line's height", i-1, i, gap)
		}
	}
	if last := ws[len(ws)-1].at.y; last > 92 {
		t.Errorf("the last word lies at %g, outside the field", last)
	}
}

func FuzzWearChart(f *testing.F) {
	f.Add(61.0, 5.2523, 0.0004, 5.2560, 412.0)
	f.Add(0.0, 0.0, 0.0, 0.0, 0.0)
	f.Add(-1.0, 1e308, -1e308, 1e-320, math.Inf(1))
	f.Fuzz(func(t *testing.T, hours, value, u, limit, next float64) {
		c := WearChart{
			Points:   []ChartPoint{{Hours: hours, Value: value, U: u}, {Hours: next, Value: value + u, U: u}},
			Service:  []ChartLimit{{limit, "limit"}},
			Band:     []ChartBand{{hours, value - u, value, value + u}, {next, value, limit, limit + u}},
			Forecast: []ChartBand{{next, value, value, value}, {2 * next, value, limit, 2 * limit}},
			ToLimit:  &ChartReach{limit, next, 2 * next, 3 * next, "reach"},
			Runs:     []ChartRun{{hours, "run"}},
		}
		wellFormed(t, c.Wide())
		wellFormed(t, c.Narrow())
	})
}
