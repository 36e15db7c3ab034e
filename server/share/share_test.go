package share_test

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"io/fs"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync/atomic"
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
)

// today is the present of every test until it moves its clock.
var today = timeline.Date(2026, time.June, 10)

// world is the whole server over a real store, with its log and its clock.
type world struct {
	t      testing.TB
	folder string
	st     *store.Store
	s      *salon.Salon
	h      http.Handler
	log    *bytes.Buffer
	now    *atomic.Int64
}

func opened(t testing.TB) *world {
	t.Helper()
	x := &world{t: t, folder: t.TempDir(), log: &bytes.Buffer{}, now: &atomic.Int64{}}
	x.clock(today)
	now := func() time.Time { return time.Unix(x.now.Load(), 0) }
	var err error
	if x.st, err = store.Open(t.Context(), x.folder, store.Options{Now: now}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { x.st.Close() })
	x.s = salon.New(x.st, salon.Options{Now: now})
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

func (x *world) clock(d timeline.Day) { x.now.Store(d.Time().Add(11 * time.Hour).Unix()) }

func (x *world) ask(method, path string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, nil)
	r.Host = "127.0.0.1:8420"
	w := httptest.NewRecorder()
	x.h.ServeHTTP(w, r)
	return w
}

func (x *world) get(path string) *httptest.ResponseRecorder { return x.ask("GET", path) }

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func (x *world) ok(err error) {
	x.t.Helper()
	if err != nil {
		x.t.Fatal(err)
	}
}

func jpegOf(shade uint8, on timeline.Day, minute int) []byte {
	img := image.NewNRGBA(image.Rect(0, 0, 120, 90))
	for i := range img.Pix {
		img.Pix[i] = shade
	}
	var b bytes.Buffer
	if err := imaging.EncodeJPEG(&b, img, 80); err != nil {
		panic(err)
	}
	return must(imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: on.Time().Add(time.Duration(9*60+minute) * time.Minute), Offset: "+00:00"}))
}

var standing = timeline.Landmarks{
	timeline.Nose: {X: 10, Y: 25}, timeline.Occiput: {X: 30, Y: 15}, timeline.WithersPt: {X: 45, Y: 30}, timeline.MidBack: {X: 65, Y: 31}, timeline.TailSet: {X: 85, Y: 31},
	timeline.Buttock: {X: 92, Y: 40}, timeline.Prosternum: {X: 32, Y: 45}, timeline.Elbow: {X: 42, Y: 52}, timeline.FrontPaw: {X: 40, Y: 82}, timeline.Hock: {X: 92, Y: 66}, timeline.HindPaw: {X: 88, Y: 82},
}

// shared is a dog with two visits, photos that align, and a link.
type shared struct {
	dog    timeline.Dog
	visits []timeline.Session
	photos []timeline.Photo // of the visits, oldest first
	token  string
	link   timeline.Link
}

func (x *world) shared(name string, shade uint8) shared {
	x.t.Helper()
	ctx := x.t.Context()
	out := shared{dog: must(x.s.CreateDog(ctx, salon.NewDog{
		Name: name, Client: "Number Nine", Notes: "Bites at the door.", WithersMM: 340, ShareOK: true, Next: today + 14,
		Answers: timeline.Answers{On: today - 30, LastWorked: today - 44, Rolled: true, Undercoat: timeline.UndercoatSome, LongestWithersMM: 24},
	}))}
	for i, on := range []timeline.Day{today - 14, today} {
		v := must(x.s.OpenSession(ctx, out.dog.ID, on))
		v = must(x.s.SaveSession(ctx, salon.SessionEdit{ID: v.ID, Rev: v.Rev, Minutes: 97, Note: "Would not stand.", Work: []timeline.ZoneWork{
			{Zone: timeline.Back, Do: timeline.Take, Share: 0.25}, {Zone: timeline.Throat, Do: timeline.Leave, Skin: timeline.SkinBroken, Remark: "Sore place"}}}))
		out.visits = append(out.visits, v)
		a := must(x.s.AddPhoto(ctx, out.dog.ID, "secret-name.jpg", bytes.NewReader(jpegOf(shade+uint8(40*i), on, i)), ""))
		p := must(x.s.SetPhotoFacts(ctx, a.Photo.ID, a.Photo.Rev, salon.PhotoEdit{CoatState: timeline.CoatBrushedDown}))
		out.photos = append(out.photos, must(x.s.SavePoints(ctx, p.ID, p.Rev, standing)))
	}
	must(x.s.AddShow(ctx, timeline.Show{Dog: out.dog.ID, Name: "Hall Show", On: today + 60}))
	x.prepare()
	var err error
	out.token, out.link, err = x.s.MakeLink(ctx, out.dog.ID, "Mx Owner")
	x.ok(err)
	return out
}

func (x *world) prepare() {
	x.t.Helper()
	x.ok(jobs.Drain(context.Background(), x.st, x.s, jobs.Options{}))
}

func (s shared) at(rest string) string { return pages.SharePath + s.token + rest }

// every is each address that the page of the link leads to, itself included.
func (x *world) every(s shared) []string {
	x.t.Helper()
	out := []string{s.at("")}
	for _, m := range regexp.MustCompile(`(?:src|href)="(/share/[^"]+)"`).FindAllStringSubmatch(x.get(s.at("")).Body.String(), -1) {
		out = append(out, m[1])
	}
	if len(out) < 6 {
		x.t.Fatalf("the page leads to %d addresses", len(out))
	}
	return out
}

// dead checks that an address answers exactly as a token that never was.
func (x *world) dead(what, path string) {
	x.t.Helper()
	_, lang, _ := strings.Cut(path, "?")
	w, unknown := x.get(path), x.get(pages.SharePath+strings.Repeat("q", 43)+"?"+lang)
	if w.Code != 404 || w.Body.String() != unknown.Body.String() || fmt.Sprint(w.Header()) != fmt.Sprint(unknown.Header()) {
		x.t.Errorf("%s: %d, or it can be told from a link that never was", what, w.Code)
	}
}

func TestALinkOpensThePageAndItsPicturesWithoutAnyLogin(t *testing.T) {
	x := opened(t)
	s := x.shared("Wisp", 60)
	for _, path := range x.every(s) {
		w := x.get(path)
		h := w.Header()
		kind := map[bool]string{true: "text/html; charset=utf-8", false: "image/jpeg"}[strings.HasPrefix(path, s.at("?")) || path == s.at("")]
		if w.Code != 200 || h.Get("Content-Type") != kind || w.Body.Len() == 0 {
			t.Errorf("%d, %q, %d bytes", w.Code, h.Get("Content-Type"), w.Body.Len())
		}
		x.discreet(w)
	}
	if w := x.get(s.at("/over")); w.Code != 200 || w.Header().Get("Content-Type") != "image/jpeg" {
		t.Errorf("after laid over before: %d", w.Code)
	}
}

// discreet: nothing may be kept, passed on, found by a search or recognised again.
func (x *world) discreet(w *httptest.ResponseRecorder) {
	x.t.Helper()
	h := w.Header()
	if h.Get("Cache-Control") != "no-store" || h.Get("Referrer-Policy") != "no-referrer" || !strings.Contains(h.Get("X-Robots-Tag"), "noindex") || h.Get("Set-Cookie") != "" || h.Get("ETag") != "" || h.Get("X-Content-Type-Options") != "nosniff" {
		x.t.Errorf("headers %v", h)
	}
	if csp := h.Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") {
		x.t.Errorf("content policy %q", csp)
	}
}

func TestThePageTellsTheClientWhatIsHersAndNothingElse(t *testing.T) {
	x := opened(t)
	s := x.shared("Wisp", 60)
	body := x.get(s.at("")).Body.String()
	for _, want := range []string{"Wisp", "Mx Owner", "Hall Show", "Before and after", "Wed 24 Jun 2026"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page does not tell %q", want)
		}
	}
	for _, secret := range []string{"Bites at the door", "Would not stand", "Sore place", "secret-name", "Number Nine", "97 min", "/dogs/", "/photos/", "/sessions/", "<form", string(s.dog.ID)} {
		if strings.Contains(body, secret) {
			t.Errorf("the page tells %q", secret)
		}
	}
	for lang, want := range map[string]string{"de": "Vorher und nachher", "en": "Before and after", "xx": "Before and after"} {
		w := x.get(s.at("") + "?lang=" + lang)
		if !strings.Contains(w.Body.String(), want) || len(w.Result().Cookies()) != 0 {
			t.Errorf("in %s the page does not say %q, or leaves something in the browser", lang, want)
		}
	}
	if m := regexp.MustCompile(`(?i)<[^>]*\s(style|on[a-z]+)\s*=|<script[^>]*>[^<]|<style|\{[a-z]+\}|>[^<]*\bshare\.[a-z.]+`).FindString(body); m != "" {
		t.Errorf("inline code, an unfilled place or a raw key: %.80q", m)
	}
}

func TestPicturesOfALinkAreOfItsDogAndWithoutMetadata(t *testing.T) {
	x := opened(t)
	s, other := x.shared("Wisp", 60), x.shared("Other", 90)
	photo := "/" + string(s.photos[0].ID)
	for _, kind := range []string{"thumb", "view"} {
		w := x.get(s.at(photo + "/" + kind))
		if w.Code != 200 || bytes.Contains(w.Body.Bytes(), []byte("Exif\x00\x00")) {
			t.Errorf("%s: %d, or it has metadata", kind, w.Code)
		}
	}
	waiting := must(x.s.AddPhoto(t.Context(), s.dog.ID, "w.jpg", bytes.NewReader(jpegOf(200, today-3, 0)), "")).Photo
	x.prepare()
	for what, rest := range map[string]string{
		"the original with its metadata": photo + "/original", "a size that is none": photo + "/huge", "no size": photo,
		"another dog's photo": "/" + string(other.photos[0].ID) + "/view", "a photo of no visit": "/" + string(waiting.ID) + "/view", "no photo": "/none/view", "further down": photo + "/view/more",
	} {
		x.dead(what, s.at(rest))
	}
	x.ok(x.s.TrashPhoto(t.Context(), s.photos[0].ID))
	x.dead("a photo put aside", s.at(photo+"/view"))
	x.ok(x.s.TrashSession(t.Context(), s.visits[1].ID))
	x.dead("a photo of a visit put aside", s.at("/"+string(s.photos[1].ID)+"/view"))
}

func TestALinkDiesAtOnceHoweverItEnds(t *testing.T) {
	for name, end := range map[string]func(x *world, s shared) error{
		"withdrawn": func(x *world, s shared) error { return x.s.WithdrawLink(x.t.Context(), s.link.ID) },
		"the consent taken back": func(x *world, s shared) error {
			d := must(x.s.Dog(x.t.Context(), s.dog.ID))
			_, err := x.s.NoteConsent(x.t.Context(), d.ID, d.Rev, false)
			return err
		},
		"the dog put aside": func(x *world, s shared) error { return x.s.TrashDog(x.t.Context(), s.dog.ID) },
		"three months past": func(x *world, s shared) error { x.clock(today + 90); return nil },
	} {
		t.Run(name, func(t *testing.T) {
			x := opened(t)
			s := x.shared("Wisp", 60)
			paths := x.every(s)
			x.ok(end(x, s))
			for _, path := range paths {
				x.dead(name, path)
			}
			x.dead(name, s.at("/over"))
		})
	}
	x := opened(t)
	s := x.shared("Wisp", 60)
	x.clock(today + 89)
	if w := x.get(s.at("")); w.Code != 200 {
		t.Errorf("a day before its end: %d", w.Code)
	}
}

func TestOneLinkWithdrawnLeavesTheOthersOpen(t *testing.T) {
	x := opened(t)
	s := x.shared("Wisp", 60)
	token, _, err := x.s.MakeLink(t.Context(), s.dog.ID, "The other owner")
	x.ok(err)
	x.ok(x.s.WithdrawLink(t.Context(), s.link.ID))
	x.dead("the first", s.at(""))
	if w := x.get(pages.SharePath + token); w.Code != 200 {
		t.Errorf("the second: %d", w.Code)
	}
}

func TestWhatIsNoTokenIsAnsweredAsADeadLink(t *testing.T) {
	x := opened(t)
	s := x.shared("Wisp", 60)
	swapped := []byte(s.token)
	swapped[0], swapped[1] = swapped[1], swapped[0]
	if swapped[0] == swapped[1] {
		swapped[0] ^= 1
	}
	for what, path := range map[string]string{
		"nothing": pages.SharePath, "one sign": pages.SharePath + "x", "a sign more": s.at("x"), "a sign less": pages.SharePath + s.token[1:], "two signs exchanged": pages.SharePath + string(swapped),
		"the hash that is kept": pages.SharePath + s.link.TokenHash, "the link's name": pages.SharePath + string(s.link.ID), "the dog's": pages.SharePath + string(s.dog.ID), "a long one": pages.SharePath + strings.Repeat("a", 5000),
	} {
		x.dead(what, path)
		x.discreet(x.get(path))
	}
}

func TestALinkIsForReadingOnly(t *testing.T) {
	x := opened(t)
	s := x.shared("Wisp", 60)
	for _, method := range []string{"POST", "PUT", "PATCH", "DELETE", "OPTIONS"} {
		for _, path := range []string{s.at(""), s.at("/over"), s.at("/" + string(s.photos[0].ID) + "/view")} {
			w := x.ask(method, path)
			if w.Code != 404 {
				t.Errorf("%s: %d", method, w.Code)
			}
			x.discreet(w)
		}
	}
	if w := x.get(s.at("")); w.Code != 200 {
		t.Errorf("afterwards: %d", w.Code)
	}
}

func TestTheTokenIsWrittenNowhere(t *testing.T) {
	x := opened(t)
	s := x.shared("Wisp", 60)
	for _, path := range x.every(s) {
		x.get(path)
	}
	x.get(s.at("/none/view"))
	x.get(s.at("/a/b/c/d"))
	x.ok(filepath.WalkDir(x.folder, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		if bytes.Contains(b, []byte(s.token)) {
			t.Errorf("%s holds the token", filepath.Base(path))
		}
		return err
	}))
	x.ok(x.st.Close())
	for _, path := range []string{s.at(""), s.at("/over"), s.at("/" + string(s.photos[0].ID) + "/view")} {
		w := x.get(path)
		if w.Code < 500 {
			t.Errorf("without its store: %d", w.Code)
		}
		if body := w.Body.String(); strings.Contains(body, s.token) || strings.Contains(body, "sql") {
			t.Errorf("without its store the page tells %s", body)
		}
	}
	if x.log.Len() == 0 {
		t.Error("a broken store is not logged: the test says nothing of the log")
	}
	if strings.Contains(x.log.String(), s.token) {
		t.Error("the log holds the token")
	}
}

func TestAClientWithoutPhotosOrVisitsStillGetsAPage(t *testing.T) {
	x := opened(t)
	d := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: "Bare", ShareOK: true}))
	token, _, err := x.s.MakeLink(t.Context(), d.ID, "")
	x.ok(err)
	w := x.get(pages.SharePath + token)
	if body := w.Body.String(); w.Code != 200 || !strings.Contains(body, "Bare") || !strings.Contains(body, "No visit yet.") || strings.Contains(body, "<img") {
		t.Errorf("%d: %s", w.Code, body)
	}
	x.discreet(w)
}
