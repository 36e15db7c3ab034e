package overlay

import (
	"bytes"
	"flag"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"thatch/timeline"
)

var update = flag.Bool("update", false, "write the golden files anew")

func field(w, h int, c color.NRGBA) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	draw.Draw(img, img.Bounds(), image.NewUniform(c), image.Point{}, draw.Src)
	return img
}

// example is every kind of line on one small dog.
func example(t *testing.T) Lines {
	t.Helper()
	lm := moved(stood(), func(p XY) XY { return scale(p, 0.28) })
	c := skin(t, lm, map[timeline.Zone]float64{timeline.Withers: 6, timeline.Back: 6, timeline.Rump: 4})
	at := func(mm float64) Path { return Offset(c, func(timeline.Zone) float64 { return mm }, 1) }
	return Lines{
		Skin: c.Path(), TargetMin: at(4), TargetMax: at(12), Expected: at(20), ExpectedLow: at(16), ExpectedHigh: at(25),
		Measured: Offset(c, func(z timeline.Zone) float64 {
			return map[timeline.Zone]float64{timeline.Back: 30, timeline.Loin: 30}[z] + 2
		}, 1),
	}
}

func golden(t *testing.T, name string, got []byte, same func(got, want []byte) bool) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !same(got, want) {
		t.Errorf("%s is no longer what it was; look at it, then run with -update", name)
	}
}

func TestThePathOfTheSkinLineIsAsItWas(t *testing.T) {
	golden(t, "skin.path", []byte(PathD(skin(t, stood(), map[timeline.Zone]float64{timeline.Back: 12, timeline.Withers: 12}).Path()...)+"\n"), bytes.Equal)
}

// Tolerance 3 of 255 a channel: processors round the last bit of a float otherwise.
func TestTheDrawingIsAsItWas(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, Draw(field(360, 360, color.NRGBA{0x6a, 0x74, 0x70, 0xff}), example(t))); err != nil {
		t.Fatal(err)
	}
	golden(t, "lines.png", b.Bytes(), func(got, want []byte) bool {
		g, err := png.Decode(bytes.NewReader(got))
		if err != nil {
			t.Fatal(err)
		}
		w, err := png.Decode(bytes.NewReader(want))
		if err != nil {
			t.Fatal(err)
		}
		if g.Bounds() != w.Bounds() {
			return false
		}
		for y := range g.Bounds().Dy() {
			for x := range g.Bounds().Dx() {
				p, q := color.NRGBAModel.Convert(g.At(x, y)).(color.NRGBA), color.NRGBAModel.Convert(w.At(x, y)).(color.NRGBA)
				for _, d := range []int{int(p.R) - int(q.R), int(p.G) - int(q.G), int(p.B) - int(q.B)} {
					if d > 3 || d < -3 {
						return false
					}
				}
			}
		}
		return true
	})
}

// Whoever sees no colours must still tell the lines apart: along a straight line of each kind the inked share differs.
func TestLinesDifferWithoutColour(t *testing.T) {
	line := Path{{{X: 20, Y: 50}, {X: 680, Y: 50}}}
	inked := func(l Lines) (share, weight float64) {
		img := Draw(field(700, 100, color.NRGBA{0x80, 0x80, 0x80, 0xff}), l)
		on, rows := 0, 0
		for x := 20; x < 680; x++ {
			if c := img.NRGBAAt(x, 50); max(absDiff(c.R, 0x80), absDiff(c.G, 0x80), absDiff(c.B, 0x80)) > 40 && !dark(c) {
				on++
			}
			for y := range 100 {
				if img.NRGBAAt(x, y) != (color.NRGBA{0x80, 0x80, 0x80, 0xff}) {
					rows++
				}
			}
		}
		return float64(on) / 660, float64(rows) / 660
	}
	m, mw := inked(Lines{Measured: line})
	e, _ := inked(Lines{Expected: line})
	d, _ := inked(Lines{TargetMin: line})
	if m < 0.999 || e > 0.85 || e < 0.5 || d > 0.5 || d < 0.1 || mw < 2.5 {
		t.Errorf("inked: measured %.2f (want all), expected %.2f (dashes), target %.2f (dots); measured %.1f px wide", m, e, d, mw)
	}
}

func dark(c color.NRGBA) bool { return c.R < 0x50 && c.G < 0x50 && c.B < 0x50 }

func absDiff(a, b uint8) uint8 { return max(a, b) - min(a, b) }

func TestDrawingLeavesThePictureAloneAndMindsItsEdges(t *testing.T) {
	img := field(40, 30, color.NRGBA{9, 9, 9, 255})
	before := append([]uint8(nil), img.Pix...)
	far := Path{{{X: -1e9, Y: 15}, {X: 1e9, Y: 15}}, {{X: 5, Y: 5}}, {}}
	out := Draw(img, Lines{Measured: far, TargetMin: far, TargetMax: far})
	if !bytes.Equal(img.Pix, before) {
		t.Error("the original was drawn on")
	}
	if out.NRGBAAt(20, 15).R < 150 {
		t.Errorf("the line through the picture is missing: %v", out.NRGBAAt(20, 15))
	}
	cut := field(60, 60, color.NRGBA{9, 9, 9, 255}).SubImage(image.Rect(10, 10, 30, 20)).(*image.NRGBA)
	if got := Draw(cut, Lines{}); got.Bounds() != image.Rect(0, 0, 20, 10) || got.NRGBAAt(3, 3).R != 9 {
		t.Errorf("%v", got.Bounds())
	}
	if got := Draw(image.NewNRGBA(image.Rectangle{}), example(t)); !got.Bounds().Empty() {
		t.Error(got.Bounds())
	}
}

func TestPicturesStandSideBySideAtTheLowerHeight(t *testing.T) {
	red, blue := color.NRGBA{200, 0, 0, 255}, color.NRGBA{0, 0, 200, 255}
	out := SideBySide(field(40, 20, red), field(30, 40, blue), 6)
	if out.Bounds() != image.Rect(0, 0, 40+6+15, 20) {
		t.Fatal(out.Bounds())
	}
	if out.NRGBAAt(20, 10) != red || out.NRGBAAt(43, 10) != (color.NRGBA{0x80, 0x80, 0x80, 0xff}) || out.NRGBAAt(53, 10) != blue {
		t.Error(out.NRGBAAt(20, 10), out.NRGBAAt(43, 10), out.NRGBAAt(53, 10))
	}
	none := image.NewNRGBA(image.Rectangle{})
	if got := SideBySide(none, field(3, 4, red), 6); got.Bounds() != image.Rect(0, 0, 3, 4) || got.NRGBAAt(1, 1) != red {
		t.Error(got.Bounds())
	}
	if got := SideBySide(none, none, 6); !got.Bounds().Empty() {
		t.Error(got.Bounds())
	}
}

func BenchmarkDraw1600(b *testing.B) {
	lm := moved(stood(), func(p XY) XY { return p })
	c, err := SkinLine(lm, nil, "")
	if err != nil {
		b.Fatal(err)
	}
	at := func(mm float64) Path { return Offset(c, func(timeline.Zone) float64 { return mm }, 0.5) }
	l := Lines{Skin: c.Path(), Measured: at(20), Expected: at(22), ExpectedLow: at(18), ExpectedHigh: at(27), TargetMin: at(10), TargetMax: at(15)}
	img := field(1600, 1200, color.NRGBA{90, 100, 95, 255})
	for b.Loop() {
		Draw(img, l)
	}
}
