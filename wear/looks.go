package wear

// AmongLooks allows for looking at a part in several places: of n stations
// the one that looks worst would be found below a chance p about n times as
// often, so the chance is multiplied by n and the flag reconsidered. It errs
// on the quiet side where stations wear together.
//
// Source: Bonferroni's inequality; NIST/SEMATECH e-Handbook 7.4.7.3.
func (j Judgement) AmongLooks(n int, s Settings) Judgement {
	j.Looks = max(n, 1)
	j.Whole = j.Whole.amongLooks(float64(j.Looks), s)
	j.Interval = j.Interval.amongLooks(float64(j.Looks), s)
	j.decide()
	return j
}
