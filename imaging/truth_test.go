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

// brokenHEIC are the HEIC files of the corpus that hold no whole picture: each must be refused. What can be read of their
// headers is held against the reference where agree says so; elsewhere two readers of a broken table may differ.
var brokenHEIC = map[string]struct {
	agree bool
	why   string
}{
	"jd__heif_testdata_park.heic":                                                              {true, "cut off in its picture"},
	"jd__heif_testdata_rotate.heic":                                                            {true, "cut off in its picture"},
	"bp__testdata_images_multi-xmp.heic":                                                       {true, "metadata alone, no picture"},
	"lh__fuzzing_data_corpus_clap-overflow-divide-zero.heic":                                   {true, "a clean aperture without a denominator"},
	"lh__fuzzing_data_corpus_github_138.heic":                                                  {true, "its list of items is overwritten"},
	"lh__fuzzing_data_corpus_github_46_1.heic":                                                 {true, "its meta box goes on beyond the file"},
	"lh__fuzzing_data_corpus_github_367_2.heic":                                                {false, "a clean aperture of 3 × 1 px, which the reference does not apply, and references beyond their box"},
	"lh__fuzzing_data_corpus_clusterfuzz-testcase-minimized-file-fuzzer-6045213633282048.heic": {true, "a grid without tiles"},
}

// orientationOfRotation is the EXIF orientation that does the same as HEIFRotation, which counts counter-clockwise
// (ISO/IEC 23008-12, section 6.5.10).
var orientationOfRotation = map[string]int{"": 1, "0": 1, "90": 8, "180": 3, "270": 6}

// Check 31, kind X: what ExifTool 12.57 reads of real files of many cameras (truth.csv).
func TestFactsAgreeWithTheReferenceReader(t *testing.T) {
	dir := outside.Dir(t, "exif")
	valid := regexp.MustCompile(`^\d{4}:\d\d:\d\d \d\d:\d\d:\d\d`)
	files, dates := 0, 0
	for _, row := range readTruth(t, dir) {
		switch row["mime"] {
		case "image/jpeg", "image/png", "image/webp", "image/heic", "image/heif":
		default:
			continue
		}
		heic := strings.HasPrefix(row["mime"], "image/hei")
		broken, isBroken := brokenHEIC[row["file"]]
		files++
		t.Run(row["file"], func(t *testing.T) {
			r, size := openFile(t, filepath.Join(dir, "files", row["file"]))
			f, err := Inspect(r, size, row["file"], InspectOptions{Now: testNow})
			if "image/"+f.Format != row["mime"] && !(heic && f.Format == FormatHEIC) {
				t.Errorf("format %q, want %q", f.Format, row["mime"])
			}
			if isBroken && err == nil {
				t.Errorf("not refused: %s", broken.why)
			}
			if isBroken && !broken.agree {
				t.Logf("%s: %v", broken.why, err)
				return
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
			if heic {
				// Check 36: EXIF says it once more in most of these files.
				orientation = orientationOfRotation[row["HEIFRotation"]]
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
			if isBroken {
				return
			}
			if err != nil {
				t.Errorf("refused: %v", err)
			}
			if heic {
				return // pixels have tests of their own
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
