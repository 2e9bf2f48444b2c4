package server

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"barrelbook/store"
	"barrelbook/wear"
)

// jobDraft is a job with everything that the draft of its logbook entry is
// made from.
type jobDraft struct {
	job       store.Job
	engine    store.Engine
	set       store.Settings
	entries   []store.JobEntry // those taken back left out
	positions []int
	parts     []store.JobPart
	dossiers  map[int64]*dossier
	leaks     []store.LeakReading
	placings  []store.Placing
	fitted    store.JobEntry // the last refit; zero where none was saved
	hours     wear.Hours     // the engine's, at the refit; else when the job was opened
}

func readJobDraft(ctx context.Context, book *store.Book, j store.Job) (*jobDraft, error) {
	d := &jobDraft{job: j, dossiers: map[int64]*dossier{}, hours: j.Hours}
	var err error
	steps := []func() error{
		func() (err error) { d.engine, err = book.Engine(ctx, j.Engine); return err },
		func() (err error) { d.set, err = book.Settings(ctx); return err },
		func() (err error) { d.entries, err = book.JobEntries(ctx, j.ID); return err },
		func() (err error) { d.positions, err = book.JobPositions(ctx, j.ID); return err },
		func() (err error) { d.parts, err = book.JobParts(ctx, j.ID); return err },
		func() (err error) { d.placings, err = book.Placings(ctx, j.ID); return err },
		func() (err error) { d.leaks, err = book.LeakReadingsOn(ctx, j.Engine); return err },
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return nil, err
		}
	}
	for _, p := range d.parts {
		if d.dossiers[p.ID], err = readDossier(ctx, book, p.ID, "day"); err != nil {
			return nil, err
		}
	}
	d.entries = slices.DeleteFunc(d.entries, func(e store.JobEntry) bool { return e.Struck })
	for _, e := range d.entries {
		if h, ok := e.FittedAt(); ok {
			d.fitted, d.hours = e, h
		}
	}
	d.leaks = slices.DeleteFunc(d.leaks, func(r store.LeakReading) bool {
		return r.Struck || r.Reading == nil || !slices.Contains(d.positions, r.Position) || !d.during(r.Test.Day)
	})
	slices.SortStableFunc(d.leaks, func(a, b store.LeakReading) int {
		return cmp.Or(cmp.Compare(a.Test.Day, b.Test.Day), cmp.Compare(a.Position, b.Position))
	})
	return d, nil
}

// during reports whether a day lies within the job.
func (d *jobDraft) during(day wear.Day) bool {
	return day >= d.job.Day && (d.job.Open() || day <= d.job.EndDay)
}

// readings are those of a part that count and were taken during the job,
// oldest first.
func (d *jobDraft) readings(part int64) []store.Reading {
	var out []store.Reading
	for _, x := range d.dossiers[part].readings {
		if !x.Struck && x.Value != nil && d.during(x.Sheet.Day) {
			out = append(out, x)
		}
	}
	slices.SortStableFunc(out, func(a, b store.Reading) int { return cmp.Compare(a.Sheet.Day, b.Sheet.Day) })
	return out
}

// work lists the work on a part's surface during the job.
func (d *jobDraft) work(part int64) []store.MarkRow {
	var out []store.MarkRow
	for _, m := range d.dossiers[part].marks {
		if m.ID != 0 && d.during(m.Day) {
			out = append(out, m)
		}
	}
	return out
}

// hoursOf writes a part's hours as they were at the job.
func (d *jobDraft) hoursOf(p store.JobPart) string {
	x := d.dossiers[p.ID]
	day, at := d.job.Day, d.job.Hours
	if p.Was == nil && d.fitted.ID != 0 {
		day, at = d.fitted.Day, d.hours
	}
	tsn, ok := x.partHours(store.Reading{Sheet: store.Sheet{Day: day, Engine: d.engine.ID, Hours: at}})
	if !ok {
		return ""
	}
	text := fmt.Sprintf("%s h since new", tsn)
	if !x.hours.NewKnown {
		text = fmt.Sprintf("%s h since it came into the book", tsn)
	}
	if tso, ok := x.sinceOverhaul(tsn, day); ok {
		text += fmt.Sprintf(", %s h since overhaul", tso)
	}
	return text
}

// sinceOverhaul are a part's hours since its overhaul, at its own hours and on
// a day; not ok where no overhaul is known.
func (d *dossier) sinceOverhaul(tsn wear.Hours, day wear.Day) (h wear.Hours, ok bool) {
	if d.part.OverhaulBefore != nil {
		h, ok = tsn-d.part.HoursBefore+*d.part.OverhaulBefore, true
	}
	for _, m := range d.marks {
		if m.Event == wear.Overhauled && m.Day <= day {
			h, ok = tsn-m.At, true
		}
	}
	return h, ok
}

// dayOf is the day of an entry, or that on which it was saved.
func dayOf(e store.JobEntry) string {
	if e.Day != "" {
		return string(e.Day)
	}
	return day(e.SavedAt)
}
