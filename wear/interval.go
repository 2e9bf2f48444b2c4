package wear

import "math"

// Names of the tests of a run.
const (
	WholeRun     = "whole run"
	LastInterval = "last interval"
)

// Tested is what one test of a run shows. Every number is finite; lengths are
// in the unit of Point.Y. Where nothing was tested, State is TooFewReadings or
// NoReference and P is 0 or, after AmongLooks, 1.
type Tested struct {
	Test      string // WholeRun or LastInterval
	State     State
	Readings  int     // used
	FromHours float64 // of the run, at the first reading used
	ToHours   float64 // of the run, at the latest

	Wear     float64 // best estimate between those hours; may be negative
	WearSD   float64 // its standard error
	Expected float64 // wear of a normal part between the same hours

	Ratio     float64 // wear over expected
	RatioSD   float64 // standard error from the gauge
	RatioLow  float64 // 90 % interval
	RatioHigh float64
	P         float64 // chance that a normal part, measured this well, shows as much or more

	// What P was made of: a normal part has a ratio about Centre with the log-sd
	// PredictiveSD, and Seen ± SeenSD was measured. For the whole run Centre is 1
	// and Seen the Ratio. For the latest interval Centre is what a normal part with
	// the earlier readings would go on with, and Seen runs from the weighted middle
	// of those.
	Centre       float64
	PredictiveSD float64
	Seen, SeenSD float64
}

// interval tells where in points, ordered by hours, the latest interval begins
// and where it ends: the first reading at the latest hours before the latest,
// and the first at the latest. ok is false where that is the whole run, or less.
func interval(points []Point) (from, to int, ok bool) {
	for i := len(points) - 1; i > 0; i-- {
		if points[i].Hours-points[i-1].Hours <= smallest {
			continue
		}
		if to > 0 {
			return i, to, true
		}
		to = i
	}
	return 0, to, false
}

// compare sets the wear that points show, two or more at different hours,
// against that of a normal part between the same hours: the ratio k is the
// slope of y on W(h), see ratioLine. Expected wear of 0 gives NoReference.
func (r reference) compare(name string, points []Point) (Tested, line) {
	first, last := points[0], points[len(points)-1]
	t := Tested{Test: name, Readings: len(points), FromHours: first.Hours, ToHours: last.Hours}
	t.Expected = r.curve.Between(first.Hours, last.Hours)
	if t.Expected <= 0 {
		t.State = NoReference
		t.Wear, t.WearSD = last.Y-first.Y, math.Hypot(first.U, last.U)
		return t, line{}
	}
	l := ratioLine(points, r.curve, r.wander)
	t.Ratio, t.RatioSD = l.slope, l.sd
	t.RatioLow, t.RatioHigh = l.slope-normal95*l.sd, l.slope+normal95*l.sd
	t.Wear, t.WearSD = l.slope*t.Expected, l.sd*t.Expected
	return t, l
}

// whole tests a whole run: the chance that a normal part shows its ratio,
//
//	p = ∫ t(z) Φ((e^(σz) - k)/s) dz,
//
// s the standard error of the ratio and σ the log-sd of normal wear between its
// hours; see sdBetween and chance.
func (r reference) whole(points []Point, s Settings) (Tested, line) {
	t, l := r.compare(WholeRun, points)
	if t.Expected <= 0 {
		return t, l
	}
	t.Centre, t.Seen, t.SeenSD = 1, t.Ratio, t.RatioSD
	t.PredictiveSD = r.sdBetween(t.FromHours, t.ToHours)
	t.P = chance(0, t.PredictiveSD, r.dof, t.Seen, t.SeenSD)
	t.State = t.state(s)
	return t, l
}

// lastly tests the latest interval of a run, points[from:]. Its ratio is that
// of its two readings alone. Its chance is that a normal part which had shown
// the earlier readings, points[:to], would now show the latest, see
// lateChange:
//
//	seen = (y - Y) / (W - X),  seenSD² = (u² + 1/Σw) / (W - X)²,
//	own² = (ownShare ω² (W - W(from))² + wander² W²) / (W - X)²,
//
// X and Y the weighted middle of the earlier readings, Σw their weight, u the
// latest reading's error and ω² the variance from part to part. It is the mean
// over the plausible curves, each made to agree with the reference over the
// earlier hours: what is open is how wear goes on from there, and no curve
// makes it speed up. So the earlier readings count for what the part is, and a
// part that always wore fast has not changed.
func (r reference) lastly(points []Point, from, to int, s Settings) (Tested, line) {
	t, l := r.compare(LastInterval, points[from:])
	if t.Expected <= 0 {
		return t, l
	}
	sd := r.sdBetween(points[0].Hours, t.FromHours)
	c := r.changeOf(points, from, to, r.curve, sd)
	t.Centre, t.PredictiveSD = c.middle()
	t.Seen, t.SeenSD = c.seen, c.seenSD
	sum, n := 0.0, 0.0
	for _, curve := range r.agreeing(points[0].Hours, t.FromHours) {
		if curve.Between(t.FromHours, t.ToHours) > 0 {
			sum += r.changeOf(points, from, to, curve, sd).chance()
			n++
		}
	}
	if n == 0 {
		sum, n = c.chance(), 1
	}
	t.P = sum / n
	t.State = t.state(s)
	return t, l
}

// changeOf is the change of a run in its latest interval under one curve, where
// normal parts have the log-sd sd.
func (r reference) changeOf(points []Point, from, to int, c Curve, sd float64) lateChange {
	before := ratioLine(points[:to], c, r.wander)
	y, u2 := weightedMean(points[to:], leastUncertainty(points))
	w := c.W(points[to].Hours)
	step := w - before.x
	changes := math.Sqrt(ownShare) * r.logSD * (w - c.W(points[from].Hours))
	return lateChange{
		before: before.slope, beforeSD: before.sd, sd: sd, dof: r.dof,
		seen: (y - before.y) / step, seenSD: math.Sqrt(u2+1/before.weight) / step,
		own: math.Hypot(changes, r.wander*w) / step,
	}
}

// ownShare is the share of the variance from part to part by which a normal
// part's ratio changes from one interval to another. A choice, no source; the
// simulated truth has none.
const ownShare = 0.1

// weightedMean is the mean of readings at the same hours, and its variance.
func weightedMean(points []Point, least float64) (y, u2 float64) {
	weight := 0.0
	for _, p := range points {
		u := math.Max(p.U, least)
		weight += 1 / (u * u)
		y += (p.Y - points[0].Y) / (u * u)
	}
	return points[0].Y + y/weight, 1 / weight
}

func (t Tested) state(s Settings) State {
	switch {
	case t.P < s.FlagChance && t.Ratio > s.FlagRatio:
		return Flagged
	case t.RatioSD > s.ClearSD:
		return TooYoung
	case t.Ratio <= 0:
		return NoWearSeen
	}
	return Normal
}

// amongLooks multiplies the chance by the number of stations looked at.
func (t Tested) amongLooks(n float64, s Settings) Tested {
	t.P = math.Min(1, t.P*n)
	if t.State == NoReference || t.State == TooFewReadings {
		t.P = 1 // nothing was tested
	}
	if t.State == Flagged && t.P >= s.FlagChance {
		t.State = Normal
	}
	return t
}

// clearly is how many times less likely the last interval must be than the
// whole run before it, and not the run, is what a flagged part shows. A
// choice, no source.
const clearly = 10

// decide makes the outcome of both tests: flagged by either. The last interval
// is shown where it alone is flagged, or both are and it is clearly less
// likely; otherwise the whole run.
func (j *Judgement) decide() {
	show := &j.Whole
	late := j.Interval.State == Flagged
	if late && (j.Whole.State != Flagged || j.Interval.P*clearly < j.Whole.P) {
		show = &j.Interval
	}
	j.State, j.Test, j.P = show.State, show.Test, show.P
	j.Wear, j.WearSD, j.Expected = show.Wear, show.WearSD, show.Expected
	j.Ratio, j.RatioSD, j.PredictiveSD = show.Ratio, show.RatioSD, show.PredictiveSD
	j.RatioLow, j.RatioHigh = show.RatioLow, show.RatioHigh
}
