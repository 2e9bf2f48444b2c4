package server

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// TestWorkOnADayOfMeasuring: a barrel is measured, honed and measured again on
// one day. What was measured before the work stays with the run that ended,
// whichever was entered first.
func TestWorkOnADayOfMeasuring(t *testing.T) {
	for _, c := range []struct {
		name    string
		entered []string // in this order: sizes, and "work"
		after   int      // the work was done after so many of those sizes
		want    [2]string
	}{
		{"as it was done", []string{"5.2530", "work", "5.2541"}, 1, [2]string{"5.2530", "5.2541"}},
		{"written down at the end", []string{"5.2530", "5.2541", "work"}, 1, [2]string{"5.2530", "5.2541"}},
		{"before all", []string{"5.2541", "work"}, 0, [2]string{"", "5.2541"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := fill(t)
			h, _ := serving(t, b.Book)
			ctx, path := context.Background(), fmt.Sprintf("/parts/%d/events", b.shelf)
			const day = "2025-01-10"
			var sheets []int64
			for _, what := range c.entered {
				if what != "work" {
					sheets = append(sheets, must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: day}, Readings: []store.NewReading{
						{Part: b.shelf, Feature: b.boreID, Station: "top", Axis: "thrust", Value: inches(t, what), Typed: what, Unit: wear.Inch, SD: 5080, Resolution: 2540}}})))
					continue
				}
				w := post(h, path, formOf("event=honed", "day="+day))
				check(t, "nothing said of the order", w, 422, []string{"say what came first", "before all that was measured that day", ": 5.25"}, nil)
				after := beforeAll
				if c.after > 0 {
					after = fmt.Sprint(sheets[c.after-1])
				}
				check(t, "the work", post(h, path, formOf("event=honed", "day="+day, "after="+after)), 303, nil, nil)
			}
			runs := map[bool]string{}
			for _, x := range must[[]store.Series](t)(b.SeriesOf(ctx, b.shelf)) {
				if x.LastDay == day {
					runs[x.Current] = wear.Value(x.Points[len(x.Points)-1].Y).Format(wear.Inch)
				}
			}
			if got := [2]string{runs[false], runs[true]}; got != c.want {
				t.Errorf("the runs before and after end at %q, want %q", got, c.want)
			}
			page := get(h, fmt.Sprintf("/parts/%d", b.shelf)).Body.String()
			if !strings.Contains(page, "honed") {
				t.Error("the part's page does not tell of the work")
			}
		})
	}
}

// TestWorkOnAnotherDay asks nothing of the order where nothing was measured.
func TestWorkOnAnotherDay(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	path := fmt.Sprintf("/parts/%d/events", b.shelf)
	check(t, "the form", get(h, path), 200, []string{"Save the work"}, []string{`name="after"`})
	check(t, "the work", post(h, path, formOf("event=honed", "day=2025-01-10", "after=7")), 303, nil, nil)
}
