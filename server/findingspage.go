package server

import (
	"context"
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

// mostYoung is how many parts that are too young to judge the page names.
const mostYoung = 20

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
	shares, err := falseShares(fast, judged, set.FalseMost, &p)
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
	young, err := s.book.TooYoung(ctx, mostYoung)
	if err != nil {
		return err
	}
	for _, f := range young {
		row := findingRow(f, set)
		row.Word, row.Sentence, row.First, row.AckHref, row.Numbers = f.State.String(), f.Sentence, "", "", nil
		p.Young = append(p.Young, row)
	}
	if err := s.drawOthers(ctx, &p, most); err != nil {
		return err
	}
	p.Unread = p.Unread && len(p.Leaks) == 0
	p.HardLevel = fmt.Sprintf("Force above %s times the middle of the maker's new limits, by the shop's setting (common practice, no source). The hardest first.", ratio2(set.Pressure))
	p.FlaggedMore, p.BeyondMore = openOf(fast)-len(p.Flagged), openOf(beyond)-len(p.Beyond)
	if p.SeenMore+p.FlaggedMore+p.BeyondMore+p.WholeMore+p.HardMore+p.LeaksMore > 0 {
		p.AllHref = "/findings?all=1"
	}
	return s.draw(w, r, http.StatusOK, views.FindingsPage(p))
}

// hardRow is a ring that presses too hard.
func hardRow(h hardFound) views.FindingRow {
	ring, p := h.part, h.p
	u := store.UnitFor(h.Feature, wear.Inch)
	row := views.FindingRow{Word: string(wear.PressureHigh), Part: partName(ring.Kind, ring.Serial), Href: href("/parts/", ring.ID), Where: "on the shelf, not fitted", Aircraft: h.Aircraft, What: h.Feature.Name, Measured: string(h.Day),
		Sentence: fmt.Sprintf("Its %s is %.2f times the middle of the maker's new limits.", h.Feature.Name, h.Times), First: "Compare it before it is fitted; choose another, or say why it goes on all the same.",
		Numbers: []views.Fact{{Label: "measured", Value: h.Value.Format(u) + " " + u.Name}, {Label: "new", Value: between(h.Limit.NewMin, h.Limit.NewMax, u) + " " + u.Name, Href: href("/limits/", h.Limit.ID, "/history")}},
		Against: joinText(", ", "with the maker's new ring", source(&h.Limit)), AgainstHref: href("/parts/", ring.ID, "/compare?with="+makersRing)}
	if h.Engine != 0 {
		row.Where, row.WhereHref = seatText(h.EngineNo, h.Position, h.AtGroove), href("/engines/", h.Engine, "/positions/", h.Position)
		row.First = "Measure the barrel it runs in early, and again within its first 50 h; change the ring when the cylinder is off (common practice, no source)."
	}
	if p.hard() {
		row.Word, row.Sentence = string(p.State), p.words()
	}
	return row
}

// falseShares says of each finding how many of those up to it are expected to be
// normal parts, among all the runs that were judged, and up to which of them that
// is at most the share q.
func falseShares(fast []store.Finding, judged int, q float64, p *views.Findings) ([]views.Fact, error) {
	chances := make([]float64, len(fast))
	for i, f := range fast {
		chances[i] = min(f.Chance, 1)
	}
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
	row := views.FindingRow{Word: "beyond", Part: partName(f.Kind, f.Serial), Href: seriesHref(f), Where: "not on an engine", Aircraft: f.Aircraft, What: what(f), Sentence: findingText(f, set.Unit), Measured: string(f.LastDay), First: firstStep(f)}
	if f.Engine != 0 {
		row.Where, row.WhereHref = seatText(f.EngineNo, f.Position, f.AtGroove), href("/engines/", f.Engine, "/positions/", f.Position)
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

// wholeWhat names what an engine was judged by.
func wholeWhat(w store.EngineWear) string {
	return joinText(", ", w.Feature.Name, spot(w.Groove, w.Station, ""))
}

// wholeWear is what the parts of an engine show together.
func wholeWear(w store.EngineWear) views.WholeWear {
	v := views.WholeWear{What: wholeWhat(w), State: w.State.String(), Sentence: w.Sentence(), Engine: w.EngineNo, Href: href("/engines/", w.Engine, "#whole"), Aircraft: w.Aircraft,
		Numbers: []views.Fact{{Label: "times the others", Value: fmt.Sprintf("%.1f (%.1f to %.1f)", w.Ratio, w.RatioLow, w.RatioHigh)}, {Label: "chance", Value: wear.OneIn(w.P)}, {Label: "compared with", Value: counted(w.OtherEngines, "engine")}}}
	if w.ByAllowance {
		v.Numbers[2].Value = "the maker's wear allowance"
	}
	if w.State == wear.Flagged && !w.Open() {
		v.Seen = "Acknowledged " + day(w.Seen.SavedAt) + by(w.Seen.Who) + ": " + w.Seen.Reason
	}
	if w.State == wear.Flagged {
		v.First = "Measure a few of them again with another gauge. Then look for what they share: dust past the air filter, cold starts and idle weeks, oil, and the rings fitted last."
	}
	return v
}

// firstStep is what to consider first. Common practice, no source.
func firstStep(f store.Finding) string {
	if !f.Flagged() {
		switch tight := f.Judged().Tight(); {
		case tight && f.Feature.InBore:
			return "Measure again, square in the bore. Then another ring, or file the ends of this one to the new minimum, by the maker's manual: ends that butt break ring and piston."
		case tight && f.Feature.Groove:
			return "Clean groove and ring of carbon and measure again. Then another ring, or a machined groove, by the maker's manual: a ring that binds breaks ring and piston."
		case tight:
			return "Clean both parts and measure again. Then another mate, or size one of the two to the new limits, by the maker's manual."
		}
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
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	p := views.Acknowledge{Action: href("/findings/", n, "/acknowledge"), Part: partName(x.Kind, x.Serial), PartHref: seriesHref(x), What: what(x), State: x.State.String(), Sentence: findingText(x, set.Unit), First: firstStep(x), Comes: "when the next reading is worse"}
	if !x.Flagged() {
		p.State = x.Verdict.String()
	}
	if x.Engine != 0 {
		p.Where = "engine " + x.EngineNo + ", position " + itoa(x.Position)
	}
	if x.Seen.Reason != "" {
		p.Earlier = []views.Fact{{Label: fmt.Sprintf("%s, at %.0f h", day(x.Seen.SavedAt), x.Seen.Hours), Value: x.Seen.Reason + by(x.Seen.Who)}}
	}
	return s.acknowledgeWith(w, r, p, func(ctx context.Context, who, reason string) error { return s.book.Acknowledge(ctx, n, who, reason) })
}
