package imaging

import (
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"thatch/timeline/outside"
)

// repack takes the coded picture of a HEIC file of one picture into a file of our own, with further properties.
func repack(t *testing.T, path string, more ...[]byte) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	r, size := openFile(t, path)
	w := &heifWalk{c: newCursor(r, size), out: &container{}, budget: maxHEIFMetadata, t: heifTables{items: map[uint32]*heifItem{}}}
	meta, ok := w.findMeta()
	if !ok {
		t.Fatal("no meta box")
	}
	w.readMeta(meta)
	item := w.t.items[w.t.primary]
	if item == nil || item.kind != "hvc1" || w.fault != nil {
		t.Fatalf("not a file of one coded picture: %v", w.fault)
	}
	h := testHEIF{primary: 1, items: []testItem{{id: 1, kind: "hvc1", data: w.content(item, size)}}}
	w.properties(item, func(kind string, p heifBox) {
		if kind == "hvcC" || kind == "ispe" {
			h.props = append(h.props, isoBox(kind, b[p.body:p.end]))
		}
	})
	h.props = append(h.props, more...)
	for n := range h.props {
		h.items[0].props = append(h.items[0].props, n+1)
	}
	return h.bytes()
}

// Check 36, kind X: libheif's converter, as Debian has it, turns a real picture by irot and imir; the orientation that
// is reported here must put every pixel of the unturned picture where it stands in the turned one.
func TestTurnsAgreeWithTheReferenceDecoder(t *testing.T) {
	tool := outside.Tool(t, "heif-convert", "libheif-examples")
	path := filepath.Join(outside.Dir(t, "exif"), "files", "ia__heic_samplefilehub.heif")
	dir := t.TempDir()
	convert := func(heic []byte) image.Image {
		t.Helper()
		in, out := filepath.Join(dir, "in.heic"), filepath.Join(dir, "out.png")
		if err := os.WriteFile(in, heic, 0o600); err != nil {
			t.Fatal(err)
		}
		if said, err := exec.Command(tool, in, out).CombinedOutput(); err != nil {
			t.Fatalf("heif-convert: %v\n%s", err, said)
		}
		f, _ := openFile(t, out)
		img, err := png.Decode(f)
		if err != nil {
			t.Fatal(err)
		}
		return img
	}
	plain := convert(repack(t, path))
	size := plain.Bounds().Size()
	for _, c := range []struct {
		name  string
		props [][]byte
	}{
		{"a quarter", [][]byte{propIROT(1)}},
		{"a half", [][]byte{propIROT(2)}},
		{"three quarters", [][]byte{propIROT(3)}},
		{"top and bottom", [][]byte{propIMIR(0)}},
		{"left and right", [][]byte{propIMIR(1)}},
		{"a quarter, then left and right", [][]byte{propIROT(1), propIMIR(1)}},
		{"left and right, then a quarter", [][]byte{propIMIR(1), propIROT(1)}},
		{"three quarters, then top and bottom", [][]byte{propIROT(3), propIMIR(0)}},
		{"cropped, then a quarter", [][]byte{propCLAP(int32(size.X-40), 1, int32(size.Y-20), 1, 0, 1, 0, 1), propIROT(1)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			heic := repack(t, path, c.props...)
			f := inspectBytes(t, heic, "")
			got := convert(heic)
			if got.Bounds().Dx() != f.WidthPX || got.Bounds().Dy() != f.HeightPX {
				t.Fatalf("%d × %d px, the reference has %v", f.WidthPX, f.HeightPX, got.Bounds().Size())
			}
			w, h := f.WidthPX, f.HeightPX
			if turned(f.Orientation) {
				w, h = h, w
			}
			left, top := (size.X-w)/2, (size.Y-h)/2 // the crop is central
			x0, y0, rightX, rightY, downX, downY := upright(f.Orientation, w, h)
			wrong, seen := 0, 0
			for y := 0; y < h; y += 3 {
				for x := 0; x < w; x += 3 {
					seen++
					want, is := plain.At(left+x, top+y), got.At(x0+x*rightX+y*downX, y0+x*rightY+y*downY)
					if fmt.Sprint(want) != fmt.Sprint(is) {
						wrong++
					}
				}
			}
			if wrong > 0 {
				t.Errorf("%d of %d pixels differ at orientation %d", wrong, seen, f.Orientation)
			}
		})
	}
}
