package pages

import (
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"testing"

	"thatch/web"
)

// A form that is kept without network and then refused for its address would be lost: every form that is marked goes where
// repeats are known.
func TestEveryFormThatMayWaitGoesWhereRepeatsAreKnown(t *testing.T) {
	form := regexp.MustCompile(`<form\b(?:[^>{]|\{\{[^}]*\}\})*\sdata-outbox\b(?:[^>{]|\{\{[^}]*\}\})*>`)
	action := regexp.MustCompile(`\saction="([^"{]*(?:\{\{[^}]*\}\}[^"{]*)*)"`)
	value := regexp.MustCompile(`\{\{[^}]*\}\}`)
	seen := 0
	err := fs.WalkDir(web.Templates(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := fs.ReadFile(web.Templates(), name)
		if err != nil {
			return err
		}
		for _, tag := range form.FindAllString(string(b), -1) {
			seen++
			m := action.FindStringSubmatch(tag)
			if m == nil {
				t.Errorf("%s: no address in %s", name, tag)
				continue
			}
			route := value.ReplaceAllString(m[1], "{id}")
			if !slices.ContainsFunc(onceRoutes, func(p string) bool { return strings.HasPrefix(route, p) }) {
				t.Errorf("%s: what is kept for %s would be refused", name, route)
			}
		}
		return nil
	})
	if err != nil || seen < 5 {
		t.Errorf("%d forms, %v", seen, err)
	}
}
