package server

import (
	"cmp"
	"fmt"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// outlooks are what each disposition open to the part would lead to.
func (k *deciding) outlooks() ([]views.Outlook, error) {
	make := map[string]func() (views.Outlook, error){"reuse": k.reuse, "hone": k.hone, "grind": k.grind, "plate": k.plate, "re-groove": k.regroove, "replace": k.replace, "scrap": k.scrap}
	var out []views.Outlook
	for _, name := range store.DispositionsOf(k.d.part.Kind) {
		if name == store.Undecided {
			continue
		}
		o, err := make[name]()
		if err != nil {
			return nil, fmt.Errorf("work out %s: %w", name, err)
		}
		o.Disposition = name
		out = append(out, o)
	}
	return out, nil
}

// reuse is the part as it is, with its mates.
func (k *deciding) reuse() (views.Outlook, error) {
	o := views.Outlook{Size: k.sizeText(), Verdict: mark(k.d.part.Verdict), Assumed: []string{"It goes back as it was last measured: nothing is done to it."},
		Unknown: []string{"How it will be run: dust, cold starts and idle weeks wear more than hours do.", "Whether it is sound: cracks, scores, burnt lands and corrosion are not dimensions."}}
	if rows, steps := k.fitTable(k.st); len(rows.Rows) > 0 {
		o.Tables, o.Steps, o.Assumed = append(o.Tables, rows), append(o.Steps, steps...), append(o.Assumed, lastMeasured, "The errors of the two sizes of a fit are independent.")
	}
	o.Fit = k.worstFit(k.st, &o)
	wears, err := k.wearTable(&o)
	if err != nil {
		return o, err
	}
	o.Tables = append(o.Tables, wears)
	if k.d.part.Kind == wear.Ring {
		if err := k.ringReuse(&o); err != nil {
			return o, err
		}
	}
	switch {
	case k.d.part.LastDay == "":
		o.Says = "It was not measured: nothing can be told of it."
		o.Ways = []views.Link{{Text: "Measure it", Href: href("/measure/part/", k.d.part.ID)}}
	case o.Verdict.Word == "":
		o.Says = "It goes back as it is. There are no limits to hold it against."
	default:
		o.Says = "It goes back as it is: the worst of it and its fits is " + o.Verdict.Word + "."
	}
	for _, f := range k.d.findings {
		if f.Flagged() {
			o.Says, o.Verdict = "It goes back wearing faster than normal parts: "+what(f)+".", views.VerdictMark{Word: "flagged"}
			o.Notes = append(o.Notes, capital(what(f))+": "+f.Sentence)
			break
		}
	}
	return o, nil
}

// sizeText is the size that the part is fitted by, as last measured.
func (k *deciding) sizeText() string {
	ss := k.d.latestSizes(mainSize(k.d.part.Kind), 0)
	if len(ss) == 0 {
		return ""
	}
	s := largestOf(ss)
	if k.d.part.Kind != wear.Cylinder {
		s = smallestOf(ss)
	}
	return inUnit(float64(s.Value), k.set.Unit, 0) + " " + k.set.Unit.Name
}

// fitTable lists the fits that the part has a share in.
func (k *deciding) fitTable(st stack) (views.OutlookTable, []views.WorkedStep) {
	t := views.OutlookTable{Title: "Fits with what goes with it", Heads: []string{"Fit", "Hole", "Shaft", "Clearance", "Limit", "Verdict"}}
	fits := st.fitsOf(k.d.part.Kind, k.groove)
	if fits == nil {
		return t, nil
	}
	for _, r := range fits.Rows {
		t.Rows = append(t.Rows, views.OutlookRow{{Text: r.Name}, {Text: r.Hole}, {Text: r.Shaft}, {Text: joinText(" ", r.Clearance, r.U)}, {Text: joinText(", ", r.Limit, r.LimitFrom)}, markCell(r.Verdict.Word, r.Plain)})
	}
	return t, fits.Steps
}

// worstFit names the worst of the fits, and carries its verdict over.
func (k *deciding) worstFit(st stack, o *views.Outlook) string {
	fits := st.fitsOf(k.d.part.Kind, k.groove)
	if fits == nil {
		return ""
	}
	worst := slices.MaxFunc(fits.Rows, func(a, b views.FitRow) int {
		return cmp.Compare(badness(a.Verdict.Word), badness(b.Verdict.Word))
	})
	if badness(worst.Verdict.Word) > badness(o.Verdict.Word) {
		o.Verdict = worst.Verdict
	}
	return joinText(" ", worst.Name, worst.Both)
}

// badness orders words that judge.
func badness(word string) int {
	return slices.Index([]string{"", "new", "serviceable", "undecided", "beyond", "flagged"}, word)
}

// wearTable lists how each feature of the part wears and how long it has left,
// and fills in the shortest of those times.
func (k *deciding) wearTable(o *views.Outlook) (views.OutlookTable, error) {
	t := views.OutlookTable{Title: "How it wears, and how long it has", Heads: []string{"What", "Wear", "To the limit", "Reaches the next inspection", "Reaches the overhaul life"}, None: "No feature of it was measured often enough."}
	shortest, told := -1.0, false
	type spotOf struct {
		feature int64
		groove  int
	}
	seen := map[spotOf]bool{}
	for _, f := range k.d.findings { // the worst station of each first
		at := spotOf{f.Feature.ID, f.Groove}
		if f.Feature.Wear == wear.NoWear || seen[at] {
			continue
		}
		seen[at] = true
		x, err := k.s.book.Explain(k.ctx, f.Series)
		if err != nil {
			return t, err
		}
		row := views.OutlookRow{{Text: what(f), Href: seriesHref(f)}, markCell(f.State.String(), ""), {}, {}, {}}
		if fc := x.Judgement.Forecast; fc != nil {
			row[2].Text, told = fc.Sentence(), true
			o.Steps = append(o.Steps, limitSteps(x, f, k.set.Unit)...)
			if fc.CanSay && !fc.Beyond {
				row[3].Text, row[4].Text = chanceText(fc.ReachNext, k.set.NextIn), chanceText(fc.ReachLife, x.Life)
			}
			if fc.Beyond || fc.CanSay && (shortest < 0 || fc.Median < shortest) {
				shortest, o.Left = fc.Median, fc.Sentence()
			}
		}
		t.Rows = append(t.Rows, row)
	}
	if told {
		o.Assumed = append(o.Assumed, "It goes on wearing as many times a normal part's wear as its readings show, along the curve of its group: the page of each feature above says how that was found.")
		if k.set.NextIn > 0 {
			o.Assumed = append(o.Assumed, "The next inspection comes after "+hours(k.set.NextIn)+", as the shop set it.")
		}
	}
	return t, nil
}

// limitSteps is the step to the hours until the limit of one feature.
func limitSteps(x store.Explanation, f store.Finding, length wear.Unit) []views.WorkedStep {
	w := &judgementText{x: x, f: f.Feature, u: store.UnitFor(f.Feature, length)}
	w.toLimit()
	for i := range w.steps {
		w.steps[i].Text = what(f) + ", " + w.steps[i].Text
	}
	return w.steps
}

// What is assumed of more than one disposition.
const (
	lastMeasured = "Each part is as it was last measured, which may have been on another day than its mate."
	atHand       = "At hand are the parts on the shelf and those at the job's positions that come back, of this model; a part that was not measured is not told to fit."
	middleWanted = "The clearance wanted is the middle of the new limits of the fit (common practice, no source)."
)

// chanceText writes a chance to reach so many hours; "" where that was not
// asked.
func chanceText(p float64, h wear.Hours) string {
	if p == 0 {
		return ""
	}
	return percent(p) + ", " + hours(h)
}

func markCell(word, note string) views.OutlookCell {
	if word == "" {
		return views.OutlookCell{Text: note}
	}
	return views.OutlookCell{Mark: &views.VerdictMark{Word: word, Note: note}}
}

// joinText joins the texts that are there.
func joinText(sep string, texts ...string) string {
	out := ""
	for _, t := range texts {
		switch {
		case t == "":
		case out == "":
			out = t
		default:
			out += sep + t
		}
	}
	return out
}

// scrap takes the part out of use for good.
func (k *deciding) scrap() (views.Outlook, error) {
	o := views.Outlook{Says: "It leaves use for good when the job is refitted, and is never fitted again.", Assumed: []string{"Any part of this kind and model on the shelf could take its place: none was held against it here, Replace does that."}}
	o.Facts = k.d.hourFacts()
	n, err := k.onShelf()
	if err != nil {
		return o, err
	}
	o.Notes = []string{"Another goes in its place: " + counted(n, string(k.d.part.Kind)) + " of this model on the shelf."}
	if k.d.part.Status == "scrapped" {
		o.Says = "It was scrapped on " + string(k.d.part.ScrapDay) + ": " + k.d.part.ScrapReason + "."
	}
	return o, nil
}

// onShelf counts the parts of the kind on the shelf, itself left out.
func (k *deciding) onShelf() (int, error) {
	_, total, err := k.s.book.Parts(k.ctx, store.PartFilter{Kind: k.d.part.Kind, Status: "on shelf", Model: k.engine.Model.ID, Limit: 1})
	if k.d.part.Status == "on shelf" && total > 0 {
		total--
	}
	return total, err
}
