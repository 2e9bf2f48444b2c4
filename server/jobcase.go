package server

import (
	"context"
	"fmt"
	"net/http"
	"slices"

	"barrelbook/store"
	"barrelbook/wear"
)

// jobCase is a job with what its pages on parts need of the book, read once.
type jobCase struct {
	ctx       context.Context
	s         *Server
	job       store.Job
	engine    store.Engine
	set       store.Settings
	rules     wear.FacingRules
	positions []int
	slots     []store.Slot             // what sits on the engine
	decided   map[int64]store.Decision // in force, by part
	placings  []store.Placing
	last      string // its last entry
	known     map[int64]*dossier
}

func (s *Server) jobCase(r *http.Request) (*jobCase, error) {
	j, err := s.jobOf(r)
	if err != nil {
		return nil, err
	}
	c := &jobCase{ctx: r.Context(), s: s, job: j, known: map[int64]*dossier{}}
	return c, c.read()
}

func (c *jobCase) read() (err error) {
	if c.engine, err = c.s.book.Engine(c.ctx, c.job.Engine); err != nil {
		return err
	}
	if c.set, err = c.s.book.Settings(c.ctx); err != nil {
		return err
	}
	if c.rules, err = c.s.book.FacingRules(c.ctx); err != nil {
		return err
	}
	if c.positions, err = c.s.book.JobPositions(c.ctx, c.job.ID); err != nil {
		return err
	}
	slots, err := c.s.book.Slots(c.ctx, []store.Engine{c.engine})
	if err != nil {
		return err
	}
	c.slots = slots[c.engine.ID]
	if c.placings, err = c.s.book.Placings(c.ctx, c.job.ID); err != nil {
		return err
	}
	if c.decided, err = c.s.book.InForce(c.ctx, c.job.ID); err != nil {
		return err
	}
	es, err := c.s.book.JobEntries(c.ctx, c.job.ID)
	c.last = lastEntry(es)
	return err
}

// of is all that the book knows of a part, read once.
func (c *jobCase) of(part int64) (*dossier, error) {
	if d, ok := c.known[part]; ok {
		return d, nil
	}
	d, err := readDossier(c.ctx, c.s.book, part, "")
	if err != nil {
		return nil, err
	}
	c.known[part] = d
	return d, nil
}

// away reports whether a part does not come back in this job.
func (c *jobCase) away(part int64) bool {
	d := c.decided[part].Disposition
	return d == "replace" || d == "scrap"
}

// stackAt is what goes together at a position when the job is done, as far as
// it is known: what was placed there, else what sat there and was not decided
// away. The part that is asked about, keep, is left to the caller. notes say
// what is missing.
func (c *jobCase) stackAt(position int, keep *dossier) (st stack, notes []string, err error) {
	st = stack{}
	placed := map[slotKey]int64{}
	for _, p := range c.placings {
		if p.Position == position {
			placed[slotKey{p.Kind, p.Groove}] = p.Part
		}
	}
	for _, x := range slotsAt(c.slots, position) {
		key := slotKey{x.Kind, x.AtGroove}
		if id, ok := placed[key]; ok && id != x.ID || keep != nil && x.ID == keep.part.ID {
			continue
		}
		if c.away(x.ID) {
			if keep == nil || keep.part.Kind != x.Kind {
				notes = append(notes, fmt.Sprintf("%s is decided: %s. Fits with it are left out; place another first.", partName(x.Kind, x.Serial), c.decided[x.ID].Disposition))
			}
			continue
		}
		placed[key] = x.ID
	}
	for key, id := range placed {
		if id == 0 {
			continue
		}
		if st[key], err = c.of(id); err != nil {
			return nil, nil, err
		}
	}
	return st, notes, nil
}

// placedAt is where the job has placed a part; 0 for nowhere.
func (c *jobCase) placedAt(part int64) (position, groove int) {
	for _, p := range c.placings {
		if p.Part == part {
			return p.Position, p.Groove
		}
	}
	return 0, 0
}

// jobOffer is a part that could be fitted in the job.
type jobOffer struct {
	*dossier
	position, groove int    // where it sat; 0 on the shelf
	where            string // in words
	placed           int    // position that it is placed at
}

// offers lists the parts of a kind that could be fitted: those that sit at the
// job's positions and come back, and those on the shelf. left says what was
// left out and why.
func (c *jobCase) offers(kind wear.Kind) (out []jobOffer, left []string, err error) {
	add := func(p store.Part, position, groove int, where string) error {
		d, err := c.of(p.ID)
		if err != nil {
			return err
		}
		if why := c.notMeasuredSince(d); why != "" {
			left = append(left, why)
			return nil
		}
		placed, _ := c.placedAt(p.ID)
		out = append(out, jobOffer{d, position, groove, where, placed})
		return nil
	}
	for _, x := range c.slots {
		if x.Kind != kind || !slices.Contains(c.positions, x.Position) {
			continue
		}
		if c.away(x.ID) {
			left = append(left, fmt.Sprintf("%s: decided %s.", partName(x.Kind, x.Serial), c.decided[x.ID].Disposition))
			continue
		}
		where := "position " + itoa(x.Position)
		if x.AtGroove > 0 {
			where += ", groove " + itoa(x.AtGroove)
		}
		if err := add(x.Part, x.Position, x.AtGroove, where); err != nil {
			return nil, nil, err
		}
	}
	shelf, total, err := c.s.book.Parts(c.ctx, store.PartFilter{Kind: kind, Status: "on shelf", Model: c.engine.Model.ID, Limit: mostOnOffer})
	if err != nil {
		return nil, nil, err
	}
	for _, x := range shelf {
		if c.away(x.ID) {
			continue
		}
		if err := add(x.Part, 0, 0, "on the shelf"); err != nil {
			return nil, nil, err
		}
	}
	if total > len(shelf) {
		left = append(left, fmt.Sprintf("%d more of kind %s on the shelf: the first %d were looked at.", total-len(shelf), kind, len(shelf)))
	}
	return out, left, nil
}

// workDone finds the record of machining that was decided: the event on or
// after the day of the job, where there is one.
func (c *jobCase) workDone(d *dossier, x store.Decision) (store.MarkRow, bool) {
	for _, m := range slices.Backward(d.marks) {
		if m.Event == store.EventOf[x.Disposition] && m.Day >= c.job.Day && (x.Groove == 0 || m.Groove == x.Groove) {
			return m, true
		}
	}
	return store.MarkRow{}, false
}

// notMeasuredSince says why a part that is machined in this job has no size
// yet; "" for any other part.
func (c *jobCase) notMeasuredSince(d *dossier) string {
	x, ok := c.decided[d.part.ID]
	if !ok || store.EventOf[x.Disposition] == "" {
		return ""
	}
	name := partName(d.part.Kind, d.part.Serial) + ": decided " + decisionText(x, c.set.Unit)
	work, done := c.workDone(d, x)
	if !done {
		return name + ". The work is not recorded yet: it is proposed at its new size once that is recorded and measured."
	}
	size, groove := mainSize(d.part.Kind), 0
	if x.Disposition == "re-groove" {
		size, groove = "groove width", x.Groove
	}
	if !d.measuredSince(work, size, groove) {
		return name + ". The work is recorded, but the part was not measured since: it is proposed at its new size once it is."
	}
	return ""
}

// measuredSince reports whether a feature was measured after work on the part:
// on a later day, or on the same one and entered later.
func (d *dossier) measuredSince(work store.MarkRow, name string, groove int) bool {
	f, ok := d.featureNamed(name)
	return ok && slices.ContainsFunc(d.readings, func(x store.Reading) bool {
		after := x.Sheet.Day > work.Day || x.Sheet.Day == work.Day && x.SavedAt > work.SavedAt
		return after && !x.Struck && x.Value != nil && x.Feature == f.ID && x.Groove == groove
	})
}

// mainSize is the feature that a kind of part is fitted by.
func mainSize(k wear.Kind) string {
	return map[wear.Kind]string{wear.Cylinder: "barrel bore", wear.Piston: "piston skirt", wear.Ring: "axial width", wear.Pin: "pin diameter"}[k]
}

// decisionText writes a decision: "grind to 0.0150 in oversize".
func decisionText(x store.Decision, u wear.Unit) string {
	switch {
	case x.Oversize != nil && x.Disposition == "grind":
		return "grind to " + x.Oversize.Format(u) + " " + u.Name + " oversize"
	case x.Width != nil && x.Disposition == "re-groove":
		return fmt.Sprintf("re-groove, groove %d to %s %s", x.Groove, x.Width.Format(u), u.Name)
	}
	return x.Disposition
}
