package store

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"barrelbook/wear"
)

// What became of a part that a decision was about, or of the one that went in
// its place, by what the book knows now.
const (
	OutcomeWell      = "still on"               // measured since, and inside
	OutcomeFlagged   = "flagged"                // wears faster than normal
	OutcomeBeyond    = "beyond limit"           //
	OutcomeRemoved   = "removed"                // came off again
	OutcomeUnread    = "not measured since"     // still on
	OutcomeTooRecent = "too recent"             // still on, and not run or not telling yet
	OutcomeScrapped  = "scrapped"               //
	OutcomeNotFitted = "not fitted since"       // lies on the shelf
	OutcomeNoOther   = "none recorded in place" // replaced or scrapped, and nothing was placed there
	OutcomeUnknown   = "not known"              // its hours since cannot be told
)

// Outcome is what a decision of a job that was closed has led to.
type Outcome struct {
	Decision
	About    Part // that was decided on
	EngineNo string
	EndDay   wear.Day // on which the job was closed
	Subject  Part     // whose fate is told: itself, or what was placed for it
	What     string
	Since    wear.Hours // that the subject has run since the job
	Finding  *Finding   // the worst feature that was measured since; nil for none
	At       wear.Hours // that it had run since the job when that was measured
	Reason   string     // why it came off or was scrapped
}

// Outcomes lists what the decisions in force of closed jobs have led to, the
// latest job first.
func (b *Book) Outcomes(ctx context.Context) ([]Outcome, error) {
	return findOutcomes(ctx, b.read, "1")
}

func findOutcomes(ctx context.Context, q querier, where string, args ...any) ([]Outcome, error) {
	ds, err := findDecisions(ctx, q, "d.job_id IN (SELECT j.id FROM job_now j WHERE j.ended = 'closed') AND d.disposition <> 'not decided' AND "+where, args...)
	if err != nil {
		return nil, err
	}
	l := &lookBack{ctx: ctx, q: q, jobs: map[int64]Job{}, placed: map[int64][]Placing{}, hours: map[int64]wear.Hours{}}
	ds = slices.DeleteFunc(ds, func(d Decision) bool { return !d.InForce })
	if err := l.read(ds); err != nil {
		return nil, err
	}
	var out []Outcome
	for _, d := range slices.Backward(ds) {
		o, err := l.outcome(d)
		if err != nil {
			return nil, err
		}
		out = append(out, o)
	}
	return out, nil
}

// lookBack is what is read to tell outcomes.
type lookBack struct {
	ctx       context.Context
	q         querier
	jobs      map[int64]Job
	placed    map[int64][]Placing // by job
	histories map[int64]*history
	findings  map[int64][]Finding
	starts    map[int64]wear.Hours // of the part, at which a series began
	hours     map[int64]wear.Hours // of engines now
}

func (l *lookBack) read(ds []Decision) (err error) {
	var ids []int64
	for _, d := range ds {
		if _, ok := l.jobs[d.Job]; !ok {
			if l.jobs[d.Job], err = findJob(l.ctx, l.q, d.Job); err != nil {
				return err
			}
			if l.placed[d.Job], err = findPlacings(l.ctx, l.q, d.Job); err != nil {
				return err
			}
		}
		ids = append(ids, l.subjects(d)...)
		ids = append(ids, d.Part)
	}
	slices.Sort(ids)
	ids = slices.Compact(ids)
	hs, err := findHistories(l.ctx, l.q, ids)
	if err != nil {
		return err
	}
	l.histories, l.findings = map[int64]*history{}, map[int64][]Finding{}
	for _, h := range hs {
		l.histories[h.part.ID] = h
	}
	fs, err := findFindings(l.ctx, l.q, "", "s.part_id IN (SELECT value FROM json_each(?)) AND s.current = 1 ORDER BY s.state <> 5, s.verdict DESC, s.chance, s.id", jsonList(ids))
	if err != nil {
		return err
	}
	for _, f := range fs {
		l.findings[f.Part] = append(l.findings[f.Part], f)
	}
	return l.readStarts(ids)
}

func (l *lookBack) readStarts(ids []int64) error {
	l.starts = map[int64]wear.Hours{}
	_, err := list(l.ctx, l.q, func(r scanner, _ *struct{}) error {
		var id int64
		var at wear.Hours
		err := r.Scan(&id, &at)
		l.starts[id] = at
		return err
	}, "SELECT id, start_hours FROM series WHERE current = 1 AND part_id IN (SELECT value FROM json_each(?))", jsonList(ids))
	if err != nil {
		return fmt.Errorf("read beginnings of runs: %w", err)
	}
	return nil
}

// subjects are the parts whose fate a decision is judged by: the part itself;
// of one replaced or scrapped what was placed for it; of a groove machined for
// an over-width ring that ring too.
func (l *lookBack) subjects(d Decision) []int64 {
	switch d.Disposition {
	case "replace", "scrap":
		if p := l.inPlaceOf(d); p != 0 {
			return []int64{p}
		}
		return nil
	case "re-groove":
		for _, p := range l.placed[d.Job] {
			if p.Kind == wear.Ring && p.Part != 0 && p.Groove == d.Groove && p.Position == l.wentTo(d) {
				return []int64{d.Part, p.Part}
			}
		}
	}
	return []int64{d.Part}
}

// wentTo is the position that a part was placed at, else the one it came from.
func (l *lookBack) wentTo(d Decision) int {
	for _, p := range l.placed[d.Job] {
		if p.Part == d.Part {
			return p.Position
		}
	}
	return d.Position
}

// inPlaceOf is what was placed where a part sat; 0 where nothing is recorded.
func (l *lookBack) inPlaceOf(d Decision) int64 {
	h, kind, groove := l.histories[d.Part], wear.Kind(""), 0
	if h == nil {
		hs, err := findHistories(l.ctx, l.q, []int64{d.Part})
		if err != nil || len(hs) == 0 {
			return 0
		}
		h = hs[0]
	}
	kind = h.part.Kind
	for _, s := range h.stays {
		if s.Stay.Engine == l.jobs[d.Job].Engine && s.Position == d.Position {
			groove = s.Groove
		}
	}
	for _, p := range l.placed[d.Job] {
		if p.Position == d.Position && p.Kind == kind && p.Groove == groove && p.Part != d.Part {
			return p.Part
		}
	}
	return 0
}

// outcomeRank orders outcomes, the worst first.
var outcomeRank = []string{OutcomeFlagged, OutcomeBeyond, OutcomeScrapped, OutcomeRemoved, OutcomeNotFitted, OutcomeUnknown, OutcomeUnread, OutcomeTooRecent, OutcomeWell}

// outcome tells the worst fate of the parts that a decision is judged by.
func (l *lookBack) outcome(d Decision) (Outcome, error) {
	j := l.jobs[d.Job]
	worst := Outcome{Decision: d, EngineNo: j.EngineNo, EndDay: j.EndDay, What: OutcomeNoOther}
	if h := l.histories[d.Part]; h != nil {
		worst.About = h.part
	}
	for i, id := range l.subjects(d) {
		o := worst
		if err := l.fate(&o, l.histories[id], j); err != nil {
			return o, err
		}
		if i == 0 || slices.Index(outcomeRank, o.What) < slices.Index(outcomeRank, worst.What) {
			worst = o
		}
	}
	return worst, nil
}

// fate fills in what became of one part since a job.
func (l *lookBack) fate(o *Outcome, h *history, j Job) error {
	if h == nil {
		return nil
	}
	o.Subject = h.part
	was, now, err := l.clocks(h, j)
	if isHoursNeeded(err) || errors.Is(err, wear.ErrHoursOrder) {
		o.What = OutcomeUnknown
		return nil
	}
	if err != nil {
		return err
	}
	o.Since = now - was
	n := len(h.stays)
	on := n > 0 && h.stays[n-1].Open()
	since := slices.ContainsFunc(h.stays, func(s Stay) bool { return s.Open() || s.To > j.EndDay })
	o.Finding, o.At = l.worstSince(h.part.ID, j.EndDay, was)
	switch {
	case o.Finding != nil && o.Finding.Flagged():
		o.What = OutcomeFlagged
	case o.Finding != nil && o.Finding.Verdict == wear.Beyond:
		o.What = OutcomeBeyond
	case h.part.Status == "scrapped":
		o.What, o.Reason = OutcomeScrapped, h.part.ScrapReason
	case !on && since:
		o.What, o.Reason = OutcomeRemoved, h.stays[n-1].ReasonOut
	case !on:
		o.What = OutcomeNotFitted
	case o.Since == 0 || o.Finding != nil && (o.Finding.State == wear.TooYoung || o.Finding.State == wear.TooFewReadings):
		o.What = OutcomeTooRecent
	case o.Finding == nil:
		o.What = OutcomeUnread
	default:
		o.What = OutcomeWell
	}
	return nil
}

// clocks are a part's own hours when a job was opened, and now.
func (l *lookBack) clocks(h *history, j Job) (was, now wear.Hours, err error) {
	if was, err = h.clock.At(j.Day, &wear.EngineHours{Engine: j.Engine, Hours: j.Hours}); err != nil {
		if was, err = h.clock.At(j.EndDay, &wear.EngineHours{Engine: j.Engine, Hours: j.Hours}); err != nil {
			return 0, 0, fmt.Errorf("count hours of %s %s since job %d: %w", h.part.Kind, h.part.Serial, j.ID, err)
		}
	}
	var here *wear.EngineHours
	if n := len(h.stays); n > 0 && h.stays[n-1].Open() {
		engine := h.stays[n-1].Stay.Engine
		if _, ok := l.hours[engine]; !ok {
			e, err := findEngine(l.ctx, l.q, engine)
			if err != nil {
				return 0, 0, err
			}
			l.hours[engine] = e.Hours
		}
		here = &wear.EngineHours{Engine: engine, Hours: l.hours[engine]}
	}
	if now, err = h.clock.At(lastDay, here); err != nil {
		return 0, 0, fmt.Errorf("count part hours: %w", err)
	}
	return was, max(now, was), nil
}

// worstSince is the worst of the features measured after a day, and the hours
// since was at which it was.
func (l *lookBack) worstSince(part int64, day wear.Day, was wear.Hours) (*Finding, wear.Hours) {
	for _, f := range l.findings[part] { // the worst first
		if f.LastDay > day {
			at := l.starts[f.Series] + wear.Hours(f.Hours*100+0.5) - was
			return &f, max(at, 0)
		}
	}
	return nil, 0
}
