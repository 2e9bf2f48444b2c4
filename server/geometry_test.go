package server

import (
	"context"
	"slices"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

func wants(t testing.TB, page string, wanted ...string) {
	t.Helper()
	said := text(page)
	for _, w := range wanted {
		if !strings.Contains(said, w) {
			t.Errorf("the page lacks %q", w)
			t.Log(said)
		}
	}
}

// A bore read in the cold stands as it is at 20 °C beside the reading: the
// figure is that of the equation in ISO 1 with steel's 12.3e-6 per K. Taper is
// top less bottom, wear is told by spot, and the largest spot picks the
// oversize: FAA-H-8083-32, with the new minimum as standard.
func TestBarrelOnPage(t *testing.T) {
	b, ctx := fill(t), context.Background()
	m := must[store.Model](t)(b.Model(ctx, b.engine.Model.ID))
	m.Oversizes, m.CleanUp = []wear.Value{inches(t, "0.010"), inches(t, "0.015")}, inches(t, "0.002")
	ok(t, b.SaveModel(ctx, m))
	var rs []store.NewReading
	for _, x := range [][3]string{{"top", "thrust", "5.2570"}, {"top", "pin", "5.2560"}, {"bottom", "thrust", "5.2510"}, {"bottom", "pin", "5.2510"}} {
		r := b.number(t, b.cylinders[1], wear.Cylinder, "barrel bore", x[2])
		r.Station, r.Axis = x[0], x[1]
		rs = append(rs, r)
	}
	hours := wear.Hours(70_000)
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-03-01", Engine: b.engine.ID, Position: 2, Temperature: ptr(4.0)}, Shows: &hours, Readings: rs}))
	h, _ := serving(t, b.Book)
	w := get(h, href("/parts/", b.cylinders[1]))
	// 5.2570 at 4 °C is 5.2570/(1 - 12.3e-6·16) = 5.2580 at 20 °C.
	wants(t, w.Body.String(), "5.2580 at 20 °C", "Taper, wider at the head 0.0055 ±", "Largest diameter 5.2580 in, top, thrust", "Most worn spot 0.0081 ±", "0.0081 ± 0.0005 thrust", "If it were ground 0.0150 in oversize is the smallest that clears", "steel (4140, 4340)")
	m.CleanUp = inches(t, "0.009")
	ok(t, b.SaveModel(ctx, m))
	wants(t, get(h, href("/parts/", b.cylinders[1])).Body.String(), "no listed oversize clears")
}

// What one person's reading adds is the same for all readings of a sheet and
// cancels in taper and out-of-round (JCGM 100 (GUM) 5.2.2 with a correlation of
// 1): 1.645·0.0002·√2 = 0.00047 in and, of means of two, 1.645·0.0002 = 0.00033 in,
// however differently people read.
func TestBarrelSharedErrors(t *testing.T) {
	b := fill(t)
	var rs []store.NewReading
	for _, x := range [][3]string{{"top", "thrust", "5.2570"}, {"top", "pin", "5.2560"}, {"bottom", "thrust", "5.2510"}, {"bottom", "pin", "5.2510"}} {
		r := b.number(t, b.cylinders[1], wear.Cylinder, "barrel bore", x[2])
		r.Station, r.Axis, r.SD, r.OperatorSD, r.Resolution = x[0], x[1], inches(t, "0.0002"), inches(t, "0.0009"), 0
		rs = append(rs, r)
	}
	b.save(t, "2025-03-01", 70_000, 2, rs...)
	h, _ := serving(t, b.Book)
	wants(t, get(h, href("/parts/", b.cylinders[1])).Body.String(), "out-of-round, top: 1.645 √(0.00020² + 0.00020²) = 0.00047 in", "taper: 1.645 × 0.00020 = 0.00033 in", "Taper, wider at the head 0.0055 ± 0.0003 in", "one for a whole sheet")
}

// A barrel is replaced where the average at its head end exceeds that at its
// flange end (US Army TM 9-2815-220-24 WP 0135): its choke, the difference of the
// averages, may not come below 0. It is worked out from the bores, and a sheet
// does not ask for it.
func TestChokeOnPage(t *testing.T) {
	b, ctx := fill(t), context.Background()
	h, _ := serving(t, b.Book)
	measured := func(day wear.Day, position int, head string) string {
		var rs []store.NewReading
		for _, x := range [][3]string{{"top", "thrust", head}, {"top", "pin", "5.2490"}, {"bottom", "thrust", "5.2500"}, {"bottom", "pin", "5.2500"}} {
			r := b.number(t, b.cylinders[position-1], wear.Cylinder, "barrel bore", x[2])
			r.Station, r.Axis = x[0], x[1]
			rs = append(rs, r)
		}
		b.save(t, day, 80_000, position, rs...)
		return get(h, href("/parts/", b.cylinders[position-1])).Body.String()
	}
	// 5.2500 − (5.2480 + 5.2490)/2
	if page := text(measured("2025-03-01", 4, "5.2480")); !strings.Contains(page, "Choke, narrower at the head 0.0015 ±") || strings.Contains(page, "Limit of the choke") {
		t.Errorf("without a limit: %s", page)
	}
	ok(t, b.AddLimit(ctx, store.LimitRow{Model: b.engine.Model.ID, Feature: b.feature(t, wear.Cylinder, "choke").ID, Unit: wear.Inch, Document: "TM 9-2815-220-24", Page: "WP 0135", Limit: wear.Limit{NewMin: ptr(inches(t, "0.0010")), NewMax: ptr(inches(t, "0.0020")), ServiceMin: ptr(wear.Value(0)), Wear: wear.Down}}))
	wants(t, get(h, href("/parts/", b.cylinders[3])).Body.String(), "Choke +0.0015 ± 0.0", "in: new, 0.0015 inside the service limit", "Limit of the choke new 0.0010 to 0.0020, service at least 0.0000 in; TM 9-2815-220-24, p. WP 0135", "−(−0.0015) = +0.0015 in")
	// 5.2500 − (5.2530 + 5.2490)/2
	wants(t, measured("2025-03-02", 5, "5.2530"), "Taper, wider at the head 0.0010 ±", "Choke −0.0010 ± 0.0", "in: beyond, 0.0010 past the service limit", "Verdict on the choke")
	wants(t, get(h, href("/engines/", b.engine.ID)).Body.String(), "choke of the barrel")
	wants(t, get(h, "/features").Body.String(), "worked out from the barrel bore")
	if page := text(get(h, href("/measure/engine/", b.engine.ID, "/", 4)).Body.String()); strings.Contains(page, "Choke") || !strings.Contains(page, "Barrel bore") {
		t.Errorf("the sheet asks for the choke: %s", page)
	}
}

// Pin and pin bore of US Army TM 9-2815-220-34 table 3-11: the fit that its
// limits lead to is 0.0016L to 0.0020L, service 0.0032L; an end gap carried to
// a wider bore grows by π times as much.
func TestFitsOnPage(t *testing.T) {
	b, ctx := fill(t), context.Background()
	limit := func(kind wear.Kind, name string, l wear.Limit) {
		ok(t, b.AddLimit(ctx, store.LimitRow{Model: b.engine.Model.ID, Feature: b.feature(t, kind, name).ID, Unit: wear.Inch, Document: "TM 9-2815-220-34", Limit: l}))
	}
	limit(wear.Piston, "pin bore", wear.Limit{NewMin: ptr(inches(t, "2.1268")), NewMax: ptr(inches(t, "2.1270")), ServiceMax: ptr(inches(t, "2.1280")), Wear: wear.Up})
	limit(wear.Pin, "pin diameter", wear.Limit{NewMin: ptr(inches(t, "2.1250")), NewMax: ptr(inches(t, "2.1252")), ServiceMin: ptr(inches(t, "2.1248")), Wear: wear.Down})
	gap := b.number(t, b.ring, wear.Ring, "end gap", "0.0200")
	gap.Bore = ptr(inches(t, "5.2500"))
	bore := b.number(t, b.piston, wear.Piston, "pin bore", "2.1279")
	b.save(t, "2025-03-01", 70_000, 1, bore, b.number(t, b.pin, wear.Pin, "pin diameter", "2.1249"), gap)
	h, _ := serving(t, b.Book)
	at := href("/engines/", b.engine.ID, "/positions/", 1)
	// The barrel's 5.2510 at 20.5 °C is 5.25097 at 20 °C: 0.0200 + π(5.25097 - 5.2500) = 0.0230.
	wants(t, get(h, at).Body.String(), "Pin in piston", "0.0030L", "new 0.0016L to 0.0020L, service 0.0032L", "follows from those of the parts", "End gap, groove 1", "0.0230 ±")
	// Inside the new limits of 0.015 to 0.030 (invented) by 0.0230 − 0.0150, more than U: ISO 14253-1.
	limit(wear.Ring, "end gap", wear.Limit{NewMin: ptr(inches(t, "0.0150")), NewMax: ptr(inches(t, "0.0300")), ServiceMax: ptr(inches(t, "0.0400")), Wear: wear.Up})
	wants(t, get(h, at).Body.String(), "Verdict on End gap, groove 1, K-1", "0.02304 − 0.01500 = +0.0080")
	limit(wear.Piston, "pin clearance", wear.Limit{ServiceMax: ptr(inches(t, "0.0022")), Wear: wear.Up})
	wants(t, get(h, at).Body.String(), "typed for the fit", "Pin in piston: neither part is beyond a limit of its own, but their fit is beyond its. The fit decides.")
}

// A ring pushed to the worn place and to the unworn end tells the bore's
// growth by itself: gap/π. Where the bore gauge says otherwise by more than
// their errors allow, the page says so.
func TestRingGapAgainstBoreGauge(t *testing.T) {
	b, ctx := fill(t), context.Background()
	save := func(day wear.Day, topGap string) string {
		var rs []store.NewReading
		for _, x := range [][3]string{{"barrel bore", "top", "5.2540"}, {"barrel bore", "bottom", "5.2510"}, {"gap of a pushed ring", "top", topGap}, {"gap of a pushed ring", "bottom", "0.0200"}} {
			r := b.number(t, b.cylinders[2], wear.Cylinder, x[0], x[2])
			r.Station = x[1]
			rs = append(rs, r)
		}
		hours := wear.Hours(80_000)
		must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: day, Engine: b.engine.ID, Position: 3}, Shows: &hours, Readings: rs}))
		h, _ := serving(t, b.Book)
		return get(h, href("/parts/", b.cylinders[2])).Body.String()
	}
	// 0.0094 in of gap is 0.0030 in of bore.
	page := save("2025-04-01", "0.0294")
	wants(t, page, "Wider at top than at bottom 0.0030 ±", "0.0030 ± 0.0001 by the ring")
	if strings.Contains(page, "differ by") {
		t.Error("two measurements that agree are said to differ")
	}
	wants(t, save("2025-04-02", "0.0230"), "gap differ by 0.0020 in, more than the 0.0006")
}

// A gap and a bore of different days are told apart: by the hours that ran
// between them, and held against each other no more once the bore was honed in
// between. Wear restarts at each hone: common practice, no source.
func TestRingGapOfAnotherDay(t *testing.T) {
	b, ctx := fill(t), context.Background()
	save := func(day wear.Day, shows wear.Hours, readings ...[3]string) string {
		var rs []store.NewReading
		for _, x := range readings {
			r := b.number(t, b.cylinders[2], wear.Cylinder, x[0], x[2])
			r.Station = x[1]
			rs = append(rs, r)
		}
		b.save(t, day, shows, 3, rs...)
		h, _ := serving(t, b.Book)
		return get(h, href("/parts/", b.cylinders[2])).Body.String()
	}
	bore := [][3]string{{"barrel bore", "top", "5.2540"}, {"barrel bore", "bottom", "5.2510"}}
	save("2025-04-01", 80_000, append(bore, [3]string{"gap of a pushed ring", "top", "0.0230"}, [3]string{"gap of a pushed ring", "bottom", "0.0200"})...)
	wants(t, save("2025-04-02", 80_000, bore...), "The ring's gap was taken on 2025-04-01, the bore on 2025-04-02, with no hours run in between.", "Wider at top than at bottom", "gap differ by 0.0020 in")
	page := save("2025-05-01", 85_000, bore...)
	wants(t, page, "the bore on 2025-05-01: 50.0 h of wear lie between", "Wider at top than at bottom")
	if strings.Contains(page, "differ by") {
		t.Error("sizes that wear lies between are said to be wrong")
	}
	ok(t, b.Remove(ctx, b.cylinders[2], "2025-05-02", 85_000, "glazed", false))
	ok(t, b.AddMark(ctx, b.cylinders[2], wear.Mark{Event: wear.Honed, Day: "2025-05-02"}, ""))
	ok(t, b.Install(ctx, b.cylinders[2], store.Place{Engine: b.engine.ID, Position: 3}, "2025-05-03", 85_000))
	page = save("2025-05-03", 85_000, bore...)
	wants(t, page, "the bore on 2025-05-03, 50.0 h apart, and the bore was worked on in between: they are not held against each other")
	if strings.Contains(page, "Wider at top than at bottom") {
		t.Error("a gap from before the honing is held against the bore after it")
	}
}

// True dead centres of a nine-cylinder row with crank radius 70, master rod
// 260, knuckle radius 65 and link rod 195 mm: the closed form, and points built
// in the plane, give these (computed independently, by a script of their own).
func TestCrankOnPage(t *testing.T) {
	b, ctx := fill(t), context.Background()
	set := must[store.Settings](t)(b.Settings(ctx))
	set.Unit = wear.Millimetre
	ok(t, b.SaveSettings(ctx, set))
	h, _ := serving(t, b.Book)
	model := href("/models/", b.engine.Model.ID, "/rods")
	form := formOf("crank_radius=70", "master_rod=260", "knuckle_radius=65", "link_rod=195", "pin_to_crown=60", "below_crown=110", "skirt_end=100")
	if w := post(h, model, form); w.Code != 303 {
		t.Fatalf("the lengths: %d %s", w.Code, text(w.Body.String()))
	}
	page := get(h, href("/engines/", b.engine.ID, "/crank")).Body.String()
	wants(t, page, "master-rod cylinder 160.0° 160.0° 0.00° 0.00° 140.000 mm 330.000 mm", "6 200.0° 200.6° +0.60° −0.98° 140.013 mm", "8 280.0° 284.7° +4.74° −10.63° 141.123 mm 327.9", "If the master rod leans")
	// Half a turn on, the master-rod piston is a stroke of 140 mm down.
	wants(t, get(h, href("/engines/", b.engine.ID, "/crank?angle=340")).Body.String(), "Below its top at 340.0°", "140.000 mm 330.000 mm 140.000 mm")
	if w := get(h, href("/engines/", b.engine.ID, "/crank?angle=wide")); w.Code != 422 || !strings.Contains(w.Body.String(), `value="wide"`) {
		t.Errorf("nonsense for an angle: %d", w.Code)
	}
	wants(t, get(h, href("/engines/", b.engine.ID, "/crank?lean=5")).Body.String(), "How far each link piston drops", "Drops")
	w := post(h, model, formOf("crank_radius=70", "master_rod=60", "link_rod=x"))
	if w.Code != 422 || !strings.Contains(w.Body.String(), "a rod is longer than the crank radius") && !strings.Contains(w.Body.String(), "is not a number") || !strings.Contains(w.Body.String(), `value="x"`) {
		t.Errorf("bad lengths: %d %s", w.Code, text(w.Body.String()))
	}
}

// A knuckle pin that lies with the crankpin in its cylinder's axis brings top
// dead centre right: at 120° after the master ψ = 120° + arcsin((70/260) sin
// 120°) = 133.4832°, and with a + l = L the piston stands at r + L = 330 mm, all
// by the drawing. In an engine with its master rod elsewhere the rod goes along.
func TestRodsByCylinderOnPage(t *testing.T) {
	b, ctx := fill(t), context.Background()
	set := must[store.Settings](t)(b.Settings(ctx))
	set.Unit = wear.Millimetre
	ok(t, b.SaveSettings(ctx, set))
	h, _ := serving(t, b.Book)
	model := href("/models/", b.engine.Model.ID, "/rods")
	all := []string{"crank_radius=70", "master_rod=260", "knuckle_radius=65", "link_rod=195", "pin_to_crown=60", "below_crown=110", "skirt_end=100"}
	if w := post(h, model, formOf(append(all, "list_master=5", "knuckle_angle-8=133.4832", "knuckle_radius-2=64", "link_rod-2=196")...)); w.Code != 303 {
		t.Fatalf("the list: %d %s", w.Code, text(w.Body.String()))
	}
	form := get(h, model).Body.String()
	for _, typed := range []string{`name="knuckle_angle-8" type="text" value="133.4832"`, `value="64.000"`, `value="196.000"`, `<option value="5" selected>`, `<details class="rare" open>`} {
		if !strings.Contains(form, typed) {
			t.Errorf("the form lacks %s", typed)
		}
	}
	crank := href("/engines/", b.engine.ID, "/crank")
	wants(t, get(h, crank+"?angle=280").Body.String(), "8 280.0° 280.0° 0.00°", "330.000 mm 0.000 mm", "6 200.0° 200.6° +0.60° −0.98° 140.013 mm", "Position 8 differs knuckle angle 133.4832°", "Position 2 differs knuckle radius 64.000 mm, link rod 196.000 mm",
		"True top dead centre: largest s, position 8", "α 120.00°, ψ 133.48°", "a 64.000, l 196.000 mm", "by cylinder where one differs")
	e := must[store.Engine](t)(b.Engine(ctx, b.engine.ID))
	ok(t, b.SaveEngine(ctx, e.ID, store.NewEngine{Serial: e.Serial, Model: e.Model.Name, Arrangement: e.Arrangement, Cylinders: e.Cylinders, MasterRod: 4, Day: e.HoursDay, Shows: e.Hours}))
	wants(t, get(h, crank).Body.String(), "7 240.0° 240.0° 0.00°", "typed for the master rod in position 5. Here it is in position 4", "Position 7 differs knuckle angle 133.4832°")

	refused := append(slices.Clone(all), "list_master=", "knuckle_angle-8=a hair", "knuckle_radius-2=640", "knuckle_angle-3=0", "link_rod-9=2,5")
	w := post(h, model, formOf(refused...))
	if w.Code != 422 {
		t.Fatalf("nonsense: %d", w.Code)
	}
	for _, kept := range []string{`value="a hair"`, `value="640"`, `value="2,5"`} {
		if !strings.Contains(w.Body.String(), kept) {
			t.Errorf("%s was lost", kept)
		}
	}
	wants(t, w.Body.String(), `Knuckle angle, position 8 : "a hair" is not a number`, "Knuckle angle, position 3 : a knuckle pin at 0° would lie in the master rod", "Master rod in : say which cylinder has the master rod")
	wants(t, post(h, model, formOf(append(slices.Clone(all), "list_master=5", "knuckle_angle-8=226.5", "link_rod-5=195", "knuckle_radius-2=640")...)).Body.String(), "Knuckle angle, position 8 : more than 25° off its cylinder, which stands 120° after the master rod",
		"Link rod, position 5 : position 5 has the master rod", "Knuckle radius, position 2 : more than a quarter off")
	if now := must[store.Model](t)(b.Model(ctx, e.Model.ID)).Rods; len(now.LinkRods) != 2 {
		t.Errorf("refused forms changed the list: %+v", now)
	}
	if w := post(h, model, formOf(all...)); w.Code != 303 {
		t.Errorf("taking the list out: %d", w.Code)
	}
	if now := must[store.Model](t)(b.Model(ctx, e.Model.ID)).Rods; len(now.LinkRods) != 0 || now.ListMaster != 0 {
		t.Errorf("the list stays: %+v", now)
	}
}

// Two pistons and two barrels whose sizes cross: the larger skirt goes into the
// larger bore, by the skirt limits of US Army TM 9-2815-220-34 table 3-11
// (5.7410 to 5.7420) in the bore of TM 9-2815-220-24 WP 0135 (5.7510 to
// 5.7530). Swapped by hand, the sum of squares grows, and the page says by how
// much each line is off; weights too far apart are refused.
func TestMatchOnPage(t *testing.T) {
	b, ctx := fill(t), context.Background()
	limit := func(kind wear.Kind, name string, l wear.Limit) {
		ok(t, b.AddLimit(ctx, store.LimitRow{Model: b.engine.Model.ID, Feature: b.feature(t, kind, name).ID, Unit: wear.Inch, Document: "TM 9-2815-220", Limit: l}))
	}
	limit(wear.Cylinder, "barrel bore", wear.Limit{NewMin: ptr(inches(t, "5.7510")), NewMax: ptr(inches(t, "5.7530")), ServiceMax: ptr(inches(t, "5.7600")), Wear: wear.Up})
	limit(wear.Piston, "piston skirt", wear.Limit{NewMin: ptr(inches(t, "5.7410")), NewMax: ptr(inches(t, "5.7420")), ServiceMin: ptr(inches(t, "5.7380")), Wear: wear.Down})
	gram := func(n int64) *wear.Value { return ptr(wear.Value(n * 1_000_000)) }
	shelf := must[int64](t)(b.AddPart(ctx, store.Part{Kind: wear.Piston, Serial: "P-7", Source: "new", ModelID: b.engine.Model.ID, Weight: gram(1010)}))
	save := func(position int, rs ...store.NewReading) { b.save(t, "2025-05-01", 80_000, position, rs...) }
	save(1, b.number(t, b.cylinders[0], wear.Cylinder, "barrel bore", "5.7526"), b.number(t, b.piston, wear.Piston, "piston skirt", "5.7411"), weighed(b, t, b.piston, gram(1000)))
	save(2, b.number(t, b.cylinders[1], wear.Cylinder, "barrel bore", "5.7515"))
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-05-01"}, Readings: []store.NewReading{b.number(t, shelf, wear.Piston, "piston skirt", "5.7419")}}))
	h, _ := serving(t, b.Book)
	at := href("/engines/", b.engine.ID, "/match?positions=1,2")
	page := get(h, at).Body.String()
	// 5.7411 at 20.5 °C is 5.7410 at 20 °C.
	wants(t, page, "Clearance 0.0090L to 0.0120L", "wanted 0.0105L", "5.7419 0.0107L +0.0002", "5.7410 0.0104L −0.0001", "Lightest to heaviest 10.0 g")
	swapped := get(h, at+"&do=judge&p1="+itoa(int(b.piston))+"&p2="+itoa(int(shelf))).Body.String()
	wants(t, swapped, "5.7410 0.0115L +0.0010", "5.7419 0.0096L −0.0009")
	wants(t, get(h, at+"&spread=7.1").Body.String(), "10", "it breaks the spread of weights")
	// The gap of P-1's ring, 0.0200 in a bore of 5.7514, is 0.0200 + π(5.75147 -
	// 5.7514) = 0.0202 in barrel 2, below the least: with its rings P-1 goes into barrel
	// 1, where it is 0.0237; without them it is as before.
	limit(wear.Ring, "end gap", wear.Limit{ServiceMin: ptr(inches(t, "0.0215")), ServiceMax: ptr(inches(t, "0.0400")), Wear: wear.Up})
	gap := b.number(t, b.ring, wear.Ring, "end gap", "0.0200")
	gap.Bore = ptr(inches(t, "5.7514"))
	save(1, gap)
	wants(t, get(h, at).Body.String(), "5.7410 0.0115L +0.0010", "5.7419 0.0096L −0.0009", "End gaps here: groove 1, K-1: 0.0237")
	wants(t, get(h, at+"&rings=later").Body.String(), "5.7419 0.0107L +0.0002", "5.7410 0.0104L −0.0001")
	wants(t, get(h, at+"&do=judge&p1="+itoa(int(shelf))+"&p2="+itoa(int(b.piston))).Body.String(), "ring K-1: end gap 0.0202 in this bore is")
	if w := get(h, at+"&rings=sold"); w.Code != 422 || !strings.Contains(w.Body.String(), "choose whether the rings stay") {
		t.Errorf("nonsense for the rings: %d", w.Code)
	}
	// A chrome ring, as sits in P-1, never runs in a chrome-plated barrel.
	c := must[store.Part](t)(b.Part(ctx, b.cylinders[1]))
	c.Surface = "chrome-plated"
	ok(t, b.SavePart(ctx, c))
	wants(t, get(h, at).Body.String(), "5.7410 0.0115L +0.0010", "5.7419 0.0096L −0.0009")
	if w := get(h, at+"&spread=x"); w.Code != 422 || !strings.Contains(w.Body.String(), `value="x"`) {
		t.Errorf("nonsense for a spread: %d", w.Code)
	}
}

func weighed(b *filled, t testing.TB, part int64, v *wear.Value) store.NewReading {
	return store.NewReading{Part: part, Feature: b.feature(t, wear.Piston, "weight").ID, Value: *v, Typed: v.Format(wear.Gram), Unit: wear.Gram}
}
