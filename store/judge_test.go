package store

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"barrelbook/wear"
)

// wornFleet imports barrels of nine-cylinder engines with three readings each
// that wear alike: 0.0010 in to bed in and 0.0008 in each 300 h, times a part's
// own factor about 1. The generator's seed is fixed.
func wornFleet(t testing.TB, b *Book, engines int) {
	t.Helper()
	rng := rand.New(rand.NewPCG(1, uint64(engines)))
	importLimits(t, b, false, LimitsRow{Line: 2, Model: "Invented 9", Kind: "cylinder", Feature: "bore", NewMin: "5.2490", NewMax: "5.2510", ServiceMax: "5.2600", Unit: "in", Wear: "up", Life: "1200", Document: "Invented manual"})
	var rows []HistoryRow
	for e := range engines {
		for pos := 1; pos <= 9; pos++ {
			factor := math.Exp(0.2 * rng.NormFloat64())
			for i, day := range []wear.Day{"2024-01-01", "2024-06-01", "2025-01-01"} {
				hours := wear.Hours(i) * 30_000
				bore := 5.25 + factor*(0.0010*-math.Expm1(-hours.Float()/50)+0.0008*float64(i))
				r := barrelRow(len(rows)+2, day, hours, pos, fmt.Sprintf("C-%d-%d", e+1, pos), fmt.Sprintf("%.4f", bore))
				r.Engine = fmt.Sprintf("R-%d", e+1)
				rows = append(rows, r)
			}
		}
	}
	if r := importRows(t, b, false, rows...); !r.OK() {
		t.Fatalf("import: %+v", r)
	}
}

// judged is what the book says of a part's only series.
func judged(t testing.TB, b *Book, serial string) Finding {
	t.Helper()
	ctx := context.Background()
	p := must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, serial))[0]
	fs := must[[]Finding](t)(b.FindingsOf(ctx, p.ID))
	if len(fs) != 1 {
		t.Fatalf("%d series of %s", len(fs), serial)
	}
	return fs[0]
}

// TestJudgedAtOnce: what a save says of the part it measured is what judging
// the whole group says afterwards, whether the others are fitted anew for it,
// in a group of up to 64 runs, or taken from the group's stored fit, in a
// larger one. The stored fit is approximate in a large group: the chance may
// differ by a fifth of its logarithm, ratio and wear by a twentieth.
func TestJudgedAtOnce(t *testing.T) {
	for _, engines := range []int{5, 8} { // 45 and 72 runs
		for _, c := range []struct {
			bore string
			want wear.State
		}{{"5.2537", wear.Normal}, {"5.2580", wear.Flagged}} {
			t.Run(fmt.Sprintf("%d runs, %s in", engines*9, c.bore), func(t *testing.T) {
				b, ctx := open(t), context.Background()
				wornFleet(t, b, engines)
				e := must[[]Engine](t)(b.EnginesBySerial(ctx, "R-1"))[0]
				p := must[[]Part](t)(b.PartsNamed(ctx, wear.Cylinder, "C-1-1"))[0]
				measure(t, b, e, 1, p.ID, "2025-06-01", 90_000, c.bore)
				at := judged(t, b, "C-1-1")
				if _, err := b.write.Exec("UPDATE peers SET stale = members + 1"); err != nil {
					t.Fatal(err)
				}
				if n := must[int](t)(b.Refresh(ctx)); n != 1 {
					t.Fatalf("%d groups judged anew, want 1", n)
				}
				after := judged(t, b, "C-1-1")
				t.Logf("at once: %s, ratio %.3f, chance %.3g of %d; with all: %s, ratio %.3f, chance %.3g of %d", at.State, at.Ratio, at.Chance, at.Refs, after.State, after.Ratio, after.Chance, after.Refs)
				if at.State != c.want || after.State != c.want {
					t.Errorf("at once %s, with all %s; want %s", at.State, after.State, c.want)
				}
				if !near(at.Ratio, after.Ratio, 0.05) || !near(at.Wear, after.Wear, 0.05) || !near(math.Log(at.Chance), math.Log(after.Chance), 0.2) || at.Refs != after.Refs || at.Hours != after.Hours {
					t.Errorf("at once wear %.0f nm at %.0f h, with all %.0f nm at %.0f h", at.Wear, at.Hours, after.Wear, after.Hours)
				}
			})
		}
	}
}

// TestOthersFollow: a save judges the part it measured; the others of its
// group follow with the next refresh, and a flag that no longer holds goes.
func TestOthersFollow(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	must[int](t)(b.Refresh(ctx))
	if p := must[Part](t)(b.Part(ctx, parts[8])); !p.Flagged {
		t.Fatal("the fast barrel is not marked")
	}
	worn := []string{"5.2555", "5.2550", "5.2560", "5.2565", "5.2555", "5.2550", "5.2558", "5.2565"} // now all the others wear as it did
	for i, bore := range worn {
		measure(t, b, e, i+1, parts[i], "2025-06-01", 60_500, bore)
	}
	if n := must[int](t)(b.Refresh(ctx)); n != 1 {
		t.Errorf("%d groups judged anew, want 1", n)
	}
	if f := must[[]Finding](t)(b.FindingsOf(ctx, parts[8])); f[0].Flagged() {
		t.Errorf("among its like the barrel is still flagged: %s", f[0].Sentence)
	}
	if p := must[Part](t)(b.Part(ctx, parts[8])); p.Flagged {
		t.Error("the barrel is still marked")
	}
}

// TestFitWhileSaving: what was saved while a group was fitted is not forgotten
// when the fit is kept.
func TestFitWhileSaving(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	must[int](t)(b.Refresh(ctx))
	begun := 0 // what stale was when the fit began
	measure(t, b, e, 1, parts[0], "2025-06-01", 70_000, "5.2512")
	ok(t, b.tx(ctx, func(ctx context.Context, t *tx) error { return saveFit(ctx, t, 1, groupFit{}, 9, begun) }))
	if n := must[int](t)(b.Refresh(ctx)); n != 1 {
		t.Errorf("%d groups judged anew after the fit, want 1", n)
	}
	if n := must[int](t)(b.Refresh(ctx)); n != 0 {
		t.Errorf("%d groups judged once more, want none", n)
	}
}

// TestAllFindings: flagged or not, one entry a part and feature, worst first,
// scrapped parts left out.
func TestAllFindings(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	measure(t, b, e, 9, parts[8], "2025-01-02", 60_000, "5.2561")
	all := must[[]Finding](t)(b.AllFindings(ctx, true))
	if len(all) != 9 || all[0].Part != parts[8] {
		t.Errorf("%d findings, the first of part %d; want 9, the fast barrel first", len(all), all[0].Part)
	}
	for i := 1; i < len(all); i++ {
		if all[i].Chance < all[i-1].Chance {
			t.Errorf("finding %d is less likely than the one before", i)
		}
	}
	ok(t, b.Remove(ctx, parts[0], "2025-02-01", 61_000, "cracked", true))
	if all = must[[]Finding](t)(b.AllFindings(ctx, true)); len(all) != 8 {
		t.Errorf("%d findings with one part scrapped, want 8", len(all))
	}
	if on := must[[]Finding](t)(b.FindingsOn(ctx, e.ID)); len(on) != 8 || on[0].Position != 2 {
		t.Errorf("%d findings on the engine, the first at position %d", len(on), on[0].Position)
	}
}
