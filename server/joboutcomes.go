package server

import (
	"fmt"
	"net/http"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// outcomes looks back on what was decided in closed jobs.
func (s *Server) outcomes(w http.ResponseWriter, r *http.Request) error {
	all, err := s.book.Outcomes(r.Context())
	if err != nil {
		return err
	}
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return err
	}
	at := pageOf(r)
	p := views.JobOutcomes{Page: s.page(r, "What decisions led to", views.NavJobs), Kinds: outcomeKinds(all), Total: counted(len(all), "decision") + " of closed jobs"}
	from := min(at.offset(), len(all))
	for _, o := range all[from:min(from+pageSize, len(all))] {
		p.Rows = append(p.Rows, outcomeLine(o, set.Unit))
	}
	p.Turn.Before, p.Turn.After = at.around(r, len(all))
	return s.draw(w, r, http.StatusOK, views.JobOutcomesPage(p))
}

// outcomeKinds counts what the decisions of each kind have led to.
func outcomeKinds(all []store.Outcome) []views.OutcomeKind {
	var out []views.OutcomeKind
	for _, name := range store.Dispositions {
		n, count := 0, map[string]int{}
		var since []wear.Hours
		for _, o := range all {
			if o.Disposition != name {
				continue
			}
			n++
			count[o.What]++
			if o.Subject.ID != 0 && o.What != store.OutcomeNotFitted && o.What != store.OutcomeUnknown {
				since = append(since, o.Since)
			}
		}
		if n == 0 {
			continue
		}
		gone := count[store.OutcomeRemoved] + count[store.OutcomeScrapped]
		rest := n - gone - count[store.OutcomeWell] - count[store.OutcomeFlagged] - count[store.OutcomeBeyond] - count[store.OutcomeUnread]
		out = append(out, views.OutcomeKind{Disposition: name, Decisions: itoa(n), Well: itoa(count[store.OutcomeWell]), Flagged: itoa(count[store.OutcomeFlagged]), Beyond: itoa(count[store.OutcomeBeyond]),
			Removed: itoa(gone), Unread: itoa(count[store.OutcomeUnread]), Rest: itoa(rest), Median: medianHours(since)})
	}
	return out
}

// medianHours is the middle of some hours, of an even number the mean of the
// two in the middle; "" of none.
func medianHours(hs []wear.Hours) string {
	if len(hs) == 0 {
		return ""
	}
	sorted := slices.Sorted(slices.Values(hs))
	n := len(sorted)
	return hours((sorted[(n-1)/2] + sorted[n/2]) / 2)
}

func outcomeLine(o store.Outcome, u wear.Unit) views.OutcomeLine {
	l := views.OutcomeLine{Says: outcomeSubject(o, u), Href: href("/parts/", o.Subject.ID), Reason: o.Decision.Reason, Job: views.Link{Text: fmt.Sprintf("job %d, %s", o.Job, o.EngineNo), Href: href("/jobs/", o.Job)}, Day: string(o.EndDay)}
	if o.Subject.ID == 0 {
		l.Href = href("/parts/", o.Part)
	}
	l.Now, l.Mark = outcomeWords(o)
	return l
}

// outcomeSubject says what was done, to what.
func outcomeSubject(o store.Outcome, u wear.Unit) string {
	name := string(o.About.Kind) + " " + o.About.Serial
	switch o.Disposition {
	case "reuse":
		return "Reused " + name
	case "hone":
		return "Honed " + name
	case "grind":
		return "Ground " + name + " to " + o.Oversize.Format(u) + " " + u.Name + " oversize"
	case "plate":
		return "Plated " + name
	case "re-groove":
		text := "Over-width ring in groove " + itoa(o.Groove) + " of " + name
		if o.Subject.Kind == wear.Ring {
			text += ": ring " + o.Subject.Serial
		}
		return text
	}
	text := map[string]string{"replace": "Replaced ", "scrap": "Scrapped "}[o.Disposition] + name
	if o.Subject.ID != 0 {
		text += ", " + o.Subject.Serial + " in its place"
	}
	return text
}

// outcomeWords says what became of it.
func outcomeWords(o store.Outcome) (string, views.VerdictMark) {
	measured := ""
	if f := o.Finding; f != nil {
		measured = ", " + what(*f) + ", measured " + string(f.LastDay)
	}
	switch o.What {
	case store.OutcomeFlagged:
		return "flagged after " + hours(o.At) + measured, views.VerdictMark{Word: "flagged"}
	case store.OutcomeBeyond:
		return "beyond its limit after " + hours(o.At) + measured, views.VerdictMark{Word: "beyond"}
	case store.OutcomeRemoved:
		return "came off again after " + hours(o.Since) + ": " + o.Reason, views.VerdictMark{Word: "on shelf"}
	case store.OutcomeScrapped:
		return "scrapped after " + hours(o.Since) + ": " + o.Reason, views.VerdictMark{Word: "scrapped"}
	case store.OutcomeUnread:
		return hours(o.Since) + " later not measured since the job", views.VerdictMark{Word: "on engine"}
	case store.OutcomeTooRecent:
		if o.Finding != nil {
			return hours(o.Since) + " later " + o.Finding.State.String() + measured, views.VerdictMark{Word: o.Finding.State.String()}
		}
		return "closed too recently: it has not run since", views.VerdictMark{Word: "on engine"}
	case store.OutcomeWell:
		word := o.Finding.State.String()
		if o.Finding.State == wear.NoReference && o.Finding.Verdict != wear.NoLimit {
			word = o.Finding.Verdict.String()
		}
		return hours(o.Since) + " later still " + word + measured, views.VerdictMark{Word: word}
	case store.OutcomeNotFitted:
		return "not fitted since the job", views.VerdictMark{Word: "on shelf"}
	case store.OutcomeNoOther:
		return "nothing is recorded as placed for it", views.VerdictMark{Word: o.About.Status}
	}
	return "its hours since the job cannot be told", views.VerdictMark{Word: "unknown"}
}

// decisionLines are what was decided of a part in jobs, the latest first.
func (s *Server) decisionLines(r *http.Request, d *dossier) ([]views.DecisionLine, error) {
	ds, err := s.book.DecisionsOf(r.Context(), d.part.ID)
	if err != nil {
		return nil, err
	}
	var out []views.DecisionLine
	for _, x := range slices.Backward(ds) {
		out = append(out, views.DecisionLine{Text: decisionText(x, d.set.Unit), Reason: x.Reason, Struck: !x.InForce, When: joinText(", ", day(x.Entry.SavedAt), x.Entry.Who),
			Job: views.Link{Text: fmt.Sprintf("job %d", x.Job), Href: href("/jobs/", x.Job)}, Decide: href("/jobs/", x.Job, "/decide/", x.Part)})
	}
	return out, nil
}
