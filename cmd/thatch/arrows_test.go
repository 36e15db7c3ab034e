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
	"thatch/cmd":              {"thatch/..."},
	"thatch/server":           {"thatch/server/...", "thatch/store", "thatch/imaging/...", "thatch/timeline/...", "thatch/web/..."},
	"thatch/server/salon":     {"thatch/store", "thatch/imaging/...", "thatch/timeline/...", "thatch/web/words"},
	"thatch/store":            {"thatch/timeline"},
	"thatch/imaging":          {},
	"thatch/imaging/align":    {"thatch/imaging", "thatch/timeline"},
	"thatch/imaging/outline":  {"thatch/imaging", "thatch/timeline"},
	"thatch/imaging/overlay":  {"thatch/imaging", "thatch/timeline"},
	"thatch/imaging/phantom":  {"thatch/imaging", "thatch/timeline"},
	"thatch/timeline":         {},
	"thatch/timeline/coat":    {"thatch/timeline"},
	"thatch/timeline/plan":    {"thatch/timeline", "thatch/timeline/coat"},
	"thatch/timeline/outside": {},
	"thatch/web":              {"thatch/timeline", "thatch/web/..."},
}

// forbidden are packages that a room, with everything under it, may not import.
var forbidden = map[string][]string{
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

// wrongArrows names every import that points the wrong way.
func wrongArrows(rooms []room) []string {
	var out []string
	for _, r := range rooms {
		rule := ruleOf(r.path)
		for _, to := range r.imports {
			if under(to, "thatch") && !slices.ContainsFunc(rule, func(may string) bool { return covers(may, to) }) {
				out = append(out, r.path+" → "+to)
			}
			for held, not := range forbidden {
				if under(r.path, held) && slices.Contains(not, to) {
					out = append(out, r.path+" → "+to)
				}
			}
		}
	}
	return out
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
		{"a room that nobody drew imports nothing of ours", room{"thatch/attic", []string{"thatch/timeline"}}, true},
	} {
		if got := wrongArrows([]room{c.room}); (len(got) > 0) != c.wrong {
			t.Errorf("%s: %v", c.name, got)
		}
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
			ast.Inspect(f, func(n ast.Node) bool {
				if s, ok := n.(*ast.SelectorExpr); ok {
					if x, ok := s.X.(*ast.Ident); ok && x.Name == "time" && (s.Sel.Name == "Now" || s.Sel.Name == "Since" || s.Sel.Name == "Local") {
						t.Errorf("%s uses time.%s", name, s.Sel.Name)
					}
				}
				return true
			})
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
