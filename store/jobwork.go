package store

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"barrelbook/wear"
)

// Work is how the jobs under way on an engine stand together.
type Work struct {
	Engine  Engine
	Jobs    []Job
	Entries []JobEntry // of all of them, oldest first, those taken back left out
	Pull    []int      // positions that are to come off
	Off     []int      // those that are off
	Stands  int        // position at whose top dead centre the crank stands, 0 where nobody said
	jobOf   map[int]int64
}

// JobAt is the job under way that a position is in, 0 for none.
func (w Work) JobAt(position int) int64 { return w.jobOf[position] }

// IsOff reports whether the cylinder of a position is off.
func (w Work) IsOff(position int) bool { return slices.Contains(w.Off, position) }

// MastersOff are the positions of the master-rod cylinders that are off: while
// there is one, the crank is not turned.
func (w Work) MastersOff() []int {
	return slices.DeleteFunc(w.Engine.Masters(), func(m int) bool { return !w.IsOff(m) })
}

// Positions are those of one job, in order.
func (w Work) Positions(job int64) []int {
	return slices.DeleteFunc(slices.Clone(w.Pull), func(p int) bool { return w.jobOf[p] != job })
}

// Work finds how the jobs under way on an engine stand.
func (b *Book) Work(ctx context.Context, engine int64) (Work, error) {
	return findWork(ctx, b.read, engine)
}

// JobPositions lists the positions of a job, under way or ended, in order.
func (b *Book) JobPositions(ctx context.Context, job int64) ([]int, error) {
	return findJobPositions(ctx, b.read, job)
}

func findJobPositions(ctx context.Context, q querier, job int64) ([]int, error) {
	es, err := findJobEntries(ctx, q, "x.job_id = ?", job)
	return workOf(es).Pull, err
}

// workOf is how the entries of one job, under way or ended, leave it standing.
func workOf(es []JobEntry) Work {
	w := Work{jobOf: map[int]int64{}}
	for _, e := range es {
		w.take(e)
	}
	slices.Sort(w.Pull)
	slices.Sort(w.Off)
	return w
}

func findWork(ctx context.Context, q querier, engine int64) (Work, error) {
	w := Work{jobOf: map[int]int64{}}
	var err error
	if w.Engine, err = findEngine(ctx, q, engine); err != nil {
		return w, err
	}
	if w.Jobs, err = findJobs(ctx, q, JobFilter{Engine: engine, Open: true}); err != nil {
		return w, err
	}
	if len(w.Jobs) == 0 {
		return w, nil
	}
	first := slices.MinFunc(w.Jobs, func(a, b Job) int { return int(a.ID - b.ID) })
	w.Stands = first.Stands
	all, err := findJobEntries(ctx, q, "x.job_id IN (SELECT j.id FROM job_now j WHERE j.engine_id = ? AND "+jobIsOpen+")", engine)
	if err != nil {
		return w, err
	}
	for _, x := range all {
		w.take(x)
	}
	slices.Sort(w.Pull)
	slices.Sort(w.Off)
	return w, nil
}

// take carries one more entry into the standing.
func (w *Work) take(x JobEntry) {
	if x.Struck {
		return
	}
	w.Entries = append(w.Entries, x)
	leave := func(ps []int) []int { return slices.DeleteFunc(ps, func(p int) bool { return p == x.Position }) }
	switch x.Kind {
	case JobAdded:
		w.Pull, w.jobOf[x.Position] = append(leave(w.Pull), x.Position), x.Job
	case JobLeftOn:
		w.Pull = leave(w.Pull)
		delete(w.jobOf, x.Position)
	case JobPulled:
		w.Off, w.Stands = append(leave(w.Off), x.Position), x.Position
	case JobRefitted:
		w.Off, w.Stands = leave(w.Off), x.Position
	case JobTurned:
		w.Stands = x.Position
	}
}

// state is the standing as package wear asks for it.
func (w Work) state() wear.PullState {
	places, _ := w.Engine.CrankPlaces()
	return wear.PullState{Places: places, Pull: w.Pull, Off: w.Off}
}

// Allow says whether a step may be taken now: nil, Refused, or an error of
// package wear where it cannot be taken at all. A cylinder comes off and goes
// on with its piston at top dead centre, so the crank has to turn there first.
func (w Work) Allow(kind wear.MoveKind, position int) error {
	s := w.state()
	if kind == wear.TurnCrank || w.turns(s.Places, position) {
		if err := s.Allow(wear.PullMove{Kind: wear.TurnCrank, Degrees: 1}); err != nil {
			return refused(err)
		}
	}
	if kind == wear.TurnCrank {
		return nil
	}
	return refused(s.Allow(wear.PullMove{Kind: kind, Position: position}))
}

// turns reports whether the crank has to turn to bring a position's piston to
// top dead centre.
func (w Work) turns(places []wear.CrankPlace, position int) bool {
	if w.Stands == position {
		return false
	}
	var at, to wear.CrankPlace
	for _, c := range places {
		if c.Position == w.Stands {
			at = c
		}
		if c.Position == position {
			to = c
		}
	}
	return !at.Known || !to.Known || at.Angle != to.Angle
}

// refused turns those errors into Refused that a reason can overcome.
func refused(err error) error {
	for _, x := range []struct {
		is    error
		words string
	}{
		{wear.ErrMasterOff, "A master-rod cylinder is off: the crank is not turned, and this step needs it turned. Link pistons could drop and their lowest rings leave the barrels."},
		{wear.ErrMasterEarly, "The master-rod cylinder comes off last: other cylinders are still to come off, and the crank is not turned after it."},
		{wear.ErrMasterLate, "The master-rod cylinder goes on first: it is still off, and the crank is not turned until it is on."},
	} {
		if errors.Is(err, x.is) {
			return Refused{Err: err, Words: x.words}
		}
	}
	return err
}

// wrongToAdd lists what keeps positions from coming into a job.
func (w Work) wrongToAdd(positions []int) Invalid {
	var bad Invalid
	say := func(format string, args ...any) { bad = append(bad, invalid("positions", format, args...)...) }
	for i, p := range positions {
		switch j := w.JobAt(p); {
		case p < 1 || p > w.Engine.Cylinders:
			say("%d is no position: the engine has 1 to %d", p, w.Engine.Cylinders)
		case slices.Contains(positions[:i], p):
			say("position %d stands there twice", p)
		case j != 0:
			bad = append(bad, FieldError{Field: "positions", Message: fmt.Sprintf("position %d is in another job that is under way", p), Href: fmt.Sprintf("/jobs/%d", j)})
		}
	}
	return bad
}

// checkMove asks whether an entry can be made as the job stands.
func checkMove(ctx context.Context, t *tx, j Job, e *JobEntry) error {
	if !e.moves() && e.Kind != JobUndone {
		return nil
	}
	w, err := findWork(ctx, t, j.Engine)
	if err != nil {
		return err
	}
	switch e.Kind {
	case JobPulled, JobRefitted, JobTurned:
		return w.checkTurnAndMove(j, e)
	case JobAdded:
		return w.wrongToAdd([]int{e.Position}).orNil()
	case JobLeftOn:
		if w.JobAt(e.Position) != j.ID {
			return invalid("position", "position %d is not in this job", e.Position)
		}
		if w.IsOff(e.Position) || slices.ContainsFunc(w.Entries, func(x JobEntry) bool { return x.Kind == JobPulled && x.Position == e.Position && x.Job == j.ID }) {
			return invalid("position", "the cylinder of position %d came off in this job", e.Position)
		}
	case JobUndone:
		return w.checkUndo(e)
	}
	return nil
}

func (w Work) checkTurnAndMove(j Job, e *JobEntry) error {
	kind := map[string]wear.MoveKind{JobPulled: wear.PullCylinder, JobRefitted: wear.RefitCylinder, JobTurned: wear.TurnCrank}[e.Kind]
	if kind != wear.TurnCrank && w.JobAt(e.Position) != j.ID {
		return invalid("position", "position %d is not in this job", e.Position)
	}
	if e.Position < 1 || e.Position > w.Engine.Cylinders {
		return invalid("position", "%d is no position: the engine has 1 to %d", e.Position, w.Engine.Cylinders)
	}
	err := w.Allow(kind, e.Position)
	var r Refused
	switch {
	case err == nil:
		e.Despite = "" // nothing was refused
	case errors.As(err, &r) && e.Despite == "":
		return r
	case errors.As(err, &r):
	case errors.Is(err, wear.ErrIsOff):
		return invalid("position", "cylinder %d is off already", e.Position)
	case errors.Is(err, wear.ErrIsOn):
		return invalid("position", "cylinder %d is on already", e.Position)
	default:
		return fmt.Errorf("check step of job: %w", err)
	}
	return nil
}

// checkUndo wants an entry that stands, and of the cylinders' and the crank's
// moves the last one: what came after it was done with it in mind.
func (w Work) checkUndo(e *JobEntry) error {
	i := slices.IndexFunc(w.Entries, func(x JobEntry) bool { return x.ID == e.Undoes && x.Job == e.Job })
	if i < 0 {
		return invalid("undoes", "that entry was taken back already, or is not of this job")
	}
	x := w.Entries[i]
	if !slices.Contains([]string{JobPulled, JobRefitted, JobTurned, JobDone, JobNote, JobLeftOn}, x.Kind) {
		return invalid("undoes", "an entry of that kind is not taken back")
	}
	if e.Text == "" {
		return invalid("reason", "say why it is taken back")
	}
	e.Position, e.Step = x.Position, x.Step
	later := w.Entries[i+1:]
	if x.moves() && slices.ContainsFunc(later, func(y JobEntry) bool { return y.moves() && y.Kind != JobAdded }) {
		return invalid("undoes", "take back the later steps of the order first")
	}
	return nil
}

// Halts are the master-rod cylinders of an engine that are off, with the jobs
// that are under way on it; nothing where there is no job.
func (b *Book) Halts(ctx context.Context, engine int64) (jobs []Job, masters []int, err error) {
	if jobs, err = findJobs(ctx, b.read, JobFilter{Engine: engine, Open: true}); err != nil || len(jobs) == 0 {
		return nil, nil, err
	}
	w, err := b.Work(ctx, engine)
	return w.Jobs, w.MastersOff(), err
}
