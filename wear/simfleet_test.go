package wear

import "math"

// faultTally is what a simulation finds of faults that begin late and of
// faults of a whole engine.
type faultTally struct {
	late, lateWhole, lateLast             count // late 3-5x: found, by the whole run alone, where only the last interval is abnormal
	lateLeft                              count // hours to limit of those flagged by their last interval
	engineAlarmFirst, engineAlarmLatest   count // normal engines flagged
	engineFoundFirst, engineFoundLatest   count // engines of 2-5x
	engineFound2First, engineFound2Latest count // of these up to 3x
}

func (o faultTally) columns() []column {
	return []column{
		{"%late-3-5x", o.late}, {"%late-whole-run", o.lateWhole}, {"%late-last-only", o.lateLast}, {"%late-hours-left", o.lateLeft},
		{"%engine-alarm-first", o.engineAlarmFirst}, {"%engine-alarm-latest", o.engineAlarmLatest},
		{"%engine-2-5x-first", o.engineFoundFirst}, {"%engine-2-5x-latest", o.engineFoundLatest},
		{"%engine-2-3x-first", o.engineFound2First}, {"%engine-2-3x-latest", o.engineFound2Latest},
	}
}

func hoursOf(r Run) []float64 {
	var hours []float64
	for _, p := range r.Points {
		hours = append(hours, p.Hours)
	}
	return hours
}

// lookLate replaces the first barrel by ones that wear normally up to an
// inspection, any but the latest, and three to five times as fast from there.
func (o *faultTally) lookLate(t *truth, others []Run, mine []part) {
	hours, s := hoursOf(mine[0].run), DefaultSettings()
	n := len(hours)
	if n < 3 {
		return
	}
	runs := runsOf(mine[1:])
	q := Question{Limit: 5 + t.allowance, HasLimit: true}
	g, _ := newFitter(append(runs, others...), Allowance{}, s).group(-1)
	for range 4 {
		onset := 1 + t.rng.IntN(n-2)
		p := part{k: t.uniform(3, 5), size: 5 + t.uniform(-0.0005, 0.0005), before: t.normal(), turn: t.wear(hours[onset])}
		p = t.measure(p, hours)
		j := g.reference(s).judge(p.run, q, s)
		o.late.add(j.State == Flagged)
		o.lateWhole.add(j.Whole.State == Flagged)
		if onset == n-2 {
			o.lateLast.add(j.State == Flagged)
		}
		if j.Test == LastInterval {
			t.covers(&o.lateLeft, p, j)
		}
	}
}

// lookEngine judges whole engines against all the others: the one looked at,
// six more normal ones and three of which all parts wear two to five times as
// fast, at the hours of that one. Where there are no other engines the maker's
// allowance stands for them, which is right at the overhaul life and, since
// barrels bed in, too little before.
func (o *faultTally) lookEngine(t *truth, others []Run, engineOf []int, mine []part) {
	s, allowance := DefaultSettings(), Allowance{}
	if len(others) == 0 {
		allowance = Allowance{PerHour: t.allowance / t.life, Life: t.life}
	}
	f := newFitter(others, allowance, s)
	g, shares := f.group(-1)
	ids, members := byEngine(engineOf)
	own := make([]EngineShare, len(ids))
	for i, id := range ids {
		own[i] = g.engineShare(id, pickAt(shares, members[i]), s)
	}
	all, ref := fitEngines(own, s), g.reference(s)
	flagged := func(parts []part, points int) bool {
		runs := runsOf(parts)
		for i := range runs {
			runs[i].Points = runs[i].Points[:points]
		}
		j, _ := ref.judgeEngine(runs, all, s)
		return j.State == Flagged
	}
	hours := hoursOf(mine[0].run)
	n := len(hours)
	for i := range 10 {
		by, normal := math.Exp(t.engineSD*t.rng.NormFloat64()), i < 7
		if !normal {
			by = t.uniform(2, 5)
		}
		parts := mine
		if i > 0 {
			parts = t.alike(hours, by)
		}
		first, latest := flagged(parts, 2), flagged(parts, n)
		if normal {
			o.engineAlarmFirst.add(first)
			o.engineAlarmLatest.add(latest)
			continue
		}
		o.engineFoundFirst.add(first)
		o.engineFoundLatest.add(latest)
		if by < 3 {
			o.engineFound2First.add(first)
			o.engineFound2Latest.add(latest)
		}
	}
}

// alike is an engine whose normal parts all wear by times as fast.
func (t *truth) alike(hours []float64, by float64) []part {
	parts := make([]part, cylinders)
	for i := range parts {
		parts[i] = t.part(hours, by*t.normal())
	}
	return parts
}
