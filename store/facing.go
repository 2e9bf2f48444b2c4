package store

import (
	"context"
	"fmt"
	"strings"

	"barrelbook/wear"
)

// What an entry of the facing list can say. Withdrawn takes back the entry
// before it, so that the list says nothing of its pair.
const (
	FacingAllowed    = "allowed"
	FacingNotAllowed = "not allowed"
	FacingWithdrawn  = "withdrawn"
)

// FacingEntry is an entry of the shop's list of which ring facing may run on
// which bore surface.
type FacingEntry struct {
	ID              int64
	Facing, Surface string
	Says            string
	Document        string // where the shop has it from
	Reason          string // of an entry that replaces another
	SavedAt         string
	Struck          bool // a later entry for its pair replaced it
}

// pair is what an entry is about; names of the same pair may be written in
// more than one way.
func (e FacingEntry) pair() [2]string {
	return [2]string{wear.NormalName(e.Facing), wear.NormalName(e.Surface)}
}

// Facings lists every entry of the facing list, newest first, those that a
// later one replaced struck.
func (b *Book) Facings(ctx context.Context) ([]FacingEntry, error) { return findFacings(ctx, b.read) }

func findFacings(ctx context.Context, q querier) ([]FacingEntry, error) {
	es, err := list(ctx, q, func(r scanner, e *FacingEntry) error {
		return r.Scan(&e.ID, &e.Facing, &e.Surface, &e.Says, &e.Document, &e.Reason, &e.SavedAt)
	}, "SELECT id, facing, surface, says, document, reason, saved_at FROM facing_pair ORDER BY id DESC")
	if err != nil {
		return nil, fmt.Errorf("list facings: %w", err)
	}
	seen := map[[2]string]bool{}
	for i, e := range es {
		es[i].Struck = seen[e.pair()]
		seen[e.pair()] = true
	}
	return es, nil
}

// FacingRules are the entries in force, for package wear to judge by.
func (b *Book) FacingRules(ctx context.Context) (wear.FacingRules, error) {
	rules := wear.DefaultFacingRules()
	es, err := b.Facings(ctx)
	for _, e := range es {
		if !e.Struck && e.Says != FacingWithdrawn {
			rules.Pairs = append(rules.Pairs, wear.FacingPair{Facing: e.Facing, Surface: e.Surface, Allowed: e.Says == FacingAllowed, Document: e.Document})
		}
	}
	return rules, err
}

// AddFacing adds an entry. One for a pair that the list has replaces it, and
// needs a reason.
func (b *Book) AddFacing(ctx context.Context, e FacingEntry) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if err := checkFacing(ctx, t, e); err != nil {
			return err
		}
		_, err := t.insert(ctx, "INSERT INTO facing_pair (facing, surface, says, document, reason, saved_at) VALUES (?, ?, ?, ?, ?, ?)",
			strings.TrimSpace(e.Facing), strings.TrimSpace(e.Surface), e.Says, strings.TrimSpace(e.Document), strings.TrimSpace(e.Reason), t.at)
		if err != nil {
			return fmt.Errorf("add facing: %w", err)
		}
		return nil
	})
}

func checkFacing(ctx context.Context, q querier, e FacingEntry) error {
	var bad Invalid
	need := func(field, text, message string) {
		if strings.TrimSpace(text) == "" {
			bad = append(bad, FieldError{Field: field, Message: message})
		}
	}
	pair := e.pair()
	need("facing", pair[0], "name the ring's facing")
	need("surface", pair[1], "name the bore's surface")
	if e.Says != FacingAllowed && e.Says != FacingNotAllowed && e.Says != FacingWithdrawn {
		bad = append(bad, FieldError{Field: "says", Message: "say whether the pair is allowed"})
	}
	need("document", e.Document, "name the document it was taken from, so that an inspector can find it")
	known, err := findFacings(ctx, q)
	if err != nil {
		return err
	}
	var before *FacingEntry
	for i := range known {
		if !known[i].Struck && known[i].pair() == pair {
			before = &known[i]
		}
	}
	switch {
	case before != nil:
		need("reason", e.Reason, fmt.Sprintf("the list says %s of this pair since %.10s: say why that is replaced", before.Says, before.SavedAt))
	case e.Says == FacingWithdrawn:
		bad = append(bad, FieldError{Field: "says", Message: "the list has no entry for this pair to take back"})
	}
	return bad.orNil()
}

// RingFacings lists the facings that the book's rings have, as they were
// typed, at most 50.
func (b *Book) RingFacings(ctx context.Context) ([]string, error) {
	names, err := list(ctx, b.read, func(r scanner, name *string) error { return r.Scan(name) },
		"SELECT DISTINCT facing FROM part WHERE kind = 'ring' AND facing <> '' ORDER BY facing LIMIT 50")
	if err != nil {
		return nil, fmt.Errorf("list ring facings: %w", err)
	}
	return names, nil
}
