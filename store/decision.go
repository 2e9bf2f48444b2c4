package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"barrelbook/wear"
)

// Dispositions that a part can be given in a job. The last takes an earlier
// one back.
var Dispositions = []string{"reuse", "hone", "grind", "plate", "re-groove", "replace", "scrap", Undecided}

// Undecided is the disposition of a part of which nothing is decided any more.
const Undecided = "not decided"

// Decision is what a person decided of a part in a job. Oversize is what it is
// ground to over standard, Groove and Width what is machined for an over-width
// ring; Worked is what the page showed of the consequences, as JSON.
type Decision struct {
	Entry       JobEntry // who, when, and whether it was taken back
	Job         int64
	Part        int64
	Position    int
	Disposition string
	Oversize    *wear.Value
	Groove      int
	Width       *wear.Value
	Reason      string
	Worked      string
	InForce     bool // no later one of this part in this job
}

const decisionQuery = `SELECT d.entry_id, d.job_id, d.part_id, d.position, d.disposition, d.oversize, d.groove, d.width, d.reason, d.worked,
	NOT EXISTS (SELECT 1 FROM job_decision n WHERE n.job_id = d.job_id AND n.part_id = d.part_id AND n.entry_id > d.entry_id), x.day, x.who, x.saved_at
	FROM job_decision d JOIN job_entry x ON x.id = d.entry_id`

func scanDecision(r scanner, d *Decision) error {
	return r.Scan(&d.Entry.ID, &d.Job, &d.Part, &d.Position, &d.Disposition, &d.Oversize, &d.Groove, &d.Width, &d.Reason, &d.Worked, &d.InForce, &d.Entry.Day, &d.Entry.Who, &d.Entry.SavedAt)
}

// EventOf is the wear event that a disposition is recorded as, of those that
// are work on the part.
var EventOf = map[string]wear.Event{"hone": wear.Honed, "grind": wear.Ground, "plate": wear.Plated, "re-groove": wear.Regrooved}

// Decisions lists what was decided in a job, oldest first, overruled ones too.
func (b *Book) Decisions(ctx context.Context, job int64) ([]Decision, error) {
	return findDecisions(ctx, b.read, "d.job_id = ?", job)
}

// DecisionsOf lists what was decided of a part in all jobs, oldest first.
func (b *Book) DecisionsOf(ctx context.Context, part int64) ([]Decision, error) {
	return findDecisions(ctx, b.read, "d.part_id = ?", part)
}

func findDecisions(ctx context.Context, q querier, where string, args ...any) ([]Decision, error) {
	ds, err := list(ctx, q, scanDecision, decisionQuery+" WHERE "+where+" ORDER BY d.entry_id", args...)
	if err != nil {
		return nil, fmt.Errorf("list decisions: %w", err)
	}
	return ds, nil
}

// Decide saves a decision; after is the last entry of the job that the form
// knew of. uid makes sending twice add nothing. Errors: Stale, Invalid at the
// fields disposition, reason, oversize, groove, width.
func (b *Book) Decide(ctx context.Context, d Decision, uid string, after int64) error {
	d.Reason = strings.TrimSpace(d.Reason)
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if known, err := knownEntry(ctx, t, uid); known != 0 || err != nil {
			return err
		}
		p, err := findPart(ctx, t, d.Part)
		if err != nil {
			return err
		}
		if bad := d.wrong(p); len(bad) > 0 {
			return bad
		}
		id, err := saveJobEntry(ctx, t, JobEntry{UID: uid, Job: d.Job, Kind: JobDecided, Position: d.Position, Part: d.Part, Text: d.Disposition, Day: d.Entry.Day, Who: d.Entry.Who}, after)
		if err != nil {
			return err
		}
		_, err = t.insert(ctx, `INSERT INTO job_decision (entry_id, job_id, part_id, position, disposition, oversize, groove, width, reason, worked) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			id, d.Job, d.Part, d.Position, d.Disposition, d.Oversize, d.Groove, d.Width, d.Reason, d.Worked)
		if err != nil {
			return fmt.Errorf("save decision: %w", err)
		}
		return nil
	})
}

// DispositionsOf lists the dispositions that a kind of part can be given.
func DispositionsOf(k wear.Kind) []string {
	only := map[string][]wear.Kind{"hone": {wear.Cylinder}, "grind": {wear.Cylinder}, "plate": {wear.Cylinder}, "re-groove": {wear.Piston}}
	return slices.DeleteFunc(slices.Clone(Dispositions), func(d string) bool { return only[d] != nil && !slices.Contains(only[d], k) })
}

// Check says, as Invalid, what is wrong with a decision on a part, the job left
// aside.
func (d Decision) Check(p Part) error {
	d.Reason = strings.TrimSpace(d.Reason)
	return d.wrong(p).orNil()
}

func (d Decision) wrong(p Part) Invalid {
	var bad Invalid
	if !slices.Contains(DispositionsOf(p.Kind), d.Disposition) {
		bad = append(bad, FieldError{Field: "disposition", Message: "choose what becomes of the " + string(p.Kind)})
	}
	if d.Reason == "" {
		bad = append(bad, FieldError{Field: "reason", Message: "say why"})
	}
	if p.Status == "scrapped" && d.Disposition != "scrap" && d.Disposition != Undecided {
		bad = append(bad, FieldError{Field: "disposition", Message: fmt.Sprintf("it was scrapped on %s: %s", p.ScrapDay, p.ScrapReason)})
	}
	if d.Disposition == "grind" && (d.Oversize == nil || *d.Oversize <= 0 || *d.Oversize > mostOversize) {
		bad = append(bad, FieldError{Field: "oversize", Message: "give the oversize it is ground to, at most 0.1 in"})
	}
	if d.Disposition == "re-groove" {
		if d.Groove < 1 {
			bad = append(bad, FieldError{Field: "groove", Message: "choose the groove"})
		}
		if d.Width == nil || *d.Width <= 0 {
			bad = append(bad, FieldError{Field: "width", Message: "give the width that the groove is machined to"})
		}
	}
	return bad
}

// Placing is what is to be fitted at one place; Part 0 leaves it empty.
type Placing struct {
	Entry    int64
	Job      int64
	Position int
	Kind     wear.Kind
	Groove   int
	Part     int64
	Despite  string // why it is fitted although a ring's facing or pressure speaks against it
}

// Placings lists what is to be fitted where in a job: the latest of each place.
func (b *Book) Placings(ctx context.Context, job int64) ([]Placing, error) {
	return findPlacings(ctx, b.read, job)
}

func findPlacings(ctx context.Context, q querier, job int64) ([]Placing, error) {
	ps, err := list(ctx, q, func(r scanner, p *Placing) error {
		return r.Scan(&p.Entry, &p.Job, &p.Position, &p.Kind, &p.Groove, &p.Part, &p.Despite)
	}, `SELECT entry_id, job_id, position, kind, groove, coalesce(part_id, 0), despite FROM job_placing p WHERE job_id = ?
		AND NOT EXISTS (SELECT 1 FROM job_placing n WHERE n.job_id = p.job_id AND n.position = p.position AND n.kind = p.kind AND n.groove = p.groove AND n.id > p.id)
		ORDER BY position, CASE kind WHEN 'cylinder' THEN 1 WHEN 'piston' THEN 2 WHEN 'pin' THEN 3 ELSE 4 END, groove`, job)
	if err != nil {
		return nil, fmt.Errorf("list placings: %w", err)
	}
	return ps, nil
}

// Place saves what is to be fitted where, all of it or nothing; after is the
// last entry of the job that the form knew of. Errors: Stale where others
// placed something at one of the positions since; Invalid, whose field is
// "positions" or the place as PlaceField names it.
func (b *Book) Place(ctx context.Context, job int64, places []Placing, uid string, after int64) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if known, err := knownEntry(ctx, t, uid); known != 0 || err != nil {
			return err
		}
		if err := checkPlaces(ctx, t, job, places); err != nil {
			return err
		}
		entries := map[int]int64{}
		for _, p := range places {
			if entries[p.Position] == 0 {
				id, err := saveJobEntry(ctx, t, JobEntry{UID: uid, Job: job, Kind: JobPlaced, Position: p.Position}, after)
				if err != nil {
					return err
				}
				entries[p.Position], uid, after = id, "", max(after, id)
			}
			if _, err := t.insert(ctx, "INSERT INTO job_placing (entry_id, job_id, position, kind, groove, part_id, despite) VALUES (?, ?, ?, ?, ?, nullif(?, 0), ?)",
				entries[p.Position], job, p.Position, p.Kind, p.Groove, p.Part, strings.TrimSpace(p.Despite)); err != nil {
				return fmt.Errorf("save placing: %w", err)
			}
		}
		return nil
	})
}

// PlaceField names a place as a form does: "piston-3", "ring-3-1".
func PlaceField(position int, k wear.Kind, groove int) string {
	if groove > 0 {
		return fmt.Sprintf("%s-%d-%d", k, position, groove)
	}
	return fmt.Sprintf("%s-%d", k, position)
}

// checkPlaces wants positions of the job, parts of the kind that are not
// scrapped, and no part at two places.
func checkPlaces(ctx context.Context, t *tx, job int64, places []Placing) error {
	j, err := findJob(ctx, t, job)
	if err != nil {
		return err
	}
	w, err := findWork(ctx, t, j.Engine)
	if err != nil {
		return err
	}
	now, err := findPlacings(ctx, t, job)
	if err != nil {
		return err
	}
	at := map[int64]string{}
	for _, p := range now {
		changed := slices.ContainsFunc(places, func(n Placing) bool { return n.Position == p.Position && n.Kind == p.Kind && n.Groove == p.Groove })
		if p.Part != 0 && !changed {
			at[p.Part] = PlaceField(p.Position, p.Kind, p.Groove)
		}
	}
	var bad Invalid
	for _, p := range places {
		field := PlaceField(p.Position, p.Kind, p.Groove)
		say := func(format string, args ...any) { bad = append(bad, invalid(field, format, args...)...) }
		if w.JobAt(p.Position) != job {
			say("position %d is not in this job", p.Position)
		}
		if p.Part == 0 {
			continue
		}
		part, err := findPart(ctx, t, p.Part)
		if errors.Is(err, ErrNotFound) {
			say("the book has no such part")
			continue
		}
		if err != nil {
			return err
		}
		switch {
		case part.Kind != p.Kind:
			say("%s %s is no %s", part.Kind, part.Serial, p.Kind)
		case part.Status == "scrapped":
			say("%s %s was scrapped on %s: %s", part.Kind, part.Serial, part.ScrapDay, part.ScrapReason)
		case at[part.ID] != "":
			say("%s %s is placed twice", part.Kind, part.Serial)
		}
		at[part.ID] = field
	}
	return bad.orNil()
}
