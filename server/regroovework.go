package server

import (
	"errors"

	"barrelbook/views"
	"barrelbook/wear"
)

// work reads the form and draws what comes of it.
func (g *regrooving) work(p *views.Regroove) {
	ask := wear.RegrooveAsk{Groove: g.gauged(fieldGroove, true), ClearanceMin: g.gauged(fieldLeast, true).Value, ClearanceMax: g.gauged(fieldMost, true).Value, CleanUp: g.gauged("clean_up", false).Value,
		Ratio: g.set.RatioLimits(), Unit: g.set.Unit}
	if ask.ClearanceMax < ask.ClearanceMin && !g.f.has(fieldLeast, fieldMost) {
		g.f.fault(fieldMost, "the most clearance is below the least")
	}
	g.share = g.f.number("share", 0, 100, true)
	ask.Lands = append(g.land("above", "Land above", 100-g.share), g.land("below", "Land below", g.share)...)
	offers := g.readOffers()
	if g.f.text("shelf") != "" {
		for _, side := range g.shelf {
			offers = append(offers, offer{name: side.name + " on the shelf", least: side.sizes["axial width"].Value, most: side.sizes["axial width"].Value, side: side})
		}
	}
	if len(offers) == 0 && !g.f.has("rings") {
		g.f.fault("rings", "list at least one over-width ring")
	}
	if !g.f.ok() {
		return
	}
	ask.Original = g.pressureOf(g.original)
	for _, o := range offers {
		g.rings = append(g.rings, g.widthRing(o, ask.Original))
	}
	list, err := wear.RankRegrooves(ask, g.rings)
	if errors.Is(err, wear.ErrRegroove) {
		g.f.fault("rings", "these sizes make no sense together: look for a slip of the decimal point")
		return
	}
	if err != nil {
		g.f.fault("rings", "a number is out of range, or an uncertainty more than half of it")
		return
	}
	g.draw(p, list)
}

// pressureOf is a ring's pressure in the bore; nil where it is not known.
func (g *regrooving) pressureOf(side *ringSide) *wear.RingPressure {
	if side == nil || !g.hasBore {
		return nil
	}
	for i := range ringWays {
		if side.can(i) {
			if p, why := side.pressure(i, g.bore); why == "" {
				return &p
			}
			return nil
		}
	}
	return nil
}

func (g *regrooving) widthRing(o offer, original *wear.RingPressure) wear.WidthRing {
	ring := wear.WidthRing{Name: o.name, WidthMin: o.least, WidthMax: o.most}
	if original == nil {
		return ring
	}
	if o.side != nil {
		ring.Pressure = g.pressureOf(o.side)
	}
	if o.force != nil {
		middle := (o.least + o.most) / 2
		side := &ringSide{sizes: map[string]sized{
			string(wear.FromTangential): {Gauged: wear.Gauged{Value: *o.force, U: wear.StandardUncertainty(0, 0, float64(o.forceStep))}},
			"axial width":               {Gauged: wear.Gauged{Value: middle, U: wear.StandardUncertainty(0, 0, float64(o.most-o.least))}}}}
		ring.Pressure = g.pressureOf(side)
	}
	return ring
}
