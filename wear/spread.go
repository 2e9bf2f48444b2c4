package wear

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// Moments are what the reference parts say of the spread of normal parts. Each
// part is a log-ratio x with the weight a = 1/(ω² + v), v its measurement
// variance. The sums add up and can be taken away again.
type Moments struct {
	N               float64 // parts counted
	A, AX           float64 // Σa, Σax
	A2, A2X         float64 // Σa², Σa²x
	A2XX, A2V       float64 // Σa²x², Σa²v
	SlopeA          float64 // Σa ∂lnW/∂A of the curve
	SlopeB          float64 // Σa ∂lnW/∂B
	PriorA, PriorAX float64 // Σa, Σax of the log-ratio to the maker's allowance
}

// plus returns m + sign·o.
func (m Moments) plus(o Moments, sign float64) Moments {
	m.N += sign * o.N
	m.A += sign * o.A
	m.AX += sign * o.AX
	m.A2 += sign * o.A2
	m.A2X += sign * o.A2X
	m.A2XX += sign * o.A2XX
	m.A2V += sign * o.A2V
	m.SlopeA += sign * o.SlopeA
	m.SlopeB += sign * o.SlopeB
	m.PriorA += sign * o.PriorA
	m.PriorAX += sign * o.PriorAX
	return m
}

// momentsOf is one part's share.
func momentsOf(r reading, omega float64) Moments {
	a2, v := r.a*r.a, math.Max(1/r.a-omega*omega, 0)
	return Moments{N: 1, A: r.a, AX: r.a * r.x, A2: a2, A2X: a2 * r.x, A2XX: a2 * r.x * r.x, A2V: a2 * v}
}

// spread is the distribution of ln k over normal parts.
type spread struct {
	Centre float64
	Omega  float64 // log-sd from part to part
	Error  float64 // standard error of the centre
	DoF    float64
}

// spread blends the parts with the prior, see Group.Learned: the likelihood
// equations of a normal spread seen with errors v, so that a badly measured part
// counts less instead of being cut at some error. κ takes off that those beyond
// Trim are left out, so that the spread of many parts is not taken too narrow
// for that. At ω_was the weights were made.
func (m Moments) spread(was float64, s Settings) spread {
	l := m.learn(was, s)
	return spread{Centre: l.Centre, Omega: l.LogSD, Error: l.CentreSD, DoF: l.DoF}
}

// keptVariance is the variance that a standard normal distribution keeps when
// it is cut off at trim to either side:
//
//	1 - 2 trim φ(trim) / (2Φ(trim) - 1).
func keptVariance(trim float64) float64 {
	density := math.Exp(-trim*trim/2) / math.Sqrt(2*math.Pi)
	return 1 - 2*trim*density/math.Erf(trim/math.Sqrt2)
}

// mostCentre bounds the centre of ln k, which a curve fitted to the same parts
// keeps near 0, and its log-sd and error: what is beyond is noise, and must not
// overflow.
const mostCentre = 10

// mostSum bounds what sums and moments add up to: a million readings of the
// least uncertainty and the largest length and hours.
const mostSum = 1e66

// check returns ErrNotFinite or ErrRange.
func (m Moments) check() error {
	if err := checkNumbers(m.N); err != nil {
		return err
	}
	return checkWithin(mostSum, m.A, m.AX, m.A2, m.A2X, m.A2XX, m.A2V, m.SlopeA, m.SlopeB, m.PriorA, m.PriorAX)
}

// reading is a part's log-ratio as the spread sees it: the value x and the
// weight a of a normal observation that would pull the centre and the spread
// just as the part's own likelihood does.
type reading struct{ x, a float64 }

const hermiteNodes = 7

var hermiteX, hermiteW = hermite(hermiteNodes)

// hermite returns the nodes and the weights times e^(x²).
func hermite(n int) (x, w []float64) {
	x, w = make([]float64, n), make([]float64, n)
	quad.Hermite{}.FixedLocations(x, w, math.Inf(-1), math.Inf(1))
	for i := range x {
		w[i] *= math.Exp(x[i] * x[i])
	}
	return x, w
}

// read turns the ratio k ± s into a reading, given that ln k of normal parts
// is centre ± omega. Well measured it is ln k with variance (s/k)². Otherwise,
// and for k ≤ 0, the posterior mean and variance of ln k are found by
// Gauss-Hermite quadrature about the mode, and
//
//	a = (1 - V/ω²) / ω²,  x = centre + (mean - centre) / (a ω²).
func read(k, s, centre, omega float64) reading {
	o2 := omega * omega
	if k > 20*s {
		return reading{math.Log(k), 1 / (o2 + s*s/(k*k))}
	}
	mode, curvature := logRatioMode(k, s, centre, 1/o2)
	step := math.Sqrt(2 / curvature)
	logf := func(z float64) float64 {
		e, d := (k-math.Exp(z))/s, (z-centre)/omega
		return -(e*e + d*d) / 2
	}
	peak := logf(mode)
	var sum, sumX, sumXX float64
	for i, x := range hermiteX {
		f := hermiteW[i] * math.Exp(math.Min(logf(mode+step*x)-peak, 50))
		sum += f
		sumX += f * x
		sumXX += f * x * x
	}
	shift := sumX / sum
	mean, variance := mode+step*shift, step*step*math.Max(sumXX/sum-shift*shift, 0)
	a := math.Min(math.Max(1-variance/o2, 0.02), 1) / o2
	x := (mean - centre) / (a * o2)
	return reading{centre + math.Min(math.Max(x, -2*mostCentre), 2*mostCentre), a}
}

// logRatioMode finds the z = ln k that is likeliest for the measured ratio
// k ± s and the prior centre with precision, by damped Gauss-Newton steps, and
// the curvature of the log density there, taken positive.
func logRatioMode(k, s, centre, precision float64) (z, curvature float64) {
	z = math.Log(math.Max(k, 0.1*math.Exp(centre)))
	w := 1 / (s * s)
	for range 8 {
		e := math.Exp(z)
		gradient := (k-e)*e*w - (z-centre)*precision
		step := gradient / (e*e*w + precision)
		z += math.Min(math.Max(step, -1), 1)
		if math.Abs(step) < 1e-6 {
			break
		}
	}
	e := math.Exp(z)
	curvature = (2*e*e-k*e)*w + precision
	return z, math.Max(curvature, precision/2)
}

// member is a reference part: its ratio, and whether it counts among the
// normal ones.
type member struct {
	k, s float64
	reading
	out bool
}

// fitSpread fits centre and log-sd to the members, starting from the median,
// and leaves out those further than Trim log-sd from the centre. It returns
// the spread and the ω at which the members' weights were made.
func fitSpread(members []member, s Settings) (spread, float64) {
	now := startSpread(members, s)
	was := now.Omega
	for range 12 {
		was = now.Omega
		var m Moments
		for i := range members {
			p := &members[i]
			p.reading = read(p.k, p.s, now.Centre, was)
			p.out = math.Abs(p.x-now.Centre)*math.Sqrt(p.a) > s.Trim
			if !p.out {
				m = m.plus(momentsOf(p.reading, was), 1)
			}
		}
		before := now
		now = m.spread(was, s)
		if math.Abs(now.Centre-before.Centre)+math.Abs(now.Omega-before.Omega) < 1e-4*now.Omega {
			break
		}
	}
	return now, was
}

// startSpread takes the median log-ratio of the clearly measured members and,
// where that is wider than the prior, 1.4826 times the median distance from it
// (the factor that makes it a standard deviation for normal data; from memory)
// less the gauge's part.
func startSpread(members []member, s Settings) spread {
	start := spread{Omega: s.PriorLogSD}
	logs, errors := make([]float64, 0, len(members)), 0.0
	for _, m := range members {
		if m.s <= s.ClearSD {
			logs = append(logs, math.Log(math.Max(m.k, 0.05)))
			errors += m.s * m.s
		}
	}
	if len(logs) < 3 {
		return start
	}
	slices.Sort(logs)
	start.Centre = logs[len(logs)/2]
	for i := range logs {
		logs[i] = math.Abs(logs[i] - start.Centre)
	}
	slices.Sort(logs)
	wide := 1.4826 * logs[len(logs)/2]
	start.Omega = math.Max(start.Omega, math.Sqrt(math.Max(wide*wide-errors/float64(len(logs)), 0)))
	return start
}
