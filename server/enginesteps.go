package server

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// engineLetters are what the letters in engineSteps stand for.
var engineLetters = []string{
	"x: ln of the ratio common to the engine's parts; k = e^x. A: the weight of that, so that x ± 1/√A is what the parts say of it.",
	"kᵢ ± sᵢ: the ratio that each part shows, with the gauge's error. ω: log-sd by which normal parts scatter, as Student's t. m: the likeliest x, with V beforehand.",
	"τ: log-sd between normal engines. q: the shares of the other engines in the reference, so that Σq² is 1 for one engine and small for many; 0 where the reference is the maker's.",
	"c: what is open of the reference, its centre and its curve. V: the variance of x that a normal engine has.",
	"ν: degrees of freedom, of τ and of the normal parts, and of the whole.",
}

// whole fills in what an engine's parts show together. How it was worked out is
// told of what stands open on the page, and of all when that is asked for.
func (s *Server) whole(r *http.Request, engine int64, p *views.Engine) error {
	ws, err := s.book.EngineWearOf(r.Context(), engine)
	if err != nil {
		return err
	}
	ws = slices.DeleteFunc(ws, func(w store.EngineWear) bool { return w.State == wear.TooFewReadings || w.State == wear.NoReference })
	if len(ws) == 0 {
		return nil
	}
	for _, w := range ws {
		p.Whole = append(p.Whole, wholeWear(w))
	}
	told := min(views.WholeShown(p.Whole), len(ws))
	if r.URL.Query().Get("whole") == "all" {
		told = len(ws)
	}
	beforehand := wear.DefaultSettings()
	p.WholeWorked = &views.WholeWorked{Letters: engineLetters, More: len(ws) - told, MoreHref: href("/engines/", engine, "?whole=all#whole-worked"), Assumed: []string{
		fmt.Sprintf("Before any engine was measured, normal engines are taken to differ by a log-sd of %.2g, worth %.2g engines: a choice, no source.", beforehand.PriorEngineLogSD, beforehand.PriorEngines),
		"The parts of one engine scatter about what they share as normal parts do.",
	}}
	for i, w := range ws[:told] {
		if w, err = s.book.ExplainEngine(r.Context(), w); err != nil {
			return err
		}
		p.Whole[i] = wholeWear(w)
		p.WholeWorked.Groups = append(p.WholeWorked.Groups, views.StepGroup{Title: wholeWhat(w), Steps: engineSteps(w)})
	}
	return nil
}

// engineSteps are one judgement of an engine, each step with its numbers.
func engineSteps(w store.EngineWear) []views.WorkedStep {
	var (
		c, own  = w.CentreSD * w.CentreSD, w.MeasuredLogSD * w.MeasuredLogSD
		engines = w.EngineLogSD * w.EngineLogSD * (1 + w.Crowd)
		against = counted(w.OtherEngines, "other engine") + " and " + counted(w.ReferenceRuns, "run")
	)
	if w.ByAllowance {
		against = "the maker's wear allowance and " + counted(w.ReferenceRuns, "run")
	}
	steps := []views.WorkedStep{
		{Text: "ratio common to the parts", Equation: "xᵢ = ln kᵢ, vᵢ = (sᵢ/kᵢ)², of a badly measured part the normal observation that says the same; aᵢ = (ν + 1)/(ν + (xᵢ − m)²/(ω² + vᵢ)) / (ω² + vᵢ), ν = ν(parts); A = Σaᵢ, x = Σaᵢxᵢ/A, m = xA/(A + 1/V); k = e^x, 90 %: e^(x ± 1.645/√A)", Source: "Worked out for this purpose, tried by simulation; no published source",
			Numbers: fmt.Sprintf("%s, %d faster than a normal part, against %s: %s; ω = %.3g: x = %.3g, A = %.3g, k = %.3g (90 %%: %.3g to %.3g)", counted(w.Parts, "part"), w.Faster, against, partRatios(w.Ratios), w.PartLogSD, w.LogRatio, 1/own, w.Ratio, w.RatioLow, w.RatioHigh)},
		{Text: "spread of normal engines", Equation: "V = τ²(1 + Σq²) + c²", Source: "Variances add: JCGM 100 (GUM) 5.1.2",
			Numbers: fmt.Sprintf("τ = %.3g, Σq² = %.3g, c = %.3g: V = %.3g", w.EngineLogSD, w.Crowd, w.CentreSD, engines+c)},
		{Text: "degrees of freedom", Equation: "ν = (V + 1/A)² / ((τ²(1 + Σq²))²/ν(τ) + (c⁴ + 1/A²)/ν(parts))", Source: "Welch and Satterthwaite: JCGM 100 (GUM) G.4.1",
			Numbers: fmt.Sprintf("V + 1/A = %.3g, ν(τ) = %.3g, ν(parts) = %.3g: ν = %.3g", engines+c+own, w.EngineDoF, w.PartDoF, w.DoF)},
		{Text: "chance", Equation: "p = P(t > x / √(V + 1/A)), Student's t with ν degrees of freedom", Source: "Student's t: NIST/SEMATECH e-Handbook 1.3.6.7",
			Numbers: fmt.Sprintf("%.3g / √%.3g = %.3g, ν = %.3g: p = %s", w.LogRatio, engines+c+own, w.LogRatio/w.PredictiveSD, w.DoF, plainNumber(w.Alone))},
	}
	if w.Looks > 1 {
		steps = append(steps, views.WorkedStep{Text: "several stations", Equation: "p times the number of stations looked at, at most 1", Source: "Bonferroni's inequality, NIST/SEMATECH e-Handbook 7.4.7.3",
			Numbers: fmt.Sprintf("%s × %d: p = %s", plainNumber(w.Alone), w.Looks, plainNumber(w.P))})
	}
	return steps
}

// partRatios lists the ratio that each part shows.
func partRatios(rs []wear.PartRatio) string {
	texts := make([]string, len(rs))
	for i, r := range rs {
		texts[i] = fmt.Sprintf("%.3g ± %.2g", r.Ratio, r.SD)
	}
	return strings.Join(texts, ", ")
}
