package store

import (
	"context"
	"fmt"
	"strings"
	"time"

	"barrelbook/wear"
)

// MeterEntry is what an engine's meter showed on a day. Hours is the engine's
// total: what the meter shows and the offset together.
type MeterEntry struct {
	ID, Root, Engine int64
	Day              wear.Day
	Shows, Offset    wear.Hours
	Hours            wear.Hours
	Kind             string // reading or replaced
	Reason           string
	SavedAt          string
	Struck           bool // a later correction replaced it
}

func scanMeter(r scanner, m *MeterEntry) error {
	err := r.Scan(&m.ID, &m.Root, &m.Engine, &m.Day, &m.Shows, &m.Offset, &m.Kind, &m.Reason, &m.SavedAt)
	m.Hours = m.Shows + m.Offset
	return err
}

const meterColumns = "id, root, engine_id, day, shows, offset, kind, reason, saved_at"

// Meter lists every entry of an engine's meter, newest first, corrected ones
// struck.
func (b *Book) Meter(ctx context.Context, engine int64) ([]MeterEntry, error) {
	ms, err := list(ctx, b.read, func(r scanner, m *MeterEntry) error {
		var struck bool
		err := r.Scan(&m.ID, &m.Root, &m.Engine, &m.Day, &m.Shows, &m.Offset, &m.Kind, &m.Reason, &m.SavedAt, &struck)
		m.Hours, m.Struck = m.Shows+m.Offset, struck
		return err
	}, "SELECT "+meterColumns+`, EXISTS (SELECT 1 FROM meter n WHERE n.root = meter.root AND n.id > meter.id)
		FROM meter WHERE engine_id = ? ORDER BY day DESC, shows + offset DESC, id DESC`, engine)
	if err != nil {
		return nil, fmt.Errorf("list meter entries: %w", err)
	}
	return ms, nil
}

// MeterEntry finds the entry in force for a root.
func (b *Book) MeterEntry(ctx context.Context, root int64) (MeterEntry, error) {
	return findMeter(ctx, b.read, root)
}

func findMeter(ctx context.Context, q querier, root int64) (MeterEntry, error) {
	m, err := one(ctx, q, scanMeter, "SELECT "+meterColumns+" FROM meter_now WHERE root = ?", root)
	if err != nil {
		return m, fmt.Errorf("find meter entry: %w", err)
	}
	return m, nil
}

// AddMeter records what an engine's meter showed.
func (b *Book) AddMeter(ctx context.Context, engine int64, day wear.Day, shows wear.Hours) (root int64, err error) {
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		root, err = addMeter(ctx, t, engine, day, shows)
		return err
	})
	return root, err
}

// offsetOn is the offset in force on an engine on a day.
func offsetOn(ctx context.Context, q querier, engine int64, day wear.Day) (wear.Hours, error) {
	offsets, err := list(ctx, q, func(r scanner, h *wear.Hours) error { return r.Scan(h) },
		"SELECT offset FROM meter_now WHERE engine_id = ? AND day <= ? ORDER BY day DESC, hours DESC, id DESC LIMIT 1", engine, day)
	if err != nil {
		return 0, fmt.Errorf("read meter offset: %w", err)
	}
	if len(offsets) == 0 {
		return 0, nil
	}
	return offsets[0], nil
}

// addMeter records a meter reading, or finds the entry that says the same,
// and returns its root.
func addMeter(ctx context.Context, t *tx, engine int64, day wear.Day, shows wear.Hours) (int64, error) {
	offset, err := offsetOn(ctx, t, engine, day)
	if err != nil {
		return 0, err
	}
	same, err := list(ctx, t, func(r scanner, id *int64) error { return r.Scan(id) },
		"SELECT root FROM meter_now WHERE engine_id = ? AND day = ? AND hours = ? ORDER BY root LIMIT 1", engine, day, shows+offset)
	if err != nil {
		return 0, fmt.Errorf("find meter entry: %w", err)
	}
	if len(same) > 0 {
		return same[0], nil
	}
	if err := checkOrder(ctx, t, engine, day, shows+offset, 0); err != nil {
		return 0, err
	}
	return insertMeter(ctx, t, MeterEntry{Engine: engine, Day: day, Shows: shows, Offset: offset, Kind: "reading"})
}

func insertMeter(ctx context.Context, t *tx, m MeterEntry) (int64, error) {
	id, err := t.insert(ctx, `INSERT INTO meter (root, engine_id, day, shows, offset, kind, reason, saved_at)
		VALUES (CASE WHEN ?1 = 0 THEN (SELECT coalesce(max(id), 0) + 1 FROM meter) ELSE ?1 END, ?2, ?3, ?4, ?5, ?6, ?7, ?8)`,
		m.Root, m.Engine, m.Day, m.Shows, m.Offset, m.Kind, m.Reason, t.at)
	if err != nil {
		return 0, fmt.Errorf("add meter entry: %w", err)
	}
	if m.Root != 0 {
		return m.Root, nil
	}
	return id, nil
}

// checkOrder refuses engine hours that would run backwards against the other
// entries; root is left out of the comparison.
func checkOrder(ctx context.Context, t *tx, engine int64, day wear.Day, hours wear.Hours, root int64) error {
	describe := func(query, words string) error {
		found, err := list(ctx, t, scanMeter, query, engine, day, hours, root)
		if err != nil {
			return fmt.Errorf("compare meter entries: %w", err)
		}
		if len(found) == 0 {
			return nil
		}
		m := found[0]
		return Invalid{{Field: "hours", Href: fmt.Sprintf("/engines/%d/meter/%d/correct", engine, m.Root),
			Message: fmt.Sprintf("hours may not run backwards: %s h on %s is %s %s h on %s. If that earlier entry is wrong, correct it; if the meter was replaced or reset, enter that first",
				hours, day, words, m.Hours, m.Day)}}
	}
	before := "SELECT " + meterColumns + " FROM meter_now WHERE engine_id = ?1 AND day <= ?2 AND hours > ?3 AND root <> ?4 ORDER BY hours DESC LIMIT 1"
	if err := describe(before, "less than"); err != nil {
		return err
	}
	after := "SELECT " + meterColumns + " FROM meter_now WHERE engine_id = ?1 AND day > ?2 AND hours < ?3 AND root <> ?4 ORDER BY hours LIMIT 1"
	if err := describe(after, "more than"); err != nil {
		return err
	}
	return checkPace(ctx, t, engine, day, hours, root)
}

// checkPace refuses engine hours that no calendar has room for: more than 24
// a day, both days counted, since the entry before or until the one after.
func checkPace(ctx context.Context, t *tx, engine int64, day wear.Day, hours wear.Hours, root int64) error {
	near, err := list(ctx, t, scanMeter, "SELECT * FROM (SELECT "+meterColumns+` FROM meter_now WHERE engine_id = ?1 AND day <= ?2 AND hours <= ?3 AND root <> ?4 ORDER BY day DESC, hours DESC LIMIT 1)
		UNION ALL SELECT * FROM (SELECT `+meterColumns+" FROM meter_now WHERE engine_id = ?1 AND day > ?2 AND root <> ?4 ORDER BY day, hours LIMIT 1)", engine, day, hours, root)
	if err != nil {
		return fmt.Errorf("compare meter entries: %w", err)
	}
	for _, m := range near {
		ran, first, last := hours-m.Hours, m.Day, day
		if m.Day > day {
			ran, first, last = -ran, day, m.Day
		}
		days, err := daysOf(first, last)
		if err != nil {
			return fmt.Errorf("compare meter entries: %w", err)
		}
		if ran > wear.Hours(days)*2400 {
			return Invalid{{Field: "hours", Href: fmt.Sprintf("/engines/%d/meter/%d/correct", engine, m.Root),
				Message: fmt.Sprintf("%s h on %s and %s h on %s are %s h apart, more than 24 a day: look at the decimal point and the day. If the other entry is wrong, correct it; if the meter was replaced or reset, enter that first",
					hours, day, m.Hours, m.Day, ran)}}
		}
	}
	return nil
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

// ReplaceMeter records a new or reset meter: the old one stood at oldShows,
// the new one starts at newShows. The difference becomes the offset.
func (b *Book) ReplaceMeter(ctx context.Context, engine int64, day wear.Day, oldShows, newShows wear.Hours, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say why the meter was replaced or reset")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if _, err := addMeter(ctx, t, engine, day, oldShows); err != nil {
			return err
		}
		var later int
		if err := t.QueryRowContext(ctx, "SELECT count(*) FROM meter_now WHERE engine_id = ? AND day > ?", engine, day).Scan(&later); err != nil {
			return fmt.Errorf("count later entries: %w", err)
		}
		if later > 0 {
			return invalid("day", "there are %d meter entries after %s, and they were read from the old meter: enter the replacement in its order, or correct those", later, day)
		}
		offset, err := offsetOn(ctx, t, engine, day)
		if err != nil {
			return err
		}
		_, err = insertMeter(ctx, t, MeterEntry{Engine: engine, Day: day, Shows: newShows, Offset: oldShows + offset - newShows, Kind: "replaced", Reason: why})
		return err
	})
}

// CorrectMeter replaces a meter entry by a correction with a reason. Parts'
// hours follow. A correction of a replaced meter moves the offset of the
// entries after it too. Refused: hours that would run backwards, and hours
// that would take a part out before it went in.
func (b *Book) CorrectMeter(ctx context.Context, root int64, day wear.Day, shows wear.Hours, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return invalid("reason", "say why the entry is corrected")
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		old, err := findMeter(ctx, t, root)
		if err != nil {
			return err
		}
		fixed := old
		fixed.Day, fixed.Shows, fixed.Reason = day, shows, why
		if old.Kind == "replaced" {
			// the engine's hours at that moment stand; what the new meter showed was wrong
			fixed.Offset = old.Hours - shows
		}
		if err := checkOrder(ctx, t, old.Engine, day, fixed.Shows+fixed.Offset, root); err != nil {
			return err
		}
		if _, err := insertMeter(ctx, t, fixed); err != nil {
			return err
		}
		if fixed.Offset != old.Offset {
			if err := moveOffsets(ctx, t, old, fixed.Offset); err != nil {
				return err
			}
		}
		return recountEngine(ctx, t, old.Engine)
	})
}

// moveOffsets corrects the entries read from the same meter as from.
func moveOffsets(ctx context.Context, t *tx, from MeterEntry, offset wear.Hours) error {
	later, err := list(ctx, t, scanMeter, "SELECT "+meterColumns+" FROM meter_now WHERE engine_id = ? AND root <> ? AND day >= ? AND offset = ? ORDER BY day, hours",
		from.Engine, from.Root, from.Day, from.Offset)
	if err != nil {
		return fmt.Errorf("list later meter entries: %w", err)
	}
	for _, m := range later {
		m.Offset, m.Reason = offset, fmt.Sprintf("the meter's offset was corrected on %s", from.Day)
		if _, err := insertMeter(ctx, t, m); err != nil {
			return err
		}
	}
	return nil
}

// recountEngine checks every stay on an engine after its hours were
// corrected, and touches the parts that sat there or were measured there.
func recountEngine(ctx context.Context, t *tx, engine int64) error {
	stays, err := findStays(ctx, t, "s.engine_id = ? AND s.void = ''", engine)
	if err != nil {
		return err
	}
	for _, s := range stays {
		if !s.Open() && s.ToHours < s.FromHours {
			return invalid("hours", "%s %s at position %d would come off at %s h, before it went on at %s h", s.Kind, s.Serial, s.Position, s.ToHours, s.FromHours)
		}
		t.touch(s.Part)
	}
	return nil
}
