package imaging

import (
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"thatch/timeline/outside"
)

// Kind E: ExifTool, over the camera files at hand: the focal length of a 35 mm camera that sees as much.
func TestTheFocalLengthIsTheReferenceReaders(t *testing.T) {
	dir := filepath.Join(outside.Dir(t, "exif"), "files")
	out, err := exec.Command(outside.Tool(t, "exiftool", "libimage-exiftool-perl"), "-j", "-n", "-ExifIFD:FocalLengthIn35mmFormat", dir).Output()
	// It ends with 1 where it warns of a single file; what it says of the others stands.
	if ended := (*exec.ExitError)(nil); err != nil && (!errors.As(err, &ended) || len(out) == 0) {
		t.Fatal(err)
	}
	var list []struct {
		SourceFile string
		Focal      *float64 `json:"FocalLengthIn35mmFormat"`
	}
	if err := json.Unmarshal(out, &list); err != nil {
		t.Fatal(err)
	}
	said := 0
	for _, e := range list {
		f, err := os.Open(e.SourceFile)
		if err != nil {
			t.Fatal(err)
		}
		info, err := f.Stat()
		if err != nil {
			t.Fatal(err)
		}
		got, refused := Inspect(f, info.Size(), "", InspectOptions{})
		f.Close()
		if refused != nil {
			continue
		}
		want := 0
		if e.Focal != nil {
			want = int(*e.Focal)
			said++
		}
		if got.Focal35MM != want {
			t.Errorf("%s: %d mm, want %d", filepath.Base(e.SourceFile), got.Focal35MM, want)
		}
	}
	t.Logf("%d files say it", said)
	if said < 20 {
		t.Errorf("only %d files say it", said)
	}
}
