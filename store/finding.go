package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"barrelbook/wear"
)

// Finding is the state of one feature of a part at the station that looks
// worst, in the run in hand.
type Finding struct {
	Series   int64
	Part     int64
	Kind     wear.Kind
	Serial   string
	Engine   int64
	EngineNo string
	Aircraft string
	Position int
	AtGroove int // groove a ring sits in
	Model    string

	Feature wear.Feature
	Groove  int
	Station string
	Run     int

	State      wear.State
	Hours      float64
	Wear       float64 // base units
	Expected   float64
	Ratio      float64
	RatioLow   float64
	RatioHigh  float64
	Equivalent float64
	Chance     float64
	Test       string // which test Ratio and Chance come from
	Refs       int
	Verdict    wear.Verdict
	Plain      wear.Verdict
	Room       float64   // to the nearest bound, below 0 when past it, base units
	Edge       wear.Edge // that bound
	LastDay    wear.Day
	LastValue  *wear.Value
	Carried    bool // LastValue, to 20 °C
	CanSay     bool
	LeftLow    *float64
	LeftMedian *float64
	LeftHigh   *float64
	Sentence   string

	Seen Acknowledgement // the latest for this run; zero where there is none
}

// Acknowledgement is a person's word that a finding was seen, and why it can
// wait.
type Acknowledgement struct {
	Amount  float64
	Hours   float64
	Who     string
	Reason  string
	SavedAt string
}

// Flagged reports whether the part wears faster than normal.
func (f Finding) Flagged() bool { return f.State == wear.Flagged }

// Groove or groove a ring sits in: what a person would call the groove.
func (f Finding) AnyGroove() int { return max(f.Groove, f.AtGroove) }

// Judged is what the latest reading was judged, as far as it is kept.
func (f Finding) Judged() wear.Assessment {
	a := wear.Assessment{Verdict: f.Verdict, Plain: f.Plain, Room: f.Room, Edge: f.Edge, Bounded: f.Verdict >= wear.Undecided}
	a.Interference = a.Tight() && f.LastValue != nil && *f.LastValue < 0 && float64(*f.LastValue) >= f.Room
	return a
}

// Open reports whether the finding still asks for somebody: it was not
// acknowledged, or a later reading is worse than what was acknowledged.
func (f Finding) Open() bool {
	if f.Seen.Reason == "" {
		return true
	}
	worse := f.amount() > f.Seen.Amount
	if !f.Flagged() && f.Judged().Tight() {
		worse = f.amount() < f.Seen.Amount
	}
	return f.Hours > f.Seen.Hours && worse
}

// amount is what "worse" compares: the ratio of a part that wears fast, else
// the signed dimension.
func (f Finding) amount() float64 {
	if f.Flagged() {
		return f.Ratio
	}
	if f.LastValue == nil {
		return 0
	}
	return f.Feature.Wear.Sign() * float64(*f.LastValue)
}

const findingColumns = `s.id, s.part_id, p.kind, p.serial, coalesce(t.engine_id, 0), coalesce(e.serial, ''), coalesce(e.aircraft, ''), coalesce(t.position, 0),
	CASE p.kind WHEN 'ring' THEN coalesce(nullif(t.groove, 0), p.groove) ELSE 0 END, coalesce(m.name, ''),
	s.feature_id, s.groove, s.station, s.run, s.state, s.hours, s.wear, s.expected, s.ratio, s.ratio_low, s.ratio_high, s.equivalent, s.chance, s.test, s.refs,
	s.verdict, s.plain, s.room, s.edge, s.last_day, s.last_value, s.carried, s.can_say, s.left_low, s.left_median, s.left_high, s.sentence,
	coalesce(a.amount, 0), coalesce(a.hours, 0), coalesce(a.who, ''), coalesce(a.reason, ''), coalesce(a.saved_at, '')`

// The tables of findings, each with a place for the index of series to go by:
// those that tell whether a finding is open, with where the part sits, and with
// all else.
const (
	briefTables     = ` FROM series s %s`
	briefSeatTables = briefTables + seat
	seat            = ` LEFT JOIN stay t ON t.part_id = s.part_id AND t.to_day IS NULL AND t.void = ''`
	findingTables   = briefTables + `
	LEFT JOIN acknowledgement a ON a.id = (SELECT max(x.id) FROM acknowledgement x WHERE x.part_id = s.part_id AND x.feature_id = s.feature_id AND x.groove = s.groove AND x.run = s.run
		AND x.what = CASE WHEN s.state = 5 THEN 'wear' ELSE 'limit' END)` + seat + ` JOIN part p ON p.id = s.part_id LEFT JOIN engine e ON e.id = t.engine_id LEFT JOIN model m ON m.id = coalesce(p.model_id, e.model_id)`
)

func findFindings(ctx context.Context, q querier, index, where string, args ...any) ([]Finding, error) {
	x, err := findFeatureIndex(ctx, q)
	if err != nil {
		return nil, err
	}
	fs, err := list(ctx, q, func(r scanner, f *Finding) error {
		var feature int64
		if err := r.Scan(&f.Series, &f.Part, &f.Kind, &f.Serial, &f.Engine, &f.EngineNo, &f.Aircraft, &f.Position, &f.AtGroove, &f.Model,
			&feature, &f.Groove, &f.Station, &f.Run, &f.State, &f.Hours, &f.Wear, &f.Expected, &f.Ratio, &f.RatioLow, &f.RatioHigh, &f.Equivalent, &f.Chance, &f.Test, &f.Refs,
			&f.Verdict, &f.Plain, &f.Room, &f.Edge, &f.LastDay, &f.LastValue, &f.Carried, &f.CanSay, &f.LeftLow, &f.LeftMedian, &f.LeftHigh, &f.Sentence,
			&f.Seen.Amount, &f.Seen.Hours, &f.Seen.Who, &f.Seen.Reason, &f.Seen.SavedAt); err != nil {
			return err
		}
		f.Feature = *x.byID[feature]
		return nil
	}, "SELECT "+findingColumns+fmt.Sprintf(findingTables, index)+" WHERE "+where, args...)
	if err != nil {
		return nil, fmt.Errorf("list findings: %w", err)
	}
	return fs, nil
}

// worstFirst keeps, of the stations of one feature of a part, the first; the
// list is ordered worst first.
func worstFirst(fs []Finding) []Finding {
	type key struct {
		part, feature int64
		groove        int
	}
	seen := map[key]bool{}
	out := fs[:0]
	for _, f := range fs {
		k := key{f.Part, f.Feature.ID, f.Groove}
		if !seen[k] {
			seen[k] = true
			out = append(out, f)
		}
	}
	return out
}

const (
	inUse        = "s.part_id NOT IN (SELECT id FROM part WHERE status = 'scrapped')"
	byFlagged    = "INDEXED BY series_flagged"
	whereFlagged = "s.current = 1 AND s.state = 5 AND " + inUse + " ORDER BY s.chance, s.ratio DESC, s.id"
	byBeyond     = "INDEXED BY series_beyond"
	whereBeyond  = "s.current = 1 AND s.verdict = 4 AND s.state <> 5 AND " + inUse + " ORDER BY t.id IS NULL, s.last_day DESC, s.id"
)

// FastWear lists the parts flagged for wearing faster than normal, the least
// likely by chance first; one entry a part and feature.
func (b *Book) FastWear(ctx context.Context) ([]Finding, error) {
	fs, err := findFindings(ctx, b.read, byFlagged, whereFlagged)
	return worstFirst(fs), err
}

// BeyondLimit lists the parts that measured beyond a limit and are not flagged
// already, those on engines first; one entry a part and feature.
func (b *Book) BeyondLimit(ctx context.Context) ([]Finding, error) {
	fs, err := findFindings(ctx, b.read, byBeyond, whereBeyond)
	return worstFirst(fs), err
}

// TooYoung lists parts on engines of which a reading cannot tell yet how fast
// they wear, of those measured last, the youngest first, no more than so many;
// one entry a part and feature.
func (b *Book) TooYoung(ctx context.Context, most int) ([]Finding, error) {
	// every station of a part may come, of which one is kept
	fs, err := findFindings(ctx, b.read, "INDEXED BY series_young", "s.current = 1 AND s.state = 2 AND t.id IS NOT NULL ORDER BY s.last_day DESC, s.part_id DESC, s.feature_id, s.groove LIMIT ?", most*12)
	fs = worstFirst(fs)
	slices.SortStableFunc(fs, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(b.LastDay, a.LastDay), cmp.Compare(a.Hours, b.Hours), cmp.Compare(a.Part, b.Part))
	})
	return fs[:min(most, len(fs))], err
}

// FindingsOf lists every series in hand of a part, the worst station of each
// feature first.
func (b *Book) FindingsOf(ctx context.Context, part int64) ([]Finding, error) {
	return findFindings(ctx, b.read, "", "s.part_id = ? AND s.current = 1 ORDER BY s.feature_id, s.groove, s.chance, s.id", part)
}

// FindingsOn lists every series in hand of the parts that sit on an engine.
func (b *Book) FindingsOn(ctx context.Context, engine int64) ([]Finding, error) {
	fs, err := findFindings(ctx, b.read, "", `s.part_id IN (SELECT part_id FROM stay WHERE engine_id = ? AND to_day IS NULL AND void = '') AND s.current = 1
		ORDER BY t.position, s.feature_id, s.groove, s.chance, s.id`, engine)
	return worstFirst(fs), err
}

// AllFindings calls yield with one entry a part and feature of the whole
// book, flagged or not, the least likely by chance first; only the flagged
// ones unless all. Parts that were scrapped are left out.
func (b *Book) AllFindings(ctx context.Context, all bool) ([]Finding, error) {
	if !all {
		return b.FastWear(ctx)
	}
	fs, err := findFindings(ctx, b.read, "", "s.current = 1 AND p.status <> 'scrapped' ORDER BY s.chance, s.ratio DESC, s.id")
	return worstFirst(fs), err
}

// Finding finds one series in hand.
func (b *Book) Finding(ctx context.Context, series int64) (Finding, error) {
	return findFinding(ctx, b.read, series)
}

func findFinding(ctx context.Context, q querier, series int64) (Finding, error) {
	fs, err := findFindings(ctx, q, "", "s.id = ?", series)
	if err == nil && len(fs) == 0 {
		err = fmt.Errorf("find finding: %w", ErrNotFound)
	}
	if err != nil {
		return Finding{}, err
	}
	return fs[0], nil
}

// TopFastWear is FastWear with only the first so many open ones, and as many
// acknowledged ones, in full: the others do no more than tell whether they are
// open.
func (b *Book) TopFastWear(ctx context.Context, most int) ([]Finding, error) {
	return b.findTop(ctx, most, "0"+fmt.Sprintf(briefTables, byFlagged), whereFlagged)
}

// TopBeyondLimit is BeyondLimit, cut like TopFastWear.
func (b *Book) TopBeyondLimit(ctx context.Context, most int) ([]Finding, error) {
	return b.findTop(ctx, most, sitting+fmt.Sprintf(briefSeatTables, byBeyond), whereBeyond)
}

func (b *Book) findTop(ctx context.Context, most int, from, where string) ([]Finding, error) {
	fs, err := b.findBrief(ctx, from, where)
	if err != nil {
		return nil, err
	}
	var ids []int64
	at := map[int64]int{}
	chosen := map[bool]int{}
	for i, f := range fs {
		if open := f.Open(); chosen[open] < most {
			chosen[open]++
			ids, at[f.Series] = append(ids, f.Series), i
		}
	}
	full, err := findFindings(ctx, b.read, "", "s.id IN (SELECT value FROM json_each(?))", jsonList(ids))
	if err != nil {
		return nil, err
	}
	for _, f := range full {
		fs[at[f.Series]] = f
	}
	return fs, nil
}

// sitting is the engine that a finding's part sits on.
const sitting = "coalesce(t.engine_id, 0)"

// findBrief lists findings with no more than tells whether they are open and
// how they stand among each other, one a part and feature; from is the
// engine's column and the tables.
func (b *Book) findBrief(ctx context.Context, from, where string) ([]Finding, error) {
	x, err := findFeatureIndex(ctx, b.read)
	if err != nil {
		return nil, err
	}
	seen, err := findSeen(ctx, b.read)
	if err != nil {
		return nil, err
	}
	fs, err := list(ctx, b.read, func(r scanner, f *Finding) error {
		var feature int64
		if err := r.Scan(&f.Series, &f.Part, &feature, &f.Groove, &f.Run, &f.State, &f.Hours, &f.Ratio, &f.Chance, &f.LastValue, &f.Edge, &f.Engine); err != nil {
			return err
		}
		f.Feature = *x.byID[feature]
		what := "limit"
		if f.Flagged() {
			what = "wear"
		}
		f.Seen = seen[seenKey{f.Part, feature, f.Groove, f.Run, what}]
		return nil
	}, "SELECT s.id, s.part_id, s.feature_id, s.groove, s.run, s.state, s.hours, s.ratio, s.chance, s.last_value, s.edge, "+from+" WHERE "+where)
	if err != nil {
		return nil, fmt.Errorf("list findings: %w", err)
	}
	return worstFirst(fs), nil
}

// seenKey is what an acknowledgement is of.
type seenKey struct {
	part, feature int64
	groove, run   int
	what          string
}

// findSeen reads the latest acknowledgement of each thing; there are few, and
// one look at all is quicker than one for each of many findings.
func findSeen(ctx context.Context, q querier) (map[seenKey]Acknowledgement, error) {
	seen := map[seenKey]Acknowledgement{}
	_, err := list(ctx, q, func(r scanner, _ *struct{}) error {
		var k seenKey
		var a Acknowledgement
		if err := r.Scan(&k.part, &k.feature, &k.groove, &k.run, &k.what, &a.Amount, &a.Hours, &a.Reason); err != nil {
			return err
		}
		seen[k] = a
		return nil
	}, "SELECT part_id, feature_id, groove, run, what, amount, hours, reason FROM acknowledgement ORDER BY id")
	if err != nil {
		return nil, fmt.Errorf("list acknowledgements: %w", err)
	}
	return seen, nil
}

// OpenFindings counts the findings that still ask for somebody, in the whole
// book and for each engine.
func (b *Book) OpenFindings(ctx context.Context) (total int, byEngine map[int64]int, err error) {
	byEngine = map[int64]int{}
	for _, of := range [][2]string{{byFlagged, whereFlagged}, {byBeyond, whereBeyond}} {
		fs, err := b.findBrief(ctx, sitting+fmt.Sprintf(briefSeatTables, of[0]), of[1])
		if err != nil {
			return 0, nil, err
		}
		for _, f := range fs {
			if f.Open() {
				total++
				byEngine[f.Engine]++
			}
		}
	}
	return total, byEngine, nil
}

// errNoReason refuses an acknowledgement without a reason.
var errNoReason = invalid("reason", "say why this can wait, or what was done")

// Acknowledge notes that a person has seen a finding, and why it can wait.
func (b *Book) Acknowledge(ctx context.Context, series int64, who, reason string) error {
	if reason = strings.TrimSpace(reason); reason == "" {
		return errNoReason
	}
	return b.tx(ctx, func(ctx context.Context, t *tx) error {
		f, err := findFinding(ctx, t, series)
		if err != nil {
			return err
		}
		what := "limit"
		if f.Flagged() {
			what = "wear"
		} else if f.Verdict != wear.Beyond {
			return invalid("reason", "there is no finding on this part any more")
		}
		_, err = t.insert(ctx, "INSERT INTO acknowledgement (part_id, feature_id, groove, run, what, amount, hours, who, reason, saved_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			f.Part, f.Feature.ID, f.Groove, f.Run, what, f.amount(), f.Hours, strings.TrimSpace(who), reason, t.at)
		if err != nil {
			return fmt.Errorf("acknowledge finding: %w", err)
		}
		return nil
	})
}

// OpenOn lists the findings that still ask for somebody on each of the given
// engines, fast wear before limits, worst first.
func (b *Book) OpenOn(ctx context.Context, engines []int64) (map[int64][]Finding, error) {
	out := make(map[int64][]Finding, len(engines))
	fs, err := findFindings(ctx, b.read, "", `s.part_id IN (SELECT t.part_id FROM stay t JOIN part p ON p.id = t.part_id
		WHERE t.engine_id IN (SELECT value FROM json_each(?)) AND t.to_day IS NULL AND t.void = '' AND (p.state = 1 OR p.verdict = 4)) AND s.current = 1 AND (s.state = 5 OR s.verdict = 4)
		ORDER BY s.state <> 5, s.chance, s.ratio DESC, s.id`, jsonList(engines))
	if err != nil {
		return nil, err
	}
	for _, f := range worstFirst(fs) {
		if f.Open() {
			out[f.Engine] = append(out[f.Engine], f)
		}
	}
	return out, nil
}

// Judged is how many runs the book has judged against others: the number of
// tests that a list of findings was drawn from.
func (b *Book) Judged(ctx context.Context) (n int, err error) {
	if err := b.read.QueryRowContext(ctx, "SELECT coalesce(sum(members), 0) FROM peers").Scan(&n); err != nil {
		return 0, fmt.Errorf("count judged runs: %w", err)
	}
	return n, nil
}
