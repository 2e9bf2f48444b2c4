package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// StepAt is a step of a job at a position; 0 for a step done once a job.
type StepAt struct {
	Step     int64
	Position int
}

// Tick says that a step was done. Text is what was typed with it, such as the
// torque and the wrench's number.
type Tick struct {
	StepAt
	Text string
}

// TickSteps saves that steps of a job's checklist were done, all of them or
// none; after is the last entry of the job that the form knew of, and uid
// makes sending twice add nothing. Errors: Stale with what others saved about
// the same steps since; Invalid at the field "steps".
func (b *Book) TickSteps(ctx context.Context, job int64, ticks []Tick, who, uid string, after int64) error {
	if len(ticks) == 0 {
		return invalid("steps", "nothing is ticked: there is nothing to save")
	}
	day := b.Today()
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if known, err := knownEntry(ctx, t, uid); known != 0 || err != nil {
			return err
		}
		if err := checkTicks(ctx, t, job, ticks); err != nil {
			return err
		}
		var behind Stale
		for _, k := range ticks {
			_, err := saveJobEntry(ctx, t, JobEntry{UID: uid, Job: job, Kind: JobDone, Step: k.Step, Position: k.Position, Text: strings.TrimSpace(k.Text), Day: day, Who: who}, after)
			var stale Stale
			if errors.As(err, &stale) {
				behind.Since = append(behind.Since, stale.Since...)
			} else if err != nil {
				return err
			}
			uid = ""
		}
		if len(behind.Since) > 0 {
			return behind
		}
		return nil
	})
}

// checkTicks wants steps of the job, at its positions where they are done once
// a cylinder.
func checkTicks(ctx context.Context, t *tx, job int64, ticks []Tick) error {
	all, err := findAllSteps(ctx, t, job)
	if err != nil {
		return err
	}
	for i, k := range ticks {
		if !slices.ContainsFunc(all, func(s OpenStep) bool { return s.ID == k.Step && s.Position == k.Position }) {
			return invalid("steps", "a step that is ticked is not in this job, or its position is not any more")
		}
		if slices.ContainsFunc(ticks[:i], func(o Tick) bool { return o.StepAt == k.StepAt }) {
			return invalid("steps", "a step is ticked twice")
		}
	}
	return nil
}

// OpenStep is a step of a job that is not done, at a position where it is done
// once a cylinder.
type OpenStep struct {
	JobStep
	Position int
}

// findAllSteps lists every step of a job at every position it is done at.
func findAllSteps(ctx context.Context, q querier, job int64) ([]OpenStep, error) {
	steps, err := findJobSteps(ctx, q, job)
	if err != nil {
		return nil, err
	}
	positions, err := findJobPositions(ctx, q, job)
	if err != nil {
		return nil, err
	}
	var all []OpenStep
	for _, s := range steps {
		if !s.Each {
			all = append(all, OpenStep{s, 0})
			continue
		}
		for _, p := range positions {
			all = append(all, OpenStep{s, p})
		}
	}
	return all, nil
}

// OpenSteps lists what is not done of a job's checklist, in its order.
func (b *Book) OpenSteps(ctx context.Context, job int64) ([]OpenStep, error) {
	all, err := findAllSteps(ctx, b.read, job)
	if err != nil {
		return nil, err
	}
	entries, err := b.JobEntries(ctx, job)
	if err != nil {
		return nil, err
	}
	done := StepsDone(entries)
	return slices.DeleteFunc(all, func(s OpenStep) bool { _, is := done[StepAt{s.ID, s.Position}]; return is }), nil
}

// StepsDone picks, among a job's entries, the latest that says of a step that
// it was done and was not taken back.
func StepsDone(entries []JobEntry) map[StepAt]JobEntry {
	done := map[StepAt]JobEntry{}
	for _, e := range entries {
		if e.Kind == JobDone && !e.Struck {
			done[StepAt{e.Step, e.Position}] = e
		}
	}
	return done
}

// String names a step for people: "position 3: …".
func (s OpenStep) String() string {
	if s.Position == 0 {
		return s.Text
	}
	return fmt.Sprintf("position %d: %s", s.Position, s.Text)
}
