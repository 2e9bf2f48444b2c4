package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"barrelbook/static"
	"barrelbook/store"
	"barrelbook/wear"
)

// TestNumbersInBrowser holds the page's reading of numbers against the
// laptop's, on the entries that people make and on others.
func TestNumbersInBrowser(t *testing.T) {
	texts := strings.Split("|.|-|+|5|5.|.5|5.2535|+5.2535|-5.2535|−5.2535|−−5|+-5|--5|5,25|5.25.1|5e3|0x10|1/2| 5.25 |\t5.25\n|\u00a05.25\u2003|\ufeff5.25|5 .25|٥|5.25l1|0|-0|0.0000|0.00001|0.00000001|0.000000039|0.00000000001|0.0000000000001|99999999999|-99999999999|363150.0000|363088.9778689|123456789012345678901234567890|1234567890123456789012345678901|0.0005|0.0000005|-0.0000005|0.0000015|2.5|1.0000005|constructor|__proto__|NaN|Infinity|+3.5|-12.5", "|")
	rng := rand.New(rand.NewPCG(11, 7))
	for range 400 {
		digits := fmt.Sprintf("%0*d", 1+rng.IntN(12), rng.Int64N(1e12))
		at := rng.IntN(len(digits) + 1)
		texts = append(texts, []string{"", "+", "-", "−"}[rng.IntN(4)]+digits[:at]+"."+digits[at:])
	}
	units := []string{"in", "mm", "µm", "g", "kg", "oz", "lb", "N", "lbf", "HRC", "psi", "constructor"}
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	ask, err := json.Marshal(map[string]any{"texts": texts, "units": units})
	if err != nil {
		t.Fatal(err)
	}
	read, err := chromedp.Run(x.ctx, chromedp.Evaluate[map[string][]string](fmt.Sprintf(`import(%q).then(({parse}) => {
		const ask = %s, out = {};
		for (const unit of ask.units) out[unit] = ask.texts.map(t => parse(t, unit)?.toString() ?? "refused");
		return out;
	})`, static.Module("quantity.js"), ask), chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	refused, taken := 0, 0
	for _, name := range units {
		u, err := wear.UnitNamed(name)
		if err != nil {
			t.Fatal(err)
		}
		for i, text := range texts {
			want := "refused"
			if v, err := wear.ParseValue(text, u); err == nil {
				want = strconv.FormatInt(int64(v), 10)
				taken++
			} else {
				refused++
			}
			if got := read[name][i]; got != want {
				t.Errorf("%q %s: the page reads %s, the laptop %s", text, name, got, want)
			}
		}
	}
	t.Logf("%d numbers read alike, %d refused alike", taken, refused)
}

// TestEntriesInBrowser types signed and dial entries in both units out of
// reach. The laptop refuses an entry that it reads otherwise than the page did,
// so that their being in the book shows that both read the same.
func TestEntriesInBrowser(t *testing.T) {
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	x.ready("/waiting", l.sheetOf(1))
	l.stop()
	rng := rand.New(rand.NewPCG(3, 5))
	var want []string
	for i := range 12 {
		x.visit(l.sheetOf(1))
		unit, mode, typed := []string{"in", "mm"}[i%2], []string{"full", "nominal", "dial"}[i/2%3], fmt.Sprintf("%+.1f", rng.Float64()*6-2)
		x.fill("hours", fmt.Sprintf("%d", 150+i))
		x.set("unit", unit)
		x.choose("mode", mode)
		if mode == "dial" {
			x.set(fmt.Sprintf("s-%d-%d", l.barrels[0], l.bore), map[string]string{"in": "5.2500", "mm": "133.350"}[unit])
		}
		x.fill(l.cell(1), typed)
		size, err := chromedp.Run(x.ctx, chromedp.Evaluate[string](fmt.Sprintf(`import(%q).then(m => m.sizeOf(document.querySelector("[name=%s]")).toString())`, static.Module("beside.js"), l.cell(1)), chromedp.EvalAwaitPromise))
		if err != nil {
			t.Fatal(err)
		}
		if n, err := strconv.Atoi(size); err != nil || n < 133_000_000 || n > 134_000_000 {
			t.Errorf("%s %s %s is read as %s nm", typed, unit, mode, size)
		}
		x.do(chromedp.Click(chromedp.CSS("[data-save]")))
		x.until(`location.pathname === "/waiting"`)
		want = append(want, typed)
	}
	l.start()
	x.visit("/waiting")
	x.delivered()
	wantSheets(t, l, 1, want...)
}

// TestLeakTestAway: a leak test waits as a sheet does, with where air was
// heard, and is changed on the tablet before it is delivered. The page that
// was kept yesterday has the date of today.
func TestLeakTestAway(t *testing.T) {
	l := newLaptop(t)
	least, orifice := wear.PSI(560), wear.LargeOrifice // 0.060 in
	if err := l.book.AddLeakRule(t.Context(), store.LeakRule{Model: l.engine.Model.ID, Minimum: &least, Orifice: &orifice, Unit: wear.Inch, Document: "Invented manual"}); err != nil {
		t.Fatal(err)
	}
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	path := fmt.Sprintf("/engines/%d/leak/new", l.engine.ID)
	x.ready("/waiting", path)
	// the kept page grows a day older
	x.until(`caches.keys().then(async (names) => {
		const name = names.find((n) => n !== "signed-out");
		const cache = await caches.open(name), kept = await cache.match(` + quoted(path) + `, {ignoreVary: true});
		const text = (await kept.text()).replace(/value="\d{4}-\d\d-\d\d"/, 'value="2020-02-02"');
		await cache.put(` + quoted(path) + `, new Response(text, {headers: kept.headers}));
		return true;
	})`)
	l.stop()
	x.visit(path)
	x.shows("Air in a cylinder can spin the propeller", "The laptop is out of reach")
	if got, want := eval[string](x.tab, `document.querySelector("[name=day]").value`), eval[string](x.tab, `new Date(Date.now() - new Date().getTimezoneOffset() * 60000).toISOString().slice(0, 10)`); got != want {
		t.Errorf("the date is %s, want %s", got, want)
	}
	x.fill("hours", "150.0")
	x.fill("psi-3", "58")
	x.fill("orifice", "0.060")
	x.until(`document.querySelector("[name=psi-3] ~ .beside")?.innerText === "2 psi above the maker's rule; ✕ 2 psi below the general rule"`)
	x.empty("psi-3")
	x.fill("psi-3", "x")
	x.until(`document.querySelector("[name=psi-3] ~ .beside").innerText === "cannot be read as a pressure here"`)
	x.fill("warm-3", "60")
	x.until(`document.querySelector("[name=warm-3] ~ .beside").innerText === "4 psi above the maker's rule; just what the general rule asks for"`)
	x.empty("orifice")
	x.fill("orifice", "0.040")
	x.until(`document.querySelector("[name=warm-3] ~ .beside").innerText.startsWith("the maker's rule is for another orifice")`)
	x.empty("orifice")
	x.fill("orifice", "0.060")
	x.empty("warm-3")
	x.empty("psi-3")
	x.fill("psi-3", "71")
	x.do(chromedp.Click(chromedp.CSS(`label:has([name="air-3-0"])`)))
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname === "/waiting"`)
	x.shows("Leak test of R9-77")
	x.until(`document.querySelector("#outbox-list .actions a")?.click() ?? location.search.startsWith("?waiting=")`)
	x.until(`document.querySelector("[name=psi-3]")?.value === "71" && document.querySelector("[name=air-3-0]").checked`)
	x.fill("psi-4", "74")
	x.do(chromedp.Click(chromedp.CSS("[data-save]")))
	x.until(`location.pathname === "/waiting" && document.querySelectorAll("#outbox-list li[id]").length === 1`)
	l.start()
	x.visit("/waiting")
	x.delivered()
	x.do(chromedp.Click(chromedp.CSS("#delivered-list a")))
	x.shows("71 of 80 psi", "74 of 80 psi", "exhaust", "Filled in on")
	rs, err := l.book.LeakReadingsOn(t.Context(), l.engine.ID)
	if err != nil || len(rs) != 2 {
		t.Errorf("the book holds %d leak readings (%v), want 2", len(rs), err)
	}
}

// TestLeakRuleInBrowser holds the comparison with a rule that a page makes out
// of reach against the laptop's plain verdict, on the bound too.
func TestLeakRuleInBrowser(t *testing.T) {
	type question struct {
		Reading   string `json:"reading"`
		Regulated string `json:"regulated"`
		Minimum   int    `json:"minimum,omitempty"`
		MaxLoss   int    `json:"maxLoss,omitempty"`
	}
	var ask []question
	rng := rand.New(rand.NewPCG(9, 2))
	for range 400 {
		regulated := wear.PSI(700 + rng.IntN(200))
		q := question{Regulated: regulated.String(), Minimum: rng.IntN(2) * (500 + rng.IntN(200)), MaxLoss: rng.IntN(2) * (100 + rng.IntN(300))}
		if q.Minimum == 0 && q.MaxLoss == 0 {
			q.MaxLoss = 250
		}
		near := max(q.Minimum, int(regulated)*(1000-q.MaxLoss)/1000*min(q.MaxLoss, 1)) + rng.IntN(5) - 2
		q.Reading = wear.PSI(min(near, int(regulated))).String()
		ask = append(ask, q)
	}
	for _, text := range []string{"", "x", "-1", "60.05", "60.10", "300", "300.1", "1e2", " 60 "} {
		ask = append(ask, question{Reading: text, Regulated: "300", MaxLoss: 250})
	}
	asked, err := json.Marshal(ask)
	if err != nil {
		t.Fatal(err)
	}
	l := newLaptop(t)
	x := openTablet(t, l.base, "")
	x.visit("/waiting")
	got, err := chromedp.Run(x.ctx, chromedp.Evaluate[[]string](fmt.Sprintf(`import(%q).then(({above, pressure}) => %s.map((q) => {
		const reading = pressure(q.reading), room = reading === null ? null : above(q, reading, pressure(q.regulated));
		return room === null ? "refused" : room < 0n ? "beyond" : "within";
	}))`, static.Module("leak.js"), asked), chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	for i, q := range ask {
		want := "refused"
		if reading, err := wear.ParsePSI(q.Reading); err == nil {
			regulated, err := wear.ParsePSI(q.Regulated)
			if err != nil {
				t.Fatal(err)
			}
			j, err := wear.JudgeLeak(wear.LeakTest{Regulated: regulated, Reading: reading, Orifice: wear.SmallOrifice}, 0, nil, &wear.LeakRule{Minimum: wear.PSI(q.Minimum), MaxLoss: q.MaxLoss})
			if err != nil {
				t.Fatal(err)
			}
			if want = "within"; j.Plain == wear.Beyond {
				want = "beyond"
			}
		}
		count[want]++
		if got[i] != want {
			t.Errorf("%+v: the page says %s, the laptop %s", q, got[i], want)
		}
	}
	if count["within"] < 100 || count["beyond"] < 100 || count["refused"] < 4 {
		t.Errorf("the questions are one-sided: %v", count)
	}
}
