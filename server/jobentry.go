package server

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"

	"barrelbook/store"
	"barrelbook/views"
)

// draftNotice stands on top of every draft.
const draftNotice = "DRAFT for a logbook entry. Nobody has signed it, and it is not a release to service."

// jobEntryPage shows the draft of a job's logbook entry, to be copied.
func (s *Server) jobEntryPage(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobOf(r)
	if err != nil {
		return err
	}
	inspection := r.URL.Query().Get("inspection") != ""
	paper, err := s.entryPaper(r.Context(), j, inspection)
	if err != nil {
		return err
	}
	here := href("/jobs/", j.ID, "/entry")
	query := ""
	if inspection {
		query = "?inspection=yes"
	}
	p := views.JobEntryDraft{Page: s.page(r, fmt.Sprintf("Draft entry of job %d", j.ID), views.NavJobs), Head: jobHead(j, "/entry"), Action: here, Inspection: inspection, Text: paper.Text(),
		Files: []views.Link{{Text: "As a PDF", Href: here + ".pdf" + query}, {Text: "As a text file", Href: here + ".txt" + query}, {Text: "Change the wording", Href: href("/settings/wording?job=", j.ID)}}, Open: j.Open()}
	return s.draw(w, r, http.StatusOK, views.JobEntryPage(p))
}

// jobEntryFile sends the draft as a text file or a PDF.
func (s *Server) jobEntryFile(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobOf(r)
	if err != nil {
		return err
	}
	format := chi.URLParam(r, "format")
	kind, ok := map[string]string{"pdf": "application/pdf", "txt": "text/plain; charset=utf-8"}[format]
	if !ok {
		return errBadAddress
	}
	paper, err := s.entryPaper(r.Context(), j, r.URL.Query().Get("inspection") != "")
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	show := "attachment"
	if format == "pdf" {
		show, err = "inline", views.WriteEntryPDF(&buf, paper)
	} else {
		buf.WriteString(paper.Text())
	}
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", fmt.Sprintf("%s; filename=%q", show, fmt.Sprintf("barrelbook-job-%d-draft.%s", j.ID, format)))
	w.Header().Set("Cache-Control", "no-store")
	if _, err := buf.WriteTo(w); err != nil {
		s.log.Debug("send draft", "error", err) // the reader went away
	}
	return nil
}

// entryPaper fills the draft of a job's logbook entry.
func (s *Server) entryPaper(ctx context.Context, j store.Job, inspection bool) (views.EntryPaper, error) {
	d, err := readJobDraft(ctx, s.book, j)
	if err != nil {
		return views.EntryPaper{}, err
	}
	kept, err := s.book.Wordings(ctx)
	if err != nil {
		return views.EntryPaper{}, err
	}
	p := views.EntryPaper{RecordPaper: views.RecordPaper{Title: fmt.Sprintf("Draft logbook entry: job %d on engine %s", j.ID, j.EngineNo), Shop: d.set.Shop, Made: strings.Replace(s.book.Now()[:16], "T", " ", 1) + " UTC", Notice: Notice, Cautions: recordCautions},
		Banner: draftNotice, Attachment: d.attachment()}
	if d.set.Demo {
		p.Demo = "Demo book: invented operator, engines, limits and numbers."
	}
	p.Blocks = []views.EntryBlock{{Title: "Maintenance entry", Lines: strings.Split(d.fillWording(cmp.Or(kept[store.WordingEntry], ourEntry)), "\n")}, d.approval()}
	if inspection {
		p.Blocks = append(p.Blocks, d.inspection(cmp.Or(kept[store.WordingInspection], ourInspection)))
	}
	p.AttachmentTitle = "Attachment: details of measurements"
	p.AttachmentNote = fmt.Sprintf("Engine %s, job %d. New Zealand's rule 43.69(a)(3) asks for the details of measurements; elsewhere they help whoever looks for trends. Values stand as they were typed.", j.EngineNo, j.ID)
	return p, nil
}

// approval are the blank lines of who approves the work. Contents: 14 CFR
// 43.9(a)(1) to (4). Nothing of it is ever filled in by the program.
func (d *jobDraft) approval() views.EntryBlock {
	done := "the book has no refit of this job"
	if d.fitted.ID != 0 {
		done = "refit in the book: " + string(d.fitted.Day) + by(d.fitted.Who)
	}
	return views.EntryBlock{Title: "To be completed by the person who approves the work (14 CFR 43.9(a))", Blanks: []views.EntryBlank{
		{Label: "(1) Reference to data acceptable to the Administrator", Note: "the work is described above"},
		{Label: "(2) Date of completion", Note: done},
		{Label: "(3) Name of the person who did the work", Note: "where that is not who signs"},
		{Label: "(4) Signature"}, {Label: "Certificate number"}, {Label: "Kind of certificate"}}}
}

// inspection is the part of an entry about an inspection: 14 CFR 43.11(a)(1)
// to (5). Which of the two statements holds is for the person who signs.
func (d *jobDraft) inspection(wording string) views.EntryBlock {
	return views.EntryBlock{Title: "Inspection, to be completed by the person who signs (14 CFR 43.11(a))", Lines: strings.Split(d.fillWording(wording), "\n"),
		Blanks: []views.EntryBlank{{Label: "(1) Type of inspection"}, {Label: "(2) Date of the inspection"}, {Label: "Aircraft total time in service, hours", Note: "the engine has " + d.hours.String()}},
		Choices: []string{"I certify that this aircraft has had the inspection named here and was found to be in airworthy condition.",
			"I certify that this aircraft has had the inspection named here, and that a list of discrepancies and unairworthy items dated ____________ was given to its owner or operator."},
		After: []views.EntryBlank{{Label: "(3) Signature"}, {Label: "Certificate number"}, {Label: "Kind of certificate"}}}
}
