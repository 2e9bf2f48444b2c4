package server

import (
	"net/http"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// wider keeps with whom the runs of a feature are compared.
func (s *Server) wider(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	all, err := s.book.Features(r.Context())
	if err != nil {
		return err
	}
	var x wear.Feature
	for _, f := range all {
		if f.ID == n {
			x = f
		}
	}
	if x.ID == 0 {
		return store.ErrNotFound
	}
	now, err := s.book.WiderOf(r.Context(), n)
	if err != nil {
		return err
	}
	f := blankForm(map[string]string{"models": yes(now.Models), "surfaces": yes(now.Surfaces), "facings": yes(now.Facings), "grooves": yes(now.Grooves)})
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		now.Models, now.Surfaces, now.Facings, now.Grooves = f.text("models") != "", f.text("surfaces") != "", f.text("facings") != "", f.text("grooves") != ""
		if err := s.book.SaveWider(r.Context(), now); err != nil {
			return err
		}
		s.saved()
		return s.redirect(w, r, href("/features/", n, "/group"), "Who is compared was saved. Parts are judged anew in a moment.")
	}
	groups, err := s.book.GroupsOf(r.Context(), n)
	if err != nil {
		return err
	}
	p := views.WiderForm{Page: s.page(r, "Who is compared: "+string(x.Kind)+", "+x.Name, views.NavFeatures), Action: href("/features/", n, "/group"), Draft: f.draft(), Feature: string(x.Kind) + ", " + x.Name,
		Groove: x.Groove || x.Kind == wear.Ring, Ring: x.Kind == wear.Ring, Barrel: x.Kind == wear.Cylinder, Back: views.Link{Text: "Back to features", Href: "/features"}}
	number, last := 0, int64(0)
	for _, g := range groups {
		if g.Group != last {
			number, last = number+1, g.Group
		}
		row := views.GroupRow{Group: itoa(number), Model: g.Model, Spot: spot(g.Groove, g.Station, ""), Surface: g.Surface, Runs: itoa(g.Runs)}
		if row.Surface == "" {
			row.Surface = g.Facing
		}
		p.Groups = append(p.Groups, row)
	}
	return s.draw(w, r, http.StatusOK, views.WiderPage(p))
}
