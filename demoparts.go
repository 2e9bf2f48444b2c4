package main

import (
	"fmt"
	"math"

	"barrelbook/store"
	"barrelbook/wear"
)

// demoPart is a part of the demo with the truth that its readings are made
// from.
type demoPart struct {
	store.Part
	engine   *demoEngine // where it sits, nil on the shelf
	position int
	since    float64 // the engine's hours when it went on
	ran      float64 // hours in its run before that

	worn  bool                  // began bedded in
	first map[dimension]float64 // sizes it began with, where they matter
	fast  map[string]float64    // features that wear so many times too fast
	late  map[string]lateWear   // features that came to wear too fast
	reads map[demoSpot]string   // readings that the scenario needs

	size   map[dimension]float64 // at the beginning of the run
	factor map[dimension]float64 // wears so many times as fast as the average
}

// lateWear is wear so many times too fast from some hours on.
type lateWear struct{ from, times float64 }

// dimension names what a part is measured in.
type dimension struct {
	feature string
	groove  int
}

// demoSpot is a place measured on a day.
type demoSpot struct {
	dimension
	station, axis string
	ago           int
}

// hours are those of the part's run so many days ago, in the stay in hand.
func (p *demoPart) hours(ago int) float64 {
	if p.engine == nil {
		return p.ran
	}
	return p.ran + p.engine.hours(ago) - p.since
}

// serial numbers the parts of a stack alike: C-104, P-104, N-104 and R-104-1.
func serial(letter string, engine, n int) string { return fmt.Sprintf("%s-%d%02d", letter, engine, n) }

// newPart makes a new part of a model and keeps it by its serial.
func (d *demo) newPart(m *demoModel, kind wear.Kind, serial string) *demoPart {
	numbers := map[wear.Kind]string{wear.Cylinder: "110", wear.Piston: "220", wear.Ring: "33", wear.Pin: "440"}
	p := &demoPart{Part: store.Part{Kind: kind, Serial: serial, PartNumber: m.number + numbers[kind], ModelID: m.id, Source: "new"},
		size: map[dimension]float64{}, factor: map[dimension]float64{}}
	if kind == wear.Cylinder {
		if p.Surface = "nitrided"; m.arrangement == "flat" {
			p.Surface = "plain steel"
		}
	}
	d.parts[serial] = p
	return p
}

// newRings makes a set of rings, one for each groove, numbered from the crown.
func (d *demo) newRings(m *demoModel, stem string) []*demoPart {
	var rings []*demoPart
	for g := 1; g <= m.grooves; g++ {
		p := d.newPart(m, wear.Ring, fmt.Sprintf("%s-%d", stem, g))
		p.PartNumber += fmt.Sprint(g)
		p.Groove, p.Facing = g, "plain cast iron"
		rings = append(rings, p)
	}
	return rings
}

// newPiston makes a piston with its weight; those of one engine lie within a
// quarter of an ounce, 7 g (FAA-H-8083-32).
func (d *demo) newPiston(m *demoModel, serial string) *demoPart {
	p := d.newPart(m, wear.Piston, serial)
	grams := 1180 + math.Round(4*d.rand.Float64()-2)
	if m == d.radial {
		grams += 460
	}
	weight := wear.Value(grams * 1e6)
	p.Weight = &weight
	return p
}

// newStack is a whole position of new parts, from the barrel to the pin.
func (d *demo) newStack(e *demoEngine, n int) []*demoPart {
	stack := []*demoPart{d.newPart(e.model, wear.Cylinder, serial("C", e.number, n)), d.newPiston(e.model, serial("P", e.number, n))}
	stack = append(stack, d.newRings(e.model, serial("R", e.number, n))...)
	return append(stack, d.newPart(e.model, wear.Pin, serial("N", e.number, n)))
}

// demoStack is what sits at one position; rings by groove.
type demoStack struct {
	cylinder, piston, pin *demoPart
	rings                 map[int]*demoPart
}

// parts lists what sits there of a kind.
func (s *demoStack) parts(kind wear.Kind) []*demoPart {
	switch kind {
	case wear.Cylinder:
		return []*demoPart{s.cylinder}
	case wear.Piston:
		return []*demoPart{s.piston}
	case wear.Pin:
		return []*demoPart{s.pin}
	}
	var rings []*demoPart
	for g := 1; g <= len(s.rings); g++ {
		rings = append(rings, s.rings[g])
	}
	return rings
}

// put notes a part in its place in the stack.
func (s *demoStack) put(p *demoPart) {
	switch p.Kind {
	case wear.Cylinder:
		s.cylinder = p
	case wear.Piston:
		s.piston = p
	case wear.Ring:
		s.rings[p.Groove] = p
	case wear.Pin:
		s.pin = p
	}
}

// fit puts parts onto a position in one save.
func (d *demo) fit(e *demoEngine, position, ago int, parts []*demoPart) error {
	var fittings []store.Fitting
	for _, p := range parts {
		p.tellStory()
		fittings = append(fittings, store.Fitting{Part: p.Part, Groove: p.Groove})
	}
	if err := d.book.InstallAll(d.ctx, e.id, position, d.ago(ago), e.shows(ago), fittings); err != nil {
		return fmt.Errorf("fit position %d: %w", position, err)
	}
	stays, err := d.book.StaysAt(d.ctx, e.id, position)
	if err != nil {
		return err
	}
	for _, s := range stays {
		d.parts[s.Serial].ID = s.Part
	}
	for _, p := range parts {
		p.engine, p.position, p.since = e, position, e.hours(ago)
		e.position[position].put(p)
	}
	return nil
}

// take removes parts from the engine they sit on.
func (d *demo) take(ago int, why string, scrap bool, parts ...*demoPart) error {
	for _, p := range parts {
		if err := d.book.Remove(d.ctx, p.ID, d.ago(ago), p.engine.shows(ago), why, scrap); err != nil {
			return fmt.Errorf("remove %s %s: %w", p.Kind, p.Serial, err)
		}
		p.ran = p.hours(ago)
		p.engine = nil
	}
	return nil
}

// takeRings scraps the rings of a position.
func (d *demo) takeRings(e *demoEngine, position, ago int) error {
	return d.take(ago, "rings are not fitted again", true, e.position[position].parts(wear.Ring)...)
}
