package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// room is a package of the house with what it imports, tests left out.
type room struct {
	path    string
	imports []string
}

// allowed says which of our own packages a room may import: one, or one with all under it ("/..."). A room is ruled by the
// longest line that covers it; without a line it may import none of ours.
var allowed = map[string][]string{
	"thatch/cmd":                   {"thatch/..."},
	"thatch/server":                {"thatch/server/...", "thatch/store", "thatch/imaging/...", "thatch/timeline/...", "thatch/web/..."},
	"thatch/server/salon":          {"thatch/store", "thatch/imaging/...", "thatch/timeline/...", "thatch/web/words"},
	"thatch/store":                 {"thatch/timeline"},
	"thatch/store/faultfs":         {"thatch/store"}, // disks that fail, for tests
	"thatch/imaging":               {"thatch/imaging/heicwasm"},
	"thatch/imaging/heicwasm":      {},
	"thatch/imaging/align":         {"thatch/imaging", "thatch/timeline"},
	"thatch/imaging/outline":       {"thatch/imaging", "thatch/timeline"},
	"thatch/imaging/outline/guess": {"thatch/imaging", "thatch/imaging/outline", "thatch/timeline"},
	// Measuring lies on what aligning and edges know; neither knows of it.
	"thatch/imaging/measure":  {"thatch/imaging/align", "thatch/imaging/outline", "thatch/timeline"},
	"thatch/imaging/overlay":  {"thatch/imaging", "thatch/timeline"},
	"thatch/imaging/phantom":  {"thatch/imaging", "thatch/timeline"},
	"thatch/timeline":         {},
	"thatch/timeline/coat":    {"thatch/timeline"},
	"thatch/timeline/plan":    {"thatch/timeline", "thatch/timeline/coat"},
	"thatch/timeline/outside": {},
	"thatch/web":              {"thatch/timeline", "thatch/web/..."},
}

// forbidden are packages that a room, with everything under it, may not reach: neither itself nor through others of ours.
var forbidden = map[string][]string{
	"thatch":              {"thatch/timeline/outside"}, // for tests only
	"thatch/server/salon": {"net/http"},
	"thatch/imaging":      {"net/http", "database/sql", "modernc.org/sqlite"},
	"thatch/timeline":     {"net/http", "database/sql", "modernc.org/sqlite"},
	"thatch/store":        {"net/http"},
}

func under(path, room string) bool { return path == room || strings.HasPrefix(path, room+"/") }

func covers(may, path string) bool {
	if dir, all := strings.CutSuffix(may, "/..."); all {
		return under(path, dir)
	}
	return path == may
}

// ruleOf is the longest line of allowed that covers the room.
func ruleOf(path string) []string {
	best := ""
	for r := range allowed {
		if under(path, r) && len(r) > len(best) {
			best = r
		}
	}
	return allowed[best]
}

// wrongArrows names every import that points the wrong way, and every way through our own rooms to a forbidden package.
func wrongArrows(rooms []room) []string {
	var out []string
	imports := map[string][]string{}
	for _, r := range rooms {
		imports[r.path] = r.imports
	}
	for _, r := range rooms {
		rule := ruleOf(r.path)
		for _, to := range r.imports {
			if under(to, "thatch") && !slices.ContainsFunc(rule, func(may string) bool { return covers(may, to) }) {
				out = append(out, r.path+" → "+to)
			}
		}
		for held, not := range forbidden {
			if !under(r.path, held) {
				continue
			}
			for _, to := range not {
				if way := wayTo(imports, r.path, to, map[string]bool{}); way != "" {
					out = append(out, way)
				}
			}
		}
	}
	return out
}

// wayTo is one way from a room to a package through our own rooms, or "".
func wayTo(imports map[string][]string, from, to string, seen map[string]bool) string {
	seen[from] = true
	for _, next := range imports[from] {
		if next == to {
			return from + " → " + to
		}
		if under(next, "thatch") && !seen[next] {
			if way := wayTo(imports, next, to, seen); way != "" {
				return from + " → " + way
			}
		}
	}
	return ""
}

func TestArrowsPointOneWay(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "thatch/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	var rooms []room
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p struct {
			ImportPath string
			Imports    []string
		}
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		rooms = append(rooms, room{p.ImportPath, p.Imports})
	}
	if len(rooms) < 15 {
		t.Fatalf("only %d packages are listed", len(rooms))
	}
	for _, a := range wrongArrows(rooms) {
		t.Error(a)
	}
}

func TestAWrongArrowIsSeen(t *testing.T) {
	for _, c := range []struct {
		name  string
		room  room
		wrong bool
	}{
		{"cmd may import anything of ours", room{"thatch/cmd/thatch", []string{"thatch/server", "thatch/store", "net/http"}}, false},
		{"store knows the vocabulary", room{"thatch/store", []string{"thatch/timeline"}}, false},
		{"store does not know the model", room{"thatch/store", []string{"thatch/timeline/coat"}}, true},
		{"store does not know the server", room{"thatch/store", []string{"thatch/server"}}, true},
		{"imaging imports nothing of ours", room{"thatch/imaging", []string{"thatch/timeline"}}, true},
		{"align knows names", room{"thatch/imaging/align", []string{"thatch/timeline"}}, false},
		{"align does not know the model", room{"thatch/imaging/align", []string{"thatch/timeline/coat"}}, true},
		{"timeline imports nothing of ours", room{"thatch/timeline", []string{"thatch/web/words"}}, true},
		{"timeline knows no HTTP", room{"thatch/timeline/plan", []string{"net/http"}}, true},
		{"the use cases know no HTTP", room{"thatch/server/salon", []string{"net/http"}}, true},
		{"the use cases do not know the pages", room{"thatch/server/salon", []string{"thatch/server/pages"}}, true},
		{"pages know the use cases", room{"thatch/server/pages", []string{"thatch/server/salon", "net/http", "thatch/timeline/coat"}}, false},
		{"web does not know the server", room{"thatch/web/words", []string{"thatch/server"}}, true},
		{"no room uses the tests' corpora", room{"thatch/server/pages", []string{"thatch/timeline/outside"}}, true},
		{"timeline knows no SQL", room{"thatch/timeline/coat", []string{"thatch/timeline", "database/sql"}}, true},
		{"plan knows the model", room{"thatch/timeline/plan", []string{"thatch/timeline", "thatch/timeline/coat"}}, false},
		{"the model does not know the plan", room{"thatch/timeline/coat", []string{"thatch/timeline/plan"}}, true},
		{"outline knows trusted pixels", room{"thatch/imaging/outline", []string{"thatch/imaging", "thatch/timeline"}}, false},
		{"outline does not know align", room{"thatch/imaging/outline", []string{"thatch/imaging/align"}}, true},
		{"web does not know the model", room{"thatch/web/drawing", []string{"thatch/timeline/coat"}}, true},
		{"nobody knows cmd", room{"thatch/server", []string{"thatch/cmd/thatch"}}, true},
		{"another module's path is not ours", room{"thatch/timeline", []string{"thatcher/timeline"}}, false},
		{"a room that nobody drew imports nothing of ours", room{"thatch/attic", []string{"thatch/timeline"}}, true},
	} {
		if got := wrongArrows([]room{c.room}); (len(got) > 0) != c.wrong {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

func TestAForbiddenPackageIsSeenThroughOtherRooms(t *testing.T) {
	house := []room{
		{"thatch/server/salon", []string{"thatch/store", "thatch/web/words"}},
		{"thatch/web/words", []string{"thatch/web/letters"}},
		{"thatch/web/letters", []string{"thatch/web/words", "net/url"}},
		{"thatch/store", []string{"database/sql", "thatch/timeline"}},
		{"thatch/timeline", []string{"time"}},
	}
	if got := wrongArrows(house); len(got) > 0 {
		t.Errorf("a sound house: %v", got)
	}
	house[2].imports = append(house[2].imports, "net/http")
	want := "thatch/server/salon → thatch/web/words → thatch/web/letters → net/http"
	if got := wrongArrows(house); !slices.Contains(got, want) {
		t.Errorf("%v, want %s", got, want)
	}
}

// The present is passed in: a clock inside these rooms would make a forecast or a photo's date differ from run to run.
func TestImagingAndTimelineHaveNoClock(t *testing.T) {
	files := 0
	for _, root := range []string{"../../imaging", "../../timeline"} {
		err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
				return err
			}
			files++
			f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
			if err != nil {
				return err
			}
			for _, use := range clocks(f) {
				t.Errorf("%s uses %s", name, use)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if files < 50 {
		t.Fatalf("only %d files were read", files)
	}
}

// clocks names every use of package time that asks the machine for the present or for its own zone, under whatever name the
// file imports the package.
func clocks(f *ast.File) []string {
	name := ""
	for _, i := range f.Imports {
		if i.Path.Value == `"time"` {
			if name = "time"; i.Name != nil {
				name = i.Name.Name
			}
		}
	}
	if name == "." {
		return []string{"the names of package time without the package's"}
	}
	asks := []string{"Now", "Since", "Until", "Local", "After", "AfterFunc", "Sleep", "Tick", "NewTicker", "NewTimer"}
	var out []string
	ast.Inspect(f, func(n ast.Node) bool {
		if s, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := s.X.(*ast.Ident); ok && name != "" && x.Name == name && slices.Contains(asks, s.Sel.Name) {
				out = append(out, "time."+s.Sel.Name)
			}
		}
		return true
	})
	return out
}

func TestAClockIsSeen(t *testing.T) {
	for src, want := range map[string]int{
		"import \"time\"\nvar d = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)":             0,
		"import \"time\"\nvar d = time.Now()":                                              1,
		"import \"time\"\nvar now = time.Now":                                              1,
		"import clock \"time\"\nfunc f(t clock.Time) { _ = clock.Since(t) }":               1,
		"import \"time\"\nfunc f(t time.Time) { _ = t.In(time.Local); _ = time.Until(t) }": 2,
		"import . \"time\"\nvar d = Now()":                                                 1,
		"import \"time\"\nfunc f(t time.Time) bool { return t.After(t) }":                  0,
		"var time struct{ Now int }\nvar n = time.Now":                                     0,
	} {
		f, err := parser.ParseFile(token.NewFileSet(), "made_up.go", "package p\n"+src, 0)
		if err != nil {
			t.Fatal(err)
		}
		if got := clocks(f); len(got) != want {
			t.Errorf("%s: %v", src, got)
		}
	}
}
