package server

import (
	"net/http"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

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
