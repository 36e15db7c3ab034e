package pages_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"

	"thatch/timeline"
)

type onceSaid struct {
	To  string       `json:"to"`
	Rev timeline.Rev `json:"rev"`
	Say string       `json:"say"`
	Now []string     `json:"now"`
}

func keyOf(c string) string { return strings.Repeat(c, 32) }

// onceRequest is a form as a script sends it that may have to send it again.
func onceRequest(key, path string, fields ...string) *http.Request {
	v := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		v.Add(fields[i], fields[i+1])
	}
	r := httptest.NewRequest("POST", path, strings.NewReader(v.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded;charset=UTF-8")
	r.Header.Set("Thatch-Once", key)
	return r
}

func (x *house) once(key, path string, fields ...string) (int, onceSaid, http.Header) {
	x.t.Helper()
	w := x.ask(onceRequest(key, path, fields...))
	var a onceSaid
	if w.Header().Get("Content-Type") == "application/json; charset=utf-8" {
		if err := json.Unmarshal(w.Body.Bytes(), &a); err != nil {
			x.t.Fatalf("%s: %v", path, err)
		}
	}
	return w.Code, a, w.Header()
}

func (x *house) openSession() (timeline.Dog, timeline.Session) {
	d := x.dog()
	return d, must(x.s.OpenSession(x.t.Context(), d.ID, must(x.s.Today(x.t.Context()))))
}

func strip(rev int, zone string) []string {
	return []string{"rev", fmt.Sprint(rev), "zones", zone, "do", "strip"}
}

func TestTheSameRequestTwiceActsOnceAndIsAnsweredAsTheFirstTime(t *testing.T) {
	x := opened(t)
	_, v := x.openSession()
	path := "/sessions/" + string(v.ID) + "/log"
	code, first, h := x.once(keyOf("a"), path, strip(1, "back")...)
	if code != 200 || first.To != "/sessions/"+string(v.ID)+"#done" || first.Rev != 2 || !strings.Contains(h.Get("Set-Cookie"), "session.saved") {
		t.Fatalf("%d, %+v, %v", code, first, h)
	}
	// Somebody takes the line out; the repeat must not put it in again.
	if w := x.post("/sessions/"+string(v.ID)+"/unlog", "rev", "2", "zone", "back"); w.Code != http.StatusSeeOther {
		t.Fatalf("unlog: %d", w.Code)
	}
	code, again, h := x.once(keyOf("a"), path, strip(1, "back")...)
	if code != 200 || again.To != first.To || again.Rev != first.Rev || !strings.Contains(h.Get("Set-Cookie"), "session.saved") {
		t.Errorf("the repeat: %d, %+v, %v", code, again, h)
	}
	if got := must(x.s.Session(t.Context(), v.ID)); len(got.Work) != 0 || got.Rev != 3 {
		t.Errorf("the repeat changed the log: %+v", got)
	}
	if code, _, _ := x.once(keyOf("b"), path, strip(3, "back")...); code != 200 {
		t.Errorf("the same words under another key: %d", code)
	}
	if got := must(x.s.Session(t.Context(), v.ID)); len(got.Work) != 1 {
		t.Errorf("the log: %+v", got.Work)
	}
}

func TestWhatIsSentLaterSaysNothingOnTheNextPage(t *testing.T) {
	x := opened(t)
	_, v := x.openSession()
	r := onceRequest(keyOf("a"), "/sessions/"+string(v.ID)+"/log", strip(1, "back")...)
	r.Header.Set("Thatch-Later", "1")
	if w := x.ask(r); w.Code != 200 || w.Header().Get("Set-Cookie") != "" {
		t.Errorf("%d, %v", w.Code, w.Header())
	}
}

func TestTheSameRequestTwiceAtOnceActsOnce(t *testing.T) {
	x := opened(t)
	_, v := x.openSession()
	var wg sync.WaitGroup
	codes := make([]int, 8)
	answers := make([]string, 8)
	for i := range codes {
		wg.Go(func() {
			w := x.ask(onceRequest(keyOf("a"), "/sessions/"+string(v.ID)+"/log", strip(1, "back")...))
			codes[i], answers[i] = w.Code, w.Body.String()
		})
	}
	wg.Wait()
	for i := range codes {
		if codes[i] != 200 || answers[i] != answers[0] {
			t.Errorf("answer %d: %d, %s, another is %s", i, codes[i], answers[i], answers[0])
		}
	}
	if got := must(x.s.Session(t.Context(), v.ID)); got.Rev != 2 {
		t.Errorf("%d changes", got.Rev-1)
	}
}

func TestWhatIsNoRepeatIsRefusedClearly(t *testing.T) {
	x := opened(t)
	_, v := x.openSession()
	path := "/sessions/" + string(v.ID) + "/log"
	if code, _, _ := x.once(keyOf("a"), path, strip(1, "back")...); code != 200 {
		t.Fatal(code)
	}
	for name, r := range map[string]*http.Request{
		"another body":              onceRequest(keyOf("a"), path, strip(2, "loin")...),
		"another place":             onceRequest(keyOf("a"), "/sessions/"+string(v.ID)+"/facts", strip(1, "back")...),
		"a short key":               onceRequest("abc", path, strip(2, "loin")...),
		"a key of other characters": onceRequest(strings.Repeat("ä", 32), path, strip(2, "loin")...),
		"a long key":                onceRequest(strings.Repeat("a", 65), path, strip(2, "loin")...),
		"an action with a secret":   onceRequest(keyOf("c"), "/signout", "x", "y"),
		"an action of strangers":    onceRequest(keyOf("e"), "/lang", "lang", "de", "back", "/"+strings.Repeat("a", 1500)),
	} {
		w := x.ask(r)
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), `"say":"`) {
			t.Errorf("%s: %d, %s", name, w.Code, w.Body)
		}
	}
	photos := onceRequest(keyOf("d"), "/heap")
	photos.Header.Set("Content-Type", "multipart/form-data; boundary=x")
	if w := x.ask(photos); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("photos with a key: %d", w.Code)
	}
	if got := must(x.s.Session(t.Context(), v.ID)); got.Rev != 2 {
		t.Errorf("a refused one changed the log: %+v", got)
	}
}

func TestAKeyIsOfWhoSentIt(t *testing.T) {
	x := openedToPeople(t)
	_, v := x.openSession()
	path := "/sessions/" + string(v.ID) + "/log"
	in := map[string][]*http.Cookie{}
	for name, password := range map[string]string{"Ada": adas, "Bo": bos} {
		clear(x.cookies)
		x.in(name, password)
		for k, c := range x.cookies {
			in[name] = append(in[name], &http.Cookie{Name: k, Value: c})
		}
	}
	as := func(name string, r *http.Request) *httptest.ResponseRecorder {
		r.RemoteAddr = x.from
		for _, c := range in[name] {
			r.AddCookie(c)
		}
		return x.ask(r)
	}
	if w := as("Bo", onceRequest(keyOf("a"), path, strip(1, "back")...)); w.Code != 200 {
		t.Fatalf("%d, %s", w.Code, w.Body)
	}
	if w := as("Ada", onceRequest(keyOf("a"), path, strip(1, "back")...)); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("another's key: %d, %s", w.Code, w.Body)
	}
	// What was kept in Bo's name is not taken from Ada, whatever it is.
	bo := as("Bo", httptest.NewRequest("GET", "/outbox", nil)).Header().Get("Thatch-Account")
	ada := as("Ada", httptest.NewRequest("GET", "/outbox", nil)).Header().Get("Thatch-Account")
	if len(bo) != 16 || len(ada) != 16 || bo == ada || strings.Contains(bo, string(x.bo.ID)) {
		t.Errorf("accounts %q and %q", bo, ada)
	}
	r := onceRequest(keyOf("b"), path, strip(2, "loin")...)
	r.Header.Set("Thatch-Account", bo)
	if w := as("Ada", r); w.Code != http.StatusUnauthorized {
		t.Errorf("Bo's line sent by Ada: %d", w.Code)
	}
	if w := as("", onceRequest(keyOf("b"), path, strip(2, "loin")...)); w.Code != http.StatusUnauthorized {
		t.Errorf("by nobody: %d", w.Code)
	}
	// A stranger uses up no key, not even where strangers may act.
	if w := as("", onceRequest(keyOf("e"), "/lang", "lang", "en")); w.Code < 400 {
		t.Errorf("a stranger's key: %d, %s", w.Code, w.Body)
	}
	if _, seen, err := x.st.OnceOf(t.Context(), keyOf("e")); seen || err != nil {
		t.Errorf("a stranger's key is kept: %v, %v", seen, err)
	}
	if got := must(x.s.Session(t.Context(), v.ID)); len(got.Work) != 1 {
		t.Errorf("the log: %+v", got.Work)
	}
}

func TestAConflictTellsWhatStandsThereAndKeepsNothing(t *testing.T) {
	x := opened(t)
	_, v := x.openSession()
	path := "/sessions/" + string(v.ID) + "/log"
	if w := x.post(path, "rev", "1", "zones", "loin", "do", "take", "share", "half", "remark", "Easy"); w.Code != http.StatusSeeOther {
		t.Fatal(w.Code)
	}
	code, a, _ := x.once(keyOf("a"), path, strip(1, "back")...)
	if code != http.StatusConflict || a.Rev != 2 || a.Say == "" || len(a.Now) != 1 || !strings.Contains(a.Now[0], "loin: take half") || !strings.Contains(a.Now[0], "Easy") {
		t.Fatalf("%d, %+v", code, a)
	}
	// The same key on top of what stands there: nothing was kept of the refusal.
	if code, a, _ := x.once(keyOf("a"), path, strip(2, "back")...); code != 200 || a.Rev != 3 {
		t.Errorf("said on top of it: %d, %+v", code, a)
	}
	if got := must(x.s.Session(t.Context(), v.ID)); len(got.Work) != 2 {
		t.Errorf("the log: %+v", got.Work)
	}
	if code, a, _ := x.once(keyOf("c"), path, "rev", "3", "zones", "back"); code != http.StatusUnprocessableEntity || a.Say == "" || len(a.Now) != 0 {
		t.Errorf("without what was done: %d, %+v", code, a)
	}
	if code, _, _ := x.once(keyOf("d"), "/sessions/0000000000000000/log", strip(1, "back")...); code != http.StatusNotFound {
		t.Errorf("no such session: %d", code)
	}
}

func multipartOf(files map[string][]byte) (io.Reader, string) {
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for name, bytes := range files {
		_, _ = must(m.CreateFormFile("photos", name)).Write(bytes)
	}
	_ = m.Close()
	return &b, m.FormDataContentType()
}

func TestAPhotoIsSaidToBeKeptOnlyWhenItIs(t *testing.T) {
	x := opened(t)
	d := x.dog()
	today := must(x.s.Today(t.Context()))
	for _, path := range []string{"/dogs/" + string(d.ID) + "/photos", "/heap"} {
		body, kind := multipartOf(map[string][]byte{"a.jpg": jpegOf(90, today.Time())})
		r := httptest.NewRequest("POST", path, body)
		r.Header.Set("Content-Type", kind)
		r.Header.Set("Accept", "text/x-rows")
		if w := x.ask(r); w.Code != 200 || w.Header().Get("Thatch-Kept") != "1" || w.Header().Get("Thatch-Refused") != "" {
			t.Errorf("%s: %d, %v", path, w.Code, w.Header())
		}
		body, kind = multipartOf(map[string][]byte{"b.jpg": []byte("no picture at all, öäü")})
		r = httptest.NewRequest("POST", path, body)
		r.Header.Set("Content-Type", kind)
		w := x.ask(r)
		why, err := url.PathUnescape(w.Header().Get("Thatch-Refused"))
		if w.Code < 400 || w.Header().Get("Thatch-Kept") != "" || err != nil || !strings.Contains(why, " ") {
			t.Errorf("%s: %d, %v, %q, %v", path, w.Code, w.Header(), why, err)
		}
	}
}

func TestWhatIsFetchedAheadTakesNoWordAway(t *testing.T) {
	x := opened(t)
	d, v := x.openSession()
	w := x.ask(httptest.NewRequest("GET", "/ahead", nil))
	var list struct{ Pages []string }
	if err := json.Unmarshal(w.Body.Bytes(), &list); err != nil || w.Code != 200 {
		t.Fatalf("%d, %v", w.Code, err)
	}
	for _, want := range []string{"/", "/outbox", "/offline", "/dogs/" + string(d.ID), "/dogs/" + string(d.ID) + "/sheet", "/sessions/" + string(v.ID)} {
		found := false
		for _, p := range list.Pages {
			found = found || p == want
		}
		if !found {
			t.Errorf("%s is not fetched ahead: %v", want, list.Pages)
		}
	}
	for _, p := range list.Pages {
		r := httptest.NewRequest("GET", p, nil)
		r.Header.Set("Thatch-Ahead", "1")
		r.AddCookie(&http.Cookie{Name: "thatch_said", Value: "session.saved~~"})
		if w := x.ask(r); w.Code != 200 || w.Header().Get("Set-Cookie") != "" || strings.Contains(w.Body.String(), `class="said"`) || w.Header().Get("Thatch-Account") != "here" {
			t.Errorf("%s: %d, %v", p, w.Code, w.Header())
		}
	}
}

// What waits in the browser outlives signing out: the store is cleared only where the form does not say that something waits.
func TestSigningOutLeavesWhatWaitsToBeSent(t *testing.T) {
	x := openedToPeople(t)
	x.in("Bo", bos)
	if got := x.call("/signout", "waiting", "1").Header().Get("Clear-Site-Data"); got != `"cache"` {
		t.Errorf("%q", got)
	}
}

// FuzzOnce sends keys and bodies as no script of ours makes them: never our own trouble, never more than one change.
func FuzzOnce(f *testing.F) {
	for _, s := range []string{keyOf("a"), "", "abc", strings.Repeat("-", 64), "a b", "\x00"} {
		f.Add(s, "rev=1&zones=back&do=strip", "application/x-www-form-urlencoded")
	}
	f.Add(keyOf("b"), "rev=1&rev=2&%zz", "application/x-www-form-urlencoded; charset=x")
	f.Add(keyOf("b"), "rev=99999999999999999999", "text/plain")
	f.Fuzz(func(t *testing.T, key, body, kind string) {
		x := opened(t)
		_, v := x.openSession()
		var codes [2]int
		for i := range codes {
			r := httptest.NewRequest("POST", "/sessions/"+string(v.ID)+"/log", strings.NewReader(body))
			r.Header["Content-Type"] = []string{kind}
			r.Header["Thatch-Once"] = []string{key}
			w := x.ask(r)
			if codes[i] = w.Code; w.Code >= 500 {
				b, _ := io.ReadAll(w.Body)
				t.Fatalf("%d: %s", w.Code, b)
			}
		}
		if got := must(x.s.Session(t.Context(), v.ID)); got.Rev > 2 {
			t.Errorf("acted %d times: %v", got.Rev-1, codes)
		}
	})
}
