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

// fleet is the first page: each engine with its positions at a glance.
func (s *Server) fleet(w http.ResponseWriter, r *http.Request) error {
	ctx, at, q := r.Context(), pageOf(r), r.URL.Query().Get("q")
	es, total, err := s.enginesFor(r, q, at)
	if err != nil {
		return err
	}
	slots, err := s.book.Glance(ctx, es)
	if err != nil {
		return err
	}
	open, err := s.book.OpenOn(ctx, ids(es))
	if err != nil {
		return err
	}
	p := views.Fleet{Page: s.page(r, "Fleet", views.NavFleet), Query: q, Found: counted(total, "engine"), Empty: total == 0 && q == ""}
	p.Before, p.After = at.around(r, total)
	jobs, err := s.book.Jobs(ctx, store.JobFilter{Open: true})
	if err != nil {
		return err
	}
	leaks, err := s.leaksOn(ctx, ids(es))
	if err != nil {
		return err
	}
	also, err := s.othersKept(ctx)
	if err != nil {
		return err
	}
	lines := also.byEngine()
	for _, e := range es {
		row := fleetRow(e, slots[e.ID], open[e.ID], leaks[e.ID])
		row.Whole = also.wholeOpen(e.ID)
		row.Findings += len(lines[e.ID])
		for _, j := range jobs {
			if j.Engine == e.ID {
				row.Jobs = append(row.Jobs, views.Link{Text: fmt.Sprintf("Job %d under way", j.ID), Href: href("/jobs/", j.ID)})
			}
		}
		p.Rows = append(p.Rows, row)
	}
	return s.draw(w, r, http.StatusOK, views.FleetPage(p))
}

func ids(es []store.Engine) []int64 {
	out := make([]int64, len(es))
	for i, e := range es {
		out[i] = e.ID
	}
	return out
}

func fleetRow(e store.Engine, slots []store.Slot, open []store.Finding, mind map[int]minded) views.FleetRow {
	worst, last := worstWith(slots, worstOfAll(mind))
	row := views.FleetRow{Serial: e.Serial, Model: e.Model.Name, Aircraft: e.Aircraft, Measured: string(last), Worst: worst, Findings: len(open), Href: href("/engines/", e.ID), MeasureHref: href("/measure?q=", e.Serial)}
	if e.HoursDay != "" {
		row.Hours = hours(e.Hours)
	}
	flagged := flaggedAt(open)
	for n := 1; n <= e.Cylinders; n++ {
		here := slotsAt(slots, n)
		mark, _ := worstWith(here, mind[n])
		row.Cells = append(row.Cells, views.FleetCell{Number: n, Verdict: mark.Word, Note: mark.Note, Flagged: flagged[n], Bare: len(here) == 0, Href: href("/engines/", e.ID, "/positions/", n)})
	}
	return row
}

// flaggedAt are the positions with a part that wears fast and that nobody has
// acknowledged.
func flaggedAt(open []store.Finding) map[int]bool {
	at := map[int]bool{}
	for _, f := range open {
		at[f.Position] = at[f.Position] || f.Flagged()
	}
	return at
}

// engine is the page of one engine.
func (s *Server) engine(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	ctx := r.Context()
	slots, err := s.book.Slots(ctx, []store.Engine{e})
	if err != nil {
		return err
	}
	open, err := s.book.OpenOn(ctx, []int64{e.ID})
	if err != nil {
		return err
	}
	all, err := s.book.FindingsOn(ctx, e.ID)
	if err != nil {
		return err
	}
	set, err := s.book.Settings(ctx)
	if err != nil {
		return err
	}
	entries, err := s.book.Meter(ctx, e.ID)
	if err != nil {
		return err
	}
	mind, err := s.mindedOn(ctx, e, slots[e.ID])
	if err != nil {
		return err
	}
	worst, last := worstWith(slots[e.ID], worstOfAll(mind))
	p := views.Engine{Page: s.page(r, "Engine "+e.Serial, views.NavEngines), Serial: e.Serial, Model: e.Model.Name, Aircraft: e.Aircraft, Notes: e.Notes, Worst: worst, Findings: len(open[e.ID]),
		Facts: engineFacts(e, last), MeasureHref: href("/measure?q=", e.Serial), MeterHref: href("/engines/", e.ID, "/meter"), LeakHref: href("/engines/", e.ID, "/leak"), EditHref: href("/engines/", e.ID, "/edit"), RecordHref: href("/record/engine/", e.ID, ".pdf"), CrankHref: href("/engines/", e.ID, "/crank"), MatchHref: href("/engines/", e.ID, "/match")}
	leak, err := s.lastLeak(r, e)
	if err != nil {
		return err
	}
	if leak.Value != "" {
		p.Facts = append(p.Facts, leak)
	}
	if e.Offset != 0 {
		p.MeterStory = fmt.Sprintf("The meter was replaced or reset: it shows %s, and %s are added to that, so the engine has %s.", hours(e.Hours-e.Offset), hours(e.Offset), hours(e.Hours))
	}
	p.Meter = meterRows(e.ID, entries[:min(len(entries), 8)])
	p.MeterMore = len(entries) - len(p.Meter)
	if err := s.whole(r, e.ID, &p); err != nil {
		return err
	}
	p.JobHref = href("/engines/", e.ID, "/jobs/new")
	if len(slots[e.ID]) == 0 {
		p.InstallHref = href("/engines/", e.ID, "/positions/1/install")
	}
	if p.Jobs, err = s.jobsOn(r, e); err != nil {
		return err
	}
	also, err := s.othersKept(ctx)
	if err != nil {
		return err
	}
	p.Others = also.byEngine()[e.ID]
	p.Findings += len(p.Others)
	flagged := flaggedAt(open[e.ID])
	p.Plan = views.EnginePlan{Title: "Positions of engine " + e.Serial, Arrangement: e.Arrangement, MasterRod: e.MasterRod}
	if p.Plan.Arrangement == "" {
		p.Plan.Arrangement = "inline"
	}
	for n := 1; n <= e.Cylinders; n++ {
		row := enginePosition(e, n, slotsAt(slots[e.ID], n), all, open[e.ID], mind[n], set.Unit)
		p.Rows = append(p.Rows, row)
		p.Plan.Positions = append(p.Plan.Positions, views.PlanPosition{Number: n, Label: row.Cylinder, Mark: row.Worst, Flagged: flagged[n], Href: row.Href})
	}
	return s.draw(w, r, http.StatusOK, views.EnginePage(p))
}

func engineFacts(e store.Engine, last wear.Day) []views.Fact {
	facts := []views.Fact{{Label: "Engine hours", Value: hours(e.Hours)}, {Label: "Meter read", Value: string(e.HoursDay)}}
	if last != "" {
		facts = append(facts, views.Fact{Label: "Last measured", Value: string(last)})
	}
	arrangement := e.Arrangement
	if arrangement == "" {
		arrangement = "arrangement not given"
	}
	facts = append(facts, views.Fact{Label: "Cylinders", Value: itoa(e.Cylinders) + ", " + arrangement})
	if e.MasterRod > 0 {
		facts = append(facts, views.Fact{Label: "Master-rod cylinder", Value: wear.ListOf(e.Masters(), itoa)})
	}
	return facts
}

func enginePosition(e store.Engine, n int, here []store.Slot, all, open []store.Finding, mind minded, u wear.Unit) views.EnginePosition {
	worst, last := worstWith(here, mind)
	row := views.EnginePosition{Number: n, Href: href("/engines/", e.ID, "/positions/", n), Master: slices.Contains(e.Masters(), n), Worst: worst, Measured: string(last), MeasureHref: href("/measure/engine/", e.ID, "/", n)}
	for _, x := range here {
		if x.Kind == wear.Cylinder {
			row.Cylinder, row.CylinderHref, row.Hours = x.Serial, href("/parts/", x.ID), hours(x.SinceHours)
		}
	}
	if len(here) < len(stackOf(e.Model)) {
		row.InstallHref = row.Href + "/install"
	}
	least := wear.NoLimit
	for _, f := range all {
		if worst.Note == "" && f.Position == n && f.Verdict > least {
			least = f.Verdict
			row.WorstWhat = string(f.Kind) + " " + f.Serial + ", " + what(f)
		}
	}
	more := -1
	for _, f := range open {
		if f.Position != n {
			continue
		}
		if more++; more == 0 {
			row.Finding, row.FindingHref = capital(string(f.Kind))+", "+what(f)+": "+findingText(f, u), seriesHref(f)
		}
	}
	if more > 0 {
		row.Finding += " And " + itoa(more) + " more at this position."
	}
	return row
}

// what names a feature at its spot: barrel bore, top.
func what(f store.Finding) string {
	name := f.Feature.Name
	if s := spot(f.Groove, f.Station, ""); s != "" {
		name += ", " + s
	}
	return name
}

func seriesHref(f store.Finding) string { return href("/parts/", f.Part, "?series=", f.Series) }

// findingText is why a part is a finding.
func findingText(f store.Finding, book wear.Unit) string {
	if f.Flagged() {
		return f.Sentence
	}
	return strings.TrimSpace("Measured " + beyondText(f, book) + ". " + f.Sentence)
}

// beyondText says which limit a part is beyond, of a clearance that is too
// tight also by how much.
func beyondText(f store.Finding, book wear.Unit) string {
	a := f.Judged()
	if !a.Tight() {
		return "past its service limit"
	}
	return plainText(a, store.UnitFor(f.Feature, book))
}

// position is the page of one position: the stack that sits there.
func (s *Server) position(w http.ResponseWriter, r *http.Request) error {
	e, err := s.engineOf(r)
	if err != nil {
		return err
	}
	n, err := position(r)
	if err != nil || n > e.Cylinders {
		return errBadAddress
	}
	slots, err := s.book.Slots(r.Context(), []store.Engine{e})
	if err != nil {
		return err
	}
	stays, err := s.book.StaysAt(r.Context(), e.ID, n)
	if err != nil {
		return err
	}
	here := href("/engines/", e.ID, "/positions/", n)
	p := views.Position{Page: s.page(r, fmt.Sprintf("Position %d of engine %s", n, e.Serial), views.NavEngines), Engine: e.Serial, EngineHref: href("/engines/", e.ID), Model: e.Model.Name, Number: n,
		Master: slices.Contains(e.Masters(), n), MasterAt: e.MasterRod, JobHref: href("/engines/", e.ID, "/jobs/new?p", n, "=yes"), Facts: engineFacts(e, "")[:2], MeasureHref: href("/measure/engine/", e.ID, "/", n)}
	if n > 1 {
		p.Prev = views.Link{Text: "Position " + itoa(n-1), Href: href("/engines/", e.ID, "/positions/", n-1)}
	}
	if n < e.Cylinders {
		p.Next = views.Link{Text: "Position " + itoa(n+1), Href: href("/engines/", e.ID, "/positions/", n+1)}
	}
	if p.Job, err = s.jobAt(r, e.ID, n); err != nil {
		return err
	}
	held := slotsAt(slots[e.ID], n)
	leak, err := s.leakFact(r.Context(), e.ID, n)
	if err != nil {
		return err
	}
	if leak.Value != "" {
		p.Facts = append(p.Facts, leak)
	}
	rules, err := s.book.FacingRules(r.Context())
	if err != nil {
		return err
	}
	rings, err := facingsOf(held, rules)
	if err != nil {
		return err
	}
	pressed, err := s.pressingOn(r, e, held)
	if err != nil {
		return err
	}
	places := stackOf(e.Model)
	for _, x := range held { // a ring in a groove that the plan does not have still shows
		if x.AtGroove > e.Model.Grooves {
			places = append(places, place{label: "Ring, groove " + itoa(x.AtGroove), kind: wear.Ring, groove: x.AtGroove})
		}
	}
	st, err := s.stackAt(r, held)
	if err != nil {
		return err
	}
	p.Fits = st.fits()
	for _, pl := range places {
		v := views.PositionSlot{Place: pl.label, InstallHref: here + "/install"}
		for _, x := range held {
			if x.Kind == pl.kind && x.AtGroove == pl.groove {
				v = positionSlot(st[slotKey{x.Kind, x.AtGroove}], pl, x)
				for _, ring := range rings {
					if ring.ring.ID == x.ID {
						v.Facing, v.CompareHref = facingView(ring), href("/parts/", x.ID, "/compare")
					}
				}
				v.Pressing, v.Despite = pressed[x.ID].view(false), despiteOf(stays, x.ID)
			}
		}
		if v.Name == "" {
			p.InstallHref = v.InstallHref
		}
		p.Slots = append(p.Slots, v)
	}
	for i := len(stays) - 1; i >= 0; i-- {
		if st := stays[i]; !st.Open() {
			p.Earlier = append(p.Earlier, views.EarlierPart{Place: strings.TrimSuffix(capital(string(st.Kind))+", "+spot(st.Groove, "", ""), ", "), Name: st.Serial, Href: href("/parts/", st.Part), From: string(st.From), To: string(st.To),
				Hours: hours(st.ToHours - st.FromHours), Reason: st.ReasonOut})
		}
	}
	return s.draw(w, r, http.StatusOK, views.PositionPage(p))
}

// despiteOf is why a part that sits at a position was fitted although a ring's
// facing or pressure speaks against it.
func despiteOf(stays []store.Stay, part int64) string {
	for _, st := range stays {
		if st.Part == part && st.Open() {
			return st.Despite
		}
	}
	return ""
}

func positionSlot(d *dossier, pl place, x store.Slot) views.PositionSlot {
	v := views.PositionSlot{Place: pl.label, Name: x.Serial, Href: href("/parts/", x.ID), About: d.about(), Installed: string(x.From), SinceHere: hours(x.SinceHours),
		MeasureHref: href("/measure/part/", x.ID), RemoveHref: href("/parts/", x.ID, "/remove"), EventHref: ""}
	if d.hours.NewKnown {
		v.SinceNew = hours(d.hours.SinceNew)
	}
	if h := d.hours.SinceOverhaul; h != nil {
		v.SinceDone = hours(*h)
	}
	if f := d.worst(); f != nil && f.Feature.Wear != wear.NoWear {
		v.State, v.Sentence = f.State.String(), f.Sentence
	}
	for _, f := range d.latest() {
		v.Lines = append(v.Lines, d.positionLine(f))
	}
	return v
}

// latest keeps, of each feature and groove, the spot with the worst verdict.
func (d *dossier) latest() []store.Finding {
	var out []store.Finding
	for _, f := range d.findings {
		n := len(out)
		if n > 0 && out[n-1].Feature.ID == f.Feature.ID && out[n-1].Groove == f.Groove {
			if f.Verdict > out[n-1].Verdict {
				out[n-1] = f
			}
			continue
		}
		out = append(out, f)
	}
	return out
}

func (d *dossier) positionLine(f store.Finding) views.PositionLine {
	u := store.UnitFor(f.Feature, d.set.Unit)
	line := views.PositionLine{What: what(f), Day: string(f.LastDay), Verdict: told(f.Verdict), Href: seriesHref(f)}
	if f.LastValue != nil {
		line.Value = lastText(f, u)
	}
	if a := f.Judged(); a.Tight() && a.Verdict >= wear.Undecided {
		line.Verdict.Note = plainText(a, u)
	}
	if row, lim := d.limitOf(f.Feature, f.Groove, d.sizeNow()); row != nil {
		low, high := f.Feature.Held(lim)
		line.Limit = between(low, high, u)
	}
	return line
}

// about describes a part in a line.
func (d *dossier) about() string {
	number, size := "", ""
	if d.part.PartNumber != "" {
		number = "part number " + d.part.PartNumber
	}
	if v := d.sizeNow(); v != 0 {
		size = "oversize " + v.Format(d.set.Unit) + " " + d.set.Unit.Name
	}
	return joinText(", ", number, d.part.Surface, d.part.Facing, size)
}
