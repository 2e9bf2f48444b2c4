package server

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// placingWork is the work on what goes where in a job.
type placingWork struct {
	*jobCase
	f       *form
	propose bool
	filled  bool // by a person, not by what was saved
	page    views.JobPlacing
	lines   map[string]*views.PlacingLine // by field
	chosen  map[string]int64              // part by field, 0 for none
	used    map[int64]string              // field by part
	parts   map[int64]jobOffer            // all on offer
	grooves int
	rings   *ringBook
	pressed map[pressKey]*pressing
	speaks  []string // what speaks against rings as they are placed now
}

// pressKey is a ring at a place.
type pressKey struct {
	ring             int64
	position, groove int
}

// pressing is how hard a ring on offer presses at a place, worked out once.
func (k *placingWork) pressing(ring store.Part, position, groove int) (*pressing, error) {
	key := pressKey{ring.ID, position, groove}
	if p, ok := k.pressed[key]; ok {
		return p, nil
	}
	p, err := k.rings.pressingIn(ring, k.engine, position, groove)
	if err == nil {
		k.pressed[key] = p
	}
	return p, err
}

// placing proposes what goes where, judges what a person makes of it, and saves
// it.
func (s *Server) placing(w http.ResponseWriter, r *http.Request) error {
	c, err := s.jobCase(r)
	if err != nil {
		return err
	}
	k := &placingWork{jobCase: c, f: asked(r), lines: map[string]*views.PlacingLine{}, chosen: map[string]int64{}, used: map[int64]string{}, parts: map[int64]jobOffer{}, pressed: map[pressKey]*pressing{}}
	if k.rings, err = s.ringBook(r.Context()); err != nil {
		return err
	}
	k.page = views.JobPlacing{Page: s.page(r, "Placing: job "+fmt.Sprint(c.job.ID), views.NavJobs), Head: jobHead(c.job, "/placing"), Action: href("/jobs/", c.job.ID, "/placing"), Limits: choices("service", "new"), Labels: map[string]string{"despite": "Why all the same", "limits": "Held to"}}
	if r.Method == http.MethodPost {
		if k.f, err = readForm(r); err != nil {
			return err
		}
	}
	k.start(r.Method == http.MethodPost)
	if err := k.work(); err != nil {
		return err
	}
	k.page.Despite = len(k.speaks) > 0
	status := http.StatusOK
	if r.Method == http.MethodPost {
		saved, err := k.save()
		if err == nil && saved != "" {
			return s.redirect(w, r, k.page.Action, saved)
		}
		if errors.Is(err, errSentBefore) {
			status = http.StatusConflict
			k.f.values["uid"] = newUID()
			k.page.Warn = append(k.page.Warn, sentBefore)
		} else if k.page.Stale = k.f.staleRows(err, "Placing", "as below"); k.page.Stale != nil {
			status = http.StatusConflict
		} else if err := k.f.refused(err, map[string]string{"job": ""}); err != nil {
			return err
		}
	}
	k.finish()
	return s.draw(w, r, max(status, k.f.status()), views.JobPlacingPage(k.page))
}

// sentBefore is said of a form that was gone back to after it was saved.
const sentBefore = "Nothing was saved now: this form was sent before, with something else in it. Look at it and send it again."

// start settles what is asked: a form that was filled in is judged, else what
// was saved before is, else a placing is proposed.
func (k *placingWork) start(sent bool) {
	if k.f.text("uid") == "" {
		k.f.values["uid"], k.f.values["after"] = newUID(), k.last
	}
	if k.f.text("limits") == "" {
		k.f.values["limits"] = "service"
	}
	do := k.f.text("do")
	k.filled = sent || do != ""
	if k.propose = !sent && do == "propose"; sent || do != "" {
		return
	}
	if k.propose = len(k.placings) == 0; k.propose {
		return
	}
	for _, x := range k.slots {
		k.f.values[store.PlaceField(x.Position, x.Kind, x.AtGroove)] = fmt.Sprint(x.ID)
		if k.away(x.ID) {
			k.f.values[store.PlaceField(x.Position, x.Kind, x.AtGroove)] = "0"
		}
	}
	for _, p := range k.placings {
		k.f.values[store.PlaceField(p.Position, p.Kind, p.Groove)] = fmt.Sprint(p.Part)
	}
}

// work fills one kind of place after the other: what goes in depends on what
// it goes into.
func (k *placingWork) work() error {
	k.grooves = k.engine.Model.Grooves
	for _, x := range k.slots {
		k.grooves = max(k.grooves, x.AtGroove)
	}
	offers := map[wear.Kind][]jobOffer{}
	for _, kind := range wear.Kinds {
		found, left, err := k.offers(kind)
		if err != nil {
			return err
		}
		offers[kind], k.page.Missing = found, append(k.page.Missing, left...)
		for _, x := range found {
			k.parts[x.part.ID] = x
		}
	}
	if err := k.cylinders(offers[wear.Cylinder], offers[wear.Piston]); err != nil {
		return err
	}
	if err := k.layer(wear.Piston, 0, offers[wear.Piston]); err != nil {
		return err
	}
	if err := k.layer(wear.Pin, 0, offers[wear.Pin]); err != nil {
		return err
	}
	for g := 1; g <= k.grooves; g++ {
		made := slices.DeleteFunc(slices.Clone(offers[wear.Ring]), func(x jobOffer) bool { return x.part.Groove != 0 && x.part.Groove != g })
		if err := k.layer(wear.Ring, g, made); err != nil {
			return err
		}
	}
	return nil
}

// at is the dossier of the part chosen for a place; nil for none.
func (k *placingWork) at(position int, kind wear.Kind, groove int) *dossier {
	id := k.chosen[store.PlaceField(position, kind, groove)]
	if x, ok := k.parts[id]; ok && id != 0 {
		return x.dossier
	}
	return nil
}

// own is the part that sat at a place and comes back; 0 for none.
func (k *placingWork) own(position int, kind wear.Kind, groove int) int64 {
	for id, x := range k.parts {
		if x.part.Kind == kind && x.position == position && x.groove == groove && k.used[id] == "" {
			return id
		}
	}
	return 0
}

// line makes the line of a place with its choices, and reads what the form has
// for it: not ok where the part is still to be proposed.
func (k *placingWork) line(position int, kind wear.Kind, groove int, offers []jobOffer) (l *views.PlacingLine, settled bool, err error) {
	field := store.PlaceField(position, kind, groove)
	l = &views.PlacingLine{Place: string(kind), Field: field, Keep: "keep-" + field, Kept: k.f.text("keep-"+field) != "", Options: []views.Option{{Value: "0", Label: "none"}}}
	if groove > 0 {
		l.Place += ", groove " + itoa(groove)
	}
	l.Label = capital(l.Place) + " at position " + itoa(position)
	k.lines[field], k.page.Labels[field] = l, l.Label
	for _, x := range offers {
		o := views.Option{Value: fmt.Sprint(x.part.ID), Label: x.part.Serial + ", " + x.where}
		if kind == wear.Ring {
			p, err := k.pressing(x.part, position, groove)
			if err != nil {
				return nil, false, err
			}
			if p.hard() {
				o.Label += ", " + p.short()
			}
		}
		l.Options = append(l.Options, o)
	}
	if k.propose && !l.Kept {
		return l, false, nil
	}
	text := k.f.text(field)
	id, wrong := strconv.ParseInt(text, 10, 64)
	if text != "" && (wrong != nil || id != 0 && !slices.ContainsFunc(offers, func(x jobOffer) bool { return x.part.ID == id })) {
		if id = 0; k.filled {
			k.f.fault(field, "choose one from the list: what stood here is not on offer")
		} else {
			k.page.Warn = append(k.page.Warn, l.Label+": what was placed there is not on offer any more.")
		}
	}
	k.choose(field, id)
	return l, true, nil
}

func (k *placingWork) choose(field string, part int64) {
	k.chosen[field] = part
	if part != 0 {
		k.used[part] = field
	}
}

// cylinders go back to their own positions; where one does not come back,
// that from the shelf is proposed whose nearest piston lies nearest the target.
func (k *placingWork) cylinders(offers, pistons []jobOffer) error {
	var open []int
	for _, position := range k.positions {
		_, settled, err := k.line(position, wear.Cylinder, 0, offers)
		if err != nil {
			return err
		}
		if !settled {
			open = append(open, position)
		}
	}
	var empty []int
	for _, position := range open {
		id := k.own(position, wear.Cylinder, 0)
		if id == 0 {
			empty = append(empty, position)
		}
		k.choose(store.PlaceField(position, wear.Cylinder, 0), id)
	}
	for _, position := range empty {
		k.choose(store.PlaceField(position, wear.Cylinder, 0), k.nearestBarrel(offers, pistons))
	}
	for _, position := range k.positions {
		l := k.lines[store.PlaceField(position, wear.Cylinder, 0)]
		d := k.at(position, wear.Cylinder, 0)
		if d == nil {
			continue
		}
		l.Verdict = worstOf(d.part)
		if h, ok := holeOf(matchFits[wear.Piston], d, position, 0); ok {
			l.Size = inUnit(float64(matchFits[wear.Piston].mainHole(h.sizes).Value), k.set.Unit, 0)
		}
		if h := d.sizeNow(); h != 0 {
			l.Also = sizeWord(h, k.set.Unit)
		}
	}
	return nil
}

// nearestBarrel picks, of the cylinders not used yet, the one with the piston
// that lies nearest the target; 0 where none was measured.
func (k *placingWork) nearestBarrel(offers, pistons []jobOffer) int64 {
	fit, best, least := matchFits[wear.Piston], int64(0), wear.Value(0)
	for _, x := range offers {
		h, ok := holeOf(fit, x.dossier, 0, 0)
		if !ok || k.used[x.part.ID] != "" {
			continue
		}
		for _, p := range pistons {
			s := fit.suits(h, p.dossier, "", k.set.Unit)
			if s.distance == nil || len(s.against) > 0 || s.judged.Plain == wear.Beyond {
				continue
			}
			if off := max(*s.distance, -*s.distance); best == 0 || off < least {
				best, least = x.part.ID, off
			}
		}
	}
	return best
}

// finish puts the lines on the page, position by position.
func (k *placingWork) finish() {
	for _, position := range k.positions {
		at := views.PlacingPosition{Name: "Position " + itoa(position)}
		for _, kind := range wear.Kinds {
			for g := range max(k.grooves, 0) + 1 {
				if l := k.lines[store.PlaceField(position, kind, g)]; l != nil && (g > 0) == (kind == wear.Ring) {
					l.Change = k.change(position, kind, g)
					k.f.values[l.Field] = fmt.Sprint(k.chosen[l.Field])
					at.Lines = append(at.Lines, *l)
				}
			}
		}
		k.page.Positions = append(k.page.Positions, at)
	}
	k.page.Saved = "Nothing of this is saved yet."
	if len(k.placings) > 0 {
		k.page.Saved = "A placing is saved; a change of it counts once it is saved again."
	}
	if !k.job.Open() {
		k.page.Ended = "The job was " + k.job.Ended + " on " + string(k.job.EndDay) + ": nothing is placed in it any more."
	}
	k.decidedParts()
	k.page.Draft = k.f.draft()
}

// change says how a place differs from what sat there.
func (k *placingWork) change(position int, kind wear.Kind, groove int) string {
	chosen := k.chosen[store.PlaceField(position, kind, groove)]
	for _, x := range slotsAt(k.slots, position) {
		if x.Kind != kind || x.AtGroove != groove {
			continue
		}
		if x.ID == chosen {
			return "its own"
		}
		return "had " + x.Serial
	}
	if chosen == 0 {
		return ""
	}
	return "was empty"
}

func (k *placingWork) decidedParts() {
	for _, x := range k.slots {
		if !slices.Contains(k.positions, x.Position) {
			continue
		}
		p := views.DecidedPart{Name: partName(x.Kind, x.Serial), Href: href("/jobs/", k.job.ID, "/decide/", x.ID), Where: "position " + itoa(x.Position)}
		if x.AtGroove > 0 {
			p.Where += ", groove " + itoa(x.AtGroove)
		}
		if d, ok := k.decided[x.ID]; ok {
			p.Disposition = decisionText(d, k.set.Unit)
		}
		k.page.Decided = append(k.page.Decided, p)
	}
}
