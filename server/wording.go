package server

import (
	"cmp"
	"fmt"
	"net/http"
	"regexp"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
)

// The program's own wordings. What stands around them is not the shop's to
// change: that it is a draft, and the blank lines of who signs.
const (
	ourEntry = `Engine {model}, serial number {engine}, aircraft {aircraft}. Total time of the engine {hours} h.
Job {job}, opened {opened}, refit {refitted}: {why}.

WORK DONE
{work}

FINDINGS
{findings}

DECISIONS
{decisions}

LEAK TESTS
{leak}

STEPS OUT OF THE ORDER, AND FACINGS NOT ALLOWED
{overrides}

LEFT OPEN WHEN THE JOB WAS CLOSED
{open}

DATA
Limits as the shop typed them from: {data}
Every reading with its limits, document, revision and page is in the attachment.`

	ourInspection = `Extent: cylinders {positions} of engine {model}, serial number {engine}, with the parts named above, taken off and examined as described there; readings are attached.`
)

// wordings are those that can be edited, in the order of the page.
var wordings = []struct{ name, label, ours string }{
	{store.WordingEntry, "Maintenance entry (14 CFR 43.9)", ourEntry},
	{store.WordingInspection, "Extent of the inspection (14 CFR 43.11)", ourInspection},
}

var placeholder = regexp.MustCompile(`\{([^{}\n]*)\}`)

// checkWording says what is wrong with the placeholders of a wording; "" for
// nothing.
func checkWording(text string) string {
	for _, m := range placeholder.FindAllStringSubmatch(text, -1) {
		if wordNamed(m[1]) == nil {
			return fmt.Sprintf("there is no {%s}: those that can stand here are listed below", m[1])
		}
	}
	if strings.ContainsAny(placeholder.ReplaceAllString(text, ""), "{}") {
		return "a { or } stands alone: they only go around a placeholder, such as {engine}"
	}
	return ""
}

func wordNamed(name string) *entryWord {
	for i := range entryWords {
		if entryWords[i].name == name {
			return &entryWords[i]
		}
	}
	return nil
}

// fillWording puts what a job says in place of the placeholders.
func (d *jobDraft) fillWording(text string) string {
	return placeholder.ReplaceAllStringFunc(text, func(m string) string {
		if w := wordNamed(strings.Trim(m, "{}")); w != nil {
			return w.of(d)
		}
		return m
	})
}

// wordingPage edits the wordings; with a job they are shown filled in.
func (s *Server) wordingPage(w http.ResponseWriter, r *http.Request) error {
	kept, err := s.book.Wordings(r.Context())
	if err != nil {
		return err
	}
	f := blankForm(map[string]string{"job": r.URL.Query().Get("job")})
	for _, x := range wordings {
		f.values[x.name] = cmp.Or(kept[x.name], x.ours)
	}
	preview := true
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		done, err := s.saveWordings(w, r, f)
		if done || err != nil {
			return err
		}
		preview = f.ok()
	}
	p := views.Wording{Page: s.page(r, "Wording of the logbook entry", views.NavSettings), Action: "/settings/wording", Draft: f.draft()}
	for _, x := range wordings {
		p.Texts = append(p.Texts, views.WordingText{Name: x.name, Label: x.label, Own: kept[x.name] != ""})
	}
	for _, x := range entryWords {
		p.Words = append(p.Words, views.Fact{Label: "{" + x.name + "}", Value: x.means})
	}
	if err := s.previewWording(r, f, &p, preview); err != nil {
		return err
	}
	return s.draw(w, r, f.status(), views.WordingPage(p))
}

// saveWordings checks what was typed, and keeps it where that was asked for;
// done where the answer is sent.
func (s *Server) saveWordings(w http.ResponseWriter, r *http.Request, f *form) (done bool, err error) {
	keep := map[string]string{}
	for _, x := range wordings {
		text := strings.TrimSpace(strings.ReplaceAll(f.values[x.name], "\r\n", "\n"))
		if f.text("ours") == x.name {
			text = ""
		}
		if message := checkWording(text); message != "" {
			f.fault(x.name, "%s", message)
		}
		if text == x.ours {
			text = "" // as ours is, it stays ours
		}
		keep[x.name] = text
	}
	if !f.ok() || f.text("preview") != "" {
		return false, nil
	}
	if err := s.book.SaveWordings(r.Context(), keep); err != nil {
		return false, err
	}
	to := "/settings/wording"
	if job := f.ref("job"); job != 0 {
		to += href("?job=", job)
	}
	return true, s.redirect(w, r, to, "The wording was saved.")
}

// previewWording shows the wordings of the form with a job: the one asked for,
// else the newest.
func (s *Server) previewWording(r *http.Request, f *form, p *views.Wording, show bool) error {
	jobs, err := s.book.Jobs(r.Context(), store.JobFilter{Limit: 50})
	if err != nil {
		return err
	}
	for _, j := range jobs {
		p.Jobs = append(p.Jobs, views.Option{Value: fmt.Sprint(j.ID), Label: fmt.Sprintf("Job %d, engine %s: %s", j.ID, j.EngineNo, j.Why)})
	}
	if len(jobs) == 0 || !show {
		return nil
	}
	chosen := jobs[0]
	for _, j := range jobs {
		if fmt.Sprint(j.ID) == f.text("job") {
			chosen = j
		}
	}
	f.values["job"] = fmt.Sprint(chosen.ID)
	d, err := readJobDraft(r.Context(), s.book, chosen)
	if err != nil {
		return err
	}
	p.PreviewOf = fmt.Sprintf("With job %d", chosen.ID)
	for _, x := range wordings {
		p.Preview = append(p.Preview, d.fillWording(strings.ReplaceAll(f.values[x.name], "\r\n", "\n")))
	}
	return nil
}
