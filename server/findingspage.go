package server

import (
	"fmt"
	"math"
	"net/http"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// mostFindings is how many findings of a sort the page draws.
const mostFindings = 50

// mostEngines is how many judgements of whole engines the page draws.
const mostEngines = 40

// findings lists what asks for somebody, worst first.
func (s *Server) findings(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	set, err := s.book.Settings(ctx)
	if err != nil {
		return err
	}
	all, most := r.URL.Query().Has("all"), mostFindings
	if all {
		most = math.MaxInt
	}
	fast, err := s.book.TopFastWear(ctx, most)
	if err != nil {
		return err
	}
	beyond, err := s.book.TopBeyondLimit(ctx, most)
	if err != nil {
		return err
	}
	counts, err := s.book.Counts(ctx)
	if err != nil {
		return err
	}
	p := views.Findings{Page: s.page(r, "Findings", views.NavFindings), Unread: counts.Sheets == 0,
		Levels:  fmt.Sprintf("Flagged: chance below %s and more than %s times a normal part.", wear.OneIn(set.FlagP), strconv.FormatFloat(set.FlagRatio, 'g', 3, 64)),
		Ordered: "The least likely by chance first."}
	judged, err := s.book.Judged(ctx)
	if err != nil {
		return err
	}
	shares, err := falseShares(fast, judged, &p)
	if err != nil {
		return err
	}
	for i, f := range fast {
		n := len(p.Flagged)
		s.sortFinding(&p, &p.Flagged, f, set, all)
		if len(p.Flagged) > n {
			p.Flagged[n].Numbers = append(p.Flagged[n].Numbers, shares[i])
		}
	}
	for _, f := range beyond {
		s.sortFinding(&p, &p.Beyond, f, set, all)
	}
	engines, err := s.book.FastEngines(ctx, mostEngines)
	if err != nil {
		return err
	}
	for _, w := range engines {
		p.Whole = append(p.Whole, wholeWear(w))
	}
	p.FlaggedMore, p.BeyondMore = openOf(fast)-len(p.Flagged), openOf(beyond)-len(p.Beyond)
	if p.SeenMore+p.FlaggedMore+p.BeyondMore > 0 {
		p.AllHref = "/findings?all=1"
	}
	return s.draw(w, r, http.StatusOK, views.FindingsPage(p))
}

// falseShares says of each finding how many of those up to it are expected to be
// normal parts, among all the runs that were judged, and of how many the page
// says so.
func falseShares(fast []store.Finding, judged int, p *views.Findings) ([]views.Fact, error) {
	chances := make([]float64, len(fast))
	for i, f := range fast {
		chances[i] = min(f.Chance, 1)
	}
	q := wear.DefaultSettings().Discovery
	order, err := wear.LeastOf(chances, judged, q)
	if err != nil {
		return nil, err
	}
	facts := make([]views.Fact, len(fast))
	pass := 0
	for _, d := range order {
		facts[d.Index] = views.Fact{Label: "normal parts among these", Value: "at most " + percent(d.Adjusted)}
		if !d.Passes {
			facts[d.Index].Value = "more than " + percent(q) + " could be"
		} else {
			pass++
		}
	}
	if len(fast) > 0 {
		p.Ordered += fmt.Sprintf(" Of %s runs judged, some look fast by chance alone: up to number %d of this list at most %s of those named are expected to be normal parts (Benjamini and Hochberg, 1995).", grouped(itoa(judged)), pass, percent(q))
		if pass == 0 {
			p.Ordered = fmt.Sprintf("The least likely by chance first. Of %s runs judged, so many would look like this by chance that none stands out (Benjamini and Hochberg, 1995): measure again before anything else.", grouped(itoa(judged)))
		}
	}
	return facts, nil
}

// openOf counts the findings that still ask for somebody.
func openOf(fs []store.Finding) int {
	n := 0
	for _, f := range fs {
		if f.Open() {
			n++
		}
	}
	return n
}

func (s *Server) sortFinding(p *views.Findings, to *[]views.FindingRow, f store.Finding, set store.Settings, all bool) {
	if !f.Open() {
		if len(p.Seen) >= 20 && !all {
			p.SeenMore++
			return
		}
		to = &p.Seen
	}
	if len(*to) < mostFindings || all {
		*to = append(*to, findingRow(f, set))
	}
}

func findingRow(f store.Finding, set store.Settings) views.FindingRow {
	u := store.UnitFor(f.Feature, set.Unit)
	row := views.FindingRow{Word: "beyond", Part: partName(f.Kind, f.Serial), Href: seriesHref(f), Where: "not on an engine", Aircraft: f.Aircraft, What: what(f), Sentence: findingText(f), Measured: string(f.LastDay), First: firstStep(f)}
	if f.Engine != 0 {
		row.Where, row.WhereHref = f.EngineNo+", position "+itoa(f.Position), href("/engines/", f.Engine, "/positions/", f.Position)
		if f.AtGroove > 0 {
			row.Where += ", groove " + itoa(f.AtGroove)
		}
	}
	if f.LastValue != nil {
		row.Numbers = append(row.Numbers, views.Fact{Label: "measured", Value: lastText(f, u)})
	}
	if f.Flagged() {
		row.Word = "flagged"
		row.Numbers = append(row.Numbers, views.Fact{Label: "times normal", Value: fmt.Sprintf("%.1f (%.1f to %.1f)", f.Ratio, f.RatioLow, f.RatioHigh)}, views.Fact{Label: "chance", Value: wear.OneIn(f.Chance)})
		row.Against, row.AgainstHref = "against "+counted(f.Refs, "run")+" of the same kind", seriesHref(f)+"#worked"
		if f.Refs < 3 {
			row.Against = "against the maker's wear allowance"
		}
	}
	if f.CanSay && f.LeftMedian != nil && *f.LeftMedian > 0 {
		row.Numbers = append(row.Numbers, views.Fact{Label: "hours to the limit", Value: fmt.Sprintf("%s (%s to %s)", grouped(strconv.FormatFloat(*f.LeftMedian, 'f', 0, 64)), grouped(strconv.FormatFloat(*f.LeftLow, 'f', 0, 64)), grouped(strconv.FormatFloat(*f.LeftHigh, 'f', 0, 64)))})
	}
	if f.Open() {
		row.AckHref = href("/findings/", f.Series, "/acknowledge")
	} else {
		row.Reason, row.Who, row.When = f.Seen.Reason, f.Seen.Who, day(f.Seen.SavedAt)
	}
	return row
}

// wholeWear is what the parts of an engine show together.
func wholeWear(w store.EngineWear) views.WholeWear {
	v := views.WholeWear{What: w.Feature.Name, State: w.State.String(), Sentence: w.Sentence(), Engine: w.EngineNo, Href: href("/engines/", w.Engine, "#whole"), Aircraft: w.Aircraft,
		Numbers: []views.Fact{{Label: "times the others", Value: fmt.Sprintf("%.1f (%.1f to %.1f)", w.Ratio, w.RatioLow, w.RatioHigh)}, {Label: "chance", Value: wear.OneIn(w.P)}, {Label: "compared with", Value: counted(w.OtherEngines, "engine")}}}
	if t := spot(w.Groove, w.Station, ""); t != "" {
		v.What += ", " + t
	}
	if w.ByAllowance {
		v.Numbers[2].Value = "the maker's wear allowance"
	}
	if w.State == wear.Flagged {
		v.First = "Measure a few of them again with another gauge. Then look for what they share: dust past the air filter, cold starts and idle weeks, oil, and the rings fitted last."
	}
	return v
}

// wholeSteps are how an engine's judgements were worked out.
func wholeSteps(ws []store.EngineWear) []views.WorkedStep {
	steps := []views.WorkedStep{{Text: "ratio common to the engine's parts", Equation: "each part's measured ratio is e^(m + ε) ± s; m is the likeliest, ε scatters like normal parts, s is the gauge's error", Source: "worked out for this purpose, tried by simulation; no published source"},
		{Text: "chance", Equation: "p = P(t > x / √(V + 1/A)), V = τ²(1 + Σq²) + c²", Numbers: "τ the spread between normal engines, q the others' shares in the reference, c what is open of its centre and curve, 1/A the error of x = ln ratio", Source: "degrees of freedom by Welch and Satterthwaite: JCGM 100 (GUM) G.4.1"},
		{Text: "several stations", Equation: "p times the number of stations looked at", Source: "Bonferroni's inequality, NIST/SEMATECH e-Handbook 7.4.7.3"}}
	for _, w := range ws {
		if w.State == wear.TooFewReadings || w.State == wear.NoReference {
			continue
		}
		v := wholeWear(w)
		steps = append(steps, views.WorkedStep{Text: v.What, Numbers: fmt.Sprintf("%s against %s and %s: ratio %.3g (90 %%: %.3g to %.3g), p = %s", counted(w.Parts, "part"), v.Numbers[2].Value, counted(w.ReferenceRuns, "run"), w.Ratio, w.RatioLow, w.RatioHigh, plainNumber(w.P))})
	}
	return steps
}

// firstStep is what to consider first. Common practice, no source.
func firstStep(f store.Finding) string {
	if !f.Flagged() {
		switch f.Kind {
		case wear.Cylinder:
			return "Measure again with another gauge; then hone, grind to the next oversize that clears, plate or replace, by the maker's manual."
		case wear.Piston:
			return "Measure again; then another piston, or a machined groove with an over-width ring, by the maker's manual."
		}
		return "Measure again; then replace, by the maker's manual."
	}
	switch f.Kind {
	case wear.Cylinder:
		return "Measure again with another gauge. Then compare the wall tension of its rings with the original's, and look for dust past the air filter, rust from idle weeks, and a ring facing that does not suit the bore."
	case wear.Ring:
		return "Measure again. Then compare its wall tension and facing with the original's, and look at the bore it ran on."
	case wear.Piston:
		return "Measure again. Then compare ring width and wall tension with the original's, and look for dust and a blocked oil way."
	}
	return "Measure again; then look at its mate and its oil supply."
}

// acknowledge takes a person's word on a finding.
func (s *Server) acknowledge(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	x, err := s.book.Finding(r.Context(), n)
	if err != nil {
		return err
	}
	f := blankForm(who(r, nil))
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		err := s.book.Acknowledge(r.Context(), n, f.text("who"), f.text("reason"))
		if err == nil {
			return s.redirect(w, r, "/findings", "The finding was acknowledged. It comes back when the next reading is worse.")
		}
		if err := f.refused(err, nil); err != nil {
			return err
		}
	}
	p := views.Acknowledge{Page: s.page(r, "Acknowledge a finding", views.NavFindings), Action: href("/findings/", n, "/acknowledge"), Draft: f.draft(), Back: views.Link{Text: "Back to findings", Href: "/findings"},
		Part: partName(x.Kind, x.Serial), PartHref: seriesHref(x), What: what(x), State: x.State.String(), Sentence: findingText(x), First: firstStep(x)}
	if !x.Flagged() {
		p.State = x.Verdict.String()
	}
	if x.Engine != 0 {
		p.Where = "engine " + x.EngineNo + ", position " + itoa(x.Position)
	}
	if x.Seen.Reason != "" {
		p.Earlier = []views.Fact{{Label: fmt.Sprintf("%s, at %.0f h", day(x.Seen.SavedAt), x.Seen.Hours), Value: x.Seen.Reason + by(x.Seen.Who)}}
	}
	return s.draw(w, r, f.status(), views.AcknowledgePage(p))
}
