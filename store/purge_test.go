package store

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"syscall"
	"testing"
	"time"

	tl "thatch/timeline"
)

// later is a clock that the test sets.
type later struct{ now time.Time }

func (l *later) Now() time.Time { l.now = l.now.Add(time.Second); return l.now }
func (l *later) days(n int)     { l.now = l.now.Add(time.Duration(n) * 24 * time.Hour) }

// fullSalon is a dog with one of everything.
func fullSalon(t testing.TB, s *Store, name string) (tl.Dog, tl.Photo) {
	t.Helper()
	ctx := context.Background()
	d := must(s.CreateDog(ctx, tl.Dog{Name: name}))(t)
	v := must(s.CreateSession(ctx, tl.Session{Dog: d.ID, On: tl.DayOf(noon), Work: []tl.ZoneWork{{Zone: tl.Back, Do: tl.Take, Share: 0.5}}}))(t)
	p, _ := keep(t, s, d.ID, "a photo of "+name, "2026-05-04T14:00:00")
	p.Session = v.ID
	must(s.UpdatePhotos(ctx, []tl.Photo{p}))(t)
	if _, err := s.AddReadings(ctx, []tl.Reading{{Dog: d.ID, Session: v.ID, Zone: tl.Back, On: tl.DayOf(noon), LengthMM: 20, SDMM: 2}}); err != nil {
		t.Fatal(err)
	}
	show := must(s.CreateShow(ctx, tl.Show{Dog: d.ID, Name: "Spring show", On: tl.DayOf(noon) + 40, Priority: 1}))(t)
	for _, err := range []error{s.NoteCare(ctx, d.ID, "nails", tl.DayOf(noon)), s.SetCareEvery(ctx, d.ID, map[tl.Care]int{tl.CareEars: 7}), s.TickBag(ctx, show.ID, "lead", true)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	must(s.AddCheck(ctx, tl.SalonCheck{Dog: d.ID, On: tl.DayOf(noon)}))(t)
	if err := s.PutDerived(ctx, p.SHA256, "view", 7, []byte("a view")); err != nil {
		t.Fatal(err)
	}
	return d, must(s.Photo(ctx, p.ID))(t)
}

// rowsLeft counts the rows of each table that has any, those of every salon left out.
func rowsLeft(t testing.TB, s *Store) string {
	t.Helper()
	var out []string
	for _, table := range []string{"dog", "photo", "original", "session", "session_work", "reading", "show", "salon_check", "link", "target_line", "heap", "landmark", "edge", "care", "care_every", "bag", "job"} {
		var n int
		if err := s.readers.QueryRow("SELECT count(*) FROM " + table).Scan(&n); err != nil {
			t.Fatal(err)
		}
		if n > 0 {
			out = append(out, fmt.Sprint(table, " ", n))
		}
	}
	return strings.Join(out, ", ")
}

func TestAfterThirtyDaysADogGoesWithAllThatIsHers(t *testing.T) {
	ctx, clock := context.Background(), &later{now: noon}
	s := newStore(t, Options{Now: clock.Now})
	d, p := fullSalon(t, s, "Burdock")
	_, other := fullSalon(t, s, "Sorrel")
	h := heaped(t, s, "of the heap")
	if err := s.SayHeapDog(ctx, h.ID, d.ID); err != nil {
		t.Fatal(err)
	}
	both := rowsLeft(t, s)
	if err := s.TrashDog(ctx, d.ID); err != nil {
		t.Fatal(err)
	}
	clock.days(29)
	if done := must(s.Tidy(ctx))(t); done != (Tidied{}) || rowsLeft(t, s) != both {
		t.Fatalf("after 29 days: %+v, %s", done, rowsLeft(t, s))
	}
	clock.days(2)
	if done := must(s.Tidy(ctx))(t); done != (Tidied{Things: 1, Originals: 1}) {
		t.Errorf("%+v", done)
	}
	if got := rowsLeft(t, s); got != "dog 1, photo 1, original 2, session 1, session_work 1, reading 1, show 1, salon_check 1, heap 1, care 1, care_every 1, bag 1, job 2" {
		t.Errorf("left: %s", got)
	}
	if files := filesIn(t, s.dir+"/photos"); len(files) != 2 {
		t.Errorf("originals: %v", files)
	}
	if files := filesIn(t, s.dir+"/derived"); len(files) != 1 || !strings.Contains(files[0], other.SHA256) {
		t.Errorf("derived: %v", files)
	}
	if _, err := s.OpenOriginal(ctx, p.SHA256); tl.KindOf(err) != tl.NotFound {
		t.Errorf("her original: %v", err)
	}
	checkWhole(t, s)
}

func TestWhatALivingThingNeedsStaysInTheTrash(t *testing.T) {
	ctx, clock := context.Background(), &later{now: noon}
	s := newStore(t, Options{Now: clock.Now})
	d, drawn := fullSalon(t, s, "Burdock")
	checked, _ := keep(t, s, d.ID, "a photo of a check", "2026-05-04T15:00:00")
	shared, _ := keep(t, s, d.ID, "a photo of two dogs", "2026-05-04T16:00:00")
	both := must(s.CreateDog(ctx, tl.Dog{Name: "Sorrel"}))(t)
	keep(t, s, both.ID, "a photo of two dogs", "2026-05-04T16:00:00")
	plain, _ := keep(t, s, d.ID, "a photo", "2026-05-04T17:00:00")
	if _, err := s.SaveTargetLine(ctx, tl.TargetLine{Dog: d.ID, Photo: drawn.ID, Lines: [][]tl.XY{{{X: 1, Y: 1}, {X: 2, Y: 2}}}}); err != nil {
		t.Fatal(err)
	}
	must(s.AddCheck(ctx, tl.SalonCheck{Dog: d.ID, On: tl.DayOf(noon), Photos: []tl.ID{checked.ID}}))(t)
	for _, p := range []tl.Photo{drawn, checked, shared, plain} {
		if err := s.TrashPhoto(ctx, p.ID); err != nil {
			t.Fatal(err)
		}
	}
	clock.days(31)
	if done := must(s.Tidy(ctx))(t); done != (Tidied{Things: 2, Originals: 1}) {
		t.Errorf("%+v", done)
	}
	for _, p := range []tl.Photo{drawn, checked} {
		if err := s.RestorePhoto(ctx, p.ID); err != nil {
			t.Errorf("%s: %v", p.File, err)
		}
	}
	if _, err := s.OpenOriginal(ctx, shared.SHA256); err != nil {
		t.Errorf("the other dog's photo: %v", err)
	}
	if _, err := s.OpenOriginal(ctx, plain.SHA256); tl.KindOf(err) != tl.NotFound {
		t.Errorf("the plain photo's file: %v", err)
	}
	checkWhole(t, s)
}

func TestASessionThatGoesLeavesItsPhotosAndReadings(t *testing.T) {
	ctx, clock := context.Background(), &later{now: noon}
	s := newStore(t, Options{Now: clock.Now})
	d, p := fullSalon(t, s, "Burdock")
	if err := s.TrashSession(ctx, p.Session); err != nil {
		t.Fatal(err)
	}
	clock.days(31)
	if done := must(s.Tidy(ctx))(t); done != (Tidied{Things: 1}) {
		t.Errorf("%+v", done)
	}
	if q := must(s.Photo(ctx, p.ID))(t); q.Session != "" {
		t.Errorf("paired with %s", q.Session)
	}
	if rs := must(s.Readings(ctx, d.ID))(t); len(rs) != 1 {
		t.Errorf("%d readings", len(rs))
	}
}

func TestTheDaysLeftCountDownToTheEmptying(t *testing.T) {
	for after, want := range map[time.Duration]int{
		0: 30, time.Minute: 30, 24 * time.Hour: 29, 29*24*time.Hour - 1: 2, 29 * 24 * time.Hour: 1, 30*24*time.Hour - 1: 1, 30 * 24 * time.Hour: 0, 90 * 24 * time.Hour: 0,
	} {
		if got := DaysLeft(noon, noon.Add(after)); got != want {
			t.Errorf("%v after: %d days left, want %d", after, got, want)
		}
	}
}

func TestNothingIsThrownAwayWhileABackupIsMade(t *testing.T) {
	ctx, clock := context.Background(), &later{now: noon}
	s := newStore(t, Options{Now: clock.Now})
	d, _ := fullSalon(t, s, "Burdock")
	if err := s.TrashDog(ctx, d.ID); err != nil {
		t.Fatal(err)
	}
	clock.days(31)
	release := must(s.HoldOriginals(ctx))(t)
	if done := must(s.Tidy(ctx))(t); done != (Tidied{Later: true}) || len(filesIn(t, s.dir+"/photos")) != 1 {
		t.Errorf("%+v", done)
	}
	release()
	if done := must(s.Tidy(ctx))(t); done != (Tidied{Things: 1, Originals: 1}) {
		t.Errorf("%+v", done)
	}
}

func TestAFileThatCouldNotBeRemovedGoesTheNextTime(t *testing.T) {
	ctx, clock := context.Background(), &later{now: noon}
	disk := &unremovable{FS: OS()}
	s := newStore(t, Options{Now: clock.Now, FS: disk})
	d, p := fullSalon(t, s, "Burdock")
	if err := s.TrashDog(ctx, d.ID); err != nil {
		t.Fatal(err)
	}
	clock.days(31)
	disk.err = syscall.EIO
	if _, err := s.Tidy(ctx); err == nil {
		t.Error("no trouble is told")
	}
	disk.err = nil
	// A photo that comes again before its old file is gone stays.
	in := must(s.ReceiveFile(ctx, strings.NewReader("a photo of Burdock"), 1<<20))(t)
	e := must(s.CreateDog(ctx, tl.Dog{Name: "Sorrel"}))(t)
	if _, _, err := s.KeepPhoto(ctx, in, original(), photoOf(e.ID, "2026-05-04T14:00:00"), nil); err != nil {
		t.Fatal(err)
	}
	if done := must(s.Tidy(ctx))(t); done != (Tidied{}) {
		t.Errorf("%+v", done)
	}
	if _, err := s.OpenOriginal(ctx, p.SHA256); err != nil {
		t.Error(err)
	}
	if err := s.TrashDog(ctx, e.ID); err != nil {
		t.Fatal(err)
	}
	clock.days(31)
	disk.err = syscall.EIO
	_, _ = s.Tidy(ctx)
	disk.err = nil
	if done := must(s.Tidy(ctx))(t); done != (Tidied{Originals: 1}) || len(filesIn(t, s.dir+"/photos")) != 0 {
		t.Errorf("%+v", done)
	}
}

type unremovable struct {
	FS
	err error
}

func (f *unremovable) Remove(name string) error {
	if f.err != nil {
		return f.err
	}
	return f.FS.Remove(name)
}

// A new table that names one of these must be thought of when the trash is emptied.
func TestEveryTableThatNamesAThingOfTheTrashIsThoughtOf(t *testing.T) {
	s := newStore(t, Options{})
	rows, err := s.readers.Query(`SELECT DISTINCT m.name || ' > ' || f."table" FROM sqlite_schema m, pragma_foreign_key_list(m.name) f
		WHERE m.type = 'table' AND f."table" IN ('dog','photo','session','reading','show','salon_check','heap','profile','original') ORDER BY 1`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	var got []string
	for rows.Next() {
		var v string
		if err := rows.Scan(&v); err != nil {
			t.Fatal(err)
		}
		got = append(got, v)
	}
	want := []string{"session > dog", "session_work > session", "photo > dog", "photo > original", "photo > session", "landmark > photo", "reading > dog",
		"reading > session", "show > dog", "show_target > show", "link > dog", "edge > photo", "target_line > dog", "target_line > photo", "salon_check > dog",
		"heap > original", "heap > dog", "bag > show", "care > dog", "care_every > dog"}
	sort.Strings(want)
	if !slices.Equal(got, want) {
		t.Errorf("these name things of the trash:\n%s\nand these are thought of:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestLeftoversAreSweptButNotUnderABackup(t *testing.T) {
	s := newStore(t, Options{Now: time.Now})
	left := filepath.Join(s.dir, incomingDir, tempPrefix+"left")
	if err := os.WriteFile(left, bytes.Repeat([]byte("x"), 9), 0o600); err != nil {
		t.Fatal(err)
	}
	old := time.Now().Add(-25 * time.Hour)
	if err := os.Chtimes(left, old, old); err != nil {
		t.Fatal(err)
	}
	release := must(s.HoldOriginals(context.Background()))(t)
	s.sweep()
	if len(filesIn(t, filepath.Dir(left))) != 1 {
		t.Error("swept under a backup")
	}
	release()
	must(s.Tidy(context.Background()))(t)
	if len(filesIn(t, filepath.Dir(left))) != 0 {
		t.Error("not swept")
	}
}
