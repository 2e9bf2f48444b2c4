package wear

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"
)

// Day is a calendar date as fixed-width text, 2006-01-02, so that it sorts.
type Day string

// ErrDay is returned for text that is no calendar date.
var ErrDay = errors.New("not a date: write it as 2006-01-31")

// ParseDay reads a date written 2006-01-31, between the years 1900 and 2199.
// Errors: ErrDay for any other text. Source: ISO 8601 for the writing; the years
// are a choice.
func ParseDay(text string) (Day, error) {
	t, err := time.Parse("2006-01-02", text)
	if err != nil || t.Year() < 1900 || t.Year() > 2199 {
		return "", fmt.Errorf("%q is %w", text, ErrDay)
	}
	return Day(text), nil
}

// Stay is a part's time at one place: on an engine, at a position, in a
// groove if it is a ring. Hours are the engine's total hours.
type Stay struct {
	Engine    int64
	Position  int
	Groove    int
	From      Day
	FromHours Hours
	To        Day // empty while the part is still there
	ToHours   Hours
}

// Open reports whether the part is still there: whether it has no last day.
func (s Stay) Open() bool { return s.To == "" }

// Clock counts a part's own hours: those it had before it came into the book
// and those it ran in each stay, oldest first.
type Clock struct {
	Before Hours
	Stays  []Stay
}

// Errors of reading a part's clock.
var (
	ErrHoursNeeded = errors.New("the engine's hours are needed: the part was running on that date")
	ErrHoursOrder  = errors.New("the engine's hours lie outside the part's time on it")
	ErrStay        = errors.New("a stay ends before it begins, or begins before the one before it")
)

// EngineHours is a moment on an engine's meter.
type EngineHours struct {
	Engine int64
	Hours  Hours
}

// At returns the part's own hours on a day, at the engine's hours where the
// part was running on it,
//
//	before + Σ (to hours - from hours) + (engine's hours - from hours),
//
// the sum over the stays that ended, the last term for the one it was in, all
// in hundredths of an hour. at may be nil for a part that was on the shelf that
// day, or on the day it went on; on the day it came off, at decides whether it
// was still on. Stays are in their order, and only the last is open. Errors:
// ErrHoursNeeded when it was not on the shelf and at is nil or of another
// engine, ErrHoursOrder when the hours contradict the stay, ErrDay for a day
// that is no date, ErrStay for a stay that ends before it begins or begins
// before the one before it. Source: common practice, no source.
func (c Clock) At(day Day, at *EngineHours) (Hours, error) {
	if err := c.check(day); err != nil {
		return 0, fmt.Errorf("count part hours: %w", err)
	}
	total := c.Before
	for _, s := range c.Stays {
		if s.From > day {
			break
		}
		onIt := at != nil && at.Engine == s.Engine
		if !s.Open() && (s.To < day || s.To == day && (!onIt || at.Hours >= s.ToHours)) {
			total += s.ToHours - s.FromHours
			continue
		}
		if onIt {
			if at.Hours < s.FromHours || !s.Open() && at.Hours > s.ToHours {
				return 0, fmt.Errorf("%s h: %w", at.Hours, ErrHoursOrder)
			}
			return total + at.Hours - s.FromHours, nil
		}
		if s.From == day {
			return total, nil
		}
		return 0, ErrHoursNeeded
	}
	return total, nil
}

// check returns ErrDay or ErrStay.
func (c Clock) check(day Day) error {
	if _, err := time.Parse(time.DateOnly, string(day)); err != nil {
		return fmt.Errorf("%q is %w", day, ErrDay)
	}
	for i, s := range c.Stays {
		if !s.Open() && (s.To < s.From || s.ToHours < s.FromHours) || i > 0 && s.From < c.Stays[i-1].From {
			return fmt.Errorf("stay from %s: %w", s.From, ErrStay)
		}
	}
	return nil
}

// Event is something that happened to a part's working surface.
type Event string

// The events that start a run anew, and Overhauled, which only restarts the
// hours since overhaul.
const (
	InstalledNew Event = "installed new"
	Honed        Event = "honed"
	Ground       Event = "ground to oversize"
	Plated       Event = "plated"
	Regrooved    Event = "re-grooved"
	MateReplaced Event = "mate replaced"
	Overhauled   Event = "overhauled"
	FirstSeen    Event = "first seen" // no event: the past is unknown
)

// WearEvents are those a person can enter.
var WearEvents = []Event{InstalledNew, Honed, Ground, Plated, Regrooved, Overhauled}

// ParseEvent reads a wear event by its name or a usual short form, as NormalName
// has them; false for anything else, and for FirstSeen, which nobody enters.
// Source: the book's own names.
func ParseEvent(text string) (Event, bool) {
	switch n := NormalName(text); n {
	case "installed new", "new":
		return InstalledNew, true
	case "honed", "hone":
		return Honed, true
	case "ground to oversize", "ground", "ground oversize":
		return Ground, true
	case "plated", "replated":
		return Plated, true
	case "re grooved", "regrooved":
		return Regrooved, true
	case "overhauled", "overhaul":
		return Overhauled, true
	case "mate replaced":
		return MateReplaced, true
	}
	return "", false
}

// Resets reports whether the event starts a new run of feature f in groove g
// (0 where the feature has none); at is the groove the event happened in, 0
// for all. Honing, grinding and plating renew the main running surface, which
// for a shop's own features is taken to be what they measure, and which the gap of
// a pushed ring tells of. An event that is
// none of those named, and Overhauled, resets nothing. Source: common practice,
// no source.
func (e Event) Resets(f Feature, g, at int) bool {
	switch e {
	case InstalledNew, FirstSeen:
		return true
	case Honed, Ground, Plated:
		return f.Oversize || f.Kind == Pin && f.Name == "pin diameter" || f.Kind == Cylinder && f.Name == "gap of a pushed ring" || !f.BuiltIn
	case Regrooved:
		return f.Groove && (at == 0 || at == g)
	case MateReplaced:
		return (f.Name == "side clearance" || f.InBore) && (at == 0 || at == g)
	}
	return false
}

// Fresh reports whether the surface is known to lie within the new limits
// after the event. A honed bore or a machined groove has a size of its own,
// so it is not. Source: common practice, no source.
func (e Event) Fresh() bool { return e == InstalledNew || e == Ground || e == Plated }

// Mark is an event on a part's own clock.
type Mark struct {
	Event    Event
	Day      Day
	At       Hours  // the part's own hours
	Groove   int    // 0: all
	Oversize *Value // the size over standard from then on; nil: unchanged
	After    int64  // readings of its day numbered up to this were taken before it
	Measured bool   // the part was measured on an earlier day
}

// Span is one run of a feature on a part: from a mark to the next that resets
// the feature.
type Span struct {
	Number   int // 1 is the oldest
	Start    Mark
	End      Day // the day of the mark that ended it; empty for the run in hand
	Oversize Value
}

// Runs cuts a part's life into the runs of one feature. marks may be in any
// order; oversize is the part's size over standard at first. There is always
// at least one run: when no mark lies at the beginning, it is FirstSeen. Of
// marks with no hours between them the later one names the run, a mate replaced
// only where nothing else does. Source: common practice, no source.
func Runs(f Feature, groove int, marks []Mark, oversize Value) []Span {
	sorted := slices.Clone(marks)
	slices.SortStableFunc(sorted, func(a, b Mark) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.At, b.At))
	})
	spans := []Span{{Number: 1, Start: Mark{Event: FirstSeen}, Oversize: oversize}}
	for _, m := range sorted {
		last := &spans[len(spans)-1]
		if m.Oversize != nil {
			oversize = *m.Oversize
		}
		if !m.Event.Resets(f, groove, m.Groove) {
			continue
		}
		if m.At == last.Start.At && (last.Start.Event == FirstSeen && m.After <= 0 && !m.Measured || last.Start.Day == m.Day) {
			// nothing ran between the two: the later event names the run
			if last.Start.Event == FirstSeen || m.Event != MateReplaced {
				first := last.Start
				last.Start = m
				if first.Event != FirstSeen && m.Oversize == nil {
					last.Start.After = first.After // what was measured between them is of this run
				}
			}
			last.Oversize = oversize
			continue
		}
		last.End = m.Day
		spans = append(spans, Span{Number: last.Number + 1, Start: m, Oversize: oversize})
	}
	return spans
}

// SpanOn returns the index of the run that a reading of this day, part hours
// and number belongs to; numbers grow in the order in which readings come into
// the book, which on one day is taken for that in which they were taken.
// A reading taken at the very hours of a mark belongs to the run that the mark
// began when it was taken later that day or on a later one. One from before all
// marks belongs to the first run; it is -1 where there are no spans. Source:
// common practice, no source.
func SpanOn(spans []Span, day Day, at Hours, number int64) int {
	i := len(spans) - 1
	for i > 0 && spans[i].Start.follows(day, at, number) {
		i--
	}
	return i
}

// follows reports whether the mark was made after a reading.
func (m Mark) follows(day Day, at Hours, number int64) bool {
	return m.Day > day || m.At > at || m.Day == day && m.At == at && number <= m.After
}

// Since names what the hours of a run count from, for a sentence: "61 h since
// installation". Any other event counts as installation.
func (e Event) Since() string {
	switch e {
	case Honed:
		return "honing"
	case Ground:
		return "grinding to oversize"
	case Plated:
		return "plating"
	case Regrooved:
		return "re-grooving"
	case MateReplaced:
		return "its mate was replaced"
	case FirstSeen:
		return "new, as far as is known"
	}
	return "installation"
}
