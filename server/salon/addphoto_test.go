package salon

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"sync"
	"testing"

	"thatch/imaging"
	"thatch/store"
	"thatch/timeline"
)

func TestTheSamePhotoTwiceIsToldAndNotStoredTwice(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	b := snap(t, 1, "2026-06-09 10:00")
	first := add(t, s, d.ID, "a.jpg", b)
	second := add(t, s, d.ID, "b.jpg", b)
	if first.Already || !second.Already || second.Photo.ID != first.Photo.ID || second.Photo.File != "a.jpg" {
		t.Fatalf("first %+v, second %+v", first, second)
	}
	if n := len(must(s.st.Photos(ctx, d.ID))); n != 1 {
		t.Fatalf("%d photos, want 1", n)
	}
	other := newDog(t, s, "Teasel", day("2026-06-01"))
	if a := add(t, s, other.ID, "a.jpg", b); a.Already || a.Photo.Dog != other.ID {
		t.Fatalf("the photo of another dog: %+v", a)
	}
}

func TestAPhotoFromTheTrashComesBackWhenItIsAddedAgain(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	b := snap(t, 1, "2026-06-09 10:00")
	id := add(t, s, d.ID, "a.jpg", b).Photo.ID
	ok(s.TrashPhoto(ctx, id))
	_, err := s.Photo(ctx, id)
	wantFault(t, err, timeline.NotFound, "fault.not_found", "")
	add(t, s, d.ID, "a.jpg", b)
	if p := must(s.Photo(ctx, id)); !p.Trashed.IsZero() {
		t.Fatal("still in the trash")
	}
}

func TestWhatIsNotAReadablePhotoIsRefusedAndNothingStays(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	whole := snap(t, 1, "2026-06-09 10:00")
	huge := bytes.Clone(whole)
	sof := bytes.Index(huge, []byte{0xff, 0xc0})
	binary.BigEndian.PutUint16(huge[sof+5:], 60000)
	binary.BigEndian.PutUint16(huge[sof+7:], 60000)
	scan := bytes.LastIndex(whole, []byte{0xff, 0xda})
	for name, c := range map[string]struct {
		b    []byte
		kind timeline.Kind
		key  string
	}{
		"nothing":                    {nil, timeline.Invalid, "fault.photo.empty"},
		"a letter":                   {[]byte("Dear groomer, here is no photo at all."), timeline.Invalid, "fault.photo.not_a_photo"},
		"a photo cut off":            {whole[:scan+200], timeline.Invalid, "fault.photo.truncated"},
		"a photo of 60,000 × 60,000": {huge, timeline.TooLarge, "fault.photo.too_large_px"},
		"a GIF":                      {[]byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), timeline.Invalid, "fault.photo.format_unsupported"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := s.AddPhoto(ctx, d.ID, "x.jpg", bytes.NewReader(c.b), "")
			wantFault(t, err, c.kind, c.key, "file")
		})
	}
	if n := len(must(s.st.Photos(ctx, d.ID))); n != 0 {
		t.Fatalf("%d photos stayed", n)
	}
	if n := must(s.st.PendingJobs(ctx)); n != 0 {
		t.Fatalf("%d jobs stayed", n)
	}
}

func TestFactsThatWereReadStayBesideARefusal(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	whole := snap(t, 1, "2026-06-09 10:00")
	cut := whole[:bytes.LastIndex(whole, []byte{0xff, 0xda})+200]
	a, err := s.AddPhoto(ctx, d.ID, "x.jpg", bytes.NewReader(cut), "")
	wantFault(t, err, timeline.Invalid, "fault.photo.truncated", "file")
	if a.Facts.WidthPX != 96 || a.Facts.TakenLocal != "2026-06-09T10:00:00" || len(a.Facts.SHA256) != 64 {
		t.Fatalf("facts %+v", a.Facts)
	}
}

func TestAPhotoThatChangedOnItsWayIsRefused(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-06-01"))
	b := snap(t, 1, "2026-06-09 10:00")
	sha, _, err := imaging.Hash(bytes.NewReader(b))
	ok(err)
	_, err = s.AddPhoto(ctx, d.ID, "x.jpg", bytes.NewReader(b), strings.Repeat("0", 64))
	wantFault(t, err, timeline.Invalid, "fault.photo.hash", "sha256")
	if a, err := s.AddPhoto(ctx, d.ID, "x.jpg", bytes.NewReader(b), strings.ToUpper(sha)); err != nil || a.Photo.SHA256 != sha {
		t.Fatalf("the right hash in capitals: %v, %v", a.Photo, err)
	}
}

func TestAPhotoIsPairedWithTheSessionOfItsLocalDay(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-09")))
	// Half past eleven in the evening in Tokyo is still the afternoon in London and the same local day.
	late := snapOf(t, 2, imaging.EXIFFields{TakenLocal: wall("2026-06-09 23:30"), Offset: "+09:00"})
	// A quarter past midnight in London is the day before in UTC; the local day counts.
	midnight := snapOf(t, 3, imaging.EXIFFields{TakenLocal: wall("2026-06-09 00:15"), Offset: "+01:00"})
	for name, b := range map[string][]byte{"by the salon's clock": snap(t, 1, "2026-06-09 10:00"), "late in Tokyo": late, "after midnight": midnight} {
		if a := add(t, s, d.ID, name+".jpg", b); a.Session == nil || a.Session.ID != v.ID || a.OfferSession {
			t.Errorf("%s: session %v, offered %v", name, a.Session, a.OfferSession)
		}
	}
	if a := add(t, s, d.ID, "other.jpg", snap(t, 4, "2026-06-08 10:00")); a.Session != nil || !a.OfferSession {
		t.Errorf("of another day: session %v, offered %v", a.Session, a.OfferSession)
	}
	if a := add(t, s, d.ID, "undated.jpg", snap(t, 5, "")); a.Session != nil || a.OfferSession || a.Photo.Moment.Source != timeline.SourceNone {
		t.Errorf("without a date: session %v, offered %v, source %s", a.Session, a.OfferSession, a.Photo.Moment.Source)
	}
}

func TestOpeningASessionTakesTheWaitingPhotosOfItsDay(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	a := add(t, s, d.ID, "a.jpg", snap(t, 1, "2026-06-09 10:00"))
	b := add(t, s, d.ID, "b.jpg", snap(t, 2, "2026-06-09 11:30"))
	c := add(t, s, d.ID, "c.jpg", snap(t, 3, "2026-06-08 10:00"))
	v := must(s.OpenSessionForPhoto(ctx, a.Photo.ID))
	if v.On != day("2026-06-09") {
		t.Fatalf("opened on %s", v.On)
	}
	for _, x := range []struct {
		photo   timeline.ID
		session timeline.ID
		phase   timeline.Phase
	}{{a.Photo.ID, v.ID, timeline.PhaseStart}, {b.Photo.ID, v.ID, timeline.PhaseEnd}, {c.Photo.ID, "", timeline.PhaseStart}} {
		if p := must(s.Photo(ctx, x.photo)); p.Session != x.session || p.Phase != x.phase {
			t.Errorf("%s: session %q phase %s, want %q %s", p.File, p.Session, p.Phase, x.session, x.phase)
		}
	}
	undated := add(t, s, d.ID, "d.jpg", snap(t, 4, ""))
	_, err := s.OpenSessionForPhoto(ctx, undated.Photo.ID)
	wantFault(t, err, timeline.Invalid, "fault.photo.no_date", "photo")
}

func TestSideAndFacingAreProposedFromTheDogsLastPhotoAndTheCoatNever(t *testing.T) {
	s, c := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	a := add(t, s, d.ID, "a.jpg", snap(t, 1, "2026-06-09 10:00")).Photo
	if a.Side != timeline.SideLeft || a.Facing != timeline.SideLeft || a.CoatState != timeline.CoatUnsaid {
		t.Fatalf("first photo: %s %s %q", a.Side, a.Facing, a.CoatState)
	}
	must(s.SetPhotoFacts(ctx, a.ID, a.Rev, PhotoEdit{Side: timeline.SideRight, CoatState: timeline.CoatBrushedDown}))
	c.at.Add(60)
	b := add(t, s, d.ID, "b.jpg", snap(t, 2, "2026-06-08 10:00")).Photo
	if b.Side != timeline.SideRight || b.Facing != timeline.SideRight || b.CoatState != timeline.CoatUnsaid {
		t.Fatalf("second photo: %s %s %q", b.Side, b.Facing, b.CoatState)
	}
}

func TestPhotosSentAtOnceAllArriveAndArePaired(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-09")))
	var wg sync.WaitGroup
	errs := make([]error, 12)
	for i := range errs {
		b := snap(t, uint64(i/2), fmt.Sprintf("2026-06-09 %02d:00", 8+i/2)) // each one twice
		wg.Go(func() { _, errs[i] = s.AddPhoto(ctx, d.ID, "x.jpg", bytes.NewReader(b), "") })
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			t.Error(err)
		}
	}
	phases := map[timeline.Phase]int{}
	for _, p := range must(s.st.Photos(ctx, d.ID)) {
		if p.Session != v.ID {
			t.Errorf("%s waits", p.ID)
		}
		phases[p.Phase]++
	}
	if phases[timeline.PhaseStart] != 1 || phases[timeline.PhaseDuring] != 4 || phases[timeline.PhaseEnd] != 1 {
		t.Errorf("phases %v, want one start, four during, one end", phases)
	}
}

func TestAnUploadsJobMakesThePicturesAndMayRunTwice(t *testing.T) {
	s, c := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	a := add(t, s, d.ID, "a.jpg", snap(t, 1, "2026-06-09 10:00"))
	job := must(s.st.ClaimJob(ctx, c.now()))
	if job == nil || job.Kind != store.KindDerive || job.Key != a.Photo.SHA256 {
		t.Fatalf("job %+v", job)
	}
	for range 2 {
		ok(s.RunJob(ctx, *job))
	}
	if p := must(s.Photo(ctx, a.Photo.ID)); !p.Ready || p.Trouble != "" {
		t.Fatalf("ready %v, trouble %q", p.Ready, p.Trouble)
	}
	for _, kind := range []PictureKind{PictureThumb, PictureView} {
		pic := must(s.Picture(ctx, a.Photo.ID, kind))
		var b bytes.Buffer
		must(b.ReadFrom(pic))
		pic.Close()
		if !bytes.HasPrefix(b.Bytes(), []byte{0xff, 0xd8}) || bytes.Contains(b.Bytes(), []byte("Exif")) || pic.Type != "image/jpeg" || pic.ETag == "" {
			t.Errorf("%s: not a clean JPEG", kind)
		}
	}
	pic := must(s.Picture(ctx, a.Photo.ID, PictureOriginal))
	defer pic.Close()
	if sha, _, _ := imaging.Hash(pic); sha != a.Photo.SHA256 {
		t.Error("the original is not byte for byte what came")
	}
	_, err := s.Picture(ctx, a.Photo.ID, "poster")
	wantFault(t, err, timeline.NotFound, "fault.not_found", "")
	if err := s.RunJob(ctx, store.Job{Kind: "paint"}); err == nil {
		t.Error("an unknown kind of job was done")
	}
}

func TestNamesOfFilesLoseTheirFoldersAndControlCharacters(t *testing.T) {
	for in, want := range map[string]string{
		"a.jpg": "a.jpg", "dir/a.jpg": "a.jpg", `C:\photos\a.jpg`: "a.jpg", "../../etc/passwd": "passwd", "": "photo", "/": "photo",
		"a\x00b\n.jpg": "ab.jpg", strings.Repeat("x", 500): strings.Repeat("x", 200) + "…",
	} {
		if got := fileName(in); got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
	}
}
