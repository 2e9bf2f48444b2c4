package wear

import (
	"math"
	"testing"
)

// FuzzBest tries every placing of a few parts and finds none better than the
// one chosen, and none at all where there is said to be none.
func FuzzBest(f *testing.F) {
	feeds(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		in := &feed{data}
		near := func() Value { return 100_000 + Value(in.byte())*100 }
		least := Value(in.byte()) * 100
		ask := MatchAsk{Fit: MatchFit{Min: least, Max: least + Value(in.byte())*100}, Spread: Value(in.byte() / 16)}
		for range 1 + in.small(3) {
			ask.Holes = append(ask.Holes, MatchHole{Size: Gauged{Value: near() + least, U: 1}, Oversize: Value(in.small(8) / 7)})
		}
		for range in.small(5) {
			s := MatchShaft{Size: Gauged{Value: near(), U: 1}, Oversize: Value(in.small(8) / 7)}
			if in.byte() > 20 {
				weight := 1 + Value(in.small(20))
				s.Weight = &weight
			}
			if home := in.small(8) - 1; home < len(ask.Holes) && home >= 0 {
				s.Home = &home
			}
			ask.Shafts = append(ask.Shafts, s)
		}
		ask.Bans = BanOversizes(ask)
		if len(ask.Shafts) > 0 && in.byte() > 170 {
			ask.Pins = []MatchPin{{in.small(len(ask.Holes)), in.small(len(ask.Shafts))}}
		}
		m, err := Match(ask)
		if !sound(t, "matching", m, err) {
			t.Fatal(err)
		}
		best := bestByTrial(t, ask, nil)
		switch {
		case (m.Best == nil) != (best == math.MaxInt64):
			t.Fatalf("Match says %+v, trial finds %d: %+v", m, best, ask)
		case m.Best != nil && cost(ask, *m.Best) != best:
			t.Fatalf("Match finds %d, trial %d: %+v", cost(ask, *m.Best), best, ask)
		}
	})
}

// cost is the sum of squares and of one square nanometre for each shaft that
// leaves its hole.
func cost(ask MatchAsk, p Placing) int64 {
	sum := p.SquareSum
	for _, l := range p.Lines {
		if home := ask.Shafts[l.Shaft].Home; home == nil || *home != l.Hole {
			sum++
		}
	}
	return sum
}

func bestByTrial(t *testing.T, ask MatchAsk, of []int) int64 {
	best := int64(math.MaxInt64)
	if len(of) == len(ask.Holes) {
		p, err := JudgePlacing(ask, of)
		if err != nil {
			t.Fatal(err)
		}
		for _, pin := range ask.Pins {
			if of[pin.Hole] != pin.Shaft {
				return best
			}
		}
		if p.Works {
			best = cost(ask, p)
		}
		return best
	}
	for s := range ask.Shafts {
		best = min(best, bestByTrial(t, ask, append(of[:len(of):len(of)], s)))
	}
	return best
}
