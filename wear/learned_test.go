package wear

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// What is told of a fit is enough to reckon it again: from the log-ratios of the
// parts alone, with the weighted mean of gonum/stat and the equations in the
// comment of Learned, come centre and spread. Also with a run taken away, where the curve
// has moved.
func TestLearnedIsTheFit(t *testing.T) {
	runs, _ := fleet(5, 2, 3)
	s := DefaultSettings()
	g, shares, err := FitGroup(runs, Allowance{PerHour: 3e-6, Life: 1500}, s)
	if err != nil {
		t.Fatal(err)
	}
	without, err := g.Without(shares[4], s)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what string
		g    Group
		out  int
	}{{"all", g, -1}, {"one taken away", without, 4}} {
		l, err := c.g.Learned(s)
		if err != nil || l.FromMaker {
			t.Fatalf("%s: %+v, %v", c.what, l, err)
		}
		var x, v, a, a2 []float64
		for i := range shares {
			xi, vi, ai, ok := shares[i].LogRatio()
			if ok && i != c.out {
				x, v, a, a2 = append(x, xi), append(v, vi), append(a, ai), append(a2, ai*ai)
				near(t, c.what+", weight", ai, 1/(l.WeightSD*l.WeightSD+vi), 1e-9)
			}
		}
		if len(x) < 12 || float64(len(x)) != l.Moments.N {
			t.Fatalf("%s: %d parts, of which %g count", c.what, len(x), l.Moments.N)
		}
		centre := stat.Mean(x, a)
		near(t, c.what+", centre", l.Centre, centre, 1e-9)
		var off []float64
		kept := 1 - 2*s.Trim*distuv.UnitNormal.Prob(s.Trim)/(2*distuv.UnitNormal.CDF(s.Trim)-1)
		sumA, n := 0.0, 0.0
		for i := range x {
			off = append(off, (x[i]-centre)*(x[i]-centre)/kept-v[i])
			sumA += a[i]
			n += math.Pow(a[i]*l.WeightSD*l.WeightSD, 2)
		}
		seen := stat.Mean(off, a2) + 1/sumA
		near(t, c.what+", variance seen", l.Seen, seen, 1e-9)
		near(t, c.what+", parts less one", l.More, n-1, 1e-9)
		near(t, c.what+", error of the centre", l.CentreSD, 1/math.Sqrt(sumA), 1e-9)
		near(t, c.what+", spread", c.g.LogSD, math.Sqrt((s.PriorParts*s.PriorLogSD*s.PriorLogSD+(n-1)*seen)/(s.PriorParts+n-1)), 1e-9)
		near(t, c.what+", middle", c.g.Centre, centre+l.Moved, 1e-12)
		near(t, c.what+", degrees of freedom", l.DoF, s.PriorParts+float64(len(x))-1, 0)
		if (l.Moved != 0) != (c.out >= 0) {
			t.Errorf("%s: the curve has moved the centre by %g", c.what, l.Moved)
		}
	}
}

// About the maker's allowance two parts are two normal observations of a normal
// unknown: their mean, weighed by 1/(ω₀² + (s/k)²), against 0 weighed by
// 1/(0.7² - 0.35²). Source: mean of a normal distribution with known variance, conjugate prior
// (Gelman et al., Bayesian Data Analysis, 2.5; from memory).
func TestLearnedFromMaker(t *testing.T) {
	s := DefaultSettings()
	a := Allowance{PerHour: 1e-5}
	var runs []Run
	var weight, sum float64
	for _, k := range []float64{0.6, 0.9} {
		const u = 1e-5
		runs = append(runs, Run{Points: []Point{{Hours: 0, Y: 5, U: u}, {Hours: 500, Y: 5 + k*500*a.PerHour, U: u}}})
		sd := u * math.Sqrt2 / (500 * a.PerHour)
		w := 1 / (0.35*0.35 + sd*sd/(k*k))
		weight, sum = weight+w, sum+w*math.Log(k)
	}
	g, _, err := FitGroup(runs, a, s)
	if err != nil {
		t.Fatal(err)
	}
	l, err := g.Learned(s)
	if err != nil || !l.FromMaker {
		t.Fatalf("%+v, %v", l, err)
	}
	all := weight + 1/(0.7*0.7-0.35*0.35)
	near(t, "centre", l.Centre, sum/all, 1e-6)
	near(t, "its error", l.CentreSD, 1/math.Sqrt(all), 1e-6)
	if l.LogSD != 0.35 || l.DoF != 8 {
		t.Errorf("spread %g with %g degrees of freedom", l.LogSD, l.DoF)
	}
	if l, err := (Group{}).Learned(s); err != nil || l != (Learned{}) {
		t.Errorf("of nothing: %+v, %v", l, err)
	}
}

// A forecast can be reckoned again from what is told of it: the chance to have
// reached the limit, integrated over k in the finest steps with gonum's
// distributions, is 5, 50 and 95 % at the hours told, to the hundredth that the
// grid of Foretold is good for. For a run as a whole, for one with a late
// change, and for a group whose readings wander.
func TestForetoldIsTheForecast(t *testing.T) {
	s := DefaultSettings()
	refs := references(0, 120, 260, 500)
	late := runAt(bedded, 1, 0, 120, 260, 400)
	late.Points[3].Y += 0.004
	q := Question{Limit: 5.012, HasLimit: true}
	wandering := make([]Run, len(refs))
	rng := rand.New(rand.NewPCG(3, 1))
	for i, r := range references(0, 120, 260, 500, 800, 1100) {
		for _, p := range r.Points {
			p.Y += 0.2 * bedded.W(p.Hours) * rng.NormFloat64()
			wandering[i].Points = append(wandering[i].Points, p)
		}
	}
	for _, c := range []struct {
		what string
		refs []Run
		run  Run
		test string
	}{
		{"a fast part", refs, runAt(bedded, 1.6, 0, 120, 260), WholeRun},
		{"a part whose last interval is bad", refs, late, LastInterval},
		{"a part among wandering ones", wandering, runAt(bedded, 1.2, 0, 120, 260), WholeRun},
	} {
		g, _, err := FitGroup(c.refs, Allowance{}, s)
		if err != nil {
			t.Fatal(err)
		}
		j, err := g.Judge(c.run, nil, q, s)
		if err != nil {
			t.Fatal(err)
		}
		f, err := g.Foretold(c.run, nil, q, s)
		if err != nil || len(f.Curves) == 0 || j.Forecast == nil || j.Forecast.Test != c.test || !(j.Forecast.Median > 0) {
			t.Fatalf("%s: %+v of %+v, %v", c.what, f, j.Forecast, err)
		}
		if (f.Wander > 0) != (c.what == "a part among wandering ones") {
			t.Errorf("%s: wander %g", c.what, f.Wander)
		}
		for _, at := range []struct{ hours, want float64 }{{j.Forecast.Low, 0.05}, {j.Forecast.Median, 0.5}, {j.Forecast.High, 0.95}} {
			sum := 0.0
			for _, l := range f.Curves {
				sum += reachedBy(f, l, q.Limit, j.Forecast.From+at.hours)
			}
			near(t, c.what+", chance that the limit is reached", sum/float64(len(f.Curves)), at.want, 0.012/at.want)
		}
		var low, mid, high, ratio float64
		for _, l := range f.Curves {
			low, mid, high, ratio = low+l.Low, mid+l.Median, high+l.High, ratio+l.Ratio
		}
		n := float64(len(f.Curves))
		near(t, c.what+", mean at the first", low/n, 0.05, 0.01)
		near(t, c.what+", mean in the middle", mid/n, 0.5, 0.01)
		near(t, c.what+", mean at the last", high/n, 0.95, 0.01)
		near(t, c.what+", mean k", ratio/n, j.Forecast.Ratio, 1e-9)
	}
	if f, err := (Group{}).Foretold(late, nil, q, s); err != nil || len(f.Curves) != 0 {
		t.Errorf("of nothing: %+v, %v", f, err)
	}
}

// reachedBy is F(h) of the comment of Foretold under one curve.
func reachedBy(f Foretold, l LikelyCurve, limit, h float64) float64 {
	before := distuv.StudentsT{Mu: 0, Sigma: f.PriorSD, Nu: f.DoF}
	seen := distuv.Normal{Mu: l.Slope, Sigma: l.SlopeSD}
	w := l.Curve.W(h)
	total, reached := 0.0, 0.0
	for z := -8.0; z < 8; z += 0.0005 {
		k := math.Exp(z)
		p := before.Prob(z) * seen.Prob(k)
		sd := math.Hypot(l.YSD, k*f.Wander*w)
		total += p
		reached += p * distuv.UnitNormal.CDF((l.Y+k*(w-l.X)-limit)/sd)
	}
	return reached / total
}
