package endure_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"thatch/imaging"
)

// value is a text that one client writes again and again: what it was told is kept, and what it may have got through when the
// answer did not come any more.
type value struct{ acked, tried string }

func (v *value) answered(ok bool) {
	if ok {
		v.acked = v.tried
	}
}

// groomer is a client with a dog of her own, whose session she logs, and whose photos she sends.
type groomer struct {
	lot          *rand.Rand
	dog, session string
	dogName      string
	dogRev       int
	sessionRev   int
	note         value // of the session
	remark       value // of its line of the back
	dogNotes     value

	photos []string // hashes that were acknowledged
	dogs   []string // names of dogs that were acknowledged
}

// salonUnderFire is everything that was acknowledged by a program that is killed again and again.
type salonUnderFire struct {
	data     string
	far      bool // data is seen through another process
	groomers []*groomer
	base     []byte // a small photo
	n        atomic.Int64
	acks     atomic.Int64
	refused  atomic.Int64 // answers that were no acknowledgement
	client   *http.Client
	today    string
}

func newSalonUnderFire(t testing.TB) *salonUnderFire {
	t.Helper()
	img := image.NewYCbCr(image.Rect(0, 0, 96, 72), image.YCbCrSubsampleRatio420)
	for i := range img.Y {
		img.Y[i] = uint8(i * 7)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return &salonUnderFire{data: t.TempDir(), today: time.Now().UTC().Format("2006-01-02"), base: b.Bytes(), client: &http.Client{
		Timeout: 20 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

// begin makes the dogs and opens their sessions.
func (s *salonUnderFire) begin(t testing.TB, base string, n int) {
	t.Helper()
	today := s.today
	for i := range n {
		g := &groomer{lot: rand.New(rand.NewPCG(uint64(i), 6)), dogName: fmt.Sprint("Burdock ", i)}
		g.dog = s.made(t, base+"/dogs", url.Values{"name": {g.dogName}, "undercoat": {"some"}, "answered": {today}, "last_worked": {today}})
		g.session = s.made(t, base+"/dogs/"+g.dog+"/sessions", url.Values{"on": {today}})
		s.groomers = append(s.groomers, g)
	}
}

// made posts a form and returns the last part of the address that it leads to.
func (s *salonUnderFire) made(t testing.TB, address string, f url.Values) string {
	t.Helper()
	res, err := s.client.PostForm(address, f)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	if res.StatusCode != http.StatusSeeOther {
		b, _ := io.ReadAll(res.Body)
		t.Fatalf("%s: %d\n%s", address, res.StatusCode, b)
	}
	to := res.Header.Get("Location")
	return to[strings.LastIndex(to, "/")+1:]
}

// work lets all groomers work at once, until the program does not answer any more.
func (s *salonUnderFire) work(t testing.TB, base string) (wait func()) {
	var all sync.WaitGroup
	for _, g := range s.groomers {
		all.Go(func() {
			for s.one(t, base, g) {
			}
		})
	}
	return all.Wait
}

// one does one thing. Not ok: nobody answers.
func (s *salonUnderFire) one(t testing.TB, base string, g *groomer) (ok bool) {
	text := fmt.Sprint("said ", s.n.Add(1))
	switch k := g.lot.IntN(10); {
	case k < 3:
		return s.upload(t, base, g, false)
	case k < 5:
		return s.upload(t, base, g, true)
	case k < 7:
		g.remark.tried = text
		return s.form(base+"/sessions/"+g.session+"/log", url.Values{"rev": {fmt.Sprint(g.sessionRev)}, "zones": {"back"}, "do": {"tidy"}, "remark": {text}},
			func(ok bool) { g.remark.answered(ok); g.sessionRev += count(ok) })
	case k < 8:
		g.note.tried = text
		return s.form(base+"/sessions/"+g.session+"/facts", url.Values{"rev": {fmt.Sprint(g.sessionRev)}, "minutes": {"60"}, "note": {text}},
			func(ok bool) { g.note.answered(ok); g.sessionRev += count(ok) })
	case k < 9:
		g.dogNotes.tried = text
		return s.form(base+"/dogs/"+g.dog+"/edit", url.Values{"rev": {fmt.Sprint(g.dogRev)}, "name": {g.dogName}, "texture": {"harsh"}, "undercoat": {"some"}, "answered": {s.today}, "last_worked": {s.today}, "notes": {text}},
			func(ok bool) { g.dogNotes.answered(ok); g.dogRev += count(ok) })
	}
	return s.form(base+"/dogs", url.Values{"name": {text}, "undercoat": {"some"}}, func(ok bool) {
		if ok {
			g.dogs = append(g.dogs, text)
		}
	})
}

func count(ok bool) int {
	if ok {
		return 1
	}
	return 0
}

// form posts a form; answered is told of every answer that came whole, and whether it was an acknowledgement.
func (s *salonUnderFire) form(address string, f url.Values, answered func(ok bool)) (alive bool) {
	res, err := s.client.PostForm(address, f)
	return s.answer(res, err, http.StatusSeeOther, answered)
}

func (s *salonUnderFire) answer(res *http.Response, err error, want int, answered func(ok bool)) (alive bool) {
	if err != nil {
		return false
	}
	_, _ = io.Copy(io.Discard, res.Body) // an acknowledgement is its status line
	res.Body.Close()
	if ok := res.StatusCode == want; ok {
		s.acks.Add(1)
	} else {
		s.refused.Add(1)
	}
	answered(res.StatusCode == want)
	return true
}

// upload sends a new photo by the API or as a form of a page does.
func (s *salonUnderFire) upload(t testing.TB, base string, g *groomer, asForm bool) (alive bool) {
	taken := time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(s.n.Add(1)) * time.Minute)
	photo, err := imaging.InsertEXIF(s.base, imaging.EXIFFields{TakenLocal: taken, Orientation: 1})
	if err != nil {
		t.Error(err)
		return false
	}
	sha := fmt.Sprintf("%x", sha256.Sum256(photo))
	keep := func(ok bool) {
		if ok {
			g.photos = append(g.photos, sha)
		}
	}
	if asForm {
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		part, err := w.CreateFormFile("photos", "a.jpg")
		if err == nil {
			_, err = part.Write(photo)
		}
		if err = firstOf(err, w.Close()); err != nil {
			t.Error(err)
			return false
		}
		res, err := s.client.Post(base+"/dogs/"+g.dog+"/photos", w.FormDataContentType(), &b)
		return s.answer(res, err, http.StatusOK, keep)
	}
	req, err := http.NewRequest("PUT", base+"/api/v1/dogs/"+g.dog+"/photos/"+sha, bytes.NewReader(photo))
	if err != nil {
		t.Error(err)
		return false
	}
	res, err := s.client.Do(req)
	return s.answer(res, err, http.StatusCreated, keep)
}

func firstOf(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
