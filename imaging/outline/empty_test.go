package outline

import (
	"image"
	"image/color"
	"testing"

	"thatch/imaging/phantom"
	"thatch/timeline"
)

// paleOnPale is a white dog before a wall of nearly its colour, where colours tell little, and the same room without it.
func paleOnPale(seed int64, exposure float64) (img, empty *image.NRGBA, truth phantom.Truth) {
	dog := phantom.RandomDog(seed)
	dog.Colour = phantom.White
	scene := phantom.Scene{Wall: color.NRGBA{206, 200, 190, 255}, Trim: color.NRGBA{214, 212, 200, 255}, Table: color.NRGBA{188, 182, 172, 255}, LightX: 0.3}
	cam := phantom.Frame(dog, 1008, 756)
	img, truth = phantom.Render(dog, phantom.RingReady(20), phantom.Pose{}, cam, scene)
	// The empty room is one where the dog stands far beside the picture.
	cam.CenterXMM += 20_000
	cam.Seed += 1000
	cam.Exposure = exposure
	empty, _ = phantom.Render(dog, phantom.RingReady(20), phantom.Pose{}, cam, scene)
	return img, empty, truth
}

// shifted is a picture moved by some pixels, its border repeated.
func shifted(img *image.NRGBA, dx, dy int) *image.NRGBA {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	out := image.NewNRGBA(img.Rect)
	for y := range h {
		for x := range w {
			out.SetNRGBA(x, y, img.NRGBAAt(min(max(x-dx, 0), w-1), min(max(y-dy, 0), h-1)))
		}
	}
	return out
}

// Eight rough points round a pale dog before a pale wall: the photo of the empty place tells them apart, also when it is
// shifted by a few pixels and a sixth of a stop brighter; one of another place does no harm.
func TestAPhotoOfTheEmptyPlaceTellsAPaleDogFromAPaleWall(t *testing.T) {
	var without, with, moved, foreign []float64
	for seed := range int64(4) {
		img, empty, truth := paleOnPale(400+seed, 0.16)
		w, h := img.Rect.Dx(), img.Rect.Dy()
		mask := dogIn(truth)
		var rough []XY
		for i, p := range fewPoints(contourOf(largest(mask, w, h), w, h), 8) {
			// Off by up to one per cent, the same way in every run.
			rough = append(rough, XY{X: float64(p.X + i*5%7 - 3), Y: float64(p.Y + i*3%7 - 3)})
		}
		other, _ := phantom.Render(phantom.Dog{}, phantom.RingReady(20), phantom.Pose{}, phantom.Camera{WidthPX: w, HeightPX: h, MMPerPX: 1, CenterXMM: 20_000}, phantom.Rooms()[2])
		score := func(e *image.NRGBA, says bool) float64 {
			g := PointsGuess(rough)
			g.Empty = e
			r, err := Find(img, g)
			if err != nil {
				t.Fatal(err)
			}
			if r.EmptySays != says {
				t.Errorf("dog %d: the photo of the empty place was of use: %v", seed, r.EmptySays)
			}
			return overlap(r.Mask(), mask)
		}
		without, with = append(without, score(nil, false)), append(with, score(empty, true))
		moved, foreign = append(moved, score(shifted(empty, 5, -4), true)), append(foreign, score(other, false))
	}
	t.Logf("overlap without %.3f, with %.3f, shifted %.3f, of another place %.3f", without, with, moved, foreign)
	if med(with) < 0.95 || med(moved) < 0.95 || med(with) < med(without)+0.1 {
		t.Errorf("middle overlap %.3f, without %.3f, shifted %.3f", med(with), med(without), med(moved))
	}
	if med(foreign) < med(without)-0.02 {
		t.Errorf("the photo of another place: middle overlap %.3f, without %.3f", med(foreign), med(without))
	}
}

func TestAnEmptyPlaceOfAnotherSizeIsRefused(t *testing.T) {
	img, _ := disc(100, 80, 50, 40, 20)
	g := PointsGuess([]XY{{X: 30, Y: 20}, {X: 70, Y: 20}, {X: 70, Y: 60}, {X: 30, Y: 60}})
	g.Empty = image.NewNRGBA(image.Rect(0, 0, 80, 100))
	var f *timeline.Fault
	if _, err := Find(img, g); !asFault(err, &f) || f.Say.Key != "fault.outline.empty_size" {
		t.Errorf("%v", err)
	}
	g.Empty = image.NewNRGBA(image.Rect(0, 0, 100, 80)) // black: no photo of this place, and no harm
	if r, err := Find(img, g); err != nil || len(r.Polygon) == 0 || r.EmptySays {
		t.Errorf("%v", err)
	}
}
