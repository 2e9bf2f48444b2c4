package store

import (
	"context"
	"database/sql"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"github.com/pressly/goose/v3"

	"barrelbook/migrations"
	"barrelbook/wear"
)

// TestReceipt: a receipt is in the book when, and only when, what it is of is
// there; it is never changed.
func TestReceipt(t *testing.T) {
	b, ctx := open(t), context.Background()
	e := addRadial(t, b, "R-1")
	part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-1"}, Place{Engine: e.ID, Position: 1})
	shows := wear.Hours(61_000)
	sheet := NewSheet{Sheet: Sheet{UID: "s-1", Day: "2025-02-01", Engine: e.ID, Position: 1}, Shows: &shows}
	receipt := Receipt{UID: "s-1", Form: "/measure/engine/1/1", Digest: "d", Device: "stand 2", DeviceTime: "2025-02-01T08:00:00Z", Skew: ptr(-7), Page: "0a0b0c0d"}
	sent := Receiving(As(ctx, Actor{Person: 3, Name: "A. Smith"}), receipt)
	if _, err := b.SaveSheet(sent, sheet); err == nil {
		t.Fatal("an empty sheet was saved")
	}
	if _, err := b.Receipt(ctx, "s-1"); !errors.Is(err, ErrNotFound) {
		t.Errorf("the receipt of a refused sheet: %v", err)
	}
	one := reading(t, b, part, wear.Cylinder, "barrel bore", 0, "5.2512")
	one.Station, one.Axis = "top", "thrust"
	sheet.Readings = []NewReading{one}
	id := must[int64](t)(b.SaveSheet(sent, sheet))
	got := must[Receipt](t)(b.Receipt(ctx, "s-1"))
	if got.ReceivedAt == "" || *got.Skew != -7 {
		t.Errorf("receipt %+v", got)
	}
	got.ReceivedAt, got.Skew = "", receipt.Skew
	receipt.Answer, receipt.Person = "/sheets/1", "A. Smith"
	if id != 1 || got != receipt {
		t.Errorf("sheet %d has the receipt %+v, want %+v", id, got, receipt)
	}
	if again := must[int64](t)(b.SaveSheet(sent, sheet)); again != id {
		t.Errorf("sent again it is sheet %d", again)
	}
	receipt.Digest = "e"
	var bad Invalid
	if _, err := b.SaveSheet(Receiving(ctx, receipt), sheet); !errors.As(err, &bad) || bad[0].Href != "/sheets/1" {
		t.Errorf("another sheet of its name: %v", err)
	}
	for _, q := range []string{"UPDATE outbox_receipt SET answer = '/sheets/2'", "DELETE FROM outbox_receipt"} {
		if _, err := b.write.ExecContext(ctx, q); err == nil {
			t.Errorf("allowed: %s", q)
		}
	}
}

// TestRecent: what was worked on last comes first, and an import of old
// history is work too.
func TestRecent(t *testing.T) {
	b, ctx := open(t), context.Background()
	if es := must[[]Engine](t)(b.RecentEngines(ctx, 5)); len(es) != 0 {
		t.Errorf("an empty book has recent engines %v", es)
	}
	for _, serial := range []string{"R-1", "R-2", "R-3"} {
		e := addRadial(t, b, serial)
		part := addFitted(t, b, Part{Kind: wear.Cylinder, Serial: "C-" + serial}, Place{Engine: e.ID, Position: 1})
		if serial != "R-2" {
			measure(t, b, e, 1, part, "2024-05-01", 10_000, "5.2502")
		}
	}
	two := must[[]Engine](t)(b.EnginesBySerial(ctx, "R-2"))[0]
	b.now = func() time.Time { return time.Date(2027, 1, 1, 12, 0, 0, 0, time.UTC) }
	saveLeak(t, b, leakTest(t, two, 1, "2024-06-01", 30_000, "0.060", 720))
	var serials []string
	for _, e := range must[[]Engine](t)(b.RecentEngines(ctx, 2)) {
		serials = append(serials, e.Serial)
	}
	if len(serials) != 2 || serials[0] != "R-2" || serials[1] != "R-3" {
		t.Errorf("worked on last: %v, want R-2, then R-3", serials)
	}
	shelf := must[int64](t)(b.AddPart(ctx, Part{Kind: wear.Cylinder, Serial: "C-90", Source: "new"}))
	must[int64](t)(b.SaveSheet(ctx, NewSheet{Sheet: Sheet{Day: "2024-06-02"}, Readings: []NewReading{reading(t, b, shelf, wear.Cylinder, "barrel bore", 0, "5.2512")}}))
	if got := must[[]int64](t)(b.RecentShelf(ctx, 5)); len(got) != 1 || got[0] != shelf {
		t.Errorf("measured on the shelf: %v, want %d", got, shelf)
	}
}

// TestBookBeforeOutbox: a book of the version before opens, gets a name of its
// own, and keeps it.
func TestBookBeforeOutbox(t *testing.T) {
	ctx := context.Background()
	names := map[string]bool{}
	for range 2 {
		path := filepath.Join(t.TempDir(), "book.db")
		db := must[*sql.DB](t)(sql.Open("sqlite", dsn(path)))
		provider := must[*goose.Provider](t)(goose.NewProvider(goose.DialectSQLite3, db, migrations.FS))
		must[[]*goose.MigrationResult](t)(provider.UpTo(ctx, 8))
		if _, err := db.ExecContext(ctx, "INSERT INTO setting (key, value) VALUES ('shop', 'An old shop')"); err != nil {
			t.Fatal(err)
		}
		ok(t, db.Close())
		b := must[*Book](t)(Open(ctx, path))
		s := must[Settings](t)(b.Settings(ctx))
		if s.Shop != "An old shop" || len(s.Book) != 32 {
			t.Errorf("opened, it is %+v", s)
		}
		s.Shop = "A new shop"
		ok(t, b.SaveSettings(ctx, s))
		ok(t, b.Close())
		b = must[*Book](t)(Open(ctx, path))
		if again := must[Settings](t)(b.Settings(ctx)); again.Book != s.Book || again.Shop != "A new shop" {
			t.Errorf("opened again, it is %+v, was %s", again, s.Book)
		}
		ok(t, b.Close())
		names[s.Book] = true
	}
	if len(names) != 2 {
		t.Errorf("two books are called %v", names)
	}
}
