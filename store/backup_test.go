package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	tl "thatch/timeline"
)

// salonOf is an open salon with a dog and so many photos, and their hashes.
func salonOf(t testing.TB, n int) (*Store, []string) {
	t.Helper()
	s := newStore(t, Options{})
	return s, addPhotos(t, s, n)
}

func addPhotos(t testing.TB, s *Store, n int) []string {
	t.Helper()
	ctx := context.Background()
	dog := fullDog()
	dog.Name = "Dog " + string(newID())
	d := must(s.CreateDog(ctx, dog))(t)
	shas := make([]string, n)
	for i := range shas {
		p, _ := keep(t, s, d.ID, fmt.Sprintf("photo %d of %s", i, d.ID), "2026-05-04T14:00:00")
		shas[i] = p.SHA256
	}
	return shas
}

func backUp(t testing.TB, s *Store, dest string, opt BackupOptions) BackupReport {
	t.Helper()
	if opt.Now == nil {
		opt.Now = s.now
	}
	rep, err := Backup(context.Background(), s.Dir(), dest, opt)
	if err != nil {
		t.Fatal(err)
	}
	return rep
}

// flip turns over one bit of a file.
func flip(t testing.TB, name string, bit int64) {
	t.Helper()
	f, err := os.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var b [1]byte
	if _, err := f.ReadAt(b[:], bit/8); err != nil {
		t.Fatal(err)
	}
	b[0] ^= 1 << (bit % 8)
	if _, err := f.WriteAt(b[:], bit/8); err != nil {
		t.Fatal(err)
	}
}

// wantWhole fails where Verify finds anything wrong.
func wantWhole(t testing.TB, dir string) VerifyReport {
	t.Helper()
	rep, err := Verify(context.Background(), dir, VerifyOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range rep.Damage {
		t.Errorf("%s: %s", f.File, f.Say)
	}
	return rep
}

func filesOf(list []Finding) []string {
	out := []string{}
	for _, f := range list {
		out = append(out, f.File)
	}
	slices.Sort(out)
	return out
}

func TestABackupComesBackAsItWasAndCopiesNothingTwice(t *testing.T) {
	ctx := context.Background()
	s, shas := salonOf(t, 5)
	for _, dest := range []string{filepath.Join(t.TempDir(), "backup"), filepath.Join(t.TempDir(), "backup.TAR")} {
		rep := backUp(t, s, dest, BackupOptions{Program: "thatch test"})
		if rep.Photos != 5 || rep.Copied != 5 || len(rep.Damaged)+rep.Lost != 0 {
			t.Errorf("%s: %+v", dest, rep)
		}
		if got := wantWhole(t, dest); got.Snapshots != 1 || got.Originals != 5 {
			t.Errorf("%s: %+v", dest, got)
		}
		dir := filepath.Join(t.TempDir(), "new")
		back, err := Restore(ctx, dest, dir, RestoreOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if back.Photos != 5 || !back.MadeAt.Equal(rep.MadeAt) || len(back.Lost)+len(back.Damaged) != 0 {
			t.Errorf("%s: %+v", dest, back)
		}
		wantWhole(t, dir)
		again, err := Open(ctx, dir, Options{MustExist: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, sha := range shas {
			want, got := must(os.ReadFile(s.originalPath(sha)))(t), must(os.ReadFile(again.originalPath(sha)))(t)
			if !bytes.Equal(want, got) {
				t.Errorf("%s: photo %s is another", dest, sha)
			}
		}
		if a, b := must(s.Dogs(ctx, false))(t), must(again.Dogs(ctx, false))(t); len(a) != 1 || asJSON(a) != asJSON(b) {
			t.Errorf("%s: the dogs are others", dest)
		}
		if err := again.Close(); err != nil {
			t.Fatal(err)
		}
		if left := filesIn(t, filepath.Dir(dir)); slices.ContainsFunc(left, func(n string) bool { return strings.Contains(n, buildingEnding) }) {
			t.Errorf("left over: %v", left)
		}
	}

	dest := filepath.Join(t.TempDir(), "backup")
	backUp(t, s, dest, BackupOptions{})
	more := addPhotos(t, s, 2)
	rep := backUp(t, s, dest, BackupOptions{})
	if rep.Photos != 7 || rep.Copied != 2 {
		t.Errorf("%+v", rep)
	}
	if got := wantWhole(t, dest); got.Snapshots != 2 || got.Originals != 7 {
		t.Errorf("%+v", got)
	}
	names := must(snapshotNames(osFS{}, dest))(t)
	dir := filepath.Join(t.TempDir(), "older")
	if back, err := Restore(ctx, dest, dir, RestoreOptions{Snapshot: names[0]}); err != nil || back.Photos != 5 {
		t.Errorf("%+v, %v", back, err)
	}
	if _, err := os.Stat(pooled(dir, more[0])); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a photo of later is in the older snapshot: %v", err)
	}
}

func TestWhoWasSignedInIsNotSoInACopy(t *testing.T) {
	s, _ := salonOf(t, 1)
	for _, q := range []string{
		`INSERT INTO person (id, rev, name, name_key, role, password_hash, added_at) VALUES ('p', 1, 'A', 'a', 'owner', 'h', '2026-01-01T00:00:00.000Z')`,
		`INSERT INTO login (token_hash, id, person, data, agent, made_at, seen_at, expires_at) VALUES ('a-hash-of-a-token', 'i', 'p', x'00', 'agent', '', '', '')`,
	} {
		if _, err := s.writer.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	dest := filepath.Join(t.TempDir(), "backup")
	backUp(t, s, dest, BackupOptions{})
	for _, name := range filesIn(t, dest) {
		if b := must(os.ReadFile(name))(t); bytes.Contains(b, []byte("a-hash-of-a-token")) {
			t.Errorf("%s holds a sign-in", name)
		}
	}
	dir := filepath.Join(t.TempDir(), "new")
	if _, err := Restore(context.Background(), dest, dir, RestoreOptions{}); err != nil {
		t.Fatal(err)
	}
	again := must(Open(context.Background(), dir, Options{}))(t)
	defer again.Close()
	var people, logins int
	if err := again.readers.QueryRow(`SELECT (SELECT count(*) FROM person), (SELECT count(*) FROM login)`).Scan(&people, &logins); err != nil || people != 1 || logins != 0 {
		t.Errorf("%d people, %d sign-ins, %v", people, logins, err)
	}
	for _, table := range endedInCopies { // a table that was renamed would be carried along unseen
		var n int
		if err := s.readers.QueryRow(`SELECT count(*) FROM ` + table).Scan(&n); err != nil {
			t.Error(err)
		}
	}
}

func TestADamagedPhotoIsNamedAndNeverReplacesAGoodOne(t *testing.T) {
	ctx := context.Background()
	s, shas := salonOf(t, 4)
	dest := filepath.Join(t.TempDir(), "backup")
	backUp(t, s, dest, BackupOptions{})
	good := must(os.ReadFile(pooled(dest, shas[0])))(t)

	// The salon's photo goes bad; the backup's is taken for unknown, so that it is read too.
	flip(t, s.originalPath(shas[0]), 3)
	if err := os.Remove(s.originalPath(shas[1])); err != nil {
		t.Fatal(err)
	}
	fresh := addPhotos(t, s, 1)
	flip(t, s.originalPath(fresh[0]), 3)
	for _, name := range must(snapshotNames(osFS{}, dest))(t) {
		if err := os.RemoveAll(filepath.Join(dest, snapshotsDir, name)); err != nil {
			t.Fatal(err)
		}
	}
	rep := backUp(t, s, dest, BackupOptions{})
	if got := filesOf(rep.Damaged); rep.Photos != 4 || rep.Lost != 1 || !slices.Equal(got, sorted([]string{originalFile(shas[1]), originalFile(fresh[0])})) {
		t.Errorf("%d photos, %d lost, damaged %v", rep.Photos, rep.Lost, got)
	}
	if b := must(os.ReadFile(pooled(dest, shas[0])))(t); !bytes.Equal(b, good) {
		t.Error("a damaged photo replaced a good one")
	}
	dir := filepath.Join(t.TempDir(), "new")
	back, err := Restore(ctx, dest, dir, RestoreOptions{})
	if err != nil || !slices.Equal(back.Lost, []string{originalFile(fresh[0])}) {
		t.Fatalf("%+v, %v", back, err)
	}

	// A file holds only what it read to be whole, and says what it lacks.
	file := filepath.Join(t.TempDir(), "one.tar")
	rep = backUp(t, s, file, BackupOptions{})
	if rep.Photos != 2 || rep.Lost != 3 || len(rep.Damaged) != 3 {
		t.Errorf("%+v", rep)
	}
	wantWhole(t, file)

	// Handed in again, the photo is whole again, and so is the next backup.
	for _, dog := range must(s.Dogs(ctx, false))(t) {
		for i := range 4 {
			keep(t, s, dog.ID, fmt.Sprintf("photo %d of %s", i, dog.ID), "2026-05-04T14:00:00")
		}
	}
	if rep := wantWhole(t, s.Dir()); rep.Originals != 8 {
		t.Errorf("%+v", rep)
	}
	if rep := backUp(t, s, dest, BackupOptions{}); rep.Photos != 8 || len(rep.Damaged) != 0 {
		t.Errorf("%+v", rep)
	}
}

func TestWhatHasGoneBadInTheBackupIsCopiedAnewWithinAMonth(t *testing.T) {
	s, shas := salonOf(t, 6)
	dest := filepath.Join(t.TempDir(), "backup")
	night := noon
	now := func() time.Time { return night }
	backUp(t, s, dest, BackupOptions{Now: now})
	for _, sha := range shas {
		flip(t, pooled(dest, sha), 5)
	}
	if rep := must(Verify(context.Background(), dest, VerifyOptions{}))(t); len(rep.Damage) != 6 {
		t.Errorf("%d of 6 are named", len(rep.Damage))
	}
	copied := 0
	for range rereadNights + 1 {
		night = night.AddDate(0, 0, 1)
		copied += backUp(t, s, dest, BackupOptions{Now: now}).Copied
	}
	if copied != 6 {
		t.Errorf("%d of 6 were copied anew", copied)
	}
	wantWhole(t, dest)
}

func TestADestinationThatCannotBeOneIsRefused(t *testing.T) {
	ctx := context.Background()
	s, _ := salonOf(t, 1)
	tmp := t.TempDir()
	full, file, folderTar := filepath.Join(tmp, "full"), filepath.Join(tmp, "file"), filepath.Join(tmp, "folder.tar")
	there := filepath.Join(tmp, "there.tar")
	link := filepath.Join(tmp, "link")
	for _, err := range []error{
		os.MkdirAll(filepath.Join(full, "letters"), 0o700), os.Mkdir(folderTar, 0o700), os.WriteFile(file, []byte("x"), 0o600), os.WriteFile(there, []byte("x"), 0o600),
		os.Symlink(s.Dir(), link),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	before := filesIn(t, tmp)
	for dest, key := range map[string]string{
		s.Dir():                           "fault.backup.inside",
		filepath.Join(s.Dir(), "photos"):  "fault.backup.inside",
		filepath.Join(s.Dir(), "b", "c"):  "fault.backup.inside",
		filepath.Join(s.Dir(), "b.tar"):   "fault.backup.inside",
		filepath.Join(link, "backup"):     "fault.backup.inside",
		filepath.Dir(s.Dir()):             "fault.backup.inside",
		full:                              "fault.backup.not_empty",
		file:                              "fault.backup.not_folder",
		filepath.Join(file, "x"):          "fault.backup.dest",
		folderTar:                         "fault.backup.tar_folder",
		filepath.Join(tmp, "no", "where"): "fault.backup.no_parent",
		filepath.Join(tmp, "no", "w.tar"): "fault.backup.no_parent",
		there:                             "fault.backup.exists",
	} {
		kind := tl.Invalid
		if dest == there {
			kind = tl.Conflict
		}
		_, err := Backup(ctx, s.Dir(), dest, BackupOptions{})
		wantKind(t, err, kind, key)
	}
	_, err := Backup(ctx, full, filepath.Join(tmp, "new"), BackupOptions{})
	wantKind(t, err, tl.NotFound, "fault.store.no_salon")
	if after := filesIn(t, tmp); !slices.Equal(before, after) {
		t.Errorf("something was written: %v", after)
	}
}

func TestASecondBackupToTheSamePlaceIsBusy(t *testing.T) {
	s, _ := salonOf(t, 2)
	for _, dest := range []string{filepath.Join(t.TempDir(), "backup"), filepath.Join(t.TempDir(), "backup.tar")} {
		tried := false
		backUp(t, s, dest, BackupOptions{Progress: func(int, int, string) {
			if !tried {
				tried = true
				_, err := Backup(context.Background(), s.Dir(), dest, BackupOptions{})
				wantKind(t, err, tl.Busy, "fault.backup.busy")
				if _, ok := s.mayDiscard(); ok {
					t.Error("originals may be thrown away while they are copied")
				}
			}
		}})
		if !tried {
			t.Fatal("nobody tried")
		}
		wantWhole(t, dest)
		release, ok := s.mayDiscard()
		if !ok {
			t.Fatal("originals are held after the backup is done")
		}
		release()
	}
}

func TestADamagedDatabaseIsNoBackup(t *testing.T) {
	s, _ := salonOf(t, 3)
	dest := filepath.Join(t.TempDir(), "backup")
	backUp(t, s, dest, BackupOptions{})
	if _, err := s.writer.Exec("PRAGMA foreign_keys = 0; DELETE FROM dog"); err != nil {
		t.Fatal(err)
	}
	_, err := Backup(context.Background(), s.Dir(), dest, BackupOptions{Prune: true})
	wantKind(t, err, tl.Internal, "fault.backup.database")
	if got := wantWhole(t, dest); got.Snapshots != 1 {
		t.Errorf("%d snapshots", got.Snapshots)
	}
}

func TestWhichSnapshotsAreKept(t *testing.T) {
	// Every night for two years, at half past two in Berlin: once the clock is put on at that hour, once back.
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	var times []time.Time
	for d := range 730 {
		times = append(times, time.Date(2024, 11, 26+d, 2, 30, 0, 0, berlin).UTC())
	}
	var got []string
	for i, stays := range kept(times, berlin) {
		if stays {
			got = append(got, times[i].In(berlin).Format(time.DateOnly))
		}
	}
	// By hand: the last seven days; the last days of the ISO weeks 45 to 48 of 2026 (Sundays, and the newest); of twelve months.
	want := strings.Fields(`2025-12-31 2026-01-31 2026-02-28 2026-03-31 2026-04-30 2026-05-31 2026-06-30 2026-07-31 2026-08-31 2026-09-30 2026-10-31
		2026-11-08 2026-11-15 2026-11-19 2026-11-20 2026-11-21 2026-11-22 2026-11-23 2026-11-24 2026-11-25`)
	if !slices.Equal(got, want) {
		t.Errorf("kept %v,\nwant %v", got, want)
	}
	// Three in one day and then a pause: the last of the day, and the newest whatever its age.
	some := []time.Time{noon, noon.Add(time.Hour), noon.Add(2 * time.Hour), noon.AddDate(0, 0, 40)}
	if got := kept(some, time.UTC); !slices.Equal(got, []bool{false, false, true, true}) {
		t.Errorf("%v", got)
	}
}

func TestPruningThrowsAwayOnlyPhotosThatNoSnapshotNames(t *testing.T) {
	ctx := context.Background()
	s, first := salonOf(t, 2)
	dest := filepath.Join(t.TempDir(), "backup")
	at := noon
	opt := BackupOptions{Now: func() time.Time { return at }, Prune: true}
	if rep := backUp(t, s, dest, opt); len(rep.Pruned) != 0 {
		t.Errorf("%v", rep.Pruned)
	}
	// The photos are gone from the salon an hour later: the morning's snapshot goes, and they with it.
	if _, err := s.writer.ExecContext(ctx, "DELETE FROM photo; DELETE FROM original"); err != nil {
		t.Fatal(err)
	}
	later := addPhotos(t, s, 1)
	at = at.Add(time.Hour)
	if rep := backUp(t, s, dest, opt); len(rep.Pruned) != 1 || rep.Photos != 1 {
		t.Errorf("%+v", rep)
	}
	for _, sha := range first {
		if _, err := os.Stat(pooled(dest, sha)); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s stays: %v", sha, err)
		}
	}
	wantWhole(t, dest)
	// On another day both snapshots stay.
	if _, err := s.writer.ExecContext(ctx, "DELETE FROM photo; DELETE FROM original"); err != nil {
		t.Fatal(err)
	}
	at = at.AddDate(0, 0, 1)
	if rep := backUp(t, s, dest, opt); len(rep.Pruned) != 0 || rep.Photos != 0 {
		t.Errorf("%+v", rep)
	}
	if _, err := os.Stat(pooled(dest, later[0])); err != nil {
		t.Error(err)
	}
	// Beside a snapshot that nobody can read nothing is thrown away.
	names := must(snapshotNames(osFS{}, dest))(t)
	flip(t, filepath.Join(dest, snapshotsDir, names[0], manifestName), 400)
	at = at.Add(time.Hour)
	if rep := backUp(t, s, dest, opt); len(rep.Pruned) != 0 {
		t.Errorf("%+v", rep)
	}
	if _, err := os.Stat(pooled(dest, later[0])); err != nil {
		t.Error(err)
	}
}

func TestAManifestSaysWhatItSays(t *testing.T) {
	file := func(c string, n int64) ManifestFile { return ManifestFile{strings.Repeat(c, 64), n} }
	good := Manifest{Format: 1, Program: "thatch", Schema: 1, MadeAt: noon, Database: file("d", 9), Count: 2, Photos: []ManifestFile{file("a", 1), file("b", 2)}, Lost: []ManifestFile{}}
	text := must(good.encode())(t)
	if m, err := parseManifest(text); err != nil || asJSON(m) != asJSON(good) {
		t.Errorf("%+v, %v", m, err)
	}
	if !json.Valid(text) {
		t.Error("a manifest is one JSON document")
	}
	for n := range text {
		if m, err := parseManifest(text[:n]); err == nil && asJSON(m) != asJSON(good) {
			t.Fatalf("its first %d bytes are taken for whole", n)
		}
	}
	for i := range text {
		for bit := range 8 {
			b := bytes.Clone(text)
			b[i] ^= 1 << bit
			if m, err := parseManifest(b); err == nil && asJSON(m) != asJSON(good) {
				t.Fatalf("bit %d of byte %d is not missed", bit, i)
			}
		}
	}
	for name, change := range map[string]func(*Manifest){
		"count":         func(m *Manifest) { m.Count = 3 },
		"no database":   func(m *Manifest) { m.Database = ManifestFile{} },
		"out of order":  func(m *Manifest) { slices.Reverse(m.Photos) },
		"twice":         func(m *Manifest) { m.Photos[1] = m.Photos[0] },
		"a path":        func(m *Manifest) { m.Photos[0].SHA256 = "../../../etc/passwd" },
		"no bytes":      func(m *Manifest) { m.Photos[0].Bytes = 0 },
		"no format":     func(m *Manifest) { m.Format = 0 },
		"a lost path":   func(m *Manifest) { m.Lost = []ManifestFile{{"..", 1}} },
		"below nothing": func(m *Manifest) { m.Photos[0].Bytes = -5 },
	} {
		m := good
		m.Photos = slices.Clone(good.Photos)
		change(&m)
		if _, err := parseManifest(must(m.encode())(t)); err == nil {
			t.Errorf("%s: taken", name)
		} else {
			wantKind(t, err, tl.Invalid, "fault.backup.incomplete")
		}
	}
	newer := good
	newer.Schema = 9999
	_, err := parseManifest(must(newer.encode())(t))
	wantKind(t, err, tl.TooNew, "fault.backup.too_new")
}
