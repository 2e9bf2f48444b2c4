package wear

import (
	"fmt"
	"math"
)

// RawChange is the second reading less the first, in tenths of a psi,
//
//	change = after - before,
//
// which means something only through the same orifice at the same regulated
// pressure. Negative is worse. Pressures not given are filled in as by LeakArea.
//
// Errors: ErrOrifices, ErrRegulated, ErrRange, ErrNotFinite, ErrAboveRegular.
// Source: FAA AC 43.13-1B chg 1, para 8-14, for a test that depends on its
// orifice and regulated pressure.
func RawChange(before, after LeakTest) (PSI, error) {
	for _, t := range [...]*LeakTest{&before, &after} {
		*t, _ = t.filled()
		if err := t.check(); err != nil {
			return 0, fmt.Errorf("compare readings: %w", err)
		}
	}
	if before.Orifice != after.Orifice {
		return 0, fmt.Errorf("compare readings: %w", ErrOrifices)
	}
	if before.Regulated != after.Regulated {
		return 0, fmt.Errorf("compare readings: %w", ErrRegulated)
	}
	return after.Reading - before.Reading, nil
}

// Point is the leak as a point of a run: its hours, and its area in mm² with the
// standard uncertainty. Errors: ErrNotFinite; ErrRange for hours, an area or an
// uncertainty below 0. Source: by definition.
func (l Leak) Point(h Hours) (Point, error) {
	p := Point{Hours: h.Float(), Y: l.Area, U: l.AreaU}
	if err := (Run{Points: []Point{p}}).check(); err != nil {
		return Point{}, fmt.Errorf("take leak as a point: %w", err)
	}
	if l.Area < 0 {
		return Point{}, fmt.Errorf("take leak as a point: negative area: %w", ErrRange)
	}
	return p, nil
}

// LeakTrend is how the leak area goes with the hours.
type LeakTrend struct {
	Tests          int
	PerHour        float64 // mm² an hour
	PerHourU       float64 // its standard uncertainty
	Hours, Area    float64 // a point on the line: the weighted means
	Scatter        float64 // how many times wider the tests scatter than their gauges explain, at least 1
	Grows, Shrinks bool    // by more than chance, one-sided 95 %; never with fewer than three tests
	Words          string
}

// TrendLeak lays a straight line through leak areas, each weighted by 1/u²,
// as from Leak.Point. It survives a change of orifice, for the area does not
// depend on it. Where the tests scatter more than their gauges explain the
// uncertainty of the slope grows with them by
//
//	√(χ² / (n - 2)),
//
// and the slope counts as growing or shrinking when it differs from 0 by more
// than the 0.95 quantile of Student's t with n - 2 degrees of freedom. The run
// lies between two pieces of work on the cylinder.
//
// Valid for a leak area from 0 and hours in order. Fewer than two tests, or all
// at the same hours, have no slope. Errors: ErrOrder, ErrNotFinite, ErrRange.
// Source: weighted least squares, NIST/SEMATECH e-Handbook 4.1.4.3; scaling by
// √(χ²/(n - 2)) is common practice (Birge, 1932; from memory).
func TrendLeak(tests []Point) (LeakTrend, error) {
	run := Run{Points: tests}
	if err := run.check(); err != nil {
		return LeakTrend{}, fmt.Errorf("lay line through leaks: %w", err)
	}
	for _, p := range tests {
		if p.Y < 0 {
			return LeakTrend{}, fmt.Errorf("lay line through leaks: negative area: %w", ErrRange)
		}
	}
	t := LeakTrend{Tests: len(tests), Scatter: 1, Words: "Too few tests to tell a trend."}
	if !run.ages() {
		return t, nil
	}
	var x, y, w []float64
	least := leastUncertainty(tests)
	for _, p := range tests {
		u := math.Max(p.U, least)
		x, y, w = append(x, p.Hours), append(y, p.Y), append(w, 1/(u*u))
	}
	l := fitLine(x, y, w)
	t.PerHour, t.PerHourU, t.Hours, t.Area = l.slope, l.sd, l.x, l.y
	if dof := float64(len(tests) - 2); dof > 0 {
		t.Scatter = math.Sqrt(math.Max(l.chi2/dof, 1))
		t.PerHourU *= t.Scatter
		clear := studentQuantile(0.95, dof) * t.PerHourU
		t.Grows, t.Shrinks = t.PerHour > clear, -t.PerHour > clear
		t.Words = t.sentence()
	}
	if err := checkNumbers(t.PerHour, t.PerHourU, t.Hours, t.Area, t.Scatter); err != nil {
		return LeakTrend{}, fmt.Errorf("lay line through leaks: %w", err)
	}
	return t, nil
}

func (t LeakTrend) sentence() string {
	switch {
	case t.Grows:
		return fmt.Sprintf("The leak grows by about %.2g mm² in 100 h.", 100*t.PerHour)
	case t.Shrinks:
		return fmt.Sprintf("The leak shrinks by about %.2g mm² in 100 h.", -100*t.PerHour)
	}
	return "No clear change of the leak with the hours."
}
