package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"barrelbook/wear"
)

// RefitPlace is a place of a job's positions: what sits there by the book, and
// what the refit puts there.
type RefitPlace struct {
	Position int
	Kind     wear.Kind
	Groove   int
	Sits     Stay   // zero where nothing does
	Goes     Part   // zero where nothing is to
	Despite  string // why it goes there although a ring's facing or pressure speaks against it
	Placed   bool   // a person said what goes there; else what sits there stays
	Decided  string // disposition of what sits there, empty where nothing was decided
	Leaves   string // why what sits there comes off; empty where it stays
}

// Changes reports whether the refit puts something else there than sits there.
func (p RefitPlace) Changes() bool { return p.Sits.Part != p.Goes.ID }

// Field names the place as a form does.
func (p RefitPlace) Field() string { return PlaceField(p.Position, p.Kind, p.Groove) }

// Refit is what a job's refit does with the parts of its positions.
type Refit struct {
	Job       Job
	Engine    Engine
	Positions []int
	Off       []int // cylinders that are still off
	Places    []RefitPlace
	Scrap     []Decision // parts that are scrapped with it
	entries   []JobEntry
	decided   map[int64]Decision // in force, by part
}

// Changes are the places where something else goes than sits there.
func (r Refit) Changes() []RefitPlace {
	return slices.DeleteFunc(slices.Clone(r.Places), func(p RefitPlace) bool { return !p.Changes() })
}

// Refit finds what a job's refit would do now.
func (b *Book) Refit(ctx context.Context, job int64) (Refit, error) {
	return planRefit(ctx, b.read, job)
}

func planRefit(ctx context.Context, q querier, job int64) (r Refit, err error) {
	if r.Job, err = findJob(ctx, q, job); err != nil {
		return r, err
	}
	if r.Engine, err = findEngine(ctx, q, r.Job.Engine); err != nil {
		return r, err
	}
	if r.entries, err = findJobEntries(ctx, q, "x.job_id = ?", job); err != nil {
		return r, err
	}
	w := workOf(r.entries)
	r.Positions, r.Off = w.Pull, w.Off
	placings, err := findPlacings(ctx, q, job)
	if err != nil {
		return r, err
	}
	if r.decided, err = findInForce(ctx, q, job); err != nil {
		return r, err
	}
	stays, err := findStays(ctx, q, "s.engine_id = ? AND s.to_day IS NULL AND s.void = ''", r.Job.Engine)
	if err != nil {
		return r, err
	}
	for _, n := range r.Positions {
		for _, p := range placesOf(r.Engine.Model, n, stays, placings) {
			if err := p.fill(ctx, q, r.Job, stays, placings, r.decided); err != nil {
				return r, err
			}
			r.Places = append(r.Places, p)
		}
	}
	r.Scrap, err = toScrap(ctx, q, r.decided)
	return r, err
}

// InForce finds the decisions in force in a job, by part; those taken back are
// left out.
func (b *Book) InForce(ctx context.Context, job int64) (map[int64]Decision, error) {
	return findInForce(ctx, b.read, job)
}

func findInForce(ctx context.Context, q querier, job int64) (map[int64]Decision, error) {
	ds, err := findDecisions(ctx, q, "d.job_id = ?", job)
	if err != nil {
		return nil, err
	}
	decided := map[int64]Decision{}
	for _, d := range ds {
		if d.InForce && d.Disposition != Undecided {
			decided[d.Part] = d
		}
	}
	return decided, nil
}

// placesOf lists the places of a position from the barrel to the pin: those
// that the model has, and any other that holds or is to get a part.
func placesOf(m Model, position int, stays []Stay, placings []Placing) []RefitPlace {
	grooves := m.Grooves
	for _, s := range stays {
		if s.Position == position {
			grooves = max(grooves, s.Groove)
		}
	}
	for _, p := range placings {
		if p.Position == position {
			grooves = max(grooves, p.Groove)
		}
	}
	ps := []RefitPlace{{Position: position, Kind: wear.Cylinder}, {Position: position, Kind: wear.Piston}}
	for g := 1; g <= grooves; g++ {
		ps = append(ps, RefitPlace{Position: position, Kind: wear.Ring, Groove: g})
	}
	return append(ps, RefitPlace{Position: position, Kind: wear.Pin})
}

// fill finds what sits at the place and what goes there: what was placed; else
// what sits there, unless it was decided otherwise or goes elsewhere.
func (p *RefitPlace) fill(ctx context.Context, q querier, j Job, stays []Stay, placings []Placing, decided map[int64]Decision) (err error) {
	for _, s := range stays {
		if s.Position == p.Position && s.Kind == p.Kind && s.Groove == p.Groove {
			p.Sits = s
		}
	}
	d := decided[p.Sits.Part]
	p.Decided = d.Disposition
	away := d.Disposition == "scrap" || d.Disposition == "replace"
	goes := p.Sits.Part
	if away {
		goes = 0
	}
	var moved int
	for _, x := range placings {
		here := x.Position == p.Position && x.Kind == p.Kind && x.Groove == p.Groove
		if here {
			p.Placed, p.Despite, goes = true, x.Despite, x.Part
		} else if x.Part != 0 && x.Part == p.Sits.Part {
			moved = x.Position
		}
	}
	if moved != 0 && !p.Placed {
		goes = 0
	}
	if goes != 0 {
		if p.Goes, err = findPart(ctx, q, goes); err != nil {
			return err
		}
	}
	switch {
	case p.Sits.Part == 0 || !p.Changes():
	case away:
		p.Leaves = d.Disposition + ": " + d.Reason
	case moved != 0:
		p.Leaves = fmt.Sprintf("moved to position %d in job %d", moved, j.ID)
	case d.Reason != "":
		p.Leaves = fmt.Sprintf("%s, not fitted again in job %d: %s", d.Disposition, j.ID, d.Reason)
	default:
		p.Leaves = fmt.Sprintf("not fitted again in job %d: %s", j.ID, j.Why)
	}
	return nil
}

// toScrap are the decisions to scrap whose parts are not scrapped yet.
func toScrap(ctx context.Context, q querier, decided map[int64]Decision) ([]Decision, error) {
	var out []Decision
	for part, d := range decided {
		if d.Disposition != "scrap" {
			continue
		}
		p, err := findPart(ctx, q, part)
		if err != nil {
			return nil, err
		}
		if p.Status != "scrapped" {
			out = append(out, d)
		}
	}
	slices.SortFunc(out, func(a, b Decision) int { return int(a.Entry.ID - b.Entry.ID) })
	return out, nil
}

// RefitJob puts the parts of a whole job where they were placed: stays of what
// leaves its place end, what was placed is installed, what was decided scrap is
// scrapped, and what goes back where it was keeps its stay. after is the last
// entry that the form knew of. Errors: Stale where something was placed,
// decided or fitted since; Invalid at day, hours, positions and at the places
// as PlaceField names them. despite are parts that were placed without a reason,
// with the one that was given since.
func (b *Book) RefitJob(ctx context.Context, job int64, day wear.Day, shows wear.Hours, who, uid string, after int64, despite ...Placing) error {
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		if known, err := knownEntry(ctx, t, uid); known != 0 || err != nil {
			return err
		}
		r, err := planRefit(ctx, t, job)
		if err != nil {
			return err
		}
		if err := r.ready(ctx, t, day, after); err != nil {
			return err
		}
		if bad := t.happened(day); len(bad) > 0 {
			return bad
		}
		r.explain(despite)
		meter, err := addMeter(ctx, t, r.Job.Engine, day, shows)
		if err != nil {
			return err
		}
		m, err := findMeter(ctx, t, meter)
		if err != nil {
			return err
		}
		if m.Hours < r.Job.Hours {
			return invalid("hours", "the job was opened at %s h: its refit cannot be at %s h", r.Job.Hours, m.Hours)
		}
		note := func(e JobEntry) error {
			e.Job, e.Kind, e.Day, e.Who = job, JobFitted, day, who
			_, err := addJobEntry(ctx, t, e)
			return err
		}
		if err := note(JobEntry{UID: uid, Text: fittedText(m.Hours), Meter: meter}); err != nil {
			return err
		}
		return r.carryOut(ctx, t, day, meter, note)
	})
}

// explain gives reasons to the places without one.
func (r Refit) explain(despite []Placing) {
	for i, p := range r.Places {
		for _, x := range despite {
			if p.Despite == "" && x.Position == p.Position && x.Kind == p.Kind && x.Groove == p.Groove && x.Part == p.Goes.ID {
				r.Places[i].Despite = strings.TrimSpace(x.Despite)
			}
		}
	}
}

// ready says what keeps a refit from being saved.
func (r Refit) ready(ctx context.Context, t *tx, day wear.Day, after int64) error {
	if !r.Job.Open() {
		return endedAlready(r.Job)
	}
	if err := savedSince(ctx, t, r.Job.ID, after, func(x JobEntry) bool {
		return slices.Contains([]string{JobPlaced, JobDecided, JobFitted, JobPulled, JobRefitted, JobAdded, JobLeftOn, JobUndone}, x.Kind)
	}); err != nil {
		return err
	}
	var bad Invalid
	if day == "" {
		bad = append(bad, FieldError{Field: "day", Message: "give the date"})
	} else if day < r.Job.Day {
		bad = append(bad, FieldError{Field: "day", Message: fmt.Sprintf("the job was opened on %s: its refit cannot be before", r.Job.Day)})
	}
	if len(r.Off) > 0 {
		bad = append(bad, r.stillOff("positions"))
	}
	for _, p := range r.Places {
		d := r.decided[p.Goes.ID]
		if p.Goes.ID != 0 && (d.Disposition == "scrap" || d.Disposition == "replace" && p.Goes.ID == p.Sits.Part) {
			bad = append(bad, FieldError{Field: p.Field(), Href: fmt.Sprintf("/jobs/%d/decide/%d", r.Job.ID, p.Goes.ID),
				Message: fmt.Sprintf("%s %s is placed at position %d, but was decided %s: place another, or decide anew", p.Kind, p.Goes.Serial, p.Position, d.Disposition)})
		}
	}
	return bad.orNil()
}

// stillOff refuses while cylinders of the job are off.
func (r Refit) stillOff(field string) FieldError {
	words := fmt.Sprintf("cylinder %s is still off", wear.ListOf(r.Off, strconv.Itoa))
	if len(r.Off) > 1 {
		words = fmt.Sprintf("cylinders %s are still off", wear.ListOf(r.Off, strconv.Itoa))
	}
	return FieldError{Field: field, Href: fmt.Sprintf("/jobs/%d", r.Job.ID), Message: words + ": say on the page of the order when each went on"}
}

// carryOut ends every stay that ends before any begins, so that parts can
// change places with each other.
func (r Refit) carryOut(ctx context.Context, t *tx, day wear.Day, meter int64, note func(JobEntry) error) error {
	changes := r.Changes()
	for _, p := range changes {
		if p.Sits.Part == 0 {
			continue
		}
		if err := remove(ctx, t, p.Sits, day, meter, p.Leaves); err != nil {
			return at(p.Field(), err)
		}
		if err := note(JobEntry{Position: p.Position, Part: p.Sits.Part, Text: cameOff + p.Leaves}); err != nil {
			return err
		}
	}
	var bad Invalid
	for _, p := range changes {
		if p.Goes.ID == 0 {
			continue
		}
		f := Fitting{Part: p.Goes, Groove: p.Groove, Despite: p.Despite}
		var wrong Invalid
		if err := at(p.Field(), fit(ctx, t, r.Engine, p.Position, day, meter, f)); errors.As(err, &wrong) {
			bad = append(bad, wrong...)
			continue
		} else if err != nil {
			return err
		}
		if err := note(JobEntry{Position: p.Position, Part: p.Goes.ID, Text: wentOn, Despite: p.Despite}); err != nil {
			return err
		}
	}
	for _, d := range r.Scrap {
		var wrong Invalid
		if err := at("scrap", scrapPart(ctx, t, d.Part, day, d.Reason)); errors.As(err, &wrong) {
			bad = append(bad, wrong...)
		} else if err != nil {
			return err
		}
	}
	return bad.orNil()
}

// What the entries of a refit say of each part that it moved.
const (
	cameOff = "off: "
	wentOn  = "on"
)

// CameOff says, of an entry of a refit, why its part came off; not ok where it
// is about no part or one that went on.
func (e JobEntry) CameOff() (why string, ok bool) {
	if e.Kind != JobFitted || e.Part == 0 {
		return "", false
	}
	return strings.CutPrefix(e.Text, cameOff)
}

// WentOn reports whether an entry of a refit says that its part went on.
func (e JobEntry) WentOn() bool { return e.Kind == JobFitted && e.Part != 0 && e.Text == wentOn }

// at names the field at which all that is wrong stands.
func at(field string, err error) error {
	var bad Invalid
	if !errors.As(err, &bad) {
		return err
	}
	bad = slices.Clone(bad)
	for i := range bad {
		if bad[i].Field != "day" && bad[i].Field != "hours" {
			bad[i].Field = field
		}
	}
	return bad
}

// notInJob refuses to fit or remove parts at a position from elsewhere while a
// job under way has it in hand.
func notInJob(ctx context.Context, q querier, engine int64, position int) error {
	w, err := findWork(ctx, q, engine)
	if err != nil {
		return err
	}
	if j := w.JobAt(position); j != 0 {
		return Invalid{{Field: "position", Href: fmt.Sprintf("/jobs/%d/placing", j), Message: fmt.Sprintf("position %d is in job %d, which is under way: say in the job what is fitted there", position, j)}}
	}
	return nil
}

func fittedText(h wear.Hours) string { return fmt.Sprintf("at %s h", h) }

// FittedAt are the engine's hours, in total, at which an entry says that a
// refit was saved.
func (e JobEntry) FittedAt() (wear.Hours, bool) {
	if e.Kind != JobFitted || e.Part != 0 {
		return 0, false
	}
	text, _ := strings.CutPrefix(e.Text, "at ")
	h, err := wear.ParseHours(strings.TrimSuffix(text, " h"))
	return h, err == nil
}
