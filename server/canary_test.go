package server_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"thatch/server"
	"thatch/server/guard"
	"thatch/server/jobs"
	"thatch/server/login"
	"thatch/timeline"
	"thatch/timeline/outside"
)

// breaking is the real sign-in that also breaks where it is told to, with everything it was sent in its hands.
type breaking struct{ *login.Manager }

func (b breaking) Middleware(next http.Handler) http.Handler {
	return b.Manager.Middleware(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Header.Get("X-Break") != "" {
			_ = r.ParseForm()
			panic(fmt.Errorf("%s %v %v %v", r.URL.Path, r.Header, r.PostForm, []string{r.Header.Get("Cookie")}))
		}
		next.ServeHTTP(w, r)
	}))
}

// TestSecretsAndPeoplesDataAreInNoLogLine plants what nobody may find in a log and sends it through every route: served,
// refused, broken, and with a store that is gone. The log is kept at its most talkative.
func TestSecretsAndPeoplesDataAreInNoLogLine(t *testing.T) {
	x := built(t, func(x *house) server.Login { return breaking{login.New(x.s, login.Options{Log: x.logger()})} })
	cookie := x.cookieOf(timeline.Owner)
	apiToken, _ := must2(x.s.MakeToken(t.Context(), x.people[timeline.Groomer].ID, "A program", timeline.ScopePhotos, 30))
	code := must(x.s.MakeOwnerCode(t.Context(), time.Hour))
	key := must(x.s.MakeSpareKey(t.Context(), x.people[timeline.Owner].ID))
	secrets := map[string]string{
		"a spare key": key, "the same key, bare": strings.ReplaceAll(key, "-", ""),
		"a client's link": x.share, "a token for programs": apiToken, "an invitation": x.inviteToken, "a one-time code": code, "the same code, bare": strings.ReplaceAll(code, "-", ""),
		"a wrong password": "canary-wrong-password", "a new password": "canary-brand-new-password", "a note": "CanaryNote", "a client's name": "CanaryClient", "a name tried": "CanaryVisitor",
		"a file's name": "CanaryFile", "a question in an address": "CanaryQuery", "a remark": "CanaryRemark",
	}
	for role, p := range passwordOf {
		secrets["the password of the "+string(role)] = p
	}
	for _, c := range strings.Split(cookie, "; ") {
		name, value, _ := strings.Cut(c, "=")
		secrets["the cookie "+name] = value
	}
	form := url.Values{
		"name": {"CanaryVisitor"}, "password": {"canary-wrong-password"}, "new": {"canary-brand-new-password"}, "code": {code}, "note": {"CanaryNote"}, "notes": {"CanaryNote"}, "remark": {"CanaryRemark"},
		"client": {"CanaryClient"}, "for": {"CanaryClient"}, "rev": {"1"}, "on": {"2026-06-10"}, "taken": {"CanaryNote"}, "salon_name": {"CanaryClient"}, "zone": {"CanaryNote"}, "next": {"/CanaryQuery"},
	}
	failed := 0
	ask := func(row guard.Row, exists bool, headers ...string) {
		contentType, body := x.bodyFor(row)
		if contentType == formType {
			body = strings.NewReader(form.Encode())
		}
		resp, _ := x.ask("", row.Method, x.path(row, exists)+"?CanaryQuery=CanaryQuery", contentType, body, headers...)
		if resp.StatusCode >= 400 {
			failed++
		}
	}
	sweep := func(only func(guard.Row) bool) {
		rows := guard.Table()
		slices.SortStableFunc(rows, func(a, b guard.Row) int { return weight(a) - weight(b) })
		for _, row := range rows {
			if only != nil && !only(row) || row.Pattern == "/signout" || row.Pattern == "/people/{id}/end" {
				continue
			}
			for _, headers := range [][]string{
				{"Cookie", cookie}, {"Authorization", "Bearer " + apiToken}, {"Cookie", cookie + "x", "Authorization", "Bearer " + apiToken + "x"}, {},
				{"Cookie", cookie, "Origin", "https://example.org/CanaryQuery"}, {"Cookie", cookie, "X-Break", "yes"},
			} {
				ask(row, true, headers...)
			}
			ask(row, false, "Cookie", cookie)
		}
	}
	if _, text := x.ask("", "POST", "/dogs/"+string(x.dog.ID)+"/photos", "multipart/form-data; boundary=CanaryNote",
		strings.NewReader("--CanaryNote\r\nContent-Disposition: form-data; name=\"photos\"; filename=\"CanaryFile.jpg\"\r\n\r\nCanaryNote\r\n--CanaryNote--\r\n"), "Cookie", cookie); !strings.Contains(text, "CanaryFile") {
		t.Error("a refused file is not named to who sent it: the test sends nothing")
	}
	failed++
	if dir, ok := outside.Find(t, "exif"); ok { // E: ExifTool read this latitude
		photo, latitude := must(os.ReadFile(filepath.Join(dir, "files", "ia__jpg_gps_DSCN0010.jpg"))), "43.4674"
		if truth := must(os.ReadFile(filepath.Join(dir, "truth.csv"))); !strings.Contains(string(truth), "43 deg 28' 2.81") {
			t.Fatalf("no photo was taken at %s", latitude)
		}
		secrets["where a photo was taken"], secrets["the same in degrees"] = latitude, "43 deg 28"
		if resp, text := x.ask("", "PUT", "/api/v1/dogs/"+string(x.dog.ID)+"/photos/"+fmt.Sprintf("%x", sha256.Sum256(photo)), "image/jpeg", bytes.NewReader(photo), "Cookie", cookie); resp.StatusCode != http.StatusCreated || !strings.Contains(text, `"has_gps":true`) {
			t.Errorf("a photo that says where it was taken: %d %s", resp.StatusCode, text)
		}
		if err := jobs.Drain(t.Context(), x.st, x.s, jobs.Options{Log: x.logger()}); err != nil {
			t.Fatal(err)
		}
	}
	sweep(nil)
	atTheDoor := func(row guard.Row) bool { return row.Pattern == "/owner" }
	form.Set("code", key)
	sweep(atTheDoor)
	form.Set("code", strings.ReplaceAll(key, "-", ""))
	sweep(atTheDoor)
	lines := strings.Count(x.log.String(), "msg=refused")
	if lines != failed {
		t.Errorf("%d requests failed and %d lines say so", failed, lines)
	}
	if err := x.st.Close(); err != nil {
		t.Fatal(err)
	}
	sweep(func(row guard.Row) bool { return row.Object != guard.Asset })
	for _, raw := range []string{
		"GET /share/" + x.share + " HTTP/9.9\r\nHost: " + x.share + "\r\n\r\n", "GET /share/" + x.share + "/%zz HTTP/1.1\r\nHost: x\r\n\r\n",
		x.share + " / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n",
	} {
		x.send(raw)
	}
	log := x.log.String()
	for _, want := range []string{"level=ERROR", "msg=panic", "msg=refused", "route=/share/{token}"} {
		if !strings.Contains(log, want) {
			t.Errorf("the log has no %s: the test says nothing of it", want)
		}
	}
	for what, secret := range secrets {
		if len(secret) < 6 {
			t.Fatalf("%s is %q: found everywhere", what, secret)
		}
		for line := range strings.Lines(log) {
			if strings.Contains(line, secret) || strings.Contains(line, url.QueryEscape(secret)) {
				t.Errorf("%s is in the log: %.600s", what, line)
				break
			}
		}
	}
	t.Logf("%d failed requests before the store went, %d lines of log, %d secrets", failed, bytes.Count([]byte(log), []byte("\n")), len(secrets))
}
