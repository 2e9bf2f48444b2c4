package wear

import (
	"fmt"
	"strings"
)

// Kind is the kind of a serialised part.
type Kind string

// The four kinds of part a cylinder position holds.
const (
	Cylinder Kind = "cylinder"
	Piston   Kind = "piston"
	Ring     Kind = "ring"
	Pin      Kind = "pin"
)

// Kinds lists the kinds in the order of the stack.
var Kinds = []Kind{Cylinder, Piston, Ring, Pin}

// ParseKind reads a kind, in any case, singular or plural, with space about it;
// false for anything else. Source: the book's own names.
func ParseKind(s string) (Kind, bool) {
	s = strings.TrimSuffix(strings.ToLower(strings.TrimSpace(s)), "s")
	for _, k := range Kinds {
		if string(k) == s {
			return k, true
		}
	}
	return "", false
}

// Direction says which way a dimension goes as the part wears.
type Direction string

// A bore grows with wear, a shaft shrinks, and a weight is no wear measure.
const (
	Up     Direction = "up"
	Down   Direction = "down"
	NoWear Direction = "none"
)

// ParseDirection reads "up" or "down", and "none" for what does not wear, in any
// case; false for anything else. Source: the book's own names.
func ParseDirection(s string) (Direction, bool) {
	switch d := Direction(strings.ToLower(strings.TrimSpace(s))); d {
	case Up, Down, NoWear:
		return d, true
	}
	return "", false
}

// Sign is the factor that makes wear positive: +1 for Up, -1 for Down, 0 for
// NoWear and for anything else. Source: by definition.
func (d Direction) Sign() float64 {
	switch d {
	case Up:
		return 1
	case Down:
		return -1
	}
	return 0
}

// Feature is one thing measured on a kind of part.
type Feature struct {
	ID        int64
	Kind      Kind
	Name      string
	Dim       Dimension
	Unit      string // the unit a Plain feature is written in; empty where the book's unit serves
	Wear      Direction
	Groove    bool     // measured per ring groove
	Stations  bool     // measured at the model's barrel stations
	Places    []string // named places instead of stations: intake, exhaust
	Axes      bool     // measured along the pin axis and across it
	Oversize  bool     // limits move with the part's oversize
	BuiltIn   bool
	Fit       bool // worked out from sizes of parts as a rule, seldom measured itself
	Derived   bool // worked out always: a sheet does not ask for it
	InBore    bool // the reading depends on the bore it was taken in (ring end gap)
	Clearance bool // room between two parts or the ends of a ring: too little of it binds
	Aliases   []string
}

// BuiltIn are the features every book knows. What wears which way is common
// practice, no source; stations and axes follow FAA-H-8083-32, dimensional
// inspection.
var BuiltIn = []Feature{
	{Kind: Cylinder, Name: "barrel bore", Dim: Length, Wear: Up, Stations: true, Axes: true, Oversize: true, Aliases: []string{"bore", "cylinder bore"}},
	{Kind: Cylinder, Name: "guide bore", Dim: Length, Wear: Up, Places: []string{"intake", "exhaust"}, Aliases: []string{"valve guide bore"}},
	{Kind: Cylinder, Name: "valve stem", Dim: Length, Wear: Down, Places: []string{"intake", "exhaust"}, Aliases: []string{"stem"}},
	{Kind: Cylinder, Name: "stem clearance", Dim: Length, Wear: Up, Clearance: true, Places: []string{"intake", "exhaust"}, Fit: true},
	{Kind: Cylinder, Name: "gap of a pushed ring", Dim: Length, Wear: Up, Clearance: true, Stations: true, Fit: true},
	{Kind: Cylinder, Name: "choke", Dim: Length, Wear: Down, Fit: true, Derived: true}, // how much narrower the barrel is at the head than at its lower end
	{Kind: Cylinder, Name: "weight", Dim: Mass, Wear: NoWear},
	{Kind: Piston, Name: "piston skirt", Dim: Length, Wear: Down, Axes: true, Oversize: true, Aliases: []string{"skirt"}},
	{Kind: Piston, Name: "pin bore", Dim: Length, Wear: Up, Axes: true, Aliases: []string{"piston pin bore"}},
	{Kind: Piston, Name: "groove width", Dim: Length, Wear: Up, Groove: true, Aliases: []string{"ring groove width"}},
	{Kind: Piston, Name: "side clearance", Dim: Length, Wear: Up, Clearance: true, Groove: true, Aliases: []string{"ring side clearance"}},
	{Kind: Piston, Name: "skirt clearance", Dim: Length, Wear: Up, Clearance: true, Fit: true},
	{Kind: Piston, Name: "pin clearance", Dim: Length, Wear: Up, Clearance: true, Fit: true},
	{Kind: Piston, Name: "weight", Dim: Mass, Wear: NoWear},
	{Kind: Ring, Name: "axial width", Dim: Length, Wear: Down, Aliases: []string{"ring axial width", "ring width"}},
	{Kind: Ring, Name: "radial thickness", Dim: Length, Wear: Down, Aliases: []string{"ring radial thickness"}},
	{Kind: Ring, Name: "end gap", Dim: Length, Wear: Up, Clearance: true, InBore: true, Aliases: []string{"ring end gap", "ring gap", "gap"}},
	{Kind: Ring, Name: "tangential force", Dim: Force, Wear: Down, Aliases: []string{"wall tension", "tension"}},
	{Kind: Ring, Name: "diametral force", Dim: Force, Wear: Down},
	{Kind: Ring, Name: "free gap", Dim: Length, Wear: Down},
	{Kind: Ring, Name: "weight", Dim: Mass, Wear: NoWear},
	{Kind: Pin, Name: "pin diameter", Dim: Length, Wear: Down, Aliases: []string{"diameter"}},
	{Kind: Pin, Name: "rod bushing bore", Dim: Length, Wear: Up, Aliases: []string{"bushing bore"}}, // of the rod that it runs in
	{Kind: Pin, Name: "bushing clearance", Dim: Length, Wear: Up, Clearance: true, Fit: true},
	{Kind: Pin, Name: "weight", Dim: Mass, Wear: NoWear},
}

// Span is between which sizes a feature of any piston engine lies, with room to
// spare: what is outside is a slip of the decimal point or of the unit. In base
// units; not ok for a shop's own features. The land width is none that the book
// has by itself, but one that is typed. Source: common practice, no source.
func (f Feature) Span() (least, most Value, ok bool) {
	const inch, newton, kilogram = 25_400_000, 1_000_000, 1_000_000_000
	switch {
	case !f.BuiltIn:
		return 0, 0, false
	case f.Dim == Mass:
		return 0, 50 * kilogram, true
	case f.Dim == Force:
		return 0, 1000 * newton, true
	case f.Fit || f.Clearance:
		return -inch / 2, inch / 2, true
	}
	switch f.Name {
	case "barrel bore", "piston skirt":
		return inch / 2, 40 * inch, true // a ship's liner has 24
	case "groove width", "axial width", "radial thickness":
		return 0, inch, true
	case "guide bore", "valve stem", "free gap", "land width":
		return 0, 5 * inch, true
	}
	return 0, 20 * inch, true // of pins and what they run in
}

// Outside says in words that a size cannot be meant for a feature, by its
// Span; "" where it can. Source: common practice, no source.
func (f Feature) Outside(v Value, u Unit) string {
	least, most, ok := f.Span()
	if !ok || u.Dim != f.Dim || v >= least && v <= most {
		return ""
	}
	a := "A"
	if strings.IndexAny(f.Name, "aeiou") == 0 {
		a = "An"
	}
	return fmt.Sprintf("%s %s: is the decimal point right? %s %s is between %s and %s %s", v.Format(u), u.Name, a, f.Name, least.Format(u), most.Format(u), u.Name)
}

// Called reports whether the feature goes by this name or one of its aliases,
// both as NormalName has them. Source: the book's own names.
func (f Feature) Called(name string) bool {
	n := NormalName(name)
	if n == NormalName(f.Name) {
		return true
	}
	for _, a := range f.Aliases {
		if n == NormalName(a) {
			return true
		}
	}
	return false
}

// Expands reports whether the reading grows with the part as it warms: the size
// of one part does, the room between two does not. Source: ISO 1 for the size
// of one part; for the room, the computation at Count.
func (f Feature) Expands() bool { return f.Dim == Length && !f.Fit && !f.Clearance }

// spaces are what stands for a space in a name.
var spaces = strings.NewReplacer("_", " ", "-", " ")

// NormalName folds case, underscores, hyphens and runs of spaces, so that names
// can be compared; applied twice it changes nothing more. Source: the book's
// own rule.
func NormalName(s string) string {
	s = strings.ToLower(spaces.Replace(s))
	return strings.Join(strings.Fields(s), " ")
}

// Spots are the places at which a feature is measured, given the model's barrel
// stations and axes: each pair is a station (or place) and an axis, "" where
// there is none. The feature's stations come before its own places; there is
// always at least one spot, and places × axes of them. Source: FAA-H-8083-32,
// dimensional inspection, for stations and axes.
func (f Feature) Spots(stations, axes []string) [][2]string {
	places := f.Places
	if f.Stations {
		places = stations
	}
	if len(places) == 0 {
		places = []string{""}
	}
	if !f.Axes || len(axes) == 0 {
		axes = []string{""}
	}
	var spots [][2]string
	for _, p := range places {
		for _, a := range axes {
			spots = append(spots, [2]string{p, a})
		}
	}
	return spots
}
