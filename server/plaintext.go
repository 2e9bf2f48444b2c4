package server

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// notUTF8 and strayCharacter say what is wrong with a text that the book does
// not take.
const (
	notUTF8        = "is not UTF-8 text: save the file as UTF-8"
	strayCharacter = "has a character that cannot be seen or printed: write it again"
)

// stray reports whether a character is a control character other than a tab or
// a line end.
func stray(c rune) bool { return unicode.IsControl(c) && c != '\t' && c != '\n' && c != '\r' }

// textFault says why a text is not taken; "" where it is.
func textFault(s string) string {
	plain := true
	for i := range len(s) {
		plain = plain && s[i] >= ' ' && s[i] < 0x7f
	}
	switch {
	case plain: // as most are
		return ""
	case !utf8.ValidString(s):
		return notUTF8
	case strings.ContainsFunc(s, stray):
		return strayCharacter
	}
	return ""
}

// cleaned is a text without what is not taken.
func cleaned(s string) string {
	return strings.Map(func(c rune) rune {
		if stray(c) {
			return -1
		}
		return c
	}, strings.ToValidUTF8(s, "\ufffd"))
}
