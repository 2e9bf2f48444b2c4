package server

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"barrelbook/store"
)

// right is who may use a route.
type right uint16

const (
	owner     = right(store.Owner)
	mechanic  = right(store.Mechanic)
	inspector = right(store.Inspector)

	limited right = 1 << iota // an inspector of named engines: of those only, see engineIn
	anybody                   // signed out too
	open                      // as anybody, and nobody asks who it is
)

// Who may use most routes.
const (
	works = mechanic                     // records work
	keeps = owner | mechanic             // keeps engines and their state
	sets  = owner                        // limits, models, gauges, settings, people
	staff = owner | mechanic | inspector // reads across all engines
	reads = staff | limited              // reads, of an engine or of nothing in particular
)

// rights is the one table of who may do what. A route that is not in it is
// refused to everybody.
var rights = map[string]right{
	"GET /static/*":     open,
	"GET /favicon.ico":  open,
	"GET /health":       open,
	"GET /first-owner":  anybody,
	"POST /first-owner": anybody,
	"GET /sign-in":      anybody,
	"POST /sign-in":     anybody,
	"POST /sign-out":    anybody,
	"GET /me":           reads,
	"POST /me":          reads,
	"GET /people":       sets,
	"POST /people":      sets,
	"GET /people/{id}":  sets,
	"POST /people/{id}": sets,

	"GET /":                                  reads, // of one with named engines: those
	"GET /findings":                          staff,
	"GET /findings/{id}/acknowledge":         keeps,
	"POST /findings/{id}/acknowledge":        keeps,
	"GET /findings/{sort}/{id}/acknowledge":  keeps,
	"POST /findings/{sort}/{id}/acknowledge": keeps,

	"GET /engines":                                    reads,
	"POST /engines":                                   keeps,
	"GET /engines/new":                                keeps,
	"GET /engines/{id}":                               reads,
	"GET /engines/{id}/edit":                          keeps,
	"POST /engines/{id}/edit":                         keeps,
	"GET /engines/{id}/meter":                         reads,
	"POST /engines/{id}/meter":                        keeps,
	"GET /engines/{id}/meter/{meter}/correct":         keeps,
	"POST /engines/{id}/meter/{meter}/correct":        keeps,
	"GET /engines/{id}/crank":                         reads,
	"GET /engines/{id}/match":                         staff, // it looks on the shelf
	"GET /engines/{id}/positions/{position}":          reads,
	"GET /engines/{id}/positions/{position}/install":  works,
	"POST /engines/{id}/positions/{position}/install": works,

	"GET /engines/{id}/leak":          reads,
	"GET /engines/{id}/leak/new":      works,
	"POST /engines/{id}/leak/new":     works,
	"GET /leaktests/{id}":             reads,
	"GET /leaktests/{id}/correct":     works,
	"POST /leaktests/{id}/correct":    works,
	"GET /leakreadings/{id}/correct":  works,
	"POST /leakreadings/{id}/correct": works,
	"GET /models/{id}/leak":           staff,
	"POST /models/{id}/leak":          sets,

	"GET /parts":                      staff,
	"POST /parts":                     works,
	"GET /parts/new":                  works,
	"GET /parts/{id}":                 reads,
	"GET /parts/{id}/edit":            works,
	"POST /parts/{id}/edit":           works,
	"GET /parts/{id}/events":          works,
	"POST /parts/{id}/events":         works,
	"GET /parts/{id}/scrap":           works,
	"POST /parts/{id}/scrap":          works,
	"GET /parts/{id}/install":         works,
	"POST /parts/{id}/install":        works,
	"GET /parts/{id}/remove":          works,
	"POST /parts/{id}/remove":         works,
	"GET /parts/{id}/compare":         staff, // with rings from anywhere
	"GET /parts/{id}/regroove":        staff,
	"GET /installations/{id}/strike":  works,
	"POST /installations/{id}/strike": works,
	"GET /work/{id}/strike":           works,
	"POST /work/{id}/strike":          works,

	"GET /measure":                         works,
	"GET /measure/engine/{id}/{position}":  works,
	"POST /measure/engine/{id}/{position}": works,
	"GET /measure/part/{id}":               works,
	"POST /measure/part/{id}":              works,
	"GET /sheets/{id}":                     reads,
	"GET /readings/{id}/correct":           works,
	"POST /readings/{id}/correct":          works,

	"GET /limits":               staff,
	"POST /limits":              sets,
	"GET /limits/new":           sets,
	"GET /limits/{id}/history":  staff,
	"GET /features":             staff,
	"POST /features":            sets,
	"GET /features/{id}/group":  staff,
	"POST /features/{id}/group": sets,
	"GET /gauges":               staff,
	"POST /gauges":              sets,
	"GET /facings":              staff,
	"POST /facings":             sets,
	"GET /models/{id}":          sets,
	"POST /models/{id}":         sets,
	"GET /models/{id}/rods":     sets,
	"POST /models/{id}/rods":    sets,
	"GET /settings":             sets,
	"POST /settings":            sets,
	"GET /import":               sets,
	"POST /import":              sets,

	"GET /sw.js":                  open,
	"GET /waiting":                anybody, // the device fills it in
	"GET /offline.json":           reads,
	"POST /outbox":                works,
	"GET /tablets":                staff,
	"GET /audit":                  owner | inspector,
	"POST /settings/backup":       sets,
	"GET /settings/wording":       sets,
	"POST /settings/wording":      sets,
	"GET /models/{id}/turning":    sets,
	"POST /models/{id}/turning":   sets,
	"GET /models/{id}/checklist":  staff,
	"POST /models/{id}/checklist": sets,

	"GET /jobs":                               staff,
	"GET /jobs/outcomes":                      staff,
	"GET /engines/{id}/jobs/new":              works,
	"POST /engines/{id}/jobs/new":             works,
	"GET /jobs/{id}":                          reads,
	"POST /jobs/{id}/entries":                 works,
	"GET /jobs/{id}/steps":                    reads,
	"POST /jobs/{id}/steps":                   works,
	"GET /jobs/{id}/steps/{entry}/undo":       works,
	"POST /jobs/{id}/steps/{entry}/undo":      works,
	"GET /jobs/{id}/bench":                    reads,
	"GET /jobs/{id}/bench/{position}":         reads,
	"GET /jobs/{id}/bench/{position}/photos":  works,
	"POST /jobs/{id}/bench/{position}/photos": works,
	"GET /jobs/{id}/decide/{part}":            staff, // it looks on the shelf
	"POST /jobs/{id}/decide/{part}":           works,
	"GET /jobs/{id}/placing":                  staff,
	"POST /jobs/{id}/placing":                 works,
	"GET /jobs/{id}/close":                    reads,
	"POST /jobs/{id}/close":                   works,
	"GET /jobs/{id}/entry":                    reads,
	"GET /jobs/{id}/entry.{format}":           reads,
	"GET /jobs/{id}/tags":                     reads,
	"GET /parts/{id}/tag":                     reads,
	"GET /parts/{id}/photos":                  works,
	"POST /parts/{id}/photos":                 works,
	"GET /photos/{id}":                        reads,
	"GET /photos/{id}/small":                  reads,
	"GET /photos/{id}/strike":                 works,
	"POST /photos/{id}/strike":                works,

	"GET /record":                      staff,
	"GET /record/part/{id}.{format}":   reads,
	"GET /record/engine/{id}.{format}": reads,
}

// rightOf is what a person counts as in the table.
func rightOf(p store.Person) right {
	if p.Limited {
		return limited
	}
	return right(p.Roles)
}

// engineIn finds the engines that the thing of an address belongs to. Whoever
// is limited to named engines sees what belongs to one of them, and no other
// thing with a number in its address.
var engineIn = map[string]func(ctx context.Context, book *store.Book, id int64) ([]int64, error){
	"/engines/{id}":        engineItself,
	"/measure/engine/{id}": engineItself,
	"/record/engine/{id}":  engineItself,
	"/parts/{id}":          engineOfPart,
	"/measure/part/{id}":   engineOfPart,
	"/record/part/{id}":    engineOfPart,
	"/sheets/{id}": func(ctx context.Context, book *store.Book, id int64) ([]int64, error) {
		engine, err := book.SheetEngine(ctx, id)
		return []int64{engine}, err
	},
	"/jobs/{id}": func(ctx context.Context, book *store.Book, id int64) ([]int64, error) {
		j, err := book.Job(ctx, id)
		return []int64{j.Engine}, err
	},
	"/photos/{id}": engineOfPhoto,
	"/leaktests/{id}": func(ctx context.Context, book *store.Book, id int64) ([]int64, error) {
		heads, _, err := book.LeakTest(ctx, id)
		if err != nil {
			return nil, err
		}
		return []int64{heads[0].Engine}, nil
	},
}

// enginesOf are the engines that an address belongs to, by engineIn. path is
// the pattern of its route, id the number in it.
func enginesOf(ctx context.Context, book *store.Book, path string, id int64) ([]int64, error) {
	for begins, find := range engineIn {
		if path == begins || strings.HasPrefix(path, begins+"/") || strings.HasPrefix(path, begins+".") {
			return find(ctx, book, id)
		}
	}
	return nil, nil
}

// engineOfPhoto are the engines of a photograph: that of its job, and that its
// part sits on now, which takes its photographs along.
func engineOfPhoto(ctx context.Context, book *store.Book, id int64) ([]int64, error) {
	p, err := book.Photo(ctx, id)
	if err != nil {
		return nil, err
	}
	on, err := engineOfPart(ctx, book, p.Part) // of none where it shows a position only
	if err != nil || p.Job == 0 {
		return on, err
	}
	j, err := book.Job(ctx, p.Job)
	return append(on, j.Engine), err
}

func engineItself(_ context.Context, _ *store.Book, id int64) ([]int64, error) {
	return []int64{id}, nil
}

// engineOfPart is the engine that a part sits on now.
func engineOfPart(ctx context.Context, book *store.Book, id int64) ([]int64, error) {
	stays, err := book.StaysOf(ctx, id)
	var on []int64
	for _, s := range stays {
		if s.Open() && s.Void == "" {
			on = append(on, s.Engine)
		}
	}
	return on, err
}

// access is whether somebody may use an address.
type access int

const (
	refused   access = iota
	elsewhere        // others may, but it belongs to an engine that is not theirs
	allowed
)

// access looks a person's right up in the table. pattern is that of a route
// with its method, params what its address holds.
func (s *Server) access(ctx context.Context, p store.Person, pattern string, params *chi.Context) (access, error) {
	may := rights[pattern]
	switch {
	case may&(anybody|open) != 0:
		return allowed, nil
	case p.ID == 0 || may&rightOf(p) == 0:
		return refused, nil
	case !p.Limited || !strings.Contains(pattern, "{"):
		return allowed, nil
	}
	_, path, _ := strings.Cut(pattern, " ")
	n, err := strconv.ParseInt(params.URLParam("id"), 10, 64)
	if err != nil {
		return elsewhere, nil
	}
	engines, err := enginesOf(ctx, s.book, path, n)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return refused, err
	}
	if slices.ContainsFunc(engines, func(e int64) bool { return slices.Contains(p.Engines, e) }) {
		return allowed, nil
	}
	return elsewhere, nil
}
