package store

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// queryBuilders are the functions whose text may stand in a query though it is
// not written in the program, each with the reason.
var queryBuilders = map[string]string{
	"quoteName":  "a table or column of the book, in quotes",
	"exprs":      "the columns of a table, each by quoteName",
	"order":      "the key of a table by quoteName",
	"matches":    "the same beside a place for each column's value",
	"latestIDs":  "tables by quoteName, their names as texts by quoteText",
	"triggers":   "tables and columns by quoteName, names as texts by quoteText",
	"auditAbout": "tables and columns of the book's own schema; the serial that was typed is bound",
}

// TestQueryText: the text of every query is written in the program; what people
// type is bound, never put into it (OWASP ASVS 5, 1.2.4).
func TestQueryText(t *testing.T) {
	q := followQueries(t, ".")
	if len(q.takes) < 30 {
		t.Errorf("only %d functions are found to take the text of a query", len(q.takes))
	}
	for _, f := range q.faults {
		t.Errorf("%s stands in the text of a query: bind it as an argument, or name what builds it in queryBuilders with the reason", f)
	}
	for name := range queryBuilders {
		if !q.built[name] {
			t.Errorf("%s builds no query any more", name)
		}
	}
}

// TestQueryTextFinds shows what TestQueryText catches, and what it lets be.
func TestQueryTextFinds(t *testing.T) {
	for body, want := range map[string]string{
		`q.QueryContext(ctx, "SELECT 1 WHERE x = ?", typed)`:                                                                                    "",
		`q.QueryContext(ctx, "SELECT "+columns+" FROM t", typed)`:                                                                               "",
		`q.QueryContext(ctx, "SELECT 1 WHERE x = '"+typed+"'")`:                                                                                 "typed",
		`q.QueryContext(ctx, fmt.Sprintf("SELECT 1 WHERE x = %s", f.typed))`:                                                                    "f.typed",
		`q.ExecContext(ctx, strings.ReplaceAll("SELECT 1 WHERE x = ?", "?", f.typed))`:                                                          "strings.ReplaceAll",
		`where := "1"; if typed != "" { where += " AND x = " + typed }; list(ctx, q, nil, where)`:                                               "typed",
		`where, args := filter(typed); list(ctx, q, nil, "SELECT 1 WHERE "+where, args...)`:                                                     "typed",
		`var all []string; add := func(s string) { all = append(all, s) }; add("y"); add(typed); list(ctx, q, nil, strings.Join(all, " AND "))`: "typed",
		`s, err := q.PrepareContext(ctx, "UPDATE t SET x = ?"); s.ExecContext(ctx, typed)`:                                                      "",
		`for _, x := range [][2]string{{"a", columns}} { one(ctx, q, nil, x[1]) }`:                                                              "",
		`for _, x := range f.list { one(ctx, q, nil, x) }`:                                                                                      "f.list",
	} {
		folder := t.TempDir()
		source := `package p
			const columns = "x, y"
			func list(ctx C, q Q, scan S, query string, args ...any) { q.QueryContext(ctx, query, args...) }
			func one(ctx C, q Q, scan S, query string, args ...any) { list(ctx, q, scan, query, args...) }
			func filter(words string) (string, []any) { return "x = " + words, nil }
			func asked(ctx C, q Q, f F) { do(ctx, q, f, f.words) }
			func do(ctx C, q Q, f F, typed string) { typed = f.typed; ` + body + ` }`
		if err := os.WriteFile(filepath.Join(folder, "p.go"), []byte(source), 0o600); err != nil {
			t.Fatal(err)
		}
		faults := strings.Join(followQueries(t, folder).faults, "\n")
		if want == "typed" {
			want = "f.typed" // which is what stands in it
		}
		if (faults == "") != (want == "") || !strings.Contains(faults, want) {
			t.Errorf("%s:\nfound %q, want %q", body, faults, want)
		}
	}
}

// queryText follows the text of each query back to where it was written. It
// knows constants, +, fmt.Sprintf, strings.Join, local variables, and results
// and arguments of the package's functions.
type queryText struct {
	fset    *token.FileSet
	funcs   map[string][]*ast.FuncDecl
	fixed   map[string]bool         // constants of the package
	takes   map[string]map[int]bool // which arguments of a function become text of a query; of one inside another by both names
	seen    map[any]bool            // variables and functions that were followed
	built   map[string]bool         // queryBuilders that were met
	changed bool
	faults  []string
}

func followQueries(t *testing.T, folder string) *queryText {
	t.Helper()
	q := &queryText{fset: token.NewFileSet(), funcs: map[string][]*ast.FuncDecl{}, fixed: map[string]bool{}, takes: map[string]map[int]bool{}, built: map[string]bool{}, changed: true}
	for i, names := range []string{"Query QueryRow Exec Prepare", "QueryContext QueryRowContext ExecContext PrepareContext"} {
		for _, name := range strings.Fields(names) {
			q.takes["."+name] = map[int]bool{i: true}
		}
	}
	names, err := filepath.Glob(filepath.Join(folder, "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(q.fset, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			switch d := d.(type) {
			case *ast.FuncDecl:
				q.funcs[declared(d)] = append(q.funcs[declared(d)], d)
			case *ast.GenDecl:
				for _, s := range d.Specs {
					if v, ok := s.(*ast.ValueSpec); ok && d.Tok == token.CONST {
						for _, name := range v.Names {
							q.fixed[name.Name] = true
						}
					}
				}
			}
		}
	}
	for q.changed { // until no more functions are found that take text of a query
		q.changed, q.faults, q.seen = false, nil, map[any]bool{}
		for _, all := range q.funcs {
			for _, f := range all {
				ast.Inspect(f, func(n ast.Node) bool {
					if call, ok := n.(*ast.CallExpr); ok {
						q.call(f, call)
					}
					return true
				})
			}
		}
	}
	slices.Sort(q.faults)
	q.faults = slices.Compact(q.faults)
	return q
}

// call looks at what a call inside f is given for text of a query.
func (q *queryText) call(f *ast.FuncDecl, call *ast.CallExpr) {
	name := called(call)
	if s, ok := call.Fun.(*ast.SelectorExpr); ok && ofStatement(s.X) {
		return // its arguments are bound
	}
	for _, name := range []string{name, declared(f) + "." + name} {
		for i := range q.takes[name] {
			if i < len(call.Args) {
				q.follow(f, call.Args[i])
			}
		}
	}
}

// ofStatement reports a variable that holds a prepared statement.
func ofStatement(e ast.Expr) bool {
	x, ok := e.(*ast.Ident)
	if !ok || x.Obj == nil {
		return false
	}
	made, ok := x.Obj.Decl.(*ast.AssignStmt)
	if !ok {
		return false
	}
	call, ok := made.Rhs[0].(*ast.CallExpr)
	return ok && slices.Contains([]string{".prepared", ".statement", ".PrepareContext"}, called(call))
}

// declared is the name of a function; that of a method begins with a point.
func declared(f *ast.FuncDecl) string {
	if f.Recv != nil {
		return "." + f.Name.Name
	}
	return f.Name.Name
}

// called is the name of what is called, as declared has it.
func called(call *ast.CallExpr) string {
	switch x := call.Fun.(type) {
	case *ast.Ident:
		return x.Name
	case *ast.SelectorExpr:
		return "." + x.Sel.Name
	}
	return ""
}

// follow finds where an expression inside f comes from.
func (q *queryText) follow(f *ast.FuncDecl, e ast.Expr) {
	known := false
	switch e := e.(type) {
	case *ast.BasicLit, *ast.ArrayType:
		known = true
	case *ast.BinaryExpr:
		known = true
		q.all(f, e.X, e.Y)
	case *ast.CompositeLit:
		known = true
		q.all(f, e.Elts...)
	case *ast.UnaryExpr: // the range of a loop
		known = e.Op == token.RANGE
		q.all(f, e.X)
	case *ast.IndexExpr:
		known = true
		q.all(f, e.X)
	case *ast.SelectorExpr: // a field of what a loop goes through
		if x, ok := e.X.(*ast.Ident); ok && x.Obj != nil {
			if made, ok := x.Obj.Decl.(*ast.AssignStmt); ok {
				if _, known = made.Rhs[0].(*ast.UnaryExpr); known {
					q.all(f, made.Rhs[0])
				}
			}
		}
	case *ast.CallExpr:
		known = q.result(f, e, 0)
	case *ast.Ident:
		known = q.name(f, e)
	}
	if !known {
		q.faults = append(q.faults, fmt.Sprintf("%s: %s", q.fset.Position(e.Pos()), types.ExprString(e)))
	}
}

func (q *queryText) all(f *ast.FuncDecl, es ...ast.Expr) {
	for _, e := range es {
		q.follow(f, e)
	}
}

// result follows the result of a call.
func (q *queryText) result(f *ast.FuncDecl, call *ast.CallExpr, n int) bool {
	name := called(call)
	if bare := strings.TrimPrefix(name, "."); queryBuilders[bare] != "" {
		q.built[bare] = true
		return true
	}
	switch name {
	case ".Sprintf", ".Join", ".Repeat", "append":
		q.all(f, call.Args...)
		return true
	case "len", "make":
		return true
	}
	for _, g := range q.funcs[name] {
		if q.seen[g] {
			continue
		}
		q.seen[g] = true
		ast.Inspect(g, func(x ast.Node) bool {
			switch x := x.(type) {
			case *ast.FuncLit:
				return false
			case *ast.ReturnStmt:
				if n < len(x.Results) {
					q.follow(g, x.Results[n])
				}
			}
			return true
		})
	}
	return q.funcs[name] != nil
}

// name follows a constant, an argument or a variable.
func (q *queryText) name(f *ast.FuncDecl, e *ast.Ident) bool {
	if e.Obj == nil || e.Obj.Kind == ast.Con {
		return q.fixed[e.Name] || e.Obj != nil
	}
	if q.seen[e.Obj] {
		return true
	}
	q.seen[e.Obj] = true
	switch made := e.Obj.Decl.(type) {
	case *ast.Field:
		if !strings.HasSuffix(types.ExprString(made.Type), "string") {
			return true // no text: it goes to another function of that name
		}
		if !q.argument(f, made, e.Name) {
			return false
		}
	case *ast.ValueSpec:
		q.all(f, made.Values...)
	case *ast.AssignStmt:
		if _, loop := made.Rhs[0].(*ast.UnaryExpr); loop {
			q.all(f, made.Rhs[0])
		}
	}
	ast.Inspect(f, func(n ast.Node) bool {
		set, ok := n.(*ast.AssignStmt)
		if !ok {
			return true
		}
		for i, to := range set.Lhs {
			if x, ok := to.(*ast.IndexExpr); ok {
				to = x.X
			}
			if x, ok := to.(*ast.Ident); !ok || x.Obj != e.Obj {
				continue
			}
			if call, ok := set.Rhs[0].(*ast.CallExpr); ok && len(set.Rhs) < len(set.Lhs) {
				if !q.result(f, call, i) {
					q.follow(f, call)
				}
				continue
			}
			q.follow(f, set.Rhs[min(i, len(set.Rhs)-1)])
		}
		return true
	})
	return true
}

// argument notes that a function takes text of a query: f, or one inside it
// that has a name. One that other packages call does not, but for those that
// have the names of the database's own.
func (q *queryText) argument(f *ast.FuncDecl, made *ast.Field, name string) bool {
	note := func(function string, of *ast.FuncType) bool {
		at := 0
		for _, p := range of.Params.List {
			for _, x := range p.Names {
				if p == made && x.Name == name {
					if q.takes[function] == nil {
						if f.Name.IsExported() && of == f.Type {
							return false
						}
						q.takes[function] = map[int]bool{}
					}
					q.changed = q.changed || !q.takes[function][at]
					q.takes[function][at] = true
					return true
				}
				at++
			}
		}
		return false
	}
	found := note(declared(f), f.Type)
	ast.Inspect(f, func(n ast.Node) bool {
		if set, ok := n.(*ast.AssignStmt); ok && !found {
			if inner, ok := set.Rhs[0].(*ast.FuncLit); ok {
				if x, ok := set.Lhs[0].(*ast.Ident); ok {
					found = note(declared(f)+"."+x.Name, inner.Type)
				}
			}
		}
		return true
	})
	return found
}
