package wear

import (
	"fmt"
	"math"
)

// Settings are the levels and priors of the wear judgement.
type Settings struct {
	FlagChance float64 // a part is flagged below this chance p, 0 to 1 ...
	FlagRatio  float64 // ... and above this ratio

	EngineChance float64 // an engine is flagged below this chance, 0 to 1
	Discovery    float64 // share of false findings at which a fleet's findings are cut, 0 to 1

	PriorLogSD       float64 // log-sd of normal parts expected beforehand
	PriorParts       float64 // number of parts that expectation is worth, at least 1
	PriorEngineLogSD float64 // log-sd between normal engines expected beforehand
	PriorEngines     float64 // number of engines that expectation is worth, at least 1
	AllowanceLogSD   float64 // log-sd of normal wear about the maker's allowance

	Huber  float64 // sd beyond which a reading's pull on the curve stops growing
	Trim   float64 // log-sd beyond which a part is left out of the spread of normal ones
	Reject float64 // sd beyond which a reading is left out of the curve

	ClearSD   float64 // largest error of a ratio that still tells a part four times too fast from a normal one
	MaxRefits int     // groups up to this many runs leave each part out by a true refit
}

// DefaultSettings are the levels a book starts with. Source: the flag levels, the
// prior and Trim were chosen by simulation, see BenchmarkSimulation; the
// allowance's spread, Reject and MaxRefits are choices without a source. The
// engines' prior is a little wider than the log-sd of 0.15 that the simulation
// tries, lest engines that live differently be flagged.
// ClearSD still tells a part four times too fast: with the prior's spread and
// eight references p falls below 0.0025 between 3.5 ± 0.5 and 4 ± 0.5. Huber is
// the usual 1.345, which keeps 95 % efficiency for normal errors (Huber, Robust
// Statistics, 1981; from memory).
func DefaultSettings() Settings {
	return Settings{
		FlagChance:       0.0025,
		FlagRatio:        1.5,
		EngineChance:     0.005,
		Discovery:        0.10,
		PriorLogSD:       0.35,
		PriorParts:       8,
		PriorEngineLogSD: 0.18,
		PriorEngines:     8,
		AllowanceLogSD:   0.7,
		Huber:            1.345,
		Trim:             2.5,
		Reject:           4,
		ClearSD:          0.5,
		MaxRefits:        64,
	}
}

// check returns ErrSettings where a setting makes no sense.
func (s Settings) check() error {
	positive := [...]float64{s.FlagChance, s.FlagRatio, s.PriorLogSD, s.AllowanceLogSD, s.Huber, s.Trim, s.Reject, s.ClearSD,
		s.EngineChance, s.Discovery, s.PriorEngineLogSD}
	for _, x := range positive {
		if !(x > 1e-6) || x > 1e6 || math.IsNaN(x) {
			return fmt.Errorf("check settings: %g: %w", x, ErrSettings)
		}
	}
	if s.EngineChance >= 1 || s.Discovery > 1 || !(s.PriorEngines >= 1) || s.PriorEngines > 1e6 || s.PriorEngineLogSD > 3 {
		return fmt.Errorf("check settings: engines or discovery: %w", ErrSettings)
	}
	if s.FlagChance >= 1 || !(s.PriorParts >= 1) || s.PriorParts > 1e6 || s.PriorLogSD > 3 || s.AllowanceLogSD > 3 {
		return fmt.Errorf("check settings: chance, prior or allowance: %w", ErrSettings)
	}
	return nil
}
