package server

import (
	"fmt"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// order is a job's order as its page draws it.
type order struct {
	job     store.Job
	work    store.Work
	entries []store.JobEntry
	places  []wear.CrankPlace
	known   bool
	centres []wear.DeadCentre
	mine    []int // the job's positions
	off, on []views.JobLine
	words   string
	missing bool
}

func orderOf(j store.Job, work store.Work, entries []store.JobEntry) *order {
	o := &order{job: j, work: work, entries: entries}
	o.places, o.known = work.Engine.CrankPlaces()
	if row, missing := rodRow(work.Engine, o.places); o.known && missing == "" {
		o.centres, _ = row.DeadCentres() // rods that make no engine tell no true dead centre; the crank page says so
	}
	o.mine = work.Positions(j.ID)
	o.done()
	if j.Open() {
		o.plan()
	}
	return o
}

// done are the cylinders that came off and went on, in the order they did.
func (o *order) done() {
	for _, x := range o.entries {
		if x.Struck || x.Kind != store.JobPulled && x.Kind != store.JobRefitted {
			continue
		}
		l := o.line(x.Position, x.Kind)
		l.Done, l.Despite = when(x.SavedAt), x.Despite
		if x.Who != "" {
			l.Done += ", " + x.Who
		}
		if x.Kind == store.JobPulled {
			o.off = append(o.off, l)
		} else {
			o.on = append(o.on, l)
		}
	}
}

func (o *order) line(position int, kind string) views.JobLine {
	l := views.JobLine{Position: itoa(position), Kind: kind, BenchHref: href("/jobs/", o.job.ID, "/bench/", position)}
	l.Master = slices.Contains(o.work.Engine.Masters(), position)
	l.Waits = kind == store.JobRefitted && !o.work.IsOff(position)
	return l
}

// cameOff reports whether the cylinder of a position came off in the job, be it
// on again or not.
func (o *order) cameOff(position int) bool {
	return slices.ContainsFunc(o.entries, func(x store.JobEntry) bool { return !x.Struck && x.Kind == store.JobPulled && x.Position == position })
}

// plan proposes the order of what is still to be done.
func (o *order) plan() {
	toPull := slices.DeleteFunc(slices.Clone(o.mine), o.cameOff)
	toRefit := slices.DeleteFunc(slices.Clone(o.mine), func(p int) bool { return o.cameOff(p) && !o.work.IsOff(p) })
	ask := wear.PullRequest{Places: o.places, Off: o.work.Off, Centres: o.centres, From: o.angle(o.work.Stands)}
	end := o.propose(ask, toPull, o.work.Engine.Model.Turning.OrderOff, store.JobPulled, wear.PlanRemoval)
	ask.Off, ask.From = nil, end
	o.propose(ask, toRefit, o.work.Engine.Model.Turning.OrderOn, store.JobRefitted, wear.PlanRefit)
}

func (o *order) angle(position int) float64 {
	for _, c := range o.places {
		if c.Position == position && c.Known {
			return c.Angle
		}
	}
	return 0
}

// propose adds the lines of one plan and says where the crank stands after it.
func (o *order) propose(ask wear.PullRequest, positions, maker []int, kind string, plan func(wear.PullRequest) (wear.PullPlan, error)) float64 {
	if len(positions) == 0 {
		return ask.From
	}
	ask.Pull = positions
	if len(maker) > 0 {
		ask.Maker = maker
	}
	p, err := plan(ask)
	if err != nil {
		o.missing = true
		for _, n := range positions {
			o.add(o.line(n, kind), "In the order of the numbers: no other is known.")
		}
		return ask.From
	}
	for _, l := range p.Lines {
		line := o.line(l.Position, kind)
		line.Caution = l.Caution
		if l.Known {
			line.Turn, line.To = degrees(l.Turn), degrees(l.Angle)
		}
		if l.HasTrue {
			line.True = degrees(l.True)
		}
		o.add(line, l.Reason)
	}
	if o.words == "" {
		o.words = "What turns the crank least, master-rod cylinders last off and first on."
		if p.ByMaker {
			o.words = "The maker's order, as the shop typed it."
		}
	}
	return p.End
}

func (o *order) add(l views.JobLine, reason string) {
	l.Reason = reason
	if l.Kind == store.JobPulled {
		o.off = append(o.off, l)
		return
	}
	o.on = append(o.on, l)
}

// next is the line that is to be done next; nil where none is.
func (o *order) next() *views.JobLine {
	for _, lines := range [][]views.JobLine{o.off, o.on} {
		for i := range lines {
			if l := &lines[i]; l.Done == "" && !l.Waits {
				return l
			}
		}
	}
	return nil
}

// fill draws the order on the page.
func (o *order) fill(p *views.JobOrder) {
	p.Off, p.On = o.off, o.on
	if p.Next = o.next(); p.Next != nil {
		p.Next.Next = true
	}
	p.Words = o.words
	if o.missing {
		p.Missing = "The crank angles of this engine are not known, so no order can be proposed."
	}
	if o.work.Stands > 0 && o.job.Open() {
		p.Stands = fmt.Sprintf("The crank stands at top dead centre of position %d.", o.work.Stands)
	}
	for n := 1; n <= o.work.Engine.Cylinders; n++ {
		opt := views.Option{Value: itoa(n), Label: "position " + itoa(n)}
		p.Turn = append(p.Turn, opt)
		switch {
		case o.work.JobAt(n) == 0:
			p.Add = append(p.Add, opt)
		case o.work.JobAt(n) == o.job.ID && !o.cameOff(n):
			p.Leave = append(p.Leave, opt)
		}
	}
}
