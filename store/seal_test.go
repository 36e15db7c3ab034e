package store

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	tl "thatch/timeline"
)

func sealed(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, sealName))
	return err == nil
}

func TestWhoClosesLastSeals(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	first := must(Open(ctx, dir, Options{}))(t)
	second := must(Open(ctx, dir, Options{}))(t)
	addPhotos(t, first, 1)
	if err := second.Close(); err != nil {
		t.Fatal(err)
	}
	if sealed(dir) {
		t.Error("it was sealed while it is open")
	}
	addPhotos(t, first, 1)
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	if !sealed(dir) {
		t.Error("it was not sealed")
	}
	again := must(Open(ctx, dir, Options{}))(t)
	if sealed(dir) {
		t.Error("the seal stays while it is open")
	}
	if err := again.Close(); err != nil {
		t.Fatal(err)
	}
	wantWhole(t, dir)
}

func TestADatabaseThatChangedWhileItWasClosedIsRefusedUnlessItWasOnPurpose(t *testing.T) {
	ctx := context.Background()
	base := t.TempDir()
	s := must(Open(ctx, base, Options{}))(t)
	dog := fullDog()
	dog.Notes = "a note with the letters quokka in it"
	must(s.CreateDog(ctx, dog))(t)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		do      func(t *testing.T, dir string)
		refused bool
	}{
		"nothing":               {func(*testing.T, string) {}, false},
		"a letter of a note":    {func(t *testing.T, dir string) { flipAt(t, dir, "quokka") }, true},
		"the seal is gone":      {func(t *testing.T, dir string) { flipAt(t, dir, "quokka"); os.Remove(filepath.Join(dir, sealName)) }, false},
		"the seal has gone bad": {func(t *testing.T, dir string) { flip(t, filepath.Join(dir, sealName), 200) }, false},
		"written to by another program": {func(t *testing.T, dir string) {
			db := must(sql.Open("sqlite", filepath.Join(dir, dbName)))(t)
			if _, err := db.Exec("CREATE TABLE mine (a TEXT)"); err != nil {
				t.Fatal(err)
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
		}, false},
		"an older copy was put back": {func(t *testing.T, dir string) {
			s := must(Open(ctx, dir, Options{}))(t)
			for range 40 { // it grows, and so counts
				addPhotos(t, s, 1)
			}
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			old := must(os.ReadFile(filepath.Join(base, dbName)))(t)
			if err := os.WriteFile(filepath.Join(dir, dbName), old, 0o600); err != nil {
				t.Fatal(err)
			}
		}, false},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			if err := os.CopyFS(dir, os.DirFS(base)); err != nil {
				t.Fatal(err)
			}
			c.do(t, dir)
			s, err := Open(ctx, dir, Options{})
			if !c.refused {
				if err != nil {
					t.Fatal(err)
				}
				s.Close()
				return
			}
			wantKind(t, err, tl.Internal, "fault.store.seal")
			_, err = Open(ctx, dir, Options{})
			wantKind(t, err, tl.Internal, "fault.store.seal") // it stays so
		})
	}
}

func flipAt(t testing.TB, dir, word string) {
	t.Helper()
	name := filepath.Join(dir, dbName)
	i := strings.Index(string(must(os.ReadFile(name))(t)), word)
	if i < 0 {
		t.Fatal("the word is not there")
	}
	flip(t, name, int64(i)*8)
}

func FuzzSeal(f *testing.F) {
	f.Add(seal{ManifestFile{strings.Repeat("a", 64), 4096}, 7, 9}.encode())
	f.Add([]byte(sealTitle + "\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		if s, ok := parseSeal(b); ok && string(s.encode()) != string(b) {
			t.Errorf("%q is taken for %+v", b, s)
		}
	})
}
