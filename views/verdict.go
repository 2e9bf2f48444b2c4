package views

import (
	"slices"
	"strings"
)

// VerdictMark is a word that judges, with its mark: a verdict (new,
// serviceable, undecided, beyond, no limit), how a part wears (normal,
// flagged, too young to judge, no wear seen, no verdict) or what became of a
// finding or a part (acknowledged, on engine, on shelf, scrapped).
type VerdictMark struct {
	Word string // "" for what was not measured
	Note string // said after the word in small print: "0.0012 in left"
}

// tone is the colour of a word: good, warn, bad or dim. Colour never stands
// alone: the word and a mark of its own are beside it.
func tone(word string) string {
	switch word {
	case "new", "serviceable", "normal":
		return "good"
	case "undecided", "too young to judge":
		return "warn"
	case "beyond", "flagged":
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
