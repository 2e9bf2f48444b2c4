package wear

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// The truth the method is tried against: nine-cylinder engines whose barrels
// bed in by 0.0005 to 0.0015 in and then wear steadily, so that the allowance
// is used up in an overhaul life of 1,000 to 2,000 h; lognormal part to part
// with a coefficient of variation of 25 to 35 %; read every 50 to 300 h with a
// gauge of sd 0.0002 to 0.0003 in and a resolution of 0.0001 in, 2 to 6
// readings; 2 % of the parts wear 3 to 10 times too fast.
type truth struct {
	rng              *rand.Rand
	bed, tau, steady float64
	logSD, gauge     float64
	allowance, life  float64
	engineSD         float64 // log-sd between normal engines
}

const (
	cylinders  = 9
	resolution = 0.0001
	abnormal   = 0.02
)

func newTruth(rng *rand.Rand) *truth {
	t := &truth{rng: rng}
	t.bed, t.tau = t.uniform(0.0005, 0.0015), t.uniform(20, 60)
	t.life, t.allowance = t.uniform(1000, 2000), t.uniform(0.004, 0.006)
	t.steady = (t.allowance - t.bed) / t.life
	cv := t.uniform(0.25, 0.35)
	t.logSD = math.Sqrt(math.Log1p(cv * cv))
	t.gauge = t.uniform(0.0002, 0.0003)
	return t
}

func (t *truth) uniform(lo, hi float64) float64 { return lo + (hi-lo)*t.rng.Float64() }

func (t *truth) wear(h float64) float64 { return -t.bed*math.Expm1(-h/t.tau) + t.steady*h }

// u is the standard uncertainty of a reading: gauge and resolution.
func (t *truth) u() float64 { return math.Sqrt(t.gauge*t.gauge + resolution*resolution/12) }

// part is a simulated barrel: its true ratio, its size when new and its run. A
// barrel that turned abnormal late had the ratio before until the wear of a
// normal part was turn.
type part struct {
	k, size      float64
	before, turn float64
	abnormal     bool
	run          Run
}

func (t *truth) part(hours []float64, k float64) part {
	return t.measure(part{k: k, size: 5 + t.uniform(-0.0005, 0.0005)}, hours)
}

func (t *truth) measure(p part, hours []float64) part {
	for _, h := range hours {
		y := t.dimension(p, h) + t.gauge*t.rng.NormFloat64()
		p.run.Points = append(p.run.Points, Point{Hours: h, Y: math.Round(y/resolution) * resolution, U: t.u()})
	}
	return p
}

func (t *truth) dimension(p part, h float64) float64 {
	w := t.wear(h)
	return p.size + p.before*math.Min(w, p.turn) + p.k*math.Max(w-p.turn, 0)
}

func (t *truth) normal() float64 { return math.Exp(t.logSD * t.rng.NormFloat64()) }

// engine is nine barrels inspected together.
func (t *truth) engine() []part {
	hours := []float64{0}
	for range 1 + t.rng.IntN(5) {
		hours = append(hours, hours[len(hours)-1]+t.uniform(50, 300))
	}
	shared := 1.0
	if t.engineSD > 0 {
		shared = math.Exp(t.engineSD * t.rng.NormFloat64())
	}
	parts := make([]part, cylinders)
	for i := range parts {
		k, odd := shared*t.normal(), t.rng.Float64() < abnormal
		if odd {
			k = t.uniform(3, 10)
		}
		parts[i] = t.part(hours, k)
		parts[i].abnormal = odd
	}
	return parts
}

// limitHours is the hours at which the part truly reaches the limit.
func (t *truth) limitHours(p part, limit float64) float64 {
	return invert(func(h float64) float64 { return t.dimension(p, h) }, limit, 0, 1e6)
}

// covers counts whether the forecast of a flagged part holds its truth; 0 h is
// the truth of one beyond its limit.
func (t *truth) covers(c *count, p part, j Judgement) {
	left := math.Max(t.limitHours(p, 5+t.allowance)-j.Hours, 0)
	if f := j.Forecast; j.State == Flagged && f.CanSay {
		c.add(f.Low <= left && left <= f.High)
	}
}

// count is a share of cases.
type count struct{ hits, of int }

func (c *count) add(hit bool) {
	c.of++
	if hit {
		c.hits++
	}
}

func (c count) percent() float64 { return 100 * float64(c.hits) / math.Max(float64(c.of), 1) }

// tally is what a simulation finds.
type tally struct {
	alarmFirst              count // normal parts flagged at their first inspection
	alarmWhole, alarmLatest count // of all in the fleet at their latest: by the whole run, by either test
	found3, found5          count // at the first inspection
	next, left              count // 90 % intervals that hold: next reading, hours to limit
	canSay                  count // forecasts that name hours
	foundLeft               count // hours to limit of abnormal parts flagged at their first inspection
	faultTally
}

// scenario is fleets of so many engines: cv is the coefficient of variation
// from part to part, 0 for 25 to 35 %, and engineSD the log-sd between engines.
type scenario struct {
	engines, fleets int
	cv, engineSD    float64
}

// simulate tries the fleets of a scenario. One engine of each fleet is looked
// at: at its first inspection, at the one before the latest and at the latest,
// against all that is known of the others. Faults have random numbers of their
// own.
func simulate(seed uint64, c scenario) tally {
	var out tally
	rng := rand.New(rand.NewPCG(seed, uint64(c.engines)))
	faults := rand.New(rand.NewPCG(seed, uint64(c.engines)+1000))
	for range c.fleets {
		t := newTruth(rng)
		if c.cv > 0 {
			t.logSD = math.Sqrt(math.Log1p(c.cv * c.cv))
		}
		t.engineSD = c.engineSD
		var others []part
		var engineOf []int
		for n := range c.engines - 1 {
			for _, p := range t.engine() {
				others, engineOf = append(others, p), append(engineOf, n)
			}
		}
		mine := t.engine()
		out.look(t, others, mine)
		t.rng = faults
		out.lookLate(t, runsOf(others), mine)
		out.lookEngine(t, runsOf(others), engineOf, mine)
	}
	return out
}

func runsOf(parts []part) []Run {
	runs := make([]Run, len(parts))
	for i, p := range parts {
		runs[i] = p.run
	}
	return runs
}

func (o *tally) look(t *truth, others, engine []part) {
	s := DefaultSettings()
	n := len(engine[0].run.Points)
	q := Question{Limit: 5 + t.allowance, HasLimit: true}
	cut := func(points int) []Run {
		runs := make([]Run, 0, len(others)+cylinders)
		for _, p := range engine {
			runs = append(runs, Run{p.run.Points[:points]})
		}
		return append(runs, runsOf(others)...)
	}
	first := groupWithout(cut(2), s)
	for i, p := range engine {
		j := first(i).reference(s).judge(Run{p.run.Points[:2]}, q, s)
		if !p.abnormal {
			o.alarmFirst.add(j.State == Flagged)
		}
	}
	// The first barrel again as one that wears too fast.
	h := []float64{0, engine[0].run.Points[1].Hours}
	ref := first(0).reference(s)
	for range 4 {
		p3, p5 := t.part(h, t.uniform(3, 5)), t.part(h, t.uniform(5, 10))
		j3, j5 := ref.judge(p3.run, q, s), ref.judge(p5.run, q, s)
		o.found3.add(j3.State == Flagged)
		o.found5.add(j5.State == Flagged)
		t.covers(&o.foundLeft, p3, j3)
		t.covers(&o.foundLeft, p5, j5)
	}
	if n > 2 {
		before := groupWithout(cut(n-1), s)
		for i, p := range engine {
			next := p.run.Points[n-1]
			b := believe(p.run.Points[:n-1], before(i).reference(s))
			pr := b.predict(next.Hours, next.U)
			o.next.add(pr.Low <= next.Y && next.Y <= pr.High)
		}
	}
	latest := groupWithout(cut(n), s)
	for i, p := range engine {
		j := latest(i).reference(s).judge(p.run, q, s)
		left := t.limitHours(p, q.Limit) - j.Hours
		o.canSay.add(j.Forecast.CanSay)
		if f := j.Forecast; f.CanSay && left > 0 {
			o.left.add(f.Low <= left && left <= f.High)
		}
	}
	for i, p := range append(engine[:cylinders:cylinders], others...) {
		if !p.abnormal {
			j := latest(i).reference(s).judge(p.run, Question{}, s)
			o.alarmWhole.add(j.Whole.State == Flagged)
			o.alarmLatest.add(j.State == Flagged)
		}
	}
}

// groupWithout returns the group without one of its runs the way JudgeGroup
// makes it.
func groupWithout(runs []Run, s Settings) func(i int) Group {
	f := newFitter(runs, Allowance{}, s)
	g, shares := f.group(-1)
	return func(i int) Group {
		if g.Runs <= s.MaxRefits {
			rest, _ := f.group(i)
			return rest
		}
		return g.withoutOne(&shares[i], s)
	}
}

// BenchmarkSimulation reports, in per cent, what the method reaches: with one to
// fifty engines, with engines that differ by a log-sd of 0.15, and with a part to
// part variation of 15 to 45 %. Levels and priors were chosen on seed 7; the other
// two were never tuned on. Seeds 7, 8 and 20261125:
//
//	engines                             1               3              10              50
//	false alarm, first     0.01 0.04 0.01  0.13 0.10 0.09  0.23 0.24 0.15  0.16 0.23 0.18
//	latest, whole run      0.02 0.03 0.02  0.11 0.11 0.09  0.18 0.18 0.17  0.23 0.23 0.24
//	latest, either test    0.19 0.17 0.14  0.28 0.27 0.24  0.31 0.32 0.35  0.40 0.41 0.40
//	found first, 3-5x        70   70   70    93   93   93    98   98   98    99   99   99
//	found first, 5-10x       99   99   99   100  100  100   100  100  100   100  100  100
//	next reading covered   90.3 90.5 90.3  89.9 90.0 90.4  89.9 90.0 90.1  90.5 90.0 89.3
//	hours to limit covered 91.4 91.5 91.6  90.1 89.7 90.1  90.1 90.8 90.3  90.0 90.1 89.7
//	late 3-5x, whole run      4    4    4    11   13   11    18   19   19    21   22   21
//	late 3-5x, either test   69   67   68    74   75   74    78   77   79    77   80   79
//	engine, false alarm    0.68 0.58 0.59  0.01 0.01 0.01  0.03 0.04 0.07  0.20 0.27 0.30
//	engine of 2-5x, first    59   58   58    91   92   91    99   99   99   100  100  100
//
// Standard errors of the coverages are 0.2 to 0.4. One engine alone is compared,
// as an engine, with the maker's allowance. The late parts turn at any inspection
// but the latest; a fault that begins with the last interval is found in 58, 64,
// 67 and 68 %. With the true curve and the true spread it would be 67 % and, of
// all late faults, 78 %: no method finds much more through this gauge.
//
// What it rests on, each found by trying: generalised least squares for the
// curve (independent readings left the shape, and with it the hours to limit,
// far too open), the plausible curves (the one best curve covers hours to limit
// in 40, 72 and 83 %), powers from 0.5 on (from 0.3 three engines' hours were
// covered in 88.5 %, one in ten too long), parts left out of the spread from 2.5
// log-sd on (at 3 a second abnormal part among eight hid one abnormal part in
// thirty) and its variance corrected for that (else false alarms with many
// engines double), and the latest interval judged by what the part showed before
// and under each plausible curve (against normal parts alone it found 58, 66 and
// 68 % of late faults with 3, 10 and 50 engines; with one Student's t for all
// that is open 40, 62, 73 and 77 %, at a tenth of the false alarms allowed).
func BenchmarkSimulation(b *testing.B) {
	for _, c := range []scenario{
		{1, 3000, 0, 0}, {3, 2000, 0, 0}, {10, 1000, 0, 0}, {50, 1000, 0, 0},
		{3, 1000, 0, 0.15}, {10, 600, 0, 0.15}, {50, 200, 0, 0.15},
		{10, 600, 0.15, 0}, {10, 600, 0.30, 0}, {10, 600, 0.45, 0},
	} {
		for _, seed := range []uint64{7, 8, 20261125} {
			b.Run(fmt.Sprintf("engines=%d/cv=%.2f/between=%.2f/seed=%d", c.engines, c.cv, c.engineSD, seed), func(b *testing.B) {
				for b.Loop() {
					for _, m := range simulate(seed, c).columns() {
						b.ReportMetric(m.percent(), m.name)
					}
				}
			})
		}
	}
}

type column struct {
	name string
	count
}

func (o tally) columns() []column {
	return append([]column{
		{"%alarm-first", o.alarmFirst}, {"%alarm-whole-run", o.alarmWhole}, {"%alarm-latest", o.alarmLatest},
		{"%found-3-5x", o.found3}, {"%found-5-10x", o.found5},
		{"%next-reading", o.next}, {"%hours-left", o.left}, {"%can-say", o.canSay}, {"%found-hours-left", o.foundLeft},
	}, o.faultTally.columns()...)
}

// TestSimulation catches a regression: bounds are wide of what
// BenchmarkSimulation reports by about four standard errors of so few fleets,
// whose nine barrels share an engine.
func TestSimulation(t *testing.T) {
	for _, c := range []struct {
		engines, fleets int
		alarm           float64 // most, per cent
		found3, found5  float64 // least
		left            float64 // least cover of hours to limit
		late, engine    float64 // least found late, and of whole engines
	}{{1, 60, 1, 50, 93, 78, 45, 35}, {3, 50, 1.2, 80, 98, 76, 55, 75}, {10, 25, 1.6, 90, 98, 74, 55, 90}} {
		r := simulate(11, scenario{engines: c.engines, fleets: c.fleets})
		for _, m := range r.columns() {
			t.Logf("%d engines: %s %.2f of %d", c.engines, m.name, m.percent(), m.of)
		}
		if r.alarmFirst.percent() > c.alarm || r.alarmLatest.percent() > c.alarm {
			t.Errorf("%d engines: more than %.1f %% false alarms", c.engines, c.alarm)
		}
		if r.found3.percent() < c.found3 || r.found5.percent() < c.found5 {
			t.Errorf("%d engines: too few abnormal parts found", c.engines)
		}
		if r.late.percent() < c.late || r.engineFoundFirst.percent() < c.engine {
			t.Errorf("%d engines: too few late faults or whole engines found", c.engines)
		}
		if r.engineAlarmFirst.percent() > 2.5 || r.engineAlarmLatest.percent() > 2.5 {
			t.Errorf("%d engines: too many normal engines flagged", c.engines)
		}
		if p := r.next.percent(); p < 80 || p > 98 {
			t.Errorf("%d engines: next reading covered by %.1f %% of 90 %% intervals", c.engines, p)
		}
		if p := r.left.percent(); p < c.left || p > 99 {
			t.Errorf("%d engines: hours to limit covered by %.1f %% of 90 %% intervals", c.engines, p)
		}
	}
}
