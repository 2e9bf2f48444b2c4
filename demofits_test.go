package main

import (
	"fmt"
	"html"
	"io"
	"net/http"
	"net/http/cookiejar"
	"regexp"
	"strings"

	"barrelbook/wear"
)

var tags = regexp.MustCompile(`<[^>]*>`)

// reader reads pages of the demo book as text, without a browser.
func (d demoBook) reader() func(path string) string {
	d.Helper()
	base := serveTest(d.T, d.book)
	client := &http.Client{Jar: got[*cookiejar.Jar](d.T)(cookiejar.New(nil))}
	return func(path string) string {
		d.Helper()
		w := got[*http.Response](d.T)(client.Get(base + path))
		body := got[[]byte](d.T)(io.ReadAll(w.Body))
		must(d.T, w.Body.Close())
		if w.StatusCode != http.StatusOK {
			d.Fatalf("%s: status %d", path, w.StatusCode)
		}
		return strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(string(body), " "))), " ")
	}
}

// fits wants pins in piston and bushing and stems in guides shown at three
// positions, and one stem beyond the limit of its fit that passes by itself, as
// its guide does.
func (d demoBook) fits() {
	read := d.reader()
	for serial := range fitReadings {
		at := d.parts[serial]
		page := read(fmt.Sprintf("/engines/%d/positions/%d", at.Engine, at.Position))
		for _, want := range []string{"Pin in piston", "Pin in rod bushing", "Stem in guide, intake", "Stem in guide, exhaust", "typed for the fit"} {
			if !strings.Contains(page, want) {
				d.Errorf("position of %s lacks %q", serial, want)
			}
		}
		decides := "Stem in guide, exhaust: neither part is beyond a limit of its own, but their fit is beyond its. The fit decides."
		if strings.Contains(page, decides) != (serial == looseStem) || strings.Count(page, "The fit decides.") > 1 {
			d.Errorf("position of %s: a fit that decides is said %d times; want that of %s alone: %s", serial, strings.Count(page, "The fit decides."), looseStem, page)
		}
		if v := at.Verdict; v > wear.Serviceable || v == wear.NoLimit {
			d.Errorf("%s by itself is %s, want it to pass", serial, v)
		}
	}
	if page := read(fmt.Sprintf("/engines/%d", d.parts[looseStem].Engine)); !strings.Contains(page, "fit of stem in guide, exhaust") {
		d.Errorf("the engine of %s does not say its fit: %s", looseStem, page)
	}
}

// choke wants the radials' barrels choked when new, with sign and verdict, and
// the flat's without; and the smallest oversize that clears told for both.
func (d demoBook) choke() {
	read := d.reader()
	shown := regexp.MustCompile(`Choke (\+|−)?0\.\d{4} ± 0\.\d{4} in: (new|serviceable), 0\.\d{4} inside the service limit`)
	signs := map[string]bool{}
	for serial, p := range d.parts {
		if p.Kind != wear.Cylinder || p.Engine == 0 {
			continue
		}
		radial := strings.HasPrefix(p.EngineNo, "R9")
		page := read(fmt.Sprintf("/parts/%d", p.ID))
		found := shown.FindStringSubmatch(page)
		if (found != nil) != radial {
			d.Errorf("%s on %s: choke shown %t, want it on the radials, inside its limit", serial, p.EngineNo, found != nil)
		}
		if found != nil {
			signs[found[1]] = true
		}
		if !strings.Contains(page, "oversize is the smallest that clears") {
			d.Errorf("%s: no oversize is told", serial)
		}
	}
	if !signs["+"] || !signs["−"] {
		d.Errorf("chokes have the signs %v, want barrels that still have theirs and some that lost it", signs)
	}
}
