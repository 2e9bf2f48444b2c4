package wear

import (
	"cmp"
	"math"
	"slices"
)

const (
	shareSteps = 11 // steps in the share of bedding-in for each time constant
	mostBedded = 1 - leastSteady
	quantiles  = 9 // curves that stand for all that are plausible
)

// candidate is a curve with its weight among the plausible ones.
type candidate struct {
	Curve
	loss, weight float64
	growth       float64 // wear at twice the longest hours over wear at those
}

// plausible returns curves, each as likely as the others, that stand for what
// the references leave open. Candidates are every time constant with every
// share of bedding-in among the wear at the longest hours, and every power;
// each is fitted by its height alone and weighed by e^-loss, with the prior
// even over shares, powers and the logarithms of the time constants, and half
// to either form. The maker's allowance, if the overhaul life is known, adds
// (ln W(life)/allowance)² / 2 AllowanceLogSD². Ordered by how much they grow
// beyond the longest run, the middle of each ninth is taken; where all are
// one curve, one. form is the one with more of the weight.
func (m *shapeSums) plausible(longest float64, a Allowance, s Settings) (curves []Curve, form Form) {
	var all [taus*shareSteps + powers]candidate
	found := all[:0]
	for j := range taus {
		found = m.bedded(found, j, longest)
	}
	for j := range powers {
		if c, loss, ok := m.curve(taus+j, longest); ok {
			found = append(found, candidate{Curve: c, loss: loss, weight: 1.0 / powers})
		}
	}
	least := math.Inf(1)
	for i := range found {
		c := &found[i]
		c.growth = c.W(2*longest) / c.W(longest)
		if a.PerHour > 0 && a.Life > 0 {
			off := math.Log(c.W(a.Life)/(a.PerHour*a.Life)) / s.AllowanceLogSD
			c.loss += off * off / 2
		}
		least = math.Min(least, c.loss)
	}
	total, bedded := 0.0, 0.0
	for i := range found {
		c := &found[i]
		c.weight *= math.Exp(least - c.loss)
		total += c.weight
		if c.Form == BeddingIn {
			bedded += c.weight
		}
	}
	form = PowerLaw
	if bedded > 0.5*(1+1e-6)*total {
		form = BeddingIn
	}
	slices.SortFunc(found, func(a, b candidate) int { return cmp.Compare(a.growth, b.growth) })
	return pick(found, total), form
}

// bedded adds the candidates of one time constant: shares of bedding-in
// spread evenly over three standard errors to either side of the best.
func (m *shapeSums) bedded(found []candidate, j int, longest float64) []candidate {
	tau := shapeTau(j, longest)
	bed := -math.Expm1(-longest / tau)
	fit := func(share float64) (loss, c float64) {
		_, loss, c = m[j].along(share/bed, (1-share)/longest)
		return loss, c
	}
	best, _, ok := m.curve(j, longest)
	if !ok {
		return found
	}
	middle := math.Min(best.A*bed/best.W(longest), mostBedded)
	from, to := shareRange(middle, func(share float64) float64 { loss, _ := fit(share); return loss })
	for i := range shareSteps {
		share := from + (to-from)*(float64(i)+0.5)/shareSteps
		if loss, c := fit(share); c > 0 {
			found = append(found, candidate{
				Curve:  Curve{Form: BeddingIn, A: c * share / bed, Tau: tau, B: c * (1 - share) / longest},
				loss:   loss,
				weight: (to - from) / (taus * shareSteps),
			})
		}
	}
	return found
}

// shareRange is where the shares of bedding-in near the best lie, by the
// curvature of the loss there; all of them where it is flat.
func shareRange(best float64, loss func(float64) float64) (from, to float64) {
	const step = 0.01
	mid := math.Min(math.Max(best, step), mostBedded-step)
	curvature := (loss(mid-step) - 2*loss(mid) + loss(mid+step)) / (step * step)
	width := 1.0
	if curvature > 9 {
		width = 3 / math.Sqrt(curvature)
	}
	from, to = math.Max(best-width, 0), math.Min(best+width, mostBedded)
	if to-from < 1e-9 {
		from = math.Max(to-1e-9, 0)
	}
	return from, to
}

// alike is the difference in growth below which curves count as one.
const alike = 0.01

// pick takes the middle of each of quantiles equal shares of the total weight,
// or one curve, the middle one, where all of those are alike.
func pick(found []candidate, total float64) []Curve {
	var chosen [quantiles]candidate
	n, sum := 0, 0.0
	for _, c := range found {
		sum += c.weight
		for n < quantiles && sum*quantiles*2 >= total*float64(2*n+1) {
			chosen[n] = c
			n++
		}
	}
	if n == quantiles && chosen[n-1].growth-chosen[0].growth < alike {
		return []Curve{chosen[n/2].Curve}
	}
	curves := make([]Curve, 0, quantiles)
	for _, c := range chosen[:n] {
		curves = append(curves, c.Curve)
	}
	return curves
}
