package words

import (
	"go/ast"
	"go/parser"
	"go/token"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"text/template/parse"
)

// keyAt is where a call's key stands among its arguments; templates say t as Go code says T.
var keyAt = map[string]int{"T": 0, "Say": 0, "NewFault": 1}

// filledLater are places of a sentence that somebody else fills than the one who says it.
var filledLater = map[string][]string{
	"dir":   {"fault.store."}, // store.openFault adds the folder
	"field": {"fault.coat."},  // the coat file's reader adds the place
}

// said is one sentence that the program says: its key, or the fixed beginning of one, and the names of its values.
type said struct {
	where  string
	key    string
	made   bool // the key goes on with a value: key is a family's beginning
	names  []string
	spread bool // values are handed on: their names are not known here
}

// inGo are the calls in a file that say something.
func inGo(set *token.FileSet, f *ast.File) []said {
	var out []said
	ast.Inspect(f, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok {
			return true
		}
		name := ""
		switch fun := call.Fun.(type) {
		case *ast.Ident:
			name = fun.Name
		case *ast.SelectorExpr:
			name = fun.Sel.Name
		}
		at, ok := keyAt[name]
		if !ok || len(call.Args) <= at {
			return true
		}
		s := said{where: set.Position(call.Pos()).String(), spread: call.Ellipsis.IsValid()}
		key := call.Args[at]
		if sum, ok := key.(*ast.BinaryExpr); ok && sum.Op == token.ADD {
			s.made, key = true, sum.X
		}
		if s.key, ok = literal(key); !ok {
			return true
		}
		for i := at + 1; i < len(call.Args); i += 2 {
			name, ok := literal(call.Args[i])
			s.spread = s.spread || !ok
			s.names = append(s.names, name)
		}
		out = append(out, s)
		return true
	})
	return out
}

func literal(e ast.Expr) (string, bool) {
	b, ok := e.(*ast.BasicLit)
	if !ok || b.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(b.Value)
	return s, err == nil
}

// inTemplate are the calls of t in a template: t "key" "name" value …, and t (print "family." value).
func inTemplate(name, text string) ([]said, error) {
	tree := parse.New(name)
	tree.Mode = parse.SkipFuncCheck
	set := map[string]*parse.Tree{}
	if _, err := tree.Parse(text, "", "", set); err != nil {
		return nil, err
	}
	var out []said
	for _, t := range set {
		walk(reflect.ValueOf(t.Root), func(c *parse.CommandNode) {
			if len(c.Args) < 2 || c.Args[0].String() != "t" {
				return
			}
			s := said{where: name + ": {{" + c.String() + "}}"}
			switch key := c.Args[1].(type) {
			case *parse.StringNode:
				s.key = key.Text
			case *parse.PipeNode:
				if args := key.Cmds[0].Args; len(args) > 1 && args[0].String() == "print" {
					if first, ok := args[1].(*parse.StringNode); ok {
						s.key, s.made = first.Text, true
					}
				}
			}
			if s.key == "" {
				return
			}
			for i := 2; i < len(c.Args); i += 2 {
				n, ok := c.Args[i].(*parse.StringNode)
				if !ok {
					s.spread = true
					continue
				}
				s.names = append(s.names, n.Text)
			}
			out = append(out, s)
		})
	}
	return out, nil
}

// walk calls see for every command under a node of a template.
func walk(v reflect.Value, see func(*parse.CommandNode)) {
	switch v.Kind() {
	case reflect.Interface, reflect.Pointer:
		if v.IsNil() || v.Type() == reflect.TypeFor[*parse.Tree]() {
			return
		}
		if c, ok := v.Interface().(*parse.CommandNode); ok {
			see(c)
		}
		walk(v.Elem(), see)
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				walk(v.Field(i), see)
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			walk(v.Index(i), see)
		}
	}
}

var place = regexp.MustCompile(`\{([a-z_]+)\}`)

// troubleWith is what a reader of the sentence would stumble over, or "".
func troubleWith(s said, catalogue map[string]string) string {
	if s.made {
		if _, ok := families[s.key]; !ok {
			return "the family " + s.key + "… is not listed"
		}
		return ""
	}
	var texts []string
	plain, one, other := catalogue[s.key], catalogue[s.key+".one"], catalogue[s.key+".other"]
	switch {
	case one != "" && other != "":
		if !slices.Contains(s.names, "n") && !s.spread {
			return s.key + " has two forms and no n"
		}
		texts = []string{one, other}
	case plain != "":
		texts = []string{plain}
	default:
		return s.key + " is not in the catalogue"
	}
	for _, text := range texts {
		for _, m := range place.FindAllStringSubmatch(text, -1) {
			later := slices.ContainsFunc(filledLater[m[1]], func(prefix string) bool { return strings.HasPrefix(s.key, prefix) })
			if !s.spread && !later && !slices.Contains(s.names, m[1]) {
				return s.key + " leaves {" + m[1] + "} empty"
			}
		}
	}
	return ""
}

func TestEverySentenceOfTheCodeIsThereAndFilled(t *testing.T) {
	n := 0
	everyFile(t, func(name string, text []byte) {
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, name, text, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range inGo(set, f) {
			n++
			if trouble := troubleWith(s, catalogues["en"]); trouble != "" {
				t.Errorf("%s: %s", s.where, trouble)
			}
		}
	}, ".go")
	if n < 150 {
		t.Fatalf("only %d sentences were found", n)
	}
}

func TestEverySentenceOfTheTemplatesIsThereAndFilled(t *testing.T) {
	n := 0
	everyFile(t, func(name string, text []byte) {
		found, err := inTemplate(name, string(text))
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range found {
			n++
			if trouble := troubleWith(s, catalogues["en"]); trouble != "" {
				t.Errorf("%s: %s", s.where, trouble)
			}
		}
	}, ".html")
	if n < 150 {
		t.Fatalf("only %d sentences were found", n)
	}
}

func TestASentenceThatIsMissingOrUnfilledIsSeen(t *testing.T) {
	catalogue := map[string]string{"fault.a": "The dog {name} is away.", "cmd.n.one": "{n} dog", "cmd.n.other": "{n} dogs"}
	for call, ok := range map[string]bool{
		`Say("fault.a", "name", v)`:               true,
		`x.Say("fault.a", "dog", v)`:              false,
		`Say("fault.a", args...)`:                 true,
		`Say("fault.b")`:                          false,
		`timeline.NewFault(Invalid, "fault.a")`:   false,
		`s.T("cmd.n", "n", 3)`:                    true,
		`s.T("cmd.n", "count", 3)`:                false,
		`s.T("zone." + v)`:                        true,
		`s.T("planet." + v)`:                      false,
		`NewFault(k, "fault.a", "name", "v").X()`: true,
	} {
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, "made_up.go", "package p\nvar _ = "+call, 0)
		if err != nil {
			t.Fatal(err)
		}
		found := inGo(set, f)
		if len(found) != 1 {
			t.Fatalf("%s: %d sentences", call, len(found))
		}
		if got := troubleWith(found[0], catalogue); (got == "") != ok {
			t.Errorf("%s: %q", call, got)
		}
	}
	for text, ok := range map[string]bool{
		`{{t "fault.a" "name" .Name}}`: true,
		`{{t "fault.a"}}`:              false,
		`{{define "x"}}{{range .L}}{{if .Y}}{{t "fault.b"}}{{end}}{{end}}{{end}}`: false,
		`{{template "part" dict "Text" (t "cmd.n" "count" .N)}}`:                  false,
		`{{with t "cmd.n" "n" .N}}{{.}}{{end}}`:                                   true,
		`{{if eq .K (t (print "planet." .K))}}{{end}}`:                            false,
		`{{t (print "zone." .Z)}}`:                                                true,
	} {
		found, err := inTemplate("made_up.html", text)
		if err != nil {
			t.Fatal(err)
		}
		if len(found) != 1 {
			t.Fatalf("%s: %d sentences", text, len(found))
		}
		if got := troubleWith(found[0], catalogue); (got == "") != ok {
			t.Errorf("%s: %q", text, got)
		}
	}
}
