package store

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"barrelbook/wear"
)

// auditOf lists the whole audit, oldest first.
func auditOf(t testing.TB, b *Book) []AuditRow {
	t.Helper()
	return must[[]AuditRow](t)(list(context.Background(), b.read, scanAudit, "SELECT "+auditColumns+" FROM audit ORDER BY seq"))
}

// told lists what a change added to the audit, as "what; before; after".
func told(t testing.TB, b *Book, do func()) []AuditRow {
	t.Helper()
	n := len(auditOf(t, b))
	do()
	return auditOf(t, b)[n:]
}

// sound fails the test where a check finds something.
func sound(t testing.TB, b *Book) CheckReport {
	t.Helper()
	return must[CheckReport](t)(b.Check(context.Background(), ""))
}

// TestLeftOut: only these tables are without an audit; whoever leaves out
// another has to say so here.
func TestLeftOut(t *testing.T) {
	b := open(t)
	names := must[[]string](t)(list(context.Background(), b.read, func(r scanner, s *string) error { return r.Scan(s) },
		"SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' ORDER BY name"))
	mayBe := []string{"audit", "engine_wear", "goose_db_version", "imported", "peers", "series", "session"}
	for name := range leftOut {
		if !slices.Contains(mayBe, name) {
			t.Errorf("table %s is left out of the audit", name)
		}
	}
	for _, name := range names {
		told := slices.ContainsFunc(b.audited, func(a auditTable) bool { return a.name == name })
		if told == slices.Contains(mayBe, name) {
			t.Errorf("table %s is audited: %t", name, told)
		}
	}
	if len(b.audited) < 17 {
		t.Errorf("only %d tables are audited", len(b.audited))
	}
}

// TestEveryTableHasAWord: the shop reads no name of a table, and every page goes
// by a column that its table has.
func TestEveryTableHasAWord(t *testing.T) {
	for _, a := range open(t).audited {
		if recordWords[a.name][1] == "" {
			t.Errorf("table %s has no word", a.name)
		}
		if c := ownPages[a.name].column; c != "" && !slices.Contains(a.columns, c) {
			t.Errorf("the page of %s goes by %s, which is not there", a.name, c)
		}
	}
}

// TestEveryTableIsTold changes, adds and takes away a row of each table, past
// all methods, as a method that forgot the audit would: each is told of.
func TestEveryTableIsTold(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	everyKind(t, b, e, parts)
	for _, trigger := range must[[]string](t)(list(ctx, b.read, func(r scanner, s *string) error { return r.Scan(s) }, "SELECT name FROM sqlite_schema WHERE type = 'trigger'")) {
		if _, err := b.write.ExecContext(ctx, "DROP TRIGGER "+trigger); err != nil {
			t.Fatal(err)
		}
	}
	for _, pragma := range []string{"foreign_keys = 0", "ignore_check_constraints = 1"} {
		if _, err := b.write.ExecContext(ctx, "PRAGMA "+pragma); err != nil {
			t.Fatal(err)
		}
	}
	for _, a := range b.audited {
		var rows int
		ok(t, b.read.QueryRowContext(ctx, "SELECT count(*) FROM "+a.name).Scan(&rows))
		if rows == 0 {
			t.Errorf("the test has no row of %s", a.name)
			continue
		}
		column := a.columns[len(a.columns)-1]
		for _, c := range []struct{ want, do string }{
			{"changed", fmt.Sprintf("UPDATE %[1]s SET %[2]s = CASE typeof(%[2]s) WHEN 'blob' THEN X'01' ELSE '2001' END WHERE %[3]s = (SELECT min(%[3]s) FROM %[1]s)", a.name, column, a.key[0])},
			{"removed", fmt.Sprintf("DELETE FROM %[1]s WHERE %[2]s = (SELECT max(%[2]s) FROM %[1]s)", a.name, a.key[0])},
		} {
			rows := told(t, b, func() {
				ok(t, b.tx(ctx, func(ctx context.Context, t *tx) error { _, err := t.ExecContext(ctx, c.do); return err }))
			})
			if len(rows) != 1 || rows[0].Did != c.want || rows[0].Record != a.name || rows[0].Before == "" {
				t.Errorf("%s: the audit says %+v", c.do, rows)
			}
		}
	}
	b.read.Close() //nolint:errcheck // so that the schema is read anew
	b.read = must[*pool](t)(openPool(b.path))
	if _, _, err := checkRecords(ctx, b.read); err != nil {
		t.Errorf("back through all of it: %v", err)
	}
}

// everyKind puts at least one row into each table that aFleet leaves empty.
func everyKind(t testing.TB, b *Book, e Engine, parts [9]int64) {
	t.Helper()
	ctx := As(context.Background(), Actor{Person: 7, Name: "J. Example", Device: "tablet 2"})
	fs := must[[]Finding](t)(b.FastWear(ctx))
	ok(t, b.Acknowledge(ctx, fs[0].Series, "J. Example", "looked at"))
	ok(t, b.AcknowledgeEngine(ctx, EngineWear{Engine: e.ID, Feature: fs[0].Feature}, "J. Example", "looked at"))
	gauge := must[int64](t)(b.SaveGauge(ctx, Gauge{Name: "BG-2", Unit: wear.Inch, SD: 5080, Resolution: 2540}))
	must[int64](t)(b.SaveGauge(ctx, Gauge{ID: gauge, Name: "BG-2", Unit: wear.Inch, SD: 7620, Resolution: 2540, Due: "2027-01-01"}))
	s := must[Settings](t)(b.Settings(ctx))
	s.Shop = "Invented <Shop> & Söhne"
	ok(t, b.SaveSettings(ctx, s))
	ok(t, b.AddFacing(ctx, FacingEntry{Facing: "chrome", Surface: "chrome", Says: "not allowed", Document: "invented list"}))
	ok(t, b.SaveWider(ctx, Wider{Feature: feature(t, b, wear.Cylinder, "barrel bore").ID, Surfaces: true}))
	ok(t, b.SaveWider(ctx, Wider{Feature: feature(t, b, wear.Cylinder, "barrel bore").ID, Models: true}))
	min := wear.PSI(600)
	ok(t, b.AddLeakRule(ctx, LeakRule{Model: e.Model.ID, Minimum: &min, Orifice: ptr(wear.Value(1_524_000)), Unit: wear.Inch, Document: "invented manual"}))
	saveLeak(t, b, leakTest(t, e, 1, "2025-02-01", 61_000, "0.060", 720))
	rs := must[[]Reading](t)(b.ReadingsOf(ctx, parts[0]))
	ok(t, b.CorrectReading(ctx, rs[0].ID, inches(t, "5.2512"), "5.2512", "J. Example", "misread"))
	ok(t, b.Remove(ctx, parts[1], "2025-03-01", 62_000, "inspection", false))
	ok(t, b.AddMark(ctx, parts[1], wear.Mark{Event: wear.Honed, Day: "2025-03-02"}, ""))
	ok(t, b.Install(ctx, parts[1], Place{Engine: e.ID, Position: 2}, "2025-03-03", 62_000))
	stays := must[[]Stay](t)(b.StaysOf(ctx, parts[1]))
	for _, st := range stays {
		if st.Open() {
			ok(t, b.VoidStay(ctx, st.ID, "wrong position"))
		}
	}
	aJob(t, ctx, b, e, parts[3])
	owner := must[int64](t)(b.AddFirstOwner(ctx, Person{Name: "J. Example", Roles: Owner}, "$argon2id$invented"))
	must[int64](t)(b.AddPerson(ctx, Person{Name: "R. Reader", Roles: Inspector, Limited: true, Engines: []int64{e.ID}}, Password{Hash: "$argon2id$invented"}))
	ok(t, b.SetPassword(ctx, owner, Password{Hash: "$argon2id$another"}))
	ok(t, b.tx(ctx, func(ctx context.Context, t *tx) error {
		_, err := t.ExecContext(ctx, "INSERT INTO outbox_receipt (uid, form, digest, answer, received_at) VALUES ('u-1', '/measure', 'd', '/sheets/1', '2025-03-05T00:00:00.000Z')")
		return err
	}))
}

// aJob adds a row of each table of jobs.
func aJob(t testing.TB, ctx context.Context, b *Book, e Engine, part int64) {
	t.Helper()
	step := JobStep{Phase: "removal", Text: "magnetos off"}
	ok(t, b.SaveChecklist(ctx, Checklist{Model: e.Model.ID, Lines: []JobStep{step}}, 0))
	job := must[int64](t)(b.OpenJob(ctx, NewJob{Job: Job{Engine: e.ID, Why: "oil use", Day: "2025-03-04", Stands: 1}, Shows: ptr(wear.Hours(62_000)), Positions: []int{4}, Steps: []JobStep{step}}))
	ok(t, b.Decide(ctx, Decision{Job: job, Part: part, Position: 4, Disposition: "reuse", Reason: "inside its limits"}, "", 1<<40))
	ok(t, b.Place(ctx, job, []Placing{{Position: 4, Kind: wear.Cylinder, Part: part}}, "", 1<<40))
	ok(t, b.AddPhotos(ctx, []NewPhoto{{Photo: Photo{Job: job, Position: 4, Type: "image/jpeg", Width: 1, Height: 1, SHA256: "x", Day: "2025-03-04"}, Bytes: []byte("x"), Small: []byte("x")}}))
}

// TestLimitBeforeAndAfter: a new version of a limit tells what it was before.
func TestLimitBeforeAndAfter(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, _ := aFleet(t, b)
	l := must[Limits](t)(b.LimitsOf(ctx, e.Model.ID, "")).Rows[0]
	before := *l.ServiceMax
	l.ServiceMax, l.Revision = ptr(before+25_400), "B"
	ok(t, b.AddLimit(ctx, l))
	rows, _, err := b.Audit(ctx, AuditFilter{Record: "limit_row", Limit: 1})
	ok(t, err)
	if r := rows[0]; r.Did != "corrected" || !strings.Contains(r.Before, fmt.Sprintf(`"service_max":%d`, before)) || !strings.Contains(r.After, fmt.Sprintf(`"service_max":%d`, before+25_400)) || strings.Contains(r.After, "model_id") {
		t.Errorf("%s %s, before %s, after %s", r.Did, r.What, r.Before, r.After)
	}
	must[CheckReport](t)(b.Check(ctx, ""))
}

// TestToldInWords: what was done, by whom, where it is shown, and what it was
// before.
func TestToldInWords(t *testing.T) {
	b := open(t)
	e, parts := aFleet(t, b)
	everyKind(t, b, e, parts)
	rows := auditOf(t, b)
	find := func(did, record string) AuditRow {
		for _, r := range slices.Backward(rows) {
			if r.Did == did && r.Record == record {
				return r
			}
		}
		t.Errorf("nothing tells of a %s %s", did, record)
		return AuditRow{}
	}
	for _, c := range []struct{ did, record, what, page, before, after string }{
		{"corrected", "reading", "corrected reading of cylinder C-1", "/sheets/19", `"typed":""`, `"reason":"misread"`},
		{"changed", "gauge", "changed gauge BG-2", "/gauges", `{"due":"","sd":5080}`, `{"due":"2027-01-01","sd":7620}`},
		{"changed", "stay", "changed installation of cylinder C-2", "/parts/2", `{"void":""}`, `{"void":"wrong position"}`},
		{"entered", "mark", "entered work honed of cylinder C-2", "/parts/2", "", `"event":"honed"`},
		{"entered", "setting", "entered setting unit", "/settings", "", `{"key":"unit","value":"in"}`},
		{"changed", "wider", "changed comparison group of cylinder barrel bore", "/features/1/group", `{"models":0,"surfaces":1}`, `{"models":1,"surfaces":0}`},
		{"changed", "part", "changed cylinder C-2", "/parts/2", `{"status":"on engine"}`, `{"status":"on shelf"}`},
		{"entered", "leak_rule", "entered leak rule of Invented 9", "/models/1/leak", "", `"minimum":600`},
		{"entered", "engine", "entered engine R-1", "/engines/1", "", `"cylinders":9`},
		{"entered", "checklist", "entered checklist of Invented 9", "/models/1/checklist", "", `"model_id":1`},
		{"entered", "job", "entered job of engine R-1", "/jobs/1", "", `"why":"oil use"`},
		{"entered", "job_decision", "entered decision of cylinder C-4", "/jobs/1/bench", "", `"disposition":"reuse"`},
		{"entered", "photo", "entered photograph of engine R-1", "/photos/1", "", `"position":4`},
		{"changed", "password", "changed password of J. Example", "/people/1", `"hash"`, `"hash"`},
		{"entered", "outbox_receipt", "entered receipt of a form", "/sheets/1", "", `"form":"/measure"`},
	} {
		r := find(c.did, c.record)
		if r.What != c.what || r.Page != c.page || !strings.Contains(r.After, c.after) || c.before == "" && r.Before != "" || !strings.Contains(r.Before, c.before) && c.record != "reading" {
			t.Errorf("%s %s: %q at %s, before %s, after %s", c.did, c.record, r.What, r.Page, r.Before, r.After)
		}
		if r.Record == "gauge" && (r.Person != 7 || r.Who != "J. Example" || r.Device != "tablet 2") {
			t.Errorf("done by %d %q on %q", r.Person, r.Who, r.Device)
		}
	}
	if r := sound(t, b); r.Head != must[Head](t)(b.Head(context.Background())) || r.Records < 60 || r.Head.Rows != int64(len(rows)) {
		t.Errorf("checked: %+v", r)
	}
}

// TestOneRowForMany: the readings of a sheet, and all that an import brings,
// are told of by a row for each table.
func TestOneRowForMany(t *testing.T) {
	b := open(t)
	e := addRadial(t, b, "R-1")
	c := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	thrust, pin := reading(t, b, c, wear.Cylinder, "barrel bore", 0, "5.2512"), reading(t, b, c, wear.Cylinder, "barrel bore", 0, "5.2511")
	thrust.Station, pin.Station, thrust.Axis, pin.Axis = "top", "top", "thrust", "pin"
	rows := told(t, b, func() { sheetOn(t, b, e, 1, "2025-02-01", 61_000, thrust, pin) })
	for _, r := range rows {
		if r.Record == "reading" && (r.Rows != 2 || r.First != 1 || r.Last != 2 || r.What != "entered 2 readings of cylinder C-1" || r.Page != "/sheets/1") {
			t.Errorf("the readings of a sheet: %+v", r)
		}
	}
	if len(rows) != 3 { // meter, sheet, readings
		t.Errorf("a sheet is told of in %d rows", len(rows))
	}
	rows = told(t, b, func() { bringsTwo(t, b) })
	seen := map[string]bool{}
	for _, r := range rows {
		if seen[r.Record+r.Did] {
			t.Errorf("an import has two rows of %s: %+v", r.Record, r)
		}
		seen[r.Record+r.Did] = true
	}
	if none := told(t, b, func() { importRows(t, b, true, barrelRow(2, "2025-01-01", 10_000, 3, "C-9", "5.2520")) }); len(none) > 0 {
		t.Errorf("an import on trial is told of: %+v", none)
	}
	sound(t, b)
}

// TestNothingToTell: what changes no record, or fails, is not told of.
func TestNothingToTell(t *testing.T) {
	b, ctx := open(t), context.Background()
	e, parts := aFleet(t, b)
	rows := told(t, b, func() {
		must[int](t)(b.Refresh(ctx))
		ok(t, b.SaveModel(ctx, must[Model](t)(b.Model(ctx, e.Model.ID))))
		refusal(t, b.Remove(ctx, parts[0], "2020-01-01", 10, "x", false), "hours")
	})
	if len(rows) > 0 {
		t.Errorf("told of nothing: %+v", rows)
	}
}

// TestAuditedConnection: the writing connection may be lost; a new one notes
// changes as well.
func TestAuditedConnection(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	b.write.SetMaxIdleConns(-1) // closes it
	b.write.SetMaxIdleConns(1)
	rows := told(t, b, func() {
		ok(t, b.SaveEngine(ctx, e.ID, NewEngine{Serial: "R-1", Model: "Invented 9", Arrangement: "radial", Cylinders: 9, Notes: "new mounts", Day: "2024-01-01"}))
	})
	if len(rows) != 1 || !strings.Contains(rows[0].After, `"notes":"new mounts"`) {
		t.Errorf("after a new connection: %+v", rows)
	}
	sound(t, b)
}

// TestSecretsHidden: of a column that may hold a secret only a digest is told.
func TestSecretsHidden(t *testing.T) {
	a := newAuditTable([]tableColumn{{table: "person", name: "id", kind: "INTEGER", key: 1}, {table: "person", name: "password", kind: "TEXT"}, {table: "person", name: "photo", kind: "BLOB"}})
	b, ctx := open(t), context.Background()
	if got := a.exprs("NEW."); got != `NEW."id", audit_secret(NEW."password"), NEW."photo"` {
		t.Errorf("columns %s", got)
	}
	var text string
	ok(t, b.read.QueryRowContext(ctx, "SELECT audit_row(1, audit_secret('pa55'), x'00ff', NULL, 0.1, 'a\"é')").Scan(&text))
	// sha256sum of pa55 and of the two bytes, by coreutils.
	want := `[1,"sha256:` + sha256Pa55 + `","sha256:` + sha256Bytes + `",null,0.1,"a\"é"]`
	if text != want {
		t.Errorf("row %s, want %s", text, want)
	}
	if !json.Valid([]byte(text)) {
		t.Error("it is no JSON")
	}
}

// By sha256sum of coreutils.
const (
	sha256Pa55  = "6fcb5c247e745f625b524676ff53a8280d309762f246385973f32830fe311a0a"
	sha256Bytes = "06eb7d6a69ee19e5fbdf749018d3d2abfa04bcbd1365db312eb86dc7169389b8"
)
