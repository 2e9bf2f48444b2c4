package server

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// asked is a form that came in the address: nothing is saved by it.
func asked(r *http.Request) *form {
	f := blankForm(map[string]string{})
	for name, v := range r.URL.Query() {
		f.values[name] = v[0]
	}
	return f
}

// makersRing is the choice of the maker's new ring as the original.
const makersRing = "maker"

// compareRings sets a ring's contact pressure against that of the ring it
// replaces.
func (s *Server) compareRings(w http.ResponseWriter, r *http.Request) error {
	p, err := s.partOf(r)
	if err != nil {
		return err
	}
	if p.Kind != wear.Ring {
		return errBadAddress
	}
	k, err := s.ringBook(r.Context())
	if err != nil {
		return err
	}
	c := &comparing{ringBook: k, f: asked(r), ring: p}
	if err := c.read(); err != nil {
		return err
	}
	page := views.RingCompare{Page: s.page(r, "Compare "+partName(p.Kind, p.Serial), views.NavParts), Action: href("/parts/", p.ID, "/compare"), Ring: p.Serial, Unit: k.set.Unit.Name,
		Back: views.Link{Text: "Back to the ring", Href: href("/parts/", p.ID)}, Materials: choices(store.RingMaterials...), Choices: c.choices, Warn: ratio2(k.set.Pressure), Typed: c.f.text("force") != "" || c.f.text("width") != ""}
	if c.f.ok() {
		c.draw(&page)
	}
	page.Draft = c.f.draft()
	return s.draw(w, r, c.f.status(), views.RingComparePage(page))
}

// comparing is the work of one comparison.
type comparing struct {
	*ringBook
	f                 *form
	ring              store.Part
	groove            int // that it is made for, else that it sits or sat in
	limits            store.Limits
	model             store.Model
	choices           []views.Option
	offered, original *ringSide
	bore              sized
	hasBore           bool
	cylinder          store.Part // that the bore is of, zero where it is of none
}

// read reads both rings and the bore.
func (c *comparing) read() error {
	var err error
	if c.offered, err = c.measured(c.ring, "offered"); err != nil {
		return err
	}
	if err := c.readModel(); err != nil {
		return err
	}
	before, err := c.before()
	if err != nil {
		return err
	}
	if err := c.choose(before); err != nil {
		return err
	}
	return c.readBore()
}

func (c *comparing) readModel() (err error) {
	d := dossier{part: c.ring}
	if d.stays, err = c.book.StaysOf(c.ctx, c.ring.ID); err != nil {
		return err
	}
	if err := d.readModel(c.ctx, c.book); err != nil {
		return err
	}
	c.model, c.limits, c.groove = d.model, d.limits, c.ring.Groove
	if c.groove == 0 && len(d.stays) > 0 {
		c.groove = d.stays[len(d.stays)-1].Groove
	}
	return nil
}

// before lists the rings that sat in the ring's places before it, the last
// one first.
func (c *comparing) before() ([]store.Stay, error) {
	mine, err := c.book.StaysOf(c.ctx, c.ring.ID)
	if err != nil {
		return nil, err
	}
	var out []store.Stay
	for _, st := range slices.Backward(mine) {
		if st.Void != "" {
			continue
		}
		there, err := c.book.StaysAt(c.ctx, st.Engine, st.Position)
		if err != nil {
			return nil, err
		}
		for _, o := range slices.Backward(there) {
			known := slices.ContainsFunc(out, func(x store.Stay) bool { return x.Part == o.Part })
			if o.Kind == wear.Ring && o.Groove == st.Groove && o.Part != c.ring.ID && !o.Open() && o.To <= st.From && !known {
				out = append(out, o)
			}
		}
	}
	return out, nil
}

// choose finds the original: typed sizes go before a serial, and that before
// what was chosen from the list.
func (c *comparing) choose(before []store.Stay) error {
	for _, st := range before {
		c.choices = append(c.choices, views.Option{Value: strconv.FormatInt(st.Part, 10), Label: fmt.Sprintf("%s, in %s until %s", st.Serial, placeText(st), st.To)})
	}
	maker := c.makers(c.limits, c.groove, c.model.Name)
	if _, some := maker.sizes["axial width"]; (some || maker.forced()) && c.model.ID != 0 {
		c.choices = append(c.choices, views.Option{Value: makersRing, Label: "a new ring by the limits of " + c.model.Name})
	}
	if _, said := c.f.values["with"]; !said && len(c.choices) > 0 {
		c.f.values["with"] = c.choices[0].Value
	}
	switch with := c.f.text("with"); {
	case c.f.text("force") != "" || c.f.text("width") != "":
		c.original = c.typed()
		return nil
	case c.f.text("serial") != "":
		return c.named(c.f.text("serial"))
	case with == makersRing:
		c.original = maker
		return nil
	case with != "":
		return c.chosen(with)
	}
	return nil
}

// chosen takes the ring with this id; one that is not in the list is put into
// it, so that a link can name any ring.
func (c *comparing) chosen(with string) error {
	id, err := strconv.ParseInt(with, 10, 64)
	if err != nil || id <= 0 {
		c.f.fault("with", "choose a ring from the list")
		return nil
	}
	p, err := c.book.Part(c.ctx, id)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(c.choices, func(o views.Option) bool { return o.Value == with }) {
		c.choices = append(c.choices, views.Option{Value: with, Label: partName(p.Kind, p.Serial)})
	}
	return c.take("with", p)
}

func (c *comparing) named(serial string) error {
	found, err := c.book.PartsNamed(c.ctx, wear.Ring, serial)
	if err != nil {
		return err
	}
	switch len(found) {
	case 0:
		c.f.fault("serial", "the book has no ring %s", serial)
		return nil
	case 1:
		return c.take("serial", found[0])
	}
	c.f.fault("serial", "%d rings have that serial: open the one that is meant and compare from there", len(found))
	return nil
}

func (c *comparing) take(field string, p store.Part) (err error) {
	switch {
	case p.Kind != wear.Ring:
		c.f.fault(field, "%s %s is no ring", p.Kind, p.Serial)
	case p.ID == c.ring.ID:
		c.f.fault(field, "that is the ring itself: choose the one it replaces")
	default:
		c.original, err = c.measured(p, "original")
	}
	return err
}

// typed is a reference ring as its maker gives it. Its numbers count as right
// to their last digit.
func (c *comparing) typed() *ringSide {
	side := &ringSide{name: "Typed reference", role: "original", sizes: map[string]sized{}, material: wear.RingMaterial(c.f.text("material"))}
	from := string(wear.FromTangential)
	if c.f.text("force_kind") == string(wear.FromDiametral) {
		from = string(wear.FromDiametral)
	}
	for _, x := range []struct {
		field, feature string
		unit           wear.Unit
	}{{"force", from, wear.Newton}, {"width", "axial width", c.set.Unit}} {
		v := c.f.value(x.field, x.unit)
		switch {
		case v == nil && c.f.text(x.field) == "":
			c.f.fault(x.field, "a typed reference needs its force and its axial width")
		case v != nil && *v <= 0:
			c.f.fault(x.field, "a number above 0")
		case v != nil && implausible(wear.Ring, x.feature, *v, x.unit) != "":
			c.f.fault(x.field, "%s", implausible(wear.Ring, x.feature, *v, x.unit))
		case v != nil:
			step, err := wear.LastDigit(c.f.text(x.field), x.unit)
			if err != nil {
				c.f.fault(x.field, "%s", err)
			}
			side.sizes[x.feature] = sized{Gauged: wear.Gauged{Value: *v, U: wear.StandardUncertainty(0, 0, float64(step))}, unit: x.unit, from: "typed here"}
		}
	}
	side.assumed = append(side.assumed, "typed numbers are right to half their last digit")
	return side
}

// readBore finds the bore: typed, that of the barrel the ring runs in, else of
// the one the original runs in, else the middle of the new limits.
func (c *comparing) readBore() error {
	if v := c.f.value("bore", c.set.Unit); v != nil {
		if *v <= 0 {
			c.f.fault("bore", "a number above 0")
		} else if why := implausible(wear.Cylinder, "barrel bore", *v, c.set.Unit); why != "" {
			c.f.fault("bore", "%s", why)
		}
		c.bore, c.hasBore = sized{Gauged: wear.Gauged{Value: *v}, unit: c.set.Unit, from: "typed here, counted as exact"}, true
		return nil
	}
	for _, side := range []*ringSide{c.offered, c.original} {
		if c.hasBore || side == nil || side.part == nil {
			continue
		}
		cylinder, found, err := c.barrelOf(side.part.ID)
		if err != nil {
			return err
		}
		if !found {
			continue
		}
		c.cylinder = cylinder
		if c.bore, c.hasBore, err = c.barrelBore(cylinder); err != nil {
			return err
		}
	}
	if f, ok := c.feature(wear.Cylinder, "barrel bore"); ok && !c.hasBore {
		c.bore, c.hasBore = c.middleOfNew(c.limits, f, 0, c.ring.Oversize)
	}
	return nil
}

// draw works the comparison out and puts it on the page.
func (c *comparing) draw(p *views.RingCompare) {
	p.Bore = c.boreFact()
	if c.original == nil {
		alone, _ := ways(c.offered, c.offered)
		c.side(p, c.offered, alone)
		return
	}
	c.offered, c.original = sameWidth(c.offered, c.original)
	wayOffered, wayOriginal := ways(c.offered, c.original)
	offered, original := c.side(p, c.offered, wayOffered), c.side(p, c.original, wayOriginal)
	if o := c.original.part; o != nil && o.Groove != c.ring.Groove && o.Groove*c.ring.Groove != 0 {
		p.Notes = append(p.Notes, fmt.Sprintf("They are not made for the same groove: %d and %d.", c.ring.Groove, o.Groove))
	}
	if offered == nil || original == nil {
		return
	}
	if wayOffered != wayOriginal {
		p.Notes = append(p.Notes, "The two were not measured in the same way, so the ratio is less certain: measure both alike.")
	}
	result, err := wear.ComparePressure(*offered, *original, c.set.RatioLimits())
	if err != nil {
		p.Sides[1].Why = "The two pressures are too far apart to compare: look for a slip in a reading."
		return
	}
	p.Result = &views.RingResult{Ratio: fmt.Sprintf("%.2f", result.Ratio), Word: string(result.State), Plain: string(result.Plain), Words: result.Words, Warn: result.Plain == wear.PressureHigh,
		Limits: ratio2(result.Limits.Low) + " to " + ratio2(result.Limits.High) + " times"}
	p.Worked = c.worked(result)
}

// side puts a ring on the page with its pressure, which comes back where it
// can be worked out.
func (c *comparing) side(p *views.RingCompare, side *ringSide, way int) *wear.RingPressure {
	p.Sides = append(p.Sides, c.sideView(side, way))
	if way < 0 || !c.hasBore {
		return nil
	}
	v := &p.Sides[len(p.Sides)-1]
	pressure, why := side.pressure(way, c.bore)
	if v.Why = why; why != "" {
		return nil
	}
	pressureView(v, pressure)
	return &pressure
}

func ratio2(x float64) string { return strconv.FormatFloat(x, 'f', 2, 64) }

func (c *comparing) boreFact() views.RingInput {
	if !c.hasBore {
		in := views.RingInput{What: "Bore", From: "not known"}
		if c.cylinder.ID != 0 {
			in.Way = views.Link{Text: "Measure " + partName(c.cylinder.Kind, c.cylinder.Serial), Href: href("/measure/part/", c.cylinder.ID)}
		} else {
			in.Way = views.Link{Text: "Type the bore's new limits", Href: "/limits"}
		}
		return in
	}
	return views.RingInput{What: "Bore", Value: c.bore.text(), U: c.bore.bounds(), From: c.bore.from, Href: c.bore.href}
}

// sideView lists what is known of a ring: what its pressure is worked out
// from, else all there is, and what is missing.
func (c *comparing) sideView(side *ringSide, way int) views.RingSide {
	v := views.RingSide{Name: side.name, Role: side.role}
	if side.part != nil {
		v.Href = href("/parts/", side.part.ID)
	}
	var names []string
	if way >= 0 {
		names = ringWays[way].needs
		v.From = "from its " + string(ringWays[way].from)
	} else {
		for _, w := range ringWays {
			for _, name := range w.needs {
				if !slices.Contains(names, name) {
					names = append(names, name)
				}
			}
		}
		v.Missing = side.missing()
	}
	for _, name := range names {
		if x, ok := side.sizes[name]; ok {
			v.Inputs = append(v.Inputs, views.RingInput{What: capital(name), Value: x.text(), U: x.bounds(), From: x.from, Href: x.href})
		}
	}
	if way >= 0 && ringWays[way].from == wear.FromFreeGap {
		v.Inputs = append(v.Inputs, views.RingInput{What: "Modulus of elasticity", Value: grouped(itoa(side.modulus)) + " N/mm²", From: "typed on the part's page"})
	}
	if way >= 0 && ringWays[way].from == wear.FromDiametral {
		in := views.RingInput{What: "Material", Value: string(side.material), From: "of the part"}
		if side.material == "" {
			in.Value, in.From = string(wear.CastIronRing), "assumed: none is recorded"
		}
		v.Inputs = append(v.Inputs, in)
	}
	return v
}

func pressureView(v *views.RingSide, p wear.RingPressure) {
	v.Pressure, v.PressureU = fmt.Sprintf("%.3f N/mm²", p.P), fmt.Sprintf("± %.3f", wear.ExpandedU(p.U))
	if p.Tangential > 0 && p.Ring.From != wear.FromTangential {
		v.Tangential = fmt.Sprintf("%.1f N", p.Tangential)
	}
	v.Hint = capital(p.Hint) + "."
}

// pressureAssumed lists what was assumed of two rings that were compared, each
// once.
func pressureAssumed(offered, original *ringSide, c wear.PressureComparison) (out []string) {
	for _, a := range slices.Concat(offered.assumed, original.assumed, c.Offered.Assumed, c.Original.Assumed, c.Assumed) {
		if a = capital(a) + "."; !slices.Contains(out, a) {
			out = append(out, a)
		}
	}
	return out
}

func (c *comparing) worked(result wear.PressureComparison) *views.RingWorked {
	w := &views.RingWorked{Groups: []views.StepGroup{
		{Title: c.offered.name, Steps: pressureSteps(result.Offered)}, {Title: c.original.name, Steps: pressureSteps(result.Original)}, {Title: "One against the other", Steps: workedSteps(result.Working)}},
		Unknown: []string{
			"How the ring bears round the bore: a mean pressure hides a ring that presses at its ends only.",
			"What gas pressure behind the ring, its facing, its edges and the surface of the bore add to wear.",
			"Whether the force tester was set right: an error of the tester in the same proportion drops out of both, any other does not.",
		}}
	w.Assumed = append(pressureAssumed(c.offered, c.original, result), "Both rings are set against the same bore: "+c.bore.from+".",
		fmt.Sprintf("Warned above a ratio of %s, the shop's setting (common practice, no source).", ratio2(c.set.Pressure)))
	return w
}
