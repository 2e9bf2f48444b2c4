package server

import (
	"cmp"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// hints are what a form says of an engine's meter beside the field.
func meterHints(e store.Engine) (last, offset string) {
	if e.HoursDay != "" {
		last = fmt.Sprintf("last %s on %s", hours(e.Hours-e.Offset), e.HoursDay)
	}
	if e.Offset != 0 {
		offset = fmt.Sprintf("the meter was replaced: %s are added to what it shows", hours(e.Offset))
	}
	return last, offset
}

// lastMeter is the same for the tablet that compares with it.
func lastMeter(e store.Engine) views.Meter {
	if e.HoursDay == "" {
		return views.Meter{}
	}
	return views.Meter{Shows: (e.Hours - e.Offset).String(), Day: string(e.HoursDay)}
}

// place is a slot of the stack with the ending of its fields' names.
type place struct {
	name, label string
	kind        wear.Kind
	groove      int
}

func stackOf(m store.Model) []place {
	ps := []place{{"cylinder", "Cylinder", wear.Cylinder, 0}, {"piston", "Piston", wear.Piston, 0}}
	for g := 1; g <= m.Grooves; g++ {
		ps = append(ps, place{"ring-" + itoa(g), "Ring, groove " + itoa(g), wear.Ring, g})
	}
	return append(ps, place{"pin", "Pin", wear.Pin, 0})
}

// installStack fits parts at a position, all in one save.
func (s *Server) installStack(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	pos, err := position(r)
	if err != nil {
		return err
	}
	if pos > e.Cylinders {
		return errBadAddress
	}
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	f := blankForm(map[string]string{"day": cmp.Or(r.URL.Query().Get("day"), string(s.book.Today())), "hours": r.URL.Query().Get("hours")})
	var pressed map[string]*pressing
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		n, rings, err := s.saveStack(r, f, e, pos, set)
		if err != nil {
			return err
		}
		if f.ok() {
			to := href("/engines/", e.ID, "/positions/", pos)
			if f.text("next") != "" && pos < e.Cylinders {
				to = href("/engines/", e.ID, "/positions/", pos+1, "/install?", url.Values{"day": {f.text("day")}, "hours": {f.text("hours")}}.Encode())
			}
			return s.redirect(w, r, to, joinText(" ", counted(n, "part")+" installed at position "+itoa(pos)+". Hours count from here.", unmeasuredText(slices.Collect(maps.Values(rings)))))
		}
		pressed = rings
	}
	p := views.InstallStack{Page: s.page(r, "Install at position "+itoa(pos), views.NavEngines), Action: href("/engines/", e.ID, "/positions/", pos, "/install"), Draft: f.draft(), Engine: e.Serial, Position: itoa(pos),
		Back: views.Link{Text: "Back to the position", Href: href("/engines/", e.ID, "/positions/", pos)}, Unit: set.Unit.Name, Sources: choices(store.Sources...), Surfaces: choices(store.Surfaces...)}
	p.HoursHint, p.OffsetHint = meterHints(e)
	if pos < e.Cylinders {
		p.Next = itoa(pos + 1)
	}
	if e.MasterRod > 0 {
		p.MasterRod = fmt.Sprintf("Position %d holds the master rod: that cylinder comes off last and goes on first. Never turn the crankshaft while it is off.", e.MasterRod)
	}
	if p.Slots, err = s.stackSlots(r, e, pos); err != nil {
		return err
	}
	for i, x := range p.Slots {
		p.Slots[i].Pressing = pressed["serial-"+x.Name].view(true)
		if r.Method != http.MethodPost && len(x.Shelf) == 0 {
			f.values["from-"+x.Name] = store.Sources[0] // nothing is on the shelf
		}
	}
	return s.draw(w, r, f.status(), views.InstallStackPage(p))
}

func (s *Server) stackSlots(r *http.Request, e store.Engine, pos int) ([]views.Slot, error) {
	all, err := s.book.Slots(r.Context(), []store.Engine{e})
	if err != nil {
		return nil, err
	}
	var slots []views.Slot
	for _, pl := range stackOf(e.Model) {
		v := views.Slot{Name: pl.name, Label: pl.label, AskOversize: pl.kind == wear.Cylinder || pl.kind == wear.Piston, AskSurface: pl.kind == wear.Cylinder, AskFacing: pl.kind == wear.Ring}
		for _, held := range all[e.ID] {
			if held.Position == pos && held.Kind == pl.kind && held.AtGroove == pl.groove {
				v.Holds = fmt.Sprintf("%s %s since %s", held.Kind, held.Serial, held.From)
				v.Href, v.Remove = href("/parts/", held.ID), href("/parts/", held.ID, "/remove")
			}
		}
		if v.Holds == "" {
			shelf, _, err := s.book.Parts(r.Context(), store.PartFilter{Kind: pl.kind, Status: "on shelf", Model: e.Model.ID, Limit: 200})
			if err != nil {
				return nil, err
			}
			for _, p := range shelf {
				v.Shelf = append(v.Shelf, views.Option{Value: p.Serial, Label: strings.TrimSpace(p.PartNumber + " " + p.Source)})
			}
		}
		slots = append(slots, v)
	}
	return slots, nil
}

// saveStack reads the free places that were filled and installs them. What is
// known of the rings' pressure comes back by the field that names the ring.
func (s *Server) saveStack(r *http.Request, f *form, e store.Engine, pos int, set store.Settings) (n int, rings map[string]*pressing, err error) {
	day, shows := f.day("day"), f.hours("hours")
	var fittings []store.Fitting
	for _, pl := range stackOf(e.Model) {
		serial := f.text("serial-" + pl.name)
		if serial == "" {
			continue
		}
		fit := store.Fitting{Groove: pl.groove, Field: "serial-" + pl.name}
		number := f.text("part_number-" + pl.name)
		if from := f.text("from-" + pl.name); from == views.FromShelf {
			known, err := s.book.PartsNamed(r.Context(), pl.kind, serial)
			if err != nil {
				return 0, nil, err
			}
			if number != "" {
				known = withNumber(known, number)
			}
			switch len(known) {
			case 0:
				f.fault(fit.Field, "there is no %s %s on the shelf: choose to make a new entry, or check the number", pl.kind, serial)
				continue
			case 1:
				fit.Part = known[0]
			default:
				f.fault(fit.Field, "%d parts have that number: give the part number too", len(known))
				continue
			}
		} else {
			fit.Part = store.Part{Kind: pl.kind, Serial: serial, PartNumber: number, Source: from, Surface: f.text("surface-" + pl.name), Facing: f.text("facing-" + pl.name), Groove: pl.groove}
			if v := f.value("oversize-"+pl.name, set.Unit); v != nil {
				fit.Part.Oversize = *v
			}
			if h := f.optionalHours("hours_before-" + pl.name); h != nil {
				fit.Part.HoursBefore = *h
			}
			f.refusedAt(fit.Field, fit.Part.Check())
		}
		fittings = append(fittings, fit)
	}
	if len(fittings) == 0 && f.ok() {
		f.fault("", "no part was named: give the serial of at least one")
	}
	pressed, err := s.checkRings(r, f, e, pos, fittings)
	if err != nil {
		return 0, nil, err
	}
	rings = map[string]*pressing{}
	for i, p := range pressed {
		if p != nil {
			rings[fittings[i].Field] = p
		}
	}
	if !f.ok() {
		return 0, rings, nil
	}
	return len(fittings), rings, f.refused(s.book.InstallAll(r.Context(), e.ID, pos, day, shows, fittings), nil)
}

// unmeasuredText names the rings of which the force was not measured although
// the original's is known; "" for none.
func unmeasuredText(rings []*pressing) string {
	var names []string
	for _, p := range rings {
		if p.unmeasured() {
			names = append(names, p.ring.Serial)
		}
	}
	if len(names) == 0 {
		return ""
	}
	slices.Sort(names)
	return "The force of ring " + strings.Join(names, ", ring ") + " was not measured: compare it before it runs."
}

func withNumber(ps []store.Part, number string) []store.Part {
	var out []store.Part
	for _, p := range ps {
		if strings.EqualFold(p.PartNumber, number) {
			out = append(out, p)
		}
	}
	return out
}

// installPart fits one part that is on the shelf.
func (s *Server) installPart(w http.ResponseWriter, r *http.Request) error {
	p, err := s.partOf(r)
	if err != nil {
		return err
	}
	values := map[string]string{"day": string(s.book.Today())}
	if p.Groove > 0 {
		values["groove"] = itoa(p.Groove)
	}
	f := blankForm(values)
	var pressed *pressing
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		to, here, err := s.saveInstall(r, f, p)
		if err != nil {
			return err
		}
		if f.ok() {
			return s.redirect(w, r, to, joinText(" ", partName(p.Kind, p.Serial)+" was installed. Its hours count from here.", unmeasuredText([]*pressing{here})))
		}
		pressed = here
	}
	if p.Kind == wear.Ring && pressed == nil {
		k, err := s.ringBook(r.Context())
		if err != nil {
			return err
		}
		if pressed, err = k.pressingNew(p); err != nil {
			return err
		}
	}
	es, _, err := s.book.Engines(r.Context(), "", 500, 0)
	if err != nil {
		return err
	}
	page := views.InstallPart{Page: s.page(r, "Install "+partName(p.Kind, p.Serial), views.NavParts), Action: href("/parts/", p.ID, "/install"), Draft: f.draft(), Part: partName(p.Kind, p.Serial),
		Back: views.Link{Text: "Back to the part", Href: href("/parts/", p.ID)}, About: p.Source, Ring: p.Kind == wear.Ring, Pressing: pressed.view(true)}
	for _, e := range es {
		page.Engines = append(page.Engines, views.Option{Value: e.Serial, Label: strings.TrimSpace(e.Model.Name + " " + e.Aircraft)})
	}
	return s.draw(w, r, f.status(), views.InstallPartPage(page))
}

// saveInstall installs a part; what is known of a ring's pressure there comes
// back.
func (s *Server) saveInstall(r *http.Request, f *form, p store.Part) (to string, pressed *pressing, err error) {
	day, shows := f.day("day"), f.hours("hours")
	at := store.Place{Position: f.number("position", 1, 36, true)}
	if p.Kind == wear.Ring {
		at.Groove = f.number("groove", 1, 8, true)
	}
	found, err := s.book.EnginesBySerial(r.Context(), f.needed("engine", "give the engine's serial"))
	if err != nil {
		return "", nil, err
	}
	switch {
	case len(found) == 1:
		at.Engine = found[0].ID
	case len(found) == 0 && f.text("engine") != "":
		f.fault("engine", "the book has no engine %s", f.text("engine"))
	case len(found) > 1:
		f.fault("engine", "%d engines have that serial: install from the engine's page", len(found))
	}
	fitting := []store.Fitting{{Part: p, Groove: at.Groove}}
	if len(found) == 1 && !f.has("position", "groove") {
		here, err := s.checkRings(r, f, found[0], at.Position, fitting)
		if err != nil {
			return "", nil, err
		}
		pressed = here[0]
	}
	if !f.ok() {
		return "", pressed, nil
	}
	err = s.book.InstallAll(r.Context(), at.Engine, at.Position, day, shows, fitting)
	return href("/engines/", at.Engine, "/positions/", at.Position), pressed, f.refused(err, map[string]string{"part": "engine"})
}

// removePart takes a part off its engine.
func (s *Server) removePart(w http.ResponseWriter, r *http.Request) error {
	p, err := s.partOf(r)
	if err != nil {
		return err
	}
	stays, err := s.book.StaysOf(r.Context(), p.ID)
	if err != nil {
		return err
	}
	var at store.Stay
	for _, st := range stays {
		if st.Open() && st.Void == "" {
			at = st
		}
	}
	if at.ID == 0 {
		return store.Invalid{{Field: "part", Message: "the part is not on an engine"}}
	}
	e, err := s.book.Engine(r.Context(), at.Engine)
	if err != nil {
		return err
	}
	f := blankForm(map[string]string{"day": string(s.book.Today())})
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		day, shows, why := f.day("day"), f.hours("hours"), f.needed("reason", "say why the part comes off")
		if f.ok() {
			err := s.book.Remove(r.Context(), p.ID, day, shows, why, f.text("scrap") != "")
			if err == nil {
				return s.redirect(w, r, href("/parts/", p.ID), partName(p.Kind, p.Serial)+" is off the engine.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	page := views.RemovePart{Page: s.page(r, "Remove "+partName(p.Kind, p.Serial), views.NavParts), Action: href("/parts/", p.ID, "/remove"), Draft: f.draft(), Part: partName(p.Kind, p.Serial), Kind: string(p.Kind),
		Back: views.Link{Text: "Back to the part", Href: href("/parts/", p.ID)}, From: fmt.Sprintf("engine %s, position %d, since %s at %s", at.EngineNo, at.Position, at.From, hours(at.FromHours)),
		Radial: e.Arrangement == "radial", MasterRod: e.MasterRod == at.Position, Reasons: []string{"low leak test", "oil use", "wears too fast", "top overhaul", "beyond its limit", "inspection"}}
	page.HoursHint, page.OffsetHint = meterHints(e)
	if e.MasterRod > 0 {
		page.MasterAt = strconv.Itoa(e.MasterRod)
	}
	return s.draw(w, r, f.status(), views.RemovePartPage(page))
}

// strike marks an installation as entered by mistake.
func (s *Server) strike(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	st, err := s.book.Stay(r.Context(), n)
	if err != nil {
		return err
	}
	f := blankForm(nil)
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		err := s.book.VoidStay(r.Context(), n, f.text("reason"))
		if err == nil {
			return s.redirect(w, r, href("/parts/", st.Part), "The installation was struck. Enter it again as it was.")
		}
		if err := f.refused(err, nil); err != nil {
			return err
		}
	}
	return s.draw(w, r, f.status(), views.ReasonPage(views.ReasonForm{Page: s.page(r, "Strike an installation", views.NavParts), Action: href("/installations/", n, "/strike"), Draft: f.draft(),
		Heading: "Strike the installation of " + partName(st.Kind, st.Serial), Explain: "It stays visible, struck through, and counts for nothing. Use this only for an entry that was never true.",
		Facts: []views.Fact{{Label: "Engine", Value: st.EngineNo}, {Label: "Position", Value: itoa(st.Position)}, {Label: "From", Value: string(st.From) + ", " + hours(st.FromHours)}},
		Back:  views.Link{Text: "Back to the part", Href: href("/parts/", st.Part)}, Reasons: []string{"wrong part", "wrong position", "wrong engine", "wrong date"}, Button: "Strike it"}))
}
