package pages

import (
	"fmt"
	"html/template"
	"io/fs"
	"iter"
	"maps"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"text/template/parse"

	"thatch/timeline"
	"thatch/timeline/plan"
	"thatch/web"
	"thatch/web/drawing"
	"thatch/web/words"
)

var english = words.Speaker{Lang: words.English, Units: words.Millimetres, Unbroken: true}

// A: what is put in against the part's own template, the first time and the second; what is no plain value too.
func TestAPartThatIsReadySaysWhatItsTemplateSays(t *testing.T) {
	bk, err := parseBook(english, true)
	if err != nil {
		t.Fatal(err)
	}
	page := bk["session"]
	call := template.Must(template.Must(page.Clone()).Parse(`{{define "call"}}{{ready .Part .With}}{{end}}{{define "calls"}}{{ready .Part "Name" .Name "Value" .Value "Label" .Label "On" .On "Note" .Note}}{{end}}`))
	said := func(name string, data any) string {
		var b strings.Builder
		if err := call.ExecuteTemplate(&b, name, data); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	for range 2 {
		for _, v := range []any{plan.OnTrack, plan.Tight, plan.TooLate, plan.NoBand, "tight"} {
			if got, want := said("call", map[string]any{"Part": "verdict", "With": v}), said("verdict", v); got != want || !strings.Contains(got, "<svg") {
				t.Errorf("verdict %v: %s\nwant %s", v, got, want)
			}
		}
		for _, value := range []any{timeline.Back, "back", `"><script>`, 3, 0.5, nil, []string{"a"}} {
			for _, on := range []any{true, false, "", "x"} {
				for _, note := range []any{nil, "", "<b>"} {
					data := map[string]any{"Part": "chip", "Name": "zones", "Value": value, "Label": template.HTMLEscapeString("a & b"), "On": on, "Note": note}
					if got, want := said("calls", data), said("chip", data); got != want || strings.Contains(got, "<script") {
						t.Errorf("chip %v %v %v: %s\nwant %s", value, on, note, got, want)
					}
				}
			}
		}
	}
}

// Another value, or another kind of it, is another part; what is not told by comparing it is never kept.
func TestNoTwoValuesShareAPart(t *testing.T) {
	keys := map[readyKey]string{}
	for _, with := range [][]any{
		{"a"}, {timeline.Zone("a")}, {1}, {int64(1)}, {1.0}, {true}, {false}, {"1"}, {""}, {timeline.Zone("")},
		{"A", "a", "B", "b"}, {"A", "b", "B", "a"}, {"B", "b"}, {"B", timeline.Zone("b")}, {"A", 0, "B", ""}, {"A", 0, "B", "", "C", ""},
	} {
		key, plain := keyOfPart("p", with)
		if was, ok := keys[key]; ok || !plain {
			t.Errorf("%#v: plain %v, the same as %s", with, plain, was)
		}
		keys[key] = fmt.Sprintf("%#v", with)
		if other, _ := keyOfPart("q", with); other == key {
			t.Errorf("%#v is the same for two parts", with)
		}
	}
	for _, with := range [][]any{{nil}, {"A", nil}, {"A", []string{"x"}}, {map[string]any{}}, {struct{ A any }{1}}, {&keys}, make([]any, readyValues+1)} {
		if _, plain := keyOfPart("p", with); plain {
			t.Errorf("%#v is taken for plain", with)
		}
	}
}

func TestWhatIsKeptReadyIsBounded(t *testing.T) {
	r := newReady()
	r.parts = template.Must(template.New("").Parse(`{{define "p"}}{{.}}{{end}}`))
	long := strings.Repeat("x", 64<<10)
	for i := range 1000 {
		out, err := r.part("p", fmt.Sprint(i, long))
		if err != nil || !strings.HasPrefix(string(out), fmt.Sprint(i)) {
			t.Fatalf("%d: %v", i, err)
		}
		kept := 0
		for k, v := range r.made {
			kept += len(v) + len(k.with[0].(string)) + len(k.part) + int(reflect.TypeFor[readyKey]().Size())
		}
		if kept > readyBytes || kept != r.bytes {
			t.Fatalf("after %d: %d bytes kept, %d counted", i, kept, r.bytes)
		}
	}
}

// A ready part is HTML: inside a tag, a script, a style, or an element of plain text it would be something else.
func TestReadyPartsStandInText(t *testing.T) {
	names := strings.Join(slices.Sorted(maps.Keys(readyParts)), "|")
	calls := regexp.MustCompile(`\{\{-? ?template "(` + names + `)"`)
	plain := regexp.MustCompile(`^<(script|style|textarea|title)\b`)
	found := map[string]bool{}
	err := fs.WalkDir(web.Templates(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := fs.ReadFile(web.Templates(), name)
		if err != nil {
			return err
		}
		for _, tag := range regexp.MustCompile(`<[a-z][^<]*`).FindAllString(string(b), -1) {
			text := tag[max(0, closing(tag)):]
			head := strings.TrimSuffix(tag, text)
			if plain.MatchString(tag) {
				head = tag
			}
			if calls.MatchString(head) {
				t.Errorf("%s: %.200s", name, head)
			}
		}
		for _, m := range calls.FindAllStringSubmatch(string(b), -1) {
			found[m[1]] = true
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for name := range readyParts {
		if !found[name] {
			t.Errorf("%s is called by no template", name)
		}
	}
	if closing(`<a title="{{if gt .A 1}}{{template "x"}}{{end}}">b`) != 48 || !calls.MatchString(`<b>{{template "verdict" .}}`) {
		t.Error("this test does not look where it says")
	}
}

// closing is where a tag ends that may have calls in its attributes.
func closing(tag string) int {
	inside := 0
	for i := range len(tag) {
		switch {
		case strings.HasPrefix(tag[i:], "{{"):
			inside++
		case strings.HasPrefix(tag[i:], "}}"):
			inside--
		case tag[i] == '>' && inside == 0:
			return i
		}
	}
	return -1
}

// What asks who is there, or anything else but its values, must not be kept: a ready part calls only what says the same for
// the same values in the same book, and has only such parts in it.
func TestAReadyPartKnowsOnlyItsValues(t *testing.T) {
	free := map[string]bool{"t": true, "icon": true, "word": true, "dogshape": true, "print": true, "eq": true, "or": true, "index": true, "ne": true, "mayChange": true, "ready": true, "dict": true}
	bk, err := parseBook(english, true)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, name := range slices.Sorted(both(maps.Keys(readyParts), maps.Keys(drawnParts))) {
		part := bk["session"].Lookup(name)
		if part == nil || part.Tree == nil {
			t.Errorf("no part %s", name)
			continue
		}
		nodes(part.Tree.Root, func(n parse.Node) {
			switch n := n.(type) {
			case *parse.IdentifierNode:
				if seen++; !free[n.Ident] {
					t.Errorf("%s calls %s", name, n.Ident)
				}
			case *parse.TemplateNode:
				t.Errorf("%s has %s in it, which may know more", name, n.Name)
			}
		})
	}
	if seen < 10 {
		t.Errorf("only %d calls were looked at", seen)
	}
}

func both(a, b iter.Seq[string]) iter.Seq[string] {
	return func(yield func(string) bool) {
		for _, names := range []iter.Seq[string]{a, b} {
			for name := range names {
				if !yield(name) {
					return
				}
			}
		}
	}
}

// nodes are all that stand in a template.
func nodes(n parse.Node, look func(parse.Node)) {
	branch := func(b parse.BranchNode) {
		nodes(b.Pipe, look)
		nodes(b.List, look)
		nodes(b.ElseList, look)
	}
	look(n)
	switch n := n.(type) {
	case *parse.ListNode:
		if n != nil {
			for _, x := range n.Nodes {
				nodes(x, look)
			}
		}
	case *parse.PipeNode:
		if n != nil {
			for _, c := range n.Cmds {
				for _, a := range c.Args {
					nodes(a, look)
				}
			}
		}
	case *parse.ActionNode:
		nodes(n.Pipe, look)
	case *parse.TemplateNode:
		nodes(n.Pipe, look)
	case *parse.IfNode:
		branch(n.BranchNode)
	case *parse.WithNode:
		branch(n.BranchNode)
	case *parse.RangeNode:
		branch(n.BranchNode)
	case *parse.ChainNode:
		nodes(n.Node, look)
	}
}

// A: the attributes that are put together by hand against the same ones written by html/template.
func TestTheLinkOfADrawnZoneIsEscaped(t *testing.T) {
	byTemplate := template.Must(template.New("").Parse(`<a class="dog-zone {{.Class}}" id="{{.ID}}" tabindex="-1" href="{{.To}}" data-zone="back" data-x="1.5" data-y="-2" data-says="{{.Says}}" aria-label="{{.Says}}" ></a>`))
	byHand := template.Must(template.New("").Parse(`<a {{.}}></a>`))
	shape := drawing.Shape{Zone: timeline.Back, At: drawing.XY{X: 1.5, Y: -2}}
	for _, d := range []dogDrawing{
		{},
		{Prefix: "d", Target: "zone-"},
		{Prefix: "d", Path: "/dogs/0123456789abcdef?zone=", Anchor: "#zone"},
		{Prefix: "d", Path: "/dogs/0123456789abcdef/growth?a=1&zone="},
		{Prefix: `"><script>`, Target: `"'<>&`, Marks: map[timeline.Zone]zoneMark{timeline.Back: {Class: `z" onclick="x`, Says: `12 mm </a><img src=x onerror="y">`}}},
	} {
		m := d.Marks[timeline.Back]
		says, to := "back", "#"+d.Target+"back"
		if m.Says != "" {
			says += ": " + m.Says
		}
		if d.Path != "" {
			to = d.Path + "back" + d.Anchor
		}
		var got, want strings.Builder
		if err := byHand.Execute(&got, dogLink(english, d, shape)); err != nil {
			t.Fatal(err)
		}
		if err := byTemplate.Execute(&want, map[string]string{"Class": m.Class, "ID": d.Prefix + "-z-back", "To": to, "Says": says}); err != nil {
			t.Fatal(err)
		}
		// An address is escaped for addresses too; none of these is made of what people type.
		same := strings.NewReplacer("%22", "&#34;", "%27", "&#39;", "%3c", "&lt;", "%3e", "&gt;", "&#43;", "+", "&#61;", "=").Replace
		if same(got.String()) != same(want.String()) {
			t.Errorf("%+v:\n%s\nwant\n%s", d, got.String(), want.String())
		}
	}
}
