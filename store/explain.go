package store

import (
	"context"
	"fmt"

	"barrelbook/wear"
)

// Series is one run of one feature at one station of a part, as judgements
// see it: points signed so that wear grows, in base units.
type Series struct {
	ID        int64
	Part      int64
	Feature   int64
	Groove    int
	Station   string
	Run       int
	Current   bool
	Peers     int64
	Start     wear.Mark
	Oversize  wear.Value
	Points    []wear.Point
	Allowance float64 // maker's, base units an hour; 0 for none
	Bound     *float64
	Life      wear.Hours
	LastDay   wear.Day
	Carried   bool // the latest sizes, to 20 °C
	Verdict   wear.Verdict
	State     wear.State
	Ratio     float64
	Chance    float64
	Sentence  string
}

const seriesQuery = `SELECT s.id, s.part_id, s.feature_id, s.groove, s.station, s.run, s.current, s.peers_id, s.start_event, s.start_day, s.start_hours, s.oversize, s.points, s.assumed,
	s.allowance, s.bound, s.life, s.last_day, s.carried, s.verdict, s.state, s.ratio, s.chance, s.sentence FROM series s`

func scanSeries(r scanner, d *Series) error {
	var points []byte
	var assumed bool
	if err := r.Scan(&d.ID, &d.Part, &d.Feature, &d.Groove, &d.Station, &d.Run, &d.Current, &d.Peers, &d.Start.Event, &d.Start.Day, &d.Start.At, &d.Oversize, &points, &assumed,
		&d.Allowance, &d.Bound, &d.Life, &d.LastDay, &d.Carried, &d.Verdict, &d.State, &d.Ratio, &d.Chance, &d.Sentence); err != nil {
		return err
	}
	var err error
	d.Points, err = decodePoints(points, assumed)
	return err
}

// SeriesOf lists all runs of all features of a part, the run in hand first.
func (b *Book) SeriesOf(ctx context.Context, part int64) ([]Series, error) {
	ss, err := list(ctx, b.read, scanSeries, seriesQuery+" WHERE s.part_id = ? ORDER BY s.feature_id, s.groove, s.station, s.run DESC", part)
	if err != nil {
		return nil, fmt.Errorf("list series: %w", err)
	}
	return ss, nil
}

// Peer is a run that another was compared with.
type Peer struct {
	Part    int64
	Kind    wear.Kind
	Serial  string
	Run     int
	LastDay wear.Day
	Hours   float64 // in the run at its last reading
	State   wear.State
	Points  int
	Share   *wear.Share // what it put into the fit; nil where it came after it
}

// Explanation is a judgement with all that it was made of.
type Explanation struct {
	Series
	Judgement wear.Judgement
	Group     wear.Group // the others, this run left out
	Peers     []Peer     // the others; at most mostPeers are listed
	MorePeers int
	Wider     Wider // in what the others may differ
	Settings  wear.Settings
	Learned   wear.Learned  // how the spread of normal parts came about
	Foretold  wear.Foretold // what the forecast was made of
}

// mostPeers is how many compared runs an explanation lists.
const mostPeers = 200

// Explain judges one series again and returns every number used.
func (b *Book) Explain(ctx context.Context, series int64) (Explanation, error) {
	var x Explanation
	var err error
	if x.Series, err = one(ctx, b.read, scanSeries, seriesQuery+" WHERE s.id = ?", series); err != nil {
		return x, fmt.Errorf("find series: %w", err)
	}
	settings, err := findSettings(ctx, b.read)
	if err != nil {
		return x, err
	}
	x.Settings = settings.wear()
	if x.Wider, err = b.WiderOf(ctx, x.Series.Feature); err != nil {
		return x, err
	}
	me, err := findMembers(ctx, b.read, settings.NextIn, "s.id = ?", series)
	if err != nil {
		return x, err
	}
	var shares map[int64]wear.Share
	if x.Group, shares, err = others(ctx, b.read, x.Series.Peers, me[0], settings); err != nil {
		return x, err
	}
	if err := x.lifeOfModel(ctx, b.read, &me[0].question); err != nil {
		return x, err
	}
	j, err := x.Group.Judge(me[0].run, nil, me[0].question, x.Settings)
	if err != nil {
		return x, fmt.Errorf("judge series: %w", err)
	}
	x.Judgement = j.AmongLooks(me[0].looks, x.Settings)
	if x.Learned, err = x.Group.Learned(x.Settings); err != nil {
		return x, fmt.Errorf("explain series: %w", err)
	}
	if x.Foretold, err = x.Group.Foretold(me[0].run, nil, me[0].question, x.Settings); err != nil {
		return x, fmt.Errorf("explain series: %w", err)
	}
	return x, x.findPeers(ctx, b.read, shares)
}

// lifeOfModel takes the hours between overhauls of the part's model for its
// overhaul life, where the limit of the feature has none of its own.
func (x *Explanation) lifeOfModel(ctx context.Context, q querier, ask *wear.Question) error {
	if x.Life > 0 {
		return nil
	}
	h, err := findHistory(ctx, q, x.Part)
	if err != nil {
		return err
	}
	id, err := h.modelID(ctx, q)
	if err != nil || id == 0 {
		return err
	}
	m, err := findModel(ctx, q, id)
	if err != nil {
		return err
	}
	x.Life, ask.Life = m.Overhaul, m.Overhaul.Float()
	return nil
}

// others is the fit of a member's group with the member left out and, of a small
// group, what each of the others put into it, by series.
func others(ctx context.Context, q querier, peers int64, me member, settings Settings) (wear.Group, map[int64]wear.Share, error) {
	small, err := isSmall(ctx, q, peers)
	if err != nil {
		return wear.Group{}, nil, err
	}
	if small {
		ms, err := findMembers(ctx, q, settings.NextIn, "s.peers_id = ? AND s.id <> ? ORDER BY s.id", peers, me.id)
		if err != nil {
			return wear.Group{}, nil, err
		}
		allowance := me.makers(wear.Allowance{})
		runs := make([]wear.Run, len(ms))
		for i, m := range ms {
			runs[i] = m.run
			allowance = m.makers(allowance)
		}
		g, each, err := wear.FitGroup(runs, allowance, settings.wear())
		if err != nil {
			return wear.Group{}, nil, err
		}
		shares := make(map[int64]wear.Share, len(ms))
		for i, m := range ms {
			shares[m.id] = each[i]
		}
		return g, shares, nil
	}
	fit, err := findFit(ctx, q, peers)
	if err != nil || fit == nil {
		return wear.Group{}, nil, err
	}
	if me.share == nil {
		return fit.Group, nil, nil
	}
	g, err := fit.Without(*me.share, settings.wear())
	return g, nil, err
}

// isSmall reports whether a group has at most smallGroup runs.
func isSmall(ctx context.Context, q querier, peers int64) (bool, error) {
	var count int
	if err := q.QueryRowContext(ctx, "SELECT count(*) FROM (SELECT 1 FROM series WHERE peers_id = ? LIMIT ?)", peers, smallGroup+1).Scan(&count); err != nil {
		return false, fmt.Errorf("count peers: %w", err)
	}
	return count <= smallGroup, nil
}

func (x *Explanation) findPeers(ctx context.Context, q querier, shares map[int64]wear.Share) error {
	var total int
	if err := q.QueryRowContext(ctx, "SELECT count(*) FROM series WHERE peers_id = ? AND id <> ?", x.Series.Peers, x.ID).Scan(&total); err != nil {
		return fmt.Errorf("count peers: %w", err)
	}
	var err error
	x.Peers, err = list(ctx, q, func(r scanner, p *Peer) error {
		var id int64
		var bytes int
		var share []byte
		if err := r.Scan(&id, &p.Part, &p.Kind, &p.Serial, &p.Run, &p.LastDay, &p.Hours, &p.State, &bytes, &share); err != nil {
			return err
		}
		p.Points = bytes / 24
		if own, small := shares[id]; small {
			p.Share = &own
			return nil
		}
		var err error
		p.Share, err = unpackShare(share)
		return err
	}, `SELECT s.id, p.id, p.kind, p.serial, s.run, s.last_day, s.hours, s.state, length(s.points), s.share FROM series s JOIN part p ON p.id = s.part_id
		WHERE s.peers_id = ? AND s.id <> ? ORDER BY s.id LIMIT ?`, x.Series.Peers, x.ID, mostPeers)
	if err != nil {
		return fmt.Errorf("list peers: %w", err)
	}
	x.MorePeers = total - len(x.Peers)
	return nil
}
