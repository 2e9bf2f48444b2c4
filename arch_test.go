package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// layer says what the Go code of one top-level folder may import. Its lists
// hold space-separated import paths; each path stands for all below it too.
type layer struct {
	house   string // folders of this module
	modules string // other modules
	std     string // the only standard packages; empty means all
	never   string // standard packages to do without all the same
}

// layers is the table of DEVELOPERS.md. The root, which wires everything
// together, may import what it likes and is not in it.
var layers = map[string]layer{
	"wear": {
		modules: "gonum.org/v1/gonum",
		std:     "cmp errors fmt iter maps math slices sort strconv strings time",
		never:   "math/rand", // the same question has the same answer
	},
	"store": {
		house: "migrations wear",
		// flock keeps a second program off the book; uuid makes the ids.
		modules: "modernc.org/sqlite github.com/pressly/goose/v3 github.com/gofrs/flock github.com/google/uuid",
		never:   "flag net/http",
	},
	"server": {
		house: "static store views wear",
		// templ for the type of a page; uuid makes a sheet known before it is saved;
		// draw makes photographs smaller; argon2 for passwords; html reads pages, to take out what one may not use;
		// mdns, with its logger and sockets, answers for the .local name.
		modules: "github.com/go-chi/chi/v5 github.com/gorilla/sessions golang.org/x/crypto/argon2 " +
			"golang.org/x/net/html github.com/a-h/templ github.com/google/uuid " +
			"github.com/pion/mdns/v2 github.com/pion/logging golang.org/x/image/draw golang.org/x/net/ipv4 golang.org/x/net/ipv6",
		never: "flag database/sql",
	},
	"views": {
		house:   "static",
		modules: "github.com/a-h/templ github.com/go-pdf/fpdf golang.org/x/image/font/gofont github.com/boombuler/barcode/qr",
		never:   "flag database/sql net/http os",
	},
	"static":     {never: "flag database/sql os"},
	"migrations": {never: "flag net/http os"},
}

// topLevel names what may lie beside the layers and the root's Go files. What
// .gitignore names may lie there too, for it is no part of the repository.
var topLevel = strings.Fields(`
	.ci .dockerignore .git .gitattributes .gitignore
	DEVELOPERS.md Dockerfile LICENSE README.md go.mod go.sum testdata`)

// breach returns why Go code of the layer may not import path, or "". Tests
// keep to the house's own rules but are free in what they borrow from outside.
func breach(from, path string, test bool) string {
	rules, own := layers[from], "barrelbook"
	folder, house := strings.CutPrefix(path, own+"/")
	folder, _, _ = strings.Cut(folder, "/")
	outside := strings.Contains(strings.Split(path, "/")[0], ".")
	switch {
	case path == "C":
		return "the program is built without cgo"
	case path == own:
		return "nothing imports the root"
	case house && folder != from && !listed(rules.house, folder):
		return "of this module it may import only: " + orNothing(rules.house)
	case house || test:
		return ""
	case outside && !listed(rules.modules, path):
		return "of other modules it may import only: " + orNothing(rules.modules)
	case !outside && rules.std != "" && !listed(rules.std, path):
		return "of the standard library it may import only: " + rules.std
	case !outside && listed(rules.never, path):
		return "that is no work of this layer"
	}
	return ""
}

// listed reports whether list holds path or a path above it.
func listed(list, path string) bool {
	return slices.ContainsFunc(strings.Fields(list), func(entry string) bool {
		return path == entry || strings.HasPrefix(path, entry+"/")
	})
}

func orNothing(list string) string {
	if list == "" {
		return "nothing"
	}
	return list
}

// TestLayers holds the imports of every Go file to the table.
func TestLayers(t *testing.T) {
	for from := range layers {
		files := 0
		err := fs.WalkDir(os.DirFS("."), from, func(name string, entry fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return err
			case entry.IsDir() && entry.Name() == "testdata":
				return fs.SkipDir
			case entry.IsDir() || path.Ext(name) != ".go":
				return nil
			}
			files++
			checkImports(t, from, name)
			return nil
		})
		if err != nil {
			t.Errorf("read folder %s: %v", from, err)
		}
		if files == 0 {
			t.Errorf("folder %s of the layer table holds no Go file", from)
		}
	}
}

func checkImports(t *testing.T, from, name string) {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly)
	if err != nil {
		t.Errorf("parse imports: %v", err)
		return
	}
	for _, spec := range file.Imports {
		imported, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			t.Errorf("%s: import %s: %v", name, spec.Path.Value, err)
			continue
		}
		if why := breach(from, imported, strings.HasSuffix(name, "_test.go")); why != "" {
			t.Errorf("%s imports %s, but %s is held to its layer: %s", name, imported, from, why)
		}
	}
}

// starters are what starts another program (OWASP ASVS 5, 1.2.5).
var starters = strings.Fields("os.StartProcess syscall.Exec syscall.ForkExec syscall.StartProcess syscall.CreateProcess")

// TestNoCommands: the program starts no other one, so nothing that is typed can
// become a command. Tests start a browser.
func TestNoCommands(t *testing.T) {
	files := 0
	err := fs.WalkDir(os.DirFS("."), ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() || path.Ext(name) != ".go" || strings.HasSuffix(name, "_test.go") {
			return err
		}
		files++
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			return err
		}
		for _, found := range startsOthers(file) {
			t.Errorf("%s has %s, which starts another program", name, found)
		}
		return nil
	})
	if err != nil || files < 100 {
		t.Errorf("%d files were read: %v", files, err)
	}
}

func startsOthers(file *ast.File) (found []string) {
	for _, spec := range file.Imports {
		if slices.Contains([]string{`"os/exec"`, `"plugin"`, `"golang.org/x/sys/execabs"`}, spec.Path.Value) {
			found = append(found, spec.Path.Value)
		}
	}
	ast.Inspect(file, func(n ast.Node) bool {
		if s, ok := n.(*ast.SelectorExpr); ok {
			if from, ok := s.X.(*ast.Ident); ok && slices.Contains(starters, from.Name+"."+s.Sel.Name) {
				found = append(found, from.Name+"."+s.Sel.Name)
			}
		}
		return true
	})
	return found
}

// TestTopLevel wants nothing at the top that the house does not name.
func TestTopLevel(t *testing.T) {
	ignored, err := os.ReadFile(".gitignore")
	if err != nil {
		t.Fatalf("read .gitignore: %v", err)
	}
	entries, err := os.ReadDir(".")
	if err != nil {
		t.Fatalf("read top level: %v", err)
	}
	for _, entry := range entries {
		name := entry.Name()
		_, isLayer := layers[name]
		isRootCode := !entry.IsDir() && path.Ext(name) == ".go"
		if !isLayer && !isRootCode && !slices.Contains(topLevel, name) && !gitIgnores(t, string(ignored), name) {
			t.Errorf("%s has no place at the top level: put it into a folder of the house, or give the reason in DEVELOPERS.md and name it in this test", name)
		}
	}
}

// TestContainerCopies: the container is built from folders that are named, so
// that neither what git keeps nor what lies about gets into it (OWASP ASVS 5,
// 13.4.1).
func TestContainerCopies(t *testing.T) {
	text, err := os.ReadFile("Dockerfile")
	if err != nil {
		t.Fatal(err)
	}
	copied := 0
	for line := range strings.Lines(string(text)) {
		words := strings.Fields(line)
		if len(words) > 0 && words[0] == "ADD" {
			t.Errorf("the container takes in what it need not: %s", line)
		}
		if len(words) < 3 || words[0] != "COPY" || strings.HasPrefix(words[1], "--from=") {
			continue
		}
		for _, from := range words[1 : len(words)-1] {
			copied++
			if _, isLayer := layers[from]; !isLayer && from != "*.go" && from != "go.mod" && from != "go.sum" {
				t.Errorf("the container copies %s", from)
			}
		}
	}
	if copied < 5 {
		t.Errorf("only %d names are copied: is the Dockerfile read?", copied)
	}
}

// gitIgnores reports whether a line of the .gitignore text names the top-level
// entry. Of that file's language it knows comments, / and the wildcards.
func gitIgnores(t *testing.T, text, name string) bool {
	t.Helper()
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		matched, err := path.Match(strings.Trim(line, "/"), name)
		if err != nil {
			t.Fatalf(".gitignore: %s: %v", line, err)
		}
		if matched {
			return true
		}
	}
	return false
}

// TestBreach shows that the table catches what it should and lets the rest be.
func TestBreach(t *testing.T) {
	for _, c := range []struct {
		from, path string
		test, bad  bool
	}{
		{from: "views", path: "barrelbook/store", bad: true},
		{from: "views", path: "barrelbook/server", bad: true},
		{from: "views", path: "barrelbook/wear", bad: true},
		{from: "views", path: "barrelbook/wear", test: true, bad: true},
		{from: "views", path: "barrelbook/static"},
		{from: "views", path: "barrelbook/views/chart"},
		{from: "views", path: "github.com/a-h/templ/runtime"},
		{from: "views", path: "gonum.org/v1/gonum/stat", bad: true},
		{from: "views", path: "net/http", bad: true},
		{from: "views", path: "net/url"},
		{from: "wear", path: "barrelbook/store", bad: true},
		{from: "wear", path: "gonum.org/v1/gonum/stat/distuv"},
		{from: "wear", path: "gonum.org/v1/gonumbers", bad: true},
		{from: "wear", path: "math/big"},
		{from: "wear", path: "math/rand/v2", bad: true},
		{from: "wear", path: "math/rand/v2", test: true},
		{from: "wear", path: "mathematics", bad: true},
		{from: "wear", path: "context", bad: true},
		{from: "wear", path: "os", bad: true},
		{from: "wear", path: "os", test: true},
		{from: "store", path: "barrelbook/migrations"},
		{from: "store", path: "barrelbook/views", bad: true},
		{from: "store", path: "net/http", bad: true},
		{from: "store", path: "C", bad: true},
		{from: "server", path: "barrelbook", bad: true},
		{from: "server", path: "barrelbook/migrations", bad: true},
		{from: "server", path: "modernc.org/sqlite", bad: true},
		{from: "server", path: "net/http"},
		{from: "static", path: "embed"},
		{from: "static", path: "barrelbook/wear", bad: true},
	} {
		if why := breach(c.from, c.path, c.test); (why != "") != c.bad {
			t.Errorf("%s imports %s (test: %t): breach %q, want one: %t", c.from, c.path, c.test, why, c.bad)
		}
	}
}
