package views

import "math"

// Barrel is the geometry of a cylinder's barrel from its latest measuring.
type Barrel struct {
	Day, SheetHref string
	Axes           []string
	Stations       []BarrelStation // head end first
	Facts          []Fact          // taper or choke, largest diameter, oversize ...
	Says           []string        // in sentences: what was assumed, where two measurements disagree
	Warn           []string        // of those, what needs attention
	Section        BarrelSection
	Steps          []WorkedStep
}

// BarrelStation is one station of the barrel.
type BarrelStation struct {
	Name       string
	Values     []string // by axis; "" where it was not measured
	Mean       string
	OutOfRound string   // "" with one axis
	Wear       []string // since the baseline, by axis; none without one
	Largest    bool     // the largest diameter is here
}

// BarrelSection is the barrel cut along its length, with its wear drawn much
// larger than itself. Lengths are nanometres of diameter.
type BarrelSection struct {
	Title    string
	Size     float64 // the diameter that the straight walls stand for
	SizeName string  // "new, at most 5.2510"
	Limit    float64 // service maximum, 0 for none
	Cuts     []BarrelCut
	Unit     func(float64) string // writes a diameter
}

// BarrelCut is the section across one axis.
type BarrelCut struct {
	Axis   string
	Points []BarrelPoint // head end first
}

// BarrelPoint is the diameter at a station, and the first one measured there;
// 0 where there is none.
type BarrelPoint struct {
	Station    string
	Now, First float64
}

// Measures of the section, in units of the drawing.
const (
	cutWide   = 330.0
	cutHalf   = 88.0 // half the straight bore
	cutWall   = 24.0
	cutTop    = 46.0
	cutStep   = 58.0
	cutReach  = 34.0 // the farthest deviation on either side
	cutBottom = 34.0
)

// scale is how many units of the drawing a nanometre of diameter takes on
// either side, and how many times larger than itself the wear is drawn.
func (s BarrelSection) scale() (perNM, times float64) {
	most := math.Abs(s.Limit - s.Size)
	if s.Limit == 0 {
		most = 0
	}
	for _, c := range s.Cuts {
		for _, p := range c.Points {
			for _, d := range [...]float64{p.Now, p.First} {
				if d > 0 {
					most = math.Max(most, math.Abs(d-s.Size))
				}
			}
		}
	}
	if most == 0 || s.Size <= 0 {
		return 0, 1
	}
	perNM = cutReach / most
	return perNM, perNM * s.Size / cutHalf
}

// Scale says how much larger the wear is drawn.
func (s BarrelSection) Scale() string {
	_, times := s.scale()
	digits := math.Pow(10, math.Floor(math.Log10(math.Max(times, 1))))
	return "The bore is drawn straight at " + s.SizeName + "; what departs from it is drawn about " + itoa(int(math.Round(times/digits)*digits)) + " times larger than the barrel."
}

// Draw draws the cuts side by side.
func (s BarrelSection) Draw() string {
	if len(s.Cuts) == 0 {
		return ""
	}
	n := 0
	for _, c := range s.Cuts {
		n = max(n, len(c.Points))
	}
	wide, high := cutWide*float64(len(s.Cuts)), cutTop+cutStep*float64(n)+cutBottom
	var d drawing
	d.open("svg", "class", "section", "viewBox", "0 0 "+coord(wide)+" "+coord(high), "role", "img", "aria-labelledby", "section-title section-desc")
	d.text("title", s.Title, "id", "section-title")
	d.text("desc", s.Scale()+" The numbers are in the table beside it.", "id", "section-desc")
	for i, c := range s.Cuts {
		s.cut(&d, c, cutWide*(float64(i)+0.5))
	}
	d.close("svg")
	return d.String()
}

// cut draws one section about a middle line.
func (s BarrelSection) cut(d *drawing, c BarrelCut, mid float64) {
	perNM, _ := s.scale()
	n := len(c.Points)
	top, bottom := cutTop-12, cutTop+cutStep*float64(n)-cutStep+24
	across := "across the " + c.Axis + " axis"
	if c.Axis == "" {
		across = "one axis"
	}
	d.text("text", across, "class", "section-name", "x", mid, "y", 18.0, "text-anchor", "middle")
	at := func(side, diameter, y float64) place {
		return place{mid + side*(cutHalf+(diameter-s.Size)*perNM), y}
	}
	for _, side := range [...]float64{-1, 1} {
		wall := []place{{mid + side*(cutHalf+cutReach+cutWall), top}}
		var first []place
		for i, p := range c.Points {
			y := cutTop + cutStep*float64(i)
			if p.Now > 0 {
				if len(wall) == 1 {
					wall = append(wall, at(side, p.Now, top))
				}
				wall = append(wall, at(side, p.Now, y))
			}
			if p.First > 0 {
				first = append(first, at(side, p.First, y))
			}
		}
		if len(wall) > 1 {
			wall = append(wall, place{wall[len(wall)-1].x, bottom})
		}
		wall = append(wall, place{mid + side*(cutHalf+cutReach+cutWall), bottom})
		d.shape("path", "class", "section-wall", "d", pathOf(wall, true))
		d.shape("path", "class", "section-new", "d", pathOf([]place{{mid + side*cutHalf, top}, {mid + side*cutHalf, bottom}}, false))
		if s.Limit > 0 {
			d.shape("path", "class", "section-limit", "d", pathOf([]place{at(side, s.Limit, top), at(side, s.Limit, bottom)}, false))
		}
		if len(first) > 1 {
			d.shape("path", "class", "section-first", "d", pathOf(first, false))
		}
	}
	for i, p := range c.Points {
		y := cutTop + cutStep*float64(i)
		d.text("text", p.Station, "class", "section-name", "x", mid, "y", y-6, "text-anchor", "middle")
		if p.Now > 0 {
			d.text("text", s.Unit(p.Now), "class", "section-size", "x", mid, "y", y+13, "text-anchor", "middle")
		}
	}
}
