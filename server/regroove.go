package server

import (
	"net/http"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// regroove works out which over-width rings a worn groove can be machined
// for. It reckons only: nothing is saved and nothing decided.
func (s *Server) regroove(w http.ResponseWriter, r *http.Request) error {
	p, err := s.partOf(r)
	if err != nil {
		return err
	}
	if p.Kind != wear.Piston {
		return errBadAddress
	}
	k, err := s.ringBook(r.Context())
	if err != nil {
		return err
	}
	g := &regrooving{ringBook: k, f: asked(r), piston: p, known: map[string]sized{}}
	for _, name := range []string{fieldGroove, fieldLeast, fieldMost, "clean_up", "rings", "shelf", "above", "above_min", "below", "below_min", "share"} {
		g.sent = g.sent || r.URL.Query().Has(name)
	}
	if err := g.read(); err != nil {
		return err
	}
	page := views.Regroove{Page: s.page(r, "Over-width ring for "+partName(p.Kind, p.Serial), views.NavParts), Action: href("/parts/", p.ID, "/regroove"), Piston: p.Serial, Unit: k.set.Unit.Name,
		Groove: itoa(g.groove), Back: views.Link{Text: "Back to the piston", Href: href("/parts/", p.ID)}, Measure: href("/measure/part/", p.ID), Hints: g.hints(), Shelf: g.shelfFacts}
	for n := 1; n <= max(g.model.Grooves, g.groove); n++ {
		page.Grooves = append(page.Grooves, views.GrooveLink{Number: itoa(n), Href: href("/parts/", p.ID, "/regroove?groove=", n), Shown: n == g.groove})
	}
	if g.sent {
		g.work(&page)
	}
	page.Draft = g.f.draft()
	return s.draw(w, r, g.f.status(), views.RegroovePage(page))
}

// regrooving is the work on one groove.
type regrooving struct {
	*ringBook
	f          *form
	sent       bool // something was filled in
	piston     store.Part
	model      store.Model
	limits     store.Limits
	groove     int
	known      map[string]sized // what stands in a field before it is changed, by its name
	original   *ringSide        // nil where no ring is known in the groove
	bore       sized
	hasBore    bool
	shelf      []*ringSide
	shelfFacts []views.Fact
	rings      []wear.WidthRing
	share      int // of the cut that comes off the land below, %
}

// The fields that the book fills in.
const (
	fieldGroove = "groove_width"
	fieldLeast  = "clearance_min"
	fieldMost   = "clearance_max"
)

func (g *regrooving) read() error {
	d := dossier{part: g.piston}
	var err error
	if d.stays, err = g.book.StaysOf(g.ctx, g.piston.ID); err != nil {
		return err
	}
	if err := d.readModel(g.ctx, g.book); err != nil {
		return err
	}
	g.model, g.limits = d.model, d.limits
	if g.f.text("groove") == "" {
		g.f.values["groove"] = "1"
	}
	if g.groove = g.f.number("groove", 1, 8, true); g.groove == 0 {
		g.groove = 1
	}
	rs, err := g.book.ReadingsOf(g.ctx, g.piston.ID)
	if err != nil {
		return err
	}
	if f, ok := g.feature(wear.Piston, "groove width"); ok {
		if v, ok := g.latest(rs, f, g.groove); ok {
			g.known[fieldGroove] = v
		}
	}
	g.readClearance()
	g.readLands(rs)
	for name, v := range g.known {
		if _, said := g.f.values[name]; !said {
			g.f.values[name] = v.typed()
		}
	}
	for name, text := range map[string]string{"clean_up": "0", "share": "50"} {
		if _, said := g.f.values[name]; !said {
			g.f.values[name] = text
		}
	}
	if err := g.readOriginal(d.stays); err != nil {
		return err
	}
	return g.readShelf()
}

func (g *regrooving) readClearance() {
	f, ok := g.feature(wear.Piston, "side clearance")
	if !ok {
		return
	}
	row := g.limits.For(f.ID, g.groove)
	if row == nil {
		return
	}
	from := sized{unit: g.set.Unit, from: "new limit of the side clearance", href: href("/limits/", row.ID, "/history")}
	if t := source(row); t != "" {
		from.from += ", " + t
	}
	for name, v := range map[string]*wear.Value{fieldLeast: row.NewMin, fieldMost: row.NewMax} {
		if v != nil {
			from.Value = *v
			g.known[name] = from
		}
	}
}

// readLands fills in the lands where the shop has a feature of its own for
// them: land width 1 above groove 1 and so on, or one land width for all.
func (g *regrooving) readLands(rs []store.Reading) {
	for name, n := range map[string]int{"above": g.groove, "below": g.groove + 1} {
		f, ok := g.feature(wear.Piston, landWidth+" "+itoa(n))
		if !ok {
			f, ok = g.feature(wear.Piston, landWidth)
		}
		if !ok || f.Dim != wear.Length {
			continue
		}
		if v, ok := g.latest(rs, f, 0); ok {
			g.known[name] = v
		}
		if row := g.limits.For(f.ID, 0); row != nil && row.ServiceMin != nil {
			g.known[name+"_min"] = sized{Gauged: wear.Gauged{Value: *row.ServiceMin}, unit: g.set.Unit, from: "service limit, " + source(row), href: href("/limits/", row.ID, "/history")}
		}
	}
}

// readOriginal finds the ring in the groove, now or last, and the bore it runs
// in.
func (g *regrooving) readOriginal(stays []store.Stay) error {
	for _, st := range slices.Backward(stays) {
		if st.Void != "" {
			continue
		}
		there, err := g.book.StaysAt(g.ctx, st.Engine, st.Position)
		if err != nil {
			return err
		}
		for _, o := range slices.Backward(there) {
			if o.Kind != wear.Ring || o.Groove != g.groove || !o.Open() && o.To < st.From || !st.Open() && o.From > st.To {
				continue
			}
			p, err := g.book.Part(g.ctx, o.Part)
			if err != nil {
				return err
			}
			if g.original, err = g.measured(p, "original"); err != nil {
				return err
			}
			// a ring that ran has lost force, and may have pressed too hard itself
			if maker := g.makers(g.limits, g.groove, g.model.Name); maker.forced() {
				g.original = maker
			}
			cylinder, found, err := g.barrelOf(p.ID)
			if err != nil || !found {
				return err
			}
			g.bore, g.hasBore, err = g.barrelBore(cylinder)
			return err
		}
		return nil
	}
	return nil
}

// readShelf lists the rings on the shelf that are made for this groove and
// whose axial width was measured.
func (g *regrooving) readShelf() error {
	rows, _, err := g.book.Parts(g.ctx, store.PartFilter{Kind: wear.Ring, Status: "on shelf", Model: g.model.ID, Limit: 200})
	if err != nil {
		return err
	}
	for _, row := range rows {
		if row.Groove != 0 && row.Groove != g.groove || row.LastDay == "" {
			continue
		}
		side, err := g.measured(row.Part, "offered")
		if err != nil {
			return err
		}
		width, ok := side.sizes["axial width"]
		if !ok {
			continue
		}
		g.shelf = append(g.shelf, side)
		value := width.text()
		if row.WidthClass != "" {
			value += ", " + row.WidthClass
		}
		g.shelfFacts = append(g.shelfFacts, views.Fact{Label: side.name, Value: value, Href: href("/parts/", row.ID)})
	}
	return nil
}

// hints say where each field's number comes from.
func (g *regrooving) hints() map[string]string {
	out := map[string]string{}
	for name, v := range g.known {
		out[name] = capital(v.from) + "."
	}
	return out
}
