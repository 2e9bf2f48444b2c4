package server

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// regroove works out which over-width rings a worn groove can be machined
// for. It reckons only: nothing is saved and nothing decided.
func (s *Server) regroove(w http.ResponseWriter, r *http.Request) error {
	p, err := s.partOf(r)
	if err != nil {
		return err
	}
	if p.Kind != wear.Piston {
		return errBadAddress
	}
	k, err := s.ringBook(r.Context())
	if err != nil {
		return err
	}
	g := &regrooving{ringBook: k, f: asked(r), piston: p, known: map[string]sized{}}
	for _, name := range []string{fieldGroove, fieldLeast, fieldMost, "clean_up", "rings", "shelf", "above", "above_min", "below", "below_min", "share"} {
		g.sent = g.sent || r.URL.Query().Has(name)
	}
	if err := g.read(); err != nil {
		return err
	}
	page := views.Regroove{Page: s.page(r, "Over-width ring for "+partName(p.Kind, p.Serial), views.NavParts), Action: href("/parts/", p.ID, "/regroove"), Piston: p.Serial, Unit: k.set.Unit.Name,
		Groove: itoa(g.groove), Back: views.Link{Text: "Back to the piston", Href: href("/parts/", p.ID)}, Measure: href("/measure/part/", p.ID), Hints: g.hints(), Shelf: g.shelfFacts}
	for n := 1; n <= max(g.model.Grooves, g.groove); n++ {
		page.Grooves = append(page.Grooves, views.GrooveLink{Number: itoa(n), Href: href("/parts/", p.ID, "/regroove?groove=", n), Shown: n == g.groove})
	}
	if g.sent {
		g.work(&page)
	}
	page.Draft = g.f.draft()
	return s.draw(w, r, g.f.status(), views.RegroovePage(page))
}

// regrooving is the work on one groove.
type regrooving struct {
	*ringBook
	f          *form
	sent       bool // something was filled in
	piston     store.Part
	model      store.Model
	limits     store.Limits
	groove     int
	known      map[string]sized // what stands in a field before it is changed, by its name
	original   *ringSide        // nil where no ring is known in the groove
	bore       sized
	hasBore    bool
	shelf      []*ringSide
	shelfFacts []views.Fact
	rings      []wear.WidthRing
	share      int // of the cut that comes off the land below, %
}

// The fields that the book fills in.
const (
	fieldGroove = "groove_width"
	fieldLeast  = "clearance_min"
	fieldMost   = "clearance_max"
)

func (g *regrooving) read() error {
	d := dossier{part: g.piston}
	var err error
	if d.stays, err = g.book.StaysOf(g.ctx, g.piston.ID); err != nil {
		return err
	}
	if err := d.readModel(g.ctx, g.book); err != nil {
		return err
	}
	g.model, g.limits = d.model, d.limits
	if g.f.text("groove") == "" {
		g.f.values["groove"] = "1"
	}
	if g.groove = g.f.number("groove", 1, 8, true); g.groove == 0 {
		g.groove = 1
	}
	rs, err := g.book.ReadingsOf(g.ctx, g.piston.ID)
	if err != nil {
		return err
	}
	if f, ok := g.feature(wear.Piston, "groove width"); ok {
		if v, ok := g.latest(rs, f, g.groove); ok {
			g.known[fieldGroove] = v
		}
	}
	g.readClearance()
	g.readLands(rs)
	for name, v := range g.known {
		if _, said := g.f.values[name]; !said {
			g.f.values[name] = v.typed()
		}
	}
	for name, text := range map[string]string{"clean_up": "0", "share": "50"} {
		if _, said := g.f.values[name]; !said {
			g.f.values[name] = text
		}
	}
	if err := g.readOriginal(d.stays); err != nil {
		return err
	}
	return g.readShelf()
}

func (g *regrooving) readClearance() {
	f, ok := g.feature(wear.Piston, "side clearance")
	if !ok {
		return
	}
	row := g.limits.For(f.ID, g.groove)
	if row == nil {
		return
	}
	from := sized{unit: g.set.Unit, from: "new limit of the side clearance", href: href("/limits/", row.ID, "/history")}
	if t := source(row); t != "" {
		from.from += ", " + t
	}
	for name, v := range map[string]*wear.Value{fieldLeast: row.NewMin, fieldMost: row.NewMax} {
		if v != nil {
			from.Value = *v
			g.known[name] = from
		}
	}
}

// readLands fills in the lands where the shop has a feature of its own for
// them: land width 1 above groove 1 and so on, or one land width for all.
func (g *regrooving) readLands(rs []store.Reading) {
	for name, n := range map[string]int{"above": g.groove, "below": g.groove + 1} {
		f, ok := g.feature(wear.Piston, "land width "+itoa(n))
		if !ok {
			f, ok = g.feature(wear.Piston, "land width")
		}
		if !ok || f.Dim != wear.Length {
			continue
		}
		if v, ok := g.latest(rs, f, 0); ok {
			g.known[name] = v
		}
		if row := g.limits.For(f.ID, 0); row != nil && row.ServiceMin != nil {
			g.known[name+"_min"] = sized{Gauged: wear.Gauged{Value: *row.ServiceMin}, unit: g.set.Unit, from: "service limit, " + source(row), href: href("/limits/", row.ID, "/history")}
		}
	}
}

// readOriginal finds the ring in the groove, now or last, and the bore it runs
// in.
func (g *regrooving) readOriginal(stays []store.Stay) error {
	for _, st := range slices.Backward(stays) {
		if st.Void != "" {
			continue
		}
		there, err := g.book.StaysAt(g.ctx, st.Engine, st.Position)
		if err != nil {
			return err
		}
		for _, o := range slices.Backward(there) {
			if o.Kind != wear.Ring || o.Groove != g.groove || !o.Open() && o.To < st.From || !st.Open() && o.From > st.To {
				continue
			}
			p, err := g.book.Part(g.ctx, o.Part)
			if err != nil {
				return err
			}
			if g.original, err = g.measured(p, "original"); err != nil {
				return err
			}
			// a ring that ran has lost force, and may have pressed too hard itself
			if maker := g.makers(g.limits, g.groove, g.model.Name); maker.forced() {
				g.original = maker
			}
			cylinder, found, err := g.barrelOf(p.ID)
			if err != nil || !found {
				return err
			}
			g.bore, g.hasBore, err = g.barrelBore(cylinder)
			return err
		}
		return nil
	}
	return nil
}

// readShelf lists the rings on the shelf that are made for this groove and
// whose axial width was measured.
func (g *regrooving) readShelf() error {
	rows, _, err := g.book.Parts(g.ctx, store.PartFilter{Kind: wear.Ring, Status: "on shelf", Model: g.model.ID, Limit: 200})
	if err != nil {
		return err
	}
	for _, row := range rows {
		if row.Groove != 0 && row.Groove != g.groove || row.LastDay == "" {
			continue
		}
		side, err := g.measured(row.Part, "offered")
		if err != nil {
			return err
		}
		width, ok := side.sizes["axial width"]
		if !ok {
			continue
		}
		g.shelf = append(g.shelf, side)
		value := width.text()
		if row.WidthClass != "" {
			value += ", " + row.WidthClass
		}
		g.shelfFacts = append(g.shelfFacts, views.Fact{Label: side.name, Value: value, Href: href("/parts/", row.ID)})
	}
	return nil
}

// hints say where each field's number comes from.
func (g *regrooving) hints() map[string]string {
	out := map[string]string{}
	for name, v := range g.known {
		out[name] = capital(v.from) + "."
	}
	return out
}

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
	if k, ok := g.known[name]; ok && g.f.text(name) == k.typed() {
		return wear.Gauged{Value: *v, U: k.U}
	}
	return wear.Gauged{Value: *v, U: float64(wear.AssumedSD(wear.Length))}
}

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

// longestOffer is 1 m: no ring is so wide.
const longestOffer wear.Value = 1_000_000_000

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
	if o.least > longestOffer || o.most > longestOffer {
		return o, "a ring is less than 1 m wide: look for a slip of the decimal point"
	}
	if o.least <= 0 || o.most < o.least {
		return o, "the width runs from the least to the most, both above 0"
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
		o.force = &v
	}
	return o, ""
}

func trimUnit(text string, u wear.Unit) string {
	return strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), u.Name))
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

func (g *regrooving) draw(p *views.Regroove, list []wear.Regroove) {
	p.Summary = wear.RegrooveSummary(list)
	if c := list[0].Pressure; list[0].Works && c != nil && c.Warn {
		p.Summary += " But its pressure is not the original's: see below."
	}
	worked := &views.RingWorked{Assumed: []string{
		fmt.Sprintf("%d %% of the cut comes off the land below, the rest off the land above; nothing else of the piston changes.", g.share),
		fmt.Sprintf("A number that was not read in the book counts as measured to %s %s (one standard deviation).", inUnit(float64(wear.AssumedSD(wear.Length)), g.set.Unit, 0), g.set.Unit.Name),
		"The order of the list is common practice, no source: what works first, then what presses like the original, then the least cut.",
	}, Unknown: []string{
		"Whether the maker allows this groove to be machined, and how wide.",
		"Whether the land is sound, and what is left of the piston's strength there.",
		"How square and smooth the machined groove comes out: measure it before a ring goes in.",
	}}
	u := g.set.Unit
	for _, x := range list {
		row := views.RegrooveRow{Name: x.Ring.Name, Works: x.Works, Word: "does not work", Ring: span(x.Ring.WidthMin, x.Ring.WidthMax, u), Notes: x.Notes}
		if x.Works {
			row.Word = "works"
		}
		for _, reason := range x.Reasons {
			row.Reasons = append(row.Reasons, capital(string(reason)))
		}
		if x.GrooveMin <= x.GrooveMax {
			row.Groove = span(x.GrooveMin, x.GrooveMax, u)
		}
		if x.CutMax > 0 {
			row.Cut = span(x.CutMin, x.CutMax, u)
		}
		for _, l := range x.Lands {
			text := l.Land.Name + " " + l.Left.Format(u) + " " + u.Name
			if l.Bounded {
				text += ", least " + l.Land.Min.Format(u)
			}
			row.Lands = append(row.Lands, views.RegrooveLand{Text: text, Verdict: landWord(l)})
		}
		if x.NeededForce > 0 {
			row.Force = fmt.Sprintf("%.1f N", x.NeededForce)
		}
		if c := x.Pressure; c != nil {
			row.Ratio, row.RatioWord = fmt.Sprintf("%.2f ± %.2f", c.Ratio, wear.ExpandedU(c.U)), string(c.State)
			if c.Warn {
				row.Notes = append(row.Notes, strings.TrimSuffix(c.Words, "."))
			}
		}
		p.Rows = append(p.Rows, row)
		steps := workedSteps(x.Working)
		if c := x.Pressure; c != nil {
			steps = append(append(steps, pressureSteps(c.Offered)...), workedSteps(c.Working)...)
		}
		worked.Groups = append(worked.Groups, views.StepGroup{Title: x.Ring.Name, Steps: steps})
	}
	if o := g.original; o != nil {
		p.Original = &views.Link{Text: "the maker's new ring", Href: href("/limits?model=", g.model.ID)}
		if o.part != nil {
			p.Original = &views.Link{Text: o.name + ", as last measured", Href: href("/parts/", o.part.ID)}
		}
		if was := g.pressureOf(o); was != nil {
			worked.Groups = append(worked.Groups, views.StepGroup{Title: o.name + ", the original", Steps: pressureSteps(*was)})
			for _, a := range was.Assumed {
				worked.Assumed = append(worked.Assumed, capital(a)+".")
			}
			worked.Assumed = append(worked.Assumed, "The bore is "+g.bore.text()+", "+g.bore.from+".")
		} else {
			p.Lacks = o.missing()
			if len(p.Lacks) == 0 {
				p.Lacks = []views.Link{{Text: "measure the barrel it runs in"}}
			}
		}
	}
	p.Worked = worked
}

func span(low, high wear.Value, u wear.Unit) string {
	if low == high {
		return low.Format(u) + " " + u.Name
	}
	return low.Format(u) + " to " + high.Format(u) + " " + u.Name
}

// landWord is the verdict of what is left of a land.
func landWord(l wear.LandLeft) string {
	if !l.Bounded {
		return ""
	}
	return l.Verdict.String()
}
