package store

import (
	"context"
	"database/sql"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"barrelbook/migrations"
	"barrelbook/wear"
)

// tightBook has the ring 2 side clearance of US Army TM 9-2815-220-34 table
// 3-11, 0.0055L to 0.0075L, service 0.0110L, an end gap, and a piston and ring
// at position 1.
func tightBook(t *testing.T) (b *Book, e Engine, piston, ring int64) {
	t.Helper()
	b = open(t)
	e, piston, ring = tightParts(t, b)
	return b, e, piston, ring
}

func tightParts(t *testing.T, b *Book) (e Engine, piston, ring int64) {
	t.Helper()
	ctx := context.Background()
	e = addRadial(t, b, "R-1")
	for _, l := range []struct {
		kind                     wear.Kind
		name, low, high, service string
	}{{wear.Piston, "side clearance", "0.0055", "0.0075", "0.0110"}, {wear.Ring, "end gap", "0.0160", "0.0240", "0.0420"}, {wear.Piston, "groove width", "0.0955", "0.0965", "0.1000"}} {
		ok(t, b.AddLimit(ctx, LimitRow{Model: e.Model.ID, Feature: feature(t, b, l.kind, l.name).ID, Unit: wear.Inch, Document: "TM 9-2815-220-34",
			Limit: wear.Limit{NewMin: ptr(inches(t, l.low)), NewMax: ptr(inches(t, l.high)), ServiceMax: ptr(inches(t, l.service)), Wear: wear.Up}}))
	}
	piston = addFitted(t, b, Part{Kind: wear.Piston, Serial: "P-1"}, Place{Engine: e.ID, Position: 1})
	ring = addFitted(t, b, Part{Kind: wear.Ring, Serial: "K-1"}, Place{Engine: e.ID, Position: 1, Groove: 2})
	return e, piston, ring
}

// TestTightClearance: what is tighter than new is beyond and comes to the
// findings with by how much; seen by a person, it comes back when it is
// tighter still or too loose.
func TestTightClearance(t *testing.T) {
	b, e, piston, _ := tightBook(t)
	ctx := context.Background()
	for i, c := range []struct {
		value string
		want  wear.Verdict
		room  string
		edge  wear.Edge
	}{
		{"0.0090", wear.Serviceable, "0.0020", wear.ServiceEdge},
		{"0.0020", wear.Beyond, "-0.0035", wear.TightNewEdge},
		{"0.0005", wear.Beyond, "-0.0050", wear.TightNewEdge},
		{"0.0000", wear.Beyond, "-0.0055", wear.TightNewEdge},
		{"0.0130", wear.Beyond, "-0.0020", wear.ServiceEdge},
		{"0.0056", wear.Undecided, "0.0001", wear.TightNewEdge},
	} {
		day := wear.Day("2025-01-0" + string(rune('1'+i)))
		sheetOn(t, b, e, 1, day, wear.Hours(10_000+1_000*i), reading(t, b, piston, wear.Piston, "side clearance", 2, c.value))
		fs := must[[]Finding](t)(b.FindingsOf(ctx, piston))
		if len(fs) != 1 || fs[0].Verdict != c.want || fs[0].Room != float64(inches(t, c.room)) || fs[0].Edge != c.edge {
			t.Fatalf("%s: %+v, want %s", c.value, fs, c.want)
		}
		if p := must[Part](t)(b.Part(ctx, piston)); p.Verdict != c.want {
			t.Errorf("%s: the part is %s", c.value, p.Verdict)
		}
		beyond := must[[]Finding](t)(b.TopBeyondLimit(ctx, 10))
		if (c.want == wear.Beyond) != (len(beyond) == 1) {
			t.Fatalf("%s: %d findings beyond a limit", c.value, len(beyond))
		}
		if c.want == wear.Beyond {
			if !beyond[0].Open() {
				t.Errorf("%s: was not opened again", c.value)
			}
			ok(t, b.Acknowledge(ctx, beyond[0].Series, "A. Smith", "noted"))
			if must[Finding](t)(b.Finding(ctx, beyond[0].Series)).Open() {
				t.Errorf("%s: still open", c.value)
			}
		}
	}
}

// TestSeenTightStaysSeen: a looser reading that is still too tight is no news.
func TestSeenTightStaysSeen(t *testing.T) {
	b, e, piston, _ := tightBook(t)
	ctx := context.Background()
	sheetOn(t, b, e, 1, "2025-01-01", 10_000, reading(t, b, piston, wear.Piston, "side clearance", 2, "0.0010"))
	ok(t, b.Acknowledge(ctx, must[[]Finding](t)(b.BeyondLimit(ctx))[0].Series, "A. Smith", "noted"))
	sheetOn(t, b, e, 1, "2025-01-02", 11_000, reading(t, b, piston, wear.Piston, "side clearance", 2, "0.0020"))
	if fs := must[[]Finding](t)(b.BeyondLimit(ctx)); len(fs) != 1 || fs[0].Open() {
		t.Errorf("%+v", fs)
	}
}

// TestTightIsPlausible: the smallest clearances and gaps are what a stuck ring
// shows. What is far too large is still asked about, and so is a size of one
// part that is far too small.
func TestTightIsPlausible(t *testing.T) {
	b, e, piston, ring := tightBook(t)
	for i, c := range []struct {
		part    int64
		kind    wear.Kind
		name    string
		value   string
		refused string
	}{
		{piston, wear.Piston, "side clearance", "0.0005", ""},
		{piston, wear.Piston, "side clearance", "0.0000", ""},
		{piston, wear.Piston, "side clearance", "-0.0001", "cannot be that small"},
		{piston, wear.Piston, "side clearance", "0.0550", "is the decimal point right?"},
		{ring, wear.Ring, "end gap", "0.0005", ""},
		{ring, wear.Ring, "end gap", "0.0000", ""},
		{ring, wear.Ring, "end gap", "-0.0020", "cannot be that small"},
		{ring, wear.Ring, "end gap", "0.2000", "is the decimal point right?"},
		{piston, wear.Piston, "groove width", "0.0096", "is the decimal point right?"},
	} {
		groove := 0
		if c.kind == wear.Piston {
			groove = 2
		}
		hours := wear.Hours(10_000 + i)
		_, err := b.SaveSheet(context.Background(), NewSheet{Sheet: Sheet{Day: "2025-01-01", Engine: e.ID, Position: 1}, Shows: &hours,
			Readings: []NewReading{reading(t, b, c.part, c.kind, c.name, groove, c.value)}})
		if c.refused == "" && err != nil || c.refused != "" && (err == nil || !strings.Contains(err.Error(), c.refused)) {
			t.Errorf("%s of %s: %v, want %q", c.name, c.value, err, c.refused)
		}
	}
}

// TestOlderVerdicts opens a book whose tight clearance was called serviceable
// before: it is judged anew, and only once.
func TestOlderVerdicts(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "book.db")
	b := must[*Book](t)(Open(ctx, path))
	e, piston, ring := tightParts(t, b)
	sheetOn(t, b, e, 1, "2025-01-01", 10_000, reading(t, b, piston, wear.Piston, "side clearance", 2, "0.0020"), reading(t, b, ring, wear.Ring, "end gap", 0, "0.0080"))
	ok(t, b.Close())
	db := must[*sql.DB](t)(sql.Open("sqlite", dsn(path)))
	_, mark, found := strings.Cut(string(must[[]byte](t)(migrations.FS.ReadFile("0012_tight.sql"))), "UPDATE series")
	mark, _, _ = strings.Cut(mark, ";")
	if !found {
		t.Fatal("the migration marks nothing")
	}
	for _, q := range []string{"UPDATE series SET verdict = 2, plain = 2, room = 0, edge = 0", "UPDATE part SET verdict = 2", // as they were
		"UPDATE series" + mark} {
		if _, err := db.ExecContext(ctx, q); err != nil {
			t.Fatal(q, err)
		}
	}
	ok(t, db.Close())
	b = must[*Book](t)(Open(ctx, path))
	t.Cleanup(func() { ok(t, b.Close()) })
	var got []int64
	for _, f := range must[[]Finding](t)(b.BeyondLimit(ctx)) {
		got = append(got, f.Part)
		if f.Edge != wear.TightNewEdge || f.Room >= 0 {
			t.Errorf("%+v", f)
		}
	}
	slices.Sort(got)
	if !slices.Equal(got, []int64{piston, ring}) {
		t.Errorf("beyond are %v, want %d and %d", got, piston, ring)
	}
	var left int
	ok(t, b.read.QueryRowContext(ctx, "SELECT count(*) FROM series WHERE outdated = 1").Scan(&left))
	if p := must[Part](t)(b.Part(ctx, piston)); left != 0 || p.Verdict != wear.Beyond {
		t.Errorf("%d summaries are outdated still, the piston is %s", left, p.Verdict)
	}
	sound(t, b)
}

// TestOlderPushedRing opens a book in which a honing did not begin a new run of
// the gap of a pushed ring: it does now, without a wear that nobody wore.
func TestOlderPushedRing(t *testing.T) {
	ctx := context.Background()
	path := olderBook(t, 20,
		"INSERT INTO feature (id, kind, name, dim, wear, built_in, saved_at) VALUES (2, 'cylinder', 'gap of a pushed ring', 'length', 'up', 1, '')",
		"INSERT INTO part (id, kind, serial, source, status, model_id, saved_at) VALUES (2, 'cylinder', 'C-honed', 'new', 'on shelf', 1, '')",
		"INSERT INTO mark (part_id, event, day, at_hours, saved_at) VALUES (2, 'honed', '2024-02-10', 10000, '')",
		"INSERT INTO sheet (id, uid, day, saved_at) VALUES (2, 'a', '2024-02-02', ''), (3, 'b', '2024-03-02', '')",
		"INSERT INTO reading (id, root, sheet_id, part_id, feature_id, station, value, unit, part_hours, saved_at) VALUES (9, 9, 2, 2, 2, 'top', 500000, 'in', 10000, ''), (10, 10, 3, 2, 2, 'top', 600000, 'in', 20000, '')",
		"INSERT INTO peers (id, feature_id, model_id, groove, station, surface, facing) VALUES (1, 2, 1, 0, 'top', '', '')",
		"INSERT INTO series (part_id, feature_id, groove, station, run, current, peers_id, start_event, start_day, start_hours, oversize, points, assumed, allowance, life, last_day, last_value, verdict, plain) VALUES (2, 2, 0, 'top', 1, 1, 1, 'first seen', '', 0, 0, x'', 0, 0, 0, '2024-03-02', 600000, 0, 0)")
	b := must[*Book](t)(Open(ctx, path))
	t.Cleanup(func() { ok(t, b.Close()) })
	ss := must[[]Series](t)(b.SeriesOf(ctx, 2))
	if len(ss) != 2 || ss[0].Start.Event != wear.Honed || len(ss[0].Points) != 1 || len(ss[1].Points) != 1 {
		t.Errorf("the series are %+v", ss)
	}
	sound(t, b)
}
