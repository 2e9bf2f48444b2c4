package wear

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// minReferences is the least number of other parts a curve is fitted to.
const minReferences = 3

// Group is the fitted wear of runs that should wear alike, and the spread of
// its normal parts. It is all plain numbers, to be stored and read again; a
// run's Share can be taken away from it later.
type Group struct {
	Curve     Curve   // fitted, to be multiplied by e^Centre for the middle of normal parts
	Centre    float64 // of ln k
	LogSD     float64 // of ln k from part to part
	DoF       float64 // behind LogSD, the prior's among them
	Runs      int     // with a reading after the baseline
	Longest   float64 // hours of the longest run
	Plausible []Curve // equally likely ones that stand for what is open of the curve
	Allowance Allowance
	Wander    float64 // sd of a reading off its part's curve beyond the gauge's error, over the wear

	WeightSD float64 // the log-sd at which the weights in Moments were made
	Sums     Sums
	Moments  Moments
}

// Share is what one run put into its group's fit, to be stored with it.
type Share struct {
	In      bool    // the run has a reading after the baseline and counts
	Trimmed bool    // it lies too far off to count among the normal parts' spread
	Ratio   float64 // k to the group's curve, its own share still in
	RatioSD float64
	Sums    Sums
	Moments Moments
}

// FitGroup fits the expected wear of a group and the spread of its normal
// parts, and returns with it what each run put in. A reading is
//
//	y = size + k W(h) + e,  ln k ~ centre + ω t,
//
// y in any one length unit, h the hours of the run, size that of the new part,
// not known, k the part's ratio, e the gauge's error u with the group's wander.
// W is bedding-in with one of five time constants or a power of the hours with
// one of eleven powers (Curve), the one that leaves the least
//
//	Σ w (y - size - W)' (diag(u²) + ω₀² W W')⁻¹ (y - size - W),
//
// w each run's Huber weight, by rounds of reweighting; the maker's allowance,
// where the overhaul life is known, is one more reading. Then centre and ω are
// fitted to the runs' ratios with the prior Settings.PriorLogSD worth PriorParts
// parts, runs further off than Trim left out.
//
// The work grows with the number of readings. Runs without a reading after the
// baseline do not count; with fewer than three that do, the group rests on the
// maker's allowance, or on nothing. Runs have no name: one given twice counts as
// two parts that wear alike, as two barrels may, and cannot be told from them.
// Numbers are up to 1e12. Errors: ErrOrder, ErrNotFinite, ErrRange,
// ErrSettings.
//
// Source: generalised least squares, NIST/SEMATECH e-Handbook 4.1.4.3; Huber
// weights (Huber, Robust Statistics, 1981; from memory); the curves and the
// blend with the prior were worked out for this purpose and tried by simulation
// (BenchmarkSimulation), no published source.
func FitGroup(runs []Run, allowance Allowance, s Settings) (Group, []Share, error) {
	if err := checkGroup(runs, allowance, s); err != nil {
		return Group{}, nil, fmt.Errorf("fit group: %w", err)
	}
	g, shares := newFitter(runs, allowance, s).group(-1)
	return g, shares, nil
}

// Check returns ErrForm, ErrNotFinite or ErrRange for a group that no fit gives,
// such as one that was damaged where it was stored. Centre is -11 to 11; LogSD,
// of a group with a curve, above 1e-12 and up to 10, and DoF from 1 on; WeightSD 0
// to 100, Wander 0 to 1, Runs and Longest 0 or more, and curves and allowance
// as for themselves. What FitGroup, Without and WithoutAll return passes. Source:
// the bounds of the fit, chosen; no published source.
func (g Group) Check() error {
	if err := g.checkNumbers(); err != nil {
		return fmt.Errorf("check group: %w", err)
	}
	if err := g.Curve.Check(); err != nil {
		return fmt.Errorf("check group: %w", err)
	}
	for _, c := range g.Plausible {
		if err := c.Check(); err != nil {
			return fmt.Errorf("check group: %w", err)
		}
	}
	return g.Allowance.check()
}

func (g Group) checkNumbers() error {
	if err := checkNumbers(g.Centre, g.LogSD, g.DoF, g.Longest, g.Wander, g.WeightSD); err != nil {
		return err
	}
	if err := g.Sums.check(); err != nil {
		return err
	}
	if err := g.Moments.check(); err != nil {
		return err
	}
	switch {
	case math.Abs(g.Centre) > mostCentre+1, g.LogSD < 0 || g.LogSD > mostCentre, g.DoF < 0,
		g.Runs < 0, g.Longest < 0, g.Wander < 0 || g.Wander > 1, g.WeightSD < 0 || g.WeightSD > mostWeightSD:
		return ErrRange
	case g.Curve.Form != NoCurve && (g.LogSD < smallest || g.DoF < 1 || !(g.Longest > smallest)):
		return ErrRange
	}
	return nil
}

// mostWeightSD bounds the log-sd at which weights were made, which starts at the
// median distance of ratios from 0.05 to 1e6.
const mostWeightSD = 100

// check returns ErrNotFinite or ErrRange for a share that no fit gives.
func (sh *Share) check() error {
	if err := checkWithin(unclear, sh.Ratio, sh.RatioSD); err != nil {
		return err
	}
	if sh.RatioSD != 0 && sh.RatioSD < leastSD {
		return ErrRange
	}
	if err := sh.Sums.check(); err != nil {
		return err
	}
	return sh.Moments.check()
}

func checkShares(shares []Share) error {
	for i := range shares {
		if err := shares[i].check(); err != nil {
			return fmt.Errorf("share %d: %w", i, err)
		}
	}
	return nil
}

func checkGroup(runs []Run, allowance Allowance, s Settings) error {
	if err := s.check(); err != nil {
		return err
	}
	if err := allowance.check(); err != nil {
		return err
	}
	for i, r := range runs {
		if err := r.check(); err != nil {
			return fmt.Errorf("run %d: %w", i, err)
		}
	}
	return nil
}

// group fits all runs but out, or all where out is -1.
func (f *fitter) group(out int) (Group, []Share) {
	g := Group{Longest: f.longest, Allowance: f.allowance, Wander: f.wander}
	shares := make([]Share, len(f.runs))
	for i, r := range f.runs {
		if i != out && r.ages() {
			g.Runs++
			shares[i].In = true
			shares[i].Moments = makerMoments(r, f.allowance, f.s)
		}
	}
	fit, ok := f.curve(out)
	sums := fit.sums[fit.now.shape].plus(fit.anchor[fit.now.shape], 1)
	if ok && fit.sound() && sums.check() == nil && fit.now.W(f.longest) >= smallest {
		g.Curve, g.Sums = fit.now.Curve, sums
		g.Plausible = fit.plausible
		f.shareSums(&fit, shares, out)
		g.WeightSD = f.shareSpread(&g, shares, out)
	}
	for i := range shares {
		g.Moments = g.Moments.plus(shares[i].Moments, 1)
	}
	now := g.Moments.spread(g.WeightSD, f.s)
	g.Centre, g.LogSD, g.DoF = now.Centre, now.Omega, now.DoF
	return g, shares
}

// sound reports whether the curves are such as Check passes: a single run that
// contradicts the maker's allowance beyond all measure may leave none.
func (fit *fitted) sound() bool {
	return fit.now.Check() == nil && !slices.ContainsFunc(fit.plausible, func(c Curve) bool { return c.Check() != nil })
}

// shareSums sets what each run put into the normal equations.
func (f *fitter) shareSums(fit *fitted, shares []Share, out int) {
	var mine shapeSums
	for i := range f.samples {
		if p := &f.samples[i]; p.run != out {
			p.weigh(&mine, fit.before, f.longest, f.s)
			shares[p.run].Sums = Sums{}.plus(mine[fit.now.shape], p.weight)
		}
	}
}

// shareSpread fits the spread and sets what each run put into it. It returns
// the log-sd the weights were made at.
func (f *fitter) shareSpread(g *Group, shares []Share, out int) (was float64) {
	members, runs := f.members(g.Curve, out)
	_, was = fitSpread(members, f.s)
	for i, p := range members {
		share := &shares[runs[i]]
		share.Ratio, share.RatioSD, share.Trimmed = p.k, p.s, p.out
		if p.out {
			continue
		}
		m := momentsOf(p.reading, was)
		r := f.runs[runs[i]]
		if w := g.Curve.Between(r.first().Hours, r.last().Hours); w > 0 {
			b1, b2 := g.Curve.parts(r.first().Hours, r.last().Hours, g.Longest)
			m.SlopeA, m.SlopeB = p.a*b1/w, p.a*b2/w
		}
		m.PriorA, m.PriorAX = share.Moments.PriorA, share.Moments.PriorAX
		share.Moments = m
	}
	return was
}

// makerMoments is a run's log-ratio to the maker's allowance.
func makerMoments(r Run, a Allowance, s Settings) Moments {
	if a.PerHour <= 0 {
		return Moments{}
	}
	l := ratioLine(r.Points, Curve{Form: MakerAllowance, B: a.PerHour}, 0)
	x := read(l.slope, l.sd, 0, s.AllowanceLogSD)
	v := math.Max(1/x.a-s.AllowanceLogSD*s.AllowanceLogSD, 0)
	weight := 1 / (s.PriorLogSD*s.PriorLogSD + v)
	return Moments{PriorA: weight, PriorAX: weight * x.x}
}

// Without is the group with one run's share taken away. Curve and spread lose
// the run's part of the normal equations N c = t and of the moments exactly,
//
//	c' = (N - Nᵢ)⁻¹ (t - tᵢ),  centre' = Σ'ax/Σ'a - Σ'a ∂lnW/∂c (c' - c) / Σ'a,
//
// Σ' the sum over the others, a their weights, x their log-ratios; the others
// keep their robust weights and their errors, and their ratios move with the
// curve to first order, by at most 1. In large groups that is as good as a
// refit; small ones are better judged with JudgeGroup.
//
// A share that is not In changes nothing; where too little is left for a curve
// the group has NoCurve. s are the settings of the fit. Errors: those of Check,
// for the group and the share, and ErrSettings. Source: least squares with rows
// taken away, NIST/SEMATECH e-Handbook 4.1.4.3 for the normal equations; the
// step to first order was worked out for this purpose and tried against refits
// by simulation, no published source.
func (g Group) Without(own Share, s Settings) (Group, error) {
	if err := errors.Join(s.check(), g.Check(), own.check()); err != nil {
		return Group{}, fmt.Errorf("take run from group: %w", err)
	}
	return g.withoutOne(&own, s), nil
}

// withoutOne is Without of what was checked.
func (g Group) withoutOne(own *Share, s Settings) Group {
	if own == nil || !own.In {
		return g
	}
	return g.without(own.Sums, own.Moments, 1, s)
}

// WithoutAll is the group with the shares of several runs, such as those of an
// engine, taken away at once, by the equations of Without. Taking them away one
// by one would move the centre with the last run's part of the curve only.
// Special cases and errors as Without. Source: as Without.
func (g Group) WithoutAll(own []Share, s Settings) (Group, error) {
	if err := errors.Join(s.check(), g.Check(), checkShares(own)); err != nil {
		return Group{}, fmt.Errorf("take runs from group: %w", err)
	}
	return g.withoutAll(own, s), nil
}

func (g Group) withoutAll(own []Share, s Settings) Group {
	var sums Sums
	var moments Moments
	n := 0
	for i := range own {
		if own[i].In {
			sums, moments, n = sums.plus(own[i].Sums, 1), moments.plus(own[i].Moments, 1), n+1
		}
	}
	if n == 0 {
		return g
	}
	return g.without(sums, moments, n, s)
}

func (g Group) without(sums Sums, moments Moments, n int, s Settings) Group {
	if g.Runs == 0 {
		return g
	}
	g.Runs = max(g.Runs-n, 0)
	g.Moments = g.Moments.plus(moments, -1)
	if g.Runs == 0 || g.Curve.Form == NoCurve {
		g.Curve, g.Plausible = Curve{}, nil
		return g
	}
	rest := g.Sums.plus(sums, -1)
	c, ok := rest.resolve(g.Curve, g.Longest)
	if !ok || !(g.Moments.A > smallest) || c.Check() != nil {
		g.Curve, g.Plausible = Curve{}, nil
		return g
	}
	da, db := c.A-g.Curve.A, c.unit(g.Longest)-g.Curve.unit(g.Longest)
	moved := -(g.Moments.SlopeA*da + g.Moments.SlopeB*db) / g.Moments.A
	now := g.Moments.spread(g.WeightSD, s)
	g.Curve, g.Sums = c, rest
	g.Centre, g.LogSD, g.DoF = now.Centre+math.Min(math.Max(moved, -1), 1), now.Omega, now.DoF
	return g
}

// reference is what a run is judged against: curves of the middle normal part,
// and how normal parts scatter about it.
type reference struct {
	curve     Curve
	plausible []Curve
	runs      int
	logSD     float64 // from part to part
	sd        float64 // with the error of the centre
	dof       float64
	longest   float64
	wander    float64
}

// reference makes the group a reference for a run that is not in it. With
// fewer than three runs it is the maker's allowance, corrected by what runs
// there are; the curve is NoCurve where there is none.
func (g Group) reference(s Settings) reference {
	if g.Runs < minReferences || g.Curve.Form == NoCurve {
		return g.makerReference(s)
	}
	scale := math.Exp(g.Centre)
	ref := reference{
		curve: g.Curve.scaled(scale), runs: g.Runs, logSD: g.LogSD, dof: g.DoF, longest: math.Max(g.Longest, g.Allowance.Life),
		wander: g.Wander, sd: math.Hypot(g.LogSD, g.Moments.spread(g.WeightSD, s).Error),
	}
	for _, c := range g.Plausible {
		ref.plausible = append(ref.plausible, c.scaled(scale))
	}
	return ref
}

// makerReference is the maker's allowance as corrected by what runs there are.
func (g Group) makerReference(s Settings) reference {
	l := g.learnedFromMaker(s)
	if !l.FromMaker {
		return reference{}
	}
	c := Curve{Form: MakerAllowance, B: g.Allowance.PerHour * math.Exp(l.Centre)}
	return reference{
		curve: c, plausible: []Curve{c}, runs: g.Runs, logSD: l.LogSD, dof: l.DoF,
		sd: math.Hypot(l.LogSD, l.CentreSD), longest: math.Max(g.Longest, g.Allowance.Life),
	}
}

// W is the wear of the middle normal part after h hours of its run, in the
// length unit of its readings,
//
//	e^Centre W(h),  W that of Curve.W.
//
// It is 0 where the group has no curve, and for a group that Check refuses
// finite without meaning. Hours as in Curve.W. Source: by definition of the
// median of a lognormal distribution, NIST/SEMATECH e-Handbook 1.3.6.6.9.
func (g Group) W(h float64) float64 {
	if w := math.Exp(g.Centre) * g.Curve.W(h); math.Abs(w) <= mostWear {
		return w
	}
	return 0
}

// HoursAt inverts W: the hours at which the middle normal part shows the wear w,
// in the length unit of the readings. more is true where it takes longer than
// the hours returned, three times the longest run known or the overhaul life.
// Special cases as Curve.HoursAt. Source: by algebra; the reach is a choice.
func (g Group) HoursAt(w float64) (hours float64, more bool) {
	return g.Curve.scaled(math.Exp(g.Centre)).HoursAt(w, reach*math.Max(g.Longest, g.Allowance.Life))
}

// reach is how far beyond the longest run a curve is believed, in its hours.
// A choice, no source.
const reach = 3
