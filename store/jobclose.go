package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"barrelbook/wear"
)

// CloseJob closes a job. Where checks are open that a job can be closed over,
// reason says why it is; it is kept with them in the entry, an item a line. Errors: Stale where
// anything was saved since; Invalid at day, reason, and at job for what a job
// is not closed over.
func (b *Book) CloseJob(ctx context.Context, job int64, day wear.Day, reason, who, uid string, after int64) error {
	reason = strings.TrimSpace(reason)
	return b.endJob(ctx, JobEntry{UID: uid, Job: job, Kind: JobClosed, Day: day, Who: who}, after, func(ctx context.Context, t *tx, j Job, e *JobEntry) (Invalid, error) {
		checks, err := findClosingChecks(ctx, t, job)
		if err != nil {
			return nil, err
		}
		var bad Invalid
		var over []string
		for _, c := range checks {
			if c.Refuses {
				bad = append(bad, FieldError{Field: "job", Message: c.Words, Href: c.Href})
			} else {
				over = append(over, c.Words)
			}
		}
		if len(over) > 0 && reason == "" {
			bad = append(bad, FieldError{Field: "reason", Message: "say why the job is closed although not everything is done"})
		}
		if len(over) > 0 {
			e.Text, e.Despite = "open: "+strings.Join(over, "\n"), reason
		}
		return bad, nil
	})
}

// GiveUpJob ends a job of which nothing is off. Errors as CloseJob.
func (b *Book) GiveUpJob(ctx context.Context, job int64, day wear.Day, reason, who, uid string, after int64) error {
	e := JobEntry{UID: uid, Job: job, Kind: JobGivenUp, Text: strings.TrimSpace(reason), Day: day, Who: who}
	return b.endJob(ctx, e, after, func(ctx context.Context, t *tx, j Job, e *JobEntry) (Invalid, error) {
		r, err := planRefit(ctx, t, job)
		if err != nil {
			return nil, err
		}
		var bad Invalid
		if len(r.Off) > 0 {
			bad = append(bad, r.stillOff("job"))
		}
		if e.Text == "" {
			bad = append(bad, FieldError{Field: "reason", Message: "say why the job is given up"})
		}
		return bad, nil
	})
}

// endJob saves an entry that ends a job under way, once check finds nothing
// wrong.
func (b *Book) endJob(ctx context.Context, e JobEntry, after int64, check func(context.Context, *tx, Job, *JobEntry) (Invalid, error)) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if known, err := knownEntry(ctx, t, e.UID); known != 0 || err != nil {
			return err
		}
		j, err := findJob(ctx, t, e.Job)
		if err != nil {
			return err
		}
		if !j.Open() {
			return endedAlready(j)
		}
		if err := savedSince(ctx, t, j.ID, after, func(x JobEntry) bool { return x.Kind != JobNote }); err != nil {
			return err
		}
		bad, err := check(ctx, t, j, &e)
		if err != nil {
			return err
		}
		switch last, err := lastDayOf(ctx, t, j); {
		case err != nil:
			return err
		case e.Day == "":
			bad = append(bad, FieldError{Field: "day", Message: "give the date"})
		case e.Day < last:
			bad = append(bad, FieldError{Field: "day", Message: fmt.Sprintf("work of this job is dated %s: it cannot end before", last)})
		}
		if bad = append(bad, t.happened(e.Day)...); len(bad) > 0 {
			return bad
		}
		_, err = addJobEntry(ctx, t, e)
		return err
	})
}

// lastDayOf is the day of the last refit, or that on which the job was opened.
func lastDayOf(ctx context.Context, q querier, j Job) (wear.Day, error) {
	es, err := findJobEntries(ctx, q, "x.job_id = ? AND x.kind = 'fitted'", j.ID)
	last := j.Day
	for _, e := range es {
		last = max(last, e.Day)
	}
	return last, err
}

// ReopenJob takes up a job again that ended. Errors: Invalid at reason, and at
// job where another job had one of its positions in hand since.
func (b *Book) ReopenJob(ctx context.Context, job int64, day wear.Day, reason, who, uid string) error {
	reason = strings.TrimSpace(reason)
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if known, err := knownEntry(ctx, t, uid); known != 0 || err != nil {
			return err
		}
		j, err := findJob(ctx, t, job)
		if err != nil {
			return err
		}
		if j.Open() {
			return invalid("job", "the job is under way")
		}
		bad, err := takenSince(ctx, t, j)
		if err != nil {
			return err
		}
		if reason == "" {
			bad = append(bad, FieldError{Field: "reason", Message: "say why the job is reopened"})
		}
		if len(bad) > 0 {
			return bad
		}
		_, err = addJobEntry(ctx, t, JobEntry{UID: uid, Job: job, Kind: JobReopened, Text: reason, Day: day, Who: who})
		return err
	})
}

// takenSince refuses to reopen a job whose positions a later one had in hand.
func takenSince(ctx context.Context, q querier, j Job) (Invalid, error) {
	mine, err := findJobPositions(ctx, q, j.ID)
	if err != nil {
		return nil, err
	}
	jobs, err := findJobs(ctx, q, JobFilter{Engine: j.Engine})
	if err != nil {
		return nil, err
	}
	for _, o := range jobs {
		if o.ID <= j.ID && !o.Open() {
			continue
		}
		theirs, err := findJobPositions(ctx, q, o.ID)
		if err != nil {
			return nil, err
		}
		for _, p := range theirs {
			if slices.Contains(mine, p) {
				return Invalid{{Field: "job", Href: fmt.Sprintf("/jobs/%d", o.ID), Message: fmt.Sprintf("position %d was in job %d since: open a new job for what is still to be done", p, o.ID)}}, nil
			}
		}
	}
	return nil, nil
}
