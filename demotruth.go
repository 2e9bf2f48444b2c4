package main

import (
	"math"
	"strconv"

	"barrelbook/wear"
)

// How a normal demo part wears: it beds in by a share of its wear allowance
// and uses up another share, evenly, in its overhaul life. Parts differ by a
// factor whose logarithm has the standard deviation spread; the demo's normal
// parts keep within mostSpread of those. Invented.
const (
	beddingShare = 0.06
	steadyShare  = 0.45
	beddingHours = 50
	spread       = 0.27
	mostSpread   = 1.6
)

// The barrel wears most at the top of ring travel, and more across the pin
// than along it (common practice, no source; the figures are invented).
var (
	stationShare = map[string]float64{"": 1, "top": 1, "middle": 0.7, "bottom": 0.5}
	axisShare    = map[string]float64{"": 1, "thrust": 1.15, "pin": 0.85}
)

// truth is what a perfect gauge would read, in the unit of the line.
func (d *demo) truth(p *demoPart, l *demoLine, at demoSpot) float64 {
	if l.feature == "side clearance" {
		return d.clearance(p, at)
	}
	begin, factor := d.begin(p, l, at.dimension)
	f := d.features[featureName{l.kind, l.feature}]
	if f.Oversize {
		begin += p.Oversize.In(wear.Inch)
	}
	if l.feature == "barrel bore" && at.station == "top" {
		begin -= p.engine.model.choke
	}
	low, high := number(l.newMin), number(l.newMax)
	allowance := number(l.service) - (low+high)/2 // negative for what shrinks
	hours := p.hours(at.ago)
	used := steadyShare * hours / p.engine.model.life
	if !p.worn {
		used -= beddingShare * math.Expm1(-hours/beddingHours)
	}
	if late := p.late[l.feature]; hours > late.from && late.times > 0 {
		used += steadyShare * (hours - late.from) / p.engine.model.life * (late.times - 1)
	}
	return begin + allowance*used*factor*stationShare[at.station]*axisShare[at.axis]
}

// clearance is what the groove leaves beside the ring that sits in it.
func (d *demo) clearance(p *demoPart, at demoSpot) float64 {
	m, ring := p.engine.model, p.engine.position[p.position].rings[at.groove]
	groove := d.truth(p, m.line(wear.Piston, "groove width", at.groove), demoSpot{dimension{"groove width", at.groove}, "", "", at.ago})
	return groove - d.truth(ring, m.line(wear.Ring, "axial width", at.groove), demoSpot{dimension{"axial width", 0}, "", "", at.ago})
}

// begin is the size a part began its run with, and how many times as fast as
// the average it wears; both are drawn when first asked for.
func (d *demo) begin(p *demoPart, l *demoLine, k dimension) (size, factor float64) {
	if _, known := p.size[k]; !known {
		low, high := number(l.newMin), number(l.newMax)
		p.size[k] = (low+high)/2 + (high-low)*0.3*(2*d.rand.Float64()-1)
		x := math.Max(-mostSpread, math.Min(mostSpread, d.rand.NormFloat64()))
		p.factor[k] = math.Exp(spread * x)
		if at, ok := p.first[k]; ok {
			p.size[k], p.factor[k] = at, 1
		}
		if times, ok := p.fast[k.feature]; ok {
			p.factor[k] = times
		}
		if p.engine != nil && p.engine.fast[k.feature] > 0 {
			p.factor[k] *= p.engine.fast[k.feature]
		}
	}
	return p.size[k], p.factor[k]
}

// number reads a figure of a demo table.
func number(text string) float64 {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		panic("demo: " + err.Error())
	}
	return x
}
