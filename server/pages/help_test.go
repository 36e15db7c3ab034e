package pages_test

import (
	"bytes"
	"context"
	"fmt"
	"html"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"thatch/server"
	"thatch/server/jobs"
	"thatch/server/salon"
	"thatch/server/share"
	"thatch/store"
	"thatch/timeline"
)

// wednesday is the present of a dated house, at noon in London.
var wednesday = timeline.Date(2026, time.June, 10)

// present is a clock that tests move.
type present struct{ at atomic.Int64 }

func (c *present) now() time.Time     { return time.Unix(c.at.Load(), 0) }
func (c *present) set(d timeline.Day) { c.at.Store(d.Time().Add(11 * time.Hour).Unix()) }

// dated is a house in London in which today is wednesday, until the clock is moved.
func dated(t *testing.T) (*house, *present) {
	t.Helper()
	c := &present{}
	c.set(wednesday)
	st, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	x := &house{t: t, st: st, s: salon.New(st, salon.Options{Now: c.now}), log: &bytes.Buffer{}}
	set := must(x.s.Settings(t.Context()))
	set.Zone, set.Units, set.Lang = "Europe/London", "mm", "en"
	must(x.s.SaveSettings(t.Context(), set))
	log := slog.New(slog.NewTextHandler(x.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	clients, err := share.Handler(x.s, log)
	if err != nil {
		t.Fatal(err)
	}
	if x.h, err = server.New(x.s, server.Options{Log: log, Share: clients}); err != nil {
		t.Fatal(err)
	}
	return x, c
}

func (x *house) inches() {
	set := must(x.s.Settings(x.t.Context()))
	set.Units = "in"
	must(x.s.SaveSettings(x.t.Context(), set))
}

// rolled is a dog in rolling coat whose answers were given a month ago.
func (x *house) rolled() timeline.Dog {
	return must(x.s.CreateDog(x.t.Context(), salon.NewDog{
		Name: "Wisp", WithersMM: 340, ShareOK: true,
		Answers: timeline.Answers{On: wednesday - 30, LastWorked: wednesday - 44, Rolled: true, Undercoat: timeline.UndercoatSome, LongestWithersMM: 24},
	}))
}

// opens a session of the day through its form.
func (x *house) opens(d timeline.Dog, on timeline.Day) timeline.Session {
	x.t.Helper()
	to := x.goes(x.post("/dogs/"+string(d.ID)+"/sessions", "on", on.String()), "/sessions/")
	return must(x.s.Session(x.t.Context(), timeline.ID(strings.TrimPrefix(to, "/sessions/"))))
}

func (x *house) session(id timeline.ID) timeline.Session {
	return must(x.s.Session(context.Background(), id))
}

// goes checks the redirect after an action and returns its target; start "" is not looked at.
func (x *house) goes(w *httptest.ResponseRecorder, start string) string {
	x.t.Helper()
	to := w.Header().Get("Location")
	if w.Code != http.StatusSeeOther || !strings.HasPrefix(to, start) {
		x.t.Fatalf("%d to %q, want 303 to %q…: %s", w.Code, to, start, faultText(w))
	}
	return to
}

// follows asks for the page that an action redirects to, with its cookies.
func (x *house) follows(w *httptest.ResponseRecorder) *httptest.ResponseRecorder {
	x.t.Helper()
	to := x.goes(w, "/")
	to, _, _ = strings.Cut(to, "#")
	r := httptest.NewRequest("GET", to, nil)
	for _, c := range w.Result().Cookies() {
		r.AddCookie(c)
	}
	return x.ask(r)
}

// refuses checks status, the sentence above the form and every piece of the page that must still be there.
func (x *house) refuses(what string, w *httptest.ResponseRecorder, code int, keeps ...string) {
	x.t.Helper()
	body := w.Body.String()
	if w.Code != code {
		x.t.Errorf("%s: %d, want %d", what, w.Code, code)
	}
	if !strings.Contains(body, `role="alert"`) && !strings.Contains(body, "fault-page") {
		x.t.Errorf("%s: nothing says what was wrong", what)
	}
	for _, k := range keeps {
		if !strings.Contains(body, k) {
			x.t.Errorf("%s: the page does not hold %s", what, k)
		}
	}
	x.sound(what, w)
}

// sends adds photos to a dog.
func (x *house) sends(d timeline.ID, accept string, files ...file) *httptest.ResponseRecorder {
	x.t.Helper()
	return x.sendsTo("/dogs/"+string(d)+"/photos", accept, files...)
}

// sendsTo is a form with files, as a browser sends it; files in order.
func (x *house) sendsTo(path, accept string, files ...file) *httptest.ResponseRecorder {
	x.t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	for _, f := range files {
		part := must(form.CreateFormFile("photos", f.name))
		must(part.Write(f.body))
	}
	form.Close()
	r := httptest.NewRequest("POST", path, &b)
	r.Header.Set("Content-Type", form.FormDataContentType())
	r.Header.Set("Accept", accept)
	return x.ask(r)
}

type file struct {
	name string
	body []byte
}

// snap adds a photo of its own shade, taken at that time by its own clock, and prepares it.
func (x *house) snap(d timeline.ID, shade uint8, at time.Time) timeline.Photo {
	x.t.Helper()
	a := must(x.s.AddPhoto(x.t.Context(), d, fmt.Sprintf("p%d.jpg", shade), bytes.NewReader(jpegOf(shade, at)), ""))
	if err := jobs.Drain(x.t.Context(), x.st, x.s, jobs.Options{}); err != nil {
		x.t.Fatal(err)
	}
	return must(x.s.Photo(x.t.Context(), a.Photo.ID))
}

func at(d timeline.Day, hour, minute int) time.Time {
	return d.Time().Add(time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute)
}

// inputOf is the tag of the input with that name and, if value is not "-", that value.
func inputOf(body, name, value string) string {
	for _, m := range regexp.MustCompile(`<input[^>]*>`).FindAllString(body, -1) {
		if strings.Contains(m, ` name="`+name+`"`) && (value == "-" || strings.Contains(m, ` value="`+html.EscapeString(value)+`"`)) {
			return m
		}
	}
	return ""
}

// checked reports whether that answer is chosen; a hidden field of the name, which only carries it, is none.
func checked(body, name, value string) bool {
	return strings.Contains(inputOf(hidden.ReplaceAllString(body, ""), name, value), " checked")
}

var hidden = regexp.MustCompile(`<input type="hidden"[^>]*>`)

func wrong(body, name string) bool {
	return strings.Contains(inputOf(body, name, "-"), `aria-invalid="true"`)
}

func holds(body, name, value string) bool { return inputOf(body, name, value) != "" }

// faultText is the sentence of a refused page, for a test's own report.
func faultText(w *httptest.ResponseRecorder) string {
	_, after, _ := strings.Cut(w.Body.String(), `class="fault`)
	text := strings.Join(strings.Fields(tag.ReplaceAllString(after, " ")), " ")
	return text[:min(len(text), 200)]
}

// fieldsOf are the pairs of a form in one list.
func fieldsOf(v url.Values, more ...string) []string {
	out := more
	for name, values := range v {
		for _, one := range values {
			out = append(out, name, one)
		}
	}
	return out
}

func rev(n timeline.Rev) string { return fmt.Sprint(int(n)) }
