package server

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"barrelbook/store"
	"barrelbook/views"
	"barrelbook/wear"
)

// cell is one number that can be typed on a sheet.
type cell struct {
	name    string
	part    store.Part
	feature wear.Feature
	groove  int
	station string
	axis    string
}

// cells lists the numbers of one feature of a part, in the order of the form.
func (k *sheetWork) cells(p store.Part, f wear.Feature) []cell {
	var cs []cell
	for _, g := range groovesOf(f, k.model) {
		for i, sp := range f.Spots(k.model.Stations, k.model.Axes) {
			axes := 1
			if f.Axes && len(k.model.Axes) > 0 {
				axes = len(k.model.Axes)
			}
			cs = append(cs, cell{name: fmt.Sprintf("v-%d-%d-%d-%d-%d", p.ID, f.ID, g, i/axes, i%axes), part: p, feature: f, groove: g, station: sp[0], axis: sp[1]})
		}
	}
	return cs
}

// parts draws the empty sheet.
func (k *sheetWork) parts() []views.SheetPart {
	var ps []views.SheetPart
	for _, p := range k.subject.parts {
		v := views.SheetPart{ID: "part-" + strconv.FormatInt(p.ID, 10), Name: partName(p.Kind, p.Serial), Href: href("/parts/", p.ID), About: k.aboutPart(p)}
		for _, f := range k.features {
			if f.Kind == p.Kind && !f.Derived {
				if b := k.block(p, f); len(b.Rows) > 0 {
					v.Blocks = append(v.Blocks, b)
				}
			}
		}
		ps = append(ps, v)
	}
	return ps
}

func (k *sheetWork) aboutPart(p store.Part) string {
	in, size := "", ""
	if p.Kind == wear.Ring && p.Groove > 0 {
		in = "groove " + itoa(p.Groove)
	}
	if v := k.sizes[p.ID]; v != 0 {
		size = "oversize " + v.Format(k.unit) + " " + k.unit.Name
	}
	return joinText(", ", in, size, p.Surface, p.Facing)
}

func (k *sheetWork) block(p store.Part, f wear.Feature) views.SheetBlock {
	u := k.unitOf(f)
	key := fmt.Sprintf("%d-%d", p.ID, f.ID)
	b := views.SheetBlock{ID: "b-" + key, Feature: capital(f.Name), Wear: wornWay(f.Wear), Unit: u.Name, OwnUnit: f.Unit != "", Clearance: f.Clearance, Gauge: &views.SheetExtra{Name: "g-" + key}}
	_, b.Step = stepUnit(u)
	row, lim := k.limitFor(f, p, 0)
	if row != nil {
		b.New, b.Service, b.Source = between(lim.NewMin, lim.NewMax, u), between(lim.ServiceMin, lim.ServiceMax, u), source(row)
		if nominal, ok := lim.Nominal(); ok && u.Dim == wear.Length {
			b.Nominal = nominal.Format(u)
		}
		b.Bounds = bounds(lim)
	} else if f.Wear != wear.NoWear && k.model.ID != 0 && !f.Groove {
		b.LimitsTo = href("/limits/new?model=", k.model.ID, "&feature=", f.ID)
	}
	if u.Dim == wear.Length && f.Stations {
		b.SetSize = &views.SheetExtra{Name: "s-" + key, Hint: "For dial readings."}
	}
	if m := k.set.Material(p.Kind); f.Expands() {
		b.Expansion = strconv.FormatFloat(m.Alpha, 'g', -1, 64)
	}
	if f.InBore {
		b.Bore = &views.SheetExtra{Name: "b-" + key, Hint: "Blank for the barrel it runs in."}
	}
	k.fillRows(&b, p, f, u)
	return b
}

// bounds are the limits that a tablet compares with when the laptop is out of
// reach: whole base units, as the book keeps them.
func bounds(l wear.Limit) views.Bounds {
	write := func(v *wear.Value) string {
		if v == nil {
			return ""
		}
		return strconv.FormatInt(int64(*v), 10)
	}
	b := views.Bounds{NewMin: write(l.NewMin), NewMax: write(l.NewMax), ServiceMin: write(l.ServiceMin), ServiceMax: write(l.ServiceMax)}
	if nominal, ok := l.Nominal(); ok {
		b.Nominal = write(&nominal)
	}
	return b
}

func (k *sheetWork) fillRows(b *views.SheetBlock, p store.Part, f wear.Feature, u wear.Unit) {
	switch {
	case f.Groove:
		b.RowHead = "Groove"
	case f.Stations:
		b.RowHead = "Station"
	case len(f.Places) > 0:
		b.RowHead = "Place"
	}
	b.Heads = []string{""}
	if f.Axes && len(k.model.Axes) > 0 {
		b.Heads = k.model.Axes
	}
	for i, c := range k.cells(p, f) {
		if i%len(b.Heads) == 0 {
			row := views.SheetRow{Label: c.station}
			if c.groove > 0 {
				row.Label = itoa(c.groove)
				if l, lim := k.limitFor(f, p, c.groove); l != nil {
					own := bounds(lim)
					row.Bounds = &own
					if l.Groove > 0 {
						row.New, row.Service = between(lim.NewMin, lim.NewMax, u), between(lim.ServiceMin, lim.ServiceMax, u)
					}
				}
			}
			b.Rows = append(b.Rows, row)
		}
		v := views.SheetCell{Name: c.name, Label: spot(c.groove, c.station, c.axis)}
		if last, ok := k.last[p.ID][spotKey{f.ID, c.groove, c.station, c.axis}]; ok {
			v.Last, v.LastDay = last.Value.Format(u), string(last.Sheet.Day)
			v.LastAt20 = at20Text(last, last.Counted(f, k.set.Material(p.Kind)), u)
		}
		last := &b.Rows[len(b.Rows)-1]
		last.Cells = append(last.Cells, v)
	}
}

// read reads a sheet that was sent; every fault is marked at its field.
func (k *sheetWork) read(f *form) store.NewSheet {
	n := store.NewSheet{Sheet: store.Sheet{UID: f.text("uid"), Day: f.day("day"), Position: k.position, Who: f.text("who"), Note: f.text("note")}}
	if k.engine != nil {
		n.Engine = k.engine.ID
		h := f.hours("hours")
		n.Shows = &h
	}
	if t := f.text("temperature"); t != "" {
		c, ok := decimal(t)
		if !ok || c < wear.Coldest || c > wear.Warmest {
			f.fault("temperature", "%q is no temperature of a part in °C, from %d to %d", t, wear.Coldest, wear.Warmest)
		}
		n.Temperature = &c
	}
	head := k.gauge(f, "gauge")
	for _, p := range k.subject.parts {
		for _, x := range k.features {
			if x.Kind != p.Kind || x.Derived {
				continue
			}
			extras := k.extras(f, p, x, head)
			for _, c := range k.cells(p, x) {
				if f.text(c.name) == "" {
					continue
				}
				if reading, ok := k.number(f, c, extras); ok {
					n.Readings = append(n.Readings, reading)
				}
			}
		}
	}
	for _, name := range f.left("v", "g", "s", "b") {
		f.faults = append(f.faults, noField(name, f.values[name]))
	}
	return n
}

// noField refuses what was typed for a part or place that the sheet no longer
// has, and leads to the part's own sheet.
func noField(name, typed string) views.Fault {
	part, _, _ := strings.Cut(name[2:], "-")
	return views.Fault{Field: name, Href: "/measure/part/" + url.PathEscape(part), Way: "Open that part's own sheet",
		Message: fmt.Sprintf("%q was typed where this sheet has no field any more: the part has left, or its model has other stations now", typed)}
}

func (k *sheetWork) gauge(f *form, name string) *store.Gauge {
	id := f.ref(name)
	for i, g := range k.gauges {
		if g.ID == id {
			return &k.gauges[i]
		}
	}
	if id != 0 {
		f.fault(name, "choose a gauge from the list")
	}
	return nil
}

// extras are the fields beside the cells of one feature.
type extras struct {
	gauge *store.Gauge
	set   *wear.Value
	bore  *wear.Value
}

func (k *sheetWork) extras(f *form, p store.Part, x wear.Feature, head *store.Gauge) extras {
	key := fmt.Sprintf("%d-%d", p.ID, x.ID)
	e := extras{gauge: k.gauge(f, "g-"+key), set: f.value("s-"+key, k.unit), bore: f.value("b-"+key, k.unit)}
	if e.gauge == nil && head != nil && head.Unit.Dim == x.Dim {
		e.gauge = head
	}
	return e
}

func (k *sheetWork) number(f *form, c cell, e extras) (store.NewReading, bool) {
	u := k.unitOf(c.feature)
	var nominal *wear.Value
	if row, lim := k.limitFor(c.feature, c.part, c.groove); row != nil {
		if v, ok := lim.Nominal(); ok {
			nominal = &v
		}
	}
	text := f.text(c.name)
	value, err := readEntry(text, f.text("mode"), u, nominal, e.set)
	if err != nil {
		f.fault(c.name, "%s", err)
		return store.NewReading{}, false
	}
	if read, told := f.sizes[c.name]; told && read != strconv.FormatInt(int64(value), 10) {
		f.fault(c.name, "%q was typed against another nominal or set size than holds now, by which it is %s %s: type the full size", text, value.Format(u), u.Name)
		return store.NewReading{}, false
	}
	n := store.NewReading{Part: c.part.ID, Feature: c.feature.ID, Groove: c.groove, Station: c.station, Axis: c.axis, Value: value, Typed: text, Unit: u, Bore: e.bore, Field: c.name,
		SD: wear.AssumedSD(u.Dim), Resolution: lastDigit(text, f.text("mode"), u)}
	if e.gauge != nil {
		n.Gauge, n.SD, n.OperatorSD = e.gauge.ID, e.gauge.SD, e.gauge.OperatorSD
		if e.gauge.Resolution > 0 { // else it was read to the last digit typed
			n.Resolution = e.gauge.Resolution
		}
	}
	return n, true
}

// lastDigit is what the last digit typed is worth.
func lastDigit(text, mode string, u wear.Unit) wear.Value {
	text = strings.TrimSpace(text)
	d, err := wear.LastDigit(text, u)
	if err != nil {
		return 0
	}
	if u.Dim == wear.Length && (mode != modeFull || hasSign(text)) {
		step, _ := stepUnit(u)
		if one, err := wear.ParseValue("1", u); err == nil {
			return d / (one / step)
		}
	}
	return d
}
