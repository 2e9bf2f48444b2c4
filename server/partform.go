package server

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

func (s *Server) parts(w http.ResponseWriter, r *http.Request) error {
	at, q := pageOf(r), r.URL.Query()
	kind, _ := wear.ParseKind(q.Get("kind"))
	filter := store.PartFilter{Words: q.Get("q"), Kind: kind, Status: q.Get("status"), Limit: pageSize, Offset: at.offset()}
	rows, total, err := s.book.Parts(r.Context(), filter)
	if err != nil {
		return err
	}
	p := views.PartList{Page: s.page(r, "Parts", views.NavParts), Query: q.Get("q"), Kind: string(kind), Status: q.Get("status"), Kinds: kindChoices(), Statuses: choices(store.Statuses...),
		Found: counted(total, "part"), Empty: total == 0 && len(q) == 0}
	p.Older, p.Newer = at.around(r, total)
	for _, row := range rows {
		p.Rows = append(p.Rows, s.partRow(r, row))
	}
	return s.draw(w, r, http.StatusOK, views.PartListPage(p))
}

func (s *Server) partRow(r *http.Request, p store.PartRow) views.PartRow {
	row := views.PartRow{Kind: string(p.Kind), Serial: p.Serial, PartNumber: p.PartNumber, Where: p.Status, Measured: string(p.LastDay), Worst: worstOf(p.Part), Href: href("/parts/", p.ID)}
	if p.Engine != 0 {
		row.Where = p.EngineNo + ", position " + itoa(p.Position)
		if p.AtGroove > 0 {
			row.Where += ", groove " + itoa(p.AtGroove)
		}
		row.WhereHref = href("/engines/", p.Engine, "/positions/", p.Position)
	}
	if h, err := s.book.PartHours(r.Context(), p.ID); err == nil && (h.NewKnown || h.SinceNew > 0) {
		row.Hours = hours(h.SinceNew)
	}
	if p.Flagged {
		row.Finding = "flagged"
	}
	return row
}

func (s *Server) newPart(w http.ResponseWriter, r *http.Request) error {
	f := blankForm(map[string]string{"source": "new", "kind": r.URL.Query().Get("kind")})
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		p := readPart(f, set)
		if err := f.refused(p.Check(), nil); err != nil {
			return err
		}
		if f.ok() {
			id, err := s.book.AddPart(r.Context(), p)
			if err == nil {
				return s.redirect(w, r, href("/parts/", id), partName(p.Kind, p.Serial)+" is on the shelf.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	return s.partForm(w, r, f, set, store.Part{})
}

func readPart(f *form, set store.Settings) store.Part {
	kind, _ := wear.ParseKind(f.text("kind"))
	p := store.Part{Kind: kind, Serial: f.text("serial"), PartNumber: f.text("part_number"), ModelID: f.ref("model"), Source: f.text("source"), Surface: f.text("surface"), Facing: f.text("facing"),
		Groove: f.number("groove", 1, 8, false), WidthClass: f.text("width_class"), Material: f.text("material"), Modulus: f.number("modulus", 1000, 1_000_000, false), Weight: f.value("weight", wear.Gram), OverhaulBefore: f.optionalHours("overhaul_before"), Note: f.text("note")}
	if v := f.value("oversize", set.Unit); v != nil {
		p.Oversize = *v
	}
	if h := f.optionalHours("hours_before"); h != nil {
		p.HoursBefore = *h
	}
	return p
}

func (s *Server) partForm(w http.ResponseWriter, r *http.Request, f *form, set store.Settings, old store.Part) error {
	models, err := s.modelChoices(r)
	if err != nil {
		return err
	}
	for i, x := range f.stale {
		if x.What == "model" {
			f.stale[i].Theirs, f.stale[i].Yours = labelOf(models, x.Theirs), labelOf(models, x.Yours)
		}
	}
	p := views.PartForm{Page: s.page(r, "New part", views.NavParts), Action: "/parts", Draft: f.draft(), New: old.ID == 0, Back: views.Link{Text: "Back to parts", Href: "/parts"},
		Kinds: kindChoices(), Models: models, Sources: choices(store.Sources...), Surfaces: choices(store.Surfaces...), Materials: choices(store.RingMaterials...), Unit: set.Unit.Name, WeightUnit: wear.Gram.Name}
	if old.ID != 0 {
		p.Page.Title = "Change " + partName(old.Kind, old.Serial)
		p.Action, p.Kind, p.Back = href("/parts/", old.ID, "/edit"), string(old.Kind), views.Link{Text: "Back to the part", Href: href("/parts/", old.ID)}
	}
	return s.draw(w, r, f.status(), views.PartFormPage(p))
}

// labelOf is what a choice of a model is called.
func labelOf(os []views.Option, value string) string {
	for _, o := range os {
		if o.Value == value {
			return o.Label
		}
	}
	return cmp.Or(value, "not known")
}

func (s *Server) modelChoices(r *http.Request) ([]views.Option, error) {
	ms, err := s.book.Models(r.Context())
	os := make([]views.Option, len(ms))
	for i, m := range ms {
		os[i] = views.Option{Value: strconv.FormatInt(m.ID, 10), Label: m.Name}
	}
	return os, err
}

// partOf finds the part that the address names.
func (s *Server) partOf(r *http.Request) (store.Part, error) {
	n, err := id(r, "id")
	if err != nil {
		return store.Part{}, err
	}
	return s.book.Part(r.Context(), n)
}

func (s *Server) editPart(w http.ResponseWriter, r *http.Request) error {
	old, err := s.partOf(r)
	if err != nil {
		return err
	}
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	f := changingForm(partValues(old, set))
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		p := readPart(f, set)
		p.ID, p.Kind = old.ID, old.Kind
		if err := f.refused(p.Check(), nil); err != nil {
			return err
		}
		if f.ok() {
			err := s.book.SavePart(f.knowing(r.Context(), func(ctx context.Context) (map[string]string, error) {
				now, err := s.book.Part(ctx, p.ID)
				return partValues(now, set), err
			}), p)
			if err == nil {
				return s.redirect(w, r, href("/parts/", p.ID), partName(p.Kind, p.Serial)+" was changed.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	return s.partForm(w, r, f, set, old)
}

// partValues is what stands in the form of a part that exists.
func partValues(p store.Part, set store.Settings) map[string]string {
	v := map[string]string{"kind": string(p.Kind), "serial": p.Serial, "part_number": p.PartNumber, "source": p.Source, "surface": p.Surface, "facing": p.Facing, "width_class": p.WidthClass, "material": p.Material, "note": p.Note}
	if p.ModelID != 0 {
		v["model"] = strconv.FormatInt(p.ModelID, 10)
	}
	if p.Oversize != 0 {
		v["oversize"] = p.Oversize.Format(set.Unit)
	}
	if p.Groove != 0 {
		v["groove"] = itoa(p.Groove)
	}
	if p.Modulus != 0 {
		v["modulus"] = itoa(p.Modulus)
	}
	if p.Weight != nil {
		v["weight"] = p.Weight.Format(wear.Gram)
	}
	if p.HoursBefore != 0 {
		v["hours_before"] = p.HoursBefore.String()
	}
	if p.OverhaulBefore != nil {
		v["overhaul_before"] = p.OverhaulBefore.String()
	}
	return v
}

// wearEvent records work on a part's surface.
func (s *Server) wearEvent(w http.ResponseWriter, r *http.Request) error {
	p, err := s.partOf(r)
	if err != nil {
		return err
	}
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	back := backTo(r)
	q := r.URL.Query() // what a job decided stands in the form
	f := blankForm(map[string]string{"back": back, "day": string(s.book.Today()), "event": q.Get("event"), "oversize": q.Get("oversize"), "groove": q.Get("groove")})
	readings, err := s.book.ReadingsOf(r.Context(), p.ID)
	if err != nil {
		return err
	}
	measured := sheetsOn(readings, s.book.Today())
	if len(measured) > 0 {
		f.values["after"] = measured[len(measured)-1].Value
	}
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		day, err := s.happenedOn(f)
		if err != nil {
			return err
		}
		m := wear.Mark{Day: day, Groove: f.number("groove", 1, 8, false), Oversize: f.value("oversize", set.Unit)}
		var known bool
		if m.Event, known = wear.ParseEvent(f.text("event")); !known {
			f.fault("event", "choose what was done")
		}
		if m.Event == wear.Ground && m.Oversize == nil && !f.has("oversize") {
			f.fault("oversize", "give the size over standard that it was ground to")
		}
		measured = sheetsOn(readings, m.Day)
		m.After = readAfter(f, measured)
		if f.ok() {
			err := s.book.AddMark(r.Context(), p.ID, m, f.text("note"))
			if err == nil {
				said := "The work was recorded: wear counts from here."
				if n := len(measured); n == 0 || measured[n-1].Value == f.text("after") {
					said += " Measure the part now."
				}
				return s.redirect(w, r, cmp.Or(back, href("/parts/", p.ID)), said)
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	page := views.WearEventForm{Page: s.page(r, "Work on "+partName(p.Kind, p.Serial), views.NavParts), Action: href("/parts/", p.ID, "/events"), Draft: f.draft(), Part: partName(p.Kind, p.Serial), Kind: string(p.Kind),
		Back: views.Link{Text: "Back to the part", Href: href("/parts/", p.ID)}, Unit: set.Unit.Name, Measured: measured}
	if back != "" {
		page.Back = views.Link{Text: "Back to the bench", Href: back}
	}
	for _, e := range wear.WearEvents {
		if e != wear.InstalledNew && store.DoneOn(e, p.Kind) {
			page.Events = append(page.Events, views.Option{Value: string(e), Label: string(e)})
		}
	}
	marks, err := s.book.Marks(r.Context(), p.ID)
	if err != nil {
		return err
	}
	for _, m := range marks {
		page.Known = append(page.Known, views.Fact{Label: string(m.Day), Value: markText(m, set.Unit)})
	}
	return s.draw(w, r, f.status(), views.WearEventPage(page))
}

// beforeAll is the choice of who says that no sheet of the day was measured
// before the work.
const beforeAll = "-1"

// sheetsOn are the choices of what a part's work of a day came after: one of
// the sheets of that day, oldest first, or none of them. No choices where the
// part was not measured that day.
func sheetsOn(readings []store.Reading, day wear.Day) []views.Option {
	var all []views.Option
	for _, x := range slices.Backward(readings) {
		if x.Sheet.Day != day || x.Struck || x.Value == nil {
			continue
		}
		value := strconv.FormatInt(x.Sheet.ID, 10)
		if len(all) == 0 {
			all = append(all, views.Option{Value: beforeAll, Label: "before all that was measured that day"})
		}
		if last := &all[len(all)-1]; last.Value == value {
			last.Label = joinText(", ", last.Label, x.Typed)
		} else {
			all = append(all, views.Option{Value: value, Label: "after the sheet saved at " + local(x.Sheet.SavedAt, "15:04") + ": " + x.Typed})
		}
	}
	return all
}

// readAfter reads which sheet of its day the work came after; -1 for none.
func readAfter(f *form, measured []views.Option) int64 {
	for _, o := range measured {
		if f.text("after") == o.Value {
			n, err := strconv.ParseInt(o.Value, 10, 64)
			if err == nil {
				return n
			}
		}
	}
	if len(measured) > 0 && !f.has("day") {
		f.fault("after", "the part was measured on that day too: say what came first")
	}
	return -1
}

// markText says what an event was: ground to oversize, 0.010 in.
func markText(m store.MarkRow, u wear.Unit) string {
	text := string(m.Event)
	if m.Groove > 0 {
		text += ", groove " + itoa(m.Groove)
	}
	if m.Oversize != nil {
		text += fmt.Sprintf(", %s %s", m.Oversize.Format(u), u.Name)
	}
	if m.Note != "" {
		text += " (" + m.Note + ")"
	}
	return text
}

func (s *Server) scrap(w http.ResponseWriter, r *http.Request) error {
	p, err := s.partOf(r)
	if err != nil {
		return err
	}
	f := blankForm(map[string]string{"day": string(s.book.Today())})
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		day, why := f.day("day"), f.needed("reason", "say why the part is scrapped")
		if f.ok() {
			err := s.book.ScrapPart(r.Context(), p.ID, day, why)
			if err == nil {
				return s.redirect(w, r, href("/parts/", p.ID), partName(p.Kind, p.Serial)+" was scrapped.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	return s.draw(w, r, f.status(), views.ReasonPage(views.ReasonForm{Page: s.page(r, "Scrap "+partName(p.Kind, p.Serial), views.NavParts), Action: href("/parts/", p.ID, "/scrap"), Draft: f.draft(),
		Heading: "Scrap " + string(p.Kind) + " " + p.Serial, Explain: "Its record stays in the book. It cannot be fitted again.", Back: views.Link{Text: "Back to the part", Href: href("/parts/", p.ID)},
		AskDay: true, Reasons: []string{"beyond its service limit", "cracked", "no oversize clears", "corroded"}, Button: "Scrap the part"}))
}

// strikeWork marks recorded work as entered by mistake.
func (s *Server) strikeWork(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	m, err := s.book.Mark(r.Context(), n)
	if err != nil {
		return err
	}
	p, err := s.book.Part(r.Context(), m.Part)
	if err != nil {
		return err
	}
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	f := blankForm(nil)
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		err := s.book.VoidMark(r.Context(), n, f.text("reason"))
		if err == nil {
			return s.redirect(w, r, href("/parts/", p.ID), "The work was struck: no run begins with it any more.")
		}
		if err := f.refused(err, nil); err != nil {
			return err
		}
	}
	return s.draw(w, r, f.status(), views.ReasonPage(views.ReasonForm{Page: s.page(r, "Strike recorded work", views.NavParts), Action: href("/work/", n, "/strike"), Draft: f.draft(),
		Heading: "Strike work on " + string(p.Kind) + " " + p.Serial, Explain: "It stays visible, struck through, and starts no run. Use this only for an entry that was never true.",
		Facts: []views.Fact{{Label: "Date", Value: string(m.Day)}, {Label: "Work", Value: markText(m, set.Unit)}},
		Back:  views.Link{Text: "Back to the part", Href: href("/parts/", p.ID)}, Reasons: []string{"wrong part", "wrong date", "wrong size", "not done"}, Button: "Strike it"}))
}
