package server

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// crank shows where the pistons of an engine stand as its crank turns, the
// order off and on, and what a leaning master rod does.
func (s *Server) crank(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	f := asked(r)
	p := views.Crank{Page: s.page(r, "Crank positions of "+e.Serial, views.NavEngines), Engine: e.Serial, EngineHref: href("/engines/", e.ID), Action: href("/engines/", e.ID, "/crank"), Radial: e.Arrangement == "radial", TurningHref: href("/models/", e.Model.ID, "/turning"),
		Unknown: []string{"What stops a rising piston, or the rod in the crankcase: only the rods' own geometry is reckoned.", "Play in bearings and pins: a dial gauge on the piston tells true top dead centre better than any reckoning."},
		Assumed: rodsAssumed(e)}
	for n := 1; n <= e.Cylinders; n++ {
		p.Positions = append(p.Positions, views.Option{Value: itoa(n), Label: "position " + itoa(n)})
	}
	places, known := e.CrankPlaces()
	var centres []wear.DeadCentre
	if p.Radial {
		p.RodsHref = href("/models/", e.Model.ID, "/rods")
		if row, missing := rodRow(e, places); missing != "" {
			p.Missing = missing
		} else if centres, err = row.DeadCentres(); err != nil {
			p.Missing = "The lengths typed for crank and rods do not make an engine: " + err.Error() + "."
		} else {
			p.Rods = rodFacts(e, set.Unit)
			crankLean(&p, f, row, e, places, set.Unit)
		}
		if p.Missing != "" {
			p.LeanMissing = "It can be reckoned once crank and rods are typed."
		}
	}
	crankRows(&p, e, places, centres, known, set.Unit)
	if f.text("angle") != "" && len(centres) > 0 {
		crankAngle(&p, f, e, places, centres, set.Unit)
	}
	crankOrder(&p, f, e, places, centres)
	p.Draft = f.draft()
	return s.draw(w, r, f.status(), views.CrankPage(p))
}

// rodRow is the engine's row of rods, or what is missing of it.
func rodRow(e store.Engine, places []wear.CrankPlace) (row wear.RodRow, missing string) {
	rods := e.Model.Rods
	switch {
	case e.Model.Turning.Rows == 2:
		return row, "True dead centres are reckoned for one row of cylinders only."
	case e.MasterRod == 0:
		return row, "True dead centres can be told once the engine says which cylinder has the master rod."
	case len(rods.LinkRods) > 0 && e.Cylinders != e.Model.Cylinders:
		return row, fmt.Sprintf("The link rods of this model are typed for %d cylinders; this engine has %d.", e.Model.Cylinders, e.Cylinders)
	}
	row = rods.Row(places, e.MasterRod)
	if rods.CrankRadius == 0 || rods.MasterRod == 0 || slices.ContainsFunc(row.Cylinders, func(c wear.RodCylinder) bool {
		return c.Position != row.Master && (c.KnuckleRadius == 0 || c.LinkRod == 0)
	}) {
		return row, "True dead centres of link-rod cylinders differ from the nominal by up to some degrees. They can be told once crank and rods are typed for this model."
	}
	return row, ""
}

// rodsAssumed is what the positions are reckoned with beside what was typed.
func rodsAssumed(e store.Engine) []string {
	rods, said := e.Model.Rods, []string{}
	switch {
	case len(rods.LinkRods) == 0:
		said = append(said, "All link rods are alike, and each knuckle lies under its own cylinder (ψ = α).")
	default:
		said = append(said, "Knuckle pins and link rods are as typed for the model, by cylinder where one differs; a knuckle pin of which no angle is typed lies under its own cylinder (ψ = α).")
		if e.MasterRod != 0 && e.MasterRod != rods.ListMaster {
			said = append(said, fmt.Sprintf("They are typed for the master rod in position %d. Here it is in position %d, and each link rod stands as many positions after it.", rods.ListMaster, e.MasterRod))
		}
	}
	return append(said, "No piston pin lies beside its cylinder's axis.")
}

func rodFacts(e store.Engine, u wear.Unit) []views.Fact {
	var facts []views.Fact
	r := e.Model.Rods
	for _, x := range []struct {
		label string
		v     wear.Value
	}{{"Crank radius", r.CrankRadius}, {"Master rod", r.MasterRod}, {"Knuckle radius", r.KnuckleRadius}, {"Link rod", r.LinkRod}, {"Pin to crown", r.PinToCrown}, {"Lowest ring below crown", r.BelowCrown}, {"End of the barrel", r.SkirtEnd}} {
		if x.v != 0 {
			facts = append(facts, views.Fact{Label: x.label, Value: x.v.Format(u) + " " + u.Name})
		}
	}
	for n := 1; n <= e.Cylinders; n++ {
		if own, ok := r.Own(n, e.MasterRod, e.Cylinders); ok {
			facts = append(facts, views.Fact{Label: "Position " + itoa(n) + " differs", Value: linkRodText(own, u)})
		}
	}
	return facts
}

// linkRodText writes what differs in one cylinder.
func linkRodText(l store.LinkRod, u wear.Unit) string {
	text := ""
	if l.KnuckleRadius != 0 {
		text = "knuckle radius " + l.KnuckleRadius.Format(u) + " " + u.Name
	}
	if l.KnuckleAngle != 0 {
		text = joinText(", ", text, "knuckle angle "+angleText(l.KnuckleAngle)+"°")
	}
	if l.Length != 0 {
		text = joinText(", ", text, "link rod "+l.Length.Format(u)+" "+u.Name)
	}
	return text
}

// angleText writes an angle as it was typed.
func angleText(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func degrees(x float64) string { return strconv.FormatFloat(x+0, 'f', 1, 64) + "°" }

// offsetText writes a small angle with its sign; nothing at all is 0.00°.
func offsetText(x float64) string {
	t := strconv.FormatFloat(x, 'f', 2, 64)
	if t == "-0.00" {
		t = "0.00"
	}
	if x > 0 && t != "0.00" {
		t = "+" + t
	}
	return strings.Replace(t, "-", "−", 1) + "°"
}

func crankRows(p *views.Crank, e store.Engine, places []wear.CrankPlace, centres []wear.DeadCentre, known bool, u wear.Unit) {
	mm := func(x float64) string { return inUnit(x*1e6, u, 0) + " " + u.Name }
	for _, c := range places {
		row := views.CrankRow{Position: itoa(c.Position), Master: c.Master}
		if known {
			row.Nominal = degrees(c.Angle)
		}
		for _, d := range centres {
			if d.Position == c.Position {
				row.True, row.TopOffset, row.BelowOffset = degrees(d.Top), offsetText(d.TopOffset), offsetText(d.BottomOffset)
				row.Stroke, row.Height = mm(d.Stroke), mm(d.TopHeight)
			}
		}
		p.Rows = append(p.Rows, row)
	}
	if !known && p.Missing == "" {
		p.Missing = "Crank angles of this arrangement are the maker's: its firing order is not kept in the book."
	}
	p.Steps = append(p.Steps, centreSteps(e, centres)...)
}

// centreSteps are how dead centres were worked out: of the first link-rod
// cylinder that is like the others, and of each that differs.
func centreSteps(e store.Engine, centres []wear.DeadCentre) (steps []views.WorkedStep) {
	alike := false
	for _, d := range centres {
		_, own := e.Model.Rods.Own(d.Position, e.MasterRod, e.Cylinders)
		if d.Position == e.MasterRod || alike && !own {
			continue
		}
		alike = alike || !own
		for _, step := range workedSteps(d.Working) {
			step.Text += ", position " + itoa(d.Position)
			steps = append(steps, step)
		}
	}
	return steps
}

// crankAngle tells how far below its top each piston stands at a crank angle.
func crankAngle(p *views.Crank, f *form, e store.Engine, places []wear.CrankPlace, centres []wear.DeadCentre, u wear.Unit) {
	angle := f.fraction("angle")
	if !f.ok() {
		return
	}
	row, _ := rodRow(e, places)
	var numbers []string
	for i, c := range places {
		at, err := row.Height(c.Position, angle)
		if err != nil {
			f.fault("angle", "an angle in degrees, such as 40")
			return
		}
		for _, d := range centres {
			if d.Position == c.Position {
				p.Rows[i].Below = inUnit((d.TopHeight-at)*1e6, u, 0) + " " + u.Name
				numbers = append(numbers, fmt.Sprintf("%d: %s − %s = %s", c.Position, inUnit(d.TopHeight*1e6, u, 0), inUnit(at*1e6, u, 0), inUnit((d.TopHeight-at)*1e6, u, 0)))
			}
		}
	}
	p.Angle = degrees(angle)
	p.Steps = append(p.Steps, views.WorkedStep{Text: "below its top, by cylinder", Equation: "s at true top dead centre − s at the crank angle", Numbers: fmt.Sprintf("crank at %s: %s %s", p.Angle, strings.Join(numbers, "; "), u.Name), Source: "derived from the geometry"})
}

// workedSteps are the steps of package wear as a page draws them.
func workedSteps(steps []wear.Step) []views.WorkedStep {
	out := make([]views.WorkedStep, len(steps))
	for i, s := range steps {
		out[i] = views.WorkedStep(s)
	}
	return out
}

// crankOrder fills in the order off and on.
func crankOrder(p *views.Crank, f *form, e store.Engine, places []wear.CrankPlace, centres []wear.DeadCentre) {
	ask, turning := wear.PullRequest{Places: places, Centres: centres}, e.Model.Turning
	if ask.Pull = f.positions("pull", e.Cylinders); f.has("pull") {
		return
	}
	if at := f.text("at"); at != "" {
		i := slices.IndexFunc(places, func(c wear.CrankPlace) bool { return itoa(c.Position) == at })
		if i < 0 {
			f.fault("at", "%q is no position: the engine has 1 to %d", at, e.Cylinders)
			return
		}
		ask.From = places[i].Angle
	}
	ask.Maker = turning.OrderOff
	off, err := wear.PlanRemoval(ask)
	if err == nil {
		ask.From, ask.Maker = off.End, turning.OrderOn
		var on wear.PullPlan
		if on, err = wear.PlanRefit(ask); err == nil {
			p.Off, p.On = crankSteps(off), crankSteps(on)
			p.OrderWords = "The maker's order, as the shop typed it; each piston stands at top dead centre of its own cylinder, on either stroke, before that cylinder moves."
			if off.ByMaker || on.ByMaker {
				return
			}
			p.OrderWords = fmt.Sprintf("The least turning of the crank: %s off, %s on. Each piston stands at top dead centre of its own cylinder, on either stroke, before that cylinder moves.", degrees(off.Turn), degrees(on.Turn))
			return
		}
	}
	p.Fault = "no order can be told: " + err.Error()
	if errors.Is(err, wear.ErrNoAngles) {
		p.Fault = "no order can be told, for the crank angles of this arrangement are the maker's: type the firing order or the maker's order of the model"
	}
}

func crankSteps(plan wear.PullPlan) []views.CrankStep {
	steps := make([]views.CrankStep, len(plan.Lines))
	for i, l := range plan.Lines {
		steps[i] = views.CrankStep{Position: itoa(l.Position), Master: l.Master, Reason: l.Reason, Caution: l.Caution}
		if l.Known {
			steps[i].Turn, steps[i].To = degrees(l.Turn), degrees(l.Angle)
		}
		if l.HasTrue {
			steps[i].True = degrees(l.True)
		}
	}
	return steps
}

// crankLean tells how far the master rod may lean with the crank where it
// stands when its cylinder comes off: at that cylinder's top dead centre.
func crankLean(p *views.Crank, f *form, row wear.RodRow, e store.Engine, places []wear.CrankPlace, u wear.Unit) {
	rods := e.Model.Rods
	if rods.PinToCrown == 0 || rods.BelowCrown == 0 || rods.SkirtEnd == 0 {
		p.LeanMissing = "It can be reckoned once the lowest ring's place and the end of the barrel are typed with the crank and rods."
		return
	}
	at := 0.0
	var rings []wear.LowestRing
	for _, c := range places {
		if c.Master {
			at = c.Angle
			continue
		}
		rings = append(rings, wear.LowestRing{Position: c.Position, PinToCrown: rods.PinToCrown, BelowCrown: rods.BelowCrown, SkirtEnd: rods.SkirtEnd})
	}
	lean, err := row.SafeLean(at, rings)
	if err != nil {
		p.LeanMissing = "It cannot be reckoned from these lengths: " + err.Error() + "."
		return
	}
	where := fmt.Sprintf("With the crank at top dead centre of position %d", e.MasterRod)
	switch {
	case lean.Leaves && lean.Angle == 0:
		p.LeanWarn = fmt.Sprintf("%s and its rod upright, the lowest ring of position %d would be out of its barrel already: check the lengths that were typed.", where, lean.Position)
	case lean.Leaves:
		p.LeanWarn = fmt.Sprintf("%s, the lowest ring of position %d leaves its barrel when the rod leans %s.", where, lean.Position, degrees(lean.Angle))
	default:
		p.Lean = append(p.Lean, fmt.Sprintf("%s, no ring leaves its barrel however the rod leans from %s to %s, as far as the link rods let it.", where, degrees(lean.Searched[0]), degrees(lean.Searched[1])))
	}
	p.Steps = append(p.Steps, workedSteps(lean.Working)...)
	if f.text("lean") == "" {
		return
	}
	by := f.fraction("lean")
	if !f.ok() {
		return
	}
	drops, err := row.Drops(at, by, rings)
	if err != nil {
		f.fault("lean", "the rod cannot lean so far: a link rod stops it, or it is not between −90° and 90°")
		return
	}
	mm := func(x float64) string { return inUnit(x*1e6, u, 0) }
	var numbers []string
	for _, d := range drops {
		p.Drops = append(p.Drops, views.CrankDrop{Position: itoa(d.Position), Drop: mm(d.Drop) + " " + u.Name, Room: mm(d.Room) + " " + u.Name, Leaves: d.Leaves})
		numbers = append(numbers, fmt.Sprintf("%d: %s − %s = %s, room %s + %s − %s − %s = %s", d.Position, mm(d.Before), mm(d.After), mm(d.Drop),
			mm(d.After), rods.PinToCrown.Format(u), rods.BelowCrown.Format(u), rods.SkirtEnd.Format(u), mm(d.Room)))
	}
	p.Steps = append(p.Steps, views.WorkedStep{Text: "drop by cylinder, the rod leaning δ", Equation: "drop = s(θ, 0) − s(θ, δ); room = s(θ, δ) + pin to crown − ring below crown − end of the barrel",
		Numbers: fmt.Sprintf("δ = %s, crank at %s: %s %s", offsetText(by), degrees(at), strings.Join(numbers, "; "), u.Name), Source: "derived from the geometry"})
}
