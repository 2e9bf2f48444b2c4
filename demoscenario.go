package main

import (
	"barrelbook/store"
	"barrelbook/wear"
)

// The parts of the demo that have a story of their own.
const (
	abnormalBarrel = "C-112"   // worn in 60 h like a normal one in about 1,000
	heavyRing      = "R-112-1" // the ring in it, with far more wall tension
	undecidedWear  = "C-303"   // at its limit, within what the gauge can tell
	youngBarrel    = "C-310"   // too few hours to judge
	wornPiston     = "P-206"   // top groove beyond its side clearance
	wornRing       = "R-302-2" // end gap beyond its limit; acknowledged
	movedBarrel    = "C-107"   // from one radial by way of the shelf to the other
	groundBarrel   = "C-203"   // ground 0.010 in oversize
	crackedBarrel  = "C-104"   // scrapped
	misreadBarrel  = "C-102"   // has a corrected reading
	lateBarrel     = "C-209"   // wore like any other, and fast since the last but one sheet
	waitingRing    = "R-194-1" // on the shelf, pressing as hard as the heavy one
	dustyEngine    = "R9-0455" // all its barrels wear fast, none so that it alone would stand out
)

// heavyNumber is the part number of rings from the other supplier.
const heavyNumber = "H9-331X"

// dusty is how many times too fast the barrels of the dusty engine wear.
const dusty = 2.8

// misread is what was written down for the misread barrel, a turn of the dial
// too high.
const misread = "5.5108"

// demoOversize is 0.010 in, and a turn of the dial too.
const demoOversize wear.Value = 254_000

// tellStory makes a part that is not simply new what it is.
func (p *demoPart) tellStory() {
	bore := dimension{"barrel bore", 0}
	switch p.Serial {
	case undecidedWear:
		p.used(31000, "bought used; fitted with most of its allowance gone")
		p.first = map[dimension]float64{bore: 4.7547}
		p.reads = map[demoSpot]string{{bore, "top", "thrust", 19}: "4.7559", {bore, "top", "pin", 19}: "4.7555"}
	case wornPiston:
		p.used(24500, "used piston; top groove wide, but within its limit when fitted")
		p.first = map[dimension]float64{{"groove width", 1}: 0.1019}
		p.reads = map[demoSpot]string{{dimension{"side clearance", 1}, "", "", 38}: "0.0110"}
	case wornRing:
		p.used(18000, "used ring, fitted because no new one was at hand")
		p.first = map[dimension]float64{{"end gap", 0}: 0.0380}
		p.reads = map[demoSpot]string{{dimension{"end gap", 0}, "", "", 19}: "0.0415"}
	case misreadBarrel:
		p.reads = map[demoSpot]string{{bore, "middle", "pin", 610}: misread}
	case lateBarrel:
		p.late = map[string]lateWear{"barrel bore": {from: 504, times: 6}}
	case abnormalBarrel:
		p.fast = map[string]float64{"barrel bore": 11}
	case heavyRing:
		p.PartNumber, p.Note = heavyNumber, "from another supplier; tangential force 74 N when fitted, where the original has 39 to 48 N"
		p.fast = map[string]float64{"end gap": 6, "axial width": 2}
		p.first = map[dimension]float64{{"tangential force", 0}: 74}
	}
}

func (p *demoPart) used(before wear.Hours, note string) {
	p.Source, p.HoursBefore, p.Note, p.worn = "serviceable used", before, note, true
}

// plan lays out the four years: first the regular course, then what happened
// besides.
func (d *demo) plan() {
	d.on(d.engines[0].start, d.stockShelf)
	for _, e := range d.engines {
		d.on(e.start, func() error { return d.by(e.rand, func() error { return d.assemble(e) }) })
		for i, ago := range e.visits {
			d.on(ago, func() error { return d.by(e.rand, func() error { return d.visit(e, i) }) })
		}
		for ago := e.start - 97; ago > 10; ago -= 118 {
			d.on(ago, func() error {
				_, err := d.book.AddMeter(d.ctx, e.id, d.ago(ago), e.shows(ago))
				return err
			})
		}
	}
	d.planMove(d.engines[0], d.engines[1])
	d.planFailure(d.engines[0])
	d.planFlat(d.engines[2])
	d.planMeters(d.engines[1], d.engines[2])
	d.planJobs(d.engines[2], d.engines[1])
	d.on(16, d.stockHeavyRing)
}

// stockHeavyRing puts another ring of the heavy one's maker on the shelf,
// where it is measured before anybody fits it.
func (d *demo) stockHeavyRing() error {
	p := d.newPart(d.radial, wear.Ring, waitingRing)
	p.PartNumber, p.Note, p.Groove, p.Facing = heavyNumber, "from the other supplier, as R-112-1", 1, "plain cast iron"
	var err error
	if p.ID, err = d.book.AddPart(d.ctx, p.Part); err != nil {
		return err
	}
	s := demoSheet{Sheet: store.Sheet{Day: d.ago(16), Who: "mechanic 2", Note: "on arrival"}}
	for _, r := range []struct {
		feature, text string
		groove        int
	}{{"tangential force", "72.5", 0}, {"axial width", "0.0932", 1}} {
		s.readings = append(s.readings, demoReading{part: p, line: d.radial.line(wear.Ring, r.feature, r.groove), text: r.text})
	}
	d.sheets = append(d.sheets, s)
	return nil
}

// stockShelf puts spare parts on the shelf.
func (d *demo) stockShelf() error {
	var spare []*demoPart
	for _, s := range []struct {
		model *demoModel
		first int
	}{{d.radial, 1}, {d.flat, 3}} {
		spare = append(spare, d.newPart(s.model, wear.Cylinder, serial("C", s.first, 90)), d.newPart(s.model, wear.Cylinder, serial("C", s.first, 91)),
			d.newPiston(s.model, serial("P", s.first, 90)), d.newPart(s.model, wear.Pin, serial("N", s.first, 90)))
		spare = append(spare, d.newRings(s.model, serial("R", s.first, 90))...)
	}
	for _, p := range spare {
		var err error
		if p.ID, err = d.book.AddPart(d.ctx, p.Part); err != nil {
			return err
		}
	}
	return nil
}

// assemble fits an engine out of overhaul.
func (d *demo) assemble(e *demoEngine) error {
	for n := 1; n <= e.model.cylinders; n++ {
		e.position[n] = &demoStack{rings: map[int]*demoPart{}}
		if err := d.fit(e, n, e.start, d.newStack(e, n)); err != nil {
			return err
		}
	}
	return nil
}

// visit measures a whole engine for the ith time.
func (d *demo) visit(e *demoEngine, i int) error {
	wanted := inspection
	switch {
	case i == 0:
		wanted = everything
	case i == len(e.visits)-1:
		wanted = withTension
	case i%2 == 1:
		wanted = quick
	}
	for n := 1; n <= e.model.cylinders; n++ {
		d.measure(e, n, e.visits[i], wanted, "")
		if i == len(e.visits)-1 && e.position[n].cylinder.Serial == abnormalBarrel {
			d.pushRing(0)
		}
		if i == len(e.visits)-1 {
			d.measureFits(e.position[n])
		}
	}
	return nil
}

// change fits parts in place of others and measures the position again.
func (d *demo) change(e *demoEngine, position, ago int, wanted func(*demoLine) bool, note string, parts ...*demoPart) error {
	if err := d.fit(e, position, ago, parts); err != nil {
		return err
	}
	d.measure(e, position, ago, wanted, note)
	return nil
}
