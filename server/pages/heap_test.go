package pages_test

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/imaging/align/marker"
	"thatch/server/jobs"
	"thatch/timeline"
	"thatch/timeline/outside"
)

// beside is a photo of the marker of a dog, taken at that time; every shade is another photo.
func beside(dog timeline.ID, shade uint8, at time.Time) []byte {
	var b bytes.Buffer
	if err := marker.WritePNG(&b, marker.Text{Dog: dog, SizeMM: marker.DefaultSizeMM}, marker.A4, marker.Labels{}); err != nil {
		panic(err)
	}
	printed := must(png.Decode(&b))
	sheet := image.NewNRGBA(printed.Bounds())
	draw.Draw(sheet, sheet.Rect, printed, image.Point{}, draw.Src)
	img := image.NewNRGBA(image.Rect(0, 0, 800, 1000))
	for i := range img.Pix {
		img.Pix[i] = shade
	}
	draw.Draw(img, image.Rect(60, 60, 800, 960), imaging.Resize(sheet, 880), image.Point{}, draw.Src)
	b.Reset()
	if err := imaging.EncodeJPEG(&b, img, 85); err != nil {
		panic(err)
	}
	return must(imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: at, Offset: "+00:00"}))
}

// heaps sends files into the heap as a form does.
func (x *house) heaps(accept string, files ...file) *httptest.ResponseRecorder {
	x.t.Helper()
	return x.sendsTo("/heap", accept, files...)
}

func (x *house) works() {
	x.t.Helper()
	if err := jobs.Drain(x.t.Context(), x.st, x.s, jobs.Options{}); err != nil {
		x.t.Fatal(err)
	}
}

// section is a part of a page from its ID to the end of its form.
func section(body, id string) string {
	_, rest, ok := strings.Cut(body, ` id="`+id+`"`)
	if !ok {
		return ""
	}
	part, _, _ := strings.Cut(rest, "</form>")
	return part
}

var pickedPhoto = regexp.MustCompile(`name="photo" value="(\w+)"( checked)?`)

func TestPhotosOfSeveralDogsAreFiledWithOneTapADog(t *testing.T) {
	outside.Alone(t)
	x := opened(t)
	wisp := x.dog()
	body := x.get("/heap").Body.String()
	if !strings.Contains(body, "Nothing waits") || !strings.Contains(body, "/dogs/"+string(wisp.ID)+"/marker") {
		t.Error("the empty heap does not teach how it is filled")
	}
	noon := (must(x.s.Today(t.Context())) - 1).Time().Add(12 * time.Hour)
	rows := x.heaps("text/x-rows", file{"w1.jpg", beside(wisp.ID, 60, noon)}, file{"w2.jpg", beside(wisp.ID, 90, noon.Add(time.Minute))}, file{"w3.jpg", beside(wisp.ID, 120, noon.Add(2*time.Minute))},
		file{"plain.jpg", jpegOf(80, noon.Add(3*time.Minute))}, file{"note.txt", []byte("no photo")})
	if got := rows.Body.String(); strings.Count(got, `<li class="up`) != 5 || strings.Count(got, "up-refused") != 1 || strings.Contains(got, "<html") || rows.Code != 422 {
		t.Errorf("%d: %s", rows.Code, got)
	}
	if body := x.get("/heap").Body.String(); !strings.Contains(body, "still being looked at") {
		t.Error("nothing says that the photos are still looked at")
	}
	if body := x.get("/").Body.String(); !strings.Contains(body, "4 photos wait for their dog") {
		t.Error("the first page does not say how many wait")
	}
	x.works()

	w := x.get("/heap")
	x.sound("heap", w)
	group := section(w.Body.String(), "dog-"+string(wisp.ID))
	picked := pickedPhoto.FindAllStringSubmatch(group, -1)
	if !strings.Contains(group, "These 3 are Wisp") || len(picked) != 3 || strings.Count(group, " checked") != 3 {
		t.Fatalf("her group: %s", group)
	}
	others := section(w.Body.String(), "others")
	if got := pickedPhoto.FindAllStringSubmatch(others, -1); len(got) != 1 || got[0][2] != "" || !strings.Contains(others, "No table marker in it") || !strings.Contains(others, "photos of Wisp") {
		t.Errorf("the others: %s", others)
	}
	plain := pickedPhoto.FindStringSubmatch(others)[1]

	// Two are hers, the third is unticked and waits.
	done := x.post("/heap/sort", "dog", string(wisp.ID), "do", "file", "photo", picked[0][1], "photo", picked[1][1])
	if body := x.follows(done).Body.String(); !strings.Contains(body, "2 photos are on Wisp") || !strings.Contains(body, "This one is Wisp") {
		t.Errorf("after filing: %s", faultText(done))
	}
	if photos := must(x.s.Photos(t.Context(), wisp.ID)); len(photos) != 2 {
		t.Fatalf("%d photos are hers", len(photos))
	}

	// The plain one is said to be hers, seen in her group, and put aside with an undo.
	said := x.post("/heap/sort", "do", "dog "+string(wisp.ID), "photo", plain)
	if got := section(x.follows(said).Body.String(), "dog-"+string(wisp.ID)); !strings.Contains(got, plain) || !strings.Contains(got, "As you said") {
		t.Errorf("said: %s", got)
	}
	one := x.get("/heap/" + plain)
	x.sound("one of the heap", one)
	if !strings.Contains(one.Body.String(), "You said it is Wisp") {
		t.Error("the photo's own page does not say what was said of it")
	}
	x.follows(x.post("/heap/sort", "do", "unsay", "photo", plain))
	aside := x.follows(x.post("/heap/sort", "do", "trash", "photo", plain))
	if body := aside.Body.String(); strings.Count(body, "/restore/heap/"+plain) != 2 {
		t.Error("what was put aside cannot be had back at once")
	}
	x.post("/restore/heap/"+plain, "back", "/heap")
	if w := x.get("/heap/" + plain + "/picture/thumb"); w.Code != 200 || w.Header().Get("Content-Type") != "image/jpeg" {
		t.Errorf("its picture: %d", w.Code)
	}
	if w := x.get("/heap/" + plain + "/picture/original"); w.Code != 404 {
		t.Errorf("the file itself: %d", w.Code)
	}

	x.refuses("nothing ticked", x.post("/heap/sort", "dog", string(wisp.ID), "do", "file"), 422, "Tick at least one", picked[2][1])
	x.refuses("filed meanwhile", x.post("/heap/sort", "dog", string(wisp.ID), "do", "file", "photo", picked[0][1], "photo", picked[2][1]), 409, "filed or put aside meanwhile", picked[2][1])
	x.refuses("no such thing to do", x.post("/heap/sort", "do", "burn", "photo", plain), 422)
	x.refuses("no file", x.heaps("text/html"), 422, "Choose at least one photo")
	form := x.heaps("text/html", file{"again.jpg", jpegOf(80, noon.Add(3*time.Minute))}, file{"w1.jpg", beside(wisp.ID, 60, noon)})
	x.sound("a form without a script", form)
	if body := form.Body.String(); !strings.Contains(body, "Was here already") || !strings.Contains(body, "timeline already") {
		t.Error("a photo that came twice is not told")
	}

	photos := must(x.s.Photos(t.Context(), wisp.ID))
	if body := x.get("/photos/" + string(photos[0].ID)).Body.String(); !strings.Contains(body, "mm per px, ±") {
		t.Error("the photo does not say its scale")
	}
}

func TestATableMarkerIsPrintedFromTheDogsPage(t *testing.T) {
	x := opened(t)
	d := x.dog()
	at := "/dogs/" + string(d.ID) + "/marker"
	if !strings.Contains(x.get("/dogs/"+string(d.ID)).Body.String(), `href="`+at+`"`) {
		t.Error("the dog's page has no way to her marker")
	}
	for _, path := range []string{at, "/marker"} {
		w := x.get(path)
		x.sound(path, w)
		if body := w.Body.String(); !strings.Contains(body, "Print at 100 %") || !strings.Contains(body, `action="`+path+`.pdf"`) || !checked(body, "paper", "a4") {
			t.Errorf("%s: %s", path, body)
		}
	}
	x.inches()
	if body := x.get(at).Body.String(); !checked(body, "paper", "letter") {
		t.Error("where lengths are in inches the paper is not Letter")
	}
	for query, want := range map[string]struct {
		path, begin, kind, name string
	}{
		"?paper=a4&size=80": {at + ".pdf", "%PDF-", "application/pdf", "marker-wisp.pdf"},
		"?paper=letter":     {at + ".png", "\x89PNG", "image/png", "marker-wisp.png"},
		"?size=50":          {"/marker.pdf", "%PDF-", "application/pdf", "marker.pdf"},
	} {
		w := x.get(want.path + query)
		if w.Code != 200 || !strings.HasPrefix(w.Body.String(), want.begin) || w.Header().Get("Content-Type") != want.kind || !strings.Contains(w.Header().Get("Content-Disposition"), fmt.Sprintf("%q", want.name)) {
			t.Errorf("%s%s: %d %v", want.path, query, w.Code, w.Header())
		}
	}
	// What is printed for a dog is found as hers: her sheet is read back.
	img := must(png.Decode(x.get(at + ".png").Body))
	flat := image.NewNRGBA(img.Bounds())
	draw.Draw(flat, flat.Rect, img, image.Point{}, draw.Src)
	if found := marker.Find(imaging.Resize(flat, 1400), marker.Options{}); found.Marker == nil || found.Marker.Text.Dog != d.ID {
		t.Errorf("her sheet reads as %+v", found)
	}
	for path, code := range map[string]int{at + ".gif": 404, at + ".pdf?paper=a0": 422, at + ".pdf?size=5": 422, at + ".pdf?size=x": 422, "/dogs/nobody/marker": 404, "/dogs/nobody/marker.pdf": 404} {
		if w := x.get(path); w.Code != code {
			t.Errorf("%s: %d, want %d", path, w.Code, code)
		}
	}
}
