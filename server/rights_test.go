package server

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"
	"golang.org/x/net/html"

	"barrelbook/store"
	"barrelbook/wear"
)

// someone is who asks in a test, and what they count as in the table.
type someone struct {
	name string
	as   right
	h    http.Handler
}

// crowd are people of every kind, with the server that each of them sees.
func crowd(t *testing.T, s *testServer, b *filled, others int64) []someone {
	t.Helper()
	owns := addPerson(t, b.Book, store.Person{Name: "A. Owner", Roles: store.Owner})
	add := func(p store.Person) http.Handler { return s.as(t, addPerson(t, b.Book, p)) }
	gone := addPerson(t, b.Book, store.Person{Name: "G. Gone", Roles: store.Mechanic})
	left := must[store.Person](t)(b.Person(context.Background(), gone))
	left.Active = false
	id, long := newID(), s.now().Add(-sessionIdle-time.Second)
	ok(t, b.AddSession(context.Background(), store.Session{Key: keyOf(id), Person: owns, Data: []byte("{}"), Used: long}, long.Add(-time.Hour)))
	all := []someone{
		{"owner", owner, s.as(t, owns)},
		{"mechanic", mechanic, add(store.Person{Name: "M. Mechanic", Roles: store.Mechanic})},
		{"inspector", inspector, add(store.Person{Name: "I. Inspector", Roles: store.Inspector})},
		{"owner and mechanic", owner | mechanic, add(store.Person{Name: "B. Both", Roles: store.Owner | store.Mechanic})},
		{"inspector of this engine", limited, add(store.Person{Name: "J. Guest", Roles: store.Inspector, Limited: true, Engines: []int64{b.engine.ID}})},
		{"inspector of another engine", limited, add(store.Person{Name: "K. Guest", Roles: store.Inspector, Limited: true, Engines: []int64{others}})},
		{"signed out", 0, s.mux},
		{"expired session", 0, signedIn{s.mux, id}},
		{"past the last day", 0, add(store.Person{Name: "L. Late", Roles: store.Owner, Until: "2024-01-01"})},
		{"made-up cookie", 0, signedIn{s.mux, newID()}},
	}
	out := s.as(t, gone)
	ok(t, b.SavePerson(context.Background(), left))
	return append(all, someone{"not active", 0, out})
}

func anotherEngine(t *testing.T, b *filled) int64 {
	t.Helper()
	return must[int64](t)(b.AddEngine(context.Background(), store.NewEngine{Serial: "R-77", Model: "Invented 9", Arrangement: "radial", Cylinders: 9, Day: "2024-01-01"}))
}

// address puts things of the filled book into the pattern of a route.
func (b *filled) address(pattern string) string {
	pattern = strings.NewReplacer("/findings/{sort}/{id}", fmt.Sprintf("/findings/leak/%d", b.cylinders[1]), "/entry.{format}", "/entry.txt", "{part}", fmt.Sprint(b.cylinders[0]), "{entry}", fmt.Sprint(b.tick), "/parts/{id}/compare", fmt.Sprintf("/parts/%d/compare", b.ring), "/parts/{id}/regroove", fmt.Sprintf("/parts/%d/regroove", b.piston)).Replace(pattern)
	for begins, id := range map[string]int64{"/parts/": b.cylinders[0], "/record/part/": b.cylinders[0], "/sheets/": b.sheet, "/leaktests/": b.leak, "/leakreadings/": b.leakReading, "/readings/": b.reading, "/findings/": b.fast,
		"/limits/{": b.limit, "/features/": b.boreID, "/measure/part/": b.shelf, "/engines/": b.engine.ID, "/jobs/": b.benchJob, "/photos/": b.photo, "/record/engine/": b.engine.ID, "/measure/engine/": b.engine.ID, "/models/": b.engine.Model.ID} {
		if strings.HasPrefix(pattern, begins) {
			pattern = strings.Replace(pattern, "{id}", fmt.Sprint(id), 1)
		}
	}
	return strings.NewReplacer("/limits/new", fmt.Sprint("/limits/new?model=", b.engine.Model.ID), "{id}", "1", "{position}", "1", "{meter}", fmt.Sprint(b.meterRoot), "{format}", "json", "*", "base.css").Replace(pattern)
}

// outside are headers of requests that a page of another site, or of another
// program on this machine, makes a browser send; the later ones as browsers
// without Sec-Fetch-Site do.
var outside = [][]string{
	{"Sec-Fetch-Site", "cross-site", "Origin", "http://elsewhere.example"}, {"Sec-Fetch-Site", "same-site"},
	{"Origin", "http://elsewhere.example"}, {"Origin", "http://localhost:9999"}, {"Origin", "null"},
}

// filledIn is what forms would send, in an address, where it is of no use.
const filledIn = "reason=typed&who=A.+Typed&what=sign+out&name=X-1&serial=X-1&kind=pin&source=new&day=2025-01-03&hours=600&text=typed&password=a+lamp+under+stairs"

func joint(path string) string {
	if strings.Contains(path, "?") {
		return "&"
	}
	return "?"
}

// TestRights walks every route as everybody, and as everybody from another
// site, and compares the answer with the table. From there a page may be asked
// for, as a link does, and is answered as ever; nothing else is, whoever is
// signed in, and no answer lets the other site read it (OWASP ASVS 5, 3.4.2).
// Asking for a page changes nothing, whatever its address says (3.5.3).
func TestRights(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	s, logged := serverOn(t, b.Book)
	everybody := crowd(t, s, b, anotherEngine(t, b))
	routes := 0
	err := chi.Walk(s.mux, func(method, route string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		routes++
		key, path := method+" "+route, b.address(route)
		may, there := rights[key]
		if !there {
			t.Errorf(`%s is not in the table of rights: everybody is refused`, key)
		}
		for _, x := range everybody {
			if key == "POST /sign-out" || key == "POST /me" && x.as != 0 {
				continue // would end the session that the next route is tried with
			}
			w := ask1(x.h, method, path, "Sec-Fetch-Site", "same-origin")
			if got, want := judged(w), wanted(may, x, route); got != want {
				t.Errorf("%s as %s: %s (status %d), want %s", key, x.name, got, w.Code, want)
			}
		}
		for _, x := range everybody {
			if method == http.MethodGet {
				before := must[store.Head](t)(b.Head(t.Context()))
				w := ask1(x.h, method, path+joint(path)+filledIn, outside[0]...)
				if after := must[store.Head](t)(b.Head(t.Context())); after != before {
					t.Errorf("%s as %s has changed the book", key, x.name)
				}
				if got, want := judged(w), wanted(may, x, route); got != want || letsIn(w) {
					t.Errorf("%s as %s from another site: %s (status %d), want %s; headers %v", key, x.name, got, w.Code, want, w.Header())
				}
				continue
			}
			for _, from := range outside {
				// a page would say that the roles do not include it
				if w := ask1(x.h, method, path, from...); w.Code != http.StatusForbidden || strings.Contains(w.Body.String(), "<html") || letsIn(w) {
					t.Errorf("%s as %s with %q: status %d with %v", key, x.name, from, w.Code, w.Header())
				}
			}
		}
		// what a browser asks before a script of another site may send more than a form could
		w := ask1(everybody[3].h, http.MethodOptions, path, "Origin", "http://elsewhere.example", "Access-Control-Request-Method", method)
		if w.Code < 300 || letsIn(w) {
			t.Errorf("OPTIONS of %s from another site: status %d with %v", key, w.Code, w.Header())
		}
		return nil
	})
	ok(t, err)
	if routes < 90 || len(rights) != routes {
		t.Errorf("%d routes, %d in the table", routes, len(rights))
	}
	if strings.Contains(logged.String(), "ERROR") {
		t.Errorf("the log says\n%s", logged)
	}
}

func ask1(h http.Handler, method, path string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, strings.NewReader("model=1")) // a limit is typed for a model
	r.Host = "localhost"
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// letsIn reports an answer that a script of another site may read.
func letsIn(w *httptest.ResponseRecorder) bool {
	return slices.ContainsFunc(slices.Collect(maps.Keys(w.Header())), func(name string) bool { return strings.HasPrefix(name, "Access-Control-") })
}

// judged says how a request was answered.
func judged(w *httptest.ResponseRecorder) string {
	switch {
	case w.Code == http.StatusUnauthorized, w.Code == http.StatusSeeOther && strings.HasPrefix(w.Header().Get("Location"), "/sign-in"):
		return "sign in"
	case w.Code == http.StatusForbidden:
		return "refused"
	case w.Code == http.StatusNotFound:
		return "not there"
	}
	return "answered"
}

func wanted(may right, x someone, route string) string {
	switch {
	case may&(anybody|open) != 0:
		return "answered"
	case x.as == 0:
		return "sign in"
	case may&x.as == 0:
		return "refused"
	case x.name == "inspector of another engine" && strings.Contains(route, "{"):
		return "not there"
	}
	return "answered"
}

// TestLimitedLists: lists that somebody with named engines may ask for show
// those only, so each must be known here.
func TestLimitedLists(t *testing.T) {
	var lists []string
	for key, may := range rights {
		if may&limited != 0 && !strings.Contains(key, "{") {
			lists = append(lists, key)
		}
	}
	slices.Sort(lists)
	if want := []string{"GET /", "GET /engines", "GET /me", "GET /offline.json", "POST /me"}; !slices.Equal(lists, want) {
		t.Errorf("lists for who is limited to engines: %q, want %q", lists, want)
	}
	b := fill(t)
	other := anotherEngine(t, b)
	s, _ := serverOn(t, b.Book)
	everybody := crowd(t, s, b, other)
	for _, path := range []string{"/", "/engines"} {
		check(t, "this engine, "+path, get(everybody[4].h, path), 200, []string{"R-1", "1 engine"}, []string{"R-77"})
		check(t, "the other engine, "+path, get(everybody[5].h, path), 200, []string{"R-77", "1 engine"}, []string{"R-1<"})
		check(t, "a search, "+path, get(everybody[5].h, path+"?q=R-1"), 200, []string{"0 engines"}, []string{"R-1<"})
	}
	// what a tablet keeps: every page that is listed may be read
	for i, engine := range map[int]int64{4: b.engine.ID, 5: other} {
		var list offlineList
		ok(t, json.Unmarshal(get(everybody[i].h, "/offline.json").Body.Bytes(), &list))
		for _, page := range []string{"/", "/waiting", href("/engines/", engine), href("/engines/", engine, "/positions/1")} {
			if !slices.Contains(list.Pages, page) {
				t.Errorf("the list of engine %d is without %s: %q", engine, page, list.Pages)
			}
		}
		for _, page := range list.Pages {
			check(t, "kept for engine "+fmt.Sprint(engine)+", "+page, get(everybody[i].h, page), 200, nil, nil)
		}
	}
}

// TestOtherEngines: an inspector of one engine tries what belongs to another,
// and what sits on none.
func TestOtherEngines(t *testing.T) {
	b := fill(t)
	b.openBench(t)
	s, _ := serverOn(t, b.Book)
	other := anotherEngine(t, b)
	everybody := crowd(t, s, b, other)
	mine, theirs := everybody[4].h, everybody[5].h
	e, part := fmt.Sprint("/engines/", b.engine.ID), fmt.Sprint("/parts/", b.cylinders[0])
	for _, path := range []string{e, e + "/meter", e + "/crank", e + "/leak", e + "/positions/1", part, part + "?series=1", fmt.Sprint("/sheets/", b.sheet), fmt.Sprint("/leaktests/", b.leak),
		fmt.Sprintf("/record/part/%d.csv", b.cylinders[0]), fmt.Sprintf("/record/part/%d.pdf", b.cylinders[0]), fmt.Sprintf("/record/engine/%d.csv", b.engine.ID), fmt.Sprintf("/record/engine/%d.pdf", b.engine.ID)} {
		if w := get(mine, path); w.Code != http.StatusOK {
			t.Errorf("%s of the own engine: status %d", path, w.Code)
		}
		if w := get(theirs, path); w.Code != http.StatusNotFound || strings.Contains(w.Body.String(), "R-1<") || strings.Contains(w.Body.String(), "C-1<") {
			t.Errorf("%s of another engine: status %d", path, w.Code)
		}
	}
	for _, id := range []int64{b.shelf, b.scrapped} {
		for _, path := range []string{fmt.Sprint("/parts/", id), fmt.Sprintf("/record/part/%d.json", id)} {
			check(t, "a part on no engine: "+path, get(mine, path), 404, nil, nil)
		}
	}
	// a part is read by who may read the engine that it sits on now, with all that it went through
	ctx := context.Background()
	moved := b.fitted(t, store.Part{Kind: wear.Pin, Serial: "N-90"}, store.Place{Engine: b.engine.ID, Position: 5})
	ok(t, b.Remove(ctx, moved, "2024-03-01", 0, "to the other engine", false))
	ok(t, b.Install(ctx, moved, store.Place{Engine: other, Position: 1}, "2024-03-02", 0))
	struck := b.fitted(t, store.Part{Kind: wear.Pin, Serial: "N-91"}, store.Place{Engine: b.engine.ID, Position: 6})
	stays := must[[]store.Stay](t)(b.StaysOf(ctx, struck))
	ok(t, b.VoidStay(ctx, stays[0].ID, "sat elsewhere"))
	picture := must[store.NewPhoto](t)(readPhoto(encoded(t, stripes(4, 4), "png")))
	photo := func(of store.Photo) int64 {
		p := picture
		p.Job, p.Position, p.Part, p.Day = of.Job, of.Position, of.Part, "2025-01-02"
		ok(t, b.AddPhotos(ctx, []store.NewPhoto{p}))
		if of.Part != 0 {
			return must[[]store.Photo](t)(b.PhotosOfPart(ctx, of.Part))[0].ID
		}
		return must[[]store.Photo](t)(b.PhotosOfJob(ctx, of.Job, of.Position))[0].ID
	}
	place, still, went := photo(store.Photo{Job: b.benchJob, Position: 9}), photo(store.Photo{Part: b.cylinders[0]}), photo(store.Photo{Job: b.benchJob, Position: 1, Part: moved})
	for path, may := range map[string][2]int{
		fmt.Sprint("/parts/", moved):                  {404, 200},
		fmt.Sprintf("/record/part/%d.json", moved):    {404, 200},
		fmt.Sprint("/parts/", struck):                 {404, 404},
		fmt.Sprintf("/record/part/%d.json", struck):   {404, 404},
		fmt.Sprint("/photos/", b.photo):               {200, 404},
		fmt.Sprint("/photos/", place):                 {200, 404},
		fmt.Sprintf("/photos/%d/small", still):        {200, 404},
		fmt.Sprint("/photos/", went):                  {200, 200},
		fmt.Sprintf("/jobs/%d", b.benchJob):           {200, 404},
		fmt.Sprintf("/jobs/%d/bench/1", b.benchJob):   {200, 404},
		fmt.Sprintf("/jobs/%d/close", b.benchJob):     {200, 404},
		fmt.Sprintf("/jobs/%d/entry.txt", b.benchJob): {200, 404},
	} {
		check(t, path+" for the engine it was on", get(mine, path), may[0], nil, nil)
		check(t, path+" for another engine", get(theirs, path), may[1], nil, nil)
	}
	check(t, "where it was", get(theirs, fmt.Sprint("/parts/", moved)), 200, []string{"R-1"}, []string{fmt.Sprintf(`href="/engines/%d`, b.engine.ID)})
	for _, path := range []string{"/engines/1%2F", "/engines/%31", "/parts/1/", "//engines/1", "/engines//1", "/record/engine/x.json", "/engines/01"} {
		if w := ask1(theirs, http.MethodGet, "http://localhost"+path, "Sec-Fetch-Site", "same-origin"); w.Code == http.StatusOK {
			t.Errorf("%s: status %d", path, w.Code)
		}
	}
}

// TestShown: on no page stands a link or a form that who reads it may not use.
func TestShown(t *testing.T) {
	b := fill(t)
	s, _ := serverOn(t, b.Book)
	for _, x := range crowd(t, s, b, anotherEngine(t, b))[:6] {
		seen := 0
		for _, a := range b.pages() {
			w := get(x.h, a.path)
			if w.Code != http.StatusOK || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
				continue
			}
			tokens := html.NewTokenizer(w.Body)
			for tokens.Next() != html.ErrorToken {
				method, to := target(tokens.Token())
				if !strings.HasPrefix(to, "/") {
					continue
				}
				seen++
				params := chi.NewRouteContext()
				u := must[*url.URL](t)(url.Parse(to))
				key := patternOf(s.mux, params, method, routePath(u))
				if may := rights[key]; may&(anybody|open) == 0 && may&x.as == 0 {
					t.Errorf("%s as %s: leads to %s %s", a.path, x.name, method, to)
				}
				if x.as == limited && strings.HasPrefix(to, "/parts/") {
					if w := get(x.h, to); w.Code != http.StatusOK {
						t.Errorf("%s as %s: %s has status %d", a.path, x.name, to, w.Code)
					}
				}
			}
		}
		if seen < 20 {
			t.Errorf("only %d links and forms as %s", seen, x.name)
		}
	}
}

// target is where a link or form leads.
func target(t html.Token) (method, to string) {
	method = http.MethodGet
	for _, a := range t.Attr {
		switch {
		case t.Data == "a" && a.Key == "href", t.Data == "form" && a.Key == "action":
			to = a.Val
		case t.Data == "form" && a.Key == "method":
			method = strings.ToUpper(a.Val)
		}
	}
	if t.Type != html.StartTagToken {
		to = ""
	}
	return method, to
}

// TestWordsStay: of a thing of another engine the name stays, without a link;
// what is offered to others goes altogether.
func TestWordsStay(t *testing.T) {
	b := fill(t)
	s, _ := serverOn(t, b.Book)
	other := anotherEngine(t, b)
	everybody := crowd(t, s, b, other)
	part := fmt.Sprint("/parts/", b.cylinders[0])
	check(t, "a part for an inspector", get(everybody[2].h, part), 200, []string{"C-1", "PN-7", "R-1"}, []string{"/remove", "/edit", ">Measure<", "/correct"})
	check(t, "gauges for an inspector", get(everybody[2].h, "/gauges"), 200, []string{"BG-2"}, []string{"New gauge", "Add the gauge", "/gauges?id"})
	check(t, "limits for a mechanic", get(everybody[1].h, "/limits"), 200, []string{"5.2600"}, []string{"Type a limit", "New version"})
	check(t, "the first page for a mechanic", get(everybody[1].h, "/"), 200, []string{"Measure", "New engine"}, []string{">Import<", ">Settings<", ">People<"})
	worn := fmt.Sprintf("/parts/%d?series=%d", b.cylinders[8], b.fast)
	check(t, "an own engine's part with its peers", get(everybody[4].h, worn), 200, []string{"Cylinder C-1<"}, []string{"of another engine"})
	ok(t, b.Remove(context.Background(), b.cylinders[0], "2025-03-01", 60_000, "to another engine", false))
	ok(t, b.Install(context.Background(), b.cylinders[0], store.Place{Engine: other, Position: 1}, "2025-03-02", 0))
	check(t, "the same when a peer has moved", get(everybody[4].h, worn), 200, []string{"part 1 of another engine"}, []string{"Cylinder C-1<"})
	check(t, "the same for an inspector of all", get(everybody[2].h, worn), 200, []string{"Cylinder C-1<"}, nil)
	position := fmt.Sprintf("/engines/%d/positions/1", b.engine.ID)
	check(t, "what sat at the position", get(everybody[4].h, position), 200, []string{"C-1"}, []string{fmt.Sprintf(`href="/parts/%d"`, b.cylinders[0])})
}
