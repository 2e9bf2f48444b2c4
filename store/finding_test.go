package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"testing"

	"barrelbook/wear"
)

// aFleet makes one nine-cylinder engine whose barrels wear about 0.0009 in in
// 600 h, save the one at position 9, which wears 0.0060 in.
func aFleet(t testing.TB, b *Book) (Engine, [9]int64) {
	t.Helper()
	e := addRadial(t, b, "R-1")
	var parts [9]int64
	for i := range parts {
		parts[i] = addFitted(t, b, Part{Kind: wear.Cylinder, Serial: fmt.Sprintf("C-%d", i+1)}, Place{Engine: e.ID, Position: i + 1})
		measure(t, b, e, i+1, parts[i], "2024-01-01", 0, "5.2500")
	}
	for i, p := range parts {
		measure(t, b, e, i+1, p, "2024-06-01", 30_000, []string{"5.2505", "5.2504", "5.2505", "5.2506", "5.2505", "5.2504", "5.2505", "5.2506", "5.2530"}[i])
	}
	for i, p := range parts {
		measure(t, b, e, i+1, p, "2025-01-01", 60_000, []string{"5.2509", "5.2508", "5.2510", "5.2511", "5.2509", "5.2508", "5.2509", "5.2511", "5.2560"}[i])
	}
	return e, parts
}

// TestAcknowledged: a finding that a person has seen rests until a later
// reading is worse.
func TestAcknowledged(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	fs := must[[]Finding](t)(b.FastWear(ctx))
	if len(fs) != 1 || fs[0].Part != parts[8] || !fs[0].Open() || !fs[0].Flagged() || fs[0].EngineNo != "R-1" || fs[0].Position != 9 {
		t.Fatalf("findings %+v", fs)
	}
	count := func() int {
		n, by, err := b.OpenFindings(ctx)
		ok(t, err)
		on := must[map[int64][]Finding](t)(b.OpenOn(ctx, []int64{e.ID}))
		if by[e.ID] != n || len(on[e.ID]) != n {
			t.Errorf("%d open findings, %d by engine, %d on the engine", n, by[e.ID], len(on[e.ID]))
		}
		return n
	}
	if count() != 1 {
		t.Errorf("%d open findings, want 1", count())
	}
	refusal(t, b.Acknowledge(ctx, fs[0].Series, "A. Smith", ""), "reason")
	ok(t, b.Acknowledge(ctx, fs[0].Series, " A. Smith ", "borescoped, nothing found; measured again in 50 h"))
	f := must[Finding](t)(b.Finding(ctx, fs[0].Series))
	if f.Open() || f.Seen.Who != "A. Smith" || f.Seen.Hours != 600 || count() != 0 {
		t.Errorf("acknowledged: open %t, seen %+v", f.Open(), f.Seen)
	}
	measure(t, b, e, 9, parts[8], "2025-03-01", 70_000, "5.2562") // slower than before: it rests
	if f = must[Finding](t)(b.Finding(ctx, fs[0].Series)); f.Ratio >= f.Seen.Amount || f.Open() {
		t.Errorf("not worse, %.2f after %.2f: open %t", f.Ratio, f.Seen.Amount, f.Open())
	}
	measure(t, b, e, 9, parts[8], "2025-06-01", 80_000, "5.2595")
	if f = must[Finding](t)(b.Finding(ctx, fs[0].Series)); f.Ratio <= f.Seen.Amount || !f.Open() || count() != 1 {
		t.Errorf("worse, %.2f after %.2f: open %t", f.Ratio, f.Seen.Amount, f.Open())
	}
	normal := must[[]Finding](t)(b.FindingsOf(ctx, parts[0]))
	refusal(t, b.Acknowledge(ctx, normal[0].Series, "", "looks fine"), "reason", "no finding")
	if err := b.Acknowledge(ctx, 999, "", "what"); !errors.Is(err, ErrNotFound) {
		t.Errorf("a finding that is not there: %v", err)
	}
}

// TestBeyondAcknowledged: so does a part beyond its limit that does not wear
// fast; it comes back when it grows further.
func TestBeyondAcknowledged(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1", Source: "serviceable used"}, Place{Engine: e.ID, Position: 1})
	measure(t, b, e, 1, part, "2024-06-01", 10_000, "5.2620")
	fs := must[[]Finding](t)(b.BeyondLimit(ctx))
	if len(fs) != 1 || fs[0].Part != part || !fs[0].Open() || fs[0].Flagged() {
		t.Fatalf("beyond its limit: %+v", fs)
	}
	ok(t, b.Acknowledge(ctx, fs[0].Series, "", "runs until the end of the month"))
	for _, c := range []struct {
		day  wear.Day
		h    wear.Hours
		bore string
		open bool
	}{{"2024-07-01", 11_000, "5.2620", false}, {"2024-08-01", 12_000, "5.2625", true}} {
		measure(t, b, e, 1, part, c.day, c.h, c.bore)
		if fs = must[[]Finding](t)(b.BeyondLimit(ctx)); len(fs) != 1 || fs[0].Open() != c.open {
			t.Errorf("at %s in: %+v, want open %t", c.bore, fs, c.open)
		}
	}
	ok(t, b.Remove(ctx, part, "2024-09-01", 12_500, "beyond its limit", true))
	if fs = must[[]Finding](t)(b.BeyondLimit(ctx)); len(fs) != 0 {
		t.Errorf("a scrapped part still asks for somebody: %+v", fs)
	}
}

// TestSettingsJudgeAnew: other flag levels judge the whole book by them.
func TestSettingsJudgeAnew(t *testing.T) {
	b, ctx := open(t), context.Background()
	aFleet(t, b)
	set := must[Settings](t)(b.Settings(ctx))
	flagged := func() int { return len(must[[]Finding](t)(b.FastWear(ctx))) }
	set.FlagRatio = 50
	ok(t, b.SaveSettings(ctx, set))
	if n := must[int](t)(b.Refresh(ctx)); n != 1 || flagged() != 0 {
		t.Errorf("above 50 times normal: %d groups judged, %d flagged; want 1 and none", n, flagged())
	}
	if n := must[int](t)(b.Refresh(ctx)); n != 0 {
		t.Errorf("nothing changed and %d groups were judged", n)
	}
	set.FlagRatio, set.FalseMost, set.Shop = 1.5, 0.05, "A shop"
	ok(t, b.SaveSettings(ctx, set))
	must[int](t)(b.Refresh(ctx))
	if flagged() != 1 {
		t.Errorf("%d flagged, want 1 again", flagged())
	}
	set.Shop = "Another name"
	ok(t, b.SaveSettings(ctx, set))
	if n := must[int](t)(b.Refresh(ctx)); n != 0 {
		t.Errorf("another name for the shop judged %d groups anew", n)
	}
	if again := must[Settings](t)(b.Settings(ctx)); again.Shop != set.Shop || again.FlagRatio != set.FlagRatio || again.FlagP != set.FlagP || again.NextIn != set.NextIn || again.Unit.Name != set.Unit.Name || again.EngineP != set.EngineP || again.FalseMost != 0.05 || !maps.Equal(again.Expansion, set.Expansion) {
		t.Errorf("saved %+v, read %+v", set, again)
	}
}

func TestSettingsRefusals(t *testing.T) {
	b, ctx := open(t), context.Background()
	for field, change := range map[string]func(s *Settings){
		"unit":           func(s *Settings) { s.Unit = wear.Gram },
		"flag_chance":    func(s *Settings) { s.FlagP = 0 },
		"flag_ratio":     func(s *Settings) { s.FlagRatio = 0.9 },
		"next_in":        func(s *Settings) { s.NextIn = 0 },
		"engine_chance":  func(s *Settings) { s.EngineP = 0.7 },
		"false_share":    func(s *Settings) { s.FalseMost = 0 },
		"expansion_ring": func(s *Settings) { s.Expansion[wear.Ring] = -1 },
	} {
		set := must[Settings](t)(b.Settings(ctx))
		change(&set)
		refusal(t, b.SaveSettings(ctx, set), field)
	}
	set := must[Settings](t)(b.Settings(ctx))
	set.FlagP, set.FlagRatio = nan(), nan()
	refusal(t, b.SaveSettings(ctx, set), "flag_chance")
}

func nan() float64 { zero := 0.0; return zero / zero }

// TestExplain: the explanation of a judgement is the judgement that stands in
// the book, with those it was compared with.
func TestExplain(t *testing.T) {
	b, ctx := open(t), context.Background()
	_, parts := aFleet(t, b)
	f := must[[]Finding](t)(b.FindingsOf(ctx, parts[8]))[0]
	x := must[Explanation](t)(b.Explain(ctx, f.Series))
	if !near(x.Judgement.P, f.Chance, 1e-6) || !near(x.Judgement.Ratio, f.Ratio, 1e-6) || x.Judgement.ReferenceRuns != f.Refs {
		t.Errorf("explained as p %g, ratio %g, %d runs; the book says p %g, ratio %g, %d runs", x.Judgement.P, x.Judgement.Ratio, x.Judgement.ReferenceRuns, f.Chance, f.Ratio, f.Refs)
	}
	if len(x.Peers) != 8 || x.MorePeers != 0 || len(x.Points) != 3 {
		t.Errorf("%d peers and %d more, %d points", len(x.Peers), x.MorePeers, len(x.Points))
	}
	for _, p := range x.Peers {
		if p.Part == parts[8] {
			t.Error("a part is compared with itself")
		}
	}
	if _, err := b.Explain(ctx, 999); !errors.Is(err, ErrNotFound) {
		t.Errorf("a series that is not there: %v", err)
	}
}

// near reports whether got lies within a share tol of want.
func near(got, want, tol float64) bool {
	d := got - want
	return d <= tol*max(want, -want) && -d <= tol*max(want, -want)
}

// TestFindingAsExplained: what a list says of a part is what "how this was
// worked out" says of it, for every run of a small group, also of those that a
// save left as they were.
func TestFindingAsExplained(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	for n := range 2 { // 27 runs, of which one sheet changes fewer than one in twenty
		other := addRadial(t, b, fmt.Sprintf("R-%d", n+2))
		for i := range 9 {
			part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: fmt.Sprintf("C-%d-%d", n+2, i+1)}, Place{Engine: other.ID, Position: i + 1})
			measure(t, b, other, i+1, part, "2024-01-01", 0, "5.2500")
			measure(t, b, other, i+1, part, "2024-09-01", 45_000, fmt.Sprintf("5.25%02d", 5+(n+i)%4))
		}
	}
	must[int](t)(b.Refresh(ctx))
	measure(t, b, e, 3, parts[2], "2025-06-01", 90_000, "5.2530")
	if n := must[int](t)(b.Refresh(ctx)); n != 1 {
		t.Errorf("%d groups judged anew after a sheet, want that of the barrels", n)
	}
	fs := must[[]Finding](t)(b.AllFindings(ctx, true))
	if len(fs) != 27 {
		t.Fatalf("%d runs, want 27", len(fs))
	}
	for _, f := range fs {
		x := must[Explanation](t)(b.Explain(ctx, f.Series)).Judgement
		// two fits of the same runs, which stop at slightly different places of a grid
		if x.State != f.State || math.Abs(x.Ratio/f.Ratio-1) > 0.001 || math.Abs(math.Log(x.P/f.Chance)) > 0.1 {
			t.Errorf("%s: %s, %g times, chance %g; explained: %s, %g times, chance %g", f.Serial, f.State, f.Ratio, f.Chance, x.State, x.Ratio, x.P)
		}
		if x.Forecast != nil && f.LeftMedian != nil && math.Abs(x.Forecast.Median / *f.LeftMedian - 1) > 0.05 {
			t.Errorf("%s: %g hours left; explained: %g", f.Serial, *f.LeftMedian, x.Forecast.Median)
		}
	}
}

// TestRenewedIsNotFlagged: a part that was flagged is not, once the run that was
// has ended, or its readings were withdrawn.
func TestRenewedIsNotFlagged(t *testing.T) {
	for name, renew := range map[string]func(b *Book, e Engine, part int64){
		"ground": func(b *Book, e Engine, part int64) {
			ctx := context.Background()
			ok(t, b.Remove(ctx, part, "2026-01-01", must[Engine](t)(b.Engine(ctx, e.ID)).Hours, "to be ground", false))
			ok(t, b.AddMark(ctx, part, wear.Mark{Event: wear.Ground, Day: "2026-01-02", Oversize: new(wear.Value(254_000))}, ""))
		},
		"withdrawn": func(b *Book, _ Engine, part int64) {
			ctx := context.Background()
			for _, r := range must[[]Reading](t)(b.ReadingsOf(ctx, part)) {
				ok(t, b.CorrectReading(ctx, r.ID, 0, "", "", "of another barrel"))
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			b, ctx := open(t), context.Background()
			e, parts := aFleet(t, b)
			if !must[Part](t)(b.Part(ctx, parts[8])).Flagged {
				t.Fatal("not flagged to begin with")
			}
			renew(b, e, parts[8])
			if n := len(must[[]Finding](t)(b.FastWear(ctx))); must[Part](t)(b.Part(ctx, parts[8])).Flagged || n != 0 {
				t.Errorf("still flagged, with %d findings", n)
			}
		})
	}
}
