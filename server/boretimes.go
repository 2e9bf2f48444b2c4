package server

import (
	"fmt"
	"slices"

	"barrelbook/store"
	"barrelbook/wear"
)

// boreTimes is how the sheets of bore and ring's gap lie to each other.
type boreTimes struct {
	pairs bool       // no wear event of the bore lies between them
	apart wear.Hours // that it ran between them
	says  string     // what the page says of it; "" for one sheet
}

func (d *dossier) boreTimes(bore, gap store.Sheet) boreTimes {
	if bore.ID == gap.ID {
		return boreTimes{pairs: true}
	}
	days := fmt.Sprintf("The ring's gap was taken on %s, the bore on %s", gap.Day, bore.Day)
	if gap.Day == bore.Day {
		days = fmt.Sprintf("The ring's gap and the bore were taken on two sheets of %s", bore.Day)
	}
	boreAt, boreRun, known := d.boreRun(bore)
	gapAt, gapRun, gapKnown := d.boreRun(gap)
	apart := max(boreAt-gapAt, gapAt-boreAt)
	switch {
	case !known || !gapKnown:
		return boreTimes{says: days + "; how many hours lie between is not known, so they are not held against each other."}
	case boreRun != gapRun:
		return boreTimes{says: fmt.Sprintf("%s, %s apart, and the bore was worked on in between: they are not held against each other. Take the gap again.", days, hours(apart))}
	case apart == 0:
		return boreTimes{pairs: true, says: days + ", with no hours run in between."}
	}
	return boreTimes{true, apart, fmt.Sprintf("%s: %s of wear lie between, so they need not agree. Take both on one day to hold one against the other.", days, hours(apart))}
}

// boreRun places a sheet among the runs of the bore: the part's own hours, and
// the run's number.
func (d *dossier) boreRun(sheet store.Sheet) (at wear.Hours, run int, ok bool) {
	f, ok := d.featureNamed("barrel bore")
	i := slices.IndexFunc(d.readings, func(x store.Reading) bool { return x.Sheet.ID == sheet.ID })
	if !ok || i < 0 {
		return 0, 0, false
	}
	x := d.readings[i]
	if at, ok = d.partHours(x); !ok {
		return 0, 0, false
	}
	x.Feature, x.Groove = f.ID, 0
	return at, d.spanOf(x, at).Number, true
}
