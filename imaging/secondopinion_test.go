package imaging

import (
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/bep/imagemeta"

	"thatch/timeline/outside"
)

// exifOpinion is what the other reader says of a file, "" where it says nothing.
type exifOpinion struct{ original, offset, orientation string }

// secondOpinion asks a reader that shares nothing with ours. It is not the subject: a panic, an error or a long silence of
// its own only means that it has no opinion, beyond what it said before.
func secondOpinion(r io.ReadSeeker, format imagemeta.ImageFormat) (o exifOpinion, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v", p)
		}
	}()
	wanted := map[string]*string{"DateTimeOriginal": &o.original, "OffsetTimeOriginal": &o.offset, "Orientation": &o.orientation}
	_, err = imagemeta.Decode(imagemeta.Options{
		R: r, ImageFormat: format, Sources: imagemeta.EXIF, Timeout: 10 * time.Second, Warnf: func(string, ...any) {},
		ShouldHandleTag: func(t imagemeta.TagInfo) bool { return wanted[t.Tag] != nil && !strings.HasPrefix(t.Namespace, "IFD1") },
		HandleTag: func(t imagemeta.TagInfo) error {
			if into := wanted[t.Tag]; *into == "" {
				*into = strings.TrimSpace(fmt.Sprint(t.Value))
			}
			return nil
		},
	})
	return o, err
}

// Where the two readers differ, the reason, and the reference reader (truth.csv) must side with ours.
var otherOpinions = map[string]string{}

// Kind X: github.com/bep/imagemeta v1.0.1, written apart from ours and from the library behind our guard, reads the same
// dates, offsets and orientations of the same files.
func TestASecondReaderIsOfTheSameOpinion(t *testing.T) {
	dir := outside.Dir(t, "exif")
	formats := map[string]imagemeta.ImageFormat{
		"image/jpeg": imagemeta.JPEG, "image/png": imagemeta.PNG, "image/webp": imagemeta.WebP, "image/heic": imagemeta.HEIF, "image/heif": imagemeta.HEIF,
	}
	compared := map[string]int{}
	differs := map[string]bool{}
	for _, row := range readTruth(t, dir) {
		format, taken := formats[row["mime"]]
		if !taken {
			continue
		}
		r, size := openFile(t, filepath.Join(dir, "files", row["file"]))
		f, _ := Inspect(r, size, "", InspectOptions{Now: testNow}) // what was read before a refusal counts too
		other, err := secondOpinion(r, format)
		if err != nil {
			t.Logf("%s: the second reader gives up: %v", row["file"], err)
		}
		compare := func(fact, ours, theirs, truth string) {
			if ours == "" || theirs == "" {
				return
			}
			compared[fact]++
			compared[row["mime"]]++
			if ours == theirs {
				return
			}
			name := row["file"] + " " + fact
			differs[name] = true
			if otherOpinions[name] == "" || ours != truth {
				t.Errorf("%s: %q, the second reader %q, the reference %q", name, ours, theirs, truth)
			}
		}
		compare("DateTimeOriginal", dateDigits(f.RawDates["DateTimeOriginal"]), dateDigits(other.original), dateDigits(row["DateTimeOriginal"]))
		compare("OffsetTimeOriginal", f.RawDates["OffsetTimeOriginal"], other.offset, row["OffsetTimeOriginal"])
		if format != imagemeta.HEIF { // whose EXIF orientation is not the one that counts
			if n, err := strconv.Atoi(other.orientation); err == nil && n >= 1 && n <= 8 {
				compare("Orientation", strconv.Itoa(f.Orientation), other.orientation, row["Orientation"])
			}
		}
	}
	for name, why := range otherOpinions {
		if !differs[name] {
			t.Errorf("%s: the readers agree, the exception (%s) is not needed", name, why)
		}
	}
	t.Logf("compared: %v", compared)
	if compared["DateTimeOriginal"] < 50 || compared["OffsetTimeOriginal"] < 5 || compared["image/heic"] < 6 || compared["Orientation"] < 50 {
		t.Errorf("too little was compared: %v", compared)
	}
}

// dateDigits is a date's digits to the second; "" where it is none, zeros among them.
func dateDigits(s string) string {
	w, ok := parseDate(s)
	if !ok {
		return ""
	}
	return w.local()
}
