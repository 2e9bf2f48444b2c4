package server

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// entryWord is a placeholder of the wordings with what it stands for.
type entryWord struct {
	name, means string
	of          func(d *jobDraft) string
}

var entryWords = []entryWord{
	{"engine", "serial number of the engine", func(d *jobDraft) string { return d.engine.Serial }},
	{"model", "its model", func(d *jobDraft) string { return d.engine.Model.Name }},
	{"aircraft", "the aircraft it is on", func(d *jobDraft) string { return cmp.Or(d.engine.Aircraft, "not recorded") }},
	{"hours", "total hours of the engine at the refit; before it, when the job was opened", func(d *jobDraft) string { return d.hours.String() }},
	{"shop", "name of the shop", func(d *jobDraft) string { return d.set.Shop }},
	{"job", "number of the job", func(d *jobDraft) string { return fmt.Sprint(d.job.ID) }},
	{"why", "why the job was opened", (*jobDraft).why},
	{"opened", "day on which it was opened", func(d *jobDraft) string { return string(d.job.Day) }},
	{"refitted", "day of the refit", func(d *jobDraft) string { return cmp.Or(string(d.fitted.Day), "not yet") }},
	{"positions", "the cylinders", func(d *jobDraft) string { return wear.ListOf(d.positions, itoa) }},
	{"work", "work done, a position after the other, with the parts in and out", (*jobDraft).workWords},
	{"findings", "readings that are beyond a limit or undecided, and notes", (*jobDraft).findingWords},
	{"decisions", "what was decided of each part, and why", (*jobDraft).decisionWords},
	{"measurements", "every reading with its limits; they are attached in any case", func(d *jobDraft) string { return d.measurementWords("") }},
	{"leak", "leak tests of these cylinders", (*jobDraft).leakWords},
	{"overrides", "steps taken out of the order, and facings fitted that are not allowed, with their reasons", (*jobDraft).overrideWords},
	{"open", "what the job was closed over, and why", (*jobDraft).openWords},
	{"data", "documents whose limits were used", (*jobDraft).dataWords},
}

// lines writes a line each, or the word for none.
func lines(all []string, none string) string {
	if len(all) == 0 {
		return none
	}
	return strings.Join(all, "\n")
}

func (d *jobDraft) why() string {
	if d.job.Detail == "" {
		return d.job.Why
	}
	return d.job.Why + ". " + strings.TrimSuffix(d.job.Detail, ".")
}

// named is a part with its numbers: "piston P-304 (part number H6-220)".
func named(p store.Part) string {
	if p.PartNumber == "" {
		return string(p.Kind) + " " + p.Serial
	}
	return fmt.Sprintf("%s %s (part number %s)", p.Kind, p.Serial, p.PartNumber)
}

// nameAt adds the groove of a ring.
func nameAt(p store.JobPart, at *store.Place) string {
	if at == nil || at.Groove == 0 {
		return named(p.Part)
	}
	return fmt.Sprintf("%s, groove %d", named(p.Part), at.Groove)
}

// workWords tells of each position what came off and went on.
func (d *jobDraft) workWords() string {
	var all []string
	for _, n := range d.positions {
		head := fmt.Sprintf("Position %d:", n)
		for _, e := range d.entries {
			if e.Position != n {
				continue
			}
			switch e.Kind {
			case store.JobPulled:
				head += " cylinder removed " + dayOf(e) + ","
			case store.JobRefitted:
				head += " refitted " + dayOf(e) + ","
			}
		}
		all = append(all, strings.TrimRight(head, ",:")+".")
		all = append(all, d.positionWork(n)...)
	}
	return lines(all, "None.")
}

func (d *jobDraft) positionWork(n int) []string {
	var back, out, in, work []string
	for _, p := range d.parts {
		detail := ""
		if h := d.hoursOf(p); h != "" {
			detail = "; " + h
		}
		was, on := p.Was != nil && p.Was.Position == n, p.On != nil && p.On.Position == n
		switch {
		case was && p.Off != "":
			out = append(out, "  Out: "+nameAt(p, p.Was)+detail+". Reason: "+p.Off+".")
		case was:
			back = append(back, nameAt(p, p.Was)+detail)
		}
		if on {
			in = append(in, "  In: "+nameAt(p, p.On)+", "+p.Source+detail+".")
		}
		if on || was && p.Off == "" {
			for _, m := range d.work(p.ID) {
				work = append(work, fmt.Sprintf("  Work: %s %s %s, %s.", p.Kind, p.Serial, markText(m, d.set.Unit), m.Day))
			}
		}
	}
	var all []string
	if len(back) > 0 {
		says := "  Back in place: "
		if d.fitted.ID == 0 {
			says = "  Removed, not yet fitted again: "
		}
		all = append(all, says+strings.Join(back, "; ")+".")
	}
	return slices.Concat(all, out, in, work)
}

// findingWords are the readings that a limit does not let pass, and the notes.
func (d *jobDraft) findingWords() string {
	var all []string
	for _, p := range d.parts {
		x := d.dossiers[p.ID]
		for _, r := range d.readings(p.ID) {
			if v := x.assess(r).Verdict; v == wear.Beyond || v == wear.Undecided {
				all = append(all, fmt.Sprintf("Position %d, %s", p.Position(), d.readingWords(p, r)))
			}
		}
	}
	for _, e := range d.entries {
		if e.Kind == store.JobNote {
			all = append(all, "Note"+notePlace(e)+": "+e.Text+notedBy(e))
		}
	}
	return lines(all, "No reading of this job is beyond its limit or undecided.")
}

func notePlace(e store.JobEntry) string {
	if e.Position == 0 {
		return ""
	}
	return ", position " + itoa(e.Position)
}

func notedBy(e store.JobEntry) string {
	if e.Who == "" {
		return " (" + dayOf(e) + ")"
	}
	return " (" + e.Who + ", " + dayOf(e) + ")"
}

func (d *jobDraft) decisionWords() string {
	var all []string
	for _, p := range d.parts {
		if p.Decision == nil {
			continue
		}
		x := p.Decision
		line := fmt.Sprintf("Position %d, %s %s: %s", p.Position(), p.Kind, p.Serial, x.Disposition)
		if x.Oversize != nil {
			line += fmt.Sprintf(", oversize %s %s", x.Oversize.Format(d.set.Unit), d.set.Unit.Name)
		}
		if x.Groove > 0 {
			line += ", groove " + itoa(x.Groove)
		}
		if x.Width != nil {
			line += fmt.Sprintf(", width %s %s", x.Width.Format(d.set.Unit), d.set.Unit.Name)
		}
		all = append(all, line+": "+x.Reason+notedBy(x.Entry))
	}
	return lines(all, "None recorded.")
}

// measurementWords lists the readings of every part, indented.
func (d *jobDraft) measurementWords(indent string) string {
	var all []string
	for _, p := range d.parts {
		rs := d.readings(p.ID)
		if len(rs) == 0 {
			continue
		}
		all = append(all, fmt.Sprintf("%sPosition %d, %s", indent, p.Position(), nameAt(p, sat(p))))
		for _, r := range rs {
			all = append(all, indent+"  "+string(r.Sheet.Day)+" "+d.readingWords(p, r))
		}
	}
	return lines(all, "No measurement was taken in this job.")
}

// sat is where a part sat, else where it went.
func sat(p store.JobPart) *store.Place {
	if p.Was != nil {
		return p.Was
	}
	return p.On
}

// valueWords is a number exactly as it was typed, in its unit, and what it comes
// to at 20 °C where that shows: "5.1262 in, 5.1272 at 20 °C".
func (d *dossier) valueWords(r store.Reading) string {
	text := r.Value.Format(r.Unit)
	if v, err := wear.ParseValue(r.Typed, r.Unit); err == nil && v == *r.Value {
		text = r.Typed
	}
	return joinText(", ", text+" "+r.Unit.Name, d.at20Text(r, r.Unit))
}

// limitWords are the limits that a reading was judged by, in its own unit, and
// the document they were typed from.
func (d *jobDraft) limitWords(p store.JobPart, r store.Reading) (limits, document string) {
	x := d.dossiers[p.ID]
	row, lim := pickLimit(x.versions[r.SavedAt], x.part, x.features[r.Feature], r.Groove, x.sizeOn(r))
	if row == nil {
		return "", ""
	}
	var parts []string
	if t := between(lim.NewMin, lim.NewMax, r.Unit); t != "" {
		parts = append(parts, "new "+t)
	}
	if t := between(lim.ServiceMin, lim.ServiceMax, r.Unit); t != "" {
		parts = append(parts, "service "+t)
	}
	return strings.Join(parts, "; ") + " " + r.Unit.Name, source(row)
}

func (d *jobDraft) readingWords(p store.JobPart, r store.Reading) string {
	x := d.dossiers[p.ID]
	f := x.features[r.Feature]
	what := f.Name
	if s := spot(r.Groove, r.Station, r.Axis); s != "" {
		what += ", " + s
	}
	text := fmt.Sprintf("%s %s, %s: %s", p.Kind, p.Serial, what, x.valueWords(r))
	limits, document := d.limitWords(p, r)
	a := x.assess(r)
	switch {
	case limits == "" && a.Verdict == wear.NoLimit:
		return text + " (no limit typed)"
	case limits == "":
		return fmt.Sprintf("%s, %s (%s; no limit typed)", text, a.Verdict, plainText(a, r.Unit))
	case a.Tight() && a.Plain == wear.Beyond:
		return fmt.Sprintf("%s, %s, %s (%s; %s)", text, a.Verdict, plainText(a, r.Unit), limits, document)
	}
	return fmt.Sprintf("%s, %s (%s; %s)", text, a.Verdict, limits, document)
}

func (d *jobDraft) leakWords() string {
	var all []string
	for _, r := range d.leaks {
		line := fmt.Sprintf("Position %d, cylinder %s: %s %s, %s", r.Position, r.Serial, leakText(r.Reading, r.Test.Regulated), leakHow(r.Test), r.Test.Day)
		if r.Recheck != nil {
			line += ", rechecked warm: " + leakText(r.Recheck, r.Test.Regulated)
		}
		if r.Test.Tester != "" {
			line += ", " + r.Test.Tester
		}
		all = append(all, line+".")
	}
	return lines(all, "None recorded.")
}

// overrideWords are the steps that the program refused and a person took.
func (d *jobDraft) overrideWords() string {
	says := map[string]string{store.JobPulled: "taken off", store.JobRefitted: "put on", store.JobTurned: "brought to top dead centre"}
	var all []string
	for _, e := range d.entries {
		if e.Despite != "" && says[e.Kind] != "" {
			all = append(all, fmt.Sprintf("Cylinder %d was %s out of the order. Reason: %s%s", e.Position, says[e.Kind], e.Despite, notedBy(e)))
		}
	}
	said := map[int64]bool{}
	for _, p := range d.placings {
		if p.Despite == "" || p.Part == 0 {
			continue
		}
		said[p.Part] = true
		i := slices.IndexFunc(d.parts, func(x store.JobPart) bool { return x.ID == p.Part })
		if i >= 0 {
			all = append(all, fmt.Sprintf("Position %d, %s %s: %s%s", p.Position, p.Kind, d.parts[i].Serial, views.FittedDespite, p.Despite))
		}
	}
	for _, p := range d.parts {
		if p.Despite != "" && p.On != nil && !said[p.ID] { // the reason came with the refit
			all = append(all, fmt.Sprintf("Position %d, %s %s: %s%s", p.On.Position, p.Kind, p.Serial, views.FittedDespite, p.Despite))
		}
	}
	return lines(all, "None.")
}

func (d *jobDraft) openWords() string {
	if d.job.Open() {
		return "The job is still under way."
	}
	for _, e := range slices.Backward(d.entries) {
		if e.Kind == store.JobGivenUp {
			return "The job was given up: " + e.Text
		}
		if e.Kind == store.JobClosed && e.Text != "" {
			return capitalLines(strings.TrimPrefix(e.Text, "open: ")) + "\nReason: " + e.Despite
		}
	}
	return "Nothing."
}

// capitalLines begins each line with a capital.
func capitalLines(text string) string {
	all := strings.Split(text, "\n")
	for i, l := range all {
		all[i] = capital(l)
	}
	return strings.Join(all, "\n")
}

// dataWords are the documents of the limits that the readings were judged by.
func (d *jobDraft) dataWords() string {
	var all []string
	for _, p := range d.parts {
		for _, r := range d.readings(p.ID) {
			x := d.dossiers[p.ID]
			row, _ := pickLimit(x.versions[r.SavedAt], x.part, x.features[r.Feature], r.Groove, x.sizeOn(r))
			if row == nil {
				continue
			}
			line := row.Document
			if row.Revision != "" {
				line += ", rev. " + row.Revision
			}
			if !slices.Contains(all, line) {
				all = append(all, line)
			}
		}
	}
	return cmp.Or(strings.Join(all, "; "), "none: no limit was used")
}

// attachment are the readings as tables, a part each.
func (d *jobDraft) attachment() []views.PaperTable {
	var ts []views.PaperTable
	for _, p := range d.parts {
		t := views.PaperTable{Title: fmt.Sprintf("Position %d, %s", p.Position(), nameAt(p, sat(p))), Heads: []string{"Date", "Feature", "Spot", "Value", "Limits", "Document", "Gauge", "By", "Verdict"}, Widths: []float64{19, 22, 22, 18, 33, 40, 20, 16, 20}}
		x := d.dossiers[p.ID]
		for _, r := range d.readings(p.ID) {
			f := x.features[r.Feature]
			limits, document := d.limitWords(p, r)
			t.Rows = append(t.Rows, views.PaperRow{Cells: []string{string(r.Sheet.Day), f.Name, spot(r.Groove, r.Station, r.Axis), x.valueWords(r), limits, document, r.Gauge + overdue(r), r.Sheet.Who, x.assess(r).Verdict.String()}})
		}
		if len(t.Rows) > 0 {
			ts = append(ts, t)
		}
	}
	return ts
}
