package main

import (
	"encoding/csv"
	"encoding/json"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"golang.org/x/image/webp"

	"thatch/timeline/outside"
)

// E, by the decoders of Go's own and extended libraries and, for HEIC, by heif-convert of Debian's libheif-examples, called
// on each file directly: a file that one of them decodes to its end is added, any other is refused by name; a second run adds none; the timeline lists them all, oldest first.
// E, data/exif/truth.csv (ExifTool 12.57): each lies on the day of its DateTimeOriginal.
func TestRealCameraFilesAreAddedOnceOrRefusedByName(t *testing.T) {
	dirs := []string{outside.Dir(t, "photos"), filepath.Join(outside.Dir(t, "exif"), "files")}
	readable := readableFiles(t, dirs)
	data := t.TempDir()
	add := func() addReport {
		t.Helper()
		out, code := ask(t, append([]string{"add", "--data", data, "--dog", "Bracken", "--create", "--json"}, dirs...)...)
		var r addReport
		if err := json.Unmarshal(out, &r); err != nil || code != exitFailed {
			t.Fatalf("exit %d, %v", code, err)
		}
		return r
	}
	first := add()
	told := map[string]string{}
	for _, e := range first.Added {
		told[e.File] = "added"
	}
	for _, r := range first.Refused {
		if told[r.File] != "" {
			t.Errorf("%s is told twice", r.File)
		}
		told[r.File] = "refused"
		if trouble := notOneClearLine("thatch: " + r.Error + "\n"); trouble != "" {
			t.Errorf("%s: %s", r.File, trouble)
		}
	}
	for file, ok := range readable {
		if want := map[bool]string{true: "added", false: "refused"}[ok]; told[file] != want {
			t.Errorf("%s is %q, want %s", filepath.Base(file), told[file], want)
		}
	}
	if len(told)+len(first.Already) != len(readable) || len(first.Added) < 100 || len(first.Refused) < 20 {
		t.Errorf("%d files: %d added, %d already, %d refused", len(readable), len(first.Added), len(first.Already), len(first.Refused))
	}

	second := add()
	if len(second.Added) != 0 || len(second.Already) != len(first.Added)+len(first.Already) || !slices.Equal(second.Refused, first.Refused) {
		t.Errorf("the second run: %d added, %d already, %d refused", len(second.Added), len(second.Already), len(second.Refused))
	}
	listedByDay(t, data, len(first.Added))
}

func listedByDay(t *testing.T, data string, n int) {
	t.Helper()
	out, code := ask(t, "timeline", "--data", data, "--dog", "bracken", "--json")
	var line struct {
		Unpaired []struct {
			File       string  `json:"file"`
			TakenLocal *string `json:"taken_local"`
		} `json:"unpaired"`
	}
	if err := json.Unmarshal(out, &line); err != nil || code != exitDone {
		t.Fatalf("timeline: exit %d, %v", code, err)
	}
	if len(line.Unpaired) != n {
		t.Errorf("%d photos on the timeline, %d were added", len(line.Unpaired), n)
	}
	original := originalDays(t)
	last, dated := "", 0
	for _, p := range line.Unpaired {
		day := ""
		if p.TakenLocal != nil {
			day = (*p.TakenLocal)[:10]
			if *p.TakenLocal < last {
				t.Errorf("%s, %s, comes after %s", p.File, *p.TakenLocal, last)
			}
			last = *p.TakenLocal
		}
		if want, ok := original[p.File]; ok {
			dated++
			if day != want {
				t.Errorf("%s lies on %q, was taken on %s", p.File, day, want)
			}
		}
	}
	if dated < 40 {
		t.Errorf("only %d photos have a day to compare", dated)
	}
}

// originalDays are the days of DateTimeOriginal by file, where ExifTool read one.
func originalDays(t *testing.T) map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join(outside.Dir(t, "exif"), "truth.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	file, taken := slices.Index(rows[0], "file"), slices.Index(rows[0], "DateTimeOriginal")
	days := map[string]string{}
	for _, r := range rows[1:] {
		if v := r[taken]; len(v) >= 10 && v[:4] > "0000" && v[4] == ':' {
			days[r[file]] = strings.ReplaceAll(v[:10], ":", "-")
		}
	}
	return days
}

// readableFiles are the files of the folders and whether a decoder reads them to their end.
func readableFiles(t *testing.T, dirs []string) map[string]bool {
	t.Helper()
	heif := outside.Tool(t, "heif-convert", "libheif-examples")
	out := map[string]bool{}
	for _, dir := range dirs {
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if e.IsDir() {
				continue
			}
			name := filepath.Join(dir, e.Name())
			f, err := os.Open(name)
			if err != nil {
				t.Fatal(err)
			}
			for _, decode := range []func(io.Reader) (image.Image, error){jpeg.Decode, png.Decode, webp.Decode} {
				if _, err := f.Seek(0, io.SeekStart); err != nil {
					t.Fatal(err)
				}
				if _, err := decode(f); err == nil {
					out[name] = true
					break
				}
				out[name] = false
			}
			f.Close()
			if ext := strings.ToLower(filepath.Ext(name)); ext == ".heic" || ext == ".heif" {
				out[name] = exec.Command(heif, name, filepath.Join(t.TempDir(), "read.png")).Run() == nil
			}
		}
	}
	return out
}
