package server

import (
	"context"
	"fmt"
	"net/http"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// pageSize is how many rows a table shows at once.
const pageSize = 50

// paging is a page of a long table.
type paging struct{ number int }

func pageOf(r *http.Request) paging {
	n := 1
	if _, err := fmt.Sscan(r.URL.Query().Get("page"), &n); err != nil || n < 1 || n > 1_000_000 {
		n = 1
	}
	return paging{n}
}

func (p paging) offset() int { return (p.number - 1) * pageSize }

// around are the addresses of the pages before and after, "" for none.
func (p paging) around(r *http.Request, total int) (before, after string) {
	link := func(n int) string {
		q := r.URL.Query()
		q.Set("page", itoa(n))
		return r.URL.Path + "?" + q.Encode()
	}
	if p.number > 1 {
		before = link(p.number - 1)
	}
	if p.number*pageSize < total {
		after = link(p.number + 1)
	}
	return before, after
}

// counted writes a number of things: 1 engine, 1,204 parts.
func counted(n int, noun string) string {
	s := grouped(itoa(n)) + " " + noun
	if n != 1 {
		s += "s"
	}
	return s
}

func (s *Server) engines(w http.ResponseWriter, r *http.Request) error {
	ctx, at, q := r.Context(), pageOf(r), r.URL.Query().Get("q")
	es, total, err := s.enginesFor(r, q, at)
	if err != nil {
		return err
	}
	slots, err := s.book.Glance(ctx, es)
	if err != nil {
		return err
	}
	leaks, err := s.leaksOn(ctx, ids(es))
	if err != nil {
		return err
	}
	p := views.EngineList{Page: s.page(r, "Engines", views.NavEngines), Query: q, Found: counted(total, "engine"), Empty: total == 0 && q == "", NewHref: "/engines/new"}
	p.Older, p.Newer = at.around(r, total)
	for _, e := range es {
		worst, day := worstWith(slots[e.ID], worstOfAll(leaks[e.ID]))
		p.Rows = append(p.Rows, views.EngineRow{Serial: e.Serial, Model: e.Model.Name, Arrangement: e.Arrangement, Cylinders: itoa(e.Cylinders), Aircraft: e.Aircraft,
			Hours: hours(e.Hours), Measured: string(day), Worst: worst, Href: href("/engines/", e.ID), MeasureHref: href("/measure?q=", e.Serial)})
	}
	return s.draw(w, r, http.StatusOK, views.EngineListPage(p))
}

// worstSlot is the worst verdict among parts, and the last day one was
// measured.
func worstSlot(slots []store.Slot) (views.VerdictMark, wear.Day) {
	worst, day := wear.NoLimit, wear.Day("")
	for _, s := range slots {
		worst, day = max(worst, s.Verdict), max(day, s.LastDay)
	}
	if worst == wear.NoLimit && day != "" {
		return told(worst), day
	}
	return mark(worst), day
}

// mark is a verdict as it is drawn, of what may never have been measured;
// nothing where there is none.
func mark(v wear.Verdict) views.VerdictMark {
	if v == wear.NoLimit {
		return views.VerdictMark{}
	}
	return views.VerdictMark{Word: v.String()}
}

// told is the verdict on what was measured, as it is drawn.
func told(v wear.Verdict) views.VerdictMark { return views.VerdictMark{Word: v.String()} }

// worstOf is the worst verdict of a part.
func worstOf(p store.Part) views.VerdictMark {
	worst, _ := worstSlot([]store.Slot{{Part: p}})
	return worst
}

func (s *Server) newEngine(w http.ResponseWriter, r *http.Request) error {
	f := blankForm(map[string]string{"day": string(s.book.Today())})
	if r.Method == http.MethodPost {
		var err error
		if f, err = readForm(r); err != nil {
			return err
		}
		n := readEngine(f)
		n.Shows = f.hours("hours")
		if n.Day, err = s.happenedOn(f); err != nil {
			return err
		}
		if err := f.refused(n.Check(), nil); err != nil {
			return err
		}
		if f.ok() {
			id, err := s.book.AddEngine(r.Context(), n)
			if err == nil {
				return s.redirect(w, r, href("/engines/", id), "Engine "+n.Serial+" is in the book. Next: type its limits, then install its parts.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	names, err := s.modelNames(r)
	if err != nil {
		return err
	}
	return s.draw(w, r, f.status(), views.EngineFormPage(views.EngineForm{Page: s.page(r, "New engine", views.NavEngines), Action: "/engines", Draft: f.draft(), New: true,
		Back: views.Link{Text: "Back to engines", Href: "/engines"}, Models: names}))
}

func readEngine(f *form) store.NewEngine {
	return store.NewEngine{Serial: f.text("serial"), Model: f.text("model"), Arrangement: f.text("arrangement"),
		Cylinders: f.number("cylinders", 1, 36, true), MasterRod: f.number("master_rod", 1, 36, false), FrontMaster: f.number("front_master_rod", 1, 36, false), Aircraft: f.text("aircraft"), Notes: f.text("notes")}
}

func (s *Server) modelNames(r *http.Request) ([]string, error) {
	ms, err := s.book.Models(r.Context())
	names := make([]string, len(ms))
	for i, m := range ms {
		names[i] = m.Name
	}
	return names, err
}

func (s *Server) editEngine(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	f := changingForm(engineValues(e))
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		n := readEngine(f)
		n.Model = e.Model.Name
		if err := f.refused(n.Check(), nil); err != nil {
			return err
		}
		if f.ok() {
			err := s.book.SaveEngine(f.knowing(r.Context(), func(ctx context.Context) (map[string]string, error) {
				now, err := s.book.Engine(ctx, e.ID)
				return engineValues(now), err
			}), e.ID, n)
			if err == nil {
				return s.redirect(w, r, href("/engines/", e.ID), "Engine "+n.Serial+" was changed.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	return s.draw(w, r, f.status(), views.EngineFormPage(views.EngineForm{Page: s.page(r, "Change engine "+e.Serial, views.NavEngines), Action: href("/engines/", e.ID, "/edit"), Draft: f.draft(),
		Back: views.Link{Text: "Back to the engine", Href: href("/engines/", e.ID)}, Fixed: e.Model.Name, Plan: views.Link{Text: "Measuring plan", Href: href("/models/", e.Model.ID)}}))
}

// engineValues is what stands in the form of an engine that exists.
func engineValues(e store.Engine) map[string]string {
	v := map[string]string{"serial": e.Serial, "arrangement": e.Arrangement, "cylinders": itoa(e.Cylinders), "aircraft": e.Aircraft, "notes": e.Notes}
	if e.MasterRod > 0 {
		v["master_rod"] = itoa(e.MasterRod)
	}
	if e.FrontMaster > 0 {
		v["front_master_rod"] = itoa(e.FrontMaster)
	}
	return v
}

// engineOf finds the engine that the address names.
func (s *Server) engineOf(r *http.Request) (store.Engine, error) {
	n, err := id(r, "id")
	if err != nil {
		return store.Engine{}, err
	}
	return s.book.Engine(r.Context(), n)
}

// meter takes a meter reading, or a replaced meter.
func (s *Server) meter(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	f := blankForm(map[string]string{"day": string(s.book.Today()), "what": views.MeterReading})
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		if done, err := s.saveMeter(r, f, e); err != nil || done {
			if err != nil {
				return err
			}
			return s.redirect(w, r, href("/engines/", e.ID), "The meter entry was saved.")
		}
	}
	entries, err := s.book.Meter(r.Context(), e.ID)
	if err != nil {
		return err
	}
	p := views.MeterForm{Page: s.page(r, "Meter of engine "+e.Serial, views.NavEngines), Action: href("/engines/", e.ID, "/meter"), Draft: f.draft(), Engine: e.Serial,
		Back: views.Link{Text: "Back to the engine", Href: href("/engines/", e.ID)}, Entries: meterRows(e.ID, entries)}
	if e.HoursDay != "" {
		p.Last = fmt.Sprintf("%s on %s", hours(e.Hours-e.Offset), e.HoursDay)
	}
	if e.Offset != 0 {
		p.Offset = hours(e.Offset)
	}
	return s.draw(w, r, f.status(), views.MeterFormPage(p))
}

func (s *Server) saveMeter(r *http.Request, f *form, e store.Engine) (done bool, err error) {
	day, err := s.happenedOn(f)
	if err != nil {
		return false, err
	}
	if f.text("what") == views.MeterReplaced {
		old, fresh, why := f.hours("old_hours"), f.hours("new_hours"), f.needed("reason", "say why the meter was replaced or reset")
		if f.ok() {
			err = s.book.ReplaceMeter(r.Context(), e.ID, day, old, fresh, why)
			if err = f.refused(err, map[string]string{"hours": "old_hours", "stood": "old_hours"}); err != nil {
				return false, err
			}
		}
		return f.ok(), nil
	}
	shows := f.hours("hours")
	if f.ok() {
		_, err = s.book.AddMeter(r.Context(), e.ID, day, shows)
		if err = f.refused(err, nil); err != nil {
			return false, err
		}
	}
	return f.ok(), nil
}

func meterRows(engine int64, entries []store.MeterEntry) []views.MeterRow {
	rows := make([]views.MeterRow, len(entries))
	for i, m := range entries {
		rows[i] = views.MeterRow{Day: string(m.Day), Shows: hours(m.Shows), Offset: hours(m.Offset), Total: hours(m.Hours), Kind: m.Kind, Reason: m.Reason, Struck: m.Struck}
		if m.Replaced() && !m.Struck {
			rows[i].Kind = "replaced, the old one at " + hours(m.Stood)
		}
		if !m.Struck {
			rows[i].CorrectHref = href("/engines/", engine, "/meter/", m.Root, "/correct")
		}
	}
	return rows
}

func (s *Server) correctMeter(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	root, err := id(r, "meter")
	if err != nil {
		return err
	}
	m, err := s.book.MeterEntry(r.Context(), root)
	if err != nil {
		return err
	}
	if m.Engine != e.ID {
		return store.ErrNotFound
	}
	f := blankForm(map[string]string{"day": string(m.Day), "hours": m.Shows.String(), "stood": m.Stood.String()})
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		day, err := s.happenedOn(f)
		if err != nil {
			return err
		}
		var stood wear.Hours
		if m.Replaced() {
			stood = f.hours("stood")
		}
		shows, why := f.hours("hours"), f.needed("reason", "say why the entry is corrected")
		if f.ok() {
			if m.Replaced() {
				err = s.book.CorrectReplaced(r.Context(), root, day, stood, shows, why)
			} else {
				err = s.book.CorrectMeter(r.Context(), root, day, shows, why)
			}
			if err == nil {
				return s.redirect(w, r, href("/engines/", e.ID), "The meter entry was corrected; the hours of parts and sheets follow.")
			}
			if err := f.refused(err, nil); err != nil {
				return err
			}
		}
	}
	entries, err := s.book.Meter(r.Context(), e.ID)
	if err != nil {
		return err
	}
	p := views.CorrectMeter{Page: s.page(r, "Correct a meter entry", views.NavEngines), Action: href("/engines/", e.ID, "/meter/", root, "/correct"), Draft: f.draft(), Engine: e.Serial,
		Back: views.Link{Text: "Back to the engine", Href: href("/engines/", e.ID)}, OldDay: string(m.Day), OldShows: hours(m.Shows), OldTotal: hours(m.Hours)}
	if m.Replaced() {
		p.OldStood = hours(m.Stood)
	}
	if p.Holds, err = s.book.MeterHolds(r.Context(), m); err != nil {
		return err
	}
	for _, old := range entries {
		if old.Root == root && old.Struck {
			by := correctionOf(old, entries)
			p.Before = append(p.Before, views.Correction{Value: hours(old.Shows), Reason: by.Reason, When: day(by.SavedAt)})
		}
	}
	return s.draw(w, r, f.status(), views.CorrectMeterPage(p))
}

// correctionOf is the entry that replaced a meter entry, and why.
func correctionOf(old store.MeterEntry, entries []store.MeterEntry) (next store.MeterEntry) {
	for _, m := range entries {
		if m.Root == old.Root && m.ID > old.ID && (next.ID == 0 || m.ID < next.ID) {
			next = m
		}
	}
	return next
}
