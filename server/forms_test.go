package server

import (
	"fmt"
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"barrelbook/views"
)

// badForm is a form with things wrong in it: the fields that must be marked,
// and words that must be said.
type badForm struct {
	what, path string
	values     url.Values
	marked     []string
	says       []string
}

// form reads "name=value" pairs.
func formOf(pairs ...string) url.Values {
	v := url.Values{}
	for _, p := range pairs {
		name, value, _ := strings.Cut(p, "=")
		v.Set(name, value)
	}
	return v
}

func (b *filled) badForms(t *testing.T) []badForm {
	e, part, shelf := fmt.Sprintf("/engines/%d", b.engine.ID), fmt.Sprintf("/parts/%d", b.cylinders[0]), fmt.Sprintf("/parts/%d", b.shelf)
	meter, model := fmt.Sprintf("%s/meter/%d/correct", e, b.meterRoot), fmt.Sprint(b.engine.Model.ID)
	stack, sheet := e+"/positions/2/install", fmt.Sprintf("/measure/engine/%d/1", b.engine.ID)
	bore := fmt.Sprintf("v-%d-%d-0-", b.cylinders[0], b.boreID)
	return []badForm{
		{"an engine with nothing right", "/engines", formOf("serial=", "model= ", "arrangement=ring", "cylinders=twelve", "master_rod=x", "hours=12:30", "day=yesterday", "aircraft=a typed aeroplane", "notes=typed <notes>"),
			[]string{"serial", "model", "cylinders", "master_rod", "hours", "day"}, []string{"whole number from 1 to 36", "choose radial, flat, inline or V"}},
		{"a parse fault and the book's own check at once", "/engines", formOf("serial=", "model=Invented 9", "arrangement=radial", "cylinders=9", "hours=12h", "day=2024-01-01"), []string{"serial", "hours"}, []string{"give the engine", "not a number"}},
		{"an engine that is there", "/engines", formOf("serial=r-1", "model=Invented 9", "arrangement=radial", "cylinders=9", "hours=5", "day=2024-01-01"), []string{"serial"}, []string{"already has a Invented 9 with serial r-1"}},
		{"an engine without its positions", e + "/edit", formOf("serial=R-1", "arrangement=radial", "cylinders=4", "aircraft=typed aeroplane"), []string{"cylinders"}, []string{"position 9"}},
		{"meter backwards", e + "/meter", formOf("what=reading", "day=2025-02-01", "hours=100.5"), []string{"hours"}, []string{"may not run backwards", "/correct"}},
		{"meter from nothing", e + "/meter", formOf("what=reading", "day=", "hours="), []string{"day", "hours"}, nil},
		{"a replaced meter", e + "/meter", formOf("what=replaced", "day=2025-02-01", "old_hours=x1", "new_hours=y2", "reason="), []string{"old_hours", "new_hours", "reason"}, nil},
		{"a replaced meter that ran backwards", e + "/meter", formOf("what=replaced", "day=2025-02-01", "old_hours=5.25", "new_hours=0", "reason=typed reason"), []string{"old_hours"}, []string{"backwards"}},
		{"a meter correction", meter, formOf("day=2025-13-01", "hours=1e3", "reason="), []string{"day", "hours", "reason"}, nil},
		{"a job with nothing right", e + "/jobs/new", formOf("why=", "detail=typed <detail>", "day=never", "hours=x", "stands=99", "p4=yes"), []string{"why", "day", "hours"}, []string{"give a whole number from 1 to 9"}},
		{"a job on a position that another has", e + "/jobs/new", formOf("uid=j-1", "why=typed reason", "day=2025-02-01", "hours=600", "stands=1", "p4=yes"), nil, []string{"in another job that is under way", "/jobs/1"}},
		{"an empty note of a job", fmt.Sprintf("/jobs/%d/entries", b.job), formOf("kind=note", "text= ", "after=99"), nil, []string{"type the note"}},
		{"an order that is none", "/models/" + model + "/turning", formOf("rows=1", "firing=1,2,x", "order_off=1,2,3", "order_on=1,1,2,3,4,5,6,7,8", "spread=-3", "overhaul=many"), []string{"firing", "order_off", "order_on", "spread", "overhaul"}, []string{"every position from 1 to 9 once"}},
		{"a part with nothing right", "/parts", formOf("kind=", "serial=a/b", "source=stolen", "surface=gold", "oversize=ten", "groove=12", "weight=-4", "hours_before=x", "overhaul_before=y", "modulus=stiff", "part_number=PN-typed", "note=typed note"),
			[]string{"kind", "serial", "source", "oversize", "groove", "weight", "hours_before", "overhaul_before", "modulus"}, []string{"slash"}},
		{"a part that is there", "/parts", formOf("kind=cylinder", "serial=C-1", "part_number=pn-7", "source=new"), []string{"serial"}, []string{"already has a cylinder C-1"}},
		{"a part for no engine", "/parts", formOf("kind=pin", "serial=N-7", "source=new", "model=9999"), []string{"model"}, nil},
		{"a part changed", part + "/edit", formOf("serial=", "source=new", "hours_before=12.5", "note=typed note"), []string{"serial", "hours_before"}, nil},
		{"work on a running part", part + "/events", formOf("event=honed", "day=2024-03-01", "note=typed note"), []string{"day"}, []string{"on an engine"}},
		{"no work", shelf + "/events", formOf("event=polished", "day=", "oversize=y"), []string{"day", "oversize"}, []string{"choose what was done"}},
		{"ground to what", shelf + "/events", formOf("event=ground to oversize", "day="), []string{"day", "oversize"}, nil},
		{"scrapped without a reason", shelf + "/scrap", formOf("day=", "reason="), []string{"day", "reason"}, nil},
		{"installed nowhere", shelf + "/install", formOf("engine=R-99", "position=x", "day=", "hours=y"), []string{"engine", "position", "day", "hours"}, []string{"no engine R-99"}},
		{"installed where another sits", shelf + "/install", formOf("engine=R-1", "position=3", "day=2025-02-01", "hours=610.5"), []string{"position"}, []string{"C-3"}},
		{"removed badly", part + "/remove", formOf("day=2023-01-01", "hours=", "reason="), []string{"hours", "reason"}, nil},
		{"removed too early", part + "/remove", formOf("day=2023-01-01", "hours=0", "reason=typed reason", "scrap=yes"), []string{"day"}, []string{"went on on 2024-01-01"}},
		{"a stack of faults", stack, formOf("day=", "hours=abc", "from-piston=new", "serial-piston=P/2", "from-ring-1="+views.FromShelf, "serial-ring-1=K-99", "from-pin=new", "serial-pin=N-typed", "hours_before-pin=z"),
			[]string{"day", "hours", "serial-piston", "serial-ring-1", "hours_before-pin"}, []string{"no ring K-99 on the shelf", "slash"}},
		{"an empty stack", stack, formOf("day=2025-02-01", "hours=620"), nil, []string{"No part was named"}},
		{"struck without a reason", fmt.Sprintf("/installations/%d/strike", 1), formOf("reason="), []string{"reason"}, nil},
		{"work struck without a reason", "/work/1/strike", formOf("reason="), []string{"reason"}, nil},
		{"struck twice", fmt.Sprintf("/installations/%d/strike", b.struckStay), formOf("reason=typed reason"), []string{"reason"}, []string{"struck already"}},
		{"a sheet of faults", sheet, formOf("uid=typed-uid", "day=1.2.2025", "hours=x", "temperature=hot", "unit=in", "mode=full", "who=A. Typed", "note=typed note", bore+"0-0=5,2535", bore+"0-1=abc"),
			[]string{"day", "hours", "temperature", bore + "0-0", bore + "0-1"}, []string{"after a point"}},
		{"an empty sheet", sheet, formOf("uid=u1", "day=2025-02-01", "hours=620", "unit=in", "mode=full"), nil, []string{"nothing to save"}},
		{"a slip of the decimal point", sheet, formOf("uid=u2", "day=2025-02-01", "hours=620", "unit=in", "mode=full", bore+"0-0=52.535"), []string{bore + "0-0"}, []string{"decimal point"}},
		{"a bad number, a slip and a day to come at once", sheet, formOf("uid=u7", "day=2199-02-01", "hours=620", "unit=in", "mode=full", "temperature=hot", bore+"0-0=abc", bore+"0-1=52.535"), []string{"day", "temperature", bore + "0-0", bore + "0-1"}, []string{"decimal point", "lies ahead"}},
		{"a leak test with faults of both kinds", e + "/leak/new", formOf("uid=u-l0", "day=2199-01-01", "hours=620", "regulated=80", "orifice=0.60", "psi-1=seven", "psi-2=81"), []string{"day", "orifice", "psi-1", "psi-2"}, []string{"decimal point", "above the regulated 80 psi"}},
		{"an engine with a bad number and a day to come", "/engines", formOf("serial=", "model=Invented 9", "arrangement=radial", "cylinders=x", "hours=5", "day=2199-01-01"), []string{"serial", "cylinders", "day"}, nil},
		{"a dial without its set size", sheet, formOf("uid=u3", "day=2025-02-01", "hours=620", "unit=in", "mode=dial", bore+"0-0=+3.5"), []string{bore + "0-0"}, []string{"dial gauge was set to"}},
		{"a gauge that is not there", sheet, formOf("uid=u4", "day=2025-02-01", "hours=620", "unit=in", "mode=full", "gauge=99", bore+"0-0=5.2512"), []string{"gauge"}, nil},
		{"a sheet before the last", sheet, formOf("uid=u5", "day=2025-02-01", "hours=599.5", "unit=in", "mode=full", bore+"0-0=5.2512"), []string{"hours"}, []string{"backwards", "/correct"}},
		{"a correction of nothing", fmt.Sprintf("/readings/%d/correct", b.reading), formOf("what=correct", "value=", "reason=", "who=A. Typed"), []string{"value", "reason"}, nil},
		{"a correction that says the same", fmt.Sprintf("/readings/%d/correct", b.reading), formOf("what=correct", "value=5.2510", "reason=typed reason"), []string{"value"}, []string{"already"}},
		{"a person of nothing", "/people", formOf("name=", "until=soon", "engines=R-1\r\nR-99", "password=short"), []string{"name", "owner", "until", "engines", "password"}, []string{"no engine R-99", "at least 12 characters"}},
		{"a person who is there", "/people", formOf("name=a. OWNER", "mechanic=yes", "password=quiet lamp under stairs"), []string{"name"}, []string{"already somebody called A. Owner"}},
		{"a mechanic of one engine", "/people", formOf("name=T. Typed", "mechanic=yes", "inspector=yes", "engines=R-1", "password=quiet lamp under stairs"), []string{"engines"}, []string{"only who is an inspector"}},
		{"the last owner", "/people/1", formOf("what=change", "name=A. Owner", "mechanic=yes", "active=yes"), []string{"owner"}, []string{"must stay an owner"}},
		{"the last owner not active", "/people/1", formOf("what=change", "name=A. Owner", "owner=yes"), []string{"owner"}, []string{"must stay an owner"}},
		{"the last owner until a day", "/people/1", formOf("what=change", "name=A. Owner", "owner=yes", "active=yes", "until=2099-01-01"), []string{"owner"}, []string{"must stay an owner"}},
		{"a password that others would try", "/people", formOf("name=T. Typed", "mechanic=yes", "password=T. Typed 12345"), []string{"password"}, []string{"others would try first"}},
		{"an own password past the old one", "/people/1", formOf("what=password", "password=another lamp under stairs"), nil, []string{"on your own page"}},
		{"an own password without the old one", "/me", formOf("old=not mine", "password=aaaaaaaaaaaa"), []string{"old", "password"}, []string{"not your password", "repeats itself"}},
		{"a limit of nothing", "/limits", formOf("model="+model, "feature=", "unit=", "wear=sideways", "document=", "groove=x", "life=long"), []string{"feature", "unit", "document", "groove", "life"}, []string{"which way"}},
		{"a limit the wrong way round", "/limits", formOf("model="+model, fmt.Sprintf("feature=%d", b.boreID), "unit=in", "wear=up", "new_min=5.2510", "new_max=5.2490", "service_max=5.26x", "document="), []string{"service_max", "document"}, nil},
		{"a limit inside new", "/limits", formOf("model="+model, fmt.Sprintf("feature=%d", b.boreID), "unit=in", "wear=up", "new_max=5.2510", "service_max=5.2500", "document=typed manual", "page=77"), []string{"service_max"}, []string{"new parts would be beyond"}},
		{"a limit that is there", "/limits", formOf("model="+model, fmt.Sprintf("feature=%d", b.boreID), "unit=in", "wear=usual", "new_max=5.2510", "service_max=5.2600", "document=typed manual"), []string{"feature"}, []string{"there is already a limit for barrel bore", "/limits/new?from="}},
		{"a limit a thousand times too large", "/limits", formOf("model="+model, fmt.Sprintf("feature=%d", b.boreID), "unit=in", "wear=up", "new_min=5187.0", "new_max=5189.0", "service_max=5205", "document=typed manual"), []string{"new_min", "new_max", "service_max"}, []string{"5187.0000 in: is the decimal point right?"}},
		{"a weight without limits", fmt.Sprintf("/measure/part/%d", b.shelf), formOf("uid=u6", "day=2025-02-01", "unit=in", "mode=full", fmt.Sprintf("v-%d-%d-0-0-0=51000", b.shelf, b.feature(t, "cylinder", "weight").ID)), []string{fmt.Sprintf("v-%d-%d-0-0-0", b.shelf, b.feature(t, "cylinder", "weight").ID)}, []string{"is the decimal point right?"}},
		{"a feature of nothing", "/features", formOf("kind=", "name=", "unit=", "wear="), []string{"name", "unit"}, nil},
		{"a feature that is there", "/features", formOf("kind=cylinder", "name=Bore", "unit=in", "wear=up"), []string{"name"}, []string{"already has a feature"}},
		{"a gauge of nothing", "/gauges", formOf("name=", "unit=in", "sd=", "resolution=x", "due=soon"), []string{"name", "sd", "resolution", "due"}, nil},
		{"a name of 61 characters", "/people", formOf("name="+strings.Repeat("n", 61), "mechanic=yes", "password=quiet lamp under stairs"), []string{"name"}, []string{"61 characters are too many: at most 60"}},
		{"an engine of long names", "/engines", formOf("serial="+strings.Repeat("s", 300), "model="+strings.Repeat("é", 61), "arrangement=radial", "cylinders=9", "hours=5", "day=2024-01-01", "aircraft="+strings.Repeat("a", 61), "notes="+strings.Repeat("x ", 1500)+"x"), []string{"serial", "model", "aircraft", "notes"}, []string{"at most 2000"}},
		{"a part of long numbers", "/parts", formOf("kind=pin", "serial="+strings.Repeat("s", 61), "part_number="+strings.Repeat("p", 61), "source=new"), []string{"serial", "part_number"}, nil},
		{"a gauge below nothing", "/gauges", formOf("name=BG-4", "unit=in", "sd=0.0002", "resolution=-1"), []string{"resolution"}, []string{"may not be negative"}},
		{"a gauge that never strays", "/gauges", formOf("name=BG-4", "unit=in", "sd=0", "operator_sd=0.0001", "resolution=", "due=2027-01-01"), []string{"sd"}, []string{"no gauge repeats perfectly"}},
		{"a gauge that is there", "/gauges", formOf("name=bg-2", "unit=in", "sd=0.0002", "resolution=0.0001"), []string{"name"}, []string{"already a gauge"}},
		{"a leak test of faults", e + "/leak/new", formOf("uid=u-l1", "day=soon", "hours=x", "regulated=eighty", "orifice=0,060", "master=hm", "minutes=1.5", "ambient=-1", "who=A. Typed", "note=typed note", "psi-1=70.25", "psi-2=seven", "warm-2=z", "warm-3=70"),
			[]string{"day", "hours", "regulated", "orifice", "master", "minutes", "ambient", "psi-1", "psi-2", "warm-2", "psi-3"}, []string{"after a point", "read first"}},
		{"a meter reading of a day to come", e + "/meter", formOf("what=reading", "day=2199-02-01", "hours=620"), []string{"day"}, []string{"lies ahead", "set it right first"}},
		{"a meter corrected to another age", meter, formOf("day=1900-01-01", "hours=0", "reason=typed reason"), []string{"day"}, []string{"is the year right"}},
		{"work of a day to come", shelf + "/events", formOf("event=honed", "day=2199-02-01"), []string{"day"}, []string{"lies ahead"}},
		{"a sheet of a day to come", sheet, formOf("uid=u0", "day=2199-02-01", "hours=620", "unit=in", "mode=full", bore+"0-0=5.2512"), []string{"day"}, []string{"lies ahead"}},
		{"a stack of a day to come", stack, formOf("day=2199-02-01", "hours=620", "from-pin=new", "serial-pin=N-typed"), []string{"day"}, []string{"lies ahead"}},
		{"hours with a decimal comma", e + "/meter", formOf("what=reading", "day=2025-02-01", "hours=620,5"), []string{"hours"}, []string{"after a point"}},
		{"a leak test of nothing", e + "/leak/new", formOf("uid=u-l2", "day=2025-02-01", "hours=620", "regulated=80", "orifice=0.060"), nil, []string{"nothing to save"}},
		{"a leak test without an orifice", e + "/leak/new", formOf("uid=u-l3", "day=2025-02-01", "hours=620", "regulated=80", "orifice=", "psi-1=70", "air-1-0=yes"), []string{"orifice"}, []string{"means nothing without it"}},
		{"a leak test that cannot be", e + "/leak/new", formOf("uid=u-l4", "day=2025-02-01", "hours=599", "regulated=80", "orifice=0.60", fmt.Sprintf("tester=%d", b.gauge), "psi-1=81", "psi-2=70", "warm-2=80.5"),
			[]string{"hours", "orifice", "tester", "psi-1", "psi-2"}, []string{"backwards", "/correct", "decimal point", "81 psi is above the regulated 80 psi", "choose a tester"}},
		{"a leak test before the cylinder", e + "/leak/new", formOf("uid=u-l5", "day=2023-12-31", "hours=0", "regulated=80", "orifice=0.060", "psi-1=70"), []string{"psi-1"}, []string{"no cylinder is recorded at position 1", "/positions/1/install"}},
		{"a leak test corrected to nothing", fmt.Sprintf("/leaktests/%d/correct", b.leak), formOf("regulated=", "orifice=", "minutes=x", "reason="), []string{"regulated", "orifice", "minutes", "reason"}, nil},
		{"a leak test corrected below its readings", fmt.Sprintf("/leaktests/%d/correct", b.leak), formOf("regulated=60", "orifice=0.060", "reason=typed reason"), []string{"regulated"}, []string{"reads more than 60 psi"}},
		{"a leak reading corrected to nothing", fmt.Sprintf("/leakreadings/%d/correct", b.leakReading), formOf("what=correct", "value=", "recheck=x", "reason="), []string{"value", "recheck", "reason"}, nil},
		{"a leak reading that says the same", fmt.Sprintf("/leakreadings/%d/correct", b.leakReading), formOf("what=correct", "value=57", "recheck=59", "air-0=yes", "reason=typed reason"), []string{"value"}, []string{"already"}},
		{"a leak rule of nothing", "/models/" + model + "/leak", formOf("minimum=", "max_loss=", "document="), []string{"minimum", "document"}, nil},
		{"a leak rule that cannot be", "/models/" + model + "/leak", formOf("minimum=90", "max_loss=all", "regulated=80", "document=typed manual", "page=7"), []string{"minimum", "max_loss", "orifice"}, []string{"no cylinder would pass"}},
		{"a facing of nothing", "/facings", formOf("facing=", "surface=", "says=", "document=", "reason=typed reason"), []string{"facing", "surface", "says", "document"}, []string{"say whether"}},
		{"a facing taken back that is not there", "/facings", formOf("facing=moly", "surface=nitrided", "says=withdrawn", "document=typed list"), []string{"says"}, []string{"no entry for this pair"}},
		{"a plan that cannot be", "/models/" + model, formOf("stations="+strings.Repeat("s,", 13)+"t", "axes=a,b,c,d,e,f,g", "grooves=none"), []string{"stations", "axes", "grooves"}, nil},
		{"a station and an axis twice", "/models/" + model, formOf("stations=top, middle, Top", "axes=pin, pin", "grooves=4"), []string{"stations", "axes"}, nil},
		{"settings that cannot be", "/settings", formOf("shop=A typed shop", "unit=g", "flag_chance=often", "flag_ratio=0.5", "next_in=-1", "pressure_ratio=0.9", "engine_chance=1", "false_share=0", "expansion_cylinder=99", "expansion_piston=20.5", "expansion_ring=11.4", "expansion_pin=12.3"), []string{"engine_chance", "expansion_cylinder", "false_share", "flag_chance", "flag_ratio", "next_in", "pressure_ratio"}, nil},
		{"settings that are no numbers", "/settings", formOf("shop=A typed shop", "unit=in", "flag_chance=NaN", "flag_ratio=Inf", "next_in=100", "pressure_ratio=NaN", "engine_chance=NaN", "false_share=many", "expansion_cylinder=much", "expansion_piston=20.5", "expansion_ring=11.4", "expansion_pin=12.3"), []string{"engine_chance", "expansion_cylinder", "false_share", "flag_chance", "flag_ratio", "pressure_ratio"}, nil},
		{"a decision of nothing", fmt.Sprintf("/jobs/%d/decide/%d", b.job8, b.cylinders[7]), formOf("uid=u-d1", "disposition=", "reason=", "who=A. Typed"), []string{"disposition", "reason"}, []string{"choose what becomes of the cylinder", "say why"}},
		{"ground to nothing", fmt.Sprintf("/jobs/%d/decide/%d", b.job8, b.cylinders[7]), formOf("uid=u-d2", "disposition=grind", "oversize=wide", "reason=typed reason"), []string{"oversize"}, nil},
		{"acknowledged without a reason", fmt.Sprintf("/findings/%d/acknowledge", b.fast), formOf("reason=", "who=A. Typed"), []string{"reason"}, nil},
	}
}

// TestBadForms: a form that cannot be saved comes back with 422, a message at
// each bad field, once, and everything that was typed.
func TestBadForms(t *testing.T) {
	b := fill(t)
	h, logged := serving(t, b.Book)
	for _, c := range b.badForms(t) {
		w := post(h, c.path, c.values)
		wanted := make([]string, len(c.says))
		for i, s := range c.says {
			wanted[i] = html.EscapeString(s)
		}
		check(t, c.what, w, http.StatusUnprocessableEntity, wanted, []string{"<notes>"})
		page := w.Body.String()
		for _, field := range c.marked {
			switch n := strings.Count(page, fmt.Sprintf(`id="f-%s-error"`, field)); n {
			case 1:
			case 0:
				t.Errorf("%s: field %s is not marked", c.what, field)
			default:
				t.Errorf("%s: field %s has %d messages", c.what, field, n)
			}
		}
		for name, v := range c.values {
			if slices.Contains(secret, name) {
				check(t, c.what, w, http.StatusUnprocessableEntity, nil, []string{html.EscapeString(v[0])})
			} else if !kept(page, name, v[0]) {
				t.Errorf("%s: %s=%q is lost", c.what, name, v[0])
			}
		}
	}
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

// chosen are the fields whose value is chosen from a list: a value that is not
// in the list cannot have been typed.
var chosen = []string{"arrangement", "kind", "source", "surface", "model", "event", "wear", "unit", "mode", "what", "gauge", "feature", "scrap", "tester", "material", "says", "force_kind"}

// secret are the fields whose value no page may show.
var secret = []string{"password", "old"}

// kept reports whether a page still has what was typed into a field.
func kept(page, name, value string) bool {
	value = html.EscapeString(strings.TrimSpace(value))
	switch {
	case value == "" || slices.Contains(chosen, name) || strings.HasPrefix(name, "from-"):
		return true
	case strings.Contains(page, `value="`+value+`"`):
		return true
	}
	return regexp.MustCompile(`<textarea[^>]*name="` + name + `"[^>]*>` + regexp.QuoteMeta(value) + `</textarea>`).MatchString(page)
}

// TestGoodForms saves something with every form and is led on with 303.
func TestGoodForms(t *testing.T) {
	b := fill(t)
	h, logged := serving(t, b.Book)
	e, part, shelf := fmt.Sprintf("/engines/%d", b.engine.ID), fmt.Sprintf("/parts/%d", b.cylinders[0]), fmt.Sprintf("/parts/%d", b.shelf)
	model, bore := fmt.Sprint(b.engine.Model.ID), fmt.Sprintf("v-%d-%d-0-", b.cylinders[0], b.boreID)
	for _, c := range []struct {
		path   string
		values url.Values
		to     string
		says   string // on the page it leads to
	}{
		{"/engines", formOf("serial=F-1", "model=Invented 6", "arrangement=flat", "cylinders=6", "hours=1,204.5", "day=2024-01-01", "notes=typed <notes>"), "/engines/2", "typed &lt;notes&gt;"},
		{fmt.Sprintf("/findings/%d/acknowledge", b.fast), formOf("reason=borescoped", "who=A. Smith"), "/findings", "borescoped"},
		{e + "/edit", formOf("serial=R-1", "arrangement=radial", "cylinders=9", "aircraft=another aeroplane"), e, "another aeroplane"},
		{e + "/meter", formOf("what=reading", "day=2025-02-01", "hours=610"), e, "610.0 h"},
		{e + "/meter", formOf("what=replaced", "day=2025-02-02", "old_hours=611", "new_hours=1", "reason=broke"), e, "610.0 h"},
		{e + "/jobs/new", formOf("uid=j-2", "why=top overhaul", "day=2025-02-02", "hours=1", "stands=4", "p3=yes"), "/jobs/3", "Job 3: top overhaul"},
		{"/jobs/3/entries", formOf("uid=j-3", "kind=note", "text=typed <note>", "after=99"), "/jobs/3", "typed &lt;note&gt;"},
		{"/models/" + model + "/turning", formOf("rows=1", "anticlockwise=yes", "firing=1,3,5,7,9,2,4,6,8", "order_off=", "order_on=", "spread=7", "overhaul=1400"), "/models/" + model, "Measuring plan of Invented 9"},
		{"/parts", formOf("kind=ring", "serial=K-9", "source=new", "groove=2", "facing=chrome"), "/parts/", "K-9"},
		{shelf + "/edit", formOf("serial=C-91", "source=overhauled", "hours_before=900", "note=a typed note"), shelf, "C-91"},
		{shelf + "/events", formOf("event=honed", "day=2025-01-10", "note=by hand"), shelf, "honed"},
		{part + "/remove", formOf("day=2025-02-03", "hours=2", "reason=oil use"), part, "oil use"},
		{part + "/install", formOf("engine=R-1", "position=1", "day=2025-02-04", "hours=2"), e + "/positions/1", "C-1"},
		{e + "/leak/new", formOf("uid=u-8", "day=2025-02-05", "hours=2", "regulated=80", "orifice=0.060", fmt.Sprintf("tester=%d", b.tester), "psi-2=55", "warm-2=58", "air-2-2=yes", "minutes=9"), "/leaktests/", "passes the piston rings"},
		{fmt.Sprintf("/leaktests/%d/correct", b.leak), formOf("regulated=80", "orifice=0.040", "reason=small orifice on the tester"), "/leaktests/", "small orifice on the tester"},
		{fmt.Sprintf("/leakreadings/%d/correct", b.leakReading), formOf("what=withdraw", "reason=of another engine"), "/leaktests/", "of another engine"},
		{"/models/" + model + "/leak", formOf("minimum=60", "max_loss=24.5", "orifice=0.060", "regulated=80", "document=Invented manual", "revision=4", "page=71"), "/models/" + model + "/leak", "At least 60 psi, loss at most 24.5 %"},
		{e + "/positions/2/install", formOf("day=2025-02-05", "hours=2", "from-piston=new", "serial-piston=P-2", "from-ring-2="+views.FromShelf, "serial-ring-2=K-9"), e + "/positions/2", "P-2"},
		{e + "/positions/6/install", formOf("day=2025-02-05", "hours=2", "from-pin=new", "serial-pin=N-33", "next=yes"), e + "/positions/7/install?day=2025-02-05&hours=2", `value="2025-02-05"`},
		{"/engines", formOf("serial=F-2", "model=Invented 6", "arrangement=flat", "cylinders=6", "hours=1", "day=2024-01-01"), "/engines/3", "Install parts"},
		{fmt.Sprintf("/measure/engine/%d/1", b.engine.ID), formOf("uid=u-9", "day=2025-02-06", "hours=3", "unit=in", "mode=full", "who=A. Smith", "temperature=21", bore+"0-0=5.2512", bore+"0-1=+2.5"), "/sheets/", "5.2515"},
		{fmt.Sprintf("/measure/part/%d", b.pin), formOf("uid=u-10", "day=2025-02-06", "hours=3", "unit=mm", "mode=full", fmt.Sprintf("v-%d-%d-0-0-0=28.567", b.pin, b.feature(t, "pin", "pin diameter").ID)), "/sheets/", "1.124685"},
		{fmt.Sprintf("/readings/%d/correct", b.reading), formOf("what=withdraw", "reason=taken on another part"), "/sheets/", "taken on another part"},
		{fmt.Sprintf("/installations/%d/strike", 9), formOf("reason=wrong part"), "/parts/", "wrong part"},
		{"/work/1/strike", formOf("reason=wrong size"), "/parts/", "entered by mistake: wrong size"},
		{"/limits", formOf("model="+model, fmt.Sprintf("feature=%d", b.feature(t, "ring", "radial thickness").ID), "unit=in", "wear=usual", "new_min=0.1500", "new_max=0.1550", "service_min=0.1450", "document=Invented manual", "revision=5", "page=31", "next=yes"), "/limits/new?model=" + model, `value="31"`},
		{"/limits", formOf("model="+model, fmt.Sprintf("version=%d", b.limit), fmt.Sprintf("feature=%d", b.boreID), "unit=mm", "wear=up", "new_min=133.325", "new_max=133.375", "service_max=133.600", "life=1200", "document=Invented manual", "revision=4", "page=13"), "/limits?model=" + model, "133.600"},
		{"/facings", formOf("facing=chrome", "surface=nitrided", "says=allowed", "document=Invented list, p. 3"), "/facings", "Invented list, p. 3"},
		{"/features", formOf("kind=cylinder", "name=hardness", "unit=HRC", "wear=down"), "/features", "HRC"},
		{"/gauges", formOf("name=BG-3", "unit=in", "sd=0.0002", "resolution=0.0001", "due=2027-01-01"), "/gauges", "BG-3"},
		{"/gauges", formOf("name=BG-4", "unit=in", "sd=0.0002", "resolution=", "due=1950-01-01"), "/gauges", "overdue since 1950-01-01"},
		{"/models/" + model, formOf("stations=A, B", "axes=x", "grooves=4"), "/limits?model=" + model, "Invented 9"},
		{fmt.Sprintf("/features/%d/group", b.boreID), formOf("surfaces=yes"), fmt.Sprintf("/features/%d/group", b.boreID), "Who is compared"},
		{"/people", formOf("name=T.  Typed", "inspector=yes", "until=2099-01-01", "engines=R-1", "password=quiet lamp under stairs"), "/people", "T. Typed"},
		{"/people/2", formOf("what=change", "name=T. Typed", "mechanic=yes"), "/people/2", "may not sign in"},
		{"/people/2", formOf("what=password", "password=another lamp under stairs"), "/people/2", "new password"},
		{"/people/2", formOf("what=sign out"), "/people/2", "was signed out everywhere"},
		{"/settings", formOf("shop=A typed shop", "lock_minutes=7", "unit=mm", "flag_chance=0.002", "flag_ratio=1.6", "next_in=50", "pressure_ratio=1.2", "engine_chance=0.004", "false_share=0.05", "expansion_cylinder=12.3", "expansion_piston=20.5", "expansion_ring=11.4", "expansion_pin=12.3"), "/settings", `data-cover="7"`},
		{shelf + "/scrap", formOf("day=2025-03-01", "reason=cracked"), shelf, "cracked"},
	} {
		w := post(h, c.path, c.values)
		to := w.Header().Get("Location")
		if w.Code != http.StatusSeeOther || !strings.HasPrefix(to, c.to) {
			t.Errorf("%s: status %d to %q, want 303 to %q: %s", c.path, w.Code, to, c.to, messages(w.Body.String()))
			continue
		}
		check(t, c.path+" led to "+to, get(h, to), http.StatusOK, []string{c.says}, []string{"<notes>"})
	}
	last := post(h, fmt.Sprintf("/measure/engine/%d/1", b.engine.ID), formOf("uid=u-12", "day=2025-02-06", "hours=3", "unit=in", "mode=full", "who=N. Next", "temperature=23.5", bore+"0-0=5.2512"))
	r, w := httptest.NewRequest(http.MethodGet, fmt.Sprintf("/measure/engine/%d/2", b.engine.ID), nil), httptest.NewRecorder()
	r.Host = "localhost:8440"
	for _, c := range append(last.Result().Cookies(), &http.Cookie{Name: cookieName(r), Value: h.(signedIn).id}) {
		r.AddCookie(c)
	}
	h.ServeHTTP(w, r)
	check(t, "the next sheet", w, http.StatusOK, []string{`name="temperature"`, `value="N. Next"`}, []string{`value="23.5"`})
	twice := formOf("uid=u-11", "day=2025-02-06", "hours=3", "unit=in", "mode=full", bore+"0-0=5.2512")
	first, second := post(h, fmt.Sprintf("/measure/engine/%d/1", b.engine.ID), twice).Header().Get("Location"), post(h, fmt.Sprintf("/measure/engine/%d/1", b.engine.ID), twice).Header().Get("Location")
	if first == "" || first != second {
		t.Errorf("a sheet sent again leads to %q, then to %q", first, second)
	}
	twice.Set(bore+"0-0", "5.2513")
	check(t, "another sheet under the name of one in the book", post(h, fmt.Sprintf("/measure/engine/%d/1", b.engine.ID), twice), http.StatusUnprocessableEntity, []string{"The book has this sheet already", `href="` + first + `"`}, nil)
	if logged.Len() > 0 {
		t.Errorf("the log says\n%s", logged)
	}
}

// messages are what a form says is wrong.
func messages(page string) []string {
	var all []string
	for _, m := range regexp.MustCompile(`class="error"[^>]*>([^<]*)<`).FindAllStringSubmatch(page, -1) {
		all = append(all, m[1])
	}
	return all
}
