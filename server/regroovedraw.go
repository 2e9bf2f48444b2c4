package server

import (
	"fmt"
	"strings"

	"barrelbook/views"
	"barrelbook/wear"
)

func (g *regrooving) draw(p *views.Regroove, list []wear.Regroove) {
	p.Summary = wear.RegrooveSummary(list)
	if c := list[0].Pressure; list[0].Works && c != nil && c.Warn {
		p.Summary += " But its pressure is not the original's: see below."
	}
	worked := &views.RingWorked{Assumed: []string{
		fmt.Sprintf("%d %% of the cut comes off the land below, the rest off the land above; nothing else of the piston changes.", g.share),
		fmt.Sprintf("A number that was not read in the book counts as measured to %s %s (one standard deviation).", inUnit(float64(wear.AssumedSD(wear.Length)), g.set.Unit, 0), g.set.Unit.Name),
		"The order of the list is common practice, no source: what works first, then what leaves its lands thick enough for sure, then what presses like the original, then the least cut.",
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
		if x.ClearMax > 0 {
			row.Clearance = span(x.ClearMin, x.ClearMax, u)
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
		for _, l := range x.Lands {
			if step, ok := verdictStep(lowerFirst(l.Land.Name), l.Left, l.Assessment, wear.Limit{ServiceMin: l.Land.Min, Wear: wear.Down}, u); ok {
				steps = append(steps, step)
			}
		}
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
