package store

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/google/uuid"

	"barrelbook/wear"
)

// Job takes cylinders of an engine off and puts them back on. How it stands
// follows from its entries.
type Job struct {
	ID        int64
	UID       string // made by whoever sends it, so that sending twice adds nothing
	Engine    int64
	EngineNo  string
	Aircraft  string
	Why       string
	Detail    string
	Day       wear.Day
	MeterRoot int64
	Hours     wear.Hours // the engine's, in total
	Stands    int        // position at whose top dead centre the crank stood
	Who       string
	SavedAt   string
	Ended     string // closed or given up; empty while it is open
	EndDay    wear.Day
}

// Open reports whether the job is under way.
func (j Job) Open() bool { return j.Ended == "" }

const jobQuery = `SELECT j.id, j.uid, j.engine_id, e.serial, e.aircraft, j.why, j.detail, j.day, j.meter_root, m.hours, j.stands, j.who, j.saved_at,
	CASE j.ended WHEN 'reopened' THEN '' ELSE j.ended END, CASE j.ended WHEN 'reopened' THEN '' ELSE j.end_day END
	FROM job_now j JOIN engine e ON e.id = j.engine_id JOIN meter_now m ON m.root = j.meter_root`

func scanJob(r scanner, j *Job) error {
	return r.Scan(&j.ID, &j.UID, &j.Engine, &j.EngineNo, &j.Aircraft, &j.Why, &j.Detail, &j.Day, &j.MeterRoot, &j.Hours, &j.Stands, &j.Who, &j.SavedAt, &j.Ended, &j.EndDay)
}

// jobIsOpen is the condition that a job of job_now is under way.
const jobIsOpen = "j.ended IN ('', 'reopened')"

// Job finds a job by its id.
func (b *Book) Job(ctx context.Context, id int64) (Job, error) { return findJob(ctx, b.read, id) }

func findJob(ctx context.Context, q querier, id int64) (Job, error) {
	j, err := one(ctx, q, scanJob, jobQuery+" WHERE j.id = ?", id)
	if err != nil {
		return j, fmt.Errorf("find job: %w", err)
	}
	return j, nil
}

// JobFilter narrows a list of jobs; zero values leave everything in.
type JobFilter struct {
	Engine        int64
	Open          bool // only those under way
	Ended         bool // only the others
	Limit, Offset int
}

// Jobs lists jobs, those under way first, then the newest.
func (b *Book) Jobs(ctx context.Context, f JobFilter) ([]Job, error) { return findJobs(ctx, b.read, f) }

// CountJobs says how many jobs there are, whatever part of the list was asked
// for.
func (b *Book) CountJobs(ctx context.Context, f JobFilter) (n int, err error) {
	where, args := f.where()
	err = b.read.QueryRowContext(ctx, "SELECT count(*) FROM job_now j WHERE "+where, args...).Scan(&n)
	if err != nil {
		return 0, fmt.Errorf("count jobs: %w", err)
	}
	return n, nil
}

func (f JobFilter) where() (string, []any) {
	where, args := "1", []any{}
	if f.Engine != 0 {
		where, args = where+" AND j.engine_id = ?", append(args, f.Engine)
	}
	if f.Open {
		where += " AND " + jobIsOpen
	}
	if f.Ended {
		where += " AND NOT " + jobIsOpen
	}
	return where, args
}

func findJobs(ctx context.Context, q querier, f JobFilter) ([]Job, error) {
	where, args := f.where()
	if f.Limit == 0 {
		f.Limit = -1
	}
	js, err := list(ctx, q, scanJob, jobQuery+" WHERE "+where+" ORDER BY "+jobIsOpen+" DESC, j.day DESC, j.id DESC LIMIT ? OFFSET ?", append(args, f.Limit, f.Offset)...)
	if err != nil {
		return nil, fmt.Errorf("list jobs: %w", err)
	}
	return js, nil
}

// NewJob is what a person gives to open a job; Shows is what the engine's
// meter shows.
type NewJob struct {
	Job
	Shows     *wear.Hours
	Positions []int
	Steps     []JobStep
}

// OpenJob opens a job. One whose UID is in the book already is not opened
// again; its id comes back. Errors: Invalid at the fields why, positions, day,
// hours, stands.
func (b *Book) OpenJob(ctx context.Context, n NewJob) (id int64, err error) {
	err = b.tx(ctx, func(ctx context.Context, t *tx) error {
		id, err = openJob(ctx, t, n)
		return err
	})
	return id, err
}

func openJob(ctx context.Context, t *tx, n NewJob) (int64, error) {
	if n.UID == "" {
		n.UID = newUID()
	}
	known, err := one(ctx, t, scanJob, jobQuery+" WHERE j.uid = ?", n.UID)
	if err == nil {
		return known.ID, nil
	}
	if !errors.Is(err, ErrNotFound) {
		return 0, fmt.Errorf("find job: %w", err)
	}
	w, err := findWork(ctx, t, n.Engine)
	if err != nil {
		return 0, err
	}
	if bad := append(n.wrong(w), t.happened(n.Day)...); len(bad) > 0 {
		return 0, bad
	}
	if n.MeterRoot, err = addMeter(ctx, t, n.Engine, n.Day, *n.Shows); err != nil {
		return 0, err
	}
	if len(w.Jobs) > 0 {
		n.Stands = w.Stands
	}
	who := nameOf(ctx, n.Who)
	id, err := t.insert(ctx, "INSERT INTO job (uid, engine_id, why, detail, day, meter_root, stands, who, saved_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
		n.UID, n.Engine, strings.TrimSpace(n.Why), strings.TrimSpace(n.Detail), n.Day, n.MeterRoot, n.Stands, who, t.at)
	if err != nil {
		return 0, fmt.Errorf("open job: %w", err)
	}
	if err := addSteps(ctx, t, id, n.Steps); err != nil {
		return 0, err
	}
	for _, p := range n.Positions {
		if _, err := addJobEntry(ctx, t, JobEntry{Job: id, Kind: JobAdded, Position: p, Day: n.Day, Who: who}); err != nil {
			return 0, err
		}
	}
	return id, nil
}

// wrong lists what cannot be about a new job on an engine with such work.
func (n NewJob) wrong(w Work) Invalid {
	var bad Invalid
	say := func(field, format string, args ...any) { bad = append(bad, invalid(field, format, args...)...) }
	if strings.TrimSpace(n.Why) == "" {
		say("why", "say why the cylinders come off")
	}
	if n.Day == "" {
		say("day", "give the date")
	}
	if n.Shows == nil {
		say("hours", "give the hours that the engine's meter shows")
	}
	if n.Stands < 1 || n.Stands > w.Engine.Cylinders {
		say("stands", "choose the position at whose top dead centre the crank stands")
	}
	if len(n.Positions) == 0 {
		say("positions", "choose the cylinders that come off")
	}
	return append(bad, w.wrongToAdd(n.Positions)...)
}

func newUID() string { return uuid.Must(uuid.NewV7()).String() }

// nameOf is who did something: as it was typed, else who is signed in.
func nameOf(ctx context.Context, typed string) string {
	if typed = strings.TrimSpace(typed); typed != "" {
		return typed
	}
	return actor(ctx).Name
}
