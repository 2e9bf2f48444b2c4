package store

import (
	"context"
	"fmt"
	"strings"
)

// Wider says which differences a shop does not mind when the runs of a feature
// are compared with each other: it widens the group. The zero value minds them
// all.
type Wider struct {
	Feature  int64
	Models   bool // of one family
	Surfaces bool // of barrels
	Facings  bool // of rings
	Grooves  bool
}

// Words says in what the runs compared may differ; "" where they may not.
func (w Wider) Words() string {
	var what []string
	for _, x := range []struct {
		set  bool
		word string
	}{{w.Models, "engine model, within one family"}, {w.Surfaces, "barrel surface"}, {w.Facings, "ring facing"}, {w.Grooves, "groove"}} {
		if x.set {
			what = append(what, x.word)
		}
	}
	return strings.Join(what, ", ")
}

// key is the group that a run belongs to; family is the model that stands for
// those of its family.
func (w Wider) key(k peersKey, family int64) peersKey {
	if w.Models {
		k.model = family
	}
	if w.Surfaces {
		k.surface = ""
	}
	if w.Facings {
		k.facing = ""
	}
	if w.Grooves {
		k.groove = 0
	}
	return k
}

// WiderOf reads how a feature's groups are widened.
func (b *Book) WiderOf(ctx context.Context, feature int64) (Wider, error) {
	all, err := findWider(ctx, b.read)
	w := all[feature]
	w.Feature = feature
	return w, err
}

func findWider(ctx context.Context, q querier) (map[int64]Wider, error) {
	ws, err := list(ctx, q, func(r scanner, w *Wider) error {
		return r.Scan(&w.Feature, &w.Models, &w.Surfaces, &w.Facings, &w.Grooves)
	}, "SELECT feature_id, models, surfaces, facings, grooves FROM wider")
	if err != nil {
		return nil, fmt.Errorf("read widened groups: %w", err)
	}
	all := make(map[int64]Wider, len(ws))
	for _, w := range ws {
		all[w.Feature] = w
	}
	return all, nil
}

// findFamilies maps each model to the one that stands for its family.
func findFamilies(ctx context.Context, q querier) (map[int64]int64, error) {
	type pair struct{ model, lead int64 }
	ps, err := list(ctx, q, func(r scanner, p *pair) error { return r.Scan(&p.model, &p.lead) },
		"SELECT m.id, CASE m.family WHEN '' THEN m.id ELSE (SELECT min(n.id) FROM model n WHERE n.family = m.family) END FROM model m")
	if err != nil {
		return nil, fmt.Errorf("read families: %w", err)
	}
	all := make(map[int64]int64, len(ps))
	for _, p := range ps {
		all[p.model] = p.lead
	}
	return all, nil
}

// SaveWider widens or narrows the groups of a feature: its runs find their
// groups anew, and are judged by Refresh where they are many.
func (b *Book) SaveWider(ctx context.Context, w Wider) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		x, err := findFeatureIndex(ctx, t)
		if err != nil {
			return err
		}
		if x.byID[w.Feature] == nil {
			return fmt.Errorf("find feature: %w", ErrNotFound)
		}
		_, err = t.ExecContext(ctx, `INSERT INTO wider (feature_id, models, surfaces, facings, grooves, saved_at) VALUES (?, ?, ?, ?, ?, ?)
			ON CONFLICT (feature_id) DO UPDATE SET models = excluded.models, surfaces = excluded.surfaces, facings = excluded.facings, grooves = excluded.grooves, saved_at = excluded.saved_at`,
			w.Feature, w.Models, w.Surfaces, w.Facings, w.Grooves, t.at)
		if err != nil {
			return fmt.Errorf("widen groups: %w", err)
		}
		return touchMeasured(ctx, t, "feature_id = ?", w.Feature)
	})
}

// touchMeasured touches the parts whose series match.
func touchMeasured(ctx context.Context, t *tx, where string, args ...any) error {
	parts, err := list(ctx, t, func(r scanner, id *int64) error { return r.Scan(id) }, "SELECT DISTINCT part_id FROM series WHERE "+where, args...)
	if err != nil {
		return fmt.Errorf("list measured parts: %w", err)
	}
	t.touch(parts...)
	return nil
}

// GroupsOf lists what the groups of a feature hold: how many runs of which
// model, surface and facing, the largest first.
func (b *Book) GroupsOf(ctx context.Context, feature int64) ([]GroupSize, error) {
	gs, err := list(ctx, b.read, func(r scanner, g *GroupSize) error {
		return r.Scan(&g.Group, &g.Model, &g.Groove, &g.Station, &g.Surface, &g.Facing, &g.Runs)
	}, `SELECT s.peers_id, coalesce(m.name, ''), CASE p.kind WHEN 'ring' THEN p.groove ELSE s.groove END, s.station, p.surface, p.facing, count(*)
		FROM series s JOIN part p ON p.id = s.part_id LEFT JOIN model m ON m.id = p.model_id WHERE s.feature_id = ?
		GROUP BY 1, 2, 3, 4, 5, 6 ORDER BY s.peers_id, 7 DESC LIMIT 200`, feature)
	if err != nil {
		return nil, fmt.Errorf("list groups: %w", err)
	}
	return gs, nil
}

// GroupSize is some runs of a group that are alike.
type GroupSize struct {
	Group           int64
	Model           string
	Groove          int
	Station         string
	Surface, Facing string
	Runs            int
}
