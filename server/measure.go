package server

import (
	"cmp"
	"fmt"
	"maps"
	"net/http"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// fewEngines is how many engines, and parts, the first page of measuring
// shows; a search finds the others.
const fewEngines = 12

// measure asks what will be measured.
func (s *Server) measure(w http.ResponseWriter, r *http.Request) error {
	ctx, q := r.Context(), r.URL.Query().Get("q")
	es, total, err := s.book.Engines(ctx, q, fewEngines, 0)
	if err != nil {
		return err
	}
	shelf, parts, err := s.book.Parts(ctx, store.PartFilter{Words: q, Status: "on shelf", Limit: fewEngines})
	if err != nil {
		return err
	}
	slots, err := s.book.Slots(ctx, es)
	if err != nil {
		return err
	}
	p := views.MeasureChoose{Page: s.page(r, "Measure", views.NavMeasure), Query: q, MoreEngines: total - len(es), MoreParts: parts - len(shelf), Empty: total+parts == 0 && q == ""}
	for _, e := range es {
		v := views.MeasureEngine{Serial: e.Serial, Model: e.Model.Name, Aircraft: e.Aircraft, Hours: hours(e.Hours), Href: href("/engines/", e.ID)}
		for n := 1; n <= e.Cylinders; n++ {
			at := slotsAt(slots[e.ID], n)
			_, last := worstSlot(at)
			v.Positions = append(v.Positions, views.MeasurePosition{Number: itoa(n), Last: string(last), Href: href("/measure/engine/", e.ID, "/", n), Bare: len(at) == 0})
		}
		p.Engines = append(p.Engines, v)
	}
	for _, x := range shelf {
		p.Shelf = append(p.Shelf, views.MeasurePart{Kind: string(x.Kind), Serial: x.Serial, PartNumber: x.PartNumber, Last: string(x.LastDay), Href: href("/measure/part/", x.ID)})
	}
	return s.draw(w, r, http.StatusOK, views.MeasureChoosePage(p))
}

func slotsAt(slots []store.Slot, position int) []store.Slot {
	var at []store.Slot
	for _, x := range slots {
		if x.Position == position {
			at = append(at, x)
		}
	}
	return at
}

// subject is what a sheet measures: the parts at a position, or one part.
type subject struct {
	engine   *store.Engine
	position int
	parts    []store.Part
	model    store.Model
	name     string
	about    string
	href     string
	action   string
}

func (s *Server) measurePosition(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	pos, err := position(r)
	if err != nil || pos > e.Cylinders {
		return errBadAddress
	}
	slots, err := s.book.Slots(r.Context(), []store.Engine{e})
	if err != nil {
		return err
	}
	sub := subject{engine: &e, position: pos, model: e.Model, name: fmt.Sprintf("position %d of engine %s", pos, e.Serial), about: e.Model.Name, href: href("/engines/", e.ID, "/positions/", pos),
		action: href("/measure/engine/", e.ID, "/", pos)}
	if e.Aircraft != "" {
		sub.about += ", " + e.Aircraft
	}
	for _, x := range slotsAt(slots[e.ID], pos) {
		sub.parts = append(sub.parts, x.Part)
	}
	return s.sheet(w, r, sub)
}

// measurePart measures one part, on the shelf or where it sits.
func (s *Server) measurePart(w http.ResponseWriter, r *http.Request) error {
	p, err := s.partOf(r)
	if err != nil {
		return err
	}
	sub := subject{parts: []store.Part{p}, name: string(p.Kind) + " " + p.Serial, about: p.Status, href: href("/parts/", p.ID), action: href("/measure/part/", p.ID)}
	if p.ModelID != 0 {
		if sub.model, err = s.book.Model(r.Context(), p.ModelID); err != nil {
			return err
		}
	} else {
		sub.model = store.Model{Grooves: 3, Stations: []string{"top", "middle", "bottom"}, Axes: []string{"thrust", "pin"}}
	}
	stays, err := s.book.StaysOf(r.Context(), p.ID)
	if err != nil {
		return err
	}
	for _, st := range stays {
		if st.Open() && st.Void == "" {
			e, err := s.book.Engine(r.Context(), st.Engine)
			if err != nil {
				return err
			}
			sub.engine, sub.position, sub.about = &e, st.Position, fmt.Sprintf("engine %s, position %d", e.Serial, st.Position)
		}
	}
	return s.sheet(w, r, sub)
}

// sheetWork is a sheet in hand: what can be typed, and what was.
type sheetWork struct {
	subject
	set      store.Settings
	unit     wear.Unit // of lengths on this sheet
	features []wear.Feature
	limits   store.Limits
	gauges   []store.Gauge
	last     map[int64]map[spotKey]store.Reading // by part
	sizes    map[int64]wear.Value                // oversize by part
}

type spotKey struct {
	feature       int64
	groove        int
	station, axis string
}

func (s *Server) sheet(w http.ResponseWriter, r *http.Request, sub subject) error {
	work, err := s.sheetWork(r, sub)
	if err != nil {
		return err
	}
	back := backTo(r)
	f := blankForm(work.first(string(s.book.Today()), who(r, s.remembered(r, sameHead))))
	f.values["back"] = back
	if f.values["hours"], err = s.shownInJob(r, sub); err != nil {
		return err
	}
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		n := work.read(f)
		if !f.ok() && len(n.Readings) > 0 {
			if f.has("day", "hours") {
				n.Day = ""
			}
			if err := f.refused(s.book.CheckSheet(r.Context(), n), nil); err != nil {
				return err
			}
		} else if f.ok() {
			id, err := s.book.SaveSheet(r.Context(), n)
			if err == nil {
				s.remember(w, r, f, sameHead)
				return s.redirect(w, r, cmp.Or(back, href("/sheets/", id)), "The sheet was saved.")
			}
			if err := f.refused(err, map[string]string{"sheet": ""}); err != nil {
				return err
			}
		}
		if err := f.refuse(r); err != nil {
			return err
		}
	}
	p := views.Sheet{Page: s.page(r, "Measure "+sub.name, views.NavMeasure), Name: sub.name, Href: sub.href, About: sub.about, Action: sub.action, Draft: f.draft(), OnEngine: sub.engine != nil,
		Gauges: gaugeChoices(work.gauges, s.book.Today()), Units: choices("in", "mm"), GaugesHref: "/gauges"}
	if sub.engine != nil {
		p.HoursHint, p.OffsetHint = meterHints(*sub.engine)
		p.Meter = lastMeter(*sub.engine)
	}
	p.Parts = work.parts()
	p.Missing = work.missing()
	return s.draw(w, r, f.status(), views.SheetPage(p))
}

// shownInJob is what the meter shows while a job has the position: the engine
// does not run. "" where no job has it.
func (s *Server) shownInJob(r *http.Request, sub subject) (string, error) {
	if sub.engine == nil {
		return "", nil
	}
	w, err := s.book.Work(r.Context(), sub.engine.ID)
	if err != nil || w.JobAt(sub.position) == 0 {
		return "", err
	}
	return (sub.engine.Hours - sub.engine.Offset).String(), nil
}

func (s *Server) sheetWork(r *http.Request, sub subject) (*sheetWork, error) {
	ctx := r.Context()
	k := &sheetWork{subject: sub, last: map[int64]map[spotKey]store.Reading{}, sizes: map[int64]wear.Value{}}
	var err error
	if k.set, err = s.book.Settings(ctx); err != nil {
		return nil, err
	}
	k.unit = k.set.Unit
	if u, err := wear.UnitNamed(r.PostFormValue("unit")); err == nil && u.Dim == wear.Length {
		k.unit = u
	}
	if k.features, err = s.book.Features(ctx); err != nil {
		return nil, err
	}
	if k.limits, err = s.book.LimitsOf(ctx, sub.model.ID, ""); err != nil {
		return nil, err
	}
	if k.gauges, err = s.book.Gauges(ctx); err != nil {
		return nil, err
	}
	for _, p := range sub.parts {
		rs, err := s.book.ReadingsOf(ctx, p.ID)
		if err != nil {
			return nil, err
		}
		k.last[p.ID] = lastBySpot(rs)
		if k.sizes[p.ID], err = s.book.OversizeOf(ctx, p.ID); err != nil {
			return nil, err
		}
	}
	return k, nil
}

// lastBySpot keeps the newest reading in force of each spot.
func lastBySpot(rs []store.Reading) map[spotKey]store.Reading {
	last := map[spotKey]store.Reading{}
	for _, x := range rs {
		k := spotKey{x.Feature, x.Groove, x.Station, x.Axis}
		if _, known := last[k]; !known && !x.Struck && x.Value != nil {
			last[k] = x
		}
	}
	return last
}

// first is what stands in a sheet before anything is typed; remembered is the
// head of the last sheet from the same browser.
func (k *sheetWork) first(today string, remembered map[string]string) map[string]string {
	v := map[string]string{"uid": newUID(), "day": today, "unit": k.unit.Name, "mode": modeFull}
	maps.Copy(v, remembered)
	return v
}

// sameHead are the fields of a sheet's head that the next sheet from the same
// browser begins with. Hours and temperature are not among them: what is read
// is read again, and a page that waits on a tablet is dated anew.
var sameHead = []string{"who", "gauge", "unit", "mode"}

func gaugeChoices(gs []store.Gauge, today wear.Day) []views.Option {
	os := make([]views.Option, len(gs))
	for i, g := range gs {
		os[i] = views.Option{Value: strconv.FormatInt(g.ID, 10), Label: g.Name}
		if g.Overdue(today) {
			os[i].Label += " (calibration overdue since " + string(g.Due) + ")"
		}
	}
	return os
}

// missing names the places of the stack that are empty.
func (k *sheetWork) missing() []views.Link {
	if k.position == 0 || len(k.subject.parts) == 1 && k.href[:7] == "/parts/" {
		return nil
	}
	var links []views.Link
	for _, pl := range stackOf(k.model) {
		held := false
		for _, p := range k.subject.parts {
			held = held || p.Kind == pl.kind && (pl.kind != wear.Ring || p.Groove == pl.groove || p.Groove == 0)
		}
		if !held {
			links = append(links, views.Link{Text: "No " + string(pl.kind) + grooveText(pl.groove) + " is recorded here.", Href: k.href + "/install"})
		}
	}
	return links
}

func grooveText(g int) string {
	if g == 0 {
		return ""
	}
	return " in groove " + itoa(g)
}

// limitFor is the limit of a feature on a part, moved by its oversize; nil
// where none is typed.
func (k *sheetWork) limitFor(f wear.Feature, p store.Part, groove int) (*store.LimitRow, wear.Limit) {
	if p.Kind == wear.Ring {
		groove = p.Groove
	}
	row := k.limits.For(f.ID, groove)
	if row == nil {
		return nil, wear.Limit{}
	}
	if f.Oversize {
		return row, row.Limit.Shifted(k.sizes[p.ID])
	}
	return row, row.Limit
}

func (k *sheetWork) unitOf(f wear.Feature) wear.Unit { return store.UnitFor(f, k.unit) }
