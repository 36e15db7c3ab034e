package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/web/words"
)

// datedPhotos are n small photos, one a day from the first of March on.
func datedPhotos(t testing.TB, n int) []string {
	t.Helper()
	dir := t.TempDir()
	var plain bytes.Buffer
	if err := jpeg.Encode(&plain, image.NewGray(image.Rect(0, 0, 32, 24)), nil); err != nil {
		t.Fatal(err)
	}
	var out []string
	for i := range n {
		photo, err := imaging.InsertEXIF(plain.Bytes(), imaging.EXIFFields{TakenLocal: time.Date(2026, 3, 1+i, 9, 0, 0, 0, time.UTC)})
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(dir, fmt.Sprintf("%03d.jpg", i))
		if err := os.WriteFile(name, photo, 0o644); err != nil {
			t.Fatal(err)
		}
		out = append(out, name)
	}
	return out
}

func TestManyFilesAreAnsweredInTheOrderTheyWereNamed(t *testing.T) {
	files := datedPhotos(t, 40)
	slices.Reverse(files)
	files = slices.Insert(files, 7, files[0]) // named twice, answered twice
	var out, told bytes.Buffer
	if code := run(t.Context(), append([]string{"inspect", "--json"}, files...), &out, &told); code != exitDone {
		t.Fatalf("exit %d: %s", code, told.String())
	}
	var entries []struct {
		File       string  `json:"file"`
		TakenLocal *string `json:"taken_local"`
		Error      *string `json:"error"`
	}
	if err := json.Unmarshal(out.Bytes(), &entries); err != nil || len(entries) != len(files) {
		t.Fatalf("%d entries, %v", len(entries), err)
	}
	for i, e := range entries {
		var n int
		if _, err := fmt.Sscanf(filepath.Base(files[i]), "%03d", &n); err != nil {
			t.Fatal(err)
		}
		want := time.Date(2026, 3, 1+n, 9, 0, 0, 0, time.UTC).Format("2006-01-02T15:04:05")
		if e.File != files[i] || e.Error != nil || e.TakenLocal == nil || *e.TakenLocal != want {
			t.Errorf("entry %d: %+v, want %s taken %s", i, e, files[i], want)
		}
	}
	last := -1
	for line := range strings.Lines(told.String()) {
		var percent int
		if _, err := fmt.Sscanf(line, "%d %%", &percent); err != nil || percent < last {
			t.Errorf("progress %q after %d %%", line, last)
		}
		last = percent
	}
	if last != 100 || strings.Count(told.String(), "\n") > 11 {
		t.Errorf("progress ends at %d %%:\n%s", last, told.String())
	}
}

func TestAFileIsNamedAsItWasGiven(t *testing.T) {
	file := datedPhotos(t, 1)[0]
	t.Chdir(filepath.Dir(file))
	out, code := ask(t, "inspect", "--json", "000.jpg")
	var entries []map[string]any
	if err := json.Unmarshal(out, &entries); err != nil || code != exitDone || entries[0]["file"] != "000.jpg" {
		t.Errorf("exit %d, %v: %s", code, err, out)
	}
}

// The document of an unreadable, a refused and a good file: every name is there, lists are lists, what is not known is null.
func TestEveryEntryOfInspectHasEveryName(t *testing.T) {
	files := datedPhotos(t, 1)
	dir := filepath.Dir(files[0])
	for name, text := range map[string]string{"empty.jpg": "", "note.txt": "Dear Sir or Madam", "cut.jpg": "\xff\xd8\xff"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	out, code := ask(t, "inspect", "--json", dir)
	var entries []map[string]any
	if err := json.Unmarshal(out, &entries); err != nil || code != exitFailed || len(entries) != 4 {
		t.Fatalf("exit %d, %v: %s", code, err, out)
	}
	names := []string{"camera", "error", "file", "flags", "format", "has_gps", "height_px", "icc", "marker", "offset_minutes",
		"orientation", "sha256", "taken_at", "taken_local", "taken_source", "width_px"}
	for _, e := range entries {
		if got := slices.Sorted(maps.Keys(e)); !slices.Equal(got, names) {
			t.Errorf("%v: %v", e["file"], got)
		}
		if _, list := e["flags"].([]any); !list || e["marker"] != nil || len(e["sha256"].(string)) != 64 {
			t.Errorf("%v", e)
		}
		good := strings.HasSuffix(e["file"].(string), "000.jpg")
		if (e["error"] == nil) != good || (e["taken_at"] == nil) == good || e["offset_minutes"] != nil {
			t.Errorf("%v", e)
		}
	}
}

// stopping is a writer that stops the work at the first word it hears.
type stopping struct {
	bytes.Buffer
	stop func()
}

func (s *stopping) Write(b []byte) (int, error) { s.stop(); return s.Buffer.Write(b) }

func TestInspectStopsWhenItIsTold(t *testing.T) {
	files := datedPhotos(t, 30)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	told := &stopping{stop: cancel}
	entries, err := inspectAll(ctx, streams{out: &bytes.Buffer{}, err: told, say: words.Speaker{Lang: "en"}}, files, imaging.InspectOptions{}, false)
	if !errors.Is(err, context.Canceled) || entries != nil || strings.Contains(told.String(), "100 %") {
		t.Errorf("%d entries, %v, told %q", len(entries), err, told.String())
	}
	var out, complaint bytes.Buffer
	if code := run(ctx, append([]string{"inspect", "--json"}, files...), &out, &complaint); code != exitFailed || out.Len() > 0 {
		t.Errorf("exit %d, printed %q", code, out.String())
	}
}

func TestAProgressOnATerminalLeavesNothingBehindAndIsNotCommandedByNames(t *testing.T) {
	var w bytes.Buffer
	bar := progressOn(&w, true)
	bar(0, 2, "a\x1b[2Jb\r"+strings.Repeat("x", 100)+"end.jpg")
	if s := w.String(); strings.Count(s, "\x1b") != 1 || strings.Count(s, "\r") != 1 || !strings.HasSuffix(s, "end.jpg") || len([]rune(s)) > 75 {
		t.Errorf("%q", s)
	}
	bar(1, 2, "a\x1b[2Jb")
	if s := w.String(); strings.Contains(s, "\x1b[2J") {
		t.Errorf("%q", s)
	}
	for _, last := range []int{2, stoppedShort} {
		w.Reset()
		bar(last, 2, "")
		if w.String() != "\r\x1b[K" {
			t.Errorf("%q", w.String())
		}
	}
	w.Reset()
	bar = progressOn(&w, false)
	bar(0, 1, "x")
	bar(stoppedShort, 1, "")
	if w.String() != "  0 %  x\n" {
		t.Errorf("%q", w.String())
	}
}
