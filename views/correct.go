package views

// CorrectReading is the form that corrects one reading or withdraws it: the
// old value stays in the book, struck through. Fields: what (correct or
// withdraw), value, reason, who.
type CorrectReading struct {
	Page   Page
	Action string
	Draft  Draft
	Back   Link   // the sheet, or the part
	What   string // "Barrel bore, top, thrust, of cylinder C-1041"
	Facts  []Fact // date, hours, gauge, who
	Old    string // "5.2535"
	Typed  string // as it was typed, "" when in full
	Unit   string
	Limits string
	Before []Correction // earlier corrections, oldest first
}

// Correction is one value that was replaced.
type Correction struct {
	Value, Reason, Who, When string
}

// What a correction does: the values of field what.
const (
	WhatCorrect  = "correct"
	WhatWithdraw = "withdraw"
)

// CorrectMeter is the form that corrects an entry of an engine's meter.
// Fields: day, hours, reason; of a replacement also stood.
type CorrectMeter struct {
	Page     Page
	Action   string
	Draft    Draft
	Engine   string // "R-1021"
	Back     Link
	OldDay   string
	OldShows string // "1,204.5 h"
	OldTotal string // with the offset
	OldStood string // of a replacement, what the old meter showed; "" for a reading
	Holds    string // what was entered with it: "2 installations and 1 sheet"; "" for nothing
	Before   []Correction
}

func (p CorrectMeter) shows() string {
	if p.OldStood != "" {
		return "New meter began at"
	}
	return "Meter showed"
}
