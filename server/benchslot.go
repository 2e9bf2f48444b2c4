package server

import (
	"fmt"
	"slices"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// slot is one part of the stack on the bench.
func (b *bench) slot(position int, x store.Slot, d *dossier) views.BenchSlot {
	needs := b.needs(x)
	v := views.BenchSlot{ID: "slot-" + string(x.Kind) + "-" + itoa(x.AtGroove), Place: capital(string(x.Kind)), Name: x.Serial, Href: href("/parts/", x.ID), About: d.about(), Missing: missingText(needs)}
	if x.AtGroove > 0 {
		v.Place += ", groove " + itoa(x.AtGroove)
	}
	if e, ok := b.decided[x.ID]; ok {
		v.Decided = decisionText(e, d.set.Unit) + ": " + e.Reason + " (" + joinText(", ", day(e.Entry.SavedAt), e.Entry.Who) + ")"
	}
	if f := d.worst(); f != nil && f.Feature.Wear != wear.NoWear {
		v.State, v.Sentence = f.State.String(), f.Sentence
	}
	for _, m := range d.marks {
		if m.ID != 0 && m.Day >= b.job.Day && (b.job.Open() || m.Day <= b.job.EndDay) {
			v.Work = append(v.Work, markText(m, d.set.Unit)+", "+string(m.Day))
		}
	}
	v.Lines = b.lines(x, d, needs)
	if b.job.Open() {
		v.MeasureHref, v.DecideHref = b.from(position, href("/measure/part/", x.ID)), href("/jobs/", b.job.ID, "/decide/", x.ID)
		if x.Status != "scrapped" && b.state(position) == "off" {
			v.EventHref = b.from(position, href("/parts/", x.ID, "/events"))
		}
	}
	return v
}

// lines are the features of a part that have a limit or were ever measured,
// in the order of the sheet.
func (b *bench) lines(x store.Slot, d *dossier, needs []benchNeed) []views.BenchLine {
	now := lastBySpot(b.taken[x.ID])
	before := d.lastBefore(b.job, b.taken[x.ID])
	var lines []views.BenchLine
	for _, f := range b.features {
		if f.Kind != x.Kind {
			continue
		}
		for _, g := range groovesOf(f, d.model) {
			i := slices.IndexFunc(needs, func(n benchNeed) bool { return n.feature.ID == f.ID && n.groove == g })
			line, any := d.benchLine(f, g, now, before)
			if !any && i < 0 {
				continue
			}
			if i >= 0 && needs[i].want > 1 && needs[i].taken < needs[i].want && needs[i].taken > 0 {
				line.Missing = fmt.Sprintf("%d of %d still to be measured", needs[i].want-needs[i].taken, needs[i].want)
			}
			lines = append(lines, line)
		}
	}
	return lines
}

// lastBefore are the newest readings of each spot before a job was opened:
// those that do not stand for how the part is on the bench.
func (d *dossier) lastBefore(j store.Job, stand []store.Reading) map[spotKey]store.Reading {
	var older []store.Reading
	for _, x := range d.readings {
		since := x.Sheet.Day > j.Day || x.Sheet.Day == j.Day && x.Sheet.SavedAt >= j.SavedAt
		if !since && !slices.ContainsFunc(stand, func(o store.Reading) bool { return o.ID == x.ID }) {
			older = append(older, x)
		}
	}
	return lastBySpot(older)
}

// benchLine is a feature in a groove at the spot that is worst on the bench,
// else at the one that was worst before; false where it was never measured.
func (d *dossier) benchLine(f wear.Feature, groove int, now, before map[spotKey]store.Reading) (views.BenchLine, bool) {
	u := store.UnitFor(f, d.set.Unit)
	line := views.BenchLine{What: capital(f.Name)}
	if at := spot(groove, "", ""); at != "" {
		line.What += ", " + at
	}
	if row, lim := d.limitOf(f, groove, d.sizeNow()); row != nil {
		low, high := f.Held(lim)
		line.Limit = between(low, high, u)
	}
	key, measured := d.worstSpot(f, groove, now)
	if !measured {
		var ever bool
		if key, ever = d.worstSpot(f, groove, before); !ever {
			return line, false
		}
	}
	line.What = capital(f.Name)
	if at := spot(groove, key.station, key.axis); at != "" {
		line.What += ", " + at
	}
	for _, sr := range d.series {
		if sr.Current && sr.Feature == f.ID && sr.Groove == groove && sr.Station == key.station {
			line.Href = href("/parts/", d.part.ID, "?series=", sr.ID)
		}
	}
	if x, ok := before[key]; ok {
		line.Last = joinText(", ", x.Value.Format(u), d.at20Text(x, u), string(x.Sheet.Day))
	}
	if x, ok := now[key]; ok {
		a := d.assess(x)
		line.Now, line.At20, line.U, line.Verdict, line.Plain = x.Value.Format(u)+" "+u.Name, d.at20Text(x, u), d.uText(x, u), told(a.Verdict), d.plain(x, a, u)
	}
	return line, true
}

// worstSpot picks, of the readings of a feature in a groove, the one with the
// worst verdict, and of those alike the one worn most.
func (d *dossier) worstSpot(f wear.Feature, groove int, rs map[spotKey]store.Reading) (worst spotKey, found bool) {
	sign := wear.Value(1)
	if f.Wear == wear.Down {
		sign = -1
	}
	better := func(a, b store.Reading) bool {
		x, y := d.assess(a).Verdict, d.assess(b).Verdict
		if x != y {
			return x > y
		}
		if v, w := d.counted(a).Value, d.counted(b).Value; v != w {
			return sign*v > sign*w
		}
		return a.Root < b.Root
	}
	for key, x := range rs {
		if key.feature != f.ID || key.groove != groove {
			continue
		}
		if !found || better(x, rs[worst]) {
			worst, found = key, true
		}
	}
	return worst, found
}
