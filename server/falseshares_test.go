package server

import (
	"context"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/views"
)

// The 15 chances of the example in Benjamini and Hochberg (1995), section 4:
// four pass at 0.05. At 0.10 nine do, by hand: 15 · 0.0459/9 = 0.0765, and 15 ·
// 0.3240/10 is above it.
func TestFalseSharesByTheShopsSetting(t *testing.T) {
	var fast []store.Finding
	for _, p := range []float64{0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.000} {
		fast = append(fast, store.Finding{Chance: p})
	}
	for q, want := range map[float64]string{0.05: "up to number 4 of this list at most 5 % ", 0.10: "up to number 9 of this list at most 10 % "} {
		var p views.Findings
		if _, err := falseShares(fast, len(fast), q, &p); err != nil || !strings.Contains(p.Ordered, want) {
			t.Errorf("at %g: %q, %v", q, p.Ordered, err)
		}
	}
}

// The page goes by the share that the shop set; a new book has 0.10.
func TestFindingsByTheShopsShare(t *testing.T) {
	b, ctx := fill(t), context.Background()
	h, _ := serving(t, b.Book)
	wants(t, get(h, "/findings").Body.String(), "of this list at most 10 % of those named")
	wants(t, get(h, "/settings").Body.String(), "Normal parts among the findings")
	set := must[store.Settings](t)(b.Settings(ctx))
	set.FalseMost = 0.25
	ok(t, b.SaveSettings(ctx, set))
	wants(t, get(h, "/findings").Body.String(), "of this list at most 25 % of those named")
}
