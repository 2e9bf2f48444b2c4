package server

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// limits draws the table of limits of a model.
func (s *Server) limits(w http.ResponseWriter, r *http.Request) error {
	models, err := s.book.Models(r.Context())
	if err != nil {
		return err
	}
	p := views.LimitTable{Page: s.page(r, "Limits", views.NavLimits)}
	var shown store.Model
	for i, m := range models {
		value := strconv.FormatInt(m.ID, 10)
		p.Models = append(p.Models, views.Option{Value: value, Label: m.Name})
		if i == 0 || value == r.URL.Query().Get("model") {
			shown, p.ModelID, p.Model = m, value, m.Name
		}
	}
	if shown.ID == 0 {
		return s.draw(w, r, http.StatusOK, views.LimitTablePage(p))
	}
	p.PlanHref, p.LeakHref, p.NewHref = href("/models/", shown.ID), href("/models/", shown.ID, "/leak"), href("/limits/new?model=", shown.ID)
	ls, err := s.book.LimitsOf(r.Context(), shown.ID, "")
	if err != nil {
		return err
	}
	fs, err := s.book.Features(r.Context())
	if err != nil {
		return err
	}
	for _, kind := range wear.Kinds {
		g := views.LimitGroup{Kind: string(kind)}
		for _, f := range fs {
			if f.Kind != kind {
				continue
			}
			bare := true
			for _, l := range ls.Rows {
				if l.Feature == f.ID {
					bare = false
					g.Rows = append(g.Rows, limitLine(f, l, ""))
				}
			}
			if bare {
				p.Bare = append(p.Bare, string(kind)+", "+f.Name)
			}
		}
		if len(g.Rows) > 0 {
			p.Groups = append(p.Groups, g)
		}
	}
	return s.draw(w, r, http.StatusOK, views.LimitTablePage(p))
}

func limitLine(f wear.Feature, l store.LimitRow, until string) views.LimitLine {
	text := func(v *wear.Value) string {
		if v == nil {
			return ""
		}
		return v.Format(l.Unit)
	}
	line := views.LimitLine{Feature: f.Name, Ref: l.Ref, NewMin: text(l.NewMin), NewMax: text(l.NewMax), ServiceMin: text(l.ServiceMin), ServiceMax: text(l.ServiceMax), Unit: l.Unit.Name, Wear: wornWay(l.Wear),
		Document: l.Document, Revision: l.Revision, PageNo: l.Page, Since: day(l.SavedAt), Until: day(until), HistoryHref: href("/limits/", l.ID, "/history"), NewHref: href("/limits/new?from=", l.ID)}
	if l.Groove > 0 {
		line.Groove = itoa(l.Groove)
	}
	if l.Life > 0 {
		line.Life = hours(l.Life)
	}
	return line
}

func (s *Server) limitHistory(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	rows, err := s.book.LimitHistory(r.Context(), n)
	if err != nil {
		return err
	}
	m, err := s.book.Model(r.Context(), rows[0].Model)
	if err != nil {
		return err
	}
	f, err := s.featureOf(r, rows[0].Feature)
	if err != nil {
		return err
	}
	p := views.LimitHistory{Page: s.page(r, "Versions of a limit", views.NavLimits), Model: m.Name, Heading: capital(f.Name), Back: views.Link{Text: "Back to the limits", Href: href("/limits?model=", m.ID)},
		NewHref: href("/limits/new?from=", rows[0].ID)}
	if rows[0].Groove > 0 {
		p.Heading += ", groove " + itoa(rows[0].Groove)
	}
	until := ""
	for _, l := range rows {
		p.Rows = append(p.Rows, limitLine(f, l, until))
		until = l.SavedAt
	}
	return s.draw(w, r, http.StatusOK, views.LimitHistoryPage(p))
}

func (s *Server) featureOf(r *http.Request, id int64) (wear.Feature, error) {
	fs, err := s.book.Features(r.Context())
	if err != nil {
		return wear.Feature{}, err
	}
	for _, f := range fs {
		if f.ID == id {
			return f, nil
		}
	}
	return wear.Feature{}, store.ErrNotFound
}

// newLimit types a line of the maker's table. One that is there is replaced only
// by a form that begins with it and names it as version.
func (s *Server) newLimit(w http.ResponseWriter, r *http.Request) error {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	fs, err := s.book.Features(r.Context())
	if err != nil {
		return err
	}
	q := r.URL.Query()
	f := blankForm(map[string]string{"model": q.Get("model"), "feature": q.Get("feature"), "unit": set.Unit.Name})
	if from, err := strconv.ParseInt(q.Get("from"), 10, 64); err == nil {
		rows, err := s.book.LimitHistory(r.Context(), from)
		if err != nil {
			return err
		}
		f = blankForm(limitValues(rows[0]))
		f.values["version"] = strconv.FormatInt(rows[0].ID, 10)
	}
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		l := readLimit(f, fs)
		if err := s.checkLimit(r, f, l); err != nil {
			return err
		}
		if err := s.refuseSecondLimit(r, f, l); err != nil {
			return err
		}
		if f.ok() {
			err := s.book.AddLimit(r.Context(), l)
			if err == nil {
				if f.text("next") != "" {
					return s.redirect(w, r, href("/limits/new?model=", l.Model), "The limit was saved. Type the next.")
				}
				return s.redirect(w, r, href("/limits?model=", l.Model), "The limit was saved, and every part of that model judged by it.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	model, err := strconv.ParseInt(f.text("model"), 10, 64)
	if err != nil {
		return errBadAddress
	}
	m, err := s.book.Model(r.Context(), model)
	if err != nil {
		return err
	}
	ls, err := s.book.LimitsOf(r.Context(), m.ID, "")
	if err != nil {
		return err
	}
	if r.Method != http.MethodPost && f.text("version") == "" {
		sameDocument(f, ls)
	}
	p := views.LimitForm{Page: s.page(r, "Type a limit", views.NavLimits), Action: "/limits", Draft: f.draft(), ModelID: f.text("model"), Model: m.Name, Back: views.Link{Text: "Back to the limits", Href: href("/limits?model=", m.ID)},
		Units: choices("in", "mm", "g", "oz", "N", "lbf")}
	tellLimit(f, fs, ls, &p)
	for _, kind := range wear.Kinds {
		g := views.OptionGroup{Label: capital(string(kind))}
		for _, x := range fs {
			if x.Kind == kind {
				g.Options = append(g.Options, views.Option{Value: strconv.FormatInt(x.ID, 10), Label: joinText(", ", x.Name, wornWay(x.Wear))})
			}
			if x.Dim == wear.Plain && x.Kind == kind {
				p.Units = append(p.Units, views.Option{Value: x.Unit, Label: x.Unit})
			}
		}
		p.Features = append(p.Features, g)
	}
	return s.draw(w, r, f.status(), views.LimitFormPage(p))
}

// sameDocument begins a line with the document of the last that was typed.
func sameDocument(f *form, ls store.Limits) {
	if len(ls.Rows) == 0 {
		return
	}
	last := slices.MaxFunc(ls.Rows, func(a, b store.LimitRow) int { return cmp.Compare(a.ID, b.ID) })
	f.values["document"], f.values["revision"], f.values["page"] = last.Document, last.Revision, last.Page
}

// refuseSecondLimit refuses a line that is there already, where the form did
// not begin with it.
func (s *Server) refuseSecondLimit(r *http.Request, f *form, l store.LimitRow) error {
	ls, err := s.book.LimitsOf(r.Context(), l.Model, "")
	if err != nil || f.has("feature", "groove") {
		return err
	}
	for _, old := range ls.Rows {
		if old.Feature != l.Feature || old.Groove != l.Groove || f.text("version") == strconv.FormatInt(old.ID, 10) {
			continue
		}
		x, err := s.featureOf(r, l.Feature)
		if err != nil {
			return err
		}
		f.faults = append(f.faults, views.Fault{Field: "feature", Message: "there is already a limit for " + limitName(x, l.Groove) + ": open it and type a new version", Href: href("/limits/new?from=", old.ID), Way: "Type a new version of it"})
	}
	return nil
}

func limitName(x wear.Feature, groove int) string {
	if groove > 0 {
		return x.Name + ", groove " + itoa(groove)
	}
	return x.Name
}

// tellLimit says what is known of the line before it is typed: which it
// replaces, and which way the feature goes.
func tellLimit(f *form, fs []wear.Feature, ls store.Limits, p *views.LimitForm) {
	for _, x := range fs {
		if strconv.FormatInt(x.ID, 10) != f.text("feature") || f.has("feature", "groove", "wear") {
			continue
		}
		way := x.Wear
		for _, old := range ls.Rows {
			if f.text("version") == strconv.FormatInt(old.ID, 10) && old.Feature == x.ID {
				way, p.Fixed, p.Version = old.Wear, capital(string(x.Kind))+", "+limitName(x, old.Groove), f.text("version")
				p.Replaces = fmt.Sprintf("%s %s, service %s, since %s", between(old.NewMin, old.NewMax, old.Unit), old.Unit.Name, between(old.ServiceMin, old.ServiceMax, old.Unit), day(old.SavedAt))
			}
		}
		if p.Fixed != "" {
			p.Wear, p.Goes = string(way), capital(cmp.Or(wornWay(way), "says nothing of wear"))+"."
		}
	}
}

func limitValues(l store.LimitRow) map[string]string {
	v := map[string]string{"model": strconv.FormatInt(l.Model, 10), "feature": strconv.FormatInt(l.Feature, 10), "ref": l.Ref, "unit": l.Unit.Name, "wear": string(l.Wear),
		"document": l.Document, "revision": l.Revision, "page": l.Page}
	for name, b := range map[string]*wear.Value{"new_min": l.NewMin, "new_max": l.NewMax, "service_min": l.ServiceMin, "service_max": l.ServiceMax} {
		if b != nil {
			v[name] = b.Format(l.Unit)
		}
	}
	if l.Groove > 0 {
		v["groove"] = itoa(l.Groove)
	}
	if l.Life > 0 {
		v["life"] = l.Life.String()
	}
	return v
}

// checkLimit adds what the book finds wrong with a line. Bounds of which one
// could not be read are not compared.
func (s *Server) checkLimit(r *http.Request, f *form, l store.LimitRow) error {
	err := s.book.CheckLimit(r.Context(), l)
	bounds := []string{"unit", "new_min", "new_max", "service_min", "service_max"}
	var bad store.Invalid
	if errors.As(err, &bad) && f.has(bounds...) {
		err = slices.DeleteFunc(bad, func(x store.FieldError) bool { return slices.Contains(bounds, x.Field) })
	}
	return f.refused(err, nil)
}

func readLimit(f *form, fs []wear.Feature) store.LimitRow {
	l := store.LimitRow{Model: f.ref("model"), Feature: f.ref("feature"), Groove: f.number("groove", 1, 8, false), Ref: f.text("ref"), Document: f.text("document"), Revision: f.text("revision"), Page: f.text("page")}
	l.Wear = wear.Direction(f.text("wear"))
	if l.Wear == views.UsualWear {
		l.Wear = wear.NoWear
		if i := slices.IndexFunc(fs, func(x wear.Feature) bool { return x.ID == l.Feature }); i >= 0 {
			l.Wear = fs[i].Wear
		}
	} else if _, ok := wear.ParseDirection(f.text("wear")); !ok {
		f.fault("wear", "say which way it goes as the part wears")
	}
	if h := f.optionalHours("life"); h != nil {
		l.Life = *h
	}
	var err error
	if l.Unit, err = wear.UnitNamed(f.text("unit")); err != nil {
		f.fault("unit", "choose the unit of the limits")
		return l
	}
	l.NewMin, l.NewMax = f.value("new_min", l.Unit), f.value("new_max", l.Unit)
	l.ServiceMin, l.ServiceMax = f.value("service_min", l.Unit), f.value("service_max", l.Unit)
	return l
}
