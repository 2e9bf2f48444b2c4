package server

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// match proposes which piston goes into which barrel.
func (s *Server) match(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	f := asked(r)
	if f.text("limits") == "" {
		f.values["limits"] = "new"
	}
	if limits := f.text("limits"); limits != "new" && limits != "service" {
		f.fault("limits", "choose new or service limits")
	}
	if f.text("rings") == "" {
		f.values["rings"] = "stay"
	}
	if rings := f.text("rings"); rings != "stay" && rings != "later" {
		f.fault("rings", "choose whether the rings stay in their pistons")
	}
	if _, said := f.values["spread"]; !said && e.Model.Spread > 0 {
		f.values["spread"] = e.Model.Spread.Format(wear.Gram)
	}
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	p := views.Match{Page: s.page(r, "Match pistons of "+e.Serial, views.NavEngines), Engine: e.Serial, EngineHref: href("/engines/", e.ID), Action: href("/engines/", e.ID, "/match"), Limits: choices("new", "service"), Rings: []views.Option{{Value: "stay", Label: "stay in their pistons"}, {Value: "later", Label: "are chosen afterwards"}}, WeightUnit: "g", Unit: set.Unit.Name}
	barrels, pistons, err := s.onOffer(r, e, f, &p)
	if err != nil {
		return err
	}
	rules, err := s.book.FacingRules(r.Context())
	if err != nil {
		return err
	}
	if len(barrels) > 0 {
		matched(&p, f, barrels, pistons, rules, set.Unit)
	} else if f.ok() {
		p.Warn = append(p.Warn, "No barrel at these positions has a bore reading: measure them first.")
	}
	p.Draft = f.draft()
	return s.draw(w, r, f.status(), views.MatchPage(p))
}

// onOffer reads the barrels at the positions asked for, and the pistons there
// and on the shelf.
func (s *Server) onOffer(r *http.Request, e store.Engine, f *form, p *views.Match) ([]matchHole, []matchShaft, error) {
	slots, err := s.book.Slots(r.Context(), []store.Engine{e})
	if err != nil {
		return nil, nil, err
	}
	wanted := map[int]bool{}
	for _, n := range f.positions("positions", e.Cylinders) {
		wanted[n] = true
	}
	if f.has("positions") {
		return nil, nil, nil
	}
	var barrels []matchHole
	var pistons []matchShaft
	offer := func(part int64, rings []*dossier) error {
		d, err := s.dossier(r, part, "")
		if err != nil {
			return err
		}
		if x, ok := shaftOf(matchFits[wear.Piston], d, rings); ok {
			pistons = append(pistons, x)
		} else {
			p.Missing = append(p.Missing, partName(d.part.Kind, d.part.Serial)+": its skirt was not measured.")
		}
		return nil
	}
	for _, x := range slots[e.ID] {
		if len(wanted) > 0 && !wanted[x.Position] {
			continue
		}
		switch x.Kind {
		case wear.Cylinder:
			d, err := s.dossier(r, x.ID, "")
			if err != nil {
				return nil, nil, err
			}
			if h, ok := holeOf(matchFits[wear.Piston], d, x.Position, 0); ok {
				barrels = append(barrels, h)
			} else {
				p.Missing = append(p.Missing, fmt.Sprintf("Position %d: the barrel of %s was not measured.", x.Position, x.Serial))
			}
		case wear.Piston:
			var rings []*dossier
			for _, ring := range slotsAt(slots[e.ID], x.Position) {
				if ring.Kind != wear.Ring || f.text("rings") != "stay" {
					continue
				}
				d, err := s.dossier(r, ring.ID, "")
				if err != nil {
					return nil, nil, err
				}
				rings = append(rings, d)
			}
			if err := offer(x.ID, rings); err != nil {
				return nil, nil, err
			}
		}
	}
	shelf, total, err := s.book.Parts(r.Context(), store.PartFilter{Kind: wear.Piston, Status: "on shelf", Model: e.Model.ID, Limit: mostOnOffer})
	if err != nil {
		return nil, nil, err
	}
	for _, x := range shelf {
		if err := offer(x.ID, nil); err != nil {
			return nil, nil, err
		}
	}
	if total > len(shelf) {
		p.Missing = append(p.Missing, fmt.Sprintf("%d more pistons on the shelf: the first %d were looked at.", total-len(shelf), len(shelf)))
	}
	return barrels, pistons, nil
}

// matched makes or judges a placing and fills in the page.
func matched(p *views.Match, f *form, barrels []matchHole, pistons []matchShaft, rules wear.FacingRules, u wear.Unit) {
	ask := wear.MatchAsk{Unit: u, WeightUnit: wear.Gram}
	var limit wear.Limit
	if len(pistons) > 0 { // all fit the same model
		limit = matchFits[wear.Piston].limitOfFit(barrels[0].d, pistons[0].d, 0)
	}
	fit, err := wear.MatchFitOf(limit, f.text("limits") == "service")
	if err != nil {
		p.Warn = append(p.Warn, "The model needs limits for its piston skirt and barrel bore, or for the skirt clearance, with a least and a most: type them first.")
		return
	}
	ask.Fit = fit
	if v := f.value("spread", wear.Gram); v != nil {
		if *v < 0 {
			f.fault("spread", "%s", wear.ErrNegative)
		}
		ask.Spread = *v
	}
	p.Fit = "Clearance " + wear.FitText(fit.Min, u) + " to " + wear.FitText(fit.Max, u)
	if fit.Target != nil {
		p.Fit += ", wanted " + wear.FitText(*fit.Target, u)
	}
	for _, b := range barrels {
		ask.Holes = append(ask.Holes, matchFits[wear.Piston].matchHole(b))
	}
	for _, x := range pistons {
		home := 0
		if st, sits := x.d.here(); sits {
			home = st.Position
		}
		shaft := matchFits[wear.Piston].matchShaft(x)
		shaft.Weight, shaft.Oversize, shaft.Rings, shaft.Home = x.d.weight(), x.d.sizeNow(), x.ringSet(), homeOf(barrels, home)
		ask.Shafts = append(ask.Shafts, shaft)
	}
	ask.Bans = append(wear.BanOversizes(ask), ringBans(barrels, pistons, rules, u)...)
	of := placedIn(f, barrels, pistons, &ask)
	var placing *wear.Placing
	var why *wear.MatchWhy
	if f.ok() {
		placing, why = placingOf(f, ask, of)
	}
	if why != nil {
		p.Warn = append(p.Warn, why.Words)
		if why.Nearest != nil {
			placing = why.Nearest
			p.Says = append(p.Says, "Here stands the nearest placing; it breaks the spread of weights.")
		} else if now, err := wear.JudgePlacing(ask, asTheySit(barrels, pistons)); err == nil {
			placing = &now
			p.Says = append(p.Says, "Here they stand as they sit now.")
		}
	}
	p.Draft = f.draft()
	for i, b := range barrels {
		l := views.MatchLine{Position: itoa(b.position), Barrel: b.d.part.Serial, BarrelRef: href("/parts/", b.d.part.ID), Bore: inUnit(float64(matchFits[wear.Piston].mainHole(b.sizes).Value), u, 0), Field: "p" + itoa(b.position), Keep: "keep" + itoa(b.position), Kept: f.text("keep"+itoa(b.position)) != "",
			Pistons: pistonChoices(pistons), Fault: p.Draft.Fault("p" + itoa(b.position)).Message}
		if !f.ok() { // the placing stands as it was chosen
			l.Piston = f.text(l.Field)
		}
		if placing != nil && placing.Lines[i].Shaft >= 0 {
			matchLine(&l, placing.Lines[i], b, pistons[placing.Lines[i].Shaft], u)
		}
		p.Lines = append(p.Lines, l)
	}
	if placing == nil {
		return
	}
	if why == nil {
		for _, b := range placing.Breaches {
			p.Warn = append(p.Warn, capital(b.Words)+".")
		}
	}
	for _, n := range placing.Notes {
		p.Says = append(p.Says, capital(n)+".")
	}
	p.Sum = placingSums(placing, u)
	if step, ok := clearanceStep(placing, fit, barrels, pistons, u); ok {
		p.Steps = append(p.Steps, step)
	}
	p.Steps = append(p.Steps, workedSteps(placing.Working)...)
	if w := warmthStep(sizesOf(barrels), wear.Cylinder, barrels[0].d.set); w != nil {
		p.Steps = append(p.Steps, *w)
	}
}

// asTheySit is the placing of the pistons that sit at the barrels' positions.
func asTheySit(barrels []matchHole, pistons []matchShaft) []int {
	of := make([]int, len(barrels))
	for i, b := range barrels {
		of[i] = slices.IndexFunc(pistons, func(x matchShaft) bool {
			st, ok := x.d.here()
			return ok && st.Position == b.position
		})
	}
	return of
}

// placedIn reads which piston stands at each position of the form, and pins
// those that are kept.
func placedIn(f *form, barrels []matchHole, pistons []matchShaft, ask *wear.MatchAsk) []int {
	of := make([]int, len(barrels))
	for i, b := range barrels {
		field := "p" + itoa(b.position)
		chosen := f.text(field)
		of[i] = slices.IndexFunc(pistons, func(x matchShaft) bool { return chosen == fmt.Sprint(x.d.part.ID) })
		switch {
		case of[i] < 0 && chosen != "" && chosen != "0":
			f.fault(field, "that piston is not on offer here: choose one from the list")
		case of[i] >= 0 && f.text("keep"+itoa(b.position)) != "":
			ask.Pins = append(ask.Pins, wear.MatchPin{Hole: i, Shaft: of[i]})
		}
	}
	return of
}

// placingOf judges the placing of the form, or proposes one.
func placingOf(f *form, ask wear.MatchAsk, of []int) (*wear.Placing, *wear.MatchWhy) {
	if f.text("do") == "judge" {
		p, err := wear.JudgePlacing(ask, of)
		if err != nil {
			return nil, &wear.MatchWhy{Words: capital(err.Error()) + "."}
		}
		return &p, nil
	}
	m, err := wear.Match(ask)
	if err != nil {
		return nil, &wear.MatchWhy{Words: "One piston is kept at two positions, or the sizes cannot be matched: " + err.Error() + "."}
	}
	return m.Best, m.Why
}

func pistonChoices(pistons []matchShaft) []views.Option {
	os := []views.Option{{Value: "0", Label: "none"}}
	for _, x := range pistons {
		label := x.d.part.Serial
		if st, ok := x.d.here(); ok {
			label += ", position " + itoa(st.Position)
		} else {
			label += ", on the shelf"
		}
		os = append(os, views.Option{Value: fmt.Sprint(x.d.part.ID), Label: label})
	}
	return os
}

// clearanceStep puts numbers into the clearance of each position; not ok where
// nothing is placed.
func clearanceStep(placing *wear.Placing, fit wear.MatchFit, barrels []matchHole, pistons []matchShaft, u wear.Unit) (step views.WorkedStep, ok bool) {
	k := matchFits[wear.Piston]
	var numbers []string
	for i, l := range placing.Lines {
		if l.Shaft < 0 {
			continue
		}
		h, s := k.mainHole(barrels[i].sizes).Value, k.mainShaft(pistons[l.Shaft].sizes).Value
		numbers = append(numbers, fmt.Sprintf("%d: %s − %s = %s, off %s", barrels[i].position, inUnit(float64(h), u, 1), inUnit(float64(s), u, 1), inUnit(float64(h-s), u, 1), signedText(l.Distance, u)))
	}
	target := "middle of " + wear.FitText(fit.Min, u) + " and " + wear.FitText(fit.Max, u)
	if fit.Target != nil {
		target = wear.FitText(*fit.Target, u)
	}
	return views.WorkedStep{Text: "clearance of each position", Equation: "bore − skirt, and how far that is off the clearance wanted",
		Numbers: fmt.Sprintf("wanted: %s; %s %s", target, strings.Join(numbers, "; "), u.Name), Source: "arithmetic of limits and fits; that the middle of the new limits is wanted is common practice, no source"}, len(numbers) > 0
}

func matchLine(v *views.MatchLine, l wear.MatchLine, h matchHole, x matchShaft, u wear.Unit) {
	k := matchFits[wear.Piston]
	v.Piston, v.Skirt = fmt.Sprint(x.d.part.ID), inUnit(float64(k.mainShaft(x.sizes).Value), u, 0)
	if p, ok := k.pair(h.sizes, x.sizes, wear.Limit{}); ok {
		v.Clearance = p.text(u)
	}
	v.Distance, v.Verdict, v.Bad = signedText(l.Distance, u), told(l.Assessment.Verdict), !l.Works
	v.Rings = x.ringGaps(h.d, u)
	if l.Weight != nil {
		v.Weight = l.Weight.Format(wear.Gram) + " g"
	}
}
