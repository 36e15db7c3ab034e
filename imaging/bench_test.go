package imaging

import (
	"bytes"
	"context"
	"image"
	"testing"
	"time"
)

// A 12 MP photo of our own, textured so that it weighs about what a phone's does.
func benchPhoto(b *testing.B) []byte {
	img := image.NewNRGBA(image.Rect(0, 0, 4032, 3024))
	seed := uint32(1)
	for y := range 3024 {
		for x := range 4032 {
			seed = seed*1664525 + 1013904223
			n := int(seed>>28) - 8
			i := img.PixOffset(x, y)
			base := 90 + (x/7+y/5)%80
			img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = uint8(base+n+30), uint8(base+n+10), uint8(base+n), 255
		}
	}
	jpeg, err := InsertEXIF(encodeTestJPEG(b, img), EXIFFields{TakenLocal: time.Date(2026, 5, 6, 7, 8, 9, 0, time.UTC), Orientation: 6})
	if err != nil {
		b.Fatal(err)
	}
	return insert(jpeg, segment(0xe2, "ICC_PROFILE\x00\x01\x01"+string(testProfile(p3Primaries, 4))))
}

func BenchmarkInspect12MP(b *testing.B) {
	photo := benchPhoto(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Inspect(bytes.NewReader(photo), int64(len(photo)), "", InspectOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCheck12MP(b *testing.B) {
	photo := benchPhoto(b)
	b.ReportAllocs()
	for b.Loop() {
		if err := Check(context.Background(), bytes.NewReader(photo), int64(len(photo)), Facts{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDecode12MP(b *testing.B) {
	photo := benchPhoto(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Decode(context.Background(), bytes.NewReader(photo), int64(len(photo)), Facts{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMake12MP(b *testing.B) {
	photo := benchPhoto(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Make(context.Background(), bytes.NewReader(photo), int64(len(photo)), Facts{}); err != nil {
			b.Fatal(err)
		}
	}
}
