package store

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"barrelbook/wear"
)

// rowMark is what a history row said, in 16 bytes, with its place in the
// order of the rows.
type rowMark struct {
	hash  [16]byte
	place uint32
}

// marksChunk is how many marks one statement notes.
const marksChunk = 200

// freshRows notes the rows as imported and tells, by their place in order,
// which the book did not have. The marks go in sorted, which is what fills
// their table fastest. first is set where no history was ever imported.
func freshRows(ctx context.Context, t *tx, h *History, order []uint32, first bool) ([]bool, error) {
	marks := markRows(h, order)
	isNew := make([]bool, len(order))
	for len(marks) > 0 {
		chunk := marks[:min(marksChunk, len(marks))]
		marks = marks[len(chunk):]
		args := make([]any, len(chunk))
		for i := range chunk {
			args[i] = chunk[i].hash[:]
		}
		insert := "INSERT INTO imported (hash) VALUES " + strings.Repeat("(?), ", len(chunk)-1) + "(?)"
		if first {
			if _, err := t.insert(ctx, insert, args...); err != nil {
				return nil, fmt.Errorf("note rows: %w", err)
			}
			for _, m := range chunk {
				isNew[m.place] = true
			}
			continue
		}
		added, err := list(ctx, t, func(r scanner, hash *[]byte) error { return r.Scan(hash) },
			insert+" ON CONFLICT DO NOTHING RETURNING hash", args...)
		if err != nil {
			return nil, fmt.Errorf("note rows: %w", err)
		}
		for _, m := range chunk {
			if len(added) > 0 && bytes.Equal(added[0], m.hash[:]) {
				isNew[m.place], added = true, added[1:]
			}
		}
	}
	return isNew, nil
}

// markRows makes the marks of the rows, sorted. Equal rows of one file are
// repeated measurements: the second and later ones have marks of their own.
func markRows(h *History, order []uint32) []rowMark {
	marks := make([]rowMark, len(order))
	var said []byte
	for place, row := range order {
		r := h.At(int(row))
		said = r.appendSaid(said[:0])
		marks[place] = rowMark{hash16(said), uint32(place)}
	}
	compare := func(a, b rowMark) int {
		return cmp.Or(bytes.Compare(a.hash[:], b.hash[:]), cmp.Compare(a.place, b.place))
	}
	slices.SortFunc(marks, compare)
	nth, repeated := 1, false
	var first [16]byte
	for i := range marks {
		if marks[i].hash != first {
			first, nth = marks[i].hash, 1
			continue
		}
		nth++
		marks[i].hash, repeated = hash16(strconv.AppendInt(first[:], int64(nth), 10)), true
	}
	if repeated {
		slices.SortFunc(marks, compare)
	}
	return marks
}

func hash16(said []byte) [16]byte {
	sum := sha256.Sum256(said)
	return [16]byte(sum[:])
}

// appendSaid appends what the row says, whatever columns it stood in.
func (r *HistoryRow) appendSaid(b []byte) []byte {
	for _, s := range [...]string{string(r.Day), r.Model, r.Engine, string(r.Kind), r.Serial, r.Event, r.Feature, r.Station, r.Axis, r.Value, r.Unit, r.GaugeSD, r.Note} {
		b = append(append(b, s...), 0)
	}
	for _, h := range [...]*wear.Hours{r.EngineHours, r.PartHours} {
		if h != nil {
			b = strconv.AppendInt(b, int64(*h), 10)
		}
		b = append(b, 0)
	}
	b = append(strconv.AppendInt(b, int64(r.Position), 10), 0)
	b = append(strconv.AppendInt(b, int64(r.Groove), 10), 0)
	if r.Temperature != nil {
		b = strconv.AppendFloat(b, *r.Temperature, 'g', -1, 64)
	}
	return b
}
