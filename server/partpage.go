package server

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// part is the page of one part.
func (s *Server) part(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	d, err := s.dossier(r, n, r.URL.Query().Get("limits"))
	if err != nil {
		return err
	}
	p := views.Part{Page: s.page(r, partName(d.part.Kind, d.part.Serial), views.NavParts), Kind: string(d.part.Kind), Serial: d.part.Serial, PartNumber: d.part.PartNumber, Status: d.part.Status, Note: d.part.Note,
		Worst: worstOf(d.part), Hours: d.hourFacts(), Facts: d.facts(), UNote: "U is 1.645 times the standard uncertainty of a reading: a one-sided 95 % bound. Where the temperature was taken, verdict and wear go by the size at 20 °C.", Links: d.links()}
	if d.part.Status == "scrapped" {
		p.Scrapped = string(d.part.ScrapDay) + ": " + d.part.ScrapReason
	}
	if st, ok := d.here(); ok {
		p.Where, p.WhereHref = placeText(st)+", since "+string(st.From), href("/engines/", st.Engine, "/positions/", st.Position)
		if p.Facing, err = s.facingOf(r, d.part, st); err != nil {
			return err
		}
	}
	shown := d.shown(r.URL.Query().Get("series"))
	p.Series = d.picker(shown)
	if shown != nil {
		if p.Judged, err = s.judged(r, d, shown); err != nil {
			return err
		}
	}
	p.Barrel = d.barrel()
	if p.Leak, err = s.partLeak(r, d); err != nil {
		return err
	}
	if p.Decisions, err = s.decisionLines(r, d); err != nil {
		return err
	}
	p.Readings, p.Stays, p.Events = d.readingRows(shown), d.stayRows(), d.eventRows()
	if p.Photos, err = s.photosOf(r, store.Photo{Part: n}); err != nil {
		return err
	}
	p.Photos.Form = &views.PhotoForm{Action: href("/parts/", n, "/photos"), Most: mostPhotoText, Draft: views.Draft{Values: map[string]string{"uid": newUID()}}}
	return s.draw(w, r, http.StatusOK, views.PartPage(p))
}

// facingOf judges a ring against the barrel it sits in now; nil for any other
// part, and where no barrel is recorded.
func (s *Server) facingOf(r *http.Request, p store.Part, at store.Stay) (*views.FacingCheck, error) {
	if p.Kind != wear.Ring {
		return nil, nil
	}
	rings, err := s.facingsAt(r, store.Engine{ID: at.Engine}, at.Position)
	if err != nil {
		return nil, err
	}
	for _, x := range rings {
		if x.ring.ID == p.ID {
			return facingView(x), nil
		}
	}
	return nil, nil
}

// here is where the part sits now.
func (d *dossier) here() (store.Stay, bool) {
	for _, st := range d.stays {
		if st.Open() && st.Void == "" {
			return st, true
		}
	}
	return store.Stay{}, false
}

func placeText(st store.Stay) string { return seatText(st.EngineNo, st.Position, st.Groove) }

// seatText names a place of an engine, with the groove of a ring.
func seatText(engine string, position, groove int) string {
	t := engine + ", position " + itoa(position)
	if groove > 0 {
		t += ", groove " + itoa(groove)
	}
	return t
}

func (d *dossier) hourFacts() []views.Fact {
	label := "Since new"
	if !d.hours.NewKnown {
		label = "Since it came into the book"
	}
	facts := []views.Fact{{Label: label, Value: hours(d.hours.SinceNew)}}
	if h := d.hours.SinceOverhaul; h != nil {
		facts = append(facts, views.Fact{Label: "Since overhaul", Value: hours(*h)})
	}
	if h := d.hours.SinceInstall; h != nil {
		facts = append(facts, views.Fact{Label: "Since installation", Value: hours(*h)})
	}
	return facts
}

func (d *dossier) facts() []views.Fact {
	var facts []views.Fact
	add := func(label, value string) {
		if value != "" {
			facts = append(facts, views.Fact{Label: label, Value: value})
		}
	}
	u := d.set.Unit
	add("Source", d.part.Source)
	add("Fits", d.model.Name)
	if size := d.sizeNow(); size != 0 {
		add("Oversize", size.Format(u)+" "+u.Name)
	}
	add("Barrel surface", d.part.Surface)
	add("Ring facing", d.part.Facing)
	if d.part.Groove > 0 {
		add("Groove", itoa(d.part.Groove))
	}
	add("Width class", d.part.WidthClass)
	add("Ring material", d.part.Material)
	if d.part.Modulus > 0 {
		add("Modulus of elasticity", grouped(itoa(d.part.Modulus))+" N/mm²")
	}
	if d.part.Weight != nil {
		add("Weight", d.part.Weight.Format(wear.Gram)+" g")
	}
	if d.part.HoursBefore > 0 {
		add("Before it came here", hours(d.part.HoursBefore))
	}
	return facts
}

func (d *dossier) links() views.PartLinks {
	base := href("/parts/", d.part.ID)
	l := views.PartLinks{Edit: base + "/edit", PDF: href("/record/part/", d.part.ID, ".pdf"), CSV: href("/record/part/", d.part.ID, ".csv"), JSON: href("/record/part/", d.part.ID, ".json"), Tag: base + "/tag"}
	if d.part.Status != "scrapped" {
		l.Measure = href("/measure/part/", d.part.ID)
	}
	switch d.part.Status {
	case "on engine":
		l.Remove = base + "/remove"
	case "on shelf":
		l.Install, l.Scrap, l.Event = base+"/install", base+"/scrap", base+"/events"
	}
	switch d.part.Kind {
	case wear.Ring:
		l.Compare = base + "/compare"
	case wear.Piston:
		if d.part.Status != "scrapped" {
			l.Regroove = base + "/regroove"
		}
	}
	return l
}

// shown is the series the page shows: the one asked for, else the worst.
func (d *dossier) shown(asked string) *store.Series {
	want, _ := strconv.ParseInt(asked, 10, 64)
	for i := range d.series {
		if d.series[i].ID == want {
			return &d.series[i]
		}
	}
	worst := d.worst()
	for i := range d.series {
		if worst != nil && d.series[i].ID == worst.Series {
			return &d.series[i]
		}
	}
	if len(d.series) > 0 {
		return &d.series[0]
	}
	return nil
}

func (d *dossier) picker(shown *store.Series) []views.PartSeries {
	var out []views.PartSeries
	for _, f := range d.findings {
		u := store.UnitFor(f.Feature, d.set.Unit)
		v := views.PartSeries{Label: what(f), Href: seriesHref(f), Shown: shown != nil && shown.ID == f.Series, Verdict: told(f.Verdict)}
		if f.Feature.Wear != wear.NoWear {
			v.State = f.State.String()
		}
		if f.LastValue != nil {
			v.Value = lastText(f, u)
		}
		out = append(out, v)
	}
	return out
}

// judged is the spot that the page shows.
func (s *Server) judged(r *http.Request, d *dossier, sr *store.Series) (*views.PartJudged, error) {
	x, err := s.book.Explain(r.Context(), sr.ID)
	if err != nil {
		return nil, err
	}
	f := d.features[sr.Feature]
	u := store.UnitFor(f, d.set.Unit)
	q := r.URL.Query()
	j := &views.PartJudged{What: capital(seriesName(f, sr)), Verdict: told(sr.Verdict), UNote: "Bars: ± U, one-sided 95 %.", AllRuns: q.Get("runs") == "all"}
	if !sr.Current {
		j.What += ", run " + itoa(sr.Run)
	}
	if f.Wear != wear.NoWear {
		j.State, j.Sentence = x.Judgement.State.String(), x.Judgement.Sentence(sr.Start.Event.Since())
		j.Forecast = forecastText(x)
		j.Worked = visitorOf(r.Context()).unnamed(d.worked(x, f, u))
	}
	j.Reading = d.latestText(sr, f, u)
	for _, fi := range d.findings {
		if fi.Series == sr.ID && (fi.Flagged() || fi.Verdict == wear.Beyond) {
			if fi.Seen.Reason != "" {
				j.Seen = "Acknowledged " + day(fi.Seen.SavedAt) + by(fi.Seen.Who) + ": " + fi.Seen.Reason
			}
			if fi.Open() {
				j.AckHref = href("/findings/", sr.ID, "/acknowledge")
			}
		}
	}
	if row, lim := d.limitOf(f, sr.Groove, sr.Oversize); row != nil {
		j.Limit = limitView(row, lim, u, sr.Oversize, f)
	}
	base := href("/parts/", d.part.ID, "?series=", sr.ID)
	j.LimitHow = views.Link{Text: "Verdicts by the limits of their day", Href: base + "&limits=day"}
	if d.asOf != nil {
		j.LimitHow = views.Link{Text: "Verdicts by today's limits", Href: base}
	}
	if d.hasRuns(sr) {
		j.OtherRun = views.Link{Text: "All runs of this part", Href: base + "&runs=all"}
		if j.AllRuns {
			j.OtherRun = views.Link{Text: "This run alone", Href: base}
		}
	}
	j.Chart = d.chart(x, f, u, j.AllRuns)
	return j, nil
}

func by(who string) string {
	if who == "" {
		return ""
	}
	return " by " + who
}

func seriesName(f wear.Feature, sr *store.Series) string {
	if s := spot(sr.Groove, sr.Station, ""); s != "" {
		return f.Name + ", " + s
	}
	return f.Name
}

// hasRuns reports whether the spot has more than one run.
func (d *dossier) hasRuns(sr *store.Series) bool {
	return slices.ContainsFunc(d.series, func(o store.Series) bool {
		return o.ID != sr.ID && o.Feature == sr.Feature && o.Groove == sr.Groove && o.Station == sr.Station
	})
}

// lastText is the worst of the latest sizes of a spot, as it counts.
func lastText(f store.Finding, u wear.Unit) string {
	if f.Carried {
		return at20(inUnit(float64(*f.LastValue), u, 0)+" "+u.Name, true)
	}
	return f.LastValue.Format(u) + " " + u.Name
}

func (d *dossier) latestText(sr *store.Series, f wear.Feature, u wear.Unit) string {
	if len(sr.Points) == 0 {
		return ""
	}
	last := sr.Points[len(sr.Points)-1]
	text := at20(inUnit(signed(f)*last.Y, u, 0)+" ± "+inUnit(wear.ExpandedU(last.U), u, 0)+" "+u.Name, sr.Carried)
	if f.Axes {
		text += " (mean of the axes)"
	}
	return text + ", " + string(sr.LastDay)
}

// signed turns a signed dimension back into the dimension.
func signed(f wear.Feature) float64 {
	if s := f.Wear.Sign(); s != 0 {
		return s
	}
	return 1
}

func limitView(row *store.LimitRow, lim wear.Limit, u wear.Unit, size wear.Value, f wear.Feature) *views.PartLimit {
	v := &views.PartLimit{New: between(lim.NewMin, lim.NewMax, u), Service: between(lim.ServiceMin, lim.ServiceMax, u), Wear: wornWay(row.Wear), Ref: row.Ref, Document: row.Document, Revision: row.Revision,
		PageNo: row.Page, Since: day(row.SavedAt), Href: href("/limits/", row.ID, "/history")}
	if v.New != "" {
		v.New += " " + u.Name
	}
	if v.Service != "" {
		v.Service += " " + u.Name
	}
	if row.Life > 0 {
		v.Life = hours(row.Life)
	}
	if f.Oversize && size != 0 {
		v.Oversize = "moved by the oversize of " + size.Format(u) + " " + u.Name
	}
	return v
}

// forecastText is the forecast in words.
func forecastText(x store.Explanation) []string {
	f := x.Judgement.Forecast
	if f == nil {
		return nil
	}
	lines := []string{f.Sentence()}
	if f.CanSay && !f.Beyond {
		if f.ReachNext > 0 {
			lines = append(lines, fmt.Sprintf("Chance to reach the next inspection inside the limit: %s.", percent(f.ReachNext)))
		}
		if f.ReachLife > 0 {
			lines = append(lines, fmt.Sprintf("Chance to reach the overhaul life of %s inside the limit: %s.", hours(x.Life), percent(f.ReachLife)))
		}
	}
	return lines
}

func percent(p float64) string {
	switch {
	case p < 0.01:
		return "under 1 %"
	case p > 0.99:
		return "over 99 %"
	}
	return strconv.FormatFloat(100*p, 'f', 0, 64) + " %"
}

func (d *dossier) readingRows(shown *store.Series) []views.PartReading {
	begun := map[string]bool{}
	rows := make([]views.PartReading, len(d.readings))
	for i := len(d.readings) - 1; i >= 0; i-- { // oldest first, to see where runs begin
		x := d.readings[i]
		f := d.features[x.Feature]
		u := store.UnitFor(f, d.set.Unit)
		row := views.PartReading{Day: string(x.Sheet.Day), Feature: f.Name, Station: x.Station, Axis: x.Axis, Gauge: x.Gauge + overdue(x), Who: x.Sheet.Who, Struck: x.Struck, Reason: d.correctionOf(x).Reason, Note: x.Sheet.Note,
			SheetHref: href("/sheets/", x.Sheet.ID), Value: "withdrawn"}
		if x.Groove > 0 {
			row.Groove = itoa(x.Groove)
		}
		if x.Sheet.Engine != 0 {
			row.Engine, row.EngineHours = x.Sheet.EngineNo, hours(x.Sheet.Hours)
		}
		if x.Sheet.Temperature != nil {
			row.Temperature = fmt.Sprintf("%g °C", *x.Sheet.Temperature)
		}
		if h, run, ok := d.runHours(x); ok {
			row.RunHours = hours(h)
			key := fmt.Sprint(x.Feature, x.Groove, x.Station, run)
			if run > 1 && !begun[key] {
				row.Begins = "run " + itoa(run)
			}
			begun[key] = true
		}
		if x.Value != nil {
			a := d.assess(x)
			row.Value, row.U, row.Verdict, row.Plain = x.Value.Format(u), d.uText(x, u), told(a.Verdict), d.plain(x, a, u)
			row.At20 = d.at20Text(x, u)
			if x.Typed != row.Value && x.Typed != "" {
				row.Typed = x.Typed
			}
		} else {
			row.Plain = x.Reason
		}
		if x.Struck {
			row.LeftOut = "corrected later"
		} else {
			row.CorrectHref = href("/readings/", x.Root, "/correct")
		}
		rows[i] = row
	}
	return rows
}

func (d *dossier) stayRows() []views.PartStay {
	var rows []views.PartStay
	for i := len(d.stays) - 1; i >= 0; i-- {
		st := d.stays[i]
		row := views.PartStay{Engine: st.EngineNo, EngineHref: href("/engines/", st.Engine), Place: "position " + itoa(st.Position), PlaceHref: href("/engines/", st.Engine, "/positions/", st.Position),
			From: string(st.From), FromHours: hours(st.FromHours), Reason: st.ReasonOut, Void: st.Void, Despite: st.Despite}
		if st.Groove > 0 {
			row.Place += ", groove " + itoa(st.Groove)
		}
		if !st.Open() {
			row.To, row.ToHours, row.Hours = string(st.To), hours(st.ToHours), hours(st.ToHours-st.FromHours)
		} else if d.hours.SinceInstall != nil && st.Void == "" {
			row.Hours = hours(*d.hours.SinceInstall)
		}
		if st.Void == "" {
			row.StrikeHref = href("/installations/", st.ID, "/strike")
		}
		rows = append(rows, row)
	}
	return rows
}

func (d *dossier) eventRows() []views.PartEvent {
	var rows []views.PartEvent
	for i := len(d.marks) - 1; i >= 0; i-- {
		m := d.marks[i]
		row := views.PartEvent{Day: string(m.Day), What: string(m.Event), Hours: hours(m.At), Note: m.Note}
		if m.Groove > 0 {
			row.What += ", groove " + itoa(m.Groove)
		}
		if m.Oversize != nil {
			row.What += ", " + m.Oversize.Format(d.set.Unit) + " " + d.set.Unit.Name
		}
		if m.Event != wear.Overhauled && m.Event != store.EventInstalled {
			row.Run = "a run begins"
		}
		if m.ID != 0 {
			row.StrikeHref = href("/work/", m.ID, "/strike")
		}
		rows = append(rows, row)
	}
	for _, m := range d.struck {
		rows = append(rows, views.PartEvent{Day: string(m.Day), What: markText(m, d.set.Unit), Void: m.Void})
	}
	return rows
}
