package pages_test

import (
	"bytes"
	"fmt"
	"html"
	"image"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/server"
	"thatch/server/jobs"
	"thatch/server/pages"
	"thatch/server/salon"
	"thatch/server/share"
	"thatch/store"
	"thatch/timeline"
	"thatch/timeline/outside"
)

// house is the whole server over a real store, with what it logged.
type house struct {
	t   *testing.T
	st  *store.Store
	s   *salon.Salon
	h   http.Handler
	log *bytes.Buffer
}

func opened(t *testing.T) *house {
	t.Helper()
	st, err := store.Open(t.Context(), t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	x := &house{t: t, st: st, s: salon.New(st, salon.Options{}), log: &bytes.Buffer{}}
	log := slog.New(slog.NewTextHandler(x.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	clients, err := share.Handler(x.s, log)
	if err != nil {
		t.Fatal(err)
	}
	if x.h, err = server.New(x.s, server.Options{Log: log, Share: clients}); err != nil {
		t.Fatal(err)
	}
	return x
}

func (x *house) ask(r *http.Request) *httptest.ResponseRecorder {
	r.Host = "127.0.0.1:8420"
	w := httptest.NewRecorder()
	x.h.ServeHTTP(w, r)
	return w
}

func (x *house) get(path string) *httptest.ResponseRecorder {
	x.t.Helper()
	return x.ask(httptest.NewRequest("GET", path, nil))
}

func (x *house) post(path string, fields ...string) *httptest.ResponseRecorder {
	x.t.Helper()
	v := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		v.Add(fields[i], fields[i+1])
	}
	r := httptest.NewRequest("POST", path, strings.NewReader(v.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return x.ask(r)
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func (x *house) dog() timeline.Dog {
	today := must(x.s.Today(x.t.Context()))
	return must(x.s.CreateDog(x.t.Context(), salon.NewDog{
		Name: "Wisp", WithersMM: 340, ShareOK: true,
		Answers: timeline.Answers{On: today - 30, LastWorked: today - 44, Rolled: true, Undercoat: timeline.UndercoatSome, LongestWithersMM: 24},
	}))
}

func jpegOf(shade uint8, at time.Time) []byte {
	img := image.NewNRGBA(image.Rect(0, 0, 120, 90))
	for i := range img.Pix {
		img.Pix[i] = shade
	}
	var b bytes.Buffer
	if err := imaging.EncodeJPEG(&b, img, 80); err != nil {
		panic(err)
	}
	return must(imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: at, Offset: "+00:00"}))
}

var standing = timeline.Landmarks{
	timeline.Nose: {X: 10, Y: 25}, timeline.Occiput: {X: 30, Y: 15}, timeline.WithersPt: {X: 45, Y: 30}, timeline.MidBack: {X: 65, Y: 31}, timeline.TailSet: {X: 85, Y: 31},
	timeline.Buttock: {X: 92, Y: 40}, timeline.Prosternum: {X: 32, Y: 45}, timeline.Elbow: {X: 42, Y: 52}, timeline.FrontPaw: {X: 40, Y: 82}, timeline.Hock: {X: 92, Y: 66}, timeline.HindPaw: {X: 88, Y: 82}, timeline.Eye: {X: 20, Y: 20},
}

// furnished is a salon with a dog that has everything; the paths of all its pages.
func (x *house) furnished() (timeline.Dog, []string) {
	ctx, d := x.t.Context(), x.dog()
	today := must(x.s.Today(ctx))
	var photos []timeline.Photo
	for i, day := range []timeline.Day{today - 14, today - 14, today, today} {
		a := must(x.s.AddPhoto(ctx, d.ID, fmt.Sprintf("p%d.jpg", i), bytes.NewReader(jpegOf(uint8(60+40*i), day.Time().Add(time.Duration(9+i)*time.Minute))), ""))
		p := must(x.s.SetPhotoFacts(ctx, a.Photo.ID, a.Photo.Rev, salon.PhotoEdit{CoatState: timeline.CoatBrushedDown}))
		if i != 3 {
			p = must(x.s.SavePoints(ctx, p.ID, p.Rev, standing))
		}
		photos = append(photos, p)
	}
	if err := jobs.Drain(ctx, x.st, x.s, jobs.Options{}); err != nil {
		x.t.Fatal(err)
	}
	v := must(x.s.OpenSession(ctx, d.ID, today-14))
	must(x.s.SaveSession(ctx, salon.SessionEdit{ID: v.ID, Rev: v.Rev, Minutes: 90, Note: "Quiet.", Work: []timeline.ZoneWork{
		{Zone: timeline.Back, Do: timeline.Take, Share: 0.25, Ripeness: timeline.Ready}, {Zone: timeline.Throat, Do: timeline.Leave, Skin: timeline.SkinBroken, Remark: "Sore"}}}))
	must(x.s.AddReadings(ctx, d.ID, v.ID, today-14, map[timeline.Zone]float64{timeline.Back: 25, timeline.Withers: 27}, true))
	now := must(x.s.OpenSession(ctx, d.ID, today))
	show := must(x.s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Hall Show", On: today + 60, Targets: map[timeline.Zone]timeline.Range{timeline.Back: {MinMM: 12, MaxMM: 30}}}))
	id := string(d.ID)
	paths := []string{"/", "/dogs/new", "/settings", "/style", "/trash", "/shows/" + string(show.ID), "/sessions/" + string(v.ID), "/sessions/" + string(now.ID),
		"/compare?a=" + string(photos[0].ID) + "&b=" + string(photos[2].ID), "/compare?a=" + string(photos[0].ID) + "&b=" + string(photos[3].ID)}
	for _, p := range photos {
		paths = append(paths, "/photos/"+string(p.ID), "/photos/"+string(p.ID)+"/points")
	}
	for _, tab := range []string{"", "/client", "/combs", "/edit", "/first", "/growth", "/growth?zone=beard", "/measured", "/photos/new", "/plan", "/readings", "/sessions/new", "/shows"} {
		paths = append(paths, "/dogs/"+id+tab)
	}
	return d, paths
}

var (
	leftover   = regexp.MustCompile(`\{[a-z_]+\}|\b(?:fault|why|warn|look|said|measured?|advice|check|session|plan|photo|growth|zone|verdict|share|ui)\.[a-z_]+[a-z_.]*\b`)
	tag        = regexp.MustCompile(`(?s)<(script|style)[^>]*>.*?</(script|style)>|<[^>]+>`)
	inlineCode = regexp.MustCompile(`(?i)<[^>]*\s(style|on[a-z]+)\s*=|<script(?:[^>]*[^/])?>[^<]|<style`)
)

// sound fails on raw keys, unfilled places, malformed pages and code that the content policy forbids.
func (x *house) sound(path string, w *httptest.ResponseRecorder) {
	x.t.Helper()
	body := w.Body.String()
	words := html.UnescapeString(tag.ReplaceAllString(body, " "))
	if m := leftover.FindString(words); m != "" {
		x.t.Errorf("%s shows %q", path, m)
	}
	if m := inlineCode.FindString(body); m != "" {
		x.t.Errorf("%s has inline code: %.80q", path, m)
	}
	for _, m := range malformed(body) {
		x.t.Errorf("%s: %s", path, m)
	}
	if csp := w.Header().Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") {
		x.t.Errorf("%s: content policy %q", path, csp)
	}
}

func TestEveryPageAnswersWithEverythingAndWithNothing(t *testing.T) {
	outside.Alone(t)
	x := opened(t)
	for _, path := range []string{"/", "/check", "/dogs/new", "/heap", "/kinds", "/marker", "/protocol", "/settings", "/style", "/trash"} {
		w := x.get(path)
		if w.Code != 200 {
			t.Errorf("an empty salon: %s answers %d", path, w.Code)
		}
		x.sound(path, w)
	}
	bare := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: "Bare"}))
	for _, tab := range []string{"", "/client", "/combs", "/edit", "/first", "/growth", "/measured", "/photos/new", "/plan", "/readings", "/sessions/new", "/shows"} {
		path := "/dogs/" + string(bare.ID) + tab
		w := x.get(path)
		if w.Code != 200 {
			t.Errorf("a dog without anything: %s answers %d: %s", path, w.Code, x.log)
		}
		x.sound(path, w)
	}
	_, paths := x.furnished()
	for _, units := range []string{"mm", "in"} {
		set := must(x.s.Settings(t.Context()))
		set.Units = units
		must(x.s.SaveSettings(t.Context(), set))
		for _, path := range paths {
			w := x.get(path)
			if w.Code != 200 {
				t.Errorf("%s answers %d: %s", path, w.Code, x.log)
			}
			x.sound(path, w)
		}
	}
	for _, path := range []string{"/dogs/nobody", "/photos/none", "/sessions/none", "/shows/none", "/compare?a=x&b=y", "/nowhere", "/dogs/" + string(bare.ID) + "/growth?zone=wing"} {
		w := x.get(path)
		if w.Code != 404 && w.Code != 422 {
			t.Errorf("%s answers %d", path, w.Code)
		}
		x.sound(path, w)
	}
}

func TestWhatIsWrongIsSaidBesideWhatWasTyped(t *testing.T) {
	x := opened(t)
	d, _ := x.furnished()
	id := string(d.ID)
	today := must(x.s.Today(t.Context()))
	v := must(x.s.OpenSession(t.Context(), d.ID, today))
	sid := "/sessions/" + string(v.ID)
	rev := fmt.Sprint(v.Rev)
	for _, c := range []struct {
		name, path string
		fields     []string
		code       int
		keeps      string
	}{
		{"a dog without a name", "/dogs", []string{"client", "Number Nine"}, 422, "Number Nine"},
		{"a length that is none", "/dogs", []string{"name", "Moss", "longest_withers_mm", "long"}, 422, `value="Moss"`},
		{"a day that is none", "/dogs", []string{"name", "Moss", "last_worked", "yesterday"}, 422, `value="Moss"`},
		{"a show in the past", "/dogs/" + id + "/shows", []string{"name", "Old Show", "on", (today - 1).String()}, 422, `value="Old Show"`},
		{"a session to come", "/dogs/" + id + "/sessions", []string{"on", (today + 3).String()}, 422, (today + 3).String()},
		{"a session without a day", "/dogs/" + id + "/sessions", nil, 422, ""},
		{"work without a zone", sid + "/log", []string{"rev", rev, "do", "take", "share", "few"}, 422, ""},
		{"a zone without work", sid + "/log", []string{"rev", rev, "zones", "back"}, 422, ""},
		{"an unknown zone", sid + "/log", []string{"rev", rev, "zones", "wing", "do", "tidy"}, 422, ""},
		{"a log made from an older version", sid + "/log", []string{"rev", "99", "zones", "back", "do", "tidy"}, 409, ""},
		{"no readings", "/dogs/" + id + "/readings", []string{"on", today.String()}, 422, ""},
		{"a reading of tomorrow", "/dogs/" + id + "/readings", []string{"on", (today + 1).String(), "mm_back", "20"}, 422, `value="20"`},
		{"a slip of ten", "/dogs/" + id + "/readings", []string{"on", today.String(), "mm_back", "310"}, 422, `value="310"`},
		{"a next visit in the past", "/dogs/" + id + "/booking", []string{"rev", fmt.Sprint(d.Rev), "next", (today - 2).String(), "every_days", "14", "minutes", "60"}, 422, ""},
		{"a time zone that is none", "/settings", []string{"rev", "1", "zone", "Middle/Earth", "units", "mm"}, 422, "Middle/Earth"},
		{"no photo chosen", "/dogs/" + id + "/photos", nil, 422, ""},
	} {
		w := x.post(c.path, c.fields...)
		body := w.Body.String()
		if w.Code != c.code || !strings.Contains(body, `role="alert"`) && !strings.Contains(body, "fault") || !strings.Contains(body, c.keeps) {
			t.Errorf("%s: %d, keeps %q: %v", c.name, w.Code, c.keeps, strings.Contains(body, c.keeps))
		}
		x.sound(c.path, w)
	}
}

func TestALineTakenOutOfTheLogComesBackWithOneTap(t *testing.T) {
	x := opened(t)
	d := x.dog()
	today := must(x.s.Today(t.Context()))
	v := must(x.s.OpenSession(t.Context(), d.ID, today))
	at := "/sessions/" + string(v.ID)
	log := func() timeline.Session { return must(x.s.Session(t.Context(), v.ID)) }

	w := x.post(at+"/log", "rev", fmt.Sprint(v.Rev), "zones", "throat", "zones", "neck", "do", "take", "share", "third", "ripeness", "ready", "skin", "fine", "remark", "left side first")
	if w.Code != 303 || len(log().Work) != 2 {
		t.Fatalf("logging two zones at once: %d, %v", w.Code, log().Work)
	}
	was := log().Work
	w = x.post(at+"/unlog", "rev", fmt.Sprint(log().Rev), "zone", "neck")
	if w.Code != 303 || len(log().Work) != 1 {
		t.Fatalf("taking a line out: %d, %v", w.Code, log().Work)
	}
	to := must(url.Parse(w.Header().Get("Location")))
	page := x.get(to.RequestURI()).Body.String()
	for _, want := range []string{`name="do" value="take" checked`, `name="share" value="third" checked`, `name="ripeness" value="ready" checked`, `value="left side first"`} {
		if !strings.Contains(page, want) {
			t.Errorf("the form does not hold %s", want)
		}
	}
	back := []string{"rev", fmt.Sprint(log().Rev)}
	for name, values := range to.Query() {
		back = append(back, name, values[0])
	}
	if w := x.post(at+"/log", back...); w.Code != 303 {
		t.Fatalf("putting it back: %d", w.Code)
	}
	if now := log().Work; len(now) != 2 || now[1] != was[1] || now[0] != was[0] {
		t.Errorf("it came back as %+v, was %+v", now, was)
	}
}

func TestUndoBringsBackWhatWasPutAside(t *testing.T) {
	x := opened(t)
	d := x.dog()
	show := must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall", On: must(x.s.Today(t.Context())) + 40}))
	w := x.post("/shows/" + string(show.ID) + "/trash")
	r := httptest.NewRequest("GET", w.Header().Get("Location"), nil)
	for _, c := range w.Result().Cookies() {
		r.AddCookie(c)
	}
	page := x.ask(r).Body.String()
	if !strings.Contains(page, `action="/restore/show/`+string(show.ID)) || strings.Contains(page, "ringcard") {
		t.Fatal("the page after putting a show aside offers no way back, or still shows it")
	}
	if w := x.post("/restore/show/"+string(show.ID), "back", "//elsewhere.example/"); w.Code != 303 || w.Header().Get("Location") != "/" {
		t.Errorf("undo: %d to %q", w.Code, w.Header().Get("Location"))
	}
	if !strings.Contains(x.get("/dogs/"+string(d.ID)+"/shows").Body.String(), "ringcard") {
		t.Error("the show is not back")
	}
}

func TestPhotosOfAFormAreTakenInOneByOne(t *testing.T) {
	x := opened(t)
	d := x.dog()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	for name, body := range map[string][]byte{"a.jpg": jpegOf(90, time.Date(2025, 3, 4, 5, 6, 7, 0, time.UTC)), "note.txt": []byte("no photo"), "<b>.jpg": jpegOf(140, time.Time{})} {
		part := must(form.CreateFormFile("photos", name))
		must(part.Write(body))
	}
	form.Close()
	r := httptest.NewRequest("POST", "/dogs/"+string(d.ID)+"/photos", &b)
	r.Header.Set("Content-Type", form.FormDataContentType())
	r.Header.Set("Accept", "text/x-rows")
	w := x.ask(r)
	body := w.Body.String()
	if got := strings.Count(body, `<li class="up`); got != 3 || strings.Count(body, "up-refused") != 1 || strings.Contains(body, "<b>.jpg") || strings.Contains(body, "<html") {
		t.Errorf("%d rows: %s", got, body)
	}
	if photos := must(x.s.Photos(t.Context(), d.ID)); len(photos) != 2 {
		t.Errorf("%d photos are stored", len(photos))
	}
}

func TestAStrangersPageCanDoNothing(t *testing.T) {
	x := opened(t)
	d := x.dog()
	for name, set := range map[string]func(*http.Request){
		"another origin":       func(r *http.Request) { r.Header.Set("Origin", "https://elsewhere.example") },
		"fetched across sites": func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
		"an origin of nobody":  func(r *http.Request) { r.Header.Set("Origin", "null") },
	} {
		r := httptest.NewRequest("POST", "/dogs/"+string(d.ID)+"/trash", nil)
		set(r)
		if w := x.ask(r); w.Code != 403 {
			t.Errorf("%s: %d", name, w.Code)
		}
	}
	r := httptest.NewRequest("GET", "/", nil)
	w := httptest.NewRecorder()
	r.Host = "elsewhere.example"
	x.h.ServeHTTP(w, r)
	if w.Code != http.StatusMisdirectedRequest {
		t.Errorf("another name: %d", w.Code)
	}
	if _, err := x.s.Dog(t.Context(), d.ID); err != nil {
		t.Error("the dog is gone")
	}
}

func TestAClientsLinkShowsOneDogAndDiesAtOnce(t *testing.T) {
	x := opened(t)
	d, _ := x.furnished()
	other := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: "Other", ShareOK: true}))
	stranger := must(x.s.AddPhoto(t.Context(), other.ID, "o.jpg", bytes.NewReader(jpegOf(33, time.Now())), ""))
	token, link := "", timeline.Link{}
	{
		var err error
		if token, link, err = x.s.MakeLink(t.Context(), d.ID, "Owner"); err != nil {
			t.Fatal(err)
		}
	}
	page := x.get(pages.SharePath + token)
	x.sound("the client's page", page)
	for name, want := range map[string]string{"Cache-Control": "no-store", "Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex"} {
		if got := page.Header().Get(name); !strings.Contains(got, want) {
			t.Errorf("%s: %q", name, got)
		}
	}
	body := page.Body.String()
	if page.Code != 200 || !strings.Contains(body, "Wisp") || strings.Contains(body, "Sore") || strings.Contains(body, "/dogs/") {
		t.Errorf("%d; the page tells more or less than it should:\n%s", page.Code, body)
	}
	paths := []string{pages.SharePath + token}
	for _, m := range regexp.MustCompile(`src="(/share/[^"]+)"`).FindAllStringSubmatch(body, -1) {
		paths = append(paths, m[1])
	}
	if len(paths) < 3 {
		t.Fatalf("only %d addresses", len(paths))
	}
	for _, p := range paths {
		w := x.get(p)
		if w.Code != 200 || w.Header().Get("Cache-Control") != "no-store" {
			t.Errorf("open: %d, %q", w.Code, w.Header().Get("Cache-Control"))
		}
	}
	photo := must(x.s.Photos(t.Context(), d.ID))[0]
	for name, p := range map[string]string{
		"another dog's photo": "/" + string(stranger.Photo.ID) + "/view", "the original with its metadata": "/" + string(photo.ID) + "/original", "a size that is none": "/" + string(photo.ID) + "/huge",
	} {
		if w := x.get(pages.SharePath + token + p); w.Code != 404 {
			t.Errorf("%s: %d", name, w.Code)
		}
	}
	unknown := x.get(pages.SharePath + strings.Repeat("x", len(token)))
	if err := x.s.WithdrawLink(t.Context(), link.ID); err != nil {
		t.Fatal(err)
	}
	for _, p := range paths {
		w := x.get(p)
		if w.Code != 404 || w.Body.String() != unknown.Body.String() {
			t.Errorf("withdrawn: %d, or it can be told from an unknown one", w.Code)
		}
	}
	if strings.Contains(x.log.String(), token) {
		t.Error("the log tells the token")
	}
}

func TestConsentTakenBackEndsEveryLink(t *testing.T) {
	x := opened(t)
	d := x.dog()
	token, _, err := x.s.MakeLink(t.Context(), d.ID, "")
	if err != nil {
		t.Fatal(err)
	}
	if w := x.get(pages.SharePath + token); w.Code != 200 {
		t.Fatalf("%d", w.Code)
	}
	if w := x.post("/dogs/"+string(d.ID)+"/share", "rev", fmt.Sprint(d.Rev)); w.Code != 303 {
		t.Fatalf("%d", w.Code)
	}
	if w := x.get(pages.SharePath + token); w.Code != 404 {
		t.Errorf("after the consent was taken back: %d", w.Code)
	}
	if w := x.post("/dogs/"+string(d.ID)+"/links", "for", "Owner"); w.Code != 422 {
		t.Errorf("a link without consent: %d", w.Code)
	}
}

func TestPicturesAreKeptByTheBrowserAndOriginalsComeAsTheyCame(t *testing.T) {
	x := opened(t)
	d := x.dog()
	raw := jpegOf(70, time.Now())
	a := must(x.s.AddPhoto(t.Context(), d.ID, "a.jpg", bytes.NewReader(raw), ""))
	base := "/photos/" + string(a.Photo.ID) + "/picture/"
	if w := x.get(base + "original"); !bytes.Equal(must(io.ReadAll(w.Body)), raw) {
		t.Error("the original is not byte for byte what came")
	}
	w := x.get(base + "thumb")
	if w.Code != 200 || w.Header().Get("Content-Type") != "image/jpeg" || w.Header().Get("ETag") == "" || !strings.HasPrefix(w.Header().Get("Cache-Control"), "private") {
		t.Errorf("%d %v", w.Code, w.Header())
	}
	r := httptest.NewRequest("GET", base+"thumb", nil)
	r.Header.Set("If-None-Match", w.Header().Get("ETag"))
	if again := x.ask(r); again.Code != http.StatusNotModified {
		t.Errorf("asked again: %d", again.Code)
	}
	if w := x.get(base + "enormous"); w.Code != 404 {
		t.Errorf("a size that is none: %d", w.Code)
	}
}
