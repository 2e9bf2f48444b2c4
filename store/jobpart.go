package store

import (
	"context"
	"slices"

	"barrelbook/wear"
)

// JobPart is a part that a job has to do with: it sat at one of the positions
// that were opened, or went there in the refit.
type JobPart struct {
	Part
	Was      *Place // where it sat when the job was opened; nil for one that came in
	Off      string // why it came off in the refit; empty where it did not
	On       *Place // where it went in the refit; nil where it kept its place or left
	Despite  string // why it went there although a ring's facing or pressure speaks against it
	Decision *Decision
}

// Position is that where it sat, else where it went.
func (p JobPart) Position() int {
	if p.Was != nil {
		return p.Was.Position
	}
	return p.On.Position
}

// Leaves reports whether the part does not go back onto the positions of the
// job: it came off and went nowhere, or it is to be replaced or scrapped.
func (p JobPart) Leaves() bool {
	if p.On != nil {
		return false
	}
	return p.Off != "" || p.Decision != nil && (p.Decision.Disposition == "scrap" || p.Decision.Disposition == "replace")
}

// JobParts lists the parts of a job, by position and stack, those that were
// there first.
func (b *Book) JobParts(ctx context.Context, job int64) ([]JobPart, error) {
	c, err := newClosing(ctx, b.read, job)
	if err != nil {
		return nil, err
	}
	var ps []JobPart
	add := func(id int64) (*JobPart, error) {
		if i := slices.IndexFunc(ps, func(p JobPart) bool { return p.ID == id }); i >= 0 {
			return &ps[i], nil
		}
		p, err := findPart(ctx, b.read, id)
		if err != nil {
			return nil, err
		}
		ps = append(ps, JobPart{Part: p})
		if d, ok := c.decided[id]; ok {
			ps[len(ps)-1].Decision = &d
		}
		return &ps[len(ps)-1], nil
	}
	for _, o := range c.opened {
		p, err := add(o.part)
		if err != nil {
			return nil, err
		}
		if p.Was, err = c.placeIn(ctx, b.read, o.part, o.position); err != nil {
			return nil, err
		}
	}
	for _, e := range c.entries {
		if e.Kind != JobFitted || e.Part == 0 {
			continue
		}
		p, err := add(e.Part)
		if err != nil {
			return nil, err
		}
		if why, off := e.CameOff(); off {
			p.Off, p.On, p.Despite = why, nil, ""
			continue
		}
		p.Despite = e.Despite
		if p.On, err = c.placeIn(ctx, b.read, e.Part, e.Position); err != nil {
			return nil, err
		}
	}
	ps = slices.DeleteFunc(ps, func(p JobPart) bool { return p.Was == nil && p.On == nil })
	slices.SortStableFunc(ps, func(a, b JobPart) int {
		if a.Position() != b.Position() {
			return a.Position() - b.Position()
		}
		return a.rank() - b.rank()
	})
	return ps, nil
}

// rank orders a stack from the barrel to the pin, those that were there first.
func (p JobPart) rank() int {
	r := 100 * slices.Index(wear.Kinds, p.Kind)
	if p.Was == nil {
		return r + 50 + p.On.Groove
	}
	return r + p.Was.Groove
}

// placeIn is where a part sits or sat last at a position of the job's engine.
func (c *closing) placeIn(ctx context.Context, q querier, part int64, position int) (*Place, error) {
	stays, err := findStays(ctx, q, "s.part_id = ? AND s.engine_id = ? AND s.position = ? AND s.void = ''", part, c.Engine.ID, position)
	if err != nil || len(stays) == 0 {
		return &Place{Engine: c.Engine.ID, Position: position}, err
	}
	return &Place{Engine: c.Engine.ID, Position: position, Groove: stays[len(stays)-1].Groove}, nil
}
