package server

import (
	"fmt"
	"slices"

	"barrelbook/views"
)

// regroove is each measured groove of the piston machined for an over-width
// ring from the shelf.
func (k *deciding) regroove() (views.Outlook, error) {
	o := views.Outlook{Ways: []views.Link{{Text: "Reckon with other rings and lands", Href: href("/parts/", k.d.part.ID, "/regroove")}}}
	var works []string
	for n := 1; n <= max(k.d.model.Grooves, 1); n++ {
		if len(k.d.latestSizes("groove width", n)) == 0 {
			continue
		}
		t, best, err := k.regrooveTable(n, &o)
		if err != nil {
			return o, err
		}
		o.Tables = append(o.Tables, t)
		if best != "" {
			works = append(works, fmt.Sprintf("groove %d for %s", n, best))
		}
	}
	if len(o.Tables) > 0 {
		o.Assumed = append(o.Assumed, "Only rings on the shelf whose axial width was measured are looked at.")
	}
	switch {
	case len(o.Tables) == 0:
		o.Says = "No groove width was measured: nothing can be told."
		o.Ways = append(o.Ways, views.Link{Text: "Measure it", Href: href("/measure/part/", k.d.part.ID)})
	case len(works) > 0:
		o.Says, o.Verdict = "Can be machined: "+joinText("; ", works...)+".", views.VerdictMark{Word: "works"}
	default:
		o.Says = "No ring on the shelf is known to suit a machined groove."
	}
	return o, nil
}

// regrooveTable works out one groove with the measured rings on the shelf, as
// the page on over-width rings does, and adds to o what is to mind of it and how
// the ring that stands first was worked out.
func (k *deciding) regrooveTable(groove int, o *views.Outlook) (t views.OutlookTable, best string, err error) {
	t = views.OutlookTable{Title: "Groove " + itoa(groove), Heads: []string{"Ring", "Works", "Machined to", "Comes off", "Side clearance then", "Lands left", "Pressure ratio", "To mind"}}
	g := &regrooving{ringBook: k.rings, f: blankForm(map[string]string{"groove": itoa(groove), "shelf": "yes"}), piston: k.d.part, sent: true, known: map[string]sized{}}
	if err := g.read(); err != nil {
		return t, "", err
	}
	var page views.Regroove
	g.work(&page)
	if least, most := g.f.text(fieldLeast), g.f.text(fieldMost); least != "" && most != "" {
		t.Title += fmt.Sprintf(", for a side clearance of %s to %s %s", least, most, k.set.Unit.Name)
	}
	for _, x := range g.f.faults {
		if x.Field == "rings" {
			t.None = "No over-width ring for this groove on the shelf was measured."
		} else {
			o.Notes = append(o.Notes, fmt.Sprintf("Groove %d, %s: %s.", groove, views.GrooveLabel(x.Field), x.Message))
		}
	}
	for _, r := range page.Rows {
		row := views.OutlookRow{{Text: r.Name}, markCell(r.Word, ""), {Text: r.Groove}, {Text: r.Cut}, {Text: r.Clearance}, {}, markCell(r.RatioWord, r.Ratio), {Text: joinText("; ", slices.Concat(r.Reasons, r.Notes)...)}}
		for _, l := range r.Lands {
			row[5].Text = joinText("; ", row[5].Text, joinText(": ", l.Text, l.Verdict))
		}
		if r.Works && best == "" {
			best = r.Name
		}
		t.Rows = append(t.Rows, row)
	}
	if w := page.Worked; w != nil {
		for _, step := range w.Groups[0].Steps {
			step.Text = fmt.Sprintf("groove %d, %s, %s", groove, w.Groups[0].Title, lowerFirst(step.Text))
			o.Steps = append(o.Steps, step)
		}
		for _, a := range w.Assumed {
			if !slices.Contains(o.Assumed, a) {
				o.Assumed = append(o.Assumed, a)
			}
		}
		o.Unknown = w.Unknown
	}
	return t, best, nil
}
