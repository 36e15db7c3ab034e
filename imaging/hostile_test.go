package imaging

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"thatch/timeline/outside"
)

// allocated is how many bytes f allocates in all, whether they are freed or not. Nothing else may run meanwhile.
func allocated(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// maxInspectAlloc bounds what reading the headers of any file at all may allocate.
const maxInspectAlloc = 20 << 20

// Check 32, kind E: hostile files get a clear answer, a photo without a date or a date where there is one. The dates are
// the ones that were written into the files.
func TestHostileFilesAreAnsweredAndHurtNothing(t *testing.T) {
	dir := outside.Dir(t, "exif")
	files, err := filepath.Glob(filepath.Join(dir, "hostile", "*"))
	if err != nil || len(files) < 30 {
		t.Fatalf("%d hostile files, %v", len(files), err)
	}
	const may = "2024-05-06T07:08:09"
	dates := map[string]string{
		"07": may, "08": may, "09": may, "10": may, "24": may, "26": may, "27": may, "30": may, "31": may, "32": may, "33": may,
		"20": "", "21": "", "25": "", "37": "",
		"34": "1970-01-01T00:00:00", "35": "2099-01-01T00:00:00", "36": "2000-01-01T00:00:00",
	}
	offsets := map[string]int{"31": 330, "33": 0}
	for _, path := range files {
		name := filepath.Base(path)
		t.Run(name, func(t *testing.T) {
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			r, size := bytes.NewReader(b), int64(len(b))
			var f Facts
			var inspectErr, decodeErr error
			if n := allocated(func() { f, inspectErr = Inspect(r, size, name, InspectOptions{Now: testNow}) }); n > maxInspectAlloc {
				t.Errorf("reading the headers allocated %d bytes", n)
			}
			if n := allocated(func() { _, decodeErr = Decode(context.Background(), r, size, Facts{}) }); n > maxInspectAlloc {
				t.Errorf("refusing the pixels allocated %d bytes", n)
			}
			// None of them holds a picture that may be decoded.
			if AsRefusal(inspectErr) == nil || AsRefusal(decodeErr) == nil {
				t.Errorf("not refused: %v, %v", inspectErr, decodeErr)
			}
			no, _, _ := strings.Cut(name, "_")
			if want, known := dates[no]; known && f.TakenLocal != want {
				t.Errorf("taken %q, want %q", f.TakenLocal, want)
			}
			off, known := offsets[no]
			if no < "40" && f.OffsetKnown != (known || no == "23") || known && f.OffsetMinutes != off {
				t.Errorf("offset %d, known %v", f.OffsetMinutes, f.OffsetKnown)
			}
			if no == "34" || no == "35" || no == "36" {
				if !slices.Contains(f.Flags, FlagClockNotSet) {
					t.Errorf("flags %v, want clock_not_set", f.Flags)
				}
			}
			if strings.Contains(name, "000x") || strings.Contains(name, "65500") {
				if r := AsRefusal(inspectErr); r == nil || r.Code != CodeTooLargePX {
					t.Errorf("refused with %v, want too_large_px", inspectErr)
				}
			}
		})
	}
}

// Check 32: a good file cut anywhere is answered as calmly.
func TestFilesCutAnywhereAreAnsweredAndHurtNothing(t *testing.T) {
	dir := outside.Dir(t, "exif")
	for _, name := range []string{
		"bp__testdata_images_bep_sunrise.jpg", "bp__testdata_images_bep_sunrise.png", "dn__webp_Issue_473_Java.webp",
		"or__Portrait_5.jpg", "dn__webp_Alpha_Lossless_2.webp",
	} {
		t.Run(name, func(t *testing.T) {
			b, err := os.ReadFile(filepath.Join(dir, "files", name))
			if err != nil {
				t.Fatal(err)
			}
			whole := inspectBytes(t, b, name)
			// Decoding may take what its pixels take, not more: 4 bytes each for the picture and as many for its coefficients.
			most := maxInspectAlloc + 8*uint64(whole.WidthPX)*uint64(whole.HeightPX)
			for i := range 50 {
				cut := bytes.NewReader(b[:len(b)*i/50])
				if n := allocated(func() { _, _ = Inspect(cut, cut.Size(), name, InspectOptions{Now: testNow}) }); n > maxInspectAlloc {
					t.Errorf("cut to %d bytes: allocated %d", cut.Size(), n)
				}
				var err error
				if n := allocated(func() { err = Check(context.Background(), cut, cut.Size(), Facts{}) }); n > most {
					t.Errorf("cut to %d bytes: decoding allocated %d", cut.Size(), n)
				}
				r := AsRefusal(err)
				if r == nil {
					t.Errorf("cut to %d bytes of %d: not refused: %v", cut.Size(), len(b), err)
				} else if r.Code != CodeTruncated && r.Code != CodeEmpty && r.Code != CodeNotAPhoto {
					t.Errorf("cut to %d bytes of %d: %v, want truncated", cut.Size(), len(b), err)
				}
			}
		})
	}
}

// The photos of the outside corpus are ordinary: each must come in.
func TestOrdinaryPhotosComeIn(t *testing.T) {
	dir := outside.Dir(t, "photos")
	files, err := filepath.Glob(filepath.Join(dir, "*.jpg"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no photos: %v", err)
	}
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			r, size := openFile(t, path)
			f, err := Inspect(r, size, filepath.Base(path), InspectOptions{Now: testNow})
			if err != nil {
				t.Fatal(err)
			}
			img, err := Decode(context.Background(), r, size, f)
			if err != nil {
				t.Fatal(err)
			}
			if img.Rect.Dx() != f.WidthPX || img.Rect.Dy() != f.HeightPX {
				t.Errorf("decoded %v, want %d × %d", img.Rect, f.WidthPX, f.HeightPX)
			}
		})
	}
}
