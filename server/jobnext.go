package server

import (
	"slices"

	"barrelbook/store"
	"barrelbook/views"
)

// nextStep is the one thing that is to be done next in a job, for every page
// that names it: cylinders come off, are measured and decided on, their places
// are filled, and they go on again. line is the line of the order that it is,
// nil where it is not done on that page.
func (b *bench) nextStep(o *order) (next views.BenchNext, line *views.JobLine) {
	order := href("/jobs/", b.job.ID)
	if line = o.next(); !b.job.Open() || len(b.positions) == 0 {
		return next, nil
	}
	if line != nil && line.Kind == store.JobPulled {
		return views.BenchNext{Text: "Take cylinder " + line.Position + " off", Href: order, Why: "The order page says how the crank is turned for it."}, line
	}
	for _, p := range b.positions {
		if n, ok := b.next(p); ok {
			return n, nil
		}
	}
	for _, p := range b.positions {
		if b.state(p) == "off" && !b.placed[p] {
			return views.BenchNext{Text: "Place the parts", Href: order + "/placing", Why: "Every part is measured and decided. What goes where at position " + itoa(p) + " is not saved yet."}, nil
		}
	}
	if line != nil {
		return views.BenchNext{Text: "Put cylinder " + line.Position + " back on", Href: order, Why: "Everything is measured, decided and placed."}, line
	}
	return views.BenchNext{Text: "Refit and close", Href: order + "/close", Why: "Every cylinder of this job is back on. What is left of the checklist and of the measurements stands there."}, nil
}

// next is what is to be done next at a position; false where nothing is, or
// where its cylinder is back on.
func (b *bench) next(position int) (views.BenchNext, bool) {
	state := b.state(position)
	needs := b.needsAt(position)
	taken, want := measuredOf(needs)
	x, open := b.undecided(position)
	switch {
	case state == "back on":
	case state == "still on":
		return views.BenchNext{Text: "Take cylinder " + itoa(position) + " off", Href: href("/jobs/", b.job.ID), Why: "It is still on: the order page says which one comes off now."}, true
	case taken < want:
		return views.BenchNext{Text: "Measure position " + itoa(position), Href: b.from(position, href("/measure/engine/", b.engine.ID, "/", position)), Why: counted(want-taken, "number") + " with a limit still to be taken."}, true
	case open:
		return views.BenchNext{Text: "Decide on " + string(x.Kind) + " " + x.Serial, Href: href("/jobs/", b.job.ID, "/decide/", x.ID), Why: "Everything with a limit is measured at position " + itoa(position) + "."}, true
	}
	return views.BenchNext{}, false
}

// after is what comes next for somebody who works on a position: what is to be
// done there, else at the next one, else the next step of the job.
func (b *bench) after(position int, o *order) views.BenchNext {
	if !b.job.Open() {
		return views.BenchNext{}
	}
	at := max(0, slices.Index(b.positions, position))
	for i := range b.positions {
		p := b.positions[(at+i)%len(b.positions)]
		next, ok := b.next(p)
		switch {
		case ok && p != position:
			return views.BenchNext{Text: "Go on with position " + itoa(p), Href: b.href(p), Why: next.Text + ". Position " + itoa(position) + " is measured and decided."}
		case ok:
			return next
		}
	}
	next, _ := b.nextStep(o)
	return next
}
