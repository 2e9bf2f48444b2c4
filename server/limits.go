package server

import (
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

// newLimit types a line of the maker's table: always a new version.
func (s *Server) newLimit(w http.ResponseWriter, r *http.Request) error {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	f := blankForm(map[string]string{"model": r.URL.Query().Get("model"), "unit": set.Unit.Name, "wear": "up"})
	replaces := ""
	if from, err := strconv.ParseInt(r.URL.Query().Get("from"), 10, 64); err == nil {
		rows, err := s.book.LimitHistory(r.Context(), from)
		if err != nil {
			return err
		}
		l := rows[0]
		f = blankForm(limitValues(l))
		replaces = fmt.Sprintf("%s %s, service %s, since %s", between(l.NewMin, l.NewMax, l.Unit), l.Unit.Name, between(l.ServiceMin, l.ServiceMax, l.Unit), day(l.SavedAt))
	}
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		l := readLimit(f)
		if err := s.checkLimit(r, f, l); err != nil {
			return err
		}
		if f.ok() {
			err := s.book.AddLimit(r.Context(), l)
			if err == nil {
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
	fs, err := s.book.Features(r.Context())
	if err != nil {
		return err
	}
	p := views.LimitForm{Page: s.page(r, "Type a limit", views.NavLimits), Action: "/limits", Draft: f.draft(), ModelID: f.text("model"), Model: m.Name, Back: views.Link{Text: "Back to the limits", Href: href("/limits?model=", m.ID)},
		Units: choices("in", "mm", "g", "oz", "N", "lbf"), Replaces: replaces}
	for _, kind := range wear.Kinds {
		g := views.OptionGroup{Label: capital(string(kind))}
		for _, x := range fs {
			if x.Kind == kind {
				g.Options = append(g.Options, views.Option{Value: strconv.FormatInt(x.ID, 10), Label: x.Name})
			}
			if x.Dim == wear.Plain && x.Kind == kind {
				p.Units = append(p.Units, views.Option{Value: x.Unit, Label: x.Unit})
			}
		}
		p.Features = append(p.Features, g)
	}
	return s.draw(w, r, f.status(), views.LimitFormPage(p))
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

func readLimit(f *form) store.LimitRow {
	l := store.LimitRow{Model: f.ref("model"), Feature: f.ref("feature"), Groove: f.number("groove", 1, 8, false), Ref: f.text("ref"), Document: f.text("document"), Revision: f.text("revision"), Page: f.text("page")}
	l.Wear = wear.Direction(f.text("wear"))
	if _, ok := wear.ParseDirection(f.text("wear")); !ok {
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
