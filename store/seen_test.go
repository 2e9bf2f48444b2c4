package store

import (
	"context"
	"fmt"
	"testing"

	"barrelbook/wear"
)

// TestRingSeen: a ring that was seen rests until it is read harder, or is
// fitted.
func TestRingSeen(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	forceLimit(t, b, e.Model.ID, 0, "39.0", "48.0")
	ring := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Ring, Serial: "K-1", Source: "new", Groove: 1, ModelID: e.Model.ID}))
	pull(t, b, ring, "2026-02-01", "tangential force", "60.0")
	hard := func() HardRing {
		t.Helper()
		hs := must[[]HardRing](t)(b.HardRings(ctx))
		if len(hs) != 1 {
			t.Fatalf("%d rings press harder, want one", len(hs))
		}
		return hs[0]
	}
	if !hard().Open() {
		t.Error("nobody has seen it, and it is not open")
	}
	refusal(t, b.AcknowledgeRing(ctx, hard(), "A. Smith", " "), "reason")
	ok(t, b.AcknowledgeRing(ctx, hard(), " A. Smith ", "kept for another model"))
	if h := hard(); h.Open() || h.Seen.Who != "A. Smith" || h.Seen.Reason != "kept for another model" {
		t.Errorf("acknowledged: open %t, seen %+v", h.Open(), h.Seen)
	}
	for _, c := range []struct {
		day   wear.Day
		force string
		open  bool
	}{{"2026-03-01", "59.0", false}, {"2026-04-01", "61.0", true}} {
		pull(t, b, ring, c.day, "tangential force", c.force)
		if got := hard().Open(); got != c.open {
			t.Errorf("at %s N open %t", c.force, got)
		}
	}
	ok(t, b.AcknowledgeRing(ctx, hard(), "", "noted"))
	ok(t, b.Install(ctx, ring, Place{Engine: e.ID, Position: 1, Groove: 1}, "2026-05-01", 10_000))
	if !hard().Open() {
		t.Error("it was seen on the shelf, is fitted now and rests")
	}
	ok(t, b.AcknowledgeRing(ctx, hard(), "", "noted where it sits"))
	if hard().Open() {
		t.Error("seen where it sits, and open")
	}
}

// TestLeakSeen: a leak test that was seen rests until a later one loses more, or
// has air at another place.
func TestLeakSeen(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	now := func() LeakReading {
		t.Helper()
		rs := must[[]LeakReading](t)(b.LowLeaksNow(ctx))
		if len(rs) != 1 {
			t.Fatalf("%d low leak tests, want one", len(rs))
		}
		return rs[0]
	}
	loss := func(r LeakReading) float64 { return 100 * (1 - float64(*r.Counts())/float64(r.Test.Regulated)) }
	open := func() bool { t.Helper(); return now().OpenAt(loss(now())) }
	hear := func(day wear.Day, shows wear.Hours, psi wear.PSI, heard ...wear.AirHeard) {
		t.Helper()
		n := leakTest(t, e, 1, day, shows, "0.060", psi)
		n.Readings[0].Heard = heard
		saveLeak(t, b, n)
	}
	hear("2024-06-01", 10_000, 550, wear.AirAtExhaust)
	if !open() {
		t.Error("nobody has seen it, and it is not open")
	}
	refusal(t, b.AcknowledgeLeak(ctx, now(), loss(now()), "", ""), "reason")
	ok(t, b.AcknowledgeLeak(ctx, now(), loss(now()), "A. Smith", "lapped at the next inspection"))
	for _, c := range []struct {
		day   wear.Day
		shows wear.Hours
		psi   wear.PSI
		heard wear.AirHeard
		open  bool
	}{{"2024-06-02", 10_100, 560, wear.AirAtExhaust, false}, {"2024-06-03", 10_200, 560, wear.AirAtIntake, true}, {"2024-06-04", 10_300, 540, wear.AirAtExhaust, true}} {
		hear(c.day, c.shows, c.psi, c.heard)
		if got := open(); got != c.open {
			t.Errorf("%s psi, air at %s: open %t", c.psi, c.heard, got)
		}
	}
}

// TestEngineSeen: a whole engine that was seen rests until a sheet of it was
// saved that shows it further from the others.
func TestEngineSeen(t *testing.T) {
	b, ctx := open(t), context.Background()
	wornFleet(t, b, 5)
	one := must[[]Engine](t)(b.EnginesBySerial(ctx, "R-1"))[0]
	wearing := func(day wear.Day, shows wear.Hours, text string) {
		t.Helper()
		for pos := 1; pos <= 9; pos++ {
			p := must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, fmt.Sprintf("C-1-%d", pos)))[0]
			measure(t, b, one, pos, p.ID, day, shows, fmt.Sprintf(text, pos))
		}
	}
	wearing("2025-06-01", 90_000, "5.26%d5")
	fast := func() EngineWear {
		t.Helper()
		ws := must[[]EngineWear](t)(b.FastEngines(ctx))
		if len(ws) != 1 {
			t.Fatalf("%d fast engines, want one", len(ws))
		}
		return ws[0]
	}
	if !fast().Open() {
		t.Error("nobody has seen it, and it is not open")
	}
	refusal(t, b.AcknowledgeEngine(ctx, fast(), "", ""), "reason")
	ok(t, b.AcknowledgeEngine(ctx, fast(), "A. Smith", "air filter changed"))
	if w := fast(); w.Open() || w.Seen.Since || w.Seen.Who != "A. Smith" {
		t.Errorf("acknowledged: open %t, seen %+v", w.Open(), w.Seen)
	}
	wearing("2025-09-01", 100_000, "5.29%d5")
	if w := fast(); !w.Seen.Since || w.Ratio <= w.Seen.Amount || !w.Open() {
		t.Errorf("%.2f after %.2f: open %t, a sheet since %t", w.Ratio, w.Seen.Amount, w.Open(), w.Seen.Since)
	}
}

// TestSeenMigration opens a book made before more than series could be
// acknowledged.
func TestSeenMigration(t *testing.T) {
	ctx := context.Background()
	b := must[*Book](t)(Open(ctx, olderBook(t, 17)))
	defer func() { ok(t, b.Close()) }()
	e := addRadial(t, b, "R-1")
	ok(t, b.AcknowledgeEngine(ctx, EngineWear{Engine: e.ID, Feature: feature(t, b, wear.Cylinder, "barrel bore")}, "A. Smith", "air filter changed"))
	if seen := must[map[seenThing]Seen](t)(findSeenThings(ctx, b.read, seenEngine)); len(seen) != 1 {
		t.Errorf("%d acknowledgements, want the one", len(seen))
	}
}
