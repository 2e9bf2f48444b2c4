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
// Fields: day, hours, reason.
type CorrectMeter struct {
	Page     Page
	Action   string
	Draft    Draft
	Engine   string // "R-1021"
	Back     Link
	OldDay   string
	OldShows string // "1,204.5 h"
	OldTotal string // with the offset
	Replaced bool   // the entry is the first reading of a new meter
	Follows  string // what hangs on it: "2 installations and 1 sheet were entered with it; their hours follow"
	Before   []Correction
}
