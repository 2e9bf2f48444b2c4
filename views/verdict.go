package views

import (
	"slices"
	"strings"
)

// VerdictMark is a word that judges, with its mark: a verdict (new,
// serviceable, undecided, beyond, no limit), how a part wears (normal,
// flagged, too young to judge, no wear seen, no verdict) or what became of a
// finding or a part (acknowledged, on engine, on shelf, scrapped), how a ring presses (alike, higher,
// lower), and whether its facing or an over-width ring may be used.
type VerdictMark struct {
	Word string // "" for what was not measured
	Note string // said after the word in small print: "0.0012 in left"
}

// tone is the colour of a word: good, warn, bad or dim. Colour never stands
// alone: the word and a mark of its own are beside it.
func tone(word string) string {
	switch word {
	case "new", "serviceable", "normal", "alike", "allowed", "works":
		return "good"
	case "undecided", "too young to judge", "lower", "unknown":
		return "warn"
	case "beyond", "flagged", "higher", "not allowed", "does not work":
		return "bad"
	}
	return "dim"
}

// symbol is a mark: what it stands for, and its drawing on 16 by 16 units in
// the colour of the text. Verdicts show the reading, a dot, against the limit,
// a line; how a part wears is a slope.
type symbol struct{ word, shape string }

const symbolAxes = `<path d="M1.5 1.5v13h13" stroke="currentColor" stroke-width="1.2" fill="none"/>`

var symbols = []symbol{
	{"new", `<path d="M1.5 3.5h13" stroke="currentColor" stroke-width="2" fill="none"/><circle cx="8" cy="10.8" r="3" fill="none" stroke="currentColor" stroke-width="1.8"/>`},
	{"serviceable", `<path d="M1.5 3.5h13" stroke="currentColor" stroke-width="2" fill="none"/><circle cx="8" cy="10.4" r="3.7" fill="currentColor"/>`},
	{"undecided", `<path d="M.5 8h15" stroke="currentColor" stroke-width="2" fill="none"/><circle cx="8" cy="8" r="4.6" fill="none" stroke="currentColor" stroke-width="1.8"/>`},
	{"beyond", `<path d="M1.5 13h13" stroke="currentColor" stroke-width="2" fill="none"/><path d="M8 .8 13 10H3z" fill="currentColor"/>`},
	{"normal", symbolAxes + `<path d="M2.5 12.5 14.5 8" stroke="currentColor" stroke-width="2.2" fill="none"/>`},
	{"flagged", `<path d="M3 1v14.5" stroke="currentColor" stroke-width="2" fill="none"/><path d="M3 1.4 15 5.6 3 9.8z" fill="currentColor"/>`},
	{"acknowledged", `<path d="M3 1v14.5" stroke="currentColor" stroke-width="2" fill="none"/><path d="M3.6 2.2 13.6 5.6 3.6 9z" fill="none" stroke="currentColor" stroke-width="1.6"/>`},
	{"too young to judge", symbolAxes + `<path d="M3 12.4 7 10" stroke="currentColor" stroke-width="2.4" fill="none"/><path d="M8.2 9.3 14 5.8" stroke="currentColor" stroke-width="1.6" stroke-dasharray="1.6 1.6" fill="none"/>`},
	{"too few readings", symbolAxes + `<circle cx="5" cy="11" r="2" fill="currentColor"/>`},
	{"no wear seen", symbolAxes + `<path d="M3 11.4h11.5" stroke="currentColor" stroke-width="2.2" fill="none"/>`},
	{"on engine", `<circle cx="8" cy="8" r="6.2" fill="none" stroke="currentColor" stroke-width="1.5"/><circle cx="8" cy="8" r="2.4" fill="currentColor"/>`},
	{"on shelf", `<path d="M1 13h14M3.5 12V5.5h9V12" stroke="currentColor" stroke-width="1.6" fill="none"/>`},
	{"scrapped", `<path d="m3 3 10 10M13 3 3 13" stroke="currentColor" stroke-width="2" fill="none"/>`},
	{"alike", `<path d="M2 5.5h12M2 10.5h12" stroke="currentColor" stroke-width="2.2" fill="none"/>`},
	{"higher", `<path d="M2 14.5h12" stroke="currentColor" stroke-width="2" fill="none"/><path d="M8 1 13 8h-3.4v4H6.4V8H3z" fill="currentColor"/>`},
	{"lower", `<path d="M2 1.5h12" stroke="currentColor" stroke-width="2" fill="none"/><path d="M8 15 13 8H9.6V4H6.4v4H3z" fill="currentColor"/>`},
	{"allowed", `<path d="m2 8.5 4 4.5 8-10" stroke="currentColor" stroke-width="2.2" fill="none"/>`},
	{"not allowed", `<circle cx="8" cy="8" r="6.4" fill="none" stroke="currentColor" stroke-width="1.8"/><path d="m3.6 3.6 8.8 8.8" stroke="currentColor" stroke-width="1.8"/>`},
	{"works", `<path d="m2 8.5 4 4.5 8-10" stroke="currentColor" stroke-width="2.2" fill="none"/>`},
	{"does not work", `<path d="m3 3 10 10M13 3 3 13" stroke="currentColor" stroke-width="2" fill="none"/>`},
	{"none", `<path d="M2.5 8h11" stroke="currentColor" stroke-width="1.8" stroke-dasharray="2.6 1.8" fill="none"/>`},
}

// symbolSheet defines every mark once a page; glyph shows one.
var symbolSheet = func() string {
	var b strings.Builder
	b.WriteString(`<svg class="hidden" aria-hidden="true" focusable="false">`)
	for _, s := range symbols {
		b.WriteString(`<symbol id="` + symbolID(s.word) + `" viewBox="0 0 16 16">` + s.shape + `</symbol>`)
	}
	b.WriteString(`</svg>`)
	return b.String()
}()

// symbolID is the element id of a word's mark, that of "none" where the word
// has no mark of its own.
func symbolID(word string) string {
	if !slices.ContainsFunc(symbols, func(s symbol) bool { return s.word == word }) {
		word = "none"
	}
	return "g-" + strings.ReplaceAll(word, " ", "-")
}
