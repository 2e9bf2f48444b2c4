package server

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/go-chi/chi/v5"

	"barrelbook/store"
	"barrelbook/wear"
)

// must returns v, or ends the test.
func must[T any](t testing.TB) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func emptyBook(t testing.TB) *store.Book {
	t.Helper()
	b := must[*store.Book](t)(store.Open(context.Background(), filepath.Join(t.TempDir(), "book.db")))
	t.Cleanup(func() { ok(t, b.Close()) })
	return b
}

func inches(t testing.TB, text string) wear.Value {
	t.Helper()
	return must[wear.Value](t)(wear.ParseValue(text, wear.Inch))
}

func ptr[T any](v T) *T { return &v }

// filled is a small book with something of everything, and where to find it.
type filled struct {
	*store.Book
	engine             store.Engine
	cylinders          [9]int64
	piston, ring, pin  int64
	shelf, scrapped    int64
	gauge, limit       int64
	boreID             int64
	fast               int64 // series of the barrel that wears fast
	struckStay, sheet  int64
	reading, meterRoot int64
	tester             int64
	leak, leakReading  int64 // roots of a leak test and of a reading on it
	job                int64 // under way on positions 4 and 7, 4 off
	job8               int64 // under way at position 8
	benchJob, tick     int64 // a job on positions 1 and 9, a step ticked in it
	photo              int64
}

// fill opens a copy of the filled book, which is made once.
func fill(t testing.TB) *filled {
	t.Helper()
	original.Do(func() { original.filled, original.file = makeFilled(t) })
	if original.file == nil {
		t.Fatal("the filled book could not be made")
	}
	path := filepath.Join(t.TempDir(), "book.db")
	ok(t, os.WriteFile(path, original.file, 0o600))
	b := original.filled
	b.Book = must[*store.Book](t)(store.Open(context.Background(), path))
	t.Cleanup(func() { ok(t, b.Close()) })
	return &b
}

var original struct {
	sync.Once
	filled
	file []byte
}

// makeFilled makes a nine-cylinder engine whose barrels were measured three
// times, the one at position 9 wearing fast, with a whole stack at position 1,
// and returns it with the closed file.
func makeFilled(t testing.TB) (filled, []byte) {
	t.Helper()
	ctx, b := context.Background(), &filled{Book: must[*store.Book](t)(store.Open(context.Background(), filepath.Join(t.TempDir(), "book.db")))}
	id := must[int64](t)(b.AddEngine(ctx, store.NewEngine{Serial: "R-1", Model: "Invented 9", Arrangement: "radial", Cylinders: 9, MasterRod: 5, Aircraft: "an aeroplane", Notes: "a note", Day: "2024-01-01"}))
	b.engine = must[store.Engine](t)(b.Engine(ctx, id))
	b.gauge = must[int64](t)(b.SaveGauge(ctx, store.Gauge{Name: "BG-2", Unit: wear.Inch, SD: 5080, Resolution: 2540, Due: "2024-03-01"}))
	b.boreID = b.feature(t, wear.Cylinder, "barrel bore").ID
	b.addLimits(t)
	at := func(position, groove int) store.Place {
		return store.Place{Engine: id, Position: position, Groove: groove}
	}
	for i := range b.cylinders {
		b.cylinders[i] = b.fitted(t, store.Part{Kind: wear.Cylinder, Serial: fmt.Sprintf("C-%d", i+1), PartNumber: "PN-7", Surface: "nitrided"}, at(i+1, 0))
	}
	b.piston, b.pin = b.fitted(t, store.Part{Kind: wear.Piston, Serial: "P-1"}, at(1, 0)), b.fitted(t, store.Part{Kind: wear.Pin, Serial: "N-1"}, at(1, 0))
	b.ring = b.fitted(t, store.Part{Kind: wear.Ring, Serial: "K-1", Facing: "chrome", Groove: 1}, at(1, 1))
	b.shelf = must[int64](t)(b.AddPart(ctx, store.Part{Kind: wear.Cylinder, Serial: "C-90", Source: "overhauled", HoursBefore: 90_000, ModelID: b.engine.Model.ID}))
	b.scrapped = must[int64](t)(b.AddPart(ctx, store.Part{Kind: wear.Piston, Serial: "P-90", Source: "serviceable used"}))
	ok(t, b.ScrapPart(ctx, b.scrapped, "2024-02-01", "cracked"))
	mistaken := b.fitted(t, store.Part{Kind: wear.Pin, Serial: "N-2"}, at(2, 0))
	b.struckStay = must[[]store.Stay](t)(b.StaysOf(ctx, mistaken))[0].ID
	ok(t, b.VoidStay(ctx, b.struckStay, "wrong position"))
	b.measureAll(t)
	ok(t, b.AddMark(ctx, b.shelf, wear.Mark{Event: wear.Ground, Day: "2024-03-01", Oversize: ptr(inches(t, "0.010"))}, "by a specialist"))
	rs := must[[]store.Reading](t)(b.ReadingsOf(ctx, b.cylinders[0]))
	b.reading, b.sheet = rs[0].Root, rs[0].Sheet.ID
	ok(t, b.CorrectReading(ctx, rs[0].ID, inches(t, "5.2510"), "5.2510", "B. Jones", "misread"))
	b.meterRoot = must[[]store.MeterEntry](t)(b.Meter(ctx, id))[0].Root
	b.testLeaks(t)
	b.job = must[int64](t)(b.OpenJob(ctx, store.NewJob{Job: store.Job{Engine: id, Why: "oil use", Detail: "a quart an hour", Day: "2025-01-01", Stands: 2, Who: "A. Smith"}, Shows: ptr(wear.Hours(60_000)), Positions: []int{4, 7},
		Steps: []store.JobStep{{Phase: "removal", Text: "a step each", Each: true}, {Phase: "after", Text: "a step a job", Torque: "200 in-lb"}}}))
	must[int64](t)(b.AddJobEntry(ctx, store.JobEntry{Job: b.job, Kind: store.JobPulled, Position: 4, Who: "A. Smith"}, 1<<40))
	b.job8 = must[int64](t)(b.OpenJob(ctx, store.NewJob{Job: store.Job{Engine: id, Why: "oil use", Day: "2025-01-02", Stands: 8, Who: "A. Smith"}, Shows: ptr(wear.Hours(60_000)), Positions: []int{8}}))
	b.limit = must[store.Limits](t)(b.LimitsOf(ctx, b.engine.Model.ID, "")).Rows[0].ID
	must[int](t)(b.Refresh(ctx))
	fs := must[[]store.Finding](t)(b.FastWear(ctx))
	if len(fs) != 1 {
		t.Fatalf("the filled book has %d findings, want the barrel at position 9", len(fs))
	}
	b.fast = fs[0].Series
	path := b.Path()
	ok(t, b.Close())
	return *b, must[[]byte](t)(os.ReadFile(path))
}

// addLimits types the limits of the barrel, of the side clearance by groove
// and of the pin.
func (b *filled) addLimits(t testing.TB) {
	t.Helper()
	add := func(kind wear.Kind, name string, groove int, l wear.Limit) {
		ok(t, b.AddLimit(context.Background(), store.LimitRow{Model: b.engine.Model.ID, Feature: b.feature(t, kind, name).ID, Groove: groove, Unit: wear.Inch, Document: "Invented manual", Revision: "3", Page: "12", Ref: "501", Limit: l}))
	}
	add(wear.Cylinder, "barrel bore", 0, wear.Limit{NewMin: ptr(inches(t, "5.2490")), NewMax: ptr(inches(t, "5.2510")), ServiceMax: ptr(inches(t, "5.2600")), Wear: wear.Up, Life: 120_000})
	add(wear.Piston, "side clearance", 2, wear.Limit{ServiceMax: ptr(inches(t, "0.0110")), Wear: wear.Up})
	add(wear.Pin, "pin diameter", 0, wear.Limit{NewMin: ptr(inches(t, "1.1246")), NewMax: ptr(inches(t, "1.1250")), ServiceMin: ptr(inches(t, "1.1240")), Wear: wear.Down})
}

func (b *filled) feature(t testing.TB, kind wear.Kind, name string) wear.Feature {
	t.Helper()
	for _, f := range must[[]wear.Feature](t)(b.Features(context.Background())) {
		if f.Kind == kind && f.Called(name) {
			return f
		}
	}
	t.Fatalf("no feature %s", name)
	return wear.Feature{}
}

// fitted makes a part and fits it on 2024-01-01.
func (b *filled) fitted(t testing.TB, p store.Part, at store.Place) int64 {
	t.Helper()
	p.Source = "new"
	id := must[int64](t)(b.AddPart(context.Background(), p))
	ok(t, b.Install(context.Background(), id, at, "2024-01-01", 0))
	return id
}

// measureAll saves three sheets a position, at 0, 300 and 600 h.
func (b *filled) measureAll(t testing.TB) {
	t.Helper()
	bores := [3]string{"5.2500 5.2500 5.2500 5.2500 5.2500 5.2500 5.2500 5.2500 5.2500", "5.2505 5.2504 5.2505 5.2506 5.2505 5.2504 5.2505 5.2506 5.2530", "5.2509 5.2508 5.2510 5.2511 5.2509 5.2508 5.2509 5.2511 5.2560"}
	for i, day := range []wear.Day{"2024-01-01", "2024-06-01", "2025-01-01"} {
		for pos, bore := range strings.Fields(bores[i]) {
			rs := []store.NewReading{b.number(t, b.cylinders[pos], wear.Cylinder, "barrel bore", bore)}
			rs[0].Station, rs[0].Axis = "top", "thrust"
			if pos == 0 {
				rs = append(rs, b.number(t, b.pin, wear.Pin, "pin diameter", "1.1248"), b.number(t, b.ring, wear.Ring, "axial width", "0.0930"), b.number(t, b.piston, wear.Piston, "side clearance", "0.0040"))
				rs[3].Groove = 2
			}
			b.save(t, day, wear.Hours(i)*30_000, pos+1, rs...)
		}
	}
}

// testLeaks saves two leak tests, of positions 1 and 2 through the large orifice
// and of position 1 through the small one, and corrects a reading.
func (b *filled) testLeaks(t testing.TB) {
	t.Helper()
	ctx := context.Background()
	b.tester = must[int64](t)(b.SaveGauge(ctx, store.Gauge{Name: "LT-1", Unit: store.Psi, SD: 300_000, Resolution: 500_000, Due: "2024-09-01"}))
	head := store.LeakTest{Engine: b.engine.ID, Day: "2024-06-01", Who: "A. Smith", Regulated: 800, Orifice: wear.LargeOrifice, Unit: wear.Inch, Gauge: b.tester, Master: ptr(wear.PSI(430)), Minutes: ptr(15), Note: "staked once"}
	b.leak = must[int64](t)(b.SaveLeakTest(ctx, store.NewLeakTest{LeakTest: head, Shows: ptr(wear.Hours(30_000)), Readings: []store.NewLeakReading{{Position: 1, Reading: 700}, {Position: 2, Reading: 580, Recheck: ptr(wear.PSI(590)), Heard: []wear.AirHeard{wear.AirAtExhaust}}}}))
	_, rs, err := b.LeakTest(ctx, b.leak)
	ok(t, err)
	b.leakReading = rs[1].Root
	ok(t, b.CorrectLeakReading(ctx, b.leakReading, ptr(wear.PSI(570)), ptr(wear.PSI(590)), []wear.AirHeard{wear.AirAtExhaust}, "B. Jones", "digit misread"))
	head.Day, head.Orifice = "2025-01-01", wear.SmallOrifice
	must[int64](t)(b.SaveLeakTest(ctx, store.NewLeakTest{LeakTest: head, Shows: ptr(wear.Hours(60_000)), Readings: []store.NewLeakReading{{Position: 1, Reading: 440}}}))
}

func (b *filled) number(t testing.TB, part int64, kind wear.Kind, name, value string) store.NewReading {
	t.Helper()
	return store.NewReading{Part: part, Feature: b.feature(t, kind, name).ID, Value: inches(t, value), Typed: value, Unit: wear.Inch, Gauge: b.gauge, SD: 5080, Resolution: 2540}
}

func (b *filled) save(t testing.TB, day wear.Day, shows wear.Hours, position int, rs ...store.NewReading) int64 {
	t.Helper()
	return must[int64](t)(b.SaveSheet(context.Background(), store.NewSheet{Sheet: store.Sheet{Day: day, Engine: b.engine.ID, Position: position, Who: "A. Smith", Temperature: ptr(20.5), Note: "after cleaning"}, Shows: &shows, Readings: rs}))
}

// serving is the whole server on a book, for an owner who is a mechanic too and
// signed in. What it logs comes back in logged.
func serving(t testing.TB, book *store.Book) (h http.Handler, logged *strings.Builder) {
	t.Helper()
	s, logged := serverOn(t, book)
	return s.as(t, addPerson(t, book, store.Person{Name: "A. Owner", Roles: store.Owner | store.Mechanic})), logged
}

func serverOn(t testing.TB, book *store.Book) (*testServer, *strings.Builder) {
	t.Helper()
	logged := &strings.Builder{}
	s := &testServer{Server: New(book, slog.New(slog.NewTextHandler(logged, nil)))}
	s.mux = s.Handler().(*chi.Mux)
	t.Cleanup(func() { ok(t, s.Close()) })
	return s, logged
}

// testServer is a server that people can be signed in to without a password.
type testServer struct {
	*Server
	mux *chi.Mux
}

// as is the server for a person who is signed in; 0 for nobody.
func (s *testServer) as(t testing.TB, person int64) http.Handler {
	t.Helper()
	if person == 0 {
		return s.mux
	}
	cookie := must[*http.Cookie](t)(s.SignedIn(context.Background(), person, "localhost"))
	return signedIn{s.mux, cookie.Value}
}

// signedIn adds the cookie of a session to requests without one.
type signedIn struct {
	*chi.Mux
	id string
}

func (h signedIn) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if len(r.Cookies()) == 0 {
		r.AddCookie(&http.Cookie{Name: cookieName(r), Value: h.id})
	}
	h.Mux.ServeHTTP(w, r)
}

// testPassword is that of everybody whom addPerson adds.
const testPassword = "quiet lamp under stairs"

var testHash = sync.OnceValue(func() string { return HashPassword(testPassword) })

// addPerson adds somebody, or finds who is called that already.
func addPerson(t testing.TB, book *store.Book, p store.Person) int64 {
	t.Helper()
	for _, x := range must[[]store.Person](t)(book.People(context.Background())) {
		if x.Name == p.Name {
			return x.ID
		}
	}
	return must[int64](t)(book.AddPerson(context.Background(), p, store.Password{Hash: testHash()}))
}

// get asks for a page as a browser on this machine does.
func get(h http.Handler, path string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	r := httptest.NewRequest(http.MethodGet, path, nil)
	r.Host = "localhost:8440"
	h.ServeHTTP(w, r)
	return w
}

// post sends a form as a page of the program does.
func post(h http.Handler, path string, values url.Values) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(values.Encode()))
	r.Host = "localhost:8440"
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	h.ServeHTTP(w, r)
	return w
}
