package server

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"barrelbook/store"
	"barrelbook/wear"
)

// standing is what stands in the form of a page that is sent to an address.
func standing(t *testing.T, w *httptest.ResponseRecorder, action string) url.Values {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(w.Body.String()))
	if err != nil {
		t.Fatal(err)
	}
	values := url.Values{}
	attr := func(n *html.Node, name string) (string, bool) {
		for _, a := range n.Attr {
			if a.Key == name {
				return a.Val, true
			}
		}
		return "", false
	}
	var read func(n *html.Node, inside bool)
	read = func(n *html.Node, inside bool) {
		if n.Type == html.ElementNode {
			name, _ := attr(n, "name")
			value, _ := attr(n, "value")
			kind, _ := attr(n, "type")
			_, checked := attr(n, "checked")
			_, selected := attr(n, "selected")
			switch {
			case n.Data == "form":
				to, _ := attr(n, "action")
				inside = to == action
			case !inside || values.Has(name): // of several forms that go there the first
			case n.Data == "input" && (kind != "radio" && kind != "checkbox" || checked):
				values.Set(name, value)
			case n.Data == "option" && selected:
				for p := n.Parent; p != nil; p = p.Parent {
					if p.Data == "select" {
						name, _ = attr(p, "name")
						values.Set(name, value)
					}
				}
			case n.Data == "textarea" && n.FirstChild != nil:
				values.Set(name, n.FirstChild.Data)
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			read(c, inside)
		}
	}
	read(doc, false)
	if len(values) == 0 {
		t.Fatalf("no form goes to %s", action)
	}
	return values
}

// TestTwoTabs: of two forms that were drawn alike, the later one is answered
// with what the first saved beside what it says; sent again it keeps theirs
// where it changes nothing, and saves over the rest.
func TestTwoTabs(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	guest := addPerson(t, b.Book, store.Person{Name: "J. Guest", Roles: store.Inspector, Until: "2030-01-01"})
	gauge := must[[]store.Gauge](t)(b.Gauges(context.Background()))[0]
	for _, x := range []struct {
		page, action       string
		only, both         string // fields that one tab and that both change
		first, second, new string
		says               []string
	}{
		{fmt.Sprintf("/parts/%d/edit", b.shelf), fmt.Sprintf("/parts/%d/edit", b.shelf), "hours_before", "note", "950.0", "their note", "my note", []string{"Hours since new", "Note"}},
		{fmt.Sprintf("/engines/%d/edit", b.engine.ID), fmt.Sprintf("/engines/%d/edit", b.engine.ID), "master_rod", "aircraft", "3", "their aeroplane", "my aeroplane", []string{"Master-rod cylinder", "Aircraft"}},
		{fmt.Sprintf("/gauges?id=%d", gauge.ID), "/gauges", "due", "resolution", "2031-01-01", "0.0004", "0.0003", []string{"Calibration due", "Resolution"}},
		{fmt.Sprintf("/people/%d", guest), fmt.Sprintf("/people/%d", guest), "engines", "until", "R-1", "2031-01-01", "2032-01-01", []string{"Only these engines", "Last day"}},
		{"/settings", "/settings", "shop", "next_in", "Their shop", "75.0", "80.0", []string{"Name of the shop", "Next inspection in"}},
		{fmt.Sprintf("/models/%d", b.engine.Model.ID), fmt.Sprintf("/models/%d", b.engine.Model.ID), "clean_up", "family", "0.0010", "theirs", "mine", []string{"Clean-up", "Family"}},
		{fmt.Sprintf("/models/%d/rods", b.engine.Model.ID), fmt.Sprintf("/models/%d/rods", b.engine.Model.ID), "crank_radius", "pin_to_crown", "2.7500", "2.3000", "2.4000", []string{"Crank radius", "Pin to crown"}},
	} {
		one, two := standing(t, get(h, x.page), x.action), standing(t, get(h, x.page), x.action)
		one.Set(x.only, x.first)
		one.Set(x.both, x.second)
		if w := post(h, x.action, one); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: the first tab is answered %d: %s", x.page, w.Code, w.Body)
		}
		two.Set(x.both, x.new)
		w := post(h, x.action, two)
		check(t, x.page+", second tab", w, http.StatusConflict, append(x.says, "somebody else saved this", "theirs, as you had not changed it", x.second, x.first), []string{"things are wrong", "one thing is wrong"})
		now := standing(t, get(h, x.page), x.action)
		if now.Get(x.only) != x.first || now.Get(x.both) != x.second {
			t.Errorf("%s: after a refused form the book has %q and %q", x.page, now.Get(x.only), now.Get(x.both))
		}
		again := standing(t, w, x.action)
		if again.Get(x.only) != x.first || again.Get(x.both) != x.new {
			t.Errorf("%s: the form is drawn again with %q and %q", x.page, again.Get(x.only), again.Get(x.both))
		}
		if w := post(h, x.action, again); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: sent again it is answered %d", x.page, w.Code)
		}
		now = standing(t, get(h, x.page), x.action)
		if now.Get(x.only) != x.first || now.Get(x.both) != x.new {
			t.Errorf("%s: in the end the book has %q and %q", x.page, now.Get(x.only), now.Get(x.both))
		}
	}
}

// TestStaleModel: what somebody else chose from a list is told by its name.
func TestStaleModel(t *testing.T) {
	b := fill(t)
	h, _ := serving(t, b.Book)
	path := fmt.Sprintf("/parts/%d/edit", b.shelf)
	late := standing(t, get(h, path), path)
	p := must[store.Part](t)(b.Part(context.Background(), b.shelf))
	p.ModelID = 0
	ok(t, b.SavePart(context.Background(), p))
	check(t, "a part whose model was taken off", post(h, path, late), http.StatusConflict, []string{"Fits engine model", "not known"}, nil)
}

// TestProvided: an error of the check ends the save, and nothing of it is kept.
func TestProvided(t *testing.T) {
	b := fill(t)
	ctx := context.Background()
	no := errors.New("no")
	if _, err := b.AddPart(store.Provided(ctx, func(context.Context) error { return no }), store.Part{Kind: wear.Pin, Serial: "N-77", Source: "new"}); !errors.Is(err, no) {
		t.Errorf("saved all the same: %v", err)
	}
	if ps := must[[]store.Part](t)(b.PartsNamed(ctx, wear.Pin, "N-77")); len(ps) != 0 {
		t.Errorf("the book has %v", ps)
	}
}
