package server_test

import (
	"net/http"
	"strings"
	"testing"

	"thatch/server"
	"thatch/server/guard"
)

// elsewhere are the ways in which a page of another site makes a browser send something, and what the browser then says.
// W3C Fetch Metadata; Origin as in RFC 6454; browsers before either said only Referer.
var elsewhere = map[string][]string{
	"another site":                       {"Sec-Fetch-Site", "cross-site", "Origin", "https://example.org"},
	"another site, no Origin":            {"Sec-Fetch-Site", "cross-site"},
	"the same site under another name":   {"Sec-Fetch-Site", "same-site", "Origin", "http://other.localhost"},
	"the same name at another port":      {"Sec-Fetch-Site", "same-site", "Origin", "http://127.0.0.1:1"},
	"a frame without an origin":          {"Sec-Fetch-Site", "cross-site", "Origin", "null"},
	"a word that is none":                {"Sec-Fetch-Site", "same-origin, cross-site"},
	"no metadata, another origin":        {"Origin", "https://example.org"},
	"no metadata, null origin":           {"Origin", "null"},
	"no metadata, another port":          {"Origin", "http://127.0.0.1:1"},
	"no metadata, our name in front":     {"Origin", "http://HOST.example.org"},
	"no metadata, a file":                {"Origin", "file://"},
	"old, from another site":             {"Referer", "https://example.org/page"},
	"old, our name in the path":          {"Referer", "https://example.org/HOST/"},
	"old, a name without a scheme":       {"Referer", "HOST"},
	"signed in, and yet from elsewhere":  {"Sec-Fetch-Site", "cross-site", "Cookie", "thatch_in=x"},
	"a form that calls itself something": {"Sec-Fetch-Site", "cross-site", "X-Requested-With", "XMLHttpRequest"},
}

var ourselves = map[string][]string{
	"a page of ours":      {"Sec-Fetch-Site", "same-origin", "Origin", "http://HOST"},
	"typed or bookmarked": {"Sec-Fetch-Site", "none"},
	"old, a page of ours": {"Origin", "http://HOST"},
	"older":               {"Referer", "http://HOST/dogs"},
	"no browser":          nil,
}

// TestWhatAnotherSiteSendsChangesNothing asks every route that is not only for looking.
func TestWhatAnotherSiteSendsChangesNothing(t *testing.T) {
	x := built(t, func(x *house) server.Login { return saidToBe{x} })
	host := strings.TrimPrefix(x.url, "http://")
	ours := func(h []string) []string {
		out := make([]string, len(h))
		for i, s := range h {
			out[i] = strings.ReplaceAll(s, "HOST", host)
		}
		return out
	}
	asked := 0
	for _, row := range guard.Table() {
		if row.Method == http.MethodGet {
			continue
		}
		for _, as := range []string{"owner", ""} {
			for what, headers := range elsewhere {
				asked++
				contentType, body := x.bodyFor(row)
				resp, text := x.ask(as, row.Method, x.path(row, true), contentType, body, ours(headers)...)
				if resp.StatusCode != http.StatusForbidden || !strings.Contains(text, "another site") {
					t.Errorf("%s %s from %s by %q: %d", row.Method, row.Pattern, what, as, resp.StatusCode)
				}
			}
		}
	}
	t.Logf("%d requests from elsewhere", asked)
	for what, headers := range ourselves {
		if resp, _ := x.ask("owner", "POST", "/theme", "application/x-www-form-urlencoded", strings.NewReader("theme=dark"), ours(headers)...); resp.StatusCode != http.StatusSeeOther {
			t.Errorf("%s: %d", what, resp.StatusCode)
		}
	}
}

func TestNoRouteAnswersUnderAnothersName(t *testing.T) {
	x := built(t, func(x *house) server.Login { return saidToBe{x} })
	asked := 0
	for _, row := range guard.Table() {
		for _, name := range []string{"example.org", "127.0.0.1.example.org", "localhost.example.org", "192.0.2.1", "127.0.0.2", "[::2]", "localhost:x"} {
			contentType, body := x.bodyFor(row)
			r := must(http.NewRequest(row.Method, x.url+x.path(row, true), body))
			r.Host = name
			r.Header.Set("Content-Type", contentType)
			r.Header.Set(visitorHeader, "owner")
			resp, err := dontFollow.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			resp.Body.Close()
			asked++
			if resp.StatusCode != http.StatusMisdirectedRequest && !(name == "localhost:x" && resp.StatusCode == http.StatusBadRequest) {
				t.Errorf("%s %s as %s: %d", row.Method, row.Pattern, name, resp.StatusCode)
			}
		}
	}
	t.Logf("%d requests under other names", asked)
}
