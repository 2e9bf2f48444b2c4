package store

import (
	"context"
	"fmt"
	"strings"
)

// Phases of a job, in order.
var JobPhases = []string{"removal", "bench", "refit", "after"}

// JobStep is a line of a checklist: what is to be done, with its caution and
// room for what the maker's manual says of torque and wrench.
type JobStep struct {
	ID             int64 // of a job's own step, 0 in a model's list
	Phase          string
	Text, Caution  string
	Torque, Wrench string
	Each           bool // once a cylinder; else once a job
}

// JobSteps lists the steps of a job, in order.
func (b *Book) JobSteps(ctx context.Context, job int64) ([]JobStep, error) {
	return findJobSteps(ctx, b.read, job)
}

func findJobSteps(ctx context.Context, q querier, job int64) ([]JobStep, error) {
	ss, err := list(ctx, q, func(r scanner, s *JobStep) error {
		return r.Scan(&s.ID, &s.Phase, &s.Text, &s.Caution, &s.Torque, &s.Wrench, &s.Each)
	}, "SELECT id, phase, text, caution, torque, wrench, each FROM job_step WHERE job_id = ? ORDER BY ord", job)
	if err != nil {
		return nil, fmt.Errorf("list steps of job: %w", err)
	}
	return ss, nil
}

func addSteps(ctx context.Context, t *tx, job int64, steps []JobStep) error {
	for i, s := range steps {
		if _, err := t.insert(ctx, "INSERT INTO job_step (job_id, phase, ord, text, caution, torque, wrench, each) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
			job, s.Phase, i+1, strings.TrimSpace(s.Text), strings.TrimSpace(s.Caution), strings.TrimSpace(s.Torque), strings.TrimSpace(s.Wrench), s.Each); err != nil {
			return fmt.Errorf("add step of job: %w", err)
		}
	}
	return nil
}
