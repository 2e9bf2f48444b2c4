package views

// WearChart is the drawing of how a part wears at one spot: the dimension, in
// the book's unit, over hours. It shows one run, with hours in the run, or all
// runs, with the part's own hours.
type WearChart struct {
	ID      string  // makes the ids of the drawing its own on the page; "chart" when empty
	Title   string  // "Barrel bore, top, of cylinder C-1041"
	Summary string  // what the chart shows, in a sentence or two, for those who hear it
	XLabel  string  // "hours since installation"
	YLabel  string  // "barrel bore, in"
	XMax    float64 // hours at the right edge; 0 lets the chart choose

	Points   []ChartPoint
	NewMin   *float64
	NewMax   *float64
	Service  []ChartLimit
	Band     []ChartBand // 90 % of normal parts, by growing hours
	Forecast []ChartBand // from the latest reading on, 90 %
	ToLimit  *ChartReach
	Runs     []ChartRun // where runs begin
}

// ChartPoint is a reading.
type ChartPoint struct {
	Hours, Value float64
	U            float64 // expanded uncertainty, drawn as error bar; 0 for none
	Run          int     // readings of one run are joined
	Mark         PointMark
	Says         string // "2024-02-02, 1,204 h: 5.2535 ± 0.0004 in, serviceable"
}

// PointMark is what became of a reading.
type PointMark int

// A reading is used, left out of the judgement, assumed (the middle of the
// new limits stands for it), or struck through by a correction.
const (
	PointUsed PointMark = iota
	PointLeftOut
	PointAssumed
	PointStruck
)

// ChartLimit is a bound in service.
type ChartLimit struct {
	Value float64
	Label string // "service limit 5.2560"
}

// ChartBand is an interval at some hours with its middle.
type ChartBand struct{ Hours, Low, Mid, High float64 }

// ChartReach is when the service limit is reached: an interval of hours, on
// the same axis as the points.
type ChartReach struct {
	Value             float64 // the limit
	Low, Median, High float64
	Label             string // "limit at about 1,240 h (980 to 1,600)"
}

// ChartRun is where a run begins.
type ChartRun struct {
	Hours float64
	Label string // "honed"
}

// Wide draws the chart for a table's width and for paper.
func (c WearChart) Wide() string { return c.draw("wide", 860, 430) }

// Narrow draws the chart for a phone.
func (c WearChart) Narrow() string { return c.draw("narrow", 380, 400) }

// draw draws the chart at a size. Lines lie in this order: bands, limits,
// forecast, readings, words.
func (c WearChart) draw(kind string, wide, high float64) string {
	id := orWord(c.ID, "chart") + "-" + kind
	f := c.frame(wide, high)
	d := &drawing{}
	d.open("svg", "class", "chart chart-"+kind, "viewBox", "0 0 "+coord(wide)+" "+coord(high), "role", "img", "aria-labelledby", id+"-title "+id+"-desc")
	d.text("title", c.Title, "id", id+"-title")
	d.text("desc", c.Summary, "id", id+"-desc")
	d.open("clipPath", "id", id+"-clip")
	d.shape("rect", "x", f.left, "y", f.top, "width", f.right-f.left, "height", f.bottom-f.top)
	d.close("clipPath")
	d.axes(f, c.XLabel, c.YLabel)
	d.open("g", "clip-path", "url(#"+id+"-clip)")
	d.newLimits(f, c.NewMin, c.NewMax)
	d.band(f, c.Band, "chart-band", "chart-band-mid")
	d.band(f, c.Forecast, "chart-fan", "chart-fan-mid")
	for _, l := range c.Service {
		if finite(l.Value) {
			d.shape("path", "class", "chart-limit", "d", pathOf([]place{{f.left, f.y(l.Value)}, {f.right, f.y(l.Value)}}, false))
		}
	}
	d.runs(f, c.Runs)
	d.readings(f, c.Points)
	d.reach(f, c.ToLimit)
	d.close("g")
	d.words(f, c)
	d.close("svg")
	return d.String()
}
