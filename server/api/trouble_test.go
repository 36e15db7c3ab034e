package api

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"log/slog"
	"net/http"
	"strings"
	"syscall"
	"testing"

	"thatch/imaging"
	"thatch/server/salon"
	"thatch/store"
)

// fullDisk lets a data folder be made and then has no room for one more file.
type fullDisk struct {
	store.FS
	full bool
}

func (f *fullDisk) CreateTemp(dir string) (store.File, error) {
	if f.full {
		return nil, &fs.PathError{Op: "create", Path: dir, Err: syscall.ENOSPC}
	}
	return f.FS.CreateTemp(dir)
}

func TestTroubleIsToldByItsKindAndNothingIsHalfStored(t *testing.T) {
	disk := &fullDisk{FS: store.OS()}
	st, err := store.Open(t.Context(), t.TempDir(), store.Options{FS: disk})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	s := salon.New(st, salon.Options{})
	d, err := s.CreateDog(t.Context(), salon.NewDog{Name: "Wisp of the Hill"})
	if err != nil {
		t.Fatal(err)
	}
	h := Handler(s, slog.New(slog.DiscardHandler))
	b := photo(t, 90)
	put := func() (int, string) {
		code, doc := ask(t, h, "PUT", "/dogs/"+string(d.ID)+"/photos/"+shaOf(b), "image/jpeg", b)
		e, _ := doc["error"].(map[string]any)
		kind, _ := e["kind"].(string)
		return code, kind
	}
	disk.full = true
	if code, kind := put(); code != http.StatusInsufficientStorage || kind != "no_space" {
		t.Errorf("a full disk: %d %q", code, kind)
	}
	if photos, err := s.Photos(t.Context(), d.ID); err != nil || len(photos) != 0 {
		t.Errorf("%d photos are there, %v", len(photos), err)
	}
	disk.full = false
	if code, _ := put(); code != http.StatusCreated {
		t.Errorf("with room again: %d", code)
	}
}

func TestABodyThatIsTooLargeIsRefusedAsSuch(t *testing.T) {
	h, s, d := opened(t)
	big := io.MultiReader(bytes.NewReader(photo(t, 90)), io.LimitReader(zeros{}, imaging.MaxBytes))
	body, err := io.ReadAll(big)
	if err != nil {
		t.Fatal(err)
	}
	code, doc := ask(t, h, "PUT", "/dogs/"+string(d.ID)+"/photos/"+shaOf(body), "image/jpeg", body)
	if code != http.StatusRequestEntityTooLarge {
		t.Errorf("%d %v", code, doc)
	}
	if photos, _ := s.Photos(t.Context(), d.ID); len(photos) != 0 {
		t.Errorf("%d photos", len(photos))
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestABodyThatBreaksOffIsNotStored(t *testing.T) {
	h, s, d := opened(t)
	b := photo(t, 90)
	r, err := http.NewRequestWithContext(t.Context(), "PUT", "/dogs/"+string(d.ID)+"/photos/"+shaOf(b),
		io.MultiReader(bytes.NewReader(b[:len(b)/2]), broken{}))
	if err != nil {
		t.Fatal(err)
	}
	w := &recorder{header: http.Header{}}
	h.ServeHTTP(w, r)
	if w.code != 422 || strings.Contains(w.String(), "fault.") {
		t.Errorf("%d %s", w.code, w)
	}
	if photos, _ := s.Photos(t.Context(), d.ID); len(photos) != 0 {
		t.Errorf("%d photos", len(photos))
	}
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errors.New("the phone went to sleep") }

type recorder struct {
	bytes.Buffer
	header http.Header
	code   int
}

func (r *recorder) Header() http.Header  { return r.header }
func (r *recorder) WriteHeader(code int) { r.code = code }

func TestADogIsNamedInThePathByIDOrByName(t *testing.T) {
	h, s, _ := opened(t)
	d, err := s.CreateDog(t.Context(), salon.NewDog{Name: "Ash/Grün 2"})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{string(d.ID), "Ash%2FGr%C3%BCn%202", "ash%2fgr%C3%BCn%202"} {
		if code, doc := ask(t, h, "GET", "/dogs/"+name+"/timeline", "", nil); code != 200 || doc["dog"].(map[string]any)["id"] != string(d.ID) {
			t.Errorf("%s: %d %v", name, code, doc)
		}
	}
}
