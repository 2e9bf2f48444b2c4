package store

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"barrelbook/wear"
)

// meterChain are entries in force of one engine's meter in their sequence. They
// come by day. Within a day come the readings of the meter that was on, in any
// order as nobody keeps the time of day; then its replacement; then the readings
// of the new meter; and so on. A replacement says at what the old meter stood
// and at what the new one began, and the offset of all that comes after follows.
type meterChain []MeterEntry

// findChain reads the chain of an engine.
func findChain(ctx context.Context, q querier, engine int64) (meterChain, error) {
	return chainWhere(ctx, q, "engine_id = ?", engine)
}

// findNear reads the part of an engine's chain that an entry of a day would
// stand beside: that day, and those before and after it that have entries.
func findNear(ctx context.Context, q querier, engine int64, day wear.Day) (meterChain, error) {
	return chainWhere(ctx, q, `engine_id = ?1
		AND day >= coalesce((SELECT x.day FROM meter_now x WHERE x.engine_id = ?1 AND x.day < ?2 ORDER BY x.day DESC LIMIT 1), ?2)
		AND day <= coalesce((SELECT x.day FROM meter_now x WHERE x.engine_id = ?1 AND x.day > ?2 ORDER BY x.day LIMIT 1), ?2)`, engine, day)
}

func chainWhere(ctx context.Context, q querier, where string, args ...any) (meterChain, error) {
	ms, err := list(ctx, q, scanMeter, "SELECT "+meterColumns+" FROM meter_now WHERE "+where, args...)
	if err != nil {
		return nil, fmt.Errorf("read meter entries: %w", err)
	}
	c := meterChain(ms)
	c.sort()
	var offset wear.Hours
	for i := range c {
		if c[i].Replaced() {
			c[i].Stood = c[i].Hours - offset
		}
		offset = c[i].Offset
	}
	return c, nil
}

// sort brings the entries into their sequence. One not yet in the book has root
// 0 and is the last that was entered.
func (c meterChain) sort() {
	replacements := map[wear.Day][]int64{}
	for _, m := range c {
		if m.Replaced() {
			replacements[m.Day] = append(replacements[m.Day], enteredAs(m.Root))
		}
	}
	for i := range c {
		m := &c[i]
		m.turn = 0
		for _, r := range replacements[m.Day] {
			if r < enteredAs(cmp.Or(m.AheadOf, m.Root)) {
				m.turn += 2
			}
		}
		if m.Replaced() {
			m.turn++
		}
	}
	slices.SortFunc(c, func(a, b MeterEntry) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.turn, b.turn), cmp.Compare(a.Shows, b.Shows), cmp.Compare(a.Root, b.Root))
	})
}

// enteredAs sorts roots by when they were entered.
func enteredAs(root int64) int64 {
	if root == 0 {
		return math.MaxInt64
	}
	return root
}

// reckon sorts the entries and makes their offsets and hours anew from what
// the meters showed.
func (c meterChain) reckon() {
	c.sort()
	var offset wear.Hours
	for i := range c {
		m := &c[i]
		if m.Replaced() {
			offset += m.Stood - m.Shows
		}
		m.Offset, m.Hours = offset, m.Shows+offset
	}
}

// entry finds the entry in force for a root, nil where there is none.
func (c meterChain) entry(root int64) *MeterEntry {
	i := slices.IndexFunc(c, func(m MeterEntry) bool { return m.Root == root })
	if i < 0 {
		return nil
	}
	return &c[i]
}

// with is the chain with one more entry.
func (c meterChain) with(m MeterEntry) meterChain {
	c = append(slices.Clone(c), m)
	c.sort()
	return c
}

// meters are the meters that the engine had on a day, the latest first, each
// as a reading without its number.
func (c meterChain) meters(engine int64, day wear.Day) []MeterEntry {
	m := MeterEntry{Engine: engine, Day: day, Kind: MeterRead}
	var all []MeterEntry
	for _, x := range c {
		if x.Day > day {
			break
		}
		if x.Day == day && x.Replaced() {
			m.AheadOf = x.Root
			all = append(all, m)
		}
		m.Offset = x.Offset
	}
	m.AheadOf = 0
	all = append(all, m)
	slices.Reverse(all)
	return all
}

// same finds the entry that says the same of the same meter as m, which is not
// yet in the book; nil where there is none.
func (c meterChain) same(m MeterEntry) *MeterEntry {
	turn := c.entry(m.Root).turn
	i := slices.IndexFunc(c, func(x MeterEntry) bool {
		return x.Root != m.Root && x.Day == m.Day && x.Shows == m.Shows && (x.turn == turn || x.turn == turn-1)
	})
	if i < 0 {
		return nil
	}
	return &c[i]
}

// misfit are two entries, one after the other, that cannot both be right.
type misfit struct{ first, then MeterEntry }

func (x misfit) roots() [2]int64 { return [2]int64{x.first.Root, x.then.Root} }

// misfits are the entries at which hours run backwards, or by more than a
// calendar has room for: 24 a day, both days counted.
func (c meterChain) misfits() ([]misfit, error) {
	var all []misfit
	for i := 1; i < len(c); i++ {
		x := misfit{c[i-1], c[i]}
		days, err := daysOf(x.first.Day, x.then.Day)
		if err != nil {
			return nil, fmt.Errorf("compare meter entries: %w", err)
		}
		if ran := x.then.Hours - x.first.Hours; ran < 0 || ran > wear.Hours(days)*2400 {
			all = append(all, x)
		}
	}
	return all, nil
}

// refusal says what does not fit in a chain in which the entry with a root is
// new or corrected; was is the chain before. What did not fit before, and has
// nothing to do with that entry, is left for a correction of its own.
func (c meterChain) refusal(was meterChain, root int64) error {
	known, err := was.misfits()
	if err != nil {
		return err
	}
	found, err := c.misfits()
	if err != nil {
		return err
	}
	for _, x := range found {
		if x.first.Root == root || x.then.Root == root || !slices.ContainsFunc(known, func(k misfit) bool { return k.roots() == x.roots() }) {
			return x.refusal(root)
		}
	}
	return nil
}

// refusal names the two entries to who gave the one with a root.
func (x misfit) refusal(root int64) Invalid {
	mine, other, words := x.then, x.first, "less than"
	if x.first.Root == root {
		mine, other, words = x.first, x.then, "more than"
	}
	ran, field := x.then.Hours-x.first.Hours, "hours"
	if mine.Root == root && mine.Replaced() {
		field = "stood"
	}
	var message string
	switch {
	case mine.Root == root && ran < 0:
		message = fmt.Sprintf("hours may not run backwards: %s is %s %s. If that entry is wrong, correct it; if the meter was replaced or reset, enter that first", mine.named(), words, other.named())
	case mine.Root == root:
		message = fmt.Sprintf("%s and %s are %s h apart, more than 24 a day: look at the decimal point and the day. If the other entry is wrong, correct it; if the meter was replaced or reset, enter that first", mine.named(), other.named(), ran)
	case ran < 0:
		message = fmt.Sprintf("with that, hours would run backwards later: %s would be less than %s. If one of those entries is wrong, correct it first", mine.named(), other.named())
	default:
		message = fmt.Sprintf("with that, %s and %s would be %s h apart, more than 24 a day. If one of those entries is wrong, correct it first", other.named(), mine.named(), ran)
	}
	return Invalid{{Field: field, Message: message, Href: fmt.Sprintf("/engines/%d/meter/%d/correct", other.Engine, other.Root)}}
}

// named is an entry as messages speak of it.
func (m MeterEntry) named() string {
	total, at := "", "on"
	if m.Offset != 0 {
		total = " in total"
	}
	if m.Replaced() {
		at = "at the replacement on"
	}
	return fmt.Sprintf("%s h%s %s %s", m.Hours, total, at, m.Day)
}

// daysOf counts the days from first to last, both among them.
func daysOf(first, last wear.Day) (int64, error) {
	from, err := time.Parse(time.DateOnly, string(first))
	if err != nil {
		return 0, fmt.Errorf("read day: %w", err)
	}
	to, err := time.Parse(time.DateOnly, string(last))
	if err != nil {
		return 0, fmt.Errorf("read day: %w", err)
	}
	return int64(to.Sub(from)/(24*time.Hour)) + 1, nil
}
