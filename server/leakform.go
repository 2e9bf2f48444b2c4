package server

import (
	"net/http"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// sameLeakHead are the fields of a test's head that the next test from the
// same browser begins with. The orifice is not among them: it is read off the
// tester each time.
var sameLeakHead = []string{"who", "tester"}

// newLeakTest is the sheet of a leak test.
func (s *Server) newLeakTest(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	j, err := readLeakJudge(r.Context(), s.book, e.Model.ID)
	if err != nil {
		return err
	}
	gauges, err := s.book.Gauges(r.Context())
	if err != nil {
		return err
	}
	first := who(r, s.remembered(r, sameLeakHead))
	first["uid"], first["day"], first["regulated"] = newUID(), string(s.book.Today()), wear.UsualRegulated.String()
	f := blankForm(first)
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		n := readLeakTest(f, e)
		if err := s.refuseTurning(r, f, e.ID, n.Day); err != nil {
			return err
		}
		if f.ok() {
			root, err := s.book.SaveLeakTest(r.Context(), n)
			if err == nil {
				s.remember(w, r, f, sameLeakHead)
				return s.redirect(w, r, href("/leaktests/", root), "The leak test was saved.")
			}
			if err := f.refused(err, map[string]string{"test": ""}); err != nil {
				return err
			}
		}
		if err := f.refuse(r); err != nil {
			return err
		}
	}
	p := views.LeakForm{Page: s.page(r, "Leak test of "+e.Serial, views.NavEngines), Action: href("/engines/", e.ID, "/leak/new"), Draft: f.draft(), Engine: e.Serial, Href: href("/engines/", e.ID, "/leak"), About: e.Model.Name,
		Suggest: j.suggestion(), Orifices: usualOrifices, Testers: testers(gauges, s.book.Today()), Rules: j.rules()}
	if e.Aircraft != "" {
		p.About += ", " + e.Aircraft
	}
	p.HoursHint, p.OffsetHint = meterHints(e)
	if p.Rows, err = s.leakFormRows(r, e, f); err != nil {
		return err
	}
	return s.draw(w, r, f.status(), views.LeakFormPage(p))
}

// testers are the gauges that read in psi.
func testers(gauges []store.Gauge, today wear.Day) []views.Option {
	var in []store.Gauge
	for _, g := range gauges {
		if g.Unit.Name == store.Psi.Name {
			in = append(in, g)
		}
	}
	return gaugeChoices(in, today)
}

func (s *Server) leakFormRows(r *http.Request, e store.Engine, f *form) ([]views.LeakFormRow, error) {
	sitting, err := s.cylindersOn(r, e)
	if err != nil {
		return nil, err
	}
	var rows []views.LeakFormRow
	for n := 1; n <= e.Cylinders; n++ {
		row := views.LeakFormRow{Position: n, Master: n == e.MasterRod, InstallHref: href("/engines/", e.ID, "/positions/", n, "/install")}
		if c, ok := sitting[n]; ok {
			row.Cylinder, row.Href = c.Serial, href("/parts/", c.ID)
			all, err := s.book.LeakReadingsOf(r.Context(), c.ID)
			if err != nil {
				return nil, err
			}
			for _, x := range all {
				if !x.Struck && x.Reading != nil {
					row.Last, row.LastAbout = x.Counts().String()+" of "+x.Test.Regulated.String(), leakHow(x.Test)+", "+string(x.Test.Day)
					break
				}
			}
		}
		if f.has("part-"+itoa(n)) || f.text("part-"+itoa(n)) != "" {
			if d, err := wear.ParseDay(f.text("day")); err == nil {
				sat, err := s.book.LeakSitters(r.Context(), e.ID, n, d)
				if err != nil {
					return nil, err
				}
				for _, st := range sat {
					row.Sitters = append(row.Sitters, views.Option{Value: strconv.FormatInt(st.Part, 10), Label: sitterText(st)})
				}
			}
		}
		rows = append(rows, row)
	}
	return rows, nil
}

func sitterText(st store.Stay) string {
	t := st.Serial + ", there from " + string(st.From)
	if !st.Open() {
		t += " to " + string(st.To)
	}
	return t
}

// psi reads a pressure; nil where it is empty.
func (f *form) psi(name string) *wear.PSI {
	t := f.text(name)
	if t == "" {
		return nil
	}
	p, err := wear.ParsePSI(t)
	if err != nil {
		f.fault(name, "%s", err)
		return nil
	}
	return &p
}

func readLeakTest(f *form, e store.Engine) store.NewLeakTest {
	n := store.NewLeakTest{LeakTest: store.LeakTest{UID: f.text("uid"), Engine: e.ID, Day: f.day("day"), Who: f.text("who"), Note: f.text("note")}}
	h := f.hours("hours")
	n.Shows = &h
	readLeakHead(f, &n.LeakTest)
	for at := 1; at <= e.Cylinders; at++ {
		no := itoa(at)
		psi, warm, heard := f.psi("psi-"+no), f.psi("warm-"+no), readAir(f, "air-"+no)
		if psi == nil {
			if f.text("psi-"+no) == "" && (f.text("warm-"+no) != "" || len(heard) > 0) {
				f.fault("psi-"+no, "type what the gauge read first")
			}
			continue
		}
		n.Readings = append(n.Readings, store.NewLeakReading{Position: at, Part: f.ref("part-" + no), Reading: *psi, Recheck: warm, Heard: heard, Field: "psi-" + no, PartField: "part-" + no})
	}
	for _, name := range f.left("psi", "warm", "air") {
		f.fault(name, "%q was typed where this sheet has no field any more", f.values[name])
	}
	return n
}

// readLeakHead reads what a test was made with.
func readLeakHead(f *form, h *store.LeakTest) {
	if p := f.psi("regulated"); p != nil {
		h.Regulated = *p
	} else if f.text("regulated") == "" {
		f.fault("regulated", "give the regulated pressure, 80 psi as a rule")
	}
	h.Unit = wear.Inch
	if v := f.value("orifice", wear.Inch); v != nil {
		h.Orifice = *v
	} else if f.text("orifice") == "" {
		f.fault("orifice", "give the orifice's diameter: a reading means nothing without it")
	}
	h.Master, h.Ambient, h.Gauge = f.psi("master"), f.psi("ambient"), f.ref("tester")
	if f.text("minutes") != "" {
		m := f.number("minutes", 0, 10_000, true)
		h.Minutes = &m
	}
}

// readAir reads the boxes of where air was heard.
func readAir(f *form, name string) []wear.AirHeard {
	var heard []wear.AirHeard
	for i, place := range wear.AirPlaces {
		if f.text(name+"-"+itoa(i)) != "" {
			heard = append(heard, place)
		}
	}
	return heard
}

// leakHeadValues is the head of a test as its form has it.
func leakHeadValues(h store.LeakTest) map[string]string {
	v := map[string]string{"regulated": h.Regulated.String(), "orifice": orificeNumber(h.Orifice)}
	for name, p := range map[string]*wear.PSI{"ambient": h.Ambient, "master": h.Master} {
		if p != nil {
			v[name] = p.String()
		}
	}
	if h.Gauge != 0 {
		v["tester"] = strconv.FormatInt(h.Gauge, 10)
	}
	if h.Minutes != nil {
		v["minutes"] = itoa(*h.Minutes)
	}
	return v
}

// correctLeakTest corrects what a test was made with.
func (s *Server) correctLeakTest(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	heads, _, err := s.book.LeakTest(r.Context(), n)
	if err != nil {
		return err
	}
	h := heads[0]
	j, err := readLeakJudge(r.Context(), s.book, h.Model)
	if err != nil {
		return err
	}
	gauges, err := s.book.Gauges(r.Context())
	if err != nil {
		return err
	}
	f := blankForm(who(r, leakHeadValues(h)))
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		var fixed store.LeakTest
		readLeakHead(f, &fixed)
		why := f.needed("reason", "say why the test is corrected")
		if f.ok() {
			err := s.book.CorrectLeakTest(r.Context(), h.Root, fixed, f.text("who"), why)
			if err == nil {
				return s.redirect(w, r, href("/leaktests/", h.Root), "The correction was saved; the old entry stays in the book, struck through.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	return s.draw(w, r, f.status(), views.LeakHeadFormPage(views.LeakHeadForm{Page: s.page(r, "Correct a leak test", views.NavEngines), Action: href("/leaktests/", h.Root, "/correct"), Draft: f.draft(), Back: views.Link{Text: "Back to the test", Href: href("/leaktests/", h.Root)},
		What: "Engine " + h.EngineNo + ", " + string(h.Day), Facts: leakFacts(h), Suggest: j.suggestion(), Orifices: usualOrifices, Testers: testers(gauges, s.book.Today()), Before: headsBefore(heads)}))
}

// correctLeakReading corrects what one cylinder held, or withdraws it.
func (s *Server) correctLeakReading(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	versions, err := s.book.LeakReading(r.Context(), n)
	if err != nil {
		return err
	}
	x := versions[0]
	back := href("/leaktests/", x.Test.Root)
	f := blankForm(who(r, leakReadingValues(x)))
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		if err := s.saveLeakCorrection(r, f, x); err != nil {
			return err
		}
		if f.ok() {
			return s.redirect(w, r, back, "The correction was saved; the old reading stays in the book, struck through.")
		}
	}
	p := views.LeakCorrect{Page: s.page(r, "Correct a leak reading", views.NavEngines), Action: href("/leakreadings/", x.Root, "/correct"), Draft: f.draft(), Back: views.Link{Text: "Back to the test", Href: back},
		What: "Cylinder " + x.Serial + ", position " + itoa(x.Position) + " of engine " + x.Test.EngineNo, Facts: leakFacts(x.Test), Old: heldText(x)}
	for i := len(versions) - 1; i > 0; i-- {
		by := versions[i-1]
		p.Before = append(p.Before, views.Correction{Value: heldText(versions[i]), Reason: by.Reason, Who: by.Who, When: day(by.SavedAt)})
	}
	return s.draw(w, r, f.status(), views.LeakCorrectPage(p))
}

func leakReadingValues(x store.LeakReading) map[string]string {
	v := map[string]string{"what": views.WhatCorrect}
	if x.Reading != nil {
		v["value"] = x.Reading.String()
	}
	if x.Recheck != nil {
		v["recheck"] = x.Recheck.String()
	}
	for i, place := range wear.AirPlaces {
		for _, h := range x.Heard {
			if h == place {
				v["air-"+itoa(i)] = "yes"
			}
		}
	}
	return v
}

// heldText is all that was noted of one cylinder.
func heldText(x store.LeakReading) string {
	t := leakText(x.Reading, x.Test.Regulated)
	if x.Recheck != nil {
		t += ", rechecked " + leakText(x.Recheck, x.Test.Regulated)
	}
	for i, h := range x.Heard {
		if i == 0 {
			t += ", air at "
		} else {
			t += " and "
		}
		t += string(h)
	}
	return t
}

func (s *Server) saveLeakCorrection(r *http.Request, f *form, x store.LeakReading) error {
	why := f.needed("reason", "say why the reading is corrected")
	if f.text("what") == views.WhatWithdraw {
		if !f.ok() {
			return nil
		}
		return f.refused(s.book.CorrectLeakReading(r.Context(), x.Root, nil, nil, nil, f.text("who"), why), nil)
	}
	f.needed("value", "type the right reading, or choose to withdraw it")
	reading, recheck := f.psi("value"), f.psi("recheck")
	if !f.ok() {
		return nil
	}
	return f.refused(s.book.CorrectLeakReading(r.Context(), x.Root, reading, recheck, readAir(f, "air"), f.text("who"), why), nil)
}

// leakRule types the maker's rule of a model.
func (s *Server) leakRule(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	m, err := s.book.Model(r.Context(), n)
	if err != nil {
		return err
	}
	rules, err := s.book.LeakRules(r.Context(), m.ID)
	if err != nil {
		return err
	}
	f := blankForm(map[string]string{})
	if len(rules) > 0 {
		f = blankForm(leakRuleValues(rules[0]))
	}
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		l := readLeakRule(f, m.ID)
		if err := f.refused(l.Check(), nil); err != nil {
			return err
		}
		if f.ok() {
			err := s.book.AddLeakRule(r.Context(), l)
			if err == nil {
				return s.redirect(w, r, href("/models/", m.ID, "/leak"), "The rule was saved; leak tests of "+m.Name+" are judged by it.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	general := leakJudge{}.rules()[1].Text
	p := views.LeakRuleForm{Page: s.page(r, "Leak test rule of "+m.Name, views.NavLimits), Action: href("/models/", m.ID, "/leak"), Draft: f.draft(), Back: views.Link{Text: "Back to the limits", Href: href("/limits?model=", m.ID)}, Model: m.Name,
		General: general[len("General rule: "):], Orifices: usualOrifices}
	until := ""
	for _, l := range rules {
		row := views.LeakRuleRow{Since: day(l.SavedAt), Until: day(until), Rule: capital(ruleText(l)), For: capital(ruleFor(l, "")), From: l.Rule().Document}
		if row.For == "" {
			row.For = "Any orifice and pressure"
		}
		p.Rows = append(p.Rows, row)
		until = l.SavedAt
	}
	return s.draw(w, r, f.status(), views.LeakRulePage(p))
}

func leakRuleValues(l store.LeakRule) map[string]string {
	v := map[string]string{"document": l.Document, "revision": l.Revision, "page": l.Page}
	for name, p := range map[string]*wear.PSI{"minimum": l.Minimum, "regulated": l.Regulated} {
		if p != nil {
			v[name] = p.String()
		}
	}
	if l.MaxLoss != nil {
		v["max_loss"] = tenths(*l.MaxLoss)
	}
	if l.Orifice != nil {
		v["orifice"] = orificeNumber(*l.Orifice)
	}
	return v
}

func readLeakRule(f *form, model int64) store.LeakRule {
	l := store.LeakRule{Model: model, Unit: wear.Inch, Minimum: f.psi("minimum"), Regulated: f.psi("regulated"), Orifice: f.value("orifice", wear.Inch), Document: f.text("document"), Revision: f.text("revision"), Page: f.text("page")}
	if t := f.text("max_loss"); t != "" {
		// a percentage is written as a pressure is: to a tenth, not negative
		if p, err := wear.ParsePSI(t); err != nil {
			f.fault("max_loss", "%q is no loss in percent, with at most one decimal", t)
		} else {
			n := int(p)
			l.MaxLoss = &n
		}
	}
	return l
}
