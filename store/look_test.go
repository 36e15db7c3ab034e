package store

import (
	"context"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	tl "thatch/timeline"
)

func TestWhatALookForTheMarkerFoundIsKept(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	p := keptPhoto(t, s)
	if o := must(s.Original(ctx, p.SHA256))(t); o.Marker != nil || o.FocalPX != 0 {
		t.Errorf("before anybody looked: %+v, focal %g", o.Marker, o.FocalPX)
	}
	look := tl.MarkerLook{Maker: 3, Told: []string{"foreign"}, Seen: &tl.MarkerSeen{
		Dog: p.Dog, SizeMM: 80, CornersPX: [4]tl.XY{{X: 1, Y: 2}, {X: 3, Y: 2}, {X: 3.5, Y: 4}, {X: 1, Y: 4}}, MMPerPX: 0.31, SDMMPerPX: 0.001,
		UprightMMPerPX: 0.32, TiltDeg: 4, RollDeg: -1, WhiteRGB: &[3]float64{240, 230, 200},
	}}
	if err := s.SetMarkerLook(ctx, p.SHA256, look); err != nil {
		t.Fatal(err)
	}
	if err := s.SetFocal(ctx, p.SHA256, 3000.5); err != nil {
		t.Fatal(err)
	}
	o := must(s.Original(ctx, p.SHA256))(t)
	if !reflect.DeepEqual(o.Marker, &look) || o.FocalPX != 3000.5 {
		t.Errorf("got %+v, focal %g", o.Marker, o.FocalPX)
	}
	if got := must(s.Photo(ctx, p.ID))(t); got.Rev != p.Rev {
		t.Error("the machine's word has changed the photo's version")
	}
	for maker, want := range map[int]int{3: 0, 4: 1} {
		if shas := must(s.LookedAtBefore(ctx, maker))(t); len(shas) != want {
			t.Errorf("to be looked at by maker %d: %v", maker, shas)
		}
	}
	none := tl.MarkerLook{Maker: 4}
	if err := s.SetMarkerLook(ctx, p.SHA256, none); err != nil {
		t.Fatal(err)
	}
	if o = must(s.Original(ctx, p.SHA256))(t); o.Marker == nil || o.Marker.Seen != nil || o.Marker.Told == nil || o.Marker.Maker != 4 {
		t.Errorf("none seen: %+v", o.Marker)
	}
	wantKind(t, s.SetMarkerLook(ctx, strings.Repeat("0", 64), none), tl.NotFound, "fault.store.not_found.photo")
	if err := s.SetMarkerLook(ctx, p.SHA256, tl.MarkerLook{Seen: &tl.MarkerSeen{MMPerPX: math.NaN()}}); err == nil {
		t.Error("a scale that is no number was kept")
	}
}

func TestTheMarksOfTheTapeAreKeptAndCheckedForChanges(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	p := keptPhoto(t, s)
	tape := &tl.Tape{A: tl.XY{X: 10.5, Y: 900}, B: tl.XY{X: 1600, Y: 905}, MM: 500}
	got := must(s.SaveTape(ctx, p.ID, p.Rev, tape))(t)
	if !reflect.DeepEqual(got.Tape, tape) || got.Rev != p.Rev+1 || !reflect.DeepEqual(must(s.Photos(ctx, p.Dog))(t)[0].Tape, tape) {
		t.Errorf("saved %+v", got)
	}
	_, err := s.SaveTape(ctx, p.ID, p.Rev, nil)
	wantKind(t, err, tl.Conflict, "fault.store.changed")
	if edited := must(s.UpdatePhoto(ctx, got))(t); !reflect.DeepEqual(edited.Tape, tape) {
		t.Error("another edit has taken the tape away")
	} else if gone := must(s.SaveTape(ctx, p.ID, edited.Rev, nil))(t); gone.Tape != nil {
		t.Errorf("taken away: %+v", gone.Tape)
	}
	for name, bad := range map[string]tl.Tape{"no distance": {}, "endless": {MM: math.Inf(1)}, "nowhere": {MM: 500, A: tl.XY{X: math.NaN()}}} {
		if _, err := s.SaveTape(ctx, p.ID, 4, &bad); tl.KindOf(err) != tl.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestDepthsAreNeverTakenForLengths(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	made := must(s.AddReadings(ctx, []tl.Reading{
		{Dog: d.ID, Zone: tl.Back, On: tl.Date(2026, 5, 1), LengthMM: 31},
		{Dog: d.ID, Zone: tl.Back, On: tl.Date(2026, 5, 1), LengthMM: 14, Of: tl.OfDepth, Phase: tl.PhaseEnd},
	}))(t)
	if made[0].Of != tl.OfLength || made[1].Of != tl.OfDepth || made[1].Phase != tl.PhaseEnd {
		t.Errorf("made %+v", made)
	}
	for name, c := range map[string]struct{ got, want []tl.Reading }{
		"lengths": {must(s.Readings(ctx, d.ID))(t), made[:1]},
		"depths":  {must(s.Combs(ctx, d.ID))(t), made[1:]},
	} {
		if !reflect.DeepEqual(c.got, c.want) {
			t.Errorf("%s: %+v", name, c.got)
		}
	}
	if _, err := s.AddReadings(ctx, []tl.Reading{{Dog: d.ID, Zone: tl.Back, On: tl.Date(2026, 5, 1), Of: "colour"}}); tl.KindOf(err) != tl.Invalid {
		t.Errorf("of something else: %v", err)
	}
}

func TestASalonCheckIsKeptAndGoesThroughTheTrash(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	p := keptPhoto(t, s)
	in := tl.SalonCheck{Dog: p.Dog, On: tl.Date(2026, 5, 1), Photos: []tl.ID{p.ID}, Floor: tl.Floor{N: 5, ToplineMM: 0.8, DepthMM: map[tl.Zone]float64{tl.Back: 1.1}}}
	made := must(s.AddCheck(ctx, in))(t)
	in.ID, in.Added = made.ID, made.Added
	if !reflect.DeepEqual(made, in) || made.Added.IsZero() {
		t.Errorf("made %+v", made)
	}
	older := must(s.AddCheck(ctx, tl.SalonCheck{Dog: p.Dog, On: tl.Date(2026, 4, 1)}))(t)
	if got := must(s.Checks(ctx))(t); !reflect.DeepEqual(got, []tl.SalonCheck{made, older}) {
		t.Errorf("checks %+v", got)
	}
	if err := s.TrashCheck(ctx, made.ID); err != nil {
		t.Fatal(err)
	}
	if got := must(s.Checks(ctx))(t); len(got) != 1 || must(s.Trash(ctx))(t)[0].Kind != "check" || must(s.Check(ctx, made.ID))(t).Trashed.IsZero() {
		t.Errorf("beside the trash %+v", got)
	}
	if err := s.RestoreCheck(ctx, made.ID); err != nil || len(must(s.Checks(ctx))(t)) != 2 {
		t.Error(err)
	}
	for name, f := range map[string]tl.Floor{"no number": {ToplineMM: math.NaN()}, "below nothing": {DepthMM: map[tl.Zone]float64{tl.Back: -1}}, "a zone by hand": {DepthMM: map[tl.Zone]float64{tl.Ribs: 1}}} {
		if _, err := s.AddCheck(ctx, tl.SalonCheck{Dog: p.Dog, On: 1, Floor: f}); tl.KindOf(err) != tl.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	wantKind(t, s.TrashCheck(ctx, "nobody"), tl.NotFound, "fault.store.not_found.salon_check")
}

func heaped(t *testing.T, s *Store, content string) HeapPhoto {
	t.Helper()
	ctx := context.Background()
	in := must(s.ReceiveFile(ctx, strings.NewReader(content), 1<<20))(t)
	return must(s.KeepInHeap(ctx, in, original(), content+".jpg", []Job{{Kind: KindDerive, Key: in.SHA256}}))(t)
}

func TestAPhotoOfTheHeapIsSafeUntilItIsFiled(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	a, b := heaped(t, s, "one"), heaped(t, s, "two")
	if again := heaped(t, s, "one"); again.ID != a.ID {
		t.Error("the same photo is in the heap twice")
	}
	if got := must(s.Heap(ctx))(t); len(got) != 2 || !reflect.DeepEqual(got[0], a) || got[1].Original.WidthPX != 4000 || must(s.HeapSize(ctx))(t) != 2 {
		t.Errorf("heap %+v", got)
	}
	f := must(s.OpenOriginal(ctx, a.Original.SHA256))(t)
	f.Close()
	if n := must(s.PendingJobs(ctx))(t); n != 2 {
		t.Errorf("%d jobs wait", n)
	}

	if err := s.SayHeapDog(ctx, a.ID, d.ID); err != nil {
		t.Fatal(err)
	}
	if got := must(s.InHeap(ctx, a.ID))(t); got.SaidDog != d.ID {
		t.Errorf("said %q", got.SaidDog)
	}
	photo := photoOf(d.ID, "2026-05-04T14:00:00")
	photo.SHA256 = a.Original.SHA256
	none := func(string) []Job { return nil }
	filed := must(s.FileHeap(ctx, []tl.Photo{photo}, none))(t)
	if filed[0].ID == "" || filed[0].Dog != d.ID || len(must(s.Photos(ctx, d.ID))(t)) != 1 || must(s.HeapSize(ctx))(t) != 1 {
		t.Errorf("filed %+v", filed)
	}
	other := photo
	other.SHA256 = b.Original.SHA256
	_, err := s.FileHeap(ctx, []tl.Photo{other, photo}, none)
	wantKind(t, err, tl.Conflict, "fault.store.changed")
	if len(must(s.Photos(ctx, d.ID))(t)) != 1 || must(s.HeapSize(ctx))(t) != 1 {
		t.Error("half of a heap was filed")
	}

	if err := s.TrashHeap(ctx, b.ID); err != nil {
		t.Fatal(err)
	}
	if must(s.HeapSize(ctx))(t) != 0 || must(s.Trash(ctx))(t)[0].Kind != "heap" {
		t.Error("not in the trash")
	}
	wantKind(t, s.SayHeapDog(ctx, b.ID, d.ID), tl.Conflict, "fault.store.in_trash")
	if err := s.RestoreHeap(ctx, b.ID); err != nil || must(s.HeapSize(ctx))(t) != 1 {
		t.Error(err)
	}
	_, _ = keep(t, s, d.ID, "two", "2026-05-04T14:00:00")
	if must(s.HeapSize(ctx))(t) != 0 {
		t.Error("a photo that was added to its dog still waits in the heap")
	}
	if got := must(s.DogsOfOriginal(ctx, b.Original.SHA256))(t); !reflect.DeepEqual(got, []tl.ID{d.ID}) {
		t.Errorf("dogs of the file: %v", got)
	}
	seen := must(s.Sightings(ctx, noon.Add(-time.Minute), noon.Add(time.Minute)))(t)
	if len(seen) != 2 || seen[0].Dog != d.ID || !seen[0].At.Equal(noon) {
		t.Errorf("sightings %+v", seen)
	}
	if early := must(s.Sightings(ctx, noon.Add(-time.Hour), noon.Add(-time.Minute)))(t); len(early) != 0 {
		t.Errorf("sightings before: %+v", early)
	}
	if err := s.TrashDog(ctx, d.ID); err != nil {
		t.Fatal(err)
	}
	if seen := must(s.Sightings(ctx, noon, noon))(t); len(seen) != 0 {
		t.Error("a dog in the trash is sighted")
	}
}
