package server

import (
	"context"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

// A ring that binds or butts is beyond on every page that judges it. Side
// clearance of ring 2 in US Army TM 9-2815-220-34 table 3-11, 0.0055L to
// 0.0075L, service 0.0110L: for a ring of 0.0771 in a groove of 0.0768.
func TestTightEverywhere(t *testing.T) {
	b, ctx := fill(t), context.Background()
	add := func(kind wear.Kind, name string, groove int, low, high, service string) {
		ok(t, b.AddLimit(ctx, store.LimitRow{Model: b.engine.Model.ID, Feature: b.feature(t, kind, name).ID, Groove: groove, Unit: wear.Inch, Document: "TM 9-2815-220-34",
			Limit: wear.Limit{NewMin: ptr(inches(t, low)), NewMax: ptr(inches(t, high)), ServiceMax: ptr(inches(t, service)), Wear: wear.Up}}))
	}
	add(wear.Piston, "side clearance", 2, "0.0055", "0.0075", "0.0110")
	add(wear.Ring, "end gap", 0, "0.0160", "0.0240", "0.0420")
	ring := b.fitted(t, store.Part{Kind: wear.Ring, Serial: "K-2"}, store.Place{Engine: b.engine.ID, Position: 1, Groove: 2})
	side, groove := b.number(t, b.piston, wear.Piston, "side clearance", "0.0020"), b.number(t, b.piston, wear.Piston, "groove width", "0.0768")
	side.Groove, groove.Groove = 2, 2
	width, gap := b.number(t, ring, wear.Ring, "axial width", "0.0771"), b.number(t, ring, wear.Ring, "end gap", "0.0080")
	sheet := b.save(t, "2025-03-01", 70_000, 1, side, groove, width, gap)
	h, _ := serving(t, b.Book)
	for at, want := range map[string][]string{
		href("/sheets/", sheet):                          {"0.0035 tighter than the new minimum", "0.0080 tighter than the new minimum"},
		href("/parts/", b.piston):                        {"0.0035 tighter than the new minimum"},
		href("/parts/", ring):                            {"0.0080 tighter than the new minimum"},
		href("/engines/", b.engine.ID, "/positions/", 1): {"0.0003T", "interference, 0.0058 tighter than the new minimum", "0.0080 tighter than the new minimum", "as measured", "bore it was measured in is not recorded", "0.0055 to 0.0110"},
		href("/engines/", b.engine.ID):                   {"tighter than the new minimum"},
		"/findings":                                      {"Measured 0.0035 tighter than the new minimum.", "Measured 0.0080 tighter than the new minimum.", "file the ends of this one", "a ring that binds"},
		href("/record/part/", b.piston, ".json"):         {`"plain_comparison": "0.0035 tighter than the new minimum"`},
		href("/record/part/", b.piston, ".csv"):          {"beyond,0.0035 tighter than the new minimum"},
		href("/measure/engine/", b.engine.ID, "/", 1):    {`data-clearance`},
	} {
		w := get(h, at)
		if body := w.Body.String(); w.Code != 200 || !containsAll(body, want) {
			t.Errorf("%s: %d lacks one of %q in %s", at, w.Code, want, text(body))
		}
	}
}

// The gap follows the circumference: in a barrel of 5.2560 and 5.2520 at the
// top and 5.2510 at the bottom, the ring that showed 0.0200 in 5.2500 shows
// 0.0200 + π 0.0040 = 0.0326 at the top and 0.0231 at the bottom, exact by
// geometry. Read at 20.5 °C the barrel is 0.00003 smaller at 20 °C: 0.0325 and
// 0.0230.
func TestGapByStation(t *testing.T) {
	b := fill(t)
	var rs []store.NewReading
	for _, x := range [][3]string{{"top", "thrust", "5.2560"}, {"top", "pin", "5.2520"}, {"bottom", "thrust", "5.2510"}, {"bottom", "pin", "5.2510"}} {
		r := b.number(t, b.cylinders[0], wear.Cylinder, "barrel bore", x[2])
		r.Station, r.Axis = x[0], x[1]
		rs = append(rs, r)
	}
	gap := b.number(t, b.ring, wear.Ring, "end gap", "0.0200")
	gap.Bore = ptr(inches(t, "5.2500"))
	b.save(t, "2025-03-01", 70_000, 1, append(rs, gap)...)
	h, _ := serving(t, b.Book)
	wants(t, get(h, href("/engines/", b.engine.ID, "/positions/", 1)).Body.String(), "End gap, groove 1, widest bore", "0.0325 ±", "5.2540, mean of 2 readings in the top", "End gap, groove 1, smallest bore", "0.0230 ±",
		"0.0200 + π (5.25397 − 5.2500) = 0.0325; U = 1.645")
}

// Pin and pin bore of TM 9-2815-220-34 table 3-11: 2.1268 − 2.1252 = 0.0016L,
// 2.1270 − 2.1250 = 0.0020L, 2.1280 − 2.1248 = 0.0032L. The smallest of an oval
// bore is what a pin binds in.
func TestFitWorkedOut(t *testing.T) {
	b, ctx := fill(t), context.Background()
	limit := func(kind wear.Kind, name string, l wear.Limit) {
		ok(t, b.AddLimit(ctx, store.LimitRow{Model: b.engine.Model.ID, Feature: b.feature(t, kind, name).ID, Unit: wear.Inch, Document: "TM 9-2815-220-34", Limit: l}))
	}
	limit(wear.Piston, "pin bore", wear.Limit{NewMin: ptr(inches(t, "2.1268")), NewMax: ptr(inches(t, "2.1270")), ServiceMax: ptr(inches(t, "2.1280")), Wear: wear.Up})
	limit(wear.Pin, "pin diameter", wear.Limit{NewMin: ptr(inches(t, "2.1250")), NewMax: ptr(inches(t, "2.1252")), ServiceMin: ptr(inches(t, "2.1248")), Wear: wear.Down})
	wide, small := b.number(t, b.piston, wear.Piston, "pin bore", "2.1274"), b.number(t, b.piston, wear.Piston, "pin bore", "2.1254")
	wide.Axis, small.Axis = "thrust", "pin"
	b.save(t, "2025-03-01", 70_000, 1, wide, small, b.number(t, b.pin, wear.Pin, "pin diameter", "2.1250"))
	h, _ := serving(t, b.Book)
	wants(t, get(h, href("/engines/", b.engine.ID, "/positions/", 1)).Body.String(), "0.0004L", "0.0012 tighter than the new minimum", "2.12538 − 2.12499 = 0.00039, 0.0004L; U = 1.645 √(",
		"new least 2.1268 − 2.1252 = 0.0016L; new most 2.1270 − 2.1250 = 0.0020L; service most 2.1280 − 2.1248 = 0.0032L in")
}

func containsAll(body string, want []string) bool {
	body = strings.Join([]string{body, text(body)}, " ")
	for _, w := range want {
		if !strings.Contains(body, w) {
			return false
		}
	}
	return true
}
