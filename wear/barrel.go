package wear

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Spot is where a bore was measured: at a station along the barrel, across an
// axis.
type Spot struct{ Station, Axis string }

// SpotReading is a diameter at a spot, in nanometres, with its standard
// uncertainty. Shared is the part of it that all readings of one measuring have
// alike, 0 to U: one person reads them all, of a part that is equally warm. It
// stays in a mean, and cancels in a difference of two readings of that measuring.
type SpotReading struct {
	Spot
	Gauged
	Shared float64
}

// own2 is the variance that a reading has for itself.
func (r SpotReading) own2() float64 { return math.Max(r.U*r.U-r.Shared*r.Shared, 0) }

// StationShape is a barrel at one station, lengths in nanometres.
type StationShape struct {
	Name        string
	Axes        int // measured
	Mean, MeanU float64
	OwnU        float64 // of the mean, without what the readings of one measuring share
	OutOfRound  float64 // largest less smallest diameter; 0 with one axis
	OutOfRoundU float64
	Round       bool // two axes or more were measured, so that OutOfRound means something
}

// SpotWear is how far a spot has gone since its baseline, nanometres.
type SpotWear struct {
	Spot
	Wear, U float64
}

// BarrelShape is the geometry of a barrel from one measuring. What could not
// be worked out is left zero and its flag is not set.
type BarrelShape struct {
	Stations []StationShape // measured ones, head end first
	Taper    float64        // mean at the head end less mean at the lower end: positive is wider at the head
	TaperU   float64
	Tapers   bool // two stations were measured across one axis
	Largest  SpotReading
	Step     float64 // largest change of the mean from one station to the next
	StepFrom string
	StepTo   string
	Wear     []SpotWear
	MostWorn *SpotWear // nil without a baseline
	New      []Spot    // measured, but without a baseline
}

// Errors of a barrel's geometry.
var (
	ErrStation   = errors.New("not a station of this barrel")
	ErrSpotTwice = errors.New("the same spot was given twice")
	ErrNoSpots   = errors.New("no spot was measured")
)

// ShapeOf works out a barrel's geometry from diameters d(s, a) at stations s,
// named from the head end down, and axes a:
//
//	mean(s) = Σ d(s, a) / n,  out-of-round(s) = max d - min d,
//	taper = mean(first) - mean(last) over the axes both have,
//	wear(s, a) = d - baseline d there,
//
// with the standard uncertainties, o = √(U² - s²) and s = Shared those of a reading,
//
//	u(mean) = √(Σo² + (Σs)²) / n,  u(d₁ - d₂) = √(o₁² + o₂² + (s₁ - s₂)²),
//
// taper likewise; u(wear) = √(U² + U²), now and baseline being two measurings.
// Choke is a taper below 0. A station named twice is one station. Valid for diameters
// above 0 up to 1 km. Errors: ErrNoSpots, ErrStation, ErrSpotTwice, ErrRange,
// ErrNotFinite.
//
// Source: FAA-H-8083-32, dimensional inspection, for what is measured; US Army
// TM 9-2815-220-24 WP 0135 for averaging the directions; JCGM 100 (GUM)
// 5.1.2 and, for what is shared, 5.2.2 with a correlation of 1.
func ShapeOf(stations []string, now, baseline []SpotReading) (BarrelShape, error) {
	if len(now) == 0 {
		return BarrelShape{}, fmt.Errorf("work out barrel: %w", ErrNoSpots)
	}
	for _, rs := range [][]SpotReading{now, baseline} {
		if err := checkSpots(stations, rs); err != nil {
			return BarrelShape{}, fmt.Errorf("work out barrel: %w", err)
		}
	}
	b := BarrelShape{Largest: now[0]}
	for i, s := range stations {
		if shape, ok := stationShape(s, now); ok && !slices.Contains(stations[:i], s) {
			b.Stations = append(b.Stations, shape)
		}
	}
	for _, r := range now {
		if r.Value > b.Largest.Value {
			b.Largest = r
		}
	}
	b.taper(now)
	b.compare(now, baseline)
	return b, nil
}

func checkSpots(stations []string, rs []SpotReading) error {
	seen := map[Spot]bool{}
	for _, r := range rs {
		switch {
		case !slices.Contains(stations, r.Station):
			return fmt.Errorf("%q: %w", r.Station, ErrStation)
		case seen[r.Spot]:
			return fmt.Errorf("%s %s: %w", r.Station, r.Axis, ErrSpotTwice)
		case r.Value <= 0 || r.Value > largest || r.U < 0 || r.Shared < 0 || r.Shared > r.U*(1+1e-9):
			return fmt.Errorf("%s %s: %w", r.Station, r.Axis, ErrRange)
		}
		if err := checkNumbers(r.U, r.Shared); err != nil {
			return fmt.Errorf("%s %s: %w", r.Station, r.Axis, err)
		}
		seen[r.Spot] = true
	}
	return nil
}

func stationShape(name string, rs []SpotReading) (StationShape, bool) {
	s := StationShape{Name: name}
	var least, most SpotReading
	var squares, shared float64
	for _, r := range rs {
		if r.Station != name {
			continue
		}
		if s.Axes == 0 || r.Value < least.Value {
			least = r
		}
		if s.Axes == 0 || r.Value > most.Value {
			most = r
		}
		s.Axes++
		s.Mean += float64(r.Value)
		squares += r.own2()
		shared += r.Shared
	}
	if s.Axes == 0 {
		return s, false
	}
	n := float64(s.Axes)
	s.Mean, s.OwnU = s.Mean/n, math.Sqrt(squares)/n
	s.MeanU = math.Hypot(s.OwnU, shared/n)
	if s.Round = s.Axes > 1; s.Round {
		s.OutOfRound, s.OutOfRoundU = float64(most.Value-least.Value), math.Sqrt(most.own2()+least.own2()+math.Pow(most.Shared-least.Shared, 2))
	}
	return s, true
}

// taper compares stations over the axes that both were measured across.
func (b *BarrelShape) taper(now []SpotReading) {
	n := len(b.Stations)
	if n < 2 {
		return
	}
	fall, u, ok := changeBetween(now, b.Stations[n-1].Name, b.Stations[0].Name)
	b.Taper, b.TaperU, b.Tapers = fall, u, ok
	for i := 1; i < n; i++ {
		from, to := b.Stations[i-1].Name, b.Stations[i].Name
		step, _, ok := changeBetween(now, from, to)
		if ok && (math.Abs(step) > math.Abs(b.Step) || b.StepFrom == "") {
			b.Step, b.StepFrom, b.StepTo = step, from, to
		}
	}
}

// changeBetween is the mean change of diameter from one station to another
// over the axes they share, with its standard uncertainty.
func changeBetween(rs []SpotReading, from, to string) (change, u float64, ok bool) {
	axes, shared := 0.0, 0.0
	for _, a := range rs {
		for _, b := range rs {
			if a.Station == from && b.Station == to && a.Axis == b.Axis {
				change += float64(b.Value - a.Value)
				u += a.own2() + b.own2()
				shared += b.Shared - a.Shared
				axes++
			}
		}
	}
	if axes == 0 {
		return 0, 0, false
	}
	return change / axes, math.Sqrt(u+shared*shared) / axes, true
}

// compare finds the wear of each spot that has a baseline.
func (b *BarrelShape) compare(now, baseline []SpotReading) {
	was := map[Spot]Gauged{}
	for _, r := range baseline {
		was[r.Spot] = r.Gauged
	}
	for _, r := range now {
		before, known := was[r.Spot]
		if !known {
			b.New = append(b.New, r.Spot)
			continue
		}
		b.Wear = append(b.Wear, SpotWear{r.Spot, float64(r.Value - before.Value), math.Hypot(r.U, before.U)})
	}
	for i, w := range b.Wear {
		if b.MostWorn == nil || w.Wear > b.MostWorn.Wear {
			b.MostWorn = &b.Wear[i]
		}
	}
}
