package imaging

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"thatch/timeline/outside"
)

// exiftool asks the reference reader what it finds in every file of a folder; the group of each tag is in its name.
func exiftool(t testing.TB, dir string) []map[string]any {
	t.Helper()
	cmd := exec.Command(outside.Tool(t, "exiftool", "libimage-exiftool-perl"), "-j", "-G1", "-a", "-r", dir)
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("exiftool: %v\n%s", err, complaint.String())
	}
	var list []map[string]any
	if err := json.Unmarshal(out, &list); err != nil {
		t.Fatal(err)
	}
	return list
}

// sizeAndColour are all the tags that a derivative may have: of the file system, of the tool itself, of the frame header
// and of JFIF.
var sizeAndColour = []string{
	"ExifTool:ExifToolVersion",
	"File:FileType", "File:FileTypeExtension", "File:MIMEType", "File:ImageWidth", "File:ImageHeight",
	"File:EncodingProcess", "File:BitsPerSample", "File:ColorComponents", "File:YCbCrSubSampling",
	"JFIF:JFIFVersion", "JFIF:ResolutionUnit", "JFIF:XResolution", "JFIF:YResolution",
	"Composite:ImageSize", "Composite:Megapixels",
}

func beyondSizeAndColour(tags map[string]any) (out []string) {
	for tag := range tags {
		if tag != "SourceFile" && !strings.HasPrefix(tag, "System:") && !slices.Contains(sizeAndColour, tag) {
			out = append(out, tag)
		}
	}
	slices.Sort(out)
	return out
}

// Kind E: ExifTool, of the version that Debian has, over the derivatives of every photo of the corpora that is taken.
func TestExifToolFindsNothingBeyondSizeAndColourInDerivatives(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(outside.Dir(t, "exif"), "files", "*"))
	if err != nil {
		t.Fatal(err)
	}
	photos, err := filepath.Glob(filepath.Join(outside.Dir(t, "photos"), "*.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	keep := func(name string, b []byte) {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	made, formats := 0, map[string]int{}
	derive := func(name string, b []byte) {
		d, err := Make(context.Background(), bytes.NewReader(b), int64(len(b)), Facts{})
		if AsRefusal(err) != nil {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		v := reflect.ValueOf(d)
		for i := range v.NumField() {
			made++
			keep(name+"."+v.Type().Field(i).Name+".jpg", v.Field(i).Bytes())
		}
		formats[sniff(b[:min(len(b), sniffBytes)])]++
	}
	for _, path := range slices.Concat(files, photos) {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		derive(filepath.Base(path), b)
	}
	derive("stuffed", stuffedJPEG(t, 600, 400))
	if formats[FormatJPEG] < 90 || formats[FormatPNG] < 1 || formats[FormatWebP] < 1 {
		t.Errorf("only these were made into derivatives: %v", formats)
	}
	// A control: of a file that carries much, the tool says much.
	keep("control.jpg", stuffedJPEG(t, 600, 400))
	seen := 0
	for _, tags := range exiftool(t, dir) {
		name := filepath.Base(tags["SourceFile"].(string))
		found := beyondSizeAndColour(tags)
		if name == "control.jpg" {
			for _, must := range []string{"IFD0:Make", "IFD0:ImageDescription", "GPS:GPSLatitude", "XMP-dc:Creator", "IPTC:DateCreated", "ICC_Profile:ProfileDescription", "File:Comment"} {
				if !slices.Contains(found, must) {
					t.Errorf("the tool does not find %s in the control: %v", must, found)
				}
			}
			continue
		}
		seen++
		if len(found) > 0 {
			t.Errorf("%s carries %v", name, found)
		}
	}
	if seen != made {
		t.Errorf("the tool looked at %d of %d derivatives", seen, made)
	}
	t.Logf("%d derivatives of %v photos", made, formats)
}
