package store

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"modernc.org/sqlite"
)

// ErrNotFound says that the book has no such thing.
var ErrNotFound = errors.New("not in the book")

// FieldError is what is wrong with one thing a person gave, in their words.
// Field is the name of the form field or column; Href, where given, leads to
// the way out.
type FieldError struct {
	Field, Message, Href string
}

// Invalid is all that is wrong with what a person gave. Nothing was saved.
type Invalid []FieldError

// Error joins the messages.
func (v Invalid) Error() string {
	parts := make([]string, len(v))
	for i, f := range v {
		parts[i] = f.Field + ": " + f.Message
	}
	return strings.Join(parts, "; ")
}

// For returns the message at a field, "" for none.
func (v Invalid) For(field string) string {
	for _, f := range v {
		if f.Field == field {
			return f.Message
		}
	}
	return ""
}

func invalid(field, format string, args ...any) Invalid {
	return Invalid{{Field: field, Message: fmt.Sprintf(format, args...)}}
}

// The most characters of a name or number, and of a text that may run on.
const (
	MostName = 60
	mostText = 2000
)

// tooLong says which of these have more than most characters: fields and what
// was given at them, by turns.
func tooLong(most int, fields ...string) Invalid {
	var bad Invalid
	for i := 0; i < len(fields); i += 2 {
		if n := utf8.RuneCountInString(fields[i+1]); n > most {
			bad = append(bad, invalid(fields[i], "%d characters are too many: at most %d", n, most)...)
		}
	}
	return bad
}

// orNil turns an empty list into no error.
func (v Invalid) orNil() error {
	if len(v) == 0 {
		return nil
	}
	return v
}

// isUnique reports SQLite's extended code for a broken UNIQUE rule, or for the
// trigger that refuses such a row before the rule is asked (1811).
func isUnique(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && (e.Code() == 2067 || e.Code() == 1555 || e.Code() == 1811)
}

// isForeign reports SQLite's extended code for a reference to what is not
// there.
func isForeign(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && e.Code() == 787
}

// IsFull reports an error that says the disk is full (SQLITE_FULL, 13).
func IsFull(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && e.Code()&0xff == 13
}

// isDamage reports an error that says the file is damaged (SQLITE_CORRUPT, 11)
// or no book at all (SQLITE_NOTADB, 26).
func isDamage(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && (e.Code()&0xff == 11 || e.Code()&0xff == 26)
}

// isNoTable reports SQLite's general error (SQLITE_ERROR, 1), which is what a
// file without the program's tables meets a query with.
func isNoTable(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && e.Code() == 1
}
