package salon

import (
	"bytes"
	"image"
	"reflect"
	"strings"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/store"
	"thatch/timeline"
	"thatch/timeline/outside"
)

func toHeap(t testing.TB, s *Salon, name string, b []byte) Heaped {
	t.Helper()
	h, err := s.AddToHeap(ctx, name, bytes.NewReader(b), "")
	if err != nil {
		t.Fatalf("into the heap with %s: %v", name, err)
	}
	return h
}

// groupsOf are the names of the files of every group, and of the others under "".
func groupsOf(l HeapLook) map[string]string {
	out := map[string]string{}
	add := func(name string, items []HeapItem) {
		for _, h := range items {
			out[name] = strings.TrimSpace(out[name] + " " + h.File)
		}
	}
	for _, g := range l.Groups {
		add(g.Dog.Name, g.Items)
	}
	add("", l.Others)
	return out
}

func whyOf(l HeapLook, file string) []string {
	out := []string{}
	for _, h := range l.Others {
		if h.File == file {
			for _, w := range h.Why {
				out = append(out, w.Key)
			}
		}
	}
	return out
}

func TestPhotosInTheHeapFindTheirDogByItsMarkerAndByNothingElse(t *testing.T) {
	outside.Alone(t)
	s, _ := opened(t)
	bracken, teasel := newDog(t, s, "Bracken", day("2026-06-01")), newDog(t, s, "Teasel", day("2026-06-01"))
	left := newDog(t, s, "Burdock", day("2026-06-01"))
	stranger := stranger(t)
	hers := sheetOf(t, bracken.ID)
	for i, c := range []struct {
		file   string
		local  string
		things []image.Image
	}{
		{"b1", "2026-06-09 10:00", []image.Image{hers}},
		{"b2", "2026-06-09 10:01", []image.Image{hers, stranger}}, // a poster in the salon hides nothing
		{"t1", "2026-06-09 12:00", []image.Image{sheetOf(t, teasel.ID)}},
		{"none", "2026-06-09 10:02", nil},
		{"between", "2026-06-09 12:10", nil},
		{"foreign", "2026-06-09 14:00", []image.Image{stranger}},
		{"several", "2026-06-09 14:01", []image.Image{hers, sheetOf(t, teasel.ID)}},
		{"salon", "2026-06-09 14:02", []image.Image{sheetOf(t, "")}},
		{"left", "2026-06-09 14:03", []image.Image{sheetOf(t, left.ID)}},
		{"elsewhere", "2026-06-09 14:04", []image.Image{sheetOf(t, "zz2k9m4qx0abcdef")}},
		{"undated", "", nil},
	} {
		toHeap(t, s, c.file, room(t, uint64(i), c.local, c.things...))
	}
	add(t, s, teasel.ID, "x.jpg", snap(t, 5, "2026-06-09 12:20"))
	before := must(s.Heap(ctx))
	if before.N != 11 || before.Unlooked != 11 || len(before.Groups) != 0 || !reflect.DeepEqual(whyOf(before, "b1"), []string{"heap.why.unlooked"}) {
		t.Errorf("before anybody looked: %d photos, %d to look at, groups %v", before.N, before.Unlooked, groupsOf(before))
	}
	work(t, s)
	ok(s.TrashDog(ctx, left.ID))

	l := must(s.Heap(ctx))
	want := map[string]string{"Bracken": "b1 b2", "Teasel": "t1", "": "undated none between foreign several salon left elsewhere"}
	if got := groupsOf(l); !reflect.DeepEqual(got, want) || l.Unlooked != 0 {
		t.Errorf("groups %v, want %v", got, want)
	}
	for file, want := range map[string][]string{
		"none": {"heap.why.none"}, "foreign": {"heap.why.foreign"}, "several": {"heap.why.several"}, "salon": {"heap.why.salon"},
		"left": {"heap.why.unknown"}, "elsewhere": {"heap.why.unknown"}, "undated": {"heap.why.none"},
	} {
		if got := whyOf(l, file); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %v, want %v", file, got, want)
		}
	}
	// The time is a hint and no more: the photo stays with those that nobody knows.
	near := map[string]string{}
	for _, h := range l.Others {
		if h.Near != nil {
			near[h.File] = h.Near.Name
		}
	}
	if want := map[string]string{"none": "Bracken", "between": "Teasel"}; !reflect.DeepEqual(near, want) {
		t.Errorf("hints %v, want %v", near, want)
	}
}

func TestTwoDogsAroundTheSameTimeAreNoHint(t *testing.T) {
	s, _ := opened(t)
	a, b := newDog(t, s, "Bracken", day("2026-06-01")), newDog(t, s, "Teasel", day("2026-06-01"))
	add(t, s, a.ID, "a.jpg", snap(t, 1, "2026-06-09 10:00"))
	add(t, s, b.ID, "b.jpg", snap(t, 2, "2026-06-09 10:20"))
	for name, local := range map[string]string{"both": "2026-06-09 10:10", "one": "2026-06-09 10:30"} {
		toHeap(t, s, name, snap(t, uint64(len(name)+3), local))
	}
	for _, h := range must(s.Heap(ctx)).Others {
		if (h.Near != nil) != (h.File == "one") || h.Near != nil && h.Near.ID != b.ID {
			t.Errorf("%s: %+v", h.File, h.Near)
		}
	}
}

func TestAFiledPhotoIsLikeAnyOther(t *testing.T) {
	outside.Alone(t)
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-09")))
	var ids []timeline.ID
	for i, local := range []string{"2026-06-09 10:00", "2026-06-09 12:00", "2026-06-08 09:00", ""} {
		ids = append(ids, toHeap(t, s, "x.jpg", room(t, uint64(i), local, sheetOf(t, d.ID))).Photo.ID)
	}
	work(t, s)
	filed := must(s.FileHeap(ctx, d.ID, ids))
	for i, want := range []struct {
		session timeline.ID
		phase   timeline.Phase
		source  timeline.Source
	}{{v.ID, timeline.PhaseStart, timeline.SourceExif}, {v.ID, timeline.PhaseEnd, timeline.SourceExif}, {"", timeline.PhaseStart, timeline.SourceExif}, {"", timeline.PhaseStart, timeline.SourceNone}} {
		p := filed[i]
		if p.Dog != d.ID || p.Session != want.session || p.Phase != want.phase || p.Moment.Source != want.source || p.CoatState != timeline.CoatUnsaid {
			t.Errorf("photo %d: %+v, want %+v", i, p, want)
		}
	}
	if n := must(s.HeapSize(ctx)); n != 0 {
		t.Errorf("%d still wait", n)
	}
	if done := work(t, s); done[store.KindMarker] != 0 {
		t.Errorf("looked at again: %v", done)
	}
	p := must(s.Photo(ctx, filed[0].ID))
	if look := lookAt(t, s, p.SHA256); !p.Ready || look.Seen == nil {
		t.Errorf("ready %v, marker %+v", p.Ready, look)
	}
	line := must(s.MarkerLine(ctx, p, must(s.st.Original(ctx, p.SHA256))))
	if line.Says.Key != "photo.marker.scale" || len(line.Notes) != 0 || line.Says.Args["scale"] != 0.33 {
		t.Errorf("the photo says %+v", line)
	}
}

func TestWhatIsSaidOfTheHeapHoldsUntilItIsFiled(t *testing.T) {
	s, _ := opened(t)
	bracken, teasel := newDog(t, s, "Bracken", day("2026-05-01")), newDog(t, s, "Teasel", day("2026-05-01"))
	marked := toHeap(t, s, "marked", room(t, 1, "2026-06-09 10:00", sheetOf(t, bracken.ID))).Photo.ID
	plain := toHeap(t, s, "plain", snap(t, 2, "2026-06-09 16:00")).Photo.ID
	work(t, s)
	// A person's word goes before the marker: somebody left the wrong one on the table.
	ok(s.SayHeapDog(ctx, []timeline.ID{marked, plain}, teasel.ID))
	if got := groupsOf(must(s.Heap(ctx))); !reflect.DeepEqual(got, map[string]string{"Teasel": "marked plain"}) {
		t.Errorf("said: %v", got)
	}
	ok(s.SayHeapDog(ctx, []timeline.ID{marked, plain}, ""))
	if got := groupsOf(must(s.Heap(ctx))); !reflect.DeepEqual(got, map[string]string{"Bracken": "marked", "": "plain"}) {
		t.Errorf("taken back: %v", got)
	}
	filed := must(s.FileHeap(ctx, teasel.ID, []timeline.ID{marked}))
	line := must(s.MarkerLine(ctx, filed[0], must(s.st.Original(ctx, filed[0].SHA256))))
	if len(line.Notes) != 1 || line.Notes[0].Key != "photo.marker.other" || line.Notes[0].Args["name"] != "Bracken" {
		t.Errorf("the marker of another dog is not told: %+v", line)
	}

	_, err := s.FileHeap(ctx, teasel.ID, []timeline.ID{plain, marked})
	wantFault(t, err, timeline.Conflict, "fault.heap.gone", "photo")
	if n := must(s.HeapSize(ctx)); n != 1 || len(must(s.Photos(ctx, teasel.ID))) != 1 {
		t.Errorf("half was filed: %d wait", n)
	}
	ok(s.TrashHeap(ctx, []timeline.ID{plain}))
	_, err = s.FileHeap(ctx, teasel.ID, []timeline.ID{plain})
	wantFault(t, err, timeline.Conflict, "fault.heap.gone", "photo")
	wantFault(t, s.SayHeapDog(ctx, []timeline.ID{plain}, teasel.ID), timeline.Conflict, "fault.heap.gone", "photo")
	_, err = s.HeapPicture(ctx, plain, PictureThumb)
	wantFault(t, err, timeline.NotFound, "fault.not_found", "")
	if l := must(s.Heap(ctx)); l.N != 0 || len(l.Aside) != 1 {
		t.Errorf("put aside: %+v", l)
	}
	ok(s.Restore(ctx, "heap", plain))
	if l := must(s.Heap(ctx)); l.N != 1 || len(l.Aside) != 0 {
		t.Errorf("brought back: %+v", l)
	}
	for name, err := range map[string]error{"file": func() error { _, err := s.FileHeap(ctx, teasel.ID, nil); return err }(), "say": s.SayHeapDog(ctx, nil, teasel.ID), "trash": s.TrashHeap(ctx, nil)} {
		if f := faultOf(err); f == nil || f.Say.Key != "fault.heap.none" {
			t.Errorf("%s of nothing: %v", name, err)
		}
	}
	wantFault(t, s.SayHeapDog(ctx, []timeline.ID{plain}, "nobody"), timeline.NotFound, "fault.store.not_found.dog", "")
}

func TestTheHeapRefusesWhatAnUploadRefusesAndKeepsNothingTwice(t *testing.T) {
	s, c := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	whole := snap(t, 1, "2026-06-09 10:00")
	for name, b := range map[string][]byte{"fault.photo.not_a_photo": []byte("Dear groomer, no photo."), "fault.photo.truncated": whole[:bytes.LastIndex(whole, []byte{0xff, 0xda})+200], "fault.photo.empty": nil} {
		_, err := s.AddToHeap(ctx, "x.jpg", bytes.NewReader(b), "")
		wantFault(t, err, timeline.Invalid, name, "file")
	}
	if n := must(s.HeapSize(ctx)) + must(s.st.PendingJobs(ctx)); n != 0 {
		t.Fatalf("%d things stayed of what was refused", n)
	}
	first := toHeap(t, s, "a.jpg", whole)
	if again := toHeap(t, s, "b.jpg", whole); first.Already || !again.Already || again.Photo.ID != first.Photo.ID || must(s.HeapSize(ctx)) != 1 {
		t.Errorf("first %+v, again %+v", first, again)
	}
	other := snap(t, 2, "2026-06-09 11:00")
	add(t, s, d.ID, "c.jpg", other)
	if h := toHeap(t, s, "c.jpg", other); !h.Already || len(h.On) != 1 || h.On[0].ID != d.ID || must(s.HeapSize(ctx)) != 1 {
		t.Errorf("a photo that has its dog: %+v", h)
	}
	add(t, s, d.ID, "a.jpg", whole)
	if n := must(s.HeapSize(ctx)); n != 0 {
		t.Errorf("%d wait that have their dog", n)
	}
	// A clock that was never set is no hint.
	c.at.Add(int64(time.Hour / time.Second))
	old := snapOf(t, 9, imaging.EXIFFields{TakenLocal: wall("1990-01-01 00:00")})
	toHeap(t, s, "old.jpg", old)
	add(t, s, d.ID, "old2.jpg", snapOf(t, 10, imaging.EXIFFields{TakenLocal: wall("1990-01-01 00:01")}))
	if h := must(s.Heap(ctx)).Others[0]; h.Near != nil {
		t.Errorf("a hint by a clock that was not set: %+v", h.Near)
	}
}
