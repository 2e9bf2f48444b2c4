package main

import (
	"fmt"

	"barrelbook/store"
	"barrelbook/wear"
)

// planMove takes a barrel from one radial by way of the shelf to the other,
// where the one it replaces is ground and goes back on at another position.
func (d *demo) planMove(from, to *demoEngine) {
	d.on(890, func() error {
		if err := d.take(890, "exhaust guide worn: to the shelf for a new guide", false, from.position[7].cylinder); err != nil {
			return err
		}
		other, err := d.overhauled(from.model)
		if err != nil {
			return err
		}
		return d.change(from, 7, 890, barrelOnly, "barrel changed, rings kept", other)
	})
	d.on(560, func() error {
		if err := d.take(560, "bore pitted at the top of ring travel: to be ground", false, to.position[3].cylinder); err != nil {
			return err
		}
		return d.change(to, 3, 560, barrelOnly, "barrel changed, rings kept", d.parts[movedBarrel])
	})
	d.on(530, func() error { return d.grind(d.parts[groundBarrel], 530) })
	d.on(290, func() error {
		s := to.position[8]
		if err := d.take(290, "fin cracked beside the rocker box: to be welded", false, s.cylinder, s.piston); err != nil {
			return err
		}
		if err := d.takeRings(to, 8, 290); err != nil {
			return err
		}
		fresh := append([]*demoPart{d.newPiston(to.model, "P-210")}, d.newRings(to.model, "R-210")...)
		for _, p := range fresh {
			p.Oversize = demoOversize
		}
		return d.change(to, 8, 290, everything, "barrel ground 0.010 oversize, with oversize piston and rings", append(fresh, d.parts[groundBarrel])...)
	})
}

// overhauled is a barrel bought from overhaul, where it was honed.
func (d *demo) overhauled(m *demoModel) (*demoPart, error) {
	p := d.newPart(m, wear.Cylinder, "C-110")
	p.Source, p.HoursBefore, p.OverhaulBefore = "overhauled", 131000, new(wear.Hours)
	var err error
	if p.ID, err = d.book.AddPart(d.ctx, p.Part); err != nil {
		return nil, err
	}
	return p, d.book.AddMark(d.ctx, p.ID, wear.Mark{Event: wear.Honed, Day: d.ago(900)}, "honed at its overhaul")
}

// grind renews a barrel on the shelf to the oversize.
func (d *demo) grind(p *demoPart, ago int) error {
	size := demoOversize
	p.Oversize, p.ran = size, 0
	clear(p.size)
	return d.book.AddMark(d.ctx, p.ID, wear.Mark{Event: wear.Ground, Day: d.ago(ago), Oversize: &size}, "ground by an outside shop, invented order 77")
}

// planFailure replaces a cracked barrel by the one that wears abnormally.
func (d *demo) planFailure(e *demoEngine) {
	d.on(140, func() error {
		s := e.position[4]
		if err := d.take(140, "crack from the exhaust port to the plug boss", true, s.cylinder); err != nil {
			return err
		}
		if err := d.take(140, "kept with its weight for another set", false, s.piston); err != nil {
			return err
		}
		if err := d.takeRings(e, 4, 140); err != nil {
			return err
		}
		fresh := append([]*demoPart{d.newPart(e.model, wear.Cylinder, abnormalBarrel), d.newPiston(e.model, "P-112")}, d.newRings(e.model, "R-112")...)
		return d.change(e, 4, 140, everything, "new barrel, piston and rings; the top ring reads 74 N, the original ones 39 to 48 N", fresh...)
	})
}

// planFlat replaces a barrel so lately that nothing can be said of the new one.
func (d *demo) planFlat(e *demoEngine) {
	d.on(92, func() error {
		if err := d.take(92, "exhaust valve burnt: to the shelf until the head is repaired", false, e.position[5].cylinder); err != nil {
			return err
		}
		if err := d.takeRings(e, 5, 92); err != nil {
			return err
		}
		fresh := append([]*demoPart{d.newPart(e.model, wear.Cylinder, youngBarrel)}, d.newRings(e.model, "R-310")...)
		return d.change(e, 5, 92, everything, "new barrel and rings", fresh...)
	})
}

// planMeters replaces one engine's meter and lets somebody misread another's.
func (d *demo) planMeters(replaced, misread *demoEngine) {
	d.on(700, func() error {
		old := replaced.shows(700)
		replaced.offset = replaced.hours(700)
		return d.book.ReplaceMeter(d.ctx, replaced.id, d.ago(700), old, 0, "meter stopped; new one fitted at 0")
	})
	d.on(640, func() error {
		right := misread.shows(640)
		root, err := d.book.AddMeter(d.ctx, misread.id, d.ago(640), right+10000)
		if err != nil {
			return err
		}
		return d.book.CorrectMeter(d.ctx, root, d.ago(640), right, "read 100 h too many")
	})
}

// revisedAgo is when the shop typed the later revision of a limit.
const revisedAgo = 45

// saveSheets puts all sheets into the book, the last ones after a limit was
// revised.
func (d *demo) saveSheets() error {
	var early, late []store.NewSheet
	for _, s := range d.sheets {
		n, err := d.entry(s)
		if err != nil {
			return err
		}
		if s.Day < d.ago(revisedAgo) {
			early = append(early, n)
		} else {
			late = append(late, n)
		}
	}
	save := func(ns []store.NewSheet) error {
		_, err := d.book.SaveSheets(d.ctx, ns)
		return err
	}
	judge := func() error {
		_, err := d.book.Refresh(d.ctx)
		return err
	}
	return do(func() error { return save(early) }, d.reviseLimit, func() error { return save(late) }, judge)
}

// afterwards corrects a reading and acknowledges a finding.
func (d *demo) afterwards() error {
	if err := d.correctReading(d.parts[misreadBarrel]); err != nil {
		return fmt.Errorf("correct reading: %w", err)
	}
	if _, err := d.book.Refresh(d.ctx); err != nil {
		return err
	}
	found, err := d.book.FindingsOf(d.ctx, d.parts[wornRing].ID)
	if err != nil {
		return err
	}
	for _, f := range found {
		if f.Feature.Name == "end gap" {
			return d.book.Acknowledge(d.ctx, f.Series, "inspector", "new rings are on order; to be fitted at the next 50 h check")
		}
	}
	return fmt.Errorf("acknowledge %s: no finding", wornRing)
}

// correctReading takes back the turn of the dial too many.
func (d *demo) correctReading(p *demoPart) error {
	readings, err := d.book.ReadingsOf(d.ctx, p.ID)
	if err != nil {
		return err
	}
	for _, r := range readings {
		if r.Typed == misread {
			right := *r.Value - demoOversize
			return d.book.CorrectReading(d.ctx, r.ID, right, right.Format(r.Unit), "inspector", "one turn of the dial, 0.010 in, too many")
		}
	}
	return fmt.Errorf("no reading of %s", misread)
}
