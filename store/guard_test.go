package store

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	tl "thatch/timeline"
)

// olderSalon is a folder with a database of an older data version and one dog in it.
func olderSalon(t testing.TB, version int) string {
	t.Helper()
	dir := t.TempDir()
	db, err := sql.Open("sqlite", dsn(filepath.Join(dir, dbName), true))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := migrate(context.Background(), db, migrations()[:version]); err != nil {
		t.Fatal(err)
	}
	_, err = db.Exec(`INSERT INTO dog (id, rev, name, name_key, client, profile, texture, withers_mm, answered_day, last_worked_day, rolled, undercoat,
		longest_withers_mm, sensitive, notes, next_day, every_days, minutes, share_ok, added_at)
		VALUES ('0000000000000001', 1, 'Burdock', 'burdock', '', 'rough', '', 0, '', '', 0, '', 0, '[]', '', '', 0, 0, 0, '2026-05-04T12:00:00.000Z')`)
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

func TestBeforeAMigrationTheDatabaseIsCopied(t *testing.T) {
	dir := olderSalon(t, 3)
	s, err := Open(context.Background(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	kept := filepath.Join(dir, keptDir, "thatch.db.v3")
	if v, err := checkCopy(context.Background(), kept); err != nil || v != 3 {
		t.Fatalf("the copy is of version %d, %v", v, err)
	}
	db, err := sql.Open("sqlite", readOnlyDSN(kept))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var name string
	if err := db.QueryRow("SELECT name FROM dog").Scan(&name); err != nil || name != "Burdock" {
		t.Errorf("the copy holds %q, %v", name, err)
	}
	if d, err := s.DogByName(context.Background(), "Burdock"); err != nil || d.ID != "0000000000000001" {
		t.Errorf("migrated: %v, %v", d.ID, err)
	}
}

func TestOfTheCopiesBeforeMigrationsTheLastTwoStay(t *testing.T) {
	dir := olderSalon(t, 3)
	if err := os.MkdirAll(filepath.Join(dir, keptDir), 0o700); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"thatch.db.v1", "thatch.db.v2", "a note of mine"} {
		if err := os.WriteFile(filepath.Join(dir, keptDir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s, err := Open(context.Background(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	if got := strings.Join(fileNames(t, filepath.Join(dir, keptDir)), ", "); got != "a note of mine, thatch.db.v2, thatch.db.v3" {
		t.Errorf("kept: %s", got)
	}
}

func TestANewOrCurrentDatabaseIsNotCopied(t *testing.T) {
	dir := t.TempDir()
	for range 2 {
		s, err := Open(context.Background(), dir, Options{})
		if err != nil {
			t.Fatal(err)
		}
		s.Close()
	}
	if _, err := os.Stat(filepath.Join(dir, keptDir)); !os.IsNotExist(err) {
		t.Errorf("a folder of copies is there: %v", err)
	}
}

func fileNames(t testing.TB, dir string) (out []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

// noCopies refuses what belongs to the copies.
type noCopies struct {
	FS
	err error
}

func (f noCopies) Rename(from, to string) error {
	if strings.Contains(to, keptDir) {
		return f.err
	}
	return f.FS.Rename(from, to)
}

func TestWithoutACopyNothingIsMigrated(t *testing.T) {
	for _, c := range []struct {
		name string
		err  error
		kind tl.Kind
		key  string
	}{
		{"no room", syscall.ENOSPC, tl.NoSpace, "fault.store.guard_space"},
		{"a disk that fails", syscall.EIO, tl.Internal, "fault.store.guard"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := olderSalon(t, 3)
			_, err := Open(context.Background(), dir, Options{FS: noCopies{OS(), c.err}})
			wantKind(t, err, c.kind, c.key)
			if v, err := checkCopy(context.Background(), filepath.Join(dir, dbName)); err != nil || v != 3 {
				t.Errorf("the database is of version %d, %v", v, err)
			}
			if left := fileNames(t, filepath.Join(dir, keptDir)); len(left) != 0 {
				t.Errorf("left over: %v", left)
			}
			s, err := Open(context.Background(), dir, Options{}) // the trouble is over
			if err != nil {
				t.Fatal(err)
			}
			s.Close()
		})
	}
}

// filled is the bytes of a database with n dogs, closed cleanly.
func filled(t testing.TB, dogs int) []byte {
	t.Helper()
	dir := t.TempDir()
	s, err := Open(context.Background(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range dogs {
		if _, err := s.CreateDog(context.Background(), tl.Dog{Name: fmt.Sprint("Dog ", i), Notes: strings.Repeat("wiry ", i%50)}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(dir, dbName))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestADatabaseOfWhichAPageIsLostIsFoundAtTheStartAndLeftAsItIs(t *testing.T) {
	whole := filled(t, 60)
	const page = 4096
	missed := 0
	for at := page; at < len(whole); at += page {
		b := bytes.Clone(whole)
		clear(b[at : at+page])
		dir := t.TempDir()
		db := filepath.Join(dir, dbName)
		if err := os.WriteFile(db, b, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := Open(context.Background(), dir, Options{})
		if err == nil {
			s.Close()
			missed++
			t.Errorf("page %d of %d is gone and nobody says so", at/page+1, len(whole)/page)
			continue
		}
		wantKind(t, err, tl.Internal, "fault.store.damaged")
		if got, err := os.ReadFile(db); err != nil || !bytes.Equal(got, b) {
			t.Errorf("page %d: the damaged file was changed (%v)", at/page+1, err)
		}
		if info, err := os.Stat(db + "-wal"); err == nil && info.Size() > 0 {
			t.Errorf("page %d: the check wrote %d bytes", at/page+1, info.Size())
		}
	}
	for _, cut := range []int{1, 50, page - 1, page, page + 1, len(whole) / 2, len(whole) - page} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, dbName), whole[:cut], 0o600); err != nil {
			t.Fatal(err)
		}
		if s, err := Open(context.Background(), dir, Options{}); err == nil {
			s.Close()
			t.Errorf("cut to %d of %d bytes, and nobody says so", cut, len(whole))
		}
	}
}

// What a killed program left in the write-ahead log is read by the check, not lost by it.
func TestTheStartCheckReadsAWriteAheadLogThatWasLeftBehind(t *testing.T) {
	from := t.TempDir()
	s, err := Open(context.Background(), from, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.CreateDog(context.Background(), tl.Dog{Name: "Burdock"}); err != nil {
		t.Fatal(err)
	}
	to := t.TempDir()
	for _, end := range []string{"", "-wal"} {
		b, err := os.ReadFile(filepath.Join(from, dbName+end))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(to, dbName+end), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s.Close()
	s, err = Open(context.Background(), to, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if _, err := s.DogByName(context.Background(), "Burdock"); err != nil {
		t.Error(err)
	}
}

// A large salon: go test -run '^$' -bench StartOfLargeSalon -benchtime 3x ./store
func BenchmarkStartOfLargeSalon(b *testing.B) {
	dir := b.TempDir()
	s, err := Open(context.Background(), dir, Options{})
	if err != nil {
		b.Fatal(err)
	}
	const photos, dogs = 100_000, 200
	err = s.write(context.Background(), "fill", func(t tx) error {
		for i := range photos {
			sha := fmt.Sprintf("%064x", i*7919)
			if err := putOriginal(t, tl.Original{SHA256: sha, Bytes: 3 << 20, Format: "jpeg", WidthPX: 4032, HeightPX: 3024, Orientation: 6, Camera: "Pocket 12"}, stamp(noon)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	for i := range dogs {
		d, err := s.CreateDog(context.Background(), tl.Dog{Name: fmt.Sprint("Dog ", i)})
		if err != nil {
			b.Fatal(err)
		}
		err = s.write(context.Background(), "fill", func(t tx) error {
			for k := range photos / dogs {
				p := tl.Photo{Dog: d.ID, SHA256: fmt.Sprintf("%064x", (i*photos/dogs+k)*7919), File: "IMG_0001.JPG", WidthPX: 3024, HeightPX: 4032, Ready: true}
				p.Landmarks = tl.Landmarks{tl.Points()[0]: {X: 1, Y: 2}, tl.Points()[1]: {X: 3, Y: 4}}
				if _, _, err := s.putPhoto(t, p, nil); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		b.Fatal(err)
	}
	info, err := os.Stat(filepath.Join(dir, dbName))
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for b.Loop() {
		s, err := Open(context.Background(), dir, Options{})
		if err != nil {
			b.Fatal(err)
		}
		s.Close()
	}
	b.ReportMetric(float64(info.Size())/(1<<20), "MiB")
}
