//go:build linux && !noheic

package imaging

import (
	"bytes"
	"context"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"thatch/timeline/outside"
)

// 12 MP as phones write them, 48 tiles, and one coded picture of our own texture, from decoding to both derivatives. The
// first photo of a process takes half a second more, for compiling the module. cpu-ms is the processors' time
// a photo, which does not depend on what else they do; peak-MiB the most that the process has held.
func BenchmarkHEIC12MP(b *testing.B) {
	b.Run("phone", func(b *testing.B) {
		photo, err := os.ReadFile(filepath.Join(outside.Dir(b, "exif"), "files", "ia__heic_mobile_iphone_13_pro_max.HEIC"))
		if err != nil {
			b.Fatal(err)
		}
		benchHEIC(b, photo)
	})
	b.Run("one", func(b *testing.B) {
		tool := outside.Tool(b, "heif-enc", "libheif-examples")
		dir := b.TempDir()
		in, out := filepath.Join(dir, "in.png"), filepath.Join(dir, "out.heic")
		img := decodeHEIC(b, benchPhoto(b))
		f, err := os.Create(in)
		if err != nil {
			b.Fatal(err)
		}
		if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(f, img); err != nil {
			b.Fatal(err)
		}
		_ = f.Close()
		if said, err := exec.Command(tool, "-q", "50", "-o", out, in).CombinedOutput(); err != nil {
			b.Fatalf("%v\n%s", err, said)
		}
		photo, err := os.ReadFile(out)
		if err != nil {
			b.Fatal(err)
		}
		benchHEIC(b, photo)
	})
}

func benchHEIC(b *testing.B, photo []byte) {
	b.ReportAllocs()
	var before, after syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &before)
	for b.Loop() {
		if _, err := Make(context.Background(), bytes.NewReader(photo), int64(len(photo)), Facts{}); err != nil {
			b.Fatal(err)
		}
	}
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &after)
	cpu := after.Utime.Nano() + after.Stime.Nano() - before.Utime.Nano() - before.Stime.Nano()
	b.ReportMetric(float64(cpu)/1e6/float64(b.N), "cpu-ms")
	b.ReportMetric(float64(after.Maxrss)/1024, "peak-MiB")
}
