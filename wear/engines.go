package wear

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// EngineShare is what one engine puts into the spread between the engines of a
// group, to be stored with it.
type EngineShare struct {
	Engine   int
	Parts    int     // with a ratio
	X        float64 // ln of the ratio common to its parts, to the group's middle normal part
	Variance float64 // of X, from the gauge and the parts' spread
	Trimmed  bool    // it lies too far off to count among the normal engines
}

// Engines is how much the normal engines of a group differ. It is all plain
// numbers, to be stored and read again; an engine's share can be taken away.
type Engines struct {
	Parts, PartsSq float64 // Σn and Σn² over engines, n their parts
	WeightSD       float64 // the log-sd at which the weights in Moments were made
	Moments        Moments
}

// ErrEngineTwice is returned where an engine has two shares in one spread.
var ErrEngineTwice = errors.New("the same engine was given twice")

// check returns ErrRange for a share that no engine has.
func (e EngineShare) check() error {
	if err := checkNumbers(e.X, e.Variance); err != nil || e.Variance < 0 || e.Parts < 0 || math.Abs(e.X) > mostCentre {
		return ErrRange
	}
	return nil
}

// check returns ErrNotFinite or ErrRange for a spread that no fit gives.
func (a Engines) check() error {
	if err := checkWithin(mostSum, a.Parts, a.PartsSq); err != nil {
		return err
	}
	if a.Parts < 0 || a.PartsSq < 0 || !(a.WeightSD >= 0 && a.WeightSD <= mostWeightSD) {
		return ErrRange
	}
	return a.Moments.check()
}

// EngineShareOf is the share of an engine whose runs have these shares in the
// group's fit: the log-ratio common to its parts to the group's middle normal
// part. Parts are k ± s, their ratios over e^Centre, scattered about it by
// Student's t of log-sd LogSD; X is the m that satisfies
//
//	Σ aᵢ wᵢ (xᵢ - m) = m/τ₀²,  wᵢ = (DoF + 1) / (DoF + aᵢ (xᵢ - m)²),
//
// xᵢ, aᵢ the value and weight each part's own likelihood is worth about m, τ₀
// Settings.PriorEngineLogSD, with the prior's pull taken out again, and Variance
// 1/Σ aᵢ wᵢ. X is -10 to 10.
//
// Shares that are not In, or without a ratio, do not count; with none the share
// has 0 parts. Errors: ErrSettings and those of Check, for the group and its
// shares. Source: M-estimate by reweighting (Huber, Robust Statistics, 1981;
// from memory); worked out for this purpose and tried by simulation, no
// published source.
func (g Group) EngineShareOf(engine int, own []Share, s Settings) (EngineShare, error) {
	if err := errors.Join(s.check(), g.Check(), checkShares(own)); err != nil {
		return EngineShare{}, fmt.Errorf("make engine share: %w", err)
	}
	e := g.engineShare(engine, own, s)
	if err := checkWithin(mostSum, e.X, e.Variance); err != nil {
		return EngineShare{}, fmt.Errorf("make engine share: %w", err)
	}
	return e, nil
}

func (g Group) engineShare(engine int, own []Share, s Settings) EngineShare {
	middle := math.Exp(-g.Centre)
	parts := make([]member, 0, len(own))
	for _, sh := range own {
		if sh.In && sh.RatioSD > 0 {
			parts = append(parts, member{k: sh.Ratio * middle, s: sh.RatioSD * middle})
		}
	}
	e := EngineShare{Engine: engine, Parts: len(parts)}
	if e.Parts > 0 && g.LogSD > 0 {
		x, weight := commonRatio(parts, g.LogSD, g.DoF, 1/(s.PriorEngineLogSD*s.PriorEngineLogSD))
		e.X, e.Variance = x, 1/weight
	}
	return e
}

// FitEngines fits the spread between normal engines to what each engine of a
// group shows, and marks those it left out. With the weights a = 1/(τ² + v), v
// an engine's Variance and X its log-ratio,
//
//	centre = Σ aX / Σa,  τ̂² = Σa² ((X - centre)²/κ - v + 1/Σa) / Σa²,
//	τ² = (ν₀ τ₀² + (n - 1) τ̂²) / (ν₀ + n - 1),  n = Σ(a τ²)²,
//
// from the median on until it stands: τ₀ and ν₀ the prior PriorEngineLogSD worth
// PriorEngines engines, κ the variance that engines keep when those beyond
// Trim √(τ² + v) are left out.
//
// An engine with fewer than three parts does not count; with none that does,
// the prior stands. Errors: ErrSettings, ErrEngineTwice, ErrRange for a share
// that no engine has. Source: likelihood equations of a normal spread seen with
// errors (DerSimonian and Laird, Controlled Clinical Trials 7, 1986, for the
// like; from memory); the blend with the prior was worked out for this purpose
// and tried by simulation, no published source.
func FitEngines(shares []EngineShare, s Settings) (Engines, error) {
	if err := s.check(); err != nil {
		return Engines{}, fmt.Errorf("fit engines: %w", err)
	}
	seen := make(map[int]bool, len(shares))
	for _, e := range shares {
		if err := e.check(); err != nil {
			return Engines{}, fmt.Errorf("fit engines: engine %d: %w", e.Engine, err)
		}
		if seen[e.Engine] {
			return Engines{}, fmt.Errorf("fit engines: engine %d: %w", e.Engine, ErrEngineTwice)
		}
		seen[e.Engine] = true
	}
	return fitEngines(shares, s), nil
}

func fitEngines(shares []EngineShare, s Settings) Engines {
	all := Engines{WeightSD: s.PriorEngineLogSD}
	now := spread{Centre: middleEngine(shares), Omega: s.PriorEngineLogSD}
	for range 12 {
		all.WeightSD, all.Moments = now.Omega, Moments{}
		for i := range shares {
			e := &shares[i]
			e.Trimmed = math.Abs(e.X-now.Centre) > s.Trim*math.Sqrt(now.Omega*now.Omega+e.Variance)
			all.Moments = all.Moments.plus(all.momentsOf(*e), 1)
		}
		before := now
		now = all.spread(s)
		if math.Abs(now.Centre-before.Centre)+math.Abs(now.Omega-before.Omega) < 1e-4*now.Omega {
			break
		}
	}
	for _, e := range shares {
		all.Parts += float64(e.Parts)
		all.PartsSq += float64(e.Parts) * float64(e.Parts)
	}
	return all
}

// middleEngine is the median log-ratio of the engines that count.
func middleEngine(shares []EngineShare) float64 {
	var xs []float64
	for _, e := range shares {
		if e.counts() {
			xs = append(xs, e.X)
		}
	}
	if len(xs) == 0 {
		return 0
	}
	slices.Sort(xs)
	return xs[len(xs)/2]
}

func (e EngineShare) counts() bool { return e.Parts >= minEngineParts && e.Variance > 0 }

// momentsOf is one engine's share of the moments.
func (a Engines) momentsOf(e EngineShare) Moments {
	if !e.counts() || e.Trimmed || !(a.WeightSD > smallest) {
		return Moments{}
	}
	return momentsOf(reading{e.X, 1 / (a.WeightSD*a.WeightSD + e.Variance)}, a.WeightSD)
}

// Without is the spread with one engine's share taken away: sums and moments
// less its own, exactly. The other engines keep their weights. A share of
// fewer than three parts, or Trimmed, has no moments to lose. That the share is
// one of this spread cannot be seen and is not checked. Errors: ErrNotFinite,
// ErrRange for a spread or share that no fit gives. Source: exact, since the
// sums are of one term an engine.
func (a Engines) Without(own EngineShare) (Engines, error) {
	if err := errors.Join(a.check(), own.check()); err != nil {
		return Engines{}, fmt.Errorf("take engine from spread: %w", err)
	}
	return a.without(own), nil
}

func (a Engines) without(own EngineShare) Engines {
	n := float64(own.Parts)
	a.Parts, a.PartsSq = math.Max(a.Parts-n, 0), math.Max(a.PartsSq-n*n, 0)
	a.Moments = a.Moments.plus(a.momentsOf(own), -1)
	return a
}

// spread is the distribution of ln ratio over normal engines.
func (a Engines) spread(s Settings) spread {
	s.PriorLogSD, s.PriorParts = s.PriorEngineLogSD, s.PriorEngines
	if a.Moments.N < 1 {
		return Moments{}.spread(0, s)
	}
	return a.Moments.spread(a.WeightSD, s)
}

// crowd is Σq² over the engines of a reference, q their shares in it: how much
// of the variance between engines its own centre has. It is 1 where the
// reference's engines are not known, and 0 where it is the maker's.
func (a Engines) crowd(r reference) float64 {
	switch {
	case r.curve.Form == MakerAllowance && r.runs < minReferences:
		return 0
	case !(a.Parts >= 1):
		return 1
	}
	return math.Min(a.PartsSq/(a.Parts*a.Parts), 1)
}

// commonRatio finds the log-ratio common to parts that scatter about it by
// Student's t of log-sd omega, with a normal prior about 0 of the given
// precision: the observation x of the given weight that says of it what the
// parts say.
func commonRatio(parts []member, omega, dof, prior float64) (x, weight float64) {
	m, pull := 0.0, 0.0
	for range 20 {
		pull, weight = 0, 0
		for _, p := range parts {
			part := read(p.k, p.s, m, omega)
			off := part.x - m
			a := part.a * (dof + 1) / (dof + part.a*off*off)
			pull += a * off
			weight += a
		}
		step := (pull - m*prior) / (weight + prior)
		m = math.Min(math.Max(m+math.Min(math.Max(step, -0.5), 0.5), -mostCentre), mostCentre)
		if math.Abs(step) < 1e-6 {
			break
		}
	}
	x = m + pull/weight
	return math.Min(math.Max(x, -mostCentre), mostCentre), weight
}
