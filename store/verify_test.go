package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	tl "thatch/timeline"
)

// treeOf is every file below dir with its time of change and the hash of its bytes.
func treeOf(t testing.TB, dir string) string {
	t.Helper()
	var b strings.Builder
	for _, name := range filesIn(t, dir) {
		info := must(os.Stat(name))(t)
		fmt.Fprintln(&b, name, info.Size(), info.ModTime(), hexSum(must(os.ReadFile(name))(t)))
	}
	return b.String()
}

func putPicture(t testing.TB, s *Store, sha string) string {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 9, 9)), nil); err != nil {
		t.Fatal(err)
	}
	if err := s.PutDerived(context.Background(), sha, "view", 1, b.Bytes()); err != nil {
		t.Fatal(err)
	}
	return "derived/1/" + sha[:2] + "/" + sha + "-view.jpg"
}

// cutFile takes the second half of a file away, and returns its name without the folder.
func cutFile(t testing.TB, name string) string {
	t.Helper()
	info := must(os.Stat(name))(t)
	if err := os.Truncate(name, info.Size()/2); err != nil {
		t.Fatal(err)
	}
	return filepath.Base(name)
}

func TestVerifyingChangesNoByte(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	s := must(Open(ctx, dir, Options{}))(t)
	addPhotos(t, s, 3)
	// As a process that died leaves it: database and WAL as they lie there now.
	died := t.TempDir()
	if err := os.CopyFS(died, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(died, dbName+"-wal")); err != nil {
		t.Fatal(err)
	}
	wantWhole(t, dir) // while it is open
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, d := range []string{dir, died} {
		before := treeOf(t, d)
		if rep := wantWhole(t, d); rep.Originals != 3 || len(rep.Notes) != 0 {
			t.Errorf("%+v", rep)
		}
		after := treeOf(t, d)
		// The index of a WAL holds nothing that is not in the WAL.
		clean := func(s string) string {
			var keep []string
			for _, line := range strings.Split(s, "\n") {
				if !strings.Contains(line, dbName+"-shm") {
					keep = append(keep, line)
				}
			}
			return strings.Join(keep, "\n")
		}
		if clean(before) != clean(after) {
			t.Errorf("before:\n%s\nafter:\n%s", before, after)
		}
	}
	// A copy elsewhere is what is looked at where the folder cannot be written to.
	l := must(openCopy(filepath.Join(died, dbName)))(t)
	if photos, err := photosOf(ctx, l.DB); err != nil || len(photos) != 3 {
		t.Errorf("%d photos in the copy, %v", len(photos), err)
	}
	kept := l.copy
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(kept); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the copy stays: %v", err)
	}
}

func TestVerifyingBesideUploadsFindsNothingWrong(t *testing.T) {
	s, _ := salonOf(t, 1)
	stop := make(chan struct{})
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			select {
			case <-stop:
				return
			default:
				addPhotos(t, s, 1)
			}
		}
	}()
	for range 6 {
		rep := wantWhole(t, s.Dir())
		for _, n := range rep.Notes {
			if n.File != incomingDir {
				t.Errorf("%s: %s", n.File, n.Say)
			}
		}
	}
	close(stop)
	<-done
}

func TestANewerSalonIsNotJudged(t *testing.T) {
	s, _ := salonOf(t, 1)
	if _, err := s.writer.Exec("CREATE TABLE later (a TEXT); PRAGMA user_version = 9999"); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if _, err := s.writer.Exec("VACUUM INTO ?", filepath.Join(dir, dbName)); err != nil {
		t.Fatal(err)
	}
	_, err := Verify(context.Background(), dir, VerifyOptions{})
	wantKind(t, err, tl.TooNew, "fault.store.too_new")
	_, err = Backup(context.Background(), dir, filepath.Join(t.TempDir(), "b"), BackupOptions{})
	wantKind(t, err, tl.TooNew, "fault.store.too_new")
}

func TestWhereThereIsNothingThatIsSaid(t *testing.T) {
	tmp := t.TempDir()
	note := filepath.Join(tmp, "note.txt")
	if err := os.WriteFile(note, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, dir := range []string{tmp, note, filepath.Join(tmp, "nowhere")} {
		_, err := Verify(context.Background(), dir, VerifyOptions{})
		wantKind(t, err, tl.NotFound, "fault.verify.nothing")
	}
}

func TestABackupThatHasGoneBadIsNamed(t *testing.T) {
	ctx := context.Background()
	s, shas := salonOf(t, 3)
	base := filepath.Join(t.TempDir(), "base")
	snap := backUp(t, s, base, BackupOptions{}).Snapshot
	for name, c := range map[string]struct {
		file, key string
		do        func(t *testing.T, name string)
	}{
		"photo":         {originalFile(shas[0]), "verify.pool.damaged", func(t *testing.T, n string) { flip(t, n, 9) }},
		"missing photo": {originalFile(shas[0]), "verify.pool.missing", func(t *testing.T, n string) { os.Remove(n) }},
		"database":      {"snapshots/" + snap + "/thatch.db", "verify.snapshot.database", func(t *testing.T, n string) { flip(t, n, 90000) }},
		"manifest":      {"snapshots/" + snap + "/manifest.json", "verify.snapshot.manifest", func(t *testing.T, n string) { flip(t, n, 900) }},
	} {
		t.Run(name, func(t *testing.T) {
			dest := filepath.Join(t.TempDir(), "b")
			if err := os.CopyFS(dest, os.DirFS(base)); err != nil {
				t.Fatal(err)
			}
			c.do(t, filepath.Join(dest, filepath.FromSlash(c.file)))
			rep := must(Verify(ctx, dest, VerifyOptions{}))(t)
			if len(rep.Damage) != 1 || rep.Damage[0].File != c.file || rep.Damage[0].Say.Key != c.key {
				t.Errorf("%v", rep.Damage)
			}
			dir := filepath.Join(t.TempDir(), "new")
			if _, err := Restore(ctx, dest, dir, RestoreOptions{}); err == nil {
				t.Error("it was brought back")
			}
			if _, err := os.Stat(dir); err == nil {
				t.Error("the folder is there")
			}
		})
	}
}
