package views

// MeasureChoose is the page on which a person says what will be measured: a
// position of an engine, or a part on the shelf. Query searches both.
type MeasureChoose struct {
	Page        Page
	Query       string
	Engines     []MeasureEngine
	MoreEngines int // how many more the search found than are shown
	Shelf       []MeasurePart
	MoreParts   int
	Empty       bool // the book has no engine and no part yet
}

// MeasureEngine is an engine with a button a position.
type MeasureEngine struct {
	Serial, Model, Aircraft string
	Hours                   string // "1,204.5 h"
	Href                    string // its page
	Positions               []MeasurePosition
}

// MeasurePosition is one position to measure. Last is when that was last
// done, "" for never.
type MeasurePosition struct {
	Number, Last, Href string
	Bare               bool // no part is recorded there
}

// MeasurePart is a part on the shelf.
type MeasurePart struct {
	Kind, Serial, PartNumber string
	Last                     string // last measured, "" for never
	Href                     string // its sheet
}
