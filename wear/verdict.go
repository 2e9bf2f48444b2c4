package wear

import "math"

// Limit is what the maker's table says of one feature, as a shop typed it. A
// nil bound was not given.
type Limit struct {
	NewMin, NewMax         *Value
	ServiceMin, ServiceMax *Value
	Wear                   Direction
	Life                   Hours // overhaul life, 0 where not given
}

// Shifted returns the limit of a part whose size is larger than standard by
// oversize: every bound moves by it, at most to the largest Value.
//
// Source: US Army TM 9-2815-220-24 WP 0135, each 0.010 in oversize adds 0.010.
func (l Limit) Shifted(oversize Value) Limit {
	shift := func(v *Value) *Value {
		if v == nil {
			return nil
		}
		moved := v.plus(oversize)
		return &moved
	}
	l.NewMin, l.NewMax = shift(l.NewMin), shift(l.NewMax)
	l.ServiceMin, l.ServiceMax = shift(l.ServiceMin), shift(l.ServiceMax)
	return l
}

// Nominal is the size from which thousandths are counted when no other is
// set: the new dimension a part wears away from, in base units. That is the
// least new one, the largest where wear goes down, and the other where that was
// not given; ok is false without either. Source: common practice, no source.
func (l Limit) Nominal() (Value, bool) {
	first, second := l.NewMin, l.NewMax
	if l.Wear == Down {
		first, second = second, first
	}
	if first != nil {
		return *first, true
	}
	if second != nil {
		return *second, true
	}
	return 0, false
}

// MiddleOfNew returns the middle of the new limits and the standard
// uncertainty of a rectangular distribution between them, both in base units:
//
//	mid = (min + max) / 2,  u = (max - min) / √12.
//
// ok is false where a limit is missing or they are crossed.
//
// Source: JCGM 100 (GUM) 4.3.7.
func (l Limit) MiddleOfNew() (mid, u float64, ok bool) {
	if l.NewMin == nil || l.NewMax == nil || *l.NewMin > *l.NewMax {
		return 0, 0, false
	}
	lo, hi := float64(*l.NewMin), float64(*l.NewMax)
	return (lo + hi) / 2, (hi - lo) / math.Sqrt(12), true
}

// ServiceLimit is the bound that wear runs towards, in base units: the largest
// where wear goes up, the least where it goes down. ok is false where it was not
// given, and for what does not wear. Source: by definition.
func (l Limit) ServiceLimit() (Value, bool) {
	switch {
	case l.Wear == Up && l.ServiceMax != nil:
		return *l.ServiceMax, true
	case l.Wear == Down && l.ServiceMin != nil:
		return *l.ServiceMin, true
	}
	return 0, false
}

// AllowancePerHour is the maker's wear allowance spread over the overhaul
// life,
//
//	allowance = ± (service limit - middle of new) / life,
//
// in base units an hour, life in hours, signed so that wear is positive. ok is
// false where a figure is missing or the limits leave no allowance. Source: by
// definition; that wear runs evenly through the life is common practice, no
// source.
func (l Limit) AllowancePerHour() (float64, bool) {
	mid, _, ok := l.MiddleOfNew()
	service, has := l.ServiceLimit()
	if !ok || !has || l.Life <= 0 {
		return 0, false
	}
	allowance := l.Wear.Sign() * (float64(service) - mid)
	if allowance <= 0 {
		return 0, false
	}
	return allowance / l.Life.Float(), true
}

// Verdict is what a reading says of a part, set against its limits.
type Verdict int

// Verdicts from best to worst. NoLimit is no verdict at all.
const (
	NoLimit Verdict = iota
	New
	Serviceable
	Undecided
	Beyond
)

var verdictWords = [...]string{"no limit", "new", "serviceable", "undecided", "beyond"}

// String returns the word shown to people.
func (v Verdict) String() string {
	if v < NoLimit || v > Beyond {
		return verdictWords[NoLimit]
	}
	return verdictWords[v]
}

// Assessment is a verdict with what it was made of.
type Assessment struct {
	Verdict Verdict // with the measurement's uncertainty allowed for
	Plain   Verdict // the bare comparison: never Undecided
	U       float64 // expanded uncertainty for one-sided 95 %, base units
	Room    float64 // distance to the nearest bound, negative when past it, base units
	Bounded bool    // whether there was a bound, so that Room means something
	Edge    Edge    // the bound that Room is the distance to

	Interference bool // a clearance below 0 where the limit does not ask for a tight fit
}

// Tight reports whether the nearest bound is that on the tight side of a
// clearance. Source: as AssessClearance.
func (a Assessment) Tight() bool { return a.Edge != ServiceEdge }

// Edge is a bound that a value is held against.
type Edge int

// The bounds: a service limit, and on the tight side of a clearance the
// service minimum, else the new minimum, else no clearance at all.
const (
	ServiceEdge Edge = iota
	TightServiceEdge
	TightNewEdge
	NothingEdge
)

// oneSided95 is the coverage factor of a one-sided 95 % statement: the 0.95
// quantile of the normal distribution, 1.645.
// Source: NIST/SEMATECH e-Handbook 1.3.6.7.1.
const oneSided95 = 1.645

// Assess compares v with the limit. u is the standard uncertainty of v in base
// units, 0 or more; one that cannot be, below 0 or no number, is not known and
// counts, as one above 1e19, as 1e19, which is more than any value.
//
// Beyond: past a service bound by more than U = 1.645u. Serviceable or new:
// inside by more than U. Otherwise undecided. Without a service bound only
// "new" can be told, and anything else is NoLimit. The bound itself is never
// moved, and a value exactly on it is, plainly, within it.
//
// A bore below its new minimum or a skirt above its new maximum is outside its
// drawing as well, but passes here: no wear makes it so, and mostly it says
// that a gauge was set wrong or that a size over standard was not entered. What
// it could do is done by the fit with its mate, which AssessClearance judges.
//
// Source: ISO 14253-1 (decision rules), JCGM 100 (GUM) for U.
func Assess(v Value, u float64, l Limit) Assessment {
	if !(u >= 0) {
		u = mostU
	}
	a := Assessment{U: ExpandedU(u), Room: math.Inf(1)}
	if l.ServiceMin != nil {
		a.Room, a.Bounded = float64(v.less(*l.ServiceMin)), true
	}
	if l.ServiceMax != nil {
		a.Room, a.Bounded = math.Min(a.Room, float64(l.ServiceMax.less(v))), true
	}
	isNew := (l.NewMin != nil || l.NewMax != nil) &&
		(l.NewMin == nil || v >= *l.NewMin) && (l.NewMax == nil || v <= *l.NewMax)
	if !a.Bounded {
		a.Room = 0
		if isNew {
			a.Verdict, a.Plain = New, New
		}
		return a
	}
	good := Serviceable
	if isNew {
		good = New
	}
	a.Plain = good
	if a.Room < 0 {
		a.Plain = Beyond
	}
	switch {
	case a.U == 0:
		a.Verdict = a.Plain
	case a.Room < -a.U:
		a.Verdict = Beyond
	case a.Room > a.U:
		a.Verdict = good
	default:
		a.Verdict = Undecided
	}
	return a
}

// AssessClearance compares a clearance between two parts, or a gap, with its
// limit. Too much of it is judged as in Assess. Too little is as bad: a ring
// that binds in its groove or butts at its ends breaks the piston. So the
// tight side is bounded by the service minimum, else by the new minimum, as in
// MatchFitOf; beyond is what is tighter by more than U. A clearance below 0 is
// an interference, beyond by more than U even without a limit, unless the
// least clearance that the limit allows is itself below 0. Above the new
// maximum nothing can be told without a service maximum.
//
// Source: ISO 14253-1 (decision rules); that the new minimum holds for a worn
// fit too is common practice, no source.
func AssessClearance(v Value, u float64, l Limit) Assessment {
	low, edge := l.ServiceMin, TightServiceEdge
	if low == nil {
		low, edge = l.NewMin, TightNewEdge
	}
	if low == nil {
		low, edge = new(Value), NothingEdge
	}
	both := l
	both.ServiceMin = low
	a := Assess(v, u, both)
	room := float64(v.less(*low))
	worn := l.NewMax != nil && v > *l.NewMax
	if edge == NothingEdge && v >= 0 || l.ServiceMin == nil && room > a.U && (worn || l.ServiceMax == nil) {
		return Assess(v, u, l) // only the loose side is left to judge
	}
	if l.ServiceMax == nil && l.ServiceMin == nil && a.Plain == Serviceable {
		a.Plain = NoLimit
	}
	if a.Room == room {
		a.Edge = edge
	}
	a.Interference = v < 0 && *low >= 0
	return a
}

// Held is what a part in service is held to: the service bounds, of a
// clearance without a service minimum from the new minimum on. Source: as
// AssessClearance.
func (f Feature) Held(l Limit) (low, high *Value) {
	if f.Clearance && l.ServiceMin == nil {
		return l.NewMin, l.ServiceMax
	}
	return l.ServiceMin, l.ServiceMax
}

// Assess compares a reading of the feature with its limit: both sides of a
// clearance, of all else the service bounds that are typed. u as in the function
// Assess. Source: as AssessClearance and the function Assess.
func (f Feature) Assess(v Value, u float64, l Limit) Assessment {
	if f.Clearance {
		return AssessClearance(v, u, l)
	}
	return Assess(v, u, l)
}

// StandardUncertainty of one reading from the gauge's standard deviation, that
// between people who read it, and its resolution: √(gauge² + operator² +
// resolution²/12), in the unit of all three. What is not a number is not
// known and counts, as what is above 1e19, as 1e19, more than any value. What the temperature adds
// is for Count. Source: JCGM 100 (GUM) 4.3.7 and 5.1.2.
func StandardUncertainty(gaugeSD, operatorSD, resolution float64) float64 {
	gaugeSD, operatorSD, resolution = bounded(gaugeSD), bounded(operatorSD), bounded(resolution)
	return math.Sqrt(gaugeSD*gaugeSD + operatorSD*operatorSD + resolution*resolution/12)
}

// ExpandedU is the expanded uncertainty of a one-sided 95 % statement,
//
//	U = 1.645 u,
//
// u the standard uncertainty, U in its unit. u is bounded as in
// StandardUncertainty, and its sign is kept. Source: JCGM 100 (GUM) 6.2.1;
// 1.645 is the 0.95 quantile of the normal distribution, NIST/SEMATECH
// e-Handbook 1.3.6.7.1.
func ExpandedU(u float64) float64 { return oneSided95 * bounded(u) }

// mostU is more than any value, in base units.
const mostU = 1e19

func bounded(u float64) float64 {
	if math.IsNaN(u) {
		return mostU
	}
	return math.Min(math.Max(u, -mostU), mostU)
}
