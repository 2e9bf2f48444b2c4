package views

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// capital writes a word with a capital first letter.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return ""
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// orWord is s, or the word given for an empty s.
func orWord(s, word string) string {
	if s == "" {
		return word
	}
	return s
}

// orDash is s, or a dash for an empty table cell.
func orDash(s string) string { return orWord(s, "–") }

// more counts what is left over: "1 more engine", "12 more engines".
func more(n int, noun string) string {
	s := strconv.Itoa(n) + " more " + noun
	if n != 1 {
		s += "s"
	}
	return s
}

// joined writes the non-empty items with a separator between.
func joined(sep string, items ...string) string {
	var full []string
	for _, s := range items {
		if s != "" {
			full = append(full, s)
		}
	}
	return strings.Join(full, sep)
}

// prefixed puts something before a non-empty s.
func prefixed(before, s string) string {
	if s == "" {
		return ""
	}
	return before + s
}

// numbered makes an element id: "file-2".
func numbered(word string, i int) string { return word + "-" + strconv.Itoa(i) }

func itoa(n int) string { return strconv.Itoa(n) }

// grooveWord names a groove by its number: "groove 1", or nothing.
func grooveWord(n string) string {
	if n == "" {
		return ""
	}
	return "groove " + n
}
