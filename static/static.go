// Package static holds the style sheets, scripts, icons and the schema of a
// record, which are sent to the browser as they are. They are embedded, so that
// the program is one file and needs no network.
package static

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"sync"
)

// FS holds the files by their names, such as base.css. There are no folders.
//
//go:embed *.css *.js *.svg *.json
var FS embed.FS

// versions are the first eight hexadecimal digits of each file's SHA-256.
var versions = sync.OnceValue(func() map[string]string {
	sums := map[string]string{}
	names, err := fs.Glob(FS, "*")
	if err != nil {
		panic("static: " + err.Error()) // the pattern is fixed
	}
	for _, name := range names {
		text, err := FS.ReadFile(name)
		if err != nil {
			panic("static: " + err.Error()) // the file is part of the program
		}
		sum := sha256.Sum256(text)
		sums[name] = hex.EncodeToString(sum[:4])
	}
	return sums
})

// URL is the address of a file: /static/base.css?v=1a2b3c4d. The version
// follows the content, so that a browser may keep it for ever and never shows
// an old one. A name that is not there has no version.
func URL(name string) string {
	address := "/static/" + name
	if v := versions()[name]; v != "" {
		address += "?v=" + v
	}
	return address
}
