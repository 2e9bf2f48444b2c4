package main

import (
	"context"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"barrelbook/store"
	"barrelbook/wear"
)

const demoDay wear.Day = "2026-05-01"

// demoBook is a filled demo book with what the tests ask of it.
type demoBook struct {
	*testing.T
	ctx     context.Context
	book    *store.Book
	parts   map[string]store.PartRow // by serial
	engines map[string]store.Engine
}

// got is what was asked for, or ends the test.
func got[T any](t *testing.T) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		must(t, err)
		return v
	}
}

// TestDemo wants each fate of the scenario to show in what the book reports.
func TestDemo(t *testing.T) {
	b := temporaryBook(t)
	if err := fillDemo(t.Context(), b, demoDay); err != nil {
		t.Fatal(err)
	}
	d := demoBook{ctx: t.Context(), book: b, parts: map[string]store.PartRow{}, engines: map[string]store.Engine{}}
	rows, _, err := b.Parts(d.ctx, store.PartFilter{Limit: 1000})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range rows {
		d.parts[p.Serial] = p
	}
	es, _, err := b.Engines(d.ctx, "", 100, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range es {
		d.engines[e.Serial] = e
	}
	for _, c := range []struct {
		name string
		test func(demoBook)
	}{
		{"size", demoBook.size}, {"engines full", demoBook.full}, {"abnormal", demoBook.abnormal}, {"heavy ring", demoBook.heavy}, {"pushed ring", demoBook.pushed}, {"late", demoBook.late}, {"dusty", demoBook.dusty},
		{"undecided", demoBook.undecided}, {"too young", demoBook.young}, {"beyond", demoBook.beyond}, {"moved", demoBook.moved},
		{"ground", demoBook.ground}, {"limit versions", demoBook.limits}, {"meters", demoBook.meters}, {"corrected reading", demoBook.corrected},
		{"gauges", demoBook.gauges}, {"own feature", demoBook.ownFeature}, {"shelf and scrap", demoBook.shelf}, {"leaks", demoBook.leaks}, {"fits", demoBook.fits}, {"choke", demoBook.choke},
	} {
		t.Run(c.name, func(t *testing.T) {
			d.T = t
			c.test(d)
		})
	}
}

func (d demoBook) readings(serial string) []store.Reading {
	d.Helper()
	return got[[]store.Reading](d.T)(d.book.ReadingsOf(d.ctx, d.parts[serial].ID))
}

// of lists the series in hand of one feature of a part.
func (d demoBook) of(serial, feature string) []store.Finding {
	d.Helper()
	fs := got[[]store.Finding](d.T)(d.book.FindingsOf(d.ctx, d.parts[serial].ID))
	fs = slices.DeleteFunc(fs, func(f store.Finding) bool { return f.Feature.Name != feature })
	if len(fs) == 0 {
		d.Fatalf("%s has no series of %s", serial, feature)
	}
	return fs
}

func (d demoBook) size() {
	s := got[store.Settings](d.T)(d.book.Settings(d.ctx))
	if !s.Demo || !strings.Contains(s.Shop, "invented") {
		d.Errorf("settings = %+v, want a demo that says it is invented", s)
	}
	n, first, last := 0, demoDay, wear.Day("")
	for serial := range d.parts {
		for _, r := range d.readings(serial) {
			n++
			first, last = min(first, r.Sheet.Day), max(last, r.Sheet.Day)
		}
	}
	if n < 4000 || n > 6000 || len(d.parts) < 150 {
		d.Errorf("%d readings of %d parts, want 4,000 to 6,000 of some hundred", n, len(d.parts))
	}
	if first > "2022-06-30" || last < "2026-03-01" || last >= demoDay {
		d.Errorf("sheets from %s to %s, want four years up to shortly before %s", first, last, demoDay)
	}
	d.Logf("%d readings of %d parts", n, len(d.parts))
}

func (d demoBook) full() {
	slots := got[map[int64][]store.Slot](d.T)(d.book.Slots(d.ctx, slices.Collect(maps.Values(d.engines))))
	aircraft := map[string]bool{}
	for serial, e := range d.engines {
		aircraft[e.Aircraft] = true
		if have, want := len(slots[e.ID]), e.Cylinders*(3+e.Model.Grooves); have != want {
			d.Errorf("engine %s holds %d parts, want %d", serial, have, want)
		}
		if (e.MasterRod > 0) != (e.Arrangement == "radial") {
			d.Errorf("engine %s, %s: master rod at %d", serial, e.Arrangement, e.MasterRod)
		}
		entries := got[[]store.MeterEntry](d.T)(d.book.Meter(d.ctx, e.ID))
		if yearly := (e.Hours - entries[len(entries)-1].Hours).Float() / years(d.T, entries[len(entries)-1].Day); yearly < 115 || yearly > 200 {
			d.Errorf("engine %s ran %.0f h a year, want about 120 to 200", serial, yearly)
		}
	}
	if len(aircraft) != 4 || len(d.engines) != 4 {
		d.Errorf("%d engines on aircraft %v, want four on four", len(d.engines), aircraft)
	}
}

// years are those from a day to the demo's.
func years(t *testing.T, from wear.Day) float64 {
	t.Helper()
	first, last := got[time.Time](t)(time.Parse(time.DateOnly, string(from))), got[time.Time](t)(time.Parse(time.DateOnly, string(demoDay)))
	return last.Sub(first).Hours() / 24 / 365
}

func (d demoBook) limits() {
	model := d.engines["R9-0388"].Model.ID
	feature := d.of(wornPiston, "side clearance")[0].Feature.ID
	now := got[store.Limits](d.T)(d.book.LimitsOf(d.ctx, model, "")).For(feature, 1)
	versions := got[[]store.LimitRow](d.T)(d.book.LimitHistory(d.ctx, now.ID))
	if len(versions) != 2 || versions[0].Revision == versions[1].Revision {
		d.Errorf("%d versions of the line, want two revisions", len(versions))
	}
	oldest := d.readings(wornPiston)
	then := got[store.Limits](d.T)(d.book.LimitsOf(d.ctx, model, oldest[len(oldest)-1].SavedAt)).For(feature, 1)
	if *then.ServiceMax <= *now.ServiceMax {
		d.Errorf("service limit %s then, %s now; want the first sheets under the wider one", then.ServiceMax.Format(wear.Inch), now.ServiceMax.Format(wear.Inch))
	}
	for _, e := range d.engines {
		for _, l := range got[store.Limits](d.T)(d.book.LimitsOf(d.ctx, e.Model.ID, "")).Rows {
			if !strings.HasPrefix(l.Document, "Invented") || l.Revision == "" || l.Page == "" {
				d.Errorf("limit %d was typed from %q, revision %q, page %q", l.ID, l.Document, l.Revision, l.Page)
			}
		}
	}
}

func (d demoBook) meters() {
	replaced, misread := d.engines["R9-0388"], d.engines["F6-1120"]
	entries := got[[]store.MeterEntry](d.T)(d.book.Meter(d.ctx, replaced.ID))
	if replaced.Offset == 0 || !slices.ContainsFunc(entries, func(m store.MeterEntry) bool { return m.Kind == "replaced" && m.Reason != "" }) {
		d.Errorf("offset of %s is %s, want that of a replaced meter", replaced.Serial, replaced.Offset)
	}
	entries = got[[]store.MeterEntry](d.T)(d.book.Meter(d.ctx, misread.ID))
	struck := slices.IndexFunc(entries, func(m store.MeterEntry) bool { return m.Struck })
	if struck < 0 {
		d.Fatalf("no meter entry of %s was corrected", misread.Serial)
	}
	if m := got[store.MeterEntry](d.T)(d.book.MeterEntry(d.ctx, entries[struck].Root)); m.Reason == "" || m.Hours >= entries[struck].Hours {
		d.Errorf("corrected from %s to %s, reason %q", entries[struck].Hours, m.Hours, m.Reason)
	}
}

func (d demoBook) corrected() {
	var struck, right []store.Reading
	for _, r := range d.readings(misreadBarrel) {
		if r.Struck {
			struck = append(struck, r)
		} else if r.Reason != "" {
			right = append(right, r)
		}
	}
	if len(struck) != 1 || len(right) != 1 || struck[0].Typed != misread || right[0].Root != struck[0].Root || *struck[0].Value-*right[0].Value != demoOversize {
		d.Errorf("struck %+v, corrected %+v; want %s taken back by 0.0100", struck, right, misread)
	}
	if v := d.parts[misreadBarrel].Verdict; v > wear.Serviceable {
		d.Errorf("%s is %s, want the struck reading to count for nothing", misreadBarrel, v)
	}
}

func (d demoBook) gauges() {
	var overdue []string
	for _, g := range got[[]store.Gauge](d.T)(d.book.Gauges(d.ctx)) {
		if g.Overdue(demoDay) {
			overdue = append(overdue, g.Name)
		}
	}
	if len(overdue) != 1 {
		d.Fatalf("overdue gauges = %q, want one", overdue)
	}
	for _, r := range d.readings(heavyRing) {
		if late := r.Sheet.Day > "2026-03-01" && r.Gauge == overdue[0]; r.GaugeOverdue != late {
			d.Errorf("reading of %s with %s: overdue %t, want %t", r.Sheet.Day, r.Gauge, r.GaugeOverdue, late)
		}
	}
}

func (d demoBook) ownFeature() {
	for _, f := range d.of(movedBarrel, springForce) {
		if f.Feature.BuiltIn || f.Verdict == wear.NoLimit {
			d.Errorf("%s: built in %t, %s; want the shop's own with a limit", springForce, f.Feature.BuiltIn, f.Verdict)
		}
	}
}

func (d demoBook) shelf() {
	if p := d.parts[crackedBarrel]; p.Status != "scrapped" || p.ScrapReason == "" {
		d.Errorf("%s is %s for %q, want it scrapped for a reason", crackedBarrel, p.Status, p.ScrapReason)
	}
	kinds := map[wear.Kind]int{}
	for _, p := range d.parts {
		if p.Status == "on shelf" {
			kinds[p.Kind]++
		}
	}
	for _, k := range wear.Kinds {
		if kinds[k] == 0 {
			d.Errorf("no %s on the shelf: %v", k, kinds)
		}
	}
}

// TestDemoRepeats wants two demo books of one day to say the same.
func TestDemoRepeats(t *testing.T) {
	var texts [2][]string
	for i := range texts {
		d := got[*demo](t)(newDemo(t.Context(), temporaryBook(t), demoDay))
		if err := do(d.settings, d.addGauges, d.addFeatures, d.addEngines, d.addLimits, d.tell); err != nil {
			t.Fatal(err)
		}
		for _, s := range d.sheets {
			for _, r := range s.readings {
				texts[i] = append(texts[i], r.part.Serial+" "+r.line.feature+" "+r.text)
			}
		}
	}
	if len(texts[0]) == 0 || !slices.Equal(texts[0], texts[1]) {
		t.Errorf("two demos of the same day differ: %d and %d readings", len(texts[0]), len(texts[1]))
	}
}

// TestDemoDay refuses what is no date.
func TestDemoDay(t *testing.T) {
	if err := fillDemo(t.Context(), temporaryBook(t), "yesterday"); err == nil {
		t.Error("filled a demo up to a day that is none")
	}
}
