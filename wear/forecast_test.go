package wear

import (
	"math"
	"testing"
)

// A ring coating measured 0.382 mm new and 0.367 mm after 1,500 h, minimum
// 0.050 mm, wears 0.010 mm in 1,000 h and lasts 31,700 h more.
//
// Source: WinGD X92 maintenance manual 3425-1, worked example.
func TestRingCoating(t *testing.T) {
	ring := Run{Points: []Point{{Hours: 0, Y: -0.382}, {Hours: 1500, Y: -0.367}}}
	g, _, err := FitGroup(nil, Allowance{PerHour: 2e-5}, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	j, err := g.Judge(ring, nil, Question{Limit: -0.050, HasLimit: true}, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mm in 1,000 h", 1000*j.Wear/j.Hours, 0.010, 1e-9)
	near(t, "hours left", j.Forecast.Median, 31700, 1e-4)
	near(t, "at least", j.Forecast.Low, 31700, 1e-4)
	near(t, "at most", j.Forecast.High, 31700, 1e-4)
	near(t, "size now", j.Forecast.Now, -0.367, 1e-9) // as measured
	near(t, "ratio ahead", j.Forecast.Ratio, j.Ratio, 1e-4)
	if j.Forecast.From != 1500 {
		t.Errorf("looks ahead from %g h", j.Forecast.From)
	}
}

// A part measured exactly along a known curve reaches its limit when the curve
// says so.
func TestForecastFollowsCurve(t *testing.T) {
	ref := reference{curve: bedded, plausible: []Curve{bedded}, sd: 0.35, logSD: 0.35, dof: 20, longest: 1000}
	run := Run{Points: []Point{{Hours: 0, Y: 5}, {Hours: 500, Y: 5 + 1.4*bedded.W(500)}}}
	limit := 5 + 1.4*bedded.W(1300)
	q := Question{Limit: limit, HasLimit: true, Life: 1290, NextIn: 810}
	j := ref.judge(run, q, DefaultSettings())
	near(t, "hours left", j.Forecast.Median, 800, 1e-3)
	near(t, "chance of the life", j.Forecast.ReachLife, 1, 1e-6)
	near(t, "chance of the next", j.Forecast.ReachNext, 0, 1e-6)
	q.Limit = 5 + bedded.W(500)
	if j := ref.judge(run, q, DefaultSettings()); !j.Forecast.Beyond || j.Forecast.Median != 0 {
		t.Errorf("past the limit: %+v", j.Forecast)
	}
}

// Reading again after the hours asked for does tell: on the expected curve the
// error of the ratio comes down to what was wanted.
func TestReadAgainAfter(t *testing.T) {
	refs := references(0, 120, 260)
	young := judgeAmong(t, append(refs, runAt(bedded, 1, 0, 5)), Question{Limit: 5.005, HasLimit: true}, Allowance{})
	if young.State != TooYoung || !(young.MoreHours > 0) {
		t.Fatalf("%v, %g h more", young.State, young.MoreHours)
	}
	later := judgeAmong(t, append(refs, runAt(bedded, 1, 0, 5, 5+young.MoreHours)), Question{Limit: 5.005, HasLimit: true}, Allowance{})
	near(t, "error of the ratio", later.RatioSD, DefaultSettings().ClearSD, 1e-3)

	still := judgeAmong(t, append(refs, runAt(bedded, 0.01, 0, 120)), Question{Limit: 5.005, HasLimit: true}, Allowance{})
	f := still.Forecast
	if f.CanSay || !(f.ReadAgainAfter > 0) || f.Median != 0 {
		t.Errorf("forecast of a part that shows no wear: %+v", f)
	}
}

// The posterior's mean of k with a normal likelihood and a prior of Student's t
// in ln k, against a fine rule of rectangles reckoned here. The cells are coarse:
// a hundredth is what they are good for.
func TestPosteriorMean(t *testing.T) {
	for _, c := range []struct{ k, s float64 }{{1, 0.1}, {4, 0.4}, {0.2, 0.6}, {-0.5, 0.5}, {6, 2}} {
		const sd, dof = 0.36, 15
		ref := reference{curve: Curve{Form: MakerAllowance, B: 1}, sd: sd, dof: dof}
		u := c.s / math.Sqrt2
		p := newPosterior([]Point{{Hours: 0, Y: 0, U: u}, {Hours: 1, Y: c.k, U: u}}, ref.curve, ref)
		sum, mean := 0.0, 0.0
		for z := -6.0; z < 4; z += 0.001 {
			e := (c.k - math.Exp(z)) / c.s
			f := math.Exp(-e*e/2) * math.Pow(1+z*z/(dof*sd*sd), -(dof+1)/2.0)
			sum, mean = sum+f, mean+f*math.Exp(z)
		}
		near(t, "mean of k", p.middle(), mean/sum, 0.01)
	}
}

// A new part is foretold as a normal one: by the band of normal wear, but for
// the plausible curves, which agree with the best at the longest hours only.
func TestPredictNewPart(t *testing.T) {
	g, _, err := FitGroup(references(0, 120, 260, 500), Allowance{}, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	p, err := g.PredictReading(Run{Points: []Point{{Y: 5, U: 1e-7}}}, nil, 260, 1e-7, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	low, high, err := g.Band(260, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "median", (p.Median-5)/g.W(260), 1, 0.05)
	near(t, "low", (p.Low-5)/low, 1, 0.1)
	near(t, "high", (p.High-5)/high, 1, 0.1)
}
