package pages_test

import (
	"bytes"
	"context"
	"image"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/server/jobs"
	"thatch/server/salon"
	"thatch/timeline"
)

func TestOneRefusedFileDoesNotHoldUpTheOthers(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	whole := jpegOf(90, at(wednesday, 9, 0))
	other := jpegOf(140, at(wednesday, 9, 5))
	w := x.sends(d.ID, "text/html", file{"a.jpg", whole}, file{"cut.jpg", other[:len(other)/3]}, file{"note.txt", []byte("no photo")}, file{"empty.jpg", nil}, file{"b.jpg", other})
	body := w.Body.String()
	if w.Code != 422 || strings.Count(body, `<li class="up`) != 5 || strings.Count(body, "up-refused") != 3 || !strings.Contains(body, "<html") {
		t.Errorf("%d, %d rows, %d refused", w.Code, strings.Count(body, `<li class="up`), strings.Count(body, "up-refused"))
	}
	x.sound("the results", w)
	if n := len(must(x.s.Photos(t.Context(), d.ID))); n != 2 {
		t.Errorf("%d photos are stored", n)
	}
	again := x.sends(d.ID, "text/x-rows", file{"a.jpg", whole})
	if rows := again.Body.String(); again.Code != 200 || strings.Contains(rows, "<html") || strings.Count(rows, `<li class="up`) != 1 || again.Header().Get("Content-Type") != "text/html; charset=utf-8" {
		t.Errorf("%d: %s", again.Code, rows)
	}
	if n := len(must(x.s.Photos(t.Context(), d.ID))); n != 2 {
		t.Errorf("the same photo twice is stored twice: %d", n)
	}
}

func TestAFormWithoutAFileIsRefused(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	x.refuses("no file", x.sends(d.ID, "text/html"), 422)
	if w := x.sends("nobody", "text/html", file{"a.jpg", jpegOf(90, time.Time{})}); w.Code != 404 {
		t.Errorf("a photo of no dog: %d", w.Code)
	}
	r := httptest.NewRequest("POST", "/dogs/"+string(d.ID)+"/photos", strings.NewReader("--x\r\nContent-Disp"))
	r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
	if w := x.ask(r); w.Code != 422 {
		t.Errorf("a form that breaks off: %d", w.Code)
	}
}

func TestAWrongDateIsCorrectedAndItsCameraFollows(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	bytesOf := func(shade uint8, local time.Time) []byte {
		img := image.NewNRGBA(image.Rect(0, 0, 40, 30))
		for i := range img.Pix {
			img.Pix[i] = shade
		}
		var b bytes.Buffer
		if err := imaging.EncodeJPEG(&b, img, 80); err != nil {
			t.Fatal(err)
		}
		return must(imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: local, Make: "Test", Model: "One"}))
	}
	x.sends(d.ID, "text/html", file{"a.jpg", bytesOf(80, at(wednesday-365, 9, 0))}, file{"b.jpg", bytesOf(160, at(wednesday-365, 9, 20))})
	photos := must(x.s.Photos(t.Context(), d.ID))
	if len(photos) != 2 {
		t.Fatalf("%d photos", len(photos))
	}
	v := x.opens(d, wednesday)
	p := photos[0]
	page := "/photos/" + string(p.ID)
	for _, bad := range []string{"soon", "", "2099-01-01T09:00", "2026-06-31T09:00"} {
		w := x.post(page+"/date", "rev", rev(p.Rev), "taken", bad, "shift", "yes")
		x.refuses("a date of "+bad, w, 422)
		if body := w.Body.String(); !wrong(body, "taken") || bad != "" && !holds(body, "taken", bad) || !checked(body, "shift", "yes") {
			t.Errorf("%q: not beside its field, or lost: %s", bad, faultText(w))
		}
	}
	x.goes(x.post(page+"/date", "rev", rev(p.Rev), "taken", "2026-06-10T09:00", "shift", "yes"), page)
	for i, want := range []string{"2026-06-10T09:00:00", "2026-06-10T09:20:00"} {
		now := must(x.s.Photo(t.Context(), photos[i].ID))
		if now.Moment.Local != want || now.Session != v.ID {
			t.Errorf("photo %d: %s, session %q; want %s, %q", i, now.Moment.Local, now.Session, want, v.ID)
		}
	}
	if now := must(x.s.Photo(t.Context(), p.ID)); now.Moment.Source != timeline.SourceUser {
		t.Errorf("source %q", now.Moment.Source)
	}
	x.refuses("a date from an older page", x.post(page+"/date", "rev", rev(p.Rev), "taken", "2026-06-09T08:00"), 409, `value="2026-06-09T08:00"`)
}

func TestWhatAPhotoShowsIsSaid(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	p := x.snap(d.ID, 90, at(wednesday, 9, 0))
	page := "/photos/" + string(p.ID)
	x.goes(x.post(page+"/facts", "rev", rev(p.Rev), "coat_state", "chalked", "phase", "end", "side", "rear"), page)
	now := must(x.s.Photo(t.Context(), p.ID))
	if now.CoatState != timeline.CoatChalked || now.Phase != timeline.PhaseEnd || !now.PhaseSaid || now.Side != timeline.SideRear {
		t.Errorf("%+v", now)
	}
	w := x.post(page+"/facts", "rev", rev(p.Rev), "coat_state", "damp", "phase", "start", "side", "left")
	x.refuses("an older page", w, 409)
	if !pressed(w.Body.String(), "chalked") || pressed(w.Body.String(), "damp") {
		t.Error("the refused tap is shown as if it were kept")
	}
	x.refuses("a side that no dog has", x.post(page+"/facts", "rev", rev(now.Rev), "side", "inside"), 422)
	if again := must(x.s.Photo(t.Context(), p.ID)); again.Side != timeline.SideRear || again.CoatState != timeline.CoatChalked {
		t.Errorf("%+v", again)
	}
}

func TestAPhotoOpensTheSessionOfItsDay(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	p := x.snap(d.ID, 90, at(wednesday-7, 9, 0))
	if body := x.get("/photos/" + string(p.ID)).Body.String(); !strings.Contains(body, `action="/photos/`+string(p.ID)+`/session"`) {
		t.Error("no session is offered")
	}
	to := x.goes(x.post("/photos/"+string(p.ID)+"/session"), "/sessions/")
	v := x.session(timeline.ID(strings.TrimPrefix(to, "/sessions/")))
	if v.On != wednesday-7 || must(x.s.Photo(t.Context(), p.ID)).Session != v.ID {
		t.Errorf("%s", v.On)
	}
	undated := x.snap(d.ID, 200, time.Time{})
	if w := x.post("/photos/" + string(undated.ID) + "/session"); w.Code != 422 {
		t.Errorf("a session for a photo without a date: %d", w.Code)
	}
	now := must(x.s.Photo(t.Context(), undated.ID))
	x.goes(x.post("/photos/"+string(undated.ID)+"/pair", "rev", rev(now.Rev), "session", string(v.ID)), "/photos/")
	if must(x.s.Photo(t.Context(), undated.ID)).Session != v.ID {
		t.Error("it was not paired by hand")
	}
	stranger := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: "Other"}))
	theirs := must(x.s.OpenSession(t.Context(), stranger.ID, wednesday))
	now = must(x.s.Photo(t.Context(), undated.ID))
	x.refuses("paired with another dog's session", x.post("/photos/"+string(undated.ID)+"/pair", "rev", rev(now.Rev), "session", string(theirs.ID)), 422)
	if must(x.s.Photo(t.Context(), undated.ID)).Session != v.ID {
		t.Error("it went to the other dog")
	}
}

func TestPointsArePlacedByTheirNumbersWithoutAScript(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	p := x.snap(d.ID, 90, at(wednesday, 9, 0))
	page := "/photos/" + string(p.ID)
	good := []string{"x.withers", "45.5", "y.withers", "30", "x.tail_set", "85", "y.tail_set", "31", "x.nose", "10", "y.nose", "25"}
	for name, bad := range map[string][2]string{"a number that is none": {"x.mid_back", "far"}, "half a pair": {"x.mid_back", "60"}, "not a number at all": {"x.mid_back", "NaN"}, "off the picture": {"x.mid_back", "1000"}} {
		fields := append([]string{"rev", rev(p.Rev), bad[0], bad[1]}, good...)
		if name != "half a pair" {
			fields = append(fields, "y.mid_back", "31")
		}
		w := x.post(page+"/points", fields...)
		x.refuses(name, w, 422)
		body := w.Body.String()
		if !wrong(body, "x.mid_back") || !holds(body, "x.mid_back", bad[1]) || !holds(body, "x.withers", "45.5") {
			t.Errorf("%s: not beside its field, or lost: %s", name, faultText(w))
		}
	}
	if n := len(must(x.s.Photo(t.Context(), p.ID)).Landmarks); n != 0 {
		t.Fatalf("%d points are stored", n)
	}
	x.goes(x.post(page+"/points", append([]string{"rev", rev(p.Rev)}, good...)...), page)
	now := must(x.s.Photo(t.Context(), p.ID))
	if len(now.Landmarks) != 3 || now.Landmarks[timeline.WithersPt] != (timeline.XY{X: 45.5, Y: 30}) || now.Side != timeline.SideLeft {
		t.Errorf("%s side, %v", now.Side, now.Landmarks)
	}
	if body := x.get(page + "/points").Body.String(); !holds(body, "x.withers", "45.5") {
		t.Error("the page of points does not show them")
	}
	x.refuses("an older page", x.post(page+"/points", append([]string{"rev", rev(p.Rev), "x.eye", "20", "y.eye", "21"}, good...)...), 409, `value="21"`)
	x.goes(x.post(page+"/points", "rev", rev(now.Rev)), page)
	if n := len(must(x.s.Photo(t.Context(), p.ID)).Landmarks); n != 0 {
		t.Errorf("%d points are left after all were cleared", n)
	}
}

func TestPointsOfTheDogsLastPhotoAreProposed(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	a := x.snap(d.ID, 90, at(wednesday-14, 9, 0))
	must(x.s.SavePoints(t.Context(), a.ID, a.Rev, standing))
	b := x.snap(d.ID, 120, at(wednesday, 9, 0))
	w := x.get("/photos/" + string(b.ID) + "/points")
	if w.Code != 200 || valueOf(w.Body.String(), "x.withers") == "" {
		t.Errorf("%d: nothing is proposed", w.Code)
	}
	x.sound("the proposal", w)
	if n := len(must(x.s.Photo(t.Context(), b.ID)).Landmarks); n != 0 {
		t.Error("a proposal was stored")
	}
}

func TestPhotosAreComparedWithAndWithoutPoints(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	var photos []timeline.Photo
	for i, on := range []timeline.Day{wednesday - 14, wednesday, wednesday} {
		x.snap(d.ID, uint8(60+40*i), at(on, 9, i))
	}
	photos = must(x.s.Photos(t.Context(), d.ID))
	for i := range photos[:2] {
		photos[i] = must(x.s.SetPhotoFacts(t.Context(), photos[i].ID, photos[i].Rev, salon.PhotoEdit{CoatState: timeline.CoatBrushedDown}))
		photos[i] = must(x.s.SavePoints(t.Context(), photos[i].ID, photos[i].Rev, standing))
	}
	a, b, bare := string(photos[0].ID), string(photos[1].ID), string(photos[2].ID)
	with := x.get("/compare?a=" + a + "&b=" + b)
	x.sound("with points", with)
	over := "/photos/" + b + "/over/" + a
	if body := with.Body.String(); with.Code != 200 || !strings.Contains(body, `src="`+over+`?size=half"`) || !strings.Contains(body, "data-cmp-at") {
		t.Errorf("with points: %d, no aligned picture", with.Code)
	}
	pic := x.get(over)
	if pic.Code != 200 || pic.Header().Get("Content-Type") != "image/jpeg" || pic.Header().Get("Cache-Control") != "private, no-cache" {
		t.Errorf("laid over: %d %v", pic.Code, pic.Header())
	}
	if _, err := imaging.Inspect(bytes.NewReader(pic.Body.Bytes()), int64(pic.Body.Len()), "", imaging.InspectOptions{}); err != nil {
		t.Errorf("laid over: %v", err)
	}
	without := x.get("/compare?a=" + a + "&b=" + bare)
	x.sound("without points", without)
	if body := without.Body.String(); without.Code != 200 || strings.Contains(body, bare+"/over/"+a) || !strings.Contains(body, "Each photo as it came") || !strings.Contains(body, "/photos/"+bare+"/points") || !strings.Contains(body, "Look only") {
		t.Errorf("without points: %d; aligned all the same, no reason, or no way to points", without.Code)
	}
	if w := x.get("/photos/" + bare + "/over/" + a); w.Code < 400 || w.Code >= 500 {
		t.Errorf("laid over without points: %d", w.Code)
	}
	stranger := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: "Other"}))
	theirs := x.snap(stranger.ID, 33, at(wednesday, 9, 0))
	for _, path := range []string{"/compare?a=" + a + "&b=" + string(theirs.ID), "/photos/" + string(theirs.ID) + "/over/" + a, "/compare", "/compare?a=" + a, "/photos/" + a + "/over/none"} {
		w := x.get(path)
		if w.Code < 400 || w.Code >= 500 {
			t.Errorf("%s: %d", path, w.Code)
		}
		x.sound(path, w)
	}
}

func TestEverySizeOfAPhotoHasItsTypeAndIsKeptPrivately(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	var b bytes.Buffer
	img := image.NewNRGBA(image.Rect(0, 0, 700, 500))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	if err := imaging.EncodeJPEG(&b, img, 80); err != nil {
		t.Fatal(err)
	}
	raw := must(imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: at(wednesday, 9, 0), Make: "Test", Model: "One"}))
	p := must(x.s.AddPhoto(t.Context(), d.ID, "a.jpg", bytes.NewReader(raw), "")).Photo
	if err := jobs.Drain(context.Background(), x.st, x.s, jobs.Options{}); err != nil {
		t.Fatal(err)
	}
	for kind, long := range map[string]int{"thumb": 512, "view": 700, "original": 700} {
		w := x.get("/photos/" + string(p.ID) + "/picture/" + kind)
		h := w.Header()
		if w.Code != 200 || h.Get("Content-Type") != "image/jpeg" || h.Get("Cache-Control") != "private, max-age=86400" || h.Get("X-Content-Type-Options") != "nosniff" || h.Get("ETag") == "" {
			t.Errorf("%s: %d %v", kind, w.Code, h)
		}
		body := w.Body.Bytes()
		f, err := imaging.Inspect(bytes.NewReader(body), int64(len(body)), "", imaging.InspectOptions{})
		if err != nil || f.WidthPX != long {
			t.Errorf("%s: %d px wide, want %d (%v)", kind, f.WidthPX, long, err)
		}
		if meta := bytes.Contains(body, []byte("Exif\x00\x00")); meta != (kind == "original") {
			t.Errorf("%s: metadata %v", kind, meta)
		}
	}
	now := must(x.s.Photo(t.Context(), p.ID))
	page := x.follows(x.post("/photos/" + string(now.ID) + "/trash")).Body.String()
	if !strings.Contains(page, `action="/restore/photo/`+string(now.ID)+`"`) {
		t.Error("the next page offers no way back")
	}
	for _, path := range []string{"", "/points", "/picture/thumb", "/picture/original"} {
		if w := x.get("/photos/" + string(now.ID) + path); w.Code != 404 {
			t.Errorf("put aside, %q: %d", path, w.Code)
		}
	}
	x.goes(x.post("/restore/photo/"+string(now.ID), "back", "/trash"), "/trash")
	if w := x.get("/photos/" + string(now.ID)); w.Code != 200 {
		t.Errorf("had back: %d", w.Code)
	}
}
