package server

import (
	"fmt"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// ringReuse adds what a ring's facing and its spring mean for going back.
func (k *deciding) ringReuse(o *views.Outlook) error {
	barrel := k.st[slotKey{wear.Cylinder, 0}]
	if barrel == nil {
		return nil
	}
	a, err := wear.JudgeFacing(k.d.part.Facing, barrel.part.Surface, k.rules)
	if err != nil {
		return err
	}
	o.Facts = append(o.Facts, views.Fact{Label: "Facing in this bore", Value: string(a.State)})
	if a.State != wear.FacingAllowed {
		o.Notes = append(o.Notes, a.Words)
	}
	if a.State == wear.FacingNotAllowed {
		o.Verdict = views.VerdictMark{Word: string(a.State)}
	}
	own, err := k.rings.measured(k.d.part, "offered")
	if err != nil {
		return err
	}
	maker := k.rings.makers(k.d.limits, k.inGroove(), k.d.model.Name)
	r, err := k.pressureRatio(own, maker, barrel.part)
	if err != nil || r == nil {
		return err
	}
	o.Facts = append(o.Facts, views.Fact{Label: "Pressure against the maker's new ring", Value: r.text() + ", " + string(r.State)})
	r.explain(o)
	return nil
}

// pressureRatio is the contact pressure of a ring against another's, both in
// the barrel.
type pressureRatio struct {
	wear.PressureComparison
	offered, original *ringSide
	bore              sized
}

// pressureRatio works it out; nil where it cannot be.
func (k *deciding) pressureRatio(offered, original *ringSide, barrel store.Part) (*pressureRatio, error) {
	bore, ok, err := k.rings.barrelBore(barrel)
	if err != nil || !ok {
		return nil, err
	}
	offered, original = sameWidth(offered, original)
	c, ok := k.rings.compared(offered, original, bore)
	if !ok {
		return nil, nil
	}
	return &pressureRatio{c, offered, original, bore}, nil
}

func (r *pressureRatio) text() string {
	return fmt.Sprintf("%.2f ± %.2f", r.Ratio, wear.ExpandedU(r.U))
}

// explain adds how it was worked out.
func (r *pressureRatio) explain(o *views.Outlook) {
	for _, side := range []struct {
		name  string
		steps []views.WorkedStep
	}{{r.offered.name, pressureSteps(r.Offered)}, {r.original.name, pressureSteps(r.Original)}, {"", workedSteps(r.Working)}} {
		for _, step := range side.steps {
			step.Text = joinText(", ", side.name, lowerFirst(step.Text))
			o.Steps = append(o.Steps, step)
		}
	}
	o.Assumed = append(o.Assumed, pressureAssumed(r.offered, r.original, r.PressureComparison)...)
	o.Assumed = append(o.Assumed, "Both rings are set against the same bore: "+r.bore.from+".")
	o.Unknown = append(o.Unknown, "How a ring bears round the bore: a mean pressure hides one that presses at its ends only.")
}

// ringAgainst says what speaks against a ring in a barrel: its facing, or its
// end gap there.
func ringAgainst(ring, barrel *dossier, rules wear.FacingRules) []string {
	var out []string
	if why := facingWhy(barrel.part, []store.Part{ring.part}, rules); why != "" {
		out = append(out, why)
	}
	return append(out, gapAgainst(ring, barrel)...)
}

// gapAgainst says where a ring's end gap in a barrel is beyond its limit.
func gapAgainst(ring, barrel *dossier) (out []string) {
	gap, _ := gapOf(ring, barrel)
	u := barrel.set.Unit
	for _, g := range gap.in {
		if a := wear.AssessClearance(g.Value, g.U, ring.limitNamed("end gap", 0)); a.Plain == wear.Beyond {
			where := "this bore"
			if g.at.Name != "" {
				where = g.place() + " of " + where
			}
			out = append(out, "end gap "+inUnit(float64(g.Value), u, 0)+" in "+where+" is "+plainText(a, u))
		}
	}
	return out
}

// ringColumns adds a ring's end gap in the barrel, its facing there and its
// pressure against the ring that it would replace.
func (k *deciding) ringColumns(s *suit, barrel *dossier) error {
	s.gap.Text = gapText(s.d, barrel, k.set.Unit)
	a, err := wear.JudgeFacing(s.d.part.Facing, barrel.part.Surface, k.rules)
	if err != nil {
		return err
	}
	s.facing = markCell(string(a.State), "")
	original, err := k.rings.measured(k.d.part, "original")
	if err != nil {
		return err
	}
	side, err := k.rings.measured(s.d.part, "offered")
	if err != nil {
		return err
	}
	r, err := k.pressureRatio(side, original, barrel.part)
	if s.pressure = (views.OutlookCell{Text: "not known"}); r == nil {
		return err
	}
	s.ratio, s.pressure = r, markCell(string(r.State), r.text())
	if r.State == wear.PressureHigh {
		s.against = append(s.against, "presses harder than the ring it replaces")
	}
	return nil
}
