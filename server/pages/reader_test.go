package pages_test

import (
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"thatch/timeline/outside"
)

// onlyForms are the pages on which there is nothing to see but what is to be filled in.
var onlyForms = regexp.MustCompile(`^/(dogs/new|dogs/[^/]+/(edit|client|combs|first|photos/new|sessions/new|target)|photos/[^/]+/(points|tape|edge)|sessions/[^/]+/(arrange|work)|heap.*|check|settings|people.*)$`)

// Whoever only looks goes from page to page by every link that is shown: each leads to something that may be seen. A groomer,
// who goes the same ways, is shown the forms.
func TestAReaderIsShownNoWayThatLeadsNowhere(t *testing.T) {
	outside.Alone(t)
	x := openedToPeople(t)
	x.furnished()
	links := regexp.MustCompile(`href="(/[^"#]*)`)
	walk := func(name, password string) (forms map[string]string, pages int) {
		x.in(name, password)
		forms = map[string]string{}
		kinds := map[string]int{}
		queue, seen := []string{"/"}, map[string]bool{"/": true}
		for len(queue) > 0 {
			at := queue[0]
			queue = queue[1:]
			w := x.call(at)
			if w.Code != http.StatusOK {
				t.Errorf("%s is shown a way to %s: %d", name, at, w.Code)
			}
			pages++
			for _, m := range links.FindAllStringSubmatch(w.Body.String(), -1) {
				to := html.UnescapeString(m[1])
				path, _, _ := strings.Cut(to, "?")
				if onlyForms.MatchString(path) {
					forms[path] = at
					continue
				}
				kind := regexp.MustCompile(`[0-9a-z]{16}`).ReplaceAllString(path, "*")
				if seen[to] || strings.HasPrefix(to, "/assets/") || strings.Contains(path, "/picture/") || strings.HasSuffix(path, ".pdf") || strings.HasSuffix(path, ".svg") || kinds[kind] >= 3 {
					continue
				}
				seen[to] = true
				kinds[kind]++
				queue = append(queue, to)
			}
		}
		return forms, pages
	}
	forms, pages := walk("Cy", cys)
	if pages < 12 {
		t.Errorf("only %d pages are to be seen", pages)
	}
	for path, at := range forms {
		t.Errorf("%s shows a reader the way to %s", at, path)
	}
	if forms, _ := walk("Bo", bos); len(forms) < 10 {
		t.Errorf("a groomer is shown %d forms", len(forms))
	}
}
