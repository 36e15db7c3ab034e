package marker

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/draw"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	qr "github.com/piglig/go-qr"

	"thatch/imaging"
	"thatch/timeline/outside"
)

var empty12MP = sync.OnceValue(func() *image.NRGBA { return room(4032, 3024, 1) })

var spare12MP = sync.OnceValue(func() *image.NRGBA { return image.NewNRGBA(empty12MP().Rect) })

// with12MP lends out an empty photo of 4032 × 3024 px, always the same one.
func with12MP(t testing.TB, f func(img *image.NRGBA)) {
	t.Helper()
	img := spare12MP()
	copy(img.Pix, empty12MP().Pix)
	f(img)
}

// troubles are what was told, in order, each once.
func troubles(f Found) []Trouble {
	out := []Trouble{}
	for _, t := range f.Told {
		out = append(out, t.Trouble)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func TestWhatLiesOnTheCardIsToldAndGivesNoScale(t *testing.T) {
	for _, c := range []struct {
		name  string
		cover func(u, v float64) bool
		read  bool // the scale is read all the same
		none  bool // nothing may be said: nothing is left that says symbol
	}{
		{"a hair across it", func(u, v float64) bool { return math.Abs(u+0.3*v-0.1) < 0.006 }, true, false},
		{"a fleck on one module", func(u, v float64) bool { return math.Hypot(u-0.2, v-0.1) < 0.03 }, true, false},
		{"a finger from below", func(u, v float64) bool { return math.Abs(u-0.1) < 0.12 && v > -0.1 }, false, false},
		{"the left half", func(u, v float64) bool { return u < 0 }, false, false},
		{"the right half", func(u, v float64) bool { return u > 0 }, false, false},
		{"the upper half", func(u, v float64) bool { return v < 0 }, false, false},
		{"the lower half", func(u, v float64) bool { return v > 0 }, false, false},
		{"the top left corner", func(u, v float64) bool { return u < -0.2 && v < -0.2 }, false, false},
		{"the top right corner", func(u, v float64) bool { return u > 0.2 && v < -0.2 }, false, false},
		{"the bottom right corner", func(u, v float64) bool { return u > 0.15 && v > 0.15 }, false, false},
		{"half along the falling diagonal", func(u, v float64) bool { return u > v }, false, true},
		{"half along the rising diagonal", func(u, v float64) bool { return u+v > 0 }, false, true},
		{"all of it", func(u, v float64) bool { return true }, false, true},
	} {
		for i, width := range []float64{200, 320} {
			s := typical(width, 10, -5, uint64(500+i))
			s.cover = c.cover
			with12MP(t, func(img *image.NRGBA) {
				truth, _ := s.shoot(t, img)
				got := Find(img, Options{FocalPX: s.focal})
				switch {
				case c.read:
					if got.Marker == nil || math.Abs(got.Marker.MMPerPX/truth-1) > 0.005 {
						t.Errorf("%s, %v px: %+v, told %v", c.name, width, got.Marker, troubles(got))
					}
				case got.Marker != nil:
					t.Errorf("%s, %v px: a scale %.3f %% off", c.name, width, 100*(got.Marker.MMPerPX/truth-1))
				case !c.none && len(got.Told) == 0:
					t.Errorf("%s, %v px: nothing is told", c.name, width)
				default:
					t.Logf("%s, %v px: %v", c.name, width, troubles(got))
				}
			})
		}
	}
}

// A card bent about its vertical is told from where it would cost half of a per cent, whichever way it is seen. The flat one
// is the first line; what is less bent may be read, within the bound.
func TestABentCardIsToldOrCostsNothing(t *testing.T) {
	for _, curve := range []float64{0, 0.1, 0.2, 0.35, 0.5} {
		for _, turn := range []float64{0, 30} {
			told, worst, said := 0, 0.0, map[Trouble]int{}
			n := outside.Many(t, 1)
			for i := range n {
				s := typical([]float64{200, 320}[i%2], turn, 3, uint64(900+i))
				s.curve = curve
				with12MP(t, func(img *image.NRGBA) {
					truth, _ := s.shoot(t, img)
					got := Find(img, Options{FocalPX: s.focal})
					if got.Marker == nil {
						// A strongly bent one hides its own edge.
						// A strong bend may hide modules from the reader; then that is what is told.
						for _, x := range troubles(got) {
							if x != TroubleBent && x != TroubleHidden && x != TroubleUnread {
								t.Errorf("curve %v, turn %v, %v px: told %v", curve, turn, s.widthPX, x)
							}
							said[x]++
						}
						if len(got.Told) == 0 {
							t.Errorf("curve %v, turn %v, %v px: nothing is told", curve, turn, s.widthPX)
						}
						told++
						return
					}
					worst = max(worst, math.Abs(got.Marker.MMPerPX/truth-1))
				})
			}
			t.Logf("width over radius %.2f, turned %2.0f°: told %d of %d %v, error of the others at most %.2f %%", curve, turn, told, n, said, 100*worst)
			if worst > 0.005 || curve == 0 && told > 0 || curve >= 0.5 && told < n {
				t.Errorf("curve %v, turn %v: told %d of %d, worst %.2f %%", curve, turn, told, n, 100*worst)
			}
		}
	}
}

// strange lays another's symbol into the photo, upright, pitch px a module.
func strange(t testing.TB, img *image.NRGBA, text string, level qr.Ecc, at image.Point, pitch int) {
	t.Helper()
	code, err := qr.EncodeText(text, level)
	if err != nil {
		t.Fatal(err)
	}
	pic, err := code.ToImage(qr.NewQrCodeImgConfig(pitch, 4))
	if err != nil {
		t.Fatal(err)
	}
	draw.Draw(img, pic.Bounds().Add(at), pic, image.Point{}, draw.Src)
}

func TestStrangersAndSeveralAreTold(t *testing.T) {
	mine := typical(240, 5, 0, 40)
	other := mine
	other.text.Dog, other.mid = "0000000000abcdef", XY{X: mine.mid.X + 900, Y: mine.mid.Y}
	if other.mid.X > 3800 {
		other.mid.X -= 1800
	}
	twin := other
	twin.text = mine.text
	for _, c := range []struct {
		name string
		draw func(img *image.NRGBA)
		want []Trouble
		read bool
	}{
		{"ours alone", func(img *image.NRGBA) { mine.shoot(t, img) }, []Trouble{}, true},
		{"an address on a poster", func(img *image.NRGBA) { strange(t, img, "https://example.org/", qr.Low, image.Pt(300, 300), 8) }, []Trouble{TroubleForeign}, false},
		{"a long text", func(img *image.NRGBA) {
			strange(t, img, strings.Repeat("The quick brown fox. ", 12), qr.Medium, image.Pt(300, 300), 6)
		}, []Trouble{TroubleForeign}, false},
		{"a number", func(img *image.NRGBA) { strange(t, img, "5901234123457", qr.High, image.Pt(300, 300), 10) }, []Trouble{TroubleForeign}, false},
		{"nearly our words", func(img *image.NRGBA) {
			strange(t, img, "THATCH1 7H2K9M4QX0ABCDEF 080", qr.Quartile, image.Pt(300, 300), 10)
		}, []Trouble{TroubleForeign}, false},
		{"our words in another symbol", func(img *image.NRGBA) {
			strange(t, img, "THATCH1 7H2K9M4QX0ABCDEF 80", qr.High, image.Pt(300, 300), 10)
		}, []Trouble{TroubleForeign}, false},
		{"a later version of ours", func(img *image.NRGBA) {
			strange(t, img, "THATCH2 7H2K9M4QX0ABCDEF 80 X", qr.Quartile, image.Pt(300, 300), 10)
		}, []Trouble{TroubleNewer}, false},
		{"ours, and an address on a poster", func(img *image.NRGBA) {
			mine.shoot(t, img)
			strange(t, img, "https://example.org/", qr.Low, image.Pt(300, 300), 8)
		}, []Trouble{TroubleForeign}, true},
		{"two of ours", func(img *image.NRGBA) { mine.shoot(t, img); other.shoot(t, img) }, []Trouble{TroubleSeveral}, false},
		{"the same twice", func(img *image.NRGBA) { mine.shoot(t, img); twin.shoot(t, img) }, []Trouble{TroubleSeveral}, false},
	} {
		with12MP(t, func(img *image.NRGBA) {
			c.draw(img)
			got := Find(img, Options{})
			if !slices.Equal(troubles(got), c.want) || (got.Marker != nil) != c.read {
				t.Errorf("%s: told %v, read %v", c.name, troubles(got), got.Marker != nil)
			}
			if got.Marker != nil && got.Marker.Text != mine.text {
				t.Errorf("%s: the dog of %v", c.name, got.Marker.Text)
			}
		})
	}
}

// The ID says which dog: 100 %, whatever the letters, whatever else is in the light.
func TestTheRightDogIsNamed(t *testing.T) {
	const letters = "0123456789abcdefghjkmnpqrstvwxyz"
	n := outside.Many(t, 12)
	for i := range n {
		s := typical(130+20*float64(i%10), float64(i%5)*7-14, float64(i%4)*7-10, uint64(3000+i))
		id := []byte(s.text.Dog)
		for k := range id {
			id[k] = letters[(i*7+k*(3+i%5))%32]
		}
		s.text.Dog = dogID(id)
		if i%6 == 5 {
			s.text.Dog = ""
		}
		s.roll = float64(i * 37 % 360)
		s.text.SizeMM = []int{40, 60, 80, 100}[i%4]
		s.contrast, s.noise, s.blur = 0.05+0.05*float64(i%3), 2+2*float64(i%3), 0.7+0.3*float64(i%3)
		with12MP(t, func(img *image.NRGBA) {
			truth, at := s.shoot(t, img)
			m := Find(img, Options{}).Marker
			if m == nil || m.Text != s.text {
				t.Errorf("%d: %+v, want %v", i, m, s.text)
				return
			}
			if e := m.MMPerPX/truth - 1; math.Abs(e) > 0.005 {
				t.Errorf("%d: %.2f %% off", i, 100*e)
			}
			for k, c := range m.CornersPX { // as the card is printed, however it is turned
				if math.Hypot(c.X-at[k].X, c.Y-at[k].Y) > 1.5 {
					t.Errorf("%d: corner %d at %v, want %v", i, k, c, at[k])
				}
			}
		})
		delete(sheets, s.text)
	}
}

func TestAMarkerIsFoundInPhotosOfOtherSizes(t *testing.T) {
	for _, c := range []struct{ w, h int }{{1344, 1008}, {2016, 1512}, {1512, 2016}, {1600, 1200}, {640, 480}, {5712, 4284}} {
		img := room(c.w, c.h, 4)
		s := typical(0.2*float64(min(c.w, c.h)), 12, 8, 70)
		s.mid = XY{X: 0.6 * float64(c.w), Y: 0.45 * float64(c.h)}
		s.focal = FocalPX(26, c.w, c.h)
		truth, _ := s.shoot(t, img)
		m := Find(img, Options{}).Marker
		if m == nil || m.Text != s.text || math.Abs(m.MMPerPX/truth-1) > 0.005 {
			t.Errorf("%d × %d: %+v, want %.4f", c.w, c.h, m, truth)
		}
	}
	// A part of a larger picture is a picture.
	big := room(3000, 2000, 4)
	part := big.SubImage(image.Rect(700, 400, 2300, 1600)).(*image.NRGBA)
	small := image.NewNRGBA(image.Rect(0, 0, 1600, 1200))
	s := typical(260, 12, 8, 70)
	s.mid, s.focal = XY{X: 800, Y: 500}, FocalPX(26, 1600, 1200)
	s.shoot(t, small)
	draw.Draw(part, part.Rect, small, image.Point{}, draw.Src)
	a, b := Find(part, Options{}).Marker, Find(small, Options{}).Marker
	if a == nil || b == nil || fmt.Sprint(a.CornersPX) != fmt.Sprint(b.CornersPX) {
		t.Errorf("%+v, %+v", a, b)
	}
}

// Seen by the geometry of the scene: A.
func TestTiltIsReadWithItsSigns(t *testing.T) {
	for _, c := range []struct{ turn, lean float64 }{{0, 0}, {20, 0}, {-20, 0}, {0, 20}, {0, -20}, {20, -15}} {
		s := typical(320, c.turn, c.lean, 8)
		s.roll = 0
		with12MP(t, func(img *image.NRGBA) {
			s.shoot(t, img)
			m := Find(img, Options{FocalPX: s.focal}).Marker
			if m == nil {
				t.Fatalf("%v: not read", c)
			}
			r := turned(c.turn, c.lean, 0)
			want := math.Acos(r[2][2]) * 180 / math.Pi
			if math.Abs(m.TiltDeg-want) > 1.5 || math.Abs(m.TurnDeg-math.Asin(r[2][0])*180/math.Pi) > 1.5 || math.Abs(m.LeanDeg-math.Asin(-r[2][1])*180/math.Pi) > 1.5 {
				t.Errorf("%v: tilt %.1f (%.1f), turn %.1f, lean %.1f", c, m.TiltDeg, want, m.TurnDeg, m.LeanDeg)
			}
			// Upright, only a lean or a turn off the axis shortens the vertical.
			if c.lean == 0 && math.Abs(m.UprightMMPerPX/m.MMPerPX-1) > 0.002 {
				t.Errorf("%v: upright %v, square %v", c, m.UprightMMPerPX, m.MMPerPX)
			}
		})
	}
}

func TestGreyAndWhiteAreRead(t *testing.T) {
	s := typical(320, 5, 5, 8)
	s.light, s.dim = 0, 0.7
	with12MP(t, func(img *image.NRGBA) {
		s.shoot(t, img)
		m := Find(img, Options{FocalPX: s.focal}).Marker
		if m == nil || m.GreyRGB == nil || m.WhiteRGB == nil {
			t.Fatalf("%+v", m)
		}
		white := 255 * encoded(0.7)
		grey := 255 * encoded(0.7*(0.05+0.95*greyLevel/255)) // the scene's ink covers that share
		for k := range 3 {
			if math.Abs(m.WhiteRGB[k]-white) > 3 || math.Abs(m.GreyRGB[k]-grey) > 3 {
				t.Errorf("white %v, want %.0f; grey %v, want %.0f", *m.WhiteRGB, white, *m.GreyRGB, grey)
			}
		}
	})
	s.cover = func(u, v float64) bool { return u < -0.2 && v > 0.6 }
	with12MP(t, func(img *image.NRGBA) {
		s.shoot(t, img)
		if m := Find(img, Options{FocalPX: s.focal}).Marker; m == nil || m.GreyRGB != nil || m.WhiteRGB == nil {
			t.Errorf("half of the grey patch is covered: %+v", m)
		}
	})
}

func TestTheErrorOfTheScaleHoldsTheDistanceFromTheDog(t *testing.T) {
	// 20 mm at 2 m is 1 % (A): a camera of 4,000 px sees 0.5 mm per px at 2 m.
	m := Marker{MMPerPX: 0.5, SDMMPerPX: 0}
	if got := m.ScaleSD(20, 4000, 4032, 3024); math.Abs(got-0.005) > 1e-12 {
		t.Errorf("%v", got)
	}
	m.SDMMPerPX = 0.012
	if got := m.ScaleSD(20, 4000, 4032, 3024); math.Abs(got-0.013) > 1e-12 { // 5, 12, 13
		t.Errorf("%v", got)
	}
	if wide := m.ScaleSD(20, 0, 4032, 3024); !(wide > 0.013) {
		t.Errorf("%v without a focal length", wide)
	}
}

// No symbol is seen in any file that is at hand, photo, camera file or a file made to do harm: they have none of ours. What
// does not decode is not looked at by the program either.
func TestNoMarkerIsSeenWhereThereIsNone(t *testing.T) {
	var files []string
	root := outside.Dir(t, ".")
	err := filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if err == nil && e.Type().IsRegular() {
			files = append(files, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	looked := map[string]int{}
	all, seen := 0, 0
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		r := bytes.NewReader(b)
		facts, err := imaging.Inspect(r, int64(len(b)), file, imaging.InspectOptions{})
		if err != nil || facts.Format == imaging.FormatHEIC && testing.Short() {
			continue
		}
		img, err := imaging.Decode(context.Background(), r, int64(len(b)), facts)
		if err != nil {
			continue
		}
		name, _ := filepath.Rel(root, file)
		looked[filepath.ToSlash(filepath.Dir(name))]++
		all++
		got := Find(img, Options{FocalPX: FocalPX(float64(facts.Focal35MM), facts.WidthPX, facts.HeightPX)})
		if got.Marker != nil {
			t.Errorf("%s: %+v", name, got.Marker)
		}
		if len(got.Told) > 0 {
			t.Errorf("%s: told %v at %v", name, troubles(got), got.Told[0].CornersPX)
		}
		if got.Marker != nil || len(got.Told) > 0 {
			seen++
		}
		img = nil
		runtime.GC()
	}
	t.Logf("%d of %d files decode (%v); a symbol is seen in %d of them", all, len(files), looked, seen)
	if all < 100 || looked["photos"] == 0 || looked["exif/files"] == 0 {
		t.Errorf("only %d files could be looked at (%v)", all, looked)
	}
}

func BenchmarkFind12MP(b *testing.B) {
	for _, c := range []struct {
		name  string
		width float64
	}{{"Without", 0}, {"With120px", 120}, {"With320px", 320}} {
		b.Run(c.name, func(b *testing.B) {
			with12MP(b, func(img *image.NRGBA) {
				if c.width > 0 {
					typical(c.width, 15, 5, 9).shoot(b, img)
				}
				for b.Loop() {
					if got := Find(img, Options{}); (got.Marker != nil) != (c.width > 0) {
						b.Fatal(got)
					}
				}
			})
		})
	}
}

// Some programs leave a focal length in a photo that is no longer its own. Twice or half of the right one costs no more than
// not to know it.
func TestAWrongFocalLengthDoesNotSpoilTheScale(t *testing.T) {
	for i := range outside.Many(t, 4) {
		s := typical(320, []float64{0, 30, -30, 20}[i%4], []float64{0, 0, 10, -20}[i%4], uint64(6000+i))
		with12MP(t, func(img *image.NRGBA) {
			truth, _ := s.shoot(t, img)
			for _, wrong := range []float64{0.5, 0.8, 1.25, 2} {
				m := Find(img, Options{FocalPX: wrong * s.focal}).Marker
				if m == nil || math.Abs(m.MMPerPX/truth-1) > 0.005 {
					t.Errorf("%d, %v of it: %+v, want %.5f", i, wrong, m, truth)
					continue
				}
				t.Logf("%d, %v of it: off by %.3f %%, standard error %.3f %%", i, wrong, 100*(m.MMPerPX/truth-1), 100*m.SDMMPerPX/truth)
			}
		})
	}
}
