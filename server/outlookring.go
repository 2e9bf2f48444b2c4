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
	text, word, err := k.pressureRatio(own, maker, barrel.part)
	if err != nil || text == "" {
		return err
	}
	o.Facts = append(o.Facts, views.Fact{Label: "Pressure against the maker's new ring", Value: text + ", " + word})
	return nil
}

// pressureRatio sets the contact pressure of a ring against another's, both in
// the barrel; "" where it cannot be worked out.
func (k *deciding) pressureRatio(offered, original *ringSide, barrel store.Part) (text, word string, err error) {
	bore, ok, err := k.rings.barrelBore(barrel)
	if err != nil || !ok {
		return "", "", err
	}
	c, ok := k.rings.compared(offered, original, bore)
	if !ok {
		return "", "", nil
	}
	return fmt.Sprintf("%.2f ± %.2f", c.Ratio, wear.ExpandedU(c.U)), string(c.State), nil
}

// ringAgainst says what speaks against a ring in a barrel: its facing, or its
// end gap there.
func ringAgainst(ring, barrel *dossier, rules wear.FacingRules) []string {
	var out []string
	if why := facingWhy(barrel.part, []store.Part{ring.part}, rules); why != "" {
		out = append(out, why)
	}
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
	text, word, err := k.pressureRatio(side, original, barrel.part)
	s.pressure = views.OutlookCell{Text: "not known"}
	if text != "" {
		s.pressure = markCell(word, text)
	}
	if word == string(wear.PressureHigh) {
		s.against = append(s.against, "presses harder than the ring it replaces")
	}
	return err
}
