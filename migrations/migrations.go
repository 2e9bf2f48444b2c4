// Package migrations holds the numbered SQL that builds a book, embedded in
// the program. A file that has once been part of a release is never edited:
// the next change is a new file.
package migrations

import "embed"

// FS holds the numbered SQL files.
//
//go:embed *.sql
var FS embed.FS
