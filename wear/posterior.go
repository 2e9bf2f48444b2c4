package wear

import "math"

// cells is the number of cells a posterior of k is cut into, spans how many
// sd of ln k they reach to either side of the mode.
const (
	cells = 24
	spans = 4.0
)

// posterior is what is known of one run under one curve: y = Y + k (W - X) ± e
// with k in cells.
type posterior struct {
	curve   Curve
	line    line
	wander  float64
	priorSD float64        // of ln k beforehand
	k       [cells]float64 // middle of the cell
	half    [cells]float64 // variance of k within it
	chance  [cells]float64
}

// newPosterior multiplies the prior, ln k = sd·t with Student's t, by the
// normal likelihood of the run's slope, on a grid in ln k about the mode.
func newPosterior(points []Point, c Curve, ref reference) posterior {
	sd, dof := ref.sd, ref.dof
	p := posterior{curve: c, line: ratioLine(points, c, ref.wander), wander: ref.wander, priorSD: sd}
	z, curvature := logRatioMode(p.line.slope, p.line.sd, 0, 1/(sd*sd))
	width := 2 * spans / math.Sqrt(curvature) / cells
	z = studentMode(z, p.line, sd, dof)
	total, peak := 0.0, math.Inf(-1)
	var logf [cells]float64
	k, grow, wide := math.Exp(z-width*(cells-1)/2.0), math.Exp(width), 2*math.Sinh(width/2)
	for i := range cells {
		x := z + width*(float64(i)-(cells-1)/2.0)
		p.k[i] = k
		k *= grow
		e := (p.line.slope - p.k[i]) / p.line.sd
		logf[i] = -e*e/2 - (dof+1)/2*math.Log1p(x*x/(dof*sd*sd))
		peak = math.Max(peak, logf[i])
		dk := p.k[i] * wide
		p.half[i] = dk * dk / 12
	}
	for i := range cells {
		p.chance[i] = math.Exp(logf[i] - peak)
		total += p.chance[i]
	}
	for i := range cells {
		p.chance[i] /= total
	}
	return p
}

// studentMode moves the mode found for a normal prior to that of Student's.
func studentMode(z float64, l line, sd, dof float64) float64 {
	for range 8 {
		e, w := math.Exp(z), 1/(l.sd*l.sd)
		precision := (dof + 1) / (dof*sd*sd + z*z)
		step := ((l.slope-e)*e*w - z*precision) / (e*e*w + precision)
		z += math.Min(math.Max(step, -1), 1)
		if math.Abs(step) < 1e-4 {
			break
		}
	}
	return z
}

// reached is the chance that the dimension is at least y at h hours, measured
// with the variance u2 if it is more than 0.
func (p *posterior) reached(y, h, u2 float64) float64 {
	return p.reachedAt(y, p.curve.W(h), u2)
}

func (p *posterior) reachedAt(y, w, u2 float64) float64 {
	off := p.wander * w
	w -= p.line.x
	sum, fixed := 0.0, 1/p.line.weight+u2
	for i, chance := range p.chance {
		if chance < 1e-6 {
			continue
		}
		sum += chance * quickCDF((p.line.y+p.k[i]*w-y)/math.Sqrt(fixed+p.half[i]*w*w+p.k[i]*p.k[i]*off*off))
	}
	return sum
}

// middle is the mean of k.
func (p *posterior) middle() float64 {
	sum := 0.0
	for i, chance := range p.chance {
		sum += chance * p.k[i]
	}
	return sum
}

// belief is the run under each plausible curve, all equally likely.
type belief []posterior

// believe makes the belief for a run with at least one point. Each plausible
// curve is made to agree with the reference over the run's own hours: what the
// run shows of its ratio does not depend on the shape.
func believe(points []Point, ref reference) belief {
	from, to := points[0].Hours, points[len(points)-1].Hours
	if to-from <= smallest {
		from, to = 0, math.Max(to, ref.longest)
	}
	curves := ref.agreeing(from, to)
	b := make(belief, len(curves))
	for i, c := range curves {
		b[i] = newPosterior(points, c, ref)
	}
	return b
}

// agreeing are the plausible curves, each scaled to the wear of the reference
// between two hours; the reference's own curve where there are none.
func (r reference) agreeing(from, to float64) []Curve {
	want := r.curve.Between(from, to)
	curves := make([]Curve, 0, len(r.plausible))
	for _, c := range r.plausible {
		if has := c.Between(from, to); has > 0 && want > 0 {
			curves = append(curves, c.scaled(want/has))
		}
	}
	if len(curves) == 0 {
		curves = append(curves, r.curve)
	}
	return curves
}

// reached is the chance that the dimension is at least y at h hours.
func (b belief) reached(y, h, u2 float64) float64 {
	sum := 0.0
	for i := range b {
		sum += b[i].reached(y, h, u2)
	}
	return sum / float64(len(b))
}

// estimate is the mean of the dimension at h hours, and that of k.
func (b belief) estimate(h float64) (y, k float64) {
	for i := range b {
		p := &b[i]
		y += p.line.y + p.middle()*(p.curve.W(h)-p.line.x)
		k += p.middle()
	}
	n := float64(len(b))
	return y / n, k / n
}

// predict is the reading at h hours with the standard uncertainty u.
func (b belief) predict(h, u float64) Prediction {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range b {
		p := &b[i]
		off := p.wander * p.curve.W(h)
		w := p.curve.W(h) - p.line.x
		for j, chance := range p.chance {
			if chance < 1e-6 {
				continue
			}
			mid := p.line.y + p.k[j]*w
			wide := 6 * math.Sqrt(1/p.line.weight+u*u+p.half[j]*w*w+p.k[j]*p.k[j]*off*off)
			lo, hi = math.Min(lo, mid-wide), math.Max(hi, mid+wide)
		}
	}
	below := newDistribution(func(y float64) float64 { return 1 - b.reached(y, h, u*u) }, lo, hi)
	p := Prediction{Low: below.at(0.05), Median: below.at(0.50), High: below.at(0.95)}
	p.Low, p.High = math.Min(p.Low, p.Median), math.Max(p.High, p.Median) // each is found to within nearX only
	return p
}
