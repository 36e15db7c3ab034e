package salon

import (
	"strings"
	"testing"

	"thatch/imaging"
	"thatch/timeline"
)

// The names are those of IANA's registry of media types. (E)
func TestAnOriginalSaysWhatItIs(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Bracken", day("2026-05-01"))
	for format, want := range map[string]string{
		imaging.FormatJPEG: "image/jpeg", imaging.FormatPNG: "image/png", imaging.FormatWebP: "image/webp", imaging.FormatHEIC: "image/heic",
	} {
		in := must(s.st.ReceiveFile(ctx, strings.NewReader(format), 1<<10))
		p, _, err := s.st.KeepPhoto(ctx, in, timeline.Original{Format: format, WidthPX: 40, HeightPX: 30, Orientation: 1}, timeline.Photo{
			Dog: d.ID, File: "a", WidthPX: 40, HeightPX: 30, Phase: timeline.PhaseStart, Side: timeline.SideLeft, Facing: timeline.SideLeft,
		}, nil)
		ok(err)
		pic := must(s.Picture(ctx, p.ID, PictureOriginal))
		pic.Close()
		if pic.Type != want {
			t.Errorf("%s goes out as %q, want %q", format, pic.Type, want)
		}
	}
}
