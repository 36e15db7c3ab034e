package marker

import (
	"bytes"
	"image"
	"image/draw"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"thatch/imaging"
	"thatch/imaging/phantom"
	"thatch/timeline/outside"
)

// The marker beside a dog that is stood up anew, in the room, light and perspective of drawn dogs: the scale in the plane of
// the dog's middle against the one it was drawn at (E of the geometry). The card stands up to some centimetres off that plane,
// as hands put it there: that is most of the error, and ScaleSD says so. What a turned dog adds, whose middle lies nearer or
// farther than its paws' line where the camera looks, is in the error of the dog's plane as well.
func TestTheScaleInTheDogsPlaneIsAsGoodAsTheCardIsPlaced(t *testing.T) {
	const offPlaneSD = 20.0 // mm, as in TestTheErrorOfTheScaleHoldsTheDistanceFromTheDog
	n := outside.Many(t, 3)
	var reading, dogs misses
	var near []float64
	for s := range phantom.SittingsOf(771000, n, 1, 1, phantom.Standing) {
		shot := s.Shots[0]
		rng := rand.New(rand.NewPCG(uint64(shot.Dog.Seed), 8))
		text := Text{Dog: "7h2k9m4qx0abcdef", SizeMM: DefaultSizeMM}
		pic, w, h, err := Card(text, Labels{Title: "Test", Name: "Test"}, 10)
		if err != nil {
			t.Fatal(err)
		}
		b := phantom.Board{Image: pic, WidthMM: w, HeightMM: h, YMM: 5, ZMM: offPlaneSD * math.Max(-2, math.Min(2, rng.NormFloat64())), YawDeg: 40*rng.Float64() - 20}
		shot.Scene.Board = &b
		whole := func() bool { // in the picture
			corners := phantom.TruthIn(shot.Dog, shot.Coat, shot.Pose, shot.Camera, shot.Scene).Board
			return !slices.ContainsFunc(corners, func(q XY) bool {
				return q.X < 20 || q.Y < 20 || q.X > float64(shot.Camera.WidthPX-20) || q.Y > float64(shot.Camera.HeightPX-20)
			})
		}
		for i := 0; i < 10 && !whole(); i++ { // one step back
			shot.Camera.MMPerPX *= 1.06
		}
		img, truth := shot.Render()
		var buf bytes.Buffer
		if err := imaging.EncodeJPEG(&buf, img, 80); err != nil {
			t.Fatal(err)
		}
		src, err := jpeg.Decode(&buf)
		if err != nil {
			t.Fatal(err)
		}
		draw.Draw(img, img.Rect, src, image.Point{}, draw.Src)
		one := FocalPX(1, img.Rect.Dx(), img.Rect.Dy())
		opt := Options{FocalPX: math.Round(truth.FocalPX/one) * one} // EXIF has whole mm
		got := Find(img, opt)
		if got.Marker == nil {
			t.Errorf("%s: not read, told %v", shot.Name, troubles(got))
			continue
		}
		m := *got.Marker
		// Of the plane that the card stands in; the camera's own is the one of the line that the paws stand on.
		own := shot.Camera.MMPerPX * (1 - b.ZMM/shot.Camera.DistanceMM)
		e := reading.add(&m, own, text)
		if math.Abs(e) > 0.005 {
			t.Errorf("%s: the card's own scale is off by %.2f %%", shot.Name, 100*e)
		}
		m.SDMMPerPX = m.ScaleSD(offPlaneSD, opt.FocalPX, img.Rect.Dx(), img.Rect.Dy())
		d := dogs.add(&m, truth.MMPerPX, text)
		near = append(near, math.Abs(b.ZMM))
		t.Logf("%s: symbol %.0f px, turned %+3.0f°, %+3.0f mm off the dog's plane: card %+.3f %%, dog %+.2f %% (stated %.2f %%)", shot.Name, m.WidthPX, b.YawDeg, b.ZMM, 100*e, 100*d, 100*m.SDMMPerPX/m.MMPerPX)
	}
	slices.Sort(near)
	t.Logf("the card's own plane: %v", &reading)
	t.Logf("the dog's plane, card off it by %.0f mm in the median: %v", quantile(near, 0.5), &dogs)
	if reading.wrongDog > 0 {
		t.Errorf("wrong dog %d", reading.wrongDog)
	}
	dogs.calibrated(t)
}
