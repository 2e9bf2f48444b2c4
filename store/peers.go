package store

import (
	"bytes"
	"context"
	"fmt"
)

// peersKey says which runs should wear alike: same feature (and so kind),
// engine model, groove, station, barrel surface and ring facing.
type peersKey struct {
	feature int64
	model   int64
	groove  int
	station string
	surface string
	facing  string
}

// ensurePeers finds the group of a key, making it where it is new.
func (s *summary) ensurePeers(ctx context.Context, t *tx, k peersKey) (int64, error) {
	if id, ok := s.peers[k]; ok {
		return id, nil
	}
	ids, err := list(ctx, t, func(r scanner, id *int64) error { return r.Scan(id) },
		"SELECT id FROM peers WHERE feature_id = ? AND model_id = ? AND groove = ? AND station = ? AND surface = ? AND facing = ?",
		k.feature, k.model, k.groove, k.station, k.surface, k.facing)
	if err != nil {
		return 0, fmt.Errorf("find peers: %w", err)
	}
	if len(ids) == 0 {
		id, err := t.insert(ctx, "INSERT INTO peers (feature_id, model_id, groove, station, surface, facing) VALUES (?, ?, ?, ?, ?, ?)",
			k.feature, k.model, k.groove, k.station, k.surface, k.facing)
		if err != nil {
			return 0, fmt.Errorf("add peers: %w", err)
		}
		ids = []int64{id}
	}
	s.peers[k] = ids[0]
	return ids[0], nil
}

// stored is what the book already has of a series, to see whether it changed.
type stored struct {
	id     int64
	part   int64
	key    seriesKey
	run    int
	peers  int64
	points []byte
}

// findStored reads what the book has of the series of parts.
func findStored(ctx context.Context, t *tx, parts []int64) (map[int64][]stored, error) {
	all, err := list(ctx, t, func(r scanner, d *stored) error {
		return r.Scan(&d.id, &d.part, &d.key.feature, &d.key.groove, &d.key.station, &d.run, &d.peers, &d.points)
	}, "SELECT id, part_id, feature_id, groove, station, run, peers_id, points FROM series WHERE part_id IN (SELECT value FROM json_each(?))", jsonList(parts))
	if err != nil {
		return nil, fmt.Errorf("read series: %w", err)
	}
	byPart := map[int64][]stored{}
	for _, d := range all {
		byPart[d.part] = append(byPart[d.part], d)
	}
	return byPart, nil
}

// replace brings the stored series of a part in line with rows, and notes
// which groups have changed members.
func (s *summary) replace(ctx context.Context, t *tx, part int64, rows []seriesRow, old []stored) error {
	type runKey struct {
		seriesKey
		run int
	}
	had := make(map[runKey]stored, len(old))
	for _, o := range old {
		had[runKey{o.key, o.run}] = o
	}
	for _, r := range rows {
		peers, err := s.ensurePeers(ctx, t, r.peers)
		if err != nil {
			return err
		}
		k := runKey{r.key, r.run}
		o, known := had[k]
		delete(had, k)
		points := encodePoints(r.points)
		id := o.id
		if known && o.peers == peers {
			err = r.update(ctx, t, id, points, !bytes.Equal(points, o.points))
		} else {
			if known {
				if err := s.drop(ctx, t, o); err != nil {
					return err
				}
			}
			id, err = r.insert(ctx, t, part, peers, points)
		}
		if err != nil {
			return err
		}
		s.changed[peers] = append(s.changed[peers], id)
	}
	for _, gone := range had {
		if err := s.drop(ctx, t, gone); err != nil {
			return err
		}
	}
	return nil
}

func (s *summary) drop(ctx context.Context, t *tx, o stored) error {
	if _, err := t.ExecContext(ctx, "DELETE FROM series WHERE id = ?", o.id); err != nil {
		return fmt.Errorf("drop series: %w", err)
	}
	// what it put into the fit is still there: have the group judged anew
	if _, err := t.ExecContext(ctx, "UPDATE peers SET stale = stale + members + 1 WHERE id = ?", o.peers); err != nil {
		return fmt.Errorf("mark peers: %w", err)
	}
	s.changed[o.peers] = append(s.changed[o.peers], o.id)
	return nil
}

func (r seriesRow) insert(ctx context.Context, t *tx, part, peers int64, points []byte) (int64, error) {
	id, err := t.insert(ctx, `INSERT INTO series (part_id, feature_id, groove, station, run, peers_id, current, start_event, start_day, start_hours, oversize, points, assumed, allowance, bound, life, last_day, last_value, carried, verdict, plain, room, edge)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		append([]any{part, r.key.feature, r.key.groove, r.key.station, r.run, peers}, r.columns(points)...)...)
	if err != nil {
		return 0, fmt.Errorf("add series: %w", err)
	}
	return id, nil
}

func (r seriesRow) columns(points []byte) []any {
	assumed := len(r.points) > 0 && r.points[0].Assumed
	return []any{r.current, r.start.Event, r.start.Day, r.start.At, r.oversize, points, assumed, r.allowance, r.bound, r.life, r.lastDay, r.lastValue, r.carried, r.judged.Verdict, r.judged.Plain, r.judged.Room, r.judged.Edge}
}

func (r seriesRow) update(ctx context.Context, t *tx, id int64, points []byte, changed bool) error {
	s, err := t.prepared(ctx, `UPDATE series SET current = ?, start_event = ?, start_day = ?, start_hours = ?, oversize = ?, points = ?, assumed = ?, allowance = ?, bound = ?, life = ?,
		last_day = ?, last_value = ?, carried = ?, verdict = ?, plain = ?, room = ?, edge = ?, outdated = 0, rev = rev + ? WHERE id = ?`)
	if err != nil {
		return err
	}
	if _, err := s.ExecContext(ctx, append(r.columns(points), changed, id)...); err != nil {
		return fmt.Errorf("update series: %w", err)
	}
	return nil
}
