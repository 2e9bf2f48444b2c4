package store

import (
	"cmp"
	"slices"
	"strings"

	"barrelbook/wear"
)

// History is the rows of a history file, packed: a file of a million rows
// takes some 40 MB. What recurs from row to row is kept once.
type History struct {
	blocks [][]packedRow
	rows   int
	heads  dictionary[rowHead]
	whats  dictionary[rowWhat]
	texts  dictionary[string]
	warm   dictionary[float64] // temperatures
}

// dictionary numbers the values that it is given, from 1.
type dictionary[T comparable] struct {
	all   []T
	known map[T]uint32
}

func (d *dictionary[T]) number(v T) uint32 {
	if n, ok := d.known[v]; ok {
		return n
	}
	if d.known == nil {
		d.known = map[T]uint32{}
	}
	d.all = append(d.all, v)
	n := uint32(len(d.all))
	d.known[v] = n
	return n
}

// of is the value with a number; the zero value for 0.
func (d *dictionary[T]) of(n uint32) (v T) {
	if n > 0 {
		v = d.all[n-1]
	}
	return v
}

// packedRow is a HistoryRow with numbers of dictionaries.
type packedRow struct {
	line, head, what uint32
	serial, value    uint32
	partHours        int32 // noHours where not given
}

// rowHead is what the rows of one sheet share.
type rowHead struct {
	day, model, engine uint32
	note, temperature  uint32
	hours              int32 // noHours where not given
	position           uint8
}

// rowWhat is what rows of the same spot share.
type rowWhat struct {
	kind, event            uint32
	feature, station, axis uint32
	unit, gaugeSD          uint32
	groove                 uint8
}

const (
	noHours   = -1
	rowsBlock = 4096
)

// Len is the number of rows.
func (h *History) Len() int { return h.rows }

// Add appends a row. Hours are within the range of wear.ParseHours, position
// and groove at most 255.
func (h *History) Add(r HistoryRow) {
	if h.rows%rowsBlock == 0 {
		h.blocks = append(h.blocks, make([]packedRow, 0, rowsBlock))
	}
	head := rowHead{day: h.text(string(r.Day)), model: h.text(r.Model), engine: h.text(r.Engine), note: h.text(r.Note), hours: packHours(r.EngineHours), position: uint8(r.Position)}
	if r.Temperature != nil {
		head.temperature = h.warm.number(*r.Temperature)
	}
	what := rowWhat{kind: h.text(string(r.Kind)), event: h.text(r.Event), feature: h.text(r.Feature), station: h.text(r.Station), axis: h.text(r.Axis),
		unit: h.text(r.Unit), gaugeSD: h.text(r.GaugeSD), groove: uint8(r.Groove)}
	last := &h.blocks[len(h.blocks)-1]
	*last = append(*last, packedRow{line: uint32(r.Line), head: h.heads.number(head), what: h.whats.number(what), serial: h.text(r.Serial), value: h.text(r.Value), partHours: packHours(r.PartHours)})
	h.rows++
}

// text is the number of a text, 0 for none.
func (h *History) text(s string) uint32 {
	if s == "" {
		return 0
	}
	if n, ok := h.texts.known[s]; ok {
		return n
	}
	return h.texts.number(strings.Clone(s)) // s may be a piece of a whole line
}

func packHours(h *wear.Hours) int32 {
	if h == nil {
		return noHours
	}
	return int32(*h)
}

func unpackHours(h int32) *wear.Hours {
	if h == noHours {
		return nil
	}
	v := wear.Hours(h)
	return &v
}

func (h *History) packed(i int) *packedRow { return &h.blocks[i/rowsBlock][i%rowsBlock] }

// At is the row with index i, in the order they were added.
func (h *History) At(i int) HistoryRow {
	p := h.packed(i)
	head, what := h.heads.of(p.head), h.whats.of(p.what)
	r := HistoryRow{Line: int(p.line), Day: wear.Day(h.texts.of(head.day)), Model: h.texts.of(head.model), Engine: h.texts.of(head.engine), Note: h.texts.of(head.note),
		EngineHours: unpackHours(head.hours), Position: int(head.position), Kind: wear.Kind(h.texts.of(what.kind)), Event: h.texts.of(what.event),
		Feature: h.texts.of(what.feature), Station: h.texts.of(what.station), Axis: h.texts.of(what.axis), Unit: h.texts.of(what.unit), GaugeSD: h.texts.of(what.gaugeSD), Groove: int(what.groove),
		Serial: h.texts.of(p.serial), Value: h.texts.of(p.value), PartHours: unpackHours(p.partHours), head: p.head}
	if head.temperature > 0 {
		t := h.warm.of(head.temperature)
		r.Temperature = &t
	}
	return r
}

// order lists the rows in the order in which they happened: by day and engine
// hours; on one day at the same hours parts come off, are worked on, go on and
// are measured.
func (h *History) order() []uint32 {
	order := make([]uint32, h.rows)
	for i := range order {
		order[i] = uint32(i)
	}
	compare := func(i, j uint32) int {
		p, q := h.packed(int(i)), h.packed(int(j))
		a, b := h.heads.of(p.head), h.heads.of(q.head)
		return cmp.Or(cmp.Compare(h.texts.of(a.day), h.texts.of(b.day)), cmp.Compare(max(a.hours, 0), max(b.hours, 0)),
			cmp.Compare(eventRank(h.texts.of(h.whats.of(p.what).event)), eventRank(h.texts.of(h.whats.of(q.what).event))))
	}
	if !slices.IsSortedFunc(order, compare) {
		slices.SortStableFunc(order, compare)
	}
	return order
}

func eventRank(event string) int {
	switch event {
	case EventRemoved:
		return 0
	case EventReading:
		return 3
	case EventInstalled, string(wear.InstalledNew):
		return 2
	}
	return 1
}
