package server

import (
	"fmt"
	"net"
	"net/http"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// jobTags shows the shelf tags of a job: of all its parts, or of those that do
// not go back.
func (s *Server) jobTags(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobOf(r)
	if err != nil {
		return err
	}
	parts, err := s.book.JobParts(r.Context(), j.ID)
	if err != nil {
		return err
	}
	head, here := jobHead(j, "/tags"), href("/jobs/", j.ID, "/tags")
	leaving := r.URL.Query().Get("which") == "leaving"
	p, err := s.tagsPage(r, fmt.Sprintf("Tags of job %d", j.ID), views.NavJobs)
	if err != nil {
		return err
	}
	p.Head = &head
	p.Which = []views.JobWay{{Text: "All parts of the job", Href: here, Here: !leaving}, {Text: "Only what does not go back", Href: here + "?which=leaving", Here: leaving}}
	for _, x := range parts {
		if leaving && !x.Leaves() {
			continue
		}
		t, err := s.tagOf(r, x.Part)
		if err != nil {
			return err
		}
		t.Job = fmt.Sprintf("Job %d, position %d: %s", j.ID, x.Position(), j.Why)
		if x.Decision != nil {
			t.Disposition = capital(x.Decision.Disposition) + ": " + x.Decision.Reason
		}
		p.Parts = append(p.Parts, t)
	}
	if len(p.Parts) == 0 {
		p.Nobody = "There is no part to hang a tag on: nothing came off yet, or all of it goes back."
	}
	return s.draw(w, r, http.StatusOK, views.TagsPage(p))
}

// partTag shows the tag of one part, with what was decided of it last.
func (s *Server) partTag(w http.ResponseWriter, r *http.Request) error {
	part, err := s.partOf(r)
	if err != nil {
		return err
	}
	p, err := s.tagsPage(r, "Tag of "+string(part.Kind)+" "+part.Serial, views.NavParts)
	if err != nil {
		return err
	}
	p.Title, p.Back = p.Page.Title, views.Link{Text: "Back to the part", Href: href("/parts/", part.ID)}
	t, err := s.tagOf(r, part)
	if err != nil {
		return err
	}
	decided, err := s.book.DecisionsOf(r.Context(), part.ID)
	if err != nil {
		return err
	}
	if n := len(decided); n > 0 && decided[n-1].Disposition != store.Undecided {
		d := decided[n-1]
		t.Job, t.Disposition = fmt.Sprintf("Job %d, position %d", d.Job, d.Position), capital(d.Disposition)+": "+d.Reason
	}
	p.Parts = []views.Tag{t}
	return s.draw(w, r, http.StatusOK, views.TagsPage(p))
}

func (s *Server) tagsPage(r *http.Request, title, nav string) (views.Tags, error) {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return views.Tags{}, err
	}
	p := views.Tags{Page: s.page(r, title, nav), Shop: set.Shop}
	host, _, err := net.SplitHostPort(r.Host)
	if err != nil {
		host = r.Host
	}
	if ip := net.ParseIP(strings.Trim(host, "[]")); set.Address == "" && (host == "localhost" || ip != nil && ip.IsLoopback()) {
		p.Local = "The codes open " + s.baseOf(r, set) + ", which only this computer can reach."
	}
	return p, nil
}

// baseOf is the address before that of a page: the shop's, or that which the
// request came to.
func (s *Server) baseOf(r *http.Request, set store.Settings) string {
	if set.Address != "" {
		return set.Address
	}
	if r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

// tagOf fills the tag of a part with what the book says of it today.
func (s *Server) tagOf(r *http.Request, part store.Part) (views.Tag, error) {
	set, err := s.book.Settings(r.Context())
	if err != nil {
		return views.Tag{}, err
	}
	h, err := s.book.PartHours(r.Context(), part.ID)
	if err != nil {
		return views.Tag{}, err
	}
	t := views.Tag{Kind: string(part.Kind), Serial: part.Serial, PartNumber: part.PartNumber, Verdict: worstOf(part), Scrapped: part.Status == "scrapped",
		Day: string(s.book.Today()), Address: s.baseOf(r, set) + href("/parts/", part.ID), Hours: tagHours(h)}
	return t, nil
}

func tagHours(h store.Hours) []views.Fact {
	facts := []views.Fact{{Label: "TSN", Value: hours(h.SinceNew)}}
	if !h.NewKnown {
		facts[0].Label = "In the book"
	}
	for _, x := range []struct {
		label string
		h     *wear.Hours
	}{{"TSO", h.SinceOverhaul}, {"TSI", h.SinceInstall}} {
		value := "–"
		if x.h != nil {
			value = hours(*x.h)
		}
		facts = append(facts, views.Fact{Label: x.label, Value: value})
	}
	return facts
}
