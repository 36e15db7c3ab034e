//go:build !noheic

package imaging

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/png"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"thatch/imaging/heicwasm"
	"thatch/timeline/outside"
)

func heicFile(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", "heic", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func decodeHEIC(t testing.TB, b []byte) *image.NRGBA {
	t.Helper()
	img, err := Decode(context.Background(), bytes.NewReader(b), int64(len(b)), Facts{})
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// heicDifference is over all channels, in levels of 255.
func heicDifference(t testing.TB, a, b *image.NRGBA) float64 {
	t.Helper()
	if a.Rect != b.Rect {
		t.Fatalf("%v and %v", a.Rect, b.Rect)
	}
	sum := 0
	for i := range a.Pix {
		sum += abs(int(a.Pix[i]) - int(b.Pix[i]))
	}
	return float64(sum) / float64(len(a.Pix)/4*3)
}

// Check 36, kind X: Debian's libheif decodes real files of phones and cameras to the same pixels, the same way up. It
// interpolates chroma and rounds 10 and 12 bits otherwise than is done here. It leaves colours unconverted, and so does
// this test.
func TestHEICPixelsAgreeWithTheReferenceDecoder(t *testing.T) {
	tool := outside.Tool(t, "heif-convert", "libheif-examples")
	files, err := filepath.Glob(filepath.Join(outside.Dir(t, "exif"), "files", "*.[hH][eE][iI][cCfF]"))
	if err != nil {
		t.Fatal(err)
	}
	own, _ := filepath.Glob("testdata/heic/*.heic")
	if len(own) < 4 {
		t.Fatalf("%d files of our own", len(own))
	}
	const tolerance = 1.5
	compared := 0
	for _, path := range append(files, own...) {
		r, size := openFile(t, path)
		s, err := sourceOf(r, size, Facts{})
		if err != nil {
			continue // refused by its headers, which other tests look at
		}
		t.Run(filepath.Base(path), func(t *testing.T) {
			out := filepath.Join(t.TempDir(), "out.png")
			said, refErr := exec.Command(tool, path, out).CombinedOutput()
			img, err := heicPixels(context.Background(), r, size, s.box)
			if refErr != nil {
				if AsRefusal(err) == nil {
					t.Fatalf("%v, which the reference does not decode:\n%s", err, said)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if _, err := os.Stat(out); err != nil {
				out = out[:len(out)-4] + "-1.png" // of several pictures, the first
			}
			f, _ := openFile(t, out)
			ref, err := png.Decode(f)
			if err != nil {
				t.Fatal(err)
			}
			compared++
			if d := heicDifference(t, turn(img, 1), turn(ref, 1)); d > tolerance {
				t.Errorf("the mean difference is %.2f levels", d)
			} else {
				t.Logf("%v, mean difference %.2f levels", img.Bounds().Size(), d)
			}
		})
	}
	if compared < 11 {
		t.Errorf("only %d files were compared", compared)
	}
}

// Check 36, kind A: the decoder has turned the picture; the orientation that is reported is not applied once more, and
// neither is EXIF's.
func TestATurnedHEICIsTurnedOnce(t *testing.T) {
	path := filepath.Join("testdata", "heic", "phantom.heic")
	plain := decodeHEIC(t, repack(t, path))
	for _, props := range [][][]byte{{propIROT(1)}, {propIROT(2)}, {propIROT(3)}, {propIMIR(0)}, {propIMIR(1)}, {propIROT(3), propIMIR(1)}} {
		b := repack(t, path, props...)
		f := inspectBytes(t, b, "")
		want := turn(plain, f.Orientation)
		if got := decodeHEIC(t, b); got.Rect.Dx() != f.WidthPX || heicDifference(t, got, want) > 0 {
			t.Errorf("orientation %d: %v", f.Orientation, got.Rect)
		}
	}
	h := tilesOf(t, path)
	h.items = append(h.items, testItem{id: 9, kind: "Exif", data: exifItem(exifOf(testDate, 6)), cdsc: []uint32{h.primary}})
	b := h.bytes()
	d, err := Make(context.Background(), bytes.NewReader(b), int64(len(b)), inspectBytes(t, b, ""))
	if err != nil {
		t.Fatal(err)
	}
	view := decodeHEICDerivative(t, d.View)
	if size := view.Bounds().Size(); size != image.Pt(450, 600) {
		t.Errorf("the view is %v", size)
	}
	if got := heicDifference(t, turn(view, 1), decodeHEIC(t, b)); got > 3 {
		t.Errorf("the view differs by %.1f levels", got)
	}
}

func decodeHEICDerivative(t *testing.T, b []byte) image.Image {
	t.Helper()
	img, err := Decode(context.Background(), bytes.NewReader(b), int64(len(b)), Facts{})
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// tilesOf is a photo as phones write them: a grid of 2 × 2 times the same tile, cut to 600 × 450 px, turned by a
// quarter.
func tilesOf(t *testing.T, path string) testHEIF {
	t.Helper()
	hvcc, data := codedPicture(t, path)
	h := testHEIF{
		primary: 5, ilocVersion: 1, idat: gridData(2, 2, 600, 450),
		props: [][]byte{hvcc, propISPE(320, 240), propISPE(600, 450), propIROT(3)},
	}
	for id := uint32(1); id <= 4; id++ {
		h.items = append(h.items, testItem{id: id, kind: "hvc1", data: data, props: []int{1, 2}})
	}
	h.items = append(h.items, testItem{id: 5, kind: "grid", inIDAT: &[2]int{0, 8}, props: []int{3, 4}, dimg: []uint32{1, 2, 3, 4}})
	return h
}

// codedPicture is the configuration and the data of a file's coded picture.
func codedPicture(t *testing.T, path string) (hvcc, data []byte) {
	t.Helper()
	r, size := openFile(t, path)
	w := &heifWalk{c: newCursor(r, size), out: &container{}, budget: maxHEIFMetadata, t: heifTables{items: map[uint32]*heifItem{}}}
	meta, _ := w.findMeta()
	w.readMeta(meta)
	for _, item := range w.t.order {
		if item.kind == "hvc1" {
			data = w.content(item, size)
			w.properties(item, func(kind string, b heifBox) {
				if kind == "hvcC" {
					hvcc = isoBox(kind, w.body(b, maxHVCCBytes))
				}
			})
		}
	}
	if len(hvcc) == 0 || len(data) == 0 {
		t.Fatal("no coded picture")
	}
	return hvcc, data
}

func TestTilesArePutTogether(t *testing.T) {
	path := filepath.Join("testdata", "heic", "phantom.heic")
	tile := decodeHEIC(t, heicFile(t, "phantom.heic"))
	whole := image.NewNRGBA(image.Rect(0, 0, 600, 450))
	for y := range 450 {
		for x := range 600 {
			whole.SetNRGBA(x, y, tile.NRGBAAt(x%320, y%240))
		}
	}
	// libheif puts tiles together in RGB, which blurs chroma a little.
	got := decodeHEIC(t, tilesOf(t, path).bytes())
	if d := heicDifference(t, got, turn(whole, 6)); d > 0.3 {
		t.Errorf("the mean difference is %.2f levels", d)
	}
}

// A picture laid over itself 500 times is small and takes the work of 500. It is stopped long before.
func TestAPictureOfHiddenWorkIsRefused(t *testing.T) {
	for _, c := range []struct {
		times int
		limit bool
	}{{2, false}, {500, true}} {
		hvcc, data := codedPicture(t, filepath.Join("testdata", "heic", "phantom.heic"))
		h := testHEIF{primary: 1, ilocVersion: 1, props: [][]byte{hvcc, propISPE(320, 240)}}
		// ISO/IEC 23008-12, section 6.6.2.2: version, flags, a background, the size, a place for each picture.
		over := slices.Concat(make([]byte, 10), isoUint(2, 320), isoUint(2, 240), make([]byte, 4*c.times))
		h.idat = slices.Concat(over, data)
		h.items = []testItem{{id: 1, kind: "iovl", props: []int{2}, inIDAT: &[2]int{0, len(over)}}}
		for id := uint32(2); id < uint32(2+c.times); id++ {
			h.items[0].dimg = append(h.items[0].dimg, id)
			h.items = append(h.items, testItem{id: id, kind: "hvc1", props: []int{1, 2}, inIDAT: &[2]int{len(over), len(data)}})
		}
		b := h.bytes()
		err := Check(context.Background(), bytes.NewReader(b), int64(len(b)), Facts{})
		if c.limit != errors.Is(err, heicwasm.ErrLimit) || !c.limit && err != nil {
			t.Errorf("%d times: %v", c.times, err)
		}
	}
}

// calm checks that an answer is a picture of the size that was promised, or a refusal.
func calm(t *testing.T, what string, b []byte) (refused bool) {
	t.Helper()
	f, _ := Inspect(bytes.NewReader(b), int64(len(b)), "", InspectOptions{})
	img, err := Decode(context.Background(), bytes.NewReader(b), int64(len(b)), Facts{})
	switch {
	case err != nil && AsRefusal(err) == nil:
		t.Errorf("%s: %v", what, err)
	case err == nil && (img.Rect.Dx() != f.WidthPX || img.Rect.Dy() != f.HeightPX):
		t.Errorf("%s: %v, promised %d × %d", what, img.Rect, f.WidthPX, f.HeightPX)
	}
	return err != nil
}

func TestACutOffHEICIsRefused(t *testing.T) {
	for _, b := range [][]byte{heicFile(t, "phantom.heic"), tilesOf(t, filepath.Join("testdata", "heic", "phantom.heic")).bytes()} {
		for i := range 50 {
			n := len(b) * i / 50
			if !calm(t, "cut off", b[:n]) {
				t.Errorf("%d of %d bytes are taken", n, len(b))
			}
		}
	}
}

func TestADamagedHEICIsAnsweredCalmly(t *testing.T) {
	b := heicFile(t, "phantom.heic")
	rnd := rand.New(rand.NewPCG(5, 7))
	refused := 0
	for range 200 {
		bad := slices.Clone(b)
		for range 1 + rnd.IntN(3) {
			bad[rnd.IntN(len(bad))] ^= 1 << rnd.IntN(8)
		}
		if calm(t, "flipped", bad) {
			refused++
		}
	}
	if refused < 10 {
		t.Errorf("only %d of 200 are refused", refused)
	}
}

// What a failing card leaves, anywhere in the picture. The decoder alone would paint over it.
func TestAHEICWithAHoleOfZerosIsRefused(t *testing.T) {
	b := heicFile(t, "phantom.heic")
	start := bytes.Index(b, []byte("mdat")) + 4
	for at := start; at+512 <= len(b); at += 512 {
		bad := slices.Clone(b)
		clear(bad[at : at+512])
		err := Check(context.Background(), bytes.NewReader(bad), int64(len(bad)), Facts{})
		if r := AsRefusal(err); r == nil || r.Code != CodeDamaged {
			t.Errorf("%d zeros at %d: %v", 512, at, err)
		}
	}
	h := tilesOf(t, filepath.Join("testdata", "heic", "phantom.heic"))
	clear(h.items[3].data[100:1000]) // all tiles share it
	for i := range h.items[:3] {
		h.items[i].data = b[start:][len(b[start:])-len(h.items[3].data):]
	}
	bad := h.bytes()
	if err := Check(context.Background(), bytes.NewReader(bad), int64(len(bad)), Facts{}); !errors.Is(err, errHole) {
		t.Errorf("in the last tile: %v", err)
	}
}

// stuck is a decoder that never ends by itself.
type stuck struct{ stillDecoder }

func (stuck) decode(ctx context.Context, _ io.ReaderAt, _, _ int64) (image.Image, error) {
	<-ctx.Done()
	return nil, ctx.Err()
}

func TestHEICPhotosThatWaitDoNotKeepOthersWaiting(t *testing.T) {
	was := heicDecoder
	heicDecoder = stuck{}
	defer func() { heicDecoder = was }()
	ctx, cancel := context.WithCancel(context.Background())
	h := onePicture()
	h.props[1] = propISPE(8000, 6000) // nearly the whole budget
	big := h.bytes()
	const n = 3
	done := make(chan error, n)
	for range n {
		go func() { done <- Check(ctx, bytes.NewReader(big), int64(len(big)), Facts{}) }()
	}
	small := encodeTestJPEG(t, image.NewNRGBA(image.Rect(0, 0, 64, 64)))
	if err := Check(context.Background(), bytes.NewReader(small), int64(len(small)), Facts{}); err != nil {
		t.Error(err)
	}
	cancel()
	for range n {
		if err := <-done; !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
	}
}
