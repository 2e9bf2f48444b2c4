package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"

	"barrelbook/wear"
)

// staleShare is the part of a large group that may change before the whole
// group is judged anew: one in twenty. A small one is judged at every change,
// so that what a list says of its parts is what their pages say.
const staleShare = 20

// Refresh judges anew the groups in which enough runs have changed. It reads
// and computes outside a transaction and writes in short ones, so that people
// can go on saving. It returns how many groups it judged, and what kept it from
// judging others, which stay as they were.
func (b *Book) Refresh(ctx context.Context) (int, error) { return b.refreshStale(ctx, 1) }

// staleGroup is a group to be judged anew: how many of its runs had changed,
// and how many it has.
type staleGroup struct {
	id          int64
	stale, runs int
}

// refreshStale is Refresh by so many workers at once. The groups are taken in
// batches: the runs of a part belong to several groups and lie side by side in
// the file, so that what is written together is written once.
func (b *Book) refreshStale(ctx context.Context, workers int) (int, error) {
	groups, err := list(ctx, b.read, func(r scanner, g *staleGroup) error { return r.Scan(&g.id, &g.stale, &g.runs) },
		"SELECT id, stale, (SELECT count(*) FROM series s WHERE s.peers_id = p.id) FROM peers p WHERE stale > 0 AND (stale * ? > members OR members <= ?) ORDER BY id", staleShare, smallGroup)
	if err != nil {
		return 0, fmt.Errorf("list stale groups: %w", err)
	}
	var saving behind
	var bad error
	judged := 0
	for rest := groups; len(rest) > 0; {
		batch := rest[:batchOf(rest)]
		rest = rest[len(batch):]
		fits, runs, err := b.judgeBatch(ctx, batch, workers)
		bad = errors.Join(bad, err)
		if ctx.Err() != nil {
			return 0, errors.Join(bad, saving.wait())
		}
		if err := saving.run(func() error { return b.saveBatch(ctx, fits, runs) }); err != nil {
			return 0, err
		}
		judged += len(fits)
	}
	return judged, errors.Join(bad, saving.wait())
}

// batchRuns is about how many runs a batch has.
const batchRuns = 16_000

func batchOf(groups []staleGroup) int {
	runs := 0
	for i, g := range groups {
		if runs += g.runs; runs >= batchRuns {
			return i + 1
		}
	}
	return len(groups)
}

// fitted is a group's new fit, and judgedRun a new judgement, before they are
// saved.
type fitted struct {
	staleGroup
	fit     groupFit
	engines []wear.EngineJudgement
}

type judgedRun struct {
	member
	share     wear.Share
	judgement wear.Judgement
}

// judgeBatch judges groups, by so many workers. With an error come those that
// could be judged.
func (b *Book) judgeBatch(ctx context.Context, groups []staleGroup, workers int) ([]fitted, []judgedRun, error) {
	var fits []fitted
	var runs []judgedRun
	var errs []error
	var mine sync.Mutex
	var all sync.WaitGroup
	queue := make(chan staleGroup, len(groups))
	for _, g := range groups {
		queue <- g
	}
	close(queue)
	for range workers {
		all.Go(func() {
			for g := range queue {
				fit, judged, err := b.judgeGroup(ctx, g)
				mine.Lock()
				if err != nil {
					errs = append(errs, fmt.Errorf("judge peers %d anew: %w", g.id, err))
				} else {
					fits, runs = append(fits, fit), append(runs, judged...)
				}
				mine.Unlock()
			}
		})
	}
	all.Wait()
	return fits, runs, errors.Join(errs...)
}

func (b *Book) judgeGroup(ctx context.Context, g staleGroup) (fitted, []judgedRun, error) {
	settings, err := findSettings(ctx, b.read)
	if err != nil {
		return fitted{}, nil, err
	}
	ms, err := findMembers(ctx, b.read, settings.NextIn, "s.peers_id = ? ORDER BY s.id", g.id)
	if err != nil {
		return fitted{}, nil, err
	}
	group, shares, judgements, err := judgeMembers(ms, settings)
	if err != nil {
		return fitted{}, nil, err
	}
	engines, judged, err := judgeEngines(group, shares, ms, settings)
	if err != nil {
		return fitted{}, nil, err
	}
	g.runs = len(ms)
	runs := make([]judgedRun, len(ms))
	for i, m := range ms {
		m.run, m.share = wear.Run{}, nil
		runs[i] = judgedRun{m, shares[i], judgements[i]}
	}
	return fitted{g, groupFit{group, engines}, judged}, runs, nil
}

// refreshChunk is how many judgements one short transaction writes.
const refreshChunk = 1000

// saveBatch writes judgements in the order in which the runs lie in the file,
// and then the fits they come from.
func (b *Book) saveBatch(ctx context.Context, fits []fitted, runs []judgedRun) error {
	slices.SortFunc(runs, func(x, y judgedRun) int { return cmp.Compare(x.id, y.id) })
	for chunk := range slices.Chunk(runs, refreshChunk) {
		err := b.tx(ctx, func(ctx context.Context, t *tx) error {
			for _, r := range chunk {
				if err := saveJudgement(ctx, t, r.member, &r.share, r.judgement); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		for _, f := range fits {
			if err := saveFit(ctx, t, f.id, f.fit, f.runs, f.stale); err != nil {
				return err
			}
			if _, err := t.ExecContext(ctx, "DELETE FROM engine_wear WHERE peers_id = ?", f.id); err != nil {
				return fmt.Errorf("drop engines' judgements: %w", err)
			}
			if err := saveEngines(ctx, t, f.id, f.engines); err != nil {
				return err
			}
		}
		return nil
	})
}
