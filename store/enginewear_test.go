package store

import (
	"context"
	"fmt"
	"math"
	"testing"

	"barrelbook/wear"
)

// together is what the barrels of an engine show together.
func together(t testing.TB, b *Book, engine int64) EngineWear {
	t.Helper()
	ws := must[[]EngineWear](t)(b.EngineWearOf(context.Background(), engine))
	if len(ws) != 1 {
		t.Fatalf("%d judgements of engine %d, want one of its barrels", len(ws), engine)
	}
	return ws[0]
}

// TestEngineTogether: an engine whose barrels all wear alike and three times
// too fast is found by the save of its last sheet, in a small group and in one
// with a stored fit, and judging the whole group says the same; the others are
// not flagged. When most of its cylinders are off, it cannot be told.
func TestEngineTogether(t *testing.T) {
	for _, engines := range []int{5, 8} { // 45 and 72 runs
		t.Run(fmt.Sprintf("%d runs", engines*9), func(t *testing.T) {
			b, ctx := open(t), context.Background()
			wornFleet(t, b, engines)
			one := must[[]Engine](t)(b.EnginesBySerial(ctx, "R-1"))[0]
			other := must[[]Engine](t)(b.EnginesBySerial(ctx, "R-2"))[0]
			if w := together(t, b, one.ID); w.State != wear.Normal || w.Parts != 9 || w.OtherEngines != engines-1 {
				t.Errorf("before: %s, %d parts against %d engines: %s", w.State, w.Parts, w.OtherEngines, w.Sentence())
			}
			for pos := 1; pos <= 9; pos++ {
				p := must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, fmt.Sprintf("C-1-%d", pos)))[0]
				measure(t, b, one, pos, p.ID, "2025-06-01", 90_000, fmt.Sprintf("5.26%d5", pos))
			}
			at := together(t, b, one.ID)
			if at.State != wear.Flagged || at.Faster != 9 {
				t.Errorf("at once %s: %s", at.State, at.Sentence())
			}
			if _, err := b.write.Exec("UPDATE peers SET stale = members + 1"); err != nil {
				t.Fatal(err)
			}
			must[int](t)(b.Refresh(ctx))
			after := together(t, b, one.ID)
			if after.State != wear.Flagged || !near(at.Ratio, after.Ratio, 0.1) || after.Parts != at.Parts {
				t.Errorf("at once %.3f of %d parts, with all %s, %.3f of %d", at.Ratio, at.Parts, after.State, after.Ratio, after.Parts)
			}
			told := must[EngineWear](t)(b.ExplainEngine(ctx, after))
			if told.State != after.State || told.Parts != after.Parts || !near(told.Ratio, after.Ratio, 0.1) || !near(told.Ratio, math.Exp(told.LogRatio), 1e-9) || told.Alone*float64(told.Looks) != told.P || told.EngineDoF == 0 {
				t.Errorf("explained %+v, judged %+v", told, after)
			}
			if w := together(t, b, other.ID); w.State == wear.Flagged {
				t.Errorf("another engine: %s", w.Sentence())
			}
			fast := must[[]EngineWear](t)(b.FastEngines(ctx))
			if len(fast) != 1 || fast[0].Engine != one.ID {
				t.Errorf("fast engines: %+v", fast)
			}
			for pos := 1; pos <= 7; pos++ {
				p := must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, fmt.Sprintf("C-1-%d", pos)))[0]
				ok(t, b.Remove(ctx, p.ID, "2025-06-02", 90_000, "worn", false))
			}
			if w := together(t, b, one.ID); w.State != wear.TooFewReadings || w.Parts != 2 {
				t.Errorf("with two cylinders left: %s of %d parts", w.State, w.Parts)
			}
		})
	}
}
