package faultfs_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thatch/store"
	"thatch/store/faultfs"
	"thatch/timeline"
)

// Below a test's root lie the salon and, where one is made, its backup.
const dataDir = "data"

var ctx = context.Background()

// bytesOf are a photo's bytes, always the same for a name, long enough for several writes.
func bytesOf(name string) []byte {
	lot := rand.NewChaCha8(sha256.Sum256([]byte(name)))
	b := make([]byte, 40_000)
	_, _ = lot.Read(b)
	return b
}

func shaOf(b []byte) string {
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:])
}

func open(t testing.TB, root string, disk store.FS) *store.Store {
	t.Helper()
	s, err := store.Open(ctx, filepath.Join(root, dataDir), store.Options{FS: disk, FloorBytes: -1})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func anOriginal() timeline.Original {
	return timeline.Original{Format: "jpeg", WidthPX: 400, HeightPX: 300, Orientation: 1}
}

func keepPhoto(s *store.Store, dog timeline.ID, name string) (sha string, err error) {
	b := bytesOf(name)
	in, err := s.ReceiveFile(ctx, bytes.NewReader(b), 1<<20)
	if err != nil {
		return "", err
	}
	defer in.Discard()
	p := timeline.Photo{Dog: dog, File: name, WidthPX: 400, HeightPX: 300, Side: timeline.SideLeft, Facing: timeline.SideLeft}
	_, _, err = s.KeepPhoto(ctx, in, anOriginal(), p, []store.Job{{Kind: store.KindDerive, Key: in.SHA256}})
	return in.SHA256, err
}

// oldSalon has a dog with a photo, and another one.
func oldSalon(t testing.TB) (root string) {
	t.Helper()
	root = t.TempDir()
	s := open(t, root, nil)
	defer s.Close()
	for _, name := range []string{"Burdock", "Sorrel"} {
		if _, err := s.CreateDog(ctx, timeline.Dog{Name: name}); err != nil {
			t.Fatal(err)
		}
	}
	d, err := s.DogByName(ctx, "Burdock")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := keepPhoto(s, d.ID, "the first"); err != nil {
		t.Fatal(err)
	}
	return root
}

func copyTree(t testing.TB, from string) (to string) {
	t.Helper()
	to = t.TempDir()
	if err := os.CopyFS(to, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	return to
}

// uploads is all that happens to photos when they come in: a new one and what is derived of it, the same for another dog, one
// for the heap, one thrown away for good. It stops at the first trouble. ack is told what was acknowledged, by hash.
func uploads(s *store.Store, ack func(sha string)) error {
	dogs := []timeline.ID{}
	for _, name := range []string{"Burdock", "Sorrel"} {
		d, err := s.DogByName(ctx, name)
		if err != nil {
			return err
		}
		dogs = append(dogs, d.ID)
	}
	for _, dog := range dogs {
		sha, err := keepPhoto(s, dog, "a new one")
		if err != nil {
			return err
		}
		ack(sha)
		if err := s.PutDerived(ctx, sha, "view", 1, bytesOf("the view of it")); err != nil {
			return err
		}
	}
	in, err := s.ReceiveFile(ctx, bytes.NewReader(bytesOf("for the heap")), 1<<20)
	if err != nil {
		return err
	}
	defer in.Discard()
	if _, err := s.KeepInHeap(ctx, in, anOriginal(), "heap.jpg", nil); err != nil {
		return err
	}
	ack(in.SHA256)
	return nil
}

// rows are what the database names.
type rows struct {
	originals map[string]int64 // bytes by hash
	named     map[string]bool  // by a photo or the heap
}

func readRows(t testing.TB, db string) rows {
	t.Helper()
	q, err := sql.Open("sqlite", db)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	var whole string
	if err := q.QueryRow("PRAGMA integrity_check").Scan(&whole); err != nil || whole != "ok" {
		t.Fatalf("the database: %s %v", whole, err)
	}
	r := rows{map[string]int64{}, map[string]bool{}}
	list, err := q.Query("SELECT sha256, bytes FROM original")
	if err != nil {
		t.Fatal(err)
	}
	for list.Next() {
		var sha string
		var n int64
		if err := list.Scan(&sha, &n); err != nil {
			t.Fatal(err)
		}
		r.originals[sha] = n
	}
	list, err = q.Query("SELECT sha256 FROM photo UNION SELECT sha256 FROM heap")
	if err != nil {
		t.Fatal(err)
	}
	for list.Next() {
		var sha string
		if err := list.Scan(&sha); err != nil {
			t.Fatal(err)
		}
		r.named[sha] = true
	}
	return r
}

// broken is what is wrong with a salon's files, given its rows and what was acknowledged; nothing, if all is well.
func broken(root string, r rows, acked map[string]bool) (out []string) {
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	for sha := range acked {
		if !r.named[sha] {
			say("acknowledged and lost: %.8s", sha)
		}
	}
	photos := filepath.Join(root, dataDir, "photos")
	for sha, n := range r.originals {
		b, err := os.ReadFile(filepath.Join(photos, sha[:2], sha))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			say("a row without its file: %.8s", sha)
		case err != nil || shaOf(b) != sha || int64(len(b)) != n:
			say("a row with a torn file: %.8s, %d of %d bytes, %v", sha, len(b), n, err)
		}
	}
	for sha := range r.named {
		if _, ok := r.originals[sha]; !ok {
			say("a photo without its original: %.8s", sha)
		}
	}
	_ = filepath.WalkDir(photos, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return nil
		}
		if b, err := os.ReadFile(path); err != nil || shaOf(b) != e.Name() {
			say("under the name of an original lies something else: %.8s, %d bytes", e.Name(), len(b))
		}
		return nil
	})
	views, _ := filepath.Glob(filepath.Join(root, dataDir, "derived", "1", "*", "*.jpg"))
	for _, view := range views {
		if b, err := os.ReadFile(view); err != nil || !bytes.Equal(b, bytesOf("the view of it")) {
			say("a torn view: %d bytes", len(b))
		}
	}
	return out
}

// database reads the files of the database as they are at this moment.
func database(t testing.TB, root string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	for _, end := range []string{"", "-wal"} {
		b, err := os.ReadFile(filepath.Join(root, dataDir, "thatch.db"+end))
		if err == nil {
			out["thatch.db"+end] = b
		} else if !errors.Is(err, fs.ErrNotExist) {
			t.Fatal(err)
		}
	}
	return out
}

func writeDatabase(t testing.TB, root string, db map[string][]byte) string {
	t.Helper()
	if err := os.MkdirAll(filepath.Join(root, dataDir), 0o700); err != nil {
		t.Fatal(err)
	}
	for name, b := range db {
		if err := os.WriteFile(filepath.Join(root, dataDir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return filepath.Join(root, dataDir, "thatch.db")
}

// newDisk is a disk under root.
func newDisk(t testing.TB, root string) *faultfs.Disk {
	t.Helper()
	db := filepath.Join(root, dataDir, "thatch.db")
	d, err := faultfs.NewDisk(root, func(path string) bool { return strings.HasPrefix(path, db) })
	if err != nil {
		t.Fatal(err)
	}
	return d
}
