package server

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"github.com/go-chi/chi/v5"

	"barrelbook/store"
	"barrelbook/views"
)

// others are the findings that are not of one series.
type others struct {
	engines []store.EngineWear
	rings   []hardFound
	leaks   []leakJudged
}

// hardFound is a ring that presses too hard; p is nil where the forces alone can
// be set against each other.
type hardFound struct {
	store.HardRing
	part store.Part
	p    *pressing
}

// open reports whether the leak test still asks for somebody.
func (x leakJudged) open() bool { return x.OpenAt(x.verdict.general.Loss) }

// otherFindings are those of the whole fleet as the book has them, worst first.
func (s *Server) otherFindings(ctx context.Context) (*others, error) {
	var o others
	var err error
	if o.engines, err = s.book.FastEngines(ctx); err != nil {
		return nil, err
	}
	if o.rings, err = s.hardRings(ctx); err != nil {
		return nil, err
	}
	o.leaks, err = s.leakFindings(ctx)
	return &o, err
}

// othersKept are those that were read after the last save.
func (s *Server) othersKept(ctx context.Context) (*others, error) {
	if o := s.others.Load(); o != nil {
		return o, nil
	}
	o, err := s.otherFindings(ctx)
	if err == nil {
		s.others.Store(o)
	}
	return o, err
}

// each calls yield for every open one with the engine it is on, 0 for the shelf,
// and a line for the page of that engine.
func (o *others) each(yield func(engine int64, line views.OpenLine)) {
	for _, w := range o.engines {
		if w.Open() {
			yield(w.Engine, views.OpenLine{Where: "The engine as a whole", Href: "#whole", Text: wholeWhat(w) + ": " + w.Sentence()})
		}
	}
	for _, h := range o.rings {
		if h.Open() {
			row := hardRow(h)
			yield(h.Engine, views.OpenLine{Where: "Position " + itoa(h.Position), Href: row.Href, Text: row.Part + ": " + row.Sentence})
		}
	}
	for _, x := range o.leaks {
		if x.open() {
			row := leakFinding(x, store.Engine{})
			yield(x.Test.Engine, views.OpenLine{Where: "Position " + itoa(x.Position), Href: row.Href, Text: "leak test: " + row.Sentence})
		}
	}
}

// byEngine are the lines of the open ones by engine.
func (o *others) byEngine() map[int64][]views.OpenLine {
	lines := map[int64][]views.OpenLine{}
	o.each(func(engine int64, line views.OpenLine) { lines[engine] = append(lines[engine], line) })
	return lines
}

// wholeOpen reports whether what an engine shows as a whole is open.
func (o *others) wholeOpen(engine int64) bool {
	return slices.ContainsFunc(o.engines, func(w store.EngineWear) bool { return w.Engine == engine && w.Open() })
}

// drawOthers puts them on the page Findings.
func (s *Server) drawOthers(ctx context.Context, p *views.Findings, most int) error {
	o, err := s.otherFindings(ctx)
	if err != nil {
		return err
	}
	place := func(row func() (views.FindingRow, error), open bool, seen store.Seen, ack string, to *[]views.FindingRow, more *int) error {
		limit := most
		if !open {
			to, more, limit = &p.Seen, &p.SeenMore, max(20, most-mostFindings)
		}
		if len(*to) >= limit {
			*more++
			return nil
		}
		r, err := row()
		if r.AckHref = ack; !open {
			r.AckHref, r.Reason, r.Who, r.When = "", seen.Reason, seen.Who, day(seen.SavedAt)
		}
		*to = append(*to, r)
		return err
	}
	for _, w := range o.engines {
		ack := engineAck(w)
		if w.Open() {
			if len(p.Whole) >= most {
				p.WholeMore++
				continue
			}
			v := wholeWear(w)
			v.AckHref = ack
			p.Whole = append(p.Whole, v)
			continue
		}
		if err := place(func() (views.FindingRow, error) { return wholeRow(w), nil }, false, w.Seen, ack, nil, nil); err != nil {
			return err
		}
	}
	for _, h := range o.rings {
		if err := place(func() (views.FindingRow, error) { return hardRow(h), nil }, h.Open(), h.Seen, href("/findings/ring/", h.Part, "/acknowledge"), &p.Hard, &p.HardMore); err != nil {
			return err
		}
	}
	for _, x := range o.leaks {
		row := func() (views.FindingRow, error) {
			e, err := s.book.Engine(ctx, x.Test.Engine)
			return leakFinding(x, e), err
		}
		if err := place(row, x.open(), x.Seen, href("/findings/leak/", x.Part, "/acknowledge"), &p.Leaks, &p.LeaksMore); err != nil {
			return err
		}
	}
	return nil
}

func engineAck(w store.EngineWear) string {
	return href("/findings/engine/", w.Engine, "/acknowledge?feature=", w.Feature.ID, "&groove=", w.Groove)
}

// wholeRow is an engine as a finding beside others.
func wholeRow(w store.EngineWear) views.FindingRow {
	v := wholeWear(w)
	return views.FindingRow{Word: v.State, Part: "Engine " + w.EngineNo, Href: v.Href, Where: "the whole engine", Aircraft: w.Aircraft, What: v.What, Sentence: v.Sentence, Numbers: v.Numbers, First: v.First}
}

// hardRings are the rings that press harder than the maker's new ones, the
// hardest first. One that is wider as well, so that it presses no harder, is
// left out.
func (s *Server) hardRings(ctx context.Context) (found []hardFound, err error) {
	hard, err := s.book.HardRings(ctx)
	if err != nil || len(hard) == 0 {
		return nil, err
	}
	k, err := s.ringBook(ctx)
	if err != nil {
		return nil, err
	}
	for _, h := range hard {
		ring, err := s.book.Part(ctx, h.Part)
		if err != nil {
			return nil, err
		}
		ring.ModelID, ring.Groove = h.Limit.Model, cmp.Or(ring.Groove, h.AtGroove)
		p, err := k.pressingNew(ring)
		if err != nil {
			return nil, err
		}
		if p == nil || p.unmeasured() || p.hard() {
			found = append(found, hardFound{h, ring, p})
		}
	}
	return found, nil
}

// acknowledgeOther takes a person's word on a finding that is not of one series.
func (s *Server) acknowledgeOther(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	o, err := s.otherFindings(r.Context())
	if err != nil {
		return err
	}
	var row views.FindingRow
	var seen store.Seen
	var save func(ctx context.Context, who, reason string) error
	back := ""
	switch chi.URLParam(r, "sort") {
	case "engine":
		feature, groove := r.URL.Query().Get("feature"), r.URL.Query().Get("groove")
		for _, x := range o.engines {
			if x.Engine == n && strconv.FormatInt(x.Feature.ID, 10) == feature && itoa(x.Groove) == groove {
				row, seen = wholeRow(x), x.Seen
				save = func(ctx context.Context, who, reason string) error {
					return s.book.AcknowledgeEngine(ctx, x, who, reason)
				}
				back = "when a later sheet of the engine shows it further from the others"
			}
		}
	case "ring":
		for _, x := range o.rings {
			if x.Part == n {
				row, seen = hardRow(x), x.Seen
				save = func(ctx context.Context, who, reason string) error {
					return s.book.AcknowledgeRing(ctx, x.HardRing, who, reason)
				}
				back = "when a later reading of the ring presses harder, or it is fitted elsewhere"
				if x.Engine == 0 {
					back = "when a later reading of the ring presses harder, or it is fitted"
				}
			}
		}
	case "leak":
		for _, x := range o.leaks {
			if x.Part == n {
				e, err := s.book.Engine(r.Context(), x.Test.Engine)
				if err != nil {
					return err
				}
				row, seen = leakFinding(x, e), x.Seen
				save = func(ctx context.Context, who, reason string) error {
					return s.book.AcknowledgeLeak(ctx, x.LeakReading, x.verdict.general.Loss, who, reason)
				}
				back = "when a later test beyond the rule loses more or has air at another place, or once the cylinder, its piston or a ring was fitted again"
			}
		}
	}
	if save == nil {
		return fmt.Errorf("find finding: %w", store.ErrNotFound)
	}
	p := views.Acknowledge{Action: r.URL.RequestURI(), Part: row.Part, PartHref: row.Href, Where: row.Where, What: row.What, State: row.Word, Sentence: row.Sentence, First: row.First, Comes: back}
	if seen.Reason != "" {
		p.Earlier = []views.Fact{{Label: day(seen.SavedAt), Value: seen.Reason + by(seen.Who)}}
	}
	return s.acknowledgeWith(w, r, p, save)
}

// acknowledgeWith draws the form that acknowledges a finding, and saves it.
func (s *Server) acknowledgeWith(w http.ResponseWriter, r *http.Request, p views.Acknowledge, save func(ctx context.Context, who, reason string) error) error {
	f := blankForm(who(r, nil))
	if r.Method == http.MethodPost {
		var err error
		if f, err = readForm(r); err != nil {
			return err
		}
		err = save(r.Context(), f.text("who"), f.text("reason"))
		if err == nil {
			return s.redirect(w, r, "/findings", "The finding was acknowledged. It comes back "+p.Comes+".")
		}
		if err := f.refused(err, nil); err != nil {
			return err
		}
	}
	p.Page, p.Draft, p.Back = s.page(r, "Acknowledge a finding", views.NavFindings), f.draft(), views.Link{Text: "Back to findings", Href: "/findings"}
	return s.draw(w, r, f.status(), views.AcknowledgePage(p))
}
