// Package static holds the style sheets, scripts, icons and the schema of a
// record, which are sent to the browser as they are. They are embedded, so that
// the program is one file and needs no network.
package static

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"sync"
)

// FS holds the files by their names, such as base.css. There are no folders.
//
//go:embed *.css *.js *.svg *.json *.png *.webmanifest
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

// Build is eight hexadecimal digits that follow the content of all files: it
// tells one build's pages from those of another.
var Build = sync.OnceValue(func() string {
	sum := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(versions())) {
		sum.Write([]byte(name + " " + versions()[name] + "\n"))
	}
	return hex.EncodeToString(sum.Sum(nil)[:4])
})

// Module is the address of a script: /static/1a2b3c4d/measure.js. The build
// stands in the path, so that the modules a script imports beside it are of
// the same build.
func Module(name string) string { return "/static/" + Build() + "/" + name }

// Addresses are those of all files, as pages ask for them.
func Addresses() []string {
	var all []string
	for _, name := range slices.Sorted(maps.Keys(versions())) {
		switch {
		case strings.HasSuffix(name, ".js"):
			all = append(all, Module(name))
		case !strings.HasSuffix(name, ".json"):
			all = append(all, URL(name))
		}
	}
	return all
}
