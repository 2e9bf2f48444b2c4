package server

import (
	"context"
	"net/http"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// rods keeps the lengths of a model's crank and rods.
func (s *Server) rods(w http.ResponseWriter, r *http.Request) error {
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
	f := changingForm(rodValues(m, set.Unit))
	back := views.Link{Text: "Back to the limits", Href: href("/limits?model=", m.ID)}
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		m.Rods = readRods(f, m, set.Unit)
		if err := f.refused(m.CheckRods(), nil); err != nil {
			return err
		}
		if f.ok() {
			err := s.book.SaveRods(f.knowing(r.Context(), func(ctx context.Context) (map[string]string, error) {
				now, err := s.book.Model(ctx, m.ID)
				return rodValues(now, set.Unit), err
			}), m.ID, m.Rods)
			if err == nil {
				return s.redirect(w, r, back.Href, "Crank and rods of "+m.Name+" were saved.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	p := views.RodsForm{Page: s.page(r, "Crank and rods of "+m.Name, views.NavLimits), Action: href("/models/", m.ID, "/rods"), Draft: f.draft(), Model: m.Name, Unit: set.Unit.Name, Back: back}
	if m.OneRow() {
		for n := 1; n <= m.Cylinders; n++ {
			p.Positions = append(p.Positions, itoa(n))
		}
	}
	return s.draw(w, r, f.status(), views.RodsPage(p))
}

// rodField is a length that is typed on the page of crank and rods.
type rodField struct {
	name string
	to   *wear.Value
}

func rodFields(r *store.Rods) []rodField {
	return []rodField{{"crank_radius", &r.CrankRadius}, {"master_rod", &r.MasterRod}, {"knuckle_radius", &r.KnuckleRadius}, {"link_rod", &r.LinkRod}, {"pin_to_crown", &r.PinToCrown}, {"below_crown", &r.BelowCrown}, {"skirt_end", &r.SkirtEnd}}
}

// rodValues is what stands in the form of a model's crank and rods.
func rodValues(m store.Model, u wear.Unit) map[string]string {
	v := map[string]string{}
	write := func(name string, x wear.Value) {
		if x != 0 {
			v[name] = x.Format(u)
		}
	}
	for _, x := range rodFields(&m.Rods) {
		write(x.name, *x.to)
	}
	if m.Rods.ListMaster != 0 {
		v["list_master"] = itoa(m.Rods.ListMaster)
	}
	for _, l := range m.Rods.LinkRods {
		at := "-" + itoa(l.Position)
		write("knuckle_radius"+at, l.KnuckleRadius)
		write("link_rod"+at, l.Length)
		if l.KnuckleAngle != 0 {
			v["knuckle_angle"+at] = angleText(l.KnuckleAngle)
		}
	}
	return v
}

func readRods(f *form, m store.Model, u wear.Unit) store.Rods {
	var r store.Rods
	length := func(name string) wear.Value {
		if v := f.value(name, u); v != nil {
			return *v
		}
		return 0
	}
	for _, x := range rodFields(&r) {
		*x.to = length(x.name)
	}
	if !m.OneRow() {
		r.LinkRods, r.ListMaster = m.Rods.LinkRods, m.Rods.ListMaster
		return r
	}
	master := f.number("list_master", 1, m.Cylinders, false)
	for n := 1; n <= m.Cylinders; n++ {
		at := "-" + itoa(n)
		l := store.LinkRod{Position: n, KnuckleRadius: length("knuckle_radius" + at)}
		if f.text("knuckle_angle"+at) != "" {
			if l.KnuckleAngle = f.fraction("knuckle_angle" + at); l.KnuckleAngle == 0 && !f.has("knuckle_angle"+at) {
				f.fault("knuckle_angle"+at, "a knuckle pin at 0° would lie in the master rod")
			}
		}
		if l.Length = length("link_rod" + at); l != (store.LinkRod{Position: n}) {
			r.LinkRods = append(r.LinkRods, l)
		}
	}
	if len(r.LinkRods) > 0 {
		r.ListMaster = master
	}
	return r
}
