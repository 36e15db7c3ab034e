package heicwasm

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"image"
	"os"
	"path/filepath"
	"testing"
)

func writeFile(t *testing.T, path string, b []byte) {
	t.Helper()
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

func testFile(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("../testdata/heic", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func decodeBytes(ctx context.Context, b []byte, pixels int64) (image.Image, error) {
	return Decode(ctx, bytes.NewReader(b), int64(len(b)), pixels)
}

func TestPicturesKeepTheirSampling(t *testing.T) {
	for _, c := range []struct {
		file  string
		size  image.Point
		ratio image.YCbCrSubsampleRatio
		grey  bool
	}{
		{"phantom.heic", image.Pt(320, 240), image.YCbCrSubsampleRatio420, false},
		{"phantom-10bit-422.heic", image.Pt(161, 121), image.YCbCrSubsampleRatio422, false},
		{"phantom-444.heic", image.Pt(161, 121), image.YCbCrSubsampleRatio444, false},
		{"phantom-grey.heic", image.Pt(160, 120), 0, true},
	} {
		img, err := decodeBytes(context.Background(), testFile(t, c.file), 320*240)
		if err != nil {
			t.Errorf("%s: %v", c.file, err)
			continue
		}
		y, planar := img.(*image.YCbCr)
		if _, grey := img.(*image.Gray); img.Bounds().Size() != c.size || grey != c.grey || planar && y.SubsampleRatio != c.ratio {
			t.Errorf("%s: %T of %v", c.file, img, img.Bounds())
		}
	}
}

func TestLimitsHoldARealPicture(t *testing.T) {
	b := testFile(t, "phantom.heic")
	if _, err := decodeBytes(context.Background(), b, 320*240-1); !errors.Is(err, ErrFile) {
		t.Errorf("more pixels than its headers say: %v", err)
	}
	e := newEngine(fuelSlice)
	if err := e.start(); err != nil {
		t.Fatal(err)
	}
	right := limitsOf(320*240, int64(len(b)))
	for _, c := range []struct {
		name string
		lim  limits
		want error
	}{
		{"right", right, nil},
		{"too little work", limits{right.memory, 2_000_000}, ErrLimit},
		{"too little memory", limits{300 << 10, right.fuel}, ErrLimit},
	} {
		in, err := e.instantiate(context.Background(), c.lim)
		if err == nil {
			_, err = in.decode(bytes.NewReader(b), int64(len(b)), 320*240)
			in.close()
		}
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
}

func TestDecodingEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := decodeBytes(ctx, testFile(t, "phantom.heic"), 320*240); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// failing fails to be read.
type failing struct{}

func (failing) ReadAt([]byte, int64) (int, error) { return 0, os.ErrPermission }

func TestAFileThatCannotBeReadIsNotCalledDamaged(t *testing.T) {
	_, err := Decode(context.Background(), failing{}, 1000, 320*240)
	if !errors.Is(err, os.ErrPermission) || errors.Is(err, ErrFile) {
		t.Error(err)
	}
}

func TestEveryBrandOfHEICIsTaken(t *testing.T) {
	for _, brand := range []string{"heic", "heix", "mif1", "msf1", "heim", "heis", "mif2"} {
		b := testFile(t, "phantom.heic")
		copy(b[8:], brand)
		if _, err := decodeBytes(context.Background(), b, 320*240); err != nil {
			t.Errorf("%s: %v", brand, err)
		}
		copy(b[16:], "abcdefghijkl")
		if _, err := decodeBytes(context.Background(), b, 320*240); err != nil {
			t.Errorf("%s, of compatible brands nobody knows: %v", brand, err)
		}
	}
}

func FuzzRebrand(f *testing.F) {
	f.Add([]byte("\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00mif1heic"))
	f.Add([]byte("\xff\xff\xff\xffftypmif1\x00\x00\x00\x00abcd"))
	f.Fuzz(func(t *testing.T, b []byte) {
		was := bytes.Clone(b)
		rebrand(b)
		if len(b) != len(was) {
			t.Fatal("the file changed its size")
		}
		end := len(b)
		if len(b) >= 4 {
			end = int(min(int64(binary.BigEndian.Uint32(b)), int64(len(b))))
		}
		for i := range b {
			if b[i] != was[i] && (i < 8 || i >= 12 && i < 16 || i >= max(end, 12)) {
				t.Fatalf("byte %d is none of a brand", i)
			}
		}
	})
}
