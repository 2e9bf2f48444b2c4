package wear

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Sentence says the judgement in the words of a mechanic. since names what
// the run's hours count from, such as "installation" or "honing". Numbers that
// are not finite, which no judgement has, are written as a dash.
func (j Judgement) Sentence(since string) string {
	age := fmt.Sprintf("%s h since %s", thousands(math.Round(j.Hours)), since)
	switch j.State {
	case TooFewReadings:
		return age + ": too few readings to judge, it takes one more after some hours of running."
	case NoReference:
		return age + ": no verdict, nothing to compare it with yet."
	case TooYoung:
		if j.MoreHours <= 0 {
			return age + ": too young to judge, the gauge's error is larger than the wear."
		}
		return fmt.Sprintf("%s: too young to judge; a reading after %s more hours would tell.", age, upHours(j.MoreHours))
	case NoWearSeen:
		return age + ": no wear seen, the readings stand still within the gauge's error."
	}
	if j.Test == LastInterval {
		return age + "; " + j.lately() + "; " + j.overall() + "."
	}
	return fmt.Sprintf("%s, %s%s; %s%s.", age, j.baseline(), j.wornLike(), timesNormal(j.Ratio), chanceWords(j.State, j.P))
}

// lately says what the latest interval shows.
func (j Judgement) lately() string {
	return fmt.Sprintf("over the latest %s h it wore %s times as fast as a normal part%s",
		j.Interval.hours(), ratioText(j.Interval.Ratio), chanceWords(j.Interval.State, j.Interval.P))
}

// overall says, beside what the latest interval shows, what the whole run does.
func (j Judgement) overall() string {
	switch j.Whole.State {
	case Flagged, Normal:
		return "over its whole run, " + j.baseline() + timesNormal(j.Whole.Ratio)
	case NoWearSeen:
		return "over its whole run no wear seen"
	}
	return "its whole run cannot be judged yet"
}

// Sentence says what one test of a part shows.
func (t Tested) Sentence() string {
	over := "Whole run, " + t.hours() + " h"
	if t.Test == LastInterval {
		over = "Latest " + t.hours() + " h"
	}
	switch t.State {
	case TooFewReadings:
		if t.Test == LastInterval {
			return "Latest interval: it takes readings at three different hours."
		}
		return "Whole run: it takes readings at two different hours."
	case NoReference:
		return over + ": no verdict, nothing to compare it with yet."
	case TooYoung:
		return over + ": too little wear for this gauge to judge by."
	case NoWearSeen:
		return over + ": no wear seen, the readings stand still within the gauge's error."
	}
	return over + ": " + timesNormal(t.Ratio) + chanceWords(t.State, t.P) + "."
}

// hours are those between the readings of the test.
func (t Tested) hours() string { return thousands(math.Round(t.ToHours - t.FromHours)) }

// Sentence says what the parts of an engine show together. parts names them,
// such as "cylinders".
func (j EngineJudgement) Sentence(parts string) string {
	all := fmt.Sprintf("Whole engine, %d %s", j.Parts, parts)
	if j.State == NoReference {
		return "Whole engine: no verdict, nothing to compare its " + parts + " with yet."
	}
	switch j.State {
	case TooFewReadings:
		return fmt.Sprintf("%s: too few to judge, it takes %d with a reading after some hours of running.", all, minEngineParts)
	case TooYoung:
		return all + ": too young to judge, the gauge's error is too large for so little wear."
	case NoWearSeen:
		return all + ": no wear seen, the readings stand still within the gauge's error."
	}
	together := timesNormal(j.Ratio) + " of the other engines"
	if j.ByAllowance {
		together = ratioText(j.Ratio) + " times what the maker's allowance leads to expect, for want of other engines"
	}
	text := fmt.Sprintf("%s: together %s%s; %d of %d show more wear than expected", all, together, chanceWords(j.State, j.P), j.Faster, j.Parts)
	if j.State == Flagged {
		text += "; look for what they share, such as dust, cold starts or the rings fitted"
	}
	return text + "."
}

// chanceWords gives the chance where it tells a mechanic anything.
func chanceWords(s State, p float64) string {
	if s == Flagged || p < 0.05 {
		return ", chance " + OneIn(p)
	}
	return ""
}

// baseline says where the wear was counted from, if not from a reading.
func (j Judgement) baseline() string {
	if j.BaselineAssumed {
		return "counted from the middle of the new limits, "
	}
	return ""
}

func (j Judgement) wornLike() string {
	more := ""
	if j.EquivalentMore {
		more = "more than "
	}
	return fmt.Sprintf("worn like %s%s h", more, roundHours(j.EquivalentHours))
}

// ratioText writes a ratio with the digits it can bear.
func ratioText(ratio float64) string {
	if ratio >= 20 || math.IsNaN(ratio) || math.IsInf(ratio, 0) {
		return thousands(math.Round(ratio))
	}
	return strconv.FormatFloat(ratio, 'f', 1, 64)
}

// timesNormal says a ratio.
func timesNormal(ratio float64) string {
	text := ratioText(ratio)
	switch {
	case text == "1.0":
		return "as a normal part"
	case ratio < 1:
		return text + " of a normal part"
	}
	return text + " times a normal part"
}

// Sentence says how long the part has left, hours rounded to what they can
// bear: whole ones below 100, tens below 10,000, else two digits.
func (f Forecast) Sentence() string {
	switch {
	case f.Beyond:
		return "At or beyond the service limit now."
	case !f.CanSay && f.ReadAgainAfter > 0:
		return fmt.Sprintf("Cannot say yet how long it will last; a reading after %s more hours would.", upHours(f.ReadAgainAfter))
	case !f.CanSay:
		return "Cannot say yet how long it will last."
	}
	more := ""
	if f.Capped {
		more = "more than "
	}
	return fmt.Sprintf("About %s h to the service limit, between %s and %s%s h.",
		roundHours(f.Median), roundHours(f.Low), more, roundHours(f.High))
}

// OneIn writes a chance from 0 to 1 as "1 in 4,000", with two significant
// digits, and "less than 1 in 1,000,000" below that. Above 1 is 1; what is not
// a number is "not known". Source: common practice, no source.
func OneIn(p float64) string {
	if math.IsNaN(p) {
		return "not known"
	}
	if !(p > 1e-6) {
		return "less than 1 in 1,000,000"
	}
	n := 1 / math.Min(p, 1)
	if n < 10 {
		return "1 in " + strconv.FormatFloat(n, 'g', 2, 64)
	}
	return "1 in " + thousands(twoDigits(n))
}

// roundHours rounds to what hours of wear can bear: whole hours below 100,
// tens below 10,000, else two significant digits.
func roundHours(h float64) string {
	switch {
	case h < 100:
		return thousands(math.Round(h))
	case h < 10000:
		return thousands(math.Round(h/10) * 10)
	}
	return thousands(twoDigits(h))
}

// upHours rounds an interval up to ten hours, so that it still suffices.
func upHours(h float64) string { return thousands(math.Ceil(h/10) * 10) }

// twoDigits rounds x ≥ 10 to two significant digits.
func twoDigits(x float64) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(x))-1)
	return math.Round(x/unit) * unit
}

// unknownNumber is written for what is not finite.
const unknownNumber = "–"

// thousands writes a whole number with commas.
func thousands(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return unknownNumber
	}
	digits := strconv.FormatFloat(math.Abs(x), 'f', 0, 64)
	var b strings.Builder
	if x < 0 {
		b.WriteByte('-')
	}
	for i, d := range digits {
		if i > 0 && (len(digits)-i)%3 == 0 {
			b.WriteByte(',')
		}
		b.WriteRune(d)
	}
	return b.String()
}

// ListOf writes "3", "3 and 4", "3, 4 and 5", each item as name writes it;
// nothing of no items.
func ListOf(items []int, name func(int) string) string {
	var names []string
	for _, i := range items {
		names = append(names, name(i))
	}
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, "")
}
