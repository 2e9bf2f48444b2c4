package server

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// worked is how a judgement was worked out: every number used.
func (d *dossier) worked(x store.Explanation, f wear.Feature, u wear.Unit) *views.Worked {
	j := x.Judgement
	w := &views.Worked{Baseline: baselineText(x, u), Group: d.groupText(x, f), GroupHref: href("/features/", f.ID, "/group"), Runs: j.ReferenceRuns, PartsMore: x.MorePeers, Curve: curveFacts(x, u), Steps: judgementSteps(x, f, u), Likely: likelyCurves(x, f, u), Shown: shownText(x), Settings: settingFacts(x.Settings),
		Sources: []string{
			"Uncertainty of a reading: " + uSource + ". Sizes at 20 °C: ISO 1.",
			"Uncertainty of assumed new size, (max − min)/√12: JCGM 100 (GUM) 4.3.7.",
		}}
	for _, p := range x.Peers {
		w.Parts = append(w.Parts, workedPart(p, x.Settings))
	}
	spots := d.spotReadings(x.Series) // newest first
	d.workedReadings(w, x, spots, f, u)
	if len(spots) > 0 {
		var last []store.Reading
		for _, s := range spots {
			if s.Sheet.ID == spots[0].Sheet.ID {
				last = append(last, s.Reading)
			}
		}
		w.Steps = append(d.verdictSteps(last), w.Steps...)
	}
	w.Assumed, w.Unknown = assumptions(x), unknowns(x)
	return w
}

// workedPart is a part that another was compared with, and what it put into the
// spread of normal parts.
func workedPart(p store.Peer, s wear.Settings) views.WorkedPart {
	w := views.WorkedPart{Name: partName(p.Kind, p.Serial), Href: href("/parts/", p.Part), Where: "run " + itoa(p.Run) + ", to " + string(p.LastDay), Hours: fmt.Sprintf("%.4g h", p.Hours), Readings: itoa(p.Points)}
	if p.Share == nil || !p.Share.In {
		if w.Note = "not in the fit yet"; p.Points < 2 {
			w.Note = "one reading: does not count"
		}
		return w
	}
	if p.Share.RatioSD > 0 {
		w.Ratio = fmt.Sprintf("%.3g ± %.2g", p.Share.Ratio, p.Share.RatioSD)
	}
	if x, v, a, ok := p.Share.LogRatio(); ok {
		w.LogRatio, w.Weight = fmt.Sprintf("%.3f ± %.2g", x, math.Sqrt(v)), fmt.Sprintf("%.4g", a)
	}
	var notes []string
	if p.Share.Trimmed {
		notes = append(notes, fmt.Sprintf("left out of the spread: further than %.3g σ from the middle", s.Trim))
	}
	if p.State == wear.Flagged {
		notes = append(notes, "flagged itself: its pull on the curve is bounded")
	}
	w.Note = strings.Join(notes, "; ")
	return w
}

func baselineText(x store.Explanation, u wear.Unit) string {
	if len(x.Points) == 0 {
		return "There is no reading in this run."
	}
	b := x.Points[0]
	switch {
	case b.Assumed:
		return fmt.Sprintf("Nobody measured the part when its run began (%s). The middle of the new limits stands for it, with the uncertainty of a rectangular distribution between them, ± %s %s (one standard deviation).", x.Start.Event, inUnit(b.U, u, 1), u.Name)
	case b.Hours == 0:
		return "The reading at 0 h of the run."
	}
	return fmt.Sprintf("What came before is not known: the earliest reading, at %.4g h of the run, is the baseline, and only wear after it counts.", b.Hours)
}

func (d *dossier) groupText(x store.Explanation, f wear.Feature) string {
	t := seriesName(f, &x.Series)
	if d.model.Name != "" {
		t += " of " + d.model.Name + " engines"
	}
	if d.part.Kind == wear.Ring && d.part.Groove > 0 {
		t += ", groove " + itoa(d.part.Groove)
	}
	for _, s := range []string{d.part.Surface, d.part.Facing} {
		if s != "" {
			t += ", " + s
		}
	}
	if words := x.Wider.Words(); words != "" {
		t += "; the shop has widened the group: the others may differ in " + words
	}
	return t
}

func curveFacts(x store.Explanation, u wear.Unit) []views.Fact {
	c := x.Judgement.Curve
	facts := []views.Fact{{Label: "Form", Value: string(c.Form)}}
	per := func(v float64) string { return fmt.Sprintf("%.4g %s", toUnit(v, u), u.Name) }
	switch c.Form {
	case wear.BeddingIn:
		return append(facts, views.Fact{Label: "A, bedding-in", Value: per(c.A)}, views.Fact{Label: "τ", Value: fmt.Sprintf("%.4g h", c.Tau)}, views.Fact{Label: "B, steady, per 1,000 h", Value: per(c.B * 1000)})
	case wear.PowerLaw:
		return append(facts, views.Fact{Label: "q", Value: fmt.Sprintf("%.3g", c.Q)}, views.Fact{Label: "W at 1,000 h", Value: per(c.W(1000))})
	case wear.MakerAllowance:
		return append(facts, views.Fact{Label: "Allowance per 1,000 h", Value: per(c.B * 1000)})
	}
	return []views.Fact{{Label: "Form", Value: "none: there is nothing to compare with"}}
}

// shownText says which of the two tests is shown above.
func shownText(x store.Explanation) string {
	j := x.Judgement
	if j.Curve.Form == wear.NoCurve {
		return ""
	}
	return fmt.Sprintf("Shown above is the test of the %s. %s %s", j.Test, j.Whole.Sentence(), j.Interval.Sentence())
}

// plainNumber writes a small number without an exponent, to two digits.
func plainNumber(x float64) string {
	if x <= 0 || x >= 1 {
		return strconv.FormatFloat(x, 'g', 2, 64)
	}
	return strconv.FormatFloat(x, 'f', 1-int(math.Floor(math.Log10(x))), 64)
}

func settingFacts(s wear.Settings) []views.Fact {
	return []views.Fact{
		{Label: "Flagged", Value: fmt.Sprintf("p below %.3g and k above %.3g", s.FlagChance, s.FlagRatio)},
		{Label: "Spread expected beforehand", Value: fmt.Sprintf("log-sd %.3g, worth %.3g parts", s.PriorLogSD, s.PriorParts)},
		{Label: "Spread about the maker's allowance", Value: fmt.Sprintf("log-sd %.3g", s.AllowanceLogSD)},
		{Label: "Tests", Value: wear.WholeRun + " and " + wear.LastInterval + ": flagged by either"},
	}
}

// workedReadings lists the points of the run, and what was left out of it and
// why.
func (d *dossier) workedReadings(w *views.Worked, x store.Explanation, spots []spotReading, f wear.Feature, u wear.Unit) {
	p, c := plot{signed(f), u}, x.Judgement.Curve
	sheets := map[int64]*spotSheet{}
	for _, s := range spots {
		if s.Struck {
			continue
		}
		at := sheets[s.Sheet.ID]
		if at == nil {
			at = &spotSheet{sheet: s.Sheet, hours: s.hours.Float()}
			sheets[s.Sheet.ID] = at
		}
		at.axes = joinText(", ", at.axes, axisText(s.Reading, u))
		at.sum, at.n = at.sum+float64(d.counted(s.Reading).Value), at.n+1
	}
	w.Counts = d.countFacts(spots, f, u)
	for i, pt := range x.Points {
		r := views.WorkedReading{Hours: fmt.Sprintf("%.6g h", pt.Hours), Value: u.FormatFloat(p.value(pt.Y), 1), U: "± " + inUnit(pt.U, u, 1), Wear: inUnit(pt.Y-x.Points[0].Y, u, 1), Used: true}
		if c.Form != wear.NoCurve {
			r.Expected = inUnit(c.W(pt.Hours), u, 2)
		}
		if f.Axes {
			r.Why = "mean of the axes"
		}
		if i == 0 {
			r.Why = "baseline"
		}
		if pt.Assumed {
			r.Why = "baseline, assumed"
		} else {
			if at := sheetOf(sheets, pt, signed(f)); at != nil {
				at.used, r.Day, r.Read = true, string(at.sheet.Day), at.axes+warmText(at.sheet)
			}
		}
		w.Readings = append(w.Readings, r)
	}
	for _, s := range spots {
		r := views.WorkedReading{Day: string(s.Sheet.Day), Hours: hours(s.hours), Read: axisText(s.Reading, u) + warmText(s.Sheet), Value: inUnit(float64(d.counted(s.Reading).Value), u, 0)}
		switch {
		case s.Struck:
			r.Why = "corrected later"
		case !sheets[s.Sheet.ID].used:
			r.Why = "not measured on the axes that the other sheets share"
		default:
			continue
		}
		w.Readings = append(w.Readings, r)
	}
}

// spotSheet is what a sheet read at the spot of a run.
type spotSheet struct {
	sheet store.Sheet
	hours float64
	axes  string
	sum   float64
	n     int
	used  bool
}

// sheetOf is the sheet that a point of a run was made of: of several at its
// hours, as before and after a refit, the one with the mean nearest to it.
func sheetOf(sheets map[int64]*spotSheet, pt wear.Point, sign float64) *spotSheet {
	var best *spotSheet
	off := func(s *spotSheet) float64 { return math.Abs(s.sum/float64(s.n) - sign*pt.Y) }
	for _, s := range sheets {
		if s.used || s.hours != pt.Hours {
			continue
		}
		if best == nil || cmp.Or(cmp.Compare(off(s), off(best)), cmp.Compare(s.sheet.ID, best.sheet.ID)) < 0 {
			best = s
		}
	}
	return best
}

// axisText is a reading as it was typed: "thrust 5.1272".
func axisText(x store.Reading, u wear.Unit) string { return joinText(" ", x.Axis, x.Value.Format(u)) }

// warmText is the temperature of a sheet: " at 35 °C"; "" where it was not taken.
func warmText(s store.Sheet) string {
	if s.Temperature == nil {
		return ""
	}
	return fmt.Sprintf(" at %g °C", *s.Temperature)
}

// countFacts say what the readings of a spot count as, and what the u of the
// newest is made of.
func (d *dossier) countFacts(spots []spotReading, f wear.Feature, u wear.Unit) []views.Fact {
	var ss []size
	for _, s := range spots { // newest first
		if !s.Struck {
			ss = append(ss, d.sized(s.Reading))
		}
	}
	if len(ss) == 0 {
		return nil
	}
	facts := []views.Fact{{Label: "u of one reading", Value: uEquation + ". The newest: " + ss[0].terms.text(ss[0].sheet.Temperature, u)}}
	if f.Axes {
		facts = append(facts, views.Fact{Label: "u of the mean of the axes", Value: "the part of gauge and resolution falls with the number of axes, that of operator and temperature does not: one person reads them all, of a part that is equally warm"})
	}
	if f.Dim != wear.Length {
		return facts
	}
	words := "as typed: no temperature was taken"
	switch w := warmthStep(ss, d.part.Kind, d.set); {
	case !f.Expands():
		words = "as typed, at any temperature: a difference of two sizes changes only by the difference of their expansions"
		if f.Fit {
			words += "; parts that expand differently are better measured each by itself"
		}
	case w != nil:
		words = "at 20 °C: " + w.Equation + ", " + w.Numbers + " (" + w.Source + ")"
	}
	return append(facts, views.Fact{Label: "The size that counts", Value: words})
}

// spotReading is a reading with its hours in the run.
type spotReading struct {
	store.Reading
	hours wear.Hours
}

// spotReadings are the readings of one run at one spot that have a value,
// struck ones too.
func (d *dossier) spotReadings(sr store.Series) []spotReading {
	var out []spotReading
	for _, x := range d.readings {
		if x.Feature != sr.Feature || x.Groove != sr.Groove || x.Station != sr.Station || x.Value == nil {
			continue
		}
		if h, run, ok := d.runHours(x); ok && run == sr.Run {
			out = append(out, spotReading{x, h})
		}
	}
	return out
}

// assumptions is what the judgement takes for granted in this case.
func assumptions(x store.Explanation) []string {
	j := x.Judgement
	out := []string{"Readings scatter about the truth as the normal distribution says, by their u, and those of different sheets have nothing in common."}
	if j.Curve.Form == wear.NoCurve {
		return out
	}
	out = append(out, "A part wears k times as fast as the middle of its group all through the run, and k of normal parts is lognormal: many a little off, few far off. The last interval is tested for itself because that may fail.")
	if x.Learned.FromMaker {
		out = append(out, "The maker's wear allowance is used up evenly over the overhaul life: fewer than three other parts were measured.")
	} else {
		out = append(out, "Wear beds in and then goes on evenly, or goes with a power of the hours from ½ to 1; which of these, the group's readings weigh, and where they leave it open the intervals are wider. It goes on like that beyond the longest run known.",
			"An hour is an hour, on whichever engine and in whatever service.")
	}
	if j.BaselineAssumed {
		out = append(out, "The part was in the middle of its new limits when its run began.")
	}
	return append(out, "The levels, and the spread expected beforehand, are choices of this program; they were tried by simulation and have no published source.")
}

// unknowns is what the program cannot know in this case.
func unknowns(x store.Explanation) []string {
	var out []string
	if x.Judgement.BaselineAssumed {
		out = append(out, "What the part really measured when new: the middle of the new limits was taken.")
	}
	if x.Judgement.ReferenceRuns > 0 && x.Judgement.ReferenceRuns < 8 {
		out = append(out, fmt.Sprintf("How normal parts of this group spread: only %d were measured, so what is expected beforehand weighs as much.", x.Judgement.ReferenceRuns))
	}
	for _, p := range x.Points[min(1, len(x.Points)):] {
		if p.U == 0 {
			out = append(out, "The error of readings without a gauge: they count as exact.")
			break
		}
	}
	return out
}
