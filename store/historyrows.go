package store

import (
	"cmp"
	"slices"

	"barrelbook/wear"
)

// History is the rows of a history file, packed: a file of a million rows
// stays below 100 MB. Texts that recur are kept once.
type History struct {
	blocks [][]packedRow
	rows   int
	texts  []string
	known  map[string]uint32
	warm   []float64 // temperatures
	warmAt map[float64]uint32
}

// packedRow is a HistoryRow with its texts and temperature as numbers into
// the lists of the History.
type packedRow struct {
	line                   uint32
	day, model, engine     uint32
	kind, serial, event    uint32
	feature, station, axis uint32
	value, unit, gaugeSD   uint32
	note, temperature      uint32
	engineHours, partHours int32 // noHours where not given
	position, groove       uint8
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
	last := &h.blocks[len(h.blocks)-1]
	*last = append(*last, packedRow{line: uint32(r.Line), day: h.text(string(r.Day)), model: h.text(r.Model), engine: h.text(r.Engine),
		kind: h.text(string(r.Kind)), serial: h.text(r.Serial), event: h.text(r.Event), feature: h.text(r.Feature), station: h.text(r.Station), axis: h.text(r.Axis),
		value: h.text(r.Value), unit: h.text(r.Unit), gaugeSD: h.text(r.GaugeSD), note: h.text(r.Note), temperature: h.temperature(r.Temperature),
		engineHours: packHours(r.EngineHours), partHours: packHours(r.PartHours), position: uint8(r.Position), groove: uint8(r.Groove)})
	h.rows++
}

// text is the number of a text, 0 for none.
func (h *History) text(s string) uint32 {
	if h.known == nil {
		h.known, h.texts = map[string]uint32{"": 0}, []string{""}
	}
	n, ok := h.known[s]
	if !ok {
		n = uint32(len(h.texts))
		h.known[s], h.texts = n, append(h.texts, s)
	}
	return n
}

// temperature is the number of a temperature, 0 for none.
func (h *History) temperature(t *float64) uint32 {
	if t == nil {
		return 0
	}
	if h.warmAt == nil {
		h.warmAt = map[float64]uint32{}
	}
	n, ok := h.warmAt[*t]
	if !ok {
		h.warm = append(h.warm, *t)
		n = uint32(len(h.warm))
		h.warmAt[*t] = n
	}
	return n
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
	p, t := h.packed(i), h.texts
	r := HistoryRow{Line: int(p.line), Day: wear.Day(t[p.day]), Model: t[p.model], Engine: t[p.engine], Kind: wear.Kind(t[p.kind]), Serial: t[p.serial], Event: t[p.event],
		Feature: t[p.feature], Station: t[p.station], Axis: t[p.axis], Value: t[p.value], Unit: t[p.unit], GaugeSD: t[p.gaugeSD], Note: t[p.note],
		EngineHours: unpackHours(p.engineHours), PartHours: unpackHours(p.partHours), Position: int(p.position), Groove: int(p.groove)}
	if p.temperature > 0 {
		r.Temperature = &h.warm[p.temperature-1]
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
		a, b := h.packed(int(i)), h.packed(int(j))
		return cmp.Or(cmp.Compare(h.texts[a.day], h.texts[b.day]), cmp.Compare(max(a.engineHours, 0), max(b.engineHours, 0)),
			cmp.Compare(eventRank(h.texts[a.event]), eventRank(h.texts[b.event])))
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
