package imaging

import (
	"bytes"
	"context"
	"image/jpeg"
	"sync"
	"testing"
	"time"
)

// benchPhoto is a 12 MP photo of our own as phones write it: 4:2:0, turned by 90°, Display P3, 3 MB.
func benchPhoto(b testing.TB) []byte {
	photo, err := theBenchPhoto()
	if err != nil {
		b.Fatal(err)
	}
	return photo
}

var theBenchPhoto = sync.OnceValues(func() ([]byte, error) {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, opaque(coatPhoto(4032, 3024)), &jpeg.Options{Quality: 95}); err != nil {
		return nil, err
	}
	photo, err := InsertEXIF(b.Bytes(), EXIFFields{TakenLocal: time.Date(2026, 5, 6, 7, 8, 9, 0, time.UTC), Orientation: 6})
	return insert(photo, segment(0xe2, "ICC_PROFILE\x00\x01\x01"+string(testProfile(p3Primaries, 4)))), err
})

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

// Eight photos at once, as when she empties her phone: photos/s on the cores that -cpu gives.
func BenchmarkMakeEightAtOnce(b *testing.B) {
	photo := benchPhoto(b)
	n := 0
	for b.Loop() {
		var all sync.WaitGroup
		for range 8 {
			all.Go(func() {
				if _, err := Make(context.Background(), bytes.NewReader(photo), int64(len(photo)), Facts{}); err != nil {
					b.Error(err)
				}
			})
		}
		all.Wait()
		n += 8
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "photos/s")
}
