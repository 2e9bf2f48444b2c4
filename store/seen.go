package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"barrelbook/wear"
)

// Seen is the latest acknowledgement of a finding that is not of one series;
// its reason is empty where there is none. Its amount is the ratio of an engine
// to the others, the force of a ring in base units, or a loss in percent.
type Seen struct {
	Acknowledgement
	Engine   int64 // where it was seen, 0 on the shelf
	Position int
	Heard    []wear.AirHeard
	Since    bool // a sheet of the engine was saved since; of a cylinder, it or its piston or a ring was fitted since
}

// seenThing is what a Seen is of.
type seenThing struct {
	what                  string
	engine, part, feature int64
	groove                int
}

const (
	seenEngine = "engine"
	seenRing   = "ring"
	seenLeak   = "leak"
)

// findSeenThings reads the latest acknowledgement of each thing of a sort;
// there are few.
func findSeenThings(ctx context.Context, q querier, what string) (map[seenThing]Seen, error) {
	seen := map[seenThing]Seen{}
	_, err := list(ctx, q, func(r scanner, _ *struct{}) error {
		k := seenThing{what: what}
		var s Seen
		var heard string
		if err := r.Scan(&s.Engine, &s.Position, &k.part, &k.feature, &k.groove, &s.Amount, &heard, &s.Who, &s.Reason, &s.SavedAt, &s.Since); err != nil {
			return err
		}
		if what == seenEngine {
			k.engine = s.Engine
		}
		for _, place := range splitList(heard) {
			s.Heard = append(s.Heard, wear.AirHeard(place))
		}
		seen[k] = s
		return nil
	}, `SELECT coalesce(a.engine_id, 0), a.position, coalesce(a.part_id, 0), coalesce(a.feature_id, 0), a.groove, a.amount, a.heard, a.who, a.reason, a.saved_at,
		CASE a.what WHEN 'engine' THEN EXISTS (SELECT 1 FROM sheet h WHERE h.engine_id = a.engine_id AND h.id > a.newest)
		WHEN 'leak' THEN EXISTS (SELECT 1 FROM stay s WHERE s.engine_id = a.engine_id AND s.position = a.position AND s.kind IN ('cylinder', 'piston', 'ring') AND s.void = '' AND s.saved_at > a.saved_at)
			OR EXISTS (SELECT 1 FROM job j JOIN job_entry x ON x.job_id = j.id WHERE j.engine_id = a.engine_id AND x.kind = 'refitted' AND x.position = a.position AND x.saved_at > a.saved_at
				AND NOT EXISTS (SELECT 1 FROM job_entry u WHERE u.job_id = x.job_id AND u.undoes = x.id))
		ELSE 0 END FROM finding_seen a WHERE a.id IN (SELECT max(id) FROM finding_seen WHERE what = ? GROUP BY CASE what WHEN 'engine' THEN engine_id END, part_id, feature_id, groove)`, what)
	if err != nil {
		return nil, fmt.Errorf("list acknowledgements: %w", err)
	}
	return seen, nil
}

func (w EngineWear) thing() seenThing {
	return seenThing{what: seenEngine, engine: w.Engine, feature: w.Feature.ID, groove: w.Groove}
}

func (r HardRing) thing() seenThing {
	return seenThing{what: seenRing, part: r.Part, feature: r.Feature.ID}
}

func (r LeakReading) thing() seenThing { return seenThing{what: seenLeak, part: r.Part} }

// Open reports whether the engine still asks for somebody: nobody acknowledged
// what it shows, or it is further from the others by a sheet that was saved
// since.
func (w EngineWear) Open() bool {
	return w.State == wear.Flagged && (w.Seen.Reason == "" || w.Seen.Since && w.Ratio > w.Seen.Amount)
}

// Open reports whether the ring still asks for somebody: nobody acknowledged
// it, it was read harder since, or it sits on an engine now where it was not seen.
func (r HardRing) Open() bool {
	s := r.Seen
	return s.Reason == "" || float64(r.Value) > s.Amount || r.Engine != 0 && (r.Engine != s.Engine || r.Position != s.Position)
}

// OpenAt reports whether a test that is beyond its rule by such a loss, percent,
// still asks for somebody: nobody acknowledged one of the cylinder, or it loses
// more, air is heard at another place, or something was fitted since.
func (r LeakReading) OpenAt(loss float64) bool {
	s := r.Seen
	elsewhere := slices.ContainsFunc(r.Heard, func(a wear.AirHeard) bool { return !slices.Contains(s.Heard, a) })
	return s.Reason == "" || s.Since || loss > s.Amount || elsewhere
}

// AcknowledgeEngine notes that a person has seen what an engine shows as a
// whole, and why it can wait.
func (b *Book) AcknowledgeEngine(ctx context.Context, w EngineWear, who, reason string) error {
	return b.acknowledge(ctx, w.thing(), Seen{Engine: w.Engine, Acknowledgement: Acknowledgement{Amount: w.Ratio, Who: who, Reason: reason}})
}

// AcknowledgeRing notes that a person has seen that a ring presses too hard,
// and why it may.
func (b *Book) AcknowledgeRing(ctx context.Context, r HardRing, who, reason string) error {
	return b.acknowledge(ctx, r.thing(), Seen{Engine: r.Engine, Position: r.Position, Acknowledgement: Acknowledgement{Amount: float64(r.Value), Who: who, Reason: reason}})
}

// AcknowledgeLeak notes that a person has seen a leak test with a loss, percent,
// beyond its rule, and why it can wait.
func (b *Book) AcknowledgeLeak(ctx context.Context, r LeakReading, loss float64, who, reason string) error {
	return b.acknowledge(ctx, r.thing(), Seen{Engine: r.Test.Engine, Position: r.Position, Heard: r.Heard, Acknowledgement: Acknowledgement{Amount: loss, Who: who, Reason: reason}})
}

func (b *Book) acknowledge(ctx context.Context, k seenThing, s Seen) error {
	if s.Reason = strings.TrimSpace(s.Reason); s.Reason == "" {
		return errNoReason
	}
	heard := make([]string, len(s.Heard))
	for i, place := range s.Heard {
		heard[i] = string(place)
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		_, err := t.insert(ctx, `INSERT INTO finding_seen (what, engine_id, position, part_id, feature_id, groove, amount, heard, newest, who, reason, saved_at)
			VALUES (?, nullif(?, 0), ?, nullif(?, 0), nullif(?, 0), ?, ?, ?, coalesce((SELECT max(id) FROM sheet WHERE engine_id = ?), 0), ?, ?, ?)`,
			k.what, s.Engine, s.Position, k.part, k.feature, k.groove, s.Amount, strings.Join(heard, ","), k.engine, strings.TrimSpace(s.Who), s.Reason, t.at)
		if err != nil {
			return fmt.Errorf("acknowledge finding: %w", err)
		}
		return nil
	})
}
