package store

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"barrelbook/wear"
)

// ClosingCheck is something that is open in a job before it is closed, with
// the way to where it is done.
type ClosingCheck struct {
	Words, Href string
	Refuses     bool // the job is not closed over it, whatever the reason
}

// ClosingChecks lists what is open before a job can be closed, the things that
// refuse it first.
func (b *Book) ClosingChecks(ctx context.Context, job int64) ([]ClosingCheck, error) {
	return findClosingChecks(ctx, b.read, job)
}

func findClosingChecks(ctx context.Context, q querier, job int64) ([]ClosingCheck, error) {
	c, err := newClosing(ctx, q, job)
	if err != nil {
		return nil, err
	}
	for _, check := range []func(context.Context, querier) error{c.cylinders, c.places, c.refit, c.decisions, c.machining, c.measurements, c.leakTest, c.checklist} {
		if err := check(ctx, q); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(c.found, func(a, b ClosingCheck) int {
		switch {
		case a.Refuses == b.Refuses:
			return 0
		case a.Refuses:
			return -1
		}
		return 1
	})
	return c.found, nil
}

// closing is a job while it is checked for its closing.
type closing struct {
	Refit
	pulled []int
	opened []satPart
	found  []ClosingCheck
}

// satPart is a part that sat at a position when the job was opened.
type satPart struct {
	part     int64
	position int
}

func newClosing(ctx context.Context, q querier, job int64) (*closing, error) {
	c := &closing{}
	var err error
	if c.Refit, err = planRefit(ctx, q, job); err != nil {
		return nil, err
	}
	for _, e := range c.entries {
		if e.Kind == JobPulled && !e.Struck && !slices.Contains(c.pulled, e.Position) {
			c.pulled = append(c.pulled, e.Position)
		}
	}
	slices.Sort(c.pulled)
	c.opened = c.satThere()
	return c, nil
}

// satThere are the parts that sat at the pulled positions when the job was
// opened: those that came off, and those that never went anywhere.
func (c *closing) satThere() []satPart {
	var parts []satPart
	came := map[int64]bool{} // in this job
	add := func(part int64, position int) {
		known := slices.ContainsFunc(parts, func(o satPart) bool { return o.part == part })
		if !came[part] && !known && slices.Contains(c.pulled, position) {
			parts = append(parts, satPart{part, position})
		}
	}
	for _, e := range c.entries {
		if _, off := e.CameOff(); off {
			add(e.Part, e.Position)
		}
		if e.WentOn() {
			came[e.Part] = true
		}
	}
	for _, p := range c.Places {
		if p.Sits.Part != 0 {
			add(p.Sits.Part, p.Position)
		}
	}
	return parts
}

func (c *closing) add(refuses bool, href, format string, args ...any) {
	c.found = append(c.found, ClosingCheck{Words: fmt.Sprintf(format, args...), Href: href, Refuses: refuses})
}

// page is the address of a page of the job.
func (c *closing) page(path string) string { return fmt.Sprintf("/jobs/%d%s", c.Job.ID, path) }

// cylinders: each that came off went on again.
func (c *closing) cylinders(context.Context, querier) error {
	for _, p := range c.Positions {
		if slices.Contains(c.Off, p) {
			c.add(true, c.page(""), "cylinder %d is still off, or its refit was not entered", p)
		} else if !slices.Contains(c.pulled, p) {
			c.add(false, c.page(""), "cylinder %d was to come off, but no entry says that it did", p)
		}
	}
	return nil
}

// places: each is filled, and with what was placed there. A shop that keeps no
// record of some kind, such as pins, is only reminded of it.
func (c *closing) places(ctx context.Context, q querier) error {
	for _, p := range c.Places {
		where := fmt.Sprintf("position %d", p.Position)
		if p.Groove > 0 {
			where += fmt.Sprintf(", groove %d", p.Groove)
		}
		switch {
		case p.Goes.ID == 0:
			var known bool
			if err := q.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM stay WHERE engine_id = ? AND position = ? AND kind = ? AND groove = ? AND void = '')", c.Engine.ID, p.Position, p.Kind, p.Groove).Scan(&known); err != nil {
				return fmt.Errorf("read places of job: %w", err)
			}
			c.add(known || p.Kind == wear.Cylinder, c.page("/placing"), "no %s at %s: place one there", p.Kind, where)
		case p.Changes():
			c.add(true, c.page("/close"), "%s %s is placed at %s, but its fitting is not saved", p.Kind, p.Goes.Serial, where)
		}
	}
	return nil
}

// refit: when the cylinders went on is saved, so that hours count from there.
func (c *closing) refit(context.Context, querier) error {
	if len(c.pulled) > 0 && c.fitted().ID == 0 {
		c.add(false, c.page("/close"), "the refit was not saved, so no day and hours say when the cylinders went back on")
	}
	return nil
}

// fitted is the last refit that was saved.
func (c *closing) fitted() (last JobEntry) {
	for _, e := range c.entries {
		if e.Kind == JobFitted && e.Part == 0 {
			last = e
		}
	}
	return last
}

// decisions: one for every part that was there.
func (c *closing) decisions(ctx context.Context, q querier) error {
	for _, n := range c.pulled {
		var names []string
		for _, o := range c.opened {
			if _, ok := c.decided[o.part]; ok || o.position != n {
				continue
			}
			p, err := findPart(ctx, q, o.part)
			if err != nil {
				return err
			}
			names = append(names, string(p.Kind)+" "+p.Serial)
		}
		if len(names) > 0 {
			c.add(false, c.page(fmt.Sprintf("/bench/%d", n)), "nothing is decided at position %d of %s", n, strings.Join(names, ", "))
		}
	}
	return nil
}

// machining: what was decided is entered as work done.
func (c *closing) machining(ctx context.Context, q querier) error {
	for _, d := range inOrder(c.decided) {
		event, ok := EventOf[d.Disposition]
		if !ok {
			continue
		}
		marks, err := findMarkRows(ctx, q, "part_id = ? AND void = '' AND event = ? AND day >= ?", d.Part, event, c.Job.Day)
		if err != nil {
			return err
		}
		if len(marks) > 0 {
			continue
		}
		p, err := findPart(ctx, q, d.Part)
		if err != nil {
			return err
		}
		c.add(false, fmt.Sprintf("/parts/%d/events", d.Part), "%s %s was decided %s, but no work says that it was %s", p.Kind, p.Serial, d.Disposition, event)
	}
	return nil
}

func inOrder(decided map[int64]Decision) []Decision {
	var ds []Decision
	for _, d := range decided {
		ds = append(ds, d)
	}
	slices.SortFunc(ds, func(a, b Decision) int { return int(a.Entry.ID - b.Entry.ID) })
	return ds
}

// measurements: every feature with a limit was measured since the job was
// opened, on parts that go back.
func (c *closing) measurements(ctx context.Context, q querier) error {
	x, err := findFeatureIndex(ctx, q)
	if err != nil {
		return err
	}
	limits, err := findLimits(ctx, q, c.Engine.Model.ID, "")
	if err != nil {
		return err
	}
	for _, n := range c.Positions {
		var names []string
		for _, p := range c.Places {
			if p.Position != n || p.Goes.ID == 0 || !slices.ContainsFunc(c.opened, func(o satPart) bool { return o.part == p.Goes.ID }) {
				continue
			}
			missing, err := c.missing(ctx, q, p, x, limits)
			if err != nil {
				return err
			}
			if len(missing) > 0 {
				names = append(names, fmt.Sprintf("%s %s (%s)", p.Kind, p.Goes.Serial, strings.Join(missing, ", ")))
			}
		}
		if len(names) > 0 {
			c.add(false, c.page(fmt.Sprintf("/bench/%d", n)), "not measured in this job, and going back to position %d: %s", n, strings.Join(names, ", "))
		}
	}
	return nil
}

// missing names the features of a part that have a limit and were not measured
// since the job was opened. Fits of two parts follow from their sizes.
func (c *closing) missing(ctx context.Context, q querier, p RefitPlace, x featureIndex, limits Limits) ([]string, error) {
	rs, err := findReadings(ctx, q, "r.part_id = ? AND s.day >= ? ORDER BY r.id", p.Goes.ID, c.Job.Day)
	if err != nil {
		return nil, err
	}
	measured := func(feature int64, groove int) bool {
		return slices.ContainsFunc(rs, func(r Reading) bool {
			return r.Feature == feature && !r.Struck && r.Value != nil && (groove == 0 || r.Groove == groove)
		})
	}
	var names []string
	for _, f := range x.all {
		if f.Kind != p.Kind || f.Fit {
			continue
		}
		if f.Groove {
			for g := 1; g <= c.Engine.Model.Grooves; g++ {
				if limits.For(f.ID, g) != nil && !measured(f.ID, g) {
					names = append(names, fmt.Sprintf("%s, groove %d", f.Name, g))
				}
			}
		} else if limits.For(f.ID, p.Groove) != nil && !measured(f.ID, 0) {
			names = append(names, f.Name)
		}
	}
	return names, nil
}

// leakTest: each cylinder that came off was tested after the refit.
func (c *closing) leakTest(ctx context.Context, q querier) error {
	fitted := c.fitted()
	tests, err := findLeakReadings(ctx, q, "t.engine_id = ? AND t.day >= ?"+newestLeakFirst, c.Engine.ID, max(fitted.Day, c.Job.Day))
	if err != nil {
		return err
	}
	var without []int
	for _, p := range c.Positions {
		tested := slices.ContainsFunc(tests, func(r LeakReading) bool {
			return r.Position == p && !r.Struck && r.Reading != nil && (r.Test.Day > fitted.Day || r.SavedAt >= fitted.SavedAt)
		})
		if slices.Contains(c.pulled, p) && (!tested || fitted.ID == 0) {
			without = append(without, p)
		}
	}
	if len(without) > 0 {
		c.add(false, fmt.Sprintf("/engines/%d/leak/new", c.Engine.ID), "no leak test after the refit of position %s", wear.ListOf(without, strconv.Itoa))
	}
	return nil
}

// checklist: every step is done, those of a cylinder at each that came off.
// Steps that are open at the same positions are one item.
func (c *closing) checklist(ctx context.Context, q querier) error {
	steps, err := findJobSteps(ctx, q, c.Job.ID)
	if err != nil {
		return err
	}
	all := StepsDone(c.entries)
	done := func(step int64, position int) bool { _, is := all[StepAt{step, position}]; return is }
	var where []string // open steps are said in the order of the list
	texts := map[string][]string{}
	for _, s := range steps {
		var open []int
		for _, p := range c.pulled {
			if s.Each && !done(s.ID, p) {
				open = append(open, p)
			}
		}
		at := ""
		switch {
		case len(open) == 1:
			at = fmt.Sprintf(" at position %d", open[0])
		case len(open) > 1:
			at = " at positions " + wear.ListOf(open, strconv.Itoa)
		case s.Each || done(s.ID, 0):
			continue
		}
		if texts[at] == nil {
			where = append(where, at)
		}
		texts[at] = append(texts[at], s.Text)
	}
	for _, at := range where {
		if ts := texts[at]; len(ts) == 1 {
			c.add(false, c.page("/steps"), "a step is open%s: %s", at, ts[0])
		} else {
			c.add(false, c.page("/steps"), "%d steps are open%s: %s", len(ts), at, strings.Join(ts, " · "))
		}
	}
	return nil
}
