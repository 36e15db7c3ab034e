package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/iotest"
	"time"

	tl "thatch/timeline"
)

func sha(b []byte) string {
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:])
}

func original() tl.Original {
	return tl.Original{Format: "jpeg", WidthPX: 4000, HeightPX: 3000, Orientation: 6, Camera: "Phone 1", HasGPS: true, ICC: "Display P3",
		ExifMoment:    tl.Moment{Instant: noon, Local: "2026-05-04T14:00:00", OffsetMinutes: 120, OffsetKnown: true, Source: tl.SourceExifOffset, Flags: []string{}},
		SuggestMoment: tl.Moment{Local: "2026-05-05T14:00:00", Source: tl.SourceNone, Flags: []string{}}}
}

func photoOf(dog tl.ID, local string) tl.Photo {
	return tl.Photo{Dog: dog, File: "IMG 1.jpg", WidthPX: 4000, HeightPX: 3000, Side: tl.SideLeft, Facing: tl.SideLeft, Phase: tl.PhaseStart, CoatState: tl.CoatBrushedDown,
		Moment: tl.Moment{Instant: noon, Local: local, OffsetMinutes: 120, OffsetKnown: true, Source: tl.SourceExifOffset, Flags: []string{"low_confidence"}}}
}

func keep(t testing.TB, s *Store, dog tl.ID, content, local string) (tl.Photo, bool) {
	t.Helper()
	ctx := context.Background()
	in := must(s.ReceiveFile(ctx, strings.NewReader(content), 1<<20))(t)
	p, already, err := s.KeepPhoto(ctx, in, original(), photoOf(dog, local), []Job{{Kind: KindDerive, Key: in.SHA256}})
	if err != nil {
		t.Fatal(err)
	}
	return p, already
}

func filesIn(t testing.TB, dir string) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			out = append(out, path)
		}
		return err
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
	return out
}

func TestAPhotoComesBackWithItsFile(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	const content = "the bytes of a photo"
	in := must(s.ReceiveFile(ctx, strings.NewReader(content), 1<<20))(t)
	if in.SHA256 != sha([]byte(content)) || in.Bytes != int64(len(content)) {
		t.Fatalf("received %+v", in)
	}
	if got := must(io.ReadAll(io.NewSectionReader(in, 0, in.Bytes)))(t); string(got) != content {
		t.Errorf("before it is kept it reads %q", got)
	}
	want := photoOf(d.ID, "2026-05-04T14:00:00")
	want.Landmarks = tl.Landmarks{tl.WithersPt: {X: 10.25, Y: -1}, tl.Elbow: {X: 3, Y: 4}}
	p, already, err := s.KeepPhoto(ctx, in, original(), want, []Job{{Kind: KindDerive, Key: in.SHA256}})
	if err != nil || already {
		t.Fatal(already, err)
	}
	want.ID, want.Rev, want.SHA256, want.Added = p.ID, 1, in.SHA256, p.Added
	for how, got := range map[string]tl.Photo{"kept": p, "by ID": must(s.Photo(ctx, p.ID))(t), "by SHA": must(s.PhotoBySHA(ctx, d.ID, in.SHA256))(t), "listed": must(s.Photos(ctx, d.ID))(t)[0]} {
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v, want %+v", how, got, want)
		}
	}
	o := must(s.Original(ctx, in.SHA256))(t)
	wantO := original()
	wantO.SHA256, wantO.Bytes, wantO.Added = in.SHA256, in.Bytes, o.Added
	if !reflect.DeepEqual(o, wantO) {
		t.Errorf("original %+v, want %+v", o, wantO)
	}
	f := must(s.OpenOriginal(ctx, in.SHA256))(t)
	defer f.Close()
	if got := must(io.ReadAll(f))(t); string(got) != content || f.Size() != int64(len(content)) {
		t.Errorf("the original reads %q", got)
	}
	if left := filesIn(t, filepath.Join(s.Dir(), incomingDir)); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if n := must(s.PendingJobs(ctx))(t); n != 1 {
		t.Errorf("%d jobs wait", n)
	}
	if err := in.Discard(); err != nil {
		t.Errorf("discarding what was kept: %v", err)
	}
	if _, _, err := s.KeepPhoto(ctx, in, original(), want, nil); err == nil {
		t.Error("the same Incoming was kept twice")
	}
}

func TestTheSamePhotoIsKeptOnce(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	e := must(s.CreateDog(ctx, tl.Dog{Name: "Fern"}))(t)
	first, _ := keep(t, s, d.ID, "same", "2026-05-04T14:00:00")
	again, already := keep(t, s, d.ID, "same", "2026-05-04T14:00:00")
	if !already || again.ID != first.ID {
		t.Errorf("again: %v, %v", already, again.ID)
	}
	hers, already := keep(t, s, e.ID, "same", "2026-05-04T14:00:00")
	if already || hers.ID == first.ID {
		t.Error("another dog could not have the photo too")
	}
	if files := filesIn(t, filepath.Join(s.Dir(), photosDir)); len(files) != 1 {
		t.Errorf("%d files, want one original a salon", len(files))
	}
	if left := filesIn(t, filepath.Join(s.Dir(), incomingDir)); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if err := s.TrashPhoto(ctx, first.ID); err != nil {
		t.Fatal(err)
	}
	_, err := s.PhotoBySHA(ctx, d.ID, first.SHA256)
	wantKind(t, err, tl.NotFound, "fault.store.not_found.photo")
	back, already := keep(t, s, d.ID, "same", "2026-05-04T14:00:00")
	if !already || back.ID != first.ID || !back.Trashed.IsZero() {
		t.Errorf("from the trash: %v, %+v", already, back)
	}
}

func TestALostFileIsHealedWhenThePhotoComesAgain(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	for name, harm := range map[string]func(string) error{
		"removed": os.Remove,
		"cut":     func(p string) error { return os.Truncate(p, 1) },
	} {
		p, _ := keep(t, s, d.ID, name, "2026-05-04T14:00:00")
		if err := harm(s.originalPath(p.SHA256)); err != nil {
			t.Fatal(err)
		}
		if _, already := keep(t, s, d.ID, name, "2026-05-04T14:00:00"); !already {
			t.Errorf("%s: kept twice", name)
		}
		f, err := s.OpenOriginal(ctx, p.SHA256)
		if err != nil {
			t.Fatal(err)
		}
		if got := must(io.ReadAll(f))(t); string(got) != name {
			t.Errorf("%s: reads %q", name, got)
		}
		f.Close()
	}
}

func TestPhotosAreInOrderOfTheWallClock(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	var want []tl.ID
	none, _ := keep(t, s, d.ID, "undated", "")
	late, _ := keep(t, s, d.ID, "late", "2026-05-04T14:00:00")
	early, _ := keep(t, s, d.ID, "early", "2026-05-04T09:00:00")
	twin, _ := keep(t, s, d.ID, "twin of early, added later", "2026-05-04T09:00:00")
	want = append(want, early.ID, twin.ID, late.ID, none.ID)
	var got []tl.ID
	for _, p := range must(s.Photos(ctx, d.ID))(t) {
		got = append(got, p.ID)
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

func TestCamerasAreThoseOfADogsPhotosThatAreNotThrownAway(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	e := must(s.CreateDog(ctx, tl.Dog{Name: "Fern"}))(t)
	a, _ := keep(t, s, d.ID, "a", "2026-05-04T14:00:00")
	b, _ := keep(t, s, d.ID, "b", "2026-05-04T15:00:00")
	keep(t, s, e.ID, "another dog's", "2026-05-04T15:00:00")
	in := must(s.ReceiveFile(ctx, strings.NewReader("of no camera"), 1<<20))(t)
	none := original()
	none.Camera = ""
	if _, _, err := s.KeepPhoto(ctx, in, none, photoOf(d.ID, "2026-05-04T16:00:00"), nil); err != nil {
		t.Fatal(err)
	}
	if got, want := must(s.CamerasOf(ctx, d.ID))(t), (map[string]string{a.SHA256: "Phone 1", b.SHA256: "Phone 1"}); !reflect.DeepEqual(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if err := s.TrashPhoto(ctx, b.ID); err != nil {
		t.Fatal(err)
	}
	if got, want := must(s.CamerasOf(ctx, d.ID))(t), (map[string]string{a.SHA256: "Phone 1"}); !reflect.DeepEqual(got, want) {
		t.Errorf("after one was thrown away: %v, want %v", got, want)
	}
}

func TestAPhotoIsEdited(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	e := must(s.CreateDog(ctx, tl.Dog{Name: "Fern"}))(t)
	v := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 4)}))(t)
	a, _ := keep(t, s, d.ID, "a", "2026-05-04T14:00:00")
	b, _ := keep(t, s, d.ID, "b", "2026-05-04T15:00:00")

	a.Session, a.Phase, a.PhaseSaid, a.Side, a.CoatState, a.Facing = v.ID, tl.PhaseEnd, true, tl.SideRight, tl.CoatDamp, tl.SideRight
	a.Moment = tl.Moment{Local: "2026-05-04T14:30:00", Source: tl.SourceUser, Flags: []string{}}
	got := must(s.UpdatePhoto(ctx, a))(t)
	a.Rev = 2
	if !reflect.DeepEqual(got, a) {
		t.Errorf("%+v, want %+v", got, a)
	}

	stale := b
	stale.Rev = 7
	a.Phase = tl.PhaseDuring
	_, err := s.UpdatePhotos(ctx, []tl.Photo{a, stale})
	wantKind(t, err, tl.Conflict, "fault.store.changed")
	if p := must(s.Photo(ctx, a.ID))(t); p.Phase != tl.PhaseEnd || p.Rev != 2 {
		t.Error("one of the two was changed all the same")
	}

	p := must(s.SaveLandmarks(ctx, a.ID, 2, tl.Landmarks{tl.Elbow: {X: 1, Y: 2}}))(t)
	if p.Rev != 3 || p.Landmarks[tl.Elbow] != (tl.XY{X: 1, Y: 2}) {
		t.Errorf("%+v", p)
	}
	_, err = s.SaveLandmarks(ctx, a.ID, 2, tl.Landmarks{})
	wantKind(t, err, tl.Conflict, "fault.store.changed")
	_, err = s.SaveLandmarks(ctx, a.ID, 3, tl.Landmarks{"wing": {}})
	wantKind(t, err, tl.Invalid, "fault.store.point_unknown")
	_, err = s.SaveLandmarks(ctx, a.ID, 3, tl.Landmarks{tl.Elbow: {X: math.NaN()}})
	wantKind(t, err, tl.Invalid, "fault.store.point_place")

	if err := s.SetPhotoReady(ctx, a.SHA256, ""); err != nil {
		t.Fatal(err)
	}
	if p := must(s.Photo(ctx, a.ID))(t); !p.Ready || p.Rev != 3 {
		t.Errorf("ready %v, rev %d", p.Ready, p.Rev)
	}
	if err := s.SetPhotoReady(ctx, a.SHA256, "imaging.damaged"); err != nil {
		t.Fatal(err)
	}
	if p := must(s.Photo(ctx, a.ID))(t); p.Ready || p.Trouble == "" {
		t.Errorf("trouble: %+v", p)
	}

	foreign := must(s.CreateSession(ctx, tl.Session{Dog: e.ID, On: tl.Date(2026, 5, 4)}))(t)
	b.Session = foreign.ID
	_, err = s.UpdatePhoto(ctx, b)
	wantKind(t, err, tl.Invalid, "fault.store.reference")
}

func TestASessionInTheTrashLetsGoOfItsPhotosUntilItIsBack(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	v := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 4)}))(t)
	p, _ := keep(t, s, d.ID, "a", "2026-05-04T14:00:00")
	p.Session = v.ID
	_ = must(s.UpdatePhoto(ctx, p))(t)
	if err := s.TrashSession(ctx, v.ID); err != nil {
		t.Fatal(err)
	}
	if got := must(s.Photo(ctx, p.ID))(t); got.Session != "" {
		t.Error("paired with a session in the trash")
	}
	if err := s.RestoreSession(ctx, v.ID); err != nil {
		t.Fatal(err)
	}
	if got := must(s.Photo(ctx, p.ID))(t); got.Session != v.ID {
		t.Error("not paired again")
	}
	if err := s.TrashSession(ctx, v.ID); err != nil {
		t.Fatal(err)
	}
	_ = must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.Date(2026, 5, 4)}))(t)
	wantKind(t, s.RestoreSession(ctx, v.ID), tl.Conflict, "fault.store.restore_day_taken")
}

func TestWhatDoesNotArriveWholeIsNotReceived(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	_, err := s.ReceiveFile(ctx, strings.NewReader("eleven char"), 10)
	wantKind(t, err, tl.TooLarge, "fault.store.too_large")
	in := must(s.ReceiveFile(ctx, strings.NewReader("ten chars!"), 10))(t)
	if err := errors.Join(in.Discard(), in.Discard()); err != nil {
		t.Error(err)
	}
	_, err = s.ReceiveFile(ctx, io.MultiReader(strings.NewReader("abc"), iotest.ErrReader(io.ErrUnexpectedEOF)), 10)
	wantKind(t, err, tl.Invalid, "fault.store.receive")
	stopped, stop := context.WithCancel(ctx)
	stop()
	_, err = s.ReceiveFile(stopped, strings.NewReader("abc"), 10)
	wantKind(t, err, tl.Busy, "fault.store.stopped")
	if left := filesIn(t, filepath.Join(s.Dir(), incomingDir)); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestDerivativesAreKeptBesideAndCannotNameOtherFiles(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	name := sha([]byte("x"))
	_, err := s.OpenDerived(ctx, name, "thumb", 1)
	wantKind(t, err, tl.NotFound, "fault.store.not_found.photo")
	for _, content := range []string{"first", "second"} {
		if err := s.PutDerived(ctx, name, "thumb", 1, []byte(content)); err != nil {
			t.Fatal(err)
		}
		f := must(s.OpenDerived(ctx, name, "thumb", 1))(t)
		if got := must(io.ReadAll(f))(t); string(got) != content {
			t.Errorf("reads %q", got)
		}
		f.Close()
	}
	_, err = s.OpenDerived(ctx, name, "thumb", 2)
	wantKind(t, err, tl.NotFound, "fault.store.not_found.photo")
	for _, bad := range []struct{ sha, kind string }{{name, "../x"}, {name, ""}, {name, "A"}, {"../" + name, "thumb"}, {strings.ToUpper(name), "thumb"}, {"", "thumb"}} {
		if err := s.PutDerived(ctx, bad.sha, bad.kind, 1, nil); err == nil {
			t.Errorf("%+v was kept", bad)
		}
		if _, err := s.OpenDerived(ctx, bad.sha, bad.kind, 1); tl.KindOf(err) != tl.NotFound {
			t.Errorf("%+v: %v", bad, err)
		}
	}
	for _, bad := range []string{"", "..", "../../etc/passwd", strings.Repeat("g", 64)} {
		if _, err := s.OpenOriginal(ctx, bad); tl.KindOf(err) != tl.NotFound {
			t.Errorf("original %q: %v", bad, err)
		}
	}
}

func TestManyUploadsOfTheSameAndOfOtherPhotosAtOnce(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	other, err := Open(ctx, s.Dir(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	var wg sync.WaitGroup
	var mu sync.Mutex
	fresh := 0
	for i := range 24 {
		wg.Go(func() {
			st := s
			if i%2 == 1 {
				st = other
			}
			_, already := keep(t, st, d.ID, fmt.Sprintf("photo %d", i%6), "2026-05-04T14:00:00")
			mu.Lock()
			defer mu.Unlock()
			if !already {
				fresh++
			}
		})
	}
	wg.Wait()
	if fresh != 6 || len(must(s.Photos(ctx, d.ID))(t)) != 6 || len(filesIn(t, filepath.Join(s.Dir(), photosDir))) != 6 {
		t.Errorf("%d fresh, %d rows, want 6", fresh, len(must(s.Photos(ctx, d.ID))(t)))
	}
	checkWhole(t, s)
}

// checkWhole is the promise of the store: every row has its file with the bytes its name says, every photo its original.
func checkWhole(t testing.TB, s *Store) (originals, photos int) {
	t.Helper()
	rows, err := s.readers.Query("SELECT sha256 FROM original")
	if err != nil {
		t.Fatal(err)
	}
	var shas []string
	for rows.Next() {
		var v string
		if err := rows.Scan(&v); err != nil {
			t.Fatal(err)
		}
		shas = append(shas, v)
	}
	for _, v := range shas {
		b, err := os.ReadFile(s.originalPath(v))
		if err != nil || sha(b) != v {
			t.Errorf("row without its file: %v", err)
		}
	}
	var broken int
	if err := s.readers.QueryRow("SELECT count(*) FROM pragma_foreign_key_check").Scan(&broken); err != nil || broken > 0 {
		t.Errorf("%d broken references, %v", broken, err)
	}
	if err := s.readers.QueryRow("SELECT count(*) FROM photo").Scan(&photos); err != nil {
		t.Fatal(err)
	}
	return len(shas), photos
}

// faultyFS fails its n-th operation with err, before the operation takes effect or after.
type faultyFS struct {
	FS
	n     int
	after bool
	err   error
	count int
	log   []string
}

func (f *faultyFS) do(what string, op func() error) error {
	f.count++
	f.log = append(f.log, what)
	if f.count == f.n && !f.after {
		return &fs.PathError{Op: what, Err: f.err}
	}
	err := op()
	if f.count == f.n && f.after && err == nil {
		return &fs.PathError{Op: what, Err: f.err}
	}
	return err
}

func (f *faultyFS) MkdirAll(d string) error {
	return f.do("mkdir", func() error { return f.FS.MkdirAll(d) })
}
func (f *faultyFS) Rename(a, b string) error {
	return f.do("rename", func() error { return f.FS.Rename(a, b) })
}
func (f *faultyFS) Remove(name string) error {
	return f.do("remove", func() error { return f.FS.Remove(name) })
}
func (f *faultyFS) SyncDir(d string) error {
	return f.do("sync folder", func() error { return f.FS.SyncDir(d) })
}
func (f *faultyFS) CreateTemp(d string) (v File, err error) {
	err = f.do("create", func() error { v, err = f.FS.CreateTemp(d); return err })
	if err != nil {
		if v != nil {
			v.Close()
		}
		return nil, err
	}
	return &faultyFile{v, f}, nil
}
func (f *faultyFS) Stat(name string) (v fs.FileInfo, err error) {
	err = f.do("stat", func() error { v, err = f.FS.Stat(name); return err })
	return
}

type faultyFile struct {
	File
	fs *faultyFS
}

func (f *faultyFile) Write(p []byte) (n int, err error) {
	err = f.fs.do("write", func() error { n, err = f.File.Write(p); return err })
	return
}
func (f *faultyFile) Sync() error  { return f.fs.do("sync", f.File.Sync) }
func (f *faultyFile) Close() error { return f.fs.do("close", f.File.Close) }

func TestAFaultAtAnyFileOperationLeavesNothingHalfDone(t *testing.T) {
	ctx := context.Background()
	const content = "the bytes of a photo"
	upload := func(s *Store, dog tl.ID) error {
		in, err := s.ReceiveFile(ctx, strings.NewReader(content), 1<<20)
		if err != nil {
			return err
		}
		_, _, err = s.KeepPhoto(ctx, in, original(), photoOf(dog, "2026-05-04T14:00:00"), []Job{{Kind: KindDerive, Key: in.SHA256}})
		if err != nil {
			_ = in.Discard()
		}
		return err
	}
	faults := 0
	for _, after := range []bool{false, true} {
		for _, cause := range []error{syscall.ENOSPC, syscall.EIO} {
			for n := 1; ; n++ {
				ffs := &faultyFS{FS: osFS{}, after: after, err: cause}
				s := newStore(t, Options{FS: ffs})
				d := must(s.CreateDog(ctx, fullDog()))(t)
				ffs.count, ffs.log, ffs.n = 0, nil, n
				err := upload(s, d.ID)
				reached := ffs.count >= n
				name := fmt.Sprintf("%v at operation %d (%v), after %v", cause, n, ffs.log[len(ffs.log)-1], after)
				ffs.n = 0
				originals, photos := checkWhole(t, s)
				jobs := must(s.PendingJobs(ctx))(t)
				if err != nil {
					faults++
					if originals+photos+jobs != 0 {
						t.Errorf("%s: refused, and yet %d originals, %d photos, %d jobs are seen", name, originals, photos, jobs)
					}
					if errors.Is(cause, syscall.ENOSPC) {
						wantKind(t, err, tl.NoSpace, "fault.store.no_space")
					}
				} else if originals != 1 || photos != 1 || jobs != 1 {
					t.Errorf("%s: acknowledged, and %d originals, %d photos, %d jobs are there", name, originals, photos, jobs)
				}
				if err := upload(s, d.ID); err != nil {
					t.Errorf("%s: the second try: %v", name, err)
				}
				if o, p := checkWhole(t, s); o != 1 || p != 1 {
					t.Errorf("%s: after the second try %d originals, %d photos", name, o, p)
				}
				if !reached {
					break
				}
			}
		}
	}
	if faults < 20 {
		t.Errorf("only %d faults were felt: is the seam in use?", faults)
	}
}

func TestTheOrderIsTempSyncRenameSyncFolder(t *testing.T) {
	ctx := context.Background()
	ffs := &faultyFS{FS: osFS{}}
	s := newStore(t, Options{FS: ffs})
	d := must(s.CreateDog(ctx, fullDog()))(t)
	ffs.log = nil
	keep(t, s, d.ID, "x", "")
	if got, want := strings.Join(ffs.log, ", "), "create, write, sync, mkdir, sync folder, close, rename, sync folder"; got != want {
		t.Errorf("%s; want %s", got, want)
	}
}

func TestAFullDatabaseIsToldAsAFullDiskAndNothingIsHalfKept(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	var pages int
	if err := s.writer.QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}
	if _, err := s.writer.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages)); err != nil {
		t.Fatal(err)
	}
	kept := 0
	var err error
	for i := range 500 {
		in := must(s.ReceiveFile(ctx, bytes.NewReader(fmt.Appendf(nil, "photo %d", i)), 100))(t)
		if _, _, err = s.KeepPhoto(ctx, in, original(), photoOf(d.ID, "2026-05-04T14:00:00"), nil); err != nil {
			if err := in.Discard(); err != nil {
				t.Error(err)
			}
			break
		}
		kept++
	}
	wantKind(t, err, tl.NoSpace, "fault.store.no_space")
	if o, p := checkWhole(t, s); o != kept || p != kept {
		t.Errorf("%d kept, %d originals, %d photos", kept, o, p)
	}
	if n := len(filesIn(t, filepath.Join(s.Dir(), photosDir))); n != kept {
		t.Errorf("%d files for %d photos", n, kept)
	}
	if n := len(filesIn(t, filepath.Join(s.Dir(), incomingDir))); n != 0 {
		t.Errorf("%d files left behind", n)
	}
	if _, err := s.writer.Exec("PRAGMA max_page_count = 1000000"); err != nil {
		t.Fatal(err)
	}
	keep(t, s, d.ID, "room again", "2026-05-04T14:00:00")
}

func TestAnUploadThatIsStoppedInTheMiddleIsNotKept(t *testing.T) {
	s := newStore(t, Options{})
	d := must(s.CreateDog(context.Background(), fullDog()))(t)
	in := must(s.ReceiveFile(context.Background(), strings.NewReader("x"), 10))(t)
	ctx, stop := context.WithCancel(context.Background())
	stop()
	_, _, err := s.KeepPhoto(ctx, in, original(), photoOf(d.ID, ""), nil)
	wantKind(t, err, tl.Busy, "fault.store.stopped")
	if o, p := checkWhole(t, s); o+p != 0 {
		t.Error("it was kept all the same")
	}
	if err := in.Discard(); err != nil {
		t.Error(err)
	}
}

func TestASecondWriterWaitsAndThenSaysBusy(t *testing.T) {
	s := newStore(t, Options{})
	other, err := Open(context.Background(), s.Dir(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	if _, err := other.writer.Exec("PRAGMA busy_timeout = 1"); err != nil {
		t.Fatal(err)
	}
	held := make(chan struct{})
	release := make(chan struct{})
	done := make(chan error)
	go func() {
		done <- s.write(context.Background(), "hold", func(tx) error { close(held); <-release; return nil })
	}()
	<-held
	ctx, stop := context.WithTimeout(context.Background(), 30*time.Second)
	defer stop()
	_, err = other.CreateDog(ctx, fullDog())
	wantKind(t, err, tl.Busy, "fault.store.busy")
	if _, err := other.Dogs(ctx, true); err != nil {
		t.Errorf("reading waits for writing: %v", err)
	}
	close(release)
	if err := <-done; err != nil {
		t.Error(err)
	}
}

func TestTextsLaidInOnePieceAreTheSame(t *testing.T) {
	ps := []tl.Photo{
		{ID: "0123456789abcdef", SHA256: "aa", File: "ä.jpg", Moment: tl.Moment{Local: "2026-05-04T03:02:01"}},
		{},
		{ID: "fedcba9876543210", File: "b"},
		{SHA256: "bb", Moment: tl.Moment{Local: "x"}},
	}
	want := slices.Clone(ps)
	inOnePiece(ps)
	if !reflect.DeepEqual(ps, want) {
		t.Errorf("%v, want %v", ps, want)
	}
	inOnePiece(nil)
}
