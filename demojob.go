package main

import (
	"math/rand/v2"

	"barrelbook/store"
	"barrelbook/wear"
)

// When the demo's closed job was opened, refitted and closed, and when the one
// that is under way was opened, in days ago.
const (
	jobOpened, jobGround, jobRefitted, jobClosed = 800, 797, 795, 794
	jobUnderWay                                  = 3
)

// demoSteps are the demo jobs' checklist, invented.
var demoSteps = []store.JobStep{
	{Phase: "removal", Text: "Number marks forward on barrel, piston and rod", Each: true},
	{Phase: "removal", Text: "Piston at top dead centre before the nuts come off", Caution: "A second person catches the piston and rod.", Each: true},
	{Phase: "bench", Text: "Rings off, grooves cleaned, parts kept together by position", Each: true},
	{Phase: "refit", Text: "One new seal at the flange, ring gaps staggered", Each: true},
	{Phase: "refit", Text: "Hold-down nuts in the maker's order", Torque: "as the maker's manual says", Wrench: "torque wrench TW-1", Each: true},
	{Phase: "after", Text: "Ground run, then look for oil at the flanges"},
}

// planJobs lays out a job that was closed and one that is half-way.
func (d *demo) planJobs(closed, open *demoEngine) {
	d.on(jobOpened, func() error { return d.apart(func() error { return d.topOverhaul(closed) }) })
	d.on(jobUnderWay, func() error { return d.apart(func() error { return d.halfWay(open) }) })
}

// apart lets something happen with chances of its own, so that the rest of the
// demo stays as it is without it.
func (d *demo) apart(happen func() error) error {
	return d.by(rand.New(rand.NewPCG(demoSeed, 1)), happen)
}

// by lets something happen with the chances given, nil for the demo's.
func (d *demo) by(chances *rand.Rand, happen func() error) error {
	if chances == nil {
		return happen()
	}
	rest := d.rand
	d.rand = chances
	defer func() { d.rand = rest }()
	return happen()
}

// demoJob is a job being told.
type demoJob struct {
	*demo
	e  *demoEngine
	id int64
}

func (d *demo) openJob(e *demoEngine, ago int, why, detail string, stands int, positions ...int) (*demoJob, error) {
	shows := e.shows(ago)
	id, err := d.book.OpenJob(d.ctx, store.NewJob{Job: store.Job{Engine: e.id, Why: why, Detail: detail, Day: d.ago(ago), Stands: stands, Who: "mechanic 1"}, Shows: &shows, Positions: positions, Steps: demoSteps})
	return &demoJob{d, e, id}, err
}

// lastEntry is more than any entry's id: the demo knows of all of them.
const lastEntry = 1 << 40

func (j *demoJob) note(ago int, entries ...store.JobEntry) error {
	for _, e := range entries {
		e.Job, e.Day, e.Who = j.id, j.demo.ago(ago), "mechanic 1"
		if _, err := j.book.AddJobEntry(j.ctx, e, lastEntry); err != nil {
			return err
		}
	}
	return nil
}

// move takes cylinders off or puts them on, in the order given.
func (j *demoJob) move(kind string, ago int, positions ...int) error {
	for _, p := range positions {
		if err := j.note(ago, store.JobEntry{Kind: kind, Position: p}); err != nil {
			return err
		}
	}
	return nil
}

// do ticks the steps of some phases, at every position given.
func (j *demoJob) tick(ago int, phases []string, positions ...int) error {
	steps, err := j.book.JobSteps(j.ctx, j.id)
	if err != nil {
		return err
	}
	for _, s := range steps {
		for _, phase := range phases {
			at := positions
			if !s.Each {
				at = []int{0}
			}
			for _, p := range at {
				if s.Phase != phase {
					continue
				}
				if err := j.note(ago, store.JobEntry{Kind: store.JobDone, Step: s.ID, Position: p}); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func (j *demoJob) decide(ago int, p *demoPart, disposition, reason string) error {
	d := store.Decision{Job: j.id, Part: p.ID, Position: p.position, Disposition: disposition, Reason: reason, Entry: store.JobEntry{Day: j.demo.ago(ago), Who: "inspector"}}
	if disposition == "grind" {
		size := demoOversize
		d.Oversize = &size
	}
	return j.book.Decide(j.ctx, d, "", lastEntry)
}

// place says what goes to a position, and makes the parts that are new.
func (j *demoJob) place(position int, parts ...*demoPart) error {
	var ps []store.Placing
	for _, p := range parts {
		if p.ID == 0 {
			var err error
			if p.ID, err = j.book.AddPart(j.ctx, p.Part); err != nil {
				return err
			}
		}
		ps = append(ps, store.Placing{Position: position, Kind: p.Kind, Groove: p.Groove, Part: p.ID})
	}
	return j.book.Place(j.ctx, j.id, ps, "", lastEntry)
}

// topOverhaul is the closed job: at position 4 the barrel is ground, with a
// piston and rings of that size; at 6 the piston is used again and a ring
// replaced.
func (d *demo) topOverhaul(e *demoEngine) error {
	j, err := d.openJob(e, jobOpened, "oil use", "Two cylinders use oil; rest of the engine measured with them.", 4, 4, 6)
	if err != nil {
		return err
	}
	four, six := e.position[4], e.position[6]
	fresh := append([]*demoPart{d.newPiston(e.model, "P-314")}, d.newRings(e.model, "R-314")...)
	for _, p := range fresh {
		p.Oversize = demoOversize
	}
	ring := d.newPart(e.model, wear.Ring, "R-316-2")
	ring.PartNumber, ring.Groove, ring.Facing = ring.PartNumber+"2", 2, "plain cast iron"
	decide := func() error {
		for _, p := range append([]*demoPart{four.piston}, four.parts(wear.Ring)...) {
			if err := j.decide(jobOpened-2, p, "scrap", "standard size; the barrel is ground oversize"); err != nil {
				return err
			}
		}
		for _, p := range []*demoPart{four.pin, six.cylinder, six.piston, six.pin, six.rings[1], six.rings[3]} {
			if err := j.decide(jobOpened-2, p, "reuse", "inside its service limits"); err != nil {
				return err
			}
		}
		return do(func() error {
			return j.decide(jobOpened-2, four.cylinder, "grind", "pitted at the top of ring travel; cleans up at 0.010 oversize")
		},
			func() error {
				return j.decide(jobOpened-2, six.rings[2], "scrap", "gap wide for its hours, and oil in the groove")
			})
	}
	return do(
		func() error { return j.move(store.JobPulled, jobOpened, 4, 6) },
		func() error { return j.tick(jobOpened, []string{"removal", "bench"}, 4, 6) },
		decide,
		func() error { return j.grindInJob(four.cylinder) },
		func() error { return j.place(4, fresh...) },
		func() error { return j.place(6, ring) },
		func() error { return j.tick(jobRefitted, []string{"refit", "after"}, 4, 6) },
		func() error { return j.move(store.JobRefitted, jobRefitted, 6, 4) },
		func() error { return j.refit(map[int][]*demoPart{4: fresh, 6: {ring}}) },
		func() error {
			return d.testLeak(e, demoLeakTest{jobRefitted, wear.SmallOrifice, [9]wear.PSI{770, 765, 770, 780, 765, 775}, 0, "mechanic 1", 430, "after the refit"})
		},
	)
}

// grindInJob renews a barrel that keeps its place in the book.
func (j *demoJob) grindInJob(p *demoPart) error {
	p.since = j.e.hours(jobOpened)
	return j.grind(p, jobGround)
}

// refit saves the refit, with the parts that go on by position, and measures
// the positions again.
func (j *demoJob) refit(goes map[int][]*demoPart) error {
	day, shows := j.demo.ago(jobRefitted), j.e.shows(jobOpened)
	if err := j.book.RefitJob(j.ctx, j.id, day, shows, "mechanic 1", "", lastEntry); err != nil {
		return err
	}
	for _, n := range []int{4, 6} {
		for _, p := range goes[n] {
			p.engine, p.position, p.since = j.e, n, j.e.hours(jobOpened)
			j.e.position[n].put(p)
		}
		j.measure(j.e, n, jobOpened, everything, "after the refit")
		last := &j.sheets[len(j.sheets)-1]
		last.Day = day // the engine did not run in between
	}
	return nil
}

// halfWay is the job under way: three cylinders are off, one of them measured,
// a few things decided.
func (d *demo) halfWay(e *demoEngine) error {
	j, err := d.openJob(e, jobUnderWay, "beyond its limit", "Piston "+wornPiston+": top groove beyond its side clearance; its neighbours looked at with it.", 6, 6, 7, 8)
	if err != nil {
		return err
	}
	worn, next := e.position[6], e.position[7]
	return do(
		func() error { return j.move(store.JobPulled, jobUnderWay, 8, 6, 7) },
		func() error { return j.tick(jobUnderWay, []string{"removal"}, 6, 7, 8) },
		func() error { return j.tick(jobUnderWay-1, []string{"bench"}, 6, 7) },
		func() error {
			d.measure(e, 7, jobUnderWay, inspection, "on the bench")
			d.sheets[len(d.sheets)-1].Day = d.ago(jobUnderWay - 1)
			d.pushRing(0.006)
			return nil
		},
		func() error {
			return j.decide(jobUnderWay-1, worn.piston, "replace", "side clearance of the top groove beyond its limit")
		},
		func() error { return j.decide(jobUnderWay-1, next.piston, "reuse", "inside its service limits") },
		func() error { return j.decide(jobUnderWay-1, next.cylinder, "reuse", "inside its service limits") },
		func() error {
			return j.decide(jobUnderWay-1, next.rings[1], "scrap", "rings are not fitted again here")
		},
		func() error { return j.place(6, d.parts["P-190"]) },
		func() error {
			return j.note(jobUnderWay-1, store.JobEntry{Kind: store.JobNote, Position: 8, Text: "exhaust guide to be looked at"})
		},
	)
}

// closeJob closes the job that is done, once its sheets are in the book.
func (d *demo) closeJob() error {
	jobs, err := d.book.Jobs(d.ctx, store.JobFilter{Engine: d.engines[2].id})
	if err != nil {
		return err
	}
	return d.book.CloseJob(d.ctx, jobs[0].ID, d.ago(jobClosed), "", "inspector", "", lastEntry)
}
