package salon

import (
	"bytes"
	"image/png"
	"strings"
	"testing"

	"thatch/timeline"
	"thatch/web/words"
)

func TestAMarkersSheetIsDrawnForADogOrForAll(t *testing.T) {
	d := timeline.Dog{ID: "7h2k9m4qx0abcdef", Name: "Ol' Börstel 2"}
	for _, c := range []struct {
		sheet MarkerSheet
		begin string
		name  string
	}{
		{MarkerSheet{Dog: d, SizeMM: UsualMarkerMM, Paper: "a4", Format: "pdf"}, "%PDF-", "marker-ol--b-rstel-2.pdf"},
		{MarkerSheet{SizeMM: 50, Paper: "letter", Format: "png"}, "\x89PNG", "marker.png"},
	} {
		var b bytes.Buffer
		ok(c.sheet.Write(&b, words.Speaker{}))
		if !strings.HasPrefix(b.String(), c.begin) || c.sheet.FileName() != c.name {
			t.Errorf("%+v: %d bytes, named %q", c.sheet, b.Len(), c.sheet.FileName())
		}
		if c.sheet.Format == "png" {
			// E: 8½ × 11 inch at 300 dots an inch (ANSI/ASME Y14.1).
			if size := must(png.DecodeConfig(&b)); size.Width != 2550 || size.Height != 3300 {
				t.Errorf("a sheet of %d × %d dots", size.Width, size.Height)
			}
		}
	}
	for field, m := range map[string]MarkerSheet{
		"paper": {SizeMM: 80, Paper: "a0", Format: "pdf"}, "format": {SizeMM: 80, Paper: "a4", Format: "gif"}, "size_mm": {SizeMM: 5, Paper: "a4", Format: "pdf"},
		"dog": {Dog: timeline.Dog{ID: "too-long-for-the-symbol"}, SizeMM: 80, Paper: "a4", Format: "pdf"},
	} {
		err := m.Write(&bytes.Buffer{}, words.Speaker{})
		if f := faultOf(err); f == nil || f.Kind != timeline.Invalid || f.Field != field {
			t.Errorf("%s: %v", field, err)
		}
	}
}
