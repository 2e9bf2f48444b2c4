package store

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"testing"

	"barrelbook/wear"
)

// readAt is what a steel bore with a size at 20 °C reads at a temperature, to
// 0.0001 in: d (1 + α (T - 20)), ISO 1, α 12.3e-6 per K (Callister, appendix B.6).
func readAt(at20, celsius float64) string {
	return fmt.Sprintf("%.4f", at20*(1+12.3e-6*(celsius-20)))
}

// measureAt saves a sheet with a bore at one station, measured at a temperature.
func measureAt(t testing.TB, b *Book, e Engine, position int, part int64, day wear.Day, hours wear.Hours, bore string, celsius *float64) {
	t.Helper()
	r := reading(t, b, part, wear.Cylinder, "barrel bore", 0, bore)
	r.Station, r.Axis = "top", "thrust"
	must[int64](t)(b.SaveSheet(context.Background(), NewSheet{Sheet: Sheet{Day: day, Engine: e.ID, Position: position, Temperature: celsius}, Shows: &hours, Readings: []NewReading{r}}))
}

// normalBarrels fits barrels to all positions but the first, measured at 20 °C
// as TestYoungBarrel has them.
func normalBarrels(t testing.TB, b *Book, e Engine) {
	t.Helper()
	bores := [][8]string{{"5.2500", "5.2498", "5.2502", "5.2501", "5.2499", "5.2500", "5.2503", "5.2497"}, {"5.2521", "5.2517", "5.2525", "5.2520", "5.2521", "5.2519", "5.2527", "5.2516"}, {"5.2535", "5.2530", "5.2540", "5.2533", "5.2536", "5.2532", "5.2543", "5.2530"}}
	var parts [8]int64
	for i := range parts {
		parts[i] = addFitted(t, b, Part{Kind: wear.Cylinder, Serial: fmt.Sprintf("N-%d", i+2)}, Place{Engine: e.ID, Position: i + 2})
	}
	for n, day := range []wear.Day{"2024-01-01", "2024-06-01", "2025-01-01"} {
		for i, p := range parts {
			measureAt(t, b, e, i+2, p, day, wear.Hours(30_000*n), bores[n][i], ptr(20.0))
		}
	}
}

// TestWarmthIsNoWear: a barrel that keeps its size does not wear, however warm
// the hangar is. Read at 35 °C 0.9 h after a sheet at 20 °C it reads 0.0010 in
// larger, which normal barrels need some hundred hours for.
func TestWarmthIsNoWear(t *testing.T) {
	for _, told := range []bool{true, false} {
		b, ctx := open(t), context.Background()
		e := addRadial(t, b, "R-1")
		normalBarrels(t, b, e)
		part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "SAME"}, Place{Engine: e.ID, Position: 1})
		for i, s := range []struct {
			day     wear.Day
			hours   wear.Hours
			celsius float64
		}{{"2025-01-01", 60_000, 20}, {"2025-01-02", 60_090, 35}, {"2025-02-01", 61_000, -10}, {"2025-03-01", 62_000, 35}} {
			celsius := &s.celsius
			if !told {
				celsius = nil
			}
			measureAt(t, b, e, 1, part, s.day, s.hours, readAt(5.2500, s.celsius), celsius)
			flagged := len(must[[]Finding](t)(b.FastWear(ctx))) > 0
			if told && flagged {
				t.Errorf("after sheet %d, at %g °C, it is flagged", i+1, s.celsius)
			}
			if !told && i == 1 && !flagged {
				t.Error("the same numbers without a temperature are not flagged: the test shows nothing")
			}
		}
		if !told {
			continue
		}
		for _, p := range seriesCalled(t, b, part, wear.Cylinder, "barrel bore", 0)[0].Points {
			if !p.Assumed && math.Abs(p.Y-5.25*25.4e6) > 1270+1 { // typed to 0.0001 in
				t.Errorf("at %g h it counts as %.6f in", p.Hours, p.Y/25.4e6)
			}
		}
	}
}

// TestColdHidesNoWear: what a barrel wore fast is found although it was read in
// the cold, where it had shrunk by nearly as much.
func TestColdHidesNoWear(t *testing.T) {
	for _, told := range []bool{true, false} {
		b, ctx := open(t), context.Background()
		e := addRadial(t, b, "R-1")
		normalBarrels(t, b, e)
		part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "FAST"}, Place{Engine: e.ID, Position: 1})
		celsius := ptr(-20.0)
		if !told {
			celsius = nil
		}
		measureAt(t, b, e, 1, part, "2025-01-01", 60_000, "5.2500", ptr(20.0))
		measureAt(t, b, e, 1, part, "2025-04-01", 66_100, readAt(5.2530, -20), celsius)
		fs := must[[]Finding](t)(b.FastWear(ctx))
		if flagged := len(fs) == 1 && fs[0].Part == part; flagged != told {
			t.Errorf("temperature typed: %t, flagged: %t", told, flagged)
		}
	}
}

// TestCountsAt20: 5.125 in at 35 °C is 0.00095 in less at 20 °C in steel and
// 0.00158 in less in piston alloy (ISO 1; Callister, appendix B.6; a piston
// maker; computed independently), in points, verdict and latest value alike.
// What is not known of the temperature, 1 °C, is in u: JCGM 100 (GUM) 5.1.2. A
// gap between two parts, a force and a weight stand as they were typed.
func TestCountsAt20(t *testing.T) {
	b, ctx := open(t), context.Background()
	limit := func(kind wear.Kind, name string, l wear.Limit) {
		m := must[Engine](t)(b.Engine(ctx, 1)).Model.ID
		ok(t, b.AddLimit(ctx, LimitRow{Model: m, Feature: feature(t, b, kind, name).ID, Unit: wear.Inch, Document: "Invented manual", Limit: l}))
	}
	e := addRadial(t, b, "R-1")
	limit(wear.Cylinder, "barrel bore", wear.Limit{ServiceMax: ptr(inches(t, "5.1246")), Wear: wear.Up})
	limit(wear.Piston, "piston skirt", wear.Limit{ServiceMin: ptr(inches(t, "5.1240")), Wear: wear.Down})
	var sheet []NewReading
	var parts = map[wear.Kind]int64{}
	for _, x := range []struct {
		kind        wear.Kind
		name, value string
	}{{wear.Cylinder, "barrel bore", "5.125"}, {wear.Piston, "piston skirt", "5.125"}, {wear.Piston, "side clearance", "0.0060"}, {wear.Ring, "end gap", "0.0300"}, {wear.Cylinder, "weight", "0.5"}} {
		if parts[x.kind] == 0 {
			groove := 0
			if x.kind == wear.Ring {
				groove = 1
			}
			parts[x.kind] = addFitted(t, b, Part{Kind: x.kind, Serial: "X", Source: "serviceable used"}, Place{Engine: e.ID, Position: 1, Groove: groove})
		}
		r := reading(t, b, parts[x.kind], x.kind, x.name, 0, x.value)
		if x.name == "weight" {
			r.Unit = wear.Gram
		}
		if x.name == "side clearance" {
			r.Groove = 1
		}
		sheet = append(sheet, r)
	}
	must[int64](t)(b.SaveSheet(ctx, NewSheet{Sheet: Sheet{Day: "2024-06-01", Engine: e.ID, Position: 1, Temperature: ptr(35.0)}, Shows: ptr(wear.Hours(10_000)), Readings: sheet}))
	gauge := 5080*5080 + 2540*2540/12.0
	for _, x := range []struct {
		kind    wear.Kind
		name    string
		groove  int
		less, u float64 // in, nm
		carried bool
		verdict wear.Verdict
	}{
		{wear.Cylinder, "barrel bore", 0, 0.00095, math.Sqrt(gauge + math.Pow(5.125*25.4e6*12.3e-6, 2)), true, wear.Serviceable},
		{wear.Piston, "piston skirt", 0, 0.00158, math.Sqrt(gauge + math.Pow(5.125*25.4e6*20.5e-6, 2)), true, wear.Beyond},
		{wear.Piston, "side clearance", 1, 0, math.Sqrt(gauge), false, wear.NoLimit},
		{wear.Ring, "end gap", 0, 0, math.Sqrt(gauge), false, wear.NoLimit},
		{wear.Cylinder, "weight", 0, 0, math.Sqrt(gauge), false, wear.NoLimit},
	} {
		s := seriesCalled(t, b, parts[x.kind], x.kind, x.name, x.groove)[0]
		var typed wear.Value
		for _, r := range sheet {
			if r.Feature == s.Feature {
				typed = r.Value
			}
		}
		p := s.Points[len(s.Points)-1]
		if less := (float64(typed) - math.Abs(p.Y)) / 25.4e6; math.Abs(less-x.less) > 0.000005 || math.Abs(p.U-x.u) > 0.01 || s.Carried != x.carried || s.Verdict != x.verdict {
			t.Errorf("%s counts as %.5f in less, u %.2f nm, carried %t, %s; want %+v", x.name, less, p.U, s.Carried, s.Verdict, x)
		}
		for _, f := range must[[]Finding](t)(b.FindingsOf(ctx, parts[x.kind])) {
			if f.Series == s.ID && (float64(*f.LastValue) != math.Abs(p.Y) || f.Carried != x.carried || f.Verdict != x.verdict) {
				t.Errorf("%s: latest value %d, carried %t, %s; the point is %.0f", x.name, *f.LastValue, f.Carried, f.Verdict, p.Y)
			}
		}
		for _, r := range must[[]Reading](t)(b.ReadingsOf(ctx, parts[x.kind])) {
			c := r.Counted(feature(t, b, x.kind, x.name), must[Settings](t)(b.Settings(ctx)).Material(x.kind))
			if r.Feature == s.Feature && (float64(c.Value) != math.Abs(p.Y) || math.Abs(c.U-p.U) > 0.01) {
				t.Errorf("%s counts as %d ± %g by itself and %g ± %g in its series", x.name, c.Value, c.U, p.Y, p.U)
			}
		}
	}
}

// TestImportAt20: an imported temperature counts as a typed one does.
func TestImportAt20(t *testing.T) {
	b := open(t)
	row := barrelRow(2, "2024-01-01", 10_000, 1, "C-1", "5.1250")
	row.Temperature = ptr(35.0)
	importRows(t, b, false, row)
	part := must[[]Part](t)(b.PartsNamed(context.Background(), wear.Cylinder, "C-1"))[0].ID
	if p := seriesCalled(t, b, part, wear.Cylinder, "barrel bore", 0)[0].Points[0]; math.Abs(5.125-p.Y/25.4e6-0.00095) > 0.000005 { // ISO 1; Callister, appendix B.6
		t.Errorf("it counts as %.5f in", p.Y/25.4e6)
	}
}

// TestExpansionChanged: another expansion of a kind of part makes the series of
// those that were measured at a known temperature anew, and of no others.
func TestExpansionChanged(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	warm, untold := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "W"}, Place{Engine: e.ID, Position: 1}), addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "U"}, Place{Engine: e.ID, Position: 2})
	measureAt(t, b, e, 1, warm, "2024-06-01", 10_000, "5.1250", ptr(35.0))
	measureAt(t, b, e, 2, untold, "2024-06-01", 10_000, "5.1250", nil)
	less := func(part int64) float64 {
		ps := seriesCalled(t, b, part, wear.Cylinder, "barrel bore", 0)[0].Points
		return 5.125 - ps[len(ps)-1].Y/25.4e6
	}
	set := must[Settings](t)(b.Settings(ctx))
	set.Expansion[wear.Piston] = 12.3
	ok(t, b.SaveSettings(ctx, set))
	if math.Abs(less(warm)-0.00095) > 0.000005 {
		t.Errorf("a piston's expansion moved a barrel by %.5f in", less(warm))
	}
	set.Expansion[wear.Cylinder] = 20.5 // that of piston alloy: 0.00158 in
	ok(t, b.SaveSettings(ctx, set))
	if math.Abs(less(warm)-0.00158) > 0.000005 || less(untold) != 0 {
		t.Errorf("with a piston's expansion it is %.5f in less, the other %.5f in", less(warm), less(untold))
	}
	sound(t, b)
}

// TestOperatorU: what people read differently goes into u by root sum of squares
// (JCGM 100, GUM, 5.1.2), is kept with the reading when the gauge changes, and
// does not fall with the number of axes, which one person reads (5.2.2).
func TestOperatorU(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1", Source: "serviceable used"}, Place{Engine: e.ID, Position: 1})
	gauge := must[int64](t)(b.SaveGauge(ctx, Gauge{Name: "BG-2", Unit: wear.Inch, SD: 3000, OperatorSD: 4000}))
	at := func(axis string, operator wear.Value) NewReading {
		r := reading(t, b, part, wear.Cylinder, "barrel bore", 0, "5.2500")
		r.Station, r.Axis, r.Gauge, r.SD, r.OperatorSD, r.Resolution = "top", axis, gauge, 3000, operator, 0
		return r
	}
	sheetOn(t, b, e, 1, "2024-01-01", 0, at("thrust", 4000))
	sheetOn(t, b, e, 1, "2024-06-01", 10_000, at("thrust", 0))
	ps := seriesCalled(t, b, part, wear.Cylinder, "barrel bore", 0)[0].Points
	if ps[0].U != 5000 || ps[1].U != 3000 { // 3² + 4² = 5²
		t.Errorf("u is %g and, where the operator is not known, %g nm", ps[0].U, ps[1].U)
	}
	must[int64](t)(b.SaveGauge(ctx, Gauge{ID: gauge, Name: "BG-2", Unit: wear.Inch, SD: 3000, OperatorSD: 9000}))
	if g := must[[]Gauge](t)(b.Gauges(ctx))[0]; g.OperatorSD != 9000 {
		t.Errorf("the gauge is %+v", g)
	}
	rs := must[[]Reading](t)(b.ReadingsOf(ctx, part))
	if rs[1].OperatorSD != 4000 || rs[0].OperatorSD != 0 {
		t.Errorf("the readings are %+v", rs)
	}
	ok(t, b.CorrectReading(ctx, rs[1].ID, inches(t, "5.2501"), "5.2501", "", "misread"))
	if r := must[Reading](t)(b.Reading(ctx, rs[1].ID)); r.OperatorSD != 4000 {
		t.Errorf("a correction has an operator's %d", r.OperatorSD)
	}
	_, err := b.SaveGauge(ctx, Gauge{Name: "BG-3", Unit: wear.Inch, OperatorSD: -1})
	refusal(t, err, "operator_sd", "negative")
	two := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-2", Source: "serviceable used"}, Place{Engine: e.ID, Position: 2})
	var both []NewReading
	for _, axis := range []string{"thrust", "pin"} {
		r := at(axis, 4000)
		r.Part = two
		both = append(both, r)
	}
	sheetOn(t, b, e, 2, "2024-06-01", 10_000, both...)
	if u := seriesCalled(t, b, two, wear.Cylinder, "barrel bore", 0)[0].Points[0].U; math.Abs(u-math.Sqrt(3000*3000/2+4000*4000)) > 1e-6 {
		t.Errorf("u of the mean of two axes is %g nm", u)
	}
	sound(t, b)
}

// TestMigrationAt20: a book of the version before has its verdicts and wear by
// the sizes at 20 °C from the first page on, its audit agrees with it, and what
// it says of its readings stays. A program killed meanwhile goes on at the next
// start.
func TestMigrationAt20(t *testing.T) {
	ctx := context.Background()
	path := olderBook(t, 11,
		"INSERT INTO limit_row (model_id, feature_id, new_min, new_max, service_max, unit, wear, saved_at) VALUES (1, 1, 132080000, 132588000, 132842000, 'in', 'up', '')",
		"INSERT INTO gauge (id, name, unit, sd, resolution, saved_at) VALUES (1, 'BG-1', 'in', 5080, 2540, '')",
		"INSERT INTO part (id, kind, serial, source, status, model_id, saved_at) VALUES (2, 'cylinder', 'C-warm', 'new', 'on shelf', 1, '')",
		"INSERT INTO sheet (id, uid, day, temperature, saved_at) VALUES (2, 'w', '2024-02-02', 35, '')",
		"INSERT INTO reading (id, root, sheet_id, part_id, feature_id, value, unit, gauge_id, sd, resolution, part_hours, saved_at) VALUES (9, 9, 2, 2, 1, 130175000, 'in', 1, 5080, 2540, 0, '')",
		"INSERT INTO peers (id, feature_id, model_id, groove, station, surface, facing) VALUES (1, 1, 1, 0, '', '', '')",
		"INSERT INTO series (part_id, feature_id, groove, station, run, current, peers_id, start_event, start_day, start_hours, oversize, points, assumed, allowance, life, last_day, last_value, verdict, plain) VALUES (2, 1, 0, '', 1, 1, 1, 'installed new', '', 0, 0, x'', 0, 0, 0, '2024-02-02', 130175000, 1, 1)")
	b := must[*Book](t)(Open(ctx, path))
	right := func() {
		t.Helper()
		ss := must[[]Series](t)(b.SeriesOf(ctx, 2))
		if len(ss) != 1 || !ss[0].Carried || len(ss[0].Points) != 1 || math.Abs(5.125-ss[0].Points[0].Y/25.4e6-0.00095) > 0.000005 { // ISO 1; Callister, appendix B.6
			t.Errorf("the series is %+v", ss)
		}
		if n := must[int](t)(oneRow(b, "SELECT count(*) FROM series WHERE outdated = 1")); n != 0 {
			t.Errorf("%d series are outdated still", n)
		}
		sound(t, b)
	}
	right()
	rs := must[[]Reading](t)(b.ReadingsOf(ctx, 2))
	if *rs[0].Value != 130_175_000 || rs[0].OperatorSD != 0 || rs[0].SD != 5080 {
		t.Errorf("its reading is %+v", rs[0])
	}
	ok(t, b.Close())
	db := must[*sql.DB](t)(sql.Open("sqlite", dsn(path))) // as it lies there when the program was killed before it came to the part
	for _, q := range []string{"UPDATE series SET points = x'', carried = 0, outdated = 1"} {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	ok(t, db.Close())
	b = must[*Book](t)(Open(ctx, path))
	right()
	ok(t, b.Close())
}
