package wear

import (
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

// part is a simulated barrel: its true ratio, its size when new and its run.
type part struct {
	k, size float64
	run     Run
}

func (t *truth) part(hours []float64, k float64) part {
	p := part{k: k, size: 5 + t.uniform(-0.0005, 0.0005)}
	for _, h := range hours {
		y := p.size + k*t.wear(h) + t.gauge*t.rng.NormFloat64()
		p.run.Points = append(p.run.Points, Point{Hours: h, Y: math.Round(y/resolution) * resolution, U: t.u()})
	}
	return p
}

func (t *truth) normal() float64 { return math.Exp(t.logSD * t.rng.NormFloat64()) }

// engine is nine barrels inspected together.
func (t *truth) engine() []part {
	hours := []float64{0}
	for range 1 + t.rng.IntN(5) {
		hours = append(hours, hours[len(hours)-1]+t.uniform(50, 300))
	}
	parts := make([]part, cylinders)
	for i := range parts {
		k := t.normal()
		if t.rng.Float64() < abnormal {
			k = t.uniform(3, 10)
		}
		parts[i] = t.part(hours, k)
	}
	return parts
}

// limitHours is the hours at which the part truly reaches the limit.
func (t *truth) limitHours(p part, limit float64) float64 {
	return invert(func(h float64) float64 { return p.size + p.k*t.wear(h) }, limit, 0, 1e6)
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
	alarmFirst, alarmLatest count // normal parts flagged
	found3, found5          count // at the first inspection
	next, left              count // 90 % intervals that hold: next reading, hours to limit
	canSay                  count // forecasts that name hours
}

// simulate tries fleets of so many engines. One engine of each fleet is
// looked at: at its first inspection, at the one before the latest and at the
// latest, against all that is known of the others.
func simulate(seed uint64, engines, fleets int) tally {
	var out tally
	rng := rand.New(rand.NewPCG(seed, uint64(engines)))
	for range fleets {
		t := newTruth(rng)
		var others []Run
		for range engines - 1 {
			for _, p := range t.engine() {
				others = append(others, p.run)
			}
		}
		out.look(t, others, t.engine())
	}
	return out
}

func (o *tally) look(t *truth, others []Run, engine []part) {
	s := DefaultSettings()
	n := len(engine[0].run.Points)
	q := Question{Limit: 5 + t.allowance, HasLimit: true}
	cut := func(points int) []Run {
		runs := make([]Run, 0, len(others)+cylinders)
		for _, p := range engine {
			runs = append(runs, Run{p.run.Points[:points]})
		}
		return append(runs, others...)
	}
	first := groupWithout(cut(2), s)
	for i, p := range engine {
		j := first(i).reference(s).judge(Run{p.run.Points[:2]}, q, s)
		if p.k < 3 {
			o.alarmFirst.add(j.State == Flagged)
		}
	}
	// The first barrel again as one that wears too fast.
	h := []float64{0, engine[0].run.Points[1].Hours}
	ref := first(0).reference(s)
	for range 4 {
		o.found3.add(ref.judge(t.part(h, t.uniform(3, 5)).run, q, s).State == Flagged)
		o.found5.add(ref.judge(t.part(h, t.uniform(5, 10)).run, q, s).State == Flagged)
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
		if p.k < 3 {
			o.alarmLatest.add(j.State == Flagged)
		}
		left := t.limitHours(p, q.Limit) - j.Hours
		o.canSay.add(j.Forecast.CanSay)
		if f := j.Forecast; f.CanSay && left > 0 {
			o.left.add(f.Low <= left && left <= f.High)
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
		return g.Without(shares[i], s)
	}
}

// BenchmarkSimulation reports, in per cent, what the method reaches with one,
// three and ten engines and without the maker's allowance; 3,000, 2,000 and
// 1,000 fleets, of each of which nine parts are looked at. At seed 7:
//
//	engines                     1      3     10
//	false alarm, first       0.01   0.16   0.33
//	false alarm, latest      0.01   0.11   0.33
//	found first, 3-5x          72     95     99
//	found first, 5-10x         99    100    100
//	next reading covered       91     90     90
//	hours to limit covered     91     89     89
//
// What it rests on, each found by trying: generalised least squares for the
// curve (independent readings left the shape, and with it the hours to limit,
// far too open), the plausible curves (the one best curve covers hours to limit
// in 40, 72 and 83 %), and parts left out of the spread from 2.5 log-sd on (at 3 a
// second abnormal part among eight hid one abnormal part in thirty).
func BenchmarkSimulation(b *testing.B) {
	for _, c := range []struct {
		name            string
		engines, fleets int
	}{{"engines=1", 1, 3000}, {"engines=3", 3, 2000}, {"engines=10", 10, 1000}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				r := simulate(7, c.engines, c.fleets)
				for _, m := range r.columns() {
					b.ReportMetric(m.percent(), m.name)
				}
			}
		})
	}
}

type column struct {
	name string
	count
}

func (o tally) columns() []column {
	return []column{
		{"%alarm-first", o.alarmFirst}, {"%alarm-latest", o.alarmLatest},
		{"%found-3-5x", o.found3}, {"%found-5-10x", o.found5},
		{"%next-reading", o.next}, {"%hours-left", o.left}, {"%can-say", o.canSay},
	}
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
	}{{1, 60, 1, 50, 93, 78}, {3, 50, 1.2, 85, 98, 76}, {10, 25, 1.6, 90, 98, 74}} {
		r := simulate(11, c.engines, c.fleets)
		for _, m := range r.columns() {
			t.Logf("%d engines: %s %.2f of %d", c.engines, m.name, m.percent(), m.of)
		}
		if r.alarmFirst.percent() > c.alarm || r.alarmLatest.percent() > c.alarm {
			t.Errorf("%d engines: more than %.1f %% false alarms", c.engines, c.alarm)
		}
		if r.found3.percent() < c.found3 || r.found5.percent() < c.found5 {
			t.Errorf("%d engines: too few abnormal parts found", c.engines)
		}
		if p := r.next.percent(); p < 80 || p > 98 {
			t.Errorf("%d engines: next reading covered by %.1f %% of 90 %% intervals", c.engines, p)
		}
		if p := r.left.percent(); p < c.left || p > 99 {
			t.Errorf("%d engines: hours to limit covered by %.1f %% of 90 %% intervals", c.engines, p)
		}
	}
}
