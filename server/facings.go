package server

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// facings lists which ring facing may run on which bore surface, and adds to
// the list.
func (s *Server) facings(w http.ResponseWriter, r *http.Request) error {
	all, err := s.book.Facings(r.Context())
	if err != nil {
		return err
	}
	q := r.URL.Query()
	f := blankForm(map[string]string{"facing": q.Get("facing"), "surface": q.Get("surface")})
	p := views.FacingList{Page: s.page(r, "Ring facings", views.NavFacings), Action: "/facings", Surfaces: choices(store.Surfaces...)}
	for _, e := range all {
		if strconv.FormatInt(e.ID, 10) == q.Get("replace") && !e.Struck {
			p.Replaces = e.Facing + " on " + e.Surface
			f = blankForm(map[string]string{"facing": e.Facing, "surface": e.Surface, "says": e.Says, "document": e.Document})
		}
	}
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		e := store.FacingEntry{Facing: f.text("facing"), Surface: f.text("surface"), Says: f.text("says"), Document: f.text("document"), Reason: f.text("reason")}
		err := s.book.AddFacing(r.Context(), e)
		if err == nil {
			return s.redirect(w, r, "/facings", capital(e.Facing)+" on "+e.Surface+": "+e.Says+". It is in the list.")
		}
		if err := f.refused(err, nil); err != nil {
			return err
		}
	}
	p.Draft = f.draft()
	if p.Known, err = s.book.RingFacings(r.Context()); err != nil {
		return err
	}
	for _, e := range all {
		row := views.FacingRow{Facing: e.Facing, Surface: e.Surface, Says: e.Says, Document: e.Document, Reason: e.Reason, Since: day(e.SavedAt), Struck: e.Struck}
		if !e.Struck {
			row.Href = href("/facings?replace=", e.ID)
		}
		p.Rows = append(p.Rows, row)
	}
	return s.draw(w, r, f.status(), views.FacingListPage(p))
}

// ringOn is a ring judged against the barrel it runs in.
type ringOn struct {
	ring, cylinder store.Part
	groove         int
	wear.FacingAnswer
}

// facingsOf judges every ring among parts against the cylinder among them;
// none where there is no cylinder.
func facingsOf(parts []store.Slot, rules wear.FacingRules) ([]ringOn, error) {
	at := slices.IndexFunc(parts, func(p store.Slot) bool { return p.Kind == wear.Cylinder })
	if at < 0 {
		return nil, nil
	}
	var out []ringOn
	for _, p := range parts {
		if p.Kind != wear.Ring {
			continue
		}
		a, err := wear.JudgeFacing(p.Facing, parts[at].Surface, rules)
		if err != nil {
			return nil, err
		}
		out = append(out, ringOn{p.Part, parts[at].Part, p.AtGroove, a})
	}
	return out, nil
}

// facingsAt judges the rings that sit at a position.
func (s *Server) facingsAt(r *http.Request, e store.Engine, position int) ([]ringOn, error) {
	rules, err := s.book.FacingRules(r.Context())
	if err != nil {
		return nil, err
	}
	held, err := s.book.Slots(r.Context(), []store.Engine{e})
	if err != nil {
		return nil, err
	}
	return facingsOf(slotsAt(held[e.ID], position), rules)
}

// checkRings asks for a reason where a part that goes onto a position would
// make a ring run on a surface it may not run on, or where a ring that goes on
// presses harder than the original. The reason is noted with the parts that it
// is about. What is known of the rings' pressure comes back, as going is.
func (s *Server) checkRings(r *http.Request, f *form, e store.Engine, position int, going []store.Fitting) ([]*pressing, error) {
	against, about, err := s.facingsAgainst(r, e, position, going)
	if err != nil {
		return nil, err
	}
	k, err := s.ringBook(r.Context())
	if err != nil {
		return nil, err
	}
	pressed := make([]*pressing, len(going))
	var ways []views.Link
	for i, g := range going {
		if g.Part.Kind != wear.Ring {
			continue
		}
		if pressed[i], err = k.pressingIn(g.Part, e, position, g.Groove); err != nil {
			return nil, err
		}
		if p := pressed[i]; p.hard() {
			against, about[i] = append(against, strings.TrimSuffix(p.against(), ".")), true
			ways = append(ways, views.Link{Text: "Compare ring " + g.Part.Serial, Href: p.href()})
		}
	}
	reason := f.text("despite")
	for i := range going {
		if about[i] {
			going[i].Despite = reason
		}
	}
	if len(against) > 0 && reason == "" {
		fault := views.Fault{Field: "despite", Message: strings.Join(against, ". Besides, ") + ". Fit another, or say why it is fitted all the same"}
		if len(ways) > 0 {
			fault.Way, fault.Href = ways[0].Text, ways[0].Href
		}
		f.faults = append(f.faults, fault)
	}
	return pressed, nil
}

// facingsAgainst says which rings would run on a surface they may not run on
// once parts are on a position, and which of those parts that is about.
func (s *Server) facingsAgainst(r *http.Request, e store.Engine, position int, going []store.Fitting) (against []string, about map[int]bool, err error) {
	about = map[int]bool{}
	rules, err := s.book.FacingRules(r.Context())
	if err != nil {
		return nil, nil, err
	}
	slots, err := s.book.Slots(r.Context(), []store.Engine{e})
	if err != nil {
		return nil, nil, err
	}
	stack := slices.Clone(slotsAt(slots[e.ID], position))
	for _, g := range going {
		stack = slices.DeleteFunc(stack, func(x store.Slot) bool { return x.Kind == g.Part.Kind && x.AtGroove == g.Groove })
		stack = append(stack, store.Slot{Part: g.Part, AtGroove: g.Groove})
	}
	rings, err := facingsOf(stack, rules)
	if err != nil {
		return nil, nil, err
	}
	for _, x := range rings {
		if x.State != wear.FacingNotAllowed {
			continue
		}
		goes := false
		for i, g := range going {
			if g.Part.Kind == wear.Cylinder || g.Part.Kind == wear.Ring && g.Groove == x.groove {
				goes, about[i] = true, true
			}
		}
		if goes {
			against = append(against, fmt.Sprintf("ring %s in cylinder %s: %s (%s)", x.ring.Serial, x.cylinder.Serial, strings.TrimSuffix(x.Words, "."), x.Source))
		}
	}
	return against, about, nil
}

// facingView is the answer as a page shows it.
func facingView(x ringOn) *views.FacingCheck {
	v := &views.FacingCheck{Word: string(x.State), Words: x.Words, Source: x.Source, Barrel: partName(wear.Cylinder, x.cylinder.Serial), BarrelHref: href("/parts/", x.cylinder.ID)}
	if x.State == wear.FacingUnknown && x.Facing != "" && x.Surface != "" {
		v.AddHref = "/facings?" + url.Values{"facing": {x.Facing}, "surface": {x.Surface}}.Encode()
	}
	return v
}
