package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"barrelbook/store"
	"barrelbook/wear"
)

// aDelivery is a sheet of one number for position 1, as a tablet sends it.
func (b *filled) aDelivery(t testing.TB, size string) delivery {
	t.Helper()
	cell := fmt.Sprintf("v-%d-%d-0-0-0", b.cylinders[0], b.boreID)
	return delivery{Format: 1, UID: newUID(), Form: fmt.Sprintf("/measure/engine/%d/1", b.engine.ID), Book: must[store.Settings](t)(b.Settings(t.Context())).Book,
		Device: "stand 2", Time: "2025-02-06T08:00:00.000Z", Page: "0a0b0c0d", Fields: map[string]string{"day": "2025-02-06", "hours": "610", "unit": "in", "mode": "full", cell: size}}
}

// sendOutbox delivers records and reads what is answered.
func sendOutbox(t testing.TB, h http.Handler, status int, records ...delivery) outboxAnswer {
	t.Helper()
	body := must[[]byte](t)(json.Marshal(outboxMessage{Sent: time.Now().UTC().Format(time.RFC3339), Records: records}))
	w := sendJSON(h, string(body))
	if w.Code != status {
		t.Errorf("status %d, want %d: %s", w.Code, status, w.Body)
	}
	var a outboxAnswer
	ok(t, json.Unmarshal(w.Body.Bytes(), &a))
	for _, inside := range internals {
		if strings.Contains(w.Body.String(), inside) {
			t.Errorf("the answer says %q: %s", inside, w.Body)
		}
	}
	return a
}

func sendJSON(h http.Handler, body string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, "/outbox", strings.NewReader(body))
	r.Host = "localhost:8440"
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// typed are the numbers that the book holds of the barrel at position 1 on the
// day of the deliveries.
func (b *filled) typed(t testing.TB) []string {
	t.Helper()
	var all []string
	for _, x := range must[[]store.Reading](t)(b.ReadingsOf(t.Context(), b.cylinders[0])) {
		if x.Sheet.Day == "2025-02-06" {
			all = append(all, x.Typed)
		}
	}
	slices.Reverse(all)
	return all
}

// TestOutbox: records are kept in their order, one that is sent again is
// answered as the first time, and the sheet tells where it waited.
func TestOutbox(t *testing.T) {
	b := fill(t)
	h, logged := serving(t, b.Book)
	first, second := b.aDelivery(t, "5.2512"), b.aDelivery(t, "5.2513")
	first.Fields["who"], second.Fields["who"] = "J. Tamsin", "A. Owner"
	a := sendOutbox(t, h, 200, first, second)
	if len(a.Answers) != 2 || a.Answers[0].UID != first.UID || a.Answers[1].UID != second.UID || !strings.HasPrefix(a.Answers[0].Kept, "/sheets/") || a.Answers[0].Kept == a.Answers[1].Kept {
		t.Fatalf("answers %+v", a)
	}
	if again := sendOutbox(t, h, 200, second, first, second); again.Answers[0].Kept != a.Answers[1].Kept || again.Answers[1].Kept != a.Answers[0].Kept || again.Answers[2].Kept != a.Answers[1].Kept {
		t.Errorf("sent again: %+v, the first time %+v", again, a)
	}
	if got := b.typed(t); !slices.Equal(got, []string{"5.2512", "5.2513"}) {
		t.Errorf("the book holds %q", got)
	}
	check(t, "the sheet", get(h, a.Answers[0].Kept), 200, []string{"5.2512", "stand 2, 2025-02-06", "Received", "J. Tamsin", "Delivered by"}, []string{"Clock of that device"})
	check(t, "the sheet of who delivered it", get(h, a.Answers[1].Kept), 200, []string{"5.2513", "A. Owner"}, []string{"Delivered by"})
	// what was entered by one and delivered by another says both, unless it is told by the sheet
	third, fourth, fifth := b.aDelivery(t, "5.2514"), b.aDelivery(t, "5.2515"), b.aDelivery(t, "5.2516")
	third.Fields["who"], third.Person = "stand 2", "J. Tamsin"
	fourth.Fields["who"], fourth.Person = "J. Tamsin", "J. Tamsin"
	fifth.Fields["who"], fifth.Person = "A. Owner", "A. Owner"
	a2 := sendOutbox(t, h, 200, third, fourth, fifth)
	check(t, "a sheet entered by somebody else", get(h, a2.Answers[0].Kept), 200, []string{"5.2514", "Entered by", "J. Tamsin", "Delivered by", "A. Owner"}, nil)
	check(t, "a sheet of who entered it", get(h, a2.Answers[1].Kept), 200, []string{"5.2515", "J. Tamsin", "Delivered by"}, []string{"Entered by"})
	check(t, "a sheet of who did all", get(h, a2.Answers[2].Kept), 200, []string{"5.2516"}, []string{"Entered by", "Delivered by"})
	for _, odd := range []string{"bell\a", strings.Repeat("x", 201)} { // what is no name loses no sheet
		d := b.aDelivery(t, "5.2517")
		d.Person = odd
		if a := sendOutbox(t, h, 200, d); a.Answers[0].Kept == "" || must[store.Receipt](t)(b.Receipt(t.Context(), d.UID)).TypedBy != "" {
			t.Errorf("by %q: %+v", odd, a)
		}
	}
	r := must[store.Receipt](t)(b.Receipt(t.Context(), first.UID))
	if r.Answer != a.Answers[0].Kept || r.Form != first.Form || r.DeviceTime != first.Time || r.Page != "0a0b0c0d" || r.ReceivedAt < "2025" || r.Skew == nil || *r.Skew < -2 || *r.Skew > 2 {
		t.Errorf("receipt %+v", r)
	}
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

// TestOutboxAndForm: a sheet that was sent as a form, whose answer was lost, is
// in the book once when it comes from the outbox too, and the other way about.
func TestOutboxAndForm(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	for i, formFirst := range []bool{true, false} {
		d := b.aDelivery(t, fmt.Sprintf("5.252%d", i))
		d.Fields["note"] = "two\nlines"
		fields := formOf("uid="+d.UID, "note=two\r\nlines")
		for name, value := range d.Fields {
			if name != "note" {
				fields.Set(name, value)
			}
		}
		var to [2]string
		for step := range to {
			if (step == 0) == formFirst {
				to[step] = post(h, d.Form, fields).Header().Get("Location")
			} else {
				to[step] = sendOutbox(t, h, 200, d).Answers[0].Kept
			}
		}
		if to[0] == "" || to[0] != to[1] {
			t.Errorf("form first %t: it is kept at %q, then at %q", formFirst, to[0], to[1])
		}
	}
	if got := b.typed(t); !slices.Equal(got, []string{"5.2520", "5.2521"}) {
		t.Errorf("the book holds %q", got)
	}
}

// TestOutboxRefuses: what is wrong with a record is said at its field, nothing
// of it is kept, and the records after it are taken in.
func TestOutboxRefuses(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	cell := fmt.Sprintf("v-%d-%d-0-0-0", b.cylinders[0], b.boreID)
	gone := fmt.Sprintf("v-%d-%d-0-0-0", b.shelf, b.boreID)
	kept := b.aDelivery(t, "5.2514")
	sendOutbox(t, h, 200, kept)
	for _, c := range []struct {
		what    string
		change  func(d *delivery)
		field   string
		message string
	}{
		{"a letter for a digit", func(d *delivery) { d.Fields[cell] = "5.25l2" }, cell, "is not a number"},
		{"no hours", func(d *delivery) { delete(d.Fields, "hours") }, "hours", "give the hours"},
		{"less hours than before", func(d *delivery) { d.Fields["hours"] = "10" }, "hours", ""},
		{"a slip of the point", func(d *delivery) { d.Fields[cell] = "52.512" }, cell, "decimal point"},
		{"no number", func(d *delivery) { delete(d.Fields, cell) }, "", "nothing to save"},
		{"a part that left the position", func(d *delivery) { d.Fields[gone] = "5.2600" }, gone, `"5.2600" was typed where this sheet has no field any more`},
		{"another nominal than on the tablet", func(d *delivery) { d.Fields[cell], d.Sizes = "+1.2", map[string]string{cell: "133400000"} }, cell, "type the full size"},
		{"a position the engine has not", func(d *delivery) { d.Form = fmt.Sprintf("/measure/engine/%d/10", b.engine.ID) }, "", "not in the book"},
		{"an engine the book has not", func(d *delivery) { d.Form = "/measure/engine/99/1" }, "", "not in the book"},
		{"a form that cannot wait", func(d *delivery) { d.Form = "/engines" }, "", "not in the book"},
		{"an address with a query", func(d *delivery) { d.Form += "?x=1" }, "", "does not say what"},
		{"an address elsewhere", func(d *delivery) { d.Form = "//elsewhere.test/measure" }, "", "not in the book"},
		{"another book", func(d *delivery) { d.Book = "0" }, "", "another book"},
		{"a newer page", func(d *delivery) { d.Format = 2 }, "", "another version"},
		{"no format", func(d *delivery) { d.Format = 0 }, "", "another version"},
		{"no name", func(d *delivery) { d.UID = "" }, "", "no name"},
		{"the name of a sheet in the book", func(d *delivery) { d.UID = kept.UID }, "", "the book has this sheet already"},
	} {
		d, next := b.aDelivery(t, "5.2512"), b.aDelivery(t, "5.2515")
		c.change(&d)
		before := len(b.typed(t))
		a := sendOutbox(t, h, 200, d, next)
		if len(a.Answers) != 2 || a.Answers[0].Kept != "" || a.Answers[1].Kept == "" {
			t.Errorf("%s: %+v", c.what, a)
			continue
		}
		if f := a.Answers[0].Faults; len(f) != 1 || f[0].Field != c.field || !strings.Contains(f[0].Message, c.message) || f[0].Message == "" {
			t.Errorf("%s: faults %+v, want one at %q that says %q", c.what, f, c.field, c.message)
		}
		if got := b.typed(t); len(got) != before+1 || got[before] != "5.2515" {
			t.Errorf("%s: the book holds %q", c.what, got)
		}
		if _, err := b.Receipt(t.Context(), d.UID); d.UID != kept.UID && err == nil {
			t.Errorf("%s: it has a receipt", c.what)
		}
	}
	d := b.aDelivery(t, "5.25l2")
	sendOutbox(t, h, 200, d)
	d.Fields[cell] = "5.2516" // corrected, under the same name
	if a := sendOutbox(t, h, 200, d); a.Answers[0].Kept == "" {
		t.Errorf("corrected: %+v", a)
	}
}

// TestOutboxSizes: a tablet that read what the laptop reads is believed.
func TestOutboxSizes(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	d := b.aDelivery(t, "+1.2") // from 5.2490
	for cell := range d.Fields {
		if strings.HasPrefix(cell, "v-") {
			d.Sizes = map[string]string{cell: fmt.Sprint(int64(inches(t, "5.2502")))}
		}
	}
	if a := sendOutbox(t, h, 200, d); a.Answers[0].Kept == "" {
		t.Errorf("%+v", a)
	}
}

// TestOutboxLeakTest: a leak test waits as a sheet does.
func TestOutboxLeakTest(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	d := b.aDelivery(t, "")
	d.Form = fmt.Sprintf("/engines/%d/leak/new", b.engine.ID)
	d.Fields = map[string]string{"day": "2025-02-06", "hours": "610", "regulated": "80", "orifice": "0.060", "psi-3": "71", "air-3-0": "yes", "psi-4": "x"}
	a := sendOutbox(t, h, 200, d)
	if f := a.Answers[0].Faults; len(f) != 1 || f[0].Field != "psi-4" {
		t.Fatalf("refused with %+v", a)
	}
	d.Fields["psi-4"] = "74"
	a = sendOutbox(t, h, 200, d, d)
	if !strings.HasPrefix(a.Answers[0].Kept, "/leaktests/") || a.Answers[0].Kept != a.Answers[1].Kept {
		t.Fatalf("answers %+v", a)
	}
	check(t, "the test", get(h, a.Answers[0].Kept), 200, []string{"71 of 80 psi", "74 of 80 psi", "stand 2"}, nil)
	d.Fields["psi-10"] = "70"
	if a := sendOutbox(t, h, 200, d); len(a.Answers[0].Faults) != 1 {
		t.Errorf("another test under its name: %+v", a)
	}
}

// TestOutboxAtOnce: two tabs deliver the same sheet at the same time, and the
// same name carries two different sheets at the same time.
func TestOutboxAtOnce(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	same, other := b.aDelivery(t, "5.2517"), b.aDelivery(t, "5.2518")
	other.UID = same.UID
	answers := make([]outboxAnswer, 8)
	var all sync.WaitGroup
	for i := range answers {
		all.Go(func() {
			d := same
			if i%2 == 1 {
				d = other
			}
			answers[i] = sendOutbox(t, h, 200, d)
		})
	}
	all.Wait()
	kept := map[string]int{}
	for i, a := range answers {
		kept[a.Answers[0].Kept]++
		if a.Answers[0].Kept != "" && a.Answers[0].Kept != answers[i%2].Answers[0].Kept || a.Answers[0].Kept == "" && len(a.Answers[0].Faults) != 1 {
			t.Errorf("delivery %d: %+v", i, a)
		}
	}
	if len(kept) != 2 || kept[""] != 4 || len(b.typed(t)) != 1 {
		t.Errorf("kept at %v; the book holds %q, want one of the two sheets once", kept, b.typed(t))
	}
}

// TestOutboxBodies: what cannot be read as an outbox.
func TestOutboxBodies(t *testing.T) {
	b := fill(t)
	h, logged := serving(t, b.Book)
	whole := string(must[[]byte](t)(json.Marshal(outboxMessage{Records: []delivery{b.aDelivery(t, "5.2512")}})))
	check(t, "cut short", sendJSON(h, whole[:len(whole)/2]), 400, []string{"did not come whole"}, nil)
	check(t, "2 MB", sendJSON(h, `{"records":[{"uid":"`+strings.Repeat("x", 2<<20)+`"}]}`), 413, []string{"larger"}, nil)
	check(t, "51 records", sendJSON(h, `{"records":[`+strings.Repeat(`{},`, 50)+`{}]}`), 413, []string{"50"}, nil)
	check(t, "nothing", sendJSON(h, `{}`), 200, []string{`"answers":[]`}, nil)
	check(t, "as a form", post(h, "/outbox", formOf("records=x")), 415, []string{"JSON"}, nil)
	r := httptest.NewRequest(http.MethodPost, "/outbox", strings.NewReader(whole))
	r.Host = "localhost:8440"
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	check(t, "from another site", w, 403, nil, nil)
	if got := b.typed(t); len(got) > 0 || logged.Len() > 0 {
		t.Errorf("the book holds %q; the log says\n%s", got, logged)
	}
	// one record with a member of another kind is refused alone
	one, two := b.aDelivery(t, "5.2513"), b.aDelivery(t, "5.2514")
	two.Person = "stray"
	text := string(must[[]byte](t)(json.Marshal(outboxMessage{Records: []delivery{two, one}})))
	for _, member := range []string{`7`, `null, "fields": [1]`, `{}`} {
		var a outboxAnswer
		ok(t, json.Unmarshal(sendJSON(h, strings.Replace(text, `"person":"stray"`, `"person":`+member, 1)).Body.Bytes(), &a))
		if len(a.Answers) != 2 || a.Answers[0].UID != two.UID || len(a.Answers[0].Faults) != 1 || a.Answers[0].Kept != "" || a.Answers[1].Kept == "" {
			t.Errorf("person %s: %+v", member, a)
		}
	}
	ok(t, b.Close())
	check(t, "a book that cannot be read", sendJSON(h, whole), 500, nil, []string{`"kept"`})
}

// TestSkew: a tablet whose clock is wrong is not refused, and it is said.
func TestSkew(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	d := b.aDelivery(t, "5.2512")
	body := must[[]byte](t)(json.Marshal(outboxMessage{Sent: time.Now().Add(-3 * time.Hour).UTC().Format(time.RFC3339), Records: []delivery{d}}))
	var a outboxAnswer
	ok(t, json.Unmarshal(sendJSON(h, string(body)).Body.Bytes(), &a))
	check(t, "the sheet", get(h, a.Answers[0].Kept), 200, []string{"Clock of that device", "h behind this laptop"}, nil)
	for seconds, want := range map[int]string{0: "", 90: "", -120: "", 121: "2 min ahead of this laptop's", -7200: "2 h behind this laptop's", 400 * 24 * 3600: "400 days ahead of this laptop's"} {
		if got := skewText(&seconds); got != want {
			t.Errorf("%d s: %q, want %q", seconds, got, want)
		}
	}
}

// TestKeeper: the worker's round takes no message from a person.
func TestKeeper(t *testing.T) {
	h, _ := serving(t, emptyBook(t))
	w := post(h, "/parts", formOf("kind=pin", "serial=N-1", "source=new"))
	ask := func(keep bool) *httptest.ResponseRecorder {
		r := httptest.NewRequest(http.MethodGet, "/parts", nil)
		r.Host = "localhost:8440"
		for _, c := range w.Result().Cookies() {
			r.AddCookie(c)
		}
		if keep {
			r.Header.Set(keeperHeader, "1")
		}
		out := httptest.NewRecorder()
		h.ServeHTTP(out, r)
		return out
	}
	round := ask(true)
	check(t, "the round", round, 200, []string{"N-1"}, []string{"is on the shelf"})
	if len(round.Result().Cookies()) > 0 {
		t.Error("the round changed the session")
	}
	check(t, "the person", ask(false), 200, []string{"Pin N-1 is on the shelf"}, nil)
}

// TestBounds: limits reach a tablet in whole nanometres.
func TestBounds(t *testing.T) {
	l := wear.Limit{NewMin: ptr(inches(t, "5.2490")), NewMax: ptr(inches(t, "5.2510")), ServiceMax: ptr(inches(t, "5.2600"))}
	if got := bounds(l); got.NewMin != "133324600" || got.NewMax != "133375400" || got.ServiceMin != "" || got.ServiceMax != "133604000" || got.Nominal != "133324600" {
		t.Errorf("bounds %+v", got)
	}
}
