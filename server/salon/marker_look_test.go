package salon

import (
	"context"
	"image"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"thatch/imaging"
	"thatch/imaging/align/marker"
	"thatch/store"
	"thatch/timeline"
	"thatch/timeline/outside"
)

func TestANewPhotoIsLookedAtOnceForTheTableMarker(t *testing.T) {
	outside.Alone(t)
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	other := newDog(t, s, "Teasel", day("2026-06-01"))
	mine := sheetOf(t, d.ID)
	for _, c := range []struct {
		name   string
		things []image.Image
		seen   bool
		told   []string
	}{
		{"this dog's", []image.Image{mine}, true, []string{}},
		{"none", nil, false, []string{}},
		{"a stranger's", []image.Image{stranger(t)}, false, []string{"foreign"}},
		{"hers beside a stranger's", []image.Image{mine, stranger(t)}, true, []string{"foreign"}},
		{"two of ours", []image.Image{mine, sheetOf(t, other.ID)}, false, []string{"several"}},
	} {
		file := room(t, uint64(len(c.name)), "2026-06-09 10:00", c.things...)
		a := add(t, s, d.ID, c.name+".jpg", file)
		if a.Original.Marker != nil {
			t.Errorf("%s: looked at before its turn", c.name)
		}
		if done := work(t, s); !reflect.DeepEqual(done, map[string]int{store.KindDerive: 1, store.KindMarker: 1}) {
			t.Errorf("%s: done %v", c.name, done)
		}
		look := lookAt(t, s, a.Photo.SHA256)
		if (look.Seen != nil) != c.seen || !reflect.DeepEqual(look.Told, c.told) || look.Maker != lookVersion {
			t.Errorf("%s: %+v", c.name, look)
		}
		if look.Seen != nil {
			// Kind A: the sheet's own size. The promise is half a percent.
			if off := look.Seen.MMPerPX/sheetMMPerPX - 1; look.Seen.Dog != d.ID || look.Seen.SizeMM != marker.DefaultSizeMM || math.Abs(off) > 0.005 {
				t.Errorf("%s: dog %q, %d mm, scale off by %.2f %%", c.name, look.Seen.Dog, look.Seen.SizeMM, 100*off)
			}
		}
		// The same file on another dog's timeline: nobody looks again.
		add(t, s, other.ID, c.name+".jpg", file)
		if done := work(t, s); done[store.KindMarker] != 0 {
			t.Errorf("%s: looked at twice", c.name)
		}
	}
}

// Kind A: CIPA DC-008's definition, by the diagonal of a 35 mm frame, 43.2666 mm.
func TestTheFocalLengthComesInWithThePhoto(t *testing.T) {
	s, _ := opened(t)
	o := originalOf(imaging.Facts{WidthPX: 4000, HeightPX: 3000, Focal35MM: 26}, s.Now())
	if want := 26 * 5000 / math.Sqrt(36*36+24*24); math.Abs(o.FocalPX-want) > 1e-9 {
		t.Errorf("focal length %g px, want %g", o.FocalPX, want)
	}
	if o := originalOf(imaging.Facts{WidthPX: 4000, HeightPX: 3000}, s.Now()); o.FocalPX != 0 {
		t.Errorf("a focal length that no file said: %g", o.FocalPX)
	}
}

func TestPhotosFromBeforeAreLookedAtOneAfterTheOther(t *testing.T) {
	outside.Alone(t)
	s, c := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	var shas []string
	for i := range 4 {
		shas = append(shas, add(t, s, d.ID, "a.jpg", room(t, uint64(i), "2026-06-09 10:00", sheetOf(t, d.ID))).Photo.SHA256)
		c.at.Add(60)
	}
	work(t, s)
	ok(s.LookAtOlder(ctx))
	if done := work(t, s); len(done) != 0 {
		t.Fatalf("nothing was old, and %v was done", done)
	}
	for _, sha := range []string{shas[0], shas[1], shas[3]} {
		ok(s.st.SetMarkerLook(ctx, sha, timeline.MarkerLook{Maker: lookVersion - 1}))
	}
	ok(s.st.SetFocal(ctx, shas[3], 1234)) // what an older reading made of the file
	ok(s.LookAtOlder(ctx))
	if n := must(s.st.PendingJobs(ctx)); n != 1 {
		t.Errorf("%d pieces wait at once: new photos would wait behind them", n)
	}
	if done := work(t, s); done[store.KindMarkerOlder] != 3 {
		t.Errorf("done %v", done)
	}
	for _, sha := range shas {
		if look := lookAt(t, s, sha); look.Seen == nil || look.Maker != lookVersion {
			t.Errorf("%s: %+v", sha[:6], look)
		}
	}
	if o := must(s.st.Original(ctx, shas[3])); o.FocalPX != 0 {
		t.Errorf("the focal length was not read again: %g", o.FocalPX)
	}
}

// A photo that cannot be looked at holds up nobody: the next older one has its turn all the same.
func TestALookThatFailsLeavesThePhotoGoodAndTheNextHasItsTurn(t *testing.T) {
	s, c := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	var shas []string
	for i := range 2 {
		shas = append(shas, add(t, s, d.ID, "a.jpg", room(t, uint64(i), "2026-06-09 10:00")).Photo.SHA256)
		c.at.Add(60)
	}
	work(t, s)
	for _, sha := range shas {
		ok(s.st.SetMarkerLook(ctx, sha, timeline.MarkerLook{Maker: lookVersion - 1}))
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	if err := s.lookAndGoOn(stopped, shas[1]); err == nil {
		t.Fatal("a look that was interrupted is no look")
	}
	if look := lookAt(t, s, shas[1]); look.Maker == lookVersion {
		t.Errorf("an interrupted look was kept: %+v", look)
	}
	look, err := findMarker(nil, 0) // the finder's own defect
	if err == nil || !reflect.DeepEqual(look.Told, []string{lookFailed}) {
		t.Errorf("%+v, %v", look, err)
	}
	ok(s.lookAndGoOn(ctx, shas[1]))
	if done := work(t, s); done[store.KindMarkerOlder] != 1 || lookAt(t, s, shas[0]).Maker != lookVersion {
		t.Errorf("the next older one: %v", done)
	}
}

// Decoding HEIC takes seconds: its pictures and the look come of one go.
func TestAHEICPhotoIsLookedAtWithoutDecodingItAgain(t *testing.T) {
	outside.Alone(t)
	name := filepath.Join(outside.Dir(t, "exif"), "files", "ia__heic_IMG_5195.HEIC")
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if imaging.Licences() == "" {
		outside.Skip(t, "this build has no decoder for HEIC")
	}
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	a := add(t, s, d.ID, filepath.Base(name), b)
	if done := work(t, s); !reflect.DeepEqual(done, map[string]int{store.KindDerive: 1}) {
		t.Errorf("done %v", done)
	}
	if look := lookAt(t, s, a.Photo.SHA256); look.Seen != nil || len(look.Told) != 0 {
		t.Errorf("a marker where there is none: %+v", look)
	}
	// What was kept before anybody looked is looked at by itself.
	ok(s.st.SetMarkerLook(ctx, a.Photo.SHA256, timeline.MarkerLook{Maker: lookVersion - 1}))
	ok(s.LookAtOlder(ctx))
	if done := work(t, s); done[store.KindMarkerOlder] != 1 || lookAt(t, s, a.Photo.SHA256).Maker != lookVersion {
		t.Errorf("done %v", done)
	}
}
