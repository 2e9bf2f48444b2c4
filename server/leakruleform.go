package server

import (
	"net/http"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

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
