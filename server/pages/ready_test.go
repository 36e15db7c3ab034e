package pages

import (
	"fmt"
	"html/template"
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"

	"thatch/timeline"
	"thatch/timeline/plan"
	"thatch/web"
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
		for _, v := range r.made {
			kept += len(v)
		}
		if kept > readyBytes || kept != r.bytes {
			t.Fatalf("after %d: %d bytes kept, %d counted", i, kept, r.bytes)
		}
	}
}

// A ready part is HTML: inside an attribute, a script or a style it would be something else.
func TestReadyPartsStandInText(t *testing.T) {
	names := strings.Join(slices.Sorted(maps.Keys(readyParts)), "|")
	wrong := regexp.MustCompile(`="[^"]*(\{\{[^}]*\}\}[^"]*)*\{\{-? ?template "(` + names + `)"|(?s)<(script|style)\b[^>]*>[^<]*\{\{-? ?template "(` + names + `)"`)
	calls := regexp.MustCompile(`\{\{-? ?template "(` + names + `)"`)
	found := map[string]bool{}
	err := fs.WalkDir(web.Templates(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := fs.ReadFile(web.Templates(), name)
		for _, tag := range regexp.MustCompile(`<[a-z][^<]*`).FindAllString(string(b), -1) {
			head := tag
			if at := closing(tag); at >= 0 {
				head = tag[:at]
			}
			if wrong.MatchString(head) {
				t.Errorf("%s: %.200s", name, head)
			}
		}
		for _, m := range calls.FindAllStringSubmatch(string(b), -1) {
			found[m[1]] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for name := range readyParts {
		if !found[name] {
			t.Errorf("%s is called by no template", name)
		}
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

// Parts are only those: what asks who is there, or anything else but its values, must not be kept.
func TestAReadyPartKnowsOnlyItsValues(t *testing.T) {
	free := map[string]bool{"t": true, "icon": true, "word": true, "dogshape": true, "print": true, "eq": true, "or": true, "index": true, "mayChange": true, "ready": true, "dict": true}
	text := map[string]string{}
	define := regexp.MustCompile(`\{\{define "([a-z-]+)"\}\}`)
	files, err := fs.Glob(web.Templates(), "parts/*.html")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		b, err := fs.ReadFile(web.Templates(), f)
		if err != nil {
			t.Fatal(err)
		}
		at := define.FindAllStringSubmatchIndex(string(b), -1)
		for i, m := range at {
			end := len(b)
			if i+1 < len(at) {
				end = at[i+1][0]
			}
			text[string(b[m[2]:m[3]])] = string(b[m[1]:end])
		}
	}
	call := regexp.MustCompile(`\{\{-? ?(?:if |else if |with |range )?\(?([a-z][A-Za-z]+)`)
	within := regexp.MustCompile(`\{\{-? ?template "([a-z-]+)"`)
	for name := range readyParts {
		for _, m := range within.FindAllStringSubmatch(text[name], -1) {
			if !readyParts[m[1]] {
				t.Errorf("%s has %s in it, which may know more", name, m[1])
			}
		}
		if text[name] == "" {
			t.Errorf("no part %s", name)
		}
		for _, m := range call.FindAllStringSubmatch(text[name], -1) {
			switch m[1] {
			case "if", "else", "end", "with", "range", "define", "template":
			default:
				if !free[m[1]] {
					t.Errorf("%s calls %s", name, m[1])
				}
			}
		}
	}
}
