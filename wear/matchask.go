package wear

import (
	"cmp"
	"fmt"
	"math/big"
	"strconv"
	"strings"
)

func (ask MatchAsk) check() error {
	if len(ask.Holes) == 0 || len(ask.Holes) > mostHoles || len(ask.Shafts) > mostShafts {
		return fmt.Errorf("%d and %d: %w", len(ask.Holes), len(ask.Shafts), ErrMatchMany)
	}
	if err := ask.Fit.check(); err != nil {
		return err
	}
	for i, h := range ask.Holes {
		if err := checkMatchSizes(h.Size, h.Largest, h.Oversize); err != nil {
			return fmt.Errorf("%s: %w", ask.hole(i), err)
		}
		if err := ask.fit(i).check(); err != nil {
			return fmt.Errorf("%s: %w", ask.hole(i), err)
		}
	}
	for i, s := range ask.Shafts {
		if err := checkMatchSizes(s.Size, s.Smallest, s.Oversize); err != nil {
			return fmt.Errorf("%s: %w", ask.shaft(i), err)
		}
		if s.Weight != nil && (*s.Weight <= 0 || *s.Weight > largest) {
			return fmt.Errorf("%s: %w", ask.shaft(i), ErrMatchWeight)
		}
		if s.Home != nil && (*s.Home < 0 || *s.Home >= len(ask.Holes)) {
			return fmt.Errorf("%s at home in %d: %w", ask.shaft(i), *s.Home, ErrMatchPair)
		}
		if s.Rings != nil && absValue(s.Rings.Oversize) > largest {
			return fmt.Errorf("rings of %s: %w", ask.shaft(i), ErrMatchSize)
		}
	}
	if ask.Spread < 0 || ask.Spread > largest {
		return fmt.Errorf("spread: %w", ErrMatchWeight)
	}
	return ask.checkPairs()
}

func checkMatchSizes(size Gauged, other *Gauged, oversize Value) error {
	if other != nil {
		if err := checkMatchSize(*other, oversize); err != nil {
			return err
		}
	}
	return checkMatchSize(size, oversize)
}

func checkMatchSize(size Gauged, oversize Value) error {
	if err := checkNumbers(size.U); err != nil {
		return err
	}
	if size.U < 0 {
		return fmt.Errorf("uncertainty: %w", ErrRange)
	}
	if size.Value <= 0 || size.Value > largest || absValue(oversize) > largest {
		return ErrMatchSize
	}
	return nil
}

func (ask MatchAsk) checkPairs() error {
	inside := func(h, s int) bool { return h >= 0 && h < len(ask.Holes) && s >= 0 && s < len(ask.Shafts) }
	for _, b := range ask.Bans {
		if !inside(b.Hole, b.Shaft) {
			return fmt.Errorf("ban %d and %d: %w", b.Hole, b.Shaft, ErrMatchPair)
		}
	}
	holes, shafts := map[int]bool{}, map[int]bool{}
	for _, p := range ask.Pins {
		switch {
		case !inside(p.Hole, p.Shaft):
			return fmt.Errorf("pin %d and %d: %w", p.Hole, p.Shaft, ErrMatchPair)
		case holes[p.Hole] || shafts[p.Shaft]:
			return fmt.Errorf("pin %s to %s: %w", ask.shaft(p.Shaft), ask.hole(p.Hole), ErrMatchPin)
		}
		holes[p.Hole], shafts[p.Shaft] = true, true
	}
	return nil
}

func (ask MatchAsk) fit(h int) MatchFit {
	if own := ask.Holes[h].Fit; own != nil {
		return *own
	}
	return ask.Fit
}

func (ask MatchAsk) clearance(h, s int) Value {
	return ask.Holes[h].Size.Value - ask.Shafts[s].Size.Value
}

// loosest is the clearance of the loosest spots.
func (ask MatchAsk) loosest(h, s int) Value {
	hole, shaft := ask.loosestSpots(h, s)
	return hole.Value - shaft.Value
}

func (ask MatchAsk) loosestSpots(h, s int) (hole, shaft Gauged) {
	hole, shaft = ask.Holes[h].Size, ask.Shafts[s].Size
	if g := ask.Holes[h].Largest; g != nil {
		hole = *g
	}
	if g := ask.Shafts[s].Smallest; g != nil {
		shaft = *g
	}
	return hole, shaft
}

func (ask MatchAsk) holeWord() string  { return cmp.Or(ask.HoleWord, "barrel") }
func (ask MatchAsk) shaftWord() string { return cmp.Or(ask.ShaftWord, "piston") }

func (ask MatchAsk) hole(h int) string {
	return ask.holeWord() + " " + cmp.Or(ask.Holes[h].Name, strconv.Itoa(h+1))
}

func (ask MatchAsk) shaft(s int) string {
	return ask.shaftWord() + " " + cmp.Or(ask.Shafts[s].Name, strconv.Itoa(s+1))
}

func (ask MatchAsk) holeList(holes []int) string   { return ListOf(holes, ask.hole) }
func (ask MatchAsk) shaftList(shafts []int) string { return ListOf(shafts, ask.shaft) }

// sentenceStart writes the first letter large.
func sentenceStart(s string) string {
	for i := range s {
		if i > 0 {
			return strings.ToUpper(s[:i]) + s[i:]
		}
	}
	return strings.ToUpper(s)
}

func (ask MatchAsk) unit() Unit {
	if ask.Unit.base == nil {
		return Millimetre
	}
	return ask.Unit
}

// size writes a length that was worked out with the digits that the unit is
// read to; verdicts go by the exact figures.
func (ask MatchAsk) size(v Value) string {
	u := ask.unit()
	r, _ := new(big.Rat).Quo(new(big.Rat).SetInt64(int64(v)), u.base).Float64()
	t := u.FormatFloat(r, 0)
	if v > 0 && strings.Trim(t, "0.") == "" {
		return "less than " + strings.TrimSuffix(t, "0") + "1 " + u.Name
	}
	return t + " " + u.Name
}

// typed writes a length as it was typed.
func (ask MatchAsk) typed(v Value) string { return v.Format(ask.unit()) + " " + ask.unit().Name }

func (ask MatchAsk) weightText(v Value) string {
	u := ask.WeightUnit
	if u.base == nil {
		u = Gram
	}
	return v.Format(u) + " " + u.Name
}

// over names an oversize; there are undersizes, too, of shafts.
func (ask MatchAsk) over(v Value) string {
	switch {
	case v == 0:
		return "standard"
	case v < 0:
		return ask.typed(-v) + " undersize"
	}
	return ask.typed(v) + " oversize"
}

// fitText writes a clearance as a table of limits does: loose or tight.
func (ask MatchAsk) fitText(v Value) string {
	if v < 0 {
		return ask.size(-v) + " tight"
	}
	return ask.size(v) + " loose"
}

func (ask MatchAsk) missText(miss Value) string {
	if miss < 0 {
		return ask.size(-miss) + " too tight"
	}
	return ask.size(miss) + " too loose"
}
