package imaging

import (
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"thatch/timeline/outside"
)

// testNow is the present of every test here.
var testNow = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

func openFile(t testing.TB, path string) (*os.File, int64) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	st, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	return f, st.Size()
}

// readTruth is truth.csv, one map a file.
func readTruth(t testing.TB, dir string) []map[string]string {
	t.Helper()
	f, _ := openFile(t, filepath.Join(dir, "truth.csv"))
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = row[i]
		}
		out = append(out, m)
	}
	return out
}

// Check 31, kind X: what ExifTool 12.57 reads of real files of many cameras (truth.csv).
func TestFactsAgreeWithTheReferenceReader(t *testing.T) {
	dir := outside.Dir(t, "exif")
	valid := regexp.MustCompile(`^\d{4}:\d\d:\d\d \d\d:\d\d:\d\d`)
	files, dates := 0, 0
	for _, row := range readTruth(t, dir) {
		switch row["mime"] {
		case "image/jpeg", "image/png", "image/webp":
		default:
			continue
		}
		files++
		t.Run(row["file"], func(t *testing.T) {
			r, size := openFile(t, filepath.Join(dir, "files", row["file"]))
			f, err := Inspect(r, size, row["file"], InspectOptions{Now: testNow})
			if "image/"+f.Format != row["mime"] {
				t.Errorf("format %q, want %q", f.Format, row["mime"])
			}
			if raw := row["DateTimeOriginal"]; valid.MatchString(raw) {
				dates++
				want := strings.Replace(raw[:10], ":", "-", 2) + "T" + raw[11:19]
				if f.TakenLocal != want || !strings.HasPrefix(f.TakenSource, "exif") || f.TakenSource == SourceExifDigitized {
					t.Errorf("taken %q from %s, want %q", f.TakenLocal, f.TakenSource, want)
				}
				if off := row["OffsetTimeOriginal"]; off != "" {
					min, ok := parseOffset(off)
					if !ok || !f.OffsetKnown || f.OffsetMinutes != min || f.TakenSource != SourceExifOffset {
						t.Errorf("offset %d (%v) from %s, want %s", f.OffsetMinutes, f.OffsetKnown, f.TakenSource, off)
					}
				}
			} else if strings.HasPrefix(row["warning"], "JPEG format error") {
				// The reference gave the file up before its EXIF block: what we read there it cannot judge.
				t.Logf("taken %q from %s, the reference did not read this file", f.TakenLocal, f.TakenSource)
			} else if strings.HasPrefix(f.TakenSource, "exif") && f.TakenSource != SourceExifDigitized {
				t.Errorf("taken %q from %s, the reference has no DateTimeOriginal (%q)", f.TakenLocal, f.TakenSource, raw)
			}
			orientation := 1
			if n, err := strconv.Atoi(row["Orientation"]); err == nil && n >= 1 && n <= 8 {
				orientation = n
			}
			if f.Orientation != orientation {
				t.Errorf("orientation %d, want %d", f.Orientation, orientation)
			}
			if row["ICC"] != f.ICC {
				t.Errorf("profile %q, want %q", f.ICC, row["ICC"])
			}
			if has := row["GPSLatitude"] != ""; has != f.HasGPS && !(f.HasGPS && strings.HasPrefix(row["warning"], "JPEG format error")) {
				t.Errorf("has gps %v, the reference says latitude %q", f.HasGPS, row["GPSLatitude"])
			}
			w, errW := strconv.Atoi(row["width"])
			h, errH := strconv.Atoi(row["height"])
			if errW != nil || errH != nil {
				// The reference found no picture: neither may we call it one.
				if err == nil {
					t.Errorf("%d × %d px, the reference finds no picture", f.WidthPX, f.HeightPX)
				}
				return
			}
			if turned(orientation) {
				w, h = h, w
			}
			if f.WidthPX != w || f.HeightPX != h {
				t.Errorf("%d × %d px, want %d × %d", f.WidthPX, f.HeightPX, w, h)
			}
			if err != nil {
				t.Errorf("refused: %v", err)
			}
			if err := Check(context.Background(), r, size, f); err != nil {
				t.Errorf("check: %v", err)
			}
		})
	}
	if files < 50 || dates < 50 {
		t.Fatalf("only %d files and %d dates: this is not the corpus", files, dates)
	}
}
