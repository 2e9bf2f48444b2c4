package server

import (
	"strings"

	"barrelbook/wear"
)

// gauged reads a length; its uncertainty is that of the reading it was filled
// in from, else that of a shop gauge.
func (g *regrooving) gauged(name string, need bool) wear.Gauged {
	v := g.f.value(name, g.set.Unit)
	switch {
	case v == nil:
		if need && g.f.text(name) == "" {
			g.f.fault(name, "give this size")
		}
		return wear.Gauged{}
	case *v <= 0 && need && name != fieldLeast:
		g.f.fault(name, "a number above 0")
		return wear.Gauged{}
	case *v < 0:
		g.f.fault(name, "0 or more")
		return wear.Gauged{}
	}
	if why := implausible(wear.Piston, typedFor[name], *v, g.set.Unit); why != "" {
		g.f.fault(name, "%s", why)
		return wear.Gauged{}
	}
	if k, ok := g.known[name]; ok && g.f.text(name) == k.typed() {
		return wear.Gauged{Value: *v, U: k.U}
	}
	return wear.Gauged{Value: *v, U: float64(wear.AssumedSD(wear.Length))}
}

// typedFor names the features that sizes are typed for.
var typedFor = map[string]string{fieldGroove: "groove width", fieldLeast: "side clearance", fieldMost: "side clearance", "clean_up": "groove width", "above": landWidth, "below": landWidth}

const landWidth = "land width"

// land is a land where it was given.
func (g *regrooving) land(name, label string, percent int) []wear.CutLand {
	least := g.f.value(name+"_min", g.set.Unit)
	if g.f.text(name) == "" {
		if least != nil {
			g.f.fault(name, "give the land's width beside its limit")
		}
		return nil
	}
	if least != nil && *least < 0 {
		g.f.fault(name+"_min", "0 or more")
	} else if least != nil {
		if why := implausible(wear.Piston, landWidth, *least, g.set.Unit); why != "" {
			g.f.fault(name+"_min", "%s", why)
		}
	}
	return []wear.CutLand{{Name: label, Width: g.gauged(name, true), Min: least, Percent: percent}}
}

// offer is a ring that was listed.
type offer struct {
	name        string
	least, most wear.Value
	force       *wear.Value
	forceStep   wear.Value
	side        *ringSide
}

// readOffers reads the list of rings, one a line: 0.010 over = 0.1030 to
// 0.1035, 46 N.
func (g *regrooving) readOffers() []offer {
	var out []offer
	for i, line := range strings.Split(g.f.text("rings"), "\n") {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		o, why := readOffer(line, g.set.Unit)
		if why != "" {
			g.f.fault("rings", "line %d: %s", i+1, why)
			return nil
		}
		out = append(out, o)
	}
	return out
}

func readOffer(line string, u wear.Unit) (o offer, why string) {
	name, sizes, named := strings.Cut(line, "=")
	if !named {
		sizes = line
	}
	sizes, force, forced := strings.Cut(sizes, ",")
	low, high, span := strings.Cut(sizes, " to ")
	if !span {
		high = low
	}
	o.name = strings.TrimSpace(name)
	if !named || o.name == "" {
		o.name = trimUnit(sizes, u) + " " + u.Name
	}
	var err error
	if o.least, err = wear.ParseValue(trimUnit(low, u), u); err != nil {
		return o, err.Error()
	}
	if o.most, err = wear.ParseValue(trimUnit(high, u), u); err != nil {
		return o, err.Error()
	}
	if o.least <= 0 || o.most < o.least {
		return o, "the width runs from the least to the most, both above 0"
	}
	if why := implausible(wear.Ring, "axial width", o.most, u); why != "" {
		return o, why
	}
	if forced {
		text := trimUnit(force, wear.Newton)
		v, err := wear.ParseValue(text, wear.Newton)
		if err != nil {
			return o, "tangential force: " + err.Error()
		}
		if o.forceStep, err = wear.LastDigit(text, wear.Newton); err != nil || v <= 0 {
			return o, "a tangential force in N, above 0"
		}
		if why := implausible(wear.Ring, "tangential force", v, wear.Newton); why != "" {
			return o, why
		}
		o.force = &v
	}
	return o, ""
}

func trimUnit(text string, u wear.Unit) string {
	return strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), u.Name))
}
