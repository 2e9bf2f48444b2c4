package main

import (
	"math"
	"slices"

	"barrelbook/store"
	"barrelbook/wear"

	"gonum.org/v1/gonum/stat"
)

// abnormal wants the abnormal barrel and its ring flagged, the one that wears
// fast of late, and nothing else of the bulk.
func (d demoBook) abnormal() {
	flagged := map[string]store.Finding{}
	for _, f := range got[[]store.Finding](d.T)(d.book.FastWear(d.ctx)) {
		flagged[f.Serial] = f
		if f.Serial != abnormalBarrel && f.Serial != heavyRing && f.Serial != lateBarrel {
			d.Errorf("%s is flagged: %s", f.Serial, f.Sentence)
		}
	}
	for _, serial := range []string{abnormalBarrel, heavyRing} {
		f, ok := flagged[serial]
		if !ok || !f.Open() || f.Hours >= 100 || f.Ratio < 4 || f.Ratio > 12 {
			d.Errorf("%s: flagged %t, %.1f times at %.0f h; want 4 to 12 times under 100 h", serial, ok, f.Ratio, f.Hours)
		}
	}
	if f := flagged[abnormalBarrel]; f.Equivalent < 700 || f.Equivalent > 1600 {
		d.Errorf("%s is worn like %.0f h, want about 1,000", abnormalBarrel, f.Equivalent)
	}
	normal := 0
	for _, f := range got[[]store.Finding](d.T)(d.book.AllFindings(d.ctx, true)) {
		if f.State == wear.Normal {
			normal++
		}
	}
	if normal < 300 {
		d.Errorf("%d features of parts are judged normal, want the bulk", normal)
	}
}

// late wants the barrel that came to wear fast flagged by its latest interval,
// which its whole run does not show.
func (d demoBook) late() {
	fs := got[[]store.Finding](d.T)(d.book.FastWear(d.ctx))
	i := slices.IndexFunc(fs, func(f store.Finding) bool { return f.Serial == lateBarrel })
	if i < 0 || fs[i].Test != wear.LastInterval || fs[i].Ratio < 3 {
		d.Fatalf("%s: %+v, want it flagged by its latest interval", lateBarrel, fs)
	}
	if x := got[store.Explanation](d.T)(d.book.Explain(d.ctx, fs[i].Series)).Judgement; x.Whole.State == wear.Flagged || x.Interval.State != wear.Flagged {
		d.Errorf("%s: whole run %s, latest interval %s; want the interval alone flagged", lateBarrel, x.Whole.State, x.Interval.State)
	}
}

// dusty wants one engine flagged as a whole, none of whose parts is alone.
func (d demoBook) dusty() {
	ws := got[[]store.EngineWear](d.T)(d.book.FastEngines(d.ctx))
	if len(ws) != 1 || ws[0].EngineNo != dustyEngine || ws[0].Feature.Name != "barrel bore" || ws[0].Parts != 9 || ws[0].ByAllowance {
		d.Errorf("engines that wear fast: %+v; want the barrels of %s alone, against other engines", ws, dustyEngine)
	}
	for _, f := range got[[]store.Finding](d.T)(d.book.FindingsOn(d.ctx, d.engines[dustyEngine].ID)) {
		if f.Flagged() {
			d.Errorf("%s of %s is flagged by itself", f.Serial, dustyEngine)
		}
	}
}

// pushed wants a ring pushed down two barrels: in one its gaps bear out the bore
// gauge, in the other one is misread.
func (d demoBook) pushed() {
	for serial, agree := range map[string]bool{abnormalBarrel: true, "C-207": false} {
		at := map[string]map[string][]float64{"barrel bore": {}, "gap of a pushed ring": {}}
		last := d.of(serial, "gap of a pushed ring")[0].LastDay
		for _, r := range d.readings(serial) {
			for _, f := range got[[]wear.Feature](d.T)(d.book.Features(d.ctx)) {
				if stations := at[f.Name]; f.ID == r.Feature && r.Sheet.Day == last && stations != nil {
					stations[r.Station] = append(stations[r.Station], r.Value.In(wear.Inch))
				}
			}
		}
		wider := func(feature string) float64 {
			return stat.Mean(at[feature]["top"], nil) - stat.Mean(at[feature]["bottom"], nil)
		}
		if off := math.Abs(wider("gap of a pushed ring")/math.Pi - wider("barrel bore")); (off < 0.0003) != agree {
			d.Errorf("%s: gauge and gap differ by %.4f in; want them to agree: %t", serial, off, agree)
		}
	}
}

func (d demoBook) heavy() {
	ring, barrel := d.parts[heavyRing], d.parts[abnormalBarrel]
	if ring.Engine != barrel.Engine || ring.Position != barrel.Position || ring.AtGroove != 1 || ring.Note == "" {
		d.Errorf("the heavy ring sits at %s %d groove %d, note %q; want it noted, in the top groove of %s", ring.EngineNo, ring.Position, ring.AtGroove, ring.Note, abnormalBarrel)
	}
	for serial, p := range d.parts {
		if p.Kind != wear.Ring {
			continue
		}
		for _, r := range d.readings(serial) {
			if r.Unit.Dim != wear.Force {
				continue
			}
			if newtons := r.Value.In(wear.Newton); (newtons > 60) != (serial == heavyRing || serial == waitingRing) {
				d.Errorf("ring %s reads %.1f N; want the heavy one, and the one of its maker on the shelf, alone above 60 N", serial, newtons)
			}
		}
	}
}

func (d demoBook) undecided() {
	if v := d.parts[undecidedWear].Verdict; v != wear.Undecided {
		d.Errorf("%s is %s, want undecided", undecidedWear, v)
	}
	for _, f := range d.of(undecidedWear, "barrel bore") {
		if f.Plain == wear.Beyond || f.Flagged() {
			d.Errorf("%s %s: plainly %s, flagged %t; want it inside the bare limit and not flagged", undecidedWear, f.Station, f.Plain, f.Flagged())
		}
	}
}

func (d demoBook) young() {
	for _, f := range d.of(youngBarrel, "barrel bore") {
		if f.State != wear.TooYoung || f.Hours <= 0 {
			d.Errorf("%s %s is %s at %.1f h, want too young to judge", youngBarrel, f.Station, f.State, f.Hours)
		}
	}
	listed := got[[]store.Finding](d.T)(d.book.TooYoung(d.ctx, 20))
	if !slices.ContainsFunc(listed, func(f store.Finding) bool { return f.Serial == youngBarrel }) || len(listed) != 20 {
		d.Errorf("%d parts are listed as too young, want 20 with %s", len(listed), youngBarrel)
	}
	for i, f := range listed {
		if f.State != wear.TooYoung || i > 0 && f.LastDay == listed[i-1].LastDay && f.Hours < listed[i-1].Hours {
			d.Errorf("number %d: %s is %s at %.1f h", i+1, f.Serial, f.State, f.Hours)
		}
	}
}

// beyond wants two parts beyond their limits, of which one was acknowledged.
func (d demoBook) beyond() {
	found := map[string]store.Finding{}
	for _, f := range got[[]store.Finding](d.T)(d.book.BeyondLimit(d.ctx)) {
		found[f.Serial] = f
	}
	f, ok := found[wornPiston]
	if !ok || f.Feature.Name != "side clearance" || f.AnyGroove() != 1 || f.Engine == 0 || !f.Open() {
		d.Errorf("%s: beyond %t, %s groove %d, open %t; want the top groove's side clearance, on the engine and open", wornPiston, ok, f.Feature.Name, f.AnyGroove(), f.Open())
	}
	if f, ok = found[wornRing]; !ok || f.Open() || f.Seen.Reason == "" {
		d.Errorf("%s: beyond %t, open %t, seen for %q; want it acknowledged", wornRing, ok, f.Open(), f.Seen.Reason)
	}
	if len(found) != 2 {
		d.Errorf("%d parts are beyond a limit, want two", len(found))
	}
}

func (d demoBook) moved() {
	stays := got[[]store.Stay](d.T)(d.book.StaysOf(d.ctx, d.parts[movedBarrel].ID))
	if len(stays) != 2 || stays[0].EngineNo == stays[1].EngineNo || stays[0].To >= stays[1].From || !stays[1].Open() {
		d.Fatalf("stays = %+v, want two engines with the shelf between", stays)
	}
	want := stays[0].ToHours - stays[0].FromHours + d.engines[stays[1].EngineNo].Hours - stays[1].FromHours
	h := got[store.Hours](d.T)(d.book.PartHours(d.ctx, d.parts[movedBarrel].ID))
	if h.SinceNew != want || *h.SinceInstall >= want {
		d.Errorf("%s h since new, %s since installation; want %s in all", h.SinceNew, *h.SinceInstall, want)
	}
	measured := stays[0].ToHours - stays[0].FromHours + d.readings(movedBarrel)[0].Sheet.Hours - stays[1].FromHours
	for _, f := range d.of(movedBarrel, "barrel bore") {
		if f.Run != 1 || f.Hours != measured.Float() {
			d.Errorf("run %d has %.1f h at the last sheet, want one run of %s h across both engines", f.Run, f.Hours, measured)
		}
	}
}

func (d demoBook) ground() {
	id := d.parts[groundBarrel].ID
	if size := got[wear.Value](d.T)(d.book.OversizeOf(d.ctx, id)); size.Format(wear.Inch) != "0.0100" {
		d.Errorf("oversize = %s in, want 0.0100", size.Format(wear.Inch))
	}
	runs := map[int]wear.Event{}
	for _, s := range got[[]store.Series](d.T)(d.book.SeriesOf(d.ctx, id)) {
		if s.Station == "top" {
			runs[s.Run] = s.Start.Event
		}
	}
	if len(runs) != 2 || runs[1] != wear.InstalledNew || runs[2] != wear.Ground {
		d.Errorf("runs = %v, want a second one since grinding", runs)
	}
	for _, f := range d.of(groundBarrel, "barrel bore") {
		if f.Run != 2 || f.Verdict > wear.Serviceable || f.Verdict == wear.NoLimit {
			d.Errorf("run %d is %s, want the second within its shifted limits", f.Run, f.Verdict)
		}
	}
}

// leaks: through a change of orifice one cylinder leaks more at each test, and
// no other does.
func (d demoBook) leaks() {
	orifices := map[wear.Value]bool{}
	for _, r := range got[[]store.LeakReading](d.T)(d.book.LeakReadingsOn(d.ctx, d.engines["R9-0417"].ID)) {
		orifices[r.Test.Orifice] = true
		run := got[store.LeakRun](d.T)(d.book.LeakRunOf(d.ctx, r.Part))
		if weak := r.Position == weakPosition; weak != run.Trend.Grows || weak && len(run.Leaks) != 3 {
			d.Errorf("position %d, %s: %s after %d tests", r.Position, r.Serial, run.Trend.Words, len(run.Leaks))
		}
	}
	if len(orifices) != 2 {
		d.Errorf("%d orifices, want two", len(orifices))
	}
}
