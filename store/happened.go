package store

import (
	"time"

	"barrelbook/wear"
)

// firstDay is the earliest day of an entry: before it the year is a slip.
const firstDay wear.Day = "1920-01-01"

// Happened says, as Invalid at day, that nothing can have happened on a day:
// one that lies ahead by the book's clock, or one before firstDay. Tomorrow is let
// through, for a tablet in another time zone. Days that may lie ahead, as when a
// calibration is due, are not asked about.
func (b *Book) Happened(day wear.Day) error { return happened(day, b.now()).orNil() }

func (t *tx) happened(day wear.Day) Invalid { return happened(day, t.now) }

func happened(day wear.Day, now time.Time) Invalid {
	switch {
	case day == "":
		return nil // it is asked for elsewhere
	case day < firstDay:
		return invalid("day", "%s is before %s: is the year right?", day, firstDay)
	case day > wear.Day(now.AddDate(0, 0, 1).Format(time.DateOnly)):
		return invalid("day", "%s lies ahead: by the clock of the computer that has the book, today is %s. Correct the date; if that clock is wrong, set it right first", day, now.Format(time.DateOnly))
	}
	return nil
}
