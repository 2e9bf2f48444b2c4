package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/google/uuid"

	"barrelbook/store"
)

// badLine is a way to the laptop on which things go wrong, by a seed.
type badLine struct {
	to     string
	path   string // the only address it is bad for
	delay  time.Duration
	mu     sync.Mutex
	dice   *rand.Rand
	counts map[string]int
}

// What can happen to a request, in percent; the rest arrives as it should.
var lineFaults = []struct {
	name    string
	percent int
}{{"dropped on the way", 8}, {"cut short on the way", 8}, {"answer dropped", 10}, {"answer cut short", 10}, {"sent twice", 8}, {"sent twice at once", 6}, {"answer too late", 1}}

func (b *badLine) roll() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	name, n := "arrived", b.dice.IntN(100)
	for _, f := range lineFaults {
		if n -= f.percent; n < 0 {
			name = f.name
			break
		}
	}
	b.counts[name]++
	return name
}

func (b *badLine) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		panic(http.ErrAbortHandler)
	}
	if r.URL.Path != b.path {
		b.answer(w, r, body)
		return
	}
	switch b.roll() {
	case "dropped on the way":
		panic(http.ErrAbortHandler)
	case "cut short on the way":
		b.half(r, body)
		panic(http.ErrAbortHandler)
	case "answer dropped":
		b.answer(httptest.NewRecorder(), r, body)
		panic(http.ErrAbortHandler)
	case "answer cut short":
		whole := httptest.NewRecorder()
		b.answer(whole, r, body)
		w.Header().Set("Content-Type", "application/json")
		w.Header().Set("Content-Length", fmt.Sprint(whole.Body.Len()))
		_, _ = w.Write(whole.Body.Bytes()[:whole.Body.Len()/2])
		panic(http.ErrAbortHandler)
	case "sent twice":
		b.answer(httptest.NewRecorder(), r, body)
		b.answer(w, r, body)
	case "sent twice at once":
		var other sync.WaitGroup
		other.Go(func() { b.answer(httptest.NewRecorder(), r, body) })
		b.answer(w, r, body)
		other.Wait()
	case "answer too late":
		b.answer(httptest.NewRecorder(), r, body)
		time.Sleep(b.delay)
		panic(http.ErrAbortHandler)
	default:
		b.answer(w, r, body)
	}
}

// answer passes a request on and its answer back.
func (b *badLine) answer(w http.ResponseWriter, r *http.Request, body []byte) {
	there, err := http.NewRequestWithContext(context.WithoutCancel(r.Context()), r.Method, b.to+r.URL.RequestURI(), bytes.NewReader(body))
	if err != nil {
		panic(err)
	}
	there.Header = r.Header.Clone()
	there.Host = r.Host
	answer, err := http.DefaultTransport.RoundTrip(there)
	if err != nil {
		panic(http.ErrAbortHandler)
	}
	defer answer.Body.Close()
	maps.Copy(w.Header(), answer.Header)
	w.WriteHeader(answer.StatusCode)
	_, _ = io.Copy(w, answer.Body)
}

// half lets half of a request through, and then nothing.
func (b *badLine) half(r *http.Request, body []byte) {
	in, out := io.Pipe()
	go func() {
		_, _ = out.Write(body[:len(body)/2])
		out.CloseWithError(io.ErrUnexpectedEOF)
	}()
	there, err := http.NewRequest(r.Method, b.to+r.URL.RequestURI(), in)
	if err != nil {
		panic(err)
	}
	there.Header, there.ContentLength = r.Header.Clone(), int64(len(body))
	if answer, err := http.DefaultTransport.RoundTrip(there); err == nil {
		answer.Body.Close()
	}
}

// outboxRecord is a record of the outbox in Go, which goes by the rules of
// static/outbox.js.
type outboxRecord struct {
	Format int               `json:"format"`
	UID    string            `json:"uid"`
	Form   string            `json:"form"`
	Fields map[string]string `json:"fields"`
	Book   string            `json:"book"`
	Device string            `json:"device"`
	Time   string            `json:"time"`

	refused string // what the laptop said
	kept    string
	cell    string
	texts   []string // every number that stood in it, the last one in force
	edited  bool     // while it may have been on its way
	was     bool     // refused once
}

// outboxClient is a tablet without a screen.
type outboxClient struct {
	t       *testing.T
	base    string
	http    *http.Client
	dice    *rand.Rand
	records []*outboxRecord // in their order
	sent    int             // records sent, again or not
	killed  int             // times that it was killed before it wrote an answer down
}

// flush delivers what waits in batches, until all is answered or the laptop
// does not answer.
func (c *outboxClient) flush() {
	for {
		var batch []*outboxRecord
		for most, i := 1+c.dice.IntN(12), 0; i < len(c.records) && len(batch) < most; i++ {
			if r := c.records[i]; r.kept == "" && r.refused == "" {
				batch = append(batch, r)
			}
		}
		if len(batch) == 0 || !c.send(batch) {
			return
		}
	}
}

// send reports whether the laptop answered, and to the end.
func (c *outboxClient) send(batch []*outboxRecord) bool {
	body, err := json.Marshal(map[string]any{"sent": time.Now().UTC().Format(time.RFC3339), "records": batch})
	if err != nil {
		c.t.Fatal(err)
	}
	c.sent += len(batch)
	answer, err := c.http.Post(c.base+"/outbox", "application/json", bytes.NewReader(body))
	if err != nil {
		return false
	}
	defer answer.Body.Close()
	var says struct {
		Answers []struct {
			UID, Kept string
			Faults    []struct{ Field, Message string }
		}
	}
	if err := json.NewDecoder(answer.Body).Decode(&says); err != nil {
		return false
	}
	if c.dice.IntN(20) == 0 {
		c.killed++
		return false
	}
	for _, a := range says.Answers {
		i := slices.IndexFunc(batch, func(r *outboxRecord) bool { return r.UID == a.UID })
		switch {
		case i < 0:
			c.t.Errorf("an answer to a record that was not sent: %+v", a)
		case a.Kept != "":
			batch[i].kept = a.Kept
		case len(a.Faults) > 0:
			batch[i].refused, batch[i].was = a.Faults[0].Message, true
		}
	}
	return len(says.Answers) > 0
}

// people do what people do between two deliveries: they correct what was
// refused, and change something that waits.
func (c *outboxClient) people() {
	for _, r := range c.records {
		switch {
		case r.kept != "":
		case strings.Contains(r.refused, "is not a number"):
			r.change(strings.ReplaceAll(r.texts[len(r.texts)-1], "l", "1"))
		case r.refused == "" && c.dice.IntN(800) == 0:
			r.change(strings.Replace(r.texts[len(r.texts)-1], "33.35", "33.36", 1))
			r.edited = true
		}
	}
}

func (r *outboxRecord) change(text string) {
	r.Fields = maps.Clone(r.Fields)
	r.Fields[r.cell], r.refused = text, ""
	r.texts = append(r.texts, text)
}

// outboxClientRecords makes a client's records: one number each that no other
// has, one in fifty with a letter in it.
// Half of them measure a barrel on the engine, half one on the shelf.
func outboxClientRecords(l *laptop, book, device string, from, count int) []*outboxRecord {
	var all []*outboxRecord
	for i := from; i < from+count; i++ {
		r := &outboxRecord{Format: 1, UID: uuid.Must(uuid.NewV7()).String(), cell: l.cell(i%9 + 1), Form: l.sheetOf(i%9 + 1), Book: book, Device: device, Time: time.Now().UTC().Format(time.RFC3339)}
		text := fmt.Sprintf("133.35%04d", i)
		if i%50 == 1 {
			text = strings.Replace(text, "1", "l", 1)
		}
		if i%2 == 0 {
			part := l.shelf[i/2%len(l.shelf)]
			r.Form, r.cell = fmt.Sprintf("/measure/part/%d", part), fmt.Sprintf("v-%d-%d-0-0-0", part, l.bore)
		}
		r.texts = []string{text}
		r.Fields = map[string]string{"day": "2025-02-06", "hours": "150.0", "unit": "mm", "mode": "full", r.cell: text}
		all = append(all, r)
	}
	return all
}

// TestBadLine delivers 2,000 sheets of four tablets over lines on which a part
// of the requests and answers is dropped, cut short, sent twice or late, while
// people correct and change what waits and tablets are killed before they
// write an answer down. Nothing is lost, nothing is doubled, and the order of
// each tablet is kept.
func TestBadLine(t *testing.T) {
	const tablets, each = 4, 500
	l := newLaptop(t)
	l.addShelf(50)
	set, err := l.book.Settings(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	clients := make([]*outboxClient, tablets)
	lines := make([]*badLine, tablets)
	var all sync.WaitGroup
	for i := range clients {
		lines[i] = &badLine{to: l.base, path: "/outbox", delay: 5 * time.Second, dice: rand.New(rand.NewPCG(2000, uint64(i))), counts: map[string]int{}}
		web := httptest.NewServer(lines[i])
		defer web.Close()
		c := &outboxClient{t: t, base: web.URL, http: &http.Client{Timeout: 4 * time.Second}, dice: rand.New(rand.NewPCG(uint64(i), 9)),
			records: outboxClientRecords(l, set.Book, fmt.Sprintf("tablet %d", i+1), i*each, each)}
		clients[i] = c
		all.Go(func() {
			for round := 0; !c.done() && round < 5000; round++ {
				c.flush()
				c.people()
			}
		})
	}
	all.Wait()
	checkBadLine(t, l, clients)
	counts := map[string]int{}
	for _, line := range lines {
		for name, n := range line.counts {
			counts[name] += n
		}
	}
	t.Logf("requests: %v", counts)
}

// done reports whether all is in the book, or refused for what nobody mends.
func (c *outboxClient) done() bool {
	return !slices.ContainsFunc(c.records, func(r *outboxRecord) bool {
		return r.kept == "" && (r.refused == "" || strings.Contains(r.refused, "is not a number"))
	})
}

// checkBadLine holds the book against what the tablets were told.
func checkBadLine(t *testing.T, l *laptop, clients []*outboxClient) {
	t.Helper()
	type found struct {
		text  string
		sheet int64
	}
	book, rows := map[string]found{}, 0
	for _, part := range append(slices.Clone(l.barrels), l.shelf...) {
		rs, err := l.book.ReadingsOf(t.Context(), part)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range rs {
			if x.Sheet.Day == "2025-02-06" {
				book[x.Sheet.UID] = found{x.Typed, x.Sheet.ID}
				rows++
			}
		}
	}
	sum := map[string]int{}
	for i, c := range clients {
		last := int64(0)
		for _, r := range c.records {
			got, there := book[r.UID]
			newest := r.texts[len(r.texts)-1]
			switch {
			case !there:
				t.Errorf("tablet %d: %s (%q, %q) is lost", i+1, newest, r.kept, r.refused)
			case r.kept != "" && got.text == newest:
				sum["kept"]++
			case r.refused != "" && r.edited && slices.Contains(r.texts, got.text):
				sum["kept as it was before somebody changed it, and said so"]++
			default:
				t.Errorf("tablet %d: the book holds %s, the tablet %q (%q, %q)", i+1, got.text, r.texts, r.kept, r.refused)
			}
			if r.was {
				sum["refused at first or in the end"]++
				continue
			}
			if got.sheet <= last {
				t.Errorf("tablet %d: sheet %d came after %d", i+1, got.sheet, last)
			}
			last = got.sheet
		}
		sum["records sent"] += c.sent
		sum["tablets killed before they wrote an answer down"] += c.killed
	}
	if want := len(clients) * len(clients[0].records); rows != want || len(book) != want {
		t.Errorf("the book holds %d readings of %d sheets, want %d", rows, len(book), want)
	}
	t.Logf("%d sheets delivered: %v", rows, sum)
	if sum["records sent"] <= rows {
		t.Error("nothing was ever sent twice: the test tells nothing")
	}
}

// TestBadLineInBrowser delivers 2,000 sheets by the tablet's own script over such
// a line, the first nine filled in on their pages, the others put into its outbox
// at once. Each arrives once, in their order.
func TestBadLineInBrowser(t *testing.T) {
	const sheets = 2000
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1))
	l.stop()
	for position := range 9 {
		x.writes(l, position+1, "150.0", fmt.Sprintf("5.251%d", position))
		x.until(`location.pathname === "/waiting"`)
	}
	forms, cells := make([]string, 9), make([]string, 9)
	for i := range 9 {
		forms[i], cells[i] = l.sheetOf(i+1), l.cell(i+1)
	}
	outbox := `import("/static/" + document.documentElement.dataset.build + "/outbox.js")`
	x.until(fmt.Sprintf(outbox+`.then(async (o) => {
		const forms = %s, cells = %s, like = (await o.records())[0];
		const db = await new Promise((done) => { indexedDB.open("barrelbook").onsuccess = (e) => done(e.target.result); });
		const all = db.transaction("outbox", "readwrite");
		for (let i = 9; i < %d; i++) {
			const fields = { day: like.fields.day, hours: "150.0", unit: "mm", mode: "full", [cells[i %% 9]]: "133.35" + String(i).padStart(4, "0") };
			all.objectStore("outbox").add({ ...like, n: like.n + i, uid: o.newUID(), form: forms[i %% 9], fields, labels: {}, sizes: {} });
		}
		return new Promise((done, no) => { all.oncomplete = () => done(true); all.onabort = () => no(all.error); });
	})`, got[[]byte](t)(json.Marshal(forms)), got[[]byte](t)(json.Marshal(cells)), sheets))
	line := &badLine{path: "/outbox", delay: 100 * time.Millisecond, dice: rand.New(rand.NewPCG(9, 9)), counts: map[string]int{}}
	l.through(func(next http.Handler) http.Handler { return line.before(next) })
	l.start()
	for waiting := sheets; waiting > 0; {
		x.visit("/engines") // which delivers too, and is left while it does
		waiting = got[int](t)(chromedp.Run(x.ctx, chromedp.Evaluate[int](outbox+`.then(async (o) => {
			await o.flush();
			return (await o.records()).filter((r) => r.state === "waiting").length;
		})`, chromedp.EvalAwaitPromise)))
	}
	x.until(outbox + `.then((o) => o.records()).then((all) => all.length === 0)`) // none was refused
	l.through(nil)
	type sheet struct {
		id   int64
		text string
	}
	var arrived []sheet
	for _, part := range l.barrels {
		for _, r := range got[[]store.Reading](t)(l.book.ReadingsOf(t.Context(), part)) {
			if r.Sheet.Hours == 15_000 { // those of the book before have 100 h
				arrived = append(arrived, sheet{r.Sheet.ID, r.Typed})
			}
		}
	}
	slices.SortFunc(arrived, func(a, b sheet) int { return cmp.Compare(a.id, b.id) })
	if len(arrived) != sheets {
		t.Errorf("%d readings arrived, want %d", len(arrived), sheets)
	}
	for i, s := range arrived {
		want := fmt.Sprintf("5.251%d", i)
		if i >= 9 {
			want = fmt.Sprintf("133.35%04d", i)
		}
		if s.text != want {
			t.Fatalf("sheet %d in order of arrival has %s, want %s", i+1, s.text, want)
		}
	}
	t.Logf("%d sheets delivered by the tablet's own script; requests: %v", len(arrived), line.counts)
	if line.asked() < sheets/20 {
		t.Error("too few requests: the test tells nothing")
	}
}

// before stands in front of a handler instead of between two servers.
func (b *badLine) before(next http.Handler) http.Handler {
	inner := httptest.NewServer(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b.to = inner.URL
		b.ServeHTTP(w, r)
	})
}

func (b *badLine) asked() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	n := 0
	for _, count := range b.counts {
		n += count
	}
	return n
}
