package wear

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"slices"
	"strings"
	"testing"
)

// unsaid are the exported functions that need no source, or no source and no
// example, each with the reason. All others must say where their equation or
// rule comes from, and show themselves in an example.
var unsaid = map[string]struct {
	example bool // shown in an example all the same
	why     string
}{
	"Hours.Float":              {false, "another writing of the same number"},
	"Hours.String":             {false, "writes a number; TestValueComesBack, FuzzValues"},
	"PSI.Float":                {false, "another writing of the same number"},
	"PSI.String":               {false, "writes a number; TestParsePSI"},
	"State.String":             {false, "a word for each; TestStateString"},
	"Verdict.String":           {false, "a word for each; TestVerdictWords"},
	"Stay.Open":                {false, "looks at one field"},
	"Event.Since":              {true, "words only"},
	"Judgement.Sentence":       {true, "words only"},
	"Tested.Sentence":          {true, "words only"},
	"EngineJudgement.Sentence": {true, "words only"},
	"Forecast.Sentence":        {true, "words only"},
	"RegrooveSummary":          {true, "words only"},
	"ListOf":                   {true, "words only"},
}

// TestEveryFunctionSaysItself reads the package's own source: every exported
// function and method has a comment that begins with its name, a source in it
// and a runnable example with its output.
func TestEveryFunctionSaysItself(t *testing.T) {
	comments, examples := ownFunctions(t)
	if len(comments) < 100 {
		t.Fatalf("only %d functions found", len(comments))
	}
	for name, comment := range comments {
		listed, spared := unsaid[name]
		_, method, is := strings.Cut(name, ".")
		if !is {
			method = name
		}
		if !strings.HasPrefix(comment, method+" ") {
			t.Errorf("the comment of %s does not begin with its name", name)
		}
		if !spared && !strings.Contains(comment, "Source") {
			t.Errorf("%s names no source", name)
		}
		if (!spared || listed.example) && !examples[strings.ReplaceAll(name, ".", "_")] {
			t.Errorf("%s has no example with its output", name)
		}
	}
	for name, listed := range unsaid {
		if _, there := comments[name]; !there || listed.why == "" {
			t.Errorf("%s is excepted but not there, or without a reason", name)
		}
	}
}

// ownFunctions are the comments of the exported functions and methods, by
// Type.Method, and what the examples with an output are of.
func ownFunctions(t *testing.T) (comments map[string]string, examples map[string]bool) {
	t.Helper()
	comments, examples = map[string]string{}, map[string]bool{}
	files, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		if !strings.HasSuffix(file.Name(), ".go") {
			continue
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), file.Name(), nil, parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		isTest := strings.HasSuffix(file.Name(), "_test.go")
		for _, d := range parsed.Decls {
			f, ok := d.(*ast.FuncDecl)
			switch {
			case !ok:
			case isTest && strings.HasPrefix(f.Name.Name, "Example") && hasOutput(parsed, f):
				examples[strings.TrimPrefix(f.Name.Name, "Example")] = true
			case !isTest && f.Name.IsExported():
				if name := fullName(f); ast.IsExported(name) {
					comments[name] = strings.Join(strings.Fields(f.Doc.Text()), " ")
				}
			}
		}
	}
	return comments, examples
}

func hasOutput(file *ast.File, f *ast.FuncDecl) bool {
	return slices.ContainsFunc(file.Comments, func(c *ast.CommentGroup) bool {
		return c.Pos() > f.Body.Pos() && c.End() < f.Body.End() && strings.HasPrefix(c.Text(), "Output:")
	})
}

func fullName(f *ast.FuncDecl) string {
	if f.Recv == nil {
		return f.Name.Name
	}
	of := f.Recv.List[0].Type
	if pointer, ok := of.(*ast.StarExpr); ok {
		of = pointer.X
	}
	return of.(*ast.Ident).Name + "." + f.Name.Name
}
