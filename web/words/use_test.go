package words

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// families are keys that are made from a value: their prefixes, each with where its values come from.
var families = []string{
	"zone.", "group.", "point.", "part.", "work.", "tool.", "ripeness.", "cover.", "hair_check.", "skin.", "loft.", "side.", "phase.", "coat_state.",
	"undercoat.", "texture.", "source.", "share.", "verdict.", "status.", "weekday.", "month.", // timeline, coat, plan
	"fault.photo.", "flag.", // imaging's codes
	"said.", "trash.kind.", "points.where.", "lines.", "session.do.", "shows.priority.", "growth.status.", "style.", "fault.coat.want_", "fault.store.not_found.",
}

var (
	inGo       = regexp.MustCompile(`"((?:fault|why|warn|look|change|demo|cmd|align|overlay|share|ui|plan|dog|session|sessions|readings|growth|api|client|editdog|settings|trash|home|newdog|upload|photo|points|compare|show|shows|list|day)\.[a-z0-9_.]*[a-z0-9_])"`)
	inTemplate = regexp.MustCompile(`\bt "([^"]+)"`)
	plural     = regexp.MustCompile(`\.(one|other)$`)
)

// used are the keys that Go code and templates name, with one place each.
func used(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, root := range []string{"../../cmd", "../../server", "../../imaging", "../../timeline", "../../store", "../../web"} {
		err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			pattern := inGo
			switch {
			case strings.HasSuffix(name, "_test.go"):
				return nil
			case strings.HasSuffix(name, ".go"):
			case strings.HasSuffix(name, ".html"):
				pattern = inTemplate
			default:
				return nil
			}
			b, err := os.ReadFile(name)
			if err != nil {
				return err
			}
			for _, m := range pattern.FindAllStringSubmatch(string(b), -1) {
				out[m[1]] = name
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if len(out) < 300 {
		t.Fatalf("only %d keys are used: the patterns read nothing", len(out))
	}
	return out
}

func inFamily(key string) bool {
	for _, f := range families {
		if strings.HasPrefix(key, f) {
			return true
		}
	}
	return false
}

// sure are prefixes that nothing but a key has; in Go code, "session.saved" may also name something else.
var sure = regexp.MustCompile(`^(fault|why|warn|look|change|demo|cmd|align|overlay|share|ui)\.`)

func TestEveryKeyThatIsUsedIsInTheCatalogue(t *testing.T) {
	for key, where := range used(t) {
		if inFamily(key+".") || strings.HasSuffix(where, ".go") && !sure.MatchString(key) || strings.HasSuffix(key, ".html") {
			continue
		}
		_, plain := catalogues["en"][key]
		_, one := catalogues["en"][key+".one"]
		_, other := catalogues["en"][key+".other"]
		if !plain && !(one && other) {
			t.Errorf("%s uses %q, which the catalogue lacks", where, key)
		}
	}
}

func TestEveryKeyOfTheCatalogueIsUsed(t *testing.T) {
	by := used(t)
	for _, key := range Keys("en") {
		base := plural.ReplaceAllString(key, "")
		if _, ok := by[base]; !ok && by[key] == "" && !inFamily(key) {
			t.Errorf("nobody uses %q", key)
		}
	}
}
