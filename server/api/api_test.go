package api

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"image"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"
)

func opened(t *testing.T) (http.Handler, *salon.Salon, timeline.Dog) {
	t.Helper()
	st, err := store.Open(t.Context(), t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	s := salon.New(st, salon.Options{})
	d, err := s.CreateDog(t.Context(), salon.NewDog{Name: "Wisp"})
	if err != nil {
		t.Fatal(err)
	}
	return Handler(s, slog.New(slog.DiscardHandler)), s, d
}

func photo(t *testing.T, shade uint8) []byte {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, 80, 60))
	for i := range img.Pix {
		img.Pix[i] = shade
	}
	var b bytes.Buffer
	if err := imaging.EncodeJPEG(&b, img, 80); err != nil {
		t.Fatal(err)
	}
	out, err := imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: time.Date(2025, 5, 6, 7, 8, 9, 0, time.UTC), Offset: "+02:00"})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func shaOf(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

func ask(t *testing.T, h http.Handler, method, path, kind string, body []byte) (int, map[string]any) {
	t.Helper()
	r := httptest.NewRequest(method, path, bytes.NewReader(body))
	if kind != "" {
		r.Header.Set("Content-Type", kind)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	doc := map[string]any{}
	if strings.HasPrefix(strings.TrimSpace(w.Body.String()), "{") {
		if err := json.Unmarshal(w.Body.Bytes(), &doc); err != nil {
			t.Fatalf("%s %s: %v", method, path, err)
		}
	}
	return w.Code, doc
}

func TestAPhotoIsPutUnderItsHash(t *testing.T) {
	h, _, d := opened(t)
	b := photo(t, 90)
	path := "/dogs/" + string(d.ID) + "/photos/"
	code, doc := ask(t, h, "PUT", path+shaOf(b), "image/jpeg", b)
	if code != http.StatusCreated || doc["taken_at"] != "2025-05-06T07:08:09+02:00" || doc["already"] != false {
		t.Fatalf("first: %d %v", code, doc)
	}
	code, doc = ask(t, h, "PUT", path+shaOf(b), "image/jpeg", b)
	if code != http.StatusOK || doc["already"] != true {
		t.Errorf("again: %d %v", code, doc)
	}
	for _, c := range []struct {
		name, path string
		body       []byte
		want       int
	}{
		{"another hash", path + shaOf([]byte("x")), b, 422},
		{"no hash", path + "abc", b, 422},
		{"a hash in upper case", path + strings.ToUpper(shaOf(b)), b, 422},
		{"not a photo", path + shaOf([]byte("hello")), []byte("hello"), 422},
		{"half a photo", path + shaOf(b[:len(b)/2]), b[:len(b)/2], 422},
		{"an unknown dog", "/dogs/nobody/photos/" + shaOf(b), b, 404},
	} {
		code, doc := ask(t, h, "PUT", c.path, "image/jpeg", c.body)
		e, _ := doc["error"].(map[string]any)
		if code != c.want || e["message"] == "" || e["message"] == nil || strings.Contains(e["message"].(string), "fault.") {
			t.Errorf("%s: %d %v", c.name, code, doc)
		}
	}
}

func TestAPhotoIsPostedAsAForm(t *testing.T) {
	h, s, d := opened(t)
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	part, _ := form.CreateFormFile("photo", "IMG_1.jpg")
	part.Write(photo(t, 140))
	form.Close()
	path := "/dogs/" + string(d.ID) + "/photos"
	code, doc := ask(t, h, "POST", path, form.FormDataContentType(), b.Bytes())
	if code != http.StatusCreated || doc["file"] != "IMG_1.jpg" || doc["session"] != nil {
		t.Fatalf("%d %v", code, doc)
	}
	if photos, _ := s.Photos(t.Context(), d.ID); len(photos) != 1 {
		t.Errorf("%d photos", len(photos))
	}
	if code, _ := ask(t, h, "POST", path, "text/plain", []byte("x")); code != 422 {
		t.Errorf("no form: %d", code)
	}
}

func TestTheRestMirrorsTheCommands(t *testing.T) {
	h, s, d := opened(t)
	base := "/dogs/" + string(d.ID)
	if code, doc := ask(t, h, "GET", base+"/plan", "", nil); code != 422 {
		t.Errorf("a plan without a show: %d %v", code, doc)
	}
	today, _ := s.Today(t.Context())
	if _, err := s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall", On: today + 60}); err != nil {
		t.Fatal(err)
	}
	if code, doc := ask(t, h, "GET", base+"/plan", "", nil); code != 200 || doc["zones"] == nil || doc["warnings"] == nil {
		t.Errorf("plan: %d %v", code, doc)
	}
	if code, doc := ask(t, h, "GET", base+"/forecast?on="+(today+10).String(), "", nil); code != 200 || doc["on"] != (today+10).String() {
		t.Errorf("forecast: %d %v", code, doc)
	}
	if code, _ := ask(t, h, "GET", base+"/forecast?on=yesterday", "", nil); code != 422 {
		t.Errorf("forecast of nonsense: %d", code)
	}
	if code, doc := ask(t, h, "GET", base+"/timeline", "", nil); code != 200 || doc["sessions"] == nil || doc["unpaired"] == nil {
		t.Errorf("timeline: %d %v", code, doc)
	}
	if code, doc := ask(t, h, "GET", "/openapi.json", "", nil); code != 200 || doc["openapi"] != "3.1.0" {
		t.Errorf("description: %d", code)
	}
	if code, _ := ask(t, h, "GET", "/nothing", "", nil); code != 404 {
		t.Errorf("nothing: %d", code)
	}
}

// The formats that are taken, by their names in IANA's registry of media types. (E)
func TestTheDescriptionNamesEveryFormatOfPhotos(t *testing.T) {
	var doc struct {
		Paths map[string]struct {
			Put struct {
				RequestBody struct{ Content map[string]any }
			}
		}
	}
	if err := json.Unmarshal(description, &doc); err != nil {
		t.Fatal(err)
	}
	for _, kind := range []string{"image/jpeg", "image/png", "image/webp", "image/heic"} {
		if _, ok := doc.Paths["/dogs/{dog}/photos/{sha256}"].Put.RequestBody.Content[kind]; !ok {
			t.Errorf("%s is not named", kind)
		}
	}
}

// Every route is described, and everything described is a route.
func TestTheDescriptionIsOfTheRoutesThereAre(t *testing.T) {
	h, _, d := opened(t)
	var doc struct {
		Paths map[string]map[string]any `json:"paths"`
	}
	if err := json.Unmarshal(description, &doc); err != nil {
		t.Fatal(err)
	}
	n := 0
	for path, verbs := range doc.Paths {
		for verb := range verbs {
			if verb == "parameters" {
				continue
			}
			n++
			at := strings.NewReplacer("{dog}", string(d.ID), "{sha256}", shaOf(nil)).Replace(path)
			if code, _ := ask(t, h, strings.ToUpper(verb), at, "", nil); code == 404 || code == 405 {
				t.Errorf("%s %s is described and answers %d", verb, path, code)
			}
		}
	}
	if n != 6 {
		t.Errorf("%d operations are described, 6 are routed", n)
	}
}
