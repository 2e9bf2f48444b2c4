package store

import (
	"context"
	"testing"

	"barrelbook/wear"
)

// TestWider: barrels of two surfaces, and of two models, are compared apart
// until the shop widens the group, and apart again when it takes that back.
func TestWider(t *testing.T) {
	b, ctx := open(t), context.Background()
	wornFleet(t, b, 3)
	refs := func() int { return judged(t, b, "C-1-1").Refs }
	bore := feature(t, b, wear.Cylinder, "barrel bore").ID
	for _, serial := range []string{"C-2-1", "C-2-2", "C-2-3", "C-2-4"} {
		p := must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, serial))[0]
		p.Surface = "nitrided"
		ok(t, b.SavePart(ctx, p))
	}
	must[int](t)(b.Refresh(ctx))
	touch := func() {
		if _, err := b.write.Exec("UPDATE peers SET stale = members + 1"); err != nil {
			t.Fatal(err)
		}
		must[int](t)(b.Refresh(ctx))
	}
	touch()
	apart := refs()
	if apart != 22 { // 27 less 4 and itself
		t.Fatalf("%d barrels of its own surface, want 22", apart)
	}
	ok(t, b.SaveWider(ctx, Wider{Feature: bore, Surfaces: true}))
	touch()
	if n := refs(); n != 26 {
		t.Errorf("widened: %d compared, want 26", n)
	}
	x := must[Explanation](t)(b.Explain(ctx, judged(t, b, "C-1-1").Series))
	if !x.Wider.Surfaces || x.Wider.Words() != "barrel surface" {
		t.Errorf("explained as %q", x.Wider.Words())
	}
	ok(t, b.SaveWider(ctx, Wider{Feature: bore}))
	touch()
	if n := refs(); n != 22 {
		t.Errorf("narrowed again: %d compared, want 22", n)
	}
	if err := b.SaveWider(ctx, Wider{Feature: 9999}); err == nil {
		t.Error("a feature that is not there")
	}
}

// TestFamily: models of one family share a group where the shop says so, and a
// model that leaves the family leaves the group.
func TestFamily(t *testing.T) {
	b, ctx := open(t), context.Background()
	wornFleet(t, b, 2)
	rows := twoBarrels()
	for i := range rows {
		rows[i].Model, rows[i].Engine, rows[i].Serial = "Invented 7", "S-1", "D-"+rows[i].Serial
	}
	if r := importRows(t, b, false, rows...); !r.OK() {
		t.Fatal(r.Errors)
	}
	bore := feature(t, b, wear.Cylinder, "barrel bore").ID
	ok(t, b.SaveWider(ctx, Wider{Feature: bore, Models: true}))
	groups := func() int {
		seen := map[int64]bool{}
		for _, g := range must[[]GroupSize](t)(b.GroupsOf(ctx, bore)) {
			seen[g.Group] = true
		}
		return len(seen)
	}
	if n := groups(); n != 2 {
		t.Errorf("%d groups without a family, want 2", n)
	}
	for _, m := range must[[]Model](t)(b.Models(ctx)) {
		m.Family = "one bore"
		ok(t, b.SaveModel(ctx, m))
	}
	if n := groups(); n != 1 {
		t.Errorf("%d groups in one family, want 1", n)
	}
	m := must[[]Model](t)(b.Models(ctx))[0]
	m.Family = ""
	ok(t, b.SaveModel(ctx, m))
	if n := groups(); n != 2 {
		t.Errorf("%d groups after one left, want 2", n)
	}
}
