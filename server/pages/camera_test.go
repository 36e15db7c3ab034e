package pages_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"image"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/server/jobs"
	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/outside"
)

func (x *house) frame(path, kind string, body []byte) *httptest.ResponseRecorder {
	r := httptest.NewRequest("POST", path, bytes.NewReader(body))
	r.Header.Set("Content-Type", kind)
	return x.ask(r)
}

func TestOnlyTheCamerasPageMayHaveTheCamera(t *testing.T) {
	x := opened(t)
	d := x.dog()
	page := "/dogs/" + string(d.ID) + "/camera"
	w := x.get(page + "?side=right")
	x.sound("the camera", w)
	policy := w.Header().Get("Permissions-Policy")
	for _, may := range []string{"camera=(self)", "accelerometer=(self)", "gyroscope=(self)", "microphone=()", "geolocation=()"} {
		if !strings.Contains(policy, may) {
			t.Errorf("the camera's page: %q lacks %s", policy, may)
		}
	}
	for _, other := range []string{"/", "/dogs/" + string(d.ID), "/dogs/" + string(d.ID) + "/photos/new", "/dogs/" + string(d.ID) + "/time"} {
		if policy := x.get(other).Header().Get("Permissions-Policy"); !strings.Contains(policy, "camera=()") || strings.Contains(policy, "self") {
			t.Errorf("%s: %q", other, policy)
		}
	}
	// Without a script and without a camera the page leads on.
	body := w.Body.String()
	for _, want := range []string{`capture="environment"`, `action="/dogs/` + string(d.ID) + `/photos"`, "<noscript>"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page has no %s", want)
		}
	}
}

func TestAFrameIsAnsweredInJSONAndNeverKept(t *testing.T) {
	x := opened(t)
	d := x.dog()
	var b bytes.Buffer
	if err := imaging.EncodeJPEG(&b, image.NewNRGBA(image.Rect(0, 0, 320, 240)), 80); err != nil {
		t.Fatal(err)
	}
	to := "/dogs/" + string(d.ID) + "/camera/frame?side=left&dog=on"
	w := x.frame(to, "image/jpeg", b.Bytes())
	var says struct {
		Marker [][2]float64 `json:"marker"`
		Hints  []string     `json:"hints"`
	}
	if err := json.Unmarshal(w.Body.Bytes(), &says); w.Code != 200 || err != nil || says.Marker == nil || len(says.Marker) != 0 || says.Hints == nil {
		t.Errorf("%d %v: %s", w.Code, err, w.Body)
	}
	for what, c := range map[string]struct {
		kind string
		body []byte
		want int
	}{
		"another kind":       {"image/png", b.Bytes(), 422},
		"a form":             {"application/x-www-form-urlencoded", b.Bytes(), 422},
		"half a JPEG":        {"image/jpeg", b.Bytes()[:b.Len()/2], 422},
		"more than a frame":  {"image/jpeg", bytes.Repeat([]byte("x"), salon.MaxFrameBytes+1), 413},
		"more than the door": {"image/jpeg", bytes.Repeat([]byte("x"), 600<<10), 413},
	} {
		w := x.frame(to, c.kind, c.body)
		if w.Code != c.want {
			t.Errorf("%s: %d, want %d: %.200s", what, w.Code, c.want, w.Body)
		}
	}
	if n := len(must(x.s.Photos(t.Context(), d.ID))); n != 0 {
		t.Errorf("%d photos are kept", n)
	}
	if log := x.log.String(); strings.Contains(log, "ERROR") || strings.Contains(log, "JFIF") {
		t.Errorf("logged: %.500s", log)
	}
}

// One person's frames come one after the other; what comes meanwhile is told when to try again.
func TestTooManyFramesAtOnceAreTurnedAway(t *testing.T) {
	x := opened(t)
	to := "/dogs/" + string(x.dog().ID) + "/camera/frame?side=left&dog=on"
	img := image.NewNRGBA(image.Rect(0, 0, 320, 240))
	for i := range img.Pix {
		img.Pix[i] = uint8(i / 5 % 251)
	}
	var b bytes.Buffer
	if err := imaging.EncodeJPEG(&b, img, 70); err != nil {
		t.Fatal(err)
	}
	codes := make(chan int, 8)
	for range cap(codes) {
		go func() {
			w := x.frame(to, "image/jpeg", b.Bytes())
			if w.Code == 429 && w.Header().Get("Retry-After") == "" {
				t.Error("nothing says when to try again")
			}
			codes <- w.Code
		}()
	}
	got := map[int]int{}
	for range cap(codes) {
		got[<-codes]++
	}
	if got[200] == 0 || got[429] == 0 || got[200]+got[429] != cap(codes) {
		t.Errorf("answers %v", got)
	}
}

var pictureTag = regexp.MustCompile(`<img [^>]*src="([^"]*)"`)

// A dog may have five hundred photos: none of the pages that choose among them puts more than a screenful into itself.
func TestADogOfManyPhotosHasShortPages(t *testing.T) {
	outside.Alone(t)
	x := opened(t)
	d := x.dog()
	today := must(x.s.Today(t.Context()))
	// The first thirty are of one session, the others of many days.
	session := must(x.s.OpenSession(t.Context(), d.ID, today))
	var photos []timeline.Photo
	for i := range 90 {
		at := today.Time().Add(time.Duration(9*60+i) * time.Minute)
		if i >= 30 {
			at = (today - timeline.Day(i/3-9)).Time().Add(time.Duration(9*60+i%3) * time.Minute)
		}
		img := image.NewNRGBA(image.Rect(0, 0, 40, 30))
		for k := range img.Pix {
			img.Pix[k] = uint8(i + k%5)
		}
		var b bytes.Buffer
		if err := imaging.EncodeJPEG(&b, img, 80); err != nil {
			t.Fatal(err)
		}
		jpeg := must(imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: at, Offset: "+00:00"}))
		p := must(x.s.AddPhoto(t.Context(), d.ID, fmt.Sprintf("%d.jpg", i), bytes.NewReader(jpeg), "")).Photo
		if i >= 70 {
			p = must(x.s.SavePoints(t.Context(), p.ID, p.Rev, timeline.Landmarks{
				timeline.Occiput: {X: 8, Y: 6}, timeline.WithersPt: {X: 12, Y: 8}, timeline.MidBack: {X: 18, Y: 8},
				timeline.TailSet: {X: 26, Y: 8}, timeline.Buttock: {X: 28, Y: 12}, timeline.Hock: {X: 28, Y: 22},
			}))
		}
		photos = append(photos, p)
	}
	if err := jobs.Drain(t.Context(), x.st, x.s, jobs.Options{}); err != nil {
		t.Fatal(err)
	}
	for what, c := range map[string]struct {
		path string
		most int
	}{
		"compare":                {"/compare?a=" + string(photos[0].ID) + "&b=" + string(photos[80].ID), 14},
		"compare, earlier days":  {"/compare?a=" + string(photos[0].ID) + "&b=" + string(photos[80].ID) + "&until=" + (today - 12).String(), 14},
		"a photo":                {"/photos/" + string(photos[60].ID), 9},
		"camera":                 {"/dogs/" + string(d.ID) + "/camera", 1},
		"a session":              {"/sessions/" + string(session.ID), 24},
		"a session's photos":     {"/sessions/" + string(session.ID) + "/photos", 24},
		"wanted outline":         {"/dogs/" + string(d.ID) + "/target", 13},
		"through time, from the": {"/dogs/" + string(d.ID) + "/time?every=all", 1},
	} {
		w := x.get(c.path)
		x.sound(what, w)
		body := w.Body.String()
		if n := len(pictureTag.FindAllString(body, -1)); w.Code != 200 || n > c.most {
			t.Errorf("%s: %d, %d pictures, %d at most", what, w.Code, n, c.most)
		}
		if n := strings.Count(body, "<option"); n > 30 {
			t.Errorf("%s: %d options", what, n)
		}
		if len(body) > 120<<10 {
			t.Errorf("%s: %d KiB", what, len(body)>>10)
		}
	}
	// What is left out is one tap away.
	for path, want := range map[string]int{
		"/sessions/" + string(session.ID):   30,
		"/dogs/" + string(d.ID) + "/target": 20,
	} {
		link := regexp.MustCompile(`<a class="tile tile-more" href="([^"#]*)#`).FindStringSubmatch(x.get(path).Body.String())
		if link == nil {
			t.Errorf("%s: no way to all photos", path)
			continue
		}
		if n := len(pictureTag.FindAllString(x.get(html.UnescapeString(link[1])).Body.String(), -1)); n != want {
			t.Errorf("%s: %d of %d pictures", link[1], n, want)
		}
	}
}

func TestCompareReadsWithoutAScript(t *testing.T) {
	x := opened(t)
	d, paths := x.furnished()
	var pair string
	for _, p := range paths {
		if strings.HasPrefix(p, "/compare") {
			pair = p
			break
		}
	}
	w := x.get(pair)
	x.sound("compare", w)
	body := w.Body.String()
	if n := strings.Count(body, "data-cmp-picture"); n != 2 || !strings.Contains(body, `data-how="side"`) {
		t.Errorf("%d pictures", n)
	}
	for _, want := range []string{"/over/", "?size=half", `id="days"`, "First against last"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page has no %s", want)
		}
	}
	// Every tool that needs the script is hidden without it.
	for _, tools := range []string{`class="cmp-tools" data-cmp-script hidden`, `class="cmp-modes" data-cmp-script hidden`} {
		if !strings.Contains(body, tools) {
			t.Errorf("not hidden: %s", tools)
		}
	}
	if w := x.get("/compare?dog=" + string(d.ID)); w.Code != 200 || strings.Count(w.Body.String(), "data-cmp-picture") != 2 {
		t.Errorf("first against last: %d", w.Code)
	}
	w = x.get("/compare?dog=" + string(d.ID) + "&side=rear")
	x.sound("nothing to compare", w)
	if w.Code != 200 || !strings.Contains(w.Body.String(), "Nothing to compare yet") {
		t.Errorf("from the rear: %d", w.Code)
	}
	w = x.get("/dogs/" + string(d.ID) + "/time?side=rear")
	x.sound("no row", w)
	if w.Code != 200 || !strings.Contains(w.Body.String(), "No row of photos yet") {
		t.Errorf("no row from the rear: %d", w.Code)
	}
}
