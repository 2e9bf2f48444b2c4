package store

import (
	"context"
	"database/sql"
	"errors"
	"math"
	"path/filepath"
	"testing"

	"github.com/pressly/goose/v3"

	"barrelbook/migrations"
	"barrelbook/wear"
)

// TestFacingList: an entry is replaced by a new one with a reason, whatever
// way its names are written; the old one stays, and neither can be changed.
func TestFacingList(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := FacingEntry{Facing: " Plain-Iron ", Surface: "chrome-plated", Says: FacingAllowed, Document: "Invented list, p. 1"}
	ok(t, b.AddFacing(ctx, e))
	judge := func() wear.FacingState {
		t.Helper()
		a := must[wear.FacingAnswer](t)(wear.JudgeFacing("plain iron", "Chrome plated", must[wear.FacingRules](t)(b.FacingRules(ctx))))
		return a.State
	}
	if judge() != wear.FacingAllowed {
		t.Errorf("the pair is %s, want allowed", judge())
	}
	e.Facing, e.Says = "plain_iron", FacingNotAllowed
	var bad Invalid
	if err := b.AddFacing(ctx, e); !errors.As(err, &bad) || bad.For("reason") == "" {
		t.Errorf("replaced without a reason: %v", err)
	}
	e.Reason = "revision 2 of the list"
	ok(t, b.AddFacing(ctx, e))
	if judge() != wear.FacingNotAllowed {
		t.Errorf("after the replacement the pair is %s", judge())
	}
	e.Says, e.Reason = FacingWithdrawn, "read from the wrong line"
	ok(t, b.AddFacing(ctx, e))
	if judge() != wear.FacingUnknown {
		t.Errorf("taken back, the pair is %s", judge())
	}
	all := must[[]FacingEntry](t)(b.Facings(ctx))
	if len(all) != 3 || all[0].Struck || !all[1].Struck || !all[2].Struck || all[2].Facing != "Plain-Iron" {
		t.Errorf("the list shows %+v", all)
	}
	for _, change := range []string{"UPDATE facing_pair SET says = 'allowed'", "DELETE FROM facing_pair"} {
		if _, err := b.write.ExecContext(ctx, change); err == nil {
			t.Errorf("%s was let through", change)
		}
	}
	for field, e := range map[string]FacingEntry{
		"facing":   {Facing: "-", Surface: "nitrided", Says: FacingAllowed, Document: "x"},
		"surface":  {Facing: "a", Surface: " ", Says: FacingAllowed, Document: "x"},
		"says":     {Facing: "a", Surface: "nitrided", Says: FacingWithdrawn, Document: "x"},
		"document": {Facing: "a", Surface: "nitrided", Says: FacingAllowed, Document: " "},
	} {
		if err := b.AddFacing(ctx, e); !errors.As(err, &bad) || len(bad) != 1 || bad.For(field) == "" {
			t.Errorf("%+v: %v, want a fault at %s alone", e, err, field)
		}
	}
}

// TestDespite: the reason given for a pair that is not allowed stays with the
// installation, of the ring that it was given for alone.
func TestDespite(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	ok(t, b.InstallAll(ctx, e.ID, 2, "2024-01-01", 0, []Fitting{
		{Part: Part{Kind: wear.Ring, Serial: "K-1", Source: "new"}, Groove: 1, Despite: "ferry flight, invented approval 7"},
		{Part: Part{Kind: wear.Ring, Serial: "K-2", Source: "new"}, Groove: 2},
	}))
	for _, s := range must[[]Stay](t)(b.StaysAt(ctx, e.ID, 2)) {
		want := ""
		if s.Serial == "K-1" {
			want = "ferry flight, invented approval 7"
		}
		if s.Despite != want {
			t.Errorf("%s was fitted although %q, want %q", s.Serial, s.Despite, want)
		}
	}
	var bad Invalid
	err := b.InstallAll(ctx, e.ID, 99, "2024-01-01", 0, []Fitting{{Part: Part{Kind: wear.Ring, Serial: "K-3", Source: "new"}, Groove: 1}})
	if !errors.As(err, &bad) || bad.For("position") == "" {
		t.Errorf("a fitting that names no field: %v, want a fault at the position", err)
	}
}

// TestRingMaterial: material and modulus come back as they were given, and
// what is neither is refused.
func TestRingMaterial(t *testing.T) {
	b, ctx := open(t), context.Background()
	id := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Ring, Serial: "K-1", Source: "new", Material: "SG iron", Modulus: 155_000}))
	p := must[Part](t)(b.Part(ctx, id))
	if p.Material != "SG iron" || p.Modulus != 155_000 {
		t.Errorf("it came back as %s, %d", p.Material, p.Modulus)
	}
	p.Material, p.Modulus = "", 0
	ok(t, b.SavePart(ctx, p))
	if p = must[Part](t)(b.Part(ctx, id)); p.Material != "" || p.Modulus != 0 {
		t.Errorf("emptied, it came back as %s, %d", p.Material, p.Modulus)
	}
	p.Material, p.Modulus = "gold", 999
	var bad Invalid
	if err := b.SavePart(ctx, p); !errors.As(err, &bad) || bad.For("material") == "" || bad.For("modulus") == "" {
		t.Errorf("gold of 999 N/mm²: %v", err)
	}
}

func TestPressureSetting(t *testing.T) {
	b, ctx := open(t), context.Background()
	s := must[Settings](t)(b.Settings(ctx))
	if d, l := wear.DefaultRatioLimits(), s.RatioLimits(); l.High != d.High || math.Abs(l.Low-d.Low) > 1e-15 {
		t.Errorf("a new book warns at %+v, want %+v", s.RatioLimits(), wear.DefaultRatioLimits())
	}
	s.Pressure = 1.25
	ok(t, b.SaveSettings(ctx, s))
	if s = must[Settings](t)(b.Settings(ctx)); s.RatioLimits() != (wear.RatioLimits{High: 1.25, Low: 0.8}) {
		t.Errorf("saved, it warns at %+v", s.RatioLimits())
	}
	for _, x := range []float64{1, 3.5, 0} {
		s.Pressure = x
		var bad Invalid
		if err := b.SaveSettings(ctx, s); !errors.As(err, &bad) || bad.For("pressure_ratio") == "" {
			t.Errorf("a ratio of %g: %v", x, err)
		}
	}
}

// TestBookBeforeRings: a book of the version before opens, and its parts and
// installations are as they were.
func TestBookBeforeRings(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "book.db")
	db := must[*sql.DB](t)(sql.Open("sqlite", path))
	provider := must[*goose.Provider](t)(goose.NewProvider(goose.DialectSQLite3, db, migrations.FS))
	must[[]*goose.MigrationResult](t)(provider.UpTo(ctx, 2))
	for _, row := range []string{
		"INSERT INTO model (id, name) VALUES (1, 'Invented 9')",
		"INSERT INTO engine (id, model_id, serial, arrangement, cylinders, saved_at) VALUES (1, 1, 'R-1', 'radial', 9, '2024-01-01T00:00:00.000Z')",
		"INSERT INTO meter (id, root, engine_id, day, shows, kind, saved_at) VALUES (1, 1, 1, '2024-01-01', 0, 'reading', '2024-01-01T00:00:00.000Z')",
		"INSERT INTO part (id, kind, serial, source, facing, groove, status, saved_at) VALUES (1, 'ring', 'K-1', 'new', 'plain iron', 1, 'on engine', '2024-01-01T00:00:00.000Z')",
		"INSERT INTO stay (part_id, kind, engine_id, position, groove, from_day, from_meter, saved_at) VALUES (1, 'ring', 1, 1, 1, '2024-01-01', 1, '2024-01-01T00:00:00.000Z')",
	} {
		if _, err := db.ExecContext(ctx, row); err != nil {
			t.Fatal(err)
		}
	}
	ok(t, db.Close())
	b := must[*Book](t)(Open(ctx, path))
	defer func() { ok(t, b.Close()) }()
	p := must[Part](t)(b.Part(ctx, 1))
	if p.Serial != "K-1" || p.Facing != "plain iron" || p.Material != "" || p.Modulus != 0 {
		t.Errorf("the ring came through as %+v", p)
	}
	if s := must[[]Stay](t)(b.StaysOf(ctx, 1)); len(s) != 1 || !s[0].Open() || s[0].Despite != "" {
		t.Errorf("its installation came through as %+v", s)
	}
	if s := must[Settings](t)(b.Settings(ctx)); s.Pressure != wear.DefaultRatioLimits().High {
		t.Errorf("it warns above %g", s.Pressure)
	}
	ok(t, b.AddFacing(ctx, FacingEntry{Facing: "plain iron", Surface: "nitrided", Says: FacingAllowed, Document: "Invented list"}))
}
