package server

import (
	"fmt"
	"math"
	"slices"

	"barrelbook/views"
	"barrelbook/wear"
)

// hone is the barrel cleaned up by honing, within the size it has.
func (k *deciding) hone() (views.Outlook, error) {
	bores := k.d.latestSizes("barrel bore", 0)
	if len(bores) == 0 {
		return k.notMeasured("barrel bore"), nil
	}
	u, largest := k.set.Unit, largestOf(bores)
	after := wear.Gauged{Value: largest.Value + k.d.model.CleanUp, U: largest.U}
	a := wear.Assess(after.Value, after.U, k.d.limitNamed("barrel bore", 0))
	o := views.Outlook{Size: inUnit(float64(after.Value), u, 0) + " " + u.Name + " at least", Verdict: mark(a.Verdict)}
	o.Says = "Honed until it is clean everywhere: what was worn stays worn."
	if t := plainText(a, u); t != "" {
		o.Says = "Honed until it is clean everywhere, the bore is " + t + "."
	}
	o.Facts = []views.Fact{{Label: "Largest diameter now", Value: joinText(", ", inUnit(float64(largest.Value), u, 0)+" "+u.Name, largest.where())}, {Label: "Clean-up, on the diameter", Value: k.cleanUpText()}}
	o.Steps = []views.WorkedStep{{Text: "uncertainty of the largest diameter", Equation: uEquation, Numbers: largest.terms.text(largest.sheet.Temperature, u), Source: uSource},
		{Text: "bore after honing", Equation: "largest diameter + clean-up", Numbers: fmt.Sprintf("%s + %s = %s %s", inUnit(float64(largest.Value), u, 0), k.d.model.CleanUp.Format(u), inUnit(float64(after.Value), u, 0), u.Name),
			Source: "FAA-H-8083-32: the largest worn spot decides; the clean-up is the shop's own (measuring plan)"}}
	if step, ok := verdictStep("bore after honing", after.Value, a, k.d.limitNamed("barrel bore", 0), u); ok {
		o.Steps = append(o.Steps, step)
	}
	if w := warmthStep(bores, wear.Cylinder, k.set); w != nil {
		o.Steps = append(o.Steps, *w)
	}
	o.Assumed = []string{"The hone makes the whole bore as wide as its most worn spot and the clean-up, and no wider: no taper or out-of-round is left.", k.cleanUpAssumed(),
		"The bore is then known as well as its most worn spot is now, and has the limits of the size that it has now."}
	o.Unknown = []string{"What the hone takes off in truth: measure the barrel again.", "How deep scores and rust pits go, and whether a worse spot lies between those that were measured.", "How thick a nitrided case or plating is left."}
	return o, k.pistonsFor(&o, after, k.d.sizeNow())
}

func (k *deciding) cleanUpText() string {
	if k.d.model.CleanUp == 0 {
		return "none typed (measuring plan)"
	}
	return k.d.model.CleanUp.Format(k.set.Unit) + " " + k.set.Unit.Name
}

func (k *deciding) cleanUpAssumed() string {
	if k.d.model.CleanUp == 0 {
		return "Nothing more than the most worn spot has to come off: no clean-up is typed (measuring plan)."
	}
	return "The clean-up is the shop's own, " + k.cleanUpText() + " on the diameter."
}

func (k *deciding) notMeasured(name string) views.Outlook {
	return views.Outlook{Says: "Its " + name + " was not measured: nothing can be told.", Ways: []views.Link{{Text: "Measure it", Href: href("/measure/part/", k.d.part.ID)}}}
}

// grind is the barrel ground to each listed oversize above the one it has.
func (k *deciding) grind() (views.Outlook, error) {
	bores := k.d.latestSizes("barrel bore", 0)
	if len(bores) == 0 {
		return k.notMeasured("barrel bore"), nil
	}
	u, largest := k.set.Unit, largestOf(bores)
	standard, larger := k.d.largerSizes()
	if standard.NewMin == nil || len(larger) == 0 {
		return views.Outlook{Says: "Which oversize clears is told once the model has new limits for its barrel bore and oversizes above this one (measuring plan)."}, nil
	}
	choice, err := wear.SmallestOversize(*standard.NewMin, larger, largest.Gauged, k.d.model.CleanUp)
	if err != nil {
		return views.Outlook{}, err
	}
	o := views.Outlook{Tables: []views.OutlookTable{k.oversizeTable(standard, larger, largest)}}
	if choice.Unsure {
		o.Notes = append(o.Notes, "The gauge's uncertainty could change which oversize clears: measure the largest spot again.")
	}
	o.Steps = []views.WorkedStep{{Text: "uncertainty of the largest diameter", Equation: uEquation, Numbers: largest.terms.text(largest.sheet.Temperature, u), Source: uSource}, oversizeStep(choice, *standard.NewMin, largest.Value, k.d.model.CleanUp, u)}
	if w := warmthStep(bores, wear.Cylinder, k.set); w != nil {
		o.Steps = append(o.Steps, *w)
	}
	o.Assumed = []string{"The machine keeps the bore's axis, so that the metal comes off alike all round.", k.cleanUpAssumed(),
		"Standard is the new minimum of the bore as typed; an oversize has the limits of standard size moved up by it."}
	o.Unknown = []string{"How deep scores and rust pits go, and whether a worse spot lies between those that were measured.", "Whether the maker allows this oversize for this barrel, and what is left of its wall.", "How thick a nitrided case or plating is left."}
	if !choice.Clears {
		o.Says, o.Verdict = "No listed oversize clears: the largest falls short by "+inUnit(float64(choice.Short), u, 0)+" "+u.Name+".", views.VerdictMark{Word: "does not work"}
		return o, nil
	}
	after, size := k.groundTo(standard, choice.Oversize)
	o.Says, o.Size, o.Verdict = choice.Oversize.Format(u)+" "+u.Name+" oversize is the smallest that clears.", size, views.VerdictMark{Word: "new"}
	if k.d.part.Surface == "nitrided" {
		o.Says += " But the barrel is nitrided: that case is thin and is not ground away."
	}
	k.assumeFinish(&o, standard)
	return o, k.pistonsFor(&o, after, choice.Oversize)
}

// groundTo is a bore as it comes from the machine: between the new limits of
// its size, as uncertain as they are apart; and that in words.
func (k *deciding) groundTo(standard wear.Limit, over wear.Value) (wear.Gauged, string) {
	u, l := k.set.Unit, standard.Shifted(over)
	mid, sd, ok := l.MiddleOfNew()
	if !ok {
		return wear.Gauged{Value: *l.NewMin}, l.NewMin.Format(u) + " " + u.Name
	}
	return wear.Gauged{Value: wear.Value(math.Round(mid)), U: sd}, between(l.NewMin, l.NewMax, u) + " " + u.Name
}

// assumeFinish says of what a machined bore is taken to measure.
func (k *deciding) assumeFinish(o *views.Outlook, standard wear.Limit) {
	text := "The bore comes out at the middle of the new limits of its size, as uncertain as a rectangular distribution between them, (max − min)/√12 (JCGM 100, GUM, 4.3.7)."
	if _, _, ok := standard.MiddleOfNew(); !ok {
		text = "The bore comes out at exactly the new minimum of its size: no new maximum is typed."
	}
	o.Assumed = append(o.Assumed, text)
}

func (k *deciding) oversizeTable(standard wear.Limit, larger []wear.Value, largest size) views.OutlookTable {
	u := k.set.Unit
	t := views.OutlookTable{Title: "Each listed oversize", Heads: []string{"Oversize", "Ground to", "Comes off the largest spot", "Clears"}}
	for _, over := range larger {
		one, err := wear.SmallestOversize(*standard.NewMin, []wear.Value{over}, largest.Gauged, k.d.model.CleanUp)
		if err != nil {
			continue
		}
		_, to := k.groundTo(standard, over)
		row := views.OutlookRow{{Text: over.Format(u) + " " + u.Name}, {Text: to}, {}, markCell("does not work", "short by "+inUnit(float64(one.Short), u, 0)+" "+u.Name)}
		if one.Clears {
			row[2].Text, row[3] = inUnit(float64(one.Metal), u, 0)+" "+u.Name, markCell("works", "")
		}
		if one.Unsure {
			row[3].Mark.Note = joinText(", ", row[3].Mark.Note, "too near to be sure with this gauge")
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// plate is the barrel plated and finished back to standard.
func (k *deciding) plate() (views.Outlook, error) {
	standard, _ := k.d.largerSizes()
	if standard.NewMin == nil {
		return views.Outlook{Says: "What it comes back to is told once the model has new limits for its barrel bore."}, nil
	}
	after, size := k.groundTo(standard, 0)
	o := views.Outlook{Says: "Back to standard size, in another surface.", Size: size, Verdict: views.VerdictMark{Word: "new"},
		Assumed: []string{"It can be plated whatever it measures now, and has the limits of standard size as typed.", "Facings are judged by the shop's list."},
		Unknown: []string{"How thick the plating is and how well it holds: that is the plater's to show.", "Whether the maker allows plating for this barrel, and which.", "How the rings bed into the new surface."}}
	k.assumeFinish(&o, standard)
	t, err := k.platedFacings()
	if err != nil {
		return o, err
	}
	o.Tables = append(o.Tables, t)
	for _, r := range t.Rows {
		if slices.ContainsFunc(r[1:], func(c views.OutlookCell) bool { return c.Mark != nil && c.Mark.Word == string(wear.FacingNotAllowed) }) {
			o.Notes = append(o.Notes, "Not every ring facing runs in every plating: choose the rings with it.")
			break
		}
	}
	return o, k.pistonsFor(&o, after, 0)
}

// platings are the surfaces that plating leaves.
var platings = []string{"chrome-plated", "other plating"}

// platedFacings judges the ring facings at hand against the platings.
func (k *deciding) platedFacings() (views.OutlookTable, error) {
	t := views.OutlookTable{Title: "Ring facings in a plated bore, by the shop's list", Heads: append([]string{"Facing of the rings at hand"}, platings...), None: "No ring at this position or on the shelf has its facing recorded."}
	rings, _, err := k.offers(wear.Ring)
	if err != nil {
		return t, err
	}
	var facings []string
	for _, r := range rings {
		if f := r.part.Facing; f != "" && !slices.Contains(facings, f) {
			facings = append(facings, f)
		}
	}
	slices.Sort(facings)
	for _, f := range facings {
		row := views.OutlookRow{{Text: f}}
		for _, surface := range platings {
			a, err := wear.JudgeFacing(f, surface, k.rules)
			if err != nil {
				return t, err
			}
			row = append(row, markCell(string(a.State), ""))
		}
		t.Rows = append(t.Rows, row)
	}
	return t, nil
}

// pistonsFor lists which pistons suit a bore, and fills in the fit with the
// one that goes with it now.
func (k *deciding) pistonsFor(o *views.Outlook, bore wear.Gauged, over wear.Value) error {
	fit := matchFits[wear.Piston]
	h := matchHole{position: k.position, d: k.d, sizes: []size{{SpotReading: wear.SpotReading{Gauged: bore}}}, over: over}
	pistons, left, err := k.offers(wear.Piston)
	if err != nil {
		return err
	}
	var ss []suit
	own := k.st[slotKey{wear.Piston, 0}]
	for _, p := range pistons {
		ss = append(ss, fit.suits(h, p.dossier, p.where, k.set.Unit))
	}
	if own != nil {
		k.fitWithOwn(o, h, own)
	}
	rankSuits(ss)
	k.bestSteps(o, fit, ss, own)
	o.Tables = append(o.Tables, k.suitTable("Pistons for a bore of "+inUnit(float64(bore.Value), k.set.Unit, 0)+" "+k.set.Unit.Name, ss))
	o.Notes = append(o.Notes, left...)
	return nil
}

// bestSteps adds how the fit of the best of some parts was worked out, where it
// was measured, and is not the one that is told of already.
func (k *deciding) bestSteps(o *views.Outlook, fit fitKind, ss []suit, told *dossier) {
	if len(ss) == 0 {
		return
	}
	o.Assumed = append(o.Assumed, lastMeasured, atHand, middleWanted)
	if best := ss[0]; best.measured && best.d != told {
		o.Steps = append(o.Steps, fit.steps(partName(best.d.part.Kind, best.d.part.Serial)+", "+lowerFirst(fit.name), best.pair, k.set.Unit)...)
	}
}

// fitWithOwn fills in the fit of a bore with the piston that goes with it now.
func (k *deciding) fitWithOwn(o *views.Outlook, h matchHole, piston *dossier) {
	fit, u := matchFits[wear.Piston], k.set.Unit
	skirts := piston.latestSizes(fit.inShaft, 0)
	if len(skirts) == 0 {
		return
	}
	p, ok := fit.pair(h.sizes, skirts, fit.limitOfFit(k.d, piston, 0))
	if !ok {
		return
	}
	o.Fit = "Skirt in barrel " + p.text(u)
	o.Steps = append(o.Steps, fit.steps("skirt of "+piston.part.Serial+" in this bore", p, u)...)
	if piston.sizeNow() != h.over {
		o.Fit += "; the piston is " + sizeWord(piston.sizeNow(), u) + ", another is needed"
		return
	}
	if badness(p.a.Verdict.String()) > badness(o.Verdict.Word) {
		o.Verdict = mark(p.a.Verdict)
	}
}

// suitTable lists parts held against a place, the best first.
func (k *deciding) suitTable(title string, ss []suit) views.OutlookTable {
	u := k.set.Unit
	t := views.OutlookTable{Title: title, Heads: []string{"Part", "Where", "Clearance, tightest to loosest", "From the target", "Weight", "Verdict", "Against it", "End gap in the bore", "Facing", "Pressure against this ring"}, None: "None on the shelf or in this job."}
	for _, s := range ss {
		row := views.OutlookRow{{Text: partName(s.d.part.Kind, s.d.part.Serial), Href: href("/parts/", s.d.part.ID)}, {Text: s.where}, {Text: "not measured"}, {}, {}, {}, {Text: joinText("; ", s.against...)}}
		if s.measured {
			row[2].Text, row[5] = s.both, markCell(s.judged.Verdict.String(), plainText(s.judged, u))
		}
		if s.distance != nil {
			row[3].Text = signedText(*s.distance, u)
		}
		if s.weight != nil {
			row[4].Text = s.weight.Format(wear.Gram) + " g"
		}
		if s.pressure.Mark != nil || s.pressure.Text != "" {
			row = append(row, s.gap, s.facing, s.pressure)
		}
		t.Rows = append(t.Rows, row)
	}
	return withoutEmpty(t)
}

// withoutEmpty leaves out columns that have nothing in them.
func withoutEmpty(t views.OutlookTable) views.OutlookTable {
	for i := len(t.Heads) - 1; i > 0 && len(t.Rows) > 0; i-- {
		if slices.ContainsFunc(t.Rows, func(r views.OutlookRow) bool { return i < len(r) && r[i] != (views.OutlookCell{}) }) {
			continue
		}
		t.Heads = slices.Delete(t.Heads, i, i+1)
		for j, r := range t.Rows {
			if i < len(r) {
				t.Rows[j] = slices.Delete(r, i, i+1)
			}
		}
	}
	return t
}
