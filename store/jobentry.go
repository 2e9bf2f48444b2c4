package store

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"barrelbook/wear"
)

// Kinds of what happens in a job. The job stands as its entries say that were
// not undone.
const (
	JobAdded    = "added"    // a position comes into the job
	JobLeftOn   = "left on"  // a position is left out of it after all
	JobPulled   = "pulled"   // its cylinder came off
	JobRefitted = "refitted" // its cylinder went on
	JobTurned   = "turned"   // the crank, to the top dead centre of a position
	JobDone     = "done"     // a step of the checklist
	JobDecided  = "decided"  // a part's disposition: see Decision
	JobPlaced   = "placed"   // what goes where: see Placing
	JobNote     = "note"     //
	JobUndone   = "undone"   // an earlier entry was taken back
	JobFitted   = "fitted"   // what was placed went onto the engine
	JobClosed   = "closed"   //
	JobReopened = "reopened" //
	JobGivenUp  = "given up" //
)

// JobEntry is one thing that happened in a job.
type JobEntry struct {
	ID       int64
	UID      string
	Job      int64
	Kind     string
	Position int
	Step     int64
	Part     int64
	Undoes   int64
	Text     string // of a refit the engine's hours, as its meter entry has them now
	Meter    int64  // root of the meter entry that a refit was saved with; 0 for none
	Despite  string // why a refused step was taken all the same
	Day      wear.Day
	Who      string
	SavedAt  string
	Struck   bool // a later entry took it back
}

const jobEntryQuery = `SELECT x.id, x.uid, x.job_id, x.kind, x.position, coalesce(x.step_id, 0), coalesce(x.part_id, 0), coalesce(x.undoes, 0), x.text, x.despite, x.day, x.who, x.saved_at, coalesce(x.meter_root, 0), coalesce((SELECT n.hours FROM meter_now n WHERE n.root = x.meter_root), 0),
	EXISTS (SELECT 1 FROM job_entry u WHERE u.job_id = x.job_id AND u.undoes = x.id) FROM job_entry x`

func scanJobEntry(r scanner, e *JobEntry) error {
	var hours wear.Hours
	err := r.Scan(&e.ID, &e.UID, &e.Job, &e.Kind, &e.Position, &e.Step, &e.Part, &e.Undoes, &e.Text, &e.Despite, &e.Day, &e.Who, &e.SavedAt, &e.Meter, &hours, &e.Struck)
	if e.Meter != 0 {
		e.Text = fittedText(hours)
	}
	return err
}

// JobEntries lists what happened in a job, oldest first, with what was taken
// back.
func (b *Book) JobEntries(ctx context.Context, job int64) ([]JobEntry, error) {
	return findJobEntries(ctx, b.read, "x.job_id = ?", job)
}

func findJobEntries(ctx context.Context, q querier, where string, args ...any) ([]JobEntry, error) {
	es, err := list(ctx, q, scanJobEntry, jobEntryQuery+" WHERE "+where+" ORDER BY x.id", args...)
	if err != nil {
		return nil, fmt.Errorf("list entries of job: %w", err)
	}
	return es, nil
}

// Stale says that others saved something about the same thing after the form
// was drawn. Nothing was saved.
type Stale struct{ Since []JobEntry }

func (s Stale) Error() string { return "somebody else saved this in the meantime" }

// Refused says that a step breaks a rule of the trade: Err is that of package
// wear. It can be taken with a reason all the same.
type Refused struct {
	Err   error
	Words string
}

func (r Refused) Error() string { return r.Words }
func (r Refused) Unwrap() error { return r.Err }

// AddJobEntry saves what happened in a job: after is the last entry that the
// form knew of. An entry whose UID is in the book already is not saved again.
// Errors: Stale where others saved something about the same step, part or
// position since; Refused where a cylinder may not come off or go on now and
// no reason is given; Invalid for a step that cannot be, or a job that ended.
func (b *Book) AddJobEntry(ctx context.Context, e JobEntry, after int64) (id int64, err error) {
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		id, err = saveJobEntry(ctx, t, e, after)
		return err
	})
	return id, err
}

func saveJobEntry(ctx context.Context, t *tx, e JobEntry, after int64) (int64, error) {
	if known, err := knownEntry(ctx, t, e.UID); known != 0 || err != nil {
		return known, err
	}
	j, err := findJob(ctx, t, e.Job)
	if err != nil {
		return 0, err
	}
	if !j.Open() {
		return 0, endedAlready(j)
	}
	if err := savedSince(ctx, t, e.Job, after, func(x JobEntry) bool { return x.same(e) }); err != nil {
		return 0, err
	}
	if err := checkMove(ctx, t, j, &e); err != nil {
		return 0, err
	}
	return addJobEntry(ctx, t, e)
}

// knownEntry is the id of the entry with a UID, 0 for none.
func knownEntry(ctx context.Context, t *tx, uid string) (int64, error) {
	known, err := one(ctx, t, scanJobEntry, jobEntryQuery+" WHERE x.uid = ?", uid)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return 0, fmt.Errorf("find entry of job: %w", err)
	}
	return known.ID, nil
}

// addJobEntry keeps an entry without asking.
func addJobEntry(ctx context.Context, t *tx, e JobEntry) (int64, error) {
	if e.UID == "" {
		e.UID = newUID()
	}
	id, err := t.insert(ctx, `INSERT INTO job_entry (uid, job_id, kind, position, step_id, part_id, undoes, text, despite, day, who, saved_at, meter_root)
		VALUES (?, ?, ?, ?, nullif(?, 0), nullif(?, 0), nullif(?, 0), ?, ?, ?, ?, ?, nullif(?, 0))`, e.UID, e.Job, e.Kind, e.Position, e.Step, e.Part, e.Undoes, e.Text, e.Despite, e.Day, nameOf(ctx, e.Who), t.at, e.Meter)
	if err != nil {
		return 0, fmt.Errorf("save entry of job: %w", err)
	}
	return id, nil
}

// savedSince says, as Stale, what others saved in a job since that matters.
func savedSince(ctx context.Context, t *tx, job, after int64, matters func(JobEntry) bool) error {
	later, err := findJobEntries(ctx, t, "x.job_id = ? AND x.id > ?", job, after)
	if err != nil {
		return err
	}
	later = slices.DeleteFunc(later, func(x JobEntry) bool { return !matters(x) })
	if len(later) > 0 {
		return Stale{later}
	}
	return nil
}

func endedAlready(j Job) error {
	return invalid("job", "the job was %s on %s: reopen it first", j.Ended, j.EndDay)
}

// same reports whether two entries are about the same thing, so that one
// would overrule the other.
func (e JobEntry) same(o JobEntry) bool {
	switch {
	case e.Kind == JobNote || o.Kind == JobNote:
		return false
	case e.Undoes != 0 && e.Undoes == o.Undoes, e.ID != 0 && e.ID == o.Undoes:
		return true
	case e.Step != 0 || o.Step != 0:
		return e.Step == o.Step && e.Position == o.Position
	case e.Part != 0 || o.Part != 0:
		return e.Part == o.Part && e.Kind == o.Kind
	case e.Kind == JobPlaced || o.Kind == JobPlaced:
		return e.Kind == o.Kind && e.Position == o.Position
	}
	return e.moves() && o.moves() && e.Position == o.Position
}

// moves reports whether an entry is about a cylinder's coming off or going on.
func (e JobEntry) moves() bool {
	return slices.Contains([]string{JobAdded, JobLeftOn, JobPulled, JobRefitted, JobTurned}, e.Kind)
}
