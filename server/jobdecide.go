package server

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// deciding is the work on what becomes of one part of a job.
type deciding struct {
	*jobCase
	d        *dossier
	position int // that it sits at, or is placed at; 0 for none
	groove   int
	st       stack // what goes with it there, itself among it
	rings    *ringBook
	notes    []string
}

// decide shows what each disposition of a part would lead to, and saves what a
// person decides. It chooses nothing itself.
func (s *Server) decide(w http.ResponseWriter, r *http.Request) error {
	c, err := s.jobCase(r)
	if err != nil {
		return err
	}
	part, err := id(r, "part")
	if err != nil {
		return err
	}
	k, err := c.decidingOn(part)
	if err != nil {
		return err
	}
	p := views.Decide{Page: s.page(r, "Decide: "+partName(k.d.part.Kind, k.d.part.Serial), views.NavJobs), Head: jobHead(c.job, "/bench"), Action: href("/jobs/", c.job.ID, "/decide/", part), Unit: c.set.Unit.Name}
	if p.Outlooks, err = k.outlooks(); err != nil {
		return err
	}
	worked, shown, err := keepShown(p.Outlooks)
	if err != nil {
		return err
	}
	f := blankForm(map[string]string{"uid": newUID(), "after": c.last, "shown": shown})
	status := http.StatusOK
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		d := k.readDecision(f)
		d.Worked = worked
		if err := f.refused(d.Check(k.d.part), nil); err != nil {
			return err
		}
		p.Changed = f.ok() && f.text("shown") != "" && f.text("shown") != shown
		after := f.ref("after")
		if f.ok() && !p.Changed {
			err := s.book.Decide(r.Context(), d, f.text("uid"), after)
			if err == nil {
				err = k.isInForce(d)
			}
			if err == nil {
				return s.redirect(w, r, p.Action, fmt.Sprintf("Decided of %s: %s.", partName(k.d.part.Kind, k.d.part.Serial), decisionText(d, c.set.Unit)))
			}
			if errors.Is(err, errSentBefore) {
				p.Again, f.values["uid"] = sentBefore, newUID()
			} else if p.Stale = f.staleRows(err, partName(k.d.part.Kind, k.d.part.Serial), decisionText(d, c.set.Unit)); p.Stale == nil {
				if err := f.refused(err, map[string]string{"job": "disposition"}); err != nil {
					return err
				}
			}
		}
		if f.values["shown"] = shown; p.Changed || p.Again != "" || p.Stale != nil {
			status = http.StatusConflict
		}
	}
	if err := k.fill(&p); err != nil {
		return err
	}
	p.Draft = f.draft()
	return s.draw(w, r, max(status, f.status()), views.DecidePage(p))
}

// isInForce reports, as errSentBefore, that another decision of the part is in
// force than the one that was sent.
func (k *deciding) isInForce(d store.Decision) error {
	ds, err := k.s.book.Decisions(k.ctx, k.job.ID)
	if err != nil {
		return err
	}
	for _, x := range ds {
		if x.Part == d.Part && x.InForce && (x.Disposition != d.Disposition || x.Reason != d.Reason) {
			return errSentBefore
		}
	}
	return nil
}

// keepShown is what the page shows as it is kept with the decision, and a short
// mark by which a form that shows something older is known.
func keepShown(os []views.Outlook) (worked, mark string, err error) {
	text, err := json.Marshal(os)
	if err != nil {
		return "", "", fmt.Errorf("keep what was shown: %w", err)
	}
	sum := sha256.Sum256(text)
	return string(text), hex.EncodeToString(sum[:8]), nil
}

// decidingOn finds a part with what goes with it.
func (c *jobCase) decidingOn(part int64) (*deciding, error) {
	k := &deciding{jobCase: c}
	var err error
	if k.d, err = c.of(part); err != nil {
		return nil, err
	}
	if k.rings, err = c.s.ringBook(c.ctx); err != nil {
		return nil, err
	}
	if st, here := k.d.here(); here && st.Stay.Engine == c.engine.ID {
		k.position, k.groove = st.Position, st.Groove
	} else {
		k.position, k.groove = c.placedAt(part)
	}
	k.st = stack{}
	if k.position > 0 {
		if k.st, k.notes, err = c.stackAt(k.position, k.d); err != nil {
			return nil, err
		}
	}
	k.st[k.key()] = k.d
	return k, nil
}

// key is the part's place in its stack.
func (k *deciding) key() slotKey { return slotKey{k.d.part.Kind, k.groove} }

// readDecision reads the form.
func (k *deciding) readDecision(f *form) store.Decision {
	d := store.Decision{Job: k.job.ID, Part: k.d.part.ID, Position: k.position, Disposition: f.text("disposition"), Reason: f.text("reason"), Entry: store.JobEntry{Day: k.s.book.Today(), Who: f.text("who")}}
	switch d.Disposition {
	case "grind":
		d.Oversize = f.value("oversize", k.set.Unit)
	case "re-groove":
		d.Groove, d.Width = f.number("groove", 1, 8, false), f.value("width", k.set.Unit)
	}
	return d
}

// fill fills in what the page has around the consequences.
func (k *deciding) fill(p *views.Decide) error {
	p.Part, p.PartHref, p.Notes = partName(k.d.part.Kind, k.d.part.Serial), href("/parts/", k.d.part.ID), k.notes
	p.Where = k.whereText()
	if !k.job.Open() {
		p.Ended = "The job was " + k.job.Ended + " on " + string(k.job.EndDay) + ": nothing is decided in it any more."
	}
	decided, made := k.decided[k.d.part.ID]
	for _, name := range store.DispositionsOf(k.d.part.Kind) {
		if name != store.Undecided {
			p.Choices = append(p.Choices, views.Option{Value: name, Label: name})
		} else if made {
			p.Choices = append(p.Choices, views.Option{Value: name, Label: "not decided: take the decision back"})
		}
	}
	if k.d.part.Kind == wear.Cylinder {
		p.Oversizes = []views.Option{}
		for _, o := range k.d.model.Oversizes {
			p.Oversizes = append(p.Oversizes, views.Option{Value: o.Format(k.set.Unit)})
		}
		p.Grinds = true
	}
	if k.d.part.Kind == wear.Piston {
		for n := 1; n <= max(k.d.model.Grooves, 1); n++ {
			p.Grooves = append(p.Grooves, views.Option{Value: itoa(n), Label: itoa(n)})
		}
	}
	if made {
		p.Pending = k.pending(decided)
	}
	p.Ways = []views.Link{{Text: "Placing", Href: href("/jobs/", k.job.ID, "/placing")}, {Text: "Bench", Href: href("/jobs/", k.job.ID, "/bench")}}
	return k.history(p)
}

func (k *deciding) whereText() string {
	p := k.d.part
	if p.Status == "scrapped" {
		return "Scrapped on " + string(p.ScrapDay) + ": " + p.ScrapReason + ". It is never fitted again."
	}
	if st, ok := k.d.here(); ok {
		return placeText(st) + ", since " + string(st.From)
	}
	if k.position > 0 {
		return "On the shelf, placed at position " + itoa(k.position) + " in this job"
	}
	return "On the shelf: it sits at no position of this job, so fits are told only where it is placed"
}

// pending is machining that was decided: recorded, or still to be.
func (k *deciding) pending(x store.Decision) *views.PendingWork {
	if store.EventOf[x.Disposition] == "" {
		return nil
	}
	if m, ok := k.workDone(k.d, x); ok {
		w := &views.PendingWork{Done: true, Says: "Decided: " + decisionText(x, k.set.Unit) + ". The work is recorded: " + markText(m, k.set.Unit) + ", " + string(m.Day) + "."}
		if why := k.notMeasuredSince(k.d); why != "" && k.d.part.Status != "scrapped" {
			w.Says += " It was not measured since."
			w.Way = views.Link{Text: "Measure it", Href: href("/measure/part/", k.d.part.ID)}
		}
		return w
	}
	q := url.Values{"event": {string(store.EventOf[x.Disposition])}}
	switch {
	case x.Oversize != nil:
		q.Set("oversize", x.Oversize.Format(k.set.Unit))
	case x.Disposition == "plate":
		q.Set("oversize", "0")
	}
	if x.Groove > 0 {
		q.Set("groove", itoa(x.Groove))
	}
	return &views.PendingWork{Says: "Decided: " + decisionText(x, k.set.Unit) + ". That the work was done is not recorded yet.", Way: views.Link{Text: "Record the work when it is done", Href: href("/parts/", k.d.part.ID, "/events?") + q.Encode()}}
}

// history lists what was decided of the part in all jobs, the latest first.
func (k *deciding) history(p *views.Decide) error {
	ds, err := k.s.book.DecisionsOf(k.ctx, k.d.part.ID)
	if err != nil {
		return err
	}
	for _, x := range slices.Backward(ds) {
		row := views.DecisionRow{When: when(x.Entry.SavedAt), Who: x.Entry.Who, Job: fmt.Sprintf("job %d", x.Job), JobHref: href("/jobs/", x.Job), Disposition: decisionText(x, k.set.Unit), Reason: x.Reason, Struck: !x.InForce}
		if json.Unmarshal([]byte(x.Worked), &row.Shown) != nil {
			row.Shown = nil // kept by something else than this page
		}
		p.History = append(p.History, row)
	}
	return nil
}
