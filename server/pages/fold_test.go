package pages

import (
	"fmt"
	"html/template"
	"io/fs"
	"regexp"
	"strings"
	"testing"
	"text/template/parse"

	"thatch/web"
	"thatch/web/words"
)

// A: a folded template against the same one as it was written, in every place where one may stand.
func TestAFoldedTemplateWritesTheSame(t *testing.T) {
	const text = `<link href="{{asset "styles/thatch.css"}}"><script src="{{asset "scripts/page.js"}}"></script><title>{{t "session.photos"}} {{.A}}</title><p title="{{t "photo.alt.none"}}{{t "ui.undo"}} {{.A}}">{{t "session.photos.none"}} {{icon "check"}}</p>
{{- if mayChange}}<a href="/x?{{.A}}">{{t "ui.undo"}}</a>{{else}}<b>{{t "session.photos"}}</b>{{end}}{{if mayChange}}{{.A}}{{end}}
{{- with .B}}{{range .}}<i aria-label="{{t "session.photos"}}">{{.}}{{icon "eye"}}{{t "session.photos.all" "n" 3}}</i>{{end}}{{else}}{{t "ui.undo"}}{{end}}
{{- template "part" .}}{{if and mayChange .A}}{{t "ui.undo"}}{{end}}{{if .B}}{{t "ui.undo"}}{{else if mayChange}}{{t "session.photos"}}{{end}}{{$x := t "ui.undo"}}{{$x}}
{{- template "given" (dict "X" (t "photo.alt.none") "Y" (or .A (t "session.photos")))}}{{printf "%s|%v" (t "ui.undo") (and mayChange .A)}}{{with and .A (not mayChange)}}{{.}}{{end}}`
	const part = `{{define "given"}}<p title="{{.X}}">{{.Y}}</p>{{end}}{{define "part"}}<button title="{{t "session.photos"}}">{{icon "undo"}}{{t "ui.undo"}}</button>{{end}}`
	data := []any{
		map[string]any{"A": `<&"'+`, "B": []string{"<x>", "y"}},
		map[string]any{"A": "", "B": []string(nil)},
	}
	for _, lang := range words.Languages() {
		for _, mayChange := range []bool{true, false} {
			sp := words.Speaker{Lang: lang.Code, Units: words.Millimetres, Unbroken: true}
			made := func(folded bool) *template.Template {
				set := template.Must(template.New("page").Funcs(funcs(sp, mayChange)).Parse(text))
				template.Must(set.Parse(part))
				if folded {
					fold(set, sp, mayChange)
				}
				return set
			}
			for i, d := range data {
				var got, want strings.Builder
				if err := made(true).Execute(&got, d); err != nil {
					t.Fatal(err)
				}
				if err := made(false).Execute(&want, d); err != nil {
					t.Fatal(err)
				}
				same := func(s string) string { return strings.ReplaceAll(s, "&#43;", "+") } // harmless in HTML, and escaped by html/template all the same
				if same(got.String()) != same(want.String()) {
					t.Errorf("%s, may change %v, %d:\n%s\nwant\n%s", lang.Code, mayChange, i, got.String(), want.String())
				}
			}
		}
	}
}

// What is folded is escaped for text and for quoted attributes. Nowhere may it stand elsewhere: in an address, a script, a style.
func TestWhatIsFoldedStandsInTextOrQuotes(t *testing.T) {
	wrong := []*regexp.Regexp{
		regexp.MustCompile(`(?i)\s(href|src|srcset|action|formaction|poster|style|on[a-z]+|[a-z:-]*(src|uri|url)[a-z-]*)="[^"]*\{\{-? ?(t|icon) "[^"]*" ?-?\}\}`),
		regexp.MustCompile(`=\{\{-? ?(t|icon) "`),
		regexp.MustCompile(`='[^']*\{\{-? ?(t|icon) "[^']*'`),
		regexp.MustCompile(`(?s)<(script|style)\b[^>]*>[^<]*\{\{-? ?(t|icon|asset) "`),
		regexp.MustCompile(`="[^"{]*(\{\{[^}]*\}\}[^"{]*)*\{\{-? ?icon "`),
	}
	files := 0
	err := fs.WalkDir(web.Templates(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := fs.ReadFile(web.Templates(), name)
		files++
		for _, re := range wrong {
			if at := re.FindString(string(b)); at != "" {
				t.Errorf("%s: %.200s", name, at)
			}
		}
		return err
	})
	if err != nil || files < 50 {
		t.Fatalf("%d templates, %v", files, err)
	}
}

// In a book nothing is left that could have been put in.
func TestABookIsFolded(t *testing.T) {
	bk, err := parseBook(words.Speaker{Lang: words.English, Units: words.Millimetres, Unbroken: true}, true)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	look := func(n parse.Node) {
		switch n := n.(type) {
		case *parse.ActionNode:
			seen++
			if called(n.Pipe, "t", 1) || called(n.Pipe, "icon", 1) || called(n.Pipe, "asset", 1) {
				t.Errorf("left: %s", n)
			}
		case *parse.IfNode:
			if called(n.Pipe, "mayChange", 0) {
				t.Errorf("left: %s", fmt.Sprint(n)[:40])
			}
		}
	}
	for _, set := range bk {
		for _, x := range set.Templates() {
			if x.Tree != nil {
				nodes(x.Tree.Root, look)
			}
		}
	}
	if seen < 1000 {
		t.Errorf("only %d actions were looked at", seen)
	}
}
