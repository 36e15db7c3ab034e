package store

import (
	"context"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	tl "thatch/timeline"
)

// opsInSource are the fixed beginnings of every operation that something in this package hands to write, read out of the
// code: a literal, a sum that begins with one, or a name for one of these in the same function.
func opsInSource(t *testing.T) map[string]string {
	t.Helper()
	set := token.NewFileSet()
	found := map[string]string{}
	bins := []string{}
	var files []*ast.File
	for _, name := range must(filepath.Glob("*.go"))(t) {
		if !strings.HasSuffix(name, "_test.go") {
			files = append(files, must(parser.ParseFile(set, name, nil, 0))(t))
		}
	}
	hands := map[string]bool{"write": true, "keepFile": true, "setOriginal": true, "putDog": true, "putSession": true, "putShow": true, "putProfile": true, "putPerson": true}
	for _, f := range files {
		for _, d := range f.Decls {
			named := map[string]ast.Expr{}
			ast.Inspect(d, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.AssignStmt:
					if id, ok := n.Lhs[0].(*ast.Ident); ok && len(n.Rhs) == 1 {
						named[id.Name] = n.Rhs[0]
					}
				case *ast.ValueSpec:
					if len(n.Values) == 1 {
						named[n.Names[0].Name] = n.Values[0]
					}
				case *ast.CallExpr:
					name := ""
					switch fun := n.Fun.(type) {
					case *ast.Ident:
						name = fun.Name
					case *ast.SelectorExpr:
						name = fun.Sel.Name
					}
					if name == "newBin" {
						bins = append(bins, beginning(n.Args[0], named))
					}
					if hands[name] && len(n.Args) > 2 {
						if op := beginning(n.Args[1], named); op != "" {
							found[op] = set.Position(n.Pos()).String()
						}
					}
				}
				return true
			})
		}
	}
	for _, verb := range []string{"trash", "restore"} {
		if found[verb] == "" || len(bins) < 5 {
			t.Fatalf("%q of %v is not found: the test reads nothing", verb, bins)
		}
		delete(found, verb)
		for _, b := range bins {
			found[verb+" "+b] = "trash.go"
		}
	}
	return found
}

func beginning(e ast.Expr, named map[string]ast.Expr) string {
	for {
		switch x := e.(type) {
		case *ast.BinaryExpr:
			e = x.X
		case *ast.Ident:
			if named[x.Name] == nil {
				return "" // handed through: the caller is looked at
			}
			e = named[x.Name]
		case *ast.BasicLit:
			s, _ := strconv.Unquote(x.Value)
			return strings.TrimSpace(s)
		default:
			return ""
		}
	}
}

func TestEveryChangeHasAVerb(t *testing.T) {
	ops := opsInSource(t)
	if len(ops) < 40 {
		t.Fatalf("only %d operations are found: the test reads nothing", len(ops))
	}
	for op, where := range ops {
		if _, ok := verbs[op]; !ok && !quiet[op] {
			t.Errorf("%s: %q is neither in verbs nor in quiet of audit.go", where, op)
		}
	}
	notes := map[string]bool{"wrong passwords for": true} // said by Note
	for verb := range verbs {
		if ops[verb] == "" && !notes[verb] {
			t.Errorf("nothing does %q", verb)
		}
	}
}

// Every verb has a sentence: "changes.op." and the verb with underscores.
func TestEveryVerbHasWords(t *testing.T) {
	text, err := os.ReadFile("../web/words/en/changes.json")
	if err != nil {
		t.Fatal(err)
	}
	for verb := range verbs {
		if key := `"changes.op.` + strings.ReplaceAll(verb, " ", "_") + `"`; !strings.Contains(string(text), key) {
			t.Errorf("web/words/en/changes.json lacks %s", key)
		}
	}
}

func TestAChangeNamesWhoAskedForIt(t *testing.T) {
	s := newStore(t, Options{})
	ada := tl.WithVisitor(context.Background(), tl.Visitor{Person: "0123456789abcdef", Name: "Ada", Role: tl.Groomer, Token: "fedcba9876543210"})
	d := must(s.CreateDog(ada, fullDog()))(t)
	_ = must(s.UpdateDog(context.Background(), d))(t) // the program itself: nobody is named
	if err := s.EnqueueJobs(ada, Job{Kind: KindDerive, Key: "x"}); err != nil {
		t.Fatal(err)
	}
	if err := s.TrashDog(ada, d.ID); err != nil {
		t.Fatal(err)
	}
	_, err := s.UpdateDog(ada, d)
	wantKind(t, err, tl.Conflict, "")
	got := must(s.Changes(ada, ChangesOf{Limit: 10}))(t)
	if len(got) != 2 || got[0].Op != "trash dog" || got[1].Op != "create dog" {
		t.Fatalf("%+v", got)
	}
	c := got[1]
	c.Number, c.At = 0, c.At.Add(0)
	want := tl.Change{At: c.At, Person: "0123456789abcdef", Name: "Ada", Token: "fedcba9876543210", Op: "create dog", Kind: "dog", Key: d.ID}
	if c != want || c.At.IsZero() {
		t.Errorf("%+v, want %+v", c, want)
	}
	for what, of := range map[string]ChangesOf{
		"before the newest": {Before: got[0].Number, Limit: 10}, "one only": {Limit: 1},
	} {
		if n := len(must(s.Changes(ada, of))(t)); n != 1 {
			t.Errorf("%s: %d lines", what, n)
		}
	}
	for what, c := range map[string]struct {
		of ChangesOf
		n  int
	}{
		"her": {ChangesOf{Person: "0123456789abcdef", Limit: 9}, 2}, "another": {ChangesOf{Person: "x", Limit: 9}, 0},
		"the dog": {ChangesOf{Key: d.ID, Limit: 9}, 2}, "dogs and links": {ChangesOf{Kinds: []string{"link", "dog"}, Limit: 9}, 2}, "links": {ChangesOf{Kinds: []string{"link"}, Limit: 9}, 0},
	} {
		if n := len(must(s.Changes(ada, c.of))(t)); n != c.n {
			t.Errorf("%s: %d lines, want %d", what, n, c.n)
		}
	}
}

func TestAnOperationIsPartedIntoVerbAndKey(t *testing.T) {
	for op, want := range map[string][2]string{
		"trash dog 0123456789abcdef": {"trash dog", "0123456789abcdef"}, "file heap": {"file heap", ""}, "create dog ": {"create dog ", ""},
		"keep photo " + strings.Repeat("0f", 32): {"keep photo", strings.Repeat("0f", 32)}, "save settings": {"save settings", ""},
	} {
		if verb, key := splitOp(op); verb != want[0] || string(key) != want[1] {
			t.Errorf("%q: %q, %q", op, verb, key)
		}
	}
}
