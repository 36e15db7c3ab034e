// Package tested is for tests: the real binary, photos to hand in, and what lies in a folder.
package tested

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"image"
	"image/jpeg"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"thatch/imaging"
)

// Built is the real program, built once a test run.
var Built = sync.OnceValues(func() (string, error) {
	built.Store(true)
	dir, err := os.MkdirTemp("", "thatch-test-")
	if err != nil {
		return "", err
	}
	name := filepath.Join(dir, "thatch")
	if runtime.GOOS == "windows" {
		name += ".exe"
	}
	out, err := exec.Command("go", "build", "-o", name, "thatch/cmd/thatch").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("go build: %w\n%s", err, out)
	}
	return name, nil
})

var built atomic.Bool

// Clean runs the tests and takes the binary away after the last one.
type Clean struct{ M *testing.M }

// Run is what TestMain needs.
func (c Clean) Run() int {
	code := c.M.Run()
	if built.Load() {
		if name, err := Built(); err == nil {
			os.RemoveAll(filepath.Dir(name))
		}
	}
	return code
}

// WallPhotos are n different photos of w × h px, some 2 bits a pixel, as one phone took them a minute apart. They are one
// picture under different dates, since only hashes must differ.
func WallPhotos(t testing.TB, n, w, h int) [][]byte {
	t.Helper()
	img := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
	seed := uint32(7)
	for i := range img.Y {
		seed = seed*1664525 + 1013904223
		x, y := float64(i%img.YStride), float64(i/img.YStride)
		img.Y[i] = uint8(120 + 60*math.Sin(x/37+y/53) + float64(seed>>28) - 8)
	}
	for i := range img.Cb {
		img.Cb[i], img.Cr[i] = uint8(118+i%9), uint8(136+i/img.CStride%11)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	out := make([][]byte, n)
	for i := range out {
		taken := time.Date(2026, 3, 5, 9, 0, 0, 0, time.UTC).Add(time.Duration(i) * time.Minute)
		photo, err := imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: taken, Orientation: 6})
		if err != nil {
			t.Fatal(err)
		}
		out[i] = photo
	}
	return out
}

// Tree lists every file under dir with its length and SHA-256, and every folder.
func Tree(dir string) (string, error) {
	var b strings.Builder
	err := filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(dir, name)
		if err != nil {
			return err
		}
		if d.IsDir() {
			fmt.Fprintf(&b, "%s/\n", filepath.ToSlash(rel))
			return nil
		}
		data, err := os.ReadFile(name)
		fmt.Fprintf(&b, "%s %d %x\n", filepath.ToSlash(rel), len(data), sha256.Sum256(data))
		return err
	})
	return b.String(), err
}
