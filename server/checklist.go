package server

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
)

// checklist edits the list of steps of an engine model. Lines are moved, added
// and removed in the form alone; saving keeps a new version of the whole.
func (s *Server) checklist(w http.ResponseWriter, r *http.Request) error {
	n, err := id(r, "id")
	if err != nil {
		return err
	}
	m, err := s.book.Model(r.Context(), n)
	if err != nil {
		return err
	}
	now, err := s.book.Checklist(r.Context(), n)
	if err != nil {
		return err
	}
	f, lines, open := listForm(now.Lines, now.ID), now.Lines, -1
	status := http.StatusOK
	if r.Method == http.MethodPost {
		if f, err = readForm(r); err != nil {
			return err
		}
		lines, open = changedLines(store.InPhases(readLines(f)), f.text("do"))
		f.putLines(lines)
		if f.text("do") == "" {
			err := s.book.SaveChecklist(r.Context(), store.Checklist{Model: n, Who: f.text("who"), Lines: lines}, int64(f.number("after", 0, 1<<40, false)))
			if err == nil {
				return s.redirect(w, r, href("/models/", n, "/checklist"), "The list was saved. Jobs opened from now on have it.")
			}
			if errors.Is(err, store.ErrListMoved) {
				f.values["after"] = strconv.FormatInt(now.ID, 10)
				f.fault("", "%s saved another version on %s; it stands below under Earlier versions. Send yours again to have it saved over that one", cmp.Or(now.Who, "somebody"), day(now.SavedAt))
			} else if err := f.refused(err, map[string]string{"lines": ""}); err != nil {
				return err
			}
			if status = f.status(); errors.Is(err, store.ErrListMoved) {
				status = http.StatusConflict
			}
		}
	}
	p, err := s.checklistPage(r, m, now, f, lines, open)
	if err != nil {
		return err
	}
	return s.draw(w, r, status, views.ChecklistPage(p))
}

// listForm is the form with a list in it.
func listForm(lines []store.JobStep, version int64) *form {
	f := blankForm(map[string]string{"after": strconv.FormatInt(version, 10)})
	f.putLines(lines)
	return f
}

// lineFields are the texts of a line by their names in the form.
func lineFields(s *store.JobStep) map[string]*string {
	return map[string]*string{"phase": &s.Phase, "text": &s.Text, "caution": &s.Caution, "torque": &s.Torque, "wrench": &s.Wrench}
}

// putLines writes lines into the form, numbered as they stand.
func (f *form) putLines(lines []store.JobStep) {
	for name := range f.values {
		if field, _, ok := strings.Cut(name, "-"); ok && (field == "each" || lineFields(new(store.JobStep))[field] != nil) {
			delete(f.values, name)
		}
	}
	for i := range lines {
		for name, text := range lineFields(&lines[i]) {
			f.values[name+"-"+itoa(i)] = *text
		}
		if lines[i].Each {
			f.values["each-"+itoa(i)] = "yes"
		}
	}
	f.values["lines"] = itoa(len(lines))
}

func readLines(f *form) []store.JobStep {
	lines := make([]store.JobStep, f.number("lines", 0, 300, true))
	for i := range lines {
		for name, text := range lineFields(&lines[i]) {
			*text = f.text(name + "-" + itoa(i))
		}
		lines[i].Each = f.text("each-"+itoa(i)) != ""
		if !slices.Contains(store.JobPhases, lines[i].Phase) {
			lines[i].Phase = store.JobPhases[0]
		}
	}
	return lines
}

// changedLines does what a button of the form says: up-3, down-3, remove-3, or
// add-refit. open is the line that stands open then, -1 for none.
func changedLines(lines []store.JobStep, do string) (changed []store.JobStep, open int) {
	what, which, _ := strings.Cut(do, "-")
	if what == "add" && slices.Contains(store.JobPhases, which) {
		at := 0
		for i, s := range lines {
			if phaseOrder(s.Phase) <= phaseOrder(which) {
				at = i + 1
			}
		}
		lines = append(lines[:at:at], append([]store.JobStep{{Phase: which}}, lines[at:]...)...)
		return lines, at
	}
	i, err := strconv.Atoi(which)
	if err != nil || i < 0 || i >= len(lines) {
		return lines, -1
	}
	switch to := i + map[string]int{"up": -1, "down": 1}[what]; {
	case what == "remove":
		return append(lines[:i:i], lines[i+1:]...), -1
	case to >= 0 && to < len(lines) && lines[to].Phase == lines[i].Phase:
		lines[i], lines[to] = lines[to], lines[i]
	}
	return lines, -1
}

func phaseOrder(phase string) int { return slices.Index(store.JobPhases, phase) }

func (s *Server) checklistPage(r *http.Request, m store.Model, now store.Checklist, f *form, lines []store.JobStep, open int) (views.ChecklistForm, error) {
	p := views.ChecklistForm{Page: s.page(r, "Checklist of "+m.Name, views.NavLimits), Action: href("/models/", m.ID, "/checklist"), Draft: f.draft(), Model: m.Name, Back: views.Link{Text: "Back to the limits", Href: href("/limits?model=", m.ID)}}
	for _, key := range store.JobPhases {
		ph := views.ChecklistPhase{Key: key, Name: capital(key)}
		for i, l := range lines {
			if l.Phase == key {
				n := itoa(i)
				ph.Lines = append(ph.Lines, views.ChecklistLine{N: n, Open: i == open || f.has("text-"+n, "caution-"+n, "torque-"+n, "wrench-"+n, "phase-"+n)})
			}
		}
		p.Phases = append(p.Phases, ph)
	}
	versions, err := s.book.Checklists(r.Context(), m.ID)
	if err != nil {
		return p, err
	}
	for i, v := range versions {
		name := versionName(v)
		if v.ID == now.ID {
			p.Own = fmt.Sprintf("Version %d of this shop, saved %s", len(versions)-i, name)
			if f.text("after") == strconv.FormatInt(v.ID, 10) && f.ok() {
				continue
			}
		}
		p.Before = append(p.Before, views.ChecklistVersion{Name: name, Lines: stepLines(v.Lines)})
	}
	if len(versions) > 0 {
		p.Before = append(p.Before, views.ChecklistVersion{Name: "The list that comes with the program", Lines: stepLines(store.DefaultSteps)})
	}
	return p, nil
}

func versionName(v store.Checklist) string {
	return joinText(", ", when(v.SavedAt), v.Who) + ", " + counted(len(v.Lines), "line")
}

func stepLines(steps []store.JobStep) []views.StepLine {
	out := make([]views.StepLine, len(steps))
	for i, s := range steps {
		out[i] = views.StepLine{Text: s.Text, Caution: s.Caution, Torque: s.Torque, Wrench: s.Wrench, Each: s.Each}
	}
	return out
}
