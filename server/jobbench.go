package server

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// bench is what a job's bench pages are made from.
type bench struct {
	job       store.Job
	engine    store.Engine
	positions []int
	parts     []store.Slot // that sat there when the job was opened
	features  []wear.Feature
	models    map[int64]store.Model
	limits    map[int64]store.Limits
	taken     map[int64][]store.Reading // by part, those that stand
	decided   map[int64]store.Decision
	entries   []store.JobEntry
	steps     []store.JobStep
	photos    []store.Photo
	mind      map[int]minded // by position, where the page shows it
	placed    map[int]bool   // positions whose places were filled for the refit
}

func (s *Server) benchOf(r *http.Request) (*bench, error) {
	ctx := r.Context()
	b := &bench{models: map[int64]store.Model{}, limits: map[int64]store.Limits{}, placed: map[int]bool{}}
	var err error
	if b.job, err = s.jobOf(r); err != nil {
		return nil, err
	}
	for _, read := range []func() error{
		func() (err error) { b.engine, err = s.book.Engine(ctx, b.job.Engine); return err },
		func() (err error) { b.positions, err = s.book.JobPositions(ctx, b.job.ID); return err },
		func() (err error) { b.parts, err = s.book.BenchParts(ctx, b.job); return err },
		func() (err error) { b.features, err = s.book.Features(ctx); return err },
		func() (err error) { b.entries, err = s.book.JobEntries(ctx, b.job.ID); return err },
		func() (err error) { b.steps, err = s.book.JobSteps(ctx, b.job.ID); return err },
		func() (err error) { b.photos, err = s.book.PhotosOfJob(ctx, b.job.ID, 0); return err },
		func() error {
			ps, err := s.book.Placings(ctx, b.job.ID)
			for _, p := range ps {
				b.placed[p.Position] = true
			}
			return err
		},
		func() error { return s.readBench(r, b) },
	} {
		if err := read(); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// readBench reads what belongs to the parts: their readings, models and
// limits, and what was decided.
func (s *Server) readBench(r *http.Request, b *bench) (err error) {
	ctx := r.Context()
	var ids []int64
	for _, x := range b.parts {
		ids = append(ids, x.ID)
		if b.models[x.ModelID].ID != 0 || x.ModelID == 0 {
			continue
		}
		if b.models[x.ModelID], err = s.book.Model(ctx, x.ModelID); err != nil {
			return err
		}
		if b.limits[x.ModelID], err = s.book.LimitsOf(ctx, x.ModelID, ""); err != nil {
			return err
		}
	}
	if b.taken, err = s.book.BenchReadings(ctx, b.job, ids); err != nil {
		return err
	}
	b.decided, err = s.book.InForce(ctx, b.job.ID)
	return err
}

// mindBench finds what fits and, while the job is under way, leak tests give to
// mind.
func (s *Server) mindBench(r *http.Request, b *bench) (err error) {
	if b.job.Open() {
		b.mind, err = s.mindedOn(r.Context(), b.engine, b.parts)
		return err
	}
	stacks, err := s.fitStacks(r.Context(), b.engine, b.parts)
	b.mind = map[int]minded{}
	for n, st := range stacks {
		b.mind[n] = st.minded(minded{})
	}
	return err
}

// at are the parts of a position.
func (b *bench) at(position int) []store.Slot { return slotsAt(b.parts, position) }

func (b *bench) needs(x store.Slot) []benchNeed {
	p := x.Part
	if p.Groove == 0 {
		p.Groove = x.AtGroove
	}
	return benchNeeds(p, b.models[p.ModelID], b.features, b.limits[p.ModelID], b.taken[p.ID])
}

func (b *bench) needsAt(position int) []benchNeed {
	var all []benchNeed
	for _, x := range b.at(position) {
		all = append(all, b.needs(x)...)
	}
	return all
}

// undecided is the first part of a position without a disposition.
func (b *bench) undecided(position int) (store.Slot, bool) {
	for _, x := range b.at(position) {
		if _, ok := b.decided[x.ID]; !ok {
			return x, true
		}
	}
	return store.Slot{}, false
}

// state says where a position's cylinder is.
func (b *bench) state(position int) string {
	state := "still on"
	for _, e := range b.entries {
		if e.Struck || e.Position != position {
			continue
		}
		switch e.Kind {
		case store.JobPulled:
			state = "off"
		case store.JobRefitted:
			state = "back on"
		}
	}
	return state
}

// stepsAt counts the steps of a position that are done, of all it has.
func (b *bench) stepsAt(position int) (done, all int) {
	is := store.StepsDone(b.entries)
	for _, st := range b.steps {
		if !st.Each {
			continue
		}
		all++
		if _, ok := is[store.StepAt{Step: st.ID, Position: position}]; ok {
			done++
		}
	}
	return done, all
}

func (b *bench) href(position int) string {
	return href("/jobs/", b.job.ID, "/bench/", position)
}

// from adds to an address that a form there leads back to a position's bench.
func (b *bench) from(position int, to string) string {
	return to + "?back=" + url.QueryEscape(b.href(position))
}

func (b *bench) row(position int) views.BenchRow {
	row := views.BenchRow{Position: itoa(position), Href: b.href(position), State: b.state(position), Master: slices.Contains(b.engine.Masters(), position)}
	held := b.at(position)
	decided := 0
	for _, x := range held {
		if x.Kind == wear.Cylinder {
			row.Name = x.Serial
		}
		if _, ok := b.decided[x.ID]; ok {
			decided++
		}
	}
	taken, want := measuredOf(b.needsAt(position))
	row.Measured, row.Decided = fmt.Sprintf("%d of %d", taken, want), fmt.Sprintf("%d of %d", decided, len(held))
	if done, all := b.stepsAt(position); all > 0 {
		row.Steps = fmt.Sprintf("%d of %d", done, all)
	}
	shots := 0
	for _, p := range b.photos {
		if p.Position == position && p.Void == "" {
			shots++
		}
	}
	row.Photos = itoa(shots)
	row.Worst, _ = worstWith(held, b.mind[position])
	return row
}

// jobBench lists the positions of a job: what is off, measured, decided.
func (s *Server) jobBench(w http.ResponseWriter, r *http.Request) error {
	b, err := s.benchOf(r)
	if err != nil {
		return err
	}
	if err := s.mindBench(r, b); err != nil {
		return err
	}
	work, err := s.book.Work(r.Context(), b.job.Engine)
	if err != nil {
		return err
	}
	p := views.JobBench{Page: s.page(r, "Bench, "+b.job.Why, views.NavJobs), Head: jobHead(b.job, "/bench")}
	p.Next, _ = b.nextStep(orderOf(b.job, work, b.entries))
	for _, n := range b.positions {
		p.Rows = append(p.Rows, b.row(n))
	}
	return s.draw(w, r, http.StatusOK, views.JobBenchPage(p))
}

// benchAt finds the bench and the position that the address names.
func (s *Server) benchAt(r *http.Request) (*bench, int, error) {
	b, err := s.benchOf(r)
	if err != nil {
		return nil, 0, err
	}
	n, err := position(r)
	if err != nil || !slices.Contains(b.positions, n) {
		return nil, 0, errBadAddress
	}
	return b, n, nil
}

// jobBenchPosition shows the stack of a position on the bench.
func (s *Server) jobBenchPosition(w http.ResponseWriter, r *http.Request) error {
	b, n, err := s.benchAt(r)
	if err != nil {
		return err
	}
	st, err := s.stackAt(r, b.at(n))
	if err != nil {
		return err
	}
	if err := s.mindBench(r, b); err != nil {
		return err
	}
	work, err := s.book.Work(r.Context(), b.job.Engine)
	if err != nil {
		return err
	}
	row := b.row(n)
	p := views.BenchPosition{Page: s.page(r, fmt.Sprintf("Position %d on the bench", n), views.NavJobs), Head: jobHead(b.job, "/bench"), Position: itoa(n), Row: row, Next: b.after(n, orderOf(b.job, work, b.entries)), Master: row.Master, Fits: st.fits(),
		Facts:    []views.Fact{{Label: "Measured", Value: row.Measured}, {Label: "Decided", Value: row.Decided}, {Label: "Steps done", Value: row.Steps}},
		StepsWay: views.Link{Text: "Checklist of position " + itoa(n), Href: href("/jobs/", b.job.ID, "/steps?at=", n)}}
	for _, o := range b.positions {
		p.Ways = append(p.Ways, views.JobWay{Text: "Position " + itoa(o), Href: b.href(o), Here: o == n})
	}
	pressed, err := s.pressingOn(r, b.engine, b.at(n))
	if err != nil {
		return err
	}
	for _, x := range b.at(n) {
		slot := b.slot(n, x, st[slotKey{x.Kind, x.AtGroove}])
		slot.Pressing = pressed[x.ID].view(false)
		p.Slots = append(p.Slots, slot)
	}
	if p.Placed, err = s.placedAt(r, b, n); err != nil {
		return err
	}
	if p.Photos, err = s.photosOf(r, store.Photo{Job: b.job.ID, Position: n}); err != nil {
		return err
	}
	if b.job.Open() {
		p.Photos.Form = &views.PhotoForm{Action: b.href(n) + "/photos", Parts: b.photoParts(n), Most: mostPhotoText, Draft: views.Draft{Values: map[string]string{"uid": newUID()}}}
	}
	return s.draw(w, r, http.StatusOK, views.BenchPositionPage(p))
}

// photoParts are the parts that a photograph can be of.
func (b *bench) photoParts(position int) []views.Option {
	var os []views.Option
	for _, x := range b.at(position) {
		o := views.Option{Value: strconv.FormatInt(x.ID, 10), Label: string(x.Kind) + " " + x.Serial}
		if x.AtGroove > 0 {
			o.Label += ", groove " + itoa(x.AtGroove)
		}
		os = append(os, o)
	}
	return os
}

// jobPhotos shows the photographs of a position in a job and adds some.
func (s *Server) jobPhotos(w http.ResponseWriter, r *http.Request) error {
	b, n, err := s.benchAt(r)
	if err != nil {
		return err
	}
	head := jobHead(b.job, "/bench")
	page := views.PhotosPage{Page: s.page(r, fmt.Sprintf("Photographs of position %d", n), views.NavJobs), Head: &head, Title: fmt.Sprintf("Photographs of position %d", n), Back: views.Link{Text: "Back to the bench", Href: b.href(n)}}
	return s.photoPage(w, r, page, store.Photo{Job: b.job.ID, Position: n}, b.photoParts(n), b.href(n)+"/photos", b.href(n)+"#photos")
}

// placedAt are the parts that are placed at a position and did not sit there.
func (s *Server) placedAt(r *http.Request, b *bench, position int) ([]views.Link, error) {
	places, err := s.book.Placings(r.Context(), b.job.ID)
	if err != nil {
		return nil, err
	}
	var links []views.Link
	for _, pl := range places {
		here := slices.ContainsFunc(b.at(position), func(x store.Slot) bool { return x.ID == pl.Part })
		if pl.Position != position || pl.Part == 0 || here {
			continue
		}
		p, err := s.book.Part(r.Context(), pl.Part)
		if err != nil {
			return nil, err
		}
		links = append(links, views.Link{Text: "Measure " + string(p.Kind) + " " + p.Serial, Href: b.from(position, href("/measure/part/", p.ID))})
	}
	return links, nil
}
