package server

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// features lists what can be measured and adds features of the shop's own.
func (s *Server) features(w http.ResponseWriter, r *http.Request) error {
	f := blankForm(map[string]string{"wear": "up"})
	if r.Method == http.MethodPost {
		var err error
		if f, err = readForm(r); err != nil {
			return err
		}
		n := wear.Feature{Kind: wear.Kind(f.text("kind")), Name: f.text("name"), Unit: f.text("unit"), Wear: wear.Direction(f.text("wear"))}
		_, err = s.book.AddFeature(r.Context(), n)
		if err == nil {
			return s.redirect(w, r, "/features", capital(n.Name)+" can be measured now. Type its limits next.")
		}
		if err := f.refused(err, nil); err != nil {
			return err
		}
	}
	all, err := s.book.Features(r.Context())
	if err != nil {
		return err
	}
	p := views.OwnFeatures{Page: s.page(r, "Own features", views.NavFeatures), Action: "/features", Draft: f.draft(), Kinds: kindChoices(), Units: []string{"in", "mm", "g", "N", "lbf"}}
	for _, x := range all {
		row := views.FeatureRow{Kind: string(x.Kind), Name: x.Name, Unit: x.Unit, Wear: wornWay(x.Wear), BuiltIn: x.BuiltIn}
		if x.Wear != wear.NoWear {
			row.GroupHref = href("/features/", x.ID, "/group")
		}
		switch {
		case x.Derived:
			row.Spots = "worked out from the barrel bore"
		case x.Stations:
			row.Spots = "stations and axes"
		case x.Groove:
			row.Spots = "by groove"
		case len(x.Places) > 0:
			row.Spots = strings.Join(x.Places, ", ")
		case x.Axes:
			row.Spots = "axes"
		}
		p.Rows = append(p.Rows, row)
	}
	return s.draw(w, r, f.status(), views.OwnFeaturesPage(p))
}

// gauges lists the shop's gauges and adds or changes one.
func (s *Server) gauges(w http.ResponseWriter, r *http.Request) error {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	all, err := s.book.Gauges(r.Context())
	if err != nil {
		return err
	}
	f := blankForm(map[string]string{"unit": set.Unit.Name})
	asked := r.URL.Query().Get("id")
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		asked = f.text("id")
	}
	change := ""
	for _, g := range all {
		if strconv.FormatInt(g.ID, 10) != asked {
			continue
		}
		if change = g.Name; r.Method != http.MethodPost {
			f = changingForm(gaugeValues(g))
		}
	}
	if r.Method == http.MethodPost {
		g := readGauge(f)
		if f.ok() {
			_, err := s.book.SaveGauge(f.knowing(r.Context(), func(ctx context.Context) (map[string]string, error) {
				now, err := s.book.Gauges(ctx)
				if i := slices.IndexFunc(now, func(x store.Gauge) bool { return x.ID == g.ID }); i >= 0 {
					return gaugeValues(now[i]), err
				}
				return nil, cmp.Or(err, store.ErrNotFound)
			}), g)
			if err == nil {
				said := "Gauge " + g.Name + " was saved."
				if g.Overdue(s.book.Today()) {
					said += " Its calibration has been overdue since " + string(g.Due) + "."
				}
				return s.redirect(w, r, "/gauges", said)
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	p := views.Gauges{Page: s.page(r, "Gauges", views.NavGauges), Action: "/gauges", Draft: f.draft(), Change: change, Units: choices("in", "mm", "N", "lbf", "g", store.Psi.Name)}
	today := s.book.Today()
	for _, g := range all {
		row := views.GaugeRow{Name: g.Name, Unit: g.Unit.Name, SD: g.SD.Format(g.Unit), Operator: operatorText(g), Due: string(g.Due), Overdue: g.Overdue(today), Href: href("/gauges?id=", g.ID)}
		if g.Resolution > 0 {
			row.Resolution = g.Resolution.Format(g.Unit)
		}
		if u := wear.StandardUncertainty(float64(g.SD), float64(g.OperatorSD), float64(g.Resolution)); u > 0 {
			row.U = inUnit(u, g.Unit, 1)
		}
		p.Rows = append(p.Rows, row)
	}
	return s.draw(w, r, f.status(), views.GaugesPage(p))
}

// gaugeValues is what stands in the form of a gauge that exists.
func gaugeValues(g store.Gauge) map[string]string {
	return map[string]string{"id": strconv.FormatInt(g.ID, 10), "name": g.Name, "unit": g.Unit.Name, "sd": g.SD.Format(g.Unit), "operator_sd": g.OperatorSD.Format(g.Unit), "resolution": g.Resolution.Format(g.Unit), "due": string(g.Due)}
}

// operatorText is how differently people read a gauge.
func operatorText(g store.Gauge) string {
	if g.OperatorSD == 0 {
		return "not known, taken as 0"
	}
	return g.OperatorSD.Format(g.Unit)
}

func readGauge(f *form) store.Gauge {
	g := store.Gauge{ID: f.ref("id"), Name: f.needed("name", "give the gauge a name or number")}
	var err error
	if g.Unit, err = wear.UnitNamed(f.text("unit")); err != nil {
		f.fault("unit", "choose the unit it reads in")
		return g
	}
	if v := f.value("sd", g.Unit); v != nil {
		g.SD = *v
	} else if f.text("sd") == "" {
		f.fault("sd", "give how far one reading strays; 0 only where ten readings of one part do not differ")
	}
	if v := f.value("resolution", g.Unit); v != nil {
		g.Resolution = *v
	}
	if v := f.value("operator_sd", g.Unit); v != nil {
		g.OperatorSD = *v
	}
	if f.text("due") != "" {
		g.Due = f.day("due")
	}
	return g
}

// inUnit writes a computed amount of base units in a unit.
func inUnit(base float64, u wear.Unit, extra int) string {
	one, err := wear.ParseValue("1", u)
	if err != nil || one == 0 {
		return ""
	}
	return u.FormatFloat(base/float64(one), extra)
}

// model keeps a model's measuring plan.
func (s *Server) model(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	m, err := s.book.Model(r.Context(), n)
	if err != nil {
		return err
	}
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	f := changingForm(planValues(m, set.Unit))
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		m.Stations, m.Axes, m.Grooves = items(f.text("stations")), items(f.text("axes")), f.number("grooves", 0, 8, true)
		m.Family = f.text("family")
		m.Oversizes, m.CleanUp = f.listed("oversizes", set.Unit), 0
		if v := f.value("clean_up", set.Unit); v != nil {
			m.CleanUp = *v
		}
		if err := f.refused(m.Check(), nil); err != nil {
			return err
		}
		if f.ok() {
			err := s.book.SaveModel(f.knowing(r.Context(), func(ctx context.Context) (map[string]string, error) {
				now, err := s.book.Model(ctx, m.ID)
				return planValues(now, set.Unit), err
			}), m)
			if err == nil {
				return s.redirect(w, r, href("/limits?model=", m.ID), "The measuring plan of "+m.Name+" was saved.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	return s.draw(w, r, f.status(), views.ModelPlanPage(views.ModelPlan{Page: s.page(r, "Measuring plan of "+m.Name, views.NavLimits), Action: href("/models/", m.ID), Draft: f.draft(), Model: m.Name, Unit: set.Unit.Name,
		Back: views.Link{Text: "Back to the limits", Href: href("/limits?model=", m.ID)}, Engines: "every engine of this model",
		Others: []views.Link{{Text: "Order off and on", Href: href("/models/", m.ID, "/turning")}, {Text: "Crank and rods", Href: href("/models/", m.ID, "/rods")}, {Text: "Checklist", Href: href("/models/", m.ID, "/checklist")}, {Text: "Leak rule", Href: href("/models/", m.ID, "/leak")}}}))
}

// planValues is what stands in the form of a model's measuring plan.
func planValues(m store.Model, u wear.Unit) map[string]string {
	v := map[string]string{"stations": strings.Join(m.Stations, ", "), "axes": strings.Join(m.Axes, ", "), "grooves": itoa(m.Grooves), "clean_up": "", "oversizes": "", "family": m.Family}
	for i, o := range m.Oversizes {
		if i > 0 {
			v["oversizes"] += ", "
		}
		v["oversizes"] += o.Format(u)
	}
	if m.CleanUp != 0 {
		v["clean_up"] = m.CleanUp.Format(u)
	}
	return v
}

// listed reads a list of lengths with commas.
func (f *form) listed(name string, u wear.Unit) []wear.Value {
	out, why := lengthsIn(f.text(name), u)
	if why != "" {
		f.fault(name, "%s", why)
	}
	return out
}

// lengthsIn reads a list of lengths with commas between. Digits that begin with
// 0 and have no point say that a comma was typed for the point: 0,010.
func lengthsIn(text string, u wear.Unit) (out []wear.Value, why string) {
	list := items(text)
	for i, t := range list {
		if t[0] == '0' && strings.Trim(t, "0123456789") == "" {
			meant := "0." + t
			if t == "0" {
				meant = "0.010"
				if i+1 < len(list) && strings.Trim(list[i+1], "0123456789") == "" {
					meant = "0." + list[i+1]
				}
			}
			return nil, fmt.Sprintf("a comma stands between two sizes here: write %s with a point", meant)
		}
		v, err := wear.ParseValue(t, u)
		if err != nil {
			return nil, err.Error()
		}
		out = append(out, v)
	}
	return out, ""
}

// items reads a list with commas.
func items(text string) []string {
	var out []string
	for _, t := range strings.Split(text, ",") {
		if t = strings.TrimSpace(t); t != "" {
			out = append(out, t)
		}
	}
	return out
}

// settings keeps the book's settings.
func (s *Server) settings(w http.ResponseWriter, r *http.Request) error {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	f := changingForm(settingsValues(set))
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		n := store.Settings{Shop: f.text("shop"), Address: f.text("address"), FlagP: f.fraction("flag_chance"), FlagRatio: f.fraction("flag_ratio"), Pressure: f.fraction("pressure_ratio"), EngineP: f.fraction("engine_chance"), FalseMost: f.fraction("false_share"), Expansion: map[wear.Kind]float64{}, Lock: set.Lock, Demo: set.Demo}
		if f.text("lock_minutes") != "" {
			n.Lock = f.number("lock_minutes", 0, 240, true)
		}
		for _, k := range wear.Kinds {
			n.Expansion[k] = f.fraction("expansion_" + string(k))
		}
		n.NextIn = f.someHours("next_in", f.text("next_in"))
		if n.Unit, err = wear.UnitNamed(f.text("unit")); err != nil {
			f.fault("unit", "choose in or mm")
		}
		if err := f.refused(n.Check(), nil); err != nil {
			return err
		}
		if f.ok() {
			err := s.book.SaveSettings(f.knowing(r.Context(), func(ctx context.Context) (map[string]string, error) {
				now, err := s.book.Settings(ctx)
				return settingsValues(now), err
			}), n)
			if err == nil {
				return s.redirect(w, r, "/settings", "The settings were saved.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	return s.draw(w, r, f.status(), views.SettingsPage(views.SettingsForm{Page: s.page(r, "Settings", views.NavSettings), Action: "/settings", Draft: f.draft(), Units: choices("in", "mm"),
		Book: s.bookFacts()}))
}

// settingsValues is what stands in the form of the settings.
func settingsValues(set store.Settings) map[string]string {
	v := map[string]string{"shop": set.Shop, "address": set.Address, "unit": set.Unit.Name, "flag_chance": strconv.FormatFloat(set.FlagP, 'g', -1, 64),
		"flag_ratio": strconv.FormatFloat(set.FlagRatio, 'g', -1, 64), "next_in": set.NextIn.String(), "pressure_ratio": strconv.FormatFloat(set.Pressure, 'g', -1, 64), "engine_chance": strconv.FormatFloat(set.EngineP, 'g', -1, 64), "false_share": strconv.FormatFloat(set.FalseMost, 'g', -1, 64), "lock_minutes": itoa(set.Lock)}
	for k, a := range set.Expansion {
		v["expansion_"+string(k)] = strconv.FormatFloat(a, 'g', 6, 64)
	}
	return v
}
