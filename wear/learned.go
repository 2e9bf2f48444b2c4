package wear

import (
	"errors"
	"fmt"
	"math"
)

// Learned is how the middle of a group's normal parts and their spread came
// about, with every number used. All are of the logarithm of the ratio k.
type Learned struct {
	FromMaker bool    // the maker's allowance stands for the curve: too few parts were measured
	Moments   Moments // the sums over the parts
	WeightSD  float64 // ω_was, the log-sd at which the parts' weights were made
	Kept      float64 // κ, the variance that is kept of normal parts within Settings.Trim
	Seen      float64 // ω̂², the variance the parts show; below 0 where the gauge explains more than all
	More      float64 // n - 1, what Seen counts for: the parts, each by how well it was measured, less one

	Centre   float64 // of the parts or, from the maker, of ln of the wear over the allowance
	CentreSD float64 // its standard error
	Moved    float64 // added to Centre because the curve moved when a run's share was taken away
	LogSD    float64 // ω, from part to part
	DoF      float64 // of Student's t
}

// Learned tells how the spread of the group's normal parts was learned from
// them and from what is expected beforehand:
//
//	centre = Σax/Σa,  its standard error 1/√Σa,
//	ω̂²     = Σa² ((x - centre)²/κ - v + 1/Σa) / Σa²,
//	ω²     = (ν₀ ω₀² + (n-1) ω̂²) / (ν₀ + n - 1),  n = Σ(a ω_was²)²,
//
// x a part's ln k, v its variance by measurement, a = 1/(ω_was² + v), parts
// beyond Settings.Trim left out; κ = 1 - 2 T φ(T)/(2Φ(T) - 1) is the variance a
// normal distribution keeps within T = Trim; ω₀ = PriorLogSD worth ν₀ =
// PriorParts parts. Degrees of freedom: ν₀ + parts - 1. A negative ω̂² counts as 0.
//
// With fewer than three parts FromMaker is true: about the maker's allowance,
// ln of normal wear over it is beforehand 0 with the variance AllowanceLogSD² -
// ω₀², and centre = Σax/(Σa + 1/that variance), the sums of PriorA and PriorAX;
// the spread is ω₀ with ν₀ degrees of freedom. Without curve and allowance all is 0.
//
// s are the settings of the fit. Errors: those of Check, and ErrSettings. Source:
// variance components by their likelihood equations (common practice); κ is the
// variance of a truncated normal distribution (Johnson, Kotz and Balakrishnan,
// Continuous Univariate Distributions, 13.10.1; from memory); the blend was worked out for
// this purpose and tried by simulation (BenchmarkSimulation), no published source.
func (g Group) Learned(s Settings) (Learned, error) {
	if err := errors.Join(s.check(), g.Check()); err != nil {
		return Learned{}, fmt.Errorf("tell what a group learned: %w", err)
	}
	if g.Runs < minReferences || g.Curve.Form == NoCurve {
		return g.learnedFromMaker(s), nil
	}
	l := g.Moments.learn(g.WeightSD, s)
	l.Moved, l.LogSD, l.DoF = g.Centre-l.Centre, g.LogSD, g.DoF
	if err := checkWithin(mostSum, l.Seen, l.More, l.CentreSD, l.DoF); err != nil {
		return Learned{}, fmt.Errorf("tell what a group of odd numbers learned: %w", err)
	}
	return l, nil
}

// learnedFromMaker: ln of normal wear over the allowance is beforehand 0 with
// the variance AllowanceLogSD² - PriorLogSD², so that one part scatters by
// AllowanceLogSD, and each run seen is a normal observation of it.
func (g Group) learnedFromMaker(s Settings) Learned {
	if g.Allowance.PerHour <= 0 {
		return Learned{}
	}
	normal := s.PriorLogSD * s.PriorLogSD
	before := math.Max(s.AllowanceLogSD*s.AllowanceLogSD-normal, normal*1e-3)
	precision := 1/before + math.Max(g.Moments.PriorA, 0)
	centre := math.Min(math.Max(g.Moments.PriorAX/precision, -2*mostCentre), 2*mostCentre)
	return Learned{FromMaker: true, Moments: g.Moments, Centre: centre, CentreSD: 1 / math.Sqrt(precision), LogSD: s.PriorLogSD, DoF: s.PriorParts}
}

// learn is Learned of the moments alone, with weights made at was.
func (m Moments) learn(was float64, s Settings) Learned {
	l := Learned{Moments: m, WeightSD: was, Kept: keptVariance(s.Trim)}
	if m.N < 1 || !(m.A > smallest) || !(m.A2 > smallest) {
		l.CentreSD, l.LogSD, l.DoF = s.AllowanceLogSD, s.PriorLogSD, s.PriorParts
		return l
	}
	l.Centre = math.Min(math.Max(m.AX/m.A, -mostCentre), mostCentre)
	l.Seen = ((m.A2XX-2*l.Centre*m.A2X+l.Centre*l.Centre*m.A2)/l.Kept-m.A2V)/m.A2 + 1/m.A
	l.More = math.Max(m.A2*was*was*was*was-1, 0)
	omega2 := (s.PriorParts*s.PriorLogSD*s.PriorLogSD + l.More*math.Max(l.Seen, 0)) / (s.PriorParts + l.More)
	l.LogSD = math.Min(math.Sqrt(omega2), mostCentre)
	l.CentreSD = math.Min(math.Sqrt(1/m.A), mostCentre)
	l.DoF = s.PriorParts + m.N - 1
	return l
}

// LogRatio is what the run put into the spread of normal parts: ln k, its
// variance by measurement and its weight,
//
//	x = AX/A,  v = A2V/A2,  a = A = 1/(ω_was² + v),
//
// of the share's Moments. They are those of the normal observation that pulls as the run's
// own likelihood does: ln k and (s/k)² where k > 20 s. ok is false where the
// run does not count there: it has no reading after the baseline, or was left out as too far off.
// Source: by definition of Moments.
func (sh *Share) LogRatio() (x, v, a float64, ok bool) {
	m := sh.Moments
	if !sh.In || sh.Trimmed || !(m.A > smallest) || !(m.A2 > smallest) || sh.check() != nil {
		return 0, 0, 0, false
	}
	return m.AX / m.A, m.A2V / m.A2, m.A, true
}

// LikelyCurve is one of the curves, all equally likely, that a forecast is made
// along, with what the run's readings say under it.
type LikelyCurve struct {
	Curve   Curve   // agrees with the group's over the run's own hours
	X, Y    float64 // weighted means of W and of the readings used
	YSD     float64 // standard error of Y, 1/√Σw
	Slope   float64 // k of the readings alone
	SlopeSD float64
	Ratio   float64 // mean of k with the normal parts' spread beforehand
	RatioSD float64
	Low     float64 // chance that the limit is reached at the forecast's Low hours
	Median  float64 // at its Median
	High    float64 // at its High
}

// Foretold is what a forecast was made of: beforehand ln k is PriorSD times
// Student's t with DoF degrees of freedom.
type Foretold struct {
	PriorSD, DoF float64
	Wander       float64 // as Judgement.Wander
	Curves       []LikelyCurve
}

// Foretold tells what the forecast of Judge was made of, for the same run, own,
// question and settings. Under each curve the chance that the limit is reached
// h hours into the run is
//
//	F(h) = ∫ P(k) Φ((Y + k (W(h) - X) - limit) / √(YSD² + k² wander² W(h)²)) dk,
//	P(k) ∝ e^(-(Slope - k)²/2 SlopeSD²) (1 + (ln k)²/(ν PriorSD²))^(-(ν+1)/2) / k,
//
// and the forecast's hours are where the mean over the curves is 5, 50 and
// 95 %. P(k) is laid on a grid of 24 cells, good for a hundredth. Curves is
// empty where there is no forecast. Errors: those of Judge. Source: Bayes' theorem; the model
// was worked out for this purpose and tried by simulation, no published source.
func (g Group) Foretold(run Run, own *Share, q Question, s Settings) (Foretold, error) {
	if err := g.checkJudge(run, own, q, s); err != nil {
		return Foretold{}, fmt.Errorf("tell what a forecast was made of: %w", err)
	}
	j, b := g.withoutOne(own, s).reference(s).judged(run, q, s)
	if err := j.check(); err != nil || j.Forecast == nil {
		return Foretold{}, err
	}
	f := Foretold{Wander: j.Wander, PriorSD: b[0].priorSD, DoF: j.DoF}
	for i := range b {
		p := &b[i]
		k, sd := p.moments()
		at := func(hours float64) float64 { return p.reached(q.Limit, j.Forecast.From+hours, 0) }
		l := LikelyCurve{
			Curve: p.curve, X: p.line.x, Y: p.line.y, YSD: 1 / math.Sqrt(p.line.weight),
			Slope: p.line.slope, SlopeSD: p.line.sd, Ratio: k, RatioSD: sd,
			Low: at(j.Forecast.Low), Median: at(j.Forecast.Median), High: at(j.Forecast.High),
		}
		if err := errors.Join(l.Curve.Check(), checkWithin(mostJudged, l.X, l.Y, l.YSD, l.Slope, l.SlopeSD, l.Ratio, l.RatioSD, l.Low, l.Median, l.High)); err != nil {
			return Foretold{}, fmt.Errorf("tell what a forecast by a group of odd numbers was made of: %w", err)
		}
		f.Curves = append(f.Curves, l)
	}
	return f, nil
}

// moments are mean and standard deviation of k.
func (p *posterior) moments() (mean, sd float64) {
	mean = p.middle()
	sum := 0.0
	for i, chance := range p.chance {
		sum += chance * ((p.k[i]-mean)*(p.k[i]-mean) + p.half[i])
	}
	return mean, math.Sqrt(sum)
}
