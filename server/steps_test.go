package server

import (
	"context"
	"html"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"barrelbook/store"
	"barrelbook/wear"
)

var stepRow = regexp.MustCompile(`(?s)<tr><th scope="row">([^<]*)</th>\s*<td data-label="Equation">(.*?)</td>\s*<td data-label="Numbers">(.*?)</td>\s*<td data-label="Source">(.*?)</td></tr>`)

// stepNames are the steps on a page of how something was worked out; one that
// has an equation without numbers, or no source, is a fault.
func stepNames(t *testing.T, path, page string) (names []string) {
	t.Helper()
	for _, m := range stepRow.FindAllStringSubmatch(page, -1) {
		text := html.UnescapeString(m[1])
		names = append(names, text)
		if equation, numbers := m[2], strings.TrimSpace(m[3]); equation != "–" && (numbers == "–" || numbers == "") {
			t.Errorf("%s: step %q has the equation %s and no numbers", path, text, equation)
		}
		if source := strings.TrimSpace(m[4]); source == "–" || source == "" {
			t.Errorf("%s: step %q has no source", path, text)
		}
		if strings.Contains(m[3], "NaN") || strings.Contains(m[3], "Inf") {
			t.Errorf("%s: step %q says %s", path, text, m[3])
		}
	}
	return names
}

// stepsOn draws pages and wants these steps on each.
func stepsOn(t *testing.T, h http.Handler, pages map[string][]string) {
	t.Helper()
	for path, wanted := range pages {
		w := get(h, path)
		if w.Code != http.StatusOK {
			t.Errorf("%s: status %d: %s", path, w.Code, messages(w.Body.String()))
		}
		names := stepNames(t, path, w.Body.String())
		for _, heading := range []string{"What was assumed", "What the program cannot know"} {
			if len(names) > 0 && !strings.Contains(w.Body.String(), heading) {
				t.Errorf("%s: works something out and does not say: %s", path, heading)
			}
		}
		for _, want := range wanted {
			if !slices.ContainsFunc(names, func(n string) bool { return strings.HasPrefix(n, want) }) {
				t.Errorf("%s: no step %q among %q", path, want, names)
			}
		}
	}
}

// Every step of how something was worked out has numbers where it has an
// equation, and a source. Lengths of the crank and rods are those of
// TestCrankOnPage, the rest is invented.
func TestWorkedSteps(t *testing.T) {
	b, ctx := fill(t), context.Background()
	m := must[store.Model](t)(b.Model(ctx, b.engine.Model.ID))
	m.Oversizes, m.CleanUp = []wear.Value{inches(t, "0.010"), inches(t, "0.015")}, inches(t, "0.002")
	ok(t, b.SaveModel(ctx, m))
	mm := func(n int64) wear.Value { return wear.Value(n * 1_000_000) }
	ok(t, b.SaveRods(ctx, m.ID, store.Rods{CrankRadius: mm(70), MasterRod: mm(260), KnuckleRadius: mm(65), LinkRod: mm(195), PinToCrown: mm(60), BelowCrown: mm(110), SkirtEnd: mm(100)}))
	ok(t, b.AddLimit(ctx, store.LimitRow{Model: m.ID, Feature: b.feature(t, wear.Piston, "piston skirt").ID, Unit: wear.Inch, Document: "Invented manual", Limit: wear.Limit{NewMin: ptr(inches(t, "5.2400")), NewMax: ptr(inches(t, "5.2420")), ServiceMin: ptr(inches(t, "5.2300")), Wear: wear.Down}}))
	var rs []store.NewReading
	for _, x := range [][4]string{{"barrel bore", "top", "thrust", "5.2570"}, {"barrel bore", "top", "pin", "5.2560"}, {"barrel bore", "bottom", "thrust", "5.2515"}, {"barrel bore", "bottom", "pin", "5.2510"},
		{"gap of a pushed ring", "top", "", "0.0394"}, {"gap of a pushed ring", "bottom", "", "0.0200"}} {
		r := b.number(t, b.cylinders[0], wear.Cylinder, x[0], x[3])
		r.Station, r.Axis = x[1], x[2]
		rs = append(rs, r)
	}
	force := store.NewReading{Part: b.ring, Feature: b.feature(t, wear.Ring, "tangential force").ID, Value: 40_000_000, Typed: "40.0", Unit: wear.Newton}
	rs = append(rs, force, b.number(t, b.piston, wear.Piston, "piston skirt", "5.2410"), b.number(t, b.ring, wear.Ring, "axial width", "0.0930"))
	hours := wear.Hours(60_500)
	must[int64](t)(b.SaveSheet(ctx, store.NewSheet{Sheet: store.Sheet{Day: "2025-02-01", Engine: b.engine.ID, Position: 1, Temperature: ptr(4.0)}, Shows: &hours, Readings: rs}))
	b.aRing(t, store.Part{Serial: "K-40", Groove: 1}, "axial width=0.1100 in", "tangential force=55.0 N")
	b.aRing(t, store.Part{Serial: "K-41", Modulus: 100_000}, "free gap=0.5300 in", "end gap=0.0200 in", "radial thickness=0.1570 in", "axial width=0.0800 in")
	must[int](t)(b.Refresh(ctx))
	h, logged := serving(t, b.Book)
	e := href("/engines/", b.engine.ID)
	stepsOn(t, h, map[string][]string{
		e:                               {"Ratio common to the parts", "Spread of normal engines", "Degrees of freedom", "Chance"},
		e + "?whole=all":                {"Ratio common to the parts"},
		e + "/positions/1":              {"Skirt in barrel", "Cylinder at 20 °C"},
		e + "/crank?at=4&lean=5":        {"True top dead centre", "Stroke", "Link pistons", "Smallest lean"},
		e + "/match?positions=1":        {"Typical distance", "Cylinder at 20 °C"},
		href("/leaktests/", b.leak):     {"Loss", "Leak area", "General rule"},
		href("/parts/", b.cylinders[0]): {"Taper", "Out-of-round", "Wear", "Uncertainty", "Oversize", "Cylinder at 20 °C", "Bore growth by end gap, top"},
		href("/parts/", b.cylinders[8], "?series=", b.fast):        {"Expected wear", "Middle of normal parts", "Spread that the parts show", "Spread of normal parts", "Ratio k", "Wear seen", "Ratio in the last interval", "Chance p that a normal part", "Chance p of the last interval", "Equivalent hours", "Hours to the limit"},
		href("/parts/", b.pin):                                     nil,
		asking(href("/parts/", b.ring, "/compare"), "serial=K-41"): {"Contact pressure", "Standard uncertainty", "Parts of the uncertainty", "Ratio of contact pressures"},
		asking(href("/parts/", b.piston, "/regroove"), "groove_width=0.1080", "clearance_min=0.0055", "clearance_max=0.0075", "above=0.1500", "above_min=0.1400", "shelf=yes"): {"New groove width", "Cleans up", "To machine", "Side clearance then", "Land above", "Verdict on land above", "Tangential force for the same pressure"},
	})
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

// The same of what a job's pages work out.
func TestWorkedStepsOfAJob(t *testing.T) {
	b := openShop(t)
	h, logged := serving(t, b.Book)
	job := href("/jobs/", b.job8)
	stepsOn(t, h, map[string][]string{
		b.decidePath(b.cylinders[1]): {"Oversize", "Bore after honing", "Verdict on bore after honing", "Skirt in barrel", "Skirt of P-1 in this bore", "Verdict on skirt of P-1 in this bore"},
		b.decidePath(b.pistons[1]):   {"Skirt in barrel", "Piston P-2, skirt in barrel", "Verdict on Piston P-2, skirt in barrel", "A new one, skirt in barrel"},
		b.decidePath(b.ring):         nil,
		job + "/placing":             {"Typical distance", "Spread of weights"},
		job + "/bench/1":             {"Skirt in barrel"},
	})
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

// Each disposition says under its steps what was assumed for it, and those that
// reckon say what the program cannot know. The assumptions are those of the
// code, told in words; there is no source to hold them against.
func TestAssumedOfADecision(t *testing.T) {
	var ring int64
	b := openShop(t, func(b *shop) {
		b.limit2(t, wear.Piston, "side clearance", 1, "0.0055", "0.0075", "", "0.0110", wear.Up)
		ring = b.fitted(t, store.Part{Kind: wear.Ring, Serial: "K-2", Groove: 1, ModelID: b.engine.Model.ID}, store.Place{Engine: b.engine.ID, Position: 2, Groove: 1})
		spare := b.shelved(t, store.Part{Kind: wear.Ring, Serial: "K-W", Groove: 1}, "", "")
		for part, force := range map[int64]string{ring: "40.0", spare: "48.0"} {
			n := must[wear.Value](t)(wear.ParseValue(force, wear.Newton))
			at, shows := store.Sheet{Day: "2025-01-01"}, (*wear.Hours)(nil)
			if part == ring {
				at.Engine, at.Position, shows = b.engine.ID, 2, ptr(wear.Hours(60_000))
			}
			must[int64](t)(b.SaveSheet(context.Background(), store.NewSheet{Sheet: at, Shows: shows, Readings: []store.NewReading{b.exact(t, part, wear.Ring, "axial width", "0.0990"),
				{Part: part, Feature: b.feature(t, wear.Ring, "tangential force").ID, Value: n, Typed: force, Unit: wear.Newton, Resolution: 100_000}}}))
		}
		groove := b.exact(t, b.pistons[2], wear.Piston, "groove width", "0.1040")
		groove.Groove = 1
		must[int64](t)(b.SaveSheet(context.Background(), store.NewSheet{Sheet: store.Sheet{Day: "2025-01-01", Engine: b.engine.ID, Position: 2}, Shows: ptr(wear.Hours(60_000)), Readings: []store.NewReading{groove}}))
	})
	h, _ := serving(t, b.Book)
	for path, wanted := range map[string]map[string]string{
		b.decidePath(b.cylinders[2]): {"reuse": lastMeasured, "hone": "no taper or out-of-round is left", "grind": "keeps the bore's axis", "plate": "at the middle of the new limits of its size", "replace": middleWanted, "scrap": "none was held against it here"},
		b.decidePath(b.pistons[2]):   {"reuse": lastMeasured, "re-groove": "50 % of the cut comes off the land below", "replace": "A new one measures the middle of its new limits", "scrap": "none was held against it here"},
		b.decidePath(ring):           {"reuse": lastMeasured, "replace": "Both rings are set against the same bore", "scrap": "none was held against it here"},
	} {
		page := get(h, path).Body.String()
		for disposition, says := range wanted {
			_, section, _ := strings.Cut(page, `id="f-of-`+disposition+`"`)
			section, _, _ = strings.Cut(section, `<section class="outlook"`)
			_, assumed, some := strings.Cut(text(section), "What was assumed")
			if !some || !strings.Contains(assumed, says) {
				t.Errorf("%s: %s does not say %q\n%s", path, disposition, says, assumed)
			}
			if disposition != "scrap" && !strings.Contains(assumed, "What the program cannot know") {
				t.Errorf("%s: %s does not say what cannot be known", path, disposition)
			}
		}
	}
}
